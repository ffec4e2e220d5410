//! Patterns that a clinician may want to see, and nobody else: each with its source, none of them a
//! diagnosis.
//!
//! A pattern is named only where what it needs was noted: no clinic reading, no word about white coats. Where
//! adult thresholds do not apply to a person, the patterns that rest on one are silent too.

use super::average::{Average, ExactMean, average, t_quantile};
use super::period::Period;
use super::protocol::Limits;
use super::taken::{Taken, Values};
use crate::household::{Arm, Posed};
use crate::reading::Pressure;
use crate::sitting::Slot;
use jiff::ToSpan;
use jiff::civil::Date;
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet};

/// Something to look at.
#[derive(Clone, PartialEq, Debug, Serialize)]
pub struct Pattern {
    /// The name of the pattern as programs read it, such as `morning-rise`.
    pub id: &'static str,
    /// For the clinician.
    pub say: String,
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
/// Days before and after a change of medicine that are compared; ACC/AHA 2017 looks again two weeks after a
/// change.
pub const MEDICINE_DAYS: i32 = 14;
/// Fewest days on either side of a change: as few as any protocol averages.
const MEDICINE_DAYS_MIN: usize = 3;
/// Clinic above home by more than this, systolic or diastolic; NICE NG136.
const WHITE_COAT_EFFECT_MMHG: (i32, i32) = (20, 10);
/// Morning above evening by more than this.
const MORNING_RISE_MMHG: i32 = 20;
/// One arm above the other by more than this.
const ARMS_MMHG: f64 = 10.0;
/// Sessions with an irregular pulse; own choice, one alone may be a moved arm.
const IRREGULAR_SESSIONS_MIN: usize = 2;
/// HOPE's morning average wants more days and readings than these.
const MORNING_DAYS: usize = 5;
const MORNING_READINGS: usize = 10;

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

/// Everything to look at in a period. `readings` are all of the person's, so that a change of medicine can be
/// seen over the edge of the period.
pub fn patterns(
    period: &Period,
    readings: &[Taken],
    clinic: &[ClinicReading],
    medicine_changes: &[Date],
) -> Vec<Pattern> {
    let seated = |taken: &&Taken| taken.posed == Posed::Seated;
    let mut sorted: Vec<&Taken> = readings.iter().filter(seated).collect();
    sorted.sort_by(|a, b| a.in_time(b));
    let here: Vec<&Taken> = sorted
        .iter()
        .copied()
        .filter(|taken| (period.from..=period.to).contains(&taken.day))
        .collect();
    let mut found = Vec::new();
    found.extend(clinic_and_home(period, clinic));
    found.extend(morning_rise(period));
    found.extend(morning_average(period, &here));
    found.extend(irregular_pulse(&here));
    found.extend(arms(&here));
    let changes: BTreeSet<Date> = medicine_changes.iter().copied().collect();
    for change in changes
        .iter()
        .filter(|change| (period.from..=period.to).contains(change))
    {
        found.extend(medicine(&sorted, *change, &changes));
    }
    found
}

fn clinic_and_home(period: &Period, clinic: &[ClinicReading]) -> Vec<Pattern> {
    let near = |reading: &&ClinicReading| {
        let first = period.from.saturating_sub(CLINIC_DAYS.days());
        let last = period.to.saturating_add(CLINIC_DAYS.days());
        (first..=last).contains(&reading.day)
    };
    let mut mean = ExactMean::default();
    for reading in clinic.iter().filter(near) {
        mean.add(&Values {
            systolic: reading.systolic,
            diastolic: reading.diastolic,
            pulse_rate: None,
        });
    }
    let Some(home) = &period.average else {
        return Vec::new();
    };
    let Some((systolic, diastolic)) = mean.systolic().zip(mean.diastolic()) else {
        return Vec::new();
    };
    let numbers = BTreeMap::from([
        ("clinic-systolic", systolic),
        ("clinic-diastolic", diastolic),
        ("home-systolic", home.systolic),
        ("home-diastolic", home.diastolic),
    ]);
    let beside = format!(
        "Clinic readings noted within {CLINIC_DAYS} days average {systolic:.1}/{diastolic:.1} ({} of them), home \
         readings {:.1}/{:.1}",
        mean.n(),
        home.systolic,
        home.diastolic
    );
    let mut found = Vec::new();
    let thresholds = period
        .threshold
        .as_ref()
        .and_then(|threshold| clinic_threshold(&threshold.limits).map(|clinic| (clinic, threshold.limits)));
    if let Some(((clinic, at_home), high_at_home)) = thresholds.zip(period.at_or_above) {
        let high_in_clinic =
            mean.systolic_reaches(clinic.systolic) || mean.diastolic_reaches(clinic.diastolic);
        let (id, shape) = match (high_in_clinic, high_at_home) {
            (true, false) => ("white-coat", "at or above the limit in the clinic only"),
            (false, true) => ("masked", "at or above the limit at home only"),
            _ => ("", ""),
        };
        if !id.is_empty() {
            found.push(Pattern {
                id,
                say: format!(
                    "{beside}: {shape} ({}/{} there, {}/{} here). The guideline calls this the {id} pattern; \
                     whether it is one, and what the person's treatment has to do with it, is for the clinician.",
                    clinic.systolic.mmhg(),
                    clinic.diastolic.mmhg(),
                    at_home.systolic.mmhg(),
                    at_home.diastolic.mmhg()
                ),
                source: "ESC 2024, section 5.1; corresponding limits: ACC/AHA 2017, table 11",
                numbers: numbers.clone(),
            });
        }
    }
    let effect = mean.systolic_exceeds(&home.exact, Pressure::from_mmhg(WHITE_COAT_EFFECT_MMHG.0))
        || mean.diastolic_exceeds(&home.exact, Pressure::from_mmhg(WHITE_COAT_EFFECT_MMHG.1));
    if effect && period.threshold.is_some() {
        found.push(Pattern {
            id: "white-coat-effect",
            say: format!(
                "{beside}: the clinic's are higher by {:.1}/{:.1}. NICE calls a difference of more than 20/10 \
                 white-coat effect.",
                systolic - home.systolic,
                diastolic - home.diastolic
            ),
            source: "NICE NG136, terms used",
            numbers,
        });
    }
    found
}

fn morning_rise(period: &Period) -> Option<Pattern> {
    let (morning, evening) = (period.morning.systolic?, period.evening.systolic?);
    let by = Pressure::from_mmhg(MORNING_RISE_MMHG);
    period.morning.exact.systolic_exceeds(&period.evening.exact, by).then(|| Pattern {
        id: "morning-rise",
        say: format!(
            "The morning systolic mean ({morning:.1}) is above the evening mean ({evening:.1}) by more than \
             {MORNING_RISE_MMHG} mmHg. The consensus names this a marker of risk apart from the average."
        ),
        source: "HOPE Asia Network 2023 consensus",
        numbers: BTreeMap::from([("morning-systolic", morning), ("evening-systolic", evening)]),
    })
}

fn morning_average(period: &Period, here: &[&Taken]) -> Option<Pattern> {
    period.threshold.as_ref()?;
    let (systolic, diastolic) = (period.morning.systolic?, period.morning.diastolic?);
    let mornings: Vec<&Taken> = here
        .iter()
        .copied()
        .filter(|taken| taken.slot == Slot::Morning && taken.counted().is_some())
        .collect();
    let days: BTreeSet<Date> = mornings.iter().map(|taken| taken.day).collect();
    let exact = period.morning.exact;
    let high =
        exact.systolic_reaches(Pressure::from_mmhg(135)) || exact.diastolic_reaches(Pressure::from_mmhg(85));
    (high && days.len() > MORNING_DAYS && exact.n() > MORNING_READINGS).then(|| Pattern {
        id: "morning-average",
        say: format!(
            "The mean of {} morning readings on {} days is {systolic:.1}/{diastolic:.1}, at or above 135/85. The \
             consensus looks at the morning mean for itself, whatever the clinic's readings are.",
            exact.n(),
            days.len()
        ),
        source: "HOPE Asia Network 2022 and 2023 consensus",
        numbers: BTreeMap::from([("morning-systolic", systolic), ("morning-diastolic", diastolic)]),
    })
}

/// Whatever technique made of those readings: what the monitor reported is a fact of its own.
fn irregular_pulse(here: &[&Taken]) -> Option<Pattern> {
    let irregular = || here.iter().filter(|taken| taken.irregular_pulse);
    let alone = irregular().filter(|taken| taken.session.is_none()).count();
    let sessions = irregular()
        .filter_map(|taken| taken.session)
        .collect::<BTreeSet<_>>()
        .len()
        + alone;
    (sessions >= IRREGULAR_SESSIONS_MIN).then(|| Pattern {
        id: "irregular-pulse",
        say: format!(
            "Irregular pulse reported by the monitor in {sessions} sessions ({} readings). A monitor cannot say \
             why; an ECG can.",
            irregular().count()
        ),
        source: "ESC 2024: an ECG is needed; two sessions is this program's own choice",
        numbers: BTreeMap::from([("sessions", sessions as f64)]),
    })
}

/// Arms are compared within sessions that have both: from day to day a person changes more than arms differ.
fn arms(here: &[&Taken]) -> Option<Pattern> {
    let mut sessions: BTreeMap<u64, (ExactMean, ExactMean)> = BTreeMap::new();
    for taken in here {
        let Some(((session, arm), values)) = taken.session.zip(taken.arm).zip(taken.counted()) else {
            continue;
        };
        let (left, right) = sessions.entry(session).or_default();
        match arm {
            Arm::Left => left.add(values),
            Arm::Right => right.add(values),
        }
    }
    let differences: Vec<f64> = sessions
        .values()
        .filter_map(|(left, right)| {
            right
                .systolic()
                .zip(left.systolic())
                .map(|(right, left)| right - left)
        })
        .collect();
    let count = differences.len();
    let mean = differences.iter().sum::<f64>() / count as f64;
    let higher = if mean > 0.0 { "right" } else { "left" };
    (count > 0 && mean.abs() > ARMS_MMHG).then(|| Pattern {
        id: "arms-differ",
        say: format!(
            "In {count} {} with both arms, the {higher} arm was higher by {:.1} mmHg systolic. The guideline has the \
             arm with the higher pressure used from then on; readings of both arms are in this average.",
            if count == 1 { "session" } else { "sessions" },
            mean.abs()
        ),
        source: "ESC 2024, class I: difference above 10 mmHg",
        numbers: BTreeMap::from([("right-minus-left-systolic", mean), ("sessions", count as f64)]),
    })
}

/// The difference of two averages with its 95 % interval.
#[derive(Clone, Copy, PartialEq, Debug)]
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

/// Up to [`MEDICINE_DAYS`] on either side, but not over another change; the day of the change belongs to
/// neither.
fn medicine(sorted: &[&Taken], change: Date, changes: &BTreeSet<Date>) -> Option<Pattern> {
    let earlier = changes.range(..change).next_back().copied();
    let later = changes.range(change..).nth(1).copied();
    let first = change.saturating_sub(MEDICINE_DAYS.days());
    let last = change.saturating_add(MEDICINE_DAYS.days());
    let side =
        |wanted: &dyn Fn(Date) -> bool| average(sorted.iter().copied().filter(|taken| wanted(taken.day)));
    let before = side(&|day| day < change && day >= first && earlier.is_none_or(|earlier| day > earlier))?;
    let after = side(&|day| day > change && day <= last && later.is_none_or(|later| day < later))?;
    if before.days < MEDICINE_DAYS_MIN || after.days < MEDICINE_DAYS_MIN {
        return None;
    }
    let (systolic, diastolic) = difference(&before, &after)?;
    let in_words = |difference: &Difference| {
        let [low, high] = difference.interval_95;
        format!("{:+.1} (95 % interval {low:+.1} to {high:+.1})", difference.by)
    };
    Some(Pattern {
        id: "medicine-changed",
        say: format!(
            "Medicine changed on {change}, as noted. After it ({} days) against before ({} days): systolic {}, \
             diastolic {}. That one came after the other does not say that it came from it.",
            after.days,
            before.days,
            in_words(&systolic),
            in_words(&diastolic)
        ),
        source: "Welch, Biometrika 1947;34:28, on days; two weeks after ACC/AHA 2017",
        numbers: BTreeMap::from([
            ("systolic", systolic.by),
            ("systolic-low", systolic.interval_95[0]),
            ("systolic-high", systolic.interval_95[1]),
            ("diastolic", diastolic.by),
            ("diastolic-low", diastolic.interval_95[0]),
            ("diastolic-high", diastolic.interval_95[1]),
        ]),
    })
}
