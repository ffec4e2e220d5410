//! What the household says arrives, once, and stays true when it changes.

use crate::delivery::clinic::{
    Clinic, choose, exported, exported_readings, few, held, listing, name_of, once,
};
use crate::harness::command::hex;
use crate::harness::made::{Made, Sent, sent};
use serde_json::{Value, json};
use sha2::{Digest, Sha256};

const CONFIG: i32 = 78;

fn delivered(clinic: &Clinic, sent: &[Sent]) -> Made {
    let made = Made::of(sent);
    choose(&made.home, &clinic.url(), "");
    once(&made.home).good();
    made
}

#[test]
fn a_week_arrives_once_however_often_it_is_sent() {
    let Some(clinic) = Clinic::open() else { return };
    let made = Made::of(&sent());
    choose(&made.home, &clinic.url(), "");
    made.home
        .run(&["period", "start", "--person", "asha", "--from", "2026-03-01"])
        .good();
    once(&made.home).good();
    let expected = exported(&made);
    assert!(
        expected.keys().any(|name| name.starts_with("average-")) && expected.len() > 45,
        "{}",
        expected.len()
    );
    assert_eq!(held(&clinic), expected);
    let standing = listing(&made.home);
    assert_eq!(
        (&standing["waiting"], &standing["parked"]),
        (&0.into(), &0.into())
    );
    assert!(standing["sent"].as_u64().unwrap() > 50 && standing["problem"].is_null());

    // Nothing is due, so nothing is said; a rebuild changes nothing about it.
    let requests = clinic.requests();
    made.home.run(&["rebuild"]).good();
    once(&made.home).good();
    assert_eq!(clinic.requests(), requests);

    // A gateway that has lost its ledger sends everything again, and the server keeps what it has.
    let journal =
        rusqlite::Connection::open(made.home.path(".local/state/quietcuff/journal.sqlite")).unwrap();
    assert!(journal.execute("DELETE FROM delivery", []).unwrap() > 50);
    let before = clinic.holds();
    once(&made.home).good();
    assert!(clinic.requests() > requests);
    let kept = |holds: &std::collections::BTreeMap<String, Value>| -> Vec<String> {
        holds
            .iter()
            .map(|(name, held)| format!("{name} {}", held["id"]))
            .collect()
    };
    assert_eq!(kept(&clinic.holds()), kept(&before));
    assert_eq!(held(&clinic), expected);
}

/// Two gateways that heard the same monitor, neither of which knows of the other.
#[test]
fn two_gateways_are_one_record() {
    let Some(clinic) = Clinic::open() else { return };
    let first = delivered(&clinic, &few());
    let expected = held(&clinic);
    // The second missed one reading, and heard two more, one of which is set aside.
    let mut heard = sent();
    heard.truncate(10);
    heard.remove(0);
    let second = delivered(&clinic, &heard);
    let both = held(&clinic);
    assert!(expected.iter().all(|(name, resource)| both[name] == *resource));
    let (known, second) = (exported_readings(&first), exported_readings(&second));
    let added = second.keys().filter(|name| !known.contains_key(*name));
    assert_eq!(
        both.keys()
            .filter(|name| !known.contains_key(*name))
            .collect::<Vec<_>>(),
        added.collect::<Vec<_>>()
    );
    once(&first.home).good();
    assert_eq!(held(&clinic), both);
}

#[test]
fn what_changes_is_replaced() {
    let Some(clinic) = Clinic::open() else { return };
    let made = delivered(&clinic, &few());
    assert_eq!(held(&clinic), exported_readings(&made));
    let before = clinic.holds();
    let id = |n: usize| made.readings[n]["id"].as_str().unwrap().to_owned();
    made.home
        .run(&["readings", "time", &id(0), "2026-03-01T06:30"])
        .good();
    made.home
        .run(&["readings", "discard", &id(1), "--reason", "a guest \"measured\""])
        .good();
    once(&made.home).good();
    let after = clinic.holds();
    assert_eq!(
        after.keys().collect::<Vec<_>>(),
        before.keys().collect::<Vec<_>>()
    );
    assert_eq!(after[&id(0)]["effectiveDateTime"], "2026-03-01T06:30:00+01:00");
    assert_eq!(after[&id(0)]["id"], before[&id(0)]["id"], "in the same place");
    for name in [id(1), format!("{}-pulse", id(1))] {
        assert_eq!(after[&name]["status"], "entered-in-error");
    }
    assert_eq!(held(&clinic), exported_readings(&made));
    let untouched = &after[&id(2)];
    assert_eq!(untouched, &before[&id(2)], "what did not change is not sent");

    // Taken back: it counts again.
    made.home.run(&["readings", "discard", &id(1), "--undo"]).good();
    once(&made.home).good();
    assert_eq!(clinic.holds()[&id(1)]["status"], "final");
}

