//! One run of a protocol for one person: what was taken, whether it is enough, and the averages.
//!
//! A pure function of the readings, in whatever order they come. Nothing is hidden: every reading of the days
//! is counted in exactly one disposition, and an average never stands without the number of readings set
//! aside. Where the readings are too few no mean is given at all, because a number that is shown is a number
//! that is used.

use super::average::{Average, ExactMean, average};
use super::balance::{Balance, balance, towards_minimum};
use super::chance::{Chance, chance_at_or_above};
use super::enters::{Entering, OfKind, Outside};
use super::protocol::{Compared, Limits, PERIOD_DAYS_MAX, Protocol};
use super::standing::{self, StoodUp};
use super::taken::Taken;
use super::variability::{PressureVariability, variability};
use crate::household::{Condition, Person, PersonId};
use crate::reading::Pressure;
use crate::sitting::Slot;
use crate::technique::Disposition;
use crate::words::said::{Part, Said};
use jiff::ToSpan;
use jiff::civil::Date;
use serde::Serialize;
use std::collections::BTreeMap;

/// Most readings of a period: a hundred a day for all of its days and more. It keeps every sum inside 128
/// bits.
pub const PERIOD_READINGS_MAX: usize = 1_000_000;

/// The source of a threshold that is no guideline's.
pub const SET_BY_CLINIC: &str = "set by the person's clinic";

/// A period that cannot be worked out.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum PeriodError {
    /// No days, or too many.
    #[error("a period of {0} days cannot be worked out: give 1 to {PERIOD_DAYS_MAX} days")]
    Days(u16),
    /// It would end after the last day that the calendar has.
    #[error("a period that begins on {0} would end after the calendar does: give an earlier first day")]
    Calendar(Date),
    /// Too many readings.
    #[error("{0} readings are more than a period can hold ({PERIOD_READINGS_MAX}): give fewer days")]
    Readings(usize),
}

/// One run of a protocol for one person. Its JSON is the command line's contract.
#[derive(Clone, PartialEq, Debug, Serialize)]
pub struct Period {
    /// The person who measured.
    pub person: PersonId,
    /// Under which protocol.
    pub protocol: String,
    /// The first day of the period.
    pub from: Date,
    /// The last day of the period, which still belongs to it.
    pub to: Date,
    /// Sessions that the protocol asks for in which at least one reading counts.
    pub sessions: usize,
    /// Sessions that the protocol asks for in so many days.
    pub sessions_expected: usize,
    /// What became of the readings.
    pub readings: Counts,
    /// Readings that count and stand outside every session: they are not averaged.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub outside_sessions: Option<Outside>,
    /// The means of the readings that were not taken seated: they are not averaged.
    pub other_kinds: Vec<OfKind>,
    /// Standing after seated in one sitting.
    pub standing: Vec<StoodUp>,
    /// How complete and how even the averaged readings are.
    pub balance: Balance,
    /// Whether the protocol's minimum is reached.
    pub sufficient: bool,
    /// What there is of what is needed, when it is not.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub insufficient: Option<Said>,
    /// The average by the protocol.
    pub average: Option<Average>,
    /// The average of all days, whatever the protocol does with the first.
    pub average_of_all_days: Option<Average>,
    /// The average without the first day on which a reading counts, whatever the protocol does with it.
    pub average_without_first_day: Option<Average>,
    /// Mean of the averaged morning readings.
    pub morning: Mean,
    /// Mean of the averaged evening readings.
    pub evening: Mean,
    /// Mean of the first counted reading of each morning.
    pub first_morning: Mean,
    /// Spread, as information.
    pub variability: Spread,
    /// What the average is held against; `None` where labels are off.
    pub threshold: Option<SourcedLimits>,
    /// The person's target, chosen by the clinic, and how the average stands to it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub target: Option<HeldTarget>,
    /// Why no threshold is applied.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub labels_off: Option<Said>,
    /// Whether the exact average is at or above the threshold in one pressure or both.
    pub at_or_above: Option<bool>,
    /// Which means reached it, such as `systolic` or `morning diastolic`.
    pub reached_by: Vec<&'static str>,
    /// The guideline's own named range in which the average lies.
    pub band: Option<NamedRange>,
    /// The chance that the true average is at or above the threshold.
    pub chance_at_or_above: Option<Chance>,
    /// The average is so close to the threshold that the protocol goes on to this many days.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub go_on_to_days: Option<u16>,
}

