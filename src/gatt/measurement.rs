//! Blood Pressure Measurement (0x2A35) and its enhanced form (0x2B34).

use super::characteristic::Characteristic;
use super::date_time::DateTime;
use super::encoded::Encoded;
use super::octets::{DecodeError, Octets, Watch, bits, hex, number};
use super::sfloat::Sfloat;
use super::status::MeasurementStatus;
use super::time_stamp::{Epoch, TimeStamp};
use super::unit::Unit;

/// One measurement, exactly as sent.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub struct BloodPressureMeasurement<'a> {
    /// The unit of the three pressures.
    pub unit: Unit,
    /// The systolic pressure, in `unit`.
    pub systolic: Sfloat,
    /// The diastolic pressure, in `unit`.
    pub diastolic: Sfloat,
    /// The mean arterial pressure, in `unit`; NaN where the monitor gives none.
    pub mean_arterial_pressure: Sfloat,
    /// The monitor's time stamp; `None` where the monitor sent none.
    pub time_stamp: Option<TimeStamp>,
    /// The pulse rate in beats per minute; `None` where the monitor sent none.
    pub pulse_rate: Option<Sfloat>,
    /// The monitor's index of the person, or [`UNKNOWN_USER`]; `None` where the monitor sent none.
    pub user_id: Option<u8>,
    /// What the monitor saw of the technique; `None` where the monitor sent no status.
    pub status: Option<MeasurementStatus>,
    /// The time on the monitor's display; only 0x2B34 can carry it.
    pub user_facing_time: Option<TimeStamp>,
    /// The reserved bits of the flags, as they came.
    pub reserved_flags: u8,
    /// The octets after the last field.
    pub trailing: &'a [u8],
}

/// The user id that says "unknown user".
pub const UNKNOWN_USER: u8 = 0xff;

/// The flags octet, which measurements and cuff pressures share. Bits 5 and 6 mean something only in the
/// enhanced characteristics.
#[derive(Clone, Copy)]
pub(super) struct Flags(pub(super) u8);

impl Flags {
    pub(super) const UNIT: u8 = 1;
    pub(super) const TIME_STAMP: u8 = 1 << 1;
    pub(super) const PULSE_RATE: u8 = 1 << 2;
    pub(super) const USER_ID: u8 = 1 << 3;
    pub(super) const STATUS: u8 = 1 << 4;
    pub(super) const USER_FACING_TIME: u8 = 1 << 5;
    pub(super) const EPOCH_2000: u8 = 1 << 6;
    pub(super) const RESERVED: u8 = 0b1110_0000;
    pub(super) const RESERVED_ENHANCED: u8 = 0b1000_0000;

    #[inline]
    pub(super) fn take<W: Watch>(octets: &mut Octets<'_, W>, enhanced: bool) -> Result<Self, DecodeError> {
        octets.u8("flags", |flags| Self(flags).spell(enhanced)).map(Self)
    }

    #[inline]
    pub(super) fn has(self, bit: u8) -> bool {
        self.0 & bit != 0
    }

    #[inline]
    pub(super) fn unit(self) -> Unit {
        if self.has(Self::UNIT) {
            Unit::KPa
        } else {
            Unit::MmHg
        }
    }

    #[inline]
    pub(super) fn epoch(self) -> Epoch {
        if self.has(Self::EPOCH_2000) {
            Epoch::Y2000
        } else {
            Epoch::Y1900
        }
    }

    fn spell(self, enhanced: bool) -> String {
        let names: &[_] = if enhanced {
            &[
                "kPa",
                "time stamp",
                "pulse rate",
                "user id",
                "status",
                "user facing time",
                "epoch 2000",
            ]
        } else {
            &["kPa", "time stamp", "pulse rate", "user id", "status"]
        };
        let spelt = bits(u16::from(self.0), names);
        match self.unit() {
            Unit::KPa => spelt,
            Unit::MmHg if self.0 == 0 => Unit::MmHg.to_string(),
            Unit::MmHg => format!("{}, {spelt}", Unit::MmHg),
        }
    }
}

/// The fields between the pressures and the end of the value: the same ones, in the same order, in
/// measurements and cuff pressures. Only the enhanced characteristics carry the last one.
#[derive(Clone, Copy)]
pub(super) struct Optional {
    pub(super) time_stamp: Option<TimeStamp>,
    pub(super) pulse_rate: Option<Sfloat>,
    pub(super) user_id: Option<u8>,
    pub(super) status: Option<MeasurementStatus>,
    pub(super) user_facing_time: Option<TimeStamp>,
}

impl Optional {
    #[inline]
    pub(super) fn take<W: Watch>(flags: Flags, octets: &mut Octets<'_, W>) -> Result<Self, DecodeError> {
        Ok(Self {
            time_stamp: Self::date_time(flags, octets)?.map(TimeStamp::DateTime),
            pulse_rate: Self::pulse_rate(flags, octets)?,
            user_id: Self::user_id(flags, octets)?,
            status: Self::status(flags, octets)?,
            user_facing_time: None,
        })
    }

