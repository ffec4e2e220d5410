//! What the Debian package is made of, looked at from outside by those who will read it: systemd reads the units, man
//! and mandoc the pages, the shells their completions, and an independent parser the metrics.
//!
//! That the package installs, upgrades and goes is `tests/package/run`'s business, in a machine of its own.
//! `tests/package/prepare tools` installs what is needed; `QUIETCUFF_SKIP_ORACLES=1` leaves out what is not there.

mod manual;
mod metrics;
mod purge;
mod silence;
mod units;

use crate::harness::command::alone;
use std::path::{Path, PathBuf};
use std::process::Output;

/// Whether a program that reads a part of the package is there.
fn there(program: &str) -> bool {
    crate::harness::left_out::program(program, "a part of the package as its reader sees it")
}

fn of_project(below: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(below)
}

/// Our program with a home of its own.
fn quietcuff(home: &Path, arguments: &[&str]) -> Output {
    alone(home, arguments).output().unwrap()
}

fn good(output: Output) -> String {
    assert!(output.status.success(), "{output:?}");
    String::from_utf8(output.stdout).unwrap()
}
