//! At home: what the household sees, hears and is told, apart from the daemon that listens.

pub mod alerts;
pub mod calendar;
pub mod care;
pub mod reminders;
pub mod words;
