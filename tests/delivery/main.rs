//! The real binary delivers to a FHIR server by others, and to servers that fail in every way. All readings are invented.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test says what was wrong by panicking"
)]

mod arrives;
mod clinic;
#[path = "../cli/command.rs"]
#[allow(
    dead_code,
    reason = "shared with the tests of the command line, which need more of it"
)]
mod command;
mod faults;
mod killed;
#[path = "../left_out/mod.rs"]
#[allow(dead_code, reason = "what other tests ask for besides")]
mod left_out;
#[path = "../export/made.rs"]
#[allow(
    dead_code,
    reason = "shared with the tests of the exports, which need more of it"
)]
mod made;
mod proxy;
mod secrets;
mod smart;
