//! A machine that lacks what the radio needs: no bus, no bluetoothd.

use crate::harness::command::{Home, Ran};
use crate::harness::left_out::there;
use serde_json::Value;
use std::io::{BufRead, BufReader};
use std::process::{Child, Command, Stdio};

#[test]
fn without_a_bus_there_is_one_sentence() {
    let home = Home::new();
    for arguments in [
        ["run"].as_slice(),
        &["monitors", "find", "--seconds", "1"],
        &["monitors", "add", "C0:FF:EE:00:00:01", "--seconds", "1"],
    ] {
        home.run(arguments)
            .failed(69, &["D-Bus system bus", "/nonexistent/bus", "`quietcuff check`"]);
    }
    home.run(&["status"])
        .failed(69, &["no daemon runs", "`quietcuff run`"]);
}

fn by_check(ran: Ran) -> Vec<(String, String, Value)> {
    let word = |finding: &Value, key: &str| finding[key].as_str().unwrap().to_owned();
    ran.objects()
        .into_iter()
        .map(|finding| (word(&finding, "check"), word(&finding, "state"), finding))
        .collect()
}

fn state_of<'a>(findings: &'a [(String, String, Value)], check: &str) -> &'a str {
    &findings
        .iter()
        .find(|(name, _, _)| name == check)
        .unwrap_or_else(|| panic!("no {check} in {findings:?}"))
        .1
}

/// Each check stands for itself: one that cannot be made hides no other.
#[test]
fn check_tells_about_everything_else_all_the_same() {
    let home = Home::new();
    home.run(&["demo", "--until", "2026-03-29", "--state", "own"])
        .good();
    let ran = home.run(&["check", "--json", "--state", "own"]);
    assert_eq!((ran.code, ran.err.as_str()), (69, ""), "{ran:?}");
    let findings = by_check(ran);
    for (check, state) in [
        ("configuration", "ok"),
        ("state directory", "ok"),
        ("disk", "ok"),
        ("journal", "ok"),
        ("time zone", "ok"),
        ("clock", "advised"),
        ("system bus", "needed"),
        ("daemon", "advised"),
    ] {
        assert_eq!(state_of(&findings, check), state, "{check}");
    }
    for (_, state, finding) in &findings {
        // What is not as it should be says what to do.
        assert_eq!(state == "ok", finding.get("todo").is_none(), "{finding}");
    }
    let text = home.run(&["check", "--state", "own"]);
    assert_eq!(text.code, 69);
    assert!(
        text.out.contains("177 frames") && text.out.contains("Europe/Oslo"),
        "{}",
        text.out
    );
    assert!(text.out.contains("One thing is needed"), "{}", text.out);
    // It made nothing.
    home.run(&["check"]);
    assert!(!home.path(".local").exists());
}

#[test]
fn a_state_directory_that_everybody_can_look_into_is_advised_against() {
    use std::os::unix::fs::PermissionsExt;
    let home = Home::new();
    let open = home.path("open");
    std::fs::create_dir(&open).unwrap();
    std::fs::set_permissions(&open, std::fs::Permissions::from_mode(0o755)).unwrap();
    let findings = by_check(home.run(&["check", "--json", "--state", "open"]));
    assert_eq!(state_of(&findings, "state directory"), "advised");
}

/// A bus of its own, ended with the test.
struct BusAlone {
    child: Child,
    address: String,
}

impl BusAlone {
    fn start() -> Option<Self> {
        let started = Command::new("dbus-daemon")
            .args(["--session", "--nofork", "--print-address=1"])
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn();
        let mut child = started.ok()?;
        let mut address = String::new();
        BufReader::new(child.stdout.take()?)
            .read_line(&mut address)
            .ok()?;
        Some(Self {
            child,
            address: address.trim().to_owned(),
        })
    }
}

impl Drop for BusAlone {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

#[test]
fn a_route_for_somebody_whom_nobody_added_is_named() {
    let home = Home::new();
    home.run(&["demo", "--until", "2026-03-29", "--state", "own"])
        .good();
    let route = |people: &str| {
        let text = format!(
            "[[alerts.route]]\nname = \"far\"\nwebhook = \"https://carer.invalid/\"\npeople = [{people}]\n"
        );
        std::fs::write(home.path("told.toml"), text).unwrap();
        by_check(home.run(&["check", "--json", "--state", "own", "--config", "told.toml"]))
    };
    let there = home
        .run(&["people", "list", "--json", "--state", "own"])
        .objects();
    let known = there[0]["id"].as_str().unwrap();
    let findings = route(&format!("\"{known}\", \"{known}x\""));
    let told: Vec<&Value> = findings
        .iter()
        .filter(|(check, ..)| check == "reminders")
        .map(|(.., finding)| finding)
        .collect();
    assert_eq!(told.len(), 1, "{findings:?}");
    assert!(
        told[0]["found"]
            .as_str()
            .unwrap()
            .contains(&format!("far is for {known}x")),
        "{told:?}"
    );
    assert!(
        !route(&format!("\"{known}\""))
            .iter()
            .any(|(check, ..)| check == "reminders")
    );
}

#[test]
fn with_a_bus_and_no_bluetoothd() {
    let home = Home::new();
    let Some(bus) = BusAlone::start() else {
        there(false, "a bus without bluetoothd", "dbus-daemon");
        return;
    };
    let run = |arguments: &[&str]| {
        let mut command = home.command(arguments);
        let output = command
            .env("DBUS_SYSTEM_BUS_ADDRESS", &bus.address)
            .output()
            .unwrap();
        Ran::of(&output, arguments)
    };
    run(&["monitors", "find", "--seconds", "1"])
        .failed(69, &["bluetoothd does not run", "systemctl start bluetooth"]);
    let ran = run(&["check", "--json"]);
    assert_eq!(ran.code, 69);
    let findings = by_check(ran);
    assert_eq!(state_of(&findings, "system bus"), "ok");
    assert_eq!(state_of(&findings, "bluetoothd"), "needed");
}