/// How many readings there are of which disposition.
#[derive(Clone, PartialEq, Eq, Debug, Default, Serialize)]
pub struct Counts {
    /// Those that may be averaged, the marked ones included.
    pub counted: usize,
    /// Of those, marked.
    pub marked: usize,
    /// Kept and not averaged.
    pub set_aside: usize,
    /// Why they were set aside; a reading with two reasons stands under both.
    pub set_aside_reasons: BTreeMap<&'static str, usize>,
    /// Why they were marked.
    pub marked_reasons: BTreeMap<&'static str, usize>,
}

/// A mean of some readings; the values are `None` where there are none, or too few in the whole period.
#[derive(Clone, Copy, PartialEq, Debug, Default, Serialize)]
#[expect(missing_docs, reason = "the names say it")]
pub struct Mean {
    pub systolic: Option<f64>,
    pub diastolic: Option<f64>,
    pub n: usize,
    #[serde(skip)]
    pub exact: ExactMean,
}

/// Spread of all averaged readings and of the first ones of the mornings.
#[derive(Clone, Copy, PartialEq, Debug, Serialize)]
#[expect(missing_docs, reason = "the names say it")]
pub struct Spread {
    pub all: PressureVariability,
    pub first_morning: PressureVariability,
}

/// Two limits and where they come from.
#[derive(Clone, PartialEq, Debug, Serialize)]
pub struct SourcedLimits {
    /// The systolic and the diastolic limit, in mmHg.
    #[serde(flatten)]
    pub limits: Limits,
    /// The guideline, or the clinic.
    pub source: String,
}

/// A person's target, held against the average. The clinic chose it for this person, so that it is shown where
/// no adult threshold is.
#[derive(Clone, PartialEq, Debug, Serialize)]
pub struct HeldTarget {
    /// The target, in mmHg: the average is to be below both.
    #[serde(flatten)]
    pub below: Limits,
    /// Who chose it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub by: Option<String>,
    /// Where that is written.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub source: Option<String>,
    /// Whether the exact average is below both; `None` without an average.
    pub reached: Option<bool>,
}

impl HeldTarget {
    /// One sentence for whoever reads the average.
    pub fn say(&self) -> Said {
        let said = |said: &Option<String>| said.as_deref().map(Part::from);
        let from = match (said(&self.by), said(&self.source)) {
            (Some(by), Some(source)) => Some(Said::of("target-from-both", [("by", by), ("source", source)])),
            (Some(by), None) => Some(Said::of("target-from-by", [("by", by)])),
            (None, Some(source)) => Some(Said::of("target-from-source", [("source", source)])),
            (None, None) => None,
        };
        let stands = match self.reached {
            Some(true) => "below",
            Some(false) => "not-below",
            None => "none",
        };
        let limits = format!("{}/{}", self.below.systolic.mmhg(), self.below.diastolic.mmhg());
        Said::of(
            "target-stands",
            [
                ("limits", Part::Number(limits)),
                ("from", Part::Said(from)),
                ("stands", stands.into()),
            ],
        )
    }
}

fn held_target(person: &Person, average: Option<&Average>) -> Option<HeldTarget> {
    let own = person.target.as_ref()?;
    let below = Limits {
        systolic: Pressure::from_mmhg_written(own.systolic)?,
        diastolic: Pressure::from_mmhg_written(own.diastolic)?,
    };
    Some(HeldTarget {
        below,
        by: own.by.clone(),
        source: own.source.clone(),
        reached: average.map(|average| !reaches(&average.exact, &below)),
    })
}

/// A guideline's word for a range.
#[derive(Clone, PartialEq, Debug, Serialize)]
#[expect(missing_docs, reason = "the names say it")]
pub struct NamedRange {
    pub name: String,
    pub source: String,
}

