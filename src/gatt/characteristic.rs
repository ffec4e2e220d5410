//! The name of a GATT characteristic: a UUID, short where the Bluetooth SIG assigned it.

use std::fmt;
use std::str::FromStr;
use uuid::Uuid;

/// The Bluetooth base UUID, into which 16-bit assigned numbers are set (Core Vol 3 Part B 2.5.1).
const BASE: u128 = 0x0000_0000_0000_1000_8000_0080_5f9b_34fb;

/// A characteristic UUID. Displays as `2a35` for an assigned number, in full otherwise.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub struct Characteristic(Uuid);

impl Characteristic {
    /// Blood Pressure Measurement, 0x2A35.
    pub const BLOOD_PRESSURE_MEASUREMENT: Self = Self::assigned(0x2a35);
    /// Intermediate Cuff Pressure, 0x2A36.
    pub const INTERMEDIATE_CUFF_PRESSURE: Self = Self::assigned(0x2a36);
    /// Blood Pressure Feature, 0x2A49.
    pub const BLOOD_PRESSURE_FEATURE: Self = Self::assigned(0x2a49);
    /// Enhanced Blood Pressure Measurement, 0x2B34.
    pub const ENHANCED_BLOOD_PRESSURE_MEASUREMENT: Self = Self::assigned(0x2b34);
    /// Enhanced Intermediate Cuff Pressure, 0x2B35.
    pub const ENHANCED_INTERMEDIATE_CUFF_PRESSURE: Self = Self::assigned(0x2b35);
    /// Blood Pressure Record, 0x2B36.
    pub const BLOOD_PRESSURE_RECORD: Self = Self::assigned(0x2b36);
    /// Record Access Control Point, 0x2A52.
    pub const RECORD_ACCESS_CONTROL_POINT: Self = Self::assigned(0x2a52);
    /// User Control Point, 0x2A9F.
    pub const USER_CONTROL_POINT: Self = Self::assigned(0x2a9f);
    /// User Index, 0x2A9A.
    pub const USER_INDEX: Self = Self::assigned(0x2a9a);
    /// Database Change Increment, 0x2A99.
    pub const DATABASE_CHANGE_INCREMENT: Self = Self::assigned(0x2a99);
    /// Date Time, 0x2A08.
    pub const DATE_TIME: Self = Self::assigned(0x2a08);
    /// Current Time, 0x2A2B.
    pub const CURRENT_TIME: Self = Self::assigned(0x2a2b);
    /// Local Time Information, 0x2A0F.
    pub const LOCAL_TIME_INFORMATION: Self = Self::assigned(0x2a0f);
    /// Reference Time Information, 0x2A14.
    pub const REFERENCE_TIME_INFORMATION: Self = Self::assigned(0x2a14);
    /// Device Time, 0x2B90.
    pub const DEVICE_TIME: Self = Self::assigned(0x2b90);
    /// Battery Level, 0x2A19.
    pub const BATTERY_LEVEL: Self = Self::assigned(0x2a19);
    /// Appearance of the device, 0x2A01.
    pub const APPEARANCE: Self = Self::assigned(0x2a01);
    /// Device Name, 0x2A00.
    pub const DEVICE_NAME: Self = Self::assigned(0x2a00);
    /// System ID, 0x2A23.
    pub const SYSTEM_ID: Self = Self::assigned(0x2a23);
    /// Model Number String, 0x2A24.
    pub const MODEL_NUMBER: Self = Self::assigned(0x2a24);
    /// Serial Number String, 0x2A25.
    pub const SERIAL_NUMBER: Self = Self::assigned(0x2a25);
    /// Firmware Revision String, 0x2A26.
    pub const FIRMWARE_REVISION: Self = Self::assigned(0x2a26);
    /// Hardware Revision String, 0x2A27.
    pub const HARDWARE_REVISION: Self = Self::assigned(0x2a27);
    /// Software Revision String, 0x2A28.
    pub const SOFTWARE_REVISION: Self = Self::assigned(0x2a28);
    /// Manufacturer Name String, 0x2A29.
    pub const MANUFACTURER_NAME: Self = Self::assigned(0x2a29);
    /// PnP ID, 0x2A50.
    pub const PNP_ID: Self = Self::assigned(0x2a50);

    /// The characteristic with this 16-bit assigned number.
    pub const fn assigned(number: u16) -> Self {
        Self(Uuid::from_u128(BASE | ((number as u128) << 96)))
    }

