//! A copy of the journal while it is in use, and the way back.
//!
//! A copy is looked through before it takes its name: whoever sees the file has a whole journal. It is one file, without
//! a write-ahead log beside it, so that it can be carried away as it is.

use super::{FILE_NAME, Journal, JournalError, schema};
use rusqlite::backup::{Backup, StepResult};
use rusqlite::{Connection, OpenFlags};
use std::fs::{self, DirBuilder, File, OpenOptions};
use std::os::unix::fs::{DirBuilderExt, OpenOptionsExt};
use std::path::{Path, PathBuf};

/// What a journal holds of that which cannot be made again.
#[derive(Clone, Copy, PartialEq, Eq, Debug, serde::Serialize)]
pub struct Contents {
    /// Frames that were received.
    pub frames: i64,
    /// What the household stated.
    pub statements: i64,
    /// When the first frame was received, in microseconds since 1970.
    pub first_received_us: Option<i64>,
    /// And the last.
    pub last_received_us: Option<i64>,
}

impl Journal {
    /// Writes a copy of everything that is committed now. Others may go on writing meanwhile.
    pub fn backup(&self, to: &Path) -> Result<Contents, JournalError> {
        if self.is_made_of(to) {
            return Err(JournalError::ItsOwnCopy { path: to.to_owned() });
        }
        let before = self.contents()?;
        let part = Part::beside(to)?;
        copy(&self.db, &part.path)?;
        let copied = look_through(&part.path)?;
        // Nothing is ever deleted, so a copy that has less is not a copy.
        if copied.frames < before.frames || copied.statements < before.statements {
            return Err(JournalError::Damaged {
                path: to.to_owned(),
                what: "the copy has fewer rows than the journal".to_owned(),
            });
        }
        part.take_name(to)?;
        Ok(copied)
    }

    /// Whether a name is that of the journal or of a file beside it that SQLite keeps for it. A copy in its place would
    /// take the journal from under whoever is writing it.
    fn is_made_of(&self, to: &Path) -> bool {
        let parent = to.parent().filter(|parent| !parent.as_os_str().is_empty());
        let (Ok(own), Ok(parent)) = (
            self.path.canonicalize(),
            parent.unwrap_or(Path::new(".")).canonicalize(),
        ) else {
            return false;
        };
        let to = to.file_name().map(|name| parent.join(name)).unwrap_or_default();
        let ends = ["", "-wal", "-shm", "-journal"];
        to.canonicalize().is_ok_and(|real| real == own) || ends.iter().any(|end| to == with_end(&own, end))
    }

    /// What it holds.
    pub fn contents(&self) -> Result<Contents, JournalError> {
        self.in_context(contents)
    }
}

/// Puts a copy in its place in `state`, where there is no journal yet.
pub fn restore(file: &Path, state: &Path) -> Result<Contents, JournalError> {
    let path = state.join(FILE_NAME);
    if path.symlink_metadata().is_ok() {
        return Err(JournalError::InTheWay { path });
    }
    if let Err(source) = fs::metadata(file) {
        return Err(match source.kind() {
            std::io::ErrorKind::NotFound => JournalError::NoBackup {
                path: file.to_owned(),
            },
            _ => JournalError::cannot_read(file, &source),
        });
    }
    let kept = look_through(file)?;
    DirBuilder::new()
        .recursive(true)
        .mode(0o700)
        .create(state)
        .map_err(|source| JournalError::cannot_create(state, &source))?;
    let part = Part::beside(&path)?;
    let source = Connection::open_with_flags(file, OpenFlags::SQLITE_OPEN_READ_ONLY)
        .map_err(|e| JournalError::from_sqlite(file, e))?;
    copy(&source, &part.path)?;
    if look_through(&part.path)? != kept {
        return Err(JournalError::Damaged {
            path: file.to_owned(),
            what: "it changed while it was read".to_owned(),
        });
    }
    part.take_free_name(&path)?;
    // Brings an older schema up to date, and everything derived with it.
    Journal::open(state)?.settle()?;
    Ok(kept)
}

