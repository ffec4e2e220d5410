//! Delivered means that the server holds what is here: what others put there, what was somebody else's, what is there
//! twice; and servers that know or take less.

use crate::delivery::clinic::{Clinic, choose, exported_readings, few, held, listing, name_of, once};
use crate::delivery::proxy::{Fate, Proxy};
use crate::harness::command::Home;
use crate::harness::left_out::in_a_hurry;
use crate::harness::made::{Made, entries};
use serde_json::{Value, json};

const UNAVAILABLE: i32 = 69;

fn home(clinic: &Clinic) -> Made {
    let made = Made::of(&few());
    choose(&made.home, &clinic.url(), "");
    made
}

fn configure(home: &Home, from: &str, to: &str) {
    let text = std::fs::read_to_string(home.path(".config/quietcuff/quietcuff.toml")).unwrap();
    assert!(text.contains(from));
    home.file(".config/quietcuff/quietcuff.toml", text.replace(from, to));
}

/// Puts what a home exports there as somebody carries a file.
fn carried(clinic: &Clinic, made: &Made, change: impl Fn(&mut Value)) {
    let bundle = made.bundle(&[]);
    let all: Vec<Value> = entries(&bundle)
        .iter()
        .map(|entry| {
            let mut resource = entry["resource"].clone();
            change(&mut resource);
            let kind = resource["resourceType"].clone();
            json!({"fullUrl": entry["fullUrl"], "resource": resource, "request": {"method": "POST", "url": kind}})
        })
        .collect();
    clinic.put(&json!({"resourceType": "Bundle", "type": "transaction", "entry": all}));
}

fn statement(interactions: &[&str], profiles: &[&str]) -> Value {
    let codes: Vec<Value> = interactions.iter().map(|code| json!({ "code": code })).collect();
    let resource = |kind: &str| {
        let can = ["create", "update", "read", "search-type"].map(|code| json!({ "code": code }));
        json!({"type": kind, "interaction": can, "conditionalCreate": true, "supportedProfile": profiles})
    };
    json!({"resourceType": "CapabilityStatement", "fhirVersion": "4.0.1", "software": {"name": "invented", "version": "1"},
        "rest": [{"mode": "server", "interaction": codes, "resource": [resource("Observation"), resource("Device")]}]})
}

const AT_HOME: [&str; 3] = [
    "http://hl7.org/fhir/uv/cardx-htn-mng/StructureDefinition/self-measured-bp",
    "http://hl7.org/fhir/uv/cardx-htn-mng/StructureDefinition/smbp-associated-heart-rate",
    "http://hl7.org/fhir/uv/cardx-htn-mng/StructureDefinition/average-smbp",
];

/// A file went there first, under another patient: 200 to a conditional create says nothing of that.
#[test]
fn what_is_there_under_another_patient_is_shown_with_both_sides() {
    let Some(clinic) = Clinic::open() else { return };
    let made = home(&clinic);
    carried(&clinic, &made, |resource| {
        if resource["resourceType"] == "Observation" {
            resource["subject"]["reference"] = "Patient/file-9".into();
        }
    });
    let before = clinic.holds();
    once(&made.home).failed(UNAVAILABLE, &["refused", "deliver list"]);
    let unchanged = |holds: &std::collections::BTreeMap<String, Value>| {
        before.iter().all(|(name, resource)| holds[name] == *resource)
    };
    assert!(unchanged(&clinic.holds()));
    let standing = listing(&made.home);
    assert_eq!(standing["kinds"].as_array().unwrap().len(), 1, "{standing}");
    let reason = standing["kinds"][0]["reason"].as_str().unwrap();
    assert!(
        reason.contains("whose it is: Patient/file-9 there, Patient/a-1 here"),
        "{reason}"
    );
    let observations = exported_readings(&made);
    let observations = observations
        .values()
        .filter(|one| one["resourceType"] == "Observation")
        .count();
    assert_eq!(standing["kinds"][0]["count"], observations);
    // Asked again, it is the same; decided, it is withdrawn there and new here.
    once(&made.home).good();
    made.home.run(&["deliver", "retry", "--all"]).good();
    once(&made.home).good();
    let after = clinic.holds();
    for (name, old) in before
        .iter()
        .filter(|(_, one)| one["resourceType"] == "Observation")
    {
        assert_eq!(
            (&after[name]["subject"]["reference"], &after[name]["status"]),
            (&"Patient/a-1".into(), &"final".into())
        );
        let withdrawn = &after[&format!("{name}-withdrawn-{}", old["id"].as_str().unwrap())];
        assert_eq!(
            (&withdrawn["id"], &withdrawn["status"]),
            (&old["id"], &"entered-in-error".into())
        );
        assert_eq!(withdrawn["subject"]["reference"], "Patient/file-9");
    }
    assert_eq!(listing(&made.home)["parked"], 0);
}

