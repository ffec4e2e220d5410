//! What can go wrong with the file, in sentences for the person who runs it.

use crate::whole::{NotWritten, reason, shown};
use rusqlite::ErrorCode;
use rustix::fs::StatVfsMountFlags;
use std::path::{Path, PathBuf};
use std::time::Duration;

/// How long a statement waits for another process's transaction. A replay of a long capture commits far more often.
pub(super) const BUSY_TIMEOUT: Duration = Duration::from_secs(10);

/// A journal that cannot be opened, read or written.
#[derive(Debug, thiserror::Error)]
pub enum JournalError {
    /// There is no journal in the state directory.
    #[error("there is no journal at {}; run `quietcuff replay FILE` or `quietcuff run` first, or name another directory with `--state`", path.display())]
    Missing {
        /// Where it was looked for.
        path: PathBuf,
    },
    /// The file is no journal, or its first page is damaged.
    #[error("{} is not a quietcuff journal, or its first page is damaged; it was left as it is. If it was one, `quietcuff recover` saves what can be read; else move it away, or name another directory with `--state`", path.display())]
    NotAJournal {
        /// File that was opened: the journal, or a backup.
        path: PathBuf,
    },
    /// The file was written by a later version.
    #[error("{} has schema version {version}, and this program knows versions up to {known}; install the newer quietcuff again", path.display())]
    Newer {
        /// File that was opened: the journal, or a backup.
        path: PathBuf,
        /// Schema version that the file's `PRAGMA user_version` gives.
        version: i64,
        /// Newest schema version that this program knows.
        known: usize,
    },
    /// A file or directory cannot be made, opened or read.
    #[error("cannot create {}: {what}; create the directory or name another with `--state`", path.display())]
    CannotCreate {
        /// File or directory that was to be made or opened.
        path: PathBuf,
        /// The system's reason.
        what: String,
    },
    /// A file that was named to be read cannot be read, or is none.
    #[error("cannot read {}: {what}; check the name", shown(path))]
    CannotRead {
        /// What was named.
        path: PathBuf,
        /// The system's reason, or what it is in place of a file.
        what: String,
    },
    /// A copy cannot be written.
    #[error(transparent)]
    NotWritten(#[from] NotWritten),
    /// A copy was to go into a pipe or a device.
    #[error(
        "{} is not a file, and a backup is one; name a file, and copy that",
        shown(path)
    )]
    NoFile {
        /// Pipe or device that was named for the copy.
        path: PathBuf,
    },
    /// The system refused permission.
    #[error("no permission for {}: {what}; run as the user that owns it (`ls -l` shows who), or name another directory with `--state`", path.display())]
    NoPermission {
        /// File or directory that was refused.
        path: PathBuf,
        /// The system's reason.
        what: String,
    },
    /// The file system is mounted so that nothing can be written.
    #[error("{} is on a file system that is read-only, so that nothing new can be kept; what is there can be read. `findmnt` shows how it is mounted, `dmesg` says whether the disk is why", path.display())]
    ReadOnly {
        /// File or directory that was to be written.
        path: PathBuf,
    },
    /// The disk is full.
    #[error("no space left to write {}; what was committed before is safe. Free some space, then start again", path.display())]
    DiskFull {
        /// File or directory that was to be written.
        path: PathBuf,
    },
    /// The system failed to read or write (`SQLITE_IOERR`).
    #[error("{}: {what}. What was committed before is safe. `dmesg` shows what the disk says, `ulimit -f` how large a file may be", path.display())]
    Refused {
        /// File that was read or written.
        path: PathBuf,
        /// SQLite's words for the error.
        what: String,
    },
    /// What the file holds is not what was written.
    #[error("{} is damaged: {what}. Stop what uses it, then `quietcuff recover` makes a new journal of what can be read and keeps this file; or `quietcuff restore FILE` a backup", path.display())]
    Damaged {
        /// The journal, a backup, or the copy that was being made.
        path: PathBuf,
        /// SQLite's words for the damage, or what a check of ours found, such as missing tables.
        what: String,
    },
    /// A recovery that would save nothing.
    #[error("not one {what} can be read of {}, and nobody knows how many it held; it was left as it is. `quietcuff restore FILE` puts a backup in place once the file is moved away; without a backup, `quietcuff recover --accept-empty` goes on with what little there is", path.display())]
    NothingSaved {
        /// The damaged journal.
        path: PathBuf,
        /// `frame` or `statement`.
        what: &'static str,
    },
    /// There is something already where a file would go.
    #[error("{} is there already, and was left as it is; move it away, or name another directory with `--state`", path.display())]
    InTheWay {
        /// File that stands where the new one would go.
        path: PathBuf,
    },
    /// Output would take the journal's own place.
    #[error("{} belongs to the journal; name another file", shown(path))]
    ItsOwn {
        /// Path that was named for the output, links followed.
        path: PathBuf,
    },
    /// There is no file to restore.
    #[error("there is no backup at {}; check its name", path.display())]
    NoBackup {
        /// Where it was looked for.
        path: PathBuf,
    },
    /// A backup is encrypted, and no private key that was given opens it.
    #[error("{} is encrypted, and {why}; `--identity FILE` names a file with its private key, `--identity -` reads that from standard input", path.display())]
    Locked {
        /// The backup.
        path: PathBuf,
        /// Why it cannot be opened.
        why: String,
    },
    /// There is no directory for backups.
    #[error("there is no directory {} for backups; connect its disk, or make it, or name another with `--to`", path.display())]
    NoPlace {
        /// The directory that was named.
        path: PathBuf,
    },
    /// Another process holds a lock on the file for too long.
    #[error("{} is locked by another process for longer than {} s; wait for it to finish", path.display(), BUSY_TIMEOUT.as_secs())]
    Busy {
        /// File whose lock was waited for.
        path: PathBuf,
    },
    /// Another process has the journal open, which a recovery does not allow.
    #[error("{} is in use by another process; stop every quietcuff that runs (`systemctl stop 'quietcuff*'`), then try again", path.display())]
    InUse {
        /// The journal that was to be recovered.
        path: PathBuf,
    },
    /// A recovery was cut off between its last steps.
    #[error("a recovery of {} was cut off before the new journal took its place; `quietcuff recover` finishes it, and nothing is lost until then", path.display())]
    HalfRecovered {
        /// Where the journal has its place, whether it stands there or not.
        path: PathBuf,
    },
    /// A write-ahead log without the file that it belongs to.
    #[error("{} belongs to a journal that is not there any more, and holds its last frames; put that back beside it, or move both away together", path.display())]
    LogAlone {
        /// The log: `journal.sqlite-wal` or `journal.sqlite-journal`.
        path: PathBuf,
    },
    /// Something inside that this program did not write so.
    #[error("{}: row {row} of `{table}` cannot be read: {what}. If a newer quietcuff wrote it, install that again; else stop what uses the file, then `quietcuff recover` makes a new journal of all the others and keeps this file", path.display())]
    Row {
        /// Path of the journal.
        path: PathBuf,
        /// Name of the table.
        table: &'static str,
        /// Id of the row; 0 where it is not known which.
        row: i64,
        /// What is wrong with it.
        what: String,
    },
    /// Any other error of SQLite.
    #[error("{}: {source}", path.display())]
    Sqlite {
        /// File that was read or written.
        path: PathBuf,
        /// The error as SQLite gave it.
        source: rusqlite::Error,
    },
}

