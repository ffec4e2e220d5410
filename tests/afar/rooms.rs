//! A monitor that is paired at a listener is one of the record's household, and the record's own radio is not for it.

use super::asked::{ADDRESS, collector, connected, rooms};
use super::houses::{Role, alike, code, frames, handing_on, heard, held, join, receiving, state, wait_for};
use crate::harness::command::Home;
use quietcuff::frame::Frame;
use quietcuff::gatt::Characteristic;
use quietcuff::household::{Monitor, Site, Statement};
use quietcuff::journal::Journal;
use quietcuff::roles::stated::enrolled;
use serde_json::{Value, json};

/// What a monitor tells of itself when it is paired, and a reading: of one that is worn at the wrist.
fn told(first: u32) -> Vec<Frame> {
    let measured = frames(first, 1).remove(0);
    let tells = |characteristic, value: &[u8]| Frame {
        characteristic,
        value: value.to_vec(),
        ..measured.clone()
    };
    vec![
        tells(Characteristic::MODEL_NUMBER, b"Invented BP-1"),
        tells(Characteristic::APPEARANCE, &[0x82, 0x03]),
        tells(Characteristic::BATTERY_LEVEL, &[55]),
        measured.clone(),
    ]
}

fn listed(record: &Home) -> Vec<Value> {
    record.run(&["monitors", "list", "--json"]).objects()
}

/// A second listener, in the kitchen.
fn kitchen(record: &Home, at: &str, heard_: &[Frame]) -> Home {
    let home = Home::new();
    heard(&home, heard_);
    join(&home, &code(record, at, "kitchen")).good();
    home
}

/// Which monitors the record's own radio would connect to.
fn own(record: &Home) -> Vec<String> {
    let all = enrolled(&Journal::read(&state(record)).unwrap()).unwrap();
    all.into_iter().map(|one| one.id).collect()
}

fn room(id: &str, label: &str) -> Value {
    json!({ "listener": id, "label": label })
}

#[test]
fn paired_from_the_record_it_is_the_households() {
    let (record, away, _door, _) = rooms();
    let _errand: Role = handing_on(&away);
    connected(&record);
    let _asked = collector(&away);
    let add = [
        "monitors", "add", ADDRESS, "--at", "bedroom", "--id", "cuff", "--user", "1=asha",
    ];
    record.fed(&add, b"012345\n").good();
    let one = &listed(&record)[0];
    for (field, value) in [
        ("id", json!("cuff")),
        ("model", json!("Invented BP-1")),
        ("site", json!("wrist")),
        ("address", json!(ADDRESS)),
        ("here", json!(false)),
        ("rooms", json!([room("l1", "bedroom")])),
    ] {
        assert_eq!(one[field], value, "{field}: {one}");
    }
    assert_eq!(one["whose"][0]["person"], "asha", "{one}");
    let text = record.run(&["monitors", "list"]).good();
    assert!(
        text.contains("Invented BP-1 (wrist)") && text.contains("Paired at: bedroom"),
        "{text}"
    );
    assert_eq!(own(&record), Vec::<String>::new());
    // What came is judged as of the wrist that it is.
    heard(&away, &frames(1, 2));
    wait_for(&record, 3);
    let readings = record.run(&["readings", "--json"]).objects();
    assert!(
        readings
            .iter()
            .all(|one| one["monitor"] == "cuff" && one["person"] == "asha"),
        "{readings:?}"
    );
    assert!(
        readings[0]["reasons"].to_string().contains("wrist-monitor"),
        "{}",
        readings[0]
    );
    record
        .run(&["monitors", "forget", "cuff"])
        .failed(64, &["paired in another room", "forget cuff --at l1"]);
    record
        .run(&["monitors", "forget", "cuff", "--at", "bedroom"])
        .good();
    assert_eq!(listed(&record), Vec::<Value>::new());
    assert_eq!(record.run(&["readings", "--json"]).objects().len(), 3);
}

