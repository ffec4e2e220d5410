//! What a listener heard is at the record as if the record's own radio had heard it.

use super::houses::{
    alike, code, filled, frames, handing_on, heard, held, join, put_back, receiving, small_disk, state,
    wait_for,
};
use super::relay::Relay;
use crate::harness::command::{Home, Noise, fixture};
use jiff::tz::Offset;
use quietcuff::journal::{Journal, JournalError};
use std::fs;
use std::time::Duration;

const ANY: &str = "127.0.0.1:0";

/// A listener that has heard these frames and belongs to the record.
fn listener(record: &Home, at: &str, heard_: &[quietcuff::frame::Frame]) -> Home {
    let home = Home::new();
    heard(&home, heard_);
    join(&home, &code(record, at, "bedroom")).good();
    home
}

/// A week that a monitor sent, captured in the bench, as a household does it: nothing but the two commands.
#[test]
fn a_week_is_at_the_record_as_if_it_had_heard_it() {
    let (record, alone, away) = (Home::new(), Home::new(), Home::new());
    let capture = fixture("captures/bench-week.btsnoop");
    for home in [&alone, &away] {
        home.run(&["replay", &capture, "--time-zone", "UTC"]).good();
    }
    record.run(&["people", "add", "asha"]).good();
    alone.run(&["people", "add", "asha"]).good();
    let (_door, at) = receiving(&record, ANY);
    away.run(&["record", "hand-on", "--once"])
        .failed(78, &["no record", "listeners invite", "record join"]);
    let said = join(&away, &code(&record, &at, "bedroom")).good();
    assert!(said.contains("listener l1"), "{said}");
    let handed = away.run(&["record", "hand-on", "--once"]).good();
    assert_eq!(handed.trim(), format!("{} frames handed on", held(&away)));
    assert_eq!(
        away.run(&["record", "hand-on", "--once"]).good().trim(),
        "0 frames handed on"
    );
    alike(&record, &alone);
    let listed = record.run(&["listeners", "list", "--json"]).objects();
    assert_eq!(listed.len(), 1);
    assert_eq!(listed[0]["id"], "l1");
    assert_eq!(listed[0]["label"], "bedroom");
    assert_eq!(listed[0]["state"], "open");
    assert_eq!(listed[0]["waiting"], 0);
    assert_eq!(listed[0]["frames"], held(&away));
    let shown = away.run(&["record", "show", "--json"]).objects();
    assert_eq!(
        (&shown[0]["waiting"], shown[0]["problem"].is_null()),
        (&0.into(), true)
    );
    // The chain of digests holds what came from elsewhere like everything else, and both ends say that they are well.
    let check = |home: &Home, name: &str| {
        let rows = home.run(&["check", "--thorough", "--json"]).objects();
        let row = rows.iter().find(|row| row["check"] == name);
        row.unwrap_or_else(|| panic!("{name}: {rows:?}")).clone()
    };
    for (home, name) in [(&away, "record"), (&record, "journal")] {
        assert_eq!(check(home, name)["state"], "ok", "{}", check(home, name));
    }
    // Who only replays a capture has no clock that anybody knows to be right; the record tells it the time.
    let found = check(&record, "listeners")["found"].as_str().unwrap().to_owned();
    assert_eq!(found, "each was heard within 60 minutes, and nothing waits there");
    assert!(
        listed[0]["clock_told_within_ms"].as_i64().unwrap() > 0,
        "{}",
        listed[0]
    );
    let metrics = record.run(&["status", "--metrics"]).out;
    assert!(
        metrics.contains("quietcuff_listener_waiting_frames{listener=\"l1\"} 0"),
        "{metrics}"
    );
    let backup = record.path("copy.sqlite");
    record
        .run(&["backup", "--output", backup.to_str().unwrap()])
        .good();
    away.run(&["record", "leave"]).good();
    away.run(&["record", "leave"]).failed(78, &["no record"]);
    assert!(held(&away) > 0, "what was heard stays");
}

