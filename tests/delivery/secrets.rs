//! Secrets stay where they are: in no output, no log, no journal and no error, even where the server repeats them.

use crate::delivery::clinic::{Clinic, choose, exported_readings, few, held, once};
use crate::harness::command::Ran;
use crate::harness::made::Made;
use serde_json::json;
use std::os::unix::fs::PermissionsExt;

const SECRET: &str = "correct-horse-battery-staple";
/// The same as basic authentication writes it, for the user `gateway`; by `printf gateway:… | base64`.
const ENCODED: &str = "Z2F0ZXdheTpjb3JyZWN0LWhvcnNlLWJhdHRlcnktc3RhcGxl";

fn home(clinic: &Clinic, auth: &str, secret: &str, mode: u32) -> Made {
    let made = Made::of(&few());
    let file = made.home.file(".config/quietcuff/secret", secret);
    std::fs::set_permissions(&file, std::fs::Permissions::from_mode(mode)).unwrap();
    choose(&made.home, &clinic.url(), auth);
    made
}

const BEARER: &str = "auth = \"bearer\"\ntoken-file = \"secret\"";
const BASIC: &str = "auth = \"basic\"\nuser = \"gateway\"\npassword-file = \"secret\"";

pub(crate) fn keeps(made: &Made, secret: &str, ran: &[Ran]) {
    let mut places: Vec<String> = ran.iter().map(|ran| format!("{}{}", ran.out, ran.err)).collect();
    let state = made.home.path(".local/state/quietcuff");
    for file in std::fs::read_dir(state).unwrap().flatten() {
        places.push(String::from_utf8_lossy(&std::fs::read(file.path()).unwrap()).into_owned());
    }
    for place in &places {
        assert!(!place.contains(secret) && !place.contains(ENCODED), "{place}");
    }
}

fn everything(made: &Made) -> Vec<Ran> {
    let calls: [&[&str]; 6] = [
        &["deliver", "--dry-run", "-vv"],
        &["deliver", "--once", "-vv", "--log-json"],
        &["deliver", "--once", "-vv"],
        &["deliver", "list"],
        &["deliver", "list", "--json"],
        &["check", "-vv"],
    ];
    calls.map(|call| made.home.run(call)).into()
}

#[test]
fn a_secret_that_is_taken_is_seen_nowhere() {
    for (auth, kind, secret) in [
        (BEARER, "bearer", SECRET.to_owned()),
        (BASIC, "basic", format!("gateway:{SECRET}")),
    ] {
        let Some(clinic) = Clinic::with(&json!({"auth": kind, "secret": secret})) else {
            return;
        };
        let made = home(&clinic, auth, &format!("{SECRET}\n"), 0o600);
        let ran = everything(&made);
        assert!(ran[0].out.contains("[secret]"));
        assert_eq!((ran[1].code, ran[2].code), (0, 0), "{ran:?}");
        assert_eq!(held(&clinic), exported_readings(&made));
        keeps(&made, SECRET, &ran);
    }
}

/// This server says who it did not let in, with the whole header field.
#[test]
fn a_secret_that_the_server_repeats_is_seen_nowhere() {
    let Some(clinic) = Clinic::with(&json!({"auth": "bearer", "secret": "another"})) else {
        return;
    };
    for auth in [BEARER, BASIC] {
        let made = home(&clinic, auth, SECRET, 0o600);
        let ran = everything(&made);
        assert!(ran[1].code == 77 && ran[1].err.contains("[secret]"), "{ran:?}");
        keeps(&made, SECRET, &ran);
    }
}

#[test]
fn a_secret_that_others_can_read_is_not_used() {
    let Some(clinic) = Clinic::with(&json!({"auth": "bearer", "secret": SECRET})) else {
        return;
    };
    let made = home(&clinic, BEARER, SECRET, 0o644);
    let ran = once(&made.home).failed(77, &["chmod 600"]);
    assert_eq!(clinic.requests(), 0);
    keeps(&made, SECRET, &[ran]);
    // A line break inside could be a header field of its own.
    let two = format!("{SECRET}\r\nX-Evil: 1");
    let made = home(&clinic, BEARER, &two, 0o600);
    let ran = once(&made.home);
    assert_ne!(ran.code, 0);
    assert_eq!(clinic.requests(), 0);
    keeps(&made, SECRET, &[ran]);
}

/// As a unit with `LoadCredential=` sees it.
#[test]
fn a_credential_of_systemds_is_used() {
    let Some(clinic) = Clinic::with(&json!({"auth": "bearer", "secret": SECRET})) else {
        return;
    };
    let made = home(&clinic, BEARER, "not this one", 0o600);
    made.home.file("credentials/secret", SECRET);
    std::fs::set_permissions(
        made.home.path("credentials/secret"),
        std::fs::Permissions::from_mode(0o400),
    )
    .unwrap();
    let output = made
        .home
        .command(&["deliver", "--once"])
        .env("CREDENTIALS_DIRECTORY", made.home.path("credentials"))
        .output()
        .unwrap();
    assert!(output.status.success(), "{output:?}");
    assert_eq!(held(&clinic), exported_readings(&made));
}
