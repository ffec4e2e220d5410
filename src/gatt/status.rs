//! Measurement Status: what the monitor saw of the technique.

use super::octets::bits;
use std::fmt;

/// The status bits of a measurement: what the monitor saw of the technique. A clear bit means "not detected"
/// only if the matching bit of the Feature characteristic is set; [`crate::technique::detected`] holds the
/// two together.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub struct MeasurementStatus(pub u16);

/// The pulse rate against the monitor's range: bits 3 and 4 of the status, which are one field.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub enum PulseRateRange {
    /// 0b00: the pulse rate is within the range.
    Within,
    /// 0b01: the pulse rate is above the range.
    Above,
    /// 0b10: the pulse rate is below the range.
    Below,
    /// 0b11: reserved for future use.
    Reserved,
}

impl PulseRateRange {
    /// The name that the JSON output prints.
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

    /// Bit 0: the body moved during the measurement.
    pub const fn body_movement(self) -> bool {
        self.0 & 1 != 0
    }

    /// Bit 1: the cuff was too loose.
    pub const fn cuff_too_loose(self) -> bool {
        self.0 & 1 << 1 != 0
    }

    /// Bit 2: the pulse was irregular.
    pub const fn irregular_pulse(self) -> bool {
        self.0 & 1 << 2 != 0
    }

    /// Bits 3 and 4: the pulse rate against the monitor's range.
    pub const fn pulse_rate_range(self) -> PulseRateRange {
        match self.0 >> 3 & 0b11 {
            0b00 => PulseRateRange::Within,
            0b01 => PulseRateRange::Above,
            0b10 => PulseRateRange::Below,
            _ => PulseRateRange::Reserved,
        }
    }

    /// Bit 5: the position was wrong for a measurement.
    pub const fn improper_position(self) -> bool {
        self.0 & 1 << 5 != 0
    }

    /// The reserved bits that are set.
    pub const fn reserved(self) -> u16 {
        self.0 & Self::RESERVED
    }
}

impl fmt::Display for MeasurementStatus {
    /// The faults that were seen, or `none`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let range = match self.pulse_rate_range() {
            PulseRateRange::Within => ["", ""],
            PulseRateRange::Above => ["pulse rate above range", ""],
            PulseRateRange::Below => ["", "pulse rate below range"],
            PulseRateRange::Reserved => ["pulse rate range reserved", ""],
        };
        // The two bits of the range are one field: let one of them speak.
        let shown = if self.pulse_rate_range() == PulseRateRange::Reserved {
            self.0 & !(1 << 4)
        } else {
            self.0
        };
        f.write_str(&bits(
            shown,
            &[
                "body movement",
                "cuff too loose",
                "irregular pulse",
                range[0],
                range[1],
                "improper position",
            ],
        ))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn spelt_for_a_person() {
        assert_eq!(MeasurementStatus(0).to_string(), "none");
        assert_eq!(
            MeasurementStatus(0b10_1001).to_string(),
            "body movement, pulse rate above range, improper position"
        );
        assert_eq!(
            MeasurementStatus(0b01_1000).to_string(),
            "pulse rate range reserved"
        );
        assert_eq!(
            MeasurementStatus(0x8010).to_string(),
            "pulse rate below range, reserved 0x8000"
        );
    }
}
