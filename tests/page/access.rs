//! Keys: one that is wrong, withdrawn, over, one person's, read-only.

use crate::harness::browser::{Browser, without};
use crate::harness::page::{Home, Served, get, post};
use quietcuff::outbound::{Ask, Endpoint, HttpRequest, Outbound, OutboundError};
use std::os::unix::fs::PermissionsExt;

/// Served as behind a proxy, which asks for keys, so that the tests need no address beside this machine's.
pub(crate) fn guarded(home: &Home) -> Served {
    home.configure("behind-proxy = true\nplain-http-to-others = true\n");
    home.serve()
}

pub(crate) fn key(home: &Home, args: &[&str]) -> String {
    let mut all = vec!["keys", "add"];
    all.extend(args);
    home.text(&all).trim().to_owned()
}

/// The cookie that a key gets.
pub(crate) fn enter(address: &str, key: &str) -> Result<String, u16> {
    let token = get(address, "/", "").token();
    let back = post(address, "/key", &format!("token={token}&key={key}"), "");
    match back.header("set-cookie") {
        Some(cookie) if back.status == 303 => {
            assert!(
                cookie.contains("HttpOnly") && cookie.contains("SameSite=Strict"),
                "{cookie}"
            );
            Ok(format!("Cookie: {}\r\n", cookie.split(';').next().unwrap()))
        }
        _ => Err(back.status),
    }
}

#[test]
fn a_key_opens_the_page_until_it_is_withdrawn() {
    let home = Home::new();
    let served = guarded(&home);
    let at = served.address();
    for path in [
        "/",
        "/week?person=asha",
        "/earlier",
        "/sheet/open?person=asha",
        "/live",
        "/notes",
    ] {
        let shut = get(at, path, "");
        assert_eq!(shut.status, 401, "{path}");
        assert!(!shut.body.contains("Asha"), "{path}");
    }
    let secret = key(&home, &["--role", "caregiver", "--label", "kitchen"]);
    assert_eq!(enter(at, "00000-00000-00000-00000-00000-0"), Err(403));
    assert_eq!(enter(at, "secret"), Err(403));
    let cookie = enter(at, &secret).unwrap();
    assert_eq!(get(at, "/week?person=asha", &cookie).status, 200);
    // A session's secret is no key, and a key is no session.
    let session = cookie.trim().split('=').nth(1).unwrap();
    assert_eq!(enter(at, session), Err(403));
    let as_cookie = format!("Cookie: quietcuff-session={}\r\n", secret.replace('-', ""));
    assert_eq!(get(at, "/", &as_cookie).status, 401);

    home.text(&["keys", "withdraw", "k1"]);
    assert_eq!(get(at, "/week?person=asha", &cookie).status, 401);
    assert_eq!(enter(at, &secret), Err(403));
    // Nothing of the secret is in the journal, nor what was the session's.
    let kept = std::fs::read(home.state().join("journal.sqlite")).unwrap();
    let wal = std::fs::read(home.state().join("journal.sqlite-wal")).unwrap_or_default();
    for octets in [kept, wal] {
        let plain = secret.replace('-', "");
        for letters in [plain.as_bytes(), secret.as_bytes(), session.as_bytes()] {
            assert!(!octets.windows(letters.len()).any(|part| part == letters));
        }
    }
}

#[test]
fn a_person_sees_and_notes_only_their_own() {
    let home = Home::new();
    home.reading(60, 151, 93, 0);
    let served = guarded(&home);
    let at = served.address();
    let cookie = enter(at, &key(&home, &["--role", "person", "--person", "ravi"])).unwrap();
    let own = get(at, "/", &cookie);
    assert_eq!(own.status, 200);
    assert!(own.body.contains("Ravi") && !own.body.contains("Asha") && !own.body.contains("151/93"));
    for path in ["/people", "/monitors", "/week"] {
        let page = get(at, path, &cookie);
        assert_eq!(page.status, 200, "{path}");
        assert!(!page.body.contains("Asha"), "{path}: {}", page.body);
    }
    for path in [
        "/?person=asha",
        "/week?person=asha",
        "/earlier?person=asha",
        "/notes?person=asha",
        "/questions",
        "/sheet?person=asha",
        "/sheet/open?person=asha",
    ] {
        assert_eq!(get(at, path, &cookie).status, 403, "{path}");
    }
    assert_eq!(get(at, "/live?person=asha", &cookie).status, 404);
    let token = own.token();
    let note = |whose: &str| {
        post(
            at,
            "/notes",
            &format!("token={token}&person={whose}&what=coffee"),
            &cookie,
        )
        .status
    };
    assert_eq!(note("asha"), 403);
    assert_eq!(note("ravi"), 303);
    let period = format!("token={token}&person=ravi");
    assert_eq!(post(at, "/period", &period, &cookie).status, 403);
    let notes = home.json(&["note", "list", "--json"]);
    assert_eq!(notes.len(), 1);
    assert_eq!(notes[0]["person"], "ravi");
    // Whoever is removed has no key any more, and sees nothing of anybody's.
    home.text(&["people", "remove", "ravi"]);
    for path in ["/", "/live", "/week"] {
        let page = get(at, path, &cookie);
        assert!(
            !page.body.contains("Asha") && !page.body.contains("151/93"),
            "{path}: {}",
            page.body
        );
    }
    assert_eq!(
        (get(at, "/", &cookie).status, get(at, "/live", &cookie).status),
        (401, 401)
    );
}

