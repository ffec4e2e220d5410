//! What the household released goes to the server by others, and nothing else; what is wrong there is withdrawn all the
//! same.

use crate::delivery::clinic::{Clinic, choose, exported_readings, few, held, listing, name_of, once};
use crate::delivery::proxy::{Fate, Proxy};
use crate::harness::command::Home;
use crate::harness::made::{Made, Sent, sent, sfloat};
use serde_json::{Value, json};
use std::collections::BTreeMap;
use std::io::{BufRead, BufReader, Write};
use std::os::unix::net::UnixListener;

const NO_PERMISSION: i32 = 77;

fn id(made: &Made, n: usize) -> String {
    made.readings[n]["id"].as_str().unwrap().to_owned()
}

fn release(made: &Made, more: &[&str]) -> String {
    made.home
        .run(&[&["deliver", "release", "asha"], more].concat())
        .good()
}

fn observations(clinic: &Clinic) -> BTreeMap<String, Value> {
    let mut all = clinic.holds();
    all.retain(|_, one| one["resourceType"] != "Device");
    all
}

#[test]
fn once_withdrawn_nothing_goes_but_what_takes_back_what_is_wrong() {
    let Some(clinic) = Clinic::open() else { return };
    let made = Made::of(&few());
    choose(&made.home, &clinic.url(), "");
    // A household that delivered before goes on, and is told once.
    let unstated = "nobody has stated a release";
    assert!(once(&made.home).err.contains(unstated));
    let before = clinic.holds();
    assert_eq!(held(&clinic), exported_readings(&made));
    assert!(!once(&made.home).err.contains(unstated));
    assert_eq!(listing(&made.home)["unstated"], json!(["asha"]));

    let said = release(&made, &["--withdraw", "--by", "Asha herself"]);
    assert!(said.contains("withdrawn by Asha herself"), "{said}");
    // New, corrected, and the description of a monitor.
    let new = Sent::new("2026-03-09T07:02:11", 900, sfloat(1_270, -1), 81).line();
    let file = made.home.file("new.jsonl", new + "\n");
    made.home.run(&["replay", &file, "--person", "asha"]).good();
    made.home
        .run(&["readings", "time", &id(&made, 0), "2026-03-01T06:30"])
        .good();
    let asked = clinic.requests();
    let ran = once(&made.home);
    assert!(
        ran.err.contains("held back: what was released is withdrawn"),
        "{}",
        ran.err
    );
    ran.good();
    assert_eq!(clinic.requests(), asked, "the server is not even asked");
    let list = listing(&made.home);
    assert_eq!((&list["waiting"], &list["unstated"]), (&json!(0), &json!([])));
    assert_eq!(list["held"][0]["person"], "asha");
    assert_eq!(list["held"][0]["standing"], "withdrawn");
    let count = list["held"][0]["count"].as_u64().unwrap();
    assert!(count >= 4, "panel and pulse of two: {list}");
    assert!(made.home.run(&["deliver", "list"]).good().contains("Held back"));

    // A guest's, and another one that was somebody else's all along: both are false there.
    made.home
        .run(&["readings", "discard", &id(&made, 1), "--reason", "a guest"])
        .good();
    made.home.run(&["people", "add", "ravi"]).good();
    made.home
        .run(&["readings", "assign", &id(&made, 3), "ravi"])
        .good();
    once(&made.home).good();
    let after = clinic.holds();
    for (name, was) in &before {
        let wrong = [1, 3].iter().any(|n| name.starts_with(&id(&made, *n)));
        if wrong {
            assert_eq!(after[name]["status"], "entered-in-error", "{name}");
            assert_eq!(after[name]["subject"], was["subject"], "{name}");
        } else {
            assert_eq!(after[name], *was, "{name}");
        }
    }
    assert_eq!(after.len(), before.len(), "nothing is new there");

    // ServerSaid again, everything is as it is here.
    release(&made, &[]);
    once(&made.home).good();
    let hers = |mut all: BTreeMap<String, Value>| {
        all.retain(|_, one| one["subject"]["reference"] == "Patient/a-1" && one["status"] == "final");
        all
    };
    let now = hers(held(&clinic));
    assert!(now.len() > 8);
    assert_eq!(now, hers(exported_readings(&made)));
    assert_eq!(listing(&made.home)["held"], json!([]));
    let stated = made
        .home
        .run(&["deliver", "release", "--list", "--json"])
        .objects();
    let standing: Vec<(&Value, &Value)> = stated
        .iter()
        .map(|one| (&one["standing"], &one["holds"]))
        .collect();
    assert_eq!(
        standing,
        [
            (&json!("released"), &json!(true)),
            (&json!("withdrawn"), &json!(false))
        ]
    );
    assert_eq!(stated[1]["withdrawn_by"], "Asha herself");
    // Withdrawn twice is a mistake, and so is a last day before the first.
    release(&made, &["--withdraw"]);
    let again = made.home.run(&["deliver", "release", "asha", "--withdraw"]);
    again.failed(64, &["withdrawn already"]);
    let days = [
        "deliver",
        "release",
        "asha",
        "--from",
        "2026-03-02",
        "--until",
        "2026-03-01",
    ];
    made.home.run(&days).failed(64, &["comes before the first"]);
    made.home
        .run(&["deliver", "release", "nobody"])
        .failed(64, &["nobody is called nobody"]);
}

