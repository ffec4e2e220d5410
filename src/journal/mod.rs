//! The journal: frames and the household's statements, kept in SQLite, append-only, durable before anyone looks at
//! the bytes.
//!
//! WAL, `synchronous=FULL`, STRICT tables. Frames and statements are never changed or deleted: triggers say no even to
//! the `sqlite3` shell. (Only a listener lets frames go, which its record has held for long.) Everything else in the file
//! is derived and can be thrown away.

mod alerts;
mod anew;
mod attributes;
mod backup;
mod basis;
mod care;
mod chain;
mod consents;
mod copies;
mod counts;
mod derived;
mod error;
mod frames;
mod hand;
mod handing;
mod kept;
mod keys;
mod let_go;
mod life;
mod listeners;
pub mod outbox;
mod overview;
mod place;
mod reader;
mod readings;
mod recover;
mod rooms;
mod rotation;
mod schema;
mod sealed;
mod settle;
mod stated;
mod statements;
mod whose;
mod writer;

pub use alerts::{AlertEntry, Standing};
pub use attributes::{Attribute, Attributes};
pub use backup::{Brought, Contents, Copied, Restored, restore};
pub use basis::DERIVATION;
pub use chain::{Alteration, Chain, Differs};
pub use consents::UserConsent;
pub use copies::{LastBackup, Rotated};
pub use error::JournalError;
pub use frames::{Appended, FrameFilter, StoredFrame};
pub use hand::Hand;
pub use handing::Record;
pub use let_go::LetGo;
pub use listeners::{Ahead, Comes, DISK_ADVISED_OCTETS, Heard, Held, Joined, Listener, State};
pub use place::FILE_NAME;
pub use readings::{History, Wanted};
pub use recover::{Recovered, RecoveredLedger, Rows, recover};
pub use rotation::Backup;
pub use sealed::{Recipients, is_sealed, new_key};
pub use settle::Settlement;
pub use whose::Moves;
pub use writer::{Entry, Writer, WriterProgress};

use error::BUSY_TIMEOUT;
use rusqlite::config::DbConfig;
use rusqlite::{Connection, MAIN_DB, OpenFlags};
use std::fs::DirBuilder;
use std::os::unix::fs::DirBuilderExt;
use std::path::{Path, PathBuf};

/// The version of the schema that this program writes.
pub const SCHEMA: usize = schema::MIGRATIONS.len();

/// The write-ahead log is cut back to this after a checkpoint, so that one long replay does not leave it big for ever.
const WAL_OCTETS_KEPT: i64 = 16 * 1024 * 1024;

/// Pages that SQLite may keep in memory: what settling years anew touches again and again, with its indexes. Four times
/// as many made nothing faster. It takes what it needs, which is little day by day.
const PAGE_CACHE_KIB: i64 = 16 * 1024;

/// The same for somebody who reads everything once: SQLite's own default. Sorting, too, goes to a file behind it.
const PAGE_CACHE_READING_ONCE_KIB: i64 = 2_000;

/// An open journal.
#[derive(Debug)]
pub struct Journal {
    db: Connection,
    path: PathBuf,
    kept: kept::Kept,
}

impl Journal {
    /// Opens the journal in `state` for writing; makes the directory and the file where they are missing, and brings
    /// an older schema up to date.
    pub fn open(state: &Path) -> Result<Self, JournalError> {
        // For its owner only, as the XDG Base Directory Specification asks: it holds what is nobody else's business.
        DirBuilder::new()
            .recursive(true)
            .mode(0o700)
            .create(state)
            .map_err(|source| JournalError::cannot_create(state, &source))?;
        let path = state.join(FILE_NAME);
        place::nothing_is_half_done(state)?;
        let flags = OpenFlags::SQLITE_OPEN_READ_WRITE
            | OpenFlags::SQLITE_OPEN_CREATE
            | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let journal = Self::connect(path, flags)?;
        // SQLite opens for reading what it cannot open for writing, and says nothing.
        if journal.in_context(|db| db.is_readonly(MAIN_DB))? {
            let refused = rusqlite::ffi::Error::new(rusqlite::ffi::SQLITE_READONLY);
            let refused = rusqlite::Error::SqliteFailure(refused, None);
            return Err(JournalError::from_sqlite(&journal.path, refused));
        }
        journal.in_context(|db| {
            db.pragma_update(None, "journal_mode", "wal")?;
            db.pragma_update(None, "synchronous", "full")?;
            db.pragma_update(None, "journal_size_limit", WAL_OCTETS_KEPT)
        })?;
        journal.migrate()?;
        Ok(journal)
    }

