//! Every fault of `fixtures/situations/whose-and-who-listens.md`, lived by a home of its own: by the command `next`, on
//! the page, on *These days*, and by what `remind` would tell.

use crate::harness::left_out::in_a_hurry;
use crate::harness::page::{Home, get};
use crate::page::listening::{Bus, Ends, without_bus};
use jiff::{SignedDuration, Timestamp};
use quietcuff::household::Statement;
use quietcuff::journal::outbox::{Contact, Offer, ServerSaid};
use quietcuff::journal::{State, Wanted};
use quietcuff::keys::Digest;
use rustix::fs::{FlockOperation, flock};
use std::fs::File;
use std::time::{Duration, Instant};

const TABLE: &str = include_str!("../../fixtures/situations/whose-and-who-listens.md");
const CLINIC: &str = "https://clinic.invalid/fhir";
const ANOTHER: &str = "https://earlier.invalid/fhir";

struct Row {
    name: &'static str,
    faults: Vec<&'static str>,
    says: Vec<&'static str>,
    told: Vec<&'static str>,
}

fn rows() -> Vec<Row> {
    let parts = |cell: &'static str, between: &str| -> Vec<&'static str> {
        let parts = cell.split(between).map(str::trim);
        parts.filter(|part| !["-", "none"].contains(part)).collect()
    };
    let rows = TABLE.lines().filter(|line| line.starts_with("| fault-"));
    rows.map(|line| {
        let cells: Vec<&str> = line.trim_matches('|').split('|').map(str::trim).collect();
        let [name, faults, says, told, because] = cells[..] else {
            panic!("{line}");
        };
        assert!(!because.is_empty(), "{line}");
        Row {
            name,
            faults: parts(faults, ";"),
            says: parts(says, ","),
            told: parts(told, ","),
        }
    })
    .collect()
}

/// "9 min" or "25 h".
fn long(text: &str) -> SignedDuration {
    match text.split_once(' ').unwrap() {
        (minutes, "min") => SignedDuration::from_mins(minutes.parse().unwrap()),
        (hours, "h") => SignedDuration::from_hours(hours.parse().unwrap()),
        _ => panic!("{text}"),
    }
}

/// What lives as long as the row.
#[derive(Default)]
struct Around {
    _bus: Option<Bus>,
    collector: Option<Ends>,
    delivery: Option<File>,
    _door: Option<Ends>,
}

fn ago(by: SignedDuration) -> Timestamp {
    Timestamp::now() - by
}

fn read(home: &Home, what: &str) {
    let words: Vec<&str> = what.split(' ').collect();
    let before = long(&words[..2].join(" "));
    if words.ends_with(&["else"]) {
        // Nobody of those who were chosen.
        let usual = Statement::UsualPerson {
            monitor: "m1".parse().unwrap(),
            person: Some("ravi".parse().unwrap()),
            from: None,
        };
        home.journal().state(Timestamp::now(), &[usual]).unwrap();
    }
    home.reading(before.as_secs(), 128, 82, 0);
    home.reading(before.as_secs() - 60, 126, 81, 0);
    let mut journal = home.journal();
    for judged in journal.readings(&Wanted::default()).unwrap() {
        let reading = judged.reading.id.0;
        match words.last() {
            Some(&"discarded") => {
                let reason = Some("the cuff slipped".to_owned());
                journal
                    .state(Timestamp::now(), &[Statement::Discarded { reading, reason }])
                    .unwrap();
            }
            Some(&"sent") => {
                offer(home, &reading);
            }
            _ => {}
        }
    }
}

fn offer(home: &Home, name: &str) {
    let offer = Offer {
        name,
        kind: "Observation",
        person: Some("asha"),
        subject: None,
        digest: [1; 32],
        replaces: false,
        content: None,
    };
    home.journal().offer(CLINIC, &[offer]).unwrap();
}

fn failed(home: &Home, clinic: &str, failures: u32) {
    let contact = Contact {
        last: Some(ago(SignedDuration::from_hours(48))),
        failures,
        problem: Some("the server is closed (invented)".to_owned()),
        ..Contact::default()
    };
    home.journal().set_contact(clinic, &contact).unwrap();
}

