//! What can still be read of a damaged journal, in a new one.
//!
//! - Row by row and by number, so that a page that cannot be read costs its own rows and no others; a row to which nothing
//!   leads any more is looked for on the leaves ([`leaves`]). Only what cannot be made again is taken over; everything
//!   derived is made anew. A row is taken over if this program can read it.
//! - A recovery that would put an empty journal in the place of one that may have held something is refused.
//! - The damaged file is kept beside the new one, with its write-ahead log, and nothing is ever written to it.
//! - Cut off anywhere, a recovery is begun again by the next, from all that was there. While the new journal waits to
//!   take its place ([`waiting`]), nothing else opens the old one, which may be without its log then.

mod leaves;
mod ledgers;
mod rows;

pub use ledgers::RecoveredLedger;

use super::frames::frame_of;
use super::place::{FILE_NAME, waiting};
use super::schema::{self, has_its_tables};
use super::{Chain, Journal, JournalError, chain};
use crate::household::Statement;
use crate::whole::{remove_if_there, with_end};
use jiff::Timestamp;
use leaves::{Leaves, RowShape};
use rows::{inserted, inserting, known_columns};
use rusqlite::config::DbConfig;
use rusqlite::types::Value;
use rusqlite::{Connection, ErrorCode, OpenFlags, Transaction, TransactionBehavior};
use rustix::fs::FlockOperation;
use rustix::io::Errno;
use std::cell::OnceCell;
use std::fs::{self, File, OpenOptions};
use std::io;
use std::os::unix::fs::MetadataExt;
use std::path::{Path, PathBuf};

/// A row takes more than this in the file, which bounds how many there can be where a number cannot be believed.
const ROW_OCTETS_MIN: u64 = 16;

/// Rows of one table.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default, serde::Serialize)]
pub struct Rows {
    /// Rows that were read and written into the new journal.
    pub recovered: u64,
    /// Numbers up to the last one that were there and cannot be read, or read as what no such row can be.
    pub lost: u64,
    /// There may have been more: which number was the last cannot be told for sure.
    pub at_least: bool,
}

/// What recovering came to.
#[derive(Clone, PartialEq, Eq, Debug, serde::Serialize)]
pub struct Recovered {
    /// Of the table `frame`.
    pub frames: Rows,
    /// Of the table `statement`.
    pub statements: Rows,
    /// Samples of the gateway's clocks.
    pub clock_samples: Rows,
    /// What was told, delivered and allowed.
    pub ledgers: Vec<RecoveredLedger>,
    /// Rows that were read and are not what was once written; they were taken over as they are, and the digests begin
    /// anew.
    pub differs: Chain,
    /// Where the damaged file is now.
    pub original: PathBuf,
}

struct Table {
    name: &'static str,
    /// Whether this program can read the row of this number.
    reads: fn(&Connection, i64) -> rusqlite::Result<bool>,
}

const FRAMES: Table = Table {
    name: "frame",
    reads: |db, id| {
        db.prepare_cached(
            "SELECT id, received_us, offset_s, boot, uptime_us, given_to, monitor, connection, characteristic, value,
                    overheard FROM frame WHERE id = ?1",
        )?
        .query_row([id], |row| Ok(frame_of(row).is_ok()))
    },
};
const STATEMENTS: Table =
    Table {
        name: "statement",
        reads: |db, id| {
            db.prepare_cached("SELECT stated_us, body FROM statement WHERE id = ?1")?
                .query_row([id], |row| {
                    let (at, body) = (row.get(0)?, row.get_ref(1)?.as_str()?);
                    Ok(Timestamp::from_microsecond(at).is_ok()
                        && serde_json::from_str::<Statement>(body).is_ok())
                })
        },
    };
const SAMPLES: Table = Table {
    name: "gateway_clock",
    reads: |db, id| {
        db.prepare_cached("SELECT boot FROM gateway_clock WHERE id = ?1")?
            .query_row([id], |row| Ok(row.get_ref(0)?.as_str().is_ok()))
    },
};

