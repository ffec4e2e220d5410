//! What leaves the house: readings and averages in forms that others read.
//!
//! Pure translations, written to whatever takes bytes. They compute nothing new: what a reading is worth was judged
//! before, and the average is the one that [`crate::monitoring`] worked out. Each shows what was set aside. Two do more:
//! [`period`] gathers from the journal what a period rests on, and [`delivery`] takes everything to a server.

pub mod calendar;
pub mod csv;
pub mod delivery;
pub mod fhir;
pub mod period;
pub mod report;