/// An older copy of the journal takes over, which knows nothing of what was withdrawn and corrected since.
#[test]
fn an_older_copy_does_not_take_what_was_withdrawn_for_final() {
    let Some(clinic) = Clinic::open() else { return };
    let (newer, older) = (home(&clinic), home(&clinic));
    once(&newer.home).good();
    let id = |n: usize| newer.readings[n]["id"].as_str().unwrap().to_owned();
    newer
        .home
        .run(&["readings", "discard", &id(1), "--reason", "a guest"])
        .good();
    newer
        .home
        .run(&["readings", "time", &id(0), "2026-03-01T06:30"])
        .good();
    once(&newer.home).good();
    let before = clinic.holds();
    once(&older.home).failed(UNAVAILABLE, &["refused"]);
    let standing = listing(&older.home);
    let of = |name: &str| {
        let mut refused = standing["refused"].as_array().unwrap().iter();
        refused.find(|one| one["id"] == name).unwrap()["reason"]
            .as_str()
            .unwrap()
            .to_owned()
    };
    assert!(
        of(&id(1)).contains("whether it holds: entered-in-error there, final here"),
        "{standing}"
    );
    assert!(
        of(&id(0)).contains("when it was measured: 2026-03-01T06:30:00+01:00 there"),
        "{standing}"
    );
    assert_eq!(clinic.holds(), before);
}

#[test]
fn what_is_there_twice_is_withdrawn_once() {
    let Some(clinic) = Clinic::open() else { return };
    let made = home(&clinic);
    let bundle = made.bundle(&[]);
    let id = made.readings[1]["id"].as_str().unwrap();
    let twice: Vec<Value> = entries(&bundle)
        .iter()
        .filter(|entry| entry["resource"]["resourceType"] == "Device" || name_of(&entry["resource"]) == id)
        .map(|entry| json!({"resource": entry["resource"], "request": {"method": "POST", "url": entry["resource"]["resourceType"]}}))
        .collect();
    for _ in 0..2 {
        clinic.put(&json!({"resourceType": "Bundle", "type": "batch", "entry": twice}));
    }
    once(&made.home).good();
    let all = clinic.holds();
    let withdrawn: Vec<&Value> = all
        .iter()
        .filter(|(name, _)| name.contains("-withdrawn-"))
        .map(|(_, one)| one)
        .collect();
    assert_eq!(withdrawn.len(), twice.len());
    assert!(withdrawn.iter().all(|one| one["status"] == "entered-in-error"));
    let standing = listing(&made.home);
    assert_eq!(
        (&standing["parked"], &standing["waiting"]),
        (&0.into(), &0.into())
    );
    assert_eq!(all.len(), exported_readings(&made).len() + twice.len());
}