/// Makes a new journal of what can be read of the one in `state`, and puts it in its place. `None` where nothing is
/// wrong with it: then nothing is done. `named` goes into the name that the damaged file is kept under. Nobody else may
/// have it open. Where not one frame, or not one statement, can be read of a file that may have held some, the file is
/// left as it is ([`JournalError::NothingSaved`]), unless `accept_empty`.
pub fn recover(state: &Path, named: &str, accept_empty: bool) -> Result<Option<Recovered>, JournalError> {
    let path = state.join(FILE_NAME);
    let waiting = waiting(state);
    let cut_off = waiting.exists();
    if !path.exists() {
        return Err(if cut_off {
            JournalError::InTheWay { path: waiting }
        } else {
            JournalError::Missing { path }
        });
    }
    nobody_uses(&path)?;
    let place = state.join(".recovering");
    let cannot_create = |source: io::Error| JournalError::cannot_create(&place, &source);
    // Of one that was cut off.
    match fs::remove_dir_all(&place) {
        Err(error) if error.kind() != io::ErrorKind::NotFound => return Err(cannot_create(error)),
        _ => {}
    }
    let kept = named_before(state, &path).map_err(|source| JournalError::cannot_read(state, &source))?;
    // Its log may be there already.
    let source = kept
        .as_ref()
        .filter(|kept| with_end(kept, "-wal").exists())
        .unwrap_or(&path);
    let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let cannot = |e| JournalError::from_sqlite(&path, e);
    let damaged = Connection::open_with_flags(source, flags).map_err(cannot)?;
    // Else closing it would bring the write-ahead log into it.
    damaged
        .set_db_config(DbConfig::SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, true)
        .map_err(cannot)?;
    if !has_to_be(&damaged, &path)? && !cut_off {
        return Ok(None);
    }
    let fresh = state.join(format!("journal.damaged-{named}.sqlite"));
    if kept.is_none() && fresh.exists() {
        return Err(JournalError::InTheWay { path: fresh });
    }
    let original = kept.clone().unwrap_or(fresh);
    // Else a file that was cut short gives nothing at all, since its schema names pages that are gone.
    damaged
        .set_db_config(DbConfig::SQLITE_DBCONFIG_WRITABLE_SCHEMA, true)
        .map_err(cannot)?;
    // A file whose links cannot be read either has no digests to tell.
    let differs = chain::verify(&damaged).unwrap_or_default();
    let made = fill(&damaged, source, &place).and_then(|made| {
        let [frames, statements, _] = &made.0;
        for (rows, what) in [(frames, "frame"), (statements, "statement")] {
            if rows.recovered == 0 && (rows.at_least || rows.lost > 0) && !accept_empty {
                return Err(JournalError::NothingSaved {
                    path: path.clone(),
                    what,
                });
            }
        }
        Ok(made)
    });
    drop(damaged);
    let recovered = made.and_then(|([frames, statements, clock_samples], ledgers)| {
        swap(state, &path, &original, &place.join(FILE_NAME))
            .map_err(|source| JournalError::cannot_create(&path, &source))?;
        Ok(Recovered {
            frames,
            statements,
            clock_samples,
            ledgers,
            differs,
            original,
        })
    });
    // Empty by now, or of no use.
    let _ = fs::remove_dir_all(&place);
    recovered.map(Some)
}

/// Whoever has the journal open would go on writing to the file that is put aside. SQLite holds a shared lock on a file
/// with a write-ahead log for as long as it is open ("WAL-mode File Format", 2.3.1).
fn nobody_uses(path: &Path) -> Result<(), JournalError> {
    let file = OpenOptions::new().read(true).write(true).open(path);
    let file = file.map_err(|source| JournalError::cannot_read(path, &source))?;
    match rustix::fs::fcntl_lock(&file, FlockOperation::NonBlockingLockExclusive) {
        Err(Errno::ACCESS | Errno::AGAIN) => Err(JournalError::InUse {
            path: path.to_owned(),
        }),
        // Where there are no locks SQLite has none either.
        _ => Ok(()),
    }
}

/// The name under which a recovery that was cut off keeps the journal.
fn named_before(state: &Path, path: &Path) -> io::Result<Option<PathBuf>> {
    for entry in fs::read_dir(state)? {
        let name = entry?.file_name();
        let name = name.to_string_lossy();
        if name.starts_with("journal.damaged-") && name.ends_with(".sqlite") {
            let (kept, there) = (state.join(&*name), fs::metadata(path)?);
            let same = fs::metadata(&kept)?;
            if (same.dev(), same.ino()) == (there.dev(), there.ino()) {
                return Ok(Some(kept));
            }
        }
    }
    Ok(None)
}

