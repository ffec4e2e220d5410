//! To the clinic: what is due goes to a FHIR R4 server, and arrives once.
//!
//! - What is due is the difference between the readings and the ledger ([`due`], [`crate::journal::outbox`]); there is
//!   no queue that could be lost or disagree.
//! - The ledger says what may be at the server before a byte leaves the house, so this can be killed at any of them: what
//!   is new is created unless it is there, what has changed replaces what has its name.
//! - An answer counts entry by entry, and one that does not add up counts for nothing ([`answer`]).
//! - What the server refuses is set aside with its words and holds nothing else up; what cannot be delivered now is tried
//!   again, more and more seldom ([`patience`]).
//! - Nothing leaves before a clinic and a person were chosen.
//!
//! A clinic without FHIR names a receiver of HL7 version 2 instead: [`letters`] says what is due to it, [`mllp`] takes
//! it there, [`receipt`] reads what was acknowledged. The ledger is the same.

pub mod answer;
pub mod auth;
pub mod bundle;
mod courier;
mod course;
pub mod due;
pub mod enrolled;
mod error;
pub mod key;
pub mod launch;
pub mod letters;
pub mod line;
pub mod mllp;
pub mod opening;
pub mod patience;
mod postman;
pub mod reasons;
pub mod receipt;
pub mod releases;
pub mod server;
mod settings;
pub mod smart;
pub mod stuck;
mod target;
pub mod there;

pub use courier::Courier;
pub use course::Round;
pub use error::DeliveryError;
pub use postman::{Addressee, Postman};
pub use settings::{Auth, Clinic, PlainHttp};
pub use target::{Destination, name_in_ledger, only, released_to};