    /// Opens an existing journal for writing, and brings an older schema up to date.
    pub fn open_existing(state: &Path) -> Result<Self, JournalError> {
        place::is_there(state)?;
        Self::open(state)
    }

    fn connect(path: PathBuf, flags: OpenFlags) -> Result<Self, JournalError> {
        let db =
            Connection::open_with_flags(&path, flags).map_err(|e| JournalError::from_sqlite(&path, e))?;
        Self::over(db, path)
    }

    /// Settles how a connection behaves, and looks whether there is a journal behind it.
    fn over(db: Connection, path: PathBuf) -> Result<Self, JournalError> {
        let journal = Self {
            db,
            path,
            kept: kept::Kept::default(),
        };
        journal.in_context(|db| {
            db.busy_timeout(BUSY_TIMEOUT)?;
            db.pragma_update(None, "foreign_keys", true)?;
            db.pragma_update(None, "cache_size", -PAGE_CACHE_KIB)?;
            db.pragma_update(None, "trusted_schema", false)?;
            db.set_prepared_statement_cache_capacity(64);
            // A plan does not follow from what is bound: else SQLite makes a kept statement anew for each new value
            // that could bear on a partial index, which costs more than the statements here do.
            db.set_db_config(DbConfig::SQLITE_DBCONFIG_ENABLE_QPSG, true)?;
            Ok(())
        })?;
        // The first real look at the file: here something that is not SQLite shows itself.
        let (id, tables): (i32, i64) = journal.in_context(|db| {
            Ok((
                db.query_row("PRAGMA application_id", [], |row| row.get(0))?,
                db.query_row("SELECT count(*) FROM sqlite_schema", [], |row| row.get(0))?,
            ))
        })?;
        if id != schema::APPLICATION_ID && (id != 0 || tables != 0) {
            return Err(JournalError::NotAJournal { path: journal.path });
        }
        Ok(journal)
    }

    fn version(&self) -> Result<usize, JournalError> {
        let version: i64 = self.in_context(|db| db.query_row("PRAGMA user_version", [], |row| row.get(0)))?;
        let known = schema::MIGRATIONS.len();
        match usize::try_from(version) {
            Ok(version) if version <= known => Ok(version),
            _ => Err(JournalError::Newer {
                path: self.path.clone(),
                version,
                known,
            }),
        }
    }

    fn migrate(&self) -> Result<(), JournalError> {
        while let Some(step) = schema::MIGRATIONS.get(self.version()?) {
            self.in_context(|db| {
                // Immediate: two processes that start together must not both apply the step.
                db.execute_batch("BEGIN IMMEDIATE")?;
                Ok(())
            })?;
            let at = self.version()?;
            let still_due = schema::MIGRATIONS
                .get(at)
                .is_some_and(|due| std::ptr::eq(*due, *step));
            let applied = self.in_context(|db| {
                if still_due {
                    db.execute_batch(step)?;
                    if at + 1 == schema::CHAINED {
                        chain::begin(db)?;
                    }
                    db.pragma_update(None, "application_id", schema::APPLICATION_ID)?;
                    db.pragma_update(None, "user_version", i64::try_from(at).unwrap_or(i64::MAX) + 1)?;
                }
                db.execute_batch("COMMIT")
            });
            if applied.is_err() {
                let _ = self.db.execute_batch("ROLLBACK");
            }
            applied?;
        }
        Ok(())
    }

    /// Settles, makes anew what cannot be read, and then reads in the memory that a few pages need, however many
    /// readings there are.
    pub fn reading_once(&mut self) -> Result<(), JournalError> {
        self.settle()?;
        self.mend_derived()?;
        self.in_context(|db| db.pragma_update(None, "cache_size", -PAGE_CACHE_READING_ONCE_KIB))
    }

    /// Lets this connection make the file no larger than so many pages, or than it is: what does not fit is refused as
    /// by a disk that is full, which is how a simulation has one.
    pub fn limit_pages(&self, pages: u32) -> Result<(), JournalError> {
        self.in_context(|db| db.pragma_update(None, "max_page_count", pages))
    }

    /// Where the file is.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Changes whenever another process has written: a cheap way to notice.
    pub fn data_version(&self) -> Result<i64, JournalError> {
        self.in_context(|db| db.query_row("PRAGMA data_version", [], |row| row.get(0)))
    }

    /// SQLite's own look at the file: `Ok(None)` when it finds nothing wrong, else what it says.
    pub fn integrity(&self) -> Result<Option<String>, JournalError> {
        let said: String =
            self.in_context(|db| db.query_row("PRAGMA quick_check(1)", [], |row| row.get(0)))?;
        Ok(if said == "ok" { None } else { Some(said) })
    }

