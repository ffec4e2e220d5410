//! A pressure as an exact number, whichever unit it was measured in.
//!
//! A threshold comparison must not depend on how a binary float rounds: 134.99 is below 135 and a mean of
//! exactly 135 is at it. Pressures are therefore whole multiples of a grain so small that every SFLOAT fits
//! without rounding, in millimetres of mercury and in kilopascals alike. One mmHg is 133.322387415 Pa exactly
//! (the conventional millimetre: 13.5951 × 9.80665 Pa, NIST SP 811, appendix B.8), that is 133322387415 ×
//! 10⁻⁹ Pa, so with
//!
//! ```text
//! 1 mmHg = 133322387415 × 10⁸ grains        10⁻⁸ mmHg = 133322387415 grains
//! 1 kPa  =              10²⁰ grains         10⁻⁸ kPa  =         10¹² grains
//! ```
//!
//! sums are sums of integers and a mean is compared as `total >= threshold × n`. A float is made once, for
//! printing.

use super::Reading;
use crate::gatt::{Sfloat, Unit};
use std::iter::Sum;
use std::ops::{Add, AddAssign, Mul, Sub};

/// An exact pressure, or an exact sum of pressures.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, Default)]
pub struct Pressure(i128);

const GRAINS_A_MMHG: i128 = 133_322_387_415 * 100_000_000;
const GRAINS_A_KPA: i128 = 100_000_000_000_000_000_000;

/// The largest pressure taken, in mmHg. No cuff comes near it. The limit keeps `readings × sum of readings`
/// inside 128 bits for a million readings, so that no arithmetic here can overflow.
pub const PRESSURE_MMHG_MAX: i128 = 1_000_000;

/// The finest decimal that stays exact: the smallest exponent of an SFLOAT.
const EXPONENT_MIN: i8 = -8;

impl Pressure {
    /// The pressure of a decimal, `mantissa × 10^exponent`, in its unit. `None` beyond [`PRESSURE_MMHG_MAX`]
    /// or finer than 10⁻⁸.
    pub fn from_decimal(mantissa: i64, exponent: i8, unit: Unit) -> Option<Self> {
        let grains_a_unit = match unit {
            Unit::MmHg => GRAINS_A_MMHG,
            Unit::KPa => GRAINS_A_KPA,
        };
        if exponent < EXPONENT_MIN {
            return None;
        }
        let power = 10i128.checked_pow(u32::from(exponent.unsigned_abs()))?;
        let grains_a_step = if exponent < 0 {
            grains_a_unit / power
        } else {
            grains_a_unit.checked_mul(power)?
        };
        let grains = i128::from(mantissa).checked_mul(grains_a_step)?;
        (grains.abs() <= PRESSURE_MMHG_MAX * GRAINS_A_MMHG).then_some(Self(grains))
    }

    /// The pressure that the monitor sent; `None` for a special code and beyond [`PRESSURE_MMHG_MAX`].
    pub fn from_sfloat(value: Sfloat, unit: Unit) -> Option<Self> {
        if value.special().is_some() {
            return None;
        }
        Self::from_decimal(i64::from(value.mantissa()), value.exponent(), unit)
    }

    /// The pressure of whole millimetres of mercury.
    pub const fn from_mmhg(mmhg: i32) -> Self {
        Self(mmhg as i128 * GRAINS_A_MMHG)
    }

    /// The pressure of a number that a person wrote in mmHg, such as a clinic's threshold. It is taken to the
    /// nearest 10⁻⁶ mmHg, which gives back the decimal that was written. `None` beyond [`PRESSURE_MMHG_MAX`]
    /// and for what is not a number.
    pub fn from_mmhg_written(mmhg: f64) -> Option<Self> {
        let micro = (mmhg * 1e6).round();
        #[expect(clippy::cast_possible_truncation, reason = "its size is checked first")]
        (micro.abs() <= 1e12).then(|| Self(micro as i128 * (GRAINS_A_MMHG / 1_000_000)))
    }

    /// The pressure in millimetres of mercury, as the nearest float; for printing and statistics, never for
    /// comparing.
    pub fn mmhg(self) -> f64 {
        self.mean(1)
    }

    /// The pressure in the monitor's own unit, as the nearest float; for printing.
    pub fn in_unit(self, unit: Unit) -> f64 {
        match unit {
            Unit::MmHg => self.mmhg(),
            Unit::KPa => self.0 as f64 / GRAINS_A_KPA as f64,
        }
    }

    /// This total divided by `n`, in mmHg. The whole millimetres are divided off as integers, so that the
    /// float is within half a unit of its last place.
    pub fn mean(self, n: usize) -> f64 {
        let divisor = GRAINS_A_MMHG * n.max(1) as i128;
        (self.0.div_euclid(divisor)) as f64 + self.0.rem_euclid(divisor) as f64 / divisor as f64
    }

    /// This total divided by `n`, in steps of which a millimetre of mercury has `steps_a_mmhg`, rounded half
    /// up. The result is exact, for numbers that are written down to be kept. Nothing that is a pressure
    /// leaves 32 bits.
    pub fn rounded(self, n: usize, steps_a_mmhg: i32) -> i32 {
        let divisor = GRAINS_A_MMHG * n.max(1) as i128;
        let steps = (self.0 * i128::from(steps_a_mmhg) * 2 + divisor).div_euclid(divisor * 2);
        i32::try_from(steps).unwrap_or(i32::MAX)
    }