/// Whether something is wrong with it; an error where it is nothing that this program can recover.
fn has_to_be(damaged: &Connection, path: &Path) -> Result<bool, JournalError> {
    let number = |name: &str| damaged.query_row(&format!("PRAGMA {name}"), [], |row| row.get::<_, i64>(0));
    let id = number("application_id");
    let ours = id
        .as_ref()
        .is_ok_and(|id| *id == i64::from(schema::APPLICATION_ID));
    let known = schema::MIGRATIONS.len();
    let version = number("user_version").unwrap_or_default();
    if ours && usize::try_from(version).map_or(true, |version| version > known) {
        // What this program does not know of it would be left behind.
        return Err(JournalError::Newer {
            path: path.to_owned(),
            version,
            known,
        });
    }
    let said = damaged.query_row("PRAGMA integrity_check(1)", [], |row| row.get::<_, String>(0));
    if said.is_ok_and(|said| said == "ok") {
        if !ours && id.is_ok() {
            return Err(JournalError::NotAJournal {
                path: path.to_owned(),
            });
        }
        // An older schema has not every column that is asked for.
        let tables: &[Table] = if usize::try_from(version) == Ok(known) {
            &[FRAMES, STATEMENTS, SAMPLES]
        } else {
            &[STATEMENTS]
        };
        let chained = usize::try_from(version).is_ok_and(|version| version >= schema::CHAINED);
        return Ok(!(has_its_tables(damaged).unwrap_or(false)
            && tables
                .iter()
                .all(|table| all_read(damaged, table).unwrap_or(false))
            && (!chained || chain::verify(damaged).is_ok_and(|chain| chain.holds()))));
    }
    if let Err(error) = id
        && error.sqlite_error_code() == Some(ErrorCode::NotADatabase)
        && no_frame_on_a_leaf(path)?
    {
        return Err(JournalError::NotAJournal {
            path: path.to_owned(),
        });
    }
    Ok(true)
}

/// Whether a file whose first page is none of SQLite's holds nothing that looks like a frame either.
fn no_frame_on_a_leaf(path: &Path) -> Result<bool, JournalError> {
    let shape = shape(FRAMES.name).map_err(|e| JournalError::from_sqlite(path, e))?;
    let leaves = Leaves::of(path, &shape).map_err(|source| JournalError::cannot_read(path, &source))?;
    Ok(leaves.is_empty())
}

/// The shape of a table's rows in a journal of today.
fn shape(table: &str) -> rusqlite::Result<RowShape> {
    let sound = Connection::open_in_memory()?;
    for migration in schema::MIGRATIONS {
        sound.execute_batch(migration)?;
    }
    RowShape::of(&sound, table)
}

fn all_read(db: &Connection, table: &Table) -> rusqlite::Result<bool> {
    let mut ids = db.prepare(&format!("SELECT id FROM {}", table.name))?;
    let mut ids = ids.query([])?;
    while let Some(row) = ids.next()? {
        if !(table.reads)(db, row.get(0)?)? {
            return Ok(false);
        }
    }
    Ok(true)
}

fn fill(
    damaged: &Connection,
    file: &Path,
    place: &Path,
) -> Result<([Rows; 3], Vec<RecoveredLedger>), JournalError> {
    let mut new = Journal::open(place)?;
    let mut rows = [Rows::default(); 3];
    for (table, rows) in [FRAMES, STATEMENTS, SAMPLES].iter().zip(&mut rows) {
        *rows = take_over(&Damaged::of(damaged, file, table, &new)?, table, &new)?;
    }
    let ledgers = ledgers::take_over(damaged, &new)?;
    // What can be read of it is what there is from here on.
    new.in_context(|db| {
        let transaction = Transaction::new_unchecked(db, TransactionBehavior::Immediate)?;
        chain::begin(&transaction)?;
        transaction.commit()
    })?;
    new.settle()?;
    new.in_context(|db| db.pragma_update(None, "wal_checkpoint", "truncate"))?;
    Ok((rows, ledgers))
}

/// One table of the damaged file, with the two ways to its rows: by number through the pages that lead to them, and on
/// the leaves.
struct Damaged<'a> {
    db: &'a Connection,
    file: &'a Path,
    name: &'static str,
    /// The columns that are asked for by number; none where the file does not name the table any more.
    columns: Vec<String>,
    /// How many rows there can be in a file of this size.
    most: u64,
    shape: RowShape,
    leaves: OnceCell<Option<Leaves>>,
}

impl<'a> Damaged<'a> {
    fn of(db: &'a Connection, file: &'a Path, table: &Table, new: &Journal) -> Result<Self, JournalError> {
        let size = fs::metadata(file).map_or(0, |file| file.len());
        let columns = new.in_context(|new| known_columns(db, new, table.name))?;
        Ok(Self {
            db,
            file,
            name: table.name,
            columns,
            most: size / ROW_OCTETS_MIN,
            shape: new.in_context(|new| RowShape::of(new, table.name))?,
            leaves: OnceCell::new(),
        })
    }

    /// The highest number that the file knows of: that its tree of pages leads to, that was chained, or that stands on a
    /// leaf. A page in another's place may lead to fewer rows than there are. 0 where there is none; `None` where the tree
    /// cannot be read.
    fn last(&self) -> Option<i64> {
        let last = format!("SELECT coalesce(max(id), 0) FROM {}", self.name);
        let last: i64 = self.db.query_row(&last, [], |row| row.get(0)).ok()?;
        let chained = chain::last_of(self.db, self.name).unwrap_or_default();
        let on_a_leaf = self.leaves().and_then(Leaves::last).unwrap_or_default();
        Some(last.max(chained).max(on_a_leaf))
    }

