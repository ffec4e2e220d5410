//! Sessions, protocols, periods and the average.

pub mod average;
pub mod chance;
pub mod period;
pub mod plan;
pub mod pressure;
pub mod protocol;
mod protocol_file;
pub mod taken;
pub mod variability;
