//! Decoding against what others say the bytes mean: worked examples, encode-decode round trips, and tshark.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test says what was wrong by panicking"
)]

mod capture;
mod command;
mod corpus;
mod definitions;
mod examples;
#[path = "../left_out/mod.rs"]
#[allow(dead_code, reason = "what other tests ask for besides")]
mod left_out;
mod round_trip;
mod tshark;
