//! What the scenes of many people rest on, asked for once.
//!
//! An alert may rest on a reading of a month ago. Of most people no reading of that month can raise one, which their
//! numbers say; then the readings of a day are enough, and a house of many costs little more than a family.

use crate::home::live::Book;
use crate::household::{Note, PersonId};
use crate::journal::{AlertEntry, JournalError};
use crate::monitoring::escalation::Numbers;
use crate::monitoring::next::{READINGS_BACK, SESSIONS_BACK};
use crate::reading::Reading;
use crate::technique::JudgedReading;
use jiff::Timestamp;
use std::collections::{BTreeMap, BTreeSet};

/// What is asked for once, and belongs to every person's scene.
pub(in crate::home::page) struct Everybodys<'a> {
    /// Recent readings that are nobody's.
    pub(super) nobodys: Vec<Reading>,
    /// What must not wait and could not be told.
    undelivered: Vec<AlertEntry>,
    /// Those of whom nothing of their own can have to be told, each with the readings of a day.
    quiet: BTreeMap<&'a PersonId, Vec<JudgedReading>>,
}

impl<'a> Everybodys<'a> {
    /// Of these people.
    pub(in crate::home::page) fn of(
        book: &mut Book,
        people: &[&'a PersonId],
        now: Timestamp,
    ) -> Result<Self, JournalError> {
        let known = book.known()?;
        let since = now.checked_sub(READINGS_BACK).ok();
        let nobodys = book.journal.readings_to_watch(None, since)?;
        let quiet = match (since, now.checked_sub(SESSIONS_BACK)) {
            (Some(since), Ok(lately)) if people.len() > 1 => {
                let felt: BTreeSet<&PersonId> = known
                    .notes
                    .iter()
                    .filter(|note| note.at >= since && matches!(note.what, Note::Symptoms { .. }))
                    .filter_map(|note| note.person.as_ref())
                    .collect();
                let people: Vec<_> = people.iter().copied().filter(|one| !felt.contains(one)).collect();
                let can_raise = |person: &PersonId, numbers: Numbers| {
                    let details = known.household.people.get(person);
                    numbers.can_raise(details.map(|(details, _)| details))
                };
                book.journal
                    .quiet_since(&people, (since, lately, now), can_raise)?
            }
            _ => BTreeMap::new(),
        };
        Ok(Self {
            nobodys: nobodys.into_iter().map(|judged| judged.reading).collect(),
            undelivered: book.journal.undelivered()?,
            quiet,
        })
    }

    /// The same, with a whole month of each.
    pub(super) fn in_full(self) -> Self {
        Self {
            quiet: BTreeMap::new(),
            ..self
        }
    }

    /// A person's readings, as far as what they should do now rests on them.
    pub(super) fn recent(
        &self,
        book: &mut Book,
        person: &PersonId,
        now: Timestamp,
    ) -> Result<Vec<JudgedReading>, JournalError> {
        match self.quiet.get(person) {
            Some(readings) => Ok(readings.clone()),
            None => book
                .journal
                .readings_to_watch(Some(person), now.checked_sub(READINGS_BACK).ok()),
        }
    }

    /// Ways by which something that must not wait could not be told about this person, or about nobody's readings.
    pub(super) fn undelivered(&self, person: &PersonId) -> Vec<(String, Timestamp)> {
        let mut ways: Vec<(String, Timestamp)> = Vec::new();
        for entry in &self.undelivered {
            let mut parts = entry.key.split('/').skip(1);
            let theirs = parts
                .next()
                .is_some_and(|who| who == "-" || who == person.as_str());
            if theirs && !ways.iter().any(|(route, _)| *route == entry.route) {
                ways.push((entry.route.clone(), entry.since));
            }
        }
        ways
    }
}
