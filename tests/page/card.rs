//! The card beside the monitor: its code is read from a picture of it by a reader that none of us wrote.

use super::access::guarded;
use crate::harness::browser::{Browser, without};
use crate::harness::left_out::{in_a_hurry, program};
use crate::harness::page::{Home, get};
use serde_json::json;
use std::os::unix::fs::PermissionsExt;
use std::process::Command;

/// What the codes in the picture of a page hold.
pub(super) fn scanned(browser: &mut Browser, page: &str, home: &Home) -> String {
    let path = home.dir.path().join("card.png");
    browser.told(json!({ "do": "picture", "page": page, "path": path }));
    let output = Command::new("zbarimg")
        .args(["--raw", "-q"])
        .arg(&path)
        .output()
        .unwrap();
    String::from_utf8(output.stdout).unwrap().trim().to_owned()
}

pub(super) fn nothing_scans() -> bool {
    without() || !program("zbarimg", "a reader of codes")
}

#[test]
fn a_camera_reads_the_address_that_is_shown() {
    if in_a_hurry("a code read by a camera") || nothing_scans() {
        return;
    }
    let home = Home::new();
    let served = home.serve();
    let mut browser = Browser::start();
    for (language, dark, width) in [("en", false, 1280), ("hi", true, 390), ("hi", false, 320)] {
        let page = format!("{language} {width}");
        browser.told(json!({
            "do": "open", "page": page, "url": served.at("/card"), "language": language, "dark": dark,
            "width": width, "height": 844,
        }));
        assert_eq!(scanned(&mut browser, &page, &home), served.at("/"));
        assert_eq!(browser.text(&page, ".card .address"), served.at("/"));
        browser.accessible(&page);
        let over = "document.documentElement.scrollWidth - document.documentElement.clientWidth";
        assert_eq!(browser.eval(&page, over), 0);
    }
    // Here it leads to this machine only, and says so; elsewhere it leads there.
    assert!(
        get(served.address(), "/card", "")
            .body
            .contains("leads to this machine only")
    );
    assert!(
        get(served.address(), "/people", "")
            .body
            .contains("href=\"/card\"")
    );
    browser.kept_to_itself();
}

#[test]
fn a_card_with_a_key_lets_a_tablet_in_without_typing() {
    if nothing_scans() {
        return;
    }
    let home = Home::begun_today();
    let served = guarded(&home);
    let card = home.dir.path().join("card.html");
    let file = card.to_str().unwrap();
    let args = [
        "keys",
        "add",
        "--role",
        "caregiver",
        "--card",
        file,
        "--address",
        &served.url,
        "--language",
        "hi",
    ];
    let key = home.text(&args).trim().to_owned();
    let mode = std::fs::metadata(&card).unwrap().permissions().mode();
    assert_eq!(mode & 0o777, 0o600, "{mode:o}");
    let mut browser = Browser::start();
    browser.open("card", &format!("file://{file}"));
    browser.accessible("card");
    let held = scanned(&mut browser, "card", &home);
    assert_eq!(held, format!("{}#{key}", served.at("/")));
    // Whoever scanned it is in, and the key does not stand in the address any more.
    browser.open("tablet", &held);
    browser.step("tablet", "rest");
    assert_eq!(browser.eval("tablet", "location.href"), served.at("/"));
    // A file that is there is not written over, and then no key was made.
    let keys = home.text(&["keys", "list"]);
    assert!(!home.command(&args).output().unwrap().status.success());
    assert_eq!(home.text(&["keys", "list"]), keys);
}

#[test]
fn a_card_needs_an_address_that_others_reach() {
    let home = Home::new();
    let card = home.dir.path().join("card.html");
    let add = |more: &[&str]| {
        let mut args = vec![
            "keys",
            "add",
            "--role",
            "caregiver",
            "--card",
            card.to_str().unwrap(),
        ];
        args.extend(more);
        home.command(&args).output().unwrap()
    };
    for wrong in [
        "house.example",
        "ftp://house.example/",
        "http://house.example/week",
        "http://house.example/?a=1",
    ] {
        assert_eq!(add(&["--address", wrong]).status.code(), Some(64), "{wrong}");
    }
    assert_eq!(add(&["--language", "xx"]).status.code(), Some(64));
    let refused = add(&[]);
    assert_eq!(refused.status.code(), Some(64));
    let said = String::from_utf8(refused.stderr).unwrap();
    assert!(said.contains("--address http://ADDRESS:PORT/"), "{said}");
    assert!(!card.exists() && home.json(&["keys", "list", "--json"]).is_empty());
    home.configure("names = [\"house.example\"]\n");
    assert!(add(&[]).status.success());
    assert!(
        std::fs::read_to_string(&card)
            .unwrap()
            .contains("http://house.example:8417/")
    );
}
