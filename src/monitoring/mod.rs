//! Sessions, protocols, periods and the average.

pub mod average;
pub mod balance;
pub mod called;
pub mod care;
pub mod carried_over;
pub mod chance;
pub mod drift;
pub mod enters;
pub mod escalation;
pub mod history;
mod levels;
pub mod listening;
pub mod names;
pub mod next;
pub mod patterns;
pub mod period;
pub mod person;
pub mod plan;

pub mod protocol;
mod protocol_file;
pub mod protocols;
pub mod reminders;
pub mod spread;
pub mod standing;
pub mod stated;
pub mod symptoms;
pub mod taken;
pub mod titles;
pub mod urgent;
pub mod variability;
pub mod worn;
pub mod years;
