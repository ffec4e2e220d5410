//! What a record has a listener do: find a monitor, pair with it, forget it, and nothing else, whatever either end is
//! brought to say.

use super::houses::{code, frames, handing_on, heard, join, receiving, state, wait_for};
use crate::harness::command::Home;
use quietcuff::afar::key::OwnKey;
use quietcuff::afar::line::{self, Line};
use quietcuff::afar::speech::{FromRecord, OCTETS_MAX, ToRecord};
use quietcuff::household::{Monitor, Site};
use quietcuff::socket::speech::{self, Answer as Said, HeardMonitor, Pairing, Request};
use quietcuff::socket::{self, AskError};
use serde_json::{Value, json};
use std::io::{BufRead, BufReader, Write};
use std::net::TcpListener;
use std::os::unix::net::UnixListener;
use std::sync::{Arc, Mutex};
use std::time::Duration;

pub(super) const ADDRESS: &str = "C0:FF:EE:00:00:01";
const SOON: Duration = Duration::from_secs(20);
const VERSION: &str = env!("CARGO_PKG_VERSION");

/// The collector of a listener, beside which stands a monitor that shows a passkey; it keeps what it was asked, in the
/// very words.
pub(super) fn collector(home: &Home) -> Arc<Mutex<Vec<String>>> {
    let asked: Arc<Mutex<Vec<String>>> = Arc::default();
    let listener = UnixListener::bind(state(home).join("daemon.sock")).unwrap();
    let keep = asked.clone();
    std::thread::spawn(move || {
        let mut step = Pairing::None;
        for stream in listener.incoming() {
            let mut stream = stream.unwrap();
            let mut line = Vec::new();
            BufReader::new(&stream).read_until(b'\n', &mut line).unwrap();
            let request = speech::request(&line).unwrap();
            step = match &request {
                Request::Find => Pairing::Looking,
                Request::Pairing if step == Pairing::Looking => Pairing::Heard {
                    monitors: vec![HeardMonitor {
                        address: ADDRESS.parse().unwrap(),
                        name: Some("Invented cuff".to_owned()),
                    }],
                },
                Request::Pair { .. } => Pairing::Asks,
                Request::Passkey { .. } => Pairing::Done {
                    monitor: "m7".parse().unwrap(),
                    told: Some(Box::new(Monitor {
                        model: Some("Invented BP-1".to_owned()),
                        site: Some(Site::Wrist),
                        ..Monitor::default()
                    })),
                },
                _ => step,
            };
            let said = match &request {
                Request::ForgetAt { .. } => Said::Done,
                _ => Said::Pairing {
                    number: 3,
                    step: step.clone(),
                },
            };
            keep.lock().unwrap().push(String::from_utf8(line).unwrap());
            let _ = stream.write_all(&speech::line(&said).unwrap());
        }
    });
    asked
}

/// A record with its door open, and a listener that joined it.
pub(super) fn rooms() -> (Home, Home, super::houses::Role, String) {
    let (record, away) = (Home::new(), Home::new());
    record.run(&["people", "add", "asha"]).good();
    let (door, at) = receiving(&record, "127.0.0.1:0");
    heard(&away, &frames(0, 1));
    join(&away, &code(&record, &at, "bedroom")).good();
    (record, away, door, at)
}

/// Waits until the listener is connected.
pub(super) fn connected(record: &Home) {
    for _ in 0..600 {
        let door = socket::door(&state(record)).unwrap().unwrap();
        if !door.connected.is_empty() {
            return;
        }
        std::thread::sleep(Duration::from_millis(50));
    }
    panic!("the listener never comes");
}

