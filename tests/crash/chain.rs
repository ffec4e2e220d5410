//! What was written, held against the digests of when it was written: whatever was changed, added or lost since is
//! found by `check --thorough` and by each backup, and named by its row.

use crate::crash::copies::names;
use crate::crash::{good, line, quietcuff, run};
use crate::harness::left_out::program;
use rusqlite::Connection;
use serde_json::Value;
use std::fs;
use std::path::Path;
use std::process::Command;

/// As SQLite makes them.
const PAGE: usize = 4096;
const GUARDS: &str = "SELECT name, sql FROM sqlite_schema WHERE type = 'trigger'";

/// Ninety frames in three bursts, with statements between them.
fn lived(dir: &Path) -> std::path::PathBuf {
    let state = dir.join("state");
    good(&state, &["people", "add", "asha"]);
    for burst in 0..3 {
        let file = dir.join("frames.jsonl");
        fs::write(&file, (burst * 30..burst * 30 + 30).map(line).collect::<String>()).unwrap();
        good(&state, &["replay", file.to_str().unwrap()]);
        good(&state, &["note", "add", "other", "made", "--person", "asha"]);
    }
    state
}

/// Does it although the guards say no, as a repair tool would, and puts them back.
fn done(state: &Path, sql: &str) {
    let db = Connection::open(state.join("journal.sqlite")).unwrap();
    let guards: Vec<(String, String)> = db
        .prepare(GUARDS)
        .unwrap()
        .query_map([], |row| Ok((row.get(0)?, row.get(1)?)))
        .unwrap()
        .map(Result::unwrap)
        .collect();
    db.pragma_update(None, "foreign_keys", false).unwrap();
    for (name, _) in &guards {
        db.execute_batch(&format!("DROP TRIGGER {name}")).unwrap();
    }
    db.execute_batch(sql).unwrap();
    for (_, sql) in &guards {
        db.execute_batch(sql).unwrap();
    }
    db.query_row("PRAGMA wal_checkpoint(TRUNCATE)", [], |_| Ok(()))
        .unwrap();
}

/// What the digests say, and the code of the check.
fn thorough(state: &Path) -> (String, Option<i32>) {
    let check = run(state, &["check", "--thorough", "--json"]);
    let said = String::from_utf8(check.stdout).unwrap();
    let finding = said
        .lines()
        .map(|line| serde_json::from_str::<Value>(line).unwrap())
        .find(|finding| finding["check"] == "digests")
        .unwrap();
    (finding["found"].as_str().unwrap().to_owned(), check.status.code())
}

