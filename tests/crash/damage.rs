//! A file with damaged pages: found, named, and what can be read of it saved in a new one.

use crate::copies::{mount, names};
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
pub(crate) fn damage(journal: &Path) {
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

/// Numbers of pages that hold rows of a table without row numbers, and how many each holds. After the file format of
/// SQLite: a leaf of an index begins with 0x0a, the count of its cells stands at octet 3.
fn leaves(octets: &[u8], with: &[u8]) -> Vec<(usize, u64)> {
    let pages = octets.chunks(PAGE).enumerate();
    pages
        .filter(|(_, page)| page[0] == 0x0a && page.windows(with.len()).any(|part| part == with))
        .map(|(nth, page)| (nth, u64::from(u16::from_be_bytes([page[3], page[4]]))))
        .collect()
}

/// What was delivered and told is not derived either: a page that cannot be read costs its own rows and no others.
#[test]
fn ledgers_go_on_behind_what_cannot_be_read() {
    const ROWS: u64 = 3_000;
    let dir = tempfile::tempdir().unwrap();
    let state = dir.path().join("state");
    let journal = small(&state);
    let db = Connection::open(&journal).unwrap();
    db.execute_batch(&format!(
        "WITH RECURSIVE n (n) AS (SELECT 0 UNION ALL SELECT n + 1 FROM n WHERE n < {ROWS} - 1)
         INSERT INTO delivery (clinic, name, kind, offered, replaces)
         SELECT 'https://made.example/fhir', printf('%08x', n * 2654435761 % 4294967296),
                'Observation', zeroblob(32), 0 FROM n;
         WITH RECURSIVE n (n) AS (SELECT 0 UNION ALL SELECT n + 1 FROM n WHERE n < {ROWS} - 1)
         INSERT INTO alert (key, route, standing, since_us, changed_us)
         SELECT printf('session/p%d/%05d', n % 3, n), 'made-route', 'sent', n, n FROM n;
         INSERT INTO page_key (id, digest, role, label, made_us) VALUES ('k1', zeroblob(32), 'person', 'made', 1);
         PRAGMA wal_checkpoint(TRUNCATE);"
    ))
    .unwrap();
    drop(db);
    let mut octets = fs::read(&journal).unwrap();
    let mut lost = [0, 0];
    for (lost, with) in lost
        .iter_mut()
        .zip([&b"https://made.example"[..], b"made-routesent"])
    {
        let leaves = leaves(&octets, with);
        assert!(leaves.len() > 20, "{leaves:?}");
        // Three places in the middle, two of them next to each other on the disk.
        for place in [3, 4, 5]
            .map(|part| leaves.len() * part / 8)
            .into_iter()
            .chain([leaves.len() / 2 + 1])
        {
            let (page, rows) = leaves[place];
            octets[page * PAGE..][..PAGE].fill(0xa5);
            *lost += rows;
        }
    }
    fs::write(&journal, octets).unwrap();
    let told = recovered(&state);
    let ledger = |name: &str| {
        let all = told["ledgers"].as_array().unwrap();
        all.iter().find(|ledger| ledger["table"] == name).unwrap().clone()
    };
    let db = Connection::open(&journal).unwrap();
    for (name, lost) in ["delivery", "alert"].into_iter().zip(lost) {
        let count: i64 = db
            .query_row(&format!("SELECT count(*) FROM {name}"), [], |row| row.get(0))
            .unwrap();
        assert_eq!(count as u64, ROWS - lost, "{name}: {told}");
        assert_eq!(ledger(name)["recovered"], count, "{told}");
        assert!(ledger(name)["gaps"].as_u64().unwrap() >= 3, "{told}");
    }
    assert_eq!(
        ledger("page_key"),
        serde_json::json!({"table": "page_key", "recovered": 1, "lost": 0, "gaps": 0})
    );
}

/// A bit that flips inside a value leaves a row that SQLite reads and this program does not.
#[test]
fn a_row_that_reads_as_what_no_such_row_can_be_is_left_out() {
    let dir = tempfile::tempdir().unwrap();
    let state = dir.path().join("state");
    let journal = small(&state);
    good(&state, &["people", "add", "asha"]);
    Connection::open(&journal)
        .unwrap()
        .query_row("PRAGMA wal_checkpoint(TRUNCATE)", [], |_| Ok(()))
        .unwrap();
    let sound = fs::read(&journal).unwrap();
    for (from, to, table) in [
        (&b"C0:FF:EE:00:00:01"[..], &b"C0:FF:EE:00:00:0!"[..], "frames"),
        (
            &b"\"person\":\"asha\""[..],
            &b"\"person\":\"as a\""[..],
            "statements",
        ),
    ] {
        let mut octets = sound.clone();
        let at = octets.windows(from.len()).position(|part| part == from).unwrap();
        octets[at..at + to.len()].copy_from_slice(to);
        fs::write(&journal, octets).unwrap();
        let refused = run(&state, &["rebuild"]);
        let said = String::from_utf8_lossy(&refused.stderr).into_owned();
        assert_eq!(refused.status.code(), Some(65), "{table}: {said}");
        assert!(said.contains("quietcuff recover"), "{table}: {said}");
        let told = recovered(&state);
        assert_eq!(told[table]["lost"], 1, "{table}: {told}");
        good(&state, &["rebuild"]);
        assert!(run(&state, &["recover"]).stdout.starts_with(b"nothing is wrong"));
        fs::remove_file(told["original"].as_str().unwrap()).unwrap();
    }
}

#[test]
fn a_damaged_journal_of_a_newer_version_is_left_to_that_version() {
    let dir = tempfile::tempdir().unwrap();
    let state = dir.path().join("state");
    let journal = small(&state);
    Connection::open(&journal)
        .unwrap()
        .execute_batch("ALTER TABLE frame ADD COLUMN later TEXT; PRAGMA user_version = 9999")
        .unwrap();
    damage(&journal);
    let before = fs::read(&journal).unwrap();
    let refused = run(&state, &["recover"]);
    let said = String::from_utf8_lossy(&refused.stderr).into_owned();
    assert_eq!(refused.status.code(), Some(65), "{said}");
    assert!(
        said.contains("9999") && said.contains("install the newer"),
        "{said}"
    );
    assert!(fs::read(&journal).unwrap() == before);
    assert_eq!(
        fs::read_dir(&state)
            .unwrap()
            .filter(|name| {
                let name = name.as_ref().unwrap().file_name().into_string().unwrap();
                !name.starts_with("journal.sqlite")
            })
            .count(),
        0
    );
}

/// Of its own version, a column that nobody knows is damage, or somebody's with a shell.
#[test]
fn a_column_that_is_not_known_costs_nothing_else() {
    let dir = tempfile::tempdir().unwrap();
    let state = dir.path().join("state");
    let journal = small(&state);
    Connection::open(&journal)
        .unwrap()
        .execute_batch(
            "ALTER TABLE frame ADD COLUMN \"more, of it\" TEXT;
             ALTER TABLE alert ADD COLUMN more TEXT;
             INSERT INTO alert (key, route, standing, since_us, changed_us) VALUES ('k', 'r', 'sent', 1, 1)",
        )
        .unwrap();
    damage(&journal);
    let told = recovered(&state);
    assert_eq!(
        told["frames"],
        serde_json::json!({"recovered": 30, "lost": 0, "at_least": false})
    );
    assert_eq!(
        told["ledgers"]
            .as_array()
            .unwrap()
            .iter()
            .map(|one| one["recovered"].as_u64().unwrap())
            .sum::<u64>(),
        1
    );
}

/// Where not even the last number can be read, nobody says that nothing is lost.
#[test]
fn a_table_that_cannot_be_read_at_all_is_not_said_to_be_whole() {
    let dir = tempfile::tempdir().unwrap();
    let state = dir.path().join("state");
    let journal = small(&state);
    let db = Connection::open(&journal).unwrap();
    let root: i64 = db
        .query_row(
            "SELECT rootpage FROM sqlite_schema WHERE name = 'frame'",
            [],
            |row| row.get(0),
        )
        .unwrap();
    drop(db);
    let mut octets = fs::read(&journal).unwrap();
    octets[(root as usize - 1) * PAGE..root as usize * PAGE].fill(0xa5);
    fs::write(&journal, octets).unwrap();
    let said = good(&state, &["recover"]);
    assert!(
        said.contains("0 frames recovered, nobody knows how many lost"),
        "{said}"
    );
}

/// Whoever has the journal open would go on writing to the damaged one.
#[test]
fn nothing_is_recovered_under_somebody_who_uses_it() {
    let dir = tempfile::tempdir().unwrap();
    let state = dir.path().join("state");
    let journal = small(&state);
    damage(&journal);
    let using = quietcuff::journal::Journal::open(&state).unwrap();
    let refused = run(&state, &["recover"]);
    let said = String::from_utf8_lossy(&refused.stderr).into_owned();
    assert_eq!(refused.status.code(), Some(74), "{said}");
    assert!(said.contains("stop"), "{said}");
    drop(using);
    assert_eq!(recovered(&state)["frames"]["recovered"], 30);
}

#[test]
fn a_recovery_for_which_there_is_no_room_leaves_everything_as_it_was() {
    let dir = tempfile::tempdir().unwrap();
    let state = dir.path().join("state");
    fs::create_dir(&state).unwrap();
    if !mount(&["-t", "tmpfs", "-o", "size=1m,mode=0700", "none"], &state) {
        eprintln!("no volume of its own to be had here: a recovery on a full disk was not tried");
        return;
    }
    let tried = std::panic::catch_unwind(|| {
        let journal = small(&state);
        damage(&journal);
        let before = (names(&state), fs::read(&journal).unwrap());
        assert!(mount(&["-o", "remount,size=300k"], &state));
        let refused = run(&state, &["recover"]);
        let said = String::from_utf8_lossy(&refused.stderr).into_owned();
        assert_eq!(refused.status.code(), Some(74), "{said}");
        assert!(said.contains("no space left"), "{said}");
        assert!(fs::read(&journal).unwrap() == before.1);
        assert!(!state.join(".recovering").exists() && !state.join("journal.recovered.sqlite").exists());
        assert!(mount(&["-o", "remount,size=8m"], &state));
        assert_eq!(recovered(&state)["frames"]["recovered"], 30);
    });
    let _ = std::process::Command::new("umount").arg(&state).status();
    tried.unwrap();
}
