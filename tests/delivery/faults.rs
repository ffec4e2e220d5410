//! Servers and lines that fail: nothing is lost, nothing is there twice, and what is wrong is said.

use crate::delivery::clinic::{Clinic, choose, exported_readings, few, held, listing, once};
use crate::delivery::proxy::{FHIR, Fate, Proxy, answer};
use crate::harness::left_out::in_a_hurry;
use crate::harness::made::Made;
use jiff::{SignedDuration, Timestamp};
use quietcuff::config::Config;
use quietcuff::delivery::due::Survey;
use quietcuff::delivery::releases::{ReleaseRule, Releases};
use quietcuff::delivery::{Courier, Destination, Round};
use quietcuff::journal::Journal;
use quietcuff::journal::outbox::Contact;
use serde_json::json;

const UNAVAILABLE: i32 = 69;
const NO_PERMISSION: i32 = 77;

/// A home with a few readings, a server, and what stands between them.
fn between(fates: Vec<Fate>) -> Option<(Clinic, Proxy, Made)> {
    let clinic = Clinic::open()?;
    let proxy = Proxy::before(clinic.port, fates);
    let made = Made::of(&few());
    choose(&made.home, &proxy.url(), "");
    Some((clinic, proxy, made))
}

fn everything_is_there_once(clinic: &Clinic, made: &Made) {
    assert_eq!(held(clinic), exported_readings(made));
    let standing = listing(&made.home);
    assert_eq!(
        (&standing["waiting"], &standing["parked"]),
        (&0.into(), &0.into()),
        "{standing}"
    );
}

/// The server has it, and nobody told us.
#[test]
fn an_answer_that_is_lost_costs_nothing() {
    let Some((clinic, _proxy, made)) =
        between(vec![Fate::LoseAnswer, Fate::CutAnswer(40), Fate::CutAnswer(700)])
    else {
        return;
    };
    for _ in 0..3 {
        once(&made.home).failed(UNAVAILABLE, &["127.0.0.1"]);
        let standing = listing(&made.home);
        assert_eq!(standing["sent"], 0);
        assert!(standing["problem"].is_string());
    }
    once(&made.home).good();
    everything_is_there_once(&clinic, &made);
}

/// It was stored as it was, unheard; then it changed. Creating it anew would leave what it was.
#[test]
fn what_changed_after_a_lost_answer_is_replaced() {
    let Some((clinic, proxy, made)) = between(vec![Fate::LoseAnswer]) else {
        return;
    };
    once(&made.home).failed(UNAVAILABLE, &[]);
    let id = made.readings[0]["id"].as_str().unwrap();
    made.home
        .run(&["readings", "time", id, "2026-03-01T06:30"])
        .good();
    proxy.next(Fate::LoseAnswer);
    once(&made.home).failed(UNAVAILABLE, &[]);
    once(&made.home).good();
    assert_eq!(
        clinic.holds()[id]["effectiveDateTime"],
        "2026-03-01T06:30:00+01:00"
    );
    everything_is_there_once(&clinic, &made);
}

#[test]
fn a_line_that_breaks_half_way_costs_nothing() {
    let Some((clinic, _proxy, made)) = between(vec![Fate::CutRequest(300), Fate::CutRequest(5_000)]) else {
        return;
    };
    once(&made.home).failed(UNAVAILABLE, &[]);
    once(&made.home).failed(UNAVAILABLE, &[]);
    once(&made.home).good();
    everything_is_there_once(&clinic, &made);
}

#[test]
fn a_server_that_asks_for_patience_gets_it() {
    let busy = answer("429 Too Many Requests", "Retry-After: 3600\r\n", "");
    let Some((clinic, proxy, made)) = between(vec![busy]) else {
        return;
    };
    once(&made.home).failed(UNAVAILABLE, &["429"]);
    once(&made.home).failed(UNAVAILABLE, &["left alone until"]);
    assert_eq!(proxy.seen().len(), 1);
    let journal =
        rusqlite::Connection::open(made.home.path(".local/state/quietcuff/journal.sqlite")).unwrap();
    let seconds: i64 = journal
        .query_row(
            "SELECT (not_before_us - last_us) / 1000000 FROM clinic",
            [],
            |row| row.get(0),
        )
        .unwrap();
    // Not earlier, and not everybody at once.
    assert!((3_599..=4_500).contains(&seconds), "{seconds}");
    // An hour later.
    journal
        .execute("UPDATE clinic SET not_before_us = last_us", [])
        .unwrap();
    once(&made.home).good();
    everything_is_there_once(&clinic, &made);
}