#[test]
fn what_turns_out_to_be_somebody_elses_is_taken_back() {
    let Some(clinic) = Clinic::open() else { return };
    let made = delivered(&clinic, &few());
    let id = |n: usize| made.readings[n]["id"].as_str().unwrap().to_owned();
    made.home.run(&["people", "add", "ravi"]).good();
    made.home.run(&["readings", "assign", &id(0), "ravi"]).good();
    once(&made.home).good();
    // Ravi was not chosen: the clinic learns that it is not Asha's, and nothing of him.
    let held = clinic.holds()[&id(0)].clone();
    assert_eq!(held["status"], "entered-in-error");
    assert_eq!(held["subject"]["reference"], "Patient/a-1");
    assert!(!clinic.asked()["bodies"].to_string().contains("r-1"));

    let text = std::fs::read_to_string(made.home.path(".config/quietcuff/quietcuff.toml")).unwrap();
    made.home.file(
        ".config/quietcuff/quietcuff.toml",
        text.replace("[\"asha\"]", "[\"asha\", \"ravi\"]") + "ravi = \"Patient/r-1\"\n",
    );
    once(&made.home).good();
    let place = held["id"].as_str().unwrap();
    let holds = clinic.holds();
    let moved = &holds[&id(0)];
    assert_eq!(
        (&moved["status"], &moved["subject"]["reference"]),
        (&"final".into(), &"Patient/r-1".into())
    );
    // Nothing was moved in place: what was Asha's is withdrawn where it was.
    let withdrawn = &holds[&format!("{}-withdrawn-{place}", id(0))];
    assert_eq!(
        (
            &withdrawn["status"],
            &withdrawn["subject"]["reference"],
            &withdrawn["id"]
        ),
        (&"entered-in-error".into(), &"Patient/a-1".into(), &place.into())
    );
    // Somebody who is not chosen any more keeps what was sent.
    made.home.file(".config/quietcuff/quietcuff.toml", text);
    let requests = clinic.requests();
    once(&made.home).good();
    assert_eq!(clinic.requests(), requests);
}

/// A reading that was withdrawn before it was ever sent is the household's own business.
#[test]
fn what_was_never_sent_is_not_sent_to_be_withdrawn() {
    let Some(clinic) = Clinic::open() else { return };
    let made = Made::of(&few());
    choose(&made.home, &clinic.url(), "");
    let id = made.readings[1]["id"].as_str().unwrap();
    made.home
        .run(&["readings", "discard", id, "--reason", "a guest"])
        .good();
    once(&made.home).good();
    assert!(!clinic.holds().contains_key(id));
    assert!(!clinic.asked()["bodies"].to_string().contains("a guest"));
}

