//! An HTTP server that takes messages, as a stub.

use crate::alerts::made::hostile;
use quietcuff::home::alerts::routes::Route;
use quietcuff::home::alerts::webhook::Webhook;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpListener;
use std::os::unix::fs::PermissionsExt;
use std::thread::JoinHandle;

/// Answers one request, and gives back its head and body.
fn stub(answer: &'static str) -> (String, JoinHandle<(String, Vec<u8>)>) {
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    let address = format!("http://{}/hook", listener.local_addr().unwrap());
    let served = std::thread::spawn(move || {
        let (stream, _) = listener.accept().unwrap();
        let mut reader = BufReader::new(stream.try_clone().unwrap());
        let (mut head, mut length) = (String::new(), 0);
        loop {
            let mut line = String::new();
            reader.read_line(&mut line).unwrap();
            if let Some(value) = line.to_ascii_lowercase().strip_prefix("content-length:") {
                length = value.trim().parse().unwrap();
            }
            if line.trim().is_empty() {
                break;
            }
            head.push_str(&line);
        }
        let mut body = vec![0; length];
        reader.read_exact(&mut body).unwrap();
        let mut stream = stream;
        stream.write_all(answer.as_bytes()).unwrap();
        (head, body)
    });
    (address, served)
}

fn webhook(address: &str, token: Option<&std::path::Path>) -> Webhook {
    let route = Route {
        name: "hook".into(),
        webhook: Some(address.into()),
        token_file: token.map(Into::into),
        ..Route::default()
    };
    Webhook::new(&route, 7).unwrap()
}

const GOOD: &str = "HTTP/1.1 204 No Content\r\n\r\n";

#[test]
fn a_message_is_posted_with_its_token_and_the_same_name_each_time() {
    let dir = tempfile::tempdir().unwrap();
    let token = dir.path().join("token");
    std::fs::write(&token, "s3cret\n").unwrap();
    std::fs::set_permissions(&token, std::fs::Permissions::from_mode(0o600)).unwrap();
    let mut names = Vec::new();
    for _ in 0..2 {
        let (address, served) = stub(GOOD);
        webhook(&address, Some(&token)).send(&hostile()).unwrap();
        let (head, body) = served.join().unwrap();
        assert!(head.starts_with("POST /hook "), "{head}");
        assert!(head.contains("Bearer s3cret"), "{head}");
        let json: serde_json::Value = serde_json::from_slice(&body).unwrap();
        assert_eq!(json["key"], hostile().key);
        names.extend(
            head.lines()
                .filter(|line| line.to_ascii_lowercase().starts_with("idempotency-key:"))
                .map(str::to_owned),
        );
    }
    assert_eq!(names.len(), 2);
    assert_eq!(names[0], names[1]);
}

#[test]
fn whatever_is_not_taken_is_a_failure() {
    for (answer, says) in [
        ("HTTP/1.1 500 No\r\ncontent-length: 0\r\n\r\n", "500"),
        (
            "HTTP/1.1 302 Found\r\nlocation: http://127.0.0.1:1/\r\ncontent-length: 0\r\n\r\n",
            "302",
        ),
        ("", ""),
    ] {
        let (address, served) = stub(answer);
        let said = webhook(&address, None).send(&hostile()).unwrap_err().to_string();
        assert!(said.contains(says), "{said}");
        served.join().unwrap();
    }
    let nobody = format!("http://127.0.0.1:{}/", crate::alerts::made::free_port());
    assert!(webhook(&nobody, None).send(&hostile()).is_err());
}
