//! The real binary: told once over restarts and kills, stopped by SIGTERM, tested and listed by command.

use crate::alerts::made::{Running, until};
use crate::harness::command::in_household;
use crate::harness::left_out::{in_a_hurry, left_out};
use crate::harness::volume::Volume;
use jiff::tz::Offset;
use jiff::{SignedDuration, Timestamp};
use quietcuff::household::{Monitor, Statement};
use quietcuff::journal::Journal;
use serde_json::Value;
use std::collections::BTreeMap;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpListener;
use std::path::PathBuf;
use std::process::{Command, Output, Stdio};
use std::sync::{Arc, Mutex};

pub(crate) struct Home {
    pub(crate) dir: tempfile::TempDir,
    offset: Offset,
}

impl Home {
    /// A household whose clock shows between nine and ten in the morning: a session is due and nothing is quiet.
    pub(crate) fn new(alerts: &str) -> Self {
        let hour = i32::from(Offset::UTC.to_datetime(Timestamp::now()).hour());
        let ahead = if hour > 21 { 33 - hour } else { 9 - hour };
        let offset = Offset::from_seconds(ahead * 3600).unwrap();
        let dir = tempfile::tempdir().unwrap();
        let sign = if ahead < 0 { '-' } else { '+' };
        let zone = format!("time-zone = \"{sign}{:02}:00\"\n", ahead.abs());
        std::fs::write(dir.path().join("quietcuff.toml"), zone + alerts).unwrap();
        let home = Self { dir, offset };
        home.replay(&[]);
        home
    }

    pub(crate) fn path(&self, name: &str) -> PathBuf {
        self.dir.path().join(name)
    }

    pub(crate) fn command(&self, args: &[&str]) -> Command {
        in_household(self.dir.path(), args)
    }

    pub(crate) fn run(&self, args: &[&str]) -> Output {
        self.command(args).output().unwrap()
    }

    pub(crate) fn text(&self, args: &[&str]) -> String {
        let output = self.run(args);
        assert!(output.status.success(), "{args:?}: {output:?}");
        String::from_utf8(output.stdout).unwrap()
    }

    /// Asha measures, with this week begun.
    pub(crate) fn with_asha(self) -> Self {
        // A monitor has to have been heard before it can be somebody's.
        self.replay(&[(4 * 24 * 3600, 128, 80)]);
        self.text(&[
            "people",
            "add",
            "asha",
            "--label",
            "Asha",
            "--usual",
            "c0ffee000001",
        ]);
        self.text(&["period", "start", "--person", "asha"]);
        self
    }

    /// Readings of so many seconds ago, as the monitor's frames (0x2A35 with stamp and pulse; GATT Specification
    /// Supplement).
    fn replay(&self, readings: &[(i64, u16, u16)]) {
        let mut lines = String::new();
        for (n, (ago, systolic, diastolic)) in readings.iter().enumerate() {
            let at = Timestamp::now() - SignedDuration::from_secs(*ago);
            let civil = self.offset.to_datetime(at);
            let mut octets = vec![0x06_u8];
            octets.extend(systolic.to_le_bytes());
            octets.extend(diastolic.to_le_bytes());
            octets.extend(0x07ff_u16.to_le_bytes());
            octets.extend(u16::try_from(civil.year()).unwrap().to_le_bytes());
            for part in [
                civil.month(),
                civil.day(),
                civil.hour(),
                civil.minute(),
                civil.second(),
            ] {
                octets.push(u8::try_from(part).unwrap());
            }
            octets.extend(72_u16.to_le_bytes());
            let value: String = octets.iter().map(|octet| format!("{octet:02x}")).collect();
            let received = at.display_with_offset(self.offset);
            lines += &format!(
                "{{\"received_at\":\"{received}\",\"monitor\":\"C0:FF:EE:00:00:01\",\"connection\":{},\
                 \"characteristic\":\"2a35\",\"value\":\"{value}\"}}\n",
                at.as_second() % 1_000_000_000 + i64::try_from(n).unwrap()
            );
        }
        let file = self.path("frames.jsonl");
        std::fs::write(&file, lines).unwrap();
        self.text(&["replay", "--json", file.to_str().unwrap()]);
    }

