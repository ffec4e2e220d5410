//! Taking little-endian fields off the front of a characteristic's value.

use super::sfloat::Sfloat;

/// Why a value could not be decoded: what was wrong and where.
#[derive(Clone, Copy, PartialEq, Eq, Debug, thiserror::Error)]
pub enum DecodeError {
    /// The value ends inside a field.
    #[error("the value ends inside {field}: {need} octets from octet {at} are wanted, {have} are there")]
    Truncated {
        /// The field that is cut.
        field: &'static str,
        /// Where the field starts.
        at: usize,
        /// How many octets the field has.
        need: usize,
        /// How many are there.
        have: usize,
    },
    /// A field holds a value that its definition does not allow and that leaves the rest without meaning.
    #[error("{field} at octet {at} has the value {value:#x}, which is not defined")]
    Undefined {
        /// The field.
        field: &'static str,
        /// Where it starts.
        at: usize,
        /// What it holds.
        value: u32,
    },
    /// A text field that is not UTF-8.
    #[error("{field} is not UTF-8 from octet {at} on")]
    NotUtf8 {
        /// The field.
        field: &'static str,
        /// The first octet that is wrong.
        at: usize,
    },
    /// A characteristic that this program has no decoder for.
    #[error("no decoder for this characteristic; its bytes are kept as they came")]
    Unsupported,
}

/// A cursor over a value. Every method names the field it takes, for the error.
pub(super) struct Octets<'a> {
    rest: &'a [u8],
    at: usize,
}

impl<'a> Octets<'a> {
    pub(super) fn new(value: &'a [u8]) -> Self {
        Self { rest: value, at: 0 }
    }

    /// Where the cursor stands.
    pub(super) fn at(&self) -> usize {
        self.at
    }

    #[inline]
    pub(super) fn take<const N: usize>(&mut self, field: &'static str) -> Result<[u8; N], DecodeError> {
        match self.rest.split_first_chunk::<N>() {
            Some((head, rest)) => {
                self.rest = rest;
                self.at += N;
                Ok(*head)
            }
            None => Err(DecodeError::Truncated {
                field,
                at: self.at,
                need: N,
                have: self.rest.len(),
            }),
        }
    }

    #[inline]
    pub(super) fn u8(&mut self, field: &'static str) -> Result<u8, DecodeError> {
        self.take::<1>(field).map(|[b]| b)
    }

    #[inline]
    pub(super) fn u16(&mut self, field: &'static str) -> Result<u16, DecodeError> {
        self.take(field).map(u16::from_le_bytes)
    }

    #[inline]
    pub(super) fn u32(&mut self, field: &'static str) -> Result<u32, DecodeError> {
        self.take(field).map(u32::from_le_bytes)
    }

    #[inline]
    pub(super) fn sfloat(&mut self, field: &'static str) -> Result<Sfloat, DecodeError> {
        self.u16(field).map(Sfloat::from_bits)
    }

    /// What is left: unrecognised trailing octets.
    #[inline]
    pub(super) fn rest(&self) -> &'a [u8] {
        self.rest
    }
}