/// The clinic calls somebody otherwise now: what stands under the old reference is withdrawn, and new under the new
/// one.
#[test]
fn a_reference_that_changes_moves_nothing_in_place() {
    let Some(clinic) = Clinic::open() else { return };
    let made = home(&clinic);
    once(&made.home).good();
    let before = clinic.holds();
    configure(&made.home, "Patient/a-1", "Patient/a-2");
    once(&made.home).good();
    let after = clinic.holds();
    let observations = before
        .iter()
        .filter(|(_, one)| one["resourceType"] == "Observation");
    let mut count = 0;
    for (name, old) in observations {
        count += 1;
        let withdrawn = &after[&format!("{name}-withdrawn-{}", old["id"].as_str().unwrap())];
        assert_eq!(
            (&withdrawn["id"], &withdrawn["status"]),
            (&old["id"], &"entered-in-error".into())
        );
        assert_eq!(withdrawn["subject"]["reference"], "Patient/a-1");
        assert_eq!(after[name]["subject"]["reference"], "Patient/a-2");
        assert_ne!(after[name]["id"], old["id"]);
    }
    assert_eq!(after.len(), before.len() + count);
    let requests = clinic.requests();
    once(&made.home).good();
    assert_eq!(clinic.requests(), requests);
}

/// The line breaks at each step of the same.
#[test]
fn a_move_that_is_cut_off_is_made_once() {
    let Some(clinic) = Clinic::open() else { return };
    let proxy = Proxy::before(clinic.port, vec![]);
    let made = Made::of(&few()[..2]);
    choose(&made.home, &proxy.url(), "");
    once(&made.home).good();
    let before = clinic.holds();
    configure(&made.home, "Patient/a-1", "Patient/a-2");
    for _ in 0..8 {
        proxy.next(Fate::LoseAnswer);
        once(&made.home).failed(UNAVAILABLE, &[]);
    }
    once(&made.home).good();
    let after = clinic.holds();
    let finals = |reference: &str| {
        let is = |one: &&Value| one["status"] == "final" && one["subject"]["reference"] == reference;
        after.values().filter(is).count()
    };
    let observations = before
        .values()
        .filter(|one| one["resourceType"] == "Observation")
        .count();
    assert_eq!((finals("Patient/a-1"), finals("Patient/a-2")), (0, observations));
    assert_eq!(after.len(), before.len() + observations);
}