/// A week on a simulated clock, in which the role comes back whenever its patience is over: 500, 502, 503, 504, nobody
/// there. Each time it is begun anew, as after a restart.
#[test]
fn a_server_that_is_down_for_a_week_is_asked_again() {
    if in_a_hurry("a server that is down for a week") {
        return;
    }
    let Some((clinic, proxy, made)) = between(vec![]) else {
        return;
    };
    let config = Config::read(&made.home.path(".config/quietcuff/quietcuff.toml")).unwrap();
    let begun: Timestamp = "2026-03-03T12:00:00Z".parse().unwrap();
    let (mut now, mut tries) = (begun, 0);
    while now.duration_since(begun) < SignedDuration::from_hours(24 * 7) {
        proxy.next(match tries % 4 {
            0 => answer("503 x", "", "<html>"),
            1 => answer("500 x", "", ""),
            2 => answer("502 x", "Retry-After: 60\r\n", ""),
            _ => Fate::Answer(Vec::new()),
        });
        tries += 1;
        let (round, contact) = one_round(&made, &config, now);
        assert!(round.trouble.is_some() && round.sent == 0, "{round:?}");
        assert_eq!(contact.failures, tries);
        let next = contact.not_before.unwrap();
        let waited = next.duration_since(now);
        assert!(
            SignedDuration::from_secs(15) <= waited && waited <= SignedDuration::from_hours(1),
            "{waited}"
        );
        now = next;
    }
    assert!((168..400).contains(&tries), "{tries}");
    // It is back, and so is everybody else: a few conflicts are theirs, whatever went before.
    for nth in 1..=3 {
        let outcome =
            json!({"resourceType": "OperationOutcome", "issue": [{"severity": "error", "code": "conflict"}]});
        proxy.next(answer("409 x", FHIR, &outcome.to_string()));
        let asked = proxy.seen().len();
        let (round, contact) = one_round(&made, &config, now);
        assert_eq!(
            (round.sent, round.refused, contact.failures),
            (0, 0, nth),
            "{round:?}"
        );
        assert_eq!(proxy.seen().len(), asked + 1, "it is not taken apart");
        now = contact.not_before.unwrap();
    }
    let (round, contact) = one_round(&made, &config, now);
    assert!(round.sent > 10 && round.trouble.is_none() && contact.problem.is_none());
    everything_is_there_once(&clinic, &made);
}

/// One round at this moment, by the library.
fn one_round(made: &Made, config: &Config, now: Timestamp) -> (Round, Contact) {
    let mut journal = Journal::open_existing(&made.home.path(".local/state/quietcuff")).unwrap();
    let stated = journal.stated().unwrap();
    let target = Destination::of(&config.clinic, &config.fhir, &stated.household).unwrap();
    let survey = Survey {
        sheets: None,
        clinic: "",
        records: None,
        stated: &stated,
        switches: target.switches(&journal.contact(&target.name()).unwrap()),
        people: &target.people,
        releases: &Releases::of(
            &stated.household,
            &target.name(),
            ReleaseRule::Chosen,
            target.people.keys(),
        ),
        today: stated.zones.civil(now).date(),
    };
    let mut courier = Courier::new(&config.clinic, target.clone()).unwrap();
    let round = courier.round(&mut journal, &survey, &|| now).unwrap();
    (round, journal.contact(&target.name()).unwrap())
}

#[test]
fn who_is_not_let_in_stops_and_says_so() {
    let outcome = json!({"resourceType": "OperationOutcome", "issue": [{"severity": "error", "code": "forbidden", "diagnostics": "not you"}]});
    let refused = |status| answer(status, FHIR, &outcome.to_string());
    let Some((clinic, proxy, made)) = between(vec![refused("401 x"), refused("403 x")]) else {
        return;
    };
    once(&made.home).failed(NO_PERMISSION, &["401", "not you", "clinic.auth"]);
    once(&made.home).failed(NO_PERMISSION, &["403", "not you"]);
    assert_eq!(proxy.seen().len(), 2, "each asked once");
    once(&made.home).good();
    everything_is_there_once(&clinic, &made);
}

