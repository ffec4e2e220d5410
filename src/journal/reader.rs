//! A journal that is only read: opened so that nothing can be written to it.
//!
//! What is read is one moment of the file, whatever others write meanwhile. Where the file's schema is older, or what is
//! derived from the frames is behind them, a private copy is brought up to date and read instead: a temporary database
//! of SQLite's, which nobody else sees and which is gone with the process.
//!
//! SQLite reads a file in WAL mode only where its two companions (`-wal`, `-shm`) are there, or can be made
//! (<https://www.sqlite.org/wal.html#read_only_databases>). On a read-only medium they cannot, and `immutable=1` would
//! leave out what stands in the log, and read nonsense where somebody writes after all. So the files are copied, with
//! their log, and the copy holds only if no file changed meanwhile and nobody was at work on them.

use super::place::{FILE_NAME, SIDES, is_there};
use super::{Journal, JournalError, schema};
use crate::whole::with_end;
use rusqlite::backup::{Backup, StepResult};
use rusqlite::{Connection, OpenFlags};
use std::fs::{self, File};
use std::io::{self, ErrorKind};
use std::os::unix::fs::MetadataExt;
use std::path::{Path, PathBuf};

/// How often a copy of the files is tried while they change. Whoever writes makes the companions, and then they need
/// not be copied.
const COPY_TRIES: u32 = 5;

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
                Err(refused @ (JournalError::CannotCreate { .. } | JournalError::NoPermission { .. })) => {
                    refused
                }
                Err(other) => return Err(other),
            };
            match Copied::of(&path)? {
                Copied::Whole(journal) => break journal,
                Copied::NeedsNone => return Err(refused),
                Copied::Changed if tries == COPY_TRIES => return Err(JournalError::Busy { path }),
                Copied::Changed => {}
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

    /// A copy that only this process sees.
    pub(super) fn in_private(&self) -> Result<Self, JournalError> {
        let mut db = self.in_context(|_| Connection::open(""))?;
        self.in_context(|own| {
            // All pages in one step: a view of one moment.
            match Backup::new(own, &mut db)?.step(-1)? {
                StepResult::Done => Ok(()),
                _ => Err(rusqlite::Error::SqliteFailure(
                    rusqlite::ffi::Error::new(rusqlite::ffi::SQLITE_BUSY),
                    None,
                )),
            }
        })?;
        Self::over(db, self.path.clone())
    }
}

/// What became of copying the files.
enum Copied {
    Whole(Journal),
    /// The companions are there, so SQLite's refusal has another reason.
    NeedsNone,
    /// Somebody wrote meanwhile.
    Changed,
}

impl Copied {
    fn of(path: &Path) -> Result<Self, JournalError> {
        let cannot = |source: io::Error| JournalError::cannot_read(path, &source);
        // Says who may read it, where nobody else may.
        File::open(path).map_err(cannot)?;
        let before = Files::of(path).map_err(cannot)?;
        if before.somebody_may_write {
            return Ok(Self::NeedsNone);
        }
        let place = tempfile::tempdir()
            .map_err(|source| JournalError::cannot_create(&std::env::temp_dir(), &source))?;
        let copy = place.path().join(FILE_NAME);
        for end in SIDES {
            match fs::copy(with_end(path, end), with_end(&copy, end)) {
                Ok(_) => {}
                Err(error) if error.kind() == ErrorKind::NotFound && !end.is_empty() => {}
                Err(error) => return Err(cannot(error)),
            }
        }
        if Files::of(path).map_err(cannot)? != before {
            return Ok(Self::Changed);
        }
        let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let db = Connection::open_with_flags(&copy, flags).map_err(|e| JournalError::from_sqlite(path, e))?;
        // Off the disk at once: a process that is killed leaves nobody's readings behind.
        Ok(Self::Whole(Journal::over(db, path.to_owned())?.in_private()?))
    }
}

/// What tells whether anybody wrote: each file's number, length and times.
#[derive(PartialEq)]
struct Files {
    each: Vec<Option<[i64; 6]>>,
    /// Whoever has a journal in WAL mode open keeps both of its companions.
    somebody_may_write: bool,
}

impl Files {
    fn of(path: &Path) -> io::Result<Self> {
        let seen = |file: PathBuf| match fs::metadata(file) {
            Ok(is) => Ok(Some([
                is.ino().cast_signed(),
                is.size().cast_signed(),
                is.mtime(),
                is.mtime_nsec(),
                is.ctime(),
                is.ctime_nsec(),
            ])),
            Err(error) if error.kind() == ErrorKind::NotFound => Ok(None),
            Err(error) => Err(error),
        };
        let shared = seen(with_end(path, "-shm"))?;
        let log = seen(with_end(path, "-wal"))?;
        let mut each = vec![shared];
        for end in SIDES {
            each.push(seen(with_end(path, end))?);
        }
        Ok(Self {
            each,
            somebody_may_write: shared.is_some() && log.is_some(),
        })
    }
}
