//! Protocols: the published rules for a monitoring period, as data.
//!
//! Each number carries its source and how far that source was read, because guidelines are quoted from memory
//! more often than they are opened. The built-in files lie beside this one; a clinic's own file goes through
//! the same parser. A protocol that was accepted can be kept: no rule in it contradicts another.

use crate::household::Condition;
use crate::reading::Pressure;
use crate::sitting::{SessionRule, Slot, Tie};
use serde::Serialize;
use std::collections::BTreeMap;

/// A value with where it comes from.
#[derive(Clone, PartialEq, Debug, Serialize)]
pub struct Sourced<T> {
    /// The value that the source states, in the unit that the field with this value is given in.
    pub value: T,
    /// How far the source was read.
    pub confidence: Confidence,
    /// The place in the source, or why the value was chosen.
    pub source: String,
}

/// How far a source was read.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Confidence {
    /// In the full text of the document.
    FullText,
    /// In an abstract, one table or an official summary.
    Summary,
    /// Not read: from memory, to be confirmed before anybody relies on it.
    Memory,
    /// Common practice; no published source.
    CommonPractice,
    /// The source leaves it open; this program's own choice, with the reason.
    OwnChoice,
    /// The clinic says so.
    Clinic,
}

impl Confidence {
    pub(super) const ALL: [(&'static str, Self); 6] = [
        ("full-text", Self::FullText),
        ("summary", Self::Summary),
        ("memory", Self::Memory),
        ("common-practice", Self::CommonPractice),
        ("own-choice", Self::OwnChoice),
        ("clinic", Self::Clinic),
    ];
}

/// Two limits; an average that reaches either is at or above them.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
#[expect(missing_docs, reason = "the names say it")]
pub struct Limits {
    pub systolic: Pressure,
    pub diastolic: Pressure,
}

impl Serialize for Limits {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        #[derive(Serialize)]
        struct MmHg {
            systolic: f64,
            diastolic: f64,
        }
        MmHg {
            systolic: self.systolic.mmhg(),
            diastolic: self.diastolic.mmhg(),
        }
        .serialize(serializer)
    }
}

/// Which readings of a session are averaged.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum AverageOf {
    /// All that count.
    All,
    /// The last two that count.
    LastTwo,
    /// All that count but the first; a lone reading stays out.
    WithoutFirst,
}

/// What is held against the threshold.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Compared {
    /// The average of the period.
    Whole,
    /// The morning mean and the evening mean, each for itself.
    MorningAndEvening,
}

/// A range that a guideline gives a name to, from its lower limits up to the next one.
#[derive(Clone, PartialEq, Debug, Serialize)]
pub struct Band {
    /// The guideline's own word.
    pub name: String,
    /// Where it begins.
    pub from: Sourced<Limits>,
}

/// A target on treatment. Shown to the clinician, never applied: that somebody is treated is not known here.
#[derive(Clone, PartialEq, Debug, Serialize)]
pub struct Target {
    /// The people whom the target is meant for, in words, such as `75 years and over`.
    pub name: String,
    /// Below these limits.
    pub below: Sourced<Limits>,
}

