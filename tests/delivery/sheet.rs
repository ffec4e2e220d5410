//! The sheet of a period at the clinic's server: once, replaced when it says something else, in nobody's way.

use crate::delivery::clinic::{Clinic, choose, listing, name_of, once};
use crate::delivery::proxy::{Fate, Proxy};
use crate::harness::command::{Home, Ran};
use crate::harness::left_out::in_a_hurry;
use crate::harness::made::{Made, sent};
use base64::Engine as _;
use base64::prelude::BASE64_STANDARD;
use jiff::civil::Date;
use jiff::tz::Offset;
use jiff::{Span, Timestamp};
use serde_json::Value;

const UNAVAILABLE: i32 = 69;

fn sheets(clinic: &Clinic) -> Vec<Value> {
    let held = clinic.holds().into_values();
    held.filter(|resource| resource["resourceType"] == "DocumentReference")
        .collect()
}

/// A week that has just ended: sheets of long ago are only looked at again where their average changes.
fn begun(clinic: &Clinic) -> (Made, Date) {
    let today = Offset::UTC.to_datetime(Timestamp::now()).date();
    let first = today.saturating_sub(Span::new().days(9));
    let mut sent = sent();
    for one in &mut sent {
        let day: Date = one.at[..10].parse().unwrap();
        let since = day.since("2026-03-01".parse::<Date>().unwrap()).unwrap();
        one.at = format!("{}{}", first.checked_add(since).unwrap(), &one.at[10..]);
    }
    let made = Made::of(&sent);
    choose(&made.home, &clinic.url(), "sheets = true");
    made.home
        .run(&[
            "period",
            "start",
            "--person",
            "asha",
            "--from",
            &first.to_string(),
        ])
        .good();
    (made, first)
}

fn discard(made: &Made, n: usize) {
    let id = made.readings[n]["id"].as_str().unwrap();
    made.home
        .run(&["readings", "discard", id, "--reason", "x"])
        .good();
}

#[test]
fn a_sheet_arrives_once_and_is_replaced_when_it_says_something_else() {
    let Some(clinic) = Clinic::open() else { return };
    let (made, first_day) = begun(&clinic);
    once(&made.home).good();
    let [first] = sheets(&clinic).try_into().unwrap();
    assert!(name_of(&first).starts_with("sheet-"));
    assert_eq!(
        (&first["status"], &first["subject"]["reference"]),
        (&"current".into(), &"Patient/a-1".into())
    );
    let requests = clinic.requests();
    once(&made.home).good();
    assert_eq!(clinic.requests(), requests, "what is there is not sent again");
    assert_eq!(listing(&made.home)["waiting"], 0);

    discard(&made, 25);
    once(&made.home).good();
    let [second] = sheets(&clinic).try_into().unwrap();
    assert_eq!(second["id"], first["id"]);
    assert_ne!(
        second["content"][0]["attachment"]["data"],
        first["content"][0]["attachment"]["data"]
    );
    // A note within its days is on it, and no other resource changes.
    made.home
        .run(&[
            "note",
            "add",
            "symptoms",
            "dizziness",
            "--person",
            "asha",
            "--at",
            &format!("{first_day}T08:00"),
        ])
        .good();
    let requests = clinic.requests();
    once(&made.home).good();
    assert!(clinic.requests() > requests);
    let [third] = sheets(&clinic).try_into().unwrap();
    assert_ne!(third["content"], second["content"]);

    // Not wanted any more, it is left alone; wanted again, it is as it was.
    choose(&made.home, &clinic.url(), "");
    let requests = clinic.requests();
    once(&made.home).good();
    choose(&made.home, &clinic.url(), "sheets = true");
    once(&made.home).good();
    assert_eq!((clinic.requests(), sheets(&clinic)), (requests, vec![third]));
}

/// Where nothing may go any more, a sheet that shows what was withdrawn is withdrawn, once, and one that is right stays.
#[test]
fn a_sheet_that_is_wrong_is_withdrawn_though_nothing_may_go() {
    let Some(clinic) = Clinic::open() else { return };
    let (made, _) = begun(&clinic);
    once(&made.home).good();
    let [first] = sheets(&clinic).try_into().unwrap();
    made.home
        .run(&["deliver", "release", "asha", "--withdraw", "--by", "Asha"])
        .good();
    once(&made.home).good();
    assert_eq!(sheets(&clinic), std::slice::from_ref(&first), "right, it stays");

    discard(&made, 25);
    once(&made.home).good();
    is_withdrawn_once(&clinic, &made.home, &first);

    made.home
        .run(&["deliver", "release", "asha", "--by", "Asha"])
        .good();
    once(&made.home).good();
    let [again] = sheets(&clinic).try_into().unwrap();
    assert_eq!(again["status"], "current");
    assert_ne!(again["content"], first["content"]);
}

fn is_withdrawn_once(clinic: &Clinic, home: &Home, sheet: &Value) {
    let [wrong] = sheets(clinic).try_into().unwrap();
    assert_eq!(
        (&wrong["id"], &wrong["status"]),
        (&sheet["id"], &"entered-in-error".into())
    );
    let requests = clinic.requests();
    once(home).good();
    assert_eq!(clinic.requests(), requests, "it is withdrawn once");
}