    /// It runs, and has said what it does.
    fn remind(&self) -> Running {
        let mut running = Running(self.command(&["remind"]).stderr(Stdio::piped()).spawn().unwrap());
        let mut log = BufReader::new(running.0.stderr.take().unwrap());
        let mut begun = String::new();
        log.read_line(&mut begun).unwrap();
        assert!(
            begun.contains("watching what is due, to tell it by hook"),
            "{begun}"
        );
        std::thread::spawn(move || std::io::copy(&mut log, &mut std::io::sink()));
        running
    }

    /// It runs for the broker alone.
    pub(crate) fn remind_broker(&self) -> Running {
        Running(self.command(&["remind"]).stderr(Stdio::null()).spawn().unwrap())
    }

    fn list(&self) -> Vec<Value> {
        self.text(&["remind", "list", "--json"])
            .lines()
            .map(|line| serde_json::from_str(line).unwrap())
            .collect()
    }
}

fn kill(running: &Running, signal: &str) {
    let id = running.0.id().to_string();
    assert!(
        Command::new("kill")
            .args([signal, &id])
            .status()
            .unwrap()
            .success()
    );
}

/// A webhook that keeps each key with the names it came under.
type MonitorHeard = Arc<Mutex<BTreeMap<String, Vec<String>>>>;

fn hook() -> (String, MonitorHeard) {
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    let address = format!("http://{}/", listener.local_addr().unwrap());
    let heard = MonitorHeard::default();
    let keep = heard.clone();
    std::thread::spawn(move || {
        for stream in listener.incoming().flatten() {
            let keep = keep.clone();
            std::thread::spawn(move || serve(&stream, &keep));
        }
    });
    (address, heard)
}

fn serve(stream: &std::net::TcpStream, keep: &MonitorHeard) -> Option<()> {
    let mut reader = BufReader::new(stream.try_clone().ok()?);
    let (mut name, mut length) = (String::new(), 0);
    loop {
        let mut line = String::new();
        reader.read_line(&mut line).ok()?;
        let line = line.trim().to_ascii_lowercase();
        if line.is_empty() {
            break;
        }
        if let Some(value) = line.strip_prefix("content-length:") {
            length = value.trim().parse().ok()?;
        }
        if let Some(value) = line.strip_prefix("idempotency-key:") {
            name = value.trim().to_owned();
        }
    }
    let mut body = vec![0; length];
    reader.read_exact(&mut body).ok()?;
    let message: Value = serde_json::from_slice(&body).ok()?;
    let key = message["key"].as_str()?.to_owned();
    keep.lock().unwrap().entry(key).or_default().push(name);
    // Long enough to be killed in.
    std::thread::sleep(std::time::Duration::from_millis(300));
    let mut stream = stream;
    stream
        .write_all(b"HTTP/1.1 204 No Content\r\nconnection: close\r\n\r\n")
        .ok()
}

fn count(heard: &MonitorHeard, beginning: &str) -> usize {
    heard
        .lock()
        .unwrap()
        .iter()
        .filter(|(key, _)| key.starts_with(beginning))
        .map(|(_, names)| names.len())
        .sum()
}

#[test]
fn it_tells_once_over_a_restart_and_stops_when_told() {
    let (address, heard) = hook();
    let home = Home::new(&format!(
        "[[alerts.route]]\nname = \"hook\"\nwebhook = \"{address}\"\n"
    ))
    .with_asha();
    let mut running = home.remind();
    until("the session is asked for", || count(&heard, "session-due/") == 1);
    home.replay(&[(5, 190, 95)]);
    until("the very high reading is told", || {
        count(&heard, "urgent/asha/very-high/measure-again/") == 1
    });
    until("the ledger knows", || {
        let sent = home.list().iter().filter(|line| line["state"] == "sent").count();
        sent == 2
    });
    kill(&running, "-TERM");
    assert!(running.0.wait().unwrap().success());
    let again = home.remind();
    std::thread::sleep(std::time::Duration::from_secs(4));
    drop(again);
    let all: usize = heard.lock().unwrap().values().map(Vec::len).sum();
    assert_eq!(all, 2, "{heard:?}");
}

