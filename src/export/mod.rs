//! What leaves the house: readings and averages in forms that others read.
//!
//! Pure translations, written to whatever takes bytes. They compute nothing new: what a reading is worth was
//! judged before, and the average is the one that [`crate::monitoring`] worked out. Each shows what was set
//! aside.

pub mod calendar;
pub mod csv;
pub mod fhir;
pub mod hl7;
pub mod released;
pub mod report;
mod said;
