//! Taking little-endian fields off the front of a characteristic's value.
//!
//! A layout is written once, as a run of takes. Who watches the takes decides what comes of it: nobody, and it is a
//! plain decoder; a list of [`Labelled`], and every octet has a name and a meaning (see [`super::label`]).

use super::sfloat::Sfloat;
use super::unit::Unit;
use std::ops::Range;

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
    /// A text field that is not UTF-8.
    #[error("{field} is not UTF-8 from octet {at} on")]
    NotUtf8 {
        /// The field.
        field: &'static str,
        /// The first octet that is wrong.
        at: usize,
    },
    /// A checksum that does not fit the octets before it.
    #[error("the checksum {sent:#06x} does not fit the octets before it, which give {computed:#06x}")]
    Checksum {
        /// What came.
        sent: u16,
        /// What it should be.
        computed: u16,
    },
    /// A characteristic that this program has no decoder for.
    #[error("no decoder for this characteristic; its bytes are kept as they came")]
    Unsupported,
}

/// What some octets of a value mean.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Labelled {
    /// Which octets.
    pub range: Range<usize>,
    /// The field's name.
    pub field: &'static str,
    /// What it says, for a person.
    pub text: String,
}

/// Who is told of each field that is taken. The text is made only if it is wanted.
pub(super) trait Watch {
    fn field(&mut self, range: Range<usize>, field: &'static str, text: impl FnOnce() -> String);
}

/// Nobody watches: decoding only.
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

/// A cursor over a value. Every method names the field it takes, for the error and for the label.
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

    /// What is left, without taking it.
    #[inline]
    pub(super) fn rest(&self) -> &'a [u8] {
        self.rest
    }
}

/// For a field whose number says everything.
pub(super) fn number(n: impl std::fmt::Display) -> String {
    n.to_string()
}

/// Octets as lower-case hexadecimal digits.
pub(super) fn hex(octets: &[u8]) -> String {
    use std::fmt::Write;
    octets.iter().fold(String::new(), |mut text, octet| {
        // Writing into a String cannot fail.
        let _ = write!(text, "{octet:02x}");
        text
    })
}

/// The names of the bits that are set, lowest first; reserved ones by their mask.
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
