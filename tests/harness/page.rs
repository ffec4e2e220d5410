//! A household with a monitor, a page that is served to it, and a clock that says it is morning.

use super::command::{first_line, in_household};
use jiff::{SignedDuration, Timestamp};
use quietcuff::frame::Frame;
use quietcuff::gatt::Characteristic;
use quietcuff::household::{Monitor, Person, Statement};
use quietcuff::journal::Journal;
use serde_json::Value;
use std::io::{Read, Write};
use std::net::TcpStream;
use std::path::PathBuf;
use std::process::{Child, Command, Stdio};
use std::time::Duration;
use tempfile::TempDir;

pub(crate) const MONITOR: &str = "C0:FF:EE:00:00:01";
/// A label that would end an element, an attribute and a script, if it could.
pub(crate) const HOSTILE: &str = "</title></bdi><script>alert(1)</script>\"'><img src=x onerror=alert(2)>";

pub(crate) struct Home {
    pub(crate) dir: TempDir,
    connection: std::cell::Cell<u32>,
}

/// A page that is served; it ends with this.
pub(crate) struct Served {
    child: Child,
    pub(crate) url: String,
}

impl Drop for Served {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// The page of a command that serves it; what it logs is not kept.
pub(crate) fn served(command: Command) -> Served {
    served_and_logged(command, Stdio::null())
}

/// The same, with its log.
pub(crate) fn served_and_logged(mut command: Command, log: Stdio) -> Served {
    let mut child = command.stdout(Stdio::piped()).stderr(log).spawn().unwrap();
    let url = first_line(&mut child);
    assert!(url.contains("://127.0.0.1:"), "{url}");
    Served { child, url }
}

impl Served {
    pub(crate) fn address(&self) -> &str {
        self.url.trim_start_matches("http://").trim_end_matches('/')
    }

    pub(crate) fn pid(&self) -> u32 {
        self.child.id()
    }

    pub(crate) fn at(&self, path: &str) -> String {
        format!("{}{path}", self.url.trim_end_matches('/'))
    }
}

/// A zone in which it is between eight and nine in the morning now: a session is due, and none is at night.
fn morning() -> String {
    let hour = i64::from(jiff::tz::Offset::UTC.to_datetime(Timestamp::now()).hour());
    let mut ahead = 8 - hour;
    if ahead < -12 {
        ahead += 24;
    }
    let sign = if ahead < 0 { '-' } else { '+' };
    format!("{sign}{:02}:00", ahead.abs())
}

impl Home {
    /// Asha and Ravi; the monitor is Asha's.
    pub(crate) fn new() -> Self {
        Self::of(&[("asha", "Asha"), ("ravi", "Ravi")], Some("asha"))
    }

    /// The same, for each of whom days began today.
    pub(crate) fn begun_today() -> Self {
        let home = Self::new();
        home.begin(&["asha", "ravi"]);
        home
    }

    /// Begins days for people, today.
    pub(crate) fn begin(&self, people: &[&str]) {
        for person in people {
            self.text(&["period", "start", "--person", person]);
        }
    }

    pub(crate) fn of(people: &[(&str, &str)], usual: Option<&str>) -> Self {
        Self::begun(Timestamp::now(), people, usual)
    }

    /// The same, stated at a moment.
    pub(crate) fn begun(at: Timestamp, people: &[(&str, &str)], usual: Option<&str>) -> Self {
        let home = Self {
            dir: tempfile::tempdir().unwrap(),
            connection: std::cell::Cell::new(0),
        };
        home.configure("");
        let mut statements = vec![
            Statement::Zone {
                zone: morning(),
                from: None,
            },
            Statement::Monitor {
                monitor: "m1".parse().unwrap(),
                details: Monitor {
                    address: Some(MONITOR.parse().unwrap()),
                    name: Some("Invented monitor".to_owned()),
                    ..Monitor::default()
                },
            },
        ];
        statements.extend(people.iter().map(|(id, label)| Statement::Person {
            person: id.parse().unwrap(),
            details: Person {
                label: (*label).to_owned(),
                ..Person::default()
            },
        }));
        statements.extend(usual.map(|person| Statement::UsualPerson {
            monitor: "m1".parse().unwrap(),
            person: Some(person.parse().unwrap()),
            from: None,
        }));
        home.journal().state(at, &statements).unwrap();
        home
    }

