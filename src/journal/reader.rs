//! A journal that is only read: opened so that nothing can be written to it.
//!
//! What is read is one moment of the file, whatever others write meanwhile. Where the file's schema is older, or what
//! is derived from the frames is behind them, a private copy is brought up to date and read instead: a temporary
//! database of SQLite's, which nobody else sees and which is gone with the process.
//!
//! SQLite reads a file in WAL mode only where its two companions (`-wal`, `-shm`) are there, or can be made
//! (<https://www.sqlite.org/wal.html#read_only_databases>). On a read-only medium and on a full disk they cannot, and
//! `immutable=1` would leave out what stands in the log, and read nonsense where somebody writes after all. So such
//! files are read alone, with the log's index in memory, and into a private copy, which holds only if no file changed
//! meanwhile and nobody was at work on them. A restore that was killed may leave a change half done, which is taken
//! back in the copy.

use super::place::{FILE_NAME, SIDES, is_there};
use super::{Journal, JournalError, PAGE_CACHE_KIB, schema};
use crate::whole::with_end;
use rusqlite::backup::{Backup, StepResult};
use rusqlite::config::DbConfig;
use rusqlite::{Connection, OpenFlags};
use rustix::process::{Flock, FlockType, fcntl_getlk};
use std::fmt::Write as _;
use std::fs::{self, File};
use std::io::{self, ErrorKind};
use std::os::unix::ffi::OsStrExt;
use std::os::unix::fs::MetadataExt;
use std::path::Path;

/// How often the files are read alone while they change. Whoever writes makes the companions, and then they need not
/// be.
const ALONE_TRIES: u32 = 5;

impl Journal {
    /// Opens an existing journal for reading only, with everything derived up to date. Nothing is written, neither to
    /// the file nor to what is derived from it.
    pub fn read(state: &Path) -> Result<Self, JournalError> {
        let seen = Self::read_as_it_is(state)?;
        if seen.version()? == schema::MIGRATIONS.len() && seen.is_settled()? {
            return Ok(seen);
        }
        let mut own = seen.in_private()?;
        own.migrate()?;
        // Not worth a line in the log each time: whoever writes next says it once.
        own.settle_because()?;
        own.in_context(|db| db.pragma_update(None, "query_only", true))?;
        Ok(own)
    }

    /// Opens an existing journal for reading only, of whichever schema it is, with what is derived as it stands.
    pub fn read_as_it_is(state: &Path) -> Result<Self, JournalError> {
        let path = is_there(state)?;
        let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let mut tries = 0;
        let journal = loop {
            tries += 1;
            let refused = match Self::connect(path.clone(), flags) {
                Ok(journal) => break journal,
                Err(refused) if refused.is_of_the_place() => refused,
                Err(other) => return Err(other),
            };
            match Alone::read(&path)? {
                Alone::Whole(journal) => break journal,
                Alone::InUse => return Err(refused),
                Alone::Changed if tries == ALONE_TRIES => return Err(JournalError::Busy { path }),
                Alone::Changed => {}
            }
        };
        // What is read from here on belongs together, and stays so.
        journal.in_context(|db| {
            db.execute_batch("BEGIN")?;
            db.query_row("SELECT count(*) FROM sqlite_schema", [], |_| Ok(()))
        })?;
        journal.version()?;
        Ok(journal)
    }

    /// A copy that only this process sees. Where there is no room for it on any disk, it is kept in memory.
    pub(super) fn in_private(&self) -> Result<Self, JournalError> {
        let copied = self.copied_into("").or_else(|_| self.copied_into(":memory:"));
        Self::over(copied?, self.path.clone())
    }

    fn copied_into(&self, place: &str) -> Result<Connection, JournalError> {
        let mut db = self.in_context(|_| Connection::open(place))?;
        self.in_context(|own| {
            db.pragma_update(None, "cache_size", -PAGE_CACHE_KIB)?;
            if !place.is_empty() {
                db.pragma_update(None, "temp_store", "memory")?;
            }
            // All pages in one step: a view of one moment.
            match Backup::new(own, &mut db)?.step(-1)? {
                StepResult::Done => Ok(()),
                _ => Err(rusqlite::Error::SqliteFailure(
                    rusqlite::ffi::Error::new(rusqlite::ffi::SQLITE_BUSY),
                    None,
                )),
            }
        })?;
        Ok(db)
    }
}

