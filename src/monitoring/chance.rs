//! The chance that a person's true average is at or above a threshold, from the same model as the interval.
//!
//! Either pressure reaching its limit is enough, so the two must be taken together: with means mₛ, mᵈ,
//! standard errors and correlation ρ from [`average`](super::average), the true averages follow a bivariate t
//! around the means (the confidence distribution of the interval; the Bayesian answer under a flat prior is
//! the same). The probability that both stay below is P(X < a, Y < b); its derivative in ρ is elementary
//! (Genz, Statistics and Computing 2004;14:251, after Plackett 1954), and at ρ = 1 it is the smaller of the
//! two one-sided probabilities:
//!
//! ```text
//! P(X < a, Y < b) = T(min(a, b)) − 1/2π ∫ (1 + (a² − 2ab sin φ + b²) ÷ (ν cos² φ))^(−ν/2) dφ,
//!                   φ from asin ρ to π/2
//! ```

use super::average::{Average, t_below};
use crate::reading::Pressure;
use crate::words::said::{Part, Said};
use serde::Serialize;
use std::f64::consts::{FRAC_PI_2, PI};

/// Probabilities from 0 to 1.
#[derive(Clone, PartialEq, Debug, Serialize)]
pub struct Chance {
    /// That the true systolic average is at or above its limit.
    pub systolic: f64,
    /// That the true diastolic average is.
    pub diastolic: f64,
    /// That at least one of them is.
    pub either: f64,
    /// For the clinician, in words.
    pub say: Said,
}

/// `None` where the readings do not say how much they vary: fewer than two days, or no two days that differ.
pub fn chance_at_or_above(average: &Average, systolic: Pressure, diastolic: Pressure) -> Option<Chance> {
    let uncertainty = average.uncertainty?;
    let degrees = uncertainty.degrees_of_freedom;
    let (error_s, error_d) = (uncertainty.systolic.sqrt(), uncertainty.diastolic.sqrt());
    let a = (systolic.mmhg() - average.systolic) / error_s;
    let b = (diastolic.mmhg() - average.diastolic) / error_d;
    let (below_s, below_d) = t_below(a, degrees).zip(t_below(b, degrees))?;
    let correlation = uncertainty.covariance / (error_s * error_d);
    let both_below = both_below(a, b, correlation, degrees)?;
    let either = (1.0 - both_below).clamp((1.0 - below_s).max(1.0 - below_d), 1.0);
    Some(Chance {
        systolic: 1.0 - below_s,
        diastolic: 1.0 - below_d,
        either,
        say: Said::of(
            "chance",
            [
                (
                    "limits",
                    format!("{}/{}", systolic.mmhg(), diastolic.mmhg())
                        .as_str()
                        .into(),
                ),
                ("chance", in_words(either).into()),
            ],
        ),
    })
}

/// Never certain: a small sample does not know its own tails well enough for "none" or "always".
fn in_words(chance: f64) -> Said {
    let percent = (100.0 * chance).round();
    if percent < 1.0 {
        Said::of("chance-least", [])
    } else if percent > 99.0 {
        Said::of("chance-most", [])
    } else {
        Said::of("chance-about", [("percent", Part::Number(format!("{percent}")))])
    }
}

/// Steps of Simpson's rule: agrees with an independent integration to 10⁻⁶ over the range that a chance is
/// printed in.
const STEPS: u32 = 400;

/// P(X < a, Y < b) of the standard bivariate t with this correlation.
pub fn both_below(a: f64, b: f64, correlation: f64, degrees_of_freedom: f64) -> Option<f64> {
    let top = t_below(a.min(b), degrees_of_freedom)?;
    let start = correlation.clamp(-1.0, 1.0).asin();
    let integrand = |angle: f64| {
        let cos2 = angle.cos().powi(2);
        let distance = (a * a - 2.0 * a * b * angle.sin() + b * b).max(0.0);
        if cos2 < 1e-18 {
            // The limit at ρ = 1: nothing where a and b differ, and the smooth value on the diagonal.
            return if distance > 1e-12 {
                0.0
            } else {
                (1.0 + a * a / degrees_of_freedom).powf(-degrees_of_freedom / 2.0)
            };
        }
        (1.0 + distance / (degrees_of_freedom * cos2)).powf(-degrees_of_freedom / 2.0)
    };
    // Where a and b nearly agree the integrand falls steeply close to ρ = 1: φ = π/2 − s², with even steps of
    // s, puts the points there.
    let length = (FRAC_PI_2 - start).max(0.0).sqrt();
    let step = length / f64::from(STEPS);
    let sum: f64 = (0..=STEPS)
        .map(|i| {
            let s = step * f64::from(i);
            let weight = if i == 0 || i == STEPS {
                1.0
            } else if i % 2 == 1 {
                4.0
            } else {
                2.0
            };
            weight * 2.0 * s * integrand(FRAC_PI_2 - s * s)
        })
        .sum();
    Some((top - sum * step / 3.0 / (2.0 * PI)).clamp(0.0, 1.0))
}
