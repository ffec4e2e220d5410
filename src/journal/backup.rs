//! A copy of the journal while it is in use, and the way back.
//!
//! A copy is looked through before it takes its name: whoever sees the file has a whole journal. It is one file, without
//! a write-ahead log beside it, so that it can be carried away as it is.

use super::{FILE_NAME, Journal, JournalError, schema};
use rusqlite::backup::{Backup, StepResult};
use rusqlite::{Connection, OpenFlags};
use rustix::fs::{Mode, OFlags};
use std::fs::{self, DirBuilder, File, OpenOptions, TryLockError};
use std::io;
use std::os::unix::fs::{DirBuilderExt, MetadataExt, OpenOptionsExt};
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
    /// Writes a copy of everything that is committed now. Others may go on writing meanwhile. A link is followed.
    pub fn backup(&self, to: &Path) -> Result<Contents, JournalError> {
        if self.is_made_of(to) {
            return Err(JournalError::ItsOwnCopy { path: to.to_owned() });
        }
        let to = &to.canonicalize().unwrap_or_else(|_| to.to_owned());
        // A device would be gone, and a directory cannot be replaced.
        if to.symlink_metadata().is_ok_and(|there| !there.is_file()) {
            return Err(JournalError::CannotWrite {
                path: to.to_owned(),
                what: "it is not a file".to_owned(),
            });
        }
        let before = self.contents()?;
        let cannot = |source: io::Error| JournalError::cannot_write(to, &source);
        let part = Part::beside(to).map_err(cannot)?;
        copy(&self.db, &part.path).map_err(|e| JournalError::from_sqlite(to, e))?;
        let copied = look_through(&part.path).map_err(|error| match error {
            // It is what was copied.
            JournalError::Damaged { what, .. } => JournalError::Damaged {
                path: self.path.clone(),
                what,
            },
            other => other,
        })?;
        // Nothing is ever deleted, so a copy that has less is not a copy.
        if copied.frames < before.frames || copied.statements < before.statements {
            return Err(JournalError::Damaged {
                path: to.to_owned(),
                what: "the copy has fewer rows than the journal".to_owned(),
            });
        }
        part.take_name(to).map_err(cannot)?;
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
        to.canonicalize().is_ok_and(|real| real == own)
            || ends.iter().any(|end| to == with_end(&own, end))
            // There it would be taken for the work of a recovery.
            || own.parent().is_some_and(|state| to == super::recover::waiting(state))
    }

    /// What it holds.
    pub fn contents(&self) -> Result<Contents, JournalError> {
        self.in_context(contents)
    }
}

