//! HL7 version 2.5.1: unsolicited observations (ORU^R01), for clinics that have no FHIR server.
//!
//! - **A message a reading, and one a period's average.** A reading has its own name and its own fate: it is withdrawn, or
//!   turns out to be somebody else's, by itself. One message a session would be corrected as soon as the second reading
//!   is in, and one a period would stand under one acknowledgement for all of its readings.
//! - **2.5.1**, because it is what the most receivers read: the version that US law named for laboratory results (45 CFR
//!   170.205(g), from memory), and what IHE's laboratory profiles are written in. Codes and the order of observations are
//!   those of IHE's Device Enterprise Communication (PCD-01), which is written in 2.6: so its profile is not claimed.
//! - What is sent, what is withdrawn and what is left out is decided where FHIR's export decides it
//!   ([`super::released`]); so are the words (`export/said.rs`).
//! - Nothing is interpreted: OBX-7 and OBX-8, range and abnormal flag, stay empty.
//!
//! Numbers of chapters are those of the standard's edition 2.5.1.

pub mod batch;
mod message;
mod order;
mod settings;
mod status;
mod text;

pub use message::{Head, control_id, named, withdrawn};
pub use order::{Order, OrderWriter};
pub use settings::Hl7;
pub use status::Status;
pub use text::unescaped;
