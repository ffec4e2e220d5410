//! `quietcuff next`, moment by moment through one morning.

use crate::harness::replayed::{Home, USAGE, cuff, live};
use serde_json::Value;

fn at(home: &Home, civil: &str) -> Value {
    home.object(&["next", "--json", "--at", civil])
}

/// The contract's own example, and what comes before and after it.
#[test]
fn through_a_session() {
    let home = Home::new();
    home.text(&["people", "add", "p1"]);
    home.replay(
        &[live("2026-03-01T07:02:11", 1, cuff(120, 80))],
        &["--person", "p1"],
    );
    assert_eq!(at(&home, "2026-03-01T07:00:00")["state"], "rest");
    let wait = at(&home, "2026-03-01T07:02:20");
    assert_eq!(wait["state"], "wait");
    assert_eq!(wait["until"], "2026-03-01T07:03:11+01:00");
    assert_eq!(wait["because"], "one reading in; two belong to a session");
    assert_eq!(
        wait["say"],
        "Keep the cuff on. Take the second reading at 07:03:11."
    );
    assert_eq!(at(&home, "2026-03-01T07:03:11")["state"], "second");
    home.replay(
        &[live("2026-03-01T07:03:20", 1, cuff(131, 80))],
        &["--person", "p1"],
    );
    // 11 apart: a third.
    assert_eq!(at(&home, "2026-03-01T07:04:30")["state"], "third");
    home.replay(
        &[live("2026-03-01T07:05:00", 1, cuff(124, 80))],
        &["--person", "p1"],
    );
    assert_eq!(at(&home, "2026-03-01T07:05:10")["state"], "done");
    assert_eq!(at(&home, "2026-03-01T13:00:00")["state"], "not-due");
    let text = home.text(&["next", "--at", "2026-03-01T07:02:20"]);
    assert!(text.starts_with("Keep the cuff on."), "{text}");
}

#[test]
fn a_reading_set_aside_is_repeated() {
    let home = Home::new();
    let mut loose = cuff(120, 80);
    loose.status = 0x0002;
    home.replay(&[live("2026-03-01T07:02:11", 1, loose)], &["--person", "p1"]);
    let repeat = at(&home, "2026-03-01T07:04:00");
    assert_eq!(repeat["state"], "repeat");
    assert!(repeat["because"].as_str().unwrap().contains("cuff-too-loose"));
}

/// Very high outranks the session; noted symptoms outrank the numbers.
#[test]
fn help_outranks() {
    let home = Home::new();
    home.replay(
        &[live("2026-03-01T07:02:11", 1, cuff(181, 95))],
        &["--person", "p1"],
    );
    let help = at(&home, "2026-03-01T07:02:20");
    assert_eq!(
        (&help["state"], &help["otherwise"]),
        (&"seek-help".into(), &"wait".into())
    );
    assert_eq!(help["until"], "2026-03-01T07:07:11+01:00");
    assert_eq!(help["alerts"][0]["level"], "measure-again");
    home.text(&[
        "note",
        "add",
        "symptoms",
        "chest",
        "pain",
        "--at",
        "2026-03-01T07:02:15",
    ]);
    let help = at(&home, "2026-03-01T07:02:20");
    assert_eq!(help["alerts"][0]["level"], "emergency");
    assert!(help["say"].as_str().unwrap().contains("emergency number"));
}

/// A period says on which days a session is due, and by which rules.
#[test]
fn by_the_running_period() {
    let home = Home::new();
    home.replay(
        &[live("2026-03-01T07:02:11", 1, cuff(120, 80))],
        &["--person", "p1"],
    );
    home.text(&["period", "start", "--from", "2026-03-02", "--days", "3"]);
    assert_eq!(at(&home, "2026-03-01T20:00:00")["state"], "not-due");
    assert_eq!(at(&home, "2026-03-02T20:00:00")["state"], "rest");
    let over = at(&home, "2026-03-05T20:00:00");
    assert_eq!(
        (&over["state"], &over["say"]),
        (&"not-due".into(), &"No further session is planned.".into())
    );
}

#[test]
fn for_whom_has_to_be_known() {
    let home = Home::new();
    home.replay(&[live("2026-03-01T07:02:11", 1, cuff(120, 80))], &[]);
    home.fails(&["next"], USAGE, &["people add"]);
    home.text(&["people", "add", "p1"]);
    home.text(&["people", "add", "p2"]);
    home.fails(&["next"], USAGE, &["--person", "p1, p2"]);
    home.fails(
        &["next", "--person", "p3"],
        USAGE,
        &["nobody is called p3", "p1, p2"],
    );
    assert_eq!(
        home.object(&["next", "--json", "--person", "p2", "--at", "2026-03-01T07:00"])["person"],
        "p2"
    );
}

/// Each moment of a morning in each language: no line is the English one, and in another script no Latin letter is left
/// but those of the unit.
#[test]
fn said_in_every_language() {
    let home = Home::new();
    home.text(&["people", "add", "p1"]);
    let mut loose = cuff(127, 80);
    loose.status = 0x0002;
    home.replay(
        &[
            live("2026-03-01T07:02:11", 1, cuff(120, 80)),
            live("2026-03-01T07:03:20", 1, cuff(131, 80)),
            live("2026-03-01T07:05:00", 1, cuff(124, 80)),
            live("2026-03-01T19:02:00", 2, loose),
        ],
        &["--person", "p1"],
    );
    let mut states = Vec::new();
    for (day, clock) in [
        (1, "06:59:00"),
        (1, "07:02:20"),
        (1, "07:03:11"),
        (1, "07:04:30"),
        (1, "07:05:10"),
        (1, "13:00:00"),
        (1, "19:04:00"),
        (1, "23:30:00"),
    ] {
        let moment = format!("2026-03-{day:02}T{clock}");
        let english = home.text(&["next", "--at", &moment]);
        states.push(at(&home, &moment)["state"].as_str().unwrap().to_owned());
        for tag in ["hi", "de", "es", "ta"] {
            let said = home.text(&["next", "--at", &moment, "--language", tag]);
            assert_eq!(said.lines().count(), english.lines().count(), "{tag}: {said}");
            for line in english.lines() {
                assert!(!said.contains(line), "{tag}: {said}");
            }
            let left = said.replace("mmHg", "");
            if matches!(tag, "hi" | "ta") {
                assert!(!left.contains(|c: char| c.is_ascii_alphabetic()), "{tag}: {said}");
            }
        }
    }
    states.sort();
    states.dedup();
    assert!(states.len() >= 6, "{states:?}");
    home.fails(
        &["next", "--language", "tlh"],
        USAGE,
        &["the languages are en, hi, de, es, ta"],
    );
}

/// What must not wait is said in the household's language, its source as it stands.
#[test]
fn help_in_the_households_language() {
    let home = Home::new();
    home.replay(
        &[live("2026-03-01T07:02:11", 1, cuff(192, 121))],
        &["--person", "p1"],
    );
    let config = home.dir.path().join("quietcuff.toml");
    std::fs::write(config, "[alerts]\nlanguage = \"de\"\n").unwrap();
    let said = home.text(&["next", "--at", "2026-03-01T07:02:30"]);
    assert!(
        said.contains("eine Messung ist sehr hoch, seit 07:02:11"),
        "{said}"
    );
    assert!(!said.contains("reading is very high"), "{said}");
    let english = home.text(&["next", "--at", "2026-03-01T07:02:30", "--language", "en"]);
    let json = at(&home, "2026-03-01T07:02:30");
    assert!(english.starts_with(json["say"].as_str().unwrap()), "{english}");
}