fn refused(home: &Home) {
    offer(home, "invented");
    let said = ServerSaid::Refused {
        status: 422,
        why: "no such patient (invented)".to_owned(),
    };
    home.journal()
        .answered(CLINIC, ago(SignedDuration::from_hours(30)), &[("invented", said)])
        .unwrap();
}

fn forget(home: &Home) {
    let forgotten = Statement::MonitorForgotten {
        monitor: "m1".parse().unwrap(),
    };
    home.journal().state(Timestamp::now(), &[forgotten]).unwrap();
}

/// Makes one fault so; what is watched has been seen for so long.
fn befalls(home: &Home, fault: &str, around: &mut Around) {
    let watched = |what: &str, long: SignedDuration| {
        home.journal().watched_since(what, Some(ago(long))).unwrap();
    };
    if let Some(time) = fault.strip_prefix("seen for ") {
        watched("deaf", long(time));
    } else if let Some(time) = fault.strip_prefix("stuck for ") {
        watched("stuck", long(time));
    } else if let Some(last) = fault.strip_prefix("monitor heard until ") {
        let last = long(last.trim_end_matches(" ago"));
        for nth in (0..20).rev() {
            home.reading(last.as_secs() + nth * 12 * 3600, 128, 82, 0);
        }
    } else if let Some(last) = fault.strip_prefix("listener heard until ") {
        listener(home, ago(long(last.trim_end_matches(" ago"))));
    } else if let Some(last) = fault.strip_prefix("listener refused until ") {
        let mut journal = home.journal();
        let listener = journal.listeners().unwrap().remove(0);
        let last = ago(long(last.trim_end_matches(" ago")));
        journal.listener_refused(&listener, "99.0.0", last).unwrap();
    } else if let Some(what) = fault.strip_prefix("reading of ") {
        read(home, &what.replace(" ago", ""));
    } else if let Some(times) = fault.strip_prefix("server failed ") {
        failed(home, CLINIC, times.trim_end_matches(" times").parse().unwrap());
    } else {
        match fault {
            "nothing enrolled" => forget(home),
            "another server failed 3 times" => failed(home, ANOTHER, 3),
            "server refused one" => refused(home),
            "delivery running" => {
                let file = File::create(home.state().join("deliver.lock")).unwrap();
                flock(&file, FlockOperation::NonBlockingLockExclusive).unwrap();
                around.delivery = Some(file);
            }
            // As the last one left it.
            "delivery not running" => drop(File::create(home.state().join("deliver.lock")).unwrap()),
            "collector killed" => around.collector = None,
            "collector stopped" => around.collector.as_ref().unwrap().hangs(home),
            "listener withdrawn" => {
                let withdrawn = home.journal().withdraw_listener("l1", Timestamp::now()).unwrap();
                assert!(withdrawn);
            }
            "door shut" | "no clinic" | "collector never started" | "no Bluetooth" | "no adapter" => {}
            other => panic!("{other}"),
        }
    }
}

/// Somebody let a listener in, which was last heard then.
fn listener(home: &Home, last: Timestamp) {
    let mut journal = home.journal();
    let (code, key) = (Digest([1; 32]), [2; 32]);
    journal.invite_listener(&code, "bedroom", Timestamp::MAX).unwrap();
    journal.join_listener(&code, &key, last).unwrap();
    let listener = journal.listener_with(&key).unwrap().unwrap();
    let state = State {
        version: "0.1.0".to_owned(),
        waiting: 0,
        clock_known: true,
        ..State::default()
    };
    journal
        .take_from(&listener, &[], &[], &state, last)
        .unwrap()
        .unwrap();
}

/// The record's door, where the row has a listener and does not say that it is shut.
fn door(home: &Home, faults: &[&str]) -> Option<Ends> {
    let listens = faults.iter().any(|fault| fault.starts_with("listener"));
    (listens && !faults.contains(&"door shut")).then(|| super::rooms::door(home).0)
}

