//! A copy of the journal while it is in use, and the way back.
//!
//! A copy is looked through before it takes its name: whoever sees the file has a whole journal. It is one file,
//! without a write-ahead log beside it, so that it can be carried away as it is.

use super::place::{FILE_NAME, no_log_alone, waiting};
use super::schema::has_its_tables;
use super::sealed::{Recipients, is_sealed, seal, unseal};
use super::{Chain, Journal, JournalError};
use crate::whole::{NotWritten, OutputPlace, PartFile, directory_of, with_end};
use jiff::Timestamp;
use rusqlite::backup::{Backup, StepResult};
use rusqlite::{Connection, OpenFlags};
use std::fs::{self, DirBuilder, File};
use std::io::{self, Read};
use std::os::unix::fs::DirBuilderExt;
use std::path::Path;

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
    /// Writes a copy of everything that is committed now, encrypted where there are recipients. Others may go on
    /// writing meanwhile. A link is followed.
    pub fn backup(&self, to: &Path, recipients: &Recipients) -> Result<Copied, JournalError> {
        let to = &match OutputPlace::of(to).map_err(|why| NotWritten::new(to, why))? {
            OutputPlace::File(real) => real,
            // SQLite writes here and there in a file, so a copy cannot be poured into a pipe.
            OutputPlace::Own(_) | OutputPlace::Stream(_) => {
                return Err(JournalError::NoFile { path: to.to_owned() });
            }
        };
        if self.is_made_of(to) {
            return Err(JournalError::ItsOwn { path: to.to_owned() });
        }
        let cannot = |why: io::Error| NotWritten::new(to, why);
        let part = PartFile::beside(to).map_err(cannot)?;
        let copied = if recipients.is_nobody() {
            self.copied_to(part.path(), to)?
        } else {
            // Never in the clear beside what is to be carried away.
            let place = tempfile::tempdir()
                .map_err(|source| JournalError::cannot_create(&std::env::temp_dir(), &source))?;
            let plain = place.path().join(FILE_NAME);
            let copied = self.copied_to(&plain, &plain)?;
            let mut open = File::open(&plain).map_err(|e| JournalError::cannot_read(&plain, &e))?;
            // Off the disk at once: a process that is killed leaves nobody's readings behind.
            drop(place);
            seal(&mut open, part.path(), recipients)?;
            copied
        };
        part.take_name(to).map_err(cannot)?;
        Ok(copied)
    }

    /// A plain copy that was looked through; `named` is for errors.
    fn copied_to(&self, part: &Path, named: &Path) -> Result<Copied, JournalError> {
        let before = self.contents()?;
        copy(&self.db, part).map_err(|e| JournalError::from_sqlite(named, e))?;
        let copied = look_through(part).map_err(|error| match error {
            // It is what was copied.
            JournalError::Damaged { what, .. } => JournalError::Damaged {
                path: self.path.clone(),
                what,
            },
            other => other,
        })?;
        let chain = self.read_back(part)?;
        // Nothing is ever deleted, so a copy that has less is not a copy.
        if copied.frames < before.frames || copied.statements < before.statements {
            return Err(JournalError::Damaged {
                path: named.to_owned(),
                what: "the copy has fewer rows than the journal".to_owned(),
            });
        }
        Ok(Copied {
            contents: copied,
            chain,
        })
    }

    /// Reads every reading, judgement and session of a copy. Where one cannot be read, all of them are made anew in the
    /// copy: a backup that cannot be read back whole is none. What the digests say of the rest is said, and the copy
    /// made all the same: what came since the last one is in no other.
    fn read_back(&self, copy: &Path) -> Result<Chain, JournalError> {
        let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let mut copy = Self::connect(copy.to_owned(), flags)?;
        // What an older schema holds is made anew where it is restored.
        if copy.version()? != super::SCHEMA {
            return Ok(Chain::default());
        }
        let chain = copy.chain()?;
        let Some(fault) = copy.fault_of_derived()? else {
            return Ok(chain);
        };
        tracing::warn!(
            "{}: a reading, judgement or session cannot be read ({fault}); in the copy all of them were made anew from \
             the frames, which are whole. `quietcuff rebuild` mends the journal itself",
            self.path.display()
        );
        copy.rebuild()?;
        let damaged = |what: String| JournalError::Damaged {
            path: self.path.clone(),
            what,
        };
        copy.fault_of_derived()?
            .map_or(Ok(()), |still| Err(damaged(still)))?;
        let said = copy.integrity()?;
        said.map_or(Ok(chain), |said| Err(damaged(said)))
    }

    /// Whether a name is that of the journal or of a file beside it that SQLite keeps for it. Whatever took its place
    /// would take the journal from under whoever is writing it.
    pub fn is_made_of(&self, to: &Path) -> bool {
        let (Ok(own), Ok(parent)) = (self.path.canonicalize(), directory_of(to).canonicalize()) else {
            return false;
        };
        let to = to.file_name().map(|name| parent.join(name)).unwrap_or_default();
        let ends = ["", "-wal", "-shm", "-journal"];
        to.canonicalize().is_ok_and(|real| real == own)
            || ends.iter().any(|end| to == with_end(&own, end))
            // There it would be taken for the work of a recovery.
            || own.parent().is_some_and(|state| to == waiting(state))
    }

    /// What it holds.
    pub fn contents(&self) -> Result<Contents, JournalError> {
        self.in_context(contents)
    }
}

