//! Whose readings change hands: what a statement about a monitor's numbers would move, before it is made, and what
//! ends when a person is removed.

use super::settle::gateway;
use super::{Journal, JournalError};
use crate::household::{Household, Mapping, MonitorId, PersonId, Statement};
use crate::reading::owner::{self, Claim};
use crate::reading::{ReadingId, TimeSource};
use jiff::Timestamp;
use rusqlite::{Row, params};
use std::collections::{BTreeMap, BTreeSet};

/// What statements about the numbers of monitors would move.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub struct Moves {
    /// How many readings each person would lose.
    pub from: BTreeMap<PersonId, u64>,
    /// How many of these would be nobody's, although their number is somebody's: they may be from before it changed
    /// hands, or from after that.
    pub doubted: u64,
    /// How many readings that are nobody's would be somebody's.
    pub found: u64,
}

impl Moves {
    /// How many readings would be taken from somebody.
    pub fn taken(&self) -> u64 {
        self.from.values().sum()
    }
}

/// A reading as far as it matters whose it is.
struct Owned {
    id: ReadingId,
    at: Option<Timestamp>,
    source: TimeSource,
    received_at: Timestamp,
    boot: Option<String>,
    user_id: Option<u8>,
    given_to: Option<PersonId>,
    person: Option<PersonId>,
}

impl Journal {
    /// What these statements would move. A person from whom one of the numbers goes to somebody else stands in it also
    /// where none of their readings moves; who hands one back does not.
    pub fn moves(&mut self, statements: &[Statement]) -> Result<Moves, JournalError> {
        self.settle()?;
        let before = self.household()?;
        let mut after = before.clone();
        let mut moves = Moves::default();
        let mut monitors: BTreeSet<&MonitorId> = BTreeSet::new();
        for statement in statements {
            after.apply(statement);
            if let Some((monitor, mapping, from, person)) = handed_over(&before, statement) {
                monitors.insert(monitor);
                let others = mapping.into_iter().flat_map(|mapping| {
                    let hands_back = person.is_none().then(|| mapping.at(from)).flatten();
                    mapping.others(from, person.or(hands_back))
                });
                for other in others {
                    moves.from.entry(other.clone()).or_default();
                }
            }
        }
        let gateway = self.in_context(gateway)?;
        for monitor in monitors {
            for reading in self.owned(monitor)? {
                let claim = Claim {
                    monitor,
                    given_to: reading.given_to.as_ref(),
                    user_id: reading.user_id,
                    at: reading.at,
                    source: reading.source,
                    received_at: reading.received_at,
                    receipt_known: reading.boot.as_deref().is_none_or(|boot| gateway.knew_in(boot)),
                };
                let whose = owner::of(&after, &reading.id, claim);
                match reading.person {
                    Some(person) if whose != Some(&person) => {
                        *moves.from.entry(person).or_default() += 1;
                        moves.doubted += u64::from(owner::is_doubted(&after, &claim));
                    }
                    None if whose.is_some() => moves.found += 1,
                    _ => {}
                }
            }
        }
        Ok(moves)
    }

    /// Removes a person from the lists. Their readings stay theirs; the numbers of the monitors that mean them are
    /// nobody's from now on, and the keys to the page that are theirs alone open nothing any more. How many keys that
    /// were.
    pub fn remove_person(&mut self, person: &PersonId, now: Timestamp) -> Result<usize, JournalError> {
        let withdrawn = self.withdraw_keys_of(person, now)?;
        let household = self.household()?;
        let mut statements = vec![Statement::PersonRemoved {
            person: person.clone(),
        }];
        let theirs = |mapping: &Mapping| mapping.at(now) == Some(person);
        let numbers = household
            .user_indexes
            .iter()
            .filter(|(_, mapping)| theirs(mapping));
        statements.extend(numbers.map(|((monitor, user_id), _)| Statement::UserIndex {
            monitor: monitor.clone(),
            user_id: *user_id,
            person: None,
            from: Some(now),
        }));
        let usual = household.usual.iter().filter(|(_, mapping)| theirs(mapping));
        statements.extend(usual.map(|(monitor, _)| Statement::UsualPerson {
            monitor: monitor.clone(),
            person: None,
            from: Some(now),
        }));
        self.state(now, &statements)?;
        Ok(withdrawn)
    }