#[test]
fn a_server_that_lies_is_not_believed() {
    let bundle = |entries: &str| {
        answer(
            "200 OK",
            FHIR,
            &format!(
                "{{\"resourceType\":\"Bundle\",\"type\":\"transaction-response\",\"entry\":[{entries}]}}"
            ),
        )
    };
    let created = "{\"response\":{\"status\":\"201\"}}";
    let megabytes = format!(
        "{{\"resourceType\":\"Bundle\",\"x\":\"{}\"}}",
        "x".repeat(4 << 20)
    );
    let lies = [
        (
            answer("200 OK", "Content-Type: text/html\r\n", "<html>Welcome</html>"),
            "text/html",
        ),
        (answer("200 OK", FHIR, "<html>Welcome</html>"), "no Bundle"),
        (answer("200 OK", "", "{}"), "answers 200"),
        (bundle(""), "0 are answered"),
        (bundle(created), "1 are answered"),
        (bundle(&vec!["{\"response\":{}}"; 200].join(",")), "are answered"),
        (answer("204 No Content", "", ""), "204"),
        (
            answer("404 Not Found", "Content-Type: text/html\r\n", "<html>"),
            "404",
        ),
        (answer("200 OK", FHIR, &megabytes), "more than 2097152 octets"),
        (
            answer("307 x", "Location: https://elsewhere.example/fhir\r\n", ""),
            "https://elsewhere.example/fhir",
        ),
        (answer("301 x", "Location: /moved\r\n", ""), "/moved"),
        (Fate::Answer(b"220 mail.example ESMTP\r\n".to_vec()), "127.0.0.1"),
        (
            Fate::Answer([b"HTTP/1.1 200 OK\r\n".to_vec(), vec![b'x'; 1 << 20]].concat()),
            "127.0.0.1",
        ),
    ];
    let Some((clinic, proxy, made)) = between(vec![]) else {
        return;
    };
    for (lie, word) in lies {
        proxy.next(lie);
        once(&made.home).failed(UNAVAILABLE, &[word]);
        assert_eq!(listing(&made.home)["sent"], 0, "{word}");
    }
    assert_eq!(clinic.requests(), 0);
    once(&made.home).good();
    everything_is_there_once(&clinic, &made);
}