/// A reading turns out to be another's, who did release theirs: it moves there, and the sheet that shows it is withdrawn
/// though nothing of the first may go, also where each answer on the way is lost.
#[test]
fn a_sheet_that_shows_what_is_anothers_now_is_withdrawn_though_nothing_may_go() {
    let Some(clinic) = Clinic::open() else { return };
    let proxy = Proxy::before(clinic.port, vec![]);
    let (made, _) = begun(&clinic);
    made.home.run(&["people", "add", "ravi"]).good();
    let config = choose(&made.home, &proxy.url(), "sheets = true");
    let text = std::fs::read_to_string(&config).unwrap();
    let both = text.replace("[\"asha\"]", "[\"asha\", \"ravi\"]") + "ravi = \"Patient/r-1\"\n";
    std::fs::write(&config, both).unwrap();
    once(&made.home).good();
    let [first] = sheets(&clinic).try_into().unwrap();
    assert_eq!(first["status"], "current");
    made.home
        .run(&["deliver", "release", "asha", "--withdraw"])
        .good();
    let id = made.readings[25]["id"].as_str().unwrap();
    made.home.run(&["readings", "assign", id, "ravi"]).good();
    for _ in 0..4 {
        proxy.next(Fate::LoseAnswer);
        assert_eq!(once(&made.home).code, UNAVAILABLE);
    }
    once(&made.home).good();
    let there = clinic.holds();
    assert_eq!(
        (&there[id]["status"], &there[id]["subject"]["reference"]),
        (&"final".into(), &"Patient/r-1".into())
    );
    is_withdrawn_once(&clinic, &made.home, &first);

    // Hers after all, and released: there is a sheet again that shows it.
    made.home.run(&["readings", "assign", id, "asha"]).good();
    made.home.run(&["deliver", "release", "asha"]).good();
    once(&made.home).good();
    let [again] = sheets(&clinic).try_into().unwrap();
    assert_eq!(again["status"], "current");
    // And it is right there, though nothing may go any more.
    made.home
        .run(&["deliver", "release", "asha", "--withdraw"])
        .good();
    once(&made.home).good();
    assert_eq!(sheets(&clinic), [again]);
}

/// On a machine without a font for the name.
fn fontless(made: &Made) -> Ran {
    let arguments = ["deliver", "--once"];
    let output = made
        .home
        .command(&arguments)
        .env("XDG_DATA_DIRS", "/nonexistent")
        .output()
        .unwrap();
    Ran::of(&output, &arguments)
}

#[test]
fn a_sheet_that_cannot_be_printed_holds_nothing_else_up() {
    if in_a_hurry("a sheet that cannot be printed") {
        return;
    }
    let Some(clinic) = Clinic::open() else { return };
    let (made, first_day) = begun(&clinic);
    made.home.run(&["people", "edit", "asha", "--label", "ஆஷா"]).good();
    let ran = fontless(&made);
    assert!(
        ran.err.contains(&format!("the sheet of asha, {first_day} to ")) && ran.err.contains("apt install"),
        "{ran:?}"
    );
    ran.good();
    assert_eq!(sheets(&clinic), Vec::<Value>::new());
    assert!(clinic.holds().keys().any(|name| name.starts_with("average-")));
    let list = listing(&made.home);
    made.home
        .run(&["people", "edit", "asha", "--label", "Asha"])
        .good();
    once(&made.home).good();
    assert_eq!(sheets(&clinic).len(), 1);
    // What is there stays there while it cannot be printed anew.
    made.home.run(&["people", "edit", "asha", "--label", "ஆஷா"]).good();
    fontless(&made).good();
    let [kept] = sheets(&clinic).try_into().unwrap();
    assert_eq!(kept["status"], "current");
    assert_eq!(list["parked"], 0);
}

/// The clinic's language, where the household's is another; what was sent in another is replaced.
#[test]
fn a_sheet_is_in_the_language_that_the_clinic_reads() {
    if in_a_hurry("sheets in the languages of a clinic") {
        return;
    }
    let Some(clinic) = Clinic::open() else { return };
    let (made, _) = begun(&clinic);
    let mut files = Vec::new();
    for (says, language) in [
        ("sheets = true", "en"),
        ("sheets = true\n[alerts]\nlanguage = \"es\"", "es"),
        (
            "sheets = true\nlanguage = \"de\"\n[alerts]\nlanguage = \"es\"",
            "de",
        ),
    ] {
        choose(&made.home, &clinic.url(), says);
        once(&made.home).good();
        let [sheet] = sheets(&clinic).try_into().unwrap();
        let attachment = &sheet["content"][0]["attachment"];
        assert_eq!(attachment["language"], language);
        let file = BASE64_STANDARD
            .decode(attachment["data"].as_str().unwrap())
            .unwrap();
        // As a screen reader is told it (ISO 32000-1, 14.9.2).
        let lang = format!("/Lang ({language})");
        assert!(
            file.windows(lang.len()).any(|at| at == lang.as_bytes()),
            "{language}"
        );
        files.push(file);
    }
    files.dedup();
    assert_eq!(files.len(), 3);
    choose(&made.home, &clinic.url(), "sheets = true\nlanguage = \"tlh\"");
    once(&made.home).failed(78, &["line 5", "`de`"]);
}