/// A reading just before midnight and one at it belong to different days; an average goes where all of its days do.
#[test]
fn days_are_released_by_when_they_were_measured() {
    let Some(clinic) = Clinic::open() else { return };
    let mut all = sent();
    for (connection, at) in [(901, "2026-03-03T23:59:11"), (902, "2026-03-06T00:00:11")] {
        all.push(Sent::new(at, connection, sfloat(1_270, -1), 81));
    }
    all.sort_by(|a, b| a.at.cmp(&b.at));
    let made = Made::of(&all);
    choose(&made.home, &clinic.url(), "");
    made.home
        .run(&["period", "start", "--person", "asha", "--from", "2026-03-01"])
        .good();
    release(&made, &["--from", "2026-03-04", "--until", "2026-03-05"]);
    let ran = once(&made.home);
    assert!(
        ran.err.contains("not of the days that were released"),
        "{}",
        ran.err
    );
    ran.good();
    // The exporter knows nothing of releases: what it says of these days, by the time that it writes.
    let wanted = |from: &str, until: &str| {
        let mut all = exported_readings(&made);
        all.retain(|_, one| {
            let at = one["effectiveDateTime"].as_str().unwrap_or("2026-03-04");
            one["resourceType"] == "Device" || (from..=until).contains(&&at[..10])
        });
        all
    };
    let days = wanted("2026-03-04", "2026-03-05");
    assert!(days.len() > 10);
    let without_devices = |mut all: BTreeMap<String, Value>| {
        all.retain(|_, one| one["resourceType"] != "Device");
        all
    };
    assert_eq!(without_devices(held(&clinic)), without_devices(days));
    // One day is lacking, and the average says something of it.
    release(&made, &["--from", "2026-03-01", "--until", "2026-03-06"]);
    once(&made.home).good();
    let average = |clinic: &Clinic| {
        let names: Vec<String> = observations(clinic).values().map(name_of).collect();
        names.iter().filter(|name| name.starts_with("average-")).count()
    };
    assert_eq!(average(&clinic), 0);
    release(&made, &["--from", "2026-03-01", "--until", "2026-03-07"]);
    once(&made.home).good();
    assert_eq!(average(&clinic), 1);
    assert_eq!(listing(&made.home)["held"], json!([]));
    // Narrowed, what is there stays, and is not corrected.
    let there = clinic.holds();
    release(&made, &["--until", "2026-03-01"]);
    made.home
        .run(&["readings", "time", &id(&made, 20), "2026-03-05T06:30"])
        .good();
    once(&made.home).good();
    assert_eq!(clinic.holds(), there);
    assert_eq!(listing(&made.home)["held"][0]["standing"], "released");
    // What is discarded is withdrawn there, and so is the average that counted it; a new one does not go.
    let discarded = id(&made, 25);
    let discard = |id: &str| {
        made.home
            .run(&["readings", "discard", id, "--reason", "a guest"])
            .good();
    };
    discard(&discarded);
    once(&made.home).good();
    let after = clinic.holds();
    let name = "average-";
    let mut withdrawn = 0;
    for (name_of, was) in &there {
        let wrong = name_of.starts_with(&discarded) || name_of.starts_with(name);
        if wrong {
            let now = &after[name_of];
            assert_eq!(now["status"], "entered-in-error", "{name_of}");
            assert_eq!(
                (&now["subject"], &now["component"]),
                (&was["subject"], &was["component"])
            );
            withdrawn += 1;
        } else {
            assert_eq!(after[name_of], *was, "{name_of}");
        }
    }
    assert!(withdrawn > 1 && average(&clinic) == 1);
    assert_eq!(after.len(), there.len(), "nothing is new there");
    // Once, however often it is looked.
    let asked = clinic.requests();
    once(&made.home).good();
    assert_eq!(clinic.requests(), asked);
    assert!(listing(&made.home)["held"][0]["count"].as_u64().unwrap() > 0);
    // Released again, the average is what it is here.
    release(&made, &[]);
    once(&made.home).good();
    let now: Vec<Value> = observations(&clinic)
        .into_iter()
        .filter(|(at, _)| at.starts_with(name))
        .map(|(_, one)| one)
        .collect();
    assert_eq!((now.len(), &now[0]["status"]), (1, &json!("final")));
    assert_eq!(listing(&made.home)["held"], json!([]));
    // A reading that is somebody else's makes it as wrong.
    release(&made, &["--withdraw"]);
    made.home.run(&["people", "add", "ravi"]).good();
    made.home
        .run(&["readings", "assign", &id(&made, 24), "ravi"])
        .good();
    once(&made.home).good();
    let all = clinic.holds();
    let average = all.iter().find(|(at, _)| at.starts_with(name)).unwrap();
    assert_eq!(average.1["status"], "entered-in-error");
}