/// Cut within a question, within an answer, with the answer lost: what is offered again is there once.
#[test]
fn a_line_that_is_cut_anywhere_loses_and_doubles_nothing() {
    let (record, alone) = (Home::new(), Home::new());
    let (_door, at) = receiving(&record, ANY);
    let mut noise = Noise(7);
    // A handshake takes 700 octets to the record and 900 back; behind it stand 25 frames, and the answers.
    let mut lives: Vec<(usize, usize)> = (0..12).map(|_| (noise.below(9_000), usize::MAX)).collect();
    lives.extend((0..12).map(|_| (usize::MAX, noise.below(1_150))));
    let cuts = lives.len() as u64;
    // The code is taken by the way that is whole.
    let away = listener(&record, &at, &frames(0, 1));
    let relay = Relay::before(at, lives);
    let db = rusqlite::Connection::open(state(&away).join("journal.sqlite")).unwrap();
    db.execute("UPDATE record SET at = ?1", [&relay.at]).unwrap();
    let (mut failed, mut all) = (0, 1);
    while relay.calls.load(std::sync::atomic::Ordering::Relaxed) < cuts {
        heard(&away, &frames(all, 25));
        all += 25;
        let ran = away.run(&["record", "hand-on", "--once"]);
        failed += u32::from(ran.code == 69);
        assert!([0, 69].contains(&ran.code), "{ran:?}");
    }
    assert!(failed >= 16, "{failed} of {cuts} connections were cut in time");
    away.run(&["record", "hand-on", "--once"]).good();
    heard(&alone, &frames(0, all));
    assert_eq!(held(&record), i64::from(all));
    alike(&record, &alone);
}

/// Two that hear one monitor: one reading, and it is said who heard it.
#[test]
fn what_two_hear_is_one_reading() {
    let (record, alone) = (Home::new(), Home::new());
    let (_door, at) = receiving(&record, ANY);
    let all = frames(0, 20);
    let (one, other) = (listener(&record, &at, &all), listener(&record, &at, &all));
    for away in [&one, &other] {
        away.run(&["record", "hand-on", "--once"]).good();
    }
    heard(&alone, &all);
    assert_eq!(held(&record), 40);
    let readings = |home: &Home| {
        let mut ids: Vec<String> = home
            .run(&["readings", "--json"])
            .objects()
            .iter()
            .map(|reading| reading["id"].as_str().unwrap().to_owned())
            .collect();
        ids.sort();
        ids
    };
    assert_eq!(readings(&record), readings(&alone));
    let traced = record.run(&["trace", &readings(&record)[0], "--json"]).objects();
    assert_eq!(traced[0]["frame"]["heard_by"][0]["listener"], "l1");
}

/// Nothing can be noted on a listener's full disk, neither that the record is away nor how far it is; what was heard leaves
/// all the same.
#[test]
fn what_was_heard_leaves_a_full_disk() {
    let (record, away) = (Home::new(), Home::new());
    let card = away.path("card");
    let Some(_card) = small_disk(&away, &card) else {
        return;
    };
    let (mut door, at) = receiving(&record, ANY);
    heard(&away, &frames(0, 10));
    join(&away, &code(&record, &at, "bedroom")).good();
    let _errand = handing_on(&away);
    wait_for(&record, 10);
    door.kill();
    heard(&away, &frames(10, 10));
    let _filler = filled(&state(&away));
    let full = Journal::open(&state(&away)).and_then(|mut journal| journal.append(&frames(20, 10)));
    assert!(matches!(full, Err(JournalError::DiskFull { .. })), "{full:?}");
    // Long enough that the errand finds nobody at the record, and wants to note it.
    std::thread::sleep(Duration::from_secs(3));
    let (_door, _) = receiving(&record, &at);
    wait_for(&record, 20);
}

/// A zone that somebody made by hand may have an offset with seconds, which no line of frames has: a journal of an earlier
/// version may hold such a frame.
#[test]
fn a_frame_of_an_odd_zone_is_handed_on() {
    let record = Home::new();
    let (_door, at) = receiving(&record, ANY);
    let mut odd = frames(0, 2);
    odd[0].offset = Offset::from_seconds(7_215).unwrap();
    let away = listener(&record, &at, &odd);
    for _ in 0..2 {
        away.run(&["record", "hand-on", "--once"]).good();
        assert_eq!(held(&record), 2);
    }
}

/// A record whose disk is full says so to a listener, and takes what waits once there is room.
#[test]
fn a_full_record_says_so_and_takes_it_later() {
    let (record, away) = (Home::new(), Home::new());
    let card = record.path("card");
    let Some(_card) = small_disk(&record, &card) else {
        return;
    };
    let (_door, at) = receiving(&record, ANY);
    heard(&away, &frames(0, 10));
    join(&away, &code(&record, &at, "bedroom")).good();
    let filler = filled(&state(&record));
    away.run(&["record", "hand-on", "--once"])
        .failed(69, &["the record cannot write at the moment", "quietcuff check"]);
    fs::remove_file(filler).unwrap();
    away.run(&["record", "hand-on", "--once"]).good();
    assert_eq!(held(&record), 10);
}

