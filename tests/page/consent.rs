//! The code of a monitor's user, on the page and at the terminal: kept, told of, forgotten, and shown nowhere.

use super::access::{enter, guarded, key};
use crate::harness::page::{Back, Home, get, post};
use serde_json::json;
use std::io::Write;
use std::process::Stdio;

fn send(at: &str, form: &str, who: &str) -> Back {
    let token = get(at, "/", who).token();
    post(
        at,
        "/monitors/consent",
        &format!("token={token}&monitor=m1&{form}"),
        who,
    )
}

#[test]
fn a_code_is_taken_on_the_page_and_shown_nowhere() {
    let home = Home::new();
    let served = home.serve();
    let at = served.address();
    assert!(!get(at, "/monitors", "").body.contains("/monitors/consent"));
    // The monitor keeps its users apart, and knows of nobody's consent.
    home.heard("2a9a", &[0xff]);
    let page = get(at, "/monitors", "").body;
    assert!(
        page.contains("keeps its users apart") && page.contains("No code is kept yet"),
        "{page}"
    );
    assert_eq!(send(at, "do=keep&number=1&code=4711", "").status, 303);
    assert_eq!(send(at, "do=keep&number=new&code=0815", "").status, 303);
    let kept = json!({ "id": "m1", "users": [1], "registers": true });
    assert_eq!(home.json(&["monitors", "consent", "m1", "--json"]), [kept]);
    home.heard("2a9f", &[0x20, 0x02, 0x05]);
    let page = get(at, "/monitors", "").body;
    for words in [
        "code is kept for user 1",
        "asked to register a new user",
        "did not accept the last code",
    ] {
        assert!(page.contains(words), "{words}: {page}");
    }
    for (form, status) in [
        ("do=keep&number=1&code=47111", 422),
        ("do=keep&number=1&code=", 422),
        ("do=keep&number=255&code=1", 422),
        ("do=keep&number=-1&code=1", 422),
        ("do=dance&number=1&code=1", 422),
    ] {
        let said = send(at, form, "");
        assert_eq!(said.status, status, "{form}");
        assert!(!said.body.contains("4711"), "{form}: {}", said.body);
    }
    for shown in [
        &["frames", "--json"][..],
        &["monitors", "list", "--json"],
        &["monitors", "consent", "m1"],
        &["status", "--json"],
    ] {
        let ran = home.command(shown).output().unwrap();
        let said = String::from_utf8_lossy(&[ran.stdout, ran.stderr].concat()).into_owned();
        assert!(
            !said.contains("4711") && !said.contains("0815") && !said.contains("code\":"),
            "{shown:?}: {said}"
        );
    }
    for path in ["/monitors", "/", "/people", "/sheet"] {
        let body = get(at, path, "").body;
        assert!(!body.contains("4711") && !body.contains("0815"), "{path}: {body}");
    }
    assert_eq!(send(at, "do=forget&number=1", "").status, 303);
    assert_eq!(send(at, "do=forget&number=new", "").status, 303);
    let none = json!({ "id": "m1", "users": [], "registers": false });
    assert_eq!(home.json(&["monitors", "consent", "m1", "--json"]), [none]);
}

#[test]
fn a_code_is_taken_from_whoever_looks_after_the_household_alone() {
    let home = Home::new();
    home.heard("2a9a", &[0xff]);
    let served = guarded(&home);
    let at = served.address();
    let asha = enter(at, &key(&home, &["--role", "person", "--person", "asha"])).unwrap();
    let clinic = enter(at, &key(&home, &["--role", "clinician", "--until", "2099-01-01"])).unwrap();
    let carer = enter(at, &key(&home, &["--role", "caregiver"])).unwrap();
    for (who, may) in [(&asha, false), (&clinic, false), (&carer, true)] {
        assert_eq!(get(at, "/monitors", who).body.contains("/monitors/consent"), may);
        assert_eq!(send(at, "do=keep&number=1&code=4711", who).status == 303, may);
    }
}

/// What `monitors consent` says, and with which code it ends, where somebody types a line.
fn typed(home: &Home, arguments: &[&str], line: &str) -> (i32, String) {
    let mut command = home.command(&[&["monitors", "consent"][..], arguments].concat());
    command
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped());
    let mut child = command.spawn().unwrap();
    // One that asks for nothing may have ended by now.
    let _ = child.stdin.take().unwrap().write_all(line.as_bytes());
    let ran = child.wait_with_output().unwrap();
    let said = String::from_utf8([ran.stdout, ran.stderr].concat()).unwrap();
    (ran.status.code().unwrap(), said)
}

#[test]
fn a_code_is_typed_at_the_terminal_and_never_repeated() {
    let home = Home::new();
    let (code, said) = typed(&home, &["m1"], "");
    assert_eq!((code, said.trim()), (0, "No code is kept for m1."));
    let (code, said) = typed(&home, &["m1", "2"], "0815\n");
    assert!(
        code == 0 && said.contains("user 2 of m1") && !said.contains("815"),
        "{code}: {said}"
    );
    assert_eq!(typed(&home, &["m1", "--register"], "1234\n").0, 0);
    for wrong in ["", "\n", "12345\n", "-1\n", "four\n"] {
        let (code, said) = typed(&home, &["m1", "3"], wrong);
        assert!(
            code == 64 && said.contains("one to four digits"),
            "{wrong:?}: {code}: {said}"
        );
        assert!(!said.contains("12345") && !said.contains("four\n"), "{said}");
    }
    for (arguments, words) in [
        (&["m9", "1"][..], "no monitor m9 is enrolled"),
        (&["m1", "255"], "0 to 254"),
        (&["m1", "1", "--register"], "cannot be used with"),
        (&["m1", "--forget"], "name the user"),
        (&["m1", "1", "--forget"], "no such code is kept"),
    ] {
        let (code, said) = typed(&home, arguments, "1\n");
        assert!(
            code == 64 && said.contains(words),
            "{arguments:?}: {code}: {said}"
        );
    }
    assert_eq!(typed(&home, &["m1", "2", "--forget"], "").0, 0);
    assert_eq!(typed(&home, &["m1", "--register", "--forget"], "").0, 0);
    let none = json!({ "id": "m1", "users": [], "registers": false });
    assert_eq!(home.json(&["monitors", "consent", "m1", "--json"]), [none]);
}