#[test]
fn killed_in_the_middle_nothing_is_lost_and_a_repeat_has_the_same_name() {
    let (address, heard) = hook();
    let home = Home::new(&format!(
        "[[alerts.route]]\nname = \"hook\"\nwebhook = \"{address}\"\n"
    ))
    .with_asha();
    // What nobody answered yesterday stands beside what is new.
    home.replay(&[(90_300, 190, 95), (90_000, 191, 95), (8, 188, 95)]);
    let mut kills = 0;
    for pause in [150, 400, 250, 600, 350] {
        let running = home.remind();
        let before: usize = heard.lock().unwrap().values().map(Vec::len).sum();
        let begun = std::time::Instant::now();
        while begun.elapsed().as_secs() < 5 {
            let now: usize = heard.lock().unwrap().values().map(Vec::len).sum();
            if now > before {
                break;
            }
            std::thread::sleep(std::time::Duration::from_millis(10));
        }
        std::thread::sleep(std::time::Duration::from_millis(pause / 3));
        kill(&running, "-KILL");
        kills += 1;
    }
    let _running = home.remind();
    until("everything is settled", || {
        let lines = home.list();
        let due = lines.iter().filter(|line| line["state"] == "due").count();
        let sent = lines.iter().filter(|line| line["state"] == "sent").count();
        due >= 2 && sent >= due
    });
    let heard = heard.lock().unwrap();
    let due: Vec<String> = home
        .list()
        .iter()
        .filter(|line| line["state"] == "due")
        .map(|line| line["key"].as_str().unwrap().to_owned())
        .collect();
    for key in &due {
        assert!(heard.contains_key(key), "{key} was lost: {heard:?}");
    }
    let mut all = 0;
    for (key, names) in heard.iter() {
        all += names.len();
        assert!(names.iter().all(|name| name == &names[0]), "{key}: {names:?}");
    }
    assert!(all <= heard.len() + kills, "{heard:?}");
}

/// The disk is full from the first message on: that is told once, by the same way, though no ledger can take it down. Once
/// there is room, what comes is told, and nothing twice.
#[test]
fn a_full_disk_is_told_and_then_what_comes() {
    if in_a_hurry("a disk that is full, and has room again") {
        return;
    }
    let home = Home::new("").with_asha();
    let (card, told) = (home.path("card"), home.path("told"));
    let Some(_card) = Volume::mount(&card, "size=16m") else {
        left_out("a disk that is full", "only root can mount a volume");
        return;
    };
    let state = home.path("state");
    for file in std::fs::read_dir(&state).unwrap() {
        let file = file.unwrap();
        std::fs::copy(file.path(), card.join(file.file_name())).unwrap();
    }
    std::fs::rename(&state, home.path("before")).unwrap();
    std::os::unix::fs::symlink(&card, &state).unwrap();
    let script = format!(
        "cat >> {told}; echo >> {told}; test -e {told}.once || dd if=/dev/zero of={card}/filler bs=4k; touch {told}.once",
        told = told.display(),
        card = card.display()
    );
    let config = std::fs::read_to_string(home.path("quietcuff.toml")).unwrap();
    let route =
        format!("{config}[[alerts.route]]\nname = \"hook\"\ncommand = [\"/bin/sh\", \"-c\", \"{script}\"]\n");
    std::fs::write(home.path("quietcuff.toml"), route).unwrap();
    let told_of = |beginning: &str| {
        let told = std::fs::read_to_string(&told).unwrap_or_default();
        let messages = told
            .lines()
            .filter_map(|line| serde_json::from_str::<Value>(line).ok());
        let of_it = messages.filter(|one| one["key"].as_str().unwrap().starts_with(beginning));
        of_it
            .map(|one| one["text"].as_str().unwrap().to_owned())
            .collect::<Vec<_>>()
    };
    let mut running = home.remind();
    until("that nothing can be kept", || told_of("daemon-deaf/").len() == 1);
    assert!(
        told_of("daemon-deaf/")[0].contains("no space left"),
        "{:?}",
        told_of("")
    );
    std::thread::sleep(std::time::Duration::from_secs(3));
    assert!(running.0.try_wait().unwrap().is_none(), "it stays");
    std::fs::remove_file(card.join("filler")).unwrap();
    home.replay(&[(5, 190, 95)]);
    for _ in 0..600 {
        if !told_of("urgent/").is_empty() {
            break;
        }
        std::thread::sleep(std::time::Duration::from_millis(100));
    }
    let counts = ["session-due/", "daemon-deaf/", "urgent/"].map(|kind| told_of(kind).len());
    assert_eq!(counts, [1, 1, 1], "{:?}", told_of(""));
}

