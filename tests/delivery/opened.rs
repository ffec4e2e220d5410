//! The launch from the page: the page knows the browser, delivery reaches the clinic, and the two meet at a socket. The
//! clinic and its page are by others (`launch.mjs`), and so is the browser.

use super::launch::{Launch, free_port};
use crate::delivery::clinic::held;
use crate::harness::browser::{Browser, without};
use crate::harness::command::Home;
use crate::harness::left_out::in_a_hurry;
use crate::harness::page::{Back, Served, get, post, served};
use crate::page::access::enter;
use crate::page::every::is_for_everybody;
use quietcuff::words::Language;
use serde_json::json;
use std::process::{Child, Stdio};
use std::time::{Duration, Instant};

/// A delivery that runs until this ends.
struct Role(Child);

impl Role {
    fn start(home: &Home) -> Self {
        let child = home.command(&["deliver"]).stderr(Stdio::null()).spawn().unwrap();
        let socket = home.path(".local/state/quietcuff/deliver.sock");
        until("delivery answers", || socket.exists());
        Self(child)
    }
}

impl Drop for Role {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

fn until(what: &str, mut so: impl FnMut() -> bool) {
    let begun = Instant::now();
    while !so() {
        assert!(begun.elapsed() < Duration::from_secs(90), "{what}: never");
        std::thread::sleep(Duration::from_millis(100));
    }
}

pub(super) fn page(home: &Home, port: u16, more: &[&str]) -> Served {
    let listen = format!("127.0.0.1:{port}");
    served(home.command(&[&["serve", "--listen", &listen], more].concat()))
}

fn send(at: &str, form: &str, cookie: &str) -> Back {
    let token = get(at, "/people", cookie).token();
    post(at, "/clinic", &format!("token={token}&{form}"), cookie)
}

/// The page of the opening once nothing moves on it any more.
fn settled(at: &str, cookie: &str) -> Back {
    let mut shown = None;
    until("the clinic answers", || {
        let back = get(at, "/clinic", cookie);
        let moves = back.header("refresh").is_some();
        shown = Some(back);
        !moves
    });
    shown.unwrap()
}

/// The clinic's page, as the link on ours has it.
fn link(page: &Back) -> Option<String> {
    let at = page.body.find("code_challenge=")?;
    let from = page.body.get(..at)?.rfind("href=\"")? + "href=\"".len();
    let to = from + page.body.get(from..)?.find('"')?;
    Some(page.body.get(from..to)?.replace("&amp;", "&"))
}

/// Without a script, on a small telephone, and from a clinic that is another site to the browser, so that it brings no
/// cookie of ours back.
#[test]
fn a_person_opens_and_closes_their_record_on_the_page() {
    if in_a_hurry("a record that is opened and closed on the page") || without() {
        return;
    }
    let port = free_port();
    let redirect = format!("http://localhost:{port}/launched");
    let Some(launch) = Launch::with(&json!({ "redirect": redirect }), "") else {
        return;
    };
    let home = &launch.made.home;
    let _role = Role::start(home);
    let _page = page(home, port, &[]);
    let way_in = home.run(&["keys", "link"]).good();
    let way_in = format!(
        "http://localhost:{port}/{}",
        way_in.trim().splitn(4, '/').nth(3).unwrap()
    );
    let mut browser = Browser::start();
    browser.told(json!({
        "do": "open", "page": "asha", "url": way_in, "script": false, "width": 320, "height": 640,
    }));
    let people = format!("http://localhost:{port}/people");
    browser.goto("asha", &people);
    let text = "document.body.innerText";
    let fits = |browser: &mut Browser| {
        let over = "document.documentElement.scrollWidth - document.documentElement.clientWidth";
        assert_eq!(browser.eval("asha", over), 0);
    };
    assert!(
        browser
            .text("asha", "main")
            .contains("Not open: nothing goes there.")
    );
    fits(&mut browser);
    browser.click("asha", "button[value=begin]");
    browser.wait("asha", "document.querySelector('a.first') !== null");
    assert!(
        browser
            .text("asha", "main")
            .contains("Afterwards the clinic leads you back here.")
    );
    fits(&mut browser);
    browser.click("asha", "a.first");
    browser.fill("asha", "input[name=login]", "asha");
    browser.fill("asha", "input[name=password]", "secret");
    browser.click("asha", "button[type=submit]");
    browser.wait("asha", &format!("{text}.includes('patient/Observation.crus')"));
    browser.click("asha", "button[type=submit]");
    browser.wait("asha", &format!("{text}.includes('The record is open.')"));
    fits(&mut browser);
    // Nothing that the clinic said stays where somebody can read it over a shoulder.
    let shown = browser.eval("asha", "location.href");
    assert_eq!(shown, format!("http://localhost:{port}/clinic"));
    assert_eq!(
        (&launch.kept()["person"], &launch.kept()["patient"]),
        (&json!("asha"), &json!("asha.1"))
    );
    browser.goto("asha", &people);
    let stands = browser.text("asha", "main");
    assert!(
        stands.contains("Open since") && stands.contains("Patient/asha.1"),
        "{stands}"
    );
    fits(&mut browser);
    // The delivery that waited sees it by itself.
    let all = launch.expected();
    until("delivery", || held(&launch.clinic) == all);

    browser.click("asha", "#c-asha ~ details summary");
    browser.click("asha", "button[value=close]");
    browser.wait("asha", &format!("{text}.includes('the key to it is taken back')"));
    assert!(!launch.file().exists());
    browser.goto("asha", &people);
    assert!(browser.text("asha", "main").contains("Closed "));
    assert_eq!(launch.clinic.asked()["refused"], 0);
    home.run(&["deliver", "withdraw"]).good();
}

/// What opens a record is for everybody as every other page is: before delivery runs, once it has asked the clinic, where
/// the browser comes back, and on *People*. What leads on by itself is written into a page that stays.
#[test]
fn every_page_of_the_opening_is_for_everybody() {
    if in_a_hurry("axe on the pages of the opening") || without() {
        return;
    }
    let Some(launch) = Launch::with(&json!({}), "") else {
        return;
    };
    let home = &launch.made.home;
    let port = free_port();
    let served = page(home, port, &["--open"]);
    let at = served.address();
    let mut browser = Browser::start();
    let names = Language::ALL.map(Language::tag);
    for (place, language) in names.into_iter().enumerate() {
        browser.told(json!({
            "do": "open", "page": language, "url": served.at("/clinic"), "language": language, "dark": place % 2 == 0,
            "width": 360, "height": 740,
        }));
        is_for_everybody(&mut browser, language, "/clinic without delivery");
    }
    let _role = Role::start(home);
    assert_eq!(send(at, "do=begin", "").status, 303);
    assert!(link(&settled(at, "")).is_some());
    for language in names {
        for path in ["/clinic", "/people"] {
            assert_eq!(browser.goto(language, &served.at(path)), 200);
            is_for_everybody(&mut browser, language, path);
        }
        let stays = "fetch('/launched?code=x').then((back) => back.text()).then((text) => {
            document.open(); document.write(text.replace(/<script.*?<.script>/g, '')); document.close();
            return new Promise((done) => setTimeout(() => done(document.querySelectorAll('a.button').length), 300));
        })";
        assert_eq!(browser.eval(language, stays), 1);
        assert_eq!(browser.eval(language, "document.documentElement.lang"), language);
        is_for_everybody(&mut browser, language, "/launched");
    }
    browser.kept_to_itself();
}

