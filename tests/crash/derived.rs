//! Rows of what is derived that cannot be read: made anew from the frames by themselves, once, and said; found by
//! `check`, and never carried on by a backup.

use crate::harness::left_out::in_a_hurry;
use crate::harness::replayed::{Home, cuff, live, week};
use rusqlite::Connection;
use serde_json::Value;

const ANEW: &str = "made anew";

/// What a tool, or a bit, can make of a row, one of each column that is looked at by more than its digits.
const DAMAGES: [&str; 11] = [
    "UPDATE reading SET stamp = 'nonsense' WHERE row = 5",
    "UPDATE reading SET time_source = 'nowhere' WHERE row = 5",
    "UPDATE reading SET received_us = 9223372036854775807 WHERE row = 5",
    "UPDATE reading SET unit = '?' WHERE row = 5",
    "UPDATE reading SET systolic = -5 WHERE row = 5",
    "UPDATE reading SET id = CAST(x'ff' AS TEXT) WHERE row = 5",
    "UPDATE judgement SET disposition = 'perhaps' WHERE reading = 5",
    "UPDATE judgement SET reasons = 'nothing-known' WHERE reading = 5",
    "UPDATE session SET date = '32 March' WHERE rowid = 3",
    "UPDATE session SET slot = 'noon' WHERE rowid = 3",
    "UPDATE session SET counted = -1 WHERE rowid = 3",
];

/// These hide a reading from whoever asks for its session alone; everybody who asks for readings meets them.
const HIDING: [&str; 2] = [
    "UPDATE reading SET measured_us = 9223372036854775807 WHERE row = 5",
    "DELETE FROM judgement WHERE reading = 5",
];

const SEEN: [&[&str]; 4] = [
    &["readings", "--json"],
    &["sessions", "--json"],
    &["period", "--json", "--person", "p1"],
    &["export", "csv"],
];

fn damage(home: &Home, sql: &str) {
    let db = Connection::open(home.state().join("journal.sqlite")).unwrap();
    db.pragma_update(None, "ignore_check_constraints", true).unwrap();
    assert_eq!(db.execute(sql, []).unwrap(), 1, "{sql}");
}

/// What the commands print, and how many of them made something anew.
fn seen(home: &Home) -> (Vec<String>, usize) {
    let mut anew = 0;
    let said = SEEN.iter().map(|args| {
        let ran = home.run(args);
        assert_eq!(ran.code, 0, "{args:?}: {ran:?}");
        let times = ran.err.matches(ANEW).count();
        assert!(times <= 1, "{args:?}: it is said once: {}", ran.err);
        anew += times;
        ran.out
    });
    (said.collect(), anew)
}

fn journal_finding(home: &Home) -> Value {
    let said = home.run(&["check", "--json"]);
    let mut findings = said
        .out
        .lines()
        .map(|line| serde_json::from_str::<Value>(line).unwrap());
    findings.find(|finding| finding["check"] == "journal").unwrap()
}

#[test]
fn damaged_derived_rows_are_made_anew_and_never_backed_up() {
    if in_a_hurry("damaged derived rows, one after the other") {
        return;
    }
    let home = Home::new();
    home.replay(&week(), &["--person", "p1"]);
    let (whole, anew) = seen(&home);
    assert_eq!(anew, 0);
    let sound = journal_finding(&home);
    for sql in DAMAGES.into_iter().chain(HIDING) {
        damage(&home, sql);
        let (mut found, anew) = seen(&home);
        if HIDING.contains(&sql) {
            found[1].clone_from(&whole[1]);
        }
        assert_eq!(found, whole, "{sql}");
        assert!(anew > 0, "{sql}: nobody met it");
        // Reading wrote nothing: it is still there, and is found.
        let finding = journal_finding(&home);
        assert_ne!(finding["state"], sound["state"], "{sql}: {finding}");
        assert!(
            finding.to_string().contains("quietcuff rebuild"),
            "{sql}: {finding}"
        );

        let copy = home.dir.path().join("copy.db");
        let kept = home.run(&["backup", "--output", copy.to_str().unwrap()]);
        assert_eq!(kept.code, 0, "{sql}: {kept:?}");
        assert!(kept.err.contains(ANEW), "{sql}: {kept:?}");
        let elsewhere = Home::new();
        elsewhere.text(&["restore", copy.to_str().unwrap()]);
        assert_eq!(seen(&elsewhere), (whole.clone(), 0), "{sql}: what was restored");

        home.text(&["rebuild"]);
        assert_eq!(seen(&home), (whole.clone(), 0), "{sql}: after `rebuild`");
        assert_eq!(journal_finding(&home), sound, "{sql}");
    }
}

/// A row that is met while new frames are settled.
#[test]
fn new_frames_are_settled_over_damaged_rows() {
    let later = || vec![live("2026-03-08T07:02:11", 990, cuff(131, 83))];
    let undamaged = Home::new();
    undamaged.replay(&week(), &["--person", "p1"]);
    undamaged.replay(&later(), &[]);
    let (whole, _) = seen(&undamaged);
    for sql in [
        "UPDATE connection SET past = '{' WHERE started_us = (SELECT max(started_us) FROM connection)",
        "UPDATE reading SET stamp = 'nonsense' WHERE row = (SELECT max(row) FROM reading)",
    ] {
        let home = Home::new();
        home.replay(&week(), &["--person", "p1"]);
        damage(&home, sql);
        home.replay(&later(), &[]);
        let (found, _) = seen(&home);
        assert_eq!(found, whole, "{sql}");
    }
}

/// A backup of somebody else's that holds such a row is put in place with all of it made anew.
#[test]
fn a_backup_with_damaged_rows_is_restored_whole() {
    let home = Home::new();
    home.replay(&week(), &["--person", "p1"]);
    let (whole, _) = seen(&home);
    let copy = home.dir.path().join("copy.db");
    home.text(&["backup", "--output", copy.to_str().unwrap()]);
    let db = Connection::open(&copy).unwrap();
    db.execute(DAMAGES[6], []).unwrap();
    drop(db);
    let elsewhere = Home::new();
    elsewhere.text(&["restore", copy.to_str().unwrap()]);
    assert_eq!(seen(&elsewhere), (whole, 0));
}