#[test]
fn a_test_goes_out_by_every_route_and_says_what_became_of_it() {
    let (address, heard) = hook();
    let home = Home::new("");
    let out = home.path("told");
    let routes = format!(
        "[[alerts.route]]\nname = \"hook\"\nwebhook = \"{address}\"\n\
         [[alerts.route]]\nname = \"lamp\"\ncommand = [\"/bin/sh\", \"-c\", \"cat > {}\"]\nlanguage = \"hi\"\n\
         [[alerts.route]]\nname = \"dead\"\nwebhook = \"http://127.0.0.1:{}/\"\n",
        out.display(),
        crate::alerts::made::free_port()
    );
    std::fs::write(home.path("quietcuff.toml"), routes).unwrap();
    let said = home.run(&["remind", "test"]);
    let text = String::from_utf8(said.stdout).unwrap();
    assert_eq!(said.status.code(), Some(69), "{text}");
    let lines: Vec<&str> = text.lines().collect();
    assert!(
        lines[0].starts_with("hook") && lines[0].ends_with("sent"),
        "{text}"
    );
    assert!(
        lines[1].starts_with("lamp") && lines[1].ends_with("sent"),
        "{text}"
    );
    assert!(
        lines[2].starts_with("dead") && lines[2].contains("FAILED"),
        "{text}"
    );
    assert_eq!(count(&heard, "test/"), 1);
    let told: Value = serde_json::from_str(&std::fs::read_to_string(out).unwrap()).unwrap();
    assert!(told["subject"].as_str().unwrap().contains("परीक्षण"), "{told}");
    assert_eq!(home.text(&["remind", "test", "lamp"]).lines().count(), 1);
    let wrong = home.run(&["remind", "test", "lamb"]);
    assert_eq!(wrong.status.code(), Some(64));
    assert!(home.list().is_empty(), "a test is nothing that is due");
}

#[test]
fn without_anybody_to_tell_it_says_so() {
    let home = Home::new("");
    let said = home.run(&["remind"]);
    assert_eq!(said.status.code(), Some(78));
    assert!(
        String::from_utf8(said.stderr)
            .unwrap()
            .contains("[[alerts.route]]")
    );
}

/// A machine that was off for the night was deaf all night. Whoever has just begun to watch does not say so; whoever
/// asks is told.
#[test]
fn a_start_without_the_daemon_is_no_alarm_yet() {
    let (address, heard) = hook();
    let home = Home::new(&format!(
        "[[alerts.route]]\nname = \"hook\"\nwebhook = \"{address}\"\n"
    ))
    .with_asha();
    let mut journal = Journal::open(&home.path("state")).unwrap();
    let monitor = Statement::Monitor {
        monitor: "c0ffee000001".parse().unwrap(),
        details: Monitor::default(),
    };
    journal.state(Timestamp::now(), &[monitor]).unwrap();
    let evening = Timestamp::from_second(Timestamp::now().as_second() - 9 * 3600).unwrap();
    journal.watched_since("deaf", Some(evening)).unwrap();
    let running = home.remind();
    until("the session is asked for", || count(&heard, "session-due/") == 1);
    std::thread::sleep(std::time::Duration::from_secs(2));
    drop(running);
    assert_eq!(count(&heard, "daemon-deaf/"), 0, "{heard:?}");
    assert_eq!(
        journal.watched("deaf").unwrap(),
        Some(evening),
        "it is still the same silence"
    );
    let due = |line: &Value| line["state"] == "due" && line["kind"] == "daemon-deaf";
    assert!(home.list().iter().any(due), "{:?}", home.list());
}