/// Puts a copy in its place in `state`, where there is no journal yet.
pub fn restore(file: &Path, state: &Path) -> Result<Contents, JournalError> {
    let path = state.join(FILE_NAME);
    for there in [&path, &super::recover::waiting(state)] {
        if there.symlink_metadata().is_ok() {
            return Err(JournalError::InTheWay {
                path: there.to_owned(),
            });
        }
    }
    no_log_alone(&path)?;
    if let Err(source) = fs::metadata(file) {
        return Err(match source.kind() {
            io::ErrorKind::NotFound => JournalError::NoBackup {
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
    let cannot = |source: io::Error| JournalError::cannot_create(&path, &source);
    let part = Part::beside(&path).map_err(cannot)?;
    let source = Connection::open_with_flags(file, OpenFlags::SQLITE_OPEN_READ_ONLY)
        .map_err(|e| JournalError::from_sqlite(file, e))?;
    copy(&source, &part.path).map_err(|e| JournalError::from_sqlite(&path, e))?;
    if look_through(&part.path)? != kept {
        return Err(JournalError::Damaged {
            path: file.to_owned(),
            what: "it changed while it was read".to_owned(),
        });
    }
    part.take_free_name(&path).map_err(cannot)?;
    // Brings an older schema up to date, and everything derived with it.
    Journal::open(state)?.settle()?;
    Ok(kept)
}

fn copy(from: &Connection, to: &Path) -> rusqlite::Result<()> {
    let mut copy = Connection::open(to)?;
    // All pages in one step: a view of one moment, which keeps no writer waiting.
    if Backup::new(from, &mut copy)?.step(-1)? != StepResult::Done {
        return Err(rusqlite::Error::SqliteFailure(
            rusqlite::ffi::Error::new(rusqlite::ffi::SQLITE_BUSY),
            None,
        ));
    }
    copy.pragma_update(None, "journal_mode", "delete")
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

/// Beside a journal that is not there (somebody moved it away) its log would be deleted, or taken for that of the next.
pub(super) fn no_log_alone(path: &Path) -> Result<(), JournalError> {
    let log = ["-wal", "-journal"]
        .map(|end| with_end(path, end))
        .into_iter()
        .find(|log| fs::metadata(log).is_ok_and(|log| log.len() > 0));
    match log {
        Some(log) if !path.exists() => Err(JournalError::LogAlone { path: log }),
        _ => Ok(()),
    }
}

/// Removes a file, if there is one.
pub(super) fn remove_if_there(path: &Path) -> io::Result<()> {
    match fs::remove_file(path) {
        Err(error) if error.kind() != io::ErrorKind::NotFound => Err(error),
        _ => Ok(()),
    }
}

/// Whether the tables that cannot be made again are there, and guarded.
pub(super) fn has_its_tables(db: &Connection) -> rusqlite::Result<bool> {
    let version: u32 = db.query_row("PRAGMA user_version", [], |row| row.get(0))?;
    let (tables, guards): (i64, i64) = db.query_row(
        "SELECT count(*) FILTER (WHERE type = 'table' AND name IN ('frame', 'statement', 'gateway_clock')),
                count(*) FILTER (WHERE type = 'trigger' AND tbl_name IN ('frame', 'statement') AND sql LIKE '%RAISE%')
         FROM sqlite_schema",
        [],
        |row| Ok((row.get(0)?, row.get(1)?)),
    )?;
    Ok(tables == 3 && guards >= schema::guards(version))
}

/// A file beside its place, which takes its name when it is whole and is gone otherwise. One that was left behind by
/// somebody who was killed is in nobody's way.
struct Part {
    path: PathBuf,
    /// Locked, so that two at once do not write the same.
    file: File,
}

impl Part {
    fn beside(path: &Path) -> io::Result<Self> {
        let name = path.file_name().ok_or(io::ErrorKind::IsADirectory)?;
        let part = path.with_file_name(format!(".{}.part", name.to_string_lossy()));
        loop {
            // Never a file or a link that somebody else put there.
            let new = OpenOptions::new()
                .write(true)
                .create_new(true)
                .mode(0o600)
                .open(&part);
            match new {
                Err(error) if error.kind() == io::ErrorKind::AlreadyExists => remove_left_behind(&part)?,
                new => {
                    let part = Self {
                        path: part.clone(),
                        file: new?,
                    };
                    // Unless somebody who came in between took it for one that was left behind.
                    if !matches!(part.file.try_lock(), Err(TryLockError::WouldBlock)) && part.is_there() {
                        part.remove_beside()?;
                        return Ok(part);
                    }
                }
            }
        }
    }

    /// Whether its name is still its own.
    fn is_there(&self) -> bool {
        match (fs::symlink_metadata(&self.path), self.file.metadata()) {
            (Ok(there), Ok(ours)) => (there.dev(), there.ino()) == (ours.dev(), ours.ino()),
            _ => false,
        }
    }

    /// What SQLite may keep beside it.
    fn remove_beside(&self) -> io::Result<()> {
        ["-journal", "-wal", "-shm"]
            .iter()
            .try_for_each(|end| remove_if_there(&with_end(&self.path, end)))
    }

    /// In place of what had it.
    fn take_name(self, path: &Path) -> io::Result<()> {
        self.settled_on_disk(path, |part| fs::rename(part, path))
    }

    /// Unless something has it.
    fn take_free_name(self, path: &Path) -> io::Result<()> {
        self.settled_on_disk(path, |part| fs::hard_link(part, path))
    }

    fn settled_on_disk(&self, path: &Path, named: impl FnOnce(&Path) -> io::Result<()>) -> io::Result<()> {
        let parent = path.parent().filter(|parent| !parent.as_os_str().is_empty());
        self.file.sync_all()?;
        named(&self.path)?;
        File::open(parent.unwrap_or(Path::new(".")))?.sync_all()
    }
}

impl Drop for Part {
    fn drop(&mut self) {
        // Renamed, it is not there any more; and what is there then may be somebody else's.
        if self.is_there() {
            let _ = self.remove_beside();
            let _ = fs::remove_file(&self.path);
        }
    }
}

/// Removes what somebody left who was killed; an error where they are still at work.
fn remove_left_behind(part: &Path) -> io::Result<()> {
    let flags = OFlags::RDONLY | OFlags::NOFOLLOW | OFlags::NONBLOCK | OFlags::CLOEXEC;
    if let Ok(there) = rustix::fs::open(part, flags, Mode::empty())
        && let Err(TryLockError::WouldBlock) = File::from(there).try_lock()
    {
        return Err(io::Error::new(
            io::ErrorKind::WouldBlock,
            "another process is writing it",
        ));
    }
    remove_if_there(part)
}
