//! Frames out and in again: nothing is added by a repetition, nothing is lost on the way.

use crate::harness::command::{Home, Ran, fixture};
use serde_json::Value;

const ZONE: &str = "--time-zone=Europe/Oslo";

fn replay(home: &Home, file: &str, state: &str, more: &[&str]) -> Value {
    let mut arguments = vec!["replay", file, "--state", state, "--json", ZONE];
    arguments.extend(more);
    let ran = home.run(&arguments);
    assert_eq!(ran.code, 0, "{ran:?}");
    ran.objects().remove(0)
}

fn listed(home: &Home, what: &str, state: &str) -> String {
    let said = home.run(&[what, "--json", "--state", state]).good();
    assert!(!said.is_empty(), "{what} of {state}");
    said
}

#[test]
fn replaying_again_adds_nothing() {
    let home = Home::new();
    for (n, file) in ["captures/session.btsnoop", "captures/bench-week.btsnoop"]
        .into_iter()
        .enumerate()
    {
        let state = format!("s{n}");
        let first = replay(&home, &fixture(file), &state, &["--person", "p1"]);
        assert!(
            first["frames"].as_u64().unwrap() > 0 && first["readings"].as_u64().unwrap() > 0,
            "{first}"
        );
        let (frames, readings) = (listed(&home, "frames", &state), listed(&home, "readings", &state));
        let again = replay(&home, &fixture(file), &state, &["--person", "p1"]);
        assert_eq!(again["known_frames"], first["frames"], "{again}");
        for nothing in ["frames", "readings", "repeats", "set_aside", "refused"] {
            assert_eq!(again[nothing], 0, "{nothing} of {again}");
        }
        assert_eq!(listed(&home, "frames", &state), frames);
        assert_eq!(listed(&home, "readings", &state), readings);
    }
}

#[test]
fn printed_frames_make_the_same_journal() {
    let home = Home::new();
    for (n, file) in ["captures/session.btsnoop", "captures/bench-week.btsnoop"]
        .into_iter()
        .enumerate()
    {
        let (one, two) = (format!("one{n}"), format!("two{n}"));
        replay(&home, &fixture(file), &one, &["--person", "p1"]);
        let frames = listed(&home, "frames", &one);
        let copy = home.file(&format!("{n}.jsonl"), &frames);
        replay(&home, &copy, &two, &[]);
        assert_eq!(listed(&home, "frames", &two), frames);
        assert_eq!(listed(&home, "readings", &two), listed(&home, "readings", &one));
    }
}

/// Of a whole household: whose a reading is, the household has stated, and that is not in its frames. All else is.
#[test]
fn a_households_frames_keep_what_was_measured_and_when() {
    let home = Home::new();
    home.run(&["demo", "--until", "2026-03-29", "--state", "one"])
        .good();
    let frames = listed(&home, "frames", "one");
    let mut backwards: Vec<&str> = frames.lines().collect();
    backwards.reverse();
    let copy = home.file("backwards.jsonl", backwards.join("\n"));
    replay(&home, &copy, "two", &[]);
    let measured = |state: &str| -> Vec<Vec<Value>> {
        let mut all: Vec<Vec<Value>> = Ran::objects(home.run(&["readings", "--json", "--state", state]))
            .into_iter()
            .map(|reading| {
                [
                    "id",
                    "measured_at",
                    "time_source",
                    "systolic",
                    "diastolic",
                    "pulse_rate",
                    "special",
                ]
                .map(|field| reading[field].clone())
                .to_vec()
            })
            .collect();
        all.sort_by_key(|fields| fields[0].to_string());
        all
    };
    let one = measured("one");
    assert!(one.len() > 50, "{}", one.len());
    assert_eq!(measured("two"), one);
}

/// As with `| head -1`: whoever has read enough is no failure.
#[test]
fn a_reader_that_has_had_enough() {
    let home = Home::new();
    home.run(&["demo", "--until", "2026-03-29", "--state", "own"])
        .good();
    for arguments in [
        ["frames", "--json", "--state", "own"].as_slice(),
        &["frames", "--state", "own"],
        &["readings", "--json", "--state", "own"],
        &["readings", "--state", "own"],
        &["demo", "--until", "2026-03-29", "--days", "3"],
        &["check"],
        &["--help"],
    ] {
        let (reader, writer) = std::io::pipe().unwrap();
        drop(reader);
        let output = home.command(arguments).stdout(writer).output().unwrap();
        let ran = Ran::of(&output, arguments);
        assert_eq!((ran.code, ran.err.as_str()), (0, ""), "{arguments:?}");
    }
}
