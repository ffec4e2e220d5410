//! The sheet for the clinic, made by the real binary and read by programs of others: poppler and qpdf read the PDF,
//! Chromium and axe-core the HTML. People, monitors and readings are invented.
//!
//! `tests/report/prepare` installs them. Where one is missing the test fails and says so; `QUIETCUFF_SKIP_ORACLES=1`
//! leaves these readers out.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    clippy::cast_lossless,
    reason = "a test may stop"
)]

mod command;
#[path = "../monitoring_cli/home.rs"]
#[allow(dead_code, reason = "the other test uses all of it")]
mod home;
mod html;
#[path = "../left_out/mod.rs"]
#[allow(dead_code, reason = "what other tests ask for besides")]
mod left_out;
mod pdf;
mod readers;
