//! What the household released, as the clinic's own records: a Consent for each release and a Provenance for each average
//! and its sheet, at a server by others whose validator knows R4's rules, and through every fault of a line.

use crate::delivery::clinic::{Clinic, choose, exported_readings, few, held, listing, name_of, once};
use crate::delivery::proxy::{Fate, Proxy, answer};
use crate::export::layers::{rules, structure};
use crate::harness::command::Home;
use crate::harness::left_out::in_a_hurry;
use crate::harness::made::{Made, Sent, sfloat};
use serde_json::{Value, json};
use std::collections::{BTreeMap, BTreeSet};

const UNAVAILABLE: i32 = 69;
const WANTED: &str = "release-records = true";

/// A server that says that it takes these, and where its clients choose ids.
fn statement(kinds: &[&str], update_create: bool) -> Value {
    let can = ["create", "update", "read", "search-type"].map(|code| json!({ "code": code }));
    let resources: Vec<Value> = kinds
        .iter()
        .map(|kind| {
            json!({"type": kind, "interaction": can, "conditionalCreate": true, "updateCreate": update_create})
        })
        .collect();
    json!({"resourceType": "CapabilityStatement", "fhirVersion": "4.0.1", "software": {"name": "invented"},
        "rest": [{"mode": "server", "interaction": [{"code": "transaction"}], "resource": resources}]})
}

const ALL: [&str; 5] = [
    "Observation",
    "Device",
    "DocumentReference",
    "Consent",
    "Provenance",
];

fn knowing(kinds: &[&str], update_create: bool) -> Option<Clinic> {
    Clinic::with(&json!({"auth": "none", "statement": statement(kinds, update_create)}))
}

fn release(home: &Home, more: &[&str]) {
    home.run(&[&["deliver", "release", "asha"], more].concat()).good();
}

/// Those of a type that stand there.
fn of_kind(clinic: &Clinic, kind: &str) -> Vec<Value> {
    let all = clinic.holds().into_values();
    let all: Vec<Value> = all.filter(|one| one["resourceType"] == kind).collect();
    for one in &all {
        assert_eq!(structure(&one.to_string()), Vec::<String>::new(), "{one}");
    }
    all
}

/// Of every Consent there, in the order of the alphabet.
fn statuses(clinic: &Clinic) -> Vec<String> {
    let consents = of_kind(clinic, "Consent");
    let mut all: Vec<String> = consents
        .iter()
        .map(|one| one["status"].as_str().unwrap().to_owned())
        .collect();
    all.sort();
    all
}

/// Everything but the records.
fn readings(clinic: &Clinic) -> BTreeMap<String, Value> {
    let mut all = held(clinic);
    all.retain(|_, one| !matches!(one["resourceType"].as_str(), Some("Consent" | "Provenance")));
    all
}

