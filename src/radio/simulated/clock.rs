//! The clock in a monitor: local time that somebody set once, with a drift, without zone and without summer time.

use crate::gatt::{AdjustReason, CurrentTime, DateTime};
use jiff::civil;
use jiff::{SignedDuration, Timestamp};

const DAY_MS: i128 = 86_400_000;

/// A clock that counts on from what it showed when it was set.
#[derive(Clone, Debug)]
pub struct Clock {
    set_at: Timestamp,
    /// `None`: it was never set, and shows nothing.
    showed: Option<civil::DateTime>,
    /// How many milliseconds it gains in a true day; negative if it loses.
    pub drift_ms_a_day: i32,
    reason: AdjustReason,
}

impl Clock {
    /// A clock that begins to count at this moment, from this date and time, or that shows nothing until it is set.
    pub fn new(at: Timestamp, shows: Option<civil::DateTime>, drift_ms_a_day: i32) -> Self {
        Self {
            set_at: at,
            showed: shows,
            drift_ms_a_day,
            reason: AdjustReason::default(),
        }
    }

    /// Somebody sets it by hand.
    pub fn set(&mut self, at: Timestamp, to: civil::DateTime) {
        *self = Self::new(at, Some(to), self.drift_ms_a_day);
        self.reason = AdjustReason::MANUAL;
    }

    /// What it shows.
    pub fn shows(&self, at: Timestamp) -> Option<civil::DateTime> {
        let elapsed = at.duration_since(self.set_at).as_millis();
        let gained = elapsed * i128::from(self.drift_ms_a_day) / DAY_MS;
        let counted = i64::try_from(elapsed + gained).ok()?;
        self.showed?
            .checked_add(SignedDuration::from_millis(counted))
            .ok()
    }

    /// The stamp that it gives. All zeros until it is set, as some monitors send it.
    pub(super) fn stamp(&self, at: Timestamp) -> DateTime {
        let unset = DateTime {
            year: 0,
            month: 0,
            day: 0,
            hours: 0,
            minutes: 0,
            seconds: 0,
        };
        self.shows(at).and_then(DateTime::from_civil).unwrap_or(unset)
    }

    /// What it answers when 0x2A2B is read.
    pub(super) fn current_time(&self, at: Timestamp) -> CurrentTime {
        self.shows(at)
            .and_then(|civil| CurrentTime::from_civil(civil, self.reason))
            .unwrap_or(CurrentTime {
                date_time: self.stamp(at),
                day_of_week: 0,
                fractions256: 0,
                adjust_reason: self.reason,
            })
    }
}
