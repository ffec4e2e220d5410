//! A command that reads writes nothing, and reads where nothing can be written.

use crate::harness::replayed::{Home, week};
use quietcuff::journal::{FILE_NAME, Journal};
use std::collections::BTreeMap;
use std::fs::{self, Permissions};
use std::os::unix::fs::PermissionsExt;
use std::path::{Path, PathBuf};
use std::process::Command;

/// Nobody's: what Linux distributions call `nobody`.
const NOBODY: &str = "65534";

/// Every command that reads, without the file that some write for the person who asked.
const READING: [&[&str]; 14] = [
    &["readings", "--json"],
    &["sessions", "--json"],
    &["next", "--person", "p1", "--json", "--at", "2026-03-08T12:00"],
    &["note", "list", "--json"],
    &["people", "list", "--json"],
    &["monitors", "list", "--json"],
    &["period", "--person", "p1", "--json"],
    &["period", "list", "--json"],
    &["frames", "--json"],
    &["trace", "--period", "--person", "p1", "--json"],
    &["export", "csv", "--output", "-"],
    &["export", "fhir", "--output", "-"],
    &["keys", "list", "--json"],
    &["status", "--metrics"],
];

/// Each file of the state directory and what is in it, but for the index of the log, which SQLite's readers share.
fn files(state: &Path) -> BTreeMap<String, Vec<u8>> {
    fs::read_dir(state)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .map(|path| {
            (
                path.file_name().unwrap().to_string_lossy().into_owned(),
                fs::read(path).unwrap(),
            )
        })
        .filter(|(name, octets)| !(name.ends_with("-shm") || name.ends_with("-wal") && octets.is_empty()))
        .collect()
}

fn lived() -> Home {
    let home = Home::new();
    home.replay(&week(), &["--person", "p1"]);
    home.text(&["note", "add", "--person", "p1", "coffee"]);
    home
}

/// All but the size of the files, which is that of the one file as it lies there.
fn still(text: &str) -> String {
    text.lines()
        .filter(|line| !line.starts_with("quietcuff_journal_size_bytes "))
        .collect::<Vec<_>>()
        .join("\n")
}

#[test]
fn two_configurations_read_one_journal_to_and_fro_and_change_nothing() {
    let home = lived();
    let mut configurations = Vec::new();
    for (name, zone, days) in [("one", "Europe/Oslo", 5), ("two", "Asia/Kolkata", 6)] {
        let place = home.dir.path().join(name);
        fs::create_dir(&place).unwrap();
        let clinic = format!(
            "title = \"Invented\"\ncitation = \"Invented for a test\"\nreadings-per-session = 3\ngap-seconds = 120\n\
             third-reading-above = 0\nsessions = [\"morning\"]\ndays = {days}\ndays-min = 2\nreadings-min = 4\n\
             drop-first-day = false\naverage-of = \"all\"\nthreshold = {{ systolic = 128, diastolic = 80 }}\n"
        );
        fs::write(place.join("clinic.toml"), clinic).unwrap();
        let file = place.join("quietcuff.toml");
        fs::write(
            &file,
            format!("time-zone = \"{zone}\"\nclinic-protocol = \"clinic.toml\"\n"),
        )
        .unwrap();
        configurations.push(file);
    }
    // What was stated last is not settled yet.
    let before = files(&home.state());
    for _ in 0..2 {
        for configuration in &configurations {
            for args in READING {
                let output = Command::new(env!("CARGO_BIN_EXE_quietcuff"))
                    .args(args)
                    .arg("--state")
                    .arg(home.state())
                    .arg("--config")
                    .arg(configuration)
                    .output()
                    .unwrap();
                let said = String::from_utf8_lossy(&output.stderr).into_owned();
                assert!(output.status.success(), "{args:?}: {said}");
            }
        }
    }
    assert!(files(&home.state()) == before, "a file changed");
}

/// A home that somebody else looks into, who may write nothing there.
struct Elsewhere {
    home: Home,
    binary: PathBuf,
    root: bool,
}

impl Elsewhere {
    fn of(home: Home) -> Self {
        let binary = home.dir.path().join("quietcuff");
        // By another process: a file that this one has open for writing cannot be run by what it starts meanwhile.
        let copied = Command::new("cp")
            .arg(env!("CARGO_BIN_EXE_quietcuff"))
            .arg(&binary)
            .status();
        assert!(copied.unwrap().success());
        fs::set_permissions(home.dir.path(), Permissions::from_mode(0o755)).unwrap();
        Self {
            root: rustix::process::geteuid().is_root(),
            home,
            binary,
        }
    }

    fn closed(&self) {
        let state = self.home.state();
        for entry in fs::read_dir(&state).unwrap() {
            fs::set_permissions(entry.unwrap().path(), Permissions::from_mode(0o444)).unwrap();
        }
        fs::set_permissions(&state, Permissions::from_mode(0o555)).unwrap();
    }

