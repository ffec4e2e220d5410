//! Every figure, in one table: `cargo bench --bench figures`, which takes minutes and wants a quiet machine.
//!
//! Each has beside it the limit that was set, or a reference measured in the same run. It ends with 1 where a ratio
//! within the run is missed, or a limit that holds on this machine with room; what is missed besides is marked and
//! said. `-- PART...` measures only those: decode monitoring export journal afar report collector program;
//! `QUIETCUFF_BENCH_FRAMES` (1,000,000 where it is not set) makes them shorter; `QUIETCUFF_PROGRAMS` names the folder
//! of the programs to measure, where others are meant than those of this build; `-- --write` puts the table into
//! `measured.md`. Everything measured is invented.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    reason = "a bench may stop"
)]
#![allow(clippy::cast_precision_loss, reason = "figures are told in three digits")]

mod afar;
mod collector;
mod decode;
mod export;
#[path = "../harness/mod.rs"]
#[allow(
    dead_code,
    clippy::panic,
    clippy::cast_possible_truncation,
    reason = "the tests ask for more than is measured here, and say what was wrong by panicking"
)]
mod harness;
mod journal;
mod monitoring;
mod program;
mod report;
mod table;

use std::path::PathBuf;
use std::process::ExitCode;

/// A program that is measured from outside, by its name.
pub(crate) fn program(name: &str) -> PathBuf {
    let built = match name {
        "quietcuff" => env!("CARGO_BIN_EXE_quietcuff"),
        _ => env!("CARGO_BIN_EXE_quietcuff-listen"),
    };
    std::env::var_os("QUIETCUFF_PROGRAMS")
        .map_or_else(|| built.into(), |folder| PathBuf::from(folder).join(name))
}

fn main() -> ExitCode {
    let frames = std::env::var("QUIETCUFF_BENCH_FRAMES")
        .ok()
        .and_then(|n| n.parse().ok())
        .unwrap_or(journal::FRAMES);
    // Cargo adds an option of its own.
    let wanted: Vec<String> = std::env::args()
        .skip(1)
        .filter(|part| !part.starts_with('-'))
        .collect();
    let wants = |part: &str| wanted.is_empty() || wanted.iter().any(|wanted| wanted == part);
    let mut table = table::Table::new();
    let full = tempfile::tempdir().unwrap();
    // What is measured in this process first, while it is as small as one that serves one person.
    if wants("decode") {
        decode::measure(&mut table);
    }
    if wants("monitoring") {
        monitoring::measure(&mut table);
    }
    if wants("export") {
        export::measure(&mut table);
    }
    if wants("journal") {
        journal::measure(&mut table, full.path(), frames);
    } else if wants("collector") {
        journal::fill(full.path(), frames);
    }
    if wants("afar") {
        afar::measure(&mut table);
    }
    if wants("report") {
        report::measure(&mut table);
    }
    if wants("collector") {
        collector::measure(&mut table, full.path(), frames);
    }
    if wants("program") {
        program::measure(&mut table);
    }
    if std::env::args().any(|argument| argument == "--write") {
        table.write();
    }
    if table.print() {
        ExitCode::SUCCESS
    } else {
        ExitCode::FAILURE
    }
}
