//! The protocol that the clinic wrote, from a file that the configuration names.

use crate::harness::replayed::{CONFIG, Home, USAGE, cuff, live, week};

const CLINIC: &str = r#"
title = "The invented clinic's three readings"
citation = "Invented for a test"
readings-per-session = 3
gap-seconds = 120
third-reading-above = 0
sessions = ["morning"]
days = 5
days-min = 2
readings-min = 4
drop-first-day = false
average-of = "all"
threshold = { systolic = 128, diastolic = 80 }
"#;

fn home(clinic: &str) -> Home {
    let home = Home::new();
    std::fs::write(
        home.dir.path().join("quietcuff.toml"),
        "clinic-protocol = \"clinic.toml\"\n",
    )
    .unwrap();
    std::fs::write(home.dir.path().join("clinic.toml"), clinic).unwrap();
    home
}

#[test]
fn it_is_a_protocol_like_any_other() {
    let home = home(CLINIC);
    home.replay(&week(), &["--person", "p1"]);
    // A command that reads takes nothing up.
    home.fails(
        &["period", "--protocol", "clinic"],
        USAGE,
        &["when a period is begun with it"],
    );
    let said = home.run(&["period", "start", "--protocol", "clinic", "--from", "2026-01-01"]);
    assert_eq!(said.code, 0, "{said:?}");
    assert!(
        said.err.contains("the protocol `clinic` holds from now on"),
        "{said:?}"
    );
    let period = home.object(&["period", "--json", "--protocol", "clinic"]);
    assert_eq!(
        (&period["protocol"], &period["sessions_expected"]),
        (&"clinic".into(), &5.into())
    );
    assert_eq!(period["threshold"]["systolic"].as_f64(), Some(128.0));
    // Once it is the person's, its sessions are judged by it: three readings, two minutes apart.
    let last = |home: &Home| home.json(&["readings", "--json"]).pop().unwrap();
    assert_eq!(last(&home)["reasons"], serde_json::json!([]));
    home.text(&["people", "edit", "p1", "--protocol", "clinic"]);
    assert_eq!(
        last(&home)["reasons"],
        serde_json::json!(["third-reading-missing"])
    );
    // A new version of the file is taken up when somebody chooses it again, and not by looking.
    let stricter = CLINIC.replace("gap-seconds = 120", "gap-seconds = 180");
    std::fs::write(home.dir.path().join("clinic.toml"), stricter).unwrap();
    assert_eq!(
        last(&home)["reasons"],
        serde_json::json!(["third-reading-missing"])
    );
    home.text(&["people", "edit", "p1", "--protocol", "clinic"]);
    assert_eq!(last(&home)["disposition"], "set-aside");
    assert_eq!(last(&home)["reasons"], serde_json::json!(["too-soon"]));
}

#[test]
fn a_file_with_an_impossible_rule_is_refused_by_line() {
    let home = home(&CLINIC.replace("days-min = 2", "days-min = 9"));
    home.fails(
        &["people", "add", "p1", "--protocol", "clinic"],
        CONFIG,
        &["clinic.toml", "line 9", "days-min"],
    );
    std::fs::remove_file(home.dir.path().join("clinic.toml")).unwrap();
    home.fails(
        &["people", "add", "p1", "--protocol", "clinic"],
        CONFIG,
        &["clinic.toml", "clinic-protocol"],
    );
}

#[test]
fn without_a_file_there_is_none() {
    let home = Home::new();
    home.replay(
        &[live("2026-03-01T07:02:11", 1, cuff(120, 80))],
        &["--person", "p1"],
    );
    home.fails(
        &["period", "--protocol", "clinic"],
        USAGE,
        &["`clinic` needs the clinic's file"],
    );
}
