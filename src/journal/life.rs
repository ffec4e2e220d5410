//! Signs of life: when something was last heard, and what does not go on to the clinic.

use super::{Journal, JournalError};
use crate::household::{MonitorId, PersonId};
use jiff::Timestamp;
use rusqlite::params;
use std::ops::Range;

/// One failure is a server that starts anew, and is tried again at once.
const FAILURES: u32 = 3;

impl Journal {
    /// When the collector last wrote something: a frame, or a sample of the clocks. `None` where it never did.
    pub fn last_sign_of_life(&self) -> Result<Option<Timestamp>, JournalError> {
        let newest = |sql: &str| {
            self.in_context(|db| {
                db.prepare_cached(sql)?
                    .query_row([], |row| row.get::<_, Option<i64>>(0))
            })
        };
        let frame = newest("SELECT (SELECT received_us FROM frame ORDER BY id DESC LIMIT 1)")?;
        let sample = newest("SELECT max(wall_us) FROM gateway_clock")?;
        Ok(frame
            .max(sample)
            .and_then(|micros| Timestamp::from_microsecond(micros).ok()))
    }

    /// The ends of a monitor's last connections, the newest first.
    pub fn last_visits(&self, monitor: &MonitorId, count: usize) -> Result<Vec<Timestamp>, JournalError> {
        let ends: Vec<i64> = self.in_context(|db| {
            db.prepare_cached(
                "SELECT ended_us FROM connection WHERE monitor = ?1 ORDER BY started_us DESC LIMIT ?2",
            )?
            .query_map(
                params![monitor.as_str(), i64::try_from(count).unwrap_or(i64::MAX)],
                |row| row.get(0),
            )?
            .collect()
        })?;
        Ok(ends
            .into_iter()
            .filter_map(|end| Timestamp::from_microsecond(end).ok())
            .collect())
    }

    /// What keeps content from this clinic's server, each with the last answer that made sense: so many failures in a
    /// row (own choice), or something that the server refused.
    pub fn stuck_deliveries(&self, clinic: &str) -> Result<Vec<(String, Option<Timestamp>)>, JournalError> {
        self.in_context(|db| {
            db.prepare_cached(
                "SELECT problem, last_us FROM clinic
                 WHERE clinic = ?2 AND problem IS NOT NULL AND failures >= ?1
                 UNION ALL SELECT refusal, min(answered_us) FROM delivery
                 WHERE clinic = ?2 AND refusal IS NOT NULL GROUP BY refusal",
            )?
            .query_map(params![FAILURES, clinic], |row| {
                Ok((row.get(0)?, row.get::<_, Option<i64>>(1)?))
            })?
            .map(|row| {
                row.map(|(problem, last)| (problem, last.and_then(|at| Timestamp::from_microsecond(at).ok())))
            })
            .collect()
        })
    }

    /// When the first reading of these people, measured between the moments beside each, was received, within these
    /// moments, that would go to a clinic and was never offered to it.
    pub fn unsent_since(
        &self,
        clinic: &str,
        people: &[(PersonId, Range<Timestamp>)],
        within: Range<Timestamp>,
    ) -> Result<Option<Timestamp>, JournalError> {
        let mut first: Option<i64> = None;
        for (person, measured) in people {
            let unsent: Option<i64> = self.in_context(|db| {
                // What is sent of a reading is called by its id, with more behind it that sorts before a slash.
                db.prepare_cached(
                    "SELECT min(received_us) FROM reading JOIN judgement ON judgement.reading = reading.row
                     WHERE person = ?2 AND measured_us >= ?5 AND measured_us < ?6 AND received_us >= ?3 AND received_us < ?4
                        AND disposition <> 'set-aside'
                        AND NOT EXISTS (SELECT 1 FROM delivery WHERE clinic = ?1
                            AND name >= reading.id AND name < reading.id || '/')",
                )?
                .query_row(
                    params![
                        clinic,
                        person.as_str(),
                        within.start.as_microsecond(),
                        within.end.as_microsecond(),
                        measured.start.max(within.start).as_microsecond(),
                        measured.end.as_microsecond()
                    ],
                    |row| row.get(0),
                )
            })?;
            first = first.into_iter().chain(unsent).min();
        }
        Ok(first.and_then(|at| Timestamp::from_microsecond(at).ok()))
    }

    /// How many readings of a person would go to a clinic, were never offered to it, and were measured outside these
    /// moments; outside none, where there are none.
    pub fn unsent_outside(
        &self,
        clinic: &str,
        person: &PersonId,
        measured: Option<&Range<Timestamp>>,
    ) -> Result<usize, JournalError> {
        let of = |at: fn(&Range<Timestamp>) -> Timestamp| measured.map(|range| at(range).as_microsecond());
        let count: i64 = self.in_context(|db| {
            db.prepare_cached(
                "SELECT count(*) FROM reading JOIN judgement ON judgement.reading = reading.row
                 WHERE person = ?2 AND (?3 IS NULL OR measured_us < ?3 OR measured_us >= ?4) AND disposition <> 'set-aside'
                    AND NOT EXISTS (SELECT 1 FROM delivery WHERE clinic = ?1
                        AND name >= reading.id AND name < reading.id || '/')",
            )?
            .query_row(
                params![clinic, person.as_str(), of(|range| range.start), of(|range| range.end)],
                |row| row.get(0),
            )
        })?;
        Ok(usize::try_from(count).unwrap_or(usize::MAX))
    }
}
