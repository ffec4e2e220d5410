//! Crashes and disks: the real binary and the daemon's own writer killed at random moments, power lost between two
//! writes, pages damaged, older files opened. What was said to be kept has to be there, and nothing else.
//!
//! A full disk and one that cannot be written to are in `tests/cli/place.rs`.

mod chain;
mod copies;
mod damage;
mod derived;
mod kill;
mod owner;
mod power;
mod rotation;
mod swap;
mod thousand;
mod year;

use crate::harness::command::alone;
use crate::harness::frames::stamped;
use jiff::Timestamp;
use quietcuff::frame::Frame;
use std::path::Path;
use std::process::{Command, Output};

/// The nth of a series of frames, each a reading; all invented.
pub(crate) fn frame(n: u32) -> Frame {
    let at = Timestamp::from_second(1_772_000_000 + i64::from(n) * 90).unwrap();
    stamped(n, at)
}

/// The same as a line of JSON.
pub(crate) fn line(n: u32) -> String {
    let frame = frame(n);
    let octets: String = frame.value.iter().map(|octet| format!("{octet:02x}")).collect();
    format!(
        "{{\"received_at\":\"{}\",\"monitor\":\"{}\",\"connection\":{},\"characteristic\":\"2a35\",\"value\":\"{octets}\"}}\n",
        frame.received_at, frame.monitor, frame.connection
    )
}

pub(crate) fn quietcuff(state: &Path, arguments: &[&str]) -> Command {
    let mut command = alone(state, arguments);
    command.arg("--state").arg(state);
    command
}

pub(crate) fn run(state: &Path, arguments: &[&str]) -> Output {
    let output = quietcuff(state, arguments).output().unwrap();
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(!said.contains("panicked"), "{arguments:?}: {said}");
    output
}

/// It succeeds; gives its output.
pub(crate) fn good(state: &Path, arguments: &[&str]) -> String {
    let output = run(state, arguments);
    assert!(output.status.success(), "{arguments:?}: {output:?}");
    String::from_utf8(output.stdout).unwrap()
}

/// Xorshift, after Marsaglia 2003.
pub(crate) struct Noise(pub(crate) u64);

impl Noise {
    pub(crate) fn below(&mut self, limit: u64) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        self.0 % limit
    }
}