/// The clinic calls somebody otherwise: what stands there under the other reference may be in somebody else's record, so
/// it is withdrawn there; under the new one nothing goes before it is released.
#[test]
fn what_stands_under_another_reference_is_withdrawn_though_nothing_may_go() {
    let Some(clinic) = Clinic::open() else { return };
    let made = Made::of(&few());
    choose(&made.home, &clinic.url(), "");
    once(&made.home).good();
    let there = observations(&clinic);
    release(&made, &["--withdraw"]);
    let config = choose(&made.home, &clinic.url(), "");
    let text = std::fs::read_to_string(&config).unwrap();
    std::fs::write(&config, text.replace("Patient/a-1", "Patient/b-2")).unwrap();
    once(&made.home).good();
    let after = observations(&clinic);
    assert_eq!(after.len(), there.len(), "nothing is new there");
    for (name, was) in &there {
        assert_eq!(after[name]["status"], "entered-in-error", "{name}");
        assert_eq!(
            (&after[name]["subject"], &after[name]["performer"]),
            (&was["subject"], &was["performer"]),
            "{name}"
        );
    }
    let asked = clinic.requests();
    once(&made.home).good();
    assert_eq!(clinic.requests(), asked);
    release(&made, &[]);
    once(&made.home).good();
    let mut hers = observations(&clinic);
    hers.retain(|_, one| one["subject"]["reference"] == "Patient/b-2");
    assert_eq!(hers.len(), there.len());
    assert!(hers.values().all(|one| one["status"] == "final"));
    let mut old = observations(&clinic);
    old.retain(|_, one| one["subject"]["reference"] == "Patient/a-1");
    assert!(!old.is_empty() && old.values().all(|one| one["status"] == "entered-in-error"));
}

#[test]
fn where_a_release_is_required_nothing_goes_without_one() {
    let Some(clinic) = Clinic::open() else { return };
    let made = Made::of(&few());
    choose(&made.home, &clinic.url(), "consent = \"required\"");
    once(&made.home).failed(
        NO_PERMISSION,
        &["nobody has stated one", "quietcuff deliver release asha"],
    );
    assert_eq!((clinic.requests(), clinic.holds().len()), (0, 0));
    let list = listing(&made.home);
    assert_eq!(list["held"][0]["standing"], "missing");
    assert_eq!(list["waiting"], 0);
    let dry = made.home.run(&["deliver", "--dry-run"]);
    assert!(!dry.out.contains("Observation"), "{}", dry.out);
    // To another clinic is no word about this one.
    choose(&made.home, "https://clinic.invalid/r4", "consent = \"required\"");
    release(&made, &[]);
    choose(&made.home, &clinic.url(), "consent = \"required\"");
    once(&made.home).failed(NO_PERMISSION, &["nobody has stated one"]);
    release(&made, &["--by", "Asha herself"]);
    once(&made.home).good();
    assert_eq!(held(&clinic), exported_readings(&made));
}

#[test]
fn a_delivery_that_runs_stops_where_the_release_is_withdrawn() {
    let Some(clinic) = Clinic::open() else { return };
    let made = Made::of(&sent());
    let proxy = Proxy::before(clinic.port, vec![Fate::Held]);
    choose(&made.home, &proxy.url(), "");
    let mut running = made.home.command(&["deliver", "--once"]).spawn().unwrap();
    let line = proxy.hanging();
    release(&made, &["--withdraw"]);
    proxy.calm();
    assert!(running.wait().unwrap().success());
    drop(line);
    let there = observations(&clinic).len();
    let list = listing(&made.home);
    assert_eq!(list["sent"].as_u64(), Some(there as u64), "{list}");
    assert!(
        there > 0 && list["held"][0]["count"].as_u64().unwrap() > 5,
        "{list}"
    );
    assert_eq!(proxy.seen().len(), 1, "one Bundle was on its way");
}

