//! The first run, those who share a monitor, those who are afar, and whom one calls.

use crate::harness::browser::{Browser, without};
use crate::harness::left_out::in_a_hurry;
use crate::harness::page::{Home, get, post};
use jiff::{SignedDuration, Timestamp};
use serde_json::json;

#[test]
fn an_empty_household_has_two_buttons() {
    let home = Home::of(&[], None);
    let served = home.serve();
    for path in ["/", "/week", "/earlier", "/notes", "/sheet", "/household"] {
        let page = get(served.address(), path, "");
        assert_eq!(page.status, 200, "{path}");
        for link in ["href=\"/person\"", "href=\"/monitors/pair\""] {
            assert!(page.body.contains(link), "{path} {link}");
        }
        assert!(!page.body.contains("people add"), "{path}");
    }
    for link in ["/person", "/monitors/pair"] {
        assert_eq!(get(served.address(), link, "").status, 200, "{link}");
    }
}

#[test]
fn who_shares_a_monitor_sees_who_is_next() {
    let home = Home::begun_today();
    let served = home.serve();
    let page = get(served.address(), "/", "").body;
    assert!(page.contains("<p class=\"who\"><bdi>Asha</bdi></p>"), "{page}");
    assert!(page.contains("<p class=\"turn\">Next: Ravi</p>"), "{page}");
    // Alone on a screen there is no next one.
    let alone = get(served.address(), "/?person=asha", "").body;
    assert!(!alone.contains("class=\"turn\""));
}

#[test]
fn one_look_shows_everybody() {
    let home = Home::new();
    home.reading(200, 128, 82, 0);
    home.reading(65, 126, 81, 0);
    let served = home.serve();
    let page = get(served.address(), "/household", "").body;
    assert!(page.contains(">Asha<") && page.contains(">Ravi<") && page.contains("Not begun yet"));
    // Asha's morning of today is complete; days without a session are said.
    assert!(page.contains("data-place=\"complete\""));
    assert!(page.contains("sessions of these days are missing"));
    assert!(page.contains("Invented monitor") && page.contains("Last reading: "));
    // A very high reading stands with its person, as what to do.
    home.reading(30, 190, 125, 0);
    let page = get(served.address(), "/household", "").body;
    assert!(
        page.contains("Measure again") || page.contains("Sit quietly"),
        "{page}"
    );
    if without() {
        return;
    }
    let mut browser = Browser::start();
    for (language, dark, width) in [
        ("en", false, 390),
        ("hi", true, 1280),
        ("hi", false, 320),
        ("de", false, 320),
    ] {
        let name = format!("{language} {width}");
        browser.told(json!({
            "do": "open", "page": name, "url": served.at("/household"), "language": language, "dark": dark,
            "width": width, "height": 844,
        }));
        browser.accessible(&name);
        let over = "document.documentElement.scrollWidth - document.documentElement.clientWidth";
        assert_eq!(browser.eval(&name, over), 0, "{name}");
    }
    browser.kept_to_itself();
}

/// What she who is afar looks for: who was told what, the average beside the one before, the battery, and what waits.
#[test]
fn one_look_shows_what_is_looked_for() {
    if in_a_hurry("what is looked for from afar") {
        return;
    }
    let home = Home::new();
    let ago = |days: i64, nth: i64| {
        let ago = SignedDuration::from_hours(days * 24) - SignedDuration::from_secs(nth * 90);
        Timestamp::now().checked_sub(ago).unwrap()
    };
    let heard: Vec<(Timestamp, Vec<u8>)> = (1..=16)
        .filter(|days| !(7..10).contains(days))
        .flat_map(|days| [0, 1].map(|nth| (days, nth)))
        .map(|(days, nth)| {
            let systolic: u8 = if days >= 10 { 144 } else { 132 };
            // 0x2A35 in mmHg, without stamp, pulse and status.
            (ago(days, nth), vec![0x00, systolic, 0, 84, 0, 0xff, 0x07])
        })
        .collect();
    home.measurements(&heard);
    for (days, length) in [(16, "7"), (6, "6")] {
        let from = home.day(-days);
        home.text(&[
            "period", "start", "--person", "asha", "--from", &from, "--days", length,
        ]);
    }
    home.battery(23);
    let mut journal = home.journal();
    let now = Timestamp::now();
    let keys = ["missed/asha/2026-03-02/evening", "urgent/asha/very-high/x"];
    for (key, route) in [(keys[0], "daughter"), (keys[1], "neighbour"), (keys[0], "<b>")] {
        journal.offer_alerts(now, &[(key, route)]).unwrap();
    }
    assert!(journal.claim_alert(now, keys[0], "daughter").unwrap());
    journal.alert_sent(now, keys[0], "daughter", None).unwrap();
    let served = home.serve();
    let page = get(served.address(), "/household", "").body;
    for said in [
        "Average 132/84 mmHg",
        "Before it 144/84 mmHg",
        "23 %, told",
        "A session was missed, by “daughter”",
        ": told</li>",
        "A reading or symptoms that must not wait, by “neighbour”",
        ": not told</li>",
        "“&lt;b&gt;”",
    ] {
        assert!(page.contains(said), "{said}: {page}");
    }
    if without() {
        return;
    }
    let mut browser = Browser::start();
    for (language, dark, width) in [
        ("en", true, 390),
        ("hi", false, 390),
        ("en", false, 1280),
        ("hi", true, 320),
    ] {
        let name = format!("{language} {width}");
        browser.told(json!({
            "do": "open", "page": name, "url": served.at("/household"), "language": language, "dark": dark,
            "width": width, "height": 844,
        }));
        browser.accessible(&name);
        let over = "document.documentElement.scrollWidth - document.documentElement.clientWidth";
        assert_eq!(browser.eval(&name, over), 0, "{name}");
    }
    browser.kept_to_itself();
}

