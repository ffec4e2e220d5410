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

pub mod answer;
pub mod auth;
pub mod bundle;
mod courier;
mod course;
pub mod due;
mod error;
pub mod key;
pub mod line;
pub mod patience;
pub mod reasons;
pub mod server;
mod settings;
pub mod smart;
pub mod stuck;
mod target;
pub mod there;

pub use courier::Courier;
pub use course::Round;
pub use error::DeliveryError;
pub use settings::{Auth, Clinic, PlainHttp};
pub use target::Target;
