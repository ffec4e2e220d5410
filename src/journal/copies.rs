//! The ledger of good backups: when each was made, and where. It is written once a backup was read back whole.

use super::rotation::{Backup, Made, superfluous};
use super::sealed::Recipients;
use super::{Copied, Journal, JournalError};
use crate::whole::{NotWritten, remove_if_there};
use jiff::Timestamp;
use rusqlite::{OptionalExtension, params};
use std::fs;
use std::io;
use std::os::unix::fs::MetadataExt;
use std::path::{Path, PathBuf};

/// A backup by the rule: what was made, and what became of the older ones.
#[derive(Clone, PartialEq, Eq, Debug, serde::Serialize)]
pub struct Rotated {
    /// The file that was made.
    pub file: PathBuf,
    /// What it holds.
    #[serde(flatten)]
    pub copied: Copied,
    /// Whether only a private key opens it.
    pub encrypted: bool,
    /// Names of the older ones that were removed by the rule.
    pub removed: Vec<String>,
    /// How many are in the directory now.
    pub kept: usize,
}

/// The last good backup.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct LastBackup {
    /// When it was made.
    pub made: Timestamp,
    /// The file, where it was then.
    pub file: String,
    /// Whether only a private key opens it.
    pub encrypted: bool,
}

impl Journal {
    /// Makes a backup in a directory, reads it back whole, and only then removes those that the rule does not keep;
    /// none where the digests find a row that is not what it was.
    pub fn backup_by_rule(
        &self,
        directory: &Path,
        rule: &Backup,
        recipients: &Recipients,
        now: Timestamp,
    ) -> Result<Rotated, JournalError> {
        if !directory.is_dir() {
            return Err(JournalError::NoPlace {
                path: directory.to_owned(),
            });
        }
        let before = self.contents()?;
        // What was let go is in an older backup, and no reason to keep that.
        let gone = self.was_let_go()?.map_or(0, |gone| gone.frames);
        let rows = u64::try_from(before.frames + gone + before.statements).unwrap_or(0);
        let made = Made::new(now, rows, !recipients.is_nobody());
        let file = directory.join(&made.name);
        let copied = self.backup(&file, recipients)?;
        let cannot = |why: io::Error| NotWritten::new(directory, why);
        let all = found(directory).map_err(cannot)?;
        // Of a journal that is not what was written an older backup may be the better one.
        let gone = if copied.chain.holds() {
            superfluous(&all, &made, rule)
        } else {
            Vec::new()
        };
        for old in &gone {
            remove_if_there(&directory.join(&old.name)).map_err(cannot)?;
        }
        Ok(Rotated {
            file,
            copied,
            encrypted: !recipients.is_nobody(),
            kept: all.len() - gone.len(),
            removed: gone.into_iter().map(|old| old.name.clone()).collect(),
        })
    }

    /// Writes down that a backup is good. Whether it could be: a medium may be read-only, and whoever is not the
    /// journal's owner would leave files there that its owner cannot write.
    pub fn note_backup(state: &Path, made: Timestamp, rotated: &Rotated) -> Result<bool, JournalError> {
        let owner = fs::metadata(state.join(super::FILE_NAME)).map(|is| is.uid());
        if !owner.is_ok_and(|owner| owner == rustix::process::geteuid().as_raw()) {
            return Ok(false);
        }
        let noted = Self::open_existing(state).and_then(|journal| {
            journal.in_context(|db| {
                db.execute(
                    "INSERT OR REPLACE INTO good_backup (made_us, file, encrypted) VALUES (?1, ?2, ?3)",
                    params![
                        made.as_microsecond(),
                        rotated.file.to_string_lossy(),
                        rotated.encrypted
                    ],
                )
                .map(|_| ())
            })
        });
        match noted {
            Ok(()) => Ok(true),
            Err(error) if error.is_of_the_place() => Ok(false),
            Err(error) => Err(error),
        }
    }

    /// The last good backup, of those that were made by the rule.
    pub fn last_backup(&self) -> Result<Option<LastBackup>, JournalError> {
        self.in_context(|db| {
            db.query_row(
                "SELECT made_us, file, encrypted FROM good_backup ORDER BY made_us DESC LIMIT 1",
                [],
                |row| {
                    let made = Timestamp::from_microsecond(row.get(0)?)
                        .map_err(|e| rusqlite::Error::ToSqlConversionFailure(Box::new(e)))?;
                    Ok(LastBackup {
                        made,
                        file: row.get(1)?,
                        encrypted: row.get(2)?,
                    })
                },
            )
            .optional()
        })
    }

    /// Since when there is something to back up that is in no good backup: the last one, else the first statement.
    pub fn backed_up_until(&self) -> Result<Option<Timestamp>, JournalError> {
        if let Some(last) = self.last_backup()? {
            return Ok(Some(last.made));
        }
        let first: Option<i64> =
            self.in_context(|db| db.query_row("SELECT min(stated_us) FROM statement", [], |row| row.get(0)))?;
        Ok(first.and_then(|us| Timestamp::from_microsecond(us).ok()))
    }
}

/// The backups in a directory. A link, a directory and a file of any other name are none.
fn found(directory: &Path) -> io::Result<Vec<Made>> {
    let mut all = Vec::new();
    for entry in fs::read_dir(directory)? {
        let entry = entry?;
        let made = entry.file_name().to_str().and_then(Made::named);
        if let Some(made) = made
            && entry.file_type()?.is_file()
        {
            all.push(made);
        }
    }
    Ok(all)
}