/// What became of reading the files alone.
enum Alone {
    Whole(Journal),
    /// Somebody is at work on them, so SQLite's refusal has another reason.
    InUse,
    /// Somebody wrote meanwhile.
    Changed,
}

impl Alone {
    fn read(path: &Path) -> Result<Self, JournalError> {
        let cannot = |source: io::Error| JournalError::cannot_read(path, &source);
        // Says who may read it, where nobody else may.
        let file = File::open(path).map_err(cannot)?;
        // Whoever has a journal in WAL mode open holds a lock on it ("WAL-mode File Format", 2.3.1). Where there are no
        // locks SQLite has none either.
        let held = fcntl_getlk(&file, &Flock::from(FlockType::WriteLock));
        drop(file);
        let before = Files::of(path).map_err(cannot)?;
        if held.is_ok_and(|held| held.is_some()) {
            return Ok(Self::InUse);
        }
        let alone = if before.half_done {
            Self::taken_back(path)
        } else {
            Self::in_memory(path, &before)
        };
        if Files::of(path).map_err(cannot)? != before {
            return Ok(Self::Changed);
        }
        alone.map(Self::Whole)
    }

    /// Takes a change back that was cut off, in a copy of the files: SQLite does so only where it may write.
    fn taken_back(path: &Path) -> Result<Journal, JournalError> {
        let place = tempfile::tempdir()
            .map_err(|source| JournalError::cannot_create(&std::env::temp_dir(), &source))?;
        let copy = place.path().join(FILE_NAME);
        for end in ["", "-journal"] {
            fs::copy(with_end(path, end), with_end(&copy, end))
                .map_err(|source| JournalError::cannot_read(path, &source))?;
        }
        let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let db = Connection::open_with_flags(&copy, flags).map_err(|e| JournalError::from_sqlite(path, e))?;
        Journal::over(db, path.to_owned())?.in_private()
    }

    /// Reads the files without locks, and keeps the index of the log in memory.
    fn in_memory(path: &Path, files: &Files) -> Result<Journal, JournalError> {
        let cannot = |source: io::Error| JournalError::cannot_read(path, &source);
        let sql = |e| JournalError::from_sqlite(path, e);
        let flags =
            OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX | OpenFlags::SQLITE_OPEN_URI;
        let db = Connection::open_with_flags(files.named(path).map_err(cannot)?, flags).map_err(sql)?;
        // Before anything is read: then the index of the log stays in memory.
        db.pragma_update(None, "locking_mode", "exclusive").map_err(sql)?;
        db.set_db_config(DbConfig::SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, true)
            .map_err(sql)?;
        Journal::over(db, path.to_owned())?.in_private()
    }
}

/// What tells whether anybody wrote: each file's number, length and time.
#[derive(PartialEq)]
struct Files {
    each: Vec<Option<[i64; 4]>>,
    /// There is something in the log.
    logged: bool,
    /// A change without a log was cut off, and has to be taken back.
    half_done: bool,
}

impl Files {
    fn of(path: &Path) -> io::Result<Self> {
        let seen = |end: &str| match fs::metadata(with_end(path, end)) {
            // Not when it was last given to somebody: SQLite gives a log that root opens to the journal's owner.
            Ok(is) => Ok(Some([
                is.ino().cast_signed(),
                is.size().cast_signed(),
                is.mtime(),
                is.mtime_nsec(),
            ])),
            Err(error) if error.kind() == ErrorKind::NotFound => Ok(None),
            Err(error) => Err(error),
        };
        let filled = |end: &str| Ok::<_, io::Error>(seen(end)?.is_some_and(|[_, size, ..]| size > 0));
        Ok(Self {
            each: SIDES.iter().map(|end| seen(end)).collect::<io::Result<_>>()?,
            logged: filled("-wal")?,
            half_done: filled("-journal")?,
        })
    }

    /// The name by which SQLite opens the file without locks, and without a log where there is none.
    fn named(&self, path: &Path) -> io::Result<String> {
        let mut name = "file://".to_owned();
        for octet in std::path::absolute(path)?.as_os_str().as_bytes() {
            let _ = match octet {
                b'/' | b'.' | b'-' | b'_' | b'0'..=b'9' | b'a'..=b'z' | b'A'..=b'Z' => {
                    write!(name, "{}", char::from(*octet))
                }
                other => write!(name, "%{other:02x}"),
            };
        }
        name.push_str(if self.logged {
            "?mode=ro&vfs=unix-none"
        } else {
            "?mode=ro&immutable=1"
        });
        Ok(name)
    }
}
