//! What a stranger's shell, folder and files may be like: every command in each of them ends with its exit code and, if
//! it fails, with one sentence in words of the program's own.

use crate::cli::help::every_command;
use crate::harness::command::{Home, Ran, program_at};
use std::ffi::OsStr;
use std::fs;
use std::io::Read;
use std::os::unix::ffi::OsStrExt;
use std::os::unix::process::CommandExt;
use std::process::{Command, Stdio};

/// Every command that only reads, each with the code that it ends with where a household is and no daemon. `READING` is
/// the id of one of its readings.
const COMMANDS: &[(&[&str], i32)] = &[
    (&["--help"], 0),
    (&["--version"], 0),
    (&["technique", "list"], 0),
    (&["decode", "2a19:64"], 0),
    (&["readings"], 0),
    (&["readings", "explain", "READING"], 0),
    (&["trace", "READING"], 0),
    (&["sessions"], 0),
    (&["next", "--person", "p1"], 0),
    (&["answer", "--person", "p1"], 0),
    (&["period", "--person", "p1"], 0),
    (&["period", "list"], 0),
    (&["period", "earlier", "--person", "p1"], 0),
    (&["period", "changes", "--person", "p1"], 0),
    (&["frames", "--json"], 0),
    (&["people", "list"], 0),
    (&["monitors", "list"], 0),
    (&["monitors", "clock", "m1"], 0),
    (&["keys", "list"], 0),
    (&["listeners", "list"], 0),
    // It belongs to no record.
    (&["record", "show"], 78),
    (&["note", "list"], 0),
    (&["calendar", "--person", "p1"], 0),
    (&["export", "csv"], 0),
    (&["export", "fhir"], 0),
    (&["export", "hl7"], 0),
    (&["report", "--person", "p1", "--output", "week.html"], 0),
    (&["backup", "--output", "copy.sqlite"], 0),
    (&["deliver", "list"], 0),
    (&["deliver", "release", "--list"], 0),
    (&["remind", "list"], 0),
    // Neither the bus nor a daemon is there.
    (&["check"], 69),
    (&["status", "--json"], 69),
];

/// Every other command: it changes something, asks others, or stays.
const OTHERS: [&str; 42] = [
    "answer",
    "backup key",
    "deliver",
    "deliver check",
    "deliver key",
    "deliver launch",
    "deliver retry",
    "deliver withdraw",
    "demo",
    "keys add",
    "keys confirm",
    "keys withdraw",
    "listeners confirm",
    "listeners invite",
    "listeners receive",
    "listeners withdraw",
    "monitors add",
    "monitors consent",
    "monitors find",
    "monitors forget",
    "keys link",
    "note add",
    "note withdraw",
    "overhear",
    "people add",
    "people edit",
    "people remove",
    "period start",
    "readings assign",
    "readings discard",
    "readings kind",
    "readings time",
    "rebuild",
    "record hand-on",
    "record join",
    "record keep",
    "record leave",
    "recover",
    "remind",
    "remind test",
    "replay",
    "restore",
];

#[test]
fn every_command_that_only_reads_is_tried() {
    let home = Home::new();
    let all: Vec<String> = every_command(&home).iter().map(|words| words.join(" ")).collect();
    // Those that hold others are left out: what they do by themselves has its own line above.
    let holds = |name: &str| all.iter().any(|other| other.starts_with(&format!("{name} ")));
    let leaves = all.iter().filter(|name| !name.is_empty() && !holds(name));
    for name in leaves {
        let tried = COMMANDS
            .iter()
            .any(|(words, _)| format!("{} ", words.join(" ")).starts_with(&format!("{name} ")));
        let changes = OTHERS.contains(&name.as_str()) || ["run", "serve"].contains(&name.as_str());
        assert!(tried || changes, "{name} is in neither list");
    }
}

