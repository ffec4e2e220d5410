//! The HTML as a browser shows it, and as axe-core hears it.

use crate::harness::left_out::in_a_hurry;
use crate::harness::replayed::{Home, week};
use crate::report::readers::{demonstration, listed, modules, report, text, text_by, without};
use serde_json::Value;
use std::fs;
use std::path::Path;

/// A label that would end a title, a style, a string of CSS and an attribute, if it could.
const HOSTILE: &str = "</title></style><script>alert(1)</script>\"}*{display:none} & '<img src=x>";

fn seen(file: &Path) -> Value {
    let script = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/report/browser.mjs");
    let (directory, modules) = (file.parent().unwrap(), modules().unwrap());
    let arguments = [
        script,
        text(&modules),
        "/usr/bin/chromium",
        text(file),
        text(directory),
    ];
    serde_json::from_str(&text_by("node", &arguments)).unwrap()
}

fn accessible(seen: &Value) {
    assert!(seen["checked"].as_u64().unwrap() > 50, "{seen}");
    assert_eq!(seen["violations"], serde_json::json!([]));
    assert_eq!(seen["requests"], serde_json::json!([]));
    // Tables alone are moved sideways, in a box of their own.
    assert_eq!(seen["sideways"], serde_json::json!([]));
    for (size, high) in seen["letters"].as_object().unwrap() {
        let least = if size.starts_with("small") { 9.5 } else { 10.5 };
        assert!(high.as_f64().unwrap() >= least, "{size}: {high}");
    }
    for (size, overflow) in seen["overflow"].as_object().unwrap() {
        assert_eq!(overflow, 0, "{size} has to be moved sideways");
    }
}

#[test]
fn a_browser_shows_it_and_axe_finds_nothing() {
    if in_a_hurry("the sheet in a browser") || without() {
        return;
    }
    let home = demonstration();
    let path = report(&home, "a.html", &["--person", "p1"]);
    let seen = seen(&path);
    accessible(&seen);
    let outline: Vec<&str> = seen["outline"]
        .as_array()
        .unwrap()
        .iter()
        .filter_map(Value::as_str)
        .collect();
    assert_eq!(outline[0], "H1 Home blood pressure of Invented person A");
    assert!(outline.contains(&"H2 All readings"), "{outline:?}");
    // On paper: whose it is and which sheet, on each of them, whatever the paper.
    for paper in ["a4", "letter"] {
        let print = home.dir.path().join(format!("print-{paper}.pdf"));
        let pages: usize = text_by("pdfinfo", &[text(&print)])
            .lines()
            .find_map(|line| line.strip_prefix("Pages:")?.trim().parse().ok())
            .unwrap();
        for page in 1..=pages {
            let number = page.to_string();
            let sheet = text_by("pdftotext", &["-f", &number, "-l", &number, text(&print), "-"]);
            assert!(
                sheet.contains("Invented person A (p1), 23 March to 29 March 2026"),
                "{sheet}"
            );
            assert!(sheet.contains(&format!("Sheet {page} of {pages}")), "{sheet}");
        }
        let first = text_by("pdftotext", &["-f", "1", "-l", "1", text(&print), "-"]);
        assert!(
            first.contains("not a diagnosis") && !first.contains("Mornings and evenings"),
            "{paper}"
        );
    }
}

/// What people wrote is text, whatever it looks like.
#[test]
fn hostile_words_stay_words() {
    if in_a_hurry("hostile words in a browser") || without() {
        return;
    }
    let home = Home::new();
    home.replay(&week(), &["--person", "p1"]);
    home.text(&["people", "edit", "p1", "--label", HOSTILE]);
    home.text(&[
        "note",
        "add",
        "other",
        HOSTILE,
        "--person",
        "p1",
        "--at",
        "2026-03-02T12:00:00+01:00",
    ]);
    let path = report(&home, "a.html", &[]);
    let page = fs::read_to_string(&path).unwrap();
    assert!(!page.contains("<script") && !page.contains("<img"));
    let style = page
        .split("<style>")
        .nth(1)
        .unwrap()
        .split("</style>")
        .next()
        .unwrap();
    assert!(
        style.contains("@top-left") && !style.contains("{display"),
        "{style}"
    );
    let seen = seen(&path);
    accessible(&seen);
    let shown = HOSTILE;
    assert_eq!(seen["outline"][0], format!("H1 Home blood pressure of {shown}"));
    assert!(
        seen["outline"]
            .as_array()
            .unwrap()
            .contains(&"H2 To bear in mind".into())
    );
}

/// The check itself can fail.
#[test]
fn axe_finds_what_is_wrong() {
    if without() {
        return;
    }
    let home = Home::new();
    let path = home.dir.path().join("wrong.html");
    fs::write(
        &path,
        "<!DOCTYPE html><html><title>x</title><body style=\"width:2000px\"><p style=\"color:#ccc\">pale</p>\
         <svg role=\"img\" width=9 height=9></svg>",
    )
    .unwrap();
    let seen = seen(&path);
    let found = seen["violations"].to_string();
    for rule in ["html-has-lang", "color-contrast", "svg-img-alt"] {
        assert!(found.contains(rule), "{found}");
    }
    assert!(seen["overflow"]["telephone-light"].as_i64().unwrap() > 0);
}

/// Nothing in the file asks for anything outside it, and all readings are in its table.
#[test]
fn it_stands_alone_and_hides_nothing() {
    let home = demonstration();
    let page = fs::read_to_string(report(&home, "a.html", &["--person", "p1"])).unwrap();
    for outside in [
        "http:",
        "https:",
        "src=",
        "url(",
        "@import",
        "<script",
        "<link",
        "javascript:",
    ] {
        assert!(!page.contains(outside), "{outside}");
    }
    let mut rows = page.lines().filter(|line| line.starts_with("<tr>"));
    for [day, time, values, became] in listed(&home) {
        let cells = [
            format!(">{day}</th>"),
            format!(">{time}</td>"),
            format!(">{values}</td>"),
            format!("{became}</td>"),
        ];
        assert!(
            rows.any(|row| cells.iter().all(|cell| row.contains(cell.as_str()))),
            "no row with {cells:?} at its place"
        );
    }
    for (mark, reason) in [("#set-aside", "too soon"), ("#marked", "lone reading")] {
        assert!(page.lines().any(|row| row.contains(mark) && row.contains(reason)));
    }
}
