//! Whose it is, and who changed it, on the page: numbers that change hands, readings that were given to the wrong
//! person, and two people who change the same.

use crate::harness::browser::{Browser, without};
use crate::harness::left_out::in_a_hurry;
use crate::harness::page::{Home, get, post};
use crate::page::access::{enter, guarded, key};
use serde_json::{Value, json};

fn owner(home: &Home, nth: usize) -> Value {
    home.json(&["readings", "--json"])[nth]["person"].clone()
}

fn of(home: &Home, id: &str) -> Value {
    let people = home.json(&["people", "list", "--json"]);
    people.into_iter().find(|one| one["id"] == id).unwrap()
}

/// The value of a hidden field, with its entities undone.
fn hidden(body: &str, name: &str) -> String {
    let behind = body.split(&format!("name=\"{name}\" value=\"")).nth(1).unwrap();
    let value = behind.split('"').next().unwrap();
    value.replace("&quot;", "\"").replace("&amp;", "&")
}

fn form(fields: &[(&str, &str)]) -> String {
    let mut form = form_urlencoded::Serializer::new(String::new());
    form.extend_pairs(fields);
    form.finish()
}

#[test]
fn a_number_is_taken_from_somebody_only_with_the_count_in_sight() {
    let home = Home::new();
    for ago in [7200, 3600, 60] {
        home.reading(ago, 120, 80, 0);
    }
    let served = home.serve();
    let at = served.address();
    let page = get(at, "/monitors", "");
    let token = page.token();
    let wish = [
        ("token", token.as_str()),
        ("monitor", "m1"),
        ("number", "none"),
        ("person", "ravi"),
        ("since", "beginning"),
    ];
    let asked = post(at, "/monitors/number", &form(&wish), "");
    assert_eq!(asked.status, 409);
    assert!(
        asked.body.contains("3 readings of Asha would be Ravi’s"),
        "{}",
        asked.body
    );
    assert_eq!(owner(&home, 0), "asha");
    // The count of another moment confirms nothing.
    home.reading(1, 121, 80, 0);
    let confirm = |count: &str| {
        post(
            at,
            "/monitors/number",
            &form(&[&wish[..], &[("moves", count)]].concat()),
            "",
        )
    };
    assert_eq!(confirm("3").status, 409);
    assert_eq!(owner(&home, 0), "asha");
    assert_eq!(confirm("4").status, 303);
    assert_eq!(owner(&home, 0), "ravi");
    for (name, value) in [
        ("monitor", "m9"),
        ("person", "nobody"),
        ("number", "x"),
        ("since", "ever"),
    ] {
        let mut wrong = wish;
        wrong.iter_mut().find(|(field, _)| *field == name).unwrap().1 = value;
        let status = post(at, "/monitors/number", &form(&wrong), "").status;
        assert!([404, 422].contains(&status), "{name}: {status}");
    }
}

#[test]
fn a_monitor_is_lent_until_a_moment_and_handed_back() {
    let home = Home::new();
    home.reading(7200, 120, 80, 0);
    let served = home.serve();
    let at = served.address();
    let send = |more: &[(&str, &str)]| {
        let token = get(at, "/monitors", "").token();
        let fixed = [("token", token.as_str()), ("monitor", "m1"), ("number", "2")];
        post(at, "/monitors/number", &form(&[&fixed[..], more].concat()), "").status
    };
    let lent = [
        ("person", "ravi"),
        ("since", "now"),
        ("until", "2999-12-31T08:00"),
    ];
    assert_eq!(send(&lent), 303);
    let page = get(at, "/monitors", "").body;
    assert!(page.contains("number 2: Ravi (since "), "{page}");
    assert!(page.contains("until Tuesday 31 December 2999, 08:00"), "{page}");
    let whose = || home.json(&["monitors", "list", "--json"])[0]["whose"].clone();
    let two = &whose()[1];
    assert_eq!((&two["user_id"], &two["person"]), (&json!(2), &json!("ravi")));
    assert!(two["since"].is_string() && two["until"].is_string(), "{two}");
    let listed = home
        .text(&["monitors", "list"])
        .split_whitespace()
        .collect::<Vec<_>>()
        .join(" ");
    assert!(
        listed.contains("Whose: Asha") && listed.contains("number 2: Ravi (since "),
        "{listed}"
    );
    // An end before its beginning, and an end of nobody's.
    for wrong in [
        [
            ("person", "ravi"),
            ("since", "now"),
            ("until", "2001-01-01T08:00"),
        ],
        [("person", "- -"), ("since", "now"), ("until", "2999-01-01T08:00")],
        [("person", "ravi"), ("since", "now"), ("until", "soon")],
    ] {
        assert_eq!(send(&wrong), 422, "{wrong:?}");
    }
    // The button beside it: nothing of his moves, so nothing is asked.
    assert_eq!(page.matches("Handed back").count(), 2, "{page}");
    assert_eq!(send(&[("person", "- -"), ("since", "now")]), 303);
    assert_eq!(whose().as_array().unwrap().len(), 1, "{}", whose());
    assert!(!get(at, "/monitors", "").body.contains("number 2: Ravi"));
    assert_eq!(owner(&home, 0), "asha");
}

