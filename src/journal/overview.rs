//! What a page asks for that must not cost more after ten years: ends, months, and what waits for an answer.

use super::{Journal, JournalError, Wanted};
use crate::gatt::{BatteryLevel, CurrentTime};
use crate::household::{MonitorAddress, PersonId};
use crate::technique::JudgedReading;
use jiff::Timestamp;
use jiff::civil::DateTime;
use jiff::tz::Offset;
use rusqlite::{OptionalExtension, params};

impl Journal {
    /// When a person's last reading before a moment was taken.
    pub fn last_before(
        &mut self,
        person: &PersonId,
        moment: Timestamp,
    ) -> Result<Option<Timestamp>, JournalError> {
        let found: Option<i64> = self.on_derived(|db| {
            db.prepare_cached(
                "SELECT measured_us FROM reading WHERE person = ?1 AND measured_us < ?2
                 ORDER BY measured_us DESC LIMIT 1",
            )?
            .query_row(params![person.as_str(), moment.as_microsecond()], |row| {
                row.get(0)
            })
            .optional()
        })?;
        Ok(found.and_then(|at| Timestamp::from_microsecond(at).ok()))
    }

    /// When a person's first reading at or after a moment was taken.
    pub fn first_from(
        &mut self,
        person: &PersonId,
        moment: Timestamp,
    ) -> Result<Option<Timestamp>, JournalError> {
        let found: Option<i64> = self.on_derived(|db| {
            db.prepare_cached(
                "SELECT measured_us FROM reading WHERE person = ?1 AND measured_us >= ?2
                 ORDER BY measured_us LIMIT 1",
            )?
            .query_row(params![person.as_str(), moment.as_microsecond()], |row| {
                row.get(0)
            })
            .optional()
        })?;
        Ok(found.and_then(|at| Timestamp::from_microsecond(at).ok()))
    }

    /// Readings whose person or time nobody knows, newest first, and that nobody asked to leave out.
    pub fn unanswered(&mut self, limit: usize) -> Result<Vec<JudgedReading>, JournalError> {
        let ids: Vec<String> = self.on_derived(|db| {
            db.prepare_cached(
                "SELECT id FROM (SELECT id, received_us, discarded FROM reading WHERE person IS NULL
                 UNION ALL SELECT id, received_us, discarded FROM reading WHERE measured_us IS NULL AND person IS NOT NULL)
                 WHERE discarded IS NULL ORDER BY received_us DESC, id LIMIT ?1",
            )?
            .query_map([i64::try_from(limit).unwrap_or(i64::MAX)], |row| row.get(0))?
            .collect()
        })?;
        let mut found = Vec::new();
        for id in ids {
            found.extend(self.readings(&Wanted {
                id: Some(id),
                ..Wanted::default()
            })?);
        }
        Ok(found)
    }

    /// How many there are.
    pub fn unanswered_count(&mut self) -> Result<i64, JournalError> {
        self.on_derived(|db| {
            db.prepare_cached(
                "SELECT count(*) FROM (SELECT discarded FROM reading WHERE person IS NULL
                 UNION ALL SELECT discarded FROM reading WHERE measured_us IS NULL AND person IS NOT NULL)
                 WHERE discarded IS NULL",
            )?
            .query_row([], |row| row.get(0))
        })
    }

    /// What a monitor last said of its battery (0x2A19), and when.
    pub fn last_battery(&self, address: &MonitorAddress) -> Result<Option<(u8, Timestamp)>, JournalError> {
        let found: Option<(i64, Vec<u8>)> = self.in_context(|db| {
            db.prepare_cached(
                "SELECT received_us, value FROM frame WHERE monitor = ?1 AND characteristic = '2a19'
                 ORDER BY received_us DESC LIMIT 1",
            )?
            .query_row([address.as_str()], |row| Ok((row.get(0)?, row.get(1)?)))
            .optional()
        })?;
        Ok(found.and_then(|(at, value)| {
            let level = BatteryLevel::decode(&value).ok()?;
            Some((level.0, Timestamp::from_microsecond(at).ok()?))
        }))
    }

    /// What a monitor's clock (0x2A2B) showed when it was last read, with the frame that brought it.
    pub fn last_clock(
        &self,
        address: &MonitorAddress,
    ) -> Result<Option<(Timestamp, DateTime, Offset)>, JournalError> {
        let found: Option<(i64, i32, Vec<u8>)> = self.in_context(|db| {
            db.prepare_cached(
                "SELECT received_us, offset_s, value FROM frame WHERE monitor = ?1 AND characteristic = '2a2b'
                 ORDER BY received_us DESC LIMIT 1",
            )?
            .query_row([address.as_str()], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)))
            .optional()
        })?;
        Ok(found.and_then(|(at, offset, value)| {
            let shown = CurrentTime::decode(&value).ok()?.civil()?;
            Some((
                Timestamp::from_microsecond(at).ok()?,
                shown,
                Offset::from_seconds(offset).ok()?,
            ))
        }))
    }

    /// The row of the newest statement. Statements are never changed, so where it is the same, all of them are.
    pub fn newest_statement(&self) -> Result<i64, JournalError> {
        self.in_context(|db| {
            db.prepare_cached("SELECT coalesce(max(id), 0) FROM statement")?
                .query_row([], |row| row.get(0))
        })
    }

    /// The row of the newest frame.
    pub fn newest_frame(&self) -> Result<i64, JournalError> {
        self.in_context(|db| {
            db.prepare_cached("SELECT coalesce(max(id), 0) FROM frame")?
                .query_row([], |row| row.get(0))
        })
    }
}
