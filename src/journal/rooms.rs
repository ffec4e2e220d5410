//! Which monitors are paired at which listener: as it was stated, and where nobody stated it, as they came. Somebody who
//! pairs a monitor at the listener itself has the record know it with its first frame.
//!
//! Nothing is derived from what was not stated. So whoever states something about such a monitor has it stated before
//! what it is.

use super::{Journal, JournalError, schema};
use crate::frame::Frame;
use crate::household::{Household, Monitor, MonitorAddress, MonitorId, Statement};
use rusqlite::{Connection, params};
use std::collections::BTreeSet;

/// Monitors that one listener may bring by their frames alone: more than a house of many has.
const OF_ONE_LISTENER_MAX: u32 = 256;

/// Keeps which monitors these frames of a listener came from; one that it only overheard is not paired there.
pub(super) fn keep_rooms<'a>(
    db: &Connection,
    listener: &str,
    frames: impl Iterator<Item = &'a Frame>,
) -> rusqlite::Result<()> {
    let told: BTreeSet<&MonitorAddress> = frames
        .filter(|frame| !frame.overheard)
        .map(|frame| &frame.monitor)
        .collect();
    let mut keep = db.prepare_cached(
        "INSERT INTO room (listener, monitor) SELECT ?1, ?2
         WHERE (SELECT count(*) FROM room WHERE listener = ?1) < ?3 ON CONFLICT DO NOTHING",
    )?;
    for monitor in told {
        keep.execute(params![listener, monitor.as_str(), OF_ONE_LISTENER_MAX])?;
    }
    Ok(())
}

impl Journal {
    /// What changes whenever a monitor comes by a listener for the first time, or another listener stands; nothing where
    /// no listener was ever let in.
    pub(super) fn rooms_seen(&self) -> Result<Option<String>, JournalError> {
        // A file is read as it is, too.
        if self.version()? < schema::ROOMED {
            return Ok(None);
        }
        self.in_context(|db| {
            db.prepare_cached(
                "SELECT (SELECT coalesce(max(id), 0) FROM room) || ' '
                        || (SELECT coalesce(group_concat(id, ' '), '') FROM listener WHERE withdrawn_us IS NULL)
                 WHERE EXISTS (SELECT 1 FROM listener)",
            )?
            .query_map([], |row| row.get(0))?
            .next()
            .transpose()
        })
    }

    /// The listeners that were not withdrawn.
    pub(super) fn standing(&self) -> Result<BTreeSet<String>, JournalError> {
        self.in_context(|db| {
            db.prepare_cached("SELECT id FROM listener WHERE withdrawn_us IS NULL")?
                .query_map([], |row| row.get(0))?
                .collect()
        })
    }

    /// By which listener which monitors came, as long as it stands.
    pub(super) fn rooms(&self) -> Result<Vec<(String, MonitorAddress)>, JournalError> {
        let rows: Vec<(String, String)> = self.in_context(|db| {
            db.prepare_cached(
                "SELECT listener, monitor FROM room JOIN listener ON listener.id = room.listener
                 WHERE withdrawn_us IS NULL ORDER BY room.id",
            )?
            .query_map([], |row| Ok((row.get(0)?, row.get(1)?)))?
            .collect()
        })?;
        let rooms = rows.into_iter();
        Ok(rooms
            .filter_map(|(listener, monitor)| Some((listener, monitor.parse().ok()?)))
            .collect())
    }

    /// What is known of a monitor. Of one that is paired elsewhere its own frames tell what nobody stated.
    pub fn described(&self, household: &Household, id: &MonitorId) -> Result<Monitor, JournalError> {
        let Some((stated, _)) = household.monitors.get(id) else {
            return Ok(Monitor::default());
        };
        match &stated.address {
            Some(address) if !household.here.contains(id) => {
                let facts = self.newest_lately(address)?.into_iter();
                let facts = facts.map(|(characteristic, frame)| (characteristic, frame.value));
                Ok(stated.clone().filled_by(Monitor::told(&facts.collect())))
            }
            _ => Ok(stated.clone()),
        }
    }

    /// Statements, and before them what the monitors are that they name and that nobody has stated.
    pub(super) fn introduced(&self, statements: &[Statement]) -> Result<Vec<Statement>, JournalError> {
        let mut all = Vec::with_capacity(statements.len());
        if self.rooms_seen()?.is_some() {
            let household = &self.stated()?.household;
            let named: BTreeSet<&MonitorId> = statements.iter().filter_map(named).collect();
            for monitor in named.intersection(&household.met.iter().collect()) {
                if let Some(listener) = household.rooms_of(monitor).next() {
                    let told = self.described(household, monitor)?;
                    all.push(household.paired_at((*monitor).clone(), listener, told));
                }
            }
        }
        all.extend_from_slice(statements);
        Ok(all)
    }
}

/// The monitor that a statement says something about.
const fn named(statement: &Statement) -> Option<&MonitorId> {
    match statement {
        Statement::UserIndex { monitor, .. } | Statement::UsualPerson { monitor, .. } => Some(monitor),
        Statement::Note { monitor, .. } => monitor.as_ref(),
        _ => None,
    }
}
