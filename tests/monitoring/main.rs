//! Averages, protocols and patterns, checked from outside: published examples and survey data, independent
//! implementations in Python, and simulated people whose truth is known.
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

mod clinician;
mod edges;
#[path = "../left_out/mod.rs"]
#[allow(dead_code, reason = "what other tests ask for besides")]
mod left_out;
mod oracle;
mod period;
mod protocols;
mod published;
mod simulated;
mod week;
