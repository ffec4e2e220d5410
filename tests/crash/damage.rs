//! A file with damaged pages: found, named, and what can be read of it saved in a new one.

use crate::{Noise, good, line, run};
use rusqlite::Connection;
use serde_json::Value;
use std::collections::HashSet;
use std::fs;
use std::path::Path;

const FRAMES: u32 = 1_500;
const DAMAGED: u64 = 20;
/// As SQLite makes them.
const PAGE: usize = 4096;

fn frames(path: &Path) -> HashSet<(i64, Vec<u8>)> {
    let db = Connection::open(path).unwrap();
    let mut query = db.prepare("SELECT id, value FROM frame").unwrap();
    let rows = query.query_map([], |row| Ok((row.get(0)?, row.get(1)?))).unwrap();
    rows.map(Result::unwrap).collect()
}

#[test]
fn a_damaged_journal_is_found_and_what_can_be_read_is_saved() {
    let dir = tempfile::tempdir().unwrap();
    let sound = dir.path().join("sound");
    let file = dir.path().join("frames.jsonl");
    fs::write(&file, (0..FRAMES).map(line).collect::<String>()).unwrap();
    good(&sound, &["replay", file.to_str().unwrap()]);
    good(&sound, &["recover"]);
    let whole = fs::read(sound.join("journal.sqlite")).unwrap();
    let all = frames(&sound.join("journal.sqlite"));
    let mut noise = Noise(23);
    let (mut recovered, mut least) = (0, f64::INFINITY);
    for turn in 0..DAMAGED {
        let state = dir.path().join(format!("damaged-{turn}"));
        fs::create_dir(&state).unwrap();
        let journal = state.join("journal.sqlite");
        let mut octets = whole.clone();
        // The first page is the file's own description; without it there is only a backup.
        let pages = (octets.len() / PAGE) as u64;
        let hit = noise.below(3) + 1;
        for _ in 0..hit {
            let page = (1 + noise.below(pages - 1)) as usize * PAGE;
            for octet in &mut octets[page..page + PAGE] {
                *octet = noise.below(256) as u8;
            }
        }
        if turn % 5 == 4 {
            octets.truncate(octets.len() - PAGE * noise.below(pages / 3) as usize - 1);
        }
        fs::write(&journal, &octets).unwrap();
        let check = run(&state, &["check"]);
        let said = String::from_utf8_lossy(&check.stdout).into_owned();
        assert_eq!(check.status.code(), Some(65), "{turn}: {said}");
        assert!(said.contains("quietcuff recover"), "{turn}: {said}");
        let before = fs::read(&journal).unwrap();
        let told: Value = serde_json::from_str(&good(&state, &["recover", "--json"])).unwrap();
        let told = &told["recovered"];
        // The damaged file is kept as it was.
        assert!(
            fs::read(told["original"].as_str().unwrap()).unwrap() == before,
            "{turn}"
        );
        let now = frames(&journal);
        assert!(now.is_subset(&all), "{turn}: a frame that never was");
        assert_eq!(told["frames"]["recovered"], now.len(), "{turn}");
        good(&state, &["readings"]);
        assert!(
            run(&state, &["recover"]).stdout.starts_with(b"nothing is wrong"),
            "{turn}"
        );
        recovered += usize::from(!now.is_empty());
        least = least.min(now.len() as f64 / all.len() as f64);
    }
    println!(
        "{recovered} of {DAMAGED} gave frames; the least {:.0} %",
        100.0 * least
    );
    assert!(recovered as u64 > DAMAGED * 3 / 4);
}

/// A journal of a few frames, in one file.
fn small(state: &Path) -> std::path::PathBuf {
    let file = state.with_extension("jsonl");
    fs::write(&file, (0..30).map(line).collect::<String>()).unwrap();
    good(state, &["replay", file.to_str().unwrap()]);
    state.join("journal.sqlite")
}

/// Makes a page unreadable that only derived rows are in.
fn damage(journal: &Path) {
    let page: i64 = Connection::open(journal)
        .unwrap()
        .query_row(
            "SELECT rootpage FROM sqlite_schema WHERE name = 'reading_by_person'",
            [],
            |row| row.get(0),
        )
        .unwrap();
    let mut octets = fs::read(journal).unwrap();
    octets[(page as usize - 1) * PAGE..page as usize * PAGE].fill(0xa5);
    fs::write(journal, octets).unwrap();
}

fn recovered(state: &Path) -> Value {
    let told: Value = serde_json::from_str(&good(state, &["recover", "--json"])).unwrap();
    told["recovered"].clone()
}