/// A demonstration's week, whose people a clinic asked for; and a reading of it.
fn household() -> (Home, String) {
    let home = Home::new();
    home.run(&["demo", "--until", "2026-03-29", "--state", "own"])
        .good();
    home.file(
        "own.toml",
        "[clinic]\nserver = \"https://clinic.example/r4\"\npeople = [\"p1\"]\n[fhir.patients]\np1 = \"Patient/1\"\n",
    );
    let readings = home.run(&["readings", "--json", "--state", "own"]).objects();
    let id = readings[0]["id"].as_str().unwrap().to_owned();
    (home, id)
}

fn with_state<'a>(words: &[&'a str], reading: &'a str) -> Vec<&'a str> {
    let words = words
        .iter()
        .map(|word| if *word == "READING" { reading } else { *word });
    words.chain(["--state", "own", "--config", "own.toml"]).collect()
}

#[test]
fn a_full_disk_and_a_reader_who_leaves() {
    let (home, reading) = household();
    for (words, code) in COMMANDS {
        let words = with_state(words, &reading);
        let usual = home.run(&words);
        assert_eq!(usual.code, *code, "{words:?}: {usual:?}");
        let full = fs::OpenOptions::new().write(true).open("/dev/full").unwrap();
        let ran = Ran::of(&home.command(&words).stdout(full).output().unwrap(), &words);
        if usual.out.is_empty() {
            assert_eq!(ran.code, *code, "{words:?}: {ran:?}");
        } else {
            ran.failed(
                74,
                &["cannot write the output", "No space left", "free some space"],
            );
        }
        let mut child = home.command(&words).spawn().unwrap();
        drop(child.stdout.take());
        let mut said = String::new();
        child.stderr.take().unwrap().read_to_string(&mut said).unwrap();
        let ended = child.wait().unwrap().code().unwrap();
        assert!(ended == 0 || ended == *code, "{words:?}: {ended} {said}");
        assert!(
            !said.contains("cannot write") && !said.contains("panicked"),
            "{words:?}: {said}"
        );
    }
}

/// Terminals of any kind, and none: the same output, and the same code.
#[test]
fn a_shell_that_is_set_up_in_another_way() {
    let (home, reading) = household();
    for (words, code) in COMMANDS {
        let words = with_state(words, &reading);
        let usual = home.run(&words).out;
        for (name, value) in [
            ("LANG", "C"),
            ("TERM", "dumb"),
            ("COLUMNS", "20"),
            ("XDG_STATE_HOME", "relative"),
            ("XDG_CONFIG_HOME", "relative"),
            ("STATE_DIRECTORY", "/nonexistent"),
        ] {
            let ran = Ran::of(&home.command(&words).env(name, value).output().unwrap(), &words);
            assert_eq!(ran.code, *code, "{words:?} with {name}: {ran:?}");
            assert_eq!(ran.out.is_empty(), usual.is_empty(), "{words:?} with {name}");
        }
        let output = home.command(&words).env_remove("HOME").output().unwrap();
        assert_eq!(Ran::of(&output, &words).code, *code, "{words:?} without HOME");
    }
}

/// A file where a directory belongs, and one that another user made: words of ours, and never the number of an error.
#[test]
fn a_name_that_something_else_has() {
    let home = Home::new();
    home.file("taken", "");
    for words in [
        &["people", "add", "p1", "--label", "Invented"][..],
        &["replay", "taken"],
        &["people", "list"],
        &["check"],
    ] {
        let words = [words, &["--state", "taken"]].concat();
        let ran = home.run(&words);
        assert_ne!(ran.code, 0, "{ran:?}");
        let said = format!("{}{}", ran.out, ran.err);
        assert!(said.contains("taken"), "{words:?}: {said}");
        for others in ["os error", "File exists", "entity"] {
            assert!(!said.contains(others), "{words:?}: {said}");
        }
    }
    home.run(&["people", "add", "p1", "--state", "taken"]).failed(
        73,
        &[
            "cannot create taken",
            "something else is there under this name",
            "--state",
        ],
    );
}