/// Whether nothing can be written where this file is, whoever tries.
fn is_read_only(path: &Path) -> bool {
    let there = path.ancestors().find(|above| above.exists());
    there.is_some_and(|there| {
        rustix::fs::statvfs(there).is_ok_and(|volume| volume.f_flag.contains(StatVfsMountFlags::RDONLY))
    })
}

/// Less than this free is a full disk: the shared memory beside a journal begins with it.
const ROOM_OCTETS_MIN: u64 = 32 * 1024;

fn is_full(path: &Path) -> bool {
    let volume = rustix::fs::statvfs(path);
    volume.is_ok_and(|volume| volume.f_bavail.saturating_mul(volume.f_frsize) < ROOM_OCTETS_MIN)
}

/// Whether an error came up where something was to be written.
fn writes(error: &rusqlite::Error) -> bool {
    use rusqlite::ffi::{SQLITE_IOERR_SHMOPEN, SQLITE_IOERR_SHMSIZE, SQLITE_IOERR_WRITE};
    let code = error.sqlite_error().map(|error| error.extended_code);
    [SQLITE_IOERR_SHMOPEN, SQLITE_IOERR_SHMSIZE, SQLITE_IOERR_WRITE]
        .iter()
        .any(|of_writing| code == Some(*of_writing))
}