#[test]
fn what_was_given_to_the_wrong_person_is_taken_back_by_whoever_may() {
    let home = Home::new();
    home.reading(3600, 120, 80, 0);
    let served = guarded(&home);
    let at = served.address();
    let id = home.json(&["readings", "--json"])[0]["id"]
        .as_str()
        .unwrap()
        .to_owned();
    let path = format!("/reading?reading={id}");
    let (carer, asha, ravi, clinic) = (
        enter(at, &key(&home, &["--role", "caregiver"])).unwrap(),
        enter(at, &key(&home, &["--role", "person", "--person", "asha"])).unwrap(),
        enter(at, &key(&home, &["--role", "person", "--person", "ravi"])).unwrap(),
        enter(at, &key(&home, &["--role", "clinician", "--until", "2099-01-01"])).unwrap(),
    );
    let say = |who: &str, field: (&str, &str)| {
        let page = get(at, &path, who);
        if page.status != 200 || !page.body.contains("name=\"saw\"") {
            let token = get(at, "/", who).token();
            let form = form(&[("token", &token), ("reading", &id), field, ("saw", "asha - -")]);
            return post(at, "/reading", &form, who).status;
        }
        let (token, saw) = (page.token(), hidden(&page.body, "saw"));
        let form = form(&[("token", &token), ("reading", &id), ("saw", &saw), field]);
        post(at, "/reading", &form, who).status
    };
    // Whose page does not show it may not say anything of it either.
    assert_eq!(get(at, &path, &ravi).status, 404);
    assert_eq!(say(&ravi, ("discard", "yes")), 404);
    assert_eq!(say(&clinic, ("discard", "yes")), 403);
    assert_eq!(say(&asha, ("person", "ravi")), 403);
    assert_eq!(owner(&home, 0), "asha");
    assert_eq!(say(&carer, ("person", "ravi")), 303);
    assert_eq!(owner(&home, 0), "ravi");
    // Where it was answered it stands, to be taken back.
    assert!(get(at, "/questions", &carer).body.contains(&path));
    assert_eq!(get(at, &path, &asha).status, 404);
    assert_eq!(say(&carer, ("take-back", "whose")), 303);
    assert_eq!(owner(&home, 0), "asha");
    assert_eq!(say(&asha, ("discard", "yes")), 303);
    assert_eq!(home.json(&["readings", "--json"])[0]["disposition"], "set-aside");
    assert_eq!(say(&asha, ("take-back", "discard")), 303);
    assert_ne!(home.json(&["readings", "--json"])[0]["disposition"], "set-aside");
    // A form from before somebody else's answer changes nothing.
    let old = get(at, &path, &carer);
    assert_eq!(say(&carer, ("person", "ravi")), 303);
    let again = form(&[
        ("token", &old.token()),
        ("reading", &id),
        ("saw", &hidden(&old.body, "saw")),
        ("discard", "yes"),
    ]);
    let late = post(at, "/reading", &again, &carer);
    assert_eq!(late.status, 409);
    assert!(late.body.contains("Somebody else changed this meanwhile"));
    assert_ne!(home.json(&["readings", "--json"])[0]["disposition"], "set-aside");
}

/// The tablet on the wall was open since yesterday: nothing that was decided meanwhile is lost by saving there.
#[test]
fn an_open_form_erases_nothing_that_another_changed() {
    let home = Home::new();
    let served = home.serve();
    let at = served.address();
    let tablet = get(at, "/person?person=asha", "");
    let phone = get(at, "/person?person=asha", "");
    home.text(&[
        "people",
        "edit",
        "asha",
        "--condition",
        "pregnancy",
        "--threshold",
        "130/80",
    ]);
    let decided = of(&home, "asha");
    let send = |base: &str, label: &str, born: &str, more: &[(&str, &str)]| {
        let fields = [
            ("token", tablet.token().as_str()),
            ("person", "asha"),
            ("base", base),
            ("label", label),
            ("born", born),
            ("protocol", "seven-day"),
        ]
        .map(|(name, value)| (name, value.to_owned()));
        let mut fields: Vec<(&str, &str)> = fields
            .iter()
            .map(|(name, value)| (*name, value.as_str()))
            .collect();
        fields.extend(more);
        post(at, "/person", &form(&fields), "")
    };
    let refused = send(&hidden(&tablet.body, "base"), "Asha", "1951", &[]);
    assert_eq!(refused.status, 409);
    assert_eq!(of(&home, "asha"), decided);
    // Both versions are in sight, and the form below holds what is so now with what was changed.
    let text = &refused.body;
    assert!(
        text.contains("When you began") && text.contains("130/80 mmHg") && text.contains("1951"),
        "{text}"
    );
    let checked = "name=\"condition-pregnancy\" value=\"yes\" checked";
    assert!(
        text.contains(checked) && text.contains("value=\"130\"") && text.contains("value=\"1951\""),
        "{text}"
    );
    let merged = [
        ("condition-pregnancy", "yes"),
        ("threshold-systolic", "130"),
        ("threshold-diastolic", "80"),
    ];
    assert_eq!(send(&hidden(text, "base"), "Asha", "1951", &merged).status, 303);
    let mut both = decided;
    both["born"] = json!(1951);
    assert_eq!(of(&home, "asha"), both);
    // The other browser began before all of that.
    assert_eq!(send(&hidden(&phone.body, "base"), "Asha D.", "", &[]).status, 409);
    // A form that does not say what it was begun from was begun from nothing.
    assert_eq!(send("", "Asha D.", "", &[]).status, 409);
    assert_eq!(of(&home, "asha"), both);
    let body: String = rusqlite::Connection::open(home.state().join("journal.sqlite"))
        .unwrap()
        .query_row("SELECT body FROM statement ORDER BY id DESC LIMIT 1", [], |row| {
            row.get(0)
        })
        .unwrap();
    assert_eq!(
        body,
        r#"{"kind":"person-changed","person":"asha","changes":[{"born":1951}]}"#
    );
}

