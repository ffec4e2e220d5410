//! System ID (0x2A23): an EUI-64, sent least significant octet first.

use super::octets::{DecodeError, Octets, Watch};
use std::fmt;

/// The eight octets as they came. Senders do not agree on the order, so the octets are kept as they are and
/// compared with [`SystemId::same_device`].
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub struct SystemId(pub [u8; 8]);

impl SystemId {
    /// Decodes a System ID (0x2A23). Trailing octets are ignored. The error is `Truncated` below 8 octets.
    pub fn decode(value: &[u8]) -> Result<Self, DecodeError> {
        Self::take(&mut Octets::new(value))
    }

    pub(super) fn take<W: Watch>(octets: &mut Octets<'_, W>) -> Result<Self, DecodeError> {
        octets.field("system id", Self, |id| id.to_string())
    }

    /// The octets that go on the air.
    pub const fn encode(self) -> [u8; 8] {
        self.0
    }

    /// Whether the id can name a device: all zeros and all ones name none.
    pub fn is_identity(self) -> bool {
        self.0 != [0; 8] && self.0 != [0xff; 8]
    }

    /// Whether both ids name the same device, whichever order either was sent in.
    pub fn same_device(self, other: Self) -> bool {
        let mut reversed = other.0;
        reversed.reverse();
        self.is_identity() && (self == other || self.0 == reversed)
    }
}

impl fmt::Display for SystemId {
    /// The octets in hexadecimal, most significant first, such as `FF-EE-DD-FF-FE-C3-B2-A1`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let [a, b, c, d, e, g, h, i] = self.0;
        write!(
            f,
            "{i:02X}-{h:02X}-{g:02X}-{e:02X}-{d:02X}-{c:02X}-{b:02X}-{a:02X}"
        )
    }
}
