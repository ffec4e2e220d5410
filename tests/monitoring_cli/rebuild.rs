//! `quietcuff rebuild`, and that the order of arrival never changes a result, as scripts see it.

use crate::harness::replayed::Home;
use crate::monitoring_cli::derived::{dump, lived, shuffled};
use jiff::Timestamp;
use proptest::prelude::*;
use quietcuff::journal::Journal;
use quietcuff::radio::json_lines::AsLine;
use serde_json::Value;

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
