//! At home: what the household sees and hears.

pub mod keys;
pub mod live;
pub mod page;
pub mod words;
