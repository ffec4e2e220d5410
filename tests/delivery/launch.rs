//! SMART standalone launch at an authorization server by others (oidc-provider), which holds us to PKCE, to the
//! redirect and to keys that change at each use; what it gives opens a FHIR server by others.

use crate::delivery::clinic::{Clinic, exported_readings, few, held, listing, once};
use crate::harness::browser::{Browser, without};
use crate::harness::left_out::in_a_hurry;
use crate::harness::made::Made;
use crate::harness::page::get;
use serde_json::{Value, json};
use std::collections::BTreeMap;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpListener;
use std::os::unix::fs::PermissionsExt;
use std::process::{Child, Command, Stdio};

const DATA: i32 = 65;
const UNAVAILABLE: i32 = 69;
const NO_PERMISSION: i32 = 77;
const CONFIG: i32 = 78;

pub(super) fn free_port() -> u16 {
    TcpListener::bind("127.0.0.1:0")
        .unwrap()
        .local_addr()
        .unwrap()
        .port()
}

/// A clinic with its page, and a home whose readings are Asha's.
pub(super) struct Launch {
    pub(super) clinic: Clinic,
    pub(super) made: Made,
    pub(super) redirect: String,
}

impl Launch {
    pub(super) fn with(more: &Value, keys: &str) -> Option<Self> {
        let here = || format!("http://127.0.0.1:{}/launched", free_port());
        let redirect = more["redirect"].as_str().map_or_else(here, str::to_owned);
        let mut options = json!({
            "auth": "launch", "client": "home-1", "redirect": redirect, "patient": "asha.1", "lasts": 3600,
        });
        options
            .as_object_mut()
            .unwrap()
            .extend(more.as_object().unwrap().clone());
        let clinic = Clinic::with(&options)?;
        let made = Made::of(&few());
        let launch = Self {
            clinic,
            made,
            redirect,
        };
        launch.choose("people = [\"asha\"]", keys);
        Some(launch)
    }

    pub(super) fn choose(&self, people: &str, keys: &str) {
        self.made.home.file(
            ".config/quietcuff/quietcuff.toml",
            format!(
                "[clinic]\nserver = \"{}\"\n{people}\nauth = \"launch\"\nclient-id = \"home-1\"\nredirect-url = \"{}\"\n{keys}",
                self.clinic.url(),
                self.redirect
            ),
        );
    }

    /// The command, which has said which address the person opens.
    fn begin(&self, more: &[&str]) -> (Child, String) {
        let mut arguments = vec!["deliver", "launch"];
        arguments.extend(more);
        let mut child = self
            .made
            .home
            .command(&arguments)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let mut url = String::new();
        BufReader::new(child.stdout.as_mut().unwrap())
            .read_line(&mut url)
            .unwrap();
        (child, url.trim().to_owned())
    }

    /// Everything that it said, and with which code it ended.
    fn ended(mut child: Child) -> (i32, String) {
        let mut said = String::new();
        child.stderr.take().unwrap().read_to_string(&mut said).unwrap();
        (child.wait().unwrap().code().unwrap(), said)
    }

    /// The person agrees or declines, and the answer is pasted.
    fn launch(&self, declines: bool) -> (i32, String) {
        let (mut child, url) = self.begin(&["--paste"]);
        if url.is_empty() {
            return Self::ended(child);
        }
        let end = self.clinic.person(&url, declines);
        writeln!(child.stdin.take().unwrap(), "{end}").unwrap();
        Self::ended(child)
    }

    /// What an export says, to whose record the clinic opened.
    pub(super) fn expected(&self) -> BTreeMap<String, Value> {
        let path = ".config/quietcuff/quietcuff.toml";
        let config = std::fs::read_to_string(self.made.home.path(path)).unwrap();
        self.made.home.file(
            path,
            config.clone() + "[fhir.patients]\nasha = \"Patient/asha.1\"\n",
        );
        let expected = exported_readings(&self.made);
        self.made.home.file(path, config);
        expected
    }

    /// From now on something is due.
    fn discard(&self, n: usize) {
        let id = self.made.readings[n]["id"].as_str().unwrap();
        self.made
            .home
            .run(&["readings", "discard", id, "--reason", "a guest"])
            .good();
    }

    pub(super) fn file(&self) -> std::path::PathBuf {
        self.made.home.path(".local/state/quietcuff/clinic-launch.json")
    }

