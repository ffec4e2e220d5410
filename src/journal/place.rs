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
