//! Device Time (0x2B90) of the Device Time Service: a clock that keeps a base time and what its display adds
//! to it.
//!
//! Only the fields that every Device Time has are taken; drift, the next log sequence number and fractions
//! follow under conditions that other characteristics state, and stay in the trailing octets. The layout is
//! from a public implementation's citation of the Device Time Service 1.0, not from the standard itself.

use super::local_time::{LocalTimeInformation, dst_minutes, time_zone_minutes};
use super::octets::{DecodeError, Octets, Watch, bits};
use super::time_stamp::Epoch;

/// A clock's time as seconds since an epoch, with zone and daylight saving.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub struct DeviceTime {
    /// Seconds since [`DeviceTime::epoch`]: UTC if [`DeviceTime::utc_aligned`], else a time that never jumps.
    pub base_time: u32,
    /// The time zone in quarters of an hour from UTC, as in Local Time Information.
    pub time_zone: i8,
    /// The daylight saving in quarters of an hour, as in Local Time Information.
    pub dst_offset: u8,
    /// The status bits as they came.
    pub status: u16,
}

const STATUS: [&str; 7] = [
    "time fault",
    "UTC aligned",
    "qualified local time synchronized",
    "proposes an update",
    "epoch 2000",
    "non-logged change active",
    "log consolidation active",
];

/// A time update, from public implementations' citations of the Device Time Service 1.0, 3.7.1.1.
mod update {
    pub(super) const PROPOSE: u8 = 0x02;
    /// UTC, qualified local time, for an external reference; fractions of a second are not given.
    pub(super) const FLAGS: u16 = 1 | 1 << 1 | 1 << 3 | 1 << 7;
    pub(super) const EPOCH_2000: u8 = 1 << 6;
    /// Where the time is from is not known here, nor how good it is.
    pub(super) const SOURCE: u8 = 0;
    pub(super) const ACCURACY: u8 = 255;
}

impl DeviceTime {
    /// Decodes a Device Time (0x2B90) of a monitor without E2E-CRC. Further octets are ignored. The error is
    /// `Truncated` below 8 octets.
    pub fn decode(value: &[u8]) -> Result<Self, DecodeError> {
        Self::take(&mut Octets::new(value))
    }

    pub(super) fn take<W: Watch>(octets: &mut Octets<'_, W>) -> Result<Self, DecodeError> {
        Ok(Self {
            // The epoch comes only with the status, so the label cannot spell the date yet.
            base_time: octets.field("base time", u32::from_le_bytes, |seconds| {
                format!("{seconds} s since the epoch")
            })?,
            time_zone: octets.field("time zone", i8::from_le_bytes, |zone| {
                match time_zone_minutes(zone) {
                    Some(minutes) => format!("{minutes} min"),
                    None => "unknown".to_owned(),
                }
            })?,
            dst_offset: octets.u8("daylight saving", |dst| match dst_minutes(dst) {
                Some(minutes) => format!("{minutes} min"),
                None => "unknown".to_owned(),
            })?,
            status: octets.u16("device time status", |status| bits(status, &STATUS))?,
        })
    }

    /// What is written to a Device Time Control Point (0x2B91) to propose this moment, with the minutes of
    /// standard time and of daylight saving. `None` where the epoch cannot count to it, or a zone is none that
    /// the octet can say.
    pub fn proposal(at: jiff::Timestamp, standard: i16, saving: i16, epoch: Epoch) -> Option<[u8; 11]> {
        let utc = jiff::tz::Offset::UTC.to_datetime(at);
        let seconds = utc.duration_since(epoch.civil(0)?).as_secs();
        let [b0, b1, b2, b3] = u32::try_from(seconds).ok()?.to_le_bytes();
        let zone = LocalTimeInformation::from_minutes(standard, saving).encode();
        let [flags, _] = update::FLAGS.to_le_bytes();
        let flags = match epoch {
            Epoch::Y1900 => flags,
            Epoch::Y2000 => flags | update::EPOCH_2000,
        };
        let [zone, saving] = zone;
        Some([
            update::PROPOSE,
            flags,
            0,
            b0,
            b1,
            b2,
            b3,
            zone,
            saving,
            update::SOURCE,
            update::ACCURACY,
        ])
    }

    /// Status bit 3: the clock asks to be set.
    pub const fn proposes_update(self) -> bool {
        self.status & 1 << 3 != 0
    }

    /// Status bit 0: the clock itself says that it cannot be trusted.
    pub const fn time_fault(self) -> bool {
        self.status & 1 != 0
    }

    /// Status bit 1: the base time is UTC.
    pub const fn utc_aligned(self) -> bool {
        self.status & 1 << 1 != 0
    }

    /// The epoch of the base time, by status bit 4: 1900 where the bit is clear, 2000 where it is set.
    pub const fn epoch(self) -> Epoch {
        if self.status & 1 << 4 == 0 {
            Epoch::Y1900
        } else {
            Epoch::Y2000
        }
    }

    /// The base time as a date and time; `None` where no date and time can say it.
    pub fn base_civil(self) -> Option<jiff::civil::DateTime> {
        self.epoch().civil(self.base_time)
    }

    /// The local time: the base time with zone and daylight saving. `None` where one of the two is unknown.
    pub fn local_civil(self) -> Option<jiff::civil::DateTime> {
        let minutes = time_zone_minutes(self.time_zone)? + dst_minutes(self.dst_offset)?;
        self.base_civil()?
            .checked_add(jiff::Span::new().minutes(i64::from(minutes)))
            .ok()
    }

    /// Minutes from UTC without daylight saving; `None` where they are unknown or not defined.
    pub const fn time_zone_minutes(self) -> Option<i16> {
        time_zone_minutes(self.time_zone)
    }

    /// Minutes of daylight saving; `None` where they are unknown or not defined.
    pub const fn dst_minutes(self) -> Option<i16> {
        dst_minutes(self.dst_offset)
    }

    /// The names of the status bits that are set.
    pub fn status_names(self) -> impl Iterator<Item = &'static str> {
        STATUS
            .into_iter()
            .enumerate()
            .filter(move |(bit, _)| self.status >> bit & 1 != 0)
            .map(|(_, name)| name)
    }

    /// The reserved status bits that are set.
    pub const fn reserved(self) -> u16 {
        self.status & 0xff80
    }
}
