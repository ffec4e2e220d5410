//! The PDF against PDF/UA-1 (ISO 14289-1), as veraPDF checks it.

use crate::harness::left_out::{in_a_hurry, installed, program};
use crate::harness::replayed::Home;
use crate::report::readers::{demonstration, report, text, text_by};
use std::path::Path;

const WHAT: &str = "the PDF against PDF/UA-1";

/// What the checker says of a file: how many assertions, and each rule that is broken.
pub(crate) fn checked(path: &Path) -> Option<(u32, Vec<String>)> {
    let jars = program("javac", WHAT)
        .then(|| installed("verapdf/jars", WHAT))
        .flatten()?;
    let script = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/report/verapdf/Ua.java");
    let class_path = format!("{}/*", text(&jars));
    let said = text_by(
        "java",
        &[
            "-XX:TieredStopAtLevel=1",
            "-XX:+UseSerialGC",
            "-cp",
            &class_path,
            script,
            text(path),
        ],
    );
    let mut lines = said.lines();
    let first = lines.next()?;
    let assertions = first.split(' ').next()?.parse().ok()?;
    Some((assertions, lines.map(str::to_owned).collect()))
}

/// A week of the demonstration, with a table over several sheets, and a name that is shaped where there is a face for
/// it.
#[test]
fn nothing_is_found_against_pdf_ua() {
    if in_a_hurry("PDF/UA by veraPDF") {
        return;
    }
    let home = demonstration();
    home.text(&["people", "edit", "p1", "--label", "\u{141}ucja & <Co>"]);
    let path = report(&home, "ua.pdf", &["--person", "p1"]);
    let Some((assertions, broken)) = checked(&path) else {
        return;
    };
    assert!(assertions > 10_000, "{assertions}");
    assert!(broken.is_empty(), "{broken:#?}");
}

/// The check can fail: a file that has no structure and no face inside breaks several rules.
#[test]
fn what_is_wrong_is_found() {
    if in_a_hurry("faults in a PDF, by veraPDF") {
        return;
    }
    let home = Home::new();
    let path = home.dir.path().join("wrong.pdf");
    std::fs::write(&path, wrong()).unwrap();
    let Some((_, broken)) = checked(&path) else {
        return;
    };
    for rule in ["7.1-8", "7.21.4.1-1"] {
        assert!(
            broken.iter().any(|line| line.trim_start().starts_with(rule)),
            "{broken:#?}"
        );
    }
}

/// One page with a word in a face that is not inside.
fn wrong() -> String {
    let objects = [
        "<</Type/Catalog/Pages 2 0 R>>",
        "<</Type/Pages/Kids[3 0 R]/Count 1>>",
        "<</Type/Page/Parent 2 0 R/MediaBox[0 0 99 99]/Contents 4 0 R/Resources<</Font<</F 5 0 R>>>>>>",
        "<</Length 28>>stream\nBT /F 9 Tf 9 9 Td (a) Tj ET   \nendstream",
        "<</Type/Font/Subtype/Type1/BaseFont/Helvetica>>",
    ];
    let mut file = "%PDF-1.7\n".to_owned();
    let mut places = String::new();
    for (number, object) in (1..).zip(objects) {
        places += &format!("{:010} 00000 n \n", file.len());
        file += &format!("{number} 0 obj\n{object}\nendobj\n");
    }
    let begins = file.len();
    file + &format!(
        "xref\n0 6\n0000000000 65535 f \n{places}trailer\n<</Size 6/Root 1 0 R>>\nstartxref\n{begins}\n%%EOF\n"
    )
}