/// Works out the period of so many days (the protocol's own number without it) from the readings of one
/// person. Readings of other days are passed over.
pub fn period(
    id: &PersonId,
    person: &Person,
    protocol: &Protocol,
    from: Date,
    days: Option<u16>,
    readings: &[Taken],
) -> Result<Period, PeriodError> {
    let days = days.unwrap_or(protocol.days.value);
    let to = to(from, days)?;
    let entering = Entering::of(protocol, from, to, readings);
    if entering.here.len() > PERIOD_READINGS_MAX {
        return Err(PeriodError::Readings(entering.here.len()));
    }
    let (drop, averaged) = (protocol.drop_first_day.value, entering.averaged());
    let first_morning = first_mornings(&entering);

    let insufficient = insufficient(protocol, &entering.counted, averaged);
    let sufficient = insufficient.is_none();
    let [morning, evening] = halves(averaged);
    let shown = |mean: &ExactMean| Mean {
        systolic: mean.systolic().filter(|_| sufficient),
        diastolic: mean.diastolic().filter(|_| sufficient),
        n: mean.n(),
        exact: *mean,
    };
    let of = |readings: &[&Taken]| {
        average(readings.iter().copied())
            .filter(|_| sufficient)
            .map(Average::without_an_interval_that_says_nothing)
    };
    let average_of_all_days = of(&entering.all_days);
    let average_without_first_day = of(&entering.without_first);
    let by_protocol = drop.then_some(&average_without_first_day);
    let by_protocol = by_protocol.unwrap_or(&average_of_all_days).clone();

    let target = held_target(person, by_protocol.as_ref());
    let (threshold, labels_off) = match threshold(person, protocol, (from, to)) {
        Ok(threshold) => (Some(threshold), None),
        Err(why) => (None, Some(why)),
    };
    let against = match (&threshold, &by_protocol) {
        (Some(threshold), Some(average)) => {
            Against::of(protocol, &threshold.limits, average, [&morning, &evening])
        }
        _ => Against::default(),
    };

    Ok(Period {
        person: id.clone(),
        protocol: protocol.name.clone(),
        from,
        to,
        sessions: entering.sessions_held(),
        sessions_expected: protocol.sessions_expected(days),
        readings: counts(&entering.here),
        outside_sessions: entering.outside_sessions(sufficient),
        balance: balance(protocol, &entering, sufficient),
        other_kinds: entering.other_kinds(),
        standing: standing::falls(&entering.here),
        sufficient,
        insufficient,
        average: by_protocol,
        average_of_all_days,
        average_without_first_day,
        morning: shown(&morning),
        evening: shown(&evening),
        first_morning: shown(&mean_of(first_morning.iter().copied())),
        variability: Spread {
            all: both(averaged),
            first_morning: both(&first_morning),
        },
        threshold,
        target,
        labels_off,
        at_or_above: against.at_or_above,
        reached_by: against.reached_by,
        band: against.band,
        chance_at_or_above: against.chance_at_or_above,
        go_on_to_days: against.go_on_to_days,
    })
}

/// What an average comes to that is held against limits; nothing where one of both is lacking.
#[derive(Default)]
struct Against {
    at_or_above: Option<bool>,
    reached_by: Vec<&'static str>,
    band: Option<NamedRange>,
    chance_at_or_above: Option<Chance>,
    go_on_to_days: Option<u16>,
}

impl Against {
    fn of(protocol: &Protocol, limits: &Limits, average: &Average, halves: [&ExactMean; 2]) -> Self {
        let reached_by = reached_by(protocol, limits, average, halves);
        Self {
            at_or_above: Some(!reached_by.is_empty()),
            reached_by,
            band: band(protocol, average),
            chance_at_or_above: chance_at_or_above(average, limits.systolic, limits.diastolic),
            go_on_to_days: go_on(protocol, limits, average),
        }
    }
}

