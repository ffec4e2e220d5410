//! At home: what the household, and whoever looks after its machine, see and hear.

pub mod keys;
pub mod live;
pub mod metrics;
pub mod page;
pub mod words;
