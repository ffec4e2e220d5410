//! A monitor that begins to scatter or to disagree with the clinic: signs that it wants a check, not that it
//! is wrong.
//!
//! *Scatter.* Two readings a minute apart differ little, whatever the person's pressure does from day to day,
//! so the differences within sessions show the monitor more than the person. Whether they have become larger
//! since some session is asked with Pettitt's change-point test (Appl Stat 1979;28:126), one-sided, which
//! knows no distribution and takes ties. It is asked again after every session, so its level is set low: of
//! monitors that never change, looked at every week for a year, fewer than 1 in 20 are reported (the
//! simulation is among the tests).
//!
//! *Disagreement.* Clinic readings are few. The newest difference between home and clinic is held against the
//! interval in which one more value of the earlier differences is to be expected (the t prediction interval;
//! Hahn and Meeker, Statistical Intervals, 1991). A changed medicine can move it as well, which is why it
//! asks for a look only.

use super::average::{ExactMean, t_below};
use super::patterns::{ClinicReading, Pattern, tenth};
use super::taken::Taken;
use crate::household::Posed;
use crate::words::said::{Part, Said};
use jiff::ToSpan;
use jiff::civil::Date;
use std::collections::BTreeMap;

/// Sessions looked back over: two months of twice a day.
pub const SCATTER_SESSIONS_MAX: usize = 120;
/// Fewest sessions: below it the test can hardly reach its level.
pub const SCATTER_SESSIONS_MIN: usize = 28;
/// Level of one look at the scatter.
pub const SCATTER_LEVEL: f64 = 0.001;
/// Level of one look at the agreement with the clinic.
pub const DISAGREEMENT_LEVEL: f64 = 0.01;
/// Home readings this many days around a clinic reading are set beside it; own choice.
const DISAGREEMENT_DAYS: i32 = 7;
/// Fewest home readings for that: half of the least that a protocol averages.
const DISAGREEMENT_READINGS_MIN: usize = 6;
/// Fewest earlier differences.
const DISAGREEMENT_EARLIER_MIN: usize = 4;

/// Where a series seems to change.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct ChangePoint {
    /// The first value after the change.
    pub at: usize,
    /// Probability of so large a statistic without a change; Pettitt's approximation, good below 0.5.
    pub p: f64,
}

/// Pettitt's test for a step upwards. `None` of fewer than two values.
pub fn pettitt_upwards(values: &[f64]) -> Option<ChangePoint> {
    let n = values.len() as f64;
    let sign = |a: f64, b: f64| f64::from(i8::from(a > b) - i8::from(a < b));
    let mut u = 0.0;
    let mut most: Option<(f64, usize)> = None;
    for (place, value) in values.iter().enumerate().take(values.len().saturating_sub(1)) {
        u += values.iter().map(|other| sign(*other, *value)).sum::<f64>();
        if most.is_none_or(|(largest, _)| u > largest) {
            most = Some((u, place + 1));
        }
    }
    let (k, at) = most?;
    let p = if k > 0.0 {
        (-6.0 * k * k / (n.powi(3) + n * n)).exp()
    } else {
        1.0
    };
    Some(ChangePoint { at, p })
}

/// Whether one more value of a series would be so far from the earlier ones, two-sided. `None` of fewer than
/// two earlier values, or of values that do not vary.
pub fn unlike_the_earlier(earlier: &[f64], newest: f64) -> Option<f64> {
    let n = earlier.len() as f64;
    let mean = earlier.iter().sum::<f64>() / n;
    let variance = earlier.iter().map(|value| (value - mean).powi(2)).sum::<f64>() / (n - 1.0);
    let t = (newest - mean) / (variance * (1.0 + 1.0 / n)).sqrt();
    t_below(-t.abs(), n - 1.0).map(|tail| 2.0 * tail)
}

/// What asks for a check, from the readings that one person took with one monitor and their clinic readings.
/// `since` is the last check of the monitor: what was before it is settled.
pub fn signs(readings: &[Taken], clinic: &[ClinicReading], since: Option<Date>) -> Vec<Pattern> {
    let mut counted: Vec<&Taken> = readings
        .iter()
        .filter(|taken| {
            taken.counted().is_some()
                && taken.posed == Posed::Seated
                && since.is_none_or(|since| taken.day > since)
        })
        .collect();
    counted.sort_by(|a, b| a.in_time(b));
    scatter(&counted)
        .into_iter()
        .chain(disagreement(&counted, clinic))
        .collect()
}

