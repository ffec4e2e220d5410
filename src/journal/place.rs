//! Where the journal lies, and how long one waits for it.

use super::JournalError;
use crate::whole::with_end;
use std::fs;
use std::path::{Path, PathBuf};

/// The file's name inside the state directory.
pub const FILE_NAME: &str = "journal.sqlite";

/// Where the new journal waits until the old one is put aside.
pub(super) fn waiting(state: &Path) -> PathBuf {
    state.join("journal.recovered.sqlite")
}

/// What the names of the files that hold a journal end in: itself, and the log of what is not in it yet.
pub(super) const SIDES: [&str; 3] = ["", "-wal", "-journal"];

/// A journal that is opened without its log, or a log that is taken for that of another, is a journal that lacks
/// frames.
pub(super) fn nothing_is_half_done(state: &Path) -> Result<(), JournalError> {
    let path = state.join(FILE_NAME);
    if waiting(state).exists() {
        return Err(JournalError::HalfRecovered { path });
    }
    no_log_alone(&path)
}

/// Where the journal is, if it is there whole.
pub(super) fn is_there(state: &Path) -> Result<PathBuf, JournalError> {
    nothing_is_half_done(state)?;
    let path = state.join(FILE_NAME);
    match fs::metadata(&path) {
        Ok(_) => Ok(path),
        Err(source) if source.kind() == std::io::ErrorKind::NotFound => Err(JournalError::Missing { path }),
        Err(source) => Err(JournalError::cannot_read(&path, &source)),
    }
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
