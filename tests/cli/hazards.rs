//! The hazards and threats in `hazards.md` against the tree: the file that is named as a control exists, and the test
//! that is named as its proof is one.

use crate::harness::command::of_project;
use std::fs;
use std::path::{Path, PathBuf};

/// The hazards that a table of this kind has to have, as the first words of a row.
const HAZARDS: [&str; 9] = [
    "Wrong person",
    "Wrong time",
    "Repeat",
    "kPa as mmHg",
    "Swapped pressures",
    "Hidden set-aside",
    "Average from too little",
    "Alert not delivered",
    "False calm",
];

fn rows(text: &str, heading: &str) -> Vec<Vec<String>> {
    let rows = text
        .lines()
        .skip_while(|line| *line != format!("## {heading}"))
        .skip(1)
        .take_while(|line| !line.starts_with("## "))
        .filter(|line| line.starts_with("| ") && !line.starts_with("| what"))
        .map(|line| {
            line.trim_matches('|')
                .split('|')
                .map(|cell| cell.trim().to_owned())
                .collect()
        });
    rows.collect()
}

fn spans(cell: &str) -> Vec<&str> {
    cell.split('`').skip(1).step_by(2).collect()
}

/// Every file below `folder` that can hold tests.
pub(crate) fn sources(folder: &Path, all: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            sources(&path, all);
        } else if path.extension().is_some_and(|e| e == "rs" || e == "py")
            || path.file_name().is_some_and(|n| n == "run")
        {
            all.push(path);
        }
    }
}

#[test]
fn every_control_and_every_proof_exists() {
    let Some(text) = of_project("tests/cli/hazards.md") else {
        panic!("no tests/cli/hazards.md");
    };
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut files = vec![];
    sources(&root.join("tests"), &mut files);
    sources(&root.join("src"), &mut files);
    let code: Vec<String> = files
        .iter()
        .map(|file| fs::read_to_string(file).unwrap())
        .collect();
    // A test is a function behind `#[test]`, perhaps with words between, or a step of a script.
    let is_test = |name: &str| {
        code.iter().any(|text| {
            text.contains(&format!("async def {name}("))
                || text.find(&format!("fn {name}(")).is_some_and(|at| {
                    let before: Vec<&str> = text[..at].lines().rev().take(4).collect();
                    before
                        .iter()
                        .any(|line| ["#[test]", "#[tokio::test]"].contains(&line.trim()))
                })
        })
    };
    assert!(
        !is_test("every_control_and_every_proof_is_there"),
        "a name that is no test's"
    );
    let mut proofs = 0;
    for heading in ["Hazards", "Threats"] {
        let rows = rows(&text, heading);
        assert!(rows.len() >= 9, "{heading}: {rows:?}");
        for row in &rows {
            assert_eq!(row.len(), 4, "{row:?}");
            for control in spans(&row[2]) {
                assert!(
                    !control.contains('/') || root.join(control).exists(),
                    "{control} of {row:?}"
                );
            }
            assert!(!spans(&row[3]).is_empty(), "no proof of {row:?}");
            for proof in spans(&row[3]) {
                proofs += 1;
                assert!(is_test(proof), "there is no test {proof}, for {row:?}");
            }
        }
    }
    assert!(proofs > 30, "{proofs}");
    let named = rows(&text, "Hazards");
    for hazard in HAZARDS {
        assert!(
            named.iter().any(|row| row[0].starts_with(hazard)),
            "no row for {hazard}"
        );
    }
}
