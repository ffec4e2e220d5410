//! Who is measured: added and changed on the page, by those who may.

use crate::harness::browser::{Browser, without};
use crate::harness::page::{HOSTILE, Home, get, post};
use crate::page::access::{enter, guarded, key};
use serde_json::{Value, json};

fn of(home: &Home, id: &str) -> Value {
    let people = home.json(&["people", "list", "--json"]);
    people.into_iter().find(|one| one["id"] == id).unwrap()
}

#[test]
fn somebody_is_added_and_changed_in_a_browser() {
    if without() {
        return;
    }
    let home = Home::new();
    let served = home.serve();
    let mut browser = Browser::start();
    browser.open("p", &served.at("/people"));
    browser.click("p", "a[href='/person']");
    for (field, text) in [
        ("label", "Mother"),
        ("born", "1951"),
        ("arm-cm", "31,5"),
        ("morning-from", "06:30"),
        ("morning-to", "10:00"),
        ("threshold-systolic", "130"),
        ("threshold-diastolic", "80"),
    ] {
        browser.fill("p", &format!("[name={field}]"), text);
    }
    browser.click("p", "[name=arm][value=left]");
    browser.click("p", "[name=condition-dialysis]");
    browser.click("p", ".facts button");
    browser.wait(
        "p",
        "location.pathname === '/people' && location.hash === '#p-mother'",
    );
    let shown = browser.text("p", "main");
    assert!(shown.contains("Mother") && shown.contains("Dialysis"), "{shown}");
    let mut mother = of(&home, "mother");
    for (name, value) in [
        ("label", json!("Mother")),
        ("born", json!(1951)),
        ("arm_cm", json!(31.5)),
        ("arm", json!("left")),
        ("morning", json!("06:30-10:00")),
        ("evening", json!(null)),
        ("protocol", json!(null)),
        ("threshold", json!({ "systolic": 130.0, "diastolic": 80.0 })),
        ("conditions", json!(["dialysis"])),
        ("strict", json!(false)),
    ] {
        assert_eq!(mother[name], value, "{name}");
    }
    // What is said on the command line alone stays when the page changes the rest.
    home.text(&["people", "edit", "mother", "--strict"]);
    mother["strict"] = json!(true);
    browser.goto("p", &served.at("/person?person=mother"));
    browser.eval("p", "document.querySelector('#protocol').selectedIndex = 1");
    browser.fill("p", "[name=threshold-diastolic]", "190");
    browser.click("p", ".facts button");
    browser.wait("p", "document.querySelector('.notice[role=alert]') !== null");
    browser.accessible("p");
    assert!(
        browser
            .text("p", ".notice[role=alert]")
            .contains("both numbers of a threshold")
    );
    assert_eq!(of(&home, "mother"), mother);
    // What was typed is still there.
    let typed = "document.querySelector('[name=threshold-diastolic]').value";
    assert_eq!(browser.eval("p", typed), "190");
    assert_eq!(
        browser.eval("p", "document.querySelector('#protocol').selectedIndex"),
        1
    );
    browser.fill("p", "[name=threshold-systolic]", "");
    browser.fill("p", "[name=threshold-diastolic]", "");
    browser.click("p", ".facts button");
    browser.wait("p", "location.pathname === '/people'");
    let changed = of(&home, "mother");
    assert!(changed["protocol"].is_string());
    mother["threshold"] = json!(null);
    mother["protocol"] = changed["protocol"].clone();
    assert_eq!(changed, mother);
    browser.kept_to_itself();
}

#[test]
fn what_cannot_be_true_of_a_person_is_not_taken() {
    let home = Home::new();
    let served = home.serve();
    let at = served.address();
    let everybody = || home.json(&["people", "list", "--json", "--all"]);
    let before = everybody();
    let token = get(at, "/person", "").token();
    let send = |form: &str| post(at, "/person", &format!("token={token}&{form}"), "");
    let long = format!("label={}", "x".repeat(81));
    for (form, why) in [
        ("label=", "1 to 80 characters"),
        (long.as_str(), "1 to 80 characters"),
        ("label=a%0Ab", "1 to 80 characters"),
        ("label=+RAVI+", "called “RAVI” already"),
        ("label=Ravi&person=asha", "called “Ravi” already"),
        ("label=a&born=1700", "from 1900 to"),
        ("label=a&born=5.5", "as numbers"),
        ("label=a&arm-cm=NaN", "10 to 80 centimetres"),
        ("label=a&morning-from=06:00", "leave both empty"),
        ("label=a&morning-from=06:00&morning-to=06:00", "leave both empty"),
        ("label=a&morning-from=06:00&morning-to=19:00", "overlap at 17:00"),
        ("label=a&threshold-systolic=130", "both numbers"),
        (
            "label=a&threshold-systolic=80&threshold-diastolic=130",
            "both numbers",
        ),
        ("label=a&protocol=no-such", "no-such"),
    ] {
        let answer = send(form);
        assert_eq!(answer.status, 422, "{form}");
        assert!(answer.body.contains(why), "{form}: {}", answer.body);
    }
    // A label that would do harm if it could is text, also where the form is shown again.
    let hostile: String = form_urlencoded::byte_serialize(HOSTILE.as_bytes()).collect();
    let answer = send(&format!("label={hostile}&born=1"));
    assert_eq!(answer.status, 422);
    assert!(answer.body.contains("&lt;script&gt;") && !answer.body.contains("<script>"));
    assert_eq!(everybody(), before);
    // Whoever is called like somebody who was removed is somebody else.
    home.text(&["people", "remove", "ravi"]);
    assert_eq!(send("label=Ravi").status, 303);
    assert_eq!(of(&home, "ravi-2")["label"], "Ravi");
}

#[test]
fn only_who_looks_after_all_of_them_may() {
    let home = Home::new();
    let served = guarded(&home);
    let at = served.address();
    let before = home.json(&["people", "list", "--json"]);
    for role in [
        &["--role", "clinician", "--until", "2099-01-01"][..],
        &["--role", "person", "--person", "ravi"],
        &["--role", "caregiver", "--person", "ravi"],
    ] {
        let cookie = enter(at, &key(&home, role)).unwrap();
        for path in ["/person", "/person?person=ravi", "/person?person=asha"] {
            assert_eq!(get(at, path, &cookie).status, 403, "{role:?} {path}");
        }
        let people = get(at, "/people", &cookie);
        assert!(!people.body.contains("\"/person"), "{role:?}");
        for form in ["label=R", "label=R&person=ravi", "label=R&person=asha"] {
            let answer = post(
                at,
                "/person",
                &format!("token={}&{form}", people.token()),
                &cookie,
            );
            assert_eq!(answer.status, 403, "{role:?} {form}");
        }
    }
    assert_eq!(home.json(&["people", "list", "--json"]), before);
}