/// A daemon that says that it runs, so that `status` has somebody to ask.
fn daemon(made: &Made) {
    let socket = made.home.path(".local/state/quietcuff/daemon.sock");
    let listener = UnixListener::bind(socket).unwrap();
    std::thread::spawn(move || {
        for stream in listener.incoming() {
            let mut stream = stream.unwrap();
            BufReader::new(&stream).read_line(&mut String::new()).unwrap();
            let answer = json!({ "version": 1, "answer": "collector", "report": { "running": true } });
            writeln!(stream, "{answer}").unwrap();
        }
    });
}

/// What `status`, `deliver check`, `deliver list` and the metrics say of releases is the same, whether anything was
/// sent or not, and is what the days say.
#[test]
fn what_is_released_and_what_waits_is_said_everywhere() {
    let Some(clinic) = Clinic::with(&json!({"auth": "none", "statement": {
        "resourceType": "CapabilityStatement", "status": "active", "date": "2026-01-01", "kind": "instance",
        "fhirVersion": "4.0.1", "format": ["json"], "rest": [{ "mode": "server", "interaction": [{ "code": "transaction" }] }],
    }})) else {
        return;
    };
    let made = Made::of(&sent());
    daemon(&made);
    let home = &made.home;
    let status = |language: &str| unwrapped(&home.run(&["status", "--language", language]).good());
    let metric = |name: &str| {
        let text = home.run(&["status", "--metrics"]).good();
        let head = format!("quietcuff_delivery_{name}{{clinic=\"{}\"}} ", clinic.url());
        text.lines()
            .find_map(|line| line.strip_prefix(&head).map(|n| n.parse::<usize>().unwrap()))
    };
    // Without a clinic there is nothing to release anything to.
    assert_eq!(
        home.run(&["status", "--json"]).objects()[0]["releases"],
        json!([])
    );
    assert!(!status("en").contains("Clinic"));
    assert_eq!(metric("released_people"), None);

    // Every reading that would go, by the days on which they were taken.
    let counted: Vec<&str> = made
        .readings
        .iter()
        .filter(|one| one["disposition"] != "set-aside" && one["person"] == "asha")
        .map(|one| &one["measured_at"].as_str().unwrap()[..10])
        .collect();
    let outside = |from: &str| counted.iter().filter(|day| **day < from).count();
    let said = |waiting: usize, standing: &str| {
        let check = home.run(&["deliver", "check", "--json"]).objects();
        let list = listing(home);
        let status = home.run(&["status", "--json"]).objects();
        for said in [
            &check[0]["releases"][0],
            &list["releases"][0],
            &status[0]["releases"][0],
        ] {
            assert_eq!(
                (&said["person"], &said["standing"], &said["waiting_readings"]),
                (&json!("asha"), &json!(standing), &json!(waiting)),
                "{said}"
            );
        }
        assert_eq!(metric("unreleased_readings"), Some(waiting));
        let waits = format!("{waiting} readings wait, because no release covers them");
        let check = home.run(&["deliver", "check"]).good();
        for text in [check, status_of(home)] {
            assert_eq!(unwrapped(&text).contains(&waits), waiting > 0, "{text}");
        }
        status[0]["releases"][0].clone()
    };
    choose(home, &clinic.url(), "consent = \"required\"");
    said(counted.len(), "missing");
    assert_eq!(metric("released_people"), Some(0));
    choose(home, &clinic.url(), "");
    said(0, "unstated");
    assert_eq!(metric("released_people"), Some(1));
    release(&made, &["--from", "2026-03-03", "--by", "Asha herself"]);
    let of_days = said(outside("2026-03-03"), "released");
    assert!(outside("2026-03-03") > 4);
    assert_eq!(
        (&of_days["from"], &of_days["by"]),
        (&json!("2026-03-03"), &json!("Asha herself"))
    );
    assert!(status("en").contains("said by Asha herself"));
    assert!(status("de").contains("Messungen warten"));
    let list = home.run(&["deliver", "list"]).good();
    assert!(unwrapped(&list).contains("said by Asha herself"), "{list}");
    // What was sent does not wait, also once the release is withdrawn; what came since does.
    once(home).good();
    said(outside("2026-03-03"), "released");
    release(&made, &["--withdraw"]);
    said(outside("2026-03-03"), "withdrawn");
    assert_eq!(metric("released_people"), Some(0));
}

/// Without the ends of lines.
fn unwrapped(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn status_of(home: &Home) -> String {
    home.run(&["status"]).good()
}