    /// The same for every index and value, which takes longer.
    pub fn integrity_in_full(&self) -> Result<Option<String>, JournalError> {
        let said: String =
            self.in_context(|db| db.query_row("PRAGMA integrity_check(1)", [], |row| row.get(0)))?;
        Ok(if said == "ok" { None } else { Some(said) })
    }

    /// Reads every row that cannot be made again, and holds it against the digest of when it was written.
    pub fn chain(&self) -> Result<Chain, JournalError> {
        self.in_context(chain::verify)
    }

    /// Runs `work` and says which file an error is about.
    fn in_context<T>(
        &self,
        work: impl FnOnce(&Connection) -> rusqlite::Result<T>,
    ) -> Result<T, JournalError> {
        work(&self.db).map_err(|e| JournalError::from_sqlite(&self.path, e))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_new_journal_is_durable_and_a_second_opening_changes_nothing() {
        let dir = tempfile::tempdir().unwrap();
        for _ in 0..2 {
            let journal = Journal::open(dir.path()).unwrap();
            let pragma = |name: &str| -> String {
                journal
                    .db
                    .query_row(
                        &format!("SELECT CAST({name} AS TEXT) FROM pragma_{name}"),
                        [],
                        |r| r.get(0),
                    )
                    .unwrap()
            };
            assert_eq!(pragma("journal_mode"), "wal");
            assert_eq!(pragma("synchronous"), "2", "2 is FULL");
            assert_eq!(pragma("user_version"), schema::MIGRATIONS.len().to_string());
            assert_eq!(journal.integrity().unwrap(), None);
        }
    }

    #[test]
    fn frames_and_statements_cannot_be_changed_even_from_the_shell() {
        let dir = tempfile::tempdir().unwrap();
        let journal = Journal::open(dir.path()).unwrap();
        journal
            .db
            .execute_batch(
                "INSERT INTO frame (received_us, offset_s, monitor, connection, characteristic, value)
                 VALUES (1, 0, 'C0:FF:EE:00:00:01', 1, '2a35', x'00');
                 INSERT INTO statement (stated_us, body) VALUES (1, '{\"kind\":\"zone\",\"zone\":\"UTC\",\"from\":null}');",
            )
            .unwrap();
        for sql in [
            "UPDATE frame SET value = x'01'",
            "DELETE FROM frame",
            "UPDATE statement SET stated_us = 2",
            "DELETE FROM statement",
            "INSERT OR REPLACE INTO frame (id, received_us, offset_s, monitor, connection, characteristic, value)
             VALUES (1, 2, 0, 'C0:FF:EE:00:00:01', 1, '2a35', x'00')",
            "REPLACE INTO statement SELECT id, 2, body FROM statement",
        ] {
            let refused = journal.db.execute(sql, []).unwrap_err().to_string();
            assert!(refused.contains("never"), "{sql}: {refused}");
        }
        // The same frame under another number would take its place.
        let again =
            "REPLACE INTO frame (id, received_us, offset_s, monitor, connection, characteristic, value)
                     SELECT 7, received_us, offset_s, monitor, connection, characteristic, value FROM frame";
        assert_eq!(journal.db.execute(again, []).unwrap(), 0);
        let ids: i64 = journal
            .db
            .query_row("SELECT sum(id) FROM frame", [], |row| row.get(0))
            .unwrap();
        assert_eq!(ids, 1);
    }

    #[test]
    fn what_is_not_a_journal_is_refused_and_left_alone() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join(FILE_NAME);
        std::fs::write(
            &path,
            "this is a shopping list, and long enough to have a header of sorts ".repeat(20),
        )
        .unwrap();
        let before = std::fs::read(&path).unwrap();
        assert!(matches!(
            Journal::open(dir.path()),
            Err(JournalError::NotAJournal { .. })
        ));
        assert_eq!(std::fs::read(&path).unwrap(), before);

        std::fs::remove_file(&path).unwrap();
        Connection::open(&path)
            .unwrap()
            .execute_batch("CREATE TABLE other (x)")
            .unwrap();
        assert!(matches!(
            Journal::open(dir.path()),
            Err(JournalError::NotAJournal { .. })
        ));
    }

    #[test]
    fn a_newer_journal_is_refused() {
        let dir = tempfile::tempdir().unwrap();
        drop(Journal::open(dir.path()).unwrap());
        let db = Connection::open(dir.path().join(FILE_NAME)).unwrap();
        db.pragma_update(None, "user_version", 9999).unwrap();
        drop(db);
        for opened in [Journal::open(dir.path()), Journal::open_existing(dir.path())] {
            let said = opened.unwrap_err().to_string();
            assert!(said.contains("9999"), "{said}");
        }
    }
}