    /// As somebody whom the file system refuses to write: root is asked by no file system, so it becomes nobody.
    fn reads(&self, args: &[&str]) -> String {
        let mut command = if self.root {
            let mut command = Command::new("setpriv");
            command
                .args([
                    &format!("--reuid={NOBODY}"),
                    &format!("--regid={NOBODY}"),
                    "--clear-groups",
                ])
                .arg(&self.binary);
            command
        } else {
            Command::new(&self.binary)
        };
        let output = command
            .args(args)
            .arg("--state")
            .arg(self.home.state())
            .arg("--config")
            .arg(self.home.dir.path().join("quietcuff.toml"))
            .current_dir("/")
            .output()
            .unwrap();
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        assert!(output.status.success(), "{args:?}: {said}");
        String::from_utf8(output.stdout).unwrap()
    }
}

impl Drop for Elsewhere {
    fn drop(&mut self) {
        let _ = fs::set_permissions(self.home.state(), Permissions::from_mode(0o755));
    }
}

/// What the owner reads, a reader reads who may write nothing.
fn reads_the_same(elsewhere: &Elsewhere, expected: &[(&[&str], String)]) {
    let before = files(&elsewhere.home.state());
    for (args, text) in expected {
        assert_eq!(still(&elsewhere.reads(args)), still(text), "{args:?}");
    }
    let out = elsewhere.home.dir.path().join("out");
    fs::create_dir_all(&out).unwrap();
    fs::set_permissions(&out, Permissions::from_mode(0o777)).unwrap();
    let backup = elsewhere.reads(&["backup", "--json", "--output", out.join("b").to_str().unwrap()]);
    assert!(backup.contains("\"frames\""), "{backup}");
    assert!(files(&elsewhere.home.state()) == before, "a file changed");
}

fn by_the_owner(home: &Home) -> Vec<(&'static [&'static str], String)> {
    READING.iter().map(|args| (*args, home.text(args))).collect()
}

#[test]
fn a_directory_in_which_nothing_can_be_written_is_read_by_somebody_else() {
    let home = lived();
    let expected = by_the_owner(&home);
    for side in ["-wal", "-shm"] {
        let _ = fs::remove_file(home.state().join(format!("{FILE_NAME}{side}")));
    }
    let elsewhere = Elsewhere::of(home);
    elsewhere.closed();
    reads_the_same(&elsewhere, &expected);
}

#[test]
fn what_stands_in_a_log_without_its_index_is_read_there_too() {
    let written = lived();
    let expected = by_the_owner(&written);
    let writer = Journal::open(&written.state()).unwrap();
    written.text(&[
        "note",
        "add",
        "--person",
        "p1",
        "medicine",
        "one in the log alone",
    ]);
    let notes = written.text(&["note", "list", "--json"]);
    // As a disk shows it that was taken out while the journal was in use.
    let home = Home::new();
    home.run(&["help"]);
    fs::create_dir(home.state()).unwrap();
    for side in ["", "-wal"] {
        let name = format!("{FILE_NAME}{side}");
        fs::copy(written.state().join(&name), home.state().join(&name)).unwrap();
    }
    drop(writer);
    assert!(
        !fs::read(home.state().join(format!("{FILE_NAME}-wal")))
            .unwrap()
            .is_empty()
    );
    let elsewhere = Elsewhere::of(home);
    elsewhere.closed();
    assert_eq!(elsewhere.reads(&["note", "list", "--json"]), notes);
    let readings = expected.iter().find(|(args, _)| args[0] == "readings").unwrap();
    assert_eq!(elsewhere.reads(readings.0), readings.1);
    assert!(!elsewhere.home.state().join(format!("{FILE_NAME}-shm")).exists());
}

#[test]
fn a_reader_beside_a_writer_sees_what_is_committed() {
    let home = lived();
    let mut writer = Journal::open(&home.state()).unwrap();
    writer.settle().unwrap();
    let expected = by_the_owner(&home);
    let elsewhere = Elsewhere::of(home);
    elsewhere.closed();
    reads_the_same(&elsewhere, &expected);
    let note = quietcuff::household::Statement::NoteWithdrawn {
        note: serde_json::from_str::<serde_json::Value>(&elsewhere.reads(&["note", "list", "--json"]))
            .unwrap()["id"]
            .as_str()
            .unwrap()
            .to_owned(),
    };
    writer.state(jiff::Timestamp::now(), &[note]).unwrap();
    assert_eq!(elsewhere.reads(&["note", "list", "--json"]), "");
}

#[test]
fn a_journal_of_the_first_schema_is_read_and_stays_what_it_is() {
    let older = include_str!("../package/older.sql");
    let made = |home: &Home| {
        fs::create_dir(home.state()).unwrap();
        let path = home.state().join(FILE_NAME);
        rusqlite::Connection::open(path)
            .unwrap()
            .execute_batch(older)
            .unwrap();
    };
    let (home, brought) = (Home::new(), Home::new());
    made(&home);
    made(&brought);
    brought.text(&["rebuild"]);
    let expected = by_the_owner(&brought);
    let before = files(&home.state());
    for (args, text) in &expected {
        assert_eq!(still(&home.text(args)), still(text), "{args:?}");
    }
    assert!(files(&home.state()) == before, "a file changed");
    let elsewhere = Elsewhere::of(home);
    elsewhere.closed();
    reads_the_same(&elsewhere, &expected);
}
