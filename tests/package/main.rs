//! What the Debian package is made of, looked at from outside by those who will read it: systemd reads the units, man and
//! mandoc the pages, the shells their completions, and an independent parser the metrics.
//!
//! That the package installs, upgrades and goes is `tests/package/run`'s business, in a machine of its own.
//! `tests/package/prepare tools` installs what is needed; `QUIETCUFF_SKIP_ORACLES=1` leaves out what is not there.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test says what was wrong by panicking"
)]

mod manual;
mod metrics;
mod silence;
mod units;

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

/// Whether a program is there. Where it is not, the test fails, unless it was said that it may be left out.
fn there(program: &str) -> bool {
    let found = std::env::var("PATH")
        .unwrap_or_default()
        .split(':')
        .any(|folder| Path::new(folder).join(program).exists());
    let skip = std::env::var_os("QUIETCUFF_SKIP_ORACLES").is_some();
    assert!(
        found || skip,
        "{program} is missing: run tests/package/prepare, or set QUIETCUFF_SKIP_ORACLES=1 to leave this out"
    );
    if !found {
        eprintln!("no {program} here: left out");
    }
    found
}

fn of_project(below: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(below)
}

/// Our program with a home of its own.
fn quietcuff(home: &Path, arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_quietcuff"))
        .args(arguments)
        .env_clear()
        .env("HOME", home)
        .env("TZ", "UTC")
        .env("DBUS_SYSTEM_BUS_ADDRESS", "unix:path=/nonexistent/bus")
        .output()
        .unwrap()
}

fn good(output: Output) -> String {
    assert!(output.status.success(), "{output:?}");
    String::from_utf8(output.stdout).unwrap()
}