#[test]
fn an_average_follows_its_readings_and_is_taken_back_when_there_is_none() {
    let Some(clinic) = Clinic::open() else { return };
    let made = Made::of(&sent());
    choose(&made.home, &clinic.url(), "\n[fhir]\nnarrative = true");
    once(&made.home).good();
    let average = || {
        let holds = clinic.holds();
        holds
            .into_values()
            .find(|resource| name_of(resource).starts_with("average-"))
    };
    assert_eq!(average(), None, "no period was begun");
    made.home
        .run(&["period", "start", "--person", "asha", "--from", "2026-03-01"])
        .good();
    once(&made.home).good();
    let first = average().unwrap();
    let said = |one: &Value| one["text"]["div"].as_str().unwrap().to_owned();
    assert!(
        said(&first).contains("<p>Average home blood pressure, 2026-03-"),
        "{first}"
    );
    let derived = first["derivedFrom"].as_array().unwrap();
    assert!(
        derived.len() > 10
            && derived
                .iter()
                .all(|one| one["reference"].as_str().unwrap().starts_with("Observation/"))
    );

    made.home
        .run(&[
            "readings",
            "discard",
            made.readings[25]["id"].as_str().unwrap(),
            "--reason",
            "x",
        ])
        .good();
    once(&made.home).good();
    let second = average().unwrap();
    assert_eq!(second["id"], first["id"]);
    assert_eq!(second["derivedFrom"].as_array().unwrap().len(), derived.len() - 1);

    for reading in &made.readings[6..] {
        made.home
            .run(&[
                "readings",
                "discard",
                reading["id"].as_str().unwrap(),
                "--reason",
                "x",
            ])
            .good();
    }
    once(&made.home).good();
    let third = average().unwrap();
    assert_eq!(
        (&third["status"], &third["id"]),
        (&"entered-in-error".into(), &first["id"])
    );
    assert!(
        said(&third).contains("xhtml\"><p>Entered in error: not to be used.</p><p>Average"),
        "{third}"
    );
}

/// What `--dry-run` shows is what the server gets, octet for octet, and showing it sends nothing.
#[test]
fn a_dry_run_shows_what_leaves_the_house() {
    let Some(clinic) = Clinic::open() else { return };
    let made = Made::of(&sent());
    choose(&made.home, &clinic.url(), "");
    let shown = made.home.run(&["deliver", "--dry-run"]).good();
    assert_eq!(clinic.requests(), 0);
    assert!(shown.starts_with(&format!("POST {}\n", clinic.url())));
    once(&made.home).good();
    let bodies = clinic.asked()["bodies"].clone();
    let mut rest = shown.as_str();
    for body in bodies.as_array().unwrap() {
        let body = body.as_str().unwrap();
        let (head, behind) = rest.split_once("\n\n").unwrap();
        assert!(
            head.contains(&format!("Content-Length: {}", body.len())),
            "{head}"
        );
        assert!(behind.starts_with(body), "{body}");
        rest = &behind[body.len() + 1..];
    }
    assert!(rest.is_empty() && bodies.as_array().unwrap().len() > 1, "{rest}");
    let nothing = made.home.run(&["deliver", "--dry-run"]);
    assert!(nothing.err.contains("0 resources") && nothing.good().is_empty());
}

#[test]
fn nothing_is_sent_before_a_clinic_and_a_person_were_chosen() {
    let made = Made::of(&few());
    let config = |text: &str| made.home.file(".config/quietcuff/quietcuff.toml", text);
    let patients = "[fhir.patients]\nasha = \"Patient/1\"\n";
    for (text, words) in [
        (String::new(), "clinic.server"),
        (
            "[clinic]\nserver = \"https://x.example\"\n".into(),
            "clinic.people",
        ),
        (
            "[clinic]\nserver = \"https://x.example\"\npeople = [\"asha\"]\n".into(),
            "[fhir.patients]",
        ),
        (
            format!("[clinic]\nserver = \"https://x.example\"\npeople = [\"nina\"]\n{patients}"),
            "nobody is called so",
        ),
        (
            format!("[clinic]\nserver = \"http://x.example\"\npeople = [\"asha\"]\n{patients}"),
            "plain http",
        ),
        (
            format!("[clinic]\nserver = \"x.example\"\npeople = [\"asha\"]\n{patients}"),
            "x.example",
        ),
        (
            format!(
                "[clinic]\nserver = \"https://x.example\"\npeople = [\"asha\"]\nauth = \"bearer\"\n{patients}"
            ),
            "clinic.token-file",
        ),
        (
            format!(
                "[clinic]\nserver = \"https://x.example\"\npeople = [\"asha\"]\nauth = \"smart\"\n{patients}"
            ),
            "clinic.key-file",
        ),
        (
            format!(
                "[clinic]\nserver = \"https://x.example\"\npeople = [\"asha\"]\nca-file = \"nowhere.pem\"\n{patients}"
            ),
            "nowhere.pem",
        ),
    ] {
        config(&text);
        once(&made.home).failed(CONFIG, &[words]);
    }
}

