//! What a person has to say on a reading, and what the program says about it.

use crate::harness::replayed::{Home, USAGE, cuff, live, week};
use serde_json::Value;

fn home() -> Home {
    let home = Home::new();
    let mut moved = cuff(140, 90);
    moved.status = 0x0001;
    let readings = [
        live("2026-03-01T07:02:11", 1, cuff(120, 80)),
        live("2026-03-01T07:04:11", 1, moved),
    ];
    home.replay(&readings, &["--person", "p1"]);
    home
}

fn first(home: &Home) -> (String, Value) {
    let reading = home.json(&["readings", "--json"]).remove(0);
    (reading["id"].as_str().unwrap().to_owned(), reading)
}

#[test]
fn explained_in_plain_words() {
    let home = home();
    let readings = home.json(&["readings", "--json"]);
    let moved = readings[1]["id"].as_str().unwrap();
    let text = home.text(&["readings", "explain", &moved[..6]]);
    for words in [
        "Set aside. It is kept and listed",
        "Body movement (observed, set aside)",
        "Source:",
    ] {
        assert!(text.contains(words), "{words:?} is not in\n{text}");
    }
    let json = home.object(&["readings", "explain", moved, "--json"]);
    assert_eq!(json["disposition"], "set-aside");
    assert!(json["says"].as_array().unwrap().len() >= 2);
}

/// Each of them is a statement; taking it back gives the very same reading.
#[test]
fn said_and_taken_back() {
    let home = home();
    home.text(&["people", "add", "p2"]);
    let (id, before) = first(&home);
    let short = &id[..8];

    home.text(&["readings", "assign", short, "p2"]);
    assert_eq!(
        home.object(&["readings", "--json", "--person", "p2"])["id"],
        id.as_str()
    );
    home.text(&["readings", "assign", short, "--nobody"]);
    assert_eq!(first(&home).1, before);

    let discarded = home.object(&[
        "readings",
        "discard",
        short,
        "--reason",
        "argued on the phone",
        "--json",
    ]);
    assert_eq!(
        (&discarded["disposition"], &discarded["discarded"]),
        (&"set-aside".into(), &"argued on the phone".into())
    );
    assert_eq!(discarded["reasons"][0], "discarded");
    let text = home.text(&["readings", "explain", short]);
    assert!(text.contains("Their own words: argued on the phone"), "{text}");
    home.text(&["readings", "discard", short, "--undo"]);
    assert_eq!(first(&home).1, before);

    let timed = home.object(&["readings", "time", short, "2026-03-01T06:50", "--json"]);
    assert_eq!(
        (&timed["measured_at"], &timed["time_source"]),
        (&"2026-03-01T06:50:00+01:00".into(), &"stated".into())
    );
    assert_eq!(home.json(&["sessions", "--json"]).len(), 2);
    home.text(&["readings", "time", short, "--undo"]);
    assert_eq!(first(&home).1, before);
    assert_eq!(home.json(&["sessions", "--json"]).len(), 1);
}

#[test]
fn sessions_as_the_contract_has_them() {
    let home = home();
    let session = home.object(&["sessions", "--json"]);
    let ids: Vec<Value> = home
        .json(&["readings", "--json"])
        .iter()
        .map(|reading| reading["id"].clone())
        .collect();
    assert_eq!(session["readings"], Value::from(ids));
    assert_eq!(session["start"], "2026-03-01T07:02:11+01:00");
    assert_eq!(session["end"], "2026-03-01T07:04:11+01:00");
    assert_eq!(
        (&session["slot"], &session["counted"], &session["state"]),
        (&"morning".into(), &1.into(), &"short".into())
    );
    assert!(
        home.json(&["sessions", "--json", "--from", "2026-03-02"])
            .is_empty()
    );
    assert!(home.text(&["sessions"]).contains("1 of 2 readings count"));
}

#[test]
fn the_rules_with_their_sources() {
    let home = Home::new();
    let rules = home.json(&["technique", "list", "--json"]);
    let of = |reason: &str| rules.iter().find(|rule| rule["reason"] == reason).unwrap();
    assert_eq!(
        (&of("body-movement")["disposition"], &of("body-movement")["basis"]),
        (&"set-aside".into(), &"observed".into())
    );
    // Kallioinen et al., J Hypertens 2017;35:421, summary table: legs crossed.
    assert_eq!(
        of("reported-legs-crossed")["effect"]["systolic"],
        "2.5 to 14.9 higher"
    );
    assert!(
        rules
            .iter()
            .all(|rule| !rule["source"].as_str().unwrap().is_empty())
    );
    assert!(home.text(&["technique", "list"]).contains("never subtracted"));
}

#[test]
fn what_cannot_be_is_refused() {
    let home = home();
    let (id, before) = first(&home);
    home.fails(&["readings", "explain", "zzzz"], USAGE, &["there is no reading"]);
    home.fails(&["readings", "explain", ""], USAGE, &["there is no reading"]);
    home.fails(
        &["readings", "assign", &id, "p7"],
        USAGE,
        &["nobody is called p7"],
    );
    home.fails(&["readings", "assign", &id], USAGE, &["PERSON"]);
    home.fails(&["readings", "discard", &id], USAGE, &["--reason"]);
    home.fails(
        &["readings", "discard", &id, "--reason", " "],
        USAGE,
        &["1 to 500"],
    );
    home.fails(
        &["readings", "time", &id, "2999-01-01T00:00"],
        USAGE,
        &["has not come yet"],
    );
    home.fails(&["readings", "time", &id, "noon"], USAGE, &["is not a moment"]);
    home.fails(
        &["readings", "--person", "p1", "explain", &id],
        USAGE,
        &["belong to the list"],
    );
    home.fails(&["readings", "--person", "p7"], USAGE, &["nobody is called p7"]);
    assert_eq!(first(&home).1, before);
}

/// A standing reading is kept, listed, and in a mean of its own; taken back, it is as it was.
#[test]
fn a_kind_takes_a_reading_out_of_the_average_and_back() {
    let home = Home::new();
    home.replay(&week(), &["--person", "p1"]);
    let id = home.json(&["readings", "--json"])[2]["id"]
        .as_str()
        .unwrap()
        .to_owned();
    let before = home.object(&["period", "--json"]);
    let said = home.object(&["readings", "kind", &id, "standing", "--json"]);
    assert_eq!(
        (&said["kind"], &said["disposition"]),
        (&"standing".into(), &"marked".into())
    );
    let period = home.object(&["period", "--json"]);
    assert_eq!(period["average"]["n"], 27);
    let standing = &period["other_kinds"][0];
    assert_eq!(
        (&standing["kind"], &standing["n"]),
        (&"standing".into(), &1.into())
    );
    assert_eq!(standing["systolic"].as_f64(), said["systolic"].as_f64());
    let told = home.text(&["readings", "explain", &id]);
    assert!(
        told.contains("kept apart") && told.contains("Taken standing"),
        "{told}"
    );
    let csv = home.text(&["export", "csv"]);
    assert_eq!(csv.matches("reported-standing").count(), 1, "{csv}");
    let fhir = home.text(&["export", "fhir", "--ndjson"]);
    assert!(
        fhir.contains("Not in the average: 1 standing readings, mean"),
        "{fhir}"
    );
    home.text(&["readings", "kind", &id, "--undo"]);
    assert_eq!(home.object(&["period", "--json"]), before);
    let wrong = ["is no kind of reading", "seated, standing, lying, night"];
    home.fails(&["readings", "kind", &id, "sitting"], USAGE, &wrong);
}
