//! User Index (0x2A9A): whose data the monitor gives on this connection (User Data Service).

use super::octets::{DecodeError, Octets, Watch};
use super::user_control::index_name;

/// The index of the current user; 255 where the monitor knows none, as before anybody's consent.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub struct UserIndex(pub u8);

impl UserIndex {
    /// Decodes a User Index (0x2A9A). The error is `Truncated` for an empty value.
    pub fn decode(value: &[u8]) -> Result<Self, DecodeError> {
        Self::take(&mut Octets::new(value))
    }

    pub(super) fn take<W: Watch>(octets: &mut Octets<'_, W>) -> Result<Self, DecodeError> {
        octets.u8("user index", index_name).map(Self)
    }

    /// The user, where the monitor knows one.
    pub const fn known(self) -> Option<u8> {
        match self.0 {
            super::UNKNOWN_USER => None,
            index => Some(index),
        }
    }
}
