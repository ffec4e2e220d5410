//! Blood Pressure Feature (0x2A49): what the monitor looks for and what it can do.

use super::octets::{DecodeError, Octets, Watch, bits};
use std::fmt;

/// The feature bits as they came. They also say which bits of a measurement's status mean something; see
/// [`crate::technique::detected`].
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug, Default)]
pub struct Feature(pub u16);

impl Feature {
    /// Bit 0: the monitor looks for body movement.
    pub const BODY_MOVEMENT: u16 = 1;
    /// Bit 1: the monitor looks at the fit of the cuff.
    pub const CUFF_FIT: u16 = 1 << 1;
    /// Bit 2: the monitor looks for an irregular pulse.
    pub const IRREGULAR_PULSE: u16 = 1 << 2;
    /// Bit 3: the monitor says when a pulse rate is out of its range.
    pub const PULSE_RATE_RANGE: u16 = 1 << 3;
    /// Bit 4: the monitor looks at the position of the arm.
    pub const POSITION: u16 = 1 << 4;
    /// Bit 5: the monitor keeps more than one bond.
    pub const MULTIPLE_BOND: u16 = 1 << 5;
    /// Bit 6: the monitor's records end in a checksum.
    pub const E2E_CRC: u16 = 1 << 6;
    /// Bit 7: the monitor has the User Data Service.
    pub const USER_DATA_SERVICE: u16 = 1 << 7;
    /// Bit 8: the monitor's measurements can carry the time on its display.
    pub const USER_FACING_TIME: u16 = 1 << 8;

    /// The names of the bits as the JSON output prints them, lowest bit first.
    pub const NAMES: [&'static str; 9] = [
        "body_movement",
        "cuff_fit",
        "irregular_pulse",
        "pulse_rate_range",
        "position",
        "multiple_bond",
        "e2e_crc",
        "user_data_service",
        "user_facing_time",
    ];

    /// Decodes a Blood Pressure Feature (0x2A49). Trailing octets are ignored. The error is `Truncated` below
    /// 2 octets.
    pub fn decode(value: &[u8]) -> Result<Self, DecodeError> {
        Self::take(&mut Octets::new(value))
    }

    pub(super) fn take<W: Watch>(octets: &mut Octets<'_, W>) -> Result<Self, DecodeError> {
        octets
            .u16("feature", |feature| Self(feature).to_string())
            .map(Self)
    }

    /// The octets that go on the air.
    pub const fn encode(self) -> [u8; 2] {
        self.0.to_le_bytes()
    }

    /// Whether all of `bits` are set.
    pub const fn has(self, bits: u16) -> bool {
        self.0 & bits == bits
    }

    /// Each defined bit with its name.
    pub fn named(self) -> impl Iterator<Item = (&'static str, bool)> {
        Self::NAMES
            .into_iter()
            .enumerate()
            .map(move |(bit, name)| (name, self.0 >> bit & 1 != 0))
    }

    /// The reserved bits that are set.
    pub const fn reserved(self) -> u16 {
        self.0 & 0xfe00
    }
}

impl fmt::Display for Feature {
    /// The names of the features that are set, or `none`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&bits(self.0, &Self::NAMES).replace('_', " "))
    }
}
