//! At home: what the household, and whoever looks after its machine, see.

pub mod metrics;
