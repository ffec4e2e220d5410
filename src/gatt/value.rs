//! The value of any characteristic. This file is the one place that knows which decoder belongs to which
//! UUID.

use super::appearance::Appearance;
use super::battery::BatteryLevel;
use super::characteristic::Characteristic;
use super::cuff_pressure::CuffPressure;
use super::current_time::CurrentTime;
use super::database_change::DatabaseChange;
use super::date_time::DateTime;
use super::device_time::DeviceTime;
use super::feature::Feature;
use super::local_time::LocalTimeInformation;
use super::measurement::{BloodPressureMeasurement, trailing};
use super::octets::{DecodeError, Labelled, Octets, Watch, hex};
use super::pnp_id::PnpId;
use super::record::BloodPressureRecord;
use super::record_access::RecordAccess;
use super::reference_time::ReferenceTimeInformation;
use super::system_id::SystemId;
use super::text::Text;
use super::user_control::UserControl;
use super::user_index::UserIndex;

/// A decoded value.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub enum Value<'a> {
    /// Blood Pressure Measurement (0x2A35) and its enhanced form (0x2B34).
    Measurement(BloodPressureMeasurement<'a>),
    /// Intermediate Cuff Pressure (0x2A36) and its enhanced form (0x2B35).
    CuffPressure(CuffPressure<'a>),
    /// Blood Pressure Feature (0x2A49).
    Feature(Feature),
    /// Blood Pressure Record (0x2B36).
    Record(BloodPressureRecord<'a>),
    /// Record Access Control Point (0x2A52).
    RecordAccess(RecordAccess<'a>),
    /// User Control Point (0x2A9F).
    UserControl(UserControl<'a>),
    /// User Index (0x2A9A).
    UserIndex(UserIndex),
    /// Database Change Increment (0x2A99).
    DatabaseChange(DatabaseChange),
    /// Date Time (0x2A08).
    DateTime(DateTime),
    /// Current Time (0x2A2B).
    CurrentTime(CurrentTime),
    /// Local Time Information (0x2A0F).
    LocalTime(LocalTimeInformation),
    /// Reference Time Information (0x2A14).
    ReferenceTime(ReferenceTimeInformation),
    /// Device Time (0x2B90).
    DeviceTime(DeviceTime),
    /// Battery Level (0x2A19).
    BatteryLevel(BatteryLevel),
    /// Appearance of the device (0x2A01).
    Appearance(Appearance),
    /// System ID (0x2A23).
    SystemId(SystemId),
    /// PnP ID (0x2A50).
    PnpId(PnpId),
    /// Device Name (0x2A00) and the strings of Device Information (0x2A24 to 0x2A29).
    Text(Text<'a>),
}

/// A decoded value with its characteristic, and the octets after its last known field.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub struct Decoded<'a> {
    /// The characteristic of the value.
    pub characteristic: Characteristic,
    /// The decoded value.
    pub value: Value<'a>,
    /// The unrecognised octets after the last field.
    pub trailing: &'a [u8],
}

/// Decodes the value of any characteristic that this program knows. The error is `Unsupported` for every
/// other characteristic, else that of the characteristic's own decoder.
pub fn decode(characteristic: Characteristic, value: &[u8]) -> Result<Value<'_>, DecodeError> {
    Decoded::new(characteristic, value).map(|decoded| decoded.value)
}

/// Names every octet of a value and says what it means. A value that cannot be decoded is labelled up to the
/// octet where it goes wrong.
pub fn label(characteristic: Characteristic, value: &[u8]) -> Vec<Labelled> {
    let mut octets = Octets::watched(value, Vec::new());
    match take(characteristic, &mut octets) {
        Ok(_) => octets.remainder("trailing", trailing),
        Err(DecodeError::Unsupported) => octets.remainder("value", hex),
        Err(error @ DecodeError::Truncated { field, .. }) => octets.remainder(field, |_| error.to_string()),
        Err(error) => octets.remainder("undecodable", |_| error.to_string()),
    };
    octets.watch
}

impl<'a> Decoded<'a> {
    /// Decodes a value as [`decode`] does, with the same errors, and keeps the trailing octets.
    pub fn new(characteristic: Characteristic, value: &'a [u8]) -> Result<Self, DecodeError> {
        let mut octets = Octets::new(value);
        Ok(Self {
            characteristic,
            value: take(characteristic, &mut octets)?,
            trailing: octets.rest(),
        })
    }
}

fn take<'a, W: Watch>(
    characteristic: Characteristic,
    octets: &mut Octets<'a, W>,
) -> Result<Value<'a>, DecodeError> {
    use Characteristic as C;
    Ok(match characteristic {
        C::BLOOD_PRESSURE_MEASUREMENT => Value::Measurement(BloodPressureMeasurement::take(octets)?),
        C::ENHANCED_BLOOD_PRESSURE_MEASUREMENT => {
            Value::Measurement(BloodPressureMeasurement::take_enhanced(octets)?)
        }
        C::INTERMEDIATE_CUFF_PRESSURE => Value::CuffPressure(CuffPressure::take(octets)?),
        C::ENHANCED_INTERMEDIATE_CUFF_PRESSURE => Value::CuffPressure(CuffPressure::take_enhanced(octets)?),
        C::BLOOD_PRESSURE_FEATURE => Value::Feature(Feature::take(octets)?),
        C::BLOOD_PRESSURE_RECORD => Value::Record(BloodPressureRecord::take(octets)?),
        C::RECORD_ACCESS_CONTROL_POINT => Value::RecordAccess(RecordAccess::take(octets)?),
        C::USER_CONTROL_POINT => Value::UserControl(UserControl::take(octets)?),
        C::USER_INDEX => Value::UserIndex(UserIndex::take(octets)?),
        C::DATABASE_CHANGE_INCREMENT => Value::DatabaseChange(DatabaseChange::take(octets)?),
        C::DATE_TIME => Value::DateTime(DateTime::take(octets, "time")?),
        C::CURRENT_TIME => Value::CurrentTime(CurrentTime::take(octets)?),
        C::LOCAL_TIME_INFORMATION => Value::LocalTime(LocalTimeInformation::take(octets)?),
        C::REFERENCE_TIME_INFORMATION => Value::ReferenceTime(ReferenceTimeInformation::take(octets)?),
        C::DEVICE_TIME => Value::DeviceTime(DeviceTime::take(octets)?),
        C::BATTERY_LEVEL => Value::BatteryLevel(BatteryLevel::take(octets)?),
        C::APPEARANCE => Value::Appearance(Appearance::take(octets)?),
        C::SYSTEM_ID => Value::SystemId(SystemId::take(octets)?),
        C::PNP_ID => Value::PnpId(PnpId::take(octets)?),
        C::DEVICE_NAME
        | C::MODEL_NUMBER
        | C::SERIAL_NUMBER
        | C::FIRMWARE_REVISION
        | C::HARDWARE_REVISION
        | C::SOFTWARE_REVISION
        | C::MANUFACTURER_NAME => Value::Text(Text::take(octets)?),
        _ => return Err(DecodeError::Unsupported),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The capture reader keeps what has a name, so what can be decoded has one, and nothing else.
    #[test]
    fn what_has_a_name_is_decoded_and_nothing_else() {
        let mut named = 0;
        for number in 0..=u16::MAX {
            let characteristic = Characteristic::assigned(number);
            let decoded = decode(characteristic, &[0; 20]) != Err(DecodeError::Unsupported);
            assert_eq!(characteristic.name().is_some(), decoded, "{characteristic}");
            named += u32::from(decoded);
        }
        assert!(named >= 23, "{named}");
    }
}
