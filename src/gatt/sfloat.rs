//! SFLOAT, the 16-bit decimal of IEEE 11073-20601: a four-bit exponent and a twelve-bit mantissa, both two's
//! complement, value = mantissa × 10^exponent.
//!
//! The number stays mantissa and exponent until it is printed: the exponent also says how many digits the
//! monitor meant, and no binary float keeps that.

use super::decimal::Decimal;
use serde::{Serialize, Serializer};
use std::fmt;

/// One SFLOAT, exactly as sent.
///
/// ```
/// use quietcuff::gatt::{Sfloat, Special};
///
/// // Exponent -1, mantissa 160: the monitor meant one digit behind the point, and it stays.
/// let pressure = Sfloat::from_bits(0xf0a0);
/// assert_eq!((pressure.mantissa(), pressure.exponent()), (160, -1));
/// assert_eq!(pressure.to_string(), "16.0");
/// assert_eq!(Sfloat::from_bits(0x07ff).special(), Some(Special::NaN));
/// ```
#[derive(Clone, Copy, PartialEq, Eq, Hash)]
pub struct Sfloat(u16);

/// The five codes that are not numbers. They are special only as whole 16-bit words, that is with exponent 0:
/// 0xF7FF is 204.7, not NaN.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub enum Special {
    /// 0x07FF: not a number; the measurement has no valid result.
    NaN,
    /// 0x0800: the result cannot be given at this resolution.
    NRes,
    /// 0x07FE: the result is above the range.
    PositiveInfinity,
    /// 0x0802: the result is below the range.
    NegativeInfinity,
    /// 0x0801: the code is reserved for future use.
    Reserved,
}

impl Special {
    /// The standard's own name for the code.
    pub const fn name(self) -> &'static str {
        match self {
            Self::NaN => "NaN",
            Self::NRes => "NRes",
            Self::PositiveInfinity => "+INFINITY",
            Self::NegativeInfinity => "-INFINITY",
            Self::Reserved => "reserved",
        }
    }

    /// The meaning of the code, for a person.
    pub const fn meaning(self) -> &'static str {
        match self {
            Self::NaN => "no value (NaN)",
            Self::NRes => "no value at this resolution (NRes)",
            Self::PositiveInfinity => "beyond the range (+INFINITY)",
            Self::NegativeInfinity => "below the range (-INFINITY)",
            Self::Reserved => "a reserved code",
        }
    }
}

impl fmt::Display for Special {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

impl Sfloat {
    /// The special code for "not a number".
    pub const NAN: Self = Self(0x07ff);

    /// Takes the 16 bits as they came.
    #[inline]
    pub const fn from_bits(bits: u16) -> Self {
        Self(bits)
    }

    /// The 16 bits as they came.
    #[inline]
    pub const fn bits(self) -> u16 {
        self.0
    }

    /// The SFLOAT of a mantissa and an exponent. `None` where the mantissa is outside −2048 to 2047 or the
    /// exponent outside −8 to 7, or where the two would spell a special code.
    pub const fn new(mantissa: i16, exponent: i8) -> Option<Self> {
        if mantissa < -2048 || mantissa > 2047 || exponent < -8 || exponent > 7 {
            return None;
        }
        let made =
            Self(((exponent.cast_unsigned() as u16 & 0xf) << 12) | (mantissa.cast_unsigned() & 0x0fff));
        if made.special().is_some() {
            None
        } else {
            Some(made)
        }
    }

    /// The special code; `None` for a number.
    #[inline]
    pub const fn special(self) -> Option<Special> {
        match self.0 {
            0x07fe => Some(Special::PositiveInfinity),
            0x07ff => Some(Special::NaN),
            0x0800 => Some(Special::NRes),
            0x0801 => Some(Special::Reserved),
            0x0802 => Some(Special::NegativeInfinity),
            _ => None,
        }
    }

    /// The mantissa, −2048 to 2047; it means nothing in a special code.
    #[inline]
    pub const fn mantissa(self) -> i16 {
        (self.0 << 4).cast_signed() >> 4
    }

    /// The exponent of ten, −8 to 7; it means nothing in a special code.
    #[inline]
    pub const fn exponent(self) -> i8 {
        let [high, _] = self.0.to_be_bytes();
        high.cast_signed() >> 4
    }

    /// The exact number; `None` for a special code.
    #[inline]
    pub fn decimal(self) -> Option<Decimal> {
        match self.special() {
            Some(_) => None,
            None => Some(Decimal {
                mantissa: i32::from(self.mantissa()),
                exponent: self.exponent(),
            }),
        }
    }

    /// The nearest binary float, for statistics and plots only; `None` for a special code.
    pub fn to_f64(self) -> Option<f64> {
        self.decimal().map(Decimal::to_f64)
    }
}

impl fmt::Display for Sfloat {
    /// The exact digits, such as `120`, `16.0` or `204.7`, with the trailing zeros that the exponent states;
    /// or the name of the special code.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.decimal() {
            Some(decimal) => decimal.fmt(f),
            None => f.write_str(self.special().map_or("", Special::name)),
        }
    }
}

impl Serialize for Sfloat {
    /// The number with exactly its digits (see [`Decimal`]), or null for a special code.
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        self.decimal().serialize(serializer)
    }
}

impl fmt::Debug for Sfloat {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{self} ({:#06x})", self.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The worked examples that the HL7 Personal Health Device implementation guide publishes (FLOATS page).
    #[test]
    fn published_examples() {
        for (bits, text) in [
            (0x0002, "2"),
            (0xf014, "2.0"),
            (0xe0c8, "2.00"),
            (0x1002, "20"),
            (0x2002, "200"),
            (0x00c8, "200"),
            (0x04d2, "1234"),
            (0x0b2e, "-1234"),
        ] {
            assert_eq!(Sfloat::from_bits(bits).to_string(), text, "{bits:#06x}");
        }
    }

    #[test]
    fn special_only_with_exponent_zero() {
        assert_eq!(Sfloat::from_bits(0x07ff).special(), Some(Special::NaN));
        assert_eq!(Sfloat::from_bits(0xf7ff).to_string(), "204.7");
        assert_eq!(Sfloat::from_bits(0xf800).to_string(), "-204.8");
        assert_eq!(Sfloat::new(2047, 0), None);
        assert_eq!(Sfloat::new(2047, -1), Some(Sfloat::from_bits(0xf7ff)));
    }
}
