//! Many damaged files of eight kinds: none is silently different, and none is emptied. `QUIETCUFF_DAMAGED_FILES` says
//! how many; `tests/run --full` takes a thousand.

use crate::crash::{Noise, frame, good};
use quietcuff::household::Statement;
use quietcuff::journal::{Became, Journal, recover};
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

#[test]
fn no_damaged_file_is_silently_different_or_emptied() {
    let files = std::env::var("QUIETCUFF_DAMAGED_FILES").map_or(FILES, |files| files.parse().unwrap());
    let dir = tempfile::tempdir().unwrap();
    let lived = lived(dir.path());
    let (file, log, all) = lived.days.last().unwrap();
    let mut noise = Noise(41);
    let (mut whole, mut saved, mut refused) = (0, 0, 0);
    for nth in 0..files {
        let kind = KINDS[nth % KINDS.len()];
        let what = format!("{kind}, file {nth}");
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
        let state = dir.path().join("damaged");
        fs::create_dir(&state).unwrap();
        fs::write(state.join("journal.sqlite"), &octets).unwrap();
        if !log.is_empty() {
            fs::write(state.join("journal.sqlite-wal"), &log).unwrap();
        }
        if sound(&state) {
            let now = rows(&state).unwrap();
            assert!(
                now == *all || may_be_earlier && partly(&now, all),
                "{what}: silently different: {} of {} frames",
                now.frames.len(),
                all.frames.len()
            );
            whole += 1;
        } else {
            match recover(&state, "then", false) {
                Ok(Some(told)) => {
                    let now = rows(&state).unwrap();
                    let named = |table: &str, id: i64| {
                        let differs = told.differs.differs.iter();
                        let mut mine = differs.filter(|row| row.table == table && row.became != Became::Lost);
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
                    assert!(
                        fewer == 0
                            || told.frames.at_least
                            || told.frames.lost >= fewer as u64
                            || told.differs.count >= fewer
                            || !log.is_empty(),
                        "{what}: {fewer} frames lost, and it says {told:?}"
                    );
                    assert!(sound(&state), "{what}: it is not sound after it was recovered");
                    saved += 1;
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
                    refused += 1;
                }
            }
        }
        fs::remove_dir_all(&state).unwrap();
    }
    println!("{files} files: {whole} whole, {saved} recovered, {refused} refused");
    assert!(
        whole + saved + refused == files && saved * 4 > files,
        "{whole}, {saved}, {refused}"
    );
}

/// Whether these are the first rows of those: a log that ends earlier.
fn partly(now: &Rows, all: &Rows) -> bool {
    let (frames, statements) = (now.frames.len(), now.statements.len());
    now.frames.iter().eq(all.frames.iter().take(frames))
        && now.statements.iter().eq(all.statements.iter().take(statements))
}
