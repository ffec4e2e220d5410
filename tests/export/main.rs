//! What leaves the house, read by others: FHIR R4 by a structure checker and two FHIRPath engines that know nothing of
//! how it was written, CSV by two parsers. All readings are invented.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test says what was wrong by panicking"
)]

#[path = "../cli/command.rs"]
#[allow(
    dead_code,
    reason = "shared with the tests of the command line, which need more of it"
)]
mod command;
mod csv;
mod files;
mod layers;
#[path = "../left_out/mod.rs"]
#[allow(dead_code, reason = "what other tests ask for besides")]
mod left_out;
mod made;
mod modelled;
mod wrong;
