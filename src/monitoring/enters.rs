//! Which readings of some days enter the average of a protocol, and which do not.
//!
//! Only readings of the sessions that the protocol asks for enter: the schedule is what the average stands
//! for, and a reading that somebody took because they felt unwell would pull it. No guideline read has a rule
//! for readings outside the sessions (own choice); so that nobody has to trust the choice, what they would
//! change is worked out beside the average.

use super::average::{ExactMean, average};
use super::protocol::{AverageOf, Protocol};
use super::taken::Taken;
use crate::household::Posed;
use crate::words::said::{Part, Said};
use jiff::civil::Date;
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet};

/// The readings of some days by what becomes of them, each list in order of time.
#[derive(Clone, Debug)]
pub struct Entering<'a> {
    /// All of them.
    pub here: Vec<&'a Taken>,
    /// Those that count, of the sessions that the protocol asks for.
    pub counted: Vec<&'a Taken>,
    /// Those that count and stand outside every session that the protocol asks for.
    pub outside: Vec<&'a Taken>,
    /// Those of each session that the protocol averages.
    pub all_days: Vec<&'a Taken>,
    /// The same without the first day on which a reading of a session counts.
    pub without_first: Vec<&'a Taken>,
    /// That first day.
    pub first_day: Option<Date>,
    drop: bool,
}

impl<'a> Entering<'a> {
    /// The readings of these days, both ends included, in whatever order they come.
    pub fn of(protocol: &Protocol, from: Date, to: Date, readings: &'a [Taken]) -> Self {
        let mut here: Vec<&Taken> = readings
            .iter()
            .filter(|taken| (from..=to).contains(&taken.day))
            .collect();
        here.sort_by(|a, b| a.in_time(b));
        let (counted, outside): (Vec<&Taken>, Vec<&Taken>) = here
            .iter()
            .copied()
            .filter(|taken| taken.counted().is_some() && taken.posed == Posed::Seated)
            .partition(|taken| protocol.sessions.value.contains(&taken.slot));
        let first_day = counted.first().map(|taken| taken.day);
        let all_days = of_sessions(&counted, protocol.average_of.value);
        let without_first = all_days
            .iter()
            .copied()
            .filter(|taken| Some(taken.day) != first_day)
            .collect();
        Self {
            here,
            counted,
            outside,
            all_days,
            without_first,
            first_day,
            drop: protocol.drop_first_day.value,
        }
    }

    /// Those that the average is made of, whether or not there are enough of them.
    pub fn averaged(&self) -> &[&'a Taken] {
        if self.drop {
            &self.without_first
        } else {
            &self.all_days
        }
    }

    /// The means of the readings that were not taken seated, whatever their time; a mean needs no minimum, and
    /// is held against nothing.
    pub fn other_kinds(&self) -> Vec<OfKind> {
        let mut kinds: BTreeMap<Posed, (ExactMean, BTreeSet<Date>)> = BTreeMap::new();
        for taken in &self.here {
            if let Some(values) = taken.counted().filter(|_| taken.posed != Posed::Seated) {
                let (mean, days) = kinds.entry(taken.posed).or_default();
                mean.add(values);
                days.insert(taken.day);
            }
        }
        kinds
            .into_iter()
            .map(|(posed, (exact, days))| OfKind {
                kind: posed.name(),
                systolic: exact.systolic(),
                diastolic: exact.diastolic(),
                n: exact.n(),
                days: days.len(),
                exact,
            })
            .collect()
    }

    /// Whether the protocol leaves out the day of a reading.
    pub fn on_dropped_day(&self, taken: &Taken) -> bool {
        self.drop && Some(taken.day) == self.first_day
    }

    /// The sessions that were held: each part of each day once, however many sittings it had.
    pub fn sessions_held(&self) -> usize {
        self.counted
            .iter()
            .map(|taken| (taken.day, taken.slot))
            .collect::<BTreeSet<_>>()
            .len()
    }