    pub(super) fn take_enhanced<W: Watch>(
        flags: Flags,
        octets: &mut Octets<'_, W>,
    ) -> Result<Self, DecodeError> {
        let seconds = |octets: &mut _, present, field| {
            flags
                .has(present)
                .then(|| TimeStamp::take_seconds(octets, field, flags.epoch()))
                .transpose()
        };
        Ok(Self {
            time_stamp: seconds(octets, Flags::TIME_STAMP, "time stamp")?,
            pulse_rate: Self::pulse_rate(flags, octets)?,
            user_id: Self::user_id(flags, octets)?,
            status: Self::status(flags, octets)?,
            user_facing_time: seconds(octets, Flags::USER_FACING_TIME, "user facing time")?,
        })
    }

    #[inline]
    fn date_time<W: Watch>(
        flags: Flags,
        octets: &mut Octets<'_, W>,
    ) -> Result<Option<DateTime>, DecodeError> {
        if !flags.has(Flags::TIME_STAMP) {
            return Ok(None);
        }
        DateTime::take(octets, "time stamp").map(Some)
    }

    #[inline]
    fn pulse_rate<W: Watch>(flags: Flags, octets: &mut Octets<'_, W>) -> Result<Option<Sfloat>, DecodeError> {
        if !flags.has(Flags::PULSE_RATE) {
            return Ok(None);
        }
        octets.pulse_rate().map(Some)
    }

    #[inline]
    fn user_id<W: Watch>(flags: Flags, octets: &mut Octets<'_, W>) -> Result<Option<u8>, DecodeError> {
        if !flags.has(Flags::USER_ID) {
            return Ok(None);
        }
        let spell = |user| match user {
            UNKNOWN_USER => "unknown".to_owned(),
            user => number(user),
        };
        octets.u8("user id", spell).map(Some)
    }

    #[inline]
    fn status<W: Watch>(
        flags: Flags,
        octets: &mut Octets<'_, W>,
    ) -> Result<Option<MeasurementStatus>, DecodeError> {
        if !flags.has(Flags::STATUS) {
            return Ok(None);
        }
        let status = octets.u16("measurement status", |status| {
            MeasurementStatus(status).to_string()
        })?;
        Ok(Some(MeasurementStatus(status)))
    }

    /// The flag bits that announce these fields in 0x2A35 and 0x2A36. A stamp that no date and time spells is
    /// left out, as is the user facing time, which those two cannot carry.
    pub(super) fn flags(&self, unit: Unit) -> u8 {
        let stamp = self.time_stamp.and_then(TimeStamp::date_time);
        Self::flag(unit == Unit::KPa, Flags::UNIT)
            | Self::flag(stamp.is_some(), Flags::TIME_STAMP)
            | Self::flag(self.pulse_rate.is_some(), Flags::PULSE_RATE)
            | Self::flag(self.user_id.is_some(), Flags::USER_ID)
            | Self::flag(self.status.is_some(), Flags::STATUS)
    }

    /// The flag bits that announce these fields in 0x2B34 and 0x2B35. `None` if a stamp is no count of
    /// seconds, or if the two stamps count from different epochs.
    pub(super) fn flags_enhanced(&self, unit: Unit) -> Option<u8> {
        let epoch = |stamp: Option<TimeStamp>| match stamp {
            None => Some(None),
            Some(TimeStamp::Seconds { epoch, .. }) => Some(Some(epoch)),
            Some(TimeStamp::DateTime(_)) => None,
        };
        let (stamp, facing) = (epoch(self.time_stamp)?, epoch(self.user_facing_time)?);
        if let (Some(a), Some(b)) = (stamp, facing)
            && a != b
        {
            return None;
        }
        Some(
            self.flags(unit)
                | Self::flag(stamp.is_some(), Flags::TIME_STAMP)
                | Self::flag(facing.is_some(), Flags::USER_FACING_TIME)
                | Self::flag(stamp.or(facing) == Some(Epoch::Y2000), Flags::EPOCH_2000),
        )
    }

    fn flag(set: bool, bit: u8) -> u8 {
        if set { bit } else { 0 }
    }

    pub(super) fn put(&self, encoded: Encoded) -> Encoded {
        let stamp = self.time_stamp.and_then(TimeStamp::date_time);
        self.put_pulse_user_status(match stamp {
            Some(stamp) => encoded.put(stamp.encode()),
            None => encoded,
        })
    }

    pub(super) fn put_enhanced(&self, encoded: Encoded) -> Encoded {
        let seconds = |encoded: Encoded, stamp| match stamp {
            Some(TimeStamp::Seconds { seconds, .. }) => encoded.put(u32::to_le_bytes(seconds)),
            _ => encoded,
        };
        let stamped = seconds(encoded, self.time_stamp);
        seconds(self.put_pulse_user_status(stamped), self.user_facing_time)
    }

