//! Battery Level (0x2A19).

use super::octets::{DecodeError, Octets, Watch};

/// The battery level, as the octet that was sent; `percent` says what it means.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub struct BatteryLevel(pub u8);

impl BatteryLevel {
    /// Decodes 0x2A19. Trailing octets are ignored.
    pub fn decode(value: &[u8]) -> Result<Self, DecodeError> {
        Self::take(&mut Octets::new(value))
    }

    pub(super) fn take<W: Watch>(octets: &mut Octets<'_, W>) -> Result<Self, DecodeError> {
        octets
            .u8("level", |level| match Self(level).percent() {
                Some(percent) => format!("{percent} %"),
                None => format!("{level}, which is reserved"),
            })
            .map(Self)
    }

    /// The octet that goes on the air.
    pub const fn encode(self) -> [u8; 1] {
        [self.0]
    }

    /// The battery level in percent, 0 to 100; `None` for the reserved octets above 100.
    pub const fn percent(self) -> Option<u8> {
        match self.0 {
            percent @ 0..=100 => Some(percent),
            _ => None,
        }
    }
}
