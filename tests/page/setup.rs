//! What is set up once, from the page: whatever the command line does for people and monitors, and whom to call. What
//! it came to is read with the command line.

use super::access::{enter, guarded, key};
use crate::harness::browser::{Browser, without};
use crate::harness::left_out::in_a_hurry;
use crate::harness::page::{Back, Home, MONITOR, get, post};
use quietcuff::frame::Frame;
use quietcuff::gatt::Characteristic;
use serde_json::{Value, json};
use std::io::{BufRead, BufReader, Write};
use std::os::unix::net::UnixListener;

/// Sends a form of a page, as whoever sits at the machine.
fn send(at: &str, page: &str, path: &str, form: &str) -> Back {
    let token = get(at, page, "").token();
    post(at, path, &format!("token={token}&{form}"), "")
}

fn people(home: &Home) -> Vec<Value> {
    home.json(&["people", "list", "--all", "--json"])
}

#[test]
fn somebody_is_taken_off_the_lists_and_comes_back() {
    let home = Home::new();
    home.text(&["keys", "add", "--role", "person", "--person", "ravi"]);
    let served = home.serve();
    let at = served.address();
    assert_eq!(send(at, "/people", "/person/remove", "person=ravi").status, 303);
    let page = get(at, "/people", "").body;
    assert!(
        page.contains("Taken off the lists") && page.contains("Ravi comes back"),
        "{page}"
    );
    assert!(!get(at, "/household", "").body.contains(">Ravi<"));
    let removed =
        |home: &Home| people(home).iter().find(|one| one["id"] == "ravi").unwrap()["removed"].clone();
    assert_eq!(removed(&home), true);
    let keys = home.text(&["keys", "list"]);
    assert!(keys.contains("withdrawn"), "{keys}");
    // Nobody is removed twice, and nobody comes back who is there.
    assert_eq!(send(at, "/people", "/person/remove", "person=ravi").status, 404);
    assert_eq!(send(at, "/people", "/person/again", "person=asha").status, 404);
    assert_eq!(send(at, "/people", "/person/again", "person=ravi").status, 303);
    assert_eq!(removed(&home), false);
    assert!(get(at, "/household", "").body.contains(">Ravi<"));
}

#[test]
fn whoever_is_strict_is_so_from_the_page() {
    let home = Home::new();
    let served = home.serve();
    let at = served.address();
    let strict = |home: &Home| people(home).iter().find(|one| one["id"] == "asha").unwrap()["strict"].clone();
    let page = get(at, "/person?person=asha", "").body;
    let base = page
        .split("name=\"base\" value=\"")
        .nth(1)
        .unwrap()
        .split('"')
        .next()
        .unwrap();
    let base: String = form_urlencoded::byte_serialize(base.replace("&quot;", "\"").as_bytes()).collect();
    let form = format!("person=asha&label=Asha&protocol=seven-day&base={base}");
    assert_eq!(
        send(at, "/people", "/person", &format!("{form}&strict=yes")).status,
        303
    );
    assert_eq!(strict(&home), true);
    assert!(
        get(at, "/person?person=asha", "")
            .body
            .contains("name=\"strict\" value=\"yes\" checked")
    );
}

#[test]
fn a_number_is_taken_from_somebody() {
    let home = Home::new();
    home.reading(200, 128, 82, 0);
    let served = home.serve();
    let at = served.address();
    let form = "monitor=m1&number=none&person=-+-&since=beginning";
    let asked = send(at, "/monitors", "/monitors/number", form);
    assert_eq!(asked.status, 409);
    assert!(
        asked.body.contains("One reading of Asha would be nobody’s."),
        "{}",
        asked.body
    );
    assert_eq!(
        send(at, "/monitors", "/monitors/number", &format!("{form}&moves=1")).status,
        303
    );
    assert_eq!(home.json(&["readings", "--json"])[0]["person"], Value::Null);
    // A number is handed out before it was ever sent.
    let page = get(at, "/monitors", "").body;
    assert!(
        page.contains("<option value=\"1\">1</option><option value=\"2\">2</option>"),
        "{page}"
    );
    let form = "monitor=m1&number=2&person=ravi&since=now";
    assert_eq!(send(at, "/monitors", "/monitors/number", form).status, 303);
    assert!(get(at, "/monitors", "").body.contains("number 2: Ravi"));
}

