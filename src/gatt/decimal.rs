//! An exact decimal: the number that an SFLOAT or a FLOAT stands for, unless it is a special code.

use serde::{Serialize, Serializer};
use serde_json::value::RawValue;
use std::cmp::Ordering;
use std::fmt;

/// The number mantissa × 10^exponent. Decimals are compared by value: 2.0 equals 2.00, though they print
/// differently.
#[derive(Clone, Copy, Debug)]
pub struct Decimal {
    /// The mantissa, any whole number.
    pub mantissa: i32,
    /// The exponent of ten, any whole number. A negative exponent also says how many digits stand after the
    /// point.
    pub exponent: i8,
}

impl Decimal {
    /// The nearest binary float: for statistics and plots, never for printing.
    pub fn to_f64(self) -> f64 {
        let mantissa = f64::from(self.mantissa);
        match 10u32.checked_pow(u32::from(self.exponent.unsigned_abs())) {
            // Both operands are exact, so IEEE 754 rounds once: the quotient or product is the nearest float.
            Some(power) if self.exponent < 0 => mantissa / f64::from(power),
            Some(power) => mantissa * f64::from(power),
            // Powers beyond that are not exact in binary; the standard library's parser rounds right.
            None => format!("{}e{}", self.mantissa, self.exponent)
                .parse()
                .unwrap_or(f64::NAN),
        }
    }
}

impl From<i32> for Decimal {
    fn from(mantissa: i32) -> Self {
        Self {
            mantissa,
            exponent: 0,
        }
    }
}

impl Ord for Decimal {
    fn cmp(&self, other: &Self) -> Ordering {
        // Both mantissas are scaled to the smaller exponent. An i32 is below 10^10, so a gap of more than ten
        // places is decided by the one with the larger exponent unless that is zero, and cutting the gap at
        // eleven changes nothing.
        let gap = |a: i8, b: i8| 10i128.pow(u32::try_from(i32::from(a) - i32::from(b)).unwrap_or(0).min(11));
        let ours = i128::from(self.mantissa) * gap(self.exponent, other.exponent);
        let theirs = i128::from(other.mantissa) * gap(other.exponent, self.exponent);
        ours.cmp(&theirs)
    }
}

impl PartialOrd for Decimal {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl PartialEq for Decimal {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other).is_eq()
    }
}

impl Eq for Decimal {}

impl fmt::Display for Decimal {
    /// Exact digits, as many after the point as the exponent states: `120`, `16.0`, `204.7`. The result is
    /// also a JSON number.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let sign = if self.mantissa < 0 { "-" } else { "" };
        let digits = self.mantissa.unsigned_abs();
        let places = usize::from(self.exponent.unsigned_abs());
        if digits == 0 && self.exponent >= 0 {
            return f.write_str("0");
        }
        if self.exponent >= 0 {
            return write!(f, "{sign}{digits}{:0<places$}", "");
        }
        let padded = format!("{digits:0width$}", width = places + 1);
        let (whole, fraction) = padded.split_at(padded.len() - places);
        write!(f, "{sign}{whole}.{fraction}")
    }
}

impl Serialize for Decimal {
    /// A number with exactly these digits, where `serde_json` writes it.
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        RawValue::from_string(self.to_string())
            .map_err(serde::ser::Error::custom)?
            .serialize(serializer)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn decimal(mantissa: i32, exponent: i8) -> Decimal {
        Decimal { mantissa, exponent }
    }

    #[test]
    fn ordered_by_value() {
        assert_eq!(decimal(20, -1), decimal(200, -2));
        assert_eq!(decimal(0, 7), decimal(0, -8));
        assert!(decimal(1, 127) > decimal(i32::MAX, -128));
        assert!(decimal(-1, 127) < decimal(i32::MIN, -128));
        assert!(decimal(0, 127) < decimal(1, -128));
        assert!(decimal(1349, -1) < Decimal::from(135));
        assert!(decimal(1350, -1) >= Decimal::from(135));
    }

    #[test]
    fn the_ends_of_the_range_print() {
        assert_eq!(decimal(0, 127).to_string(), "0");
        assert_eq!(decimal(0, -1).to_string(), "0.0");
        assert_eq!(decimal(-5, -3).to_string(), "-0.005");
        let smallest = decimal(i32::MIN, -128).to_string();
        assert_eq!(smallest.len(), "-0.".len() + 128);
        assert!(smallest.ends_with("2147483648"));
        assert_eq!(decimal(7, 127).to_string(), format!("7{}", "0".repeat(127)));
        assert_eq!(serde_json::to_string(&decimal(7, 127)).unwrap().len(), 128);
        assert!((decimal(7, 127).to_f64() - 7e127).abs() < f64::MIN_POSITIVE);
    }
}
