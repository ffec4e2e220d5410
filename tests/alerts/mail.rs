//! A real SMTP server (aiosmtpd), which keeps what it took as files that Python's own mail parser reads.

use crate::alerts::made::{
    FIRST, Running, asha, at, free_port, hostile, look, oracles, reading, stated, until,
};
use crate::harness::left_out::{in_a_hurry, installed, program};
use crate::harness::made::{Made, sent};
use quietcuff::home::alerts::look::Look;
use quietcuff::home::alerts::mail::Mailer;
use quietcuff::home::alerts::message::Voice;
use quietcuff::home::alerts::routes::{MailServer, Route, Security};
use quietcuff::household::MonitorId;
use quietcuff::journal::Journal;
use quietcuff::monitoring::care::{Due, Task};
use quietcuff::monitoring::listening::{ListeningTrouble, Obstacle};
use quietcuff::monitoring::reminders::{Deaf, Kind, ListenerHeard, Reminder, Silent, What};
use quietcuff::sitting::Slot;
use quietcuff::words::Language;
use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};
use std::net::TcpStream;
use std::os::unix::fs::PermissionsExt;
use std::path::Path;
use std::process::{Command, Stdio};

fn server(folder: &Path, dir: &Path, security: &str) -> (Running, u16) {
    let port = free_port();
    let child = Command::new(folder.join("venv/bin/python"))
        .arg("-B")
        .arg(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/alerts/mail.py"))
        .args([&port.to_string(), dir.to_str().unwrap(), security])
        .stdin(Stdio::null())
        .spawn()
        .unwrap();
    let running = Running(child);
    until("the SMTP server listens", || {
        TcpStream::connect(("127.0.0.1", port)).is_ok()
    });
    (running, port)
}

fn mailer(port: u16, security: Security, dir: &Path, user: bool) -> Mailer {
    let password = dir.join("password");
    std::fs::write(&password, "hunter2\n").unwrap();
    std::fs::set_permissions(&password, std::fs::Permissions::from_mode(0o600)).unwrap();
    let server = MailServer {
        server: if security == Security::None {
            "127.0.0.1"
        } else {
            "localhost"
        }
        .into(),
        port: Some(port),
        security,
        from: "quietcuff <home@example.org>".into(),
        user: user.then(|| "home".into()),
        password_file: user.then_some(password),
        ca_file: (security != Security::None).then(|| dir.join("ca.pem")),
    };
    let route = Route {
        name: "daughter".into(),
        mail: Some("Daughter <daughter@example.org>".into()),
        ..Route::default()
    };
    Mailer::new(&server, &route, 7).unwrap()
}

fn taken(dir: &Path) -> Vec<Value> {
    let text = std::fs::read_to_string(dir.join("taken.jsonl")).unwrap_or_default();
    text.lines()
        .map(|line| serde_json::from_str(line).unwrap())
        .collect()
}

#[test]
fn a_hostile_message_is_one_mail_with_the_headers_that_we_wrote() {
    let Some(folder) = oracles() else { return };
    let dir = tempfile::tempdir().unwrap();
    let (_running, port) = server(&folder, dir.path(), "none");
    let mailer = mailer(port, Security::None, dir.path(), false);
    let mut message = hostile();
    // The catalogue's words and names come as one line; this one did not.
    mailer.send(&message).unwrap();
    message.subject = "आशा: सुबह".into();
    mailer.send(&message).unwrap();
    let taken = taken(dir.path());
    assert_eq!(taken.len(), 2);
    for mail in &taken {
        assert_eq!(mail["to"], serde_json::json!(["daughter@example.org"]));
        assert_eq!(mail["headers"]["Bcc"], Value::Null, "{mail}");
        assert_eq!(mail["headers"]["Auto-Submitted"], "auto-generated");
        // RFC 2045, section 4: a message that is to be read by these rules has to say so; RFC 5322, section 3.6.
        assert_eq!(mail["headers"]["MIME-Version"], "1.0", "{mail}");
        for needed in [
            "Date",
            "From",
            "Message-ID",
            "Content-Type",
            "Content-Transfer-Encoding",
        ] {
            assert!(mail["headers"][needed].is_string(), "{needed}: {mail}");
        }
        assert_eq!(mail["defects"], serde_json::json!([]));
        let body = mail["body"].as_str().unwrap().replace("\r\n", "\n");
        assert_eq!(body.trim_end(), hostile().text.replace("\r\n", "\n"));
    }
    assert_eq!(taken[1]["headers"]["Subject"], "आशा: सुबह");
    let id = taken[0]["headers"]["Message-ID"].as_str().unwrap();
    assert!(id.ends_with("@example.org>"), "{id}");
    assert_eq!(
        taken[0]["headers"]["Message-ID"], taken[1]["headers"]["Message-ID"],
        "one matter, one mail"
    );
}

#[test]
fn tls_and_starttls_with_a_password() {
    let Some(folder) = oracles() else { return };
    for (word, security) in [("tls", Security::Tls), ("starttls", Security::Starttls)] {
        let dir = tempfile::tempdir().unwrap();
        let (_running, port) = server(&folder, dir.path(), word);
        let good = mailer(port, security, dir.path(), true);
        good.send(&hostile()).unwrap();
        let taken = taken(dir.path());
        assert_eq!(taken.len(), 1);
        assert_eq!(taken[0]["login"], "home:hunter2");
        // Another authority's certificate does not do.
        std::fs::copy(dir.path().join("other.pem"), dir.path().join("ca.pem")).unwrap();
        let wary = mailer(port, security, dir.path(), true);
        let said = wary.send(&hostile()).unwrap_err().to_string();
        assert!(said.to_lowercase().contains("certificate"), "{said}");
        assert!(!said.contains("hunter2"), "{said}");
    }
}

/// A server that offers no STARTTLS gets nothing, least of all the password.
#[test]
fn without_the_security_that_was_asked_for_nothing_is_sent() {
    let Some(folder) = oracles() else { return };
    let dir = tempfile::tempdir().unwrap();
    let (_certificates, _) = server(&folder, dir.path(), "tls");
    let (_running, port) = server(&folder, dir.path(), "none");
    let mailer = mailer(port, Security::Starttls, dir.path(), true);
    assert!(mailer.send(&hostile()).is_err());
    assert!(taken(dir.path()).is_empty());
}

/// One of each kind that a household is ever told, from a week that ended and a monitor that wants everything.
fn every_matter() -> (Made, Vec<Reminder>) {
    let made = Made::of(&sent());
    made.home
        .run(&["period", "start", "--person", "asha", "--from", "2026-03-01"])
        .good();
    let mut journal = Journal::open(&made.home.path(".local/state/quietcuff")).unwrap();
    let stated = journal.stated().unwrap();
    let finished = Look::at(&mut journal, stated, None, at(9, 8, 0)).unwrap();
    let [period] = finished.people[0].periods.as_slice() else {
        panic!("one period is over");
    };
    let mut home = look("Asha", vec![]);
    home.readings = vec![
        reading(at(27, 7, 0), 185, 95, 70, 1),
        reading(at(27, 7, 6), 182, 96, 70, 2),
    ];
    let mut matters = home.reminders(Silent::default(), at(27, 8, 0));
    let of = |what| Reminder {
        key: "a/b".into(),
        person: Some(asha()),
        from: at(27, 7, 0),
        until: None,
        what,
    };
    let monitor: MonitorId = "m1".parse().unwrap();
    matters.extend(
        [
            What::PeriodFinished(Box::new(period.clone())),
            What::HalfDone {
                slot: Slot::Morning,
                counted: 1,
                wanted: 2,
                sitting_until: at(27, 8, 0),
                closes: at(27, 9, 0),
            },
            What::Missed {
                slot: Slot::Evening,
                date: FIRST,
                counted: 0,
            },
            What::BackupDue {
                backed_up: at(20, 7, 0),
            },
            What::BatteryLow {
                monitor: monitor.clone(),
                percent: 15,
            },
            What::MonitorSilent {
                monitor: monitor.clone(),
                heard: at(10, 7, 0),
            },
            What::ListenerSilent(ListenerHeard {
                id: "l1".into(),
                name: "Schlafzimmer \"oben\" <b@c>".into(),
                heard: at(18, 6, 50),
                refused: None,
                monitors: ["m1".to_owned()].into(),
            }),
            What::ListenerApart(ListenerHeard {
                id: "l1".into(),
                name: "Schlafzimmer \"oben\" <b@c>".into(),
                heard: at(18, 6, 50),
                refused: Some((at(18, 7, 50), "0.9.0".into())),
                monitors: ["m1".to_owned()].into(),
            }),
            What::DoorShut { heard: at(18, 6, 50) },
            What::CheckDue {
                monitor,
                due: Due {
                    task: Task::Check,
                    on: FIRST,
                    because: Default::default(),
                    source: "s",
                },
            },
            What::DaemonDeaf(Deaf {
                since: at(18, 6, 50),
                from: None,
                why: "the daemon does not run".into(),
            }),
            What::DeliveryStuck(ListeningTrouble {
                what: Obstacle::Delivery("https://clinic.example: it did not answer in time".into()),
                since: Some(at(18, 6, 50)),
            }),
            What::AfterBirth(FIRST),
        ]
        .map(of),
    );
    (made, matters)
}

/// Every kind of message in every language, with names and numbers and without, is what RFC 5322 and 2045 say, by a
/// reader that accepts nothing else, and reads there as it was written.
#[test]
fn every_kind_of_message_in_every_language_is_read_strictly() {
    if in_a_hurry("every kind of mail in every language") {
        return;
    }
    let what = "mail, by a strict reader";
    let Some(folder) = oracles() else { return };
    if !program("javac", what) {
        return;
    }
    let Some(jars) = installed("alerts/mime4j", what) else {
        return;
    };
    let dir = tempfile::tempdir().unwrap();
    let (_running, port) = server(&folder, dir.path(), "none");
    let mailer = mailer(port, Security::None, dir.path(), false);
    let (_made, matters) = every_matter();
    let kinds: BTreeSet<&str> = matters.iter().map(|matter| matter.kind().name()).collect();
    assert_eq!(kinds.len(), Kind::ALL.len(), "{kinds:?}");
    let known = stated("Äsha सुबह சோதனை, \"A\" <b@c>");
    let mut written = vec![hostile()];
    for language in Language::ALL {
        for terse in [true, false] {
            let voice = Voice {
                words: language.words(),
                household: &known.household,
                zones: &known.zones,
                terse,
            };
            let now = at(27, 8, 0);
            written.extend(matters.iter().map(|matter| voice.say(matter, now)));
            written.push(voice.test(now));
            let lapsed = BTreeMap::from([(Kind::Missed, 3), (Kind::Urgent, 1)]);
            written.push(voice.lapsed("lapsed/1".into(), &lapsed, at(26, 7, 0), now));
        }
    }
    for message in &written {
        mailer.send(message).unwrap();
    }
    let output = Command::new("java")
        .args([
            "-XX:TieredStopAtLevel=1",
            "-XX:+UseSerialGC",
            "-Dfile.encoding=UTF-8",
            "-cp",
        ])
        .arg(format!("{}/*", jars.display()))
        .arg(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/alerts/Mail.java"))
        .args((0..written.len()).map(|n| dir.path().join(format!("{n}.eml"))))
        .output()
        .unwrap();
    assert!(output.status.success(), "{output:?}");
    let said = String::from_utf8(output.stdout).unwrap();
    let read: Vec<Value> = said
        .lines()
        .map(|line| serde_json::from_str(line).unwrap())
        .collect();
    assert_eq!(read.len(), written.len());
    for (read, message) in read.iter().zip(&written) {
        assert_eq!(read["wrong"], serde_json::json!([]), "{message:?}");
        let plain = |text: &str| text.replace("\r\n", "\n").trim_end().to_owned();
        if message.kind != "missed" || !message.subject.contains('\r') {
            assert_eq!(read["subject"], message.subject.as_str());
        }
        assert_eq!(plain(read["text"].as_str().unwrap()), plain(&message.text));
        assert_eq!(
            (&read["date"], &read["type"], &read["charset"]),
            (&true.into(), &"text/plain".into(), &"utf-8".into())
        );
        let names = read["names"].as_array().unwrap();
        for needed in [
            "MIME-Version",
            "Date",
            "From",
            "To",
            "Subject",
            "Message-ID",
            "Content-Type",
        ] {
            let there = names.iter().filter(|name| *name == needed).count();
            assert_eq!(there, 1, "{needed}: {read}");
        }
    }
}