#[test]
fn a_clock_is_shown_and_set_and_a_monitor_forgotten() {
    let home = Home::new();
    home.reading(200, 128, 82, 0);
    let served = home.serve();
    let at = served.address();
    assert!(get(at, "/monitors", "").body.contains("Not read yet."));
    // What its clock said (0x2A2B, GATT Specification Supplement): 90 seconds behind.
    let now = jiff::Timestamp::now();
    let shown = jiff::tz::Offset::UTC.to_datetime(now - jiff::SignedDuration::from_secs(90));
    let mut value = shown.year().to_le_bytes().to_vec();
    for field in [
        shown.month(),
        shown.day(),
        shown.hour(),
        shown.minute(),
        shown.second(),
    ] {
        value.push(field.try_into().unwrap());
    }
    value.extend([0, 0, 0]);
    let frame = Frame {
        received_at: now,
        offset: jiff::tz::Offset::UTC,
        uptime: None,
        given_to: None,
        monitor: MONITOR.parse().unwrap(),
        connection: 99,
        characteristic: Characteristic::CURRENT_TIME,
        value,
        overheard: false,
    };
    home.journal().append(&[frame]).unwrap();
    let page = get(at, "/monitors", "").body;
    assert!(
        page.contains("90 s behind, read on") || page.contains("91 s behind, read on"),
        "{page}"
    );
    let clock = home.json(&["monitors", "clock", "m1", "--json"]);
    assert!(
        [-90, -91].map(Value::from).contains(&clock[0]["ahead_s"]),
        "{clock:?}"
    );

    // Nobody listens: it says what was not done.
    let asked = send(at, "/monitors", "/monitors/clock", "monitor=m1");
    assert!(
        asked
            .body
            .contains("That was not done: the program that listens does not run"),
        "{}",
        asked.body
    );
    let listener = UnixListener::bind(home.state().join("daemon.sock")).unwrap();
    let (tell, told) = std::sync::mpsc::channel();
    std::thread::spawn(move || {
        for stream in listener.incoming() {
            let mut stream = stream.unwrap();
            let mut line = String::new();
            BufReader::new(&stream).read_line(&mut line).unwrap();
            let asked: Value = serde_json::from_str(&line).unwrap();
            if asked["ask"] != "status" {
                tell.send(asked).unwrap();
            }
            writeln!(stream, "{}", json!({ "version": 1, "answer": "done" })).unwrap();
        }
    });
    let asked = send(at, "/monitors", "/monitors/clock", "monitor=m1");
    assert!(
        asked
            .body
            .contains("Its clock will be set the next time it connects."),
        "{}",
        asked.body
    );
    assert_eq!(
        told.recv().unwrap(),
        json!({ "version": 1, "ask": "set-clock", "monitor": "m1" })
    );
    assert_eq!(
        send(at, "/monitors", "/monitors/forget", "monitor=m9").status,
        404
    );
    assert_eq!(
        send(at, "/monitors", "/monitors/forget", "monitor=m1").status,
        303
    );
    assert_eq!(
        told.recv().unwrap(),
        json!({ "version": 1, "ask": "forget", "monitor": "m1" })
    );
    assert!(home.json(&["monitors", "list", "--json"]).is_empty());
    assert_eq!(home.json(&["readings", "--json"]).len(), 1, "its readings stay");
    assert_eq!(
        send(at, "/monitors", "/monitors/forget", "monitor=m1").status,
        404
    );
}

