//! The log says nothing personal: no name, no value, no note, at the level that a service logs at.

use crate::harness::command::alone;
use std::path::Path;
use std::process::Output;

/// Words and numbers that stand in the household and nowhere else.
const MARKED: [&str; 4] = ["Zebrafinch Quux", "zebrafinch-note", "187", "113"];

fn logged(home: &Path, arguments: &[&str]) -> Output {
    alone(home, arguments)
        .args(["--log-json", "--state", home.join("state").to_str().unwrap()])
        .output()
        .unwrap()
}

/// 187/113 mmHg, in a frame and everything that is made of it.
const FRAME: &str = r#"{"received_at":"2026-03-01T07:02:14.250+01:00","monitor":"C0:FF:EE:00:00:01","connection":1,"characteristic":"2a35","value":"04bb0071008a004800"}"#;

#[test]
fn a_log_as_json_names_nobody() {
    let home = tempfile::tempdir().unwrap();
    let file = home.path().join("frames.jsonl");
    std::fs::write(&file, format!("{FRAME}\nnot a frame\n")).unwrap();
    let mut shown = String::new();
    let mut log = String::new();
    for arguments in [
        ["people", "add", "p1", "--label", MARKED[0]].as_slice(),
        &["replay", file.to_str().unwrap(), "--person", "p1"],
        &["note", "add", "other", MARKED[1], "--person", "p1"],
        &["settle"],
        &["readings", "--json"],
        &["people", "list"],
        &["note", "list"],
        &["period", "--person", "p1"],
        &["rebuild"],
        &["run"],
    ] {
        let done = logged(home.path(), arguments);
        assert!(
            !String::from_utf8_lossy(&done.stderr).contains("panicked"),
            "{done:?}"
        );
        shown += &String::from_utf8_lossy(&done.stdout);
        log += &String::from_utf8_lossy(&done.stderr);
    }
    // The household was really there to be told of.
    for word in MARKED {
        assert!(shown.contains(word), "{word} in {shown}");
    }
    let said: Vec<String> = log
        .lines()
        .filter(|line| line.starts_with('{'))
        .map(|line| serde_json::from_str::<serde_json::Value>(line).unwrap()["fields"].to_string())
        .collect();
    assert!(!said.is_empty(), "nothing was logged as JSON: {log}");
    for fields in said {
        for word in MARKED {
            assert!(!fields.contains(word), "{fields}");
        }
    }
}
