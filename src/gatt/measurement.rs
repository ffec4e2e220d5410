//! Blood Pressure Measurement (0x2A35) and its enhanced form (0x2B34).

use super::date_time::DateTime;
use super::octets::{DecodeError, Octets};
use super::sfloat::Sfloat;

/// The unit of the pressures in one measurement. The same monitor may switch between two measurements.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub enum Unit {
    /// Millimetres of mercury.
    MmHg,
    /// Kilopascal.
    KPa,
}

impl Unit {
    /// As contracts print it: `mmHg`, `kPa`.
    pub const fn name(self) -> &'static str {
        match self {
            Self::MmHg => "mmHg",
            Self::KPa => "kPa",
        }
    }
}

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

/// What the monitor saw of the technique. A clear bit means "not detected" only if the matching bit of the Feature
/// characteristic is set; else it means nothing.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub struct MeasurementStatus(pub u16);

/// Bits 3 and 4 of the status, one field.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub enum PulseRateRange {
    /// 0b00
    Within,
    /// 0b01
    Above,
    /// 0b10
    Below,
    /// 0b11
    Reserved,
}

impl PulseRateRange {
    /// As contracts print it.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Within => "within",
            Self::Above => "above",
            Self::Below => "below",
            Self::Reserved => "reserved",
        }
    }
}

impl MeasurementStatus {
    /// The bits that are reserved for future use.
    pub const RESERVED: u16 = 0xffc0;

    /// Bit 0: body movement during the measurement.
    pub const fn body_movement(self) -> bool {
        self.0 & 1 != 0
    }

    /// Bit 1: cuff too loose.
    pub const fn cuff_too_loose(self) -> bool {
        self.0 & 1 << 1 != 0
    }

    /// Bit 2: irregular pulse.
    pub const fn irregular_pulse(self) -> bool {
        self.0 & 1 << 2 != 0
    }

    /// Bits 3 and 4.
    pub const fn pulse_rate_range(self) -> PulseRateRange {
        match self.0 >> 3 & 0b11 {
            0b00 => PulseRateRange::Within,
            0b01 => PulseRateRange::Above,
            0b10 => PulseRateRange::Below,
            _ => PulseRateRange::Reserved,
        }
    }

    /// Bit 5: improper measurement position.
    pub const fn improper_position(self) -> bool {
        self.0 & 1 << 5 != 0
    }
}

/// One measurement, exactly as sent. User id 255 is "unknown user".
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub struct BloodPressureMeasurement<'a> {
    /// Unit of the three pressures.
    pub unit: Unit,
    /// Systolic pressure.
    pub systolic: Sfloat,
    /// Diastolic pressure.
    pub diastolic: Sfloat,
    /// Mean arterial pressure, NaN where the monitor gives none.
    pub mean_arterial_pressure: Sfloat,
    /// The monitor's time stamp.
    pub time_stamp: Option<TimeStamp>,
    /// Beats per minute.
    pub pulse_rate: Option<Sfloat>,
    /// The monitor's index of the person.
    pub user_id: Option<u8>,
    /// What the monitor saw of the technique.
    pub status: Option<MeasurementStatus>,
    /// 0x2B34 only: the time on the monitor's display.
    pub user_facing_time: Option<TimeStamp>,
    /// Flag bits that are reserved, as they came.
    pub reserved_flags: u8,
    /// Octets after the last field.
    pub trailing: &'a [u8],
}

const UNIT: u8 = 1;
const TIME_STAMP: u8 = 1 << 1;
const PULSE_RATE: u8 = 1 << 2;
const USER_ID: u8 = 1 << 3;
const STATUS: u8 = 1 << 4;
const USER_FACING_TIME: u8 = 1 << 5;
const EPOCH_2000: u8 = 1 << 6;

impl<'a> BloodPressureMeasurement<'a> {
    /// Decodes 0x2A35.
    #[inline]
    pub fn decode(value: &'a [u8]) -> Result<Self, DecodeError> {
        let mut octets = Octets::new(value);
        let flags = octets.u8("flags")?;
        let mut made = Self::pressures(flags, &mut octets)?;
        made.reserved_flags = flags & 0b1110_0000;
        if flags & TIME_STAMP != 0 {
            made.time_stamp = Some(TimeStamp::DateTime(DateTime::take(&mut octets)?));
        }
        made.pulse_user_status(flags, &mut octets)?;
        made.trailing = octets.rest();
        Ok(made)
    }

    /// Decodes 0x2B34.
    pub fn decode_enhanced(value: &'a [u8]) -> Result<Self, DecodeError> {
        let mut octets = Octets::new(value);
        let flags = octets.u8("flags")?;
        let epoch = if flags & EPOCH_2000 == 0 {
            Epoch::Y1900
        } else {
            Epoch::Y2000
        };
        let mut made = Self::pressures(flags, &mut octets)?;
        made.reserved_flags = flags & 0b1000_0000;
        if flags & TIME_STAMP != 0 {
            made.time_stamp = Some(TimeStamp::Seconds {
                epoch,
                seconds: octets.u32("time stamp")?,
            });
        }
        made.pulse_user_status(flags, &mut octets)?;
        if flags & USER_FACING_TIME != 0 {
            made.user_facing_time = Some(TimeStamp::Seconds {
                epoch,
                seconds: octets.u32("user facing time")?,
            });
        }
        made.trailing = octets.rest();
        Ok(made)
    }

    #[inline]
    fn pressures(flags: u8, octets: &mut Octets<'a>) -> Result<Self, DecodeError> {
        Ok(Self {
            unit: if flags & UNIT == 0 { Unit::MmHg } else { Unit::KPa },
            systolic: octets.sfloat("systolic")?,
            diastolic: octets.sfloat("diastolic")?,
            mean_arterial_pressure: octets.sfloat("mean arterial pressure")?,
            time_stamp: None,
            pulse_rate: None,
            user_id: None,
            status: None,
            user_facing_time: None,
            reserved_flags: 0,
            trailing: &[],
        })
    }

    #[inline]
    fn pulse_user_status(&mut self, flags: u8, octets: &mut Octets<'a>) -> Result<(), DecodeError> {
        if flags & PULSE_RATE != 0 {
            self.pulse_rate = Some(octets.sfloat("pulse rate")?);
        }
        if flags & USER_ID != 0 {
            self.user_id = Some(octets.u8("user id")?);
        }
        if flags & STATUS != 0 {
            self.status = Some(MeasurementStatus(octets.u16("measurement status")?));
        }
        Ok(())
    }
}
