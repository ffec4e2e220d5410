//! The real binary, from outside: what it does with bad input, and what scripts rely on.
//!
//! Every failure has to be one clear sentence with what to do, and the exit code of sysexits.h that says the same;
//! nothing may be lost, and nothing may panic, which every call here looks for.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test says what was wrong by panicking"
)]

mod care;
mod command;
mod demonstration;
mod hazards;
mod help;
mod hostile;
mod layers;
#[path = "../left_out/mod.rs"]
#[allow(dead_code, reason = "what other tests ask for besides")]
mod left_out;
mod machine;
mod output;
mod overhear;
mod place;
mod readme;
mod round;