/// A reading that waits may be answered on two screens.
#[test]
fn an_old_screen_takes_nothing_back() {
    let home = Home::of(&[("asha", "Asha"), ("ravi", "Ravi")], None);
    home.reading(60, 131, 84, 0);
    let served = home.serve();
    let at = served.address();
    let page = get(at, "/questions", "");
    let reading = home.json(&["readings", "--json"])[0]["id"]
        .as_str()
        .unwrap()
        .to_owned();
    assert!(page.body.contains(&reading));
    let say = |rest: &str| {
        let form = format!("token={}&reading={reading}&{rest}", page.token());
        post(at, "/questions", &form, "").status
    };
    assert_eq!(say(""), 404, "no answer is none");
    assert_eq!(say("person=asha"), 303);
    assert_eq!(say("discard=guest"), 404);
    let kept = home.json(&["readings", "--json"]);
    assert_eq!(
        (&kept[0]["person"], &kept[0]["disposition"]),
        (&"asha".into(), &"marked".into()),
        "{kept:?}"
    );
}

#[test]
fn a_caregiver_of_one_person_changes_nothing_of_the_others() {
    let home = Home::new();
    home.reading(60, 151, 93, 0);
    let served = guarded(&home);
    let at = served.address();
    let cookie = enter(at, &key(&home, &["--role", "caregiver", "--person", "ravi"])).unwrap();
    for path in ["/questions", "/metrics", "/monitors/pair", "/monitors/listeners"] {
        let page = get(at, path, &cookie);
        assert!(matches!(page.status, 403 | 404), "{path}: {}", page.status);
        assert!(!page.body.contains("Asha"), "{path}");
    }
}

#[test]
fn another_language_leaves_the_person() {
    let home = Home::new();
    let served = home.serve();
    let page = get(served.address(), "/notes?person=ravi", "");
    let chosen = format!("token={}&language=hi&back=/notes?person%3Dravi", page.token());
    assert!(
        page.body.contains("name=\"back\" value=\"/notes?person=ravi\""),
        "{}",
        page.body
    );
    let back = post(served.address(), "/language", &chosen, "");
    assert_eq!(back.header("location"), Some("/notes?person=ravi"));
}

#[test]
fn a_clinician_looks_for_a_time_and_changes_nothing() {
    let home = Home::of(&[("asha", "Asha"), ("ravi", "Ravi")], None);
    home.reading(60, 151, 93, 0);
    let served = guarded(&home);
    let at = served.address();
    let today = jiff::tz::Offset::UTC.to_datetime(jiff::Timestamp::now()).date();
    let tomorrow = today.tomorrow().unwrap().tomorrow().unwrap().to_string();
    let cookie = enter(at, &key(&home, &["--role", "clinician", "--until", &tomorrow])).unwrap();
    let page = get(at, "/questions", &cookie);
    assert_eq!(page.status, 200);
    assert!(page.body.contains("change nothing") && !page.body.contains("action=\"/questions\""));
    let token = page.token();
    let reading = home.json(&["readings", "--json"])[0]["id"]
        .as_str()
        .unwrap()
        .to_owned();
    for (path, form) in [
        ("/questions", format!("reading={reading}&person=asha")),
        ("/notes", "person=asha&what=coffee".to_owned()),
        ("/rest", "person=asha&rest=start".to_owned()),
        ("/period", "person=asha".to_owned()),
        ("/notes/take-back", "person=asha&note=00000000".to_owned()),
    ] {
        let form = format!("token={token}&{form}");
        assert_eq!(post(at, path, &form, &cookie).status, 403, "{path}");
    }
    assert!(home.json(&["note", "list", "--json"]).is_empty());
    assert!(home.json(&["readings", "--json"])[0]["person"].is_null());
    // A clinician's key without an end, and one that is over already, are not made.
    for args in [
        vec!["keys", "add", "--role", "clinician"],
        vec!["keys", "add", "--role", "clinician", "--until", "2020-01-01"],
        vec!["keys", "add", "--role", "person"],
    ] {
        assert_eq!(
            home.command(&args).output().unwrap().status.code(),
            Some(64),
            "{args:?}"
        );
    }
}

