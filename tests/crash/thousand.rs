//! Many damaged files of eight kinds: none is silently different, and none is emptied. `QUIETCUFF_DAMAGED_FILES` says
//! how many; `tests/run --full` takes a thousand.

use crate::crash::{Noise, frame, good};
use crate::harness::left_out::in_a_hurry;
use quietcuff::household::Statement;
use quietcuff::journal::{Alteration, Journal, Recovered, recover};
use rusqlite::{Connection, OpenFlags};
use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

/// Without the variable: each kind several times.
const FILES: usize = 80;
const KINDS: [&str; 8] = [
    "cut off",
    "a bit",
    "a page of noise",
    "a page of nothing",
    "two pages in each other's place",
    "a page of an earlier day",
    "a page written elsewhere too",
    "the log",
];
/// As SQLite makes them.
const PAGE: usize = 4096;
const BURSTS: u32 = 12;
const BURST: u32 = 14;

/// What cannot be made again: each row with its number.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
struct Rows {
    frames: BTreeSet<(i64, i64, Vec<u8>)>,
    statements: BTreeSet<(i64, String)>,
}

fn rows(state: &Path) -> rusqlite::Result<Rows> {
    let db = Connection::open_with_flags(state.join("journal.sqlite"), OpenFlags::SQLITE_OPEN_READ_ONLY)?;
    let frames = db
        .prepare("SELECT id, received_us, value FROM frame")?
        .query_map([], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)))?
        .collect::<rusqlite::Result<_>>()?;
    let statements = db
        .prepare("SELECT id, body FROM statement")?
        .query_map([], |row| Ok((row.get(0)?, row.get(1)?)))?
        .collect::<rusqlite::Result<_>>()?;
    Ok(Rows { frames, statements })
}

/// Whether the program finds nothing wrong with it, as `check --thorough` looks.
fn sound(state: &Path) -> bool {
    let looked = Journal::read_as_it_is(state).and_then(|journal| {
        let said = journal.integrity_in_full()?;
        Ok(said.is_none() && journal.chain()?.holds())
    });
    looked.unwrap_or(false)
}

/// A journal as it was at the end of each burst, the file and its log, with what it held.
struct Lived {
    days: Vec<(Vec<u8>, Vec<u8>, Rows)>,
}

fn lived(dir: &Path) -> Lived {
    let state = dir.join("lived");
    good(&state, &["people", "add", "asha"]);
    let mut journal = Journal::open(&state).unwrap();
    let file = state.join("journal.sqlite");
    let mut days = Vec::new();
    for burst in 0..BURSTS {
        let frames: Vec<_> = (burst * BURST..(burst + 1) * BURST).map(frame).collect();
        journal.append(&frames).unwrap();
        let zone = format!("+0{}:00", burst % 10);
        let from = Some(frames[0].received_at);
        journal
            .state(frames[0].received_at, &[Statement::Zone { zone, from }])
            .unwrap();
        journal.settle().unwrap();
        // The last days stand in the log.
        if burst < BURSTS - 4 {
            let db = Connection::open(&file).unwrap();
            db.query_row("PRAGMA wal_checkpoint(TRUNCATE)", [], |_| Ok(()))
                .unwrap();
        }
        let log = fs::read(state.join("journal.sqlite-wal")).unwrap_or_default();
        days.push((fs::read(&file).unwrap(), log, rows(&state).unwrap()));
    }
    Lived { days }
}

