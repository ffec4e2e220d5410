//! What the journal says at one moment, gathered for whoever shows it or hands it on.

pub mod faces;
pub mod period;
pub mod sheet;
