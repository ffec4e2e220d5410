//! Before and after a change of medicine.
//!
//! The days on which a new medicine is still settling are compared with nothing: how many those are is the
//! protocol's word. A change is never averaged over without saying so; see [`changes_within`].

use super::shared::{Difference, Pattern, difference};
use crate::household::{Note, PersonId, Posed, StatedNote, Zones};
use crate::monitoring::average::{Average, average};
use crate::monitoring::period::Period;
use crate::monitoring::protocol::Protocol;
use crate::monitoring::taken::Taken;
use crate::sitting::Slot;
use crate::words::said::{Part, Said};
use jiff::ToSpan;
use jiff::civil::Date;
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet};

/// Days before a change, and days after it has settled, that are compared; own choice, as long as two of the
/// periods that protocols ask for.
pub const MEDICINE_DAYS: i32 = 14;
/// Fewest days on either side of a change: as few as any protocol averages.
const DAYS_MIN: usize = 3;

/// The days on which this person's medicine was changed, as noted.
pub fn changes_of(person: &PersonId, notes: &[StatedNote], zones: &Zones) -> Vec<Date> {
    notes
        .iter()
        .filter(|note| note.person.as_ref() == Some(person))
        .filter(|note| matches!(note.what, Note::MedicineChanged { .. }))
        .map(|note| zones.civil(note.at).date())
        .collect()
}

/// The changes within a period after its first day: its average then mixes before and after.
pub fn changes_within(from: Date, to: Date, changes: &[Date]) -> BTreeSet<Date> {
    changes
        .iter()
        .copied()
        .filter(|day| from <= *day && *day <= to)
        .collect()
}

/// One sentence for the headline, where a medicine was changed within the period.
pub fn in_headline(from: Date, to: Date, changes: &[Date]) -> Option<Said> {
    let within = changes_within(from, to, changes);
    (!within.is_empty()).then(|| {
        Said::of(
            "medicine-changed-on",
            [("days", Part::Days(within.into_iter().collect()))],
        )
    })
}

/// Every change whose days before, settling or after touch the period.
pub(super) fn changes(period: &Period, protocol: &Protocol, sorted: &[&Taken], all: &[Date]) -> Vec<Pattern> {
    let all: BTreeSet<Date> = all.iter().copied().collect();
    let settling = i32::from(protocol.settling_days.value);
    let first = period.from.saturating_sub((settling + MEDICINE_DAYS).days());
    all.range(first..=period.to)
        .filter_map(|change| one(period, protocol, sorted, *change, &all))
        .collect()
}

/// What was measured around a change of medicine.
#[derive(Clone, PartialEq, Debug, Serialize)]
pub struct Around {
    /// The day of the change.
    pub changed: Date,
    /// From when on the new medicine is taken to have settled.
    pub settled: Date,
    /// The average of the days before; none of no reading.
    pub before: Option<Average>,
    /// The average of the days from then on.
    pub after: Option<Average>,
    /// After minus before; none where either side has fewer than three days, or no interval.
    pub after_minus_before: Option<AverageDifference>,
}

/// A difference of two averages, systolic and diastolic.
#[derive(Clone, Copy, PartialEq, Debug, Serialize)]
#[expect(missing_docs, reason = "the names say it")]
pub struct AverageDifference {
    pub systolic: Difference,
    pub diastolic: Difference,
}

impl Around {
    /// Up to [`MEDICINE_DAYS`] on either side, but not over another change.
    fn of(sorted: &[&Taken], change: Date, all: &BTreeSet<Date>, settling_days: u16) -> Self {
        let earlier = all.range(..change).next_back().copied();
        let later = all.range(change..).nth(1).copied();
        let settled = change.saturating_add(i32::from(settling_days).days());
        let first = change.saturating_sub(MEDICINE_DAYS.days());
        let last = settled.saturating_add(MEDICINE_DAYS.days());
        let side = |wanted: &dyn Fn(Date) -> bool| {
            let of = |taken: &&Taken| taken.slot != Slot::Other && wanted(taken.day);
            average(sorted.iter().copied().filter(of))
        };
        let before = side(&|day| day < change && day >= first && earlier.is_none_or(|earlier| day > earlier));
        let after = side(&|day| day >= settled && day < last && later.is_none_or(|later| day < later));
        let enough = |of: &Option<Average>| days(of) >= DAYS_MIN;
        let both = before.as_ref().zip(after.as_ref());
        let after_minus_before = both
            .filter(|_| enough(&before) && enough(&after))
            .and_then(|(before, after)| difference(before, after))
            .map(|(systolic, diastolic)| AverageDifference { systolic, diastolic });
        Self {
            changed: change,
            settled,
            before,
            after,
            after_minus_before,
        }
    }

