//! The clinic's readings beside those at home.
//!
//! A visit is a day on which a reading at the clinic was noted. AHA/ACC 2025 (extract) wants two readings on two
//! occasions; a visit's mean is taken to scatter by 10/6 mmHg around what many visits would give (from memory,
//! unconfirmed: visits are too few to estimate it for one person).

use super::shared::{CLINIC_DAYS, ClinicReading, Pattern, clinic_threshold, in_brackets, tenths, whole};
use crate::monitoring::average::{Average, ExactMean, t_quantile};
use crate::monitoring::period::Period;
use crate::monitoring::protocol::Limits;
use crate::monitoring::taken::Values;
use crate::words::said::{Part, Said};
use jiff::ToSpan;
use jiff::civil::Date;
use std::collections::BTreeMap;

/// Fewest visits; AHA/ACC 2025 (extract).
const VISITS_MIN: usize = 2;
/// Fewest readings at visits; AHA/ACC 2025 (extract).
const READINGS_MIN: usize = 2;
/// Scatter of one visit's mean, in mmHg, systolic and diastolic; from memory.
pub(super) const VISIT_SD: [f64; 2] = [10.0, 6.0];
/// Clinic above home by more than this, systolic or diastolic; NICE NG136.
const EFFECT_MMHG: [f64; 2] = [20.0, 10.0];
/// The normal deviate that leaves 2.5 % in one tail: one for each pressure.
const DEVIATE: f64 = 1.959_963_984_540_054;

/// The readings of the visits, the mean of the visits' means, and how far that may be off per deviate.
struct Visits {
    readings: usize,
    visits: usize,
    mean: [f64; 2],
    error: [f64; 2],
}

fn visits(period: &Period, clinic: &[ClinicReading]) -> Option<Visits> {
    let first = period.from.saturating_sub(CLINIC_DAYS.days());
    let last = period.to.saturating_add(CLINIC_DAYS.days());
    let mut days: BTreeMap<Date, ExactMean> = BTreeMap::new();
    for reading in clinic
        .iter()
        .filter(|reading| (first..=last).contains(&reading.day))
    {
        days.entry(reading.day).or_default().add(&Values {
            systolic: reading.systolic,
            diastolic: reading.diastolic,
            pulse_rate: None,
        });
    }
    let n = days.len() as f64;
    let mean = |of: fn(&ExactMean) -> Option<f64>| days.values().filter_map(of).sum::<f64>() / n;
    (!days.is_empty()).then(|| Visits {
        readings: days.values().map(ExactMean::n).sum(),
        visits: days.len(),
        mean: [mean(ExactMean::systolic), mean(ExactMean::diastolic)],
        error: VISIT_SD.map(|sd| sd / n.sqrt()),
    })
}

/// How far the home average may be off, to one side with 2 % for each pressure, so that both together are
/// imagined in fewer than 5 %.
fn reach(home: &Average) -> Option<[f64; 2]> {
    let of = home.uncertainty?;
    let t = t_quantile(0.98, of.degrees_of_freedom)?;
    Some([of.systolic, of.diastolic].map(|variance| t * variance.sqrt()))
}

fn two(limits: &Limits) -> [f64; 2] {
    [limits.systolic.mmhg(), limits.diastolic.mmhg()]
}

fn at(list: [f64; 2], which: usize) -> f64 {
    list.get(which).copied().unwrap_or(f64::NAN)
}

fn any(test: impl Fn(usize) -> bool) -> bool {
    test(0) || test(1)
}

fn all(test: impl Fn(usize) -> bool) -> bool {
    test(0) && test(1)
}