#[test]
fn what_the_server_can_is_asked_and_said() {
    let said = statement(&["transaction", "batch"], &AT_HOME);
    let Some(clinic) = Clinic::with(&json!({"auth": "none", "statement": said})) else {
        return;
    };
    let made = home(&clinic);
    let text = made.home.run(&["deliver", "check"]).good();
    for words in [
        "invented 1, FHIR 4.0.1",
        "all of them or none",
        "for measuring at home",
        "asha is Patient/a-1",
        "nothing, as far",
    ] {
        assert!(text.contains(words), "{words}: {text}");
    }
    let checked = made.home.run(&["deliver", "check", "--json"]).objects().remove(0);
    assert_eq!(
        (&checked["way"], &checked["profiles"]),
        (&"transaction".into(), &"self-measured".into())
    );
    assert_eq!(clinic.requests(), 0);
    once(&made.home).good();
    let profile = clinic.holds()[made.readings[0]["id"].as_str().unwrap()]["meta"]["profile"].clone();
    assert_eq!(profile[1], AT_HOME[0]);

    // Sheets are told of where they are wanted, and where they could be.
    assert!(
        text.contains("none are sent; the server names no DocumentReference"),
        "{text}"
    );
    choose(&made.home, &clinic.url(), "sheets = true");
    let text = made.home.run(&["deliver", "check"]).good();
    for words in ["so it may refuse them", "DocumentReference: it names none"] {
        assert!(text.contains(words), "{words}: {text}");
    }
    let mut with = statement(&["transaction"], &AT_HOME);
    let mut document = with["rest"][0]["resource"][0].clone();
    document["type"] = "DocumentReference".into();
    with["rest"][0]["resource"].as_array_mut().unwrap().push(document);
    let Some(clinic) = Clinic::with(&json!({"auth": "none", "statement": with})) else {
        return;
    };
    for (sheets, words) in [
        (
            "sheets = true",
            "one PDF each period, in a DocumentReference, the same way",
        ),
        ("", "the server takes them: `clinic.sheets = true`"),
    ] {
        choose(&made.home, &clinic.url(), sheets);
        let text = made.home.run(&["deliver", "check"]).good();
        assert!(text.contains(words) && text.contains("nothing, as far"), "{text}");
        let checked = made.home.run(&["deliver", "check", "--json"]).objects().remove(0);
        let said = json!({"wanted": !sheets.is_empty(), "taken": true});
        assert_eq!(
            (&checked["sheets"], &checked["way"]),
            (&said, &"transaction".into())
        );
    }

    let mut other = statement(&["batch"], &[]);
    other["rest"][0]["resource"][0]["conditionalCreate"] = false.into();
    let Some(clinic) = Clinic::with(&json!({"auth": "none", "statement": other})) else {
        return;
    };
    choose(&made.home, &clinic.url(), "");
    let text = made.home.run(&["deliver", "check"]).good();
    for words in [
        "each by itself",
        "FHIR's own",
        "Observation: conditional create so that one",
    ] {
        assert!(text.contains(words), "{words}: {text}");
    }
    other["fhirVersion"] = "5.0.0".into();
    let Some(clinic) = Clinic::with(&json!({"auth": "none", "statement": other})) else {
        return;
    };
    choose(&made.home, &clinic.url(), "");
    made.home
        .run(&["deliver", "check"])
        .failed(UNAVAILABLE, &["5.0.0", "R4"]);
    let Some(clinic) = Clinic::open() else { return };
    choose(&made.home, &clinic.url(), "");
    made.home
        .run(&["deliver", "check"])
        .failed(UNAVAILABLE, &["metadata", "clinic.server"]);
}

/// As HAPI FHIR JPA 8.8.0 refuses what claims a profile that it does not have.
#[test]
fn a_profile_that_the_server_does_not_know_is_not_claimed_any_more() {
    if in_a_hurry("profiles that a server does not know") {
        return;
    }
    for (hates, why, left) in [
        ("cardx-htn-mng", AT_HOME[0], "core"),
        (
            "StructureDefinition/bp",
            "http://hl7.org/fhir/StructureDefinition/bp",
            "none",
        ),
    ] {
        let why = format!("Profile reference '{why}' has not been checked because it could not be found");
        let said = statement(&["transaction"], &AT_HOME);
        let options = json!({"auth": "none", "statement": said, "hates": hates, "why": why});
        let Some(clinic) = Clinic::with(&options) else {
            return;
        };
        let made = home(&clinic);
        let ran = once(&made.home);
        let told = ran.err.matches("does not take resources that claim").count();
        assert!(told >= 1, "{ran:?}");
        ran.good();
        let standing = listing(&made.home);
        assert_eq!(
            (&standing["profiles"], &standing["parked"], &standing["waiting"]),
            (&left.into(), &0.into(), &0.into())
        );
        let expected = exported_readings(&made);
        assert_eq!(clinic.holds().len(), expected.len());
        let again = once(&made.home);
        assert!(!again.err.contains("does not take"), "it is told once: {again:?}");
        again.good();
    }
    // What a person wrote is kept to.
    let options = json!({"auth": "none", "hates": "cardx-htn-mng", "why": AT_HOME[0]});
    let Some(clinic) = Clinic::with(&options) else {
        return;
    };
    let made = home(&clinic);
    configure(
        &made.home,
        "[fhir.patients]",
        "[fhir]\nprofiles = \"self-measured\"\n[fhir.patients]",
    );
    once(&made.home).failed(UNAVAILABLE, &[]);
    assert!(clinic.holds().values().all(|one| one["resourceType"] == "Device"));
}

