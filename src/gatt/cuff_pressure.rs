//! Intermediate Cuff Pressure (0x2A36) and its enhanced form (0x2B35): the pressure while the cuff deflates.
//! It is for looking at, and never becomes a reading.

use super::encoded::Encoded;
use super::measurement::{Flags, Optional};
use super::octets::{DecodeError, Octets, Watch};
use super::sfloat::Sfloat;
use super::status::MeasurementStatus;
use super::time_stamp::TimeStamp;
use super::unit::Unit;

/// One intermediate cuff pressure, as sent.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub struct CuffPressure<'a> {
    /// The unit of the pressure.
    pub unit: Unit,
    /// The pressure in the cuff at this moment, in `unit`.
    pub pressure: Sfloat,
    /// The monitor's time stamp; `None` where the monitor sent none.
    pub time_stamp: Option<TimeStamp>,
    /// The pulse rate in beats per minute; `None` where the monitor sent none.
    pub pulse_rate: Option<Sfloat>,
    /// The monitor's index of the person, or [`super::UNKNOWN_USER`]; `None` where the monitor sent none.
    pub user_id: Option<u8>,
    /// What the monitor sees of the technique; `None` where the monitor sent no status.
    pub status: Option<MeasurementStatus>,
    /// The time on the monitor's display; only 0x2B35 can carry it.
    pub user_facing_time: Option<TimeStamp>,
    /// The reserved bits of the flags, as they came.
    pub reserved_flags: u8,
    /// The octets after the last field.
    pub trailing: &'a [u8],
}

impl<'a> CuffPressure<'a> {
    /// Decodes an Intermediate Cuff Pressure (0x2A36). The error is `Truncated` where a field has too few
    /// octets.
    pub fn decode(value: &'a [u8]) -> Result<Self, DecodeError> {
        Self::take(&mut Octets::new(value))
    }

    /// Decodes an Enhanced Intermediate Cuff Pressure (0x2B35). The error is `Truncated` where a field has
    /// too few octets.
    pub fn decode_enhanced(value: &'a [u8]) -> Result<Self, DecodeError> {
        Self::take_enhanced(&mut Octets::new(value))
    }

    pub(super) fn take<W: Watch>(octets: &mut Octets<'a, W>) -> Result<Self, DecodeError> {
        let flags = Flags::take(octets, false)?;
        let pressure = octets.pressure("cuff pressure", flags.unit())?;
        // The value is laid out as a measurement. The standard wants NaN in these two fields; zero was seen
        // in them.
        for unused in ["unused diastolic", "unused mean arterial pressure"] {
            octets.pressure(unused, flags.unit())?;
        }
        let optional = Optional::take(flags, octets)?;
        Ok(Self::made(
            flags,
            pressure,
            optional,
            Flags::RESERVED,
            octets.rest(),
        ))
    }

    pub(super) fn take_enhanced<W: Watch>(octets: &mut Octets<'a, W>) -> Result<Self, DecodeError> {
        let flags = Flags::take(octets, true)?;
        let pressure = octets.pressure("cuff pressure", flags.unit())?;
        let optional = Optional::take_enhanced(flags, octets)?;
        Ok(Self::made(
            flags,
            pressure,
            optional,
            Flags::RESERVED_ENHANCED,
            octets.rest(),
        ))
    }

    fn made(flags: Flags, pressure: Sfloat, optional: Optional, reserved: u8, trailing: &'a [u8]) -> Self {
        Self {
            unit: flags.unit(),
            pressure,
            time_stamp: optional.time_stamp,
            pulse_rate: optional.pulse_rate,
            user_id: optional.user_id,
            status: optional.status,
            user_facing_time: optional.user_facing_time,
            reserved_flags: flags.0 & reserved,
            trailing,
        }
    }

    pub(super) fn optional(&self) -> Optional {
        Optional {
            time_stamp: self.time_stamp,
            pulse_rate: self.pulse_rate,
            user_id: self.user_id,
            status: self.status,
            user_facing_time: self.user_facing_time,
        }
    }

    /// The octets of this cuff pressure as 0x2A36. A time stamp in seconds goes out as the date and time that
    /// it spells. The user facing time and the trailing octets do not go out.
    pub fn encode(&self) -> Encoded {
        let optional = self.optional();
        let flags = optional.flags(self.unit) | self.reserved_flags & Flags::RESERVED;
        optional.put(
            Encoded::new(flags)
                .put_sfloat(self.pressure)
                .put_sfloat(Sfloat::NAN)
                .put_sfloat(Sfloat::NAN),
        )
    }
}