#[test]
fn a_monitor_is_found_paired_and_forgotten_at_a_listener() {
    let (record, away, _door, _) = rooms();
    record
        .run(&["monitors", "find", "--at", "bedroom"])
        .failed(69, &["l1 is not connected"]);
    record
        .run(&["monitors", "find", "--at", "attic"])
        .failed(64, &["listeners list"]);
    let errand = handing_on(&away);
    connected(&record);
    record
        .run(&["monitors", "find", "--at", "l1"])
        .failed(69, &["does not run on the listener", "enable --now quietcuff"]);
    let asked = collector(&away);
    let found = record
        .run(&["monitors", "find", "--at", "bedroom", "--json"])
        .objects();
    assert_eq!(
        found,
        [json!({ "address": ADDRESS, "name": "Invented cuff", "listener": "l1" })]
    );
    let text = record.run(&["monitors", "find", "--at", "l1"]).good();
    assert_eq!(text.trim(), format!("{ADDRESS}  Invented cuff"));
    let add = ["monitors", "add", ADDRESS, "--at", "l1", "--user", "1=asha"];
    let added = record.fed(&add, b"012345\n");
    assert!(added.err.contains("Passkey shown on the monitor"), "{added:?}");
    assert!(
        added
            .good()
            .contains("Listener l1 has paired with C0:FF:EE:00:00:01")
    );
    // Frames go on while it is asked, and whose they are was stated here.
    heard(&away, &frames(1, 2));
    wait_for(&record, 3);
    let readings = record.run(&["readings", "--json"]).objects();
    assert!(
        readings.len() == 3 && readings.iter().all(|reading| reading["person"] == "asha"),
        "{readings:?}"
    );
    let forgotten = record.run(&["monitors", "forget", ADDRESS, "--at", "l1"]).good();
    assert!(forgotten.contains("no longer listens"), "{forgotten}");
    let all = asked.lock().unwrap().join("");
    for part in ["\"find\"", "\"pair\"", "012345", "\"forget-at\""] {
        assert!(all.contains(part), "{part}: {all}");
    }
    // A listener learns nothing of people.
    assert!(!all.contains("asha"), "{all}");
    drop(errand);
}

/// The record's door refuses whatever is not for a listener, and tells why one cannot be asked.
#[test]
fn the_door_has_a_listener_do_little() {
    let (record, away, door, at) = rooms();
    let ask = |request: Request| {
        let at = Request::At {
            listener: "l1".to_owned(),
            request: Box::new(request),
        };
        match socket::ask(&socket::door_path(&state(&record)), &at) {
            Err(AskError::Refused(error)) => error,
            other => panic!("{other:?}"),
        }
    };
    let key = away.run(&["record", "show", "--json"]).objects();
    assert_eq!(key[0]["at"], at);
    // A listener of an earlier version, which does not say that it does anything.
    let record_key = OwnKey::of(&state(&record)).unwrap().digest;
    let own = OwnKey::of(&state(&away)).unwrap();
    let mut line = Line::call(&at, record_key, &own).unwrap();
    let said = |line: &mut Line, asked: Value| -> FromRecord {
        line.say(&asked).unwrap();
        line.hear(SOON, OCTETS_MAX).unwrap().unwrap()
    };
    let begun = said(&mut line, json!({ "begin": { "version": VERSION } }));
    assert!(matches!(begun, FromRecord::Holds { .. }), "{begun:?}");
    record
        .run(&["monitors", "find", "--at", "l1"])
        .failed(69, &["l1 runs an earlier version", "quietcuff monitors"]);
    drop(line);
    // One that answers what was not asked, and brings signs to a terminal.
    let mut line = Line::call(&at, record_key, &own).unwrap();
    said(
        &mut line,
        json!({ "begin": { "version": VERSION, "does": true } }),
    );
    let answers = [
        json!({ "answer": "refused", "error": "\u{1b}[2J gone" }),
        json!({ "answer": "collector", "report": { "running": true } }),
        json!({ "moon": 1 }),
    ];
    let tells = std::thread::spawn(move || {
        for answer in answers {
            let Some(FromRecord::Do { number, request }) = line.hear(SOON, OCTETS_MAX).unwrap() else {
                panic!("nothing is asked");
            };
            assert_eq!(request, json!({ "ask": "find" }));
            // What was never asked is passed over.
            for (number, answer) in [(number + 9, json!({ "answer": "done" })), (number, answer)] {
                let did = ToRecord::Did { number, answer };
                line.say(&did).unwrap();
                assert_eq!(line.hear(SOON, OCTETS_MAX).unwrap(), Some(FromRecord::Noted));
            }
        }
        line
    });
    connected(&record);
    let find = || record.run(&["monitors", "find", "--at", "l1"]);
    let ran = find().failed(69, &["[2J gone"]);
    assert!(!ran.err.contains('\u{1b}'), "{ran:?}");
    for _ in 0..2 {
        find().failed(69, &["answers what was not asked"]);
    }
    let mut line = tells.join().unwrap();
    for request in [
        Request::Status,
        Request::Reload,
        Request::SetClock {
            monitor: "m1".parse().unwrap(),
        },
        Request::Forget {
            monitor: "m1".parse().unwrap(),
        },
        Request::At {
            listener: "l1".to_owned(),
            request: Box::new(Request::Find),
        },
    ] {
        assert!(ask(request).contains("and nothing else"));
    }
    // Withdrawn, it is asked nothing more.
    record.run(&["listeners", "withdraw", "l1"]).good();
    assert!(ask(Request::Find).contains("was withdrawn"));
    assert!(!line.has_more().unwrap());
    find().failed(64, &["no listener"]);
    drop(door);
}

