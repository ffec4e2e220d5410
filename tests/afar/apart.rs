//! Two machines whose versions differ, and how a listener's machine is, as both ends say it.

use super::houses::{code, frames, heard, held, join, receiving, state};
use super::silent::{collector, due, found};
use crate::harness::command::Home;
use quietcuff::afar::door::{self, Shares};
use quietcuff::afar::errand::{Errand, ErrandError};
use quietcuff::afar::key::OwnKey;
use quietcuff::afar::line::{self, Line};
use quietcuff::afar::orders::Present;
use quietcuff::afar::speech::{FromRecord, OCTETS_MAX, Why};
use quietcuff::frame::Frame;
use quietcuff::gatt::Characteristic;
use quietcuff::journal::{Hand, Journal};
use std::net::TcpListener;
use std::time::Duration;

const VERSION: &str = env!("CARGO_PKG_VERSION");

/// The record's door as a program of another version has it.
fn door_of(record: &Home, version: &'static str) -> String {
    let state = state(record);
    let config = line::of_record(&OwnKey::of(&state).unwrap()).unwrap();
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    let at = listener.local_addr().unwrap().to_string();
    std::thread::spawn(move || {
        for tcp in listener.incoming() {
            let mut line = Line::answer(tcp.unwrap(), config.clone()).unwrap();
            let journal = Journal::open_existing(&state).unwrap();
            let mut journal = journal.only_for(Hand::Record).unwrap();
            let _ = door::serve(
                &mut line,
                &mut journal,
                (&Shares::default(), &Present::default()),
                version,
            );
        }
    });
    at
}

fn change(home: &Home, sql: &str) {
    let db = rusqlite::Connection::open(state(home).join("journal.sqlite")).unwrap();
    assert_eq!(db.execute(sql, []).unwrap(), 1);
}