#[test]
fn whom_to_call_is_said_on_the_page() {
    let home = Home::new();
    home.configure("[emergency]\nnumber = \"110\"\n");
    let served = home.serve();
    let at = served.address();
    assert!(get(at, "/people", "").body.contains("<p class=\"lead\">110</p>"));
    let form = "number=112&contact=%2B49+30+1234&contact-name=Meera+%3Cb%3E";
    assert_eq!(send(at, "/people", "/calls", form).status, 303);
    let page = get(at, "/people", "").body;
    assert!(
        page.contains("<p class=\"lead\">112; Meera &lt;b&gt;, +49 30 1234</p>"),
        "{page}"
    );
    // What leaves before the journal is asked says it too.
    let unwell = |at: &str| send(at, "/people", "/notes", "person=asha&what=chest-pain").body;
    let said = unwell(at);
    assert!(
        said.contains("tel:112") && said.contains("tel:+49301234") && !said.contains("tel:110"),
        "{said}"
    );
    assert!(get(at, "/?person=asha", "").body.contains("tel:112"));
    for wrong in ["number=call+me", "number=1", "contact=javascript:1"] {
        assert_eq!(send(at, "/people", "/calls", wrong).status, 422, "{wrong}");
    }
    // It is not said twice, it outlives the program, and it is taken back.
    assert_eq!(send(at, "/people", "/calls", form).status, 303);
    drop(served);
    let served = home.serve();
    let at = served.address();
    assert!(unwell(at).contains("tel:112"));
    assert_eq!(send(at, "/people", "/calls", "do=back").status, 303);
    assert!(unwell(at).contains("tel:110"));
    let page = get(at, "/people", "").body;
    assert_eq!(page.matches(": <bdi>112; Meera").count(), 1, "{page}");
    assert!(page.contains(": taken back</li>"), "{page}");
    // The household's words of it are chained and rebuilt like every other.
    home.text(&["rebuild"]);
    assert!(unwell(at).contains("tel:110"));
}

#[test]
fn only_who_looks_after_the_household_may() {
    let home = Home::new();
    let served = guarded(&home);
    let at = served.address();
    let cookie = enter(at, &key(&home, &["--role", "person", "--person", "ravi"])).unwrap();
    let token = get(at, "/people", &cookie).token();
    for (path, form) in [
        ("/person/remove", "person=ravi"),
        ("/person/again", "person=ravi"),
        ("/calls", "number=112"),
        ("/monitors/clock", "monitor=m1"),
        ("/monitors/forget", "monitor=m1"),
    ] {
        let back = post(at, path, &format!("token={token}&{form}"), &cookie);
        assert_eq!(back.status, 403, "{path}");
        assert!(
            !get(at, "/people", &cookie)
                .body
                .contains(&format!("action=\"{path}\"")),
            "{path}"
        );
        // Nor whoever has no token of the page.
        assert_eq!(post(at, path, form, &cookie).status, 403, "{path}");
    }
    assert_eq!(home.json(&["monitors", "list", "--json"]).len(), 1);
}

#[test]
fn every_form_is_for_every_reader() {
    if in_a_hurry("each form in each width") || without() {
        return;
    }
    let home = Home::new();
    home.configure("[clinic]\nserver = \"https://clinic.example/r4\"\npeople = [\"asha\"]\n");
    home.text(&["people", "add", "meera", "--label", "Meera"]);
    home.text(&["people", "remove", "meera"]);
    home.text(&["deliver", "release", "asha", "--withdraw"]);
    home.text(&["deliver", "release", "asha", "--from", "2026-03-01"]);
    let served = home.serve();
    send(served.address(), "/people", "/calls", "number=112");
    let mut browser = Browser::start();
    for (language, width, dark) in [("en", 390, true), ("hi", 320, false), ("hi", 1280, true)] {
        let page = format!("{language} {width}");
        browser.told(json!({
            "do": "open", "page": page, "url": served.at("/"), "language": language, "dark": dark,
            "width": width, "height": 844,
        }));
        for path in ["/people", "/monitors", "/person?person=asha"] {
            assert_eq!(browser.goto(&page, &served.at(path)), 200);
            browser.eval(
                &page,
                "for (const part of document.querySelectorAll('details')) part.open = true",
            );
            browser.accessible(&page);
            let over = "document.documentElement.scrollWidth - document.documentElement.clientWidth";
            assert_eq!(browser.eval(&page, over), 0, "{page} {path}");
        }
    }
    // By keyboard, without a script.
    browser.told(json!({ "do": "open", "page": "old", "url": served.at("/people"), "script": false }));
    browser.eval(
        "old",
        "document.querySelector('[aria-labelledby=p-ravi] summary').focus()",
    );
    for key in ["Enter", "Tab", "Enter"] {
        browser.told(json!({ "do": "press", "page": "old", "key": key }));
    }
    browser.wait("old", "document.querySelector('#p-ravi') === null");
    browser.kept_to_itself();
}