#[test]
fn a_release_is_told_and_that_it_has_ended_is_told_too() {
    let Some(clinic) = knowing(&ALL, true) else { return };
    let made = Made::of(&few());
    let home = &made.home;
    choose(home, &clinic.url(), WANTED);
    once(home).good();
    assert_eq!(
        held(&clinic),
        exported_readings(&made),
        "nobody has stated a release"
    );

    release(home, &["--until", "2026-03-05", "--by", "Asha \"herself\""]);
    once(home).good();
    let [first] = of_kind(&clinic, "Consent").try_into().unwrap();
    assert!(name_of(&first).starts_with("consent-"));
    assert_eq!(
        (
            &first["status"],
            &first["patient"]["reference"],
            &first["provision"]["type"]
        ),
        (&json!("active"), &json!("Patient/a-1"), &json!("permit"))
    );
    assert_eq!(first["provision"]["dataPeriod"], json!({"end": "2026-03-05"}));
    assert_eq!(first["provision"]["period"], json!({"start": first["dateTime"]}));
    assert_eq!(first["performer"], json!([{"display": "Asha \"herself\""}]));
    assert_eq!(first["scope"]["coding"][0]["code"], "patient-privacy");
    assert_eq!(readings(&clinic), exported_readings(&made));
    let requests = clinic.requests();
    once(home).good();
    assert_eq!(clinic.requests(), requests, "it is told once");
    assert_eq!(listing(home)["waiting"], 0);

    // Withdrawn, nothing of hers goes any more but that.
    release(home, &["--withdraw"]);
    let new = Sent::new("2026-03-04T07:02:11", 900, sfloat(1_270, -1), 81).line();
    let file = home.file("new.jsonl", new + "\n");
    home.run(&["replay", &file, "--person", "asha"]).good();
    let before = readings(&clinic);
    once(home).good();
    let [ended] = of_kind(&clinic, "Consent").try_into().unwrap();
    assert_eq!(
        (&ended["id"], &ended["status"]),
        (&first["id"], &json!("inactive"))
    );
    assert_eq!(ended["provision"]["period"]["start"], first["dateTime"]);
    assert!(ended["provision"]["period"]["end"].is_string());
    assert_eq!(ended["provision"]["dataPeriod"], first["provision"]["dataPeriod"]);
    assert_eq!(readings(&clinic), before);
    assert!(listing(home)["held"][0]["count"].as_u64().unwrap() > 0);
    let requests = clinic.requests();
    once(home).good();
    assert_eq!(clinic.requests(), requests);

    // Another is another Consent, and one that takes its place ends it.
    release(home, &[]);
    once(home).good();
    assert_eq!(statuses(&clinic), ["active", "inactive"]);
    let consents = of_kind(&clinic, "Consent");
    let holds = consents.iter().find(|one| one["status"] == "active").unwrap();
    assert_eq!(holds["provision"].get("dataPeriod"), None);
    release(home, &["--from", "2026-03-02"]);
    once(home).good();
    assert_eq!(statuses(&clinic), ["active", "inactive", "inactive"]);

    // Not wanted any more, they are left alone; wanted again, what ended meanwhile is told.
    choose(home, &clinic.url(), "");
    release(home, &["--withdraw"]);
    once(home).good();
    assert_eq!(statuses(&clinic), ["active", "inactive", "inactive"]);
    choose(home, &clinic.url(), WANTED);
    once(home).good();
    assert_eq!(statuses(&clinic), ["inactive", "inactive", "inactive"]);
}

/// That somebody once released something is news of that person too.
#[test]
fn a_release_that_ended_before_it_was_told_is_not_told() {
    let Some(clinic) = knowing(&ALL, true) else { return };
    let made = Made::of(&few()[..2]);
    release_elsewhere(&made);
    choose(&made.home, &clinic.url(), WANTED);
    release(&made.home, &["--until", "2026-03-05"]);
    release(&made.home, &["--withdraw"]);
    once(&made.home).good();
    assert_eq!((clinic.requests(), clinic.holds().len()), (0, 0));
    assert_eq!(listing(&made.home)["waiting"], 0);
}

/// What was released to another clinic is nobody's business here.
fn release_elsewhere(made: &Made) {
    choose(&made.home, "https://clinic.invalid/r4", "");
    release(&made.home, &[]);
}

/// The clinic calls her otherwise now: the Consent in the other record was never true there.
#[test]
fn a_consent_under_another_reference_is_taken_back() {
    let Some(clinic) = knowing(&ALL, true) else { return };
    let made = Made::of(&few()[..2]);
    let config = choose(&made.home, &clinic.url(), WANTED);
    release(&made.home, &[]);
    once(&made.home).good();
    let [old] = of_kind(&clinic, "Consent").try_into().unwrap();
    let text = std::fs::read_to_string(&config).unwrap();
    std::fs::write(&config, text.replace("Patient/a-1", "Patient/b-2")).unwrap();
    once(&made.home).good();
    let consents = of_kind(&clinic, "Consent");
    let said = |reference: &str| {
        let mut hers = consents
            .iter()
            .filter(|one| one["patient"]["reference"] == reference);
        let one = hers.next().unwrap();
        assert!(hers.next().is_none());
        (one["id"] == old["id"], one["status"].as_str().unwrap())
    };
    assert_eq!(said("Patient/a-1"), (true, "entered-in-error"));
    assert_eq!(said("Patient/b-2"), (false, "active"));
    let requests = clinic.requests();
    once(&made.home).good();
    assert_eq!(clinic.requests(), requests);
}

