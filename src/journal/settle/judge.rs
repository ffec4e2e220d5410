//! Judges sittings: those that readings joined or left, and those that a statement bears on.

use super::world::World;
use crate::household::{PersonId, Statement};
use crate::journal::derived::{self, ReadingRow};
use crate::monitoring::protocol::Protocol;
use crate::sitting::{self, SITTING_GAP, SessionRule, Windows};
use crate::technique::{self, Context, NOTES_AHEAD, NOTES_BACK};
use jiff::Timestamp;
use rusqlite::Connection as Db;
use std::collections::{BTreeMap, BTreeSet};

/// Spots of one person that lie closer together than this are judged in one go. A day keeps the queries few in a
/// replay of years without reading much that did not change.
const TOGETHER_US: i64 = 86_400_000_000;

/// Spans of time in which a person's readings have to be judged anew.
pub(super) type Spots = BTreeMap<PersonId, BTreeSet<i64>>;

impl World {
    /// Judges the sittings around these spots.
    pub(super) fn judge(&self, db: &Db, spots: &Spots) -> rusqlite::Result<()> {
        let gap = i64::try_from(SITTING_GAP.as_micros()).unwrap_or(i64::MAX);
        for (person, spots) in spots {
            let mut spots = spots.iter().copied().peekable();
            while let Some(first) = spots.next() {
                let mut last = first;
                while let Some(next) = spots.next_if(|next| next - last <= TOGETHER_US) {
                    last = next;
                }
                let (from, to) = derived::widen(db, person, first, last, gap)?;
                derived::forget_sessions(db, person, from, to)?;
                let mut sitting: Vec<ReadingRow> = Vec::new();
                let mut failed = Ok(());
                derived::readings_between(db, person, from, to, |spot| {
                    let goes_on = sitting.last().is_none_or(|before| {
                        let between = before.reading.time.at.zip(spot.reading.time.at);
                        between.is_some_and(|(before, after)| after.duration_since(before) <= SITTING_GAP)
                    });
                    if !goes_on {
                        failed = self.judge_sitting(db, &sitting);
                        sitting.clear();
                    }
                    sitting.push(spot);
                    failed.is_ok()
                })?;
                failed?;
                self.judge_sitting(db, &sitting)?;
            }
        }
        Ok(())
    }

    pub(super) fn judge_sitting(&self, db: &Db, sitting: &[ReadingRow]) -> rusqlite::Result<()> {
        if sitting.is_empty() {
            return Ok(());
        }
        let readings: Vec<_> = sitting.iter().map(|spot| spot.reading.clone()).collect();
        debug_assert!(readings.is_sorted_by(|a, b| sitting::order(a, b).is_le()));
        let first = sitting.first().map(|spot| &spot.reading);
        let at = first
            .and_then(|reading| reading.time.at.or(Some(reading.received_at)))
            .unwrap_or_default();
        let context = Context {
            household: &self.stated.household,
            notes: &self.stated.notes,
            zone: self.stated.zones.at(at),
            rule: self.rule_of(first.and_then(|reading| reading.person.as_ref()), at),
        };
        let judged = technique::judge(&readings, &context);
        for (spot, judgement) in sitting.iter().zip(&judged.judgements) {
            derived::write_judgement(db, spot.row, judgement, judged.session.as_ref())?;
        }
        if let Some(session) = &judged.session {
            derived::write_session(db, session)?;
        }
        Ok(())
    }

    /// What a session of that moment is judged by: the protocol of the period that it falls in, else the person's own.
    fn rule_of(&self, person: Option<&PersonId>, at: Timestamp) -> SessionRule {
        let details = person.and_then(|person| self.stated.person(person));
        let windows = Windows::of(details);
        let day = windows.measuring_day(self.stated.zones.civil(at));
        let planned = person
            .and_then(|person| self.stated.plans(person).iter().find(|plan| plan.covers(day)))
            .map(|plan| plan.protocol.as_str());
        let own = details.and_then(|person| person.protocol.as_deref());
        planned
            .or(own)
            .and_then(|name| self.stated.protocols.get(name).ok())
            .map_or_else(SessionRule::default, Protocol::session_rule)
    }

    /// A statement that changes no reading may still change how some are judged.
    pub(super) fn judges_anew(
        &self,
        db: &Db,
        statement: &Statement,
        spots: &mut Spots,
    ) -> rusqlite::Result<()> {
        match statement {
            // One stated again is elsewhere now, one taken back was where it was stated.
            Statement::Note { note, .. } | Statement::NoteWithdrawn { note } => {
                let span = |d: jiff::SignedDuration| i64::try_from(d.as_micros()).unwrap_or(i64::MAX);
                for row in self.stated.rows() {
                    let Statement::Note {
                        note: same,
                        person,
                        at,
                        ..
                    } = &row.statement
                    else {
                        continue;
                    };
                    if same != note {
                        continue;
                    }
                    let from = at.as_microsecond() - span(NOTES_AHEAD);
                    let to = at.as_microsecond() + span(NOTES_BACK);
                    let whose = match person {
                        Some(person) => vec![person.clone()],
                        None => derived::people(db)?,
                    };
                    for person in whose {
                        let times = spots.entry(person.clone()).or_default();
                        derived::times_between(db, &person, from, to, times)?;
                    }
                }
            }
            Statement::Person { person, .. }
            | Statement::PersonChanged { person, .. }
            | Statement::PersonRemoved { person }
            | Statement::Period { person, .. } => {
                self.judges_all_of(db, person, spots)?;
            }
            Statement::ClinicProtocol { .. } => {
                for person in derived::people(db)? {
                    self.judges_all_of(db, &person, spots)?;
                }
            }
            _ => {}
        }
        Ok(())
    }

    fn judges_all_of(&self, db: &Db, person: &PersonId, spots: &mut Spots) -> rusqlite::Result<()> {
        let times = spots.entry(person.clone()).or_default();
        derived::times_between(db, person, i64::MIN, i64::MAX, times)?;
        for spot in derived::undated(db, person)? {
            self.judge_sitting(db, &[spot])?;
        }
        Ok(())
    }
}