/// A record that was taken over, with the key that the listener knows it by.
#[test]
fn a_record_has_a_listener_do_nothing_else() {
    let (record, away, door, _) = rooms();
    drop(door);
    let asked = collector(&away);
    let config = line::of_record(&OwnKey::of(&state(&record)).unwrap()).unwrap();
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    let at = listener.local_addr().unwrap().to_string();
    let db = rusqlite::Connection::open(state(&away).join("journal.sqlite")).unwrap();
    db.execute("UPDATE record SET at = ?1", [&at]).unwrap();
    let _errand = handing_on(&away);
    let (tcp, _) = listener.accept().unwrap();
    let mut line = Line::answer(tcp, config).unwrap();
    let hear = |line: &mut Line| line.hear::<ToRecord>(SOON, OCTETS_MAX).unwrap().unwrap();
    assert!(matches!(hear(&mut line), ToRecord::Begin { does: true, .. }));
    let holds = FromRecord::Holds {
        through: None,
        digest: None,
        clocks: 0,
        tells_time: false,
    };
    line.say(&holds).unwrap();
    assert!(matches!(hear(&mut line), ToRecord::Take(_)));
    let person = json!({
        "ask": "pair", "enrolment": { "address": ADDRESS, "person": "asha", "seconds": 5 },
    });
    let requests = [
        json!({ "ask": "status" }),
        json!({ "ask": "reload" }),
        json!({ "ask": "set-clock", "monitor": "m1" }),
        json!({ "ask": "forget", "monitor": "m1" }),
        json!({ "ask": "at", "listener": "l1", "request": { "ask": "find" } }),
        person,
        json!({ "ask": "dance" }),
        json!("find"),
        json!(null),
        json!({ "ask": "find" }),
    ];
    let mut answers = Vec::new();
    for (number, request) in (1..).zip(&requests) {
        let request = request.clone();
        line.say(&FromRecord::Do { number, request }).unwrap();
        if number == 1 {
            // It came before the answer that the listener waits for.
            line.say(&FromRecord::Kept).unwrap();
        }
        let ToRecord::Did { number: told, answer } = hear(&mut line) else {
            panic!("{number}");
        };
        assert_eq!(told, number);
        answers.push(answer);
        line.say(&FromRecord::Noted).unwrap();
    }
    let done = answers.pop().unwrap();
    assert_eq!(done["step"]["pairing"], "looking", "{done}");
    for (request, answer) in requests.iter().zip(&answers) {
        assert_eq!(answer["answer"], "refused", "{request}: {answer}");
    }
    let asked = asked.lock().unwrap();
    assert!(asked.len() == 1 && asked[0].contains("find"), "{asked:?}");
    // More at once than a person asks for ends the line.
    for number in 100..200 {
        let request = json!({ "ask": "pairing" });
        if line.say(&FromRecord::Do { number, request }).is_err() {
            break;
        }
    }
    while let Ok(Some(said)) = line.hear::<ToRecord>(SOON, OCTETS_MAX) {
        assert!(matches!(said, ToRecord::Did { .. }), "{said:?}");
        // Never noted: it waits for that, and is told of more.
    }
}