    pub(super) fn kept(&self) -> Value {
        serde_json::from_str(&std::fs::read_to_string(self.file()).unwrap()).unwrap()
    }
}

/// A key that openssl made, and its public part as the clinic registers it, by `deliver key`.
fn key(made: &Made) -> Value {
    let file = made.home.path("key.pem");
    let printed = made.home.run(&["deliver", "key", file.to_str().unwrap()]).good();
    serde_json::from_str(&printed).unwrap()
}

/// What the clinic opened to this gateway says whether it can be told of releases.
#[test]
fn releases_are_told_where_the_launch_allows_it() {
    let can = ["create", "update"].map(|code| json!({ "code": code }));
    let resources = ["Observation", "Device", "Consent", "Provenance"]
        .map(|kind| json!({"type": kind, "interaction": can, "updateCreate": true}));
    let statement = json!({"resourceType": "CapabilityStatement", "fhirVersion": "4.0.1",
        "rest": [{"mode": "server", "interaction": [{"code": "transaction"}], "resource": resources}]});
    let scope = "launch/patient patient/Observation.crus patient/Device.crus offline_access";
    for (more, goes) in [
        ("", false),
        (" patient/Consent.crus patient/Provenance.crus", true),
    ] {
        let options = json!({"statement": statement, "allows": format!("{scope}{more}")});
        let Some(launch) = Launch::with(&options, "release-records = true\n") else {
            return;
        };
        let home = &launch.made.home;
        let (code, said) = launch.launch(false);
        assert_eq!(code, 0, "{said}");
        let asked = launch.clinic.asked()["launches"][0]["scope"].clone();
        assert_eq!(
            asked,
            format!("{scope} patient/Consent.crus patient/Provenance.crus")
        );
        home.run(&["deliver", "release", "asha"]).good();
        let closed = "the launch did not open the record for a Consent";
        let check = home.run(&["deliver", "check"]).good();
        assert_eq!(
            check.replace("\n          ", " ").contains(closed),
            !goes,
            "{check}"
        );
        let ran = once(home);
        assert_eq!(ran.err.contains(closed), !goes, "{ran:?}");
        ran.good();
        let mut there = held(&launch.clinic);
        let records = there
            .extract_if(.., |_, one| one["resourceType"] == "Consent")
            .count();
        assert_eq!(records, usize::from(goes));
        assert_eq!(there, launch.expected());
        assert!(!once(home).err.contains(closed));
    }
}

#[test]
fn one_persons_record_is_opened_delivered_to_and_closed() {
    let Some(launch) = Launch::with(&json!({}), "") else {
        return;
    };
    let home = &launch.made.home;
    once(home).failed(CONFIG, &["nobody is enrolled", "quietcuff deliver launch"]);
    let (code, said) = launch.launch(false);
    assert_eq!(code, 0, "{said}");
    assert!(
        said.contains("asha is Patient/asha.1 at") && said.contains("deliver withdraw"),
        "{said}"
    );
    // What was asked for, as the clinic's page saw it.
    let asked = &launch.clinic.asked()["launches"][0];
    assert_eq!(asked["aud"], launch.clinic.url());
    assert_eq!(asked["code_challenge_method"], "S256");
    assert_eq!(
        asked["scope"],
        "launch/patient patient/Observation.crus patient/Device.crus offline_access"
    );
    let mode = std::fs::metadata(launch.file()).unwrap().permissions().mode();
    assert_eq!(mode & 0o777, 0o600);
    let key = launch.kept()["refresh_token"].as_str().unwrap().to_owned();
    for text in [&said, &listing(home).to_string()] {
        assert!(!text.contains(&key), "{text}");
    }

    // The patient of the clinic's answer is whose the readings are there, and nobody wrote that down.
    let checked = home
        .run(&["deliver", "check"])
        .failed(UNAVAILABLE, &["/metadata"]);
    drop(checked);
    once(home).good();
    assert_eq!(held(&launch.clinic), launch.expected());
    let all = launch.clinic.holds();
    let subjects = all
        .values()
        .filter_map(|one| one["subject"]["reference"].as_str());
    assert!(subjects.clone().count() > 4);
    assert!(subjects.into_iter().all(|subject| subject == "Patient/asha.1"));
    // The key has changed, as this clinic's do at each use, and is whole.
    let kept = launch.kept();
    assert_ne!(kept["refresh_token"], key.as_str());
    assert_eq!(kept["changing"], Value::Null);
    once(home).good();
    let served = super::opened::page(home, free_port(), &["--open"]);
    let people = || get(served.address(), "/people", "").body;
    assert!(
        people().contains("The clinic last took this household’s key"),
        "{}",
        people()
    );

    let closed = home.run(&["deliver", "withdraw"]);
    assert!(format!("{closed:?}").contains("taken the key back"), "{closed:?}");
    assert!(!launch.file().exists());
    once(home).failed(CONFIG, &["nobody is enrolled"]);
    home.run(&["deliver", "withdraw"]).good();
    // It is closed at the clinic as well: the key that was kept is good for nothing.
    launch.discard(0);
    std::fs::write(launch.file(), kept.to_string()).unwrap();
    std::fs::set_permissions(launch.file(), std::fs::Permissions::from_mode(0o600)).unwrap();
    let again = once(home);
    again.failed(
        NO_PERMISSION,
        &["does not take our key any more", "launches anew"],
    );
    // Whoever looks at the page is told as well, and since when; it is not said to be open.
    assert!(launch.kept()["refused"].is_string());
    let shown = people();
    assert!(
        shown.contains("the clinic has not taken this household’s key any more"),
        "{shown}"
    );
    assert!(!shown.contains("Open since"), "{shown}");
    let since = launch.kept()["refused"].clone();
    once(home).failed(NO_PERMISSION, &["does not take our key any more"]);
    assert_eq!(launch.kept()["refused"], since);
    assert!(
        listing(home)["problem"]
            .to_string()
            .contains("does not take our key any more")
    );
}