/// A copy that was written.
#[derive(Clone, PartialEq, Eq, Debug, serde::Serialize)]
pub struct Copied {
    /// What it holds.
    #[serde(flatten)]
    pub contents: Contents,
    /// What the digests say of it, and of the journal that it was made of.
    pub chain: Chain,
}

/// What a backup brought back beside the record itself, which somebody may have to look at.
#[derive(Clone, PartialEq, Eq, Debug, serde::Serialize)]
pub struct Brought {
    /// Keys to the page, by id; all of them are closed until somebody confirms them.
    pub keys: Vec<String>,
    /// Sessions of the page, which were ended.
    pub sessions: i64,
    /// Each route, with how many messages wait to be told by it.
    pub routes: Vec<(String, i64)>,
    /// Each clinic's server, with how many resources were offered to it.
    pub deliveries: Vec<(String, i64)>,
    /// Listeners, by id; of none of them anything is taken until somebody confirms it.
    pub listeners: Vec<String>,
}

/// What was put in place.
#[derive(Clone, PartialEq, Eq, Debug, serde::Serialize)]
pub struct Restored {
    /// What cannot be made again.
    #[serde(flatten)]
    pub contents: Contents,
    /// What comes with it.
    pub brought: Brought,
    /// What the digests say of it; those of an older backup begin here.
    pub chain: Chain,
}

/// Puts a copy in its place in `state`, where there is no journal yet. `keys` are private keys as age writes them, for
/// a copy that is encrypted.
pub fn restore(
    file: &Path,
    state: &Path,
    keys: Option<&mut dyn Read>,
    now: Timestamp,
) -> Result<Restored, JournalError> {
    let path = state.join(FILE_NAME);
    for there in [&path, &waiting(state)] {
        if there.symlink_metadata().is_ok() {
            return Err(JournalError::InTheWay {
                path: there.to_owned(),
            });
        }
    }
    no_log_alone(&path)?;
    is_a_file(file)?;
    if !is_sealed(file) {
        return put_in_place(file, &path, state, now);
    }
    let keys = keys.ok_or_else(|| JournalError::Locked {
        path: file.to_owned(),
        why: "no private key was given".to_owned(),
    })?;
    made(state)?;
    // Where it will lie in the clear anyhow, and for its owner only.
    let opened = state.join("journal.opened");
    let cannot = |source: io::Error| JournalError::cannot_create(&opened, &source);
    let part = PartFile::beside(&opened).map_err(cannot)?;
    unseal(file, part.path(), keys)?;
    put_in_place(part.path(), &path, state, now)
}

