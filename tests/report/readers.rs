//! The programs that read a report, and the households whose reports they read.

use crate::harness::left_out::{installed, program};
use crate::harness::replayed::Home;
use std::path::{Path, PathBuf};
use std::process::Command;

/// What the readers are for.
const WHAT: &str = "the report as programs by others read it";

/// Whether a reader by others is missing and left out.
pub(crate) fn without() -> bool {
    let programs = [
        "pdftotext",
        "pdffonts",
        "pdfinfo",
        "pdftoppm",
        "qpdf",
        "node",
        "chromium",
    ];
    !(programs.iter().all(|name| program(name, WHAT)) && modules().is_some())
}

/// What a reader prints; it has to be there, and to succeed.
pub(crate) fn read_by(program: &str, arguments: &[&str]) -> Vec<u8> {
    let ran = Command::new(program)
        .args(arguments)
        .env("LC_ALL", "C.UTF-8")
        .output()
        .unwrap_or_else(|error| panic!("{program} cannot be run: {error}"));
    let said = String::from_utf8_lossy(&ran.stderr);
    assert!(ran.status.success(), "{program} {arguments:?}: {said}");
    ran.stdout
}

pub(crate) fn text_by(program: &str, arguments: &[&str]) -> String {
    String::from_utf8(read_by(program, arguments)).unwrap()
}

/// Where `prepare` puts axe-core and the browser's driver.
pub(crate) fn modules() -> Option<PathBuf> {
    installed("node/node_modules/axe-core", WHAT)?;
    installed("node/node_modules", WHAT)
}

/// The demonstration's household.
pub(crate) fn demonstration() -> Home {
    let home = Home::new();
    home.text(&["demo", "--until", "2026-03-29", "--fast"]);
    home
}

/// Makes a report and gives its path.
pub(crate) fn report(home: &Home, name: &str, arguments: &[&str]) -> PathBuf {
    let path = home.dir.path().join(name);
    let mut all = vec!["report", "--output", text(&path)];
    all.extend(arguments);
    home.text(&all);
    path
}

pub(crate) fn text(path: &Path) -> &str {
    path.to_str().unwrap()
}

/// The readings of p1 as the command line lists them: day and time as the report writes them, values, disposition.
pub(crate) fn listed(home: &Home) -> Vec<[String; 4]> {
    let readings = home.json(&["readings", "--json", "--person", "p1"]);
    let as_words = |reading: &serde_json::Value| {
        let at = reading["measured_at"].as_str().unwrap();
        let civil: jiff::civil::DateTime = at[..19].parse().unwrap();
        let (systolic, diastolic) = (&reading["systolic"], &reading["diastolic"]);
        [
            civil.strftime("%a %-d %b %Y").to_string(),
            civil.strftime("%H:%M:%S").to_string(),
            if systolic.is_null() {
                "no value".to_owned()
            } else {
                format!("{systolic}/{diastolic}")
            },
            reading["disposition"].as_str().unwrap().replace('-', " "),
        ]
    };
    readings.iter().map(as_words).collect()
}
