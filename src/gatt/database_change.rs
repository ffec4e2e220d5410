//! Database Change Increment (0x2A99): how often what the monitor holds of its current user was changed (User Data
//! Service). A collector writes nothing of a person to a monitor, so that it has nothing to hold against it.

use super::octets::{DecodeError, Octets, Watch};

/// The count of changes.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub struct DatabaseChange(pub u32);

impl DatabaseChange {
    /// Decodes a Database Change Increment (0x2A99). The error is `Truncated` below 4 octets.
    pub fn decode(value: &[u8]) -> Result<Self, DecodeError> {
        Self::take(&mut Octets::new(value))
    }

    pub(super) fn take<W: Watch>(octets: &mut Octets<'_, W>) -> Result<Self, DecodeError> {
        let changes = octets.field("change increment", u32::from_le_bytes, |n| format!("{n} changes"));
        changes.map(Self)
    }
}