/// Damages the file or its log; whether it is a kind that may leave the state of an earlier day.
fn damaged(kind: &str, octets: &mut Vec<u8>, log: &mut Vec<u8>, earlier: &[u8], noise: &mut Noise) -> bool {
    let pages = octets.len() / PAGE;
    let mut below = |limit: usize| noise.below(limit as u64) as usize;
    let (one, other) = (below(pages), below(pages));
    let at = |page: usize| page * PAGE..(page + 1) * PAGE;
    match kind {
        "cut off" => octets.truncate(PAGE + below(octets.len() - PAGE)),
        "a bit" => {
            let place = below(octets.len());
            octets[place] ^= 1 << below(8);
        }
        "a page of noise" => octets[at(one)].fill_with(|| below(256) as u8),
        "a page of nothing" => octets[at(one)].fill(0),
        "two pages in each other's place" => {
            let (first, second) = (octets[at(one)].to_vec(), octets[at(other)].to_vec());
            octets[at(one)].copy_from_slice(&second);
            octets[at(other)].copy_from_slice(&first);
        }
        "a page of an earlier day" => {
            let page = one % (earlier.len() / PAGE);
            let of_then = earlier[at(page)].to_vec();
            octets[at(page)].copy_from_slice(&of_then);
        }
        "a page written elsewhere too" => {
            let page = octets[at(one)].to_vec();
            octets[at(other)].copy_from_slice(&page);
        }
        _ => {
            let place = below(log.len());
            match below(3) {
                0 => log.truncate(place),
                1 => log[place] ^= 1 << below(8),
                _ => log[place..].fill(0),
            }
            return true;
        }
    }
    false
}

/// What everything drawn at random begins with: `tests/run` says so, and `--full` leaves it to the clock.
fn seed() -> u64 {
    let named = std::env::var("PROPTEST_RNG_SEED").ok();
    named.and_then(|seed| seed.parse().ok()).unwrap_or_else(|| {
        let now = std::time::SystemTime::UNIX_EPOCH.elapsed().unwrap();
        now.as_secs() % 1_000_000 + 1
    })
}

/// What a damaged file comes to.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug)]
enum End {
    Whole,
    Recovered,
    Refused,
}

/// Puts a damaged file in a place of its own, looks at it as `check` does, and lets it be recovered where it has to be.
/// Fails where anything about it is silently different.
fn end_of(what: &str, (octets, log): (&[u8], &[u8]), all: &Rows, may_be_earlier: bool) -> End {
    let place = tempfile::tempdir().unwrap();
    let state = place.path();
    fs::write(state.join("journal.sqlite"), octets).unwrap();
    if !log.is_empty() {
        fs::write(state.join("journal.sqlite-wal"), log).unwrap();
    }
    if sound(state) {
        let now = rows(state).unwrap();
        assert!(
            now == *all || may_be_earlier && partly(&now, all),
            "{what}: silently different: {} of {} frames",
            now.frames.len(),
            all.frames.len()
        );
        return End::Whole;
    }
    match recover(state, "then", false) {
        Ok(Some(told)) => {
            nothing_is_made_up(what, &told, &rows(state).unwrap(), all, !log.is_empty());
            assert!(sound(state), "{what}: it is not sound after it was recovered");
            End::Recovered
        }
        Ok(None) => panic!("{what}: it is not sound, and recover finds nothing"),
        Err(error) => {
            assert_eq!(error.exit_code(), 65, "{what}: {error}");
            let said = error.to_string();
            assert!(said.contains("quietcuff re"), "{what}: no next step: {said}");
            assert!(
                fs::read(state.join("journal.sqlite")).unwrap() == octets,
                "{what}"
            );
            End::Refused
        }
    }
}

/// What was recovered is what was there; what is missing or another is said.
fn nothing_is_made_up(what: &str, told: &Recovered, now: &Rows, all: &Rows, logged: bool) {
    let named = |table: &str, id: i64| {
        let differs = told.differs.differs.iter();
        let mut mine = differs.filter(|row| row.table == table && row.became != Alteration::Lost);
        told.differs.count > told.differs.differs.len() || mine.any(|row| row.row == id)
    };
    for (id, ..) in now.frames.difference(&all.frames) {
        assert!(
            named("frame", *id),
            "{what}: frame {id} never was, and is not named: {told:?}"
        );
    }
    for (id, _) in now.statements.difference(&all.statements) {
        assert!(
            named("statement", *id),
            "{what}: statement {id} never was: {told:?}"
        );
    }
    assert!(
        !now.frames.is_empty() && !now.statements.is_empty(),
        "{what}: emptied: {told:?}"
    );
    let fewer = all.frames.len() - now.frames.len().min(all.frames.len());
    let said = told.frames.at_least || told.frames.lost >= fewer as u64 || told.differs.count >= fewer;
    assert!(
        fewer == 0 || said || logged,
        "{what}: {fewer} frames lost, and it says {told:?}"
    );
}