/// As a person does it: the clinic's own pages in a browser, which is sent back to this machine.
#[test]
fn a_browser_is_sent_back_to_the_command() {
    if without() {
        return;
    }
    let Some(launch) = Launch::with(&json!({}), "") else {
        return;
    };
    let (child, url) = launch.begin(&[]);
    let mut browser = Browser::start();
    // Somebody else's link does not end the waiting, and is not taken.
    browser.open("thief", &format!("{}?code=theirs&state=theirs", launch.redirect));
    let text = "document.body.innerText";
    browser.wait(
        "thief",
        &format!("{text}.includes('not the answer to this launch')"),
    );
    browser.open("clinic", &url);
    browser.fill("clinic", "input[name=login]", "asha");
    browser.fill("clinic", "input[name=password]", "secret");
    browser.click("clinic", "button[type=submit]");
    browser.wait("clinic", &format!("{text}.includes('patient/Observation.crus')"));
    browser.click("clinic", "button[type=submit]");
    browser.wait(
        "clinic",
        &format!("{text}.includes(\"The clinic's answer has come\")"),
    );
    let (code, said) = Launch::ended(child);
    assert_eq!(code, 0, "{said}");
    once(&launch.made.home).good();
    assert_eq!(held(&launch.clinic), launch.expected());
}

/// A client with a key of its own signs when it takes the code back, at each new key, and when it withdraws.
#[test]
fn a_client_with_a_key_says_who_it_is() {
    let made = Made::of(&few());
    let public = key(&made);
    let kid = public["keys"][0]["kid"].as_str().unwrap();
    let keys = format!(
        "key-file = \"{}\"\nkey-id = \"{kid}\"\n",
        made.home.path("key.pem").display()
    );
    let Some(launch) = Launch::with(&json!({ "jwks": public }), &keys) else {
        return;
    };
    assert_eq!(launch.launch(false).0, 0);
    once(&launch.made.home).good();
    assert_eq!(held(&launch.clinic), launch.expected());
    assert_eq!(launch.clinic.asked()["refused"], 0);
    // Without its key the clinic does not know it.
    launch.discard(0);
    launch.choose("people = [\"asha\"]", "");
    once(&launch.made.home).failed(NO_PERMISSION, &["invalid_client"]);
    launch.choose("people = [\"asha\"]", &keys);
    once(&launch.made.home).good();
    launch.made.home.run(&["deliver", "withdraw"]).good();
}

