//! The second ear as a process, with a stand-in for `btmon`: a script that brings a capture which the real one wrote.
//! What the real one brings is tried in the bench.

use crate::harness::command::{Home, program_at};
use quietcuff::gatt::Characteristic;
use quietcuff::household::{Monitor, Statement};
use quietcuff::journal::{Attribute, Journal};
use serde_json::Value;
use std::io::Read;
use std::os::linux::net::SocketAddrExt;
use std::os::unix::fs::PermissionsExt;
use std::os::unix::net::SocketAddr;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

const WEEK: &[u8] = include_bytes!("../../fixtures/captures/bench-week.btsnoop");
const MEASUREMENTS: usize = 29;
/// Where its measurements stand in that capture.
const HANDLE: u16 = 0x10;
/// Everything on two busy cores.
const PATIENCE: Duration = Duration::from_secs(30);

/// A household whose monitor is the recorded one, and a `btmon` that does what the script says.
fn household(script: &str) -> Home {
    let home = Home::new();
    let file = home.file("bin/btmon", format!("#!/bin/sh\n{script}\n"));
    std::fs::set_permissions(file, std::fs::Permissions::from_mode(0o755)).unwrap();
    home.file("week.btsnoop", WEEK);
    let capture = quietcuff::radio::capture::Capture::open(std::io::Cursor::new(WEEK)).unwrap();
    let address = capture.last().unwrap().unwrap().monitor;
    let mut journal = Journal::open(&home.path("state")).unwrap();
    let monitor = Statement::Monitor {
        monitor: "cuff".parse().unwrap(),
        details: Monitor {
            address: Some(address.clone()),
            ..Monitor::default()
        },
    };
    journal.state(jiff::Timestamp::UNIX_EPOCH, &[monitor]).unwrap();
    let measurement = Attribute {
        characteristic: Characteristic::BLOOD_PRESSURE_MEASUREMENT,
        bonded: true,
    };
    let attributes = [(HANDLE, measurement)];
    journal.learn_attributes(&address, &attributes.into()).unwrap();
    home
}

fn overhear(home: &Home) -> Command {
    let mut command = home.command(&["overhear", "--state", "state"]);
    let path = format!("{}:/usr/bin:/bin", home.path("bin").display());
    command.env("PATH", path).stderr(Stdio::piped());
    command
}

fn overheard(home: &Home) -> Vec<Value> {
    let frames = home.run(&["frames", "--json", "--state", "state"]).out;
    let frames = frames.lines().map(|line| serde_json::from_str(line).unwrap());
    frames
        .filter(|frame: &Value| frame["overheard"] == true)
        .collect()
}

fn until(home: &Home, count: usize) {
    let start = Instant::now();
    while overheard(home).len() < count {
        assert!(start.elapsed() < PATIENCE, "{} of {count}", overheard(home).len());
        std::thread::sleep(Duration::from_millis(50));
    }
}

/// Its log up to where it has said this for the second time.
fn said_twice(child: &mut Child, words: &str) -> String {
    let mut said = String::new();
    let log = child.stderr.as_mut().unwrap();
    let mut octet = [0];
    // Octet by octet, so that the rest stays for who reads it next.
    while said.matches(words).count() < 2 {
        assert_eq!(log.read(&mut octet).unwrap(), 1, "it ended: {said}");
        said.push(char::from(octet[0]));
    }
    said
}

/// Ends it as a service manager would; its exit code and its log.
fn ended(child: Child) -> (Option<i32>, String) {
    let pid = child.id().to_string();
    assert!(
        Command::new("kill")
            .args(["-TERM", &pid])
            .status()
            .unwrap()
            .success()
    );
    let output = child.wait_with_output().unwrap();
    (output.status.code(), String::from_utf8(output.stderr).unwrap())
}

#[test]
fn what_btmon_brings_is_in_the_journal_and_the_end_is_clean() {
    let home = household("test \"$1 $2\" = '-w /proc/self/fd/0' && cat week.btsnoop > $2; exec sleep 60");
    let child = overhear(&home).spawn().unwrap();
    until(&home, MEASUREMENTS);
    let findings = home.run(&["check", "--json", "--state", "state"]).out;
    let ear = findings.lines().find(|line| line.contains("second ear")).unwrap();
    assert!(
        ear.contains("29 measurements since its start; 29 readings were heard by it alone"),
        "{ear}"
    );
    let second = overhear(&home).output().unwrap();
    assert_eq!(second.status.code(), Some(69), "two ears on one journal");
    let (code, log) = ended(child);
    assert_eq!(code, Some(0), "{log}");
    assert_eq!(overheard(&home).len(), MEASUREMENTS);
    assert!(!home.path("state/ear.sock").exists());
    let id = home.run(&["readings", "--json", "--state", "state"]).out;
    let id: Value = serde_json::from_str(id.lines().next().unwrap()).unwrap();
    let traced = home
        .run(&["trace", id["id"].as_str().unwrap(), "--state", "state"])
        .out;
    assert!(traced.contains("overheard by the second ear"), "{traced}");
}

#[test]
fn a_btmon_that_dies_is_started_again() {
    // Dies in the middle of a packet each time, with a word that a terminal would obey.
    let home = household("head -c 60000 week.btsnoop > $2; printf '\\033[2Jbye' >&2; kill -SEGV $$");
    let mut child = overhear(&home).spawn().unwrap();
    until(&home, 1);
    let log = said_twice(&mut child, "btmon ended");
    let (code, rest) = ended(child);
    let log = log + &rest;
    assert_eq!(code, Some(0), "{log}");
    assert!(!log.contains('\u{1b}'), "{log:?}");
}

