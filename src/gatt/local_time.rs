//! Local Time Information (0x2A0F): how a clock's local time relates to UTC.

use super::octets::{DecodeError, Octets, Watch};

/// The zone and the daylight saving of a clock, as the two octets came.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub struct LocalTimeInformation {
    /// The time zone in quarters of an hour from UTC, without daylight saving: −48 to 56. −128 is unknown,
    /// other numbers are reserved.
    pub time_zone: i8,
    /// The daylight saving in quarters of an hour: 0, 2, 4 or 8. 255 is unknown, other numbers are reserved.
    pub dst_offset: u8,
}

impl LocalTimeInformation {
    /// The value of `time_zone` that says "unknown".
    pub const TIME_ZONE_UNKNOWN: i8 = -128;
    /// The value of `dst_offset` that says "unknown".
    pub const DST_OFFSET_UNKNOWN: u8 = 255;

    /// Decodes a Local Time Information (0x2A0F). Trailing octets are ignored. The error is `Truncated` below
    /// 2 octets.
    pub fn decode(value: &[u8]) -> Result<Self, DecodeError> {
        Self::take(&mut Octets::new(value))
    }

    pub(super) fn take<W: Watch>(octets: &mut Octets<'_, W>) -> Result<Self, DecodeError> {
        Ok(Self {
            time_zone: octets.field("time zone", i8::from_le_bytes, |zone| {
                match time_zone_minutes(zone) {
                    Some(minutes) => hours_minutes(minutes),
                    None if zone == Self::TIME_ZONE_UNKNOWN => "unknown".to_owned(),
                    None => format!("{zone}, which is reserved"),
                }
            })?,
            dst_offset: octets.u8("daylight saving", |dst| match dst_minutes(dst) {
                Some(minutes) => hours_minutes(minutes),
                None if dst == Self::DST_OFFSET_UNKNOWN => "unknown".to_owned(),
                None => format!("{dst}, which is reserved"),
            })?,
        })
    }

    /// The octets that go on the air.
    pub const fn encode(self) -> [u8; 2] {
        [self.time_zone.cast_unsigned(), self.dst_offset]
    }

    /// Minutes from UTC without daylight saving; `None` where they are unknown or reserved.
    pub const fn time_zone_minutes(self) -> Option<i16> {
        time_zone_minutes(self.time_zone)
    }

    /// Minutes of daylight saving; `None` where they are unknown or reserved.
    pub const fn dst_minutes(self) -> Option<i16> {
        dst_minutes(self.dst_offset)
    }

    /// The information for a zone and a daylight saving in minutes. Minutes that the characteristic cannot
    /// say become "unknown".
    pub fn from_minutes(time_zone: i16, dst: i16) -> Self {
        let quarters = |minutes: i16| (minutes % 15 == 0).then_some(minutes / 15);
        Self {
            time_zone: quarters(time_zone)
                .and_then(|n| i8::try_from(n).ok())
                .filter(|&zone| time_zone_minutes(zone).is_some())
                .unwrap_or(Self::TIME_ZONE_UNKNOWN),
            dst_offset: quarters(dst)
                .and_then(|n| u8::try_from(n).ok())
                .filter(|&dst| dst_minutes(dst).is_some())
                .unwrap_or(Self::DST_OFFSET_UNKNOWN),
        }
    }
}

/// Minutes from UTC of a zone in quarters of an hour; `None` where it is unknown or reserved. Device Time has
/// the same field.
pub(super) const fn time_zone_minutes(zone: i8) -> Option<i16> {
    match zone {
        -48..=56 => Some(zone as i16 * 15),
        _ => None,
    }
}

pub(super) const fn dst_minutes(dst: u8) -> Option<i16> {
    match dst {
        0 | 2 | 4 | 8 => Some(dst as i16 * 15),
        _ => None,
    }
}

/// Minutes as a label shows them, such as `+01:00`.
fn hours_minutes(minutes: i16) -> String {
    let sign = if minutes < 0 { '-' } else { '+' };
    let minutes = minutes.unsigned_abs();
    format!("{sign}{:02}:{:02}", minutes / 60, minutes % 60)
}
