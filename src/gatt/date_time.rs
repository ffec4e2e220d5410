//! Date Time (0x2A08), which is also the time stamp inside a measurement: local time without a zone, of which
//! parts may be unknown.

use super::octets::{DecodeError, Octets, Watch, number};
use std::fmt;

/// The parts of a date and time as they came. Year, month and day may be unknown (0), and any part may be
/// impossible; see [`DateTime::civil`].
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, serde::Serialize)]
pub struct DateTime {
    /// The year, 1582 to 9999; 0 is unknown.
    pub year: u16,
    /// The month, 1 to 12; 0 is unknown.
    pub month: u8,
    /// The day of the month, 1 to 31; 0 is unknown.
    pub day: u8,
    /// The hour, 0 to 23.
    pub hours: u8,
    /// The minute, 0 to 59.
    pub minutes: u8,
    /// The second, 0 to 59.
    pub seconds: u8,
}

impl DateTime {
    /// The number of octets of a Date Time value.
    pub const LEN: usize = 7;

    /// Decodes a Date Time (0x2A08). Trailing octets are ignored. The error is `Truncated` below 7 octets.
    pub fn decode(value: &[u8]) -> Result<Self, DecodeError> {
        Self::take(&mut Octets::new(value), "time")
    }

    #[inline]
    pub(super) fn take<W: Watch>(
        octets: &mut Octets<'_, W>,
        field: &'static str,
    ) -> Result<Self, DecodeError> {
        octets.field(field, Self::from_octets, number)
    }

    #[inline]
    const fn from_octets([y0, y1, month, day, hours, minutes, seconds]: [u8; Self::LEN]) -> Self {
        Self {
            year: u16::from_le_bytes([y0, y1]),
            month,
            day,
            hours,
            minutes,
            seconds,
        }
    }

    /// The octets that go on the air.
    pub const fn encode(self) -> [u8; Self::LEN] {
        let [y0, y1] = self.year.to_le_bytes();
        [
            y0,
            y1,
            self.month,
            self.day,
            self.hours,
            self.minutes,
            self.seconds,
        ]
    }

    /// The civil date and time; `None` if a part is unknown or impossible.
    pub fn civil(self) -> Option<jiff::civil::DateTime> {
        if self.year < 1582 {
            return None;
        }
        jiff::civil::DateTime::new(
            i16::try_from(self.year).ok()?,
            i8::try_from(self.month).ok()?,
            i8::try_from(self.day).ok()?,
            i8::try_from(self.hours).ok()?,
            i8::try_from(self.minutes).ok()?,
            i8::try_from(self.seconds).ok()?,
            0,
        )
        .ok()
    }

    /// The stamp that a clock showing `civil` writes; fractions of a second are cut off. `None` before the
    /// year 1582.
    pub fn from_civil(civil: jiff::civil::DateTime) -> Option<Self> {
        let part = |n: i8| u8::try_from(n).ok();
        Some(Self {
            year: u16::try_from(civil.year()).ok().filter(|&y| y >= 1582)?,
            month: part(civil.month())?,
            day: part(civil.day())?,
            hours: part(civil.hour())?,
            minutes: part(civil.minute())?,
            seconds: part(civil.second())?,
        })
    }
}

impl fmt::Display for DateTime {
    /// The form `2026-03-01T07:02:11`; where a part is unknown or impossible, the parts as they came and that
    /// remark.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self {
            year,
            month,
            day,
            hours,
            minutes,
            seconds,
        } = self;
        write!(
            f,
            "{year:04}-{month:02}-{day:02}T{hours:02}:{minutes:02}:{seconds:02}"
        )?;
        match self.civil() {
            Some(_) => Ok(()),
            None if *year == 0 || *month == 0 || *day == 0 => f.write_str(" (partly unknown)"),
            None => f.write_str(" (impossible)"),
        }
    }
}