fn with_a_period(clinic: &str, more: &str) -> Made {
    let made = Made::new();
    choose(&made.home, clinic, &format!("{WANTED}\n{more}"));
    let period = ["period", "start", "--person", "asha", "--from", "2026-03-01"];
    made.home.run(&period).good();
    made
}

/// The one that stands there, with what it refers to.
fn origin(clinic: &Clinic) -> (Value, Vec<Value>) {
    let [one] = of_kind(clinic, "Provenance").try_into().unwrap();
    let holds = clinic.holds();
    let place = |one: &Value| {
        format!(
            "{}/{}",
            one["resourceType"].as_str().unwrap(),
            one["id"].as_str().unwrap()
        )
    };
    let at = |reference: &Value| {
        let found = holds
            .values()
            .find(|one| place(one) == reference.as_str().unwrap());
        found
            .unwrap_or_else(|| panic!("{reference} is not there"))
            .clone()
    };
    let targets = one["target"].as_array().unwrap().iter();
    let targets = targets.map(|target| at(&target["reference"])).collect();
    let gateway = at(&one["agent"][0]["who"]["reference"]);
    assert!(name_of(&gateway).starts_with("gateway-"));
    assert_eq!(one["agent"][1]["who"]["reference"], "Patient/a-1");
    (one, targets)
}

#[test]
fn where_an_average_and_its_sheet_come_from_is_told_once_for_each_that_stands_there() {
    if in_a_hurry("a Provenance for each average") {
        return;
    }
    let Some(clinic) = knowing(&ALL, true) else { return };
    let made = with_a_period(&clinic.url(), "sheets = true");
    let home = &made.home;
    release(home, &["--by", "Asha"]);
    once(home).good();
    let (first, targets) = origin(&clinic);
    let kinds: Vec<&Value> = targets.iter().map(|one| &one["resourceType"]).collect();
    assert_eq!(kinds, ["Observation", "DocumentReference"]);
    assert!(name_of(&targets[0]).starts_with("average-") && name_of(&targets[1]).starts_with("sheet-"));
    let [consent] = of_kind(&clinic, "Consent").try_into().unwrap();
    let address = format!("{}/Consent/{}", clinic.url(), consent["id"].as_str().unwrap());
    assert_eq!(first["policy"], json!([address]));
    let requests = clinic.requests();
    once(home).good();
    assert_eq!(clinic.requests(), requests);

    // Of the version that stands there now, under the release that held then.
    release(home, &["--from", "2026-03-01"]);
    once(home).good();
    assert_eq!(origin(&clinic).0, first, "what went before is as it was");
    let id = made.readings[25]["id"].as_str().unwrap();
    home.run(&["readings", "discard", id, "--reason", "x"]).good();
    once(home).good();
    let (second, _) = origin(&clinic);
    assert_eq!(
        (&second["id"], &second["target"]),
        (&first["id"], &first["target"])
    );
    assert_ne!(second["policy"], first["policy"]);
    assert_eq!(listing(home)["waiting"], 0);

    // Once nothing may go, nothing of it changes.
    release(home, &["--withdraw"]);
    home.run(&[
        "readings",
        "discard",
        made.readings[24]["id"].as_str().unwrap(),
        "--reason",
        "x",
    ])
    .good();
    once(home).good();
    assert_eq!(origin(&clinic).0, second);
    assert_eq!(statuses(&clinic), ["inactive", "inactive"]);
}