/// The answer with the new key is lost, and this clinic has taken the old one back with it: that is said, with since
/// when, and nothing else goes wrong.
#[test]
fn a_key_that_was_lost_on_its_way_is_said() {
    let Some(launch) = Launch::with(&json!({ "drops": true }), "") else {
        return;
    };
    assert_eq!(launch.launch(false).0, 0);
    let home = &launch.made.home;
    let before = launch.kept();
    once(home).failed(UNAVAILABLE, &["what is due waits"]);
    let since = launch.kept()["changing"].as_str().unwrap().to_owned();
    assert_eq!(launch.kept()["refresh_token"], before["refresh_token"]);
    home.run(&["deliver", "retry", "--all"]);
    once(home).failed(
        NO_PERMISSION,
        &["its answer never came here", "launch anew", &since[..16]],
    );
    assert_eq!(held(&launch.clinic).len(), 0);
    assert_eq!(launch.launch(false).0, 0);
    once(home).good();
    assert_eq!(held(&launch.clinic), launch.expected());
}

#[test]
fn every_refusal_is_said_and_keeps_nothing() {
    if in_a_hurry("every refusal of a launch") {
        return;
    }
    let refused = |options: Value, declines: bool, code: i32, words: &[&str]| -> bool {
        let Some(launch) = Launch::with(&options, "") else {
            return false;
        };
        let (ended, said) = launch.launch(declines);
        assert_eq!(ended, code, "{options}: {said}");
        for word in words {
            assert!(said.contains(word), "{options}: {word:?} is not in {said}");
        }
        assert!(!launch.file().exists(), "{options}");
        true
    };
    if !refused(json!({}), true, NO_PERMISSION, &["declined at the clinic's page"]) {
        return;
    }
    for (options, code, words) in [
        (
            json!({ "patient": null }),
            UNAVAILABLE,
            &["whose record", "launch/patient"][..],
        ),
        (json!({ "patient": "../x" }), UNAVAILABLE, &["no id of FHIR's"]),
        (
            json!({ "brief": true }),
            UNAVAILABLE,
            &["minutes only", "offline_access"],
        ),
        (
            json!({ "allows": "patient/Observation.rs" }),
            UNAVAILABLE,
            &["does not let us write readings"],
        ),
        (
            json!({ "says_else": { "capabilities": ["launch-ehr"] } }),
            UNAVAILABLE,
            &["names no capability `launch-standalone`"],
        ),
        (
            json!({ "says_else": { "code_challenge_methods_supported": ["plain"] } }),
            UNAVAILABLE,
            &["names no `S256`"],
        ),
        (
            json!({ "says_else": { "authorization_endpoint": null } }),
            UNAVAILABLE,
            &["names no authorization_endpoint"],
        ),
        (
            json!({ "says_else": { "token_endpoint": "http://clinic.example/token" } }),
            UNAVAILABLE,
            &["http://clinic.example/token", "can be read by everybody"],
        ),
        (json!({ "down": "/token" }), UNAVAILABLE, &["http://127.0.0.1"]),
    ] {
        refused(options, false, code, words);
    }
}

#[test]
fn what_is_pasted_has_to_be_the_answer_to_this_launch() {
    let Some(launch) = Launch::with(&json!({}), "") else {
        return;
    };
    let paste = |text: &str| {
        let (mut child, _) = launch.begin(&["--paste"]);
        writeln!(child.stdin.take().unwrap(), "{text}").unwrap();
        Launch::ended(child)
    };
    for text in ["", "https://clinic.example/", "?code=a&state=b", "\u{0}\u{7f}"] {
        let (code, said) = paste(text);
        assert_eq!(code, DATA, "{said}");
        assert!(said.contains("not the answer to this launch"), "{said}");
    }
    // The answer to one launch is none to another.
    let (first, url) = launch.begin(&["--paste"]);
    let end = launch.clinic.person(&url, false);
    drop(first.stdin);
    assert_eq!(paste(&end).0, DATA);
    assert!(!launch.file().exists());
}