/// Given and withdrawn by the person themselves and by whoever looks after the household; shown to a clinician, and to
/// nobody else.
#[test]
fn what_may_go_is_said_on_the_page_by_those_who_may() {
    let home = Home::new();
    home.configure(
        "behind-proxy = true\nplain-http-to-others = true\n[clinic]\nserver = \"https://clinic.example/r4\"\n\
         people = [\"asha\", \"ravi\"]\n",
    );
    let served = home.serve();
    let at = served.address();
    let person = [
        "--role",
        "person",
        "--person",
        "ravi",
        "--label",
        "Ravi's telephone",
    ];
    let ravi = enter(at, &key(&home, &person)).unwrap();
    let cares = enter(at, &key(&home, &["--role", "caregiver"])).unwrap();
    let tomorrow = home.day(2);
    let reads = ["--role", "clinician", "--person", "ravi", "--until", &tomorrow];
    let clinician = enter(at, &key(&home, &reads)).unwrap();
    let page = |cookie: &str| get(at, "/people", cookie).body;
    let say = |cookie: &str, form: &str| {
        let token = get(at, "/people", cookie).token();
        post(at, "/release", &format!("token={token}&{form}"), cookie).status
    };
    let unstated = "nobody has said so; it goes because the configuration names them";
    assert_eq!(page(&cares).matches(unstated).count(), 2);
    assert_eq!(page(&ravi).matches(unstated).count(), 1);
    assert_eq!(say(&ravi, "person=ravi&do=give&first=2026-03-01&last="), 303);
    let said = "what is measured from 1 March 2026 on; said by Ravi&#39;s telephone";
    let both = [page(&ravi), page(&clinician)].map(|page| page.replace("Ravi's", "Ravi&#39;s"));
    assert!(both.iter().all(|page| page.contains(said)), "{}", both[0]);
    // Nobody's but their own, no clinician's, nothing that is no day, and nothing without a word of the page.
    assert_eq!(say(&ravi, "person=asha&do=give"), 403);
    assert_eq!(say(&clinician, "person=ravi&do=back"), 403);
    assert!(!page(&clinician).contains("action=\"/release\""));
    for wrong in ["first=1st", "first=2026-03-02&last=2026-03-01"] {
        assert_eq!(
            say(&ravi, &format!("person=ravi&do=give&{wrong}")),
            422,
            "{wrong}"
        );
    }
    assert_eq!(post(at, "/release", "person=ravi&do=back", &ravi).status, 403);
    assert_eq!(say(&cares, "person=nobody&do=give"), 404);
    // The same again is not stated again; another's word takes it back, and what was said before stays there.
    assert_eq!(say(&ravi, "person=ravi&do=give&first=2026-03-01"), 303);
    assert_eq!(say(&cares, "person=ravi&do=back"), 303);
    assert_eq!(say(&cares, "person=ravi&do=back"), 303);
    let list = || home.json(&["deliver", "release", "--list", "--json"]);
    let [of_asha, of_ravi] = list().try_into().unwrap();
    assert_eq!(of_asha["standing"], "unstated");
    assert_eq!(
        (&of_ravi["standing"], &of_ravi["by"], &of_ravi["withdrawn_by"]),
        (&json!("withdrawn"), &json!("Ravi's telephone"), &json!("k2"))
    );
    assert_eq!(say(&ravi, "person=ravi&do=give"), 303);
    assert_eq!(list().len(), 3);
    assert!(page(&ravi).contains("What was said before"));
    // The command line's word stands there as well, also where nobody had stated anything.
    home.text(&["deliver", "release", "asha", "--withdraw", "--by", "Asha"]);
    assert!(page(&cares).contains("withdrawn by Asha"));
    home.text(&["rebuild"]);
    assert!(page(&cares).contains("withdrawn by Asha"));
}
