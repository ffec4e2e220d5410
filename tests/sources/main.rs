//! The sources of frames other than the radio, checked from outside: files against independent readers and against
//! damage, the simulated household against the truth that it keeps beside its frames.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing
)]

mod capture;
mod ear;
mod json_lines;
mod script;
mod simulated;
mod source;
mod truth;