/// Home and clinic side by side, and the pattern where it can be told from chance.
pub(super) fn beside_home(period: &Period, clinic: &[ClinicReading]) -> Vec<Pattern> {
    let (Some(home), Some(there)) = (&period.average, visits(period, clinic)) else {
        return Vec::new();
    };
    if period.threshold.is_none() {
        return Vec::new();
    }
    let here = [home.systolic, home.diastolic];
    let beside = beside(&there, home);
    let numbers = BTreeMap::from([
        ("clinic-systolic", there.mean[0]),
        ("clinic-diastolic", there.mean[1]),
        ("home-systolic", home.systolic),
        ("home-diastolic", home.diastolic),
        ("visits", there.visits as f64),
        ("visits-needed", VISITS_MIN as f64),
        ("clinic-readings", there.readings as f64),
        ("home-readings", home.n as f64),
        ("home-days", home.days as f64),
    ]);
    let thresholds = period
        .threshold
        .as_ref()
        .and_then(|threshold| clinic_threshold(&threshold.limits).map(|clinic| (clinic, threshold.limits)));
    let (Some((clinic, at_home)), Some(off)) = (thresholds, reach(home)) else {
        return vec![plain(&beside, "limits", numbers)];
    };
    if there.visits < VISITS_MIN || there.readings < READINGS_MIN {
        return vec![plain(&beside, "visits", numbers)];
    }
    let (limits_there, limits_here) = (two(&clinic), two(&at_home));
    let high_there = any(|i| at(there.mean, i) - DEVIATE * at(there.error, i) >= at(limits_there, i));
    let low_there = all(|i| at(there.mean, i) + DEVIATE * at(there.error, i) < at(limits_there, i));
    let high_here = any(|i| at(here, i) - at(off, i) >= at(limits_here, i));
    let low_here = all(|i| at(here, i) + at(off, i) < at(limits_here, i));
    let named = match (high_there, low_here, low_there, high_here) {
        (true, true, ..) => Some(("white-coat", "clinic", "pattern-called-white-coat")),
        (.., true, true) => Some(("masked", "home", "pattern-called-masked")),
        _ => None,
    };
    let mut found = Vec::new();
    if let Some((id, shape, called)) = named {
        found.push(Pattern {
            id,
            say: Said::of(
                "pattern-say-named",
                [
                    ("beside", beside.clone().into()),
                    ("shape", shape.into()),
                    ("there", pair(&clinic)),
                    ("here", pair(&at_home)),
                    ("name", Said::of(called, []).into()),
                ],
            ),
            source: "ESC 2024, section 5.1; corresponding limits: ACC/AHA 2017, table 11; two visits: AHA/ACC 2025",
            numbers: numbers.clone(),
        });
    }
    if let Some(say) = effect(&beside, &there, here, off) {
        found.push(Pattern {
            id: "white-coat-effect",
            say,
            source: "NICE NG136, terms used",
            numbers: numbers.clone(),
        });
    }
    if found.is_empty() {
        found.push(plain(&beside, "chance", numbers));
    }
    found
}

/// A difference that NICE names, where it is more than chance. `off` is how far the home average may be off.
fn effect(beside: &Said, there: &Visits, here: [f64; 2], off: [f64; 2]) -> Option<Said> {
    let above = |i: usize| {
        let error = (at(there.error, i).powi(2) + (at(off, i) / DEVIATE).powi(2)).sqrt();
        at(there.mean, i) - at(here, i) - DEVIATE * error > at(EFFECT_MMHG, i)
    };
    any(above).then(|| {
        let by = tenths([at(there.mean, 0) - at(here, 0), at(there.mean, 1) - at(here, 1)]);
        Said::of(
            "pattern-say-white-coat-effect",
            [("beside", beside.clone().into()), ("by", by)],
        )
    })
}

fn pair(limits: &Limits) -> Part {
    Part::Text(format!("{}/{}", limits.systolic.mmhg(), limits.diastolic.mmhg()))
}

fn plain(beside: &Said, why: &'static str, numbers: BTreeMap<&'static str, f64>) -> Pattern {
    Pattern {
        id: "clinic-beside-home",
        say: Said::of(
            "pattern-say-unnamed",
            [("beside", beside.clone().into()), ("why", why.into())],
        ),
        source: "AHA/ACC 2025 (extract): two readings on two occasions; the scatter of a visit is from memory",
        numbers,
    }
}

/// Both means with what they rest on and how far they may be off.
fn beside(there: &Visits, home: &Average) -> Said {
    let range = |mean: f64, error: f64| whole([mean - DEVIATE * error, mean + DEVIATE * error]);
    let [systolic, diastolic] = there.mean;
    let [off, off_diastolic] = there.error;
    Said::of(
        "pattern-beside",
        [
            ("within", CLINIC_DAYS.unsigned_abs().into()),
            ("clinic", tenths(there.mean)),
            ("systolic", range(systolic, off)),
            ("diastolic", range(diastolic, off_diastolic)),
            ("visits", there.visits.into()),
            ("needed", VISITS_MIN.into()),
            ("clinic-readings", there.readings.into()),
            ("home", tenths([home.systolic, home.diastolic])),
            ("interval", in_brackets(home.interval_95)),
            ("home-readings", home.n.into()),
            ("days", home.days.into()),
        ],
    )
}
