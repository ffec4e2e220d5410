//! What a listener lets go: what its record has held for as long as it was told, and nothing else.

use super::houses::{code, frames, handing_on, heard, held, join, put_back, receiving, state, wait_for};
use crate::harness::command::Home;
use crate::page::listening::{Bus, without_bus};
use std::time::Duration;

fn shown(away: &Home) -> serde_json::Value {
    away.run(&["record", "show", "--json"]).objects().remove(0)
}

fn wait_until_held(home: &Home, count: i64) {
    for _ in 0..400 {
        if held(home) == count {
            return;
        }
        std::thread::sleep(Duration::from_millis(50));
    }
    panic!("{} frames are held and not {count}", held(home));
}

/// A real collector, whose clock service knows the time, lets go in bursts what the record holds. Its journal is whole,
/// its backup too, what comes goes on, and a record that was put back from an older backup gets what is left.
#[test]
fn a_listener_lets_go_what_its_record_has_held() {
    if without_bus() {
        return;
    }
    let (record, away) = (Home::new(), Home::new());
    let (mut door, at) = receiving(&record, "127.0.0.1:0");
    heard(&away, &frames(0, 20));
    heard(&away, &frames(20, 20));
    away.run(&["record", "keep", "30"])
        .failed(78, &["no record", "record join"]);
    join(&away, &code(&record, &at, "bedroom")).good();
    assert_eq!(shown(&away)["keep_days"], 90);
    away.run(&["record", "hand-on", "--once"]).good();
    let copy = record.path("copy.sqlite");
    record.run(&["backup", "--output", copy.to_str().unwrap()]).good();
    heard(&away, &frames(40, 20));
    away.run(&["record", "hand-on", "--once"]).good();

    let bus = Bus::start();
    bus.bluez_and_clock(true, true);
    {
        // With the days that nobody chose, nothing leaves now.
        let _collector = bus.collector(away.command(&["run"]));
        wait_for_note(&away);
        assert_eq!(held(&away), 60);
    }
    away.run(&["record", "keep", "0"]).good();
    {
        let _collector = bus.collector(away.command(&["run"]));
        // The last burst has the frame by which record and listener know each other.
        wait_until_held(&away, 20);
    }
    assert_eq!(shown(&away)["let_go"], 40);
    let said = away.run(&["record", "show"]).good();
    assert!(said.contains("40 frames left"), "{said}");
    let rows = away.run(&["check", "--thorough", "--json"]).objects();
    let journal = rows.iter().find(|row| row["check"] == "journal");
    assert_eq!(journal.unwrap()["state"], "ok", "{rows:?}");
    let own = away.path("own.sqlite");
    away.run(&["backup", "--output", own.to_str().unwrap()]).good();

    // What comes is handed on from where it stood.
    heard(&away, &frames(60, 3));
    let handed = away.run(&["record", "hand-on", "--once"]).good();
    assert_eq!(handed.trim(), "3 frames handed on");
    assert_eq!(held(&record), 63);

    // The record as it was before the last two bursts: the listener let one of them go, and both are there again.
    door.kill();
    put_back(&record, &copy);
    record.run(&["listeners", "confirm", "l1"]).good();
    let (_door, _) = receiving(&record, &at);
    let _errand = handing_on(&away);
    wait_for(&record, 63);
}

/// The collector has looked at what the record holds.
fn wait_for_note(away: &Home) {
    let path = state(away).join("journal.sqlite");
    for _ in 0..400 {
        let noted: i64 = rusqlite::Connection::open(&path)
            .unwrap()
            .query_row("SELECT count(*) FROM held", [], |row| row.get(0))
            .unwrap();
        if noted > 0 {
            return;
        }
        std::thread::sleep(Duration::from_millis(50));
    }
    panic!("nobody noted what the record holds");
}

/// What has left and is not at the record any more is said where it is found, and the rest goes on.
#[test]
fn what_has_left_and_is_lost_at_the_record_is_said() {
    if without_bus() {
        return;
    }
    let (record, away) = (Home::new(), Home::new());
    let (mut door, at) = receiving(&record, "127.0.0.1:0");
    heard(&away, &frames(0, 5));
    join(&away, &code(&record, &at, "bedroom")).good();
    away.run(&["record", "hand-on", "--once"]).good();
    let copy = record.path("copy.sqlite");
    record.run(&["backup", "--output", copy.to_str().unwrap()]).good();
    heard(&away, &frames(5, 5));
    heard(&away, &frames(10, 5));
    away.run(&["record", "hand-on", "--once"]).good();
    away.run(&["record", "keep", "0"]).good();
    let bus = Bus::start();
    bus.bluez_and_clock(true, true);
    {
        let _collector = bus.collector(away.command(&["run"]));
        wait_until_held(&away, 5);
    }
    door.kill();
    put_back(&record, &copy);
    record.run(&["listeners", "confirm", "l1"]).good();
    let (_door, _) = receiving(&record, &at);
    let handed = away.run(&["record", "hand-on", "--once"]);
    assert!(
        handed.err.contains("up to number 10 have left"),
        "{} {}",
        handed.out,
        handed.err
    );
    assert_eq!(
        held(&record),
        10,
        "five of its backup, and the five that are left"
    );
}
