//! What a stranger's shell, folder and files may be like: every command in each of them ends with its exit code and, if
//! it fails, with one sentence in words of the program's own.

use crate::harness::command::{Home, Ran};
use std::ffi::OsStr;
use std::fs;
use std::io::Read;
use std::os::unix::ffi::OsStrExt;
use std::os::unix::process::CommandExt;
use std::path::Path;
use std::process::{Command, Stdio};

/// Every command that ends by itself where a household is, and what only reads.
const COMMANDS: &[&[&str]] = &[
    &["--help"],
    &["technique", "list"],
    &["decode", "2a19:64"],
    &["readings"],
    &["sessions"],
    &["next", "--person", "p1"],
    &["period", "--person", "p1"],
    &["frames", "--json"],
    &["people", "list"],
    &["monitors", "list"],
    &["keys", "list"],
    &["note", "list"],
    &["calendar", "--person", "p1"],
    &["export", "csv"],
    &["export", "fhir"],
];

fn household() -> Home {
    let home = Home::new();
    home.run(&["demo", "--state", "own"]).good();
    home
}

fn with_state<'a>(words: &[&'a str]) -> Vec<&'a str> {
    [words, &["--state", "own"]].concat()
}

#[test]
fn a_full_disk_and_a_reader_who_leaves() {
    let home = household();
    for words in COMMANDS {
        let words = with_state(words);
        let prints = !home.run(&words).good().is_empty();
        let full = fs::OpenOptions::new().write(true).open("/dev/full").unwrap();
        let ran = Ran::of(&home.command(&words).stdout(full).output().unwrap(), &words);
        if prints {
            ran.failed(
                74,
                &["cannot write the output", "No space left", "free some space"],
            );
        } else {
            ran.good();
        }
        let mut child = home.command(&words).spawn().unwrap();
        drop(child.stdout.take());
        let mut said = String::new();
        child.stderr.take().unwrap().read_to_string(&mut said).unwrap();
        assert_eq!(child.wait().unwrap().code(), Some(0), "{words:?}: {said}");
        assert!(
            !said.contains("cannot write") && !said.contains("panicked"),
            "{words:?}: {said}"
        );
    }
}

/// Terminals of any kind, and none: the same output, and the same code.
#[test]
fn a_shell_that_is_set_up_in_another_way() {
    let home = household();
    for words in COMMANDS {
        let words = with_state(words);
        let usual = home.run(&words).good();
        for (name, value) in [
            ("LANG", "C"),
            ("TERM", "dumb"),
            ("COLUMNS", "20"),
            ("XDG_STATE_HOME", "relative"),
            ("XDG_CONFIG_HOME", "relative"),
            ("STATE_DIRECTORY", "/nonexistent"),
        ] {
            let ran = Ran::of(&home.command(&words).env(name, value).output().unwrap(), &words);
            assert_eq!(ran.good().is_empty(), usual.is_empty(), "{words:?} with {name}");
        }
        let output = home.command(&words).env_remove("HOME").output().unwrap();
        Ran::of(&output, &words).good();
    }
}

/// Of several directories the first that has a name: an empty one is not the folder that somebody stands in.
#[test]
fn an_empty_name_among_the_state_directories() {
    let home = household();
    let own = home.path("own");
    fs::create_dir(home.path("desk")).unwrap();
    for given in [
        format!(":{}", own.display()),
        format!("{}:/nonexistent", own.display()),
    ] {
        let mut command = home.command(&["people", "list"]);
        command
            .env("STATE_DIRECTORY", &given)
            .current_dir(home.path("desk"));
        let said = Ran::of(&command.output().unwrap(), &["people", "list"]).good();
        assert!(said.contains("p1"), "{given}: {said}");
    }
    let mut command = home.command(&["keys", "list"]);
    command.env("STATE_DIRECTORY", ":").current_dir(home.path("desk"));
    Ran::of(&command.output().unwrap(), &["keys", "list"]);
    assert_eq!(fs::read_dir(home.path("desk")).unwrap().count(), 0);
}

#[test]
fn a_configuration_from_another_editor() {
    let home = household();
    for (name, text) in [
        ("marked.toml", "\u{feff}time-zone = \"UTC\"\n"),
        ("lines.toml", "time-zone = \"UTC\"\r\n[page]\r\n"),
        ("empty.toml", ""),
    ] {
        let file = home.file(name, text);
        // It is read, and the next thing that is missing is the bus.
        home.run(&with_state(&["run", "--config", &file]))
            .failed(69, &["D-Bus"]);
    }
    for (name, text, words) in [
        (
            "twice.toml",
            &b"time-zone = \"UTC\"\ntime-zone = \"UTC\"\n"[..],
            &["line 2", "duplicate key"][..],
        ),
        (
            "unknown.toml",
            b"tz = 1\n",
            &["there is no key `tz`", "take it out"],
        ),
        (
            "kind.toml",
            b"time-zone = 1\n",
            &["line 1 has integer `1` where a string belongs"],
        ),
        (
            "table.toml",
            b"\npage = 1\n",
            &["line 2 has integer `1` where a table belongs"],
        ),
        (
            "large.toml",
            b"[alerts]\nmonitor-silent-days = -1\n",
            &["line 2", "a whole number from 0 to"],
        ),
        (
            "wide.toml",
            b"\xff\xfet\0",
            &["it is no UTF-8 text", "save it as UTF-8"],
        ),
    ] {
        let file = home.file(name, text);
        let ran = home
            .run(&with_state(&["run", "--config", &file]))
            .failed(78, words);
        assert_eq!(ran.err.lines().count(), 1, "{ran:?}");
        for others in ["invalid type", "expected value", "TOML parse error"] {
            assert!(!ran.err.contains(others), "{ran:?}");
        }
    }
}

/// What a demonstration says to try can be typed as it stands, wherever the program and its journal are.
#[test]
fn the_three_things_to_try_can_be_typed() {
    let home = Home::new();
    let program = home.path("my own/कफ़ quietcuff");
    fs::create_dir(program.parent().unwrap()).unwrap();
    fs::copy(Path::new(env!("CARGO_BIN_EXE_quietcuff")), &program).unwrap();
    let mut command = Command::new(&program);
    command
        .args(["demo", "--days", "2", "--state", "a state"])
        .env_clear()
        .env("HOME", home.path(""))
        .env("TZ", "UTC")
        .current_dir(home.path(""))
        .stdin(Stdio::null());
    let said = Ran::of(&command.output().unwrap(), &["demo"]).good();
    let (_, to_try) = said.split_once("Three things to try:\n").unwrap();
    let lines: Vec<&str> = to_try.lines().filter(|line| line.starts_with("  ")).collect();
    assert!(lines.len() >= 2, "{said}");
    for line in lines {
        let typed = Command::new("sh")
            .args(["-c", line])
            .env("HOME", home.path(""))
            .current_dir(home.path(""))
            .output()
            .unwrap();
        // A frame that was set aside may be one that cannot be decoded, so `decode` may say that with its own code.
        assert!(matches!(typed.status.code(), Some(0 | 65)), "{line}: {typed:?}");
        assert!(!typed.stdout.is_empty(), "{line}: {typed:?}");
    }
}

/// A name in no encoding is a name too.
#[test]
fn a_program_whose_name_is_no_text() {
    let home = Home::new();
    let mut command = home.command(&["demo", "--days", "1", "--state", "own"]);
    command.arg0(OsStr::from_bytes(b"\xff"));
    Ran::of(&command.output().unwrap(), &["demo"]).good();
}
