//! A real SMTP server (aiosmtpd), which keeps what it took as files that Python's own mail parser reads.

use crate::alerts::made::{Running, free_port, hostile, oracles, until};
use quietcuff::home::alerts::mail::Mailer;
use quietcuff::home::alerts::routes::{MailServer, Route, Security};
use serde_json::Value;
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
