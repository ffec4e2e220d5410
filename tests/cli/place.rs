//! The configuration and the state directory: misspelt, missing, somebody else's, full.

use crate::harness::command::{Home, Noise, Ran, fixture, hex, program_at};
use crate::harness::left_out::left_out;
use crate::harness::volume::Volume;
use std::fs;
use std::os::unix::fs::PermissionsExt;
use std::os::unix::process::CommandExt;
use std::process::Command;

#[test]
fn a_misspelt_key_is_named_with_the_nearest_right_one() {
    let home = Home::new();
    let file = home.file("quietcuff.toml", "[radio]\nadaptor = \"C0:FF:EE:00:00:0A\"\n");
    for command in [
        ["run"].as_slice(),
        &["replay", &fixture("captures/session.btsnoop")],
    ] {
        let mut arguments = command.to_vec();
        arguments.extend(["--config", &file]);
        home.run(&arguments).failed(
            78,
            &[
                "quietcuff.toml",
                "`radio.adaptor`",
                "did you mean `radio.adapter`?",
            ],
        );
    }
    // Also where nobody named the file.
    home.file(".config/quietcuff/quietcuff.toml", "timezone = \"UTC\"\n");
    home.run(&["run"]).failed(
        78,
        &[".config/quietcuff/quietcuff.toml", "`timezone`", "`time-zone`"],
    );
    let check = home.run(&["check"]);
    assert_eq!(check.code, 78, "{check:?}");
    assert!(check.out.contains("did you mean `time-zone`?"), "{check:?}");
}

#[test]
fn a_configuration_that_cannot_be_read() {
    let home = Home::new();
    home.run(&["run", "--config", "nowhere.toml"])
        .failed(78, &["nowhere.toml", "check its name"]);
    // A name that was mistyped is told by a command, too, that asks nothing of the file.
    for command in [
        &["people", "list"][..],
        &["decode", "2a19:64"],
        &["technique", "list"],
    ] {
        home.run(&[command, &["--config", "nowhere.toml"]].concat())
            .failed(78, &["nowhere.toml", "check its name"]);
    }
    fs::create_dir(home.path("folder")).unwrap();
    for command in ["run", "decode"] {
        home.run(&[command, "--config", "folder"])
            .failed(78, &["folder", "Is a directory"]);
    }
    let noise = home.file("noise.toml", [0xff, 0xfe, 0x00]);
    home.run(&["run", "--config", &noise]).failed(78, &["noise.toml"]);
    let huge = home.file("huge.toml", "# \n".repeat(200_000));
    home.run(&["run", "--config", &huge])
        .failed(78, &["huge.toml", "at most"]);
    let wrong = home.file("wrong.toml", "[radio]\nset-clocks = 3\n");
    let said = home.run(&["run", "--config", &wrong]);
    assert_eq!(said.code, 78);
    assert!(
        said.err.contains("line 2") && said.err.contains("boolean"),
        "{said:?}"
    );
    let zone = home.file("zone.toml", "time-zone = \"Mars/Olympus\"\n");
    home.run(&["run", "--config", &zone])
        .failed(78, &["Mars/Olympus", "Europe/Berlin"]);
}

#[test]
fn nowhere_to_keep_anything() {
    let home = Home::new();
    let mut command = home.command(&["frames"]);
    let output = command.env_remove("HOME").output().unwrap();
    Ran::of(&output, &["frames"]).failed(64, &["STATE_DIRECTORY", "--state"]);

    // As systemd names it; of several the first.
    let first = home.path("first");
    let named = format!("{}:{}", first.display(), home.path("second").display());
    let mut command = home.command(&["replay", &fixture("captures/session.btsnoop")]);
    let output = command.env("STATE_DIRECTORY", named).output().unwrap();
    Ran::of(&output, &["replay"]).good();
    assert!(first.join("journal.sqlite").exists());
    // The journal is its owner's business alone.
    assert_eq!(first.metadata().unwrap().permissions().mode() & 0o777, 0o700);

    home.run(&["frames"])
        .failed(66, &["no journal", ".local/state/quietcuff", "--state"]);
    let file = home.file("file", "");
    let capture = fixture("captures/session.btsnoop");
    home.run(&["replay", &capture, "--state", &file])
        .failed(73, &["file", "--state"]);
    home.run(&["run", "--state", &file])
        .failed(73, &["file", "--state"]);
    home.run(&["demo", "--until", "2026-03-29", "--state", &file])
        .failed(73, &["file", "--state"]);
    for command in ["frames", "readings", "period"] {
        home.run(&[command, "--state", &file])
            .failed(66, &["file/journal.sqlite", "Not a directory", "check the name"]);
    }
}

