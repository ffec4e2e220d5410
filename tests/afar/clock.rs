//! A listener that never learns the time by itself: the record tells it, with how far that may be off, and gives what it
//! heard its time by that, never silently.

use super::houses::{Role, code, frames, handing_on, heard, join, receiving, state, wait_for};
use crate::harness::command::Home;
use jiff::tz::TimeZone;
use jiff::{SignedDuration, Timestamp};
use quietcuff::afar::key::OwnKey;
use quietcuff::afar::line::{self, Line};
use quietcuff::afar::speech::{FromRecord, OCTETS_MAX, Take, ToRecord};
use quietcuff::edge::Edge;
use quietcuff::frame::Frame;
use quietcuff::journal::Journal;
use quietcuff::reading::ClockSample;
use serde_json::json;
use std::io::{BufRead, BufReader, Write};
use std::net::TcpListener;
use std::os::unix::net::UnixListener;
use std::time::Duration;

const SOON: Duration = Duration::from_secs(20);

/// What a listener in 1970 heard a minute ago of a monitor without a clock, and when that was in truth.
fn in_1970() -> (Frame, ClockSample, Timestamp) {
    let mut now = Edge::new(TimeZone::UTC).sample().unwrap();
    let truth = now.wall - SignedDuration::from_mins(1);
    let started = ClockSample {
        wall: Timestamp::from_second(10).unwrap(),
        ..now.clone()
    };
    now.uptime.micros -= 60_000_000;
    let mut frame = frames(0, 1).remove(0);
    frame.received_at = Timestamp::from_second(700).unwrap();
    frame.uptime = Some(now.uptime);
    frame.value = vec![0x00, 128, 0, 82, 0, 95, 0];
    (frame, started, truth)
}

/// A listener in 1970 that belongs to the record, as its collector leaves its journal.
fn listener(record: &Home, at: &str) -> (Home, Timestamp) {
    let away = Home::new();
    let (frame, started, truth) = in_1970();
    heard(&away, &[frame]);
    let mut journal = Journal::open(&state(&away)).unwrap();
    journal.sample_clocks(&[started]).unwrap();
    join(&away, &code(record, at, "attic")).good();
    (away, truth)
}

/// The collector of a record, which says this of its clock.
fn collector(home: &Home, synchronized: bool) {
    let listener = UnixListener::bind(state(home).join("daemon.sock")).unwrap();
    std::thread::spawn(move || {
        for stream in listener.incoming() {
            let mut stream = stream.unwrap();
            BufReader::new(&stream).read_line(&mut String::new()).unwrap();
            let report =
                json!({ "running": true, "clock_synchronized": synchronized, "radio": { "bluez": true } });
            let said = json!({ "version": 1, "answer": "collector", "report": report });
            let _ = writeln!(stream, "{said}");
        }
    });
}

fn reading(record: &Home) -> serde_json::Value {
    record.run(&["settle"]).good();
    record.run(&["readings", "--json"]).objects().remove(0)
}

#[test]
fn the_record_tells_the_time_and_says_so() {
    let record = Home::new();
    record.run(&["people", "add", "asha"]).good();
    let (_door, at) = receiving(&record, "127.0.0.1:0");
    let (away, truth) = listener(&record, &at);
    away.run(&["record", "hand-on", "--once"]).good();
    let one = reading(&record);
    assert_eq!(one["time_source"], "receipt", "{one}");
    let dated: Timestamp = one["measured_at"].as_str().unwrap().parse().unwrap();
    assert!(
        dated.duration_since(truth).abs() <= SignedDuration::from_secs(2),
        "{dated} {truth}"
    );
    let listed = record.run(&["listeners", "list", "--json"]).objects().remove(0);
    let within = listed["clock_told_within_ms"].as_i64().unwrap();
    assert!((1..=2_000).contains(&within), "{listed}");
    assert_eq!(listed["clock_known"], false, "{listed}");
    let text = record.run(&["listeners", "list"]).good();
    assert!(
        text.contains(&format!("its time is this machine's, to within {within} ms")),
        "{text}"
    );
    let traced = record
        .run(&["trace", one["id"].as_str().unwrap(), "--json"])
        .objects()
        .remove(0);
    assert!(
        traced["frame"]["received_at"]
            .as_str()
            .unwrap()
            .starts_with("1970-01-01"),
        "{traced}"
    );
    let told = &traced["frame"]["time_told"];
    assert!(told["within_ms"].as_i64().unwrap() >= within, "{traced}");
    let said = record.run(&["trace", one["id"].as_str().unwrap()]).good();
    assert!(said.contains("had no time of its own"), "{said}");
    // Its own journal is whole, and the chain holds what was told like everything else.
    for home in [&away, &record] {
        let rows = home.run(&["check", "--thorough", "--json"]).objects();
        let row = rows.iter().find(|row| row["check"] == "journal").unwrap();
        assert_eq!(row["state"], "ok", "{row}");
    }
    let before = reading(&record);
    record.run(&["rebuild"]).good();
    assert_eq!(reading(&record), before);
}