#[test]
fn a_person_types_the_key_in_a_browser() {
    if without() {
        return;
    }
    let home = Home::begun_today();
    let served = guarded(&home);
    let secret = key(&home, &["--role", "caregiver"]);
    let mut browser = Browser::start();
    browser.open("page", &served.at("/"));
    browser.accessible("page");
    browser.fill("page", "#key", "not a key");
    browser.click("page", "main button");
    assert!(browser.text("page", ".notice").contains("does not open the page"));
    browser.accessible("page");
    browser.fill("page", "#key", &secret.to_uppercase());
    browser.click("page", "main button");
    browser.step("page", "rest");
    browser.click("page", "form[action='/leave'] button");
    browser.wait("page", "document.querySelector('#key') !== null");
    browser.kept_to_itself();
}

#[test]
fn nothing_is_served_to_others_in_the_clear_unless_the_configuration_says_so() {
    let home = Home::new();
    let refused = home
        .command(&["serve", "--listen", "0.0.0.0:0"])
        .output()
        .unwrap();
    assert_eq!(refused.status.code(), Some(78));
    let said = String::from_utf8(refused.stderr).unwrap();
    assert!(
        said.contains("plain-http-to-others") && said.contains("tls-certificate"),
        "{said}"
    );
    home.configure("tls-certificate = \"there-is-none.pem\"\ntls-key = \"there-is-none.key\"\n");
    let refused = home
        .command(&["serve", "--listen", "127.0.0.1:0"])
        .output()
        .unwrap();
    assert_eq!(refused.status.code(), Some(78));
    home.configure("tls-certificate = \"page.pem\"\n");
    let refused = home.command(&["serve"]).output().unwrap();
    assert_eq!(refused.status.code(), Some(78));
}

/// By a client that knows nothing of the server but its certificate; what is asked for is how the collector is.
#[test]
fn with_a_certificate_it_is_served_over_tls_and_to_no_stranger_to_it() {
    let home = Home::new();
    let made = rcgen::generate_simple_self_signed(["127.0.0.1".to_owned()]).unwrap();
    let pem = home.dir.path().join("page.pem");
    std::fs::write(&pem, made.cert.pem()).unwrap();
    let key = home.dir.path().join("page.key");
    std::fs::write(&key, made.signing_key.serialize_pem()).unwrap();
    std::fs::set_permissions(&key, std::fs::Permissions::from_mode(0o600)).unwrap();
    home.configure("tls-certificate = \"page.pem\"\ntls-key = \"page.key\"\n");
    home.reading(60, 131, 84, 0);
    let served = home.serve();
    let to = Endpoint::parse(&served.at("/metrics"), false).unwrap();
    let request = HttpRequest {
        to: &to,
        body: None,
        replaces: false,
        accept: "*/*",
        authorization: None,
        fields: &[],
        answer_max: 1 << 20,
    };
    let now = jiff::Timestamp::now();
    let answer = Outbound::new(Some(&pem)).unwrap().ask(&request, now).unwrap();
    assert_eq!(
        (answer.status, answer.media_type.as_str()),
        (200, "application/openmetrics-text")
    );
    let text = String::from_utf8(answer.body).unwrap();
    assert!(
        text.contains("\nquietcuff_readings 1\n") && text.ends_with("# EOF\n"),
        "{text}"
    );
    let stranger = Outbound::new(None).unwrap().ask(&request, now).unwrap_err();
    assert!(
        matches!(stranger, OutboundError::Certificate { .. }),
        "{stranger}"
    );
}