/// A backup is a file. Whoever waits for somebody to write into a pipe waits for ever.
#[test]
fn a_backup_that_is_no_file_is_not_waited_for() {
    let home = Home::new();
    let file = home.file("file", "");
    fs::create_dir(home.path("folder")).unwrap();
    let made = Command::new("mkfifo").arg(home.path("pipe")).status().unwrap();
    assert!(made.success());
    for (named, word) in [
        ("folder", "it is a directory"),
        ("pipe", "it is a pipe"),
        ("/dev/null", "it is a pipe or a device"),
        (&format!("{file}/below"), "Not a directory"),
    ] {
        home.run(&["restore", named, "--state", "own"])
            .failed(66, &[named, word, "check the name"]);
        assert!(!home.path("own").exists());
    }
}

/// Somebody without rights to the directory. Root has all of them, so the binary runs as nobody then.
#[test]
fn no_permission() {
    let home = Home::new();
    let state = home.path("mine");
    fs::create_dir(&state).unwrap();
    let root = fs::metadata("/proc/self")
        .map(|me| std::os::unix::fs::MetadataExt::uid(&me))
        .unwrap()
        == 0;
    fs::set_permissions(&state, fs::Permissions::from_mode(if root { 0o700 } else { 0 })).unwrap();
    fs::set_permissions(home.path(""), fs::Permissions::from_mode(0o755)).unwrap();
    let binary = home.path("quietcuff");
    program_at(&binary);
    let capture = home.file(
        "c.btsnoop",
        fs::read(fixture("captures/session.btsnoop")).unwrap(),
    );
    let state = state.to_str().unwrap();
    for arguments in [
        ["replay", &capture, "--state", state].as_slice(),
        &["frames", "--state", state],
        &["readings", "--state", state],
        &["run", "--state", state],
        &[
            "demo",
            "--until",
            "2026-03-29",
            "--state",
            &format!("{state}/below"),
        ],
    ] {
        let mut command = Command::new(&binary);
        command
            .args(arguments)
            .env_clear()
            .env("HOME", home.path(""))
            .current_dir("/");
        if root {
            command.uid(65_534).gid(65_534);
        }
        Ran::of(&command.output().unwrap(), arguments)
            .failed(77, &["no permission", "mine", "run as the user"]);
    }
    let mut command = Command::new(&binary);
    command.args(["status", "--state", state]).env_clear();
    if root {
        command.uid(65_534).gid(65_534);
    }
    Ran::of(&command.output().unwrap(), &["status"]).failed(77, &["daemon.sock", "ask as the daemon's user"]);
    let mut command = Command::new(&binary);
    command
        .args(["check", "--state", state])
        .env_clear()
        .env("DBUS_SYSTEM_BUS_ADDRESS", "unix:path=/nonexistent/bus")
        .env("HOME", home.path(""));
    if root {
        command.uid(65_534).gid(65_534);
    }
    let check = Ran::of(&command.output().unwrap(), &["check"]);
    assert_eq!(check.code, 77, "{check:?}");
    fs::set_permissions(state, fs::Permissions::from_mode(0o700)).unwrap();
}

