//! Moments as R4 takes them.

use crate::household::Zones;
use jiff::Timestamp;
use jiff::tz::Offset;
use std::fmt;

/// A moment by the household's clock in whole seconds: `2026-03-01T07:02:11+01:00`. No monitor's stamp is
/// finer. An offset with seconds, as zones had before they were agreed on, becomes UTC.
pub(in crate::export) struct Moment {
    at: Timestamp,
    offset: Offset,
}

impl Moment {
    pub(in crate::export) fn new(at: Timestamp, zones: &Zones) -> Self {
        let offset = zones.offset(at);
        let whole = offset.seconds() % 60 == 0;
        Self {
            at,
            offset: if whole { offset } else { Offset::UTC },
        }
    }
}

impl fmt::Display for Moment {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let civil = self.offset.to_datetime(self.at);
        let minutes = self.offset.seconds() / 60;
        let sign = if minutes < 0 { '-' } else { '+' };
        write!(
            f,
            "{:04}-{:02}-{:02}T{:02}:{:02}:{:02}{sign}{:02}:{:02}",
            civil.year(),
            civil.month(),
            civil.day(),
            civil.hour(),
            civil.minute(),
            civil.second(),
            minutes.abs() / 60,
            minutes.abs() % 60
        )
    }
}