/// Whether SQLite found nothing wrong, and a value is not of its kind all the same.
pub(super) const fn is_about_a_value(error: &rusqlite::Error) -> bool {
    matches!(
        error,
        rusqlite::Error::FromSqlConversionFailure(..)
            | rusqlite::Error::IntegralValueOutOfRange(..)
            | rusqlite::Error::InvalidColumnType(..)
            | rusqlite::Error::Utf8Error(..)
    )
}

impl JournalError {
    pub(super) fn cannot_create(path: &Path, source: &std::io::Error) -> Self {
        let (path, what) = (path.to_owned(), reason(source));
        match source.kind() {
            std::io::ErrorKind::PermissionDenied => Self::NoPermission { path, what },
            std::io::ErrorKind::StorageFull => Self::DiskFull { path },
            std::io::ErrorKind::ReadOnlyFilesystem => Self::ReadOnly { path },
            _ => Self::CannotCreate { path, what },
        }
    }

    pub(super) fn cannot_read(path: &Path, source: &std::io::Error) -> Self {
        match Self::cannot_create(path, source) {
            Self::CannotCreate { path, what } => Self::CannotRead { path, what },
            other => other,
        }
    }

    pub(super) fn from_sqlite(path: &Path, source: rusqlite::Error) -> Self {
        let path = path.to_owned();
        let what = source.to_string();
        match source.sqlite_error_code() {
            Some(ErrorCode::NotADatabase) => Self::NotAJournal { path },
            Some(ErrorCode::DiskFull) => Self::DiskFull { path },
            // The shared memory beside the journal cannot be made, which SQLite has no better word for.
            Some(ErrorCode::SystemIoFailure) if writes(&source) && is_full(&path) => Self::DiskFull { path },
            Some(ErrorCode::SystemIoFailure) => Self::Refused { path, what },
            Some(ErrorCode::DatabaseCorrupt) => Self::Damaged { path, what },
            Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => Self::Busy { path },
            Some(ErrorCode::ReadOnly | ErrorCode::CannotOpen) if is_read_only(&path) => {
                Self::ReadOnly { path }
            }
            Some(
                ErrorCode::PermissionDenied
                | ErrorCode::ReadOnly
                | ErrorCode::AuthorizationForStatementDenied,
            ) => Self::NoPermission { path, what },
            Some(ErrorCode::CannotOpen) => match std::fs::OpenOptions::new().append(true).open(&path) {
                Err(io) if io.kind() == std::io::ErrorKind::PermissionDenied => {
                    Self::NoPermission { path, what }
                }
                _ => Self::CannotCreate { path, what },
            },
            // A value that is not of its kind, where SQLite itself finds nothing wrong.
            None if is_about_a_value(&source) => Self::Damaged { path, what },
            _ => Self::Sqlite { path, source },
        }
    }

    /// Whether the disk, the medium or the directory takes nothing, whatever the journal itself is.
    pub(crate) const fn is_of_the_place(&self) -> bool {
        matches!(
            self,
            Self::CannotCreate { .. }
                | Self::NoPermission { .. }
                | Self::ReadOnly { .. }
                | Self::DiskFull { .. }
                | Self::Refused { .. }
        )
    }

    /// The exit code of sysexits that says the same.
    pub fn exit_code(&self) -> u8 {
        match self {
            Self::Missing { .. } | Self::NoBackup { .. } | Self::CannotRead { .. } => 66,
            Self::NotAJournal { .. }
            | Self::Newer { .. }
            | Self::Damaged { .. }
            | Self::NothingSaved { .. }
            | Self::HalfRecovered { .. }
            | Self::Row { .. } => 65,
            Self::CannotCreate { .. }
            | Self::NoFile { .. }
            | Self::NoPlace { .. }
            | Self::InTheWay { .. }
            | Self::LogAlone { .. }
            | Self::ItsOwn { .. } => 73,
            Self::NoPermission { .. } | Self::Locked { .. } => 77,
            Self::NotWritten(error) => error.exit_code(),
            Self::DiskFull { .. }
            | Self::ReadOnly { .. }
            | Self::Refused { .. }
            | Self::Busy { .. }
            | Self::InUse { .. }
            | Self::Sqlite { .. } => 74,
        }
    }
}