/// Without the ends of lines, which stand where a terminal is narrow.
fn unwrapped(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn listed(record: &Home) -> serde_json::Value {
    record.run(&["listeners", "list", "--json"]).objects().remove(0)
}

/// A listener of this version calls so.
fn called(away: &Home, version: &str) -> Result<usize, ErrandError> {
    let mut journal = Journal::open(&state(away)).unwrap();
    let record = journal.record().unwrap().unwrap();
    let own = OwnKey::of(&state(away)).unwrap();
    Errand::begin(&record, &own, version, &journal)?.hand_on(&mut journal, true)
}

/// The version that is so many minor numbers behind or ahead of this one.
fn minor(by: i64) -> String {
    let mut parts = VERSION.split('.');
    let (major, minor) = (parts.next().unwrap(), parts.next().unwrap());
    let minor = minor.parse::<i64>().unwrap() + by;
    format!("{major}.{minor}.0")
}

#[test]
fn one_that_is_refused_for_its_version_does_not_look_silent() {
    let (record, away) = (Home::new(), Home::new());
    record.run(&["people", "add", "asha"]).good();
    collector(&record);
    let (_door, at) = receiving(&record, "127.0.0.1:0");
    heard(&away, &frames(0, 4));
    join(&away, &code(&record, &at, "bedroom")).good();
    away.run(&["record", "hand-on", "--once"]).good();
    // It was brought to a version that is far ahead, and has nothing to hand on for more than an hour.
    change(&record, "UPDATE listener SET last_us = last_us - 3660000000");
    let refused = called(&away, "99.0.0").unwrap_err();
    assert!(
        matches!(
            refused,
            ErrandError::Refused {
                why: Why::Version,
                ..
            }
        ),
        "{refused:?}"
    );
    let said = &found(&record)[0];
    assert!(
        said.starts_with("advised listener l1 bedroom called") && said.contains("runs version 99.0.0"),
        "{said}"
    );
    let status = unwrapped(&record.run(&["status"]).good());
    assert!(
        status.contains("it runs version 99.0.0, and this machine"),
        "{status}"
    );
    let metrics = record.run(&["status", "--metrics"]).out;
    assert!(
        metrics.contains("quietcuff_listener_refused{listener=\"l1\"} 1"),
        "{metrics}"
    );
    let json = listed(&record);
    assert_eq!(json["refused"]["version"], "99.0.0");
    let text = record.run(&["listeners", "list"]).good();
    assert!(text.contains("refused for its version 99.0.0"), "{text}");
    let next = record.run(&["next", "--json"]).objects();
    let troubles = next[0]["troubles"].to_string();
    assert!(
        troubles.contains("listener-apart") && !troubles.contains("listener-silent"),
        "{troubles}"
    );
    let due = due(&record);
    assert!(
        due.len() == 1 && due[0].starts_with("Readings from the listener bedroom have not arrived"),
        "{due:?}"
    );
    // Neighbours understand each other, and nothing is said of it any more.
    heard(&away, &frames(4, 3));
    assert_eq!(called(&away, &minor(1)).unwrap(), 3);
    assert!(listed(&record)["refused"].is_null());
    assert_eq!(listed(&record)["version"], minor(1));
    assert!(!found(&record)[0].contains("refused"), "{:?}", found(&record));
    assert_eq!(held(&record), held(&away));
    // One that was withdrawn is not heard of again, whatever it runs.
    record.run(&["listeners", "withdraw", "l1"]).good();
    called(&away, "99.0.0").unwrap_err();
    assert!(listed(&record)["refused"].is_null());
}

/// The same from the other end: the record is of another version.
#[test]
fn a_listener_says_that_its_record_is_of_another_version() {
    let (record, away) = (Home::new(), Home::new());
    record.run(&["people", "add", "asha"]).good();
    let (_door, at) = receiving(&record, "127.0.0.1:0");
    heard(&away, &frames(0, 4));
    join(&away, &code(&record, &at, "bedroom")).good();
    let far = door_of(&record, "99.0.0");
    change(&away, &format!("UPDATE record SET at = '{far}'"));
    let todo = "bring both to the same one, nothing is lost meanwhile";
    let ran = away.run(&["record", "hand-on", "--once"]);
    ran.failed(
        69,
        &[&format!("runs version {VERSION} and the record 99.0.0"), todo],
    );
    let shown = away.run(&["record", "show"]).good();
    assert!(shown.contains("problem") && shown.contains(todo), "{shown}");
    let rows = away.run(&["check", "--json"]).objects();
    let row = rows.iter().find(|row| row["check"] == "record").unwrap();
    assert!(
        row["state"] == "advised" && row["found"].as_str().unwrap().contains("99.0.0"),
        "{row}"
    );
    assert_eq!((held(&record), held(&away)), (0, 4));
    // A record that is one ahead takes everything.
    let near = door_of(&record, Box::leak(minor(1).into_boxed_str()));
    change(&away, &format!("UPDATE record SET at = '{near}'"));
    away.run(&["record", "hand-on", "--once"]).good();
    assert_eq!(held(&record), 4);
    let shown = away.run(&["record", "show"]).good();
    assert!(!shown.contains("problem"), "{shown}");
}

/// Its disk, its clock, its version and the batteries of what comes by it; one of an earlier version says less.
#[test]
fn how_a_listeners_machine_is_shows_at_the_record() {
    let (record, away) = (Home::new(), Home::new());
    record.run(&["people", "add", "asha"]).good();
    collector(&record);
    let (_door, at) = receiving(&record, "127.0.0.1:0");
    let measured = frames(0, 1).remove(0);
    let battery = Frame {
        characteristic: Characteristic::BATTERY_LEVEL,
        value: vec![55],
        ..measured.clone()
    };
    heard(&away, &[measured, battery]);
    let code = code(&record, &at, "bedroom");
    join(&away, &code).good();
    away.run(&["record", "hand-on", "--once"]).good();
    let json = listed(&record);
    assert!(json["disk_free_octets"].as_u64().unwrap() > 0, "{json}");
    assert!(json["clock_ahead_s"].as_i64().unwrap().abs() <= 1, "{json}");
    change(
        &record,
        "UPDATE listener SET clock_known = 1, disk_free = 50000000",
    );
    assert_eq!(
        found(&record),
        ["advised listener l1 bedroom has 50 MB free on its disk"]
    );
    let metrics = record.run(&["status", "--metrics"]).out;
    for sample in [
        "listener_disk_free_bytes{listener=\"l1\"} 50000000".to_owned(),
        "listener_clock_known{listener=\"l1\"} 1".to_owned(),
        "listener_clock_ahead_seconds{listener=\"l1\"} 0".to_owned(),
        "listener_refused{listener=\"l1\"} 0".to_owned(),
        format!("listener_version{{listener=\"l1\",version=\"{VERSION}\"}} 1"),
    ] {
        assert!(
            metrics.contains(&format!("quietcuff_{sample}\n")),
            "{sample}: {metrics}"
        );
    }
    change(&record, "UPDATE listener SET clock_ahead_s = -90");
    assert_eq!(
        found(&record),
        ["advised the clock of listener l1 bedroom was 90 s behind this machine's"]
    );
    let status = unwrapped(&record.run(&["status"]).good());
    for said in [
        "its clock is 90 s behind this machine's",
        &format!("version {VERSION}, 50 MB free on its disk"),
        "battery of C0:FF:EE:00:00:01: 55 %",
    ] {
        assert!(status.replace('\u{2019}', "'").contains(said), "{said}: {status}");
    }
    // One of an earlier version, which says neither of its disk nor what its clock shows, goes on.
    let code: quietcuff::afar::code::Code = code.parse().unwrap();
    let mut line = Line::call(&at, code.record, &OwnKey::of(&state(&away)).unwrap()).unwrap();
    let asked = [
        serde_json::json!({ "begin": { "version": VERSION } }),
        serde_json::json!({ "take": { "frames": [], "clocks": [], "waiting": 0, "clock_known": true } }),
    ];
    let answers = asked.map(|asked| {
        line.say(&asked).unwrap();
        line.hear::<FromRecord>(Duration::from_secs(20), OCTETS_MAX)
            .unwrap()
            .unwrap()
    });
    assert_eq!(answers[1], FromRecord::Kept);
    let json = listed(&record);
    assert!(
        json["disk_free_octets"].is_null() && json["clock_ahead_s"].is_null(),
        "{json}"
    );
}
