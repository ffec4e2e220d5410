//! Keys for several people, and for a group: nothing of anybody else's is seen or changed by them, at any route.

use super::access::{enter, guarded, key};
use crate::harness::command::of_project;
use crate::harness::page::{Home, get, post};
use crate::page::people::{base_of, of};
use std::collections::BTreeSet;
use std::io::{Read, Write};
use std::net::TcpStream;
use std::time::Duration;

/// Routes that say nothing of anybody, or end or change the session itself.
const OF_NOBODY: [&str; 8] = [
    "/key",
    "/language",
    "/leave",
    "/health",
    "/favicon.ico",
    "/now.js",
    "/page.css",
    "/page.js",
];

/// Asha, whose the monitor is and who measured, and two people upstairs.
fn house() -> Home {
    let home = Home::begun_today();
    home.text(&["people", "add", "mina", "--label", "Mina", "--group", "upstairs"]);
    home.text(&["people", "edit", "ravi", "--group", "upstairs"]);
    home.reading(60, 151, 93, 0);
    home.text(&["note", "add", "other", "a secret of hers", "--person", "asha"]);
    home
}

/// Every path that the page's own routes name.
fn routes() -> BTreeSet<String> {
    let mut routes = BTreeSet::new();
    for file in ["routes.rs", "opening.rs"] {
        let source = of_project(&format!("src/home/page/{file}")).unwrap();
        let literals = source.split("\"/").skip(1);
        let paths = literals.filter_map(|text| text.split('"').next());
        let paths = paths.filter(|path| {
            path.bytes()
                .all(|b| b.is_ascii_lowercase() || b"/-.".contains(&b))
        });
        routes.extend(paths.map(|path| format!("/{path}")));
    }
    for path in [
        "/",
        "/household",
        "/reading",
        "/live",
        "/clinic",
        "/monitors/pair",
    ] {
        assert!(routes.contains(path), "{path}: {routes:?}");
    }
    routes.retain(|path| !OF_NOBODY.contains(&path.as_str()));
    routes
}

fn statements(home: &Home) -> i64 {
    home.journal().newest_statement().unwrap()
}

/// What an open page is told first.
fn first_of_stream(address: &str, cookie: &str) -> (TcpStream, String) {
    let mut stream = TcpStream::connect(address).unwrap();
    stream.set_read_timeout(Some(Duration::from_secs(20))).unwrap();
    let ask = format!("GET /live HTTP/1.1\r\nHost: {address}\r\n{cookie}\r\n");
    stream.write_all(ask.as_bytes()).unwrap();
    let (mut seen, mut octets) = (String::new(), [0; 16_384]);
    while !seen.contains("event: now") || !seen.ends_with("\n\n\r\n") {
        let n = stream.read(&mut octets).unwrap();
        assert!(n > 0, "{seen}");
        seen.push_str(&String::from_utf8_lossy(&octets[..n]));
    }
    (stream, seen)
}

fn hers(text: &str) -> bool {
    ["Asha", "151/93", ">151<", "a secret of hers"]
        .iter()
        .any(|part| text.contains(part))
}

/// Asks every route, as it is and about Asha, with a key that is for others.
fn nothing_of_hers(home: &Home, at: &str, cookie: &str) {
    let reading = home.json(&["readings", "--json"])[0]["id"]
        .as_str()
        .unwrap()
        .to_owned();
    let note = home.json(&["note", "list", "--json"])[0]["id"]
        .as_str()
        .unwrap()
        .to_owned();
    let token = get(at, "/people", cookie).token();
    let before = statements(home);
    let about = format!(
        "person=asha&reading={reading}&note={note}&monitor=m1&number=without&since=now&what=coffee&rest=start\
         &answer=looked-after&discard=guest&saw=&label=Other&do=begin&address=C0:FF:EE:00:00:01&listener=l1&at=x"
    );
    for path in routes() {
        if path != "/live" {
            let plain = get(at, &path, cookie);
            assert!(!hers(&plain.body), "{path}: {}", plain.body);
        }
        let named = get(at, &format!("{path}?{about}"), cookie);
        assert!(!hers(&named.body), "{path}: {}", named.body);
        let posted = post(at, &path, &format!("token={token}&{about}"), cookie);
        assert!(posted.status >= 400, "{path}: {}", posted.status);
        assert!(!hers(&posted.body), "{path}: {}", posted.body);
    }
    for path in ["/", "/week", "/earlier", "/notes", "/sheet", "/sheet/open"] {
        assert_eq!(
            get(at, &format!("{path}?person=asha"), cookie).status,
            403,
            "{path}"
        );
    }
    assert_eq!(
        get(at, &format!("/reading?reading={reading}"), cookie).status,
        404
    );
    for path in ["/questions", "/person", "/monitors/pair", "/monitors/listeners"] {
        assert_eq!(get(at, path, cookie).status, 403, "{path}");
    }
    assert_eq!(statements(home), before);
    let (_, live) = first_of_stream(at, cookie);
    assert!(!hers(&live), "{live}");
}