/// The first reading of each morning that enters.
fn first_mornings<'a>(entering: &Entering<'a>) -> Vec<&'a Taken> {
    first_of_mornings(&entering.counted)
        .into_iter()
        .filter(|taken| !entering.on_dropped_day(taken))
        .collect()
}

/// Which means reach the limits, of those that the protocol holds against them.
fn reached_by(
    protocol: &Protocol,
    limits: &Limits,
    average: &Average,
    [morning, evening]: [&ExactMean; 2],
) -> Vec<&'static str> {
    let means: &[(&ExactMean, [&'static str; 2])] = match protocol.compared.value {
        Compared::Whole => &[(&average.exact, ["systolic", "diastolic"])],
        Compared::MorningAndEvening => &[
            (morning, ["morning systolic", "morning diastolic"]),
            (evening, ["evening systolic", "evening diastolic"]),
        ],
    };
    reached(means, limits)
}

/// The highest of the protocol's ranges that the average reaches.
fn band(protocol: &Protocol, average: &Average) -> Option<NamedRange> {
    let mut from_the_highest = protocol.bands.iter().rev();
    let band = from_the_highest.find(|band| reaches(&average.exact, &band.from.value))?;
    Some(NamedRange {
        name: band.name.clone(),
        source: format!("{}; {}", protocol.title, band.from.source),
    })
}

/// The means of the mornings and of the evenings.
fn halves(averaged: &[&Taken]) -> [ExactMean; 2] {
    [Slot::Morning, Slot::Evening]
        .map(|slot| mean_of(averaged.iter().copied().filter(|taken| taken.slot == slot)))
}

fn mean_of<'a>(readings: impl Iterator<Item = &'a Taken>) -> ExactMean {
    let mut mean = ExactMean::default();
    readings
        .filter_map(Taken::counted)
        .for_each(|values| mean.add(values));
    mean
}

/// The last day of a period that may be as long.
fn to(from: Date, days: u16) -> Result<Date, PeriodError> {
    if days == 0 || days > PERIOD_DAYS_MAX {
        return Err(PeriodError::Days(days));
    }
    last_day(from, days).ok_or(PeriodError::Calendar(from))
}

/// The last of so many days.
pub fn last_day(from: Date, days: u16) -> Option<Date> {
    from.checked_add((i64::from(days) - 1).days()).ok()
}

fn counts(readings: &[&Taken]) -> Counts {
    let mut counts = Counts::default();
    for taken in readings {
        if taken.counted().is_none() {
            counts.set_aside += 1;
            // The one case that technique did not see: a reading passed on as counted that has no numbers.
            let unseen: &[&'static str] = if taken.disposition == Disposition::SetAside {
                &[]
            } else {
                &["no-value"]
            };
            for reason in taken.reasons.iter().chain(unseen) {
                *counts.set_aside_reasons.entry(reason).or_default() += 1;
            }
        } else {
            counts.counted += 1;
            counts.marked += usize::from(taken.disposition == Disposition::Marked);
            for reason in &taken.reasons {
                *counts.marked_reasons.entry(reason).or_default() += 1;
            }
        }
    }
    counts
}

fn first_of_mornings<'a>(counted: &[&'a Taken]) -> Vec<&'a Taken> {
    let mut first: Vec<&Taken> = Vec::new();
    for taken in counted.iter().filter(|taken| taken.slot == Slot::Morning) {
        if first.last().is_none_or(|last| last.day != taken.day) {
            first.push(taken);
        }
    }
    first
}

fn both(readings: &[&Taken]) -> PressureVariability {
    let (systolic, diastolic): (Vec<Pressure>, Vec<Pressure>) = readings
        .iter()
        .filter_map(|taken| taken.counted())
        .map(|values| (values.systolic, values.diastolic))
        .unzip();
    PressureVariability {
        systolic: variability(&systolic),
        diastolic: variability(&diastolic),
    }
}

