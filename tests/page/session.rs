//! Sittings, from rest to done, with nobody touching the page but where a person would.

use crate::harness::browser::{Browser, without};
use crate::harness::page::Home;

/// Bits of the Measurement Status (Blood Pressure Service 3.1.1.5).
const MOVED: u16 = 1;

#[test]
fn a_whole_session_with_a_third_reading() {
    if without() {
        return;
    }
    let home = Home::begun_today();
    let served = home.serve();
    let mut browser = Browser::start();
    browser.open("kitchen", &served.at("/"));
    browser.open("son", &served.at("/?person=asha"));
    browser.step("kitchen", "rest");
    assert_eq!(browser.text("kitchen", "#now h1"), "Sit down and rest");
    assert_eq!(
        browser.eval("kitchen", "document.querySelectorAll('.technique li').length"),
        7
    );

    // Anybody starts the rest; everybody sees it, and it counts.
    browser.click("kitchen", "#rest .start");
    for page in ["kitchen", "son"] {
        browser.step(page, "resting");
        browser.wait(
            page,
            "/^4:5\\d$/.test(document.querySelector('#now .countdown').textContent)",
        );
    }
    let before = browser.text("son", ".countdown");
    browser.wait(
        "son",
        &format!("document.querySelector('.countdown').textContent < '{before}'"),
    );

    // The cuff as it rises and falls.
    home.cuff(120);
    browser.step("son", "measuring");
    home.cuff(168);
    browser.wait(
        "son",
        "document.querySelector('.cuff .number').textContent === '168'",
    );
    assert!(browser.text("son", ".cuff").contains("rising"));
    home.cuff(151);
    browser.wait(
        "son",
        "document.querySelector('.cuff .number').textContent === '151'",
    );
    assert!(browser.text("son", ".cuff").contains("falling"));

    // The reading lands; its minute is over already, since it was heard two minutes ago.
    home.reading(130, 151, 92, 0);
    browser.step("son", "second");
    assert_eq!(browser.text("son", ".sitting .values"), "151/92");
    assert!(
        !browser.text("son", ".sitting").contains("only reading"),
        "the session goes on"
    );

    // The second lies far from the first: a third, in a minute that is counted down to the second.
    home.reading(58, 131, 84, 0);
    browser.step("son", "wait");
    assert!(browser.text("son", ".say").contains("third reading comes next"));
    browser.wait(
        "son",
        "/^0:0[0-3]$/.test(document.querySelector('#now .countdown').textContent)",
    );
    browser.step("son", "third");
    assert!(browser.text("son", ".say").contains("more than 10 mmHg apart"));
    home.reading(0, 133, 85, 0);
    browser.step("kitchen", "done");
    browser.step("son", "done");
    let said = browser.text("son", "#now");
    for words in [
        "Take the cuff off",
        "Next session: evening, today from 17:00",
        "What was good",
        "3 readings",
        "For next time",
    ] {
        assert!(said.contains(words), "{words}: {said}");
    }
    // Said aloud once, for whoever does not see it.
    assert!(browser.text("son", "#heard").starts_with("Done."));
    browser.accessible("son");
    browser.kept_to_itself();
}

#[test]
fn a_reading_that_was_set_aside_is_taken_again() {
    if without() {
        return;
    }
    let home = Home::begun_today();
    let served = home.serve();
    let mut browser = Browser::start();
    browser.open("page", &served.at("/"));
    browser.step("page", "rest");
    home.reading(57, 139, 88, MOVED);
    browser.step("page", "repeat");
    assert_eq!(browser.text("page", "#now h1"), "Wait, then measure again");
    let said = browser.text("page", "#now");
    assert!(
        said.contains("The monitor felt movement. Keep still while the cuff works."),
        "{said}"
    );
    assert!(said.contains("set aside"), "{said}");
    browser.accessible("page");
    browser.wait(
        "page",
        "document.querySelector('#now h1').textContent === 'Measure again'",
    );
    home.reading(0, 134, 86, 0);
    browser.step("page", "wait");
}