#[test]
fn a_key_of_a_group_sees_and_notes_what_is_theirs() {
    let home = house();
    let served = guarded(&home);
    let at = served.address();
    let cookie = enter(at, &key(&home, &["--role", "caregiver", "--group", "upstairs"])).unwrap();
    nothing_of_hers(&home, at, &cookie);
    for path in ["/household", "/people"] {
        let page = get(at, path, &cookie).body;
        assert!(page.contains("Ravi") && page.contains("Mina"), "{path}: {page}");
    }
    let token = get(at, "/notes?person=mina", &cookie).token();
    for (whose, status) in [("asha", 403), ("ravi", 303), ("mina", 303)] {
        let form = format!("token={token}&person={whose}&what=coffee");
        assert_eq!(post(at, "/notes", &form, &cookie).status, status, "{whose}");
    }
    // Whoever leaves the group is seen no more, from that moment on; whoever joins is.
    let (mut live, shown) = first_of_stream(at, &cookie);
    assert!(shown.contains("mina"), "the first of them: {shown}");
    home.text(&["people", "edit", "mina", "--clear", "group"]);
    let mut rest = String::new();
    live.read_to_string(&mut rest).unwrap();
    assert_eq!(get(at, "/week?person=mina", &cookie).status, 403);
    assert!(!get(at, "/people", &cookie).body.contains("Mina"));
    home.text(&["people", "edit", "asha", "--group", "upstairs"]);
    assert_eq!(get(at, "/week?person=asha", &cookie).status, 200);
    // Nobody is left, and nothing stands for everybody.
    for person in ["asha", "ravi"] {
        home.text(&["people", "edit", person, "--clear", "group"]);
    }
    for path in ["/", "/live", "/week"] {
        let page = get(at, path, &cookie);
        assert!(
            !hers(&page.body) && !page.body.contains("Ravi"),
            "{path}: {}",
            page.body
        );
    }
}

#[test]
fn a_key_of_several_people_is_for_these() {
    let home = house();
    let served = guarded(&home);
    let at = served.address();
    let cookie = enter(
        at,
        &key(
            &home,
            &["--role", "caregiver", "--person", "ravi", "--person", "mina"],
        ),
    )
    .unwrap();
    nothing_of_hers(&home, at, &cookie);
    assert_eq!(get(at, "/week?person=mina", &cookie).status, 200);
    let looks = [
        "--role",
        "clinician",
        "--group",
        "upstairs",
        "--until",
        "2999-12-31",
    ];
    let cookie = enter(at, &key(&home, &looks)).unwrap();
    nothing_of_hers(&home, at, &cookie);
    let token = get(at, "/notes?person=mina", &cookie).token();
    let form = format!("token={token}&person=mina&what=coffee");
    assert_eq!(post(at, "/notes", &form, &cookie).status, 403);
    let listed = home.json(&["keys", "list", "--json"]);
    assert_eq!(listed[0]["people"], serde_json::json!(["mina", "ravi"]));
    assert_eq!(
        (&listed[0]["person"], &listed[1]["group"]),
        (&serde_json::Value::Null, &"upstairs".into())
    );
    // Whoever has no such group, and a person's own key for two, is told so.
    for args in [
        vec!["keys", "add", "--role", "caregiver", "--group", "attic"],
        vec![
            "keys", "add", "--role", "person", "--person", "ravi", "--person", "mina",
        ],
        vec!["keys", "add", "--role", "person", "--group", "upstairs"],
        vec!["people", "edit", "ravi", "--group", "two words"],
    ] {
        let code = home.command(&args).output().unwrap().status.code();
        assert!(matches!(code, Some(2 | 64)), "{args:?}: {code:?}");
    }
    // Those who look after everybody find them by it.
    let all = enter(at, &key(&home, &["--role", "caregiver"])).unwrap();
    assert!(hers(&get(at, "/week?person=asha", &all).body));
    let found = get(at, "/people?find=upstairs", &all).body;
    assert!(
        found.contains("Mina") && found.contains("Ravi") && !found.contains("Asha"),
        "{found}"
    );
}