/// What the configuration lacks, or says twice, is said before anybody is asked for a password.
#[test]
fn a_configuration_that_cannot_be_is_said_first() {
    let Some(launch) = Launch::with(&json!({}), "") else {
        return;
    };
    let home = &launch.made.home;
    let refused = |people: &str, keys: &str, words: &[&str]| {
        launch.choose(people, keys);
        home.run(&["deliver", "launch", "--paste"]).failed(CONFIG, words);
    };
    refused("", "", &["nobody is chosen"]);
    refused("people = [\"ravi\"]", "", &["nobody is called so"]);
    refused("people = [\"asha\", \"ravi\"]", "", &["one person's record"]);
    refused(
        "people = [\"asha\"]",
        "key-file = \"/nowhere/key\"\n",
        &["/nowhere/key"],
    );
    let taken = TcpListener::bind(
        launch
            .redirect
            .trim_start_matches("http://")
            .trim_end_matches("/launched"),
    )
    .unwrap();
    launch.choose("people = [\"asha\"]", "");
    home.run(&["deliver", "launch"])
        .failed(UNAVAILABLE, &["cannot wait for the browser", "--paste"]);
    drop(taken);
    assert_eq!(launch.launch(false).0, 0);
    // Another patient in the configuration than the clinic's own word.
    launch.choose(
        "people = [\"asha\"]",
        "[fhir.patients]\nasha = \"Patient/other\"\n",
    );
    once(home).failed(CONFIG, &["Patient/other", "Patient/asha.1"]);
    home.run(&["people", "add", "ravi"]).good();
    launch.choose("people = [\"ravi\"]", "");
    once(home).failed(CONFIG, &["the record of asha is open"]);
    // Not this gateway's any more, or not whole.
    launch.choose("people = [\"asha\"]", "");
    std::fs::set_permissions(launch.file(), std::fs::Permissions::from_mode(0o644)).unwrap();
    once(home).failed(NO_PERMISSION, &["chmod 600"]);
    std::fs::set_permissions(launch.file(), std::fs::Permissions::from_mode(0o600)).unwrap();
    std::fs::write(launch.file(), "{\"refresh_token\":\"hunter2\"").unwrap();
    let said = once(home).failed(CONFIG, &["is not as it was written", "launch anew"]);
    assert!(!said.err.contains("hunter2"), "{said:?}");
}

/// A role that runs stops at once when the record is closed, and goes on when it is opened anew.
#[test]
fn a_running_delivery_follows_what_is_opened_and_closed() {
    if in_a_hurry("a running delivery that follows launches") {
        return;
    }
    let Some(launch) = Launch::with(&json!({ "final": true }), "") else {
        return;
    };
    let home = &launch.made.home;
    assert_eq!(launch.launch(false).0, 0);
    let mut role = home.command(&["deliver"]).stderr(Stdio::null()).spawn().unwrap();
    let until = |what: &str, so: &dyn Fn() -> bool| {
        let begun = std::time::Instant::now();
        while !so() {
            assert!(begun.elapsed().as_secs() < 90, "{what} does not happen");
            std::thread::sleep(std::time::Duration::from_millis(200));
        }
    };
    let all = launch.expected();
    until("delivery", &|| held(&launch.clinic) == all);
    // This clinic does not take keys back, and says so.
    home.run(&["deliver", "withdraw"])
        .failed(UNAVAILABLE, &["forgotten here", "tell the clinic to close"]);
    let asked = launch.clinic.requests();
    let id = launch.made.readings[0]["id"].as_str().unwrap();
    home.run(&["readings", "discard", id, "--reason", "a guest"])
        .good();
    std::thread::sleep(std::time::Duration::from_secs(12));
    assert_eq!(launch.clinic.requests(), asked, "nothing is sent any more");
    assert!(role.try_wait().unwrap().is_none(), "it waits");
    assert!(!launch.file().exists(), "and does not write the key anew");
    assert_eq!(launch.launch(false).0, 0);
    until("what was withdrawn", &|| launch.clinic.requests() > asked);
    Command::new("kill").arg(role.id().to_string()).status().unwrap();
    assert!(role.wait().unwrap().success());
}

/// Somebody who asks for a new key just now would write it down when the answer comes: whoever withdraws waits for that,
/// and takes back the key as it is then.
#[test]
fn a_withdrawal_waits_for_whoever_asks_for_a_key_just_now() {
    let Some(launch) = Launch::with(&json!({}), "") else {
        return;
    };
    assert_eq!(launch.launch(false).0, 0);
    let lock = std::fs::File::create(launch.file().with_extension("lock")).unwrap();
    rustix::fs::flock(&lock, rustix::fs::FlockOperation::LockExclusive).unwrap();
    let mut withdraw = launch
        .made
        .home
        .command(&["deliver", "withdraw"])
        .spawn()
        .unwrap();
    std::thread::sleep(std::time::Duration::from_millis(800));
    assert!(withdraw.try_wait().unwrap().is_none(), "it waits");
    assert!(launch.file().exists());
    drop(lock);
    assert!(withdraw.wait().unwrap().success());
    assert!(!launch.file().exists());
}