/// Whoever may not write for a person neither opens nor closes their record, and an answer is taken from the browser alone
/// that began.
#[test]
fn only_who_may_and_only_where_it_was_begun() {
    let port = free_port();
    let redirect = format!("http://127.0.0.1:{port}/launched");
    let Some(launch) = Launch::with(&json!({ "redirect": redirect }), "") else {
        return;
    };
    let home = &launch.made.home;
    home.run(&["people", "add", "ravi"]).good();
    let served = page(home, port, &[]);
    let at = served.address();
    let key = |more: &[&str]| {
        let key = home.run(&[&["keys", "add"], more].concat()).good();
        enter(at, key.trim()).unwrap()
    };
    let asha = key(&["--role", "person", "--person", "asha"]);
    let ravi = key(&["--role", "person", "--person", "ravi"]);
    let cares = key(&["--role", "caregiver"]);
    let clinician = key(&["--role", "clinician", "--person", "asha", "--until", "2999-01-01"]);
    for other in [&ravi, &clinician] {
        for form in ["do=begin", "do=close", "do=paste&address=x"] {
            assert_eq!(send(at, form, other).status, 403, "{form}");
        }
        assert_eq!(get(at, "/clinic", other).status, 403);
    }
    let seen = get(at, "/people", &clinician).body;
    assert!(
        seen.contains("Not open") && !seen.contains("action=\"/clinic\""),
        "{seen}"
    );
    assert!(!get(at, "/people", &ravi).body.contains("Not open"));
    assert_eq!(
        post(at, "/clinic", "do=begin", &asha).status,
        403,
        "no word of the page"
    );
    assert_eq!(send(at, "do=dance", &asha).status, 422);
    assert_eq!(get(at, "/clinic?code=a&state=b", "").status, 401);
    // Whoever comes from the clinic is led on, and told nothing.
    let back = get(at, "/launched?code=%22%3E%3Cxyz&state=s&more=x", "");
    assert_eq!(back.status, 200);
    assert_eq!(
        back.header("refresh"),
        Some("0;url=/clinic?code=%22%3E%3Cxyz&state=s")
    );
    assert!(
        !back.body.contains("<xyz") && !back.body.contains("asha"),
        "{}",
        back.body
    );

    assert_eq!(send(at, "do=begin", &asha).status, 303);
    assert!(get(at, "/clinic", &asha).body.contains("does not run"));
    let _role = Role::start(home);
    assert_eq!(
        get(at, "/clinic", &asha).header("location"),
        Some("/people#c-asha")
    );
    assert_eq!(send(at, "do=begin", &asha).status, 303);
    let begun = settled(at, &asha);
    let url = link(&begun).unwrap_or_else(|| panic!("{}", begun.body));
    // Another browser, also of somebody who may, sees that, and no more.
    let elsewhere = get(at, "/clinic", &cares).body;
    assert!(
        elsewhere.contains("in another browser") && !elsewhere.contains("code_challenge"),
        "{elsewhere}"
    );
    // What is not the answer to this launch changes nothing, whoever brings it.
    let bring = |query: &str, cookie: &str| {
        let back = get(at, &format!("/clinic?{query}"), cookie);
        assert_eq!(back.header("location"), Some("/clinic"), "{back:?}");
    };
    bring("code=theirs&state=theirs", &cares);
    assert!(!get(at, "/clinic", &asha).body.contains("not the answer"));
    bring("code=theirs&state=theirs", &asha);
    let missed = settled(at, &asha);
    assert!(missed.body.contains("not the answer") && link(&missed).as_ref() == Some(&url));
    let end = launch.clinic.person(&url, false);
    let query = end.split_once('?').unwrap().1;
    bring(query, &cares);
    std::thread::sleep(Duration::from_secs(1));
    assert!(!launch.file().exists(), "it is taken only where it was begun");
    bring(query, &asha);
    assert!(settled(at, &asha).body.contains("The record is open."));
    assert_eq!(launch.kept()["patient"], "asha.1");
    // Once is enough, and one who begins anew takes the place of what waits.
    let tokens = launch.clinic.asked()["tokens"].clone();
    bring(query, &asha);
    assert!(settled(at, &asha).body.contains("The record is open."));
    assert_eq!(launch.clinic.asked()["tokens"], tokens);
    assert_eq!(send(at, "do=begin", &asha).status, 303);
    let waits = settled(at, &asha);
    assert_eq!(send(at, "do=begin", &cares).status, 303);
    let theirs = settled(at, &cares);
    assert!(link(&theirs).is_some() && link(&theirs) != link(&waits));
    assert!(get(at, "/clinic", &asha).body.contains("in another browser"));
    assert_eq!(launch.clinic.asked()["refused"], 0);
}

