//! What the patterns share: what one is, what a clinic reading is, and how far a difference may be off.

use crate::monitoring::average::{Average, Interval, t_quantile};
use crate::monitoring::protocol::Limits;
use crate::reading::Pressure;
use crate::words::said::{Part, Said};
use jiff::civil::Date;
use serde::Serialize;
use std::collections::BTreeMap;

/// Something to look at.
#[derive(Clone, PartialEq, Debug, Serialize)]
pub struct Pattern {
    /// The name of the pattern as programs read it, such as `morning-rise`.
    pub id: &'static str,
    /// For the clinician.
    pub say: Said,
    /// Where the rule comes from.
    pub source: &'static str,
    /// The numbers in the sentence, in mmHg unless their name says otherwise.
    pub numbers: BTreeMap<&'static str, f64>,
}

/// A reading that was taken at the clinic.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
#[expect(missing_docs, reason = "the names say it")]
pub struct ClinicReading {
    pub day: Date,
    pub systolic: Pressure,
    pub diastolic: Pressure,
}

/// Clinic readings so many days before or after a period are set beside it; own choice, about one round of
/// visits.
pub const CLINIC_DAYS: i32 = 90;
/// Clinic pressure and the home pressure that corresponds to it: ACC/AHA 2017, table 11. ESC 2024, section
/// 5.1, pairs 140/90 with 135/85 as well.
pub const CLINIC_AND_HOME: [((i32, i32), (i32, i32)); 4] = [
    ((120, 80), (120, 80)),
    ((130, 80), (130, 80)),
    ((140, 90), (135, 85)),
    ((160, 100), (145, 90)),
];

/// The clinic threshold that corresponds to a home threshold, where a guideline names one.
pub fn clinic_threshold(home: &Limits) -> Option<Limits> {
    let limits = |(systolic, diastolic)| Limits {
        systolic: Pressure::from_mmhg(systolic),
        diastolic: Pressure::from_mmhg(diastolic),
    };
    CLINIC_AND_HOME
        .iter()
        .find(|(_, at_home)| limits(*at_home) == *home)
        .map(|(clinic, _)| limits(*clinic))
}

/// The difference of two averages with its 95 % interval.
#[derive(Clone, Copy, PartialEq, Debug, Serialize)]
#[expect(missing_docs, reason = "the names say it")]
pub struct Difference {
    pub by: f64,
    pub interval_95: [f64; 2],
}

/// Second minus first, systolic and diastolic. Welch's interval (Biometrika 1947;34:28) from the two
/// variances and their degrees of freedom; with equally many readings each day it is Welch's t interval of
/// the day means.
pub fn difference(first: &Average, second: &Average) -> Option<(Difference, Difference)> {
    let (u, v) = first.uncertainty.zip(second.uncertainty)?;
    let one = |by: f64, a: f64, b: f64| {
        let variance = a + b;
        if variance <= 0.0 {
            return None;
        }
        let degrees = variance * variance / (a * a / u.degrees_of_freedom + b * b / v.degrees_of_freedom);
        let reach = t_quantile(0.975, degrees)? * variance.sqrt();
        Some(Difference {
            by,
            interval_95: [by - reach, by + reach],
        })
    };
    one(second.systolic - first.systolic, u.systolic, v.systolic).zip(one(
        second.diastolic - first.diastolic,
        u.diastolic,
        v.diastolic,
    ))
}

/// The mean of some differences, and the lowest that it may well be: the bound below which the true mean lies
/// with a chance of at most 2.5 % (Student's t on the differences). `None` of fewer than two, or of
/// differences that do not vary.
pub(super) fn at_least(differences: &[f64]) -> Option<(f64, f64)> {
    let n = differences.len() as f64;
    let mean = differences.iter().sum::<f64>() / n;
    let squares: f64 = differences.iter().map(|value| (value - mean).powi(2)).sum();
    let reach = t_quantile(0.975, n - 1.0)? * (squares / (n - 1.0) / n).sqrt();
    Some((mean, mean - reach))
}

/// A number with one decimal.
pub(in crate::monitoring) fn tenth(value: f64) -> Part {
    Part::Number(format!("{value:.1}"))
}

/// Two numbers with one decimal each.
pub(super) fn tenths([systolic, diastolic]: [f64; 2]) -> Part {
    Part::Number(format!("{systolic:.1}/{diastolic:.1}"))
}

/// From the lower to the upper end, in whole numbers.
pub(super) fn whole([low, high]: [f64; 2]) -> Part {
    Said::of(
        "interval-range",
        [
            ("low", Part::Text(format!("{low:.0}"))),
            ("high", Part::Text(format!("{high:.0}"))),
        ],
    )
    .into()
}

/// An interval behind what it is of; nothing where there is none.
pub(super) fn in_brackets(of: Option<Interval>) -> Part {
    Part::Said(of.map(|interval| {
        let values = [
            ("systolic", whole(interval.systolic)),
            ("diastolic", whole(interval.diastolic)),
        ];
        Said::of("pattern-interval", values)
    }))
}