    fn put_pulse_user_status(&self, mut encoded: Encoded) -> Encoded {
        if let Some(pulse_rate) = self.pulse_rate {
            encoded = encoded.put_sfloat(pulse_rate);
        }
        if let Some(user_id) = self.user_id {
            encoded = encoded.put([user_id]);
        }
        if let Some(status) = self.status {
            encoded = encoded.put(status.0.to_le_bytes());
        }
        encoded
    }
}

impl<'a> BloodPressureMeasurement<'a> {
    /// Decodes a Blood Pressure Measurement (0x2A35). The error is `Truncated` where a field has too few
    /// octets.
    #[inline]
    pub fn decode(value: &'a [u8]) -> Result<Self, DecodeError> {
        Self::take(&mut Octets::new(value))
    }

    /// Decodes an Enhanced Blood Pressure Measurement (0x2B34). The error is `Truncated` where a field has
    /// too few octets.
    pub fn decode_enhanced(value: &'a [u8]) -> Result<Self, DecodeError> {
        Self::take_enhanced(&mut Octets::new(value))
    }

    /// The fields are taken one by one, not through [`Optional`]: this is the value that comes by the
    /// thousand, and without the copy it decodes in two thirds of the time (`cargo bench --bench figures --
    /// decode`).
    #[inline]
    pub(super) fn take<W: Watch>(octets: &mut Octets<'a, W>) -> Result<Self, DecodeError> {
        let flags = Flags::take(octets, false)?;
        let [systolic, diastolic, mean_arterial_pressure] = Self::pressures(flags, octets)?;
        let date_time = Optional::date_time(flags, octets)?;
        let pulse_rate = Optional::pulse_rate(flags, octets)?;
        let user_id = Optional::user_id(flags, octets)?;
        let status = Optional::status(flags, octets)?;
        Ok(Self {
            unit: flags.unit(),
            systolic,
            diastolic,
            mean_arterial_pressure,
            time_stamp: date_time.map(TimeStamp::DateTime),
            pulse_rate,
            user_id,
            status,
            user_facing_time: None,
            reserved_flags: flags.0 & Flags::RESERVED,
            trailing: octets.rest(),
        })
    }

    pub(super) fn take_enhanced<W: Watch>(octets: &mut Octets<'a, W>) -> Result<Self, DecodeError> {
        let flags = Flags::take(octets, true)?;
        let [systolic, diastolic, mean_arterial_pressure] = Self::pressures(flags, octets)?;
        let optional = Optional::take_enhanced(flags, octets)?;
        Ok(Self {
            unit: flags.unit(),
            systolic,
            diastolic,
            mean_arterial_pressure,
            time_stamp: optional.time_stamp,
            pulse_rate: optional.pulse_rate,
            user_id: optional.user_id,
            status: optional.status,
            user_facing_time: optional.user_facing_time,
            reserved_flags: flags.0 & Flags::RESERVED_ENHANCED,
            trailing: octets.rest(),
        })
    }

    #[inline]
    fn pressures<W: Watch>(flags: Flags, octets: &mut Octets<'a, W>) -> Result<[Sfloat; 3], DecodeError> {
        let unit = flags.unit();
        Ok([
            octets.pressure("systolic", unit)?,
            octets.pressure("diastolic", unit)?,
            octets.pressure("mean arterial pressure", unit)?,
        ])
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

    /// The octets of this measurement as 0x2A35. A time stamp in seconds goes out as the date and time that
    /// it spells. The user facing time and the trailing octets do not go out.
    pub fn encode(&self) -> Encoded {
        let optional = self.optional();
        let flags = optional.flags(self.unit) | self.reserved_flags & Flags::RESERVED;
        optional.put(self.put_pressures(flags))
    }

    /// The octets of this measurement as 0x2B34, without the trailing octets. `None` if a stamp is not a
    /// count of seconds, or if the time stamp and the user facing time count from different epochs.
    pub fn encode_enhanced(&self) -> Option<Encoded> {
        let optional = self.optional();
        let flags = optional.flags_enhanced(self.unit)? | self.reserved_flags & Flags::RESERVED_ENHANCED;
        Some(optional.put_enhanced(self.put_pressures(flags)))
    }

    fn put_pressures(&self, flags: u8) -> Encoded {
        Encoded::new(flags)
            .put_sfloat(self.systolic)
            .put_sfloat(self.diastolic)
            .put_sfloat(self.mean_arterial_pressure)
    }
}

/// The label of the octets after the last known field.
pub(super) fn trailing(octets: &[u8]) -> String {
    format!("not defined, kept: {}", hex(octets))
}
/// Whether the octets can be a measurement of this kind: they decode, and nothing is left over.
pub fn is_measurement(characteristic: Characteristic, value: &[u8]) -> bool {
    let decoded = match characteristic {
        Characteristic::BLOOD_PRESSURE_MEASUREMENT => BloodPressureMeasurement::decode(value),
        Characteristic::ENHANCED_BLOOD_PRESSURE_MEASUREMENT => {
            BloodPressureMeasurement::decode_enhanced(value)
        }
        _ => return false,
    };
    decoded.is_ok_and(|measurement| measurement.trailing.is_empty())
}