/// Of several directories the first that has a name: an empty one is not the folder that somebody stands in.
#[test]
fn an_empty_name_among_the_state_directories() {
    let (home, _) = household();
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
    let (home, _) = household();
    for (name, text) in [
        ("marked.toml", "\u{feff}time-zone = \"UTC\"\n"),
        ("lines.toml", "time-zone = \"UTC\"\r\n[page]\r\n"),
        ("empty.toml", ""),
    ] {
        let file = home.file(name, text);
        // It is read, and the next thing that is missing is the bus.
        home.run(&["run", "--config", &file, "--state", "own"])
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
            .run(&["run", "--config", &file, "--state", "own"])
            .failed(78, words);
        assert_eq!(ran.err.lines().count(), 1, "{ran:?}");
        for others in ["invalid type", "expected value", "TOML parse error"] {
            assert!(!ran.err.contains(others), "{ran:?}");
        }
    }
}

/// What a demonstration says to try can be typed as it stands, wherever the program and its journal are.
#[test]
fn the_things_to_try_can_be_typed() {
    let home = Home::new();
    let program = home.path("my own/कफ़ quietcuff");
    fs::create_dir(program.parent().unwrap()).unwrap();
    program_at(&program);
    let mut command = Command::new(&program);
    command
        .args([
            "demo",
            "--until",
            "2026-03-29",
            "--days",
            "2",
            "--state",
            "a state",
        ])
        .env_clear()
        .env("HOME", home.path(""))
        .env("TZ", "UTC")
        .current_dir(home.path(""))
        .stdin(Stdio::null());
    let said = Ran::of(&command.output().unwrap(), &["demo", "--until", "2026-03-29"]).good();
    let (_, to_try) = said.split_once("Four things to try:\n").unwrap();
    // The first one stays; the demonstration's own tests run it.
    let lines: Vec<&str> = to_try
        .lines()
        .filter(|line| line.starts_with("  ") && !line.ends_with(" --serve"))
        .collect();
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
    let mut command = home.command(&["demo", "--until", "2026-03-29", "--days", "1", "--state", "own"]);
    command.arg0(OsStr::from_bytes(b"\xff"));
    Ran::of(&command.output().unwrap(), &["demo", "--until", "2026-03-29"]).good();
}

/// A day that is none, and a server that is not there: in words of ours, not in those of a library.
#[test]
fn what_a_library_finds_wrong_is_said_in_our_words() {
    let home = Home::new();
    for words in [
        &["readings", "--from"][..],
        &["sessions", "--to"],
        &["period", "--from"],
        &["export", "csv", "--from"],
        &["people", "edit", "asha", "--gave-birth"],
        &["keys", "add", "--role", "clinician", "--until"],
    ] {
        for day in ["yesterday", "2026-02-30", "2026-03-01T07:05", ""] {
            let ran = home.run(&[words, &[day]].concat());
            assert_eq!(ran.code, 64, "{words:?} {day}: {ran:?}");
            let says = "that is no day of the calendar; write one such as 2026-03-01";
            assert!(
                ran.err.contains(says) || day.is_empty() && ran.err.contains("a value is required"),
                "{words:?} {day}: {ran:?}"
            );
        }
    }
    home.run(&["people", "add", "asha"]).good();
    let clinic = home.file(
        "clinic.toml",
        "[clinic]\nserver = \"http://127.0.0.1:1/fhir\"\npeople = [\"asha\"]\n[fhir.patients]\nasha = \"Patient/1\"\n",
    );
    let tongue = home.file("tongue.toml", "[alerts]\nlanguage = \"tlh\"\n");
    let ran = home.run(&["readings", "--config", &tongue]);
    let said = ran
        .failed(78, &["line 2 has `tlh`", "one of `en`, `hi`, `de`, `es`, `ta`"])
        .err;
    assert!(!said.contains("variant"), "{said}");
    let ran = home.run(&["deliver", "check", "--config", &clinic]);
    let said = ran.failed(69, &["http://127.0.0.1:1", "Connection refused"]).err;
    assert!(!said.contains("os error"), "{said}");
}