    /// What is missing for a comparison, if anything is.
    pub fn lacks(&self) -> Option<Said> {
        let (before, after) = (days(&self.before), days(&self.after));
        (before < DAYS_MIN || after < DAYS_MIN).then(|| {
            Said::of(
                "change-lacks",
                [
                    ("before", before.into()),
                    ("after", after.into()),
                    ("settled", self.settled.into()),
                    ("needed", DAYS_MIN.into()),
                ],
            )
        })
    }
}

fn days(of: &Option<Average>) -> usize {
    of.as_ref().map_or(0, |of| of.days)
}

/// Before and after each change of medicine, the first one first; `settling_days` is the waiting time of the protocol
/// that ran then.
pub fn each_change(taken: &[Taken], changes: &[Date], settling_days: impl Fn(Date) -> u16) -> Vec<Around> {
    let mut sorted: Vec<&Taken> = taken
        .iter()
        .filter(|taken| taken.posed == Posed::Seated)
        .collect();
    sorted.sort_by(|a, b| a.in_time(b));
    let all: BTreeSet<Date> = changes.iter().copied().collect();
    let around = |change: &Date| Around::of(&sorted, *change, &all, settling_days(*change));
    all.iter().map(around).collect()
}

fn one(
    period: &Period,
    protocol: &Protocol,
    sorted: &[&Taken],
    change: Date,
    all: &BTreeSet<Date>,
) -> Option<Pattern> {
    let around = Around::of(sorted, change, all, protocol.settling_days.value);
    let (had_before, had_after) = (days(&around.before), days(&around.after));
    let (settled, differ) = (around.settled, around.after_minus_before);
    let needed = BTreeMap::from([
        ("days-before", had_before as f64),
        ("days-after", had_after as f64),
        ("days-needed", DAYS_MIN as f64),
        ("settling-days", f64::from(protocol.settling_days.value)),
    ]);
    if had_before < DAYS_MIN || had_after < DAYS_MIN {
        let within = (period.from..=period.to).contains(&change);
        return (within || had_after > 0).then(|| Pattern {
            id: "medicine-settling",
            say: Said::of(
                "pattern-say-medicine-settling",
                [
                    ("change", change.into()),
                    ("settled", settled.into()),
                    ("before", had_before.into()),
                    ("after", had_after.into()),
                    ("needed", DAYS_MIN.into()),
                ],
            ),
            source: "the protocol's waiting time after a change; the fewest days are an own choice",
            numbers: needed,
        });
    }
    let AverageDifference { systolic, diastolic } = differ?;
    let by = |difference: &Difference| {
        let signed = |value: f64| Part::Number(format!("{value:+.1}"));
        let [low, high] = difference.interval_95;
        let values = [
            ("by", signed(difference.by)),
            ("low", signed(low)),
            ("high", signed(high)),
        ];
        Said::of("pattern-by", values).into()
    };
    let mut numbers = needed;
    numbers.extend([
        ("systolic", systolic.by),
        ("systolic-low", systolic.interval_95[0]),
        ("systolic-high", systolic.interval_95[1]),
        ("diastolic", diastolic.by),
        ("diastolic-low", diastolic.interval_95[0]),
        ("diastolic-high", diastolic.interval_95[1]),
    ]);
    Some(Pattern {
        id: "medicine-changed",
        say: Said::of(
            "pattern-say-medicine-changed",
            [
                ("change", change.into()),
                ("settled", settled.into()),
                ("after", had_after.into()),
                ("before", had_before.into()),
                ("systolic", by(&systolic)),
                ("diastolic", by(&diastolic)),
            ],
        ),
        source: "Welch, Biometrika 1947;34:28, on days; the waiting time is the protocol's",
        numbers,
    })
}
