//! The time stamp of a measurement: a date and time, or a count of seconds in the enhanced characteristics.

use super::date_time::DateTime;
use super::octets::{DecodeError, Octets, Watch};

/// The time at which the monitor says that the measurement was taken.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub enum TimeStamp {
    /// A local date and time without a zone, as 0x2A35 carries it.
    DateTime(DateTime),
    /// A count of seconds since an epoch, as 0x2B34 carries it.
    Seconds {
        /// The start of the count, from flag bit 6.
        epoch: Epoch,
        /// The seconds since the epoch.
        seconds: u32,
    },
}

/// The start of a count of seconds: midnight on 1 January of the year.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub enum Epoch {
    /// Midnight at the start of 1900-01-01.
    Y1900,
    /// Midnight at the start of 2000-01-01.
    Y2000,
}

impl TimeStamp {
    /// The civil date and time that the stamp spells; `None` if a part is unknown or impossible.
    pub fn civil(self) -> Option<jiff::civil::DateTime> {
        match self {
            Self::DateTime(date_time) => date_time.civil(),
            Self::Seconds { epoch, seconds } => epoch.civil(seconds),
        }
    }
}

impl Epoch {
    /// The civil date and time that is `seconds` after the epoch.
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
    /// Takes a count of seconds, which is a little-endian number of 32 bits, off the front of a value.
    pub(super) fn take_seconds<W: Watch>(
        octets: &mut Octets<'_, W>,
        field: &'static str,
        epoch: Epoch,
    ) -> Result<Self, DecodeError> {
        let seconds = octets.field(field, u32::from_le_bytes, |seconds| epoch.spell(seconds))?;
        Ok(Self::Seconds { epoch, seconds })
    }

    /// The stamp as a date and time, in the form that has no epoch; `None` where no date and time can say it.
    pub(super) fn date_time(self) -> Option<DateTime> {
        match self {
            Self::DateTime(date_time) => Some(date_time),
            Self::Seconds { epoch, seconds } => epoch.civil(seconds).and_then(DateTime::from_civil),
        }
    }
}

impl Epoch {
    /// The label of a count of seconds: the date and time, or the count where no date and time can say it.
    pub(super) fn spell(self, seconds: u32) -> String {
        match self.civil(seconds) {
            Some(civil) => format!("{civil}"),
            None => format!("{seconds} s"),
        }
    }
}