/// Paired at two listeners by hand: the record knows it with its first frame, and once somebody says whose it is, all that
/// is derived is as if it had been enrolled at a machine that heard everything.
#[test]
fn paired_by_hand_it_is_known_with_its_first_frame() {
    let (record, alone) = (Home::new(), Home::new());
    for home in [&record, &alone] {
        home.run(&["people", "add", "asha"]).good();
    }
    let (_door, at) = receiving(&record, "127.0.0.1:0");
    let bedroom = Home::new();
    heard(&bedroom, &told(0));
    join(&bedroom, &code(&record, &at, "bedroom")).good();
    let kitchen = kitchen(&record, &at, &told(1));
    for away in [&bedroom, &kitchen] {
        away.run(&["record", "hand-on", "--once"]).good();
    }
    let one = listed(&record).remove(0);
    let both = json!([room("l1", "bedroom"), room("l2", "kitchen")]);
    for (field, value) in [
        ("id", json!("c0ffee000001")),
        ("model", json!("Invented BP-1")),
        ("battery_percent", json!(55)),
        ("here", json!(false)),
        ("rooms", both),
        ("last_heard", json!("2026-03-01T06:07:00+00:00")),
        ("whose", json!([])),
    ] {
        assert_eq!(one[field], value, "{field}: {one}");
    }
    assert_eq!(own(&record), Vec::<String>::new());
    record
        .run(&["people", "edit", "asha", "--user", "c0ffee000001=1"])
        .good();
    // The household of one machine states the same of the same monitor.
    heard(&alone, &told(0));
    heard(&alone, &told(1));
    let enrolled = Statement::Monitor {
        monitor: "c0ffee000001".parse().unwrap(),
        details: Monitor {
            address: Some(ADDRESS.parse().unwrap()),
            model: Some("Invented BP-1".to_owned()),
            site: Some(Site::Wrist),
            ..Monitor::default()
        },
    };
    let mut journal = Journal::open(&state(&alone)).unwrap();
    journal.state(jiff::Timestamp::now(), &[enrolled]).unwrap();
    alone
        .run(&["people", "edit", "asha", "--user", "c0ffee000001=1"])
        .good();
    alike(&record, &alone);
    assert_eq!(own(&alone), ["c0ffee000001"]);
    assert_eq!(listed(&record)[0]["whose"][0]["person"], "asha");
}

/// It is forgotten room by room, and a listener that is withdrawn brings none any more. What comes late brings none back.
#[test]
fn only_the_last_rooms_forgetting_ends_it() {
    let (record, away, _door, at) = rooms();
    let kitchen = kitchen(&record, &at, &frames(1, 1));
    kitchen.run(&["record", "hand-on", "--once"]).good();
    let _errand: Role = handing_on(&away);
    connected(&record);
    let _asked = collector(&away);
    wait_for(&record, 2);
    let rooms = |record: &Home| listed(record).first().map(|one| one["rooms"].clone());
    assert_eq!(
        rooms(&record),
        Some(json!([room("l1", "bedroom"), room("l2", "kitchen")]))
    );
    record
        .run(&["monitors", "forget", ADDRESS, "--at", "bedroom"])
        .good();
    assert_eq!(rooms(&record), Some(json!([room("l2", "kitchen")])));
    heard(&away, &frames(2, 2));
    wait_for(&record, 4);
    assert_eq!(rooms(&record), Some(json!([room("l2", "kitchen")])));
    record.run(&["listeners", "withdraw", "l2"]).good();
    assert_eq!(rooms(&record), None);
    assert_eq!(
        (held(&record), record.run(&["readings", "--json"]).objects().len()),
        (4, 4)
    );
    // Let in anew, it brings it again.
    join(&kitchen, &code(&record, &at, "kitchen")).good();
    assert_eq!(rooms(&record), Some(json!([room("l2", "kitchen")])));
    let add = ["monitors", "add", ADDRESS, "--at", "bedroom"];
    record.fed(&add, b"012345\n").good();
    assert_eq!(
        rooms(&record),
        Some(json!([room("l1", "bedroom"), room("l2", "kitchen")]))
    );
}
