//! Before and after a change of medicine.
//!
//! The days on which a new medicine is still settling are compared with nothing: how many those are is the
//! protocol's word. A change is never averaged over without saying so; see [`changes_within`].

use super::shared::{Difference, Pattern, count, difference};
use crate::household::{Note, PersonId, StatedNote, Zones};
use crate::monitoring::average::average;
use crate::monitoring::period::Period;
use crate::monitoring::protocol::Protocol;
use crate::monitoring::taken::Taken;
use crate::sitting::Slot;
use jiff::ToSpan;
use jiff::civil::Date;
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
pub fn in_headline(from: Date, to: Date, changes: &[Date]) -> Option<String> {
    let within = changes_within(from, to, changes);
    let days: Vec<String> = within.iter().map(ToString::to_string).collect();
    (!days.is_empty()).then(|| {
        format!(
            "Medicine was changed within these days, on {}: the average mixes before and after.",
            days.join(" and ")
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

/// Up to [`MEDICINE_DAYS`] on either side, but not over another change.
fn one(
    period: &Period,
    protocol: &Protocol,
    sorted: &[&Taken],
    change: Date,
    all: &BTreeSet<Date>,
) -> Option<Pattern> {
    let earlier = all.range(..change).next_back().copied();
    let later = all.range(change..).nth(1).copied();
    let settled = change.saturating_add(i32::from(protocol.settling_days.value).days());
    let first = change.saturating_sub(MEDICINE_DAYS.days());
    let last = settled.saturating_add(MEDICINE_DAYS.days());
    let side = |wanted: &dyn Fn(Date) -> bool| {
        let of = |taken: &&Taken| taken.slot != Slot::Other && wanted(taken.day);
        average(sorted.iter().copied().filter(of))
    };
    let before = side(&|day| day < change && day >= first && earlier.is_none_or(|earlier| day > earlier));
    let after = side(&|day| day >= settled && day < last && later.is_none_or(|later| day < later));
    let days = |of: &Option<crate::monitoring::average::Average>| of.as_ref().map_or(0, |of| of.days);
    let (had_before, had_after) = (days(&before), days(&after));
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
            say: format!(
                "Medicine changed on {change}, as noted. The days until {settled} are settling and are compared with \
                 nothing. So far there are {} before and {} after that; {DAYS_MIN} of each are needed.",
                count(had_before, "day"),
                count(had_after, "day")
            ),
            source: "the protocol's waiting time after a change; the fewest days are an own choice",
            numbers: needed,
        });
    }
    let (before, after) = before.zip(after)?;
    let (systolic, diastolic) = difference(&before, &after)?;
    let in_words = |difference: &Difference| {
        let [low, high] = difference.interval_95;
        format!("{:+.1} (95 % interval {low:+.1} to {high:+.1})", difference.by)
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
        say: format!(
            "Medicine changed on {change}, as noted. From {settled} on ({}) against before ({}): systolic {}, diastolic \
             {}. The days between are settling and are left out. That one came after the other does not say that it \
             came from it.",
            count(after.days, "day"),
            count(before.days, "day"),
            in_words(&systolic),
            in_words(&diastolic)
        ),
        source: "Welch, Biometrika 1947;34:28, on days; the waiting time is the protocol's",
        numbers,
    })
}
