//! Many connections, many streams, many wrong keys, a clock that runs behind, a certificate that does not hold: nobody
//! who has a right to the page is locked out, and nobody else gets in. Certificates by `openssl`.

use super::access::{enter, guarded, key};
use crate::harness::left_out::program;
use crate::harness::page::{Home, Served, get};
use jiff::{SignedDuration, Timestamp};
use std::io::{Read, Write};
use std::net::TcpStream;
use std::os::unix::fs::PermissionsExt;
use std::path::PathBuf;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

const WRONG: &str = "00000-00000-00000-00000-00000-0";

/// Answered within what a person takes for at once.
fn at_once(served: &Served, path: &str, more: &str) -> u16 {
    let begun = Instant::now();
    let back = get(served.address(), path, more);
    assert!(
        begun.elapsed() < Duration::from_secs(2),
        "{path}: {:?}",
        begun.elapsed()
    );
    back.status
}

#[test]
fn connections_that_say_nothing_lock_nobody_out() {
    let home = Home::new();
    // The address of a proxy is everybody's, that of a machine is one household's.
    let open = home.serve();
    let home = Home::new();
    let proxied = guarded(&home);
    for served in [open, proxied] {
        let idle: Vec<TcpStream> = (0..300)
            .map(|_| TcpStream::connect(served.address()).unwrap())
            .collect();
        let status = at_once(&served, "/", "");
        assert!(matches!(status, 200 | 401), "{status}");
        drop(idle);
    }
}

/// A stream that is open: its first event has come.
fn stream(served: &Served, more: &str) -> TcpStream {
    let mut stream = TcpStream::connect(served.address()).unwrap();
    stream.set_read_timeout(Some(Duration::from_secs(10))).unwrap();
    let ask = format!(
        "GET /live?person=asha HTTP/1.1\r\nHost: {}\r\n{more}\r\n",
        served.address()
    );
    stream.write_all(ask.as_bytes()).unwrap();
    let (mut seen, mut octets) = (String::new(), [0_u8; 4096]);
    while !seen.contains("event: now") {
        let n = stream.read(&mut octets).unwrap();
        assert!(n > 0, "{seen}");
        seen.push_str(&String::from_utf8_lossy(&octets[..n]));
    }
    stream
}

#[test]
fn streams_of_one_key_take_their_places_from_themselves() {
    let home = Home::new();
    let served = guarded(&home);
    let secret = |label: &str| key(&home, &["--role", "caregiver", "--label", label]);
    let greedy = secret("greedy");
    let mut kitchen = {
        let cookie = enter(served.address(), &secret("kitchen")).unwrap();
        (stream(&served, &cookie), cookie)
    };
    // Of one session, and of many sessions with one key.
    let cookie = enter(served.address(), &greedy).unwrap();
    let mut many: Vec<TcpStream> = (0..256).map(|_| stream(&served, &cookie)).collect();
    for _ in 0..24 {
        let cookie = enter(served.address(), &greedy).unwrap();
        many.extend((0..8).map(|_| stream(&served, &cookie)));
    }
    assert_eq!(at_once(&served, "/", &kitchen.1), 200);
    // The other household's screen was left alone, and follows.
    home.reading(0, 131, 84, 0);
    let mut octets = [0_u8; 4096];
    assert!(kitchen.0.read(&mut octets).unwrap() > 0);
    drop(stream(&served, &kitchen.1));
    // Those that were not ended: as many as one key may have.
    let going_on = |stream: &TcpStream| {
        stream.set_nonblocking(true).unwrap();
        let (mut stream, mut all, mut octets) = (stream, Vec::new(), [0_u8; 65536]);
        while let Ok(n) = stream.read(&mut octets) {
            if n == 0 {
                return false;
            }
            all.extend_from_slice(&octets[..n]);
        }
        // The last chunk has no octets (RFC 9112 7.1).
        !all.ends_with(b"\r\n0\r\n\r\n") && !all.ends_with(b"0\r\n\r\n")
    };
    let open = many.iter().filter(|stream| going_on(stream)).count();
    assert!((64..=128).contains(&open), "{open}");
}

#[test]
fn wrong_keys_slow_down_whoever_tries_them_and_nobody_else() {
    let home = Home::new();
    let served = guarded(&home);
    let at = served.address();
    let secret = key(&home, &["--role", "caregiver"]);
    for _ in 0..5 {
        assert_eq!(enter(at, WRONG), Err(403));
    }
    let begun = Instant::now();
    assert_eq!(enter(at, WRONG), Err(429));
    assert!(begun.elapsed() >= Duration::from_secs(2), "{:?}", begun.elapsed());
    // While eighty more are held, from the same address, which may be a proxy's.
    std::thread::scope(|guessing| {
        for _ in 0..80 {
            guessing.spawn(|| enter(at, WRONG));
        }
        std::thread::sleep(Duration::from_millis(300));
        let begun = Instant::now();
        let cookie = enter(at, &secret).unwrap();
        assert_eq!(get(at, "/", &cookie).status, 200);
        assert!(begun.elapsed() < Duration::from_secs(2), "{:?}", begun.elapsed());
    });
}