/// The form of a person, filled as it stands but for the group.
fn with_group(at: &str, cookie: &str, person: &str, group: &str) -> String {
    let form = get(at, &format!("/person?person={person}"), cookie);
    let mut filled = form_urlencoded::Serializer::new(String::new());
    filled.extend_pairs([
        ("token", form.token().as_str()),
        ("person", person),
        ("base", &base_of(&form.body)),
        ("label", person),
        ("protocol", "seven-day"),
        ("group", group),
    ]);
    filled.finish()
}

#[test]
fn a_group_is_given_on_the_page_by_whoever_looks_after_everybody() {
    let home = house();
    let served = guarded(&home);
    let at = served.address();
    let all = enter(at, &key(&home, &["--role", "caregiver"])).unwrap();
    let upstairs = enter(at, &key(&home, &["--role", "caregiver", "--group", "upstairs"])).unwrap();
    let form = get(at, "/person?person=asha", &all).body;
    assert!(form.contains("<option value=\"upstairs\">"), "{form}");
    // As on the command line: one word that is seen, and no longer than an id.
    let long = "x".repeat(33);
    for wrong in ["two words", "un\u{200b}seen", "a\ttab", &long] {
        let back = post(at, "/person", &with_group(at, &all, "asha", wrong), &all);
        assert_eq!(back.status, 422, "{wrong:?}");
        assert!(
            back.body.contains("A group is one word of at most 32"),
            "{wrong:?}"
        );
        assert!(
            back.body.contains(&format!("value=\"{wrong}\"")),
            "what was typed stays"
        );
        let told = home
            .command(&["people", "edit", "asha", "--group", wrong])
            .output()
            .unwrap();
        assert!(matches!(told.status.code(), Some(2 | 64)), "{wrong:?}");
    }
    assert_eq!(of(&home, "asha")["group"], serde_json::Value::Null);
    assert_eq!(get(at, "/week?person=asha", &upstairs).status, 403);
    for (group, status) in [("upstairs", 200), ("", 403), ("गलियारा", 403)] {
        let saved = post(at, "/person", &with_group(at, &all, "asha", group), &all);
        assert_eq!(saved.status, 303, "{group:?}: {}", saved.body);
        let stated = &of(&home, "asha")["group"];
        assert_eq!(stated.as_str().unwrap_or_default(), group);
        assert_eq!(
            get(at, "/week?person=asha", &upstairs).status,
            status,
            "{group:?}"
        );
    }
    // A word that would end its attribute, if it could.
    let hostile = "\"><script>alert(1)</script>";
    assert_eq!(
        post(at, "/person", &with_group(at, &all, "asha", hostile), &all).status,
        303
    );
    for path in ["/person?person=ravi", "/people"] {
        assert!(!get(at, path, &all).body.contains("<script>alert"), "{path}");
    }
}

/// Whoever moved somebody between groups would see more, or hide somebody from others.
#[test]
fn no_key_for_some_moves_anybody_between_groups() {
    let home = house();
    let served = guarded(&home);
    let at = served.address();
    let all = enter(at, &key(&home, &["--role", "caregiver"])).unwrap();
    let forms: Vec<(&str, String)> = [("asha", "upstairs"), ("ravi", "attic"), ("mina", "")]
        .map(|(person, group)| (person, with_group(at, &all, person, group)))
        .into();
    let of_all = get(at, "/person", &all).token();
    for args in [
        &["--role", "caregiver", "--group", "upstairs"][..],
        &["--role", "caregiver", "--person", "ravi", "--person", "mina"],
        &["--role", "person", "--person", "ravi"],
        &[
            "--role",
            "clinician",
            "--group",
            "upstairs",
            "--until",
            "2999-12-31",
        ],
        &["--role", "clinician", "--until", "2999-12-31"],
    ] {
        let cookie = enter(at, &key(&home, args)).unwrap();
        let own = get(at, "/people", &cookie).token();
        let before = statements(&home);
        for (person, form) in &forms {
            assert_eq!(
                get(at, &format!("/person?person={person}"), &cookie).status,
                403,
                "{args:?}"
            );
            let form = form.replace(&of_all, &own);
            assert!(form.contains(&own));
            assert_eq!(
                post(at, "/person", &form, &cookie).status,
                403,
                "{args:?}: {person}"
            );
        }
        let new = format!("token={own}&label=Newcomer&protocol=seven-day&group=upstairs");
        assert_eq!(post(at, "/person", &new, &cookie).status, 403, "{args:?}");
        assert_eq!(statements(&home), before, "{args:?}");
    }
}