#[test]
fn no_damaged_file_is_silently_different_or_emptied() {
    let files = std::env::var("QUIETCUFF_DAMAGED_FILES").map_or(FILES, |files| files.parse().unwrap());
    let dir = tempfile::tempdir().unwrap();
    let lived = lived(dir.path());
    let (file, log, all) = lived.days.last().unwrap();
    let seed = seed();
    // Small numbers alone would begin alike.
    let mut noise = Noise(seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) | 1);
    let mut ends = Vec::new();
    for nth in 0..files {
        let kind = KINDS[nth % KINDS.len()];
        let what = format!("{kind}, file {nth} of PROPTEST_RNG_SEED={seed}");
        // What is in the file alone, or with its log: a log that is whole mends many a page.
        let logged = kind == "the log" || (nth / KINDS.len()).is_multiple_of(3);
        let day = lived.days.len() - 5;
        let (mut octets, mut log, all) = if logged {
            (file.clone(), log.clone(), all)
        } else {
            (lived.days[day].0.clone(), Vec::new(), &lived.days[day].2)
        };
        let earlier = &lived.days[day / 2].0;
        let may_be_earlier = damaged(kind, &mut octets, &mut log, earlier, &mut noise);
        ends.push(end_of(&what, (&octets, &log), all, may_be_earlier));
    }
    let count = |end| ends.iter().filter(|one| **one == end).count();
    let [whole, saved, refused] = [End::Whole, End::Recovered, End::Refused].map(count);
    println!("{files} files: {whole} whole, {saved} recovered, {refused} refused");
    // Else hardly a recovery was tried.
    assert!(saved * 6 >= files, "{whole}, {saved}, {refused}");
}

/// SQLite fills what is missing of the last page with zeros, and says nothing of it: no row may come of that.
#[test]
fn a_row_that_the_end_of_the_file_cuts_is_not_filled_with_zeros() {
    if in_a_hurry("rows that the end of a file cuts") {
        return;
    }
    let dir = tempfile::tempdir().unwrap();
    let lived = lived(dir.path());
    let (file, _, all) = &lived.days[lived.days.len() - 5];
    let mut saved = 0;
    for length in (PAGE..file.len()).rev().step_by(PAGE / 2 - 97) {
        let what = format!("cut to {length} octets");
        saved += u32::from(end_of(&what, (&file[..length], &[]), all, false) == End::Recovered);
    }
    assert!(saved > 10, "{saved}");
}

/// A page that leads to fewer rows in the place of one that leads to all, with the digests' own gone as well.
#[test]
fn pages_in_the_place_of_those_that_lead_to_others_lose_nothing_in_silence() {
    if in_a_hurry("each inner page in the place of each other") {
        return;
    }
    /// With this begins a page of a table that leads to others ("Database File Format", 1.6).
    const INNER: u8 = 0x05;
    let dir = tempfile::tempdir().unwrap();
    let lived = lived(dir.path());
    let (file, _, all) = &lived.days[lived.days.len() - 5];
    let pages = file.len() / PAGE;
    let mut ends = Vec::new();
    for inner in (1..pages).filter(|page| file[page * PAGE] == INNER) {
        for other in (1..pages).filter(|other| *other != inner) {
            let at = |page: usize| page * PAGE..(page + 1) * PAGE;
            let mut octets = file.clone();
            octets[at(inner)].copy_from_slice(&file[at(other)]);
            octets[at(other)].copy_from_slice(&file[at(inner)]);
            let what = format!("pages {inner} and {other} in each other's place");
            ends.push(end_of(&what, (&octets, &[]), all, false));
        }
    }
    assert!(ends.len() >= pages, "{} of {pages} pages", ends.len());
    assert!(ends.contains(&End::Recovered), "{ends:?}");
}

/// Whether these are the first rows of those: a log that ends earlier.
fn partly(now: &Rows, all: &Rows) -> bool {
    let (frames, statements) = (now.frames.len(), now.statements.len());
    now.frames.iter().eq(all.frames.iter().take(frames))
        && now.statements.iter().eq(all.statements.iter().take(statements))
}