/// The clinic has written into a reading itself: that is not overwritten before a person says so.
#[test]
fn what_the_clinic_changed_itself_is_left_to_a_person() {
    let Some(clinic) = Clinic::open() else { return };
    let made = delivered(&clinic, &few());
    let id = made.readings[0]["id"].as_str().unwrap();
    let mut theirs = clinic.holds()[id].clone();
    theirs["status"] = "corrected".into();
    let place = format!("Observation/{}", theirs["id"].as_str().unwrap());
    let entry = json!({"resource": theirs, "request": {"method": "PUT", "url": place}});
    clinic.put(&json!({"resourceType": "Bundle", "type": "batch", "entry": [entry]}));
    assert_eq!(clinic.holds()[id]["status"], "corrected");

    made.home
        .run(&["readings", "time", id, "2026-03-01T06:30"])
        .good();
    once(&made.home).failed(69, &["refused"]);
    assert_eq!(clinic.holds()[id]["status"], "corrected");
    let standing = listing(&made.home);
    assert_eq!(
        (&standing["refused"][0]["id"], &standing["refused"][0]["status"]),
        (&id.into(), &412.into())
    );
    made.home.run(&["deliver", "retry", "--all"]).good();
    once(&made.home).good();
    assert_eq!(held(&clinic), exported_readings(&made));
}

/// What an earlier version had offered of these readings, by the ledger of a home that ran it: SHA-256 of each
/// Observation's name and digest, one a line in the order of the names.
const EARLIER: &str = "8653df968115c90fdcae555234b6e94a1cf49669e5b342311936719a87d033eb";

/// Where the cuff was is said of what goes from now on; what stands at a clinic is not sent again for that, neither when
/// a home takes this version nor when it states another arm.
#[test]
fn an_arm_that_is_stated_sends_nothing_again_and_a_note_of_the_sitting_does() {
    let Some(clinic) = Clinic::open() else { return };
    let made = Made::of(&few());
    choose(&made.home, &clinic.url(), "[fhir]\nprofiles = \"core\"");
    let arm = |arm: &str| json!({"kind": "person-changed", "person": "asha", "changes": [{"arm": arm}]});
    made.state_at("2026-03-02T00:00:00Z", &arm("left"));
    once(&made.home).good();
    let before = clinic.holds();
    let sites = before
        .values()
        .filter(|one| one["bodySite"]["text"] == "left arm");
    assert_eq!(
        sites.count(),
        7,
        "four panels of the second day, and three pulses"
    );
    assert_eq!(held(&clinic), exported_readings(&made));

    let journal =
        rusqlite::Connection::open(made.home.path(".local/state/quietcuff/journal.sqlite")).unwrap();
    let mut rows = journal
        .prepare("SELECT name, lower(hex(offered)) FROM delivery WHERE kind = 'Observation' ORDER BY name")
        .unwrap();
    let offered: String = rows
        .query_map([], |row| {
            Ok(format!(
                "{} {}\n",
                row.get::<_, String>(0)?,
                row.get::<_, String>(1)?
            ))
        })
        .unwrap()
        .map(Result::unwrap)
        .collect();
    assert_eq!(
        hex(&Sha256::digest(&offered)),
        EARLIER,
        "it would go again from every home: {offered}"
    );

    let requests = clinic.requests();
    made.home
        .run(&["people", "edit", "asha", "--arm", "right"])
        .good();
    once(&made.home).good();
    assert_eq!(clinic.requests(), requests);
    assert_eq!(clinic.holds(), before);
    assert_eq!(held(&clinic), exported_readings(&made));

    let at = made.readings[6]["measured_at"].as_str().unwrap();
    made.home
        .run(&["note", "add", "arm", "right", "--person", "asha", "--at", at])
        .good();
    once(&made.home).good();
    let after = clinic.holds();
    let changed: Vec<&String> = after
        .keys()
        .filter(|name| after[*name] != before[*name])
        .collect();
    assert!(
        changed.len() == 3
            && changed
                .iter()
                .all(|name| after[*name]["bodySite"]["text"] == "right arm")
    );
    assert_eq!(held(&clinic), exported_readings(&made));
}
