//! A pressure with its unit.

use super::sfloat::{Sfloat, Special};
use std::fmt;

/// One conventional millimetre of mercury in pascal: mercury of 13 595.1 kg/m³ under the standard gravity of
/// 9.806 65 m/s², one millimetre high. Both are conventional constants, so their product is exact (ISO 80000-4; NIST
/// SP 811 appendix B.8 gives it rounded, 133.3224).
pub const PASCAL_A_MMHG: f64 = 133.322_387_415;

/// The unit of the pressures in one measurement. The same monitor may switch between two measurements.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub enum Unit {
    /// Millimetres of mercury.
    MmHg,
    /// Kilopascal.
    KPa,
}

impl Unit {
    /// As contracts print it: `mmHg`, `kPa`.
    pub const fn name(self) -> &'static str {
        match self {
            Self::MmHg => "mmHg",
            Self::KPa => "kPa",
        }
    }
}

impl fmt::Display for Unit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

/// One pressure as measured.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub struct Pressure {
    /// The number as sent.
    pub number: Sfloat,
    /// What it counts.
    pub unit: Unit,
}

impl Pressure {
    /// In millimetres of mercury, unrounded; `None` for a special code. A pressure sent in mmHg is not touched.
    pub fn mmhg(self) -> Option<f64> {
        let number = self.number.to_f64()?;
        Some(match self.unit {
            Unit::MmHg => number,
            Unit::KPa => number * 1000.0 / PASCAL_A_MMHG,
        })
    }
}

impl fmt::Display for Pressure {
    /// `16.0 kPa`, or what the special code means.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.number.special().map(Special::meaning) {
            Some(meaning) => f.write_str(meaning),
            None => write!(f, "{} {}", self.number, self.unit),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Worked by hand: 16.0 kPa / 0.133322387415 kPa = 120.009852… mmHg, 10.7 kPa = 80.256588… mmHg.
    #[test]
    fn kilopascal_in_millimetres_of_mercury() {
        let kpa = |mantissa| Pressure {
            number: Sfloat::new(mantissa, -1).unwrap(),
            unit: Unit::KPa,
        };
        assert!((kpa(160).mmhg().unwrap() - 120.009_852).abs() < 1e-5);
        assert!((kpa(107).mmhg().unwrap() - 80.256_589).abs() < 1e-5);
        assert!((13.5951 * 9.806_65 - PASCAL_A_MMHG).abs() < 1e-12);
        assert_eq!(kpa(160).to_string(), "16.0 kPa");
        let none = Pressure {
            number: Sfloat::NAN,
            unit: Unit::KPa,
        };
        assert_eq!(none.mmhg(), None);
        assert_eq!(none.to_string(), "no value (NaN)");
    }
}
