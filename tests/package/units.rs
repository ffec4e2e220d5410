//! The units, read by systemd itself.

use crate::package::{good, of_project, quietcuff, there};
use std::path::PathBuf;
use std::process::Command;

/// The most exposure, by `systemd-analyze security`, in tenths. What is not named may have that of the last line.
const EXPOSURE_MAX: [(&str, u32); 2] = [("quietcuff.service", 10), ("", 15)];

/// Units whose command this program has not yet; one that comes has to leave this list.
const NOT_YET: [&str; 0] = [];

fn units() -> Vec<PathBuf> {
    let all: Vec<PathBuf> = std::fs::read_dir(of_project("systemd"))
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|e| e == "service"))
        .collect();
    assert!(all.len() >= 4, "{all:?}");
    all
}

fn text(unit: &PathBuf) -> String {
    std::fs::read_to_string(unit).unwrap()
}

/// `systemd-analyze security` judges the file, and fails above the threshold.
#[test]
fn no_unit_is_more_exposed_than_its_limit() {
    if !there("systemd-analyze") {
        return;
    }
    for unit in units() {
        let name = unit.file_name().unwrap().to_str().unwrap();
        let (_, limit) = EXPOSURE_MAX
            .iter()
            .find(|(of, _)| name == *of || of.is_empty())
            .unwrap();
        let judged = Command::new("systemd-analyze")
            .args(["security", "--offline=yes", "--no-pager"])
            .arg(format!("--threshold={limit}"))
            .arg(&unit)
            .env("LC_ALL", "C")
            .output()
            .unwrap();
        let said = String::from_utf8_lossy(&judged.stdout);
        let level = said
            .split("exposure level for ")
            .nth(1)
            .unwrap_or_else(|| panic!("{name}: {judged:?}"));
        println!("{}", level.lines().next().unwrap());
        assert!(judged.status.success(), "{name}: above {limit} tenths: {level}");
    }
}

/// A key that systemd does not know is ignored by it with a word in the log that nobody reads.
#[test]
fn systemd_understands_every_line() {
    if !there("systemd-analyze") {
        return;
    }
    for unit in units() {
        let judged = Command::new("systemd-analyze")
            .args(["verify", "--man=no", "--recursive-errors=no"])
            .arg(&unit)
            .env("LC_ALL", "C")
            .output()
            .unwrap();
        let said = String::from_utf8_lossy(&judged.stderr);
        let name = unit.file_name().unwrap().to_str().unwrap();
        let wrong: Vec<&str> = said
            .lines()
            .filter(|line| line.contains(name) && !line.contains("/usr/bin/quietcuff is not executable"))
            .collect();
        assert!(wrong.is_empty(), "{wrong:?}");
    }
}

#[test]
fn each_starts_a_command_that_there_is() {
    let home = tempfile::tempdir().unwrap();
    for unit in units() {
        let text = text(&unit);
        let start = text
            .lines()
            .find_map(|line| line.strip_prefix("ExecStart="))
            .unwrap();
        let role = start.strip_prefix("/usr/bin/quietcuff ").unwrap();
        let words: Vec<&str> = role.split(' ').chain(["--help"]).collect();
        let exists = quietcuff(home.path(), &words).status.success();
        assert_ne!(exists, NOT_YET.contains(&role), "{role}");
        // What ends by itself needs no watchdog.
        if !text.contains("\nType=oneshot\n") {
            assert!(text.contains("\nType=notify\n"), "{}", unit.display());
            assert!(text.contains("\nWatchdogSec="), "{}", unit.display());
        }
        assert!(text.contains("\nUser=quietcuff\n"), "{}", unit.display());
    }
}

/// Who has the radio has no network, and who has the network has no radio.
#[test]
fn no_role_has_both_the_radio_and_the_network() {
    for unit in units() {
        let text = text(&unit);
        let has = |line: &str| text.lines().any(|given| given == line);
        let no_network = has("PrivateNetwork=yes") && has("RestrictAddressFamilies=AF_UNIX");
        let no_radio = has("InaccessiblePaths=-/run/dbus") && !text.contains("AF_BLUETOOTH");
        // The kernel has Bluetooth in the first network only: there it is the addresses that are refused.
        let no_ip = has("RestrictAddressFamilies=AF_UNIX AF_BLUETOOTH") && has("IPAddressDeny=any");
        assert!(no_network || no_ip || no_radio, "{}", unit.display());
    }
}

#[test]
fn the_changelog_is_of_this_version() {
    let changelog = std::fs::read_to_string(of_project("systemd/debian/changelog")).unwrap();
    let version = format!("quietcuff ({}) ", env!("CARGO_PKG_VERSION"));
    assert!(changelog.starts_with(&version), "{changelog}");
    if !there("dpkg-parsechangelog") {
        return;
    }
    let parsed = Command::new("dpkg-parsechangelog")
        .arg("-l")
        .arg(of_project("systemd/debian/changelog"))
        .args(["-S", "Version"])
        .output()
        .unwrap();
    assert_eq!(good(parsed).trim(), env!("CARGO_PKG_VERSION"));
}

/// What people measured is not written to a swap disk or a core file, and no role takes the machine's memory.
#[test]
fn each_has_a_limit_on_its_memory_and_leaves_none_of_it_behind() {
    for unit in units() {
        let text = text(&unit);
        let value = |key: &str| {
            let lines: Vec<&str> = text.lines().filter_map(|line| line.strip_prefix(key)).collect();
            assert_eq!(lines.len(), 1, "{}: {key}", unit.display());
            lines[0].to_owned()
        };
        assert!(value("MemoryMax=").ends_with(['M', 'G']), "{}", unit.display());
        assert_eq!(value("MemorySwapMax="), "0");
        assert_eq!(value("LimitCORE="), "0");
    }
}

/// Nothing is backed up before somebody names a place and switches the timer on.
#[test]
fn the_timer_is_off_and_starts_its_service_each_day() {
    let timer = std::fs::read_to_string(of_project("systemd/quietcuff-backup.timer")).unwrap();
    assert!(timer.contains("\nOnCalendar=daily\n") && timer.contains("\nPersistent=true\n"));
    let service = std::fs::read_to_string(of_project("systemd/quietcuff-backup.service")).unwrap();
    assert!(service.contains("\nExecStart=/usr/bin/quietcuff backup --scheduled\n"));
    let scripts = std::fs::read_to_string(of_project("systemd/debian/postinst")).unwrap();
    assert!(!scripts.contains("backup"), "nothing switches it on by itself");
    if there("systemd-analyze") {
        let judged = Command::new("systemd-analyze")
            .args(["verify", "--man=no", "--recursive-errors=no"])
            .arg(of_project("systemd/quietcuff-backup.timer"))
            .env("LC_ALL", "C")
            .output()
            .unwrap();
        let said = String::from_utf8_lossy(&judged.stderr);
        assert!(!said.contains("quietcuff-backup.timer:"), "{said}");
    }
}