/// Batches only, by its own words or by its answers; and one resource at a time. All with answers that get lost.
#[test]
fn a_server_that_takes_less_gets_it_once_too() {
    if in_a_hurry("a server that takes less") {
        return;
    }
    for (says, takes, way) in [
        (vec!["batch"], vec!["batch"], "batch"),
        (vec!["transaction"], vec!["batch"], "batch"),
        (vec![], vec![], "single"),
        (vec!["transaction", "batch"], vec![], "single"),
    ] {
        let options = json!({"auth": "none", "statement": statement(&says, &[]), "ways": takes});
        let Some(clinic) = Clinic::with(&options) else {
            return;
        };
        let proxy = Proxy::before(clinic.port, vec![]);
        let mut sent = few();
        sent[3].status = 1 << 2;
        let made = Made::of(&sent);
        choose(&made.home, &proxy.url(), "");
        let expected = exported_readings(&made);
        assert!(expected.keys().any(|name| name.ends_with("-status")));
        for _ in 0..4 {
            proxy.next(Fate::LoseAnswer);
            once(&made.home).failed(UNAVAILABLE, &[]);
        }
        once(&made.home).good();
        assert_eq!(held(&clinic), expected, "{says:?} {takes:?}");
        let id = made.readings[0]["id"].as_str().unwrap();
        made.home
            .run(&["readings", "discard", id, "--reason", "a guest"])
            .good();
        once(&made.home).good();
        assert_eq!(clinic.holds()[id]["status"], "entered-in-error");
        let checked = made.home.run(&["deliver", "check", "--json"]).objects().remove(0);
        assert_eq!(checked["way"], way);
    }
}

#[test]
fn a_server_that_refuses_everything_alike_is_asked_a_few_times() {
    let Some(clinic) = Clinic::with(
        &json!({"auth": "none", "hates": "\"resourceType\":\"Observation\"", "why": "no pressures here"}),
    ) else {
        return;
    };
    let made = Made::of(&crate::harness::made::sent());
    choose(&made.home, &clinic.url(), "");
    let ran = once(&made.home);
    ran.failed(UNAVAILABLE, &["refuses everything alike", "no pressures here"]);
    let asked = clinic.requests();
    assert!(asked < 30, "{asked}");
    let standing = listing(&made.home);
    assert_eq!(standing["parked"], 0);
    assert!(standing["waiting"].as_u64().unwrap() > 20);
    once(&made.home).failed(UNAVAILABLE, &["refuses everything alike"]);
    assert!(clinic.requests() <= asked + 2, "one tells whether it still does");
    clinic.calm();
    once(&made.home).good();
    assert_eq!(held(&clinic), exported_readings(&made));
}

/// HAPI FHIR JPA does not know the patient, and names now the one and now the other place at which it says who that is.
#[test]
fn one_that_gives_another_reason_each_time_is_asked_a_few_times_too() {
    let reason = |path: &str| {
        format!("HAPI-1094: Resource Patient/a-1 not found, specified in path: Observation.{path}")
    };
    let whys = ["subject.where(resolve() is Patient)", "performer", "subject"].map(reason);
    let options = json!({"auth": "none", "hates": "\"resourceType\":\"Observation\"", "whys": whys});
    let Some(clinic) = Clinic::with(&options) else {
        return;
    };
    let made = Made::of(&crate::harness::made::sent());
    choose(&made.home, &clinic.url(), "");
    once(&made.home).failed(
        UNAVAILABLE,
        &["refuses everything alike", "Patient/a-1 not found"],
    );
    assert!(clinic.requests() < 40, "{}", clinic.requests());
    assert_eq!(listing(&made.home)["parked"], 0);
    clinic.calm();
    once(&made.home).good();
    assert_eq!(held(&clinic), exported_readings(&made));
}

