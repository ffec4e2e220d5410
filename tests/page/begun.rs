//! *Now* where nothing is due by a plan: nobody began anything, the first day is to come, the last one is over.

use crate::harness::browser::{Browser, without};
use crate::harness::left_out::in_a_hurry;
use crate::harness::page::{Home, Served, get, post};
use serde_json::json;

fn starts(home: &Home, person: &str, from_now: i64, days: &str) {
    let from = home.day(from_now);
    home.text(&[
        "period", "start", "--person", person, "--from", &from, "--days", days,
    ]);
}

/// What the page says to somebody, without what stands around it.
fn now(served: &Served, person: &str) -> String {
    let page = get(served.address(), &format!("/?person={person}"), "").body;
    let behind = page.split("id=\"now\"").nth(1).unwrap().to_owned();
    behind.split("<footer").next().unwrap().to_owned()
}

#[test]
fn nobody_is_told_to_rest_before_anything_was_begun() {
    let home = Home::new();
    let served = home.serve();
    let at = served.address();
    let page = now(&served, "asha");
    assert!(
        page.contains("Not begun yet") && !page.contains("Sit down"),
        "{page}"
    );
    assert!(page.contains(">Begin 7 days today for Asha</button>"), "{page}");
    assert!(page.contains("I feel unwell"));
    // The command says the same, of this moment.
    let said = home.json(&["next", "--json", "--person", "asha"]).remove(0);
    assert_eq!(said["state"], "not-due");
    let say = said["say"].as_str().unwrap();
    assert!(say.contains("`quietcuff period start --person asha`"), "{say}");
    // The button begins, and leads back to where it stands.
    let door = get(at, "/?person=asha", "");
    let form = format!("person=asha&back=person&token={}", door.token());
    let begun = post(at, "/period", &form, "");
    assert_eq!(
        (begun.status, begun.header("Location")),
        (303, Some("/?person=asha"))
    );
    assert!(now(&served, "asha").contains("Sit down and rest"));
    assert_eq!(
        home.json(&["next", "--json", "--person", "asha"])[0]["state"],
        "rest"
    );
    // Where everybody is shown, whoever has something to do stands first.
    let all = get(at, "/", "").body;
    assert!(
        all.contains("Sit down and rest") && all.contains("Ravi</bdi></a>: Not begun yet"),
        "{all}"
    );
}

/// A reading that comes all the same is led through its session.
#[test]
fn who_measures_all_the_same_is_led_on() {
    let home = Home::new();
    let served = home.serve();
    home.reading(70, 128, 82, 0);
    assert!(now(&served, "asha").contains("Take the second reading now."));
}

#[test]
fn before_the_first_day_and_after_the_last_nothing_is_due() {
    let home = Home::new();
    starts(&home, "asha", 1, "7");
    starts(&home, "ravi", -3, "3");
    let served = home.serve();
    let asha = now(&served, "asha");
    assert!(
        asha.contains("Nothing to do now") && asha.contains("The days begin tomorrow."),
        "{asha}"
    );
    assert!(asha.contains("Next session: morning, tomorrow from"), "{asha}");
    let ravi = now(&served, "ravi");
    assert!(
        ravi.contains("These days are over") && ravi.contains("Begin 7 days today for Ravi"),
        "{ravi}"
    );
    assert!(ravi.contains("href=\"/week?person=ravi\""), "{ravi}");
    let said = |person: &str| home.json(&["next", "--json", "--person", person]).remove(0);
    assert!(
        said("asha")["because"]
            .as_str()
            .unwrap()
            .starts_with("the days begin on ")
    );
    assert!(
        said("ravi")["because"]
            .as_str()
            .unwrap()
            .starts_with("the days ended on ")
    );
    // Nowhere is a button that could not do what it says: two periods would overlap.
    for path in ["/week?person=asha", "/people"] {
        let page = get(served.address(), path, "").body;
        assert!(page.contains("The days begin tomorrow."), "{path}");
        assert!(!page.contains("value=\"asha\">Begin"), "{path}");
    }
    // Between two periods the next one is told.
    starts(&home, "ravi", 2, "7");
    let ravi = now(&served, "ravi");
    assert!(
        ravi.contains("Nothing to do now") && ravi.contains("The days begin on "),
        "{ravi}"
    );
}

/// The button follows whoever stands first, also where the page learns of it while it is open.
#[test]
fn the_button_is_for_whom_the_page_shows() {
    if without() {
        return;
    }
    let home = Home::new();
    starts(&home, "asha", 1, "7");
    let served = home.serve();
    let mut browser = Browser::start();
    browser.open("page", &served.at("/"));
    browser.step("page", "not-due");
    assert_eq!(
        browser.eval("page", "document.querySelector('#begin').offsetHeight"),
        0
    );
    home.text(&["people", "remove", "asha"]);
    browser.step("page", "not-begun");
    assert_eq!(
        browser.text("page", "#begin button"),
        "Begin 7 days today for Ravi"
    );
    browser.click("page", "#begin button");
    browser.step("page", "rest");
    assert_eq!(
        home.json(&["period", "list", "--json"]).last().unwrap()["person"],
        "ravi"
    );
    browser.kept_to_itself();
}

#[test]
fn every_reader_can_begin() {
    if in_a_hurry("the beginning in each width") || without() {
        return;
    }
    let home = Home::new();
    starts(&home, "ravi", -3, "3");
    let served = home.serve();
    let mut browser = Browser::start();
    for (language, width, dark) in [("en", 390, false), ("hi", 320, true), ("hi", 1280, false)] {
        let page = format!("{language} {width}");
        browser.told(json!({
            "do": "open", "page": page, "url": served.at("/"), "language": language, "dark": dark,
            "width": width, "height": 800,
        }));
        for person in ["asha", "ravi"] {
            browser.goto(&page, &served.at(&format!("/?person={person}")));
            browser.accessible(&page);
            let over = "document.documentElement.scrollWidth - document.documentElement.clientWidth";
            assert_eq!(browser.eval(&page, over), 0, "{page} {person}");
        }
    }
    // By keyboard, and without a script.
    browser.told(json!({ "do": "open", "page": "old", "url": served.at("/?person=asha"), "script": false }));
    browser.eval("old", "document.querySelector('#begin button').focus()");
    browser.told(json!({ "do": "press", "page": "old", "key": "Enter" }));
    browser.wait(
        "old",
        "document.querySelector('#now .step')?.dataset.step === 'rest'",
    );
    browser.kept_to_itself();
}
