//! From frames and statements to readings, sessions and judgements: everything in the file that is derived.
//!
//! The core does the thinking; this file decides how much of it has to be done again. What a new frame changes is its
//! own connection and those behind it of the same monitor, and so does a statement about one reading; of the judgements
//! only the sittings that readings joined or left. So a new reading costs the same with a thousand readings behind it
//! as with a million, and throwing everything away and settling again gives the same rows.

mod connections;
mod judge;
mod reach;
mod settlement;
mod world;

pub use settlement::Settlement;
pub(super) use world::gateway;

use super::basis::Basis;
use super::error::is_about_a_value;
use super::{Journal, JournalError, derived};
use crate::household::Statement;
use judge::Spots;
use reach::DerivedReach;
use rusqlite::{Connection as Db, Transaction, TransactionBehavior};
use std::collections::BTreeSet;
use world::World;

impl Journal {
    /// Brings everything derived up to date with the frames and statements.
    pub fn settle(&mut self) -> Result<Settlement, JournalError> {
        let (settlement, because) = self.settle_because()?;
        if let Some(because) = because {
            let path = self.path.display();
            tracing::info!("{path}: every reading was made anew, because this changed: {because}");
        }
        Ok(settlement)
    }

    /// The same, and where all that had been derived rested on something else, on what.
    pub(super) fn settle_because(&mut self) -> Result<(Settlement, Option<String>), JournalError> {
        if self.is_settled()? {
            return Ok((Settlement::default(), None));
        }
        // From here on nobody else writes: what is read belongs together.
        let transaction = Transaction::new_unchecked(&self.db, TransactionBehavior::Immediate)
            .map_err(|e| JournalError::from_sqlite(&self.path, e))?;
        let (reach, due) = (
            self.in_context(DerivedReach::stands)?,
            self.in_context(DerivedReach::due)?,
        );
        let (rested, rests) = (self.in_context(Basis::kept)?, Basis::here());
        let stated = self.stated_alone()?;
        let world = self.in_context(|db| World::of(db, stated))?;
        let settlement = self.in_context(|db| {
            let settlement = match world.settle(db, reach, due, rested != *rests) {
                // What was derived before cannot be read: it is made anew with the rest.
                Err(error) if is_about_a_value(&error) => {
                    let path = self.path.display();
                    tracing::warn!(
                        "{path}: {error} in what was derived; all of it is made anew from the frames"
                    );
                    world.settle(db, DerivedReach::default(), due, true)?
                }
                settled => settled?,
            };
            due.write(db)?;
            rests.write(db)?;
            Ok(settlement)
        })?;
        self.in_context(|_| transaction.commit())?;
        let anew = rested != *rests && reach.frames > 0;
        Ok((settlement, anew.then(|| rests.since(&rested))))
    }

    /// Whether everything derived is up to date.
    pub(super) fn is_settled(&self) -> Result<bool, JournalError> {
        Ok(
            self.in_context(DerivedReach::stands)? == self.in_context(DerivedReach::due)?
                && self.in_context(Basis::kept)? == *Basis::here(),
        )
    }

    /// Throws away everything derived and makes it again.
    pub fn rebuild(&mut self) -> Result<Settlement, JournalError> {
        self.in_context(|db| db.execute_batch("DELETE FROM settled"))?;
        self.settle()
    }
}

impl World {
    fn settle(
        &self,
        db: &Db,
        reach: DerivedReach,
        due: DerivedReach,
        rests_elsewhere: bool,
    ) -> rusqlite::Result<Settlement> {
        let mut settlement = Settlement::default();
        let mut spots = Spots::new();
        let new = self.stated.since(reach.statements);
        let nothing_yet = reach.frames == 0;
        let moved = rests_elsewhere
            || (reach.samples != due.samples && self.receipts_moved(db, reach)?)
            || new.iter().any(|row| settles_anew(&row.statement));
        let mut reach = reach;
        if moved && !nothing_yet || rests_elsewhere || reach == DerivedReach::default() {
            derived::clear(db)?;
            reach.frames = 0;
            settlement.rebuilt = true;
        } else {
            for row in new {
                self.judges_anew(db, &row.statement, &mut spots)?;
            }
        }
        // After a clearing every frame is news, and there is no reading yet to look for.
        let about = new.iter().filter_map(|row| reading_of(&row.statement));
        let about: BTreeSet<&str> = about.collect();
        for (monitor, addresses, from) in self.monitors_with_news(db, reach, &about)? {
            // Judged while what was written is still at hand. A sitting that another monitor has a part in is judged
            // again behind that one.
            let mut its_spots = Spots::new();
            self.settle_monitor(db, &monitor, &addresses, from, &mut its_spots, &mut settlement)?;
            self.judge(db, &its_spots)?;
        }
        self.judge(db, &spots)?;
        Ok(settlement)
    }
}

/// The one reading that a statement is about.
fn reading_of(statement: &Statement) -> Option<&str> {
    match statement {
        Statement::Assigned { reading, .. }
        | Statement::Timed { reading, .. }
        | Statement::Discarded { reading, .. }
        | Statement::ReadingKind { reading, .. } => Some(reading),
        _ => None,
    }
}

/// Whether a statement can change what many readings are: their time, their person, their monitor.
fn settles_anew(statement: &Statement) -> bool {
    match statement {
        Statement::Zone { .. }
        | Statement::Monitor { .. }
        | Statement::MonitorAt { .. }
        | Statement::UserIndex { .. }
        | Statement::UsualPerson { .. } => true,
        Statement::Assigned { .. }
        | Statement::Timed { .. }
        | Statement::Discarded { .. }
        | Statement::ReadingKind { .. }
        | Statement::Person { .. }
        | Statement::PersonChanged { .. }
        | Statement::PersonRemoved { .. }
        | Statement::MonitorForgotten { .. }
        | Statement::MonitorForgottenAt { .. }
        | Statement::Note { .. }
        | Statement::NoteWithdrawn { .. }
        | Statement::AlertAnswered { .. }
        | Statement::Calls { .. }
        | Statement::Released { .. }
        | Statement::ReleaseWithdrawn { .. }
        | Statement::ClinicProtocol { .. }
        | Statement::Period { .. } => false,
    }
}