/// A collector on a bus of its own, where the row has one.
fn collector(home: &Home, faults: &[&str]) -> Around {
    if faults.contains(&"collector never started") || faults.contains(&"nothing enrolled") {
        return Around::default();
    }
    let bus = Bus::start();
    if !faults.contains(&"no Bluetooth") {
        bus.bluez(!faults.contains(&"no adapter"));
    }
    let collector = bus.collector(home.command(&["run"]));
    let listens = Instant::now();
    while names(home).iter().any(|name| name == "not-running") {
        assert!(
            listens.elapsed() < Duration::from_secs(60),
            "the collector never answers"
        );
        std::thread::sleep(Duration::from_millis(100));
    }
    Around {
        _bus: Some(bus),
        collector: Some(collector),
        delivery: None,
        _door: None,
    }
}

/// What the command names.
fn names(home: &Home) -> Vec<String> {
    let next = home.json(&["next", "--json", "--person", "asha"]).remove(0);
    let troubles = next["troubles"].as_array().cloned().unwrap_or_default();
    let name = |trouble: &serde_json::Value| trouble["trouble"].as_str().unwrap().to_owned();
    troubles.iter().map(name).collect()
}

fn on_the_page(home: &Home, expected: &[&str]) -> Vec<String> {
    let served = home.serve();
    let said = |path: &str| -> Vec<String> {
        let body = get(served.address(), path, "").body;
        let rest = body.split("data-trouble=\"").skip(1);
        rest.map(|rest| rest.split('"').next().unwrap().to_owned())
            .collect()
    };
    // The page asks by a thread of its own.
    let begun = Instant::now();
    while said("/") != expected && begun.elapsed() < Duration::from_secs(30) {
        std::thread::sleep(Duration::from_millis(100));
    }
    assert_eq!(
        said("/"),
        said("/week?person=asha"),
        "Now and These days say the same"
    );
    said("/")
}

fn told(home: &Home) -> Vec<String> {
    let kinds = [
        "daemon-deaf",
        "monitor-silent",
        "listener-silent",
        "delivery-stuck",
    ];
    let lines = home.json(&["remind", "list", "--json"]);
    let due = lines.iter().filter(|line| line["state"] == "due");
    let mut told: Vec<String> = due
        .map(|line| line["kind"].as_str().unwrap().to_owned())
        .filter(|kind| kinds.contains(&kind.as_str()))
        .collect();
    told.sort();
    told
}

#[test]
fn every_fault_is_told_alike_by_next_the_page_and_remind() {
    if in_a_hurry("every fault at each place that tells it") {
        return;
    }
    if without_bus() {
        return;
    }
    let rows = rows();
    assert!(rows.len() >= 34, "{} rows", rows.len());
    let mut wrong = Vec::new();
    for row in &rows {
        // Enrolled long ago: a monitor is silent since it was heard, or enrolled.
        let long_ago = ago(SignedDuration::from_hours(24 * 60));
        let home = Home::begun(long_ago, &[("asha", "Asha"), ("ravi", "Ravi")], Some("asha"));
        if !row.faults.contains(&"no clinic") {
            home.configure(&format!("[clinic]\nserver = {CLINIC:?}\npeople = [\"asha\"]\n"));
        }
        let heard = row.faults.iter().any(|fault| fault.starts_with("monitor heard"));
        let delivers = row.faults.iter().any(|fault| fault.starts_with("delivery"));
        if !heard && !delivers && !row.faults.contains(&"no clinic") {
            // It went on to the clinic.
            read(&home, "1 h sent");
        }
        let mut around = collector(&home, &row.faults);
        around._door = door(&home, &row.faults);
        for fault in &row.faults {
            befalls(&home, fault, &mut around);
        }
        if heard {
            let mut journal = home.journal();
            for judged in journal.readings(&Wanted::default()).unwrap() {
                offer(&home, &judged.reading.id.0);
            }
        }
        let (named, told) = (names(&home), told(&home));
        let page = on_the_page(&home, &row.says);
        if named != row.says || page != row.says || told != row.told {
            wrong.push(format!(
                "{}: next {named:?}, page {page:?}, told {told:?}",
                row.name
            ));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