#[test]
fn a_very_high_reading_with_symptoms_outranks_everything() {
    if without() {
        return;
    }
    let home = Home::begun_today();
    let served = home.serve();
    let mut browser = Browser::start();
    browser.open("page", &served.at("/"));
    home.reading(2, 192, 114, 0);
    browser.step("page", "help");
    assert_eq!(browser.text("page", "#now h1"), "Sit quietly");
    let said = browser.text("page", "#now");
    assert!(
        said.contains("180 or above, or 110 or above for the lower number"),
        "{said}"
    );
    assert!(browser.text("page", "#urgent").contains("A reading is very high"));
    browser.click("page", "#unwell");
    browser.click("page", "button[value=chest-pain]");
    // The words need no journal; what became of the note follows in the same page.
    browser.wait("page", "document.querySelector('.outcome a.button') !== null");
    assert_eq!(browser.text("page", "h1"), "Call your emergency number now");
    assert!(browser.text("page", ".outcome").contains("Noted at"));
    browser.accessible("page");
    browser.click("page", ".outcome a.button");
    browser.step("page", "emergency");
    assert_eq!(browser.text("page", "#now h1"), "Call your emergency number now");
    browser.accessible("page");
    // Not even the cuff at work takes its place, nor another person's session.
    home.cuff(150);
    browser.wait("page", "document.querySelector('.cuff') !== null");
    browser.step("page", "emergency");
    browser.goto("page", &served.at("/"));
    browser.step("page", "emergency");
}

/// Somebody with an old browser, or none of the script.
#[test]
fn without_script_the_state_is_told_all_the_same() {
    if without() {
        return;
    }
    let home = Home::begun_today();
    let served = home.serve();
    home.reading(70, 128, 82, 0);
    let mut browser = Browser::start();
    browser.told(serde_json::json!({ "do": "open", "page": "old", "url": served.at("/?person=asha"), "script": false }));
    let page = crate::harness::page::get(served.address(), "/?person=asha", "");
    assert!(
        page.body
            .contains("<noscript><meta http-equiv=\"refresh\" content=\"5\"></noscript>")
    );
    assert!(
        page.body.contains("Take the second reading now."),
        "{}",
        page.body
    );
    browser.click("old", "nav.pages a[href^='/notes']");
    browser.click("old", "button[value=coffee]");
    let noted = home.json(&["note", "list", "--json"]);
    assert_eq!(noted[0]["what"], "coffee");
}

#[test]
fn a_reading_of_nobody_is_somebodys_after_one_tap() {
    if without() {
        return;
    }
    let home = Home::of(&[("asha", "Asha"), ("ravi", "Ravi")], None);
    let served = home.serve();
    home.reading(30, 128, 82, 0);
    let mut browser = Browser::start();
    browser.open("page", &served.at("/questions"));
    assert_eq!(browser.text("page", ".question h2"), "Whose was this?");
    assert_eq!(browser.text("page", "nav .count"), "1");
    browser.accessible("page");
    browser.click("page", "button[name=person][value=ravi]");
    browser.wait(
        "page",
        "document.body.innerText.includes('Nothing waits for an answer')",
    );
    let readings = home.json(&["readings", "--json"]);
    assert_eq!(readings[0]["person"], "ravi");
    assert_eq!(
        browser.eval("page", "document.querySelector('nav .count')"),
        serde_json::Value::Null
    );
}

/// One answer for a monitor that one person uses: what waited and what comes is theirs too.
#[test]
fn one_answer_settles_all_that_a_monitor_sends() {
    if without() {
        return;
    }
    let home = Home::of(&[("asha", "Asha"), ("ravi", "Ravi")], None);
    let served = home.serve();
    home.reading(300, 128, 82, 0);
    home.reading(200, 131, 84, 0);
    let mut browser = Browser::start();
    browser.open("page", &served.at("/questions"));
    browser.click("page", ".question input[name=always]");
    browser.click("page", ".question button[name=person][value=ravi]");
    browser.wait(
        "page",
        "document.body.innerText.includes('Nothing waits for an answer')",
    );
    home.reading(30, 126, 80, 0);
    let readings = home.json(&["readings", "--json"]);
    assert_eq!(readings.len(), 3);
    assert!(
        readings.iter().all(|reading| reading["person"] == "ravi"),
        "{readings:?}"
    );
    browser.goto("page", &served.at("/monitors"));
    assert!(browser.text("page", ".monitor").contains("Ravi"));
}

#[test]
fn a_report_is_made_on_the_spot() {
    if without() {
        return;
    }
    let home = Home::begun_today();
    let served = home.serve();
    home.reading(130, 128, 82, 0);
    home.reading(60, 126, 81, 0);
    let mut browser = Browser::start();
    browser.open("page", &served.at("/sheet?person=asha"));
    browser.click("page", "button[value=html]");
    assert_eq!(browser.text("page", "h1"), "Home blood pressure of Asha");
    assert!(browser.text("page", "main").contains("128/82"));
    let pdf = crate::harness::page::get(served.address(), "/sheet/open?person=asha&as=pdf", "");
    assert_eq!(pdf.header("content-type"), Some("application/pdf"));
    assert!(pdf.body.starts_with("%PDF-"), "{}", pdf.head);
    browser.kept_to_itself();
}
