//! A file with damaged pages: found, named, and what can be read of it saved in a new one.

use crate::crash::copies::{NO_VOLUME, mount, names};
use crate::crash::{Noise, good, line, run};
use crate::harness::left_out::{in_a_hurry, left_out};
use rusqlite::Connection;
use serde_json::Value;
use std::collections::HashSet;
use std::fs;
use std::path::Path;

const FRAMES: u32 = 1_500;
/// As SQLite makes them.
const PAGE: usize = 4096;

fn frames(path: &Path) -> HashSet<(i64, Vec<u8>)> {
    let db = Connection::open(path).unwrap();
    let mut query = db.prepare("SELECT id, value FROM frame").unwrap();
    let rows = query.query_map([], |row| Ok((row.get(0)?, row.get(1)?))).unwrap();
    rows.map(Result::unwrap).collect()
}

/// The leaves of a table, and how many rows stand on each, as SQLite's own `dbstat` counts them.
fn leaves_of(journal: &Path, table: &str) -> Vec<(usize, usize)> {
    let db = Connection::open(journal).unwrap();
    let mut query = db
        .prepare("SELECT pageno - 1, ncell FROM dbstat WHERE name = ?1 AND pagetype = 'leaf'")
        .unwrap();
    let rows = query
        .query_map([table], |row| {
            Ok((row.get::<_, u32>(0)? as usize, row.get::<_, u32>(1)? as usize))
        })
        .unwrap();
    rows.map(Result::unwrap).collect()
}

/// The first page of a table.
fn root(journal: &Path, table: &str) -> usize {
    let db = Connection::open(journal).unwrap();
    let root = "SELECT rootpage - 1 FROM sqlite_schema WHERE name = ?1";
    db.query_row(root, [table], |row| row.get::<_, u32>(0)).unwrap() as usize
}

/// What a disk, or a copy that was cut off, makes of a file of so many pages: its name, the pages that are gone, and
/// where it ends.
fn damages(journal: &Path, pages: usize) -> Vec<(String, Vec<usize>, usize)> {
    let octets = pages * PAGE;
    let mut damages = Vec::new();
    for cut in [
        1,
        2,
        9,
        pages / 10,
        pages / 4,
        pages / 2,
        pages * 3 / 4,
        pages - 4,
    ] {
        damages.push((format!("{cut} pages cut off"), Vec::new(), octets - cut * PAGE));
    }
    damages.push(("cut inside a page".to_owned(), Vec::new(), octets - PAGE - 1_234));
    damages.push(("the first page".to_owned(), vec![0], octets));
    for (leaf, _) in leaves_of(journal, "frame").into_iter().step_by(7) {
        damages.push(("a leaf of frame".to_owned(), vec![leaf], octets));
    }
    for table in ["frame", "frame_once", "reading", "statement", "link"] {
        let root = root(journal, table);
        damages.push((format!("the root of {table}"), vec![root], octets));
    }
    let mut noise = Noise(23);
    for nth in 0..12 {
        let hit = (0..=nth).map(|_| 1 + noise.below(pages as u64 - 1) as usize);
        damages.push((format!("{} pages", nth + 1), hit.collect(), octets));
    }
    let most = (1..pages).filter(|page| page % 3 != 0).collect();
    damages.push(("two pages of three".to_owned(), most, octets));
    damages
}