/// Where the clinic leads elsewhere than to the page, the person brings the address; and what goes wrong is said in each
/// language, with nothing kept.
#[test]
fn an_address_is_pasted_and_a_refusal_is_said_in_every_language() {
    if in_a_hurry("what goes wrong when a record is opened on the page") {
        return;
    }
    let opened = |options: serde_json::Value, declines: bool| {
        let launch = Launch::with(&options, "")?;
        let home = &launch.made.home;
        let role = Role::start(home);
        let served = page(home, free_port(), &["--open"]);
        let at = served.address();
        assert_eq!(send(at, "do=begin", "").status, 303);
        let waits = settled(at, "");
        if let Some(url) = link(&waits) {
            let says = format!("begins with {}", launch.redirect);
            assert!(waits.body.contains(&says) && !waits.body.contains("leads you back"));
            let end = launch.clinic.person(&url, declines);
            let end: String = form_urlencoded::byte_serialize(end.as_bytes()).collect();
            assert_eq!(send(at, &format!("do=paste&address={end}"), "").status, 303);
        }
        let settled_in =
            |language: Language| settled(at, &format!("Accept-Language: {}\r\n", language.tag())).body;
        let said = Language::ALL.map(settled_in);
        drop(role);
        Some((launch, said))
    };
    let Some((launch, said)) = opened(json!({}), false) else {
        return;
    };
    assert!(said[0].contains("The record is open."), "{}", said[0]);
    assert_eq!(launch.kept()["person"], "asha");
    for (options, declines, key, english) in [
        (json!({}), true, "opening-declined", "said no on the clinic"),
        (
            json!({ "says_else": { "capabilities": ["launch-ehr"] } }),
            false,
            "lacking",
            "capability `launch-standalone`",
        ),
        (json!({ "down": "/token" }), false, "server", "http://127.0.0.1"),
    ] {
        let (launch, said) = opened(options, declines).unwrap();
        assert!(!launch.file().exists());
        assert!(said[0].contains(english), "{key}: {}", said[0]);
        for (language, said) in Language::ALL.into_iter().zip(&said) {
            let words = language.words();
            let sentence = if key.starts_with("opening") {
                words.say(key)
            } else {
                let values = [("fault", key.into()), ("why", "|".into())];
                let whole = words.with("opening-failed", &values);
                whole.split('|').next().unwrap().trim().to_owned()
            };
            assert!(
                said.contains(&sentence),
                "{}: {sentence} is not in {said}",
                language.tag()
            );
        }
    }
}
