//! Putting little-endian fields behind one another into a value that needs no allocation.

use super::sfloat::Sfloat;
use std::ops::Deref;

/// The longest value that anything here encodes to: an enhanced measurement with every field. It is also the
/// longest that one indication carries at the default ATT_MTU of 23 (Core Vol 3 Part F 3.4.7.2).
const ENCODED_OCTETS_MAX: usize = 20;

/// The octets that go on the air.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Encoded {
    octets: [u8; ENCODED_OCTETS_MAX],
    len: usize,
}

impl Encoded {
    pub(super) fn new(flags: u8) -> Self {
        Self {
            octets: [0; ENCODED_OCTETS_MAX],
            len: 0,
        }
        .put([flags])
    }

    /// Adds a field. No caller adds more than there is room for; if one did, the field would be left out
    /// whole.
    pub(super) fn put<const N: usize>(mut self, field: [u8; N]) -> Self {
        let room = self.octets.get_mut(self.len..self.len + N);
        debug_assert!(room.is_some(), "a value of more than {ENCODED_OCTETS_MAX} octets");
        if let Some(room) = room {
            room.copy_from_slice(&field);
            self.len += N;
        }
        self
    }

    pub(super) fn put_sfloat(self, number: Sfloat) -> Self {
        self.put(number.bits().to_le_bytes())
    }
}

impl Deref for Encoded {
    type Target = [u8];

    fn deref(&self) -> &[u8] {
        self.octets.get(..self.len).unwrap_or_default()
    }
}