/// A record whose own clock is not right tells a time that nobody keeps.
#[test]
fn a_record_that_does_not_know_the_time_gives_none() {
    let record = Home::new();
    record.run(&["people", "add", "asha"]).good();
    collector(&record, false);
    let (_door, at) = receiving(&record, "127.0.0.1:0");
    let (away, _) = listener(&record, &at);
    away.run(&["record", "hand-on", "--once"]).good();
    let one = reading(&record);
    assert_eq!(
        (&one["measured_at"], &one["time_source"]),
        (&json!(null), &json!("unknown")),
        "{one}"
    );
    let listed = record.run(&["listeners", "list"]).good();
    assert!(listed.contains("its clock is not known to be right"), "{listed}");
}

const fn knows_no_time(said: &ToRecord) -> bool {
    matches!(
        said,
        ToRecord::Take(Take {
            clock_within_us: None,
            ..
        })
    )
}

/// Neither is a record of an earlier version asked, nor is one believed that answers too late to say anything.
#[test]
fn who_does_not_tell_the_time_is_not_asked_and_a_slow_answer_is_none() {
    let (record, away) = (Home::new(), Home::new());
    let (mut door, at) = receiving(&record, "127.0.0.1:0");
    heard(&away, &frames(0, 1));
    join(&away, &code(&record, &at, "attic")).good();
    door.kill();
    let config = line::of_record(&OwnKey::of(&state(&record)).unwrap()).unwrap();
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    let at = listener.local_addr().unwrap().to_string();
    let db = rusqlite::Connection::open(state(&away).join("journal.sqlite")).unwrap();
    db.execute("UPDATE record SET at = ?1", [&at]).unwrap();
    let told = || -> i64 {
        let count = "SELECT count(*) FROM gateway_clock WHERE within_us IS NOT NULL";
        db.query_row(count, [], |row| row.get(0)).unwrap()
    };
    let _errand: Role = handing_on(&away);
    let hear = |line: &mut Line| line.hear::<ToRecord>(SOON, OCTETS_MAX).unwrap().unwrap();
    let begin = |holds: serde_json::Value| {
        let (tcp, _) = listener.accept().unwrap();
        let mut line = Line::answer(tcp, config.clone()).unwrap();
        assert!(matches!(hear(&mut line), ToRecord::Begin { .. }));
        line.say(&json!({ "holds": holds })).unwrap();
        line
    };
    let mut line = begin(json!({ "through": null, "digest": null, "clocks": 0 }));
    assert!(knows_no_time(&hear(&mut line)));
    drop(line);
    let mut line = begin(json!({ "through": null, "digest": null, "clocks": 0, "tells_time": true }));
    assert!(matches!(hear(&mut line), ToRecord::Time));
    std::thread::sleep(Duration::from_secs(5));
    let wall_us = Timestamp::now().as_microsecond();
    line.say(&FromRecord::Time {
        wall_us,
        right: Some(true),
    })
    .unwrap();
    assert!(knows_no_time(&hear(&mut line)));
    assert_eq!(told(), 0);
    drop(line);
    let mut line = begin(json!({ "through": null, "digest": null, "clocks": 0, "tells_time": true }));
    assert!(matches!(hear(&mut line), ToRecord::Time));
    // In 1970 itself.
    line.say(&FromRecord::Time {
        wall_us: 5,
        right: None,
    })
    .unwrap();
    assert!(knows_no_time(&hear(&mut line)));
    drop(line);
    let mut line = begin(json!({ "through": null, "digest": null, "clocks": 0, "tells_time": true }));
    assert!(matches!(hear(&mut line), ToRecord::Time));
    let wall_us = Timestamp::now().as_microsecond();
    line.say(&FromRecord::Time { wall_us, right: None }).unwrap();
    let ToRecord::Take(take) = hear(&mut line) else {
        panic!("nothing is handed on")
    };
    assert!(
        take.clock_within_us
            .is_some_and(|us| (1..2_000_000).contains(&us))
    );
    assert_eq!((told(), take.clocks().unwrap().len()), (1, 1));
}

/// While both roles stay, what comes later is dated as well.
#[test]
fn what_comes_later_is_dated_as_well() {
    let record = Home::new();
    record.run(&["people", "add", "asha"]).good();
    let (_door, at) = receiving(&record, "127.0.0.1:0");
    let (away, _) = listener(&record, &at);
    let _errand: Role = handing_on(&away);
    wait_for(&record, 1);
    let (later, _, truth) = in_1970();
    let later = Frame {
        connection: later.connection + 1,
        received_at: later.received_at + SignedDuration::from_mins(30),
        ..later
    };
    heard(&away, &[later]);
    wait_for(&record, 2);
    record.run(&["settle"]).good();
    let readings = record.run(&["readings", "--json"]).objects();
    let last: Timestamp = readings.last().unwrap()["measured_at"]
        .as_str()
        .unwrap()
        .parse()
        .unwrap();
    assert!(
        last.duration_since(truth).abs() <= SignedDuration::from_secs(2),
        "{readings:?}"
    );
}