/// R4's own rules, and ours, for every kind of record that there is: of all days and of some, stated by somebody and by
/// nobody, that holds, has ended, or was wrong; and of an average that went under a release, and of one before any.
#[test]
fn every_record_keeps_the_rules() {
    let Some(clinic) = knowing(&ALL, true) else { return };
    let made = with_a_period(&clinic.url(), "sheets = true");
    let home = &made.home;
    let mut all: Vec<Value> = Vec::new();
    let mut seen = |clinic: &Clinic| {
        all.extend(of_kind(clinic, "Consent"));
        all.extend(of_kind(clinic, "Provenance"));
    };
    once(home).good();
    seen(&clinic);
    for more in [
        &["--by", "Asha \"herself\""][..],
        &["--from", "2026-03-02"],
        &["--until", "2026-03-31"],
        &["--from", "2026-02-28", "--until", "2026-02-28"],
        &[],
    ] {
        release(home, more);
        once(home).good();
        seen(&clinic);
    }
    let id = made.readings[25]["id"].as_str().unwrap();
    home.run(&["readings", "discard", id, "--reason", "x"]).good();
    once(home).good();
    release(home, &["--withdraw"]);
    once(home).good();
    seen(&clinic);
    let config = choose(home, &clinic.url(), WANTED);
    let text = std::fs::read_to_string(&config).unwrap();
    std::fs::write(&config, text.replace("Patient/a-1", "Patient/b-2")).unwrap();
    once(home).good();
    seen(&clinic);

    let of = |kind: &str, path: &str| -> BTreeSet<String> {
        let of = all.iter().filter(|one| one["resourceType"] == kind);
        of.map(|one| one.pointer(path).map_or("none".to_owned(), ToString::to_string))
            .collect()
    };
    assert_eq!(
        of("Consent", "/status").len(),
        3,
        "{:?}",
        of("Consent", "/status")
    );
    assert_eq!(of("Consent", "/provision/dataPeriod").len(), 4);
    assert!(of("Provenance", "/policy").len() > 1);
    let texts: Vec<String> = all.iter().map(Value::to_string).collect();
    let Some(broken) = rules(&texts) else { return };
    for (text, broken) in texts.iter().zip(broken) {
        assert!(broken.is_empty(), "{broken:?} in {text}");
    }
}

/// The line breaks, or the delivery is killed, at each of the requests that carry a record.
#[test]
fn through_every_fault_each_is_there_once() {
    if in_a_hurry("records through the faults of a line") {
        return;
    }
    let Some(clinic) = knowing(&ALL, true) else { return };
    let proxy = Proxy::before(clinic.port, vec![]);
    let made = with_a_period(&proxy.url(), "");
    let home = &made.home;
    once(home).good();
    let mut releases = 0;
    let faults = [
        Fate::LoseAnswer,
        Fate::CutAnswer(60),
        Fate::CutRequest(300),
        answer("503 x", "", ""),
    ];
    for fault in faults {
        // A release, which ends another: at the first of them, and at the second.
        for passing in [0, 1] {
            release(home, &[]);
            releases += 1;
            proxy.next(fault.clone());
            for _ in 0..passing.min(releases - 1) {
                proxy.next(Fate::Pass);
            }
            once(home).failed(UNAVAILABLE, &[]);
            once(home).good();
        }
    }
    for fault in [
        Fate::HangInRequest(200),
        Fate::HangInRequest(900),
        Fate::HangInAnswer(0),
        Fate::HangInAnswer(200),
    ] {
        release(home, &[]);
        releases += 1;
        proxy.next(fault);
        let mut child = home.command(&["deliver", "--once"]).spawn().unwrap();
        let line = proxy.hanging();
        child.kill().unwrap();
        child.wait().unwrap();
        drop(line);
        once(home).good();
    }
    let mut expected = vec!["inactive"; releases];
    expected[0] = "active";
    assert_eq!(statuses(&clinic), expected);
    // The average was there before any release.
    let (first, _) = origin(&clinic);
    assert_eq!(first.get("policy"), None);
    // An average that changes is told anew, whatever becomes of the answer.
    let id = made.readings[25]["id"].as_str().unwrap();
    home.run(&["readings", "discard", id, "--reason", "x"]).good();
    for fate in [Fate::LoseAnswer, Fate::Pass, Fate::Pass] {
        proxy.next(fate);
    }
    once(home).failed(UNAVAILABLE, &[]);
    once(home).good();
    let (second, _) = origin(&clinic);
    assert!(second["policy"].is_array() && second["id"] == first["id"]);
    let requests = clinic.requests();
    once(home).good();
    assert_eq!(clinic.requests(), requests);
}