#[test]
fn whatever_became_of_a_row_is_found_and_named() {
    let dir = tempfile::tempdir().unwrap();
    let sound = lived(dir.path());
    let (said, _) = thorough(&sound);
    assert!(
        said.contains("every frame and statement is what was written"),
        "{said}"
    );
    let add = "INSERT INTO frame (received_us, offset_s, monitor, connection, characteristic, value)
               SELECT received_us + 1, offset_s, monitor, connection, characteristic, value FROM frame WHERE id = 8";
    for (nth, (sql, named)) in [
        (
            "UPDATE frame SET value = CAST (value || x'00' AS BLOB) WHERE id = 45",
            "row 45 of `frame` was changed",
        ),
        (
            "UPDATE frame SET received_us = received_us + 1 WHERE id = 1",
            "row 1 of `frame` was changed",
        ),
        (
            "UPDATE frame SET given_to = '' WHERE id = 90",
            "row 90 of `frame` was changed",
        ),
        (
            "UPDATE frame SET overheard = 1 WHERE id = 30",
            "row 30 of `frame` was changed",
        ),
        (
            "UPDATE statement SET body = replace(body, 'made', 'mode') WHERE id = 4",
            "row 4 of `statement` was changed",
        ),
        (
            "DELETE FROM frame WHERE id IN (31, 60)",
            "row 31 of `frame` was lost, row 60 of `frame` was lost",
        ),
        (
            "DELETE FROM statement WHERE id = 2",
            "row 2 of `statement` was lost",
        ),
        (add, "row 91 of `frame` was added by something else"),
        (
            "UPDATE frame SET id = 1000 WHERE id = 50",
            "row 50 of `frame` was lost, row 1000 of `frame` was added",
        ),
        (
            "UPDATE link SET digest = zeroblob(32) WHERE id = 3",
            "row 3 of `link` was changed",
        ),
        ("DELETE FROM link WHERE id = 3", "row 3 of `link` was lost"),
        // Numbers that no row has.
        (
            "UPDATE link SET first = 9223372036854775807 WHERE id = 3",
            "row 9223372036854775807 of",
        ),
        (
            "UPDATE link SET first = 4611686018427387904 WHERE id = 2",
            "row 4611686018427387904 of",
        ),
        (
            "UPDATE link SET first = -9223372036854775808, marks = x'' WHERE id = 3",
            "row 3 of `link` was changed",
        ),
        (
            "INSERT INTO gateway_clock (boot, uptime_us, wall_us, synchronized) VALUES ('b', 1, 2, 1)",
            "row 1 of `gateway_clock` was added",
        ),
    ]
    .into_iter()
    .enumerate()
    {
        let state = dir.path().join(format!("{nth}"));
        let whole = dir.path().join(format!("{nth}.backup"));
        good(&sound, &["backup", "--output", whole.to_str().unwrap()]);
        good(&state, &["restore", whole.to_str().unwrap()]);
        done(&state, sql);
        let (said, code) = thorough(&state);
        assert!(code == Some(65) && said.contains(named), "{sql}: {said}");
        let copy = dir.path().join(format!("{nth}.copy"));
        let copied = run(&state, &["backup", "--output", copy.to_str().unwrap()]);
        let said = String::from_utf8_lossy(&copied.stderr).into_owned();
        assert!(
            copied.status.code() == Some(65) && said.contains(named),
            "{sql}: {said}"
        );
        // It is there all the same, says so where it is restored, and the way on is the one that was named.
        let restored = dir.path().join(format!("{nth}.restored"));
        assert!(
            good(&restored, &["restore", copy.to_str().unwrap()]).contains(named),
            "{sql}"
        );
        let told = good(&restored, &["recover"]);
        assert!(
            told.contains(named) && told.contains("begin anew"),
            "{sql}: {told}"
        );
        let (said, _) = thorough(&restored);
        assert!(said.contains("is what was written"), "{sql}: {said}");
    }
}

/// One bit of the file, in a frame and in a reading. What is derived can be made again, and no digest is needed for it.
#[test]
fn a_bit_that_flips_is_found() {
    let dir = tempfile::tempdir().unwrap();
    let state = lived(dir.path());
    let journal = state.join("journal.sqlite");
    let db = Connection::open(&journal).unwrap();
    db.query_row("PRAGMA wal_checkpoint(TRUNCATE)", [], |_| Ok(()))
        .unwrap();
    let value: Vec<u8> = db
        .query_row("SELECT value FROM frame WHERE id = 45", [], |row| row.get(0))
        .unwrap();
    drop(db);
    let mut octets = fs::read(&journal).unwrap();
    let places: Vec<usize> = (0..octets.len() - value.len())
        .filter(|place| octets[*place..].starts_with(&value))
        .collect();
    // In its row, and in the index that keeps it once; SQLite finds that the two differ, and the digest which of them.
    assert!(!places.is_empty(), "{places:?}");
    for place in places {
        octets[place + 1] ^= 0x08;
    }
    assert_eq!(octets.len() % PAGE, 0);
    fs::write(&journal, octets).unwrap();
    let usual = run(&state, &["check", "--json"]);
    assert!(
        !String::from_utf8_lossy(&usual.stdout).contains("damaged"),
        "nothing else sees it"
    );
    assert!(thorough(&state).0.contains("row 45 of `frame` was changed"));
}

