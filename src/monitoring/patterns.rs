//! Patterns that a clinician may want to see, and nobody else: each with its source, none of them a
//! diagnosis.
//!
//! A pattern is named only where what it needs was noted, and where there is enough of it: no clinic reading,
//! no word about white coats; one clinic reading or one sitting, no pattern. Each says what it needs and what it
//! has, and is named only where its own uncertainty leaves at most one chance in twenty that it is imagined (the
//! simulation is among the tests). Where adult thresholds do not apply to a person, the patterns that rest on
//! one are silent too.

mod arms;
mod clinic;
pub mod medicine;
mod mornings;
mod shared;

pub(super) use shared::tenth;
pub use shared::{
    CLINIC_AND_HOME, CLINIC_DAYS, ClinicReading, Difference, Pattern, clinic_threshold, difference,
};

use super::period::Period;
use super::protocol::Protocol;
use super::taken::Taken;
use crate::household::Posed;
use crate::words::said::Said;
use jiff::civil::Date;
use std::collections::{BTreeMap, BTreeSet};

/// Sessions with an irregular pulse; own choice, one alone may be a moved arm.
const IRREGULAR_SESSIONS_MIN: usize = 2;

/// Everything to look at in a period. `readings` are all of the person's, so that a change of medicine can be
/// seen over the edge of the period.
pub fn patterns(
    period: &Period,
    protocol: &Protocol,
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
    let mut found = clinic::beside_home(period, clinic);
    found.extend(mornings::rise(&here));
    found.extend(mornings::average_of_mornings(period, &here));
    found.extend(irregular_pulse(&here));
    found.extend(arms::differ(&here));
    found.extend(medicine::changes(period, protocol, &sorted, medicine_changes));
    found
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
        say: Said::of(
            "pattern-say-irregular-pulse",
            [
                ("sessions", sessions.into()),
                ("readings", irregular().count().into()),
            ],
        ),
        source: "ESC 2024: an ECG is needed; two sessions is this program's own choice",
        numbers: BTreeMap::from([("sessions", sessions as f64)]),
    })
}
