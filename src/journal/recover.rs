//! What can still be read of a damaged journal, in a new one.
//!
//! Row by row and by number, so that a page that cannot be read costs its own rows and no others. Only what cannot be
//! made again is taken over; everything derived is made anew. The damaged file is kept beside the new one, with its
//! write-ahead log, and nothing is ever written to it.

use super::backup::{has_its_tables, with_end};
use super::{FILE_NAME, Journal, JournalError, schema};
use crate::household::Statement;
use rusqlite::config::DbConfig;
use rusqlite::types::Value;
use rusqlite::{Connection, ErrorCode, OpenFlags, params_from_iter};
use std::fs;
use std::path::{Path, PathBuf};

/// A row takes more than this in the file, which bounds how many there can be where a number cannot be believed.
const ROW_OCTETS_MIN: u64 = 16;

/// Rows of one table.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default, serde::Serialize)]
pub struct Rows {
    /// Taken over.
    pub recovered: u64,
    /// Numbers below the last one that were there and cannot be read, or read as what no such row can be.
    pub lost: u64,
}

/// What recovering came to.
#[derive(Clone, PartialEq, Eq, Debug, serde::Serialize)]
pub struct Recovered {
    /// Frames.
    pub frames: Rows,
    /// Statements.
    pub statements: Rows,
    /// Samples of the gateway's clocks.
    pub clock_samples: Rows,
    /// Where the damaged file is now.
    pub original: PathBuf,
}

struct Table {
    name: &'static str,
    sound: fn(&[Value]) -> bool,
}

/// What was told, delivered and allowed, and where the ear listens: no truth about anybody, but nothing that can be made
/// again either. They are short, and taken over as far as they can be read from their beginning.
const LEDGERS: [&str; 7] = [
    "delivery",
    "clinic",
    "page_key",
    "page_session",
    "alert",
    "watched",
    "attribute",
];

const FRAMES: Table = Table {
    name: "frame",
    sound: |_| true,
};
const STATEMENTS: Table = Table {
    name: "statement",
    sound: |row| matches!(row, [_, _, Value::Text(body)] if serde_json::from_str::<Statement>(body).is_ok()),
};
const SAMPLES: Table = Table {
    name: "gateway_clock",
    sound: |_| true,
};

/// Makes a new journal of what can be read of the one in `state`, and puts it in its place. `None` where SQLite finds
/// nothing wrong with it: then nothing is done. `named` goes into the name that the damaged file is kept under. Nobody
/// may be writing meanwhile.
pub fn recover(state: &Path, named: &str) -> Result<Option<Recovered>, JournalError> {
    let path = state.join(FILE_NAME);
    if !path.exists() {
        return Err(JournalError::Missing { path });
    }
    let original = state.join(format!("journal.damaged-{named}.sqlite"));
    let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let cannot = |e| JournalError::from_sqlite(&path, e);
    let damaged = Connection::open_with_flags(&path, flags).map_err(cannot)?;
    // Else closing it would bring the write-ahead log into it.
    damaged
        .set_db_config(DbConfig::SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, true)
        .map_err(cannot)?;
    let id = damaged.query_row("PRAGMA application_id", [], |row| row.get::<_, i32>(0));
    if is_intact(&damaged) {
        if id.as_ref().is_ok_and(|id| *id != schema::APPLICATION_ID) {
            return Err(JournalError::NotAJournal { path });
        }
        if has_its_tables(&damaged).unwrap_or(false) {
            return Ok(None);
        }
    } else if let Err(error) = id
        && error.sqlite_error_code() == Some(ErrorCode::NotADatabase)
    {
        // Without its first page there is nothing to be found in it.
        return Err(JournalError::NotAJournal { path });
    }
    if original.exists() {
        return Err(JournalError::InTheWay { path: original });
    }
    let place = state.join(format!(".recovering-{}", std::process::id()));
    let made = fill(&damaged, &path, &place);
    drop(damaged);
    let recovered = made.and_then(|[frames, statements, clock_samples]| {
        swap(&path, &original, &place.join(FILE_NAME))
            .map_err(|source| JournalError::cannot_create(&path, &source))?;
        Ok(Recovered {
            frames,
            statements,
            clock_samples,
            original,
        })
    });
    // Empty by now, or of no use.
    let _ = fs::remove_dir_all(&place);
    recovered.map(Some)
}

fn is_intact(db: &Connection) -> bool {
    db.query_row("PRAGMA integrity_check(1)", [], |row| row.get::<_, String>(0))
        .is_ok_and(|said| said == "ok")
}

