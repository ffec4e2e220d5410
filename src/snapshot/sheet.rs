//! The sheet of a period for those who file it: the same octets each time, as long as it says the same.
//!
//! It is made as of the moment from which all of it could be known: the end of its days, or the receipt of its last
//! reading where that came later. What was only so while somebody looked, such as a collector that does not run, is not
//! on it.

use super::faces::{NoFont, faces_for};
use super::period::{Asked, FindError, Found, TooMany, find};
use crate::export::report::{Paper, Report};
use crate::household::PersonId;
use crate::journal::Journal;
use crate::monitoring::plan::Plan;
use crate::monitoring::stated::Stated;
use crate::words::Language;
use jiff::Timestamp;
use jiff::civil::Time;
use sha2::{Digest, Sha256};
use std::sync::Arc;

/// The sheet of a period that is over.
#[derive(Debug)]
pub struct Filed {
    /// The period with everything that it was worked out from.
    pub found: Found,
    /// In which language it is written.
    pub language: Language,
    /// As of when it says what it says.
    pub made_at: Timestamp,
    /// When its first day began, and when its last ended.
    pub days: (Timestamp, Timestamp),
}

/// The reason why there is no sheet to file.
#[derive(Debug, thiserror::Error)]
pub enum NoSheet {
    /// There is no such period.
    #[error(transparent)]
    Find(#[from] FindError),
    /// More readings than a sheet can hold.
    #[error(transparent)]
    TooMany(#[from] TooMany),
    /// The machine has no font for it.
    #[error(transparent)]
    Font(#[from] NoFont),
}

impl Filed {
    /// Gathers the sheet of a plan.
    pub fn of_plan(
        journal: &mut Journal,
        stated: &Arc<Stated>,
        person: &PersonId,
        plan: &Plan,
        language: Language,
    ) -> Result<Self, FindError> {
        let asked = Asked {
            protocol: Some(plan.protocol.clone()),
            from: Some(plan.from),
            days: Some(plan.days),
        };
        let midnight = |day: jiff::civil::Date| stated.zones.instant(day.to_datetime(Time::midnight()));
        let first = midnight(plan.from).unwrap_or(Timestamp::MIN);
        let last = plan
            .to()
            .tomorrow()
            .ok()
            .and_then(midnight)
            .unwrap_or(Timestamp::MAX);
        let found = find(journal, stated, person, &asked, last)?;
        let within = plan.from..=plan.to();
        let received = found
            .history
            .readings
            .iter()
            .zip(&found.history.taken)
            .filter(|(_, taken)| within.contains(&taken.day))
            .map(|(judged, _)| judged.reading.received_at);
        let made_at = received.chain([last]).max().unwrap_or(last);
        Ok(Self {
            found,
            language,
            made_at,
            days: (first, last),
        })
    }

    fn report(&self) -> Result<Report<'_>, TooMany> {
        let mut report = self.found.report(self.made_at)?;
        report.words = self.language.words();
        Ok(report)
    }

    /// A digest of what it says, which costs less than the file.
    pub fn digest(&self) -> Result<[u8; 32], TooMany> {
        Ok(Sha256::digest(self.report()?.html()).into())
    }

    /// The file.
    pub fn pdf(&self) -> Result<Vec<u8>, NoSheet> {
        let report = self.report()?;
        let faces = faces_for(&report.letters())?;
        Ok(report.pdf(Paper::default(), &faces))
    }
}
