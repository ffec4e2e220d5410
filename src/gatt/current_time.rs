//! Current Time (0x2A2B): the clock of a monitor, or the gateway's own for a monitor that asks.

use super::date_time::DateTime;
use super::octets::{DecodeError, Octets, Watch, bits};

/// A clock's time with the day of the week, fractions of a second and the reason why the clock was last set.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub struct CurrentTime {
    /// Date and time by the clock's own local time, without a zone.
    pub date_time: DateTime,
    /// The day of the week: 1 Monday to 7 Sunday, 0 unknown; larger numbers are reserved.
    pub day_of_week: u8,
    /// The fraction of a second, in units of 1/256 s.
    pub fractions256: u8,
    /// Why the clock was last set.
    pub adjust_reason: AdjustReason,
}

/// Why a clock was last set: one bit for each reason, and several may be set.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug, Default)]
pub struct AdjustReason(pub u8);

impl AdjustReason {
    /// Bit 0: the clock was set by hand.
    pub const MANUAL: Self = Self(1);
    /// Bit 1: the clock was set from an external reference.
    pub const EXTERNAL_REFERENCE: Self = Self(1 << 1);
    /// Bit 2: the time zone changed.
    pub const TIME_ZONE_CHANGE: Self = Self(1 << 2);
    /// Bit 3: daylight saving began or ended.
    pub const DST_CHANGE: Self = Self(1 << 3);

    /// The names of the bits, lowest bit first.
    pub const NAMES: [&'static str; 4] = ["manual", "external reference", "time zone change", "DST change"];

    /// The names of the bits that are set.
    pub fn names(self) -> impl Iterator<Item = &'static str> {
        Self::NAMES
            .into_iter()
            .enumerate()
            .filter(move |(bit, _)| self.0 >> bit & 1 != 0)
            .map(|(_, name)| name)
    }

    /// The reserved bits that are set.
    pub const fn reserved(self) -> u8 {
        self.0 & 0xf0
    }
}

impl CurrentTime {
    /// The number of octets of a Current Time value.
    pub const LEN: usize = 10;

    /// Decodes a Current Time (0x2A2B). Trailing octets are ignored. The error is `Truncated` below 10
    /// octets.
    pub fn decode(value: &[u8]) -> Result<Self, DecodeError> {
        Self::take(&mut Octets::new(value))
    }

    pub(super) fn take<W: Watch>(octets: &mut Octets<'_, W>) -> Result<Self, DecodeError> {
        Ok(Self {
            date_time: DateTime::take(octets, "time")?,
            day_of_week: octets.u8("day of week", |day| day_name(day).to_owned())?,
            fractions256: octets.u8("fractions of a second", |n| format!("{n}/256 s"))?,
            adjust_reason: octets
                .u8("adjust reason", |reason| {
                    bits(u16::from(reason), &AdjustReason::NAMES)
                })
                .map(AdjustReason)?,
        })
    }

    /// The octets that go on the air.
    pub const fn encode(self) -> [u8; Self::LEN] {
        let [y0, y1, month, day, hours, minutes, seconds] = self.date_time.encode();
        [
            y0,
            y1,
            month,
            day,
            hours,
            minutes,
            seconds,
            self.day_of_week,
            self.fractions256,
            self.adjust_reason.0,
        ]
    }

    /// The Current Time that a clock showing `civil` sends. `None` before the year 1582.
    pub fn from_civil(civil: jiff::civil::DateTime, adjust_reason: AdjustReason) -> Option<Self> {
        Some(Self {
            date_time: DateTime::from_civil(civil)?,
            day_of_week: u8::try_from(civil.weekday().to_monday_one_offset()).ok()?,
            // 0 to 999 999 999 ns times 256 is below 256 s.
            fractions256: u8::try_from(i64::from(civil.subsec_nanosecond()) * 256 / 1_000_000_000).ok()?,
            adjust_reason,
        })
    }

    /// The civil date and time with the fraction of a second; `None` if a part is unknown or impossible.
    pub fn civil(self) -> Option<jiff::civil::DateTime> {
        let fraction = i32::from(self.fractions256) * (1_000_000_000 / 256);
        self.date_time
            .civil()?
            .with()
            .subsec_nanosecond(fraction)
            .build()
            .ok()
    }
}

fn day_name(day: u8) -> &'static str {
    match day {
        0 => "unknown",
        1 => "Monday",
        2 => "Tuesday",
        3 => "Wednesday",
        4 => "Thursday",
        5 => "Friday",
        6 => "Saturday",
        7 => "Sunday",
        _ => "reserved",
    }
}
