//! The household's page, as the real binary serves it: read by Chromium, by axe-core, and by a program that does not
//! behave. Frames come from an invented monitor, around this moment; nothing waits longer than a few seconds.
//!
//! `tests/page/prepare` installs the browser. Where it is missing the tests fail and say so; `QUIETCUFF_SKIP_ORACLES=1`
//! leaves those that need it out.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    clippy::cast_precision_loss,
    clippy::cast_lossless,
    clippy::cast_sign_loss,
    reason = "a test may stop"
)]

mod access;
mod browser;
mod every;
mod home;
#[path = "../left_out/mod.rs"]
#[allow(dead_code, reason = "what other tests ask for besides")]
mod left_out;
mod limits;
mod pairing;
mod people;
mod session;
mod speed;
