//! Who is measured: added and changed on the page, by those who may.

use crate::harness::browser::{Browser, without};
use crate::harness::left_out::in_a_hurry;
use crate::harness::page::{HOSTILE, Home, get, post};
use crate::page::access::{enter, guarded, key};
use serde_json::{Value, json};

pub(super) fn of(home: &Home, id: &str) -> Value {
    let people = home.json(&["people", "list", "--json"]);
    people.into_iter().find(|one| one["id"] == id).unwrap()
}

/// What a form was made of, as it carries it.
pub(super) fn base_of(form: &str) -> String {
    let base = form.split("name=\"base\" value=\"").nth(1).unwrap();
    base.split('"').next().unwrap().replace("&quot;", "\"")
}

#[test]
fn somebody_is_added_and_changed_in_a_browser() {
    if in_a_hurry("a person added in a browser") || without() {
        return;
    }
    let home = Home::new();
    let served = home.serve();
    let mut browser = Browser::start();
    browser.open("p", &served.at("/people"));
    browser.click("p", "a[href='/person']");
    for (field, text) in [
        ("label", "Mother"),
        ("born", "1951-03-24"),
        ("record-number", "A 12-77"),
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
        ("born_on", json!("1951-03-24")),
        ("record_number", json!("A 12-77")),
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
        ("label=a&target-systolic=125", "both numbers of a target"),
        (
            "label=a&target-systolic=75&target-diastolic=125&target-by=c&target-source=d",
            "both numbers of a target",
        ),
        ("label=a&target-by=clinic", "both numbers of a target"),
        (
            "label=a&target-systolic=125&target-diastolic=75",
            "Say who chose the target",
        ),
        (
            "label=a&target-systolic=125&target-diastolic=75&target-by=clinic",
            "Say who chose the target",
        ),
        (
            "label=a&target-systolic=125&target-diastolic=75&target-by=a%E2%80%AEb&target-source=d",
            "all of them visible",
        ),
        (
            "label=a&condition-pregnancy=yes&gave-birth=soon",
            "day of the birth",
        ),
        (
            "label=a&condition-pregnancy=yes&gave-birth=2999-01-01",
            "day of the birth",
        ),
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

/// By the page and by the command, in either language: on the lists, in the period, on *These days* and the sheet.
#[test]
fn a_target_says_who_chose_it_and_where_that_is_written() {
    let home = Home::new();
    let served = home.serve();
    let at = served.address();
    for nth in 0..8 {
        home.reading(nth * 12 * 3600 + 120, 128, 82, 0);
        home.reading(nth * 12 * 3600, 128, 82, 0);
    }
    let form = get(at, "/person?person=asha", "").body;
    assert!(form.contains("name=\"target-by\""), "{form}");
    let base = base_of(&form);
    let encoded: String = form_urlencoded::byte_serialize(base.as_bytes()).collect();
    let token = get(at, "/person", "").token();
    let send = |more: &str| {
        let form = format!("token={token}&person=asha&base={encoded}&label=Asha&{more}");
        post(at, "/person", &form, "")
    };
    let whole =
        "target-systolic=125&target-diastolic=75&target-by=Invented+Clinic&target-source=Letter+of+3+March";
    assert_eq!(send(whole).status, 303);
    assert_eq!(
        of(&home, "asha")["target"],
        json!({"systolic": 125.0, "diastolic": 75.0, "by": "Invented Clinic", "source": "Letter of 3 March"})
    );
    // Begun before that: both versions are shown, with the target.
    let late = send("target-systolic=130&target-diastolic=80&target-by=Another&target-source=Card");
    assert_eq!(late.status, 409, "{}", late.body);
    assert!(
        late.body
            .contains("125/75 mmHg; Invented Clinic; Letter of 3 March"),
        "{}",
        late.body
    );
    let period = home
        .json(&["period", "--json", "--person", "asha", "--days", "7"])
        .remove(0);
    assert_eq!(period["target"]["by"], "Invented Clinic", "{period}");
    for (path, says) in [
        ("/people", "Letter of 3 March"),
        (
            "/sheet/open?person=asha&days=7",
            "chosen by Invented Clinic; source: Letter of 3 March",
        ),
    ] {
        let body = get(at, path, "").body;
        assert!(body.contains(says), "{path}: {body}");
    }
    let hindi = get(at, "/person?person=asha", "Cookie: quietcuff-language=hi\r\n").body;
    assert!(
        hindi.contains("Invented Clinic") && hindi.contains("125"),
        "{hindi}"
    );
    // By the command, and taken back there.
    home.text(&[
        "people",
        "edit",
        "asha",
        "--target",
        "120/70",
        "--target-by",
        "Invented midwife",
        "--target-source",
        "card",
    ]);
    assert_eq!(of(&home, "asha")["target"]["by"], "Invented midwife");
    let list = home.text(&["people", "list"]);
    let list = list.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        list.contains("below which the average is to be: 120/70 (Invented midwife; card)"),
        "{list}"
    );
    home.text(&["people", "edit", "asha", "--clear", "target"]);
    assert!(of(&home, "asha")["target"].is_null());
}

/// The levels of pregnancy end by themselves, and the page says so for as long as it is news; the form then begins
/// anew.
#[test]
fn the_weeks_after_birth_end_and_are_said_to_have_ended() {
    let home = Home::new();
    let served = home.serve();
    let at = served.address();
    let zones = quietcuff::household::Zones::of(&home.journal().household().unwrap()).unwrap();
    let today = zones.civil(jiff::Timestamp::now()).date();
    let gave_birth = |days: i32| {
        let day = today.saturating_sub(jiff::Span::new().days(days)).to_string();
        home.text(&["people", "edit", "asha", "--condition", "pregnancy"]);
        home.text(&["people", "edit", "asha", "--gave-birth", &day]);
        day
    };
    home.reading(60, 149, 99, 0);
    let urgent = || get(at, "/?person=asha", "").body.contains("data-urgent");
    let ended = || {
        get(at, "/?person=asha", "")
            .body
            .contains("data-ended=\"pregnancy\"")
    };
    for (days, high, news) in [
        (55, true, false),
        (56, false, true),
        (69, false, true),
        (70, false, false),
    ] {
        gave_birth(days);
        assert_eq!((urgent(), ended()), (high, news), "{days} days");
    }
    // A birth says by itself what its condition is: by command and on the page.
    let day = today.saturating_sub(jiff::Span::new().days(10));
    home.text(&["people", "edit", "ravi", "--gave-birth", &day.to_string()]);
    assert_eq!(of(&home, "ravi")["conditions"], json!(["pregnancy"]));
    let token = get(at, "/person", "").token();
    let form = format!("token={token}&label=Mina&gave-birth={day}");
    assert_eq!(post(at, "/person", &form, "").status, 303);
    assert_eq!(of(&home, "mina")["conditions"], json!(["pregnancy"]));
    let day = gave_birth(60);
    assert!(
        get(at, "/people", "")
            .body
            .contains("the levels of pregnancy end on")
    );
    assert!(home.text(&["people", "list"]).contains("Gave birth on"));
    let due = home.json(&["remind", "list", "--json"]);
    assert!(
        due.iter()
            .any(|line| line["kind"] == "after-birth" && line["state"] == "due"),
        "{due:?}"
    );
    // Shown as over, and kept as it is by whoever changes something else.
    let form = get(at, "/person?person=asha", "").body;
    assert!(
        !form.contains("name=\"condition-pregnancy\" value=\"yes\" checked"),
        "{form}"
    );
    let base: String = form_urlencoded::byte_serialize(base_of(&form).as_bytes()).collect();
    let token = get(at, "/person", "").token();
    let send = |base: &str, more: &str| {
        post(
            at,
            "/person",
            &format!("token={token}&person=asha&base={base}&label=Asha&{more}"),
            "",
        )
        .status
    };
    assert_eq!(send(&base, "born=1990"), 303);
    let kept = of(&home, "asha");
    assert_eq!(
        (&kept["conditions"], &kept["gave_birth"]),
        (&json!(["pregnancy"]), &json!(day))
    );
    // Pregnant again.
    let form = get(at, "/person?person=asha", "").body;
    let base: String = form_urlencoded::byte_serialize(base_of(&form).as_bytes()).collect();
    assert_eq!(send(&base, "born=1990&condition-pregnancy=yes"), 303);
    let again = of(&home, "asha");
    assert!(
        again["gave_birth"].is_null() && again["conditions"] == json!(["pregnancy"]),
        "{again}"
    );
    assert!(urgent());
}
