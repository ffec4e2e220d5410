//! Mornings against evenings, and mornings for themselves.

use super::shared::{Pattern, at_least, in_brackets, tenth, tenths};
use crate::monitoring::average::{ExactMean, average};
use crate::monitoring::chance::chance_at_or_above;
use crate::monitoring::period::Period;
use crate::monitoring::taken::Taken;
use crate::reading::Pressure;
use crate::sitting::Slot;
use crate::words::said::{Part, Said};
use jiff::civil::Date;
use std::collections::BTreeMap;

/// Morning above evening by this or more (J-HOP, abstract: 20 or more, with the mean allowed for).
const RISE_MMHG: f64 = 20.0;
/// HOPE's morning average wants more days and readings than these.
const DAYS: usize = 5;
const READINGS: usize = 10;
/// A chance that leaves 2 % for either pressure, so that both together are imagined in fewer than 5 %.
const SURE: f64 = 0.98;

/// Mornings above evenings of the same days.
pub(super) fn rise(here: &[&Taken]) -> Option<Pattern> {
    let mut days: BTreeMap<Date, (ExactMean, ExactMean)> = BTreeMap::new();
    for taken in here {
        let Some(values) = taken.counted() else { continue };
        let (morning, evening) = days.entry(taken.day).or_default();
        match taken.slot {
            Slot::Morning => morning.add(values),
            Slot::Evening => evening.add(values),
            Slot::Other => {}
        }
    }
    let differences: Vec<f64> = days
        .values()
        .filter_map(|(morning, evening)| Some(morning.systolic()? - evening.systolic()?))
        .collect();
    let (mean, least) = at_least(&differences)?;
    (differences.len() > DAYS && least >= RISE_MMHG).then(|| Pattern {
        id: "morning-rise",
        say: Said::of(
            "pattern-say-morning-rise",
            [
                ("n", differences.len().into()),
                ("needed", DAYS.into()),
                ("by", tenth(mean)),
                ("least", tenth(least)),
                ("marker", Part::Number(format!("{RISE_MMHG}"))),
            ],
        ),
        source: "HOPE Asia Network 2023 consensus; J-HOP (abstract): 20 or more",
        numbers: BTreeMap::from([
            ("systolic", mean),
            ("systolic-at-least", least),
            ("days", differences.len() as f64),
            ("days-needed", (DAYS + 1) as f64),
        ]),
    })
}

/// The mean of the mornings, whatever the clinic's readings are.
pub(super) fn average_of_mornings(period: &Period, here: &[&Taken]) -> Option<Pattern> {
    period.threshold.as_ref()?;
    period.average.as_ref()?;
    let mornings = average(here.iter().copied().filter(|taken| taken.slot == Slot::Morning))?;
    if mornings.days <= DAYS || mornings.n <= READINGS {
        return None;
    }
    let chance = chance_at_or_above(&mornings, Pressure::from_mmhg(135), Pressure::from_mmhg(85));
    let high = match chance {
        Some(chance) => chance.systolic >= SURE || chance.diastolic >= SURE,
        // Days that do not differ at all.
        None => mornings.systolic >= 135.0 || mornings.diastolic >= 85.0,
    };
    let (systolic, diastolic) = (mornings.systolic, mornings.diastolic);
    high.then(|| Pattern {
        id: "morning-average",
        say: Said::of(
            "pattern-say-morning-average",
            [
                ("n", mornings.n.into()),
                ("days", mornings.days.into()),
                ("mean", tenths([systolic, diastolic])),
                ("interval", in_brackets(mornings.interval_95)),
                ("readings-needed", READINGS.into()),
                ("days-needed", DAYS.into()),
            ],
        ),
        source: "HOPE Asia Network 2022 and 2023 consensus",
        numbers: BTreeMap::from([
            ("morning-systolic", systolic),
            ("morning-diastolic", diastolic),
            ("days", mornings.days as f64),
            ("readings", mornings.n as f64),
        ]),
    })
}