#[test]
fn a_damaged_number_is_no_endless_search() {
    let dir = tempfile::tempdir().unwrap();
    let state = dir.path().join("state");
    let journal = small(&state);
    let db = Connection::open(&journal).unwrap();
    // One gap that is farther than a file of this size can have rows, and one number that nobody could count up to.
    for id in [1_000_000, 1_i64 << 50] {
        db.execute(
            "INSERT INTO frame (id, received_us, offset_s, monitor, connection, characteristic, value)
             VALUES (?1, ?1, 0, 'C0:FF:EE:00:00:01', 1, '2a35', x'00')",
            [id],
        )
        .unwrap();
    }
    drop(db);
    damage(&journal);
    let all = frames(&journal);
    assert_eq!(recovered(&state)["frames"]["recovered"], 32);
    assert_eq!(frames(&journal), all);
}

#[test]
fn the_original_is_kept_to_the_octet_with_its_log() {
    let dir = tempfile::tempdir().unwrap();
    let state = dir.path().join("state");
    let journal = small(&state);
    damage(&journal);
    // Frames that are in the log only, as after a crash.
    let crashed = dir.path().join("crashed");
    fs::create_dir(&crashed).unwrap();
    let db = Connection::open(&journal).unwrap();
    db.execute_batch(
        "INSERT INTO frame (received_us, offset_s, monitor, connection, characteristic, value)
         VALUES (1, 0, 'C0:FF:EE:00:00:01', 1, '2a35', x'00')",
    )
    .unwrap();
    let names = ["journal.sqlite", "journal.sqlite-wal"];
    let before = names.map(|name| {
        fs::copy(state.join(name), crashed.join(name)).unwrap();
        fs::read(state.join(name)).unwrap()
    });
    drop(db);
    assert!(!before[1].is_empty());
    let told = recovered(&crashed);
    assert_eq!(told["frames"]["recovered"], 31, "with the one in the log");
    let original = told["original"].as_str().unwrap();
    assert!(fs::read(original).unwrap() == before[0]);
    assert!(fs::read(format!("{original}-wal")).unwrap() == before[1]);
}

#[test]
fn a_log_that_cannot_be_read_takes_nothing_else_with_it() {
    let dir = tempfile::tempdir().unwrap();
    let state = dir.path().join("state");
    let journal = small(&state);
    damage(&journal);
    fs::write(state.join("journal.sqlite-wal"), [0xa5; 9000]).unwrap();
    assert_eq!(recovered(&state)["frames"]["recovered"], 30);
}

#[test]
fn tables_that_are_missing_are_found_and_the_others_kept() {
    let dir = tempfile::tempdir().unwrap();
    let state = dir.path().join("state");
    let journal = small(&state);
    let db = Connection::open(&journal).unwrap();
    db.execute_batch("DROP TABLE gateway_clock; DROP TABLE attribute")
        .unwrap();
    drop(db);
    let told = recovered(&state);
    assert_eq!(told["frames"]["recovered"], 30);
    good(&state, &["readings"]);
}

#[test]
fn what_is_no_journal_is_left_alone() {
    let dir = tempfile::tempdir().unwrap();
    let other = dir.path().join("other.sqlite");
    Connection::open(&other)
        .unwrap()
        .execute_batch("CREATE TABLE other (x)")
        .unwrap();
    for (nth, octets) in [
        b"a shopping list ".repeat(300),
        Vec::new(),
        fs::read(other).unwrap(),
    ]
    .into_iter()
    .enumerate()
    {
        let state = dir.path().join(format!("{nth}"));
        fs::create_dir(&state).unwrap();
        fs::write(state.join("journal.sqlite"), &octets).unwrap();
        let refused = run(&state, &["recover"]);
        assert_eq!(refused.status.code(), Some(65), "{nth}: {refused:?}");
        assert!(fs::read(state.join("journal.sqlite")).unwrap() == octets);
    }
}

/// A recovery leaves gaps in the numbers of rows; what is stated afterwards is settled all the same.
#[test]
fn a_statement_behind_a_lost_one_is_settled() {
    let dir = tempfile::tempdir().unwrap();
    let state = dir.path().join("home");
    let file = dir.path().join("frames.jsonl");
    fs::write(&file, line(0)).unwrap();
    good(&state, &["people", "add", "asha"]);
    good(&state, &["people", "add", "ravi"]);
    good(&state, &["replay", file.to_str().unwrap()]);
    let reading = || -> Value {
        let said = good(&state, &["readings", "--json"]);
        serde_json::from_str(said.lines().next().unwrap()).unwrap()
    };
    let id = reading()["id"].as_str().unwrap().to_owned();
    let db = Connection::open(state.join("journal.sqlite")).unwrap();
    db.execute_batch(
        "DROP TRIGGER statement_is_never_deleted; DELETE FROM statement WHERE id = 2;
         CREATE TRIGGER statement_is_never_deleted BEFORE DELETE ON statement BEGIN SELECT raise(ABORT, 'no'); END;",
    )
    .unwrap();
    drop(db);
    good(&state, &["rebuild"]);
    good(&state, &["readings", "assign", &id, "asha"]);
    assert_eq!(reading()["person"], "asha");
}
