//! At home: what the household sees and is told, apart from the daemon that listens.

pub mod alerts;
pub mod care;
pub mod reminders;