    /// The 16-bit assigned number; `None` where the UUID is not built on the Bluetooth base UUID.
    pub fn number(self) -> Option<u16> {
        let number = (self.0.as_u128() >> 96) as u32;
        let base = self.0.as_u128() & (u128::MAX >> 32);
        if base == BASE {
            u16::try_from(number).ok()
        } else {
            None
        }
    }

    /// The name that the Bluetooth SIG gave the characteristic; `None` for those that this program does not
    /// decode.
    pub const fn name(self) -> Option<&'static str> {
        Some(match self {
            Self::BLOOD_PRESSURE_MEASUREMENT => "Blood Pressure Measurement",
            Self::INTERMEDIATE_CUFF_PRESSURE => "Intermediate Cuff Pressure",
            Self::BLOOD_PRESSURE_FEATURE => "Blood Pressure Feature",
            Self::ENHANCED_BLOOD_PRESSURE_MEASUREMENT => "Enhanced Blood Pressure Measurement",
            Self::ENHANCED_INTERMEDIATE_CUFF_PRESSURE => "Enhanced Intermediate Cuff Pressure",
            Self::BLOOD_PRESSURE_RECORD => "Blood Pressure Record",
            Self::RECORD_ACCESS_CONTROL_POINT => "Record Access Control Point",
            Self::USER_CONTROL_POINT => "User Control Point",
            Self::USER_INDEX => "User Index",
            Self::DATABASE_CHANGE_INCREMENT => "Database Change Increment",
            Self::DATE_TIME => "Date Time",
            Self::CURRENT_TIME => "Current Time",
            Self::LOCAL_TIME_INFORMATION => "Local Time Information",
            Self::REFERENCE_TIME_INFORMATION => "Reference Time Information",
            Self::DEVICE_TIME => "Device Time",
            Self::BATTERY_LEVEL => "Battery Level",
            Self::APPEARANCE => "Appearance",
            Self::DEVICE_NAME => "Device Name",
            Self::SYSTEM_ID => "System ID",
            Self::MODEL_NUMBER => "Model Number String",
            Self::SERIAL_NUMBER => "Serial Number String",
            Self::FIRMWARE_REVISION => "Firmware Revision String",
            Self::HARDWARE_REVISION => "Hardware Revision String",
            Self::SOFTWARE_REVISION => "Software Revision String",
            Self::MANUFACTURER_NAME => "Manufacturer Name String",
            Self::PNP_ID => "PnP ID",
            _ => return None,
        })
    }

    /// UUID and name for a person, such as `2a35 Blood Pressure Measurement`; the UUID alone where there is
    /// no name.
    pub fn described(self) -> String {
        match self.name() {
            Some(name) => format!("{self} {name}"),
            None => self.to_string(),
        }
    }

    /// The full UUID.
    pub const fn uuid(self) -> Uuid {
        self.0
    }
}

impl From<Uuid> for Characteristic {
    fn from(uuid: Uuid) -> Self {
        Self(uuid)
    }
}

impl fmt::Display for Characteristic {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.number() {
            Some(number) => write!(f, "{number:04x}"),
            None => write!(f, "{}", self.0),
        }
    }
}

/// Text that names no characteristic.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{0:?} is not a characteristic: give four hexadecimal digits, such as 2a35, or a full UUID")]
pub struct NotACharacteristic(String);

impl FromStr for Characteristic {
    type Err = NotACharacteristic;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let wrong = || NotACharacteristic(text.chars().take(64).collect());
        let short = text
            .strip_prefix("0x")
            .or_else(|| text.strip_prefix("0X"))
            .unwrap_or(text);
        if short.len() == 4 && short.bytes().all(|b| b.is_ascii_hexdigit()) {
            return u16::from_str_radix(short, 16)
                .map(Self::assigned)
                .map_err(|_| wrong());
        }
        Uuid::parse_str(text).map(Self).map_err(|_| wrong())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn short_and_full_forms_name_the_same_characteristic() {
        let full: Characteristic = "00002A35-0000-1000-8000-00805F9B34FB".parse().unwrap();
        assert_eq!(full, Characteristic::BLOOD_PRESSURE_MEASUREMENT);
        assert_eq!("0x2A35".parse::<Characteristic>().unwrap(), full);
        assert_eq!(full.to_string(), "2a35");
        let own: Characteristic = "12345678-0000-1000-8000-00805f9b34fb".parse().unwrap();
        assert_eq!(own.number(), None);
        assert_eq!(own.to_string(), "12345678-0000-1000-8000-00805f9b34fb");
        assert!("2a3".parse::<Characteristic>().is_err());
        assert!("+a35".parse::<Characteristic>().is_err());
    }
}