/// Of the right length, but one entry has no status: then nothing of it counts.
#[test]
fn entries_without_a_status_count_for_nothing() {
    let Some((clinic, proxy, made)) = between(vec![]) else {
        return;
    };
    let shown = made.home.run(&["deliver", "--dry-run"]).good();
    let bundle: serde_json::Value = serde_json::from_str(shown.split_once("\n\n").unwrap().1).unwrap();
    let mut entries = vec![r#"{"response":{"status":"201"}}"#; bundle["entry"].as_array().unwrap().len() - 1];
    entries.push(r#"{"response":{"location":"Observation/1"}}"#);
    let body = format!(
        "{{\"resourceType\":\"Bundle\",\"type\":\"transaction-response\",\"entry\":[{}]}}",
        entries.join(",")
    );
    proxy.next(answer("200 OK", FHIR, &body));
    once(&made.home).failed(UNAVAILABLE, &["no status"]);
    assert_eq!(listing(&made.home)["sent"], 0);
    once(&made.home).good();
    everything_is_there_once(&clinic, &made);
}

/// The server does not take one reading.
#[test]
fn what_is_refused_waits_for_a_person_and_holds_nothing_up() {
    let made = Made::of(&few());
    let id = made.readings[1]["id"].as_str().unwrap();
    let hates = format!("\"value\":\"{id}\"");
    let Some(clinic) = Clinic::with(&json!({"auth": "none", "hates": hates})) else {
        return;
    };
    choose(&made.home, &clinic.url(), "");
    once(&made.home).failed(UNAVAILABLE, &["refused", "deliver list"]);
    let standing = listing(&made.home);
    let refused = &standing["refused"][0];
    assert_eq!((&refused["id"], &refused["status"]), (&id.into(), &422.into()));
    assert!(refused["reason"].as_str().unwrap().contains("hates"));
    assert_eq!(standing["waiting"], 0);
    assert!(made.home.run(&["deliver", "list"]).good().contains(id));

    // Nothing is asked again before a person says so.
    let requests = clinic.requests();
    once(&made.home).good();
    assert_eq!(clinic.requests(), requests);
    made.home
        .run(&["deliver", "retry", "no-such"])
        .failed(64, &["no-such"]);
    clinic.reset();
    made.home.run(&["deliver", "retry", id]).good();
    once(&made.home).good();
    assert!(clinic.holds().contains_key(id));
    assert_eq!(listing(&made.home)["parked"], 0);
}

/// The whole Bundle is refused for one resource in it: the others arrive.
#[test]
fn a_bundle_that_is_refused_is_taken_apart() {
    let Some(clinic) = Clinic::with(&json!({"auth": "none", "hates": "8410608"})) else {
        return;
    };
    let mut sent = few();
    sent[3].status = 1 << 2;
    let made = Made::of(&sent);
    choose(&made.home, &clinic.url(), "");
    once(&made.home).failed(UNAVAILABLE, &["refused"]);
    let standing = listing(&made.home);
    let statuses = exported_readings(&made)
        .keys()
        .filter(|name| name.ends_with("-status"))
        .count();
    assert_eq!(
        standing["parked"].as_u64().unwrap(),
        u64::try_from(statuses).unwrap(),
        "{standing}"
    );
    assert!(
        statuses > 0
            && standing["refused"][0]["reason"]
                .as_str()
                .unwrap()
                .contains("hates")
    );
    let mut expected = exported_readings(&made);
    expected.retain(|name, _| !name.ends_with("-status"));
    assert_eq!(held(&clinic), expected);
}

#[test]
fn a_certificate_that_does_not_hold_is_refused() {
    let made = Made::of(&few());
    let key = rcgen::generate_simple_self_signed(["127.0.0.1".to_owned(), "localhost".to_owned()]).unwrap();
    let ca = made.home.file("ca.pem", key.cert.pem());
    let config = rustls::ServerConfig::builder_with_provider(std::sync::Arc::new(
        rustls::crypto::ring::default_provider(),
    ))
    .with_safe_default_protocol_versions()
    .unwrap()
    .with_no_client_auth()
    .with_single_cert(
        vec![key.cert.der().clone()],
        rustls_pki_types::PrivateKeyDer::try_from(key.signing_key.serialize_der()).unwrap(),
    )
    .unwrap();
    let config = std::sync::Arc::new(config);
    let listener = std::net::TcpListener::bind("127.0.0.1:0").unwrap();
    let port = listener.local_addr().unwrap().port();
    let (saw, seen) = std::sync::mpsc::channel();
    std::thread::spawn(move || {
        use std::io::{Read, Write};
        for mut stream in listener.incoming().flatten() {
            stream
                .set_read_timeout(Some(std::time::Duration::from_millis(500)))
                .unwrap();
            let mut connection = rustls::ServerConnection::new(std::sync::Arc::clone(&config)).unwrap();
            let mut tls = rustls::Stream::new(&mut connection, &mut stream);
            let (mut octets, mut all) = ([0; 16 * 1024], 0);
            // All of it, or closing would reset the line before the answer is through.
            while !matches!(tls.read(&mut octets), Ok(0) | Err(_)) {
                all += 1;
            }
            if all > 0 {
                let _ = saw.send(all);
                let _ = tls.write_all(b"HTTP/1.1 503 Busy\r\nContent-Length: 0\r\nConnection: close\r\n\r\n");
                tls.conn.send_close_notify();
                let _ = tls.flush();
            }
        }
    });
    let url = format!("https://127.0.0.1:{port}/fhir");
    choose(&made.home, &url, "");
    once(&made.home).failed(UNAVAILABLE, &["certificate"]);
    assert!(seen.try_recv().is_err(), "not an octet of a request went there");
    // Trusted by name it is let in; for another name it does not hold.
    choose(&made.home, &url, &format!("ca-file = \"{ca}\""));
    once(&made.home).failed(UNAVAILABLE, &["503"]);
    assert!(seen.try_recv().is_ok());
    while seen.try_recv().is_ok() {}
    choose(
        &made.home,
        &url.replace("127.0.0.1", "127.0.0.2"),
        &format!("ca-file = \"{ca}\""),
    );
    once(&made.home).failed(UNAVAILABLE, &[]);
    assert!(seen.try_recv().is_err());
}

/// Plain HTTP to another machine is not even tried.
#[test]
fn plain_http_goes_nowhere_unless_it_is_said_in_words() {
    let made = Made::of(&few());
    choose(&made.home, "http://192.0.2.1/fhir", "");
    once(&made.home).failed(78, &["plain http"]);
    choose(&made.home, "http://192.0.2.1/fhir", "plain-http = \"yes\"");
    once(&made.home).failed(78, &[]);
    choose(
        &made.home,
        "http://192.0.2.1/fhir",
        "plain-http = \"everybody on the way may read it\"",
    );
    assert!(
        made.home
            .run(&["deliver", "--dry-run"])
            .good()
            .starts_with("POST http://192.0.2.1/fhir\n")
    );
}