/// A record that is put back from a backup gets what it lost, once somebody there has said that the listener is still
/// wanted; a listener whose card is swapped for an older copy of itself is no trouble either.
#[test]
fn whoever_is_put_back_gets_what_is_missing() {
    let (record, alone) = (Home::new(), Home::new());
    let (mut door, at) = receiving(&record, ANY);
    let away = listener(&record, &at, &frames(0, 50));
    away.run(&["record", "hand-on", "--once"]).good();
    let copy = record.path("copy.sqlite");
    record.run(&["backup", "--output", copy.to_str().unwrap()]).good();
    // The card as it was, with the key.
    let card = Home::new();
    fs::create_dir_all(state(&card)).unwrap();
    for file in fs::read_dir(state(&away)).unwrap() {
        let file = file.unwrap().path();
        fs::copy(&file, state(&card).join(file.file_name().unwrap())).unwrap();
    }
    heard(&away, &frames(50, 50));
    away.run(&["record", "hand-on", "--once"]).good();
    assert_eq!(held(&record), 100);

    door.kill();
    let said = put_back(&record, &copy);
    assert!(
        said.contains("listeners: l1") && said.contains("listeners confirm"),
        "{said}"
    );
    let (_door, _) = receiving(&record, &at);
    away.run(&["record", "hand-on", "--once"])
        .failed(77, &["put back from a backup", "listeners confirm l1"]);
    record.run(&["listeners", "confirm", "l1"]).good();
    away.run(&["record", "hand-on", "--once"]).good();
    assert_eq!(held(&record), 100);

    // The older card heard something else meanwhile, under numbers that the newer one had used.
    heard(&card, &frames(100, 30));
    card.run(&["record", "hand-on", "--once"]).good();
    assert_eq!(held(&record), 130);
    heard(&card, &frames(130, 30));
    card.run(&["record", "hand-on", "--once"]).good();
    heard(&alone, &frames(0, 160));
    assert_eq!(held(&record), 160);
    alike(&record, &alone);
}

/// What is heard is at the record while both roles stay, without anybody asking.
#[test]
fn a_role_that_stays_hands_on_what_comes() {
    let record = Home::new();
    let (_door, at) = receiving(&record, ANY);
    let away = listener(&record, &at, &frames(0, 3));
    let _errand = handing_on(&away);
    wait_for(&record, 3);
    for n in 1..6 {
        heard(&away, &frames(n * 3, 3));
        wait_for(&record, (n as usize + 1) * 3);
    }
}

/// A listener that stands where no clock was known hands on its boot clock, and the record dates by what it learns later.
#[test]
fn the_clock_of_a_listener_comes_along() {
    use quietcuff::frame::Uptime;
    use quietcuff::reading::ClockSample;
    let record = Home::new();
    let (_door, at) = receiving(&record, ANY);
    let uptime = |micros| Uptime {
        boot: "6f1d".to_owned(),
        micros,
    };
    // In 1970 by its own clock, ten minutes after it was switched on.
    let mut frame = frames(0, 1).remove(0);
    let truth = frame.received_at;
    frame.received_at = jiff::Timestamp::from_second(700).unwrap();
    frame.uptime = Some(uptime(600_000_000));
    let away = listener(&record, &at, &[frame]);
    // As the collector does when it starts.
    let mut journal = Journal::open(&state(&away)).unwrap();
    let started = ClockSample {
        uptime: uptime(10_000_000),
        wall: jiff::Timestamp::from_second(110).unwrap(),
        synchronized: false,
        within: None,
    };
    journal.sample_clocks(&[started]).unwrap();
    away.run(&["record", "hand-on", "--once"]).good();
    let received = || -> i64 {
        record.run(&["settle"]).good();
        rusqlite::Connection::open(state(&record).join("journal.sqlite"))
            .unwrap()
            .query_row("SELECT received_us FROM reading", [], |row| row.get(0))
            .unwrap()
    };
    assert_eq!(received(), 700_000_000);
    journal
        .sample_clocks(&[ClockSample {
            uptime: uptime(1_200_000_000),
            wall: truth + jiff::SignedDuration::from_mins(10),
            synchronized: true,
            within: None,
        }])
        .unwrap();
    away.run(&["record", "hand-on", "--once"]).good();
    assert_eq!(received(), truth.as_microsecond());
}