/// SQLite reads here and there in a file, and whoever opens a pipe waits for somebody to write into it.
fn is_a_file(file: &Path) -> Result<(), JournalError> {
    let (path, found) = (file.to_owned(), fs::metadata(file));
    let what = match found {
        Ok(found) if found.is_file() => return Ok(()),
        Ok(found) if found.is_dir() => "it is a directory, and a backup is a file",
        Ok(_) => "it is a pipe or a device, and a backup is a file",
        Err(source) if source.kind() == io::ErrorKind::NotFound => {
            return Err(JournalError::NoBackup { path });
        }
        Err(source) => return Err(JournalError::cannot_read(file, &source)),
    };
    Err(JournalError::CannotRead {
        path,
        what: what.to_owned(),
    })
}

fn made(state: &Path) -> Result<(), JournalError> {
    DirBuilder::new()
        .recursive(true)
        .mode(0o700)
        .create(state)
        .map_err(|source| JournalError::cannot_create(state, &source))
}

/// A plain copy, looked through before and after.
fn put_in_place(file: &Path, path: &Path, state: &Path, now: Timestamp) -> Result<Restored, JournalError> {
    let kept = look_through(file)?;
    made(state)?;
    let cannot = |source: io::Error| JournalError::cannot_create(path, &source);
    let part = PartFile::beside(path).map_err(cannot)?;
    let source = Connection::open_with_flags(file, OpenFlags::SQLITE_OPEN_READ_ONLY)
        .map_err(|e| JournalError::from_sqlite(file, e))?;
    copy(&source, part.path()).map_err(|e| JournalError::from_sqlite(path, e))?;
    // Before anybody can open a page with it: whoever has the backup, or had a key then, has nothing by that.
    let brought = closed(part.path(), now)?;
    if look_through(part.path())? != kept {
        return Err(JournalError::Damaged {
            path: file.to_owned(),
            what: "it changed while it was read".to_owned(),
        });
    }
    part.take_free_name(path).map_err(cannot)?;
    // Brings everything derived up to date.
    let mut restored = Journal::open(state)?;
    restored.settle()?;
    restored.mend_derived()?;
    Ok(Restored {
        contents: kept,
        brought,
        chain: restored.chain()?,
    })
}

/// Brings an older schema up to date, and closes what opens the page.
fn closed(part: &Path, now: Timestamp) -> Result<Brought, JournalError> {
    let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let journal = Journal::connect(part.to_owned(), flags)?;
    journal.migrate()?;
    journal.in_context(|db| {
        let counts = |sql: &str| -> rusqlite::Result<Vec<(String, i64)>> {
            db.prepare(sql)?.query_map([], |row| Ok((row.get(0)?, row.get(1)?)))?.collect()
        };
        let closes = db.prepare("SELECT id FROM page_key WHERE withdrawn_us IS NULL ORDER BY made_us, id")?
            .query_map([], |row| row.get(0))?
            .collect::<rusqlite::Result<_>>()?;
        let brought = Brought {
            keys: closes,
            sessions: db.query_row("SELECT count(*) FROM page_session", [], |row| row.get(0))?,
            routes: counts(
                "SELECT route, count(*) FILTER (WHERE standing IN ('pending', 'claimed')) FROM alert GROUP BY route",
            )?,
            deliveries: counts("SELECT clinic, count(*) FROM delivery GROUP BY clinic")?,
            listeners: db
                .prepare("SELECT id FROM listener WHERE withdrawn_us IS NULL ORDER BY slot")?
                .query_map([], |row| row.get(0))?
                .collect::<rusqlite::Result<_>>()?,
        };
        db.execute_batch("DELETE FROM page_session; DELETE FROM page_link")?;
        db.execute(
            "UPDATE page_key SET closed_us = ?1 WHERE withdrawn_us IS NULL",
            [now.as_microsecond()],
        )?;
        // One that was withdrawn since would hand on again.
        db.execute(
            "UPDATE listener SET closed_us = ?1 WHERE withdrawn_us IS NULL",
            [now.as_microsecond()],
        )?;
        db.execute("DELETE FROM listener_code", [])?;
        Ok(brought)
    })
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

/// Everything that can be asked of a file without knowing what should be in it: that it is a journal of a schema that
/// is known, that SQLite finds it sound, and that its frames and statements are guarded.
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