/// The rules of a monitoring period.
///
/// ```
/// use quietcuff::monitoring::protocols::Protocols;
///
/// let protocols = Protocols::built_in()?;
/// let nice = protocols.get("nice-ng136")?;
/// // NICE NG136 1.2.7: ideally seven days, two sessions a day.
/// assert_eq!(nice.days.value, 7);
/// assert_eq!(nice.sessions_expected(nice.days.value), 14);
/// assert!(protocols.get("no-such-protocol").is_err());
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Clone, PartialEq, Debug, Serialize)]
pub struct Protocol {
    /// The word by which it is chosen.
    pub name: String,
    /// The name of the protocol for people; its plain name where the file gives no title.
    pub title: String,
    /// The source of the rules, as a citation for people: a document, or a practice that has none.
    pub citation: String,
    /// What has taken its place, where something has.
    pub superseded_by: Option<String>,
    /// Readings in a session.
    pub readings_per_session: Sourced<u16>,
    /// Readings in a session when the person has atrial fibrillation, where the protocol says.
    pub readings_with_atrial_fibrillation: Option<Sourced<u16>>,
    /// Shortest time between two readings of a session.
    pub gap_seconds: Sourced<u16>,
    /// Rest before the first reading, where the protocol says.
    pub rest_minutes: Option<Sourced<u16>>,
    /// Ask for one more reading when the first two differ by more than so many mmHg; 0 never asks.
    pub third_reading_above: Sourced<u16>,
    /// The sessions of a day.
    pub sessions: Sourced<Vec<Slot>>,
    /// The points of the day that the sessions are tied to, and those that they are not.
    pub timing: BTreeMap<Tie, Sourced<bool>>,
    /// Days of a full period.
    pub days: Sourced<u16>,
    /// Days from one measuring day to the next.
    pub every_days: Sourced<u16>,
    /// Days with a reading that an average needs, the first included.
    pub days_min: Sourced<u16>,
    /// Whether those days must follow one another.
    pub days_consecutive: Sourced<bool>,
    /// Readings that an average needs, after the first day is dropped if it is.
    pub readings_min: Sourced<u16>,
    /// Mornings that an even average has at least.
    pub mornings_min: Sourced<u16>,
    /// Evenings that an even average has at least.
    pub evenings_min: Sourced<u16>,
    /// Whether the first day is left out of the average.
    pub drop_first_day: Sourced<bool>,
    /// Which readings of a session are averaged.
    pub average_of: Sourced<AverageOf>,
    /// Days after a change of medicine that are settling: they are compared with nothing.
    pub settling_days: Sourced<u16>,
    /// What is held against the threshold.
    pub compared: Sourced<Compared>,
    /// The limits, in mmHg, that the means are held against.
    pub threshold: Sourced<Limits>,
    /// After the shortest period: go on to the full one when the average is so close to the threshold, in
    /// mmHg.
    pub close_to_threshold: Option<Sourced<u16>>,
    /// Conditions in which the clinic wants the threshold applied all the same.
    pub threshold_also_for: Vec<Condition>,
    /// Named ranges, lowest first.
    pub bands: Vec<Band>,
    /// Targets on treatment.
    pub targets: Vec<Target>,
}

impl Protocol {
    /// What it asks of one session.
    pub fn session_rule(&self) -> SessionRule {
        let in_atrial_fibrillation = self.readings_with_atrial_fibrillation.as_ref();
        let usual = SessionRule::default().readings_in_atrial_fibrillation;
        SessionRule {
            readings: self.readings_per_session.value,
            readings_in_atrial_fibrillation: in_atrial_fibrillation.map_or(usual, |stated| stated.value),
            gap_s: i64::from(self.gap_seconds.value),
            third_above_mmhg: Some(self.third_reading_above.value).filter(|&limit| limit != 0),
            morning: self.sessions.value.contains(&Slot::Morning),
            evening: self.sessions.value.contains(&Slot::Evening),
            timing: self
                .timing
                .iter()
                .filter(|(_, stated)| stated.value)
                .map(|(tie, _)| *tie)
                .collect(),
        }
    }

    /// Sessions in a period of so many days.
    pub fn sessions_expected(&self, days: u16) -> usize {
        usize::from(days.div_ceil(self.every_days.value.max(1))) * self.sessions.value.len()
    }
}

/// The longest protocol file: a hundred times the longest one here.
pub const PROTOCOL_BYTES_MAX: usize = 256 * 1024;

/// The longest period: ten years and a little, so that a whole history can be averaged.
pub const PERIOD_DAYS_MAX: u16 = 3_700;

/// A protocol file that cannot be used. It lists everything that is wrong with it, not only the first thing.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error(
    "the protocol file `{name}` cannot be used: {}. Correct the file; until then choose another protocol",
    problems.iter().map(ToString::to_string).collect::<Vec<_>>().join("; ")
)]
pub struct ProtocolError {
    /// The protocol's name.
    pub name: String,
    /// What is wrong, in the order of the lines.
    pub problems: Vec<Problem>,
}

/// One thing that is wrong with a protocol file.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, thiserror::Error)]
#[error("line {line}: {what}")]
pub struct Problem {
    /// The line, from 1.
    pub line: usize,
    /// What is wrong and what would be right.
    pub what: String,
}

/// `; did you mean …?`, where a known word is near.
pub(crate) fn did_you_mean<T: AsRef<str>>(word: &str, known: &[T]) -> String {
    /// Jaro–Winkler similarity from which a word is taken for a slip of another; common practice.
    const NEAR: f64 = 0.8;
    known
        .iter()
        .map(|known| (strsim::jaro_winkler(word, known.as_ref()), known.as_ref()))
        .filter(|(near, _)| *near >= NEAR)
        .max_by(|(a, _), (b, _)| a.total_cmp(b))
        .map(|(_, known)| format!("; did you mean `{known}`?"))
        .unwrap_or_default()
}