#[test]
fn a_server_that_names_none_is_sent_none_and_that_is_said_once() {
    if in_a_hurry("a server that takes no Consent") {
        return;
    }
    let consent = "it names no Consent to create and update";
    let provenance = "it takes no Provenance at an id of ours";
    for (kinds, update_create, lacks, goes) in [
        (&ALL[..3], true, &[consent, provenance][..], json!([false, false])),
        (&ALL[..4], true, &[provenance], json!([true, false])),
        (&ALL[..], false, &[provenance], json!([true, false])),
    ] {
        let Some(clinic) = knowing(kinds, update_create) else {
            return;
        };
        let made = with_a_period(&clinic.url(), "");
        let home = &made.home;
        release(home, &[]);
        let check = unwrapped(&home.run(&["deliver", "check"]).good());
        let records = home.run(&["deliver", "check", "--json"]).objects()[0]["records"].clone();
        assert_eq!(json!([records["consent"], records["provenance"]]), goes);
        let ran = once(home);
        for lacks in lacks {
            assert!(check.contains(lacks), "{check}");
            assert!(ran.err.contains(lacks), "{ran:?}");
        }
        ran.good();
        assert_eq!(of_kind(&clinic, "Provenance"), Vec::<Value>::new());
        assert_eq!(of_kind(&clinic, "Consent").len(), usize::from(goes[0] == true));
        let standing = listing(home);
        assert_eq!(
            (&standing["waiting"], &standing["parked"]),
            (&json!(0), &json!(0))
        );
        let requests = clinic.requests();
        // Something is due again, and it is asked anew.
        home.run(&[
            "readings",
            "discard",
            made.readings[3]["id"].as_str().unwrap(),
            "--reason",
            "x",
        ])
        .good();
        let ran = once(home);
        assert!(
            clinic.requests() > requests && !ran.err.contains(provenance),
            "{ran:?}"
        );
        ran.good();
    }
}

/// One that does not say whether its clients choose ids: it is tried, and what it says then holds.
#[test]
fn a_server_that_does_not_say_is_tried_once() {
    if in_a_hurry("a server that does not say whether it takes a Provenance") {
        return;
    }
    let mut silent = statement(&ALL, true);
    for one in silent["rest"][0]["resource"].as_array_mut().unwrap() {
        one.as_object_mut().unwrap().remove("updateCreate");
    }
    for (lacks, goes) in [("no such text", 1), ("\"resourceType\":\"Provenance\"", 0)] {
        let options = json!({"auth": "none", "statement": silent, "lacks": lacks, "status": 405});
        let Some(clinic) = Clinic::with(&options) else {
            return;
        };
        let made = with_a_period(&clinic.url(), "");
        let home = &made.home;
        release(home, &[]);
        let check = unwrapped(&home.run(&["deliver", "check"]).good());
        assert!(
            check.contains("as a Provenance; whether the server takes it, it does not say"),
            "{check}"
        );
        let declined = "it does not take a Provenance at an id of ours, so none goes (status 405)";
        let ran = once(home);
        assert_eq!(ran.err.contains(declined), goes == 0, "{ran:?}");
        ran.good();
        assert_eq!(of_kind(&clinic, "Provenance").len(), goes);
        assert_eq!(statuses(&clinic), ["active"]);
        let id = made.readings[25]["id"].as_str().unwrap();
        home.run(&["readings", "discard", id, "--reason", "x"]).good();
        let ran = once(home);
        assert!(!ran.err.contains("Provenance"), "{ran:?}");
        ran.good();
        assert_eq!(of_kind(&clinic, "Provenance").len(), goes);
        let standing = listing(home);
        assert_eq!(
            (&standing["waiting"], &standing["parked"]),
            (&json!(0), &json!(0))
        );
    }
}

