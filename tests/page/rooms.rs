//! Listeners on the page: how each is, and letting one in by a code that a camera reads, by a reader that none of us wrote.

use super::access::{enter, guarded, key};
use super::card::{nothing_scans, scanned};
use super::listening::Ends;
use crate::harness::browser::Browser;
use crate::harness::command::{self, first_line};
use crate::harness::frames::stamped;
use crate::harness::left_out::in_a_hurry;
use crate::harness::page::{Home, get, post};
use jiff::Timestamp;
use quietcuff::frame::Frame;
use quietcuff::gatt::Characteristic;
use quietcuff::journal::Journal;
use serde_json::json;
use std::process::Stdio;

/// The record's door of a home, and where it is.
pub(super) fn door(home: &Home) -> (Ends, String) {
    let mut child = home
        .command(&["listeners", "receive", "--listen", "127.0.0.1:0"])
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let at = first_line(&mut child);
    (Ends(child), at)
}

/// A machine in another room, which has heard a monitor.
fn elsewhere() -> command::Home {
    let away = command::Home::new();
    let mut journal = Journal::open(&away.path(".local/state/quietcuff")).unwrap();
    let measured = stamped(0, Timestamp::now());
    let battery = Frame {
        characteristic: Characteristic::BATTERY_LEVEL,
        value: vec![55],
        ..measured.clone()
    };
    journal.append(&[measured, battery]).unwrap();
    away
}

#[test]
fn a_listener_is_let_in_and_withdrawn_on_the_page() {
    if in_a_hurry("a listener let in, in a browser") || nothing_scans() {
        return;
    }
    let (home, away) = (Home::new(), elsewhere());
    let (_door, at) = door(&home);
    let served = home.serve();
    let mut browser = Browser::start();
    browser.open("page", &served.at("/monitors"));
    browser.click("page", "a[href='/monitors/listeners']");
    // A page at this machine alone knows no address for others.
    assert_eq!(browser.eval("page", "document.querySelector('#at').value"), "");
    browser.fill("page", "#label", "bedroom");
    browser.fill("page", "#at", &at);
    browser.click("page", "button[value=invite]");
    browser.accessible("page");
    let code = browser.text("page", ".address");
    assert!(code.starts_with(&format!("quietcuff://{at}/")), "{code}");
    assert_eq!(scanned(&mut browser, "page", &home), code);
    assert!(browser.text("page", ".lead").contains("for 30 minutes"));
    away.run(&["record", "join", &code]).good();
    away.run(&["record", "hand-on", "--once"]).good();
    for (language, dark, width) in [("en", false, 390), ("de", true, 1024)] {
        let page = format!("{language} {width}");
        browser.told(json!({
            "do": "open", "page": page, "url": served.at("/monitors"), "language": language, "dark": dark,
            "width": width, "height": 844,
        }));
        let shown = browser.text(&page, "section[aria-labelledby=listener-l1]");
        for part in ["bedroom (l1)", env!("CARGO_PKG_VERSION"), "m1", "55 %"] {
            assert!(shown.contains(part), "{part}: {shown}");
        }
        browser.accessible(&page);
        let over = "document.documentElement.scrollWidth - document.documentElement.clientWidth";
        assert_eq!(browser.eval(&page, over), 0);
    }
    // A code is for one: the page does not show it again, and nobody else comes in by it.
    assert_eq!(browser.goto("page", &served.at("/monitors/listeners")), 200);
    assert_eq!(
        browser.eval("page", "document.querySelectorAll('.address').length"),
        0
    );
    elsewhere()
        .run(&["record", "join", &code])
        .failed(77, &["lets nobody in"]);
    browser.click("page", "summary");
    browser.click("page", "section[aria-labelledby=listener-l1] details button");
    assert!(
        browser
            .text("page", "section[aria-labelledby=listener-l1]")
            .contains("Withdrawn")
    );
    away.run(&["record", "hand-on", "--once"])
        .failed(77, &["withdrawn"]);
    browser.kept_to_itself();
}

#[test]
fn only_who_looks_after_the_household_lets_a_listener_in() {
    let home = Home::new();
    let (door, at) = door(&home);
    let served = guarded(&home);
    let address = served.address();
    let codes = || -> i64 {
        let db = rusqlite::Connection::open(home.state().join("journal.sqlite")).unwrap();
        db.query_row("SELECT count(*) FROM listener_code", [], |row| row.get(0))
            .unwrap()
    };
    let invite = format!("do=invite&label=bedroom&at={at}");
    for role in [
        &["--role", "clinician", "--until", "2099-01-01"][..],
        &["--role", "person", "--person", "asha"],
        &["--role", "caregiver", "--person", "ravi"],
    ] {
        let cookie = enter(address, &key(&home, role)).unwrap();
        assert_eq!(
            get(address, "/monitors/listeners", &cookie).status,
            403,
            "{role:?}"
        );
        let page = get(address, "/monitors", &cookie);
        assert!(!page.body.contains("/monitors/listeners"), "{role:?}");
        for pressed in [&*invite, "do=withdraw&listener=l1", "do=confirm&listener=l1"] {
            let form = format!("token={}&{pressed}", page.token());
            assert_eq!(
                post(address, "/monitors/listeners", &form, &cookie).status,
                403,
                "{role:?} {pressed}"
            );
        }
        for (path, pressed) in [
            ("/monitors/pair", "at=l1&do=look"),
            ("/monitors/forget", "at=l1&address=C0:FF:EE:00:00:01"),
        ] {
            let form = format!("token={}&{pressed}", page.token());
            assert_eq!(post(address, path, &form, &cookie).status, 403, "{role:?} {path}");
        }
    }
    assert_eq!(codes(), 0);
    let cookie = enter(address, &key(&home, &["--role", "caregiver"])).unwrap();
    let press = |form: &str| {
        let token = get(address, "/monitors/listeners", &cookie).token();
        post(
            address,
            "/monitors/listeners",
            &format!("token={token}&{form}"),
            &cookie,
        )
    };
    let long = format!("do=invite&at={at}&label={}", "x".repeat(81));
    for wrong in [
        "do=invite&at=two%20words",
        "do=invite&at=",
        "do=invite&label=a%0ab&at=a.example",
        &long,
    ] {
        assert_eq!(press(wrong).status, 422, "{wrong}");
    }
    for nobody in ["do=withdraw&listener=l9", "do=confirm&listener=l9", "do=withdraw"] {
        assert_eq!(press(nobody).status, 404, "{nobody}");
    }
    assert_eq!(codes(), 0);
    let shown = press(&invite);
    assert!(
        shown.status == 200 && shown.body.contains("quietcuff://"),
        "{}",
        shown.body
    );
    assert_eq!(codes(), 1);
    // Of the code nothing but its digest is kept.
    let secret = shown.body.split("quietcuff://").nth(1).unwrap();
    let secret = secret
        .split('<')
        .next()
        .unwrap()
        .rsplit('/')
        .next()
        .unwrap()
        .to_owned();
    assert_eq!(secret.len(), 26, "{secret}");
    for file in ["journal.sqlite", "journal.sqlite-wal"] {
        let kept = std::fs::read(home.state().join(file)).unwrap_or_default();
        assert!(
            !kept.windows(secret.len()).any(|part| part == secret.as_bytes()),
            "{file}"
        );
    }
    // Where nobody takes anything in, no code is made, and what to start is said.
    drop(door);
    let shown = press(&invite);
    assert!(
        shown.body.contains("quietcuff-receive") && !shown.body.contains("quietcuff://"),
        "{}",
        shown.body
    );
    assert_eq!(codes(), 1);
}
