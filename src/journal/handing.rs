//! Where this machine is a listener: the record that it hands its frames on to, and how far it is.

use super::frames::{OWN_CONNECTIONS, frame_of};
use super::{Heard, Journal, JournalError};
use crate::frame::{Frame, Uptime, to_the_minute};
use crate::reading::ClockSample;
use jiff::{SignedDuration, Timestamp};
use rusqlite::{OptionalExtension, params};

/// The record of a listener.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Record {
    /// Its name or address, and its port.
    pub at: String,
    /// SHA-256 of its public key.
    pub key: [u8; 32],
    /// When this machine joined.
    pub joined: Timestamp,
    /// The number of the last frame that the record said it holds.
    pub through: i64,
    /// When it said so.
    pub told: Option<Timestamp>,
    /// How many days a frame stays here after the record held it.
    pub keep_days: u16,
    /// Why nothing can be handed on at the moment.
    pub problem: Option<String>,
}

impl Journal {
    /// The record that this machine hands on to, if it does.
    pub fn record(&self) -> Result<Option<Record>, JournalError> {
        let at = |us: i64| Timestamp::from_microsecond(us).unwrap_or_default();
        self.in_context(|db| {
            db.prepare_cached("SELECT at, key, joined_us, through, told_us, keep_days, problem FROM record")?
                .query_row([], |row| {
                    Ok(Record {
                        at: row.get(0)?,
                        key: row.get(1)?,
                        joined: at(row.get(2)?),
                        through: row.get(3)?,
                        told: row.get::<_, Option<i64>>(4)?.map(at),
                        keep_days: row.get(5)?,
                        problem: row.get(6)?,
                    })
                })
                .optional()
        })
    }

    /// Hands on to this record from now on. What another one held, this one may not.
    pub fn join_record(&mut self, at: &str, key: &[u8; 32], now: Timestamp) -> Result<(), JournalError> {
        self.in_context(|db| {
            db.execute(
                "INSERT INTO record (one, at, key, joined_us) VALUES (1, ?1, ?2, ?3)
                 ON CONFLICT (one) DO UPDATE SET through = iif(key = excluded.key, through, 0), at = excluded.at,
                     key = excluded.key, joined_us = excluded.joined_us, told_us = NULL, problem = NULL",
                params![at, key, now.as_microsecond()],
            )
            .map(|_| ())
        })
    }

    /// Hands on no more. Whether it did.
    pub fn leave_record(&mut self) -> Result<bool, JournalError> {
        self.in_context(|db| db.execute("DELETE FROM record", []).map(|gone| gone == 1))
    }

    /// The record said that it holds everything up to this frame.
    pub fn record_holds(&mut self, through: i64, now: Timestamp) -> Result<(), JournalError> {
        self.in_context(|db| {
            db.prepare_cached("UPDATE record SET through = ?1, told_us = ?2, problem = NULL")?
                .execute(params![through, now.as_microsecond()])
                .map(|_| ())
        })
    }

    /// Nothing can be handed on, and why.
    pub fn record_fails(&mut self, problem: &str) -> Result<(), JournalError> {
        self.in_context(|db| {
            db.execute("UPDATE record SET problem = ?1", [problem])
                .map(|_| ())
        })
    }

    /// The first frames of this machine's own radio behind a number, in order, at most so many.
    pub fn to_hand_on(&self, after: i64, limit: u32) -> Result<Vec<Heard>, JournalError> {
        self.in_context(|db| {
            db.prepare_cached(
                "SELECT id, received_us, offset_s, boot, uptime_us, NULL, monitor, connection, characteristic, value,
                        overheard
                 FROM frame WHERE id > ?1 AND connection < ?2 ORDER BY id LIMIT ?3",
            )?
            .query_map(params![after, OWN_CONNECTIONS, limit], |row| {
                let frame = frame_of(row)?;
                Ok(Heard {
                    sequence: row.get(0)?,
                    // The record reads it so, and its digest has to be the same there.
                    frame: Frame {
                        offset: to_the_minute(frame.offset),
                        ..frame
                    },
                })
            })?
            .collect()
        })
    }

    /// How many frames of this machine's own radio stand behind a number.
    pub fn waiting_behind(&self, after: i64) -> Result<u64, JournalError> {
        let count: i64 = self.in_context(|db| {
            db.prepare_cached("SELECT count(*) FROM frame WHERE id > ?1 AND connection < ?2")?
                .query_row(params![after, OWN_CONNECTIONS], |row| row.get(0))
        })?;
        Ok(count.try_into().unwrap_or(0))
    }

    /// Whether this machine's own clock was known to be right when it was last looked at.
    pub fn clock_is_known(&self) -> Result<bool, JournalError> {
        self.in_context(|db| {
            db.prepare_cached(
                "SELECT synchronized FROM gateway_clock WHERE within_us IS NULL ORDER BY id DESC LIMIT 1",
            )?
            .query_row([], |row| row.get(0))
            .optional()
        })
        .map(|known| known.unwrap_or(false))
    }

    /// The first clock samples behind a number, each with its own, at most so many.
    pub fn clocks_to_hand_on(&self, after: i64, limit: u32) -> Result<Vec<(i64, ClockSample)>, JournalError> {
        self.in_context(|db| {
            db.prepare_cached(
                "SELECT id, boot, uptime_us, wall_us, synchronized, within_us FROM gateway_clock
                 WHERE id > ?1 ORDER BY id LIMIT ?2",
            )?
            .query_map(params![after, limit], |row| {
                let sample = ClockSample {
                    uptime: Uptime {
                        boot: row.get(1)?,
                        micros: row.get(2)?,
                    },
                    wall: Timestamp::from_microsecond(row.get(3)?).unwrap_or_default(),
                    synchronized: row.get(4)?,
                    within: row.get::<_, Option<i64>>(5)?.map(SignedDuration::from_micros),
                };
                Ok((row.get(0)?, sample))
            })?
            .collect()
        })
    }
}