/// A gateway whose clock runs behind what its journal knows.
#[test]
fn a_key_that_was_over_stays_over_when_the_clock_runs_behind() {
    let home = Home::new();
    let served = guarded(&home);
    let today = jiff::tz::Offset::UTC.to_datetime(Timestamp::now()).date();
    let until = today.checked_add(jiff::Span::new().days(2)).unwrap().to_string();
    let secret = key(
        &home,
        &["--role", "clinician", "--person", "asha", "--until", &until],
    );
    let cookie = enter(served.address(), &secret).unwrap();
    assert_eq!(get(served.address(), "/", &cookie).status, 200);
    let later = Timestamp::now() + SignedDuration::from_hours(24 * 5);
    home.measurement(later, vec![0x14, 131, 0, 84, 0, 0xff, 0x07, 71, 0, 0, 0]);
    assert_eq!(get(served.address(), "/", &cookie).status, 401);
    assert_eq!(enter(served.address(), &secret), Err(403));
    assert_eq!(home.json(&["keys", "list", "--json"])[0]["state"], "over");
}

struct Certificate {
    home: Home,
    pem: PathBuf,
    key: PathBuf,
}

/// Made by `openssl`, for so many days, and configured.
fn certificate(days: &str) -> Option<Certificate> {
    if !program("openssl", "a certificate that we did not make") {
        return None;
    }
    let home = Home::new();
    let (pem, key) = (home.dir.path().join("page.pem"), home.dir.path().join("page.key"));
    let made = Command::new("openssl")
        .args([
            "req",
            "-x509",
            "-newkey",
            "ec",
            "-pkeyopt",
            "ec_paramgen_curve:P-256",
            "-nodes",
            "-days",
            days,
        ])
        .args([
            "-subj",
            "/CN=invented.example",
            "-addext",
            "subjectAltName=IP:127.0.0.1",
            "-out",
        ])
        .arg(&pem)
        .arg("-keyout")
        .arg(&key)
        .output()
        .unwrap();
    assert!(made.status.success(), "{made:?}");
    home.configure("tls-certificate = \"page.pem\"\ntls-key = \"page.key\"\n");
    Some(Certificate { home, pem, key })
}

impl Certificate {
    fn finding(&self) -> (String, String) {
        let output = self.home.command(&["check", "--json"]).output().unwrap();
        let text = String::from_utf8(output.stdout).unwrap();
        let finding = text
            .lines()
            .map(|line| serde_json::from_str::<serde_json::Value>(line).unwrap())
            .find(|finding| finding["check"] == "page certificate")
            .unwrap();
        let word = |name: &str| finding[name].as_str().unwrap().to_owned();
        (word("state"), word("found"))
    }
}

#[test]
fn with_tls_a_browser_is_told_to_come_back_encrypted_only() {
    let Some(made) = certificate("90") else { return };
    let served = made.home.serve();
    let mut client = Command::new("openssl")
        .args(["s_client", "-quiet", "-verify_return_error", "-CAfile"])
        .arg(&made.pem)
        .args([
            "-connect",
            served.url.trim_start_matches("https://").trim_end_matches('/'),
        ])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let ask = b"GET / HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n";
    client.stdin.as_mut().unwrap().write_all(ask).unwrap();
    let answer = String::from_utf8(client.wait_with_output().unwrap().stdout).unwrap();
    assert!(
        answer.contains("\r\nstrict-transport-security: max-age="),
        "{answer}"
    );
    let plain = Home::new();
    let served = plain.serve();
    assert!(
        get(served.address(), "/", "")
            .header("strict-transport-security")
            .is_none()
    );
}

#[test]
fn a_certificate_that_ends_soon_or_has_ended_is_said_by_check() {
    let Some(made) = certificate("90") else { return };
    let (state, found) = made.finding();
    assert_eq!(state, "ok", "{found}");
    let end = Command::new("openssl")
        .args(["x509", "-noout", "-enddate", "-dateopt", "iso_8601", "-in"])
        .arg(&made.pem)
        .output()
        .unwrap();
    let end = String::from_utf8(end.stdout).unwrap();
    let day = end
        .trim()
        .trim_start_matches("notAfter=")
        .split(' ')
        .next()
        .unwrap();
    assert!(found.contains(day), "{found} {end}");
    let soon = certificate("10").unwrap();
    assert_eq!(soon.finding().0, "advised");
    let mut over = rcgen::CertificateParams::new(vec!["127.0.0.1".to_owned()]).unwrap();
    over.not_before = rcgen::date_time_ymd(2020, 1, 1);
    over.not_after = rcgen::date_time_ymd(2020, 2, 1);
    let pair = rcgen::KeyPair::generate().unwrap();
    std::fs::write(&soon.pem, over.self_signed(&pair).unwrap().pem()).unwrap();
    std::fs::write(&soon.key, pair.serialize_pem()).unwrap();
    let (state, found) = soon.finding();
    assert_eq!(state, "needed");
    assert!(found.contains("since 2020-02-01"), "{found}");
}

#[test]
fn a_private_key_that_others_can_read_is_not_used() {
    let Some(made) = certificate("90") else { return };
    std::fs::set_permissions(&made.key, std::fs::Permissions::from_mode(0o644)).unwrap();
    let refused = made
        .home
        .command(&["serve", "--open", "--listen", "127.0.0.1:0"])
        .output()
        .unwrap();
    let said = String::from_utf8(refused.stderr).unwrap();
    assert_eq!(refused.status.code(), Some(77), "{said}");
    assert!(said.contains("chmod 600") && said.contains("page.key"), "{said}");
    let (state, found) = made.finding();
    assert_eq!(state, "needed");
    assert!(found.contains("can be read or changed by others"), "{found}");
}
