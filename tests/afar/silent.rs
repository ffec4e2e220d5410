//! A listener that fell silent, one whose frames wait and one whose clock is not known to be right, as the household is
//! told: by `status`, `check` and `remind list` alike.

use super::houses::{code, frames, heard, join, receiving, state};
use crate::harness::command::Home;
use serde_json::Value;
use std::io::{BufRead, BufReader, Write};
use std::os::unix::net::UnixListener;

/// A collector that says no more than that it is there.
pub(super) fn collector(home: &Home) {
    let listener = UnixListener::bind(state(home).join("daemon.sock")).unwrap();
    std::thread::spawn(move || {
        for stream in listener.incoming() {
            let mut stream = stream.unwrap();
            let mut asked = String::new();
            BufReader::new(&stream).read_line(&mut asked).unwrap();
            let _ = stream.write_all(
                b"{\"version\":1,\"answer\":\"collector\",\"report\":{\"running\":true,\"radio\":{\"bluez\":true}}}\n",
            );
        }
    });
}

/// What `check` finds of listeners.
pub(super) fn found(home: &Home) -> Vec<String> {
    let rows = home.run(&["check", "--json"]).objects();
    let rows = rows.iter().filter(|row| row["check"] == "listeners");
    rows.map(|row| {
        format!(
            "{} {}",
            row["state"].as_str().unwrap(),
            row["found"].as_str().unwrap()
        )
    })
    .collect()
}

pub(super) fn due(home: &Home) -> Vec<String> {
    let rows = home.run(&["remind", "list", "--json"]).objects();
    let rows = rows.iter().filter(|row| row["kind"] == "listener-silent");
    rows.map(|row| row["subject"].as_str().unwrap().to_owned())
        .collect()
}

#[test]
fn a_silent_listener_is_told_alike() {
    let (record, away) = (Home::new(), Home::new());
    record.run(&["people", "add", "asha"]).good();
    collector(&record);
    let (mut door, at) = receiving(&record, "127.0.0.1:0");
    heard(&away, &frames(0, 4));
    join(&away, &code(&record, &at, "bedroom")).good();
    away.run(&["record", "hand-on", "--once"]).good();
    let status = || record.run(&["status"]).good();
    let change = |sql: &str| {
        let db = rusqlite::Connection::open(state(&record).join("journal.sqlite")).unwrap();
        assert_eq!(db.execute(sql, []).unwrap(), 1);
    };
    // No clock of a container or of an invented home is known to be right.
    change("UPDATE listener SET clock_known = 1");
    assert_eq!(
        found(&record),
        ["ok each was heard within 60 minutes, and nothing waits there"]
    );
    assert!(
        status().contains("listener “bedroom”, last heard"),
        "{}",
        status()
    );
    assert!(
        !status().contains("waited") && !status().contains("clock"),
        "{}",
        status()
    );
    let json = record.run(&["status", "--json"]).objects();
    assert_eq!(json[0]["listeners"][0]["id"], "l1");
    // What waits and an unsure clock are said.
    change("UPDATE listener SET waiting = 7");
    assert!(found(&record)[0].starts_with("advised listener l1 bedroom was heard, 7 frames waited"));
    assert!(status().contains("7 frames waited there"), "{}", status());
    change("UPDATE listener SET clock_known = 0, clock_within_us = NULL");
    assert!(found(&record)[0].contains("clock of listener l1 bedroom is not known"));
    assert!(
        status().contains("its clock is not known to be right"),
        "{}",
        status()
    );
    assert!(due(&record).is_empty());
    // An hour and a minute of silence.
    change("UPDATE listener SET last_us = last_us - 3660000000");
    assert!(found(&record)[0].starts_with("advised listener l1 bedroom was last heard"));
    assert_eq!(due(&record).len(), 1);
    assert!(due(&record)[0].starts_with("The listener bedroom has not been heard since"));
    let troubles = record.run(&["next", "--json"]).objects();
    let named: Vec<&Value> = troubles[0]["troubles"].as_array().unwrap().iter().collect();
    assert!(
        named.iter().any(|one| one["trouble"] == "listener-silent"),
        "{named:?}"
    );
    // As the configuration has it.
    record.file("config.toml", "[alerts]\nlistener-silent-minutes = 90\n");
    let asked = |args: &[&str]| {
        let config = record.path("config.toml");
        let mut all = args.to_vec();
        all.extend(["--config", config.to_str().unwrap()]);
        record.run(&all)
    };
    let kinds = asked(&["remind", "list", "--json"]).objects();
    assert!(
        !kinds.iter().any(|row| row["kind"] == "listener-silent"),
        "{kinds:?}"
    );
    // The door itself: no plug is to blame.
    door.kill();
    assert!(found(&record)[0].contains("the program that takes in what listeners hand on does not run"));
    assert_eq!(found(&record).len(), 1, "{:?}", found(&record));
    assert!(due(&record)[0].starts_with("Nothing from other rooms has arrived since"));
    assert!(
        status().contains("takes in what it sends does not run"),
        "{}",
        status()
    );
    record.run(&["listeners", "withdraw", "l1"]).good();
    assert!(due(&record).is_empty() && found(&record).is_empty());
}