fn fill(damaged: &Connection, path: &Path, place: &Path) -> Result<[Rows; 3], JournalError> {
    let size = fs::metadata(path).map_or(0, |file| file.len());
    let mut new = Journal::open(place)?;
    let mut rows = [Rows::default(); 3];
    for (table, rows) in [FRAMES, STATEMENTS, SAMPLES].iter().zip(&mut rows) {
        *rows = take_over(damaged, &new, table, size)?;
    }
    for ledger in LEDGERS {
        take_over_ledger(damaged, &new, ledger)?;
    }
    new.settle()?;
    new.in_context(|db| db.pragma_update(None, "wal_checkpoint", "truncate"))?;
    Ok(rows)
}

fn take_over(damaged: &Connection, new: &Journal, table: &Table, size: u64) -> Result<Rows, JournalError> {
    let Table { name, sound } = table;
    let mut rows = Rows::default();
    // A table that the file does not even name any more has nothing to give.
    let Some(columns) = columns_of(damaged, name) else {
        return Ok(rows);
    };
    let asked = damaged.prepare(&format!("SELECT {columns} FROM {name} WHERE id = ?1"));
    let Ok(mut asked) = asked else { return Ok(rows) };
    let last = damaged
        .query_row(&format!("SELECT coalesce(max(id), 0) FROM {name}"), [], |row| {
            row.get::<_, i64>(0)
        })
        .unwrap_or(i64::MAX);
    let width = asked.column_count();
    let places = vec!["?"; width].join(", ");
    new.in_context(|db| {
        db.execute_batch("BEGIN IMMEDIATE")?;
        let mut insert = db.prepare(&format!("INSERT INTO {name} ({columns}) VALUES ({places})"))?;
        // Rows that cannot be read behind the last that can may never have been there.
        let mut missed: u64 = 0;
        let mut id = 0;
        while id < last {
            id += 1;
            // No more rows than fit into the file can be missing between two: the number of the next is a damaged one.
            if missed > size / ROW_OCTETS_MIN {
                let next = format!("SELECT min(id) FROM {name} WHERE id >= ?1");
                let next = damaged.query_row(&next, [id], |row| row.get::<_, Option<i64>>(0));
                let Ok(Some(next)) = next else { break };
                missed = missed.saturating_add(next.abs_diff(id));
                id = next;
            }
            let row: rusqlite::Result<Vec<Value>> =
                asked.query_row([id], |row| (0..width).map(|column| row.get(column)).collect());
            let kept = match row {
                Ok(row) if sound(&row) => match insert.execute(params_from_iter(row)) {
                    Ok(_) => true,
                    Err(e) if e.sqlite_error_code() == Some(ErrorCode::DiskFull) => return Err(e),
                    Err(_) => false,
                },
                _ => false,
            };
            if kept {
                rows.recovered += 1;
                rows.lost += std::mem::take(&mut missed);
            } else {
                missed += 1;
            }
        }
        db.execute_batch("COMMIT")
    })?;
    Ok(rows)
}

/// Of a file that an older program made there may be fewer than there are today.
fn columns_of(db: &Connection, table: &str) -> Option<String> {
    let columns = "SELECT group_concat(name, ', ') FROM pragma_table_info(?1)";
    db.query_row(columns, [table], |row| row.get(0)).ok().flatten()
}

fn take_over_ledger(damaged: &Connection, new: &Journal, ledger: &str) -> Result<(), JournalError> {
    let Some(columns) = columns_of(damaged, ledger) else {
        return Ok(());
    };
    let Ok(mut asked) = damaged.prepare(&format!("SELECT {columns} FROM {ledger}")) else {
        return Ok(());
    };
    let width = asked.column_count();
    let places = vec!["?"; width].join(", ");
    new.in_context(|db| {
        db.execute_batch("BEGIN IMMEDIATE")?;
        let mut insert = db.prepare(&format!(
            "INSERT OR IGNORE INTO {ledger} ({columns}) VALUES ({places})"
        ))?;
        let mut rows = asked.query([])?;
        while let Ok(Some(row)) = rows.next() {
            let row: rusqlite::Result<Vec<Value>> = (0..width).map(|column| row.get(column)).collect();
            let Ok(row) = row else { break };
            match insert.execute(params_from_iter(row)) {
                Err(e) if e.sqlite_error_code() == Some(ErrorCode::DiskFull) => return Err(e),
                // A row that today's table refuses is damaged.
                _ => {}
            }
        }
        db.execute_batch("COMMIT")
    })
}

/// The log goes first: beside the new file it would be taken for that one's.
fn swap(path: &Path, original: &Path, new: &Path) -> std::io::Result<()> {
    fs::hard_link(path, original)?;
    if with_end(path, "-wal").exists() {
        fs::rename(with_end(path, "-wal"), with_end(original, "-wal"))?;
    }
    if with_end(path, "-shm").exists() {
        fs::remove_file(with_end(path, "-shm"))?;
    }
    fs::File::open(new)?.sync_all()?;
    fs::rename(new, path)?;
    fs::File::open(path.parent().unwrap_or(path))?.sync_all()
}
