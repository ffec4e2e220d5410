//! From frames to what the command line says: the real binary on replayed JSON Lines, and the journal's derived tables
//! against themselves made anew. People, monitors and readings are invented.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::cast_possible_wrap,
    clippy::float_cmp,
    reason = "a test may stop"
)]

mod clinic;
mod derived;
mod home;
mod next;
mod notes;
mod people;
mod period;
mod readings;
mod rebuild;
mod trace;
