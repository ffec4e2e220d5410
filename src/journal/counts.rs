//! Numbers over everything derived: for `status`, the metrics and the end of a replay.

use super::{Journal, JournalError};
use crate::technique::{Disposition, Reason};
use jiff::Timestamp;
use std::collections::BTreeMap;

impl Journal {
    /// How many readings BlueZ told nobody of, so that only the second ear heard them.
    pub fn only_overheard(&self) -> Result<i64, JournalError> {
        self.in_context(|db| {
            db.query_row(
                "SELECT count(*) FROM reading WHERE frame IN (SELECT id FROM frame WHERE overheard)",
                [],
                |row| row.get(0),
            )
        })
    }

    /// How many records came again, and how many measurements could not be read.
    pub fn repeats_and_refused(&self) -> Result<(i64, i64), JournalError> {
        self.in_context(|db| {
            db.query_row(
                "SELECT coalesce(sum(repeats), 0), coalesce(sum(refused), 0) FROM connection",
                [],
                |row| Ok((row.get(0)?, row.get(1)?)),
            )
        })
    }

    /// How many readings are set aside for each reason; one reading may have several.
    pub fn set_aside_by_reason(&self) -> Result<BTreeMap<&'static str, u64>, JournalError> {
        self.in_context(|db| {
            let mut select = db.prepare(
                "SELECT reasons, count(*) FROM judgement WHERE disposition = 'set-aside' GROUP BY reasons",
            )?;
            let mut rows = select.query([])?;
            let mut counts = BTreeMap::new();
            while let Some(row) = rows.next()? {
                let (reasons, count): (String, i64) = (row.get(0)?, row.get(1)?);
                let given: Vec<Reason> = Reason::ALL
                    .into_iter()
                    .filter(|reason| reasons.split(' ').any(|name| name == reason.name()))
                    .collect();
                let sets_aside = |reason: &&Reason| reason.rule().disposition == Disposition::SetAside;
                // A person who wants it strict has also what is only marked for others set aside.
                let strict = !given.iter().any(|reason| sets_aside(&reason));
                for reason in given.iter().filter(|reason| strict || sets_aside(reason)) {
                    *counts.entry(reason.name()).or_default() += u64::try_from(count).unwrap_or(0);
                }
            }
            Ok(counts)
        })
    }

    /// The end of each monitor's last connection that brought something, on the gateway's clock.
    pub fn last_heard(&self) -> Result<BTreeMap<String, Timestamp>, JournalError> {
        self.in_context(|db| {
            let mut select = db.prepare("SELECT monitor, max(ended_us) FROM connection GROUP BY monitor")?;
            let rows = select.query_map([], |row| Ok((row.get(0)?, row.get::<_, i64>(1)?)))?;
            rows.filter_map(|row| match row {
                Ok((monitor, at)) => Some(Ok((monitor, Timestamp::from_microsecond(at).ok()?))),
                Err(error) => Some(Err(error)),
            })
            .collect()
        })
    }

    /// How many readings there are, and how many of them are set aside.
    pub fn readings_and_set_aside(&self) -> Result<(i64, i64), JournalError> {
        self.in_context(|db| {
            db.query_row(
                "SELECT count(*), count(*) FILTER (WHERE disposition = 'set-aside') FROM judgement",
                [],
                |row| Ok((row.get(0)?, row.get(1)?)),
            )
        })
    }
}