/// What is not our journal is left exactly as it is.
#[test]
fn a_journal_that_is_something_else() {
    let home = Home::new();
    let text = home.file("text/journal.sqlite", "a shopping list ".repeat(500));
    let other = home.file("other/journal.sqlite", "");
    rusqlite::Connection::open(&other)
        .unwrap()
        .execute_batch("CREATE TABLE recipe (name TEXT); INSERT INTO recipe VALUES ('soup');")
        .unwrap();
    home.run(&["demo", "--until", "2026-03-29", "--state", "newer", "--days", "1"])
        .good();
    let newer = home.path("newer/journal.sqlite").to_str().unwrap().to_owned();
    let db = rusqlite::Connection::open(&newer).unwrap();
    db.pragma_update(None, "user_version", 9_999).unwrap();
    db.query_row("PRAGMA wal_checkpoint(TRUNCATE)", [], |_| Ok(()))
        .unwrap();
    drop(db);
    for (state, file, words) in [
        ("text", text, ["not a quietcuff journal", "left as it is"]),
        ("other", other, ["not a quietcuff journal", "left as it is"]),
        ("newer", newer, ["9999", "install the newer"]),
    ] {
        let before = fs::read(&file).unwrap();
        for command in [
            ["frames"].as_slice(),
            &["readings"],
            &["replay", &fixture("captures/session.btsnoop")],
            &["run"],
            &["monitors", "list"],
        ] {
            let mut arguments = command.to_vec();
            arguments.extend(["--state", state]);
            home.run(&arguments).failed(65, &words);
        }
        let check = home.run(&["check", "--state", state]);
        assert_eq!(check.code, 65, "{check:?}");
        assert!(check.out.contains(words[1]), "{check:?}");
        assert_eq!(fs::read(&file).unwrap(), before, "{file}");
    }
}

/// The middle of the file overwritten, as a failing disk does: said, not guessed around, and `check` sees it.
#[test]
fn a_damaged_journal() {
    let home = Home::new();
    home.run(&["demo", "--until", "2026-03-29", "--state", "own"])
        .good();
    let file = home.path("own/journal.sqlite");
    let db = rusqlite::Connection::open(&file).unwrap();
    db.query_row("PRAGMA wal_checkpoint(TRUNCATE)", [], |_| Ok(()))
        .unwrap();
    drop(db);
    let mut octets = fs::read(&file).unwrap();
    let middle = octets.len() / 2;
    octets[4_096..middle].fill(0x5a);
    fs::write(&file, octets).unwrap();
    home.run(&["frames", "--state", "own"])
        .failed(65, &["is damaged", "quietcuff recover"]);
    let check = home.run(&["check", "--state", "own"]);
    assert_eq!(check.code, 65, "{check:?}");
    assert!(check.out.contains("quietcuff recover"), "{check:?}");
}

#[test]
fn a_full_disk_loses_nothing_that_was_committed() {
    let home = Home::new();
    let at = home.path("small");
    let Some(volume) = Volume::mount(&at, "size=1m") else {
        left_out(
            "a journal on a full disk",
            "only root can mount a volume, and not in every container",
        );
        return;
    };
    let state = at.to_str().unwrap();
    home.run(&["demo", "--until", "2026-03-29", "--state", state, "--days", "1"])
        .good();
    let before = home.run(&["frames", "--json", "--state", state]).good();
    let mut noise = Noise(5);
    let many: String = (0..8_000)
        .map(|n| {
            format!(
                "{{\"received_at\":\"2026-04-01T07:00:00.{n:06}Z\",\"monitor\":\"C0:FF:EE:00:00:09\",\"connection\":1,\
                 \"characteristic\":\"2a35\",\"value\":\"{}\"}}\n",
                hex(&noise.octets(200))
            )
        })
        .collect();
    let file = home.file("many.jsonl", many);
    home.run(&["replay", &file, "--state", state])
        .failed(74, &["no space left", "Free some space"]);
    let check = home.run(&["check", "--state", state]);
    assert_eq!(check.code, 74, "{check:?}");
    volume.grow("size=64m");
    let after = home.run(&["frames", "--json", "--state", state]).good();
    assert!(after.starts_with(&before), "what was committed is there");
    home.run(&["replay", &file, "--state", state]).good();
    let now = home.run(&["frames", "--state", state]).good().lines().count();
    assert_eq!(now, before.lines().count() + 8_000);
}

/// Standard output on a full disk, which /dev/full is.
#[test]
fn output_that_cannot_be_written() {
    let home = Home::new();
    home.run(&["demo", "--until", "2026-03-29", "--state", "own"])
        .good();
    for arguments in [
        ["decode", "2a19:64"].as_slice(),
        &["frames", "--json", "--state", "own"],
        &["readings", "--state", "own"],
        &["replay", &fixture("captures/session.btsnoop")],
        &["demo", "--until", "2026-03-29", "--days", "1"],
        &["check"],
    ] {
        let full = fs::OpenOptions::new().write(true).open("/dev/full").unwrap();
        let output = home.command(arguments).stdout(full).output().unwrap();
        Ran::of(&output, arguments).failed(74, &["cannot write the output", "No space left"]);
    }
}