    /// Withdraws every key that is for this person alone, and says how many.
    pub fn withdraw_keys_of(&mut self, person: &PersonId, now: Timestamp) -> Result<usize, JournalError> {
        let keys = self.keys()?;
        let theirs = keys
            .iter()
            .filter(|key| key.people.as_slice() == std::slice::from_ref(person) && key.opens(now));
        let mut withdrawn = 0;
        for key in theirs {
            withdrawn += usize::from(self.withdraw_key(&key.id, now)?);
        }
        Ok(withdrawn)
    }

    /// The user numbers that a monitor has sent, or that somebody has been given.
    pub fn numbers_of(&self, monitor: &MonitorId) -> Result<Vec<u8>, JournalError> {
        let sent: Vec<u8> = self.in_context(|db| {
            db.prepare_cached(
                "SELECT DISTINCT user_id FROM reading WHERE monitor = ?1 AND user_id IS NOT NULL",
            )?
            .query_map(params![monitor.as_str()], |row| row.get(0))?
            .collect()
        })?;
        let household = self.household()?;
        let given = household.user_indexes.keys().filter(|(of, _)| of == monitor);
        let numbers: BTreeSet<u8> = sent.into_iter().chain(given.map(|(_, number)| *number)).collect();
        Ok(numbers.into_iter().collect())
    }

    fn owned(&self, monitor: &MonitorId) -> Result<Vec<Owned>, JournalError> {
        self.in_context(|db| {
            db.prepare_cached(
                "SELECT reading.id, measured_us, reading.received_us, user_id, given_to, person, time_source, boot
                 FROM reading JOIN frame ON frame.id = reading.frame WHERE reading.monitor = ?1",
            )?
            .query_map(params![monitor.as_str()], owned)?
            .collect()
        })
    }
}

/// The number that a statement hands to somebody: its monitor, who had it, from when, and who gets it.
fn handed_over<'a>(
    household: &'a Household,
    statement: &'a Statement,
) -> Option<(
    &'a MonitorId,
    Option<&'a Mapping>,
    Timestamp,
    Option<&'a PersonId>,
)> {
    let (monitor, mapping, from, person) = match statement {
        Statement::UserIndex {
            monitor,
            user_id,
            person,
            from,
        } => (
            monitor,
            household.user_indexes.get(&(monitor.clone(), *user_id)),
            from,
            person,
        ),
        Statement::UsualPerson {
            monitor,
            person,
            from,
        } => (monitor, household.usual.get(monitor), from, person),
        _ => return None,
    };
    Some((monitor, mapping, from.unwrap_or(Timestamp::MIN), person.as_ref()))
}

fn owned(row: &Row<'_>) -> rusqlite::Result<Owned> {
    let wrong = |error: Box<dyn std::error::Error + Send + Sync>| {
        rusqlite::Error::FromSqlConversionFailure(0, rusqlite::types::Type::Text, error)
    };
    let person = |text: Option<String>| text.map(PersonId::try_from).transpose();
    let moment = |us: i64| Timestamp::from_microsecond(us).map_err(|e| wrong(Box::new(e)));
    Ok(Owned {
        id: ReadingId(row.get(0)?),
        at: row.get::<_, Option<i64>>(1)?.map(moment).transpose()?,
        source: row.get(6)?,
        received_at: moment(row.get(2)?)?,
        boot: row.get(7)?,
        user_id: row.get(3)?,
        given_to: person(row.get(4)?).map_err(|e| wrong(Box::new(e)))?,
        person: person(row.get(5)?).map_err(|e| wrong(Box::new(e)))?,
    })
}
