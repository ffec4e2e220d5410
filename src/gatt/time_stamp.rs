//! The time stamp of a measurement: a date and time, or a count of seconds in the enhanced characteristics.

use super::date_time::DateTime;
use super::octets::{DecodeError, Octets, Watch};

/// When the monitor says the measurement was taken.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub enum TimeStamp {
    /// 0x2A35: local date and time without zone.
    DateTime(DateTime),
    /// 0x2B34: seconds since an epoch.
    Seconds {
        /// The epoch's year, from flag bit 6.
        epoch: Epoch,
        /// The count.
        seconds: u32,
    },
}

/// The start of a count of seconds: midnight on 1 January of the year.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub enum Epoch {
    /// 1900-01-01T00:00:00
    Y1900,
    /// 2000-01-01T00:00:00
    Y2000,
}

impl TimeStamp {
    /// The civil date and time that the stamp spells, if it is known and possible.
    pub fn civil(self) -> Option<jiff::civil::DateTime> {
        match self {
            Self::DateTime(date_time) => date_time.civil(),
            Self::Seconds { epoch, seconds } => epoch.civil(seconds),
        }
    }
}

impl Epoch {
    /// The civil date and time that is so many seconds after the epoch.
    pub fn civil(self, seconds: u32) -> Option<jiff::civil::DateTime> {
        let year = match self {
            Self::Y1900 => 1900,
            Self::Y2000 => 2000,
        };
        jiff::civil::date(year, 1, 1)
            .at(0, 0, 0, 0)
            .checked_add(jiff::Span::new().seconds(i64::from(seconds)))
            .ok()
    }
}

impl TimeStamp {
    /// Takes a count of seconds.
    pub(super) fn take_seconds<W: Watch>(
        octets: &mut Octets<'_, W>,
        field: &'static str,
        epoch: Epoch,
    ) -> Result<Self, DecodeError> {
        let seconds = octets.field(field, u32::from_le_bytes, |seconds| epoch.spell(seconds))?;
        Ok(Self::Seconds { epoch, seconds })
    }

    /// The stamp as a date and time, in the form that has no epoch.
    pub(super) fn date_time(self) -> Option<DateTime> {
        match self {
            Self::DateTime(date_time) => Some(date_time),
            Self::Seconds { epoch, seconds } => epoch.civil(seconds).and_then(DateTime::from_civil),
        }
    }
}

impl Epoch {
    /// For a label.
    pub(super) fn spell(self, seconds: u32) -> String {
        match self.civil(seconds) {
            Some(civil) => format!("{civil}"),
            None => format!("{seconds} s"),
        }
    }
}