/// Only what a key opens: somebody with a key of their own sees themselves.
#[test]
fn a_key_of_one_person_shows_that_person() {
    let home = Home::new();
    home.configure("");
    let key = home.text(&["keys", "add", "--role", "person", "--person", "ravi"]);
    let typed = key
        .split_whitespace()
        .find(|word| word.len() > 20)
        .unwrap()
        .to_owned();
    let served = crate::harness::page::served(home.command(&["serve", "--listen", "127.0.0.1:0"]));
    let at = served.address();
    let door = get(at, "/", "");
    let back = post(at, "/key", &format!("key={typed}&token={}", door.token()), "");
    let cookie = back
        .header("Set-Cookie")
        .unwrap()
        .split(';')
        .next()
        .unwrap()
        .to_owned();
    let page = get(at, "/household", &format!("Cookie: {cookie}\r\n"));
    assert_eq!(page.status, 200);
    assert!(page.body.contains(">Ravi<") && !page.body.contains(">Asha<"));
}

#[test]
fn whom_to_call_can_be_tapped() {
    let home = Home::new();
    home.configure(
        "[emergency]\nnumber = \"112\"\ncontact = \"+49 (30) 1234-56\"\ncontact-name = \"Meera <b>\"\n",
    );
    let served = home.serve();
    let at = served.address();
    let door = get(at, "/notes?person=asha", "");
    assert!(!get(at, "/?person=asha", "").body.contains("tel:"));
    let form = format!("person=asha&what=chest-pain&token={}", door.token());
    let cookie = door
        .header("Set-Cookie")
        .map(|cookie| format!("Cookie: {cookie}\r\n"))
        .unwrap_or_default();
    for page in [
        post(at, "/notes", &form, &cookie).body,
        get(at, "/?person=asha", "").body,
    ] {
        assert!(page.contains("href=\"tel:112\""), "{page}");
        assert!(page.contains("href=\"tel:+4930123456\""), "{page}");
        assert!(page.contains("Meera &lt;b&gt;") && !page.contains("Meera <b>"));
    }
    // Who has no key is told the number, and not the contact.
    let closed = crate::harness::page::served(home.command(&["serve", "--listen", "127.0.0.1:0"]));
    let stranger = post(closed.address(), "/notes", "person=asha&what=chest-pain", "").body;
    assert!(
        stranger.contains("tel:112") && !stranger.contains("4930123456"),
        "{stranger}"
    );
}

#[test]
fn a_number_that_cannot_be_dialled_is_refused() {
    let home = Home::new();
    for wrong in [
        "number = \"call me\"",
        "number = \"1\"",
        "contact-name = \"\"",
        "numbre = \"112\"",
    ] {
        home.configure(&format!("[emergency]\n{wrong}\n"));
        let output = home
            .command(&["serve", "--listen", "127.0.0.1:0"])
            .output()
            .unwrap();
        assert_eq!(output.status.code(), Some(78), "{wrong}: {output:?}");
        let said = String::from_utf8(output.stderr).unwrap();
        assert!(
            said.contains("quietcuff.toml") && !said.contains("os error"),
            "{said}"
        );
    }
}