    /// What the readings outside every session would change; `None` where there are none.
    pub fn outside_sessions(&self, shown: bool) -> Option<Outside> {
        let outside: Vec<&Taken> = self
            .outside
            .iter()
            .copied()
            .filter(|taken| !self.on_dropped_day(taken))
            .collect();
        if self.outside.is_empty() {
            return None;
        }
        let mut with: Vec<&Taken> = self.averaged().iter().copied().chain(outside).collect();
        with.sort_by(|a, b| a.in_time(b));
        let of = |readings: &[&Taken]| average(readings.iter().copied()).filter(|_| shown);
        let change = of(self.averaged()).zip(of(&with));
        Some(Outside {
            n: self.outside.len(),
            average_with: change.as_ref().map(|(_, with)| with.exact.shown()),
            change: change.map(|(without, with)| MeanChange {
                systolic: with.systolic - without.systolic,
                diastolic: with.diastolic - without.diastolic,
            }),
        })
    }
}

/// The readings that the average of these days is made of, in order of time, whether or not there are enough
/// of them.
pub fn averaged<'a>(protocol: &Protocol, from: Date, to: Date, readings: &'a [Taken]) -> Vec<&'a Taken> {
    Entering::of(protocol, from, to, readings).averaged().to_vec()
}

/// The mean of the readings of one kind.
#[derive(Clone, PartialEq, Debug, Serialize)]
pub struct OfKind {
    /// The kind, such as `standing`.
    pub kind: &'static str,
    /// Mean systolic pressure, in mmHg.
    pub systolic: Option<f64>,
    /// Mean diastolic pressure, in mmHg.
    pub diastolic: Option<f64>,
    /// How many readings.
    pub n: usize,
    /// On how many days.
    pub days: usize,
    /// The exact mean.
    #[serde(skip)]
    pub exact: ExactMean,
}

/// Readings that count and stand outside every session that the protocol asks for.
#[derive(Clone, PartialEq, Debug, Serialize)]
pub struct Outside {
    /// How many there are.
    pub n: usize,
    /// What the average would be with them, systolic over diastolic in mmHg, rounded to tenths; `None` where
    /// there is no average.
    pub average_with: Option<String>,
    /// How much they would change it.
    pub change: Option<MeanChange>,
}

/// A change of a mean, in mmHg.
#[derive(Clone, Copy, PartialEq, Debug, Serialize)]
#[expect(missing_docs, reason = "the names say it")]
pub struct MeanChange {
    pub systolic: f64,
    pub diastolic: f64,
}

impl Outside {
    /// One sentence for whoever reads the average.
    pub fn say(&self) -> Said {
        match (&self.average_with, &self.change) {
            (Some(with), Some(change)) => Said::of(
                "outside-counted-with",
                [
                    ("n", self.n.into()),
                    ("with", Part::Number(with.to_string())),
                    (
                        "change",
                        Part::Number(format!("{:+.1}/{:+.1}", change.systolic, change.diastolic)),
                    ),
                ],
            ),
            _ => Said::of("outside-counted", [("n", self.n.into())]),
        }
    }
}

/// The readings of each session that the protocol averages, in order of time.
fn of_sessions<'a>(counted: &[&'a Taken], which: AverageOf) -> Vec<&'a Taken> {
    if which == AverageOf::All {
        return counted.to_vec();
    }
    let mut sessions: BTreeMap<u64, Vec<usize>> = BTreeMap::new();
    for (place, taken) in counted.iter().enumerate() {
        if let Some(session) = taken.session {
            sessions.entry(session).or_default().push(place);
        }
    }
    let left_out: BTreeSet<usize> = sessions
        .values()
        .flat_map(|places| {
            let out = match which {
                AverageOf::All => 0,
                AverageOf::LastTwo => places.len().saturating_sub(2),
                AverageOf::WithoutFirst => 1,
            };
            places.iter().copied().take(out)
        })
        .collect();
    // A reading outside any sitting is a sitting of one.
    let alone = |taken: &Taken| which == AverageOf::WithoutFirst && taken.session.is_none();
    let kept = |(place, taken): &(usize, &&Taken)| !left_out.contains(place) && !alone(taken);
    counted
        .iter()
        .enumerate()
        .filter(kept)
        .map(|(_, taken)| *taken)
        .collect()
}
