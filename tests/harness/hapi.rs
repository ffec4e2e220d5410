//! HL7 version 2 as HAPI reads it, and what else is asked of it (`tests/export/hapi`).

use crate::harness::left_out::{installed, program};
use serde_json::Value;
use std::path::Path;
use std::process::Command;

/// The call of HAPI that has these arguments; none where it is to be left out.
pub(crate) fn hapi(before: &[&str], arguments: &[&str], what: &str) -> Option<Command> {
    let jars = program("javac", what)
        .then(|| installed("hapi/jars", what))
        .flatten()?;
    let mut command = Command::new("java");
    command
        .args([
            "-XX:TieredStopAtLevel=1",
            "-XX:+UseSerialGC",
            "-Dfile.encoding=UTF-8",
        ])
        .args(before)
        .arg("-cp")
        .arg(format!("{}/*", jars.display()))
        .arg(Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/export/hapi/Hl7.java"))
        .args(arguments);
    Some(command)
}

/// Every message of a file as HAPI reads it strictly.
pub(crate) fn read_strictly(file: &str, what: &str) -> Option<Vec<Value>> {
    let output = hapi(&[], &["read", file], what)?.output().unwrap();
    let said = String::from_utf8(output.stdout).unwrap();
    assert!(
        output.status.success(),
        "{said}{}",
        String::from_utf8_lossy(&output.stderr)
    );
    Some(
        said.lines()
            .map(|line| serde_json::from_str(line).unwrap())
            .collect(),
    )
}
