//! Reference Time Information (0x2A14): the source of a clock's time, and how good that time is.

use super::octets::{DecodeError, Octets, Watch, number};

/// The source and the quality of a clock's time, as the four octets came.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub struct ReferenceTimeInformation {
    /// The source of the clock's time.
    pub source: ReferenceSource,
    /// How far the clock may be off, in eighths of a second; 254 is more than 253 eighths, 255 is unknown.
    pub accuracy: u8,
    /// Whole days since the clock was set from its source; 255 stands for 255 or more.
    pub days_since_update: u8,
    /// Hours beyond the whole days, 0 to 23; 255 where the days are 255 or more.
    pub hours_since_update: u8,
}

/// The source of a clock's time, as a number.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub struct ReferenceSource(pub u8);

impl ReferenceSource {
    /// 0: the source is unknown.
    pub const UNKNOWN: Self = Self(0);
    /// 1: the Network Time Protocol.
    pub const NTP: Self = Self(1);
    /// 4: the clock was set by hand.
    pub const MANUAL: Self = Self(4);
    /// 7: the clock was never synchronised.
    pub const NOT_SYNCHRONIZED: Self = Self(7);

    /// The name of the source; `reserved` above 7.
    pub const fn name(self) -> &'static str {
        match self.0 {
            0 => "unknown",
            1 => "network time protocol",
            2 => "GPS",
            3 => "radio time signal",
            4 => "manual",
            5 => "atomic clock",
            6 => "cellular network",
            7 => "not synchronized",
            _ => "reserved",
        }
    }
}

impl ReferenceTimeInformation {
    /// Decodes a Reference Time Information (0x2A14). Trailing octets are ignored. The error is `Truncated`
    /// below 4 octets.
    pub fn decode(value: &[u8]) -> Result<Self, DecodeError> {
        Self::take(&mut Octets::new(value))
    }

    pub(super) fn take<W: Watch>(octets: &mut Octets<'_, W>) -> Result<Self, DecodeError> {
        Ok(Self {
            source: octets
                .u8("time source", |source| ReferenceSource(source).name().to_owned())
                .map(ReferenceSource)?,
            accuracy: octets.u8("accuracy", |accuracy| match accuracy {
                254 => "worse than 31.6 s".to_owned(),
                255 => "unknown".to_owned(),
                eighths => format!("{} s", f64::from(eighths) / 8.0),
            })?,
            days_since_update: octets.u8("days since update", |days| match days {
                255 => "255 or more".to_owned(),
                days => number(days),
            })?,
            hours_since_update: octets.u8("hours since update", |hours| match hours {
                0..=23 => number(hours),
                255 => "255 days or more".to_owned(),
                _ => format!("{hours}, which is reserved"),
            })?,
        })
    }

    /// The octets that go on the air.
    pub const fn encode(self) -> [u8; 4] {
        [
            self.source.0,
            self.accuracy,
            self.days_since_update,
            self.hours_since_update,
        ]
    }

    /// How far the clock may be off, in seconds; `None` where that is unknown or more than 253 eighths of a
    /// second.
    pub fn accuracy_seconds(self) -> Option<f64> {
        (self.accuracy < 254).then(|| f64::from(self.accuracy) / 8.0)
    }
}