/// For each session the difference of its first two readings, systolic and diastolic together, and its day.
fn within_sessions(counted: &[&Taken]) -> Vec<(Date, f64)> {
    let mut pairs = Vec::new();
    let mut firsts: BTreeMap<u64, Option<&Taken>> = BTreeMap::new();
    for taken in counted {
        let Some(session) = taken.session else { continue };
        match firsts.get_mut(&session) {
            None => _ = firsts.insert(session, Some(taken)),
            Some(first) => {
                let before = first.take().and_then(Taken::counted);
                if let Some((a, b)) = before.zip(taken.counted()) {
                    let systolic = (a.systolic - b.systolic).mmhg().abs();
                    let diastolic = (a.diastolic - b.diastolic).mmhg().abs();
                    pairs.push((taken.day, systolic + diastolic));
                }
            }
        }
    }
    pairs
}

fn scatter(counted: &[&Taken]) -> Option<Pattern> {
    let pairs = within_sessions(counted);
    let recent = pairs.get(pairs.len().saturating_sub(SCATTER_SESSIONS_MAX)..)?;
    if recent.len() < SCATTER_SESSIONS_MIN {
        return None;
    }
    let values: Vec<f64> = recent.iter().map(|(_, value)| *value).collect();
    let change = pettitt_upwards(&values).filter(|change| change.p < SCATTER_LEVEL)?;
    let (before, after) = values.split_at(change.at);
    let mean = |part: &[f64]| part.iter().sum::<f64>() / part.len() as f64 / 2.0;
    let (day, _) = recent.get(change.at)?;
    Some(Pattern {
        id: "monitor-scatters",
        say: Said::of(
            "pattern-say-monitor-scatters",
            [
                ("day", (*day).into()),
                ("after", tenth(mean(after))),
                ("before", tenth(mean(before))),
            ],
        ),
        source: "Pettitt, Appl Stat 1979;28:126; that scatter asks for a check is common practice",
        numbers: BTreeMap::from([
            ("before", mean(before)),
            ("after", mean(after)),
            ("p-value", change.p),
        ]),
    })
}

fn disagreement(counted: &[&Taken], clinic: &[ClinicReading]) -> Option<Pattern> {
    let mut days: BTreeMap<Date, ExactMean> = BTreeMap::new();
    for reading in clinic {
        let values = super::taken::Values {
            systolic: reading.systolic,
            diastolic: reading.diastolic,
            pulse_rate: None,
        };
        days.entry(reading.day).or_default().add(&values);
    }
    let differences: Vec<(Date, f64)> = days
        .iter()
        .filter_map(|(day, there)| {
            let around =
                day.saturating_sub(DISAGREEMENT_DAYS.days())..=day.saturating_add(DISAGREEMENT_DAYS.days());
            let mut here = ExactMean::default();
            for values in counted
                .iter()
                .filter(|t| around.contains(&t.day))
                .filter_map(|t| t.counted())
            {
                here.add(values);
            }
            let enough = here.n() >= DISAGREEMENT_READINGS_MIN;
            here.systolic()
                .zip(there.systolic())
                .filter(|_| enough)
                .map(|(here, there)| (*day, here - there))
        })
        .collect();
    let ((day, newest), earlier) = differences.split_last()?;
    if earlier.len() < DISAGREEMENT_EARLIER_MIN {
        return None;
    }
    let earlier: Vec<f64> = earlier.iter().map(|(_, difference)| *difference).collect();
    let p = unlike_the_earlier(&earlier, *newest).filter(|p| *p < DISAGREEMENT_LEVEL)?;
    let usual = earlier.iter().sum::<f64>() / earlier.len() as f64;
    Some(Pattern {
        id: "monitor-disagrees",
        say: Said::of(
            "pattern-say-monitor-disagrees",
            [
                ("day", (*day).into()),
                ("newest", Part::Number(format!("{newest:+.1}"))),
                ("n", earlier.len().into()),
                ("usual", Part::Number(format!("{usual:+.1}"))),
            ],
        ),
        source: "t prediction interval, Hahn and Meeker 1991; that disagreement asks for a check is common practice",
        numbers: BTreeMap::from([("newest", *newest), ("usual", usual), ("p-value", p)]),
    })
}
