//! Every test from outside, in one program, so that the library is linked to them once. A folder is one kind of oracle,
//! and its name a filter: `cargo test --test outside crash::`.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::cast_possible_wrap,
    clippy::cast_precision_loss,
    clippy::cast_lossless,
    clippy::float_cmp,
    reason = "a test says what was wrong by panicking, and its numbers are small"
)]

mod alerts;
mod cli;
mod crash;
mod delivery;
mod export;
mod gatt;
mod harness;
mod monitoring;
mod monitoring_cli;
mod package;
mod page;
mod reading;
mod report;
mod sources;
mod technique;
mod years;