/// A backup of a journal that is not what was written removes no older one, and is not taken for good.
#[test]
fn no_older_backup_gives_way_to_one_of_a_changed_journal() {
    let dir = tempfile::tempdir().unwrap();
    let state = lived(dir.path());
    let config = dir.path().join("quietcuff.toml");
    fs::write(&config, "[backup]\ndays = 1\nweeks = 0\nmonths = 0\n").unwrap();
    let to = dir.path().join("backups");
    fs::create_dir(&to).unwrap();
    let backup = || {
        // Their names have seconds.
        std::thread::sleep(std::time::Duration::from_millis(1_100));
        run(
            &state,
            &[
                "--config",
                config.to_str().unwrap(),
                "backup",
                "--to",
                to.to_str().unwrap(),
            ],
        )
    };
    for _ in 0..2 {
        assert!(backup().status.success());
        assert_eq!(names(&to).len(), 1);
    }
    let good_ones = || -> i64 {
        let db = Connection::open(state.join("journal.sqlite")).unwrap();
        db.query_row("SELECT count(*) FROM good_backup", [], |row| row.get(0))
            .unwrap()
    };
    let before = good_ones();
    done(&state, "UPDATE frame SET value = x'00' WHERE id = 45");
    assert_eq!(backup().status.code(), Some(65));
    assert_eq!(names(&to).len(), 2);
    assert_eq!(good_ones(), before);
}

#[test]
fn two_that_write_at_once_make_one_chain() {
    let dir = tempfile::tempdir().unwrap();
    let state = dir.path().join("state");
    good(&state, &["people", "add", "asha"]);
    let started: Vec<_> = (0..3)
        .map(|nth| {
            let file = dir.path().join(format!("{nth}.jsonl"));
            fs::write(&file, (nth * 400..nth * 400 + 400).map(line).collect::<String>()).unwrap();
            quietcuff(&state, &["replay", file.to_str().unwrap()])
                .spawn()
                .unwrap()
        })
        .collect();
    for nth in 0..10 {
        let id = format!("p{nth}");
        good(&state, &["people", "add", &id]);
    }
    for mut child in started {
        assert!(child.wait().unwrap().success());
    }
    let (said, _) = thorough(&state);
    assert!(
        said.contains("every frame and statement is what was written"),
        "{said}"
    );
}

/// Python's SQLite and SHA-256 come to the same last digest.
#[test]
fn another_program_makes_the_same_digests() {
    if !program("python3", "the digests, made by Python") {
        return;
    }
    let dir = tempfile::tempdir().unwrap();
    let state = lived(dir.path());
    let made = Command::new("python3")
        .arg(Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/crash/chain.py"))
        .arg(state.join("journal.sqlite"))
        .output()
        .unwrap();
    let made = String::from_utf8(made.stdout).unwrap();
    let (digest, rows) = made.trim().split_once(' ').unwrap();
    assert!(thorough(&state).0.ends_with(digest), "{made}");
    assert!(rows.parse::<u32>().unwrap() >= 94, "{made}");
}

/// The ordinary shell of SQLite, which asks for no recursive triggers.
#[test]
fn a_strangers_shell_replaces_nothing() {
    if !program("sqlite3", "what a shell may do to a journal") {
        return;
    }
    let dir = tempfile::tempdir().unwrap();
    let state = lived(dir.path());
    let before = good(&state, &["frames", "--json"]);
    let (digests, _) = thorough(&state);
    for sql in [
        "INSERT OR REPLACE INTO frame SELECT id, received_us + 1, offset_s, boot, uptime_us, given_to, monitor, connection,
         characteristic, value, overheard FROM frame WHERE id = 3",
        "REPLACE INTO statement SELECT id, 2, body FROM statement",
        "REPLACE INTO link SELECT id, of, first, marks, zeroblob(32) FROM link",
        "UPDATE OR REPLACE frame SET id = 4 WHERE id = 3",
        "DELETE FROM link WHERE id = 1",
        "UPDATE link SET first = 2",
        "INSERT INTO frame SELECT * FROM frame WHERE id = 3 ON CONFLICT (id) DO UPDATE SET connection = 9",
    ] {
        Command::new("sqlite3")
            .arg(state.join("journal.sqlite"))
            .arg(sql)
            .output()
            .unwrap();
        assert_eq!(good(&state, &["frames", "--json"]), before, "{sql}");
        assert_eq!(thorough(&state).0, digests, "{sql}");
    }
}