fn copy(from: &Connection, to: &Path) -> Result<(), JournalError> {
    let copied = || -> rusqlite::Result<()> {
        let mut copy = Connection::open(to)?;
        // All pages in one step: a view of one moment, which keeps no writer waiting.
        if Backup::new(from, &mut copy)?.step(-1)? != StepResult::Done {
            return Err(rusqlite::Error::SqliteFailure(
                rusqlite::ffi::Error::new(rusqlite::ffi::SQLITE_BUSY),
                None,
            ));
        }
        copy.pragma_update(None, "journal_mode", "delete")
    };
    copied().map_err(|e| JournalError::from_sqlite(to, e))
}

/// Everything that can be asked of a file without knowing what should be in it: that it is a journal of a schema that is
/// known, that SQLite finds it sound, and that its frames and statements are guarded.
fn look_through(path: &Path) -> Result<Contents, JournalError> {
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let journal = Journal::connect(path.to_owned(), flags)?;
    let version = journal.version()?;
    let said: String =
        journal.in_context(|db| db.query_row("PRAGMA integrity_check(1)", [], |row| row.get(0)))?;
    let whole = journal.in_context(has_its_tables)?;
    let wrong = if said != "ok" {
        said
    } else if version == 0 || !whole {
        "its tables are not those of a journal".to_owned()
    } else {
        return journal.contents();
    };
    Err(JournalError::Damaged {
        path: path.to_owned(),
        what: wrong,
    })
}

fn contents(db: &Connection) -> rusqlite::Result<Contents> {
    let (frames, first, last) = db.query_row(
        "SELECT count(*), min(received_us), max(received_us) FROM frame",
        [],
        |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)),
    )?;
    Ok(Contents {
        frames,
        statements: db.query_row("SELECT count(*) FROM statement", [], |row| row.get(0))?,
        first_received_us: first,
        last_received_us: last,
    })
}

/// The name of a file that SQLite keeps beside another.
pub(super) fn with_end(path: &Path, end: &str) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(end);
    PathBuf::from(name)
}

/// Whether the tables that cannot be made again are there, and guarded.
pub(super) fn has_its_tables(db: &Connection) -> rusqlite::Result<bool> {
    let (tables, guards): (i64, i64) = db.query_row(
        "SELECT count(*) FILTER (WHERE type = 'table' AND name IN ('frame', 'statement', 'gateway_clock')),
                count(*) FILTER (WHERE type = 'trigger' AND sql LIKE '%RAISE%ABORT%')
         FROM sqlite_schema",
        [],
        |row| Ok((row.get(0)?, row.get(1)?)),
    )?;
    Ok(tables == 3 && guards >= schema::GUARDS)
}

/// A file beside its place, which takes its name when it is whole and is gone otherwise.
struct Part {
    path: PathBuf,
}

impl Part {
    fn beside(path: &Path) -> Result<Self, JournalError> {
        let cannot = |source: &std::io::Error| JournalError::cannot_create(path, source);
        let name = path.file_name().filter(|_| !path.is_dir());
        let name = name.ok_or_else(|| cannot(&std::io::ErrorKind::IsADirectory.into()))?;
        let part = path.with_file_name(format!(".{}.{}.part", name.to_string_lossy(), std::process::id()));
        let opened = OpenOptions::new()
            .write(true)
            .create_new(true)
            .mode(0o600)
            .open(&part);
        opened.map_err(|source| cannot(&source))?;
        Ok(Self { path: part })
    }

    /// In place of what had it.
    fn take_name(self, path: &Path) -> Result<(), JournalError> {
        self.settled_on_disk(path, |part| fs::rename(part, path))
    }

    /// Unless something has it.
    fn take_free_name(self, path: &Path) -> Result<(), JournalError> {
        self.settled_on_disk(path, |part| fs::hard_link(part, path))
    }

    fn settled_on_disk(
        &self,
        path: &Path,
        named: impl FnOnce(&Path) -> std::io::Result<()>,
    ) -> Result<(), JournalError> {
        let parent = path.parent().filter(|parent| !parent.as_os_str().is_empty());
        File::open(&self.path)
            .and_then(|file| file.sync_all())
            .and_then(|()| named(&self.path))
            .and_then(|()| File::open(parent.unwrap_or(Path::new(".")))?.sync_all())
            .map_err(|source| JournalError::cannot_create(path, &source))
    }
}

impl Drop for Part {
    fn drop(&mut self) {
        // Renamed, it is not there any more.
        let _ = fs::remove_file(&self.path);
    }
}
