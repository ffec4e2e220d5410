//! Taking little-endian fields off the front of a characteristic's value.
//!
//! A layout is written once, as a run of takes. The watcher of the takes decides what comes of them: without
//! a watcher they are a plain decoder; with a list of [`Labelled`] every octet has a name and a meaning (see
//! [`super::label`]).

use super::sfloat::Sfloat;
use super::unit::Unit;
use std::ops::Range;

/// Why a value could not be decoded: what was wrong and where.
#[derive(Clone, Copy, PartialEq, Eq, Debug, thiserror::Error)]
pub enum DecodeError {
    /// The value ends inside a field.
    #[error("the value ends inside {field}: wanted from octet {at} on: {need}; there: {have}")]
    Truncated {
        /// The name of the field that is cut.
        field: &'static str,
        /// The octet of the value at which the field starts, counted from 0.
        at: usize,
        /// The number of octets that the field has.
        need: usize,
        /// The number of octets that are there.
        have: usize,
    },
    /// A text field that is not UTF-8.
    #[error("{field} is not UTF-8 from octet {at} on")]
    NotUtf8 {
        /// The name of the text field.
        field: &'static str,
        /// The first octet of the field that is wrong, counted from 0.
        at: usize,
    },
    /// A checksum that does not fit the octets before it.
    #[error("the checksum {sent:#06x} does not fit the octets before it, which give {computed:#06x}")]
    Checksum {
        /// The checksum that was sent.
        sent: u16,
        /// The checksum that the octets before it give.
        computed: u16,
    },
    /// Segments of a stored record did not come.
    #[error("segments of a stored record are missing before the one with number {before}")]
    SegmentsMissing {
        /// The number of the segment before which they are missing, from 0 to 63.
        before: u8,
    },
    /// A stored record was begun and its last segment did not come.
    #[error("a stored record ends after the segment with number {after}, which is not its last")]
    Unfinished {
        /// The number of the segment after which nothing came, from 0 to 63.
        after: u8,
    },
    /// A stored record that goes on and on.
    #[error("a stored record has more than {most} octets")]
    TooLong {
        /// The most octets that a record may have.
        most: usize,
    },
    /// A characteristic that this program has no decoder for.
    #[error("no decoder for this characteristic; its bytes are kept as they came")]
    Unsupported,
}

/// The label of some octets of a value: what they mean.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Labelled {
    /// The octets of the value that the label is for, counted from 0.
    pub range: Range<usize>,
    /// The name of the field.
    pub field: &'static str,
    /// What the field says, for a person.
    pub text: String,
}

/// The watcher that is told of each field that is taken. The text is made only if the watcher wants it.
pub(super) trait Watch {
    fn field(&mut self, range: Range<usize>, field: &'static str, text: impl FnOnce() -> String);
}

/// No watcher: the value is only decoded.
impl Watch for () {
    #[inline(always)]
    fn field(&mut self, _: Range<usize>, _: &'static str, _: impl FnOnce() -> String) {}
}

impl Watch for Vec<Labelled> {
    fn field(&mut self, range: Range<usize>, field: &'static str, text: impl FnOnce() -> String) {
        self.push(Labelled {
            range,
            field,
            text: text(),
        });
    }
}

/// A cursor over a value. Every method names the field that it takes, for the error and for the label.
pub(super) struct Octets<'a, W = ()> {
    rest: &'a [u8],
    at: usize,
    pub(super) watch: W,
}

impl<'a> Octets<'a> {
    #[inline]
    pub(super) fn new(value: &'a [u8]) -> Self {
        Self::watched(value, ())
    }
}

impl<'a, W: Watch> Octets<'a, W> {
    #[inline]
    pub(super) fn watched(value: &'a [u8], watch: W) -> Self {
        Self {
            rest: value,
            at: 0,
            watch,
        }
    }

    /// A field of `N` octets, made into `T`.
    #[inline]
    pub(super) fn field<const N: usize, T: Copy>(
        &mut self,
        field: &'static str,
        make: impl FnOnce([u8; N]) -> T,
        text: impl FnOnce(T) -> String,
    ) -> Result<T, DecodeError> {
        let Some((head, rest)) = self.rest.split_first_chunk::<N>() else {
            return Err(DecodeError::Truncated {
                field,
                at: self.at,
                need: N,
                have: self.rest.len(),
            });
        };
        let made = make(*head);
        self.watch.field(self.at..self.at + N, field, || text(made));
        self.rest = rest;
        self.at += N;
        Ok(made)
    }

    #[inline]
    pub(super) fn u8(
        &mut self,
        field: &'static str,
        text: impl FnOnce(u8) -> String,
    ) -> Result<u8, DecodeError> {
        self.field(field, u8::from_le_bytes, text)
    }

    #[inline]
    pub(super) fn u16(
        &mut self,
        field: &'static str,
        text: impl FnOnce(u16) -> String,
    ) -> Result<u16, DecodeError> {
        self.field(field, u16::from_le_bytes, text)
    }

    #[inline]
    pub(super) fn pressure(&mut self, field: &'static str, unit: Unit) -> Result<Sfloat, DecodeError> {
        self.field(
            field,
            |octets| Sfloat::from_bits(u16::from_le_bytes(octets)),
            |number| unit.spell(number),
        )
    }

    #[inline]
    pub(super) fn pulse_rate(&mut self) -> Result<Sfloat, DecodeError> {
        self.field(
            "pulse rate",
            |octets| Sfloat::from_bits(u16::from_le_bytes(octets)),
            |number| match number.special() {
                None => format!("{number} beats a minute"),
                Some(special) => special.meaning().to_owned(),
            },
        )
    }

    /// Everything up to the end of the value.
    #[inline]
    pub(super) fn remainder(
        &mut self,
        field: &'static str,
        text: impl FnOnce(&'a [u8]) -> String,
    ) -> &'a [u8] {
        let rest = std::mem::take(&mut self.rest);
        if !rest.is_empty() {
            self.watch
                .field(self.at..self.at + rest.len(), field, || text(rest));
            self.at += rest.len();
        }
        rest
    }

    /// The octets that are left, without taking them.
    #[inline]
    pub(super) fn rest(&self) -> &'a [u8] {
        self.rest
    }
}

/// The label of a field whose number says everything.
pub(super) fn number(n: impl std::fmt::Display) -> String {
    n.to_string()
}

/// The octets as lower-case hexadecimal digits.
pub(super) fn hex(octets: &[u8]) -> String {
    use std::fmt::Write;
    octets.iter().fold(String::new(), |mut text, octet| {
        // Writing into a String cannot fail.
        let _ = write!(text, "{octet:02x}");
        text
    })
}

/// The names of the bits that are set, lowest first; the reserved bits by their mask; `none` where no bit is
/// set.
pub(super) fn bits(value: u16, names: &[&'static str]) -> String {
    let mut set: Vec<String> = names
        .iter()
        .enumerate()
        .filter(|(bit, _)| value >> bit & 1 != 0)
        .map(|(_, name)| (*name).to_owned())
        .collect();
    let known = names.iter().fold(0u16, |mask, _| mask << 1 | 1);
    let reserved = value & !known;
    if reserved != 0 {
        set.push(format!("reserved {reserved:#x}"));
    }
    if set.is_empty() {
        "none".to_owned()
    } else {
        set.join(", ")
    }
}