/// A panel is refused, and what rests on it waits; once the panel is there, nobody has to say anything for the rest.
#[test]
fn what_waited_for_something_refused_goes_when_that_has_arrived() {
    let mut sent = few();
    sent[3].status = 1 << 2;
    let made = Made::of(&sent);
    let id = made.readings[3]["id"].as_str().unwrap();
    let hates = format!("\"value\":\"{id}\"");
    let Some(clinic) = Clinic::with(&json!({"auth": "none", "hates": hates})) else {
        return;
    };
    choose(&made.home, &clinic.url(), "");
    once(&made.home).failed(UNAVAILABLE, &["refused"]);
    let standing = listing(&made.home);
    let mut parked: Vec<(String, u64)> = standing["refused"]
        .as_array()
        .unwrap()
        .iter()
        .map(|one| {
            (
                one["id"].as_str().unwrap().to_owned(),
                one["status"].as_u64().unwrap(),
            )
        })
        .collect();
    parked.sort();
    assert_eq!(parked, [(id.to_owned(), 422), (format!("{id}-status"), 424)]);
    clinic.calm();
    made.home.run(&["deliver", "retry", id]).good();
    once(&made.home).good();
    assert_eq!(held(&clinic), exported_readings(&made));
    assert_eq!(listing(&made.home)["parked"], 0);
}

/// Who may write there and not read is told so, and it counts as delivered unseen.
#[test]
fn a_server_that_lets_nobody_read_is_believed() {
    let Some(clinic) = Clinic::with(&json!({"auth": "none", "blind": true})) else {
        return;
    };
    let (first, second) = (home(&clinic), home(&clinic));
    once(&first.home).good();
    let ran = once(&second.home);
    assert!(ran.err.contains("does not let us read"), "{ran:?}");
    ran.good();
    assert_eq!(listing(&second.home)["waiting"], 0);
}

/// Readings that were sent are under the name of this installation's gateway, and of no other's.
#[test]
fn each_installation_has_a_gateway_of_its_own() {
    let Some(clinic) = Clinic::open() else { return };
    let gateways = || {
        let holds = clinic.holds();
        holds
            .keys()
            .filter(|name| name.starts_with("gateway-"))
            .cloned()
            .collect::<Vec<_>>()
    };
    let one = home(&clinic);
    once(&one.home).good();
    assert_eq!(gateways().len(), 1);
    one.home.run(&["rebuild"]).good();
    let mut heard = few();
    heard.remove(0);
    let other = Made::of(&heard);
    choose(&other.home, &clinic.url(), "");
    once(&other.home).good();
    assert_eq!(gateways().len(), 2);
}

/// The server does not let what stands there be replaced: nothing new is put beside it, and it is asked once.
#[test]
fn what_cannot_be_withdrawn_there_is_not_new_here() {
    let Some(clinic) = Clinic::open() else { return };
    let made = home(&clinic);
    once(&made.home).good();
    let before = clinic.holds();
    clinic.hate("-withdrawn-");
    configure(&made.home, "Patient/a-1", "Patient/a-2");
    once(&made.home).failed(UNAVAILABLE, &["refused"]);
    assert_eq!(clinic.holds(), before);
    let requests = clinic.requests();
    once(&made.home).good();
    assert_eq!(clinic.requests(), requests);
    let standing = listing(&made.home);
    assert!(
        standing["kinds"][0]["reason"]
            .as_str()
            .unwrap()
            .contains("could not be withdrawn")
    );
    clinic.calm();
    made.home.run(&["deliver", "retry", "--all"]).good();
    once(&made.home).good();
    let finals = |reference: &str| {
        let holds = clinic.holds();
        let is = |one: &&Value| one["status"] == "final" && one["subject"]["reference"] == reference;
        holds.values().filter(is).count()
    };
    assert_eq!(finals("Patient/a-1"), 0);
    assert!(finals("Patient/a-2") > 10);
}
