//! `quietcuff note` and what notes do to readings.

use crate::harness::replayed::{Home, USAGE, cuff, live};

fn home() -> Home {
    let home = Home::new();
    let readings = [
        live("2026-03-01T07:02:11", 1, cuff(120, 80)),
        live("2026-03-01T07:04:11", 1, cuff(122, 81)),
    ];
    home.replay(&readings, &["--person", "p1"]);
    home
}

fn dispositions(home: &Home) -> Vec<String> {
    home.json(&["readings", "--json"])
        .iter()
        .map(|reading| {
            format!(
                "{} {}",
                reading["disposition"].as_str().unwrap(),
                reading["reasons"]
            )
        })
        .collect()
}

#[test]
fn a_note_marks_and_taking_it_back_unmarks() {
    let home = home();
    assert_eq!(dispositions(&home), ["counted []", "counted []"]);
    let note = home.object(&["note", "add", "coffee", "--at", "2026-03-01T06:33", "--json"]);
    assert_eq!(
        (&note["what"], &note["at"]),
        (&"coffee".into(), &"2026-03-01T06:33:00+01:00".into())
    );
    // 29 minutes and 11 seconds before the first, 31 and 11 before the second.
    assert_eq!(
        dispositions(&home),
        ["marked [\"reported-coffee\"]", "counted []"]
    );
    assert_eq!(
        home.json(&["note", "list", "--json"]),
        std::slice::from_ref(&note)
    );
    home.text(&["note", "withdraw", &note["id"].as_str().unwrap()[..4]]);
    assert_eq!(dispositions(&home), ["counted []", "counted []"]);
    assert!(home.json(&["note", "list", "--json"]).is_empty());
}

#[test]
fn strict_sets_reported_faults_aside() {
    let home = home();
    home.text(&["note", "add", "talked", "--at", "2026-03-01T07:03"]);
    home.text(&["people", "edit", "p1", "--strict"]);
    for disposition in dispositions(&home) {
        assert!(
            disposition.starts_with("set-aside [\"reported-talked\""),
            "{disposition}"
        );
    }
}

#[test]
fn every_kind_is_kept() {
    let home = home();
    let kinds: &[&[&str]] = &[
        &["medicine", "morning", "dose"],
        &["medicine"],
        &["medicine-changed"],
        &["coffee"],
        &["smoking"],
        &["exercise"],
        &["alcohol"],
        &["meal"],
        &["waking"],
        &["dinner"],
        &["bed"],
        &["symptoms", "dizzy,", "headache"],
        &["posture", "legs-crossed"],
        &["full-bladder"],
        &["no-rest"],
        &["talked"],
        &["over-clothing"],
        &["arm", "left"],
        &["cuff", "220-320"],
        &["clinic-reading", "142/91"],
        &["monitor-dropped"],
        &["batteries-changed"],
        &["monitor-checked", "at the clinic"],
        &["other", "a bad night"],
    ];
    for kind in kinds {
        let mut args = vec!["note", "add", "--at", "2026-03-02T12:00"];
        args.extend(*kind);
        home.text(&args);
    }
    let notes = home.json(&["note", "list", "--json"]);
    assert_eq!(notes.len(), kinds.len());
    let of = |what: &str| notes.iter().find(|note| note["what"] == what).unwrap();
    assert_eq!(
        of("symptoms")["symptoms"],
        serde_json::json!(["dizzy", "headache"])
    );
    assert_eq!(of("clinic-reading")["systolic"].as_f64(), Some(142.0));
    assert_eq!(of("monitor-dropped")["monitor"], "c0ffee000001");
    assert_eq!(of("cuff")["max_mm"], 320);
    assert!(of("monitor-dropped")["person"].is_null());
}

#[test]
fn what_cannot_be_is_refused() {
    let home = home();
    home.fails(
        &["note", "add", "coffee", "--at", "2999-01-01T07:00"],
        USAGE,
        &["has not come yet"],
    );
    home.fails(
        &["note", "add", "cofee"],
        USAGE,
        &["did you mean `coffee`?", "monitor-dropped"],
    );
    home.fails(
        &["note", "add", "coffee", "two", "cups"],
        USAGE,
        &["takes no words"],
    );
    home.fails(&["note", "add", "posture"], USAGE, &["legs-crossed"]);
    home.fails(&["note", "add", "symptoms"], USAGE, &["dizzy"]);
    home.fails(&["note", "add", "clinic-reading", "91/142"], USAGE, &["smaller"]);
    home.fails(&["note", "add", "cuff", "320-220"], USAGE, &["220-320"]);
    home.fails(
        &["note", "add", "coffee", "--at", "yesterday"],
        USAGE,
        &["is not a moment"],
    );
    home.fails(
        &["note", "add", "coffee", "--at", "2026-03-01"],
        USAGE,
        &["is not a moment"],
    );
    home.fails(
        &["note", "add", "coffee", "--person", "p2"],
        USAGE,
        &["nobody is called p2"],
    );
    home.fails(&["note", "withdraw", "zz"], USAGE, &["there is no note"]);
    home.text(&["people", "add", "p2"]);
    home.fails(&["note", "add", "coffee"], USAGE, &["--person", "p1, p2"]);
    assert!(home.json(&["note", "list", "--json"]).is_empty());
}