/// What is missing, in the form "9 of 12 readings, 2 of 3 days".
fn insufficient(protocol: &Protocol, counted: &[&Taken], averaged: &[&Taken]) -> Option<Said> {
    let all = averaged.len();
    let averaged = towards_minimum(protocol, averaged);
    let mut days: Vec<Date> = counted.iter().map(|taken| taken.day).collect();
    days.dedup();
    let consecutive = protocol.days_consecutive.value;
    let days = if consecutive {
        longest_run(&days)
    } else {
        days.len()
    };
    let (readings_min, days_min) = (protocol.readings_min.value, protocol.days_min.value);
    if averaged >= usize::from(readings_min) && days >= usize::from(days_min) {
        return None;
    }
    let yes = |so: bool| Part::from(if so { "yes" } else { "no" });
    let at_most = if all > averaged {
        protocol.readings_per_session.value.into()
    } else {
        Part::Count(0)
    };
    Some(Said::of(
        "insufficient",
        [
            ("readings", averaged.into()),
            ("readings-min", readings_min.into()),
            ("dropped", yes(protocol.drop_first_day.value)),
            ("at-most", at_most),
            ("days", days.into()),
            ("days-min", days_min.into()),
            ("consecutive", yes(consecutive)),
        ],
    ))
}

fn longest_run(days: &[Date]) -> usize {
    let (mut longest, mut run) = (0, 0);
    let mut before: Option<Date> = None;
    for day in days {
        run = if before.and_then(|before| before.tomorrow().ok()) == Some(*day) {
            run + 1
        } else {
            1
        };
        longest = longest.max(run);
        before = Some(*day);
    }
    longest
}

/// Adult thresholds were not made for everybody. Only the year of birth is known, so somebody counts as under
/// 18 until they cannot be any more.
fn threshold(person: &Person, protocol: &Protocol, (from, to): (Date, Date)) -> Result<SourcedLimits, Said> {
    if person
        .born
        .is_some_and(|born| i32::from(to.year()) - i32::from(born) <= 18)
    {
        return Err(Said::of("labels-off-young", []));
    }
    let held = |condition: &&Condition| {
        let over = **condition == Condition::Pregnancy && !person.is_pregnant_on(from);
        !over && !protocol.threshold_also_for.contains(condition)
    };
    if let Some(condition) = person.conditions.iter().find(held) {
        let why = match condition {
            Condition::Pregnancy => "labels-off-pregnancy",
            Condition::AtrialFibrillation => "labels-off-atrial-fibrillation",
            Condition::Dialysis => "labels-off-dialysis",
        };
        return Err(Said::of(why, []));
    }
    let own = person.threshold.and_then(|own| {
        let systolic = Pressure::from_mmhg_written(own.systolic)?;
        let diastolic = Pressure::from_mmhg_written(own.diastolic)?;
        Some(SourcedLimits {
            limits: Limits { systolic, diastolic },
            source: SET_BY_CLINIC.to_owned(),
        })
    });
    Ok(own.unwrap_or_else(|| SourcedLimits {
        limits: protocol.threshold.value,
        source: format!("{}; {}", protocol.title, protocol.threshold.source),
    }))
}

fn reaches(mean: &ExactMean, limits: &Limits) -> bool {
    mean.systolic_reaches(limits.systolic) || mean.diastolic_reaches(limits.diastolic)
}

fn reached(means: &[(&ExactMean, [&'static str; 2])], limits: &Limits) -> Vec<&'static str> {
    let mut reached = Vec::new();
    for (mean, [systolic, diastolic]) in means {
        reached.extend(mean.systolic_reaches(limits.systolic).then_some(*systolic));
        reached.extend(mean.diastolic_reaches(limits.diastolic).then_some(*diastolic));
    }
    reached
}

/// A short period whose average lies within the protocol's distance of the threshold goes on to the full
/// number of days.
fn go_on(protocol: &Protocol, limits: &Limits, average: &Average) -> Option<u16> {
    let near = f64::from(protocol.close_to_threshold.as_ref()?.value);
    let short = average.days < usize::from(protocol.days.value);
    let close = (average.systolic - limits.systolic.mmhg()).abs() <= near
        || (average.diastolic - limits.diastolic.mmhg()).abs() <= near;
    (short && close).then_some(protocol.days.value)
}
