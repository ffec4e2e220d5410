//! Blood Pressure Record (0x2B36): a stored measurement, sent in one segment or several.
//!
//! This file decodes one segment by itself, as if sequence number and UUID stood in every one; what is stored
//! is decoded where it fits in one. `segments` puts longer ones together.

use super::characteristic::Characteristic;
use super::measurement::BloodPressureMeasurement;
use super::octets::{DecodeError, Octets, Watch, bits, hex, number};

/// One segment of a record.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub struct BloodPressureRecord<'a> {
    /// Whether this is the first segment of a record.
    pub first: bool,
    /// Whether this is the last segment of a record.
    pub last: bool,
    /// The count of segments, from 0 to 63 and round again.
    pub counter: u8,
    /// The sequence number: the count of the user's records.
    pub sequence: u16,
    /// The characteristic whose value was stored.
    pub characteristic: Characteristic,
    /// The stored value or a part of it. The checksum, if the monitor sends one, is at its end.
    pub segment: &'a [u8],
}

impl<'a> BloodPressureRecord<'a> {
    /// Decodes one segment of a Blood Pressure Record (0x2B36). The error is `Truncated` below 5 octets.
    pub fn decode(value: &'a [u8]) -> Result<Self, DecodeError> {
        Self::take(&mut Octets::new(value))
    }

    pub(super) fn take<W: Watch>(octets: &mut Octets<'a, W>) -> Result<Self, DecodeError> {
        let header = octets.u8("segmentation header", |header| {
            let edges = bits(u16::from(header & 0b11), &["first segment", "last segment"]);
            format!("{edges}, counter {}", header >> 2)
        })?;
        let sequence = octets.u16("sequence number", number)?;
        let characteristic = Characteristic::assigned(
            octets.u16("characteristic", |n| Characteristic::assigned(n).described())?,
        );
        let mut made = Self {
            first: header & 1 != 0,
            last: header & 1 << 1 != 0,
            counter: header >> 2,
            sequence,
            characteristic,
            segment: octets.rest(),
        };
        made.segment = octets.remainder("stored value", |segment| match made.measurement() {
            Some(Ok(stored)) => format!("{}/{} {}", stored.systolic, stored.diastolic, stored.unit),
            Some(Err(error)) => error.to_string(),
            None => hex(segment),
        });
        Ok(made)
    }

    /// The stored measurement. `None` where the record has more than one segment or stores something else.
    pub fn measurement(self) -> Option<Result<BloodPressureMeasurement<'a>, DecodeError>> {
        match self.characteristic {
            _ if !(self.first && self.last) => None,
            Characteristic::BLOOD_PRESSURE_MEASUREMENT => {
                Some(BloodPressureMeasurement::decode(self.segment))
            }
            Characteristic::ENHANCED_BLOOD_PRESSURE_MEASUREMENT => {
                Some(BloodPressureMeasurement::decode_enhanced(self.segment))
            }
            _ => None,
        }
    }
}

/// CRC-16/MCRF4XX: polynomial 0x1021 reflected, initial value 0xFFFF, nothing added at the end.
pub(super) fn crc16(octets: impl IntoIterator<Item = u8>) -> u16 {
    octets.into_iter().fold(0xffff, |crc, octet| {
        (0..8).fold(crc ^ u16::from(octet), |crc, _| {
            if crc & 1 == 0 { crc >> 1 } else { crc >> 1 ^ 0x8408 }
        })
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The check value of CRC-16/MCRF4XX in Greg Cook's catalogue of parametrised CRC algorithms.
    #[test]
    fn crc_check_value() {
        assert_eq!(crc16(*b"123456789"), 0x6f91);
    }
}
