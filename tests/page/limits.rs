//! What is forged, too long or too slow.

use crate::harness::page::{Home, get, post, raw};
use std::io::{Read, Write};
use std::net::TcpStream;
use std::time::{Duration, Instant};

#[test]
fn a_forged_form_changes_nothing() {
    let home = Home::new();
    let served = home.serve();
    let at = served.address();
    let token = get(at, "/", "").token();
    let form = format!("token={token}&person=asha&what=coffee");
    let refused = |form: &str, more: &str| assert_eq!(post(at, "/notes", form, more).status, 403, "{more}");
    refused("person=asha&what=coffee", "");
    refused("token=&person=asha&what=coffee", "");
    refused(&form.replace(&token, &"0".repeat(32)), "");
    refused(&form, "Origin: http://elsewhere.example\r\n");
    refused(&form, "Origin: null\r\n");
    refused(&form, "Sec-Fetch-Site: cross-site\r\n");
    refused(&form, "Sec-Fetch-Site: same-site\r\n");
    assert!(home.json(&["note", "list", "--json"]).is_empty());
    let ours = format!("Origin: http://{at}\r\nSec-Fetch-Site: same-origin\r\n");
    assert_eq!(post(at, "/notes", &form, &ours).status, 303);
    assert_eq!(home.json(&["note", "list", "--json"]).len(), 1);
    // A form in an address is none.
    assert_eq!(get(at, &format!("/notes/take-back?{form}"), "").status, 404);
    // Nor does a language lead elsewhere.
    let away = format!("token={token}&language=hi&back=//elsewhere.example/");
    assert_eq!(post(at, "/language", &away, "").header("location"), Some("/"));
}

#[test]
fn another_name_is_not_ours() {
    let home = Home::new();
    let served = home.serve();
    let at = served.address();
    let named = |host: &str, more: &str| {
        raw(
            at,
            &format!("GET / HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n{more}\r\n"),
        )
        .status
    };
    assert_eq!(named("attacker.example", ""), 421);
    assert_eq!(named("127.0.0.1.attacker.example:80", ""), 421);
    assert_eq!(named("", ""), 421);
    assert_eq!(named("localhost:8417", ""), 200);
    assert_eq!(named("[::1]:8417", ""), 200);
    // A proxy of which nobody told us would let anybody in.
    assert_eq!(named("localhost", "X-Forwarded-For: 192.0.2.1\r\n"), 403);
    assert_eq!(named("localhost", "Forwarded: for=192.0.2.1\r\n"), 403);
}

#[test]
fn every_answer_says_what_a_browser_may_do() {
    let home = Home::new();
    let served = home.serve();
    for path in [
        "/",
        "/week",
        "/nowhere",
        "/health",
        "/page.css",
        "/page.js",
        "/now.js",
        "/sheet/open?person=asha",
    ] {
        let back = get(served.address(), path, "");
        let policy = back.header("content-security-policy").unwrap();
        assert!(
            policy.contains("default-src 'none'") && policy.contains("frame-ancestors 'none'"),
            "{path}"
        );
        assert!(!policy.contains("script-src 'unsafe"), "{path}");
        for (name, value) in [
            ("x-content-type-options", "nosniff"),
            ("x-frame-options", "DENY"),
            ("referrer-policy", "same-origin"),
        ] {
            assert_eq!(back.header(name), Some(value), "{path}");
        }
    }
    assert_eq!(get(served.address(), "/nowhere", "").status, 404);
    assert_eq!(get(served.address(), "/health", "").body, "ok\n");
    let other = raw(
        served.address(),
        &format!(
            "PUT / HTTP/1.1\r\nHost: {}\r\nConnection: close\r\n\r\n",
            served.address()
        ),
    );
    assert_eq!(other.status, 405);
}

#[test]
fn what_is_too_long_is_refused() {
    let home = Home::new();
    let served = home.serve();
    let at = served.address();
    let token = get(at, "/", "").token();
    let long = format!("token={token}&person=asha&what=other&text={}", "x".repeat(20_000));
    assert_eq!(post(at, "/notes", &long, "").status, 413);
    let text = format!("token={token}&person=asha&what=other&text={}", "x".repeat(501));
    assert_eq!(post(at, "/notes", &text, "").status, 422);
    let head = get(at, "/", &format!("X-Long: {}\r\n", "x".repeat(20_000)));
    assert!(head.status == 431 || head.status == 0, "{head:?}");
    for wrong in [
        "/earlier?person=asha&month=9999-99",
        "/earlier?person=asha&month=x",
        "/sheet/open?days=0x",
    ] {
        assert_eq!(get(at, wrong, "").status, 422, "{wrong}");
    }
    for wrong in ["/?person=nobody", "/week?person=%00", "/%2e%2e/etc/passwd"] {
        assert_eq!(get(at, wrong, "").status, 404, "{wrong}");
    }
    assert_eq!(get(at, "/", "").status, 200);
    assert!(home.json(&["note", "list", "--json"]).is_empty());
}

/// A head and a form that never end: the connection is closed, and everybody else is served meanwhile.
#[test]
fn slow_clients_are_let_go() {
    let home = Home::new();
    let served = home.serve();
    let at = served.address();
    let begun = Instant::now();
    let mut slow = Vec::new();
    for begin in [
        format!("GET / HTTP/1.1\r\nHost: {at}\r\nX-Slow: "),
        format!("POST /notes HTTP/1.1\r\nHost: {at}\r\nContent-Length: 100\r\n\r\ntoken="),
    ] {
        for _ in 0..20 {
            let mut stream = TcpStream::connect(at).unwrap();
            stream.set_read_timeout(Some(Duration::from_secs(12))).unwrap();
            stream.write_all(begin.as_bytes()).unwrap();
            slow.push(stream);
        }
    }
    assert_eq!(get(at, "/", "").status, 200);
    for mut stream in slow {
        let mut answer = Vec::new();
        let _ = stream.read_to_end(&mut answer);
        let answer = String::from_utf8_lossy(&answer).into_owned();
        assert!(
            answer.is_empty() || answer.starts_with("HTTP/1.1 408"),
            "{answer}"
        );
    }
    assert!(begun.elapsed() < Duration::from_secs(10), "{:?}", begun.elapsed());
}
