//! Pairing from the page, with a stand-in at the collector's socket: what is typed goes there, what it says is shown.
//! The collector's own side is tried where it is written, and with a real stack in `tests/bench`.

use crate::harness::browser::{Browser, without};
use crate::harness::page::{Home, get, post};
use serde_json::{Value, json};
use std::io::{BufRead, BufReader, Write};
use std::os::unix::net::UnixListener;
use std::path::Path;
use std::sync::{Arc, Mutex};

const CANNOT_PAIR: &str = "C0:FF:EE:00:00:09";

fn collector(home: &Home) -> Arc<Mutex<Vec<Value>>> {
    collector_in(&home.state())
}

/// A collector of this directory that pairs as it is told, and keeps what it was asked.
pub(super) fn collector_in(state: &Path) -> Arc<Mutex<Vec<Value>>> {
    let asked: Arc<Mutex<Vec<Value>>> = Arc::default();
    let listener = UnixListener::bind(state.join("daemon.sock")).unwrap();
    let keep = asked.clone();
    std::thread::spawn(move || {
        let mut step = json!({ "pairing": "none" });
        for stream in listener.incoming() {
            let mut stream = stream.unwrap();
            let mut line = String::new();
            BufReader::new(&stream).read_line(&mut line).unwrap();
            let question: Value = serde_json::from_str(&line).unwrap();
            match question["ask"].as_str().unwrap() {
                "find" => {
                    let heard =
                        json!({ "address": crate::harness::page::MONITOR, "name": "<b>Invented</b>" });
                    step = json!({ "pairing": "heard", "monitors": [heard] });
                }
                // One that cannot pair, until it is asked without.
                "pair" if question["enrolment"]["address"] == CANNOT_PAIR => {
                    step = if question["enrolment"]["no_pairing"] == true {
                        json!({ "pairing": "done", "monitor": "m2" })
                    } else {
                        let enrolment = &question["enrolment"];
                        json!({ "pairing": "without-pairing", "why": "it refused", "enrolment": enrolment })
                    }
                }
                "pair" => step = json!({ "pairing": "asks" }),
                "passkey" => step = json!({ "pairing": "done", "monitor": "m1" }),
                _ => {}
            }
            let forgets = question["ask"] == "forget-at";
            // How it is, the page asks from time to time.
            if question["ask"] != "pairing" && question["ask"] != "status" {
                keep.lock().unwrap().push(question);
            }
            let answer = if forgets {
                json!({ "version": 1, "answer": "done" })
            } else {
                json!({ "version": 1, "answer": "pairing", "number": 1, "step": step })
            };
            writeln!(stream, "{answer}").unwrap();
        }
    });
    asked
}

#[test]
fn a_monitor_is_paired_with_its_passkey() {
    if without() {
        return;
    }
    let home = Home::new();
    let asked = collector(&home);
    let served = home.serve();
    let mut browser = Browser::start();
    browser.open("page", &served.at("/monitors"));
    browser.click("page", "a[href='/monitors/pair']");
    browser.accessible("page");
    browser.click("page", "button[value=look]");
    assert!(
        browser
            .text("page", "button.accent")
            .contains("Pair with <b>Invented</b>")
    );
    browser.accessible("page");
    browser.click("page", "input[name=whose][value=ravi]");
    browser.fill("page", "#called", " bedroom ");
    browser.click("page", "button.accent");
    browser.fill("page", "#digits", "012 345");
    browser.accessible("page");
    browser.click("page", "button.accent");
    assert_eq!(browser.text("page", "main .large"), "Paired and enrolled as m1.");
    assert_eq!(
        *asked.lock().unwrap(),
        [
            json!({ "version": 1, "ask": "find" }),
            json!({ "version": 1, "ask": "pair", "enrolment": {
                "address": crate::harness::page::MONITOR, "id": "bedroom", "person": "ravi", "users": [],
                "no_pairing": false, "seconds": 60,
            } }),
            json!({ "version": 1, "ask": "passkey", "digits": "012345" }),
        ]
    );
    browser.kept_to_itself();
}

/// Nothing is added without pairing unless somebody says so, and whose it is stays as it was said.
#[test]
fn one_that_cannot_pair_is_added_without_where_the_person_agrees() {
    let home = Home::new();
    let asked = collector(&home);
    let served = home.serve();
    let at = served.address();
    let token = get(at, "/monitors/pair", "").token();
    let pressed = format!("token={token}&address={CANNOT_PAIR}&whose=ravi&called=kitchen");
    assert_eq!(post(at, "/monitors/pair", &pressed, "").status, 303);
    let page = get(at, "/monitors/pair", "");
    for shown in [
        "It refused to pair",
        "it can be added without",
        "Add it without pairing",
    ] {
        assert!(page.body.contains(shown), "{shown}: {}", page.body);
    }
    assert!(
        page.body.contains(r#"name="whose" value="ravi""#),
        "{}",
        page.body
    );
    assert!(
        page.body.contains(r#"name="called" value="kitchen""#),
        "{}",
        page.body
    );
    let pressed = format!(
        "token={}&address={CANNOT_PAIR}&whose=ravi&called=&do=without",
        page.token()
    );
    assert_eq!(post(at, "/monitors/pair", &pressed, "").status, 303);
    assert!(get(at, "/monitors/pair", "").body.contains("enrolled as m2"));
    let asked = asked.lock().unwrap();
    let without: Vec<_> = asked
        .iter()
        .map(|asked| &asked["enrolment"]["no_pairing"])
        .collect();
    assert_eq!(without, [false, true]);
    assert_eq!(asked[1]["enrolment"]["person"], "ravi");
    assert_eq!(asked[0]["enrolment"]["id"], "kitchen");
    assert!(asked[1]["enrolment"]["id"].is_null(), "it gets the next free one");
}

#[test]
fn without_a_collector_it_says_so_and_nonsense_goes_nowhere() {
    let home = Home::new();
    let served = home.serve();
    let at = served.address();
    let page = get(at, "/monitors/pair", "");
    assert!(page.body.contains("The collector does not run"), "{}", page.body);
    let asked = collector(&home);
    let token = page.token();
    for wrong in [
        "do=passkey&digits=12345",
        "do=passkey&digits=12345x",
        "address=--help",
        "address=",
        "address=C0:FF:EE:00:00:09&called=two%20words",
        "address=C0:FF:EE:00:00:09&called=-x",
    ] {
        assert_eq!(
            post(at, "/monitors/pair", &format!("token={token}&{wrong}"), "").status,
            422,
            "{wrong}"
        );
    }
    assert!(asked.lock().unwrap().is_empty());
}