    /// Whether the digests should say which row was the last, and cannot.
    fn lacks_its_chain(&self) -> bool {
        let version = self.db.query_row("PRAGMA user_version", [], |row| row.get(0));
        let chained = version.map_or(true, |version: i64| {
            usize::try_from(version).is_ok_and(|version| version >= schema::CHAINED)
        });
        chained && chain::last_of(self.db, self.name).is_err()
    }

    /// Looked through once.
    fn leaves(&self) -> Option<&Leaves> {
        self.leaves
            .get_or_init(|| Leaves::of(self.file, &self.shape).ok())
            .as_ref()
    }

    /// The names of the columns, and the row's values.
    fn row(&self, id: i64) -> Option<(String, Vec<Value>)> {
        let columns = self.columns.join(", ");
        let by_number = || -> rusqlite::Result<Vec<Value>> {
            let asked = format!("SELECT {columns} FROM {} WHERE id = ?1", self.name);
            self.db.prepare_cached(&asked)?.query_row([id], |row| {
                (0..self.columns.len()).map(|column| row.get(column)).collect()
            })
        };
        let is_cut = |row: &[Value]| self.leaves().is_some_and(|leaves| leaves.is_cut(id, row));
        match by_number() {
            Ok(row) if !row.is_empty() && !is_cut(&row) => Some((columns, row)),
            _ => {
                let row = self.leaves()?.row(id)?;
                Some((self.shape.names(row.len()), row))
            }
        }
    }

    /// The lowest number from this one on of which there is something to be read.
    fn next(&self, id: i64) -> Option<i64> {
        let by_number = format!("SELECT min(id) FROM {} WHERE id >= ?1", self.name);
        let by_number = self
            .db
            .query_row(&by_number, [id], |row| row.get::<_, Option<i64>>(0));
        let on_a_leaf = self.leaves().and_then(|leaves| leaves.next(id));
        by_number.ok().flatten().into_iter().chain(on_a_leaf).min()
    }
}

fn take_over(damaged: &Damaged<'_>, table: &Table, new: &Journal) -> Result<Rows, JournalError> {
    let last = damaged.last();
    let mut rows = Rows {
        at_least: last.is_none() || damaged.lacks_its_chain(),
        ..Rows::default()
    };
    new.in_context(|db| {
        db.execute_batch("BEGIN IMMEDIATE")?;
        let mut missed: u64 = 0;
        let mut id = 0;
        while last.is_none_or(|last| id < last) {
            id += 1;
            // No more rows than fit into the file can be missing between two: the number of the next is a damaged one.
            if missed > damaged.most {
                missed = 0;
                rows.at_least = true;
                let Some(next) = damaged.next(id) else { break };
                id = next;
            }
            let kept = match damaged.row(id) {
                Some((columns, row)) => {
                    let mut insert = db.prepare_cached(&inserting(table.name, &columns, row.len()))?;
                    inserted(db, &mut insert, row, |db| (table.reads)(db, id))?
                }
                None => false,
            };
            if kept {
                rows.recovered += 1;
                rows.lost += std::mem::take(&mut missed);
            } else {
                missed += 1;
            }
        }
        // Rows behind the last that can be read may never have been there, unless a last one is known.
        if last.is_some() {
            rows.lost += missed;
        }
        db.execute_batch("COMMIT")
    })?;
    Ok(rows)
}

/// Puts the new journal in the place of the damaged one. Any of it may have been done already. The log goes before the
/// new file comes: beside that it would be taken for its own.
fn swap(state: &Path, path: &Path, original: &Path, new: &Path) -> io::Result<()> {
    let directory = File::open(state)?;
    let waiting = waiting(state);
    File::open(new)?.sync_all()?;
    fs::rename(new, &waiting)?;
    directory.sync_all()?;
    let named = ["", "-wal"].iter().try_for_each(|end| {
        let (from, to) = (with_end(path, end), with_end(original, end));
        match fs::hard_link(from, to) {
            Err(error) if error.kind() == io::ErrorKind::AlreadyExists => Ok(()),
            Err(error) if error.kind() == io::ErrorKind::NotFound && !end.is_empty() => Ok(()),
            named => named,
        }
    });
    if named.is_err() {
        // Nothing has been taken from the old one yet.
        let _ = fs::remove_file(&waiting);
        return named;
    }
    directory.sync_all()?;
    for file in [path, original] {
        remove_if_there(&with_end(file, "-shm"))?;
    }
    remove_if_there(&with_end(path, "-wal"))?;
    directory.sync_all()?;
    fs::rename(waiting, path)?;
    directory.sync_all()
}