/// Each kind of damage by itself: every frame whose leaf is whole is saved, and every statement. Where not one
/// statement is left, nothing is put in the journal's place unless somebody says so.
#[test]
fn every_frame_whose_page_is_whole_is_saved_from_each_kind_of_damage() {
    if in_a_hurry("each kind of damage") {
        return;
    }
    let dir = tempfile::tempdir().unwrap();
    let sound = dir.path().join("sound");
    let file = dir.path().join("frames.jsonl");
    fs::write(&file, (0..FRAMES).map(line).collect::<String>()).unwrap();
    good(&sound, &["people", "add", "asha"]);
    good(&sound, &["replay", file.to_str().unwrap(), "--person", "asha"]);
    good(&sound, &["recover"]);
    let journal = sound.join("journal.sqlite");
    let (of_frames, of_statements) = (leaves_of(&journal, "frame"), leaves_of(&journal, "statement"));
    let all = frames(&journal);
    let whole = fs::read(&journal).unwrap();
    let damages = damages(&journal, whole.len() / PAGE);
    let (mut with_loss, mut refusals) = (0, 0);
    for (nth, (kind, gone, end)) in damages.iter().enumerate() {
        let state = dir.path().join(format!("damaged-{nth}"));
        fs::create_dir(&state).unwrap();
        let journal = state.join("journal.sqlite");
        let mut octets = whole.clone();
        let mut noise = Noise(nth as u64 + 1);
        for page in gone {
            octets[page * PAGE..][..PAGE].fill_with(|| noise.below(256) as u8);
        }
        octets.truncate(*end);
        fs::write(&journal, &octets).unwrap();
        let left = |leaves: &[(usize, usize)]| -> usize {
            let left = leaves
                .iter()
                .filter(|(page, _)| !gone.contains(page) && (page + 1) * PAGE <= *end);
            left.map(|(_, rows)| rows).sum()
        };
        let check = run(&state, &["check"]);
        let said = String::from_utf8_lossy(&check.stdout).into_owned();
        assert_eq!(check.status.code(), Some(65), "{kind}: {said}");
        assert!(said.contains("quietcuff recover"), "{kind}: {said}");
        let nothing_left = left(&of_frames) == 0 || left(&of_statements) == 0;
        if nothing_left {
            let refused = run(&state, &["recover"]);
            let said = String::from_utf8_lossy(&refused.stderr).into_owned();
            assert_eq!(refused.status.code(), Some(65), "{kind}: {said}");
            assert!(
                said.contains("not one ") && said.contains("--accept-empty"),
                "{kind}: {said}"
            );
            assert!(fs::read(&journal).unwrap() == octets, "{kind}");
            let left = names(&state)
                .into_iter()
                .filter(|name| !name.starts_with("journal.sqlite"));
            assert_eq!(left.count(), 0, "{kind}");
            refusals += 1;
        }
        let accepted: &[&str] = if nothing_left { &["--accept-empty"] } else { &[] };
        let told = good(&state, &[&["recover", "--json"], accepted].concat());
        let told: Value = serde_json::from_str(&told).unwrap();
        let told = &told["recovered"];
        // The damaged file is kept as it was.
        assert!(
            fs::read(told["original"].as_str().unwrap()).unwrap() == octets,
            "{kind}"
        );
        let now = frames(&journal);
        assert!(now.is_subset(&all), "{kind}: a frame that never was");
        assert_eq!(now.len(), left(&of_frames), "{kind}: {told}");
        assert_eq!(told["frames"]["recovered"], now.len(), "{kind}");
        assert_eq!(
            told["statements"]["recovered"],
            left(&of_statements),
            "{kind}: {told}"
        );
        // Nobody says that nothing is lost where something is.
        let frames = &told["frames"];
        assert!(
            now.len() == all.len() || frames["at_least"] == true || frames["lost"] == all.len() - now.len(),
            "{kind}: {told}"
        );
        with_loss += usize::from(now.len() < all.len());
        good(&state, &["readings"]);
        assert!(
            run(&state, &["recover"]).stdout.starts_with(b"nothing is wrong"),
            "{kind}"
        );
    }
    assert!(
        with_loss >= 8 && refusals >= 2,
        "{with_loss} with loss, {refusals} refused: too mild to show anything"
    );
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
    if in_a_hurry("long ledgers with damage in them") {
        return;
    }
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
    fs::write(&journal, &octets).unwrap();
    assert_eq!(run(&state, &["recover"]).status.code(), Some(65));
    assert!(fs::read(&journal).unwrap() == octets);
    let said = good(&state, &["recover", "--accept-empty"]);
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
        left_out("a recovery on a full disk", NO_VOLUME);
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