fn unwrapped(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// It says nothing of itself, and answers a Consent in every way in which one may be refused: everything else goes, and
/// what may pass is tried again on another day.
#[test]
fn a_server_that_cannot_take_one_holds_nothing_else_up() {
    if in_a_hurry("a Consent that a server cannot take") {
        return;
    }
    for (status, may_pass) in [
        (400, true),
        (403, true),
        (404, false),
        (405, false),
        (415, false),
        (500, true),
        (501, true),
    ] {
        let lacks = json!({"auth": "none", "lacks": "Consent", "status": status});
        let Some(clinic) = Clinic::with(&lacks) else {
            return;
        };
        let made = Made::of(&few()[..2]);
        let home = &made.home;
        choose(home, &clinic.url(), WANTED);
        release(home, &[]);
        once(home).failed(UNAVAILABLE, &["1 of", "were refused"]);
        assert_eq!(held(&clinic), exported_readings(&made), "{status}");
        let standing = listing(home);
        assert_eq!(
            (&standing["parked"], &standing["waiting"], &standing["problem"]),
            (&json!(1), &json!(0), &Value::Null),
            "{status}: {standing}"
        );
        assert_eq!(standing["refused"][0]["resource"], "Consent");
        let requests = clinic.requests();
        once(home).good();
        assert_eq!(clinic.requests(), requests, "{status}");
        clinic.calm();
        a_day_passes(home);
        once(home).good();
        assert_eq!(
            of_kind(&clinic, "Consent").len(),
            usize::from(may_pass),
            "{status}"
        );
        home.run(&["deliver", "retry", "--all"]);
        once(home).good();
        assert_eq!(statuses(&clinic), ["active"], "{status}");
    }
}

fn a_day_passes(home: &Home) {
    let journal = rusqlite::Connection::open(home.path(".local/state/quietcuff/journal.sqlite")).unwrap();
    journal
        .execute_batch("UPDATE delivery SET answered_us = answered_us - 86400000000 WHERE kind = 'Consent'")
        .unwrap();
}

/// One that takes each resource by itself, in batches or singly.
#[test]
fn other_ways_take_them_too() {
    if in_a_hurry("a Consent by a server without transactions") {
        return;
    }
    for ways in [json!(["batch"]), json!([])] {
        let mut said = statement(&ALL, true);
        let codes: Vec<Value> = ways
            .as_array()
            .unwrap()
            .iter()
            .map(|way| json!({"code": way}))
            .collect();
        said["rest"][0]["interaction"] = json!(codes);
        let Some(clinic) = Clinic::with(&json!({"auth": "none", "statement": said, "ways": ways})) else {
            return;
        };
        let made = with_a_period(&clinic.url(), "");
        release(&made.home, &[]);
        once(&made.home).good();
        assert_eq!(statuses(&clinic), ["active"]);
        let (_, targets) = origin(&clinic);
        assert_eq!(targets.len(), 1);
        release(&made.home, &["--withdraw"]);
        once(&made.home).good();
        assert_eq!(statuses(&clinic), ["inactive"]);
        let requests = clinic.requests();
        once(&made.home).good();
        assert_eq!(clinic.requests(), requests);
    }
}

/// There twice, by whatever mistake: one of the two is taken back, and the other one ends. One at a time, as this server
/// answers 400 to a conditional update that finds two, where R4 has 412.
#[test]
fn one_that_is_there_twice_ends_once() {
    if in_a_hurry("a Consent that is there twice") {
        return;
    }
    let mut said = statement(&ALL, true);
    said["rest"][0]["interaction"] = json!([]);
    let Some(clinic) = Clinic::with(&json!({"auth": "none", "statement": said, "ways": []})) else {
        return;
    };
    let made = Made::of(&few()[..2]);
    choose(&made.home, &clinic.url(), WANTED);
    release(&made.home, &[]);
    once(&made.home).good();
    let [mut twice] = of_kind(&clinic, "Consent").try_into().unwrap();
    twice.as_object_mut().unwrap().remove("id");
    clinic.put(&json!({"resourceType": "Bundle", "type": "batch",
        "entry": [{"resource": twice, "request": {"method": "POST", "url": "Consent"}}]}));
    release(&made.home, &["--withdraw"]);
    once(&made.home).good();
    assert_eq!(statuses(&clinic), ["entered-in-error", "inactive"]);
}
