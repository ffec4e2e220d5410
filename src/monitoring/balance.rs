//! How complete and how even the readings of an average are.
//!
//! No text read has a rule for a day that lacks its morning or its evening, or for a sitting of ten readings
//! (NICE says "ideally" morning and evening; AHA and ESC say both and average everything). So nothing is taken
//! out: the counts are said beside the average, an uneven one is never called sufficient without saying so, and
//! of one sitting no more readings go towards the protocol's minimum than it asks for (own choice).

use super::average::ExactMean;
use super::enters::Entering;
use super::protocol::Protocol;
use super::taken::Taken;
use crate::sitting::Slot;
use crate::words::said::{Part, Said};
use jiff::civil::Date;
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet};

/// The mean of sitting means stands beside the average where they differ by so much, in mmHg (own choice).
const SITTINGS_SHOWN_MMHG: f64 = 1.0;

/// How complete and how even the averaged readings are.
#[derive(Clone, PartialEq, Debug, Serialize)]
pub struct Balance {
    /// Mornings with an averaged reading.
    pub mornings: usize,
    /// Mornings that an even average has at least.
    pub mornings_min: u16,
    /// Evenings with an averaged reading.
    pub evenings: usize,
    /// Evenings that an even average has at least.
    pub evenings_min: u16,
    /// Sittings that the averaged readings were taken in.
    pub sittings: usize,
    /// Averaged readings of the smallest sitting.
    pub readings_least: usize,
    /// Averaged readings of the largest sitting.
    pub readings_most: usize,
    /// Whether there are at least as many mornings and evenings as that.
    pub even: bool,
    /// The mean of the sittings' means, where it differs from the average by 1 mmHg or more: one sitting has
    /// then much more weight than others.
    pub mean_of_sittings: Option<OfSittings>,
    /// All of it in one line.
    pub say: Said,
}

/// A mean in which every sitting has the same weight.
#[derive(Clone, Copy, PartialEq, Debug, Serialize)]
#[expect(missing_docs, reason = "the names say it")]
pub struct OfSittings {
    pub systolic: f64,
    pub diastolic: f64,
}

type Sitting = (Date, Slot, Option<u64>);

/// How many readings each sitting has, and its mean.
fn sittings(averaged: &[&Taken]) -> BTreeMap<Sitting, ExactMean> {
    let mut sittings: BTreeMap<Sitting, ExactMean> = BTreeMap::new();
    for taken in averaged {
        if let Some(values) = taken.counted() {
            let sitting = sittings
                .entry((taken.day, taken.slot, taken.session))
                .or_default();
            sitting.add(values);
        }
    }
    sittings
}

/// Readings that go towards the protocol's minimum: of one sitting no more than it asks for.
pub fn towards_minimum(protocol: &Protocol, averaged: &[&Taken]) -> usize {
    let most = usize::from(protocol.readings_per_session.value);
    sittings(averaged).values().map(|mean| mean.n().min(most)).sum()
}

/// The balance of what is averaged. `shown` says whether the average itself is.
pub fn balance(protocol: &Protocol, entering: &Entering<'_>, shown: bool) -> Balance {
    let averaged = entering.averaged();
    let days = |slot: Slot| {
        let of_slot = averaged.iter().filter(|taken| taken.slot == slot);
        of_slot.map(|taken| taken.day).collect::<BTreeSet<_>>().len()
    };
    let (mornings, evenings) = (days(Slot::Morning), days(Slot::Evening));
    let sittings = sittings(averaged);
    let (mornings_min, evenings_min) = (protocol.mornings_min.value, protocol.evenings_min.value);
    let mut balance = Balance {
        mornings,
        mornings_min,
        evenings,
        evenings_min,
        sittings: sittings.len(),
        readings_least: sittings.values().map(ExactMean::n).min().unwrap_or(0),
        readings_most: sittings.values().map(ExactMean::n).max().unwrap_or(0),
        even: mornings >= usize::from(mornings_min) && evenings >= usize::from(evenings_min),
        mean_of_sittings: of_sittings(averaged, &sittings).filter(|_| shown),
        say: Said::default(),
    };
    balance.say = balance.in_words();
    balance
}

fn of_sittings(averaged: &[&Taken], sittings: &BTreeMap<Sitting, ExactMean>) -> Option<OfSittings> {
    let mut whole = ExactMean::default();
    averaged
        .iter()
        .filter_map(|taken| taken.counted())
        .for_each(|values| whole.add(values));
    let mean = |of: fn(&ExactMean) -> Option<f64>| {
        let sum: f64 = sittings.values().filter_map(of).sum();
        sum / sittings.len() as f64
    };
    let (systolic, diastolic) = (mean(ExactMean::systolic), mean(ExactMean::diastolic));
    let apart = (systolic - whole.systolic()?)
        .abs()
        .max((diastolic - whole.diastolic()?).abs());
    // What comes to just 1 by the numbers must not fail by the last bit.
    (apart > SITTINGS_SHOWN_MMHG - 1e-9).then_some(OfSittings { systolic, diastolic })
}

impl Balance {
    fn in_words(&self) -> Said {
        let readings = match (self.readings_least, self.readings_most) {
            (least, most) if least == most => Part::Text(least.to_string()),
            (least, most) => {
                Said::of("interval-range", [("low", least.into()), ("high", most.into())]).into()
            }
        };
        let mut values = vec![
            ("mornings", self.mornings.into()),
            ("evenings", self.evenings.into()),
            ("readings", readings),
        ];
        let counted = if self.even {
            Said::of("balance-parts", values)
        } else {
            values.push(("mornings-min", self.mornings_min.into()));
            values.push(("evenings-min", self.evenings_min.into()));
            Said::of("balance-parts-uneven", values)
        };
        let mean = self.mean_of_sittings.map(|of| {
            let mean = Part::Number(format!("{:.1}/{:.1}", of.systolic, of.diastolic));
            Said::of(
                "balance-mean-of-sittings",
                [("sittings", self.sittings.into()), ("mean", mean)],
            )
        });
        counted.and(mean)
    }
}
