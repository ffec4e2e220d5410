//! Appearance (0x2A01, and the same number in an advertisement): what a device says it looks like.

use super::octets::{DecodeError, Octets, Watch};
use std::fmt;

/// An Appearance: a category in the upper ten bits, a subcategory in the lower six. It is a hint, because a
/// device states it about itself.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub struct Appearance(pub u16);

impl Appearance {
    /// 0x0380: a blood pressure monitor.
    pub const BLOOD_PRESSURE: Self = Self(0x0380);
    /// 0x0381: a blood pressure monitor for the upper arm.
    pub const BLOOD_PRESSURE_ARM: Self = Self(0x0381);
    /// 0x0382: a blood pressure monitor for the wrist.
    pub const BLOOD_PRESSURE_WRIST: Self = Self(0x0382);

    /// Decodes 0x2A01. Trailing octets are ignored.
    pub fn decode(value: &[u8]) -> Result<Self, DecodeError> {
        Self::take(&mut Octets::new(value))
    }

    pub(super) fn take<W: Watch>(octets: &mut Octets<'_, W>) -> Result<Self, DecodeError> {
        octets
            .u16("appearance", |appearance| Self(appearance).to_string())
            .map(Self)
    }

    /// The octets that go on the air.
    pub const fn encode(self) -> [u8; 2] {
        self.0.to_le_bytes()
    }

    /// Whether the category is that of blood pressure monitors.
    pub const fn is_blood_pressure(self) -> bool {
        self.0 >> 6 == Self::BLOOD_PRESSURE.0 >> 6
    }

    /// The name of the three appearances that concern a blood pressure monitor; `None` for every other one.
    pub const fn name(self) -> Option<&'static str> {
        match self {
            Self::BLOOD_PRESSURE => Some("blood pressure monitor"),
            Self::BLOOD_PRESSURE_ARM => Some("blood pressure monitor, upper arm"),
            Self::BLOOD_PRESSURE_WRIST => Some("blood pressure monitor, wrist"),
            _ => None,
        }
    }
}

impl fmt::Display for Appearance {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.name() {
            Some(name) => f.write_str(name),
            None => write!(f, "category {:#05x}, subcategory {}", self.0 >> 6, self.0 & 0x3f),
        }
    }
}