#[test]
fn without_btmon_or_the_right_to_listen_it_says_what_to_do() {
    let home = household("echo 'Failed to bind channel: Operation not permitted' >&2; exit 1");
    let refused = overhear(&home).output().unwrap();
    let said = String::from_utf8(refused.stderr).unwrap();
    assert_eq!(refused.status.code(), Some(77), "{said}");
    assert!(said.contains("CAP_NET_RAW"), "{said}");
    let missing = overhear(&home).env("PATH", "/nonexistent").output().unwrap();
    let said = String::from_utf8(missing.stderr).unwrap();
    assert_eq!(missing.status.code(), Some(69), "{said}");
    assert!(said.contains("apt install bluez"), "{said}");
}

#[test]
fn a_listener_of_another_version_says_so() {
    let handed = |version: &str| {
        serde_json::json!({
            "version": version,
            "here": { "state": null, "config": null, "verbose": 0, "log_json": false },
            "place": {
                "program": "/nonexistent/quietcuff",
                "state": "/nonexistent/state",
                "radio": {},
            },
        })
        .to_string()
    };
    let listen = |said: &str| {
        let output = Command::new(env!("CARGO_BIN_EXE_quietcuff-listen"))
            .arg(said)
            .output()
            .unwrap();
        (output.status.code(), String::from_utf8(output.stderr).unwrap())
    };
    for said in [&handed("0.0.0"), "{}", "run"] {
        let (code, words) = listen(said);
        assert_eq!(code, Some(64), "{words}");
        assert!(words.contains("same version"), "{words}");
    }
    // Its own is taken: it looks for the journal.
    let (code, words) = listen(&handed(env!("CARGO_PKG_VERSION")));
    assert_eq!(code, Some(66), "{words}");
}

/// Two builds of one version: what one hands over, the other does not know. There is no way back once `run` has become
/// the listener, so it is asked first.
#[test]
fn a_listener_of_another_build_is_not_become() {
    for (listener, code, words) in [
        ("exit 64", 69, "of another build"),
        ("exit 0", 0, ""),
        // One that this machine cannot even start.
        ("", 69, "this process listens itself"),
    ] {
        let home = Home::new();
        let program = home.path("bin/quietcuff");
        let script = match listener {
            "" => "not a program".to_owned(),
            does => format!("#!/bin/sh\n[ \"$1\" = --understands ] || echo became >&2\n{does}\n"),
        };
        let file = home.file("bin/quietcuff-listen", script);
        std::fs::set_permissions(file, std::fs::Permissions::from_mode(0o755)).unwrap();
        program_at(&program);
        let mut command = Command::new(&program);
        command
            .args(["run", "--state", "state"])
            .env_clear()
            .current_dir(home.path(""));
        command
            .env("HOME", home.path(""))
            .env("DBUS_SYSTEM_BUS_ADDRESS", "unix:path=/nonexistent/bus");
        let output = command.output().unwrap();
        let said = String::from_utf8(output.stderr).unwrap();
        // On its own it gets as far as the bus, which is not there.
        assert_eq!(output.status.code(), Some(code), "{listener}: {said}");
        assert!(said.contains(words), "{listener}: {said}");
        assert_eq!(said.contains("became"), code == 0, "{listener}: {said}");
    }
}

#[test]
fn a_btmon_that_writes_nonsense_is_started_again() {
    // What follows a whole packet claims to be longer than any, and then nothing comes: it does not end by itself.
    let home = household(
        "trap '' PIPE; { head -c 16 week.btsnoop; head -c 48 /dev/zero | tr '\\0' '\\377'; } > $2; exec sleep 60",
    );
    let mut child = overhear(&home).spawn().unwrap();
    let log = said_twice(&mut child, "more than an HCI packet can have");
    assert_eq!(ended(child).0, Some(0), "{log}");
}

#[test]
fn a_btmon_that_says_much_does_not_stand_still() {
    let home = household("head -c 300000 /dev/zero | tr '\\0' x >&2; cat week.btsnoop > $2; exec sleep 60");
    let child = overhear(&home).spawn().unwrap();
    until(&home, MEASUREMENTS);
    assert_eq!(ended(child).0, Some(0));
}

/// It is not listening because it runs: somebody would rely on it.
#[test]
fn an_ear_that_hears_nothing_does_not_say_that_it_listens() {
    let home = household("exec sleep 60");
    let socket = format!("quietcuff-ear-{}", std::process::id());
    let address = SocketAddr::from_abstract_name(&socket).unwrap();
    let manager = std::os::unix::net::UnixDatagram::bind_addr(&address).unwrap();
    manager.set_read_timeout(Some(Duration::from_secs(1))).unwrap();
    let child = overhear(&home)
        .env("NOTIFY_SOCKET", format!("@{socket}"))
        .spawn()
        .unwrap();
    let mut octets = [0; 256];
    manager.recv(&mut octets).expect_err("it is not ready");
    let findings = home.run(&["check", "--json", "--state", "state"]).out;
    let ear = findings.lines().find(|line| line.contains("second ear")).unwrap();
    assert!(ear.contains("does not listen yet"), "{ear}");
    assert_eq!(ended(child).0, Some(0));
    // And when it does, it says so at once; and when it does not any more.
    let home = household("cat week.btsnoop > $2; sleep 1; exit 3");
    manager.set_read_timeout(Some(PATIENCE)).unwrap();
    let child = overhear(&home)
        .env("NOTIFY_SOCKET", format!("@{socket}"))
        .spawn()
        .unwrap();
    for expected in [
        "READY=1\nSTATUS=listening",
        "STATUS=not listening: btmon ended, and is started again",
        "STATUS=listening",
    ] {
        let length = manager.recv(&mut octets).unwrap();
        assert_eq!(String::from_utf8_lossy(&octets[..length]), expected);
    }
    assert_eq!(ended(child).0, Some(0));
}
