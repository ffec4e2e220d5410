//! How much a person's readings vary: information, never a verdict. ESC 2024, section 5.6: there is no
//! agreement on how to measure it and no trial shows that lowering it helps.
//!
//! SD with n − 1; CV = 100 × SD ÷ mean; ARV, the average real variability, is the mean absolute difference of
//! readings that follow one another (Mena et al., J Hypertens 2005;23:505). First-morning readings because
//! the one large home study of their CV used them (Juhanoja et al., Hypertension 2017;69:599).

use crate::reading::Pressure;
use serde::Serialize;

/// The spread of a series. What needs more values than there are is `None`.
#[derive(Clone, Copy, PartialEq, Debug, Serialize)]
pub struct Variability {
    /// How many values.
    pub n: usize,
    /// Standard deviation, in mmHg.
    pub sd: Option<f64>,
    /// Coefficient of variation, in per cent.
    pub cv: Option<f64>,
    /// Average real variability, in mmHg.
    pub arv: Option<f64>,
    /// Largest minus smallest, in mmHg.
    pub range: Option<f64>,
}

/// The spread of values in order of time.
pub fn variability(values: &[Pressure]) -> Variability {
    let n = values.len();
    let total: Pressure = values.iter().copied().sum();
    let squares: f64 = values
        .iter()
        .map(|value| (value.cross(n, total, 1) / n as f64).powi(2))
        .sum();
    let moves: Pressure = values
        .iter()
        .zip(values.iter().skip(1))
        .map(|(a, b)| (*b.max(a)) - (*b.min(a)))
        .sum();
    let several = n >= 2;
    let sd = several.then(|| (squares / (n - 1) as f64).sqrt());
    Variability {
        n,
        sd,
        cv: sd
            .filter(|_| total > Pressure::default())
            .map(|sd| 100.0 * sd / total.mean(n)),
        arv: several.then(|| moves.mean(n - 1)),
        range: values
            .iter()
            .max()
            .zip(values.iter().min())
            .map(|(most, least)| (*most - *least).mmhg()),
    }
}

/// Systolic and diastolic side by side.
#[derive(Clone, Copy, PartialEq, Debug, Serialize)]
#[expect(missing_docs, reason = "the names say it")]
pub struct PressureVariability {
    pub systolic: Variability,
    pub diastolic: Variability,
}
