//! SFLOAT, the 16-bit decimal of IEEE 11073-20601: a four-bit exponent and a twelve-bit mantissa, both two's
//! complement, value = mantissa × 10^exponent.
//!
//! It stays mantissa and exponent until it is printed: the exponent also says how many digits the monitor meant, and
//! no binary float keeps that.

use std::fmt;

/// One SFLOAT, exactly as sent.
#[derive(Clone, Copy, PartialEq, Eq, Hash)]
pub struct Sfloat(u16);

/// The five codes that are not numbers. They are special only as whole 16-bit words, that is with exponent 0:
/// 0xF7FF is 204.7, not NaN.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub enum Special {
    /// 0x07FF: not a number, an invalid result.
    NaN,
    /// 0x0800: not at this resolution.
    NRes,
    /// 0x07FE
    PositiveInfinity,
    /// 0x0802
    NegativeInfinity,
    /// 0x0801
    Reserved,
}

impl Special {
    /// The standard's own name for it.
    pub const fn name(self) -> &'static str {
        match self {
            Self::NaN => "NaN",
            Self::NRes => "NRes",
            Self::PositiveInfinity => "+INFINITY",
            Self::NegativeInfinity => "-INFINITY",
            Self::Reserved => "reserved",
        }
    }
}

impl fmt::Display for Special {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

impl Sfloat {
    /// Not a number.
    pub const NAN: Self = Self(0x07ff);

    /// Takes the 16 bits as they came.
    #[inline]
    pub const fn from_bits(bits: u16) -> Self {
        Self(bits)
    }

    /// The 16 bits.
    #[inline]
    pub const fn bits(self) -> u16 {
        self.0
    }

    /// From mantissa and exponent; `None` where they do not fit, or where they would spell a special code.
    pub const fn new(mantissa: i16, exponent: i8) -> Option<Self> {
        if mantissa < -2048 || mantissa > 2047 || exponent < -8 || exponent > 7 {
            return None;
        }
        let made = Self(((exponent as u16 & 0xf) << 12) | (mantissa as u16 & 0x0fff));
        if made.special().is_some() {
            None
        } else {
            Some(made)
        }
    }

    /// The special code, if it is one.
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

    /// −2048 to 2047.
    #[inline]
    #[expect(
        clippy::cast_possible_wrap,
        reason = "sign extension of twelve bits is the point"
    )]
    pub const fn mantissa(self) -> i16 {
        ((self.0 << 4) as i16) >> 4
    }

    /// −8 to 7.
    #[inline]
    #[expect(
        clippy::cast_possible_wrap,
        clippy::cast_possible_truncation,
        reason = "sign extension of four bits"
    )]
    pub const fn exponent(self) -> i8 {
        ((self.0 as i16) >> 12) as i8
    }

    /// The nearest binary float, for statistics and plots only; `None` for a special code.
    pub fn to_f64(self) -> Option<f64> {
        if self.special().is_some() {
            return None;
        }
        let mantissa = f64::from(self.mantissa());
        let power = 10f64.powi(i32::from(self.exponent()).abs());
        Some(if self.exponent() < 0 {
            mantissa / power
        } else {
            mantissa * power
        })
    }
}

impl fmt::Display for Sfloat {
    /// Exact digits: `120`, `16.0`, `204.7`; the exponent's trailing zeros are kept.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Some(special) = self.special() {
            return f.write_str(special.name());
        }
        let (mantissa, exponent) = (self.mantissa(), self.exponent());
        if mantissa < 0 {
            f.write_str("-")?;
        }
        let digits = u64::from(mantissa.unsigned_abs());
        let power = 10u64.pow(u32::from(exponent.unsigned_abs()));
        if exponent >= 0 {
            write!(f, "{}", digits * power)
        } else {
            write!(
                f,
                "{}.{:0width$}",
                digits / power,
                digits % power,
                width = usize::from(exponent.unsigned_abs())
            )
        }
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