    /// The difference `self × n − other × m`, in mmHg: the numerator of a deviation from a mean, subtracted
    /// before it is rounded.
    pub(crate) fn cross(self, n: usize, other: Self, m: usize) -> f64 {
        (self.0 * n as i128 - other.0 * m as i128) as f64 / GRAINS_A_MMHG as f64
    }
}

/// The systolic and the diastolic pressure of a reading; `None` where one of them is no number that a
/// pressure can have.
pub fn pressures(reading: &Reading) -> Option<(Pressure, Pressure)> {
    Some((
        Pressure::from_sfloat(reading.systolic, reading.unit)?,
        Pressure::from_sfloat(reading.diastolic, reading.unit)?,
    ))
}

impl Add for Pressure {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self(self.0 + other.0)
    }
}

impl Sub for Pressure {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self(self.0 - other.0)
    }
}

impl Mul<usize> for Pressure {
    type Output = Self;
    fn mul(self, n: usize) -> Self {
        Self(self.0 * n as i128)
    }
}

impl AddAssign for Pressure {
    fn add_assign(&mut self, other: Self) {
        self.0 += other.0;
    }
}

impl Sum for Pressure {
    fn sum<I: Iterator<Item = Self>>(items: I) -> Self {
        items.fold(Self::default(), Add::add)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_sfloat_step_is_whole_in_both_units() {
        for unit in [Unit::MmHg, Unit::KPa] {
            let step = Pressure::from_decimal(1, -8, unit).unwrap();
            let one = Pressure::from_decimal(1, 0, unit).unwrap();
            assert_eq!(step * 100_000_000, one);
        }
        assert_eq!(Pressure::from_decimal(1, -9, Unit::MmHg), None);
    }

    /// The definition: 101.325 kPa, the standard atmosphere, is 760 mmHg less 0.000108 (1 atm = 760 torr, and
    /// the millimetre of mercury is larger than the torr by 1.4 × 10⁻⁷).
    #[test]
    fn kilopascals() {
        let atmosphere = Pressure::from_decimal(101_325, -3, Unit::KPa).unwrap();
        assert!((atmosphere.in_unit(Unit::KPa) - 101.325).abs() < 1e-12);
        assert!((atmosphere.mmhg() - 101_325.0 / 133.322_387_415).abs() < 1e-12);
        assert!((760.0 - atmosphere.mmhg() - 0.000_108).abs() < 1e-6);
        // 18.0 kPa is 135.0 mmHg to the eye and just above it in truth.
        let edge = Pressure::from_decimal(180, -1, Unit::KPa).unwrap();
        assert!(edge > Pressure::from_mmhg(135));
        assert_eq!(format!("{:.1}", edge.mmhg()), "135.0");
    }

    #[test]
    fn decimals_print_as_written() {
        for (mantissa, exponent, printed) in [(13_499, -2, "134.99"), (1341, -1, "134.1"), (1, -1, "0.1")] {
            let pressure = Pressure::from_decimal(mantissa, exponent, Unit::MmHg).unwrap();
            assert_eq!(pressure.mmhg().to_string(), printed);
            assert_eq!(
                Pressure::from_mmhg_written(printed.parse().unwrap()),
                Some(pressure)
            );
        }
    }

    #[test]
    fn rounded_half_up_without_a_float() {
        let pressure = |mantissa| Pressure::from_decimal(mantissa, -2, Unit::MmHg).unwrap();
        assert_eq!(pressure(13_425).rounded(1, 10), 1343);
        assert_eq!(pressure(13_424).rounded(1, 10), 1342);
        // A third of 402.15 is 134.05 to the digit; the nearest binary number lies above it.
        assert_eq!(pressure(40_215).rounded(3, 10), 1341);
        assert_eq!(pressure(40_214).rounded(3, 10), 1340);
        assert_eq!(pressure(-50).rounded(1, 1), 0);
        assert_eq!(pressure(-51).rounded(1, 1), -1);
        // 16.0 kPa is 120.01 mmHg.
        assert_eq!(
            Pressure::from_decimal(160, -1, Unit::KPa).unwrap().rounded(1, 1),
            120
        );
    }

    #[test]
    fn nothing_outside_overflows() {
        assert_eq!(Pressure::from_decimal(2046, 7, Unit::MmHg), None);
        assert_eq!(Pressure::from_decimal(i64::MAX, 127, Unit::KPa), None);
        for bits in 0..=u16::MAX {
            for unit in [Unit::MmHg, Unit::KPa] {
                let value = Sfloat::from_bits(bits);
                if let Some(pressure) = Pressure::from_sfloat(value, unit) {
                    let million = pressure * 1_000_000;
                    assert!((million * 1_000_000).mean(1_000_000).is_finite());
                }
            }
        }
        for odd in [f64::NAN, f64::INFINITY, 1e300, -1e300] {
            assert_eq!(Pressure::from_mmhg_written(odd), None);
        }
    }
}
