//! At home: what the household sees and hears.

pub mod words;
