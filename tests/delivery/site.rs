//! Servers that none of us wrote, as `prepare` has them, and what is asked of them beside delivering.

use crate::harness::command::first_line;
use crate::harness::left_out::{installed, there};
use serde_json::{Value, json};
use std::io::{Read, Write};
use std::net::{TcpListener, TcpStream};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::OnceLock;
use std::time::Duration;

const HERE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/delivery");
/// Resources of one page.
const PAGE: usize = 200;

/// A base address of a FHIR server.
pub(crate) struct Site {
    pub(crate) port: u16,
    /// Its path, such as `/h2/fhir`.
    pub(crate) base: String,
}

impl Site {
    pub(crate) fn url(&self) -> String {
        format!("http://127.0.0.1:{}{}", self.port, self.base)
    }

    /// Asks for this path below it.
    pub(crate) fn ask(&self, method: &str, path: &str, body: &str) -> (u16, Value) {
        self.ask_at(method, &format!("{}/{path}", self.base), body)
    }

    fn ask_at(&self, method: &str, path: &str, body: &str) -> (u16, Value) {
        let mut stream = TcpStream::connect(("127.0.0.1", self.port)).unwrap();
        stream.set_read_timeout(Some(Duration::from_secs(300))).unwrap();
        let length = body.len();
        write!(
            stream,
            "{method} {path} HTTP/1.0\r\nHost: 127.0.0.1:{}\r\nContent-Type: application/fhir+json\r\nAccept: \
             application/fhir+json\r\nContent-Length: {length}\r\nConnection: close\r\n\r\n{body}",
            self.port
        )
        .unwrap();
        let mut text = String::new();
        stream.read_to_string(&mut text).unwrap();
        let (head, body) = text.split_once("\r\n\r\n").unwrap();
        let status = head.split(' ').nth(1).unwrap().parse().unwrap();
        (status, serde_json::from_str(body).unwrap_or_default())
    }

    /// Makes a patient known there.
    pub(crate) fn admit(&self, id: &str) {
        let patient = json!({"resourceType": "Patient", "id": id, "active": true});
        let (status, said) = self.ask("PUT", &format!("Patient/{id}"), &patient.to_string());
        assert!(matches!(status, 200 | 201), "{status} {said}");
    }

    /// Everything of a type, or what a question finds of it.
    pub(crate) fn all(&self, kind: &str, question: &str) -> Vec<Value> {
        let mut all = Vec::new();
        let mut path = format!("{}/{kind}?_count={PAGE}&{question}", self.base);
        loop {
            let (status, page) = self.ask_at("GET", path.trim_end_matches('&'), "");
            assert_eq!(status, 200, "{path}: {page}");
            let entries = page["entry"].as_array().cloned().unwrap_or_default();
            all.extend(entries.into_iter().map(|mut entry| entry["resource"].take()));
            let mut links = page["link"].as_array().into_iter().flatten();
            let Some(next) = links.find(|link| link["relation"] == "next") else {
                return all;
            };
            let url = next["url"].as_str().unwrap();
            let behind = url.split_once("://").map_or(url, |(_, behind)| behind);
            path = behind[behind.find('/').unwrap()..].to_owned();
        }
    }

    /// What its validator has to say against a resource that stands there.
    pub(crate) fn errors_in(&self, resource: &Value) -> Vec<String> {
        let kind = resource["resourceType"].as_str().unwrap();
        let (status, said) = self.ask("POST", &format!("{kind}/$validate"), &resource.to_string());
        assert_eq!(said["resourceType"], "OperationOutcome", "{status} {said}");
        let issues = said["issue"].as_array().unwrap();
        issues
            .iter()
            .filter(|issue| matches!(issue["severity"].as_str(), Some("error" | "fatal")))
            .map(|issue| format!("{kind}/{}: {issue}", resource["id"]))
            .collect()
    }
}

/// HAPI FHIR JPA, once for all tests. It ends with this process, as its standard input does.
pub(crate) struct Hapi {
    port: u16,
    databases: Vec<String>,
    _child: Child,
}

impl Hapi {
    pub(crate) fn running() -> Option<&'static Self> {
        static HAPI: OnceLock<Option<Hapi>> = OnceLock::new();
        let what = "delivery to HAPI FHIR JPA";
        // Each test that does without it says so.
        installed("servers/classes/Clinic.class", what)?;
        HAPI.get_or_init(|| Self::start(installed("servers", what)?))
            .as_ref()
    }

    fn start(cache: std::path::PathBuf) -> Option<Self> {
        let mut child = Command::new(Path::new(HERE).join("hapi/run"))
            .arg(cache)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        let line = first_line(&mut child);
        let mut words = line.split_whitespace();
        let port = words.next().expect("HAPI says its port").parse().unwrap();
        Some(Self {
            port,
            databases: words.map(ToOwned::to_owned).collect(),
            _child: child,
        })
    }

    pub(crate) fn site(&self, database: &str, way: &str) -> Option<Site> {
        self.databases.iter().any(|one| one == database).then(|| Site {
            port: self.port,
            base: format!("/{database}/{way}"),
        })
    }

    pub(crate) fn on_postgresql(&self, way: &str) -> Option<Site> {
        let site = self.site("postgres", way);
        there(
            site.is_some(),
            "delivery to HAPI FHIR JPA on PostgreSQL",
            "postgresql",
        )
        .then_some(site)?
    }
}

/// A server in Python over SQLite.
pub(crate) struct Sekmet {
    pub(crate) site: Site,
    child: Child,
    _folder: tempfile::TempDir,
}

impl Sekmet {
    pub(crate) fn open() -> Option<Self> {
        let program = installed("servers/venv/bin/sekmet", "delivery to a server over SQLite")?;
        let folder = tempfile::tempdir().unwrap();
        // It takes a port that is free, and does not say which it got where none is named.
        let port = TcpListener::bind("127.0.0.1:0")
            .unwrap()
            .local_addr()
            .unwrap()
            .port();
        let settings = format!(
            "base_url: http://127.0.0.1:{port}/fhir\nport: {port}\nhost: 127.0.0.1\ndata_dir: data\nsimulator: {{enabled: false}}\n"
        );
        std::fs::write(folder.path().join("settings.yaml"), settings).unwrap();
        let child = Command::new(program)
            .arg("serve")
            .current_dir(folder.path())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let base = "/fhir".to_owned();
        let opened = Self {
            site: Site { port, base },
            child,
            _folder: folder,
        };
        for _ in 0..600 {
            if TcpStream::connect(("127.0.0.1", port)).is_ok() {
                return Some(opened);
            }
            std::thread::sleep(Duration::from_millis(100));
        }
        panic!("the server over SQLite does not answer");
    }
}

impl Drop for Sekmet {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}
