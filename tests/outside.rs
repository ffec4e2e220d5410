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
// Optimised, only the years are there: building the rest takes longer than running it as it is.
#![cfg_attr(
    not(debug_assertions),
    allow(dead_code, reason = "the harness of what is not built")
)]

#[cfg(debug_assertions)]
mod afar;
#[cfg(debug_assertions)]
mod alerts;
#[cfg(debug_assertions)]
mod cli;
#[cfg(debug_assertions)]
mod crash;
#[cfg(debug_assertions)]
mod delivery;
#[cfg(debug_assertions)]
mod export;
#[cfg(debug_assertions)]
mod fuzz;
#[cfg(debug_assertions)]
mod gatt;
mod harness;
#[cfg(debug_assertions)]
mod monitoring;
#[cfg(debug_assertions)]
mod monitoring_cli;
#[cfg(debug_assertions)]
mod package;
#[cfg(debug_assertions)]
mod page;
#[cfg(debug_assertions)]
mod reading;
#[cfg(debug_assertions)]
mod report;
#[cfg(debug_assertions)]
mod sources;
#[cfg(debug_assertions)]
mod technique;
mod years;
