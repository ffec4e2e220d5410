//! FLOAT, the 32-bit decimal of IEEE 11073-20601: an eight-bit exponent and a 24-bit mantissa, both two's
//! complement.

use super::decimal::Decimal;
use super::sfloat::Special;
use std::fmt;

/// One FLOAT, exactly as sent.
#[derive(Clone, Copy, PartialEq, Eq, Hash)]
pub struct Float(u32);

impl Float {
    /// Takes the 32 bits as they came.
    pub const fn from_bits(bits: u32) -> Self {
        Self(bits)
    }

    /// The 32 bits as they came.
    pub const fn bits(self) -> u32 {
        self.0
    }

    /// The FLOAT of a mantissa and an exponent. `None` where the mantissa needs more than 24 bits, or where
    /// the two would spell a special code.
    pub const fn new(mantissa: i32, exponent: i8) -> Option<Self> {
        if mantissa < -(1 << 23) || mantissa >= 1 << 23 {
            return None;
        }
        let made = Self((exponent.cast_unsigned() as u32) << 24 | mantissa.cast_unsigned() & 0x00ff_ffff);
        if made.special().is_some() {
            None
        } else {
            Some(made)
        }
    }

    /// The special code; `None` for a number. As in an SFLOAT, a code is special only with exponent 0.
    pub const fn special(self) -> Option<Special> {
        match self.0 {
            0x007f_fffe => Some(Special::PositiveInfinity),
            0x007f_ffff => Some(Special::NaN),
            0x0080_0000 => Some(Special::NRes),
            0x0080_0001 => Some(Special::Reserved),
            0x0080_0002 => Some(Special::NegativeInfinity),
            _ => None,
        }
    }

    /// The exact number; `None` for a special code.
    pub const fn decimal(self) -> Option<Decimal> {
        if self.special().is_some() {
            return None;
        }
        let [_, _, _, exponent] = self.0.to_le_bytes();
        Some(Decimal {
            mantissa: (self.0 << 8).cast_signed() >> 8,
            exponent: exponent.cast_signed(),
        })
    }
}

impl fmt::Display for Float {
    /// The exact digits, or the name of the special code.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.decimal() {
            Some(decimal) => decimal.fmt(f),
            None => f.write_str(self.special().map_or("", Special::name)),
        }
    }
}

impl fmt::Debug for Float {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{self} ({:#010x})", self.0)
    }
}