    pub(crate) fn configure(&self, page: &str) {
        std::fs::write(
            self.dir.path().join("quietcuff.toml"),
            format!("time-zone = {:?}\n[page]\n{page}", morning()),
        )
        .unwrap();
    }

    pub(crate) fn state(&self) -> PathBuf {
        self.dir.path().join("state")
    }

    pub(crate) fn journal(&self) -> Journal {
        Journal::open(&self.state()).unwrap()
    }

    pub(crate) fn command(&self, args: &[&str]) -> Command {
        in_household(self.dir.path(), args)
    }

    /// What a command that succeeds prints.
    pub(crate) fn text(&self, args: &[&str]) -> String {
        let output = self.command(args).output().unwrap();
        assert!(output.status.success(), "{args:?}: {output:?}");
        String::from_utf8(output.stdout).unwrap()
    }

    pub(crate) fn json(&self, args: &[&str]) -> Vec<Value> {
        self.text(args)
            .lines()
            .map(|line| serde_json::from_str(line).unwrap())
            .collect()
    }

    pub(crate) fn serve(&self) -> Served {
        served(self.command(&["serve", "--open", "--listen", "127.0.0.1:0"]))
    }

    fn frame(&self, ago: SignedDuration, characteristic: Characteristic, value: Vec<u8>) -> Frame {
        Frame {
            received_at: Timestamp::now().checked_sub(ago).unwrap(),
            offset: jiff::tz::Offset::UTC,
            uptime: None,
            given_to: None,
            monitor: MONITOR.parse().unwrap(),
            connection: self.connection.get(),
            characteristic,
            value,
            overheard: false,
        }
    }

    /// A measurement without a stamp, as it is heard (0x2A35 with pulse and status, GATT Specification Supplement).
    /// Returns when its frame was on the disk, in milliseconds since 1970.
    pub(crate) fn reading(&self, ago_s: i64, systolic: u16, diastolic: u16, status: u16) -> f64 {
        self.connection.set(self.connection.get() + 1);
        let mut value = vec![0x14];
        for number in [systolic, diastolic, 0x07ff, 71, status] {
            value.extend(number.to_le_bytes());
        }
        let frame = self.frame(
            SignedDuration::from_secs(ago_s),
            Characteristic::BLOOD_PRESSURE_MEASUREMENT,
            value,
        );
        self.keep(frame)
    }

    /// A measurement as somebody wrote it (0x2A35), heard at a moment.
    pub(crate) fn measurement(&self, received_at: Timestamp, value: Vec<u8>) {
        self.connection.set(self.connection.get() + 1);
        let frame = self.frame(
            SignedDuration::ZERO,
            Characteristic::BLOOD_PRESSURE_MEASUREMENT,
            value,
        );
        self.keep(Frame { received_at, ..frame });
    }

    /// Measurements as somebody wrote them, each heard at its moment on a connection of its own.
    pub(crate) fn measurements(&self, heard: &[(Timestamp, Vec<u8>)]) {
        let frames: Vec<Frame> = heard
            .iter()
            .map(|(received_at, value)| {
                self.connection.set(self.connection.get() + 1);
                let frame = self.frame(
                    SignedDuration::ZERO,
                    Characteristic::BLOOD_PRESSURE_MEASUREMENT,
                    value.clone(),
                );
                Frame {
                    received_at: *received_at,
                    ..frame
                }
            })
            .collect();
        assert_eq!(self.journal().append(&frames).unwrap().new, frames.len());
    }

