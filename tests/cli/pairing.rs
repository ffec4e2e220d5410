//! `monitors add` with a stand-in for the collector at the local socket, and without one. How a real monitor is paired
//! is tried in the bench, with a real BlueZ.

use crate::harness::command::Home;
use quietcuff::household::{Monitor, MonitorId, Statement};
use quietcuff::journal::Journal;
use quietcuff::socket::report::CollectorReport;
use quietcuff::socket::speech::{self, Answer, Pairing, Request};
use serde_json::Value;
use std::io::{BufRead, BufReader, Write};
use std::os::unix::net::UnixListener;
use std::process::Stdio;
use std::sync::{Arc, Mutex};

const ADDRESS: &str = "C0:FF:EE:00:00:01";

/// A collector that answers each request as `answer` says, and keeps what it was asked.
fn collector(
    home: &Home,
    answer: impl Fn(&Request) -> (u32, Pairing) + Send + 'static,
) -> Arc<Mutex<Vec<Request>>> {
    let asked: Arc<Mutex<Vec<Request>>> = Arc::default();
    std::fs::create_dir_all(home.path("state")).unwrap();
    let listener = UnixListener::bind(home.path("state/daemon.sock")).unwrap();
    let keep = asked.clone();
    std::thread::spawn(move || {
        for stream in listener.incoming() {
            let mut stream = stream.unwrap();
            let mut line = Vec::new();
            BufReader::new(&stream).read_until(b'\n', &mut line).unwrap();
            let request = speech::request(&line).unwrap();
            let said = match &request {
                Request::Status => Answer::Collector {
                    report: Box::new(CollectorReport::default()),
                },
                request => {
                    let (number, step) = answer(request);
                    Answer::Pairing { number, step }
                }
            };
            keep.lock().unwrap().push(request);
            stream.write_all(&speech::line(&said).unwrap()).unwrap();
        }
    });
    asked
}

fn m1() -> MonitorId {
    "m1".parse().unwrap()
}

#[test]
fn the_collector_pairs_and_the_person_types_what_the_monitor_shows() {
    let home = Home::new();
    let details = Monitor {
        address: Some(ADDRESS.parse().unwrap()),
        model: Some("Invented 1".to_owned()),
        ..Monitor::default()
    };
    let stated = Statement::Monitor {
        monitor: m1(),
        details,
    };
    let mut journal = Journal::open(&home.path("state")).unwrap();
    journal.state(jiff::Timestamp::UNIX_EPOCH, &[stated]).unwrap();
    let typed = Mutex::new(false);
    let asked = collector(&home, move |request| {
        let mut typed = typed.lock().unwrap();
        *typed |= matches!(request, Request::Passkey { .. });
        let step = match request {
            Request::Pair { .. } => Pairing::Waiting,
            _ if *typed => Pairing::Done {
                monitor: m1(),
                told: None,
            },
            _ => Pairing::Asks,
        };
        (4, step)
    });
    let mut add = home.command(&[
        "monitors", "add", ADDRESS, "--json", "--user", "1=asha", "--state", "state",
    ]);
    let mut child = add.stdin(Stdio::piped()).spawn().unwrap();
    child.stdin.take().unwrap().write_all(b"012345\n").unwrap();
    let output = child.wait_with_output().unwrap();
    let said = String::from_utf8(output.stderr).unwrap();
    assert_eq!(output.status.code(), Some(0), "{said}");
    assert!(said.contains("Passkey shown on the monitor"), "{said}");
    let printed: Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(
        (&printed["id"], &printed["model"]),
        (&"m1".into(), &"Invented 1".into())
    );
    let asked = asked.lock().unwrap();
    let Some(Request::Pair { enrolment }) = asked.get(1) else {
        panic!("{asked:?}")
    };
    assert_eq!(enrolment.users, [(1, "asha".parse().unwrap())]);
    assert!(
        asked.contains(&Request::Passkey {
            digits: "012345".to_owned()
        }),
        "{asked:?}"
    );
}

#[test]
fn what_keeps_the_collector_from_pairing_is_what_the_command_says() {
    let failed = |why: &str, code| Pairing::Failed {
        why: why.to_owned(),
        code,
    };
    for (number, step, code, words) in [
        (
            1,
            failed("not paired: the passkey was wrong", 77),
            77,
            "the passkey was wrong",
        ),
        (2, Pairing::Waiting, 69, "another pairing took the place"),
        (1, Pairing::None, 69, "gave the pairing up"),
    ] {
        let home = Home::new();
        collector(&home, move |request| match request {
            Request::Pair { .. } => (1, Pairing::Waiting),
            _ => (number, step.clone()),
        });
        let ran = home.run(&["monitors", "add", ADDRESS, "--state", "state"]);
        assert_eq!(ran.code, code, "{}", ran.err);
        assert!(ran.err.contains(words), "{}", ran.err);
    }
}

/// A program asks nobody: it is told how, and what that means.
#[test]
fn one_that_refuses_to_pair_is_not_added_without_unasked() {
    let home = Home::new();
    let asked = collector(&home, move |request| match request {
        Request::Pair { enrolment } => {
            let (why, enrolment) = ("not paired: it refused".to_owned(), enrolment.clone());
            (1, Pairing::WithoutPairing { why, enrolment })
        }
        _ => (1, Pairing::None),
    });
    let ran = home.run(&["monitors", "add", ADDRESS, "--state", "state"]);
    assert_eq!(ran.code, 77, "{}", ran.err);
    for words in ["not paired: it refused", "--no-pairing", "pretend to be it"] {
        assert!(ran.err.contains(words), "{words}: {}", ran.err);
    }
    let pairs = asked
        .lock()
        .unwrap()
        .iter()
        .filter(|asked| matches!(asked, Request::Pair { .. }))
        .count();
    assert_eq!(pairs, 1);
}

#[test]
fn an_older_daemon_is_to_be_started_anew() {
    let home = Home::new();
    std::fs::create_dir_all(home.path("state")).unwrap();
    let listener = UnixListener::bind(home.path("state/daemon.sock")).unwrap();
    std::thread::spawn(move || {
        for stream in listener.incoming() {
            let mut stream = stream.unwrap();
            let mut line = String::new();
            BufReader::new(&stream).read_line(&mut line).unwrap();
            writeln!(stream, r#"{{"running":true,"version":"0.1.0","radio":{{}}}}"#).unwrap();
        }
    });
    for (command, code) in [("status", 74), ("monitors add C0:FF:EE:00:00:01", 69)] {
        let words: Vec<&str> = command.split(' ').chain(["--state", "state"]).collect();
        let ran = home.run(&words);
        assert_eq!(ran.code, code, "{}", ran.err);
        assert!(ran.err.contains("start the role anew"), "{}", ran.err);
    }
}

#[test]
fn without_a_collector_the_command_pairs_itself() {
    let home = Home::new();
    let ran = home.run(&["monitors", "add", ADDRESS, "--state", "state"]);
    assert_eq!(ran.code, 69, "{}", ran.err);
    // As far as the bus, which is not there.
    assert!(ran.err.contains("quietcuff check"), "{}", ran.err);
}