#[test]
fn two_browsers_and_the_pages_of_a_reading_and_a_number() {
    if in_a_hurry("two browsers at once") || without() {
        return;
    }
    let home = Home::new();
    home.reading(3600, 120, 80, 0);
    let served = home.serve();
    let mut browser = Browser::start();
    for page in ["one", "two"] {
        browser.open(page, &served.at("/person?person=asha"));
    }
    browser.click("one", "[name=condition-dialysis]");
    browser.click("one", ".facts button");
    browser.wait("one", "location.pathname === '/people'");
    browser.fill("two", "[name=born]", "1951");
    browser.click("two", ".facts button");
    browser.wait("two", "document.querySelector('table.versions') !== null");
    browser.accessible("two");
    assert_eq!(of(&home, "asha")["born"], json!(null));
    let kept = "document.querySelector('[name=condition-dialysis]').checked";
    assert_eq!(browser.eval("two", kept), true);
    browser.click("two", ".facts button[type=submit]");
    browser.wait("two", "location.pathname === '/people'");
    let asha = of(&home, "asha");
    assert_eq!(
        (&asha["born"], &asha["conditions"]),
        (&json!(1951), &json!(["dialysis"]))
    );
    browser.goto("one", &served.at("/earlier?person=asha"));
    browser.click("one", ".values a");
    browser.wait("one", "location.pathname === '/reading'");
    browser.accessible("one");
    browser.click("one", "button[value=ravi]");
    browser.wait("one", "document.querySelector('[value=whose]') !== null");
    assert_eq!(owner(&home, 0), "ravi");
    browser.click("one", "[value=whose]");
    browser.wait("one", "document.querySelector('[value=whose]') === null");
    assert_eq!(owner(&home, 0), "asha");
    browser.goto("one", &served.at("/monitors"));
    browser.click("one", "details.handover summary");
    browser.accessible("one");
    browser.eval(
        "one",
        "document.querySelector('.handover [name=person]').value = 'ravi'",
    );
    browser.click("one", "[name=since][value=beginning]");
    browser.click("one", "details.handover button");
    browser.wait("one", "document.querySelector('[name=moves]') !== null");
    browser.accessible("one");
    browser.click("one", "[name=moves]");
    browser.wait("one", "location.pathname === '/monitors'");
    assert_eq!(owner(&home, 0), "ravi");
    browser.kept_to_itself();
}

/// The confusables are those of Unicode; the letters are Cyrillic and Greek, the space has no width.
#[test]
fn names_that_look_alike_are_refused_by_command_and_page() {
    let home = Home::new();
    let served = home.serve();
    let at = served.address();
    let token = get(at, "/person", "").token();
    let before = home.json(&["people", "list", "--json"]);
    for (label, command, page) in [
        ("\u{410}sha", "looks like \"Asha\"", "looks like “Asha”"),
        ("R\u{430}vi", "looks like \"Ravi\"", "looks like “Ravi”"),
        ("As\u{200d}ha", "looks like \"Asha\"", "looks like “Asha”"),
        ("As\u{200b}ha", "U+200B", "a character that nobody sees"),
        ("ah\u{202e}sA", "U+202E", "a character that nobody sees"),
    ] {
        let ran = home
            .command(&["people", "add", "p9", "--label", label])
            .output()
            .unwrap();
        let said = String::from_utf8(ran.stderr).unwrap();
        assert!(
            ran.status.code() == Some(64) && said.contains(command),
            "{label:?}: {said}"
        );
        let answer = post(at, "/person", &form(&[("token", &token), ("label", label)]), "");
        assert!(
            answer.status == 422 && answer.body.contains(page),
            "{label:?}: {}",
            answer.body
        );
    }
    let ran = home
        .command(&["people", "add", "\u{430}sha", "--label", "Else"])
        .output()
        .unwrap();
    let said = String::from_utf8(ran.stderr).unwrap();
    assert!(
        ran.status.code() == Some(64) && said.contains("looks like \"asha\""),
        "{said}"
    );
    assert_eq!(home.json(&["people", "list", "--json"]), before);
    // Another alphabet that looks like nobody's name is a name.
    home.text(&["people", "add", "p9", "--label", "Оля ❤\u{fe0f}"]);
}