    /// The pressure in the cuff (0x2A36).
    pub(crate) fn cuff(&self, pressure: u16) -> f64 {
        let mut value = vec![0x00];
        for number in [pressure, 0x07ff, 0x07ff] {
            value.extend(number.to_le_bytes());
        }
        let frame = self.frame(
            SignedDuration::ZERO,
            Characteristic::INTERMEDIATE_CUFF_PRESSURE,
            value,
        );
        self.keep(frame)
    }

    /// What the monitor says of its battery (0x2A19).
    pub(crate) fn battery(&self, percent: u8) {
        self.keep(self.frame(SignedDuration::ZERO, Characteristic::BATTERY_LEVEL, vec![percent]));
    }

    /// Any value that the monitor sent, or that was read of it.
    pub(crate) fn heard(&self, characteristic: &str, value: &[u8]) {
        let characteristic = characteristic.parse().unwrap();
        self.keep(self.frame(SignedDuration::ZERO, characteristic, value.to_vec()));
    }

    /// The household's date, so many days from now.
    pub(crate) fn day(&self, from_now: i64) -> String {
        let file = std::fs::read_to_string(self.dir.path().join("quietcuff.toml")).unwrap();
        let hours: i64 = file.split('"').nth(1).unwrap()[..3].parse().unwrap();
        let ahead = SignedDuration::from_hours(hours + 24 * from_now);
        Timestamp::now().checked_add(ahead).unwrap().to_string()[..10].to_owned()
    }

    fn keep(&self, frame: Frame) -> f64 {
        let mut journal = self.journal();
        assert_eq!(journal.append(&[frame]).unwrap().new, 1);
        Timestamp::now().as_microsecond() as f64 / 1000.0
    }
}

/// What came back to a request that was written by hand.
#[derive(Debug)]
pub(crate) struct Back {
    pub(crate) status: u16,
    pub(crate) head: String,
    pub(crate) body: String,
}

impl Back {
    pub(crate) fn header(&self, name: &str) -> Option<&str> {
        self.head.lines().find_map(|line| {
            let (found, value) = line.split_once(": ")?;
            found.eq_ignore_ascii_case(name).then_some(value)
        })
    }

    /// The token of the page's forms.
    pub(crate) fn token(&self) -> String {
        let behind = self.body.split("name=\"token\" value=\"").nth(1).unwrap();
        behind.split('"').next().unwrap().to_owned()
    }
}

/// Sends a request as it stands and reads until the other side is done.
pub(crate) fn raw(address: &str, request: &str) -> Back {
    let mut stream = TcpStream::connect(address).unwrap();
    stream.set_read_timeout(Some(Duration::from_secs(15))).unwrap();
    // The other side may hang up before everything is sent: that is one of the answers.
    let _ = stream.write_all(request.as_bytes());
    let mut octets = Vec::new();
    let _ = stream.read_to_end(&mut octets);
    let text = String::from_utf8_lossy(&octets).into_owned();
    let (head, body) = text.split_once("\r\n\r\n").unwrap_or((text.as_str(), ""));
    Back {
        status: head
            .split(' ')
            .nth(1)
            .and_then(|status| status.parse().ok())
            .unwrap_or(0),
        head: head.to_owned(),
        body: body.to_owned(),
    }
}

pub(crate) fn get(address: &str, path: &str, more: &str) -> Back {
    raw(
        address,
        &format!("GET {path} HTTP/1.1\r\nHost: {address}\r\nConnection: close\r\n{more}\r\n"),
    )
}

pub(crate) fn post(address: &str, path: &str, form: &str, more: &str) -> Back {
    raw(
        address,
        &format!(
            "POST {path} HTTP/1.1\r\nHost: {address}\r\nConnection: close\r\nContent-Length: {}\r\n\
             Content-Type: application/x-www-form-urlencoded\r\n{more}\r\n{form}",
            form.len()
        ),
    )
}
