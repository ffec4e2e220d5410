//! The page where nothing can be kept: the disk is full, or the medium read-only. What is there is read all the same,
//! and said beside it is that nothing new is kept. At each beat, and before something is to be kept, it is tried again.

use crate::journal::{Hand, Journal, JournalError};
use crate::keys::{Digest, Key};
use crate::monitoring::listening::{ListeningTrouble, Obstacle};
use jiff::Timestamp;
use std::collections::VecDeque;
use std::path::Path;

/// Sessions that are kept in memory; the oldest goes when there would be more. A household has fewer screens.
const GUESTS_MAX: usize = 32;

/// Why nothing can be kept.
struct Unkept {
    why: String,
    since: Timestamp,
}

/// Whether anything can be kept, and what could not be.
#[derive(Default)]
pub(crate) struct Aside {
    /// Then the journal is a private copy.
    unkept: Option<Unkept>,
    /// Sessions that cannot be written down: of each the digest of its secret, and the key it was opened with.
    guests: VecDeque<(Digest, String)>,
}

/// The journal for what the page may write.
fn open(state: &Path) -> Result<Journal, JournalError> {
    Journal::open(state)?.only_for(Hand::Page)
}

fn read_only(state: &Path, error: JournalError) -> Result<(Journal, Unkept), JournalError> {
    let Ok(journal) = Journal::read(state) else {
        return Err(error);
    };
    tracing::error!("{error}. The page shows what is there, and keeps nothing");
    let unkept = Unkept {
        why: error.to_string(),
        since: Timestamp::now(),
    };
    Ok((journal, unkept))
}

impl Aside {
    /// Opens the journal for writing; where its place takes nothing, for reading.
    pub(super) fn open(state: &Path) -> Result<(Journal, Self), JournalError> {
        match open(state) {
            Err(error) if error.is_of_the_place() => {
                let (journal, unkept) = read_only(state, error)?;
                let aside = Self {
                    unkept: Some(unkept),
                    ..Self::default()
                };
                Ok((journal, aside))
            }
            opened => Ok((opened?, Self::default())),
        }
    }

    pub(super) fn trouble(&self) -> Option<ListeningTrouble> {
        self.unkept.as_ref().map(|unkept| ListeningTrouble {
            what: Obstacle::Disk(unkept.why.clone()),
            since: Some(unkept.since),
        })
    }

    /// Settles what came; where the disk does not take that, goes on with a copy.
    pub(super) fn keep_up(&mut self, journal: &mut Journal, state: &Path) {
        if self.unkept.is_none()
            && let Err(error) = journal.settle()
            && error.is_of_the_place()
            && let Ok((copy, unkept)) = read_only(state, error)
        {
            *journal = copy;
            self.unkept = Some(unkept);
        }
    }

    /// Opens the journal for writing again, where it could not be written; else reads what others may have written.
    /// Whether there was a reason to.
    pub(super) fn try_to_keep(&mut self, journal: &mut Journal, state: &Path) -> bool {
        if self.unkept.is_none() {
            return false;
        }
        let again = open(state).and_then(|mut again| {
            again.settle()?;
            Ok(again)
        });
        if let Ok(again) = again {
            tracing::info!("the journal can be written again");
            (*journal, self.unkept) = (again, None);
        } else if let Ok(copy) = Journal::read(state) {
            *journal = copy;
        }
        true
    }

    /// Opens a session; where it cannot be written down, for as long as the page runs.
    pub(crate) fn begin_session(
        &mut self,
        journal: &mut Journal,
        digest: &Digest,
        key: &str,
        now: Timestamp,
    ) -> Result<(), JournalError> {
        match journal.begin_session(digest, key, now) {
            Err(error) if error.is_of_the_place() => {
                self.guests.truncate(GUESTS_MAX - 1);
                self.guests.push_front((*digest, key.to_owned()));
                Ok(())
            }
            begun => begun,
        }
    }

    /// The key that a session was opened with, while both hold.
    pub(crate) fn session_key(
        &self,
        journal: &Journal,
        digest: &Digest,
        now: Timestamp,
    ) -> Result<Option<Key>, JournalError> {
        if let Some(key) = journal.session_key(digest, now)? {
            return Ok(Some(key));
        }
        let Some((_, id)) = self.guests.iter().find(|(guest, _)| guest == digest) else {
            return Ok(None);
        };
        let now = journal.moment_for_keys(now)?;
        let keys = journal.keys()?;
        Ok(keys.into_iter().find(|key| key.id == *id && key.opens(now)))
    }

    /// Ends a session.
    pub(crate) fn end_session(&mut self, journal: &mut Journal, digest: &Digest) -> Result<(), JournalError> {
        let before = self.guests.len();
        self.guests.retain(|(guest, _)| guest != digest);
        if self.guests.len() < before {
            return Ok(());
        }
        journal.end_session(digest)
    }
}
