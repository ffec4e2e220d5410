//! Reads a protocol file and refuses one whose rules cannot be kept.
//!
//! A value is written plainly, `days = 7`, or with its origin, `days = { value = 7, confidence = "full-text",
//! source = "section 5.2.3" }`. Written plainly it is the clinic's word. Every problem is reported, each with
//! its line.

use super::protocol::{
    AverageOf, Band, Compared, Confidence, Limits, PERIOD_DAYS_MAX, PROTOCOL_BYTES_MAX, Problem, Protocol,
    ProtocolError, Sourced, Target, did_you_mean,
};
use crate::household::Condition;
use crate::reading::Pressure;
use crate::sitting::{Slot, Tie, Timing};
use std::collections::BTreeMap;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// Longest gap inside a session, in seconds: beyond it two readings are no longer one sitting. Own choice.
const GAP_SECONDS_MAX: i64 = 600;
/// Most readings in a session: more than any protocol asks for.
const READINGS_PER_SESSION_MAX: i64 = 10;
/// Longest rest asked for, in minutes: more than any protocol asks for.
const REST_MINUTES_MAX: i64 = 60;
/// The waiting time after a change of medicine where a file names none; ACC/AHA 2017.
const SETTLING_DAYS: u16 = 14;
/// The longest: half a year. Own choice.
const SETTLING_DAYS_MAX: i64 = 183;
/// Widest difference between two readings that a rule may name, in mmHg: wider ones are never seen.
const DIFFERENCE_MMHG_MAX: i64 = 50;
/// A threshold outside these is a slip: the limits within which a reading is possible at all.
const SYSTOLIC_MMHG: (i32, i32) = (40, 300);
const DIASTOLIC_MMHG: (i32, i32) = (20, 200);

const KEYS: [&str; 32] = [
    "title",
    "citation",
    "superseded-by",
    "readings-per-session",
    "readings-with-atrial-fibrillation",
    "gap-seconds",
    "rest-minutes",
    "third-reading-above",
    "sessions",
    "not-just-woken",
    "within-hour-of-waking",
    "before-breakfast",
    "before-medicines",
    "before-dinner",
    "before-bed",
    "days",
    "every-days",
    "days-min",
    "days-consecutive",
    "readings-min",
    "mornings-min",
    "evenings-min",
    "drop-first-day",
    "average-of",
    "settling-days",
    "compared",
    "threshold",
    "threshold-also-for",
    "close-to-threshold",
    "band",
    "target",
    "name",
];

const SLOTS: [(&str, Slot); 2] = [("morning", Slot::Morning), ("evening", Slot::Evening)];
const AVERAGES: [(&str, AverageOf); 3] = [
    ("all", AverageOf::All),
    ("last-two", AverageOf::LastTwo),
    ("without-first", AverageOf::WithoutFirst),
];
const COMPARED: [(&str, Compared); 2] = [
    ("whole", Compared::Whole),
    ("morning-and-evening", Compared::MorningAndEvening),
];
const CONDITIONS: [(&str, Condition); 3] = [
    ("pregnancy", Condition::Pregnancy),
    ("atrial-fibrillation", Condition::AtrialFibrillation),
    ("dialysis", Condition::Dialysis),
];

/// Reads the file of the protocol `name`.
pub(super) fn parse(name: &str, text: &str) -> Result<Protocol, ProtocolError> {
    let failed = |problems: Vec<Problem>| ProtocolError {
        name: name.to_owned(),
        problems,
    };
    if text.len() > PROTOCOL_BYTES_MAX {
        let what = format!(
            "it is {} bytes long; the most is {PROTOCOL_BYTES_MAX}",
            text.len()
        );
        return Err(failed(vec![Problem { line: 1, what }]));
    }
    let table = DeTable::parse(text).map_err(|error| {
        let at = error.span().map_or(0, |span| span.start);
        failed(vec![Problem {
            line: line_of(text, at),
            what: error.message().to_owned(),
        }])
    })?;
    let mut file = File {
        text,
        table: table.get_ref(),
        problems: Vec::new(),
    };
    file.known_keys(file.table, &KEYS);
    let protocol = file.protocol(name);
    file.problems.sort();
    match protocol {
        Some(protocol) if file.problems.is_empty() => Ok(protocol),
        _ => Err(failed(file.problems)),
    }
}

fn line_of(text: &str, at: usize) -> usize {
    1 + text.bytes().take(at).filter(|byte| *byte == b'\n').count()
}

struct File<'t> {
    text: &'t str,
    table: &'t DeTable<'t>,
    problems: Vec<Problem>,
}

type Value<'t> = &'t Spanned<DeValue<'t>>;

impl<'t> File<'t> {
    fn problem(&mut self, at: usize, what: impl Into<String>) {
        self.problems.push(Problem {
            line: line_of(self.text, at),
            what: what.into(),
        });
    }

    fn known_keys(&mut self, table: &'t DeTable<'t>, known: &[&str]) {
        for key in table.keys() {
            let word: &str = key.get_ref();
            if !known.contains(&word) {
                let near = did_you_mean(word, known);
                self.problem(
                    key.span().start,
                    format!("`{word}` is not a key of a protocol{near}"),
                );
            }
        }
    }

    fn find(table: &'t DeTable<'t>, key: &str) -> Option<Value<'t>> {
        table
            .iter()
            .find(|(known, _)| known.get_ref() == key)
            .map(|(_, value)| value)
    }

    fn text(&mut self, table: &'t DeTable<'t>, key: &str) -> Option<String> {
        let value = Self::find(table, key)?;
        let text = value.get_ref().as_str().map(str::to_owned);
        if text.is_none() {
            self.problem(
                value.span().start,
                format!("`{key}` must be text in quotation marks"),
            );
        }
        text
    }

    /// The value of a key, plain or with its origin.
    fn stated<T>(
        &mut self,
        key: &str,
        read: impl Fn(&mut Self, Value<'t>) -> Option<T>,
    ) -> Option<Sourced<T>> {
        let value = Self::find(self.table, key)?;
        let Some(table) = value.get_ref().as_table() else {
            return self.plain(value, read);
        };
        self.known_keys(table, &["value", "confidence", "source"]);
        let Some(inner) = Self::find(table, "value") else {
            self.problem(value.span().start, format!("`{key}` has no `value`"));
            return None;
        };
        let read = read(self, inner);
        self.with_origin(table, value, read?)
    }

    fn plain<T>(
        &mut self,
        value: Value<'t>,
        read: impl Fn(&mut Self, Value<'t>) -> Option<T>,
    ) -> Option<Sourced<T>> {
        let source = "the clinic's protocol file".to_owned();
        read(self, value).map(|value| Sourced {
            value,
            confidence: Confidence::Clinic,
            source,
        })
    }

    fn with_origin<T>(&mut self, table: &'t DeTable<'t>, whole: Value<'t>, value: T) -> Option<Sourced<T>> {
        let source = self.text(table, "source").unwrap_or_default();
        let confidence = match Self::find(table, "confidence") {
            Some(word) => self.word(word, &Confidence::ALL)?,
            None => Confidence::Clinic,
        };
        if source.is_empty() && confidence != Confidence::Clinic {
            self.problem(
                whole.span().start,
                "a value with a `confidence` needs its `source`",
            );
        }
        Some(Sourced {
            value,
            confidence,
            source,
        })
    }

    fn word<T: Copy>(&mut self, value: Value<'t>, words: &[(&str, T)]) -> Option<T> {
        let known: Vec<&str> = words.iter().map(|(word, _)| *word).collect();
        let word = value.get_ref().as_str().unwrap_or_default();
        let found = words
            .iter()
            .find(|(known, _)| *known == word)
            .map(|(_, meaning)| *meaning);
        if found.is_none() {
            let near = did_you_mean(word, &known);
            self.problem(
                value.span().start,
                format!("{word:?} is not one of {}{near}", known.join(", ")),
            );
        }
        found
    }

    fn words<T: Copy + PartialEq>(&mut self, value: Value<'t>, words: &[(&str, T)]) -> Option<Vec<T>> {
        let Some(array) = value.get_ref().as_array() else {
            self.problem(value.span().start, "a list in square brackets is needed here");
            return None;
        };
        let mut found = Vec::new();
        for item in array {
            let meaning = self.word(item, words)?;
            if found.contains(&meaning) {
                self.problem(item.span().start, "it is in the list twice");
            } else {
                found.push(meaning);
            }
        }
        Some(found)
    }

    /// A whole number between two limits.
    fn whole(&mut self, key: &str, least: i64, most: i64) -> Option<Sourced<u16>> {
        self.stated(key, |file, value| {
            let number = value
                .get_ref()
                .as_integer()
                .and_then(|digits| i64::from_str_radix(digits.as_str(), digits.radix()).ok());
            let good = number
                .filter(|number| (least..=most).contains(number))
                .and_then(|n| u16::try_from(n).ok());
            if good.is_none() {
                let what = format!("`{key}` must be a whole number from {least} to {most}");
                file.problem(value.span().start, what);
            }
            good
        })
    }

    fn flag(&mut self, key: &str) -> Option<Sourced<bool>> {
        self.stated(key, |file, value| {
            let flag = value.get_ref().as_bool();
            if flag.is_none() {
                file.problem(value.span().start, format!("`{key}` must be true or false"));
            }
            flag
        })
    }

    fn pressure(
        &mut self,
        table: &'t DeTable<'t>,
        whole: Value<'t>,
        key: &str,
        range: (i32, i32),
    ) -> Option<Pressure> {
        let value = Self::find(table, key).map(Spanned::get_ref);
        let number = match value {
            Some(DeValue::Integer(digits)) => digits.as_str().parse().ok(),
            Some(DeValue::Float(digits)) => digits.as_str().parse().ok(),
            _ => None,
        };
        let within = Pressure::from_mmhg(range.0)..=Pressure::from_mmhg(range.1);
        let good = number
            .and_then(Pressure::from_mmhg_written)
            .filter(|pressure| within.contains(pressure));
        if good.is_none() {
            let what = format!("`{key}` must be a pressure from {} to {} mmHg", range.0, range.1);
            self.problem(whole.span().start, what);
        }
        good
    }

    /// Two limits in one table, with their origin.
    fn limits(&mut self, whole: Value<'t>, more_keys: &[&str]) -> Option<Sourced<Limits>> {
        let Some(table) = whole.get_ref().as_table() else {
            self.problem(whole.span().start, "write it as { systolic = …, diastolic = … }");
            return None;
        };
        self.known_keys(
            table,
            &[&["systolic", "diastolic", "confidence", "source"], more_keys].concat(),
        );
        let systolic = self.pressure(table, whole, "systolic", SYSTOLIC_MMHG);
        let diastolic = self.pressure(table, whole, "diastolic", DIASTOLIC_MMHG);
        let limits = Limits {
            systolic: systolic?,
            diastolic: diastolic?,
        };
        if limits.systolic <= limits.diastolic {
            self.problem(whole.span().start, "`systolic` must be above `diastolic`");
        }
        self.with_origin(table, whole, limits)
    }

    /// `[[band]]` and `[[target]]`: limits with a name.
    fn named(&mut self, key: &str) -> Vec<(String, Sourced<Limits>)> {
        let Some(list) = Self::find(self.table, key) else {
            return Vec::new();
        };
        let Some(array) = list.get_ref().as_array() else {
            self.problem(list.span().start, format!("begin each with [[{key}]]"));
            return Vec::new();
        };
        let mut found = Vec::new();
        for item in array {
            let limits = self.limits(item, &["name"]);
            let name = item
                .get_ref()
                .as_table()
                .and_then(|table| self.text(table, "name"));
            match name.zip(limits) {
                Some(both) => found.push(both),
                None => self.problem(
                    item.span().start,
                    format!("a `{key}` needs a name and two limits"),
                ),
            }
        }
        found
    }

    fn needed<T>(&mut self, key: &str, value: Option<T>) -> Option<T> {
        if value.is_none() && Self::find(self.table, key).is_none() {
            self.problem(0, format!("`{key}` is missing"));
        }
        value
    }

    fn text_needed(&mut self, key: &str) -> Option<String> {
        let value = self.text(self.table, key);
        self.needed(key, value)
    }

    fn limits_needed(&mut self, key: &str) -> Option<Sourced<Limits>> {
        let value = Self::find(self.table, key).and_then(|value| self.limits(value, &[]));
        self.needed(key, value)
    }

    fn whole_needed(&mut self, key: &str, least: i64, most: i64) -> Option<Sourced<u16>> {
        let value = self.whole(key, least, most);
        self.needed(key, value)
    }

    fn flag_needed(&mut self, key: &str) -> Option<Sourced<bool>> {
        let value = self.flag(key);
        self.needed(key, value)
    }

    fn protocol(&mut self, name: &str) -> Option<Protocol> {
        let title = self.text(self.table, "title").unwrap_or_else(|| name.to_owned());
        let citation = self.text_needed("citation");
        let superseded_by = self.text(self.table, "superseded-by");
        self.named_so(name);
        let days_most = i64::from(PERIOD_DAYS_MAX);
        let readings_per_session = self.whole_needed("readings-per-session", 1, READINGS_PER_SESSION_MAX);
        let readings_with_atrial_fibrillation =
            self.whole("readings-with-atrial-fibrillation", 1, READINGS_PER_SESSION_MAX);
        let gap_seconds = self.whole_needed("gap-seconds", 0, GAP_SECONDS_MAX);
        let rest_minutes = self.whole("rest-minutes", 0, REST_MINUTES_MAX);
        let third_reading_above = self.whole("third-reading-above", 0, DIFFERENCE_MMHG_MAX);
        let sessions = self.stated("sessions", |file, value| file.words(value, &SLOTS));
        let sessions = self.needed("sessions", sessions);
        let timing = self.timing();
        let days = self.whole_needed("days", 1, days_most);
        let every_days = self.whole("every-days", 1, days_most);
        let days_min = self.whole_needed("days-min", 1, days_most);
        let days_consecutive = self.flag("days-consecutive").unwrap_or_else(|| usual(false));
        let readings_min = self.whole_needed("readings-min", 1, i64::from(u16::MAX));
        let drop_first_day = self.flag_needed("drop-first-day");
        let drops = drop_first_day.as_ref().is_some_and(|drop| drop.value);
        let days_at_least = days_min
            .as_ref()
            .map_or(0, |days| days.value.saturating_sub(u16::from(drops)));
        let usual_at_least = |slot| match &sessions {
            Some(sessions) if sessions.value.contains(&slot) => days_at_least,
            _ => 0,
        };
        let mornings_min = self.at_least("mornings-min", usual_at_least(Slot::Morning));
        let evenings_min = self.at_least("evenings-min", usual_at_least(Slot::Evening));
        let average_of = self.stated("average-of", |file, value| file.word(value, &AVERAGES));
        let settling_days = self.settling_days();
        let compared = self.stated("compared", |file, value| file.word(value, &COMPARED));
        let threshold = self.limits_needed("threshold");
        let close_to_threshold = self.whole("close-to-threshold", 1, DIFFERENCE_MMHG_MAX);
        let threshold_also_for =
            Self::find(self.table, "threshold-also-for").and_then(|list| self.words(list, &CONDITIONS));
        let bands = self.named("band").into_iter();
        let targets = self.named("target").into_iter();
        let protocol = Protocol {
            name: name.to_owned(),
            title,
            citation: citation?,
            superseded_by,
            readings_per_session: readings_per_session?,
            readings_with_atrial_fibrillation,
            gap_seconds: gap_seconds?,
            rest_minutes,
            third_reading_above: third_reading_above.unwrap_or_else(usual_third_reading),
            sessions: sessions?,
            timing,
            days: days?,
            every_days: every_days.unwrap_or_else(|| usual(1)),
            days_min: days_min?,
            days_consecutive,
            readings_min: readings_min?,
            mornings_min,
            evenings_min,
            drop_first_day: drop_first_day?,
            average_of: average_of.unwrap_or_else(|| usual(AverageOf::All)),
            settling_days,
            compared: compared.unwrap_or_else(|| usual(Compared::Whole)),
            threshold: threshold?,
            close_to_threshold,
            threshold_also_for: threshold_also_for.unwrap_or_default(),
            bands: bands.map(|(name, from)| Band { name, from }).collect(),
            targets: targets.map(|(name, below)| Target { name, below }).collect(),
        };
        self.keepable(&protocol);
        Some(protocol)
    }

    /// A file that calls itself something else lies in the wrong place.
    fn named_so(&mut self, name: &str) {
        if let Some(own) = self.text(self.table, "name").filter(|own| own != name) {
            let what = format!("it calls itself {own:?}; a file of this place is named {name:?}");
            self.problem(0, what);
        }
    }

    /// How many mornings, or evenings, an average needs at least.
    fn at_least(&mut self, key: &str, usual: u16) -> Sourced<u16> {
        self.whole(key, 0, i64::from(PERIOD_DAYS_MAX)).unwrap_or_else(|| Sourced {
            value: usual,
            confidence: Confidence::OwnChoice,
            source: "no text read has a rule; as many as the fewest days, one day less where the first is dropped"
                .to_owned(),
        })
    }

    /// How many days after a change of medicine are left out of a comparison.
    fn settling_days(&mut self) -> Sourced<u16> {
        self.whole("settling-days", 0, SETTLING_DAYS_MAX)
            .unwrap_or_else(|| Sourced {
                value: SETTLING_DAYS,
                confidence: Confidence::FullText,
                source: "ACC/AHA 2017: readings again from 2 weeks after a change".to_owned(),
            })
    }

    /// What the sessions are tied to in the day; what the file does not say is common practice.
    fn timing(&mut self) -> BTreeMap<Tie, Sourced<bool>> {
        let mut timing = BTreeMap::new();
        for tie in Tie::ALL {
            let stated = self.flag(tie.name()).unwrap_or_else(|| Sourced {
                value: Timing::USUAL.has(tie),
                confidence: Confidence::CommonPractice,
                source:
                    "not stated: half an hour after waking, before breakfast and medicines, before dinner"
                        .to_owned(),
            });
            timing.insert(tie, stated);
        }
        timing
    }

    /// Rules that contradict each other: nobody could ever reach an average.
    fn keepable(&mut self, protocol: &Protocol) {
        let mut wrong = |key: &str, what: String| {
            let at = Self::find(self.table, key).map_or(0, |value| value.span().start);
            self.problem(at, what);
        };
        let sessions = protocol.sessions.value.len();
        if sessions == 0 {
            wrong(
                "sessions",
                "`sessions` is empty; name at least one of morning, evening".to_owned(),
            );
        }
        let days = protocol.days.value;
        let measuring_days = days.div_ceil(protocol.every_days.value);
        let days_min = protocol.days_min.value;
        if days_min > measuring_days {
            let what = format!(
                "`days-min` is {days_min}, but a period of {days} days has only {measuring_days} measuring days"
            );
            wrong("days-min", what);
        }
        let drop = protocol.drop_first_day.value;
        if drop && days_min < 2 {
            wrong(
                "days-min",
                "`days-min` must be at least 2 when the first day is dropped".to_owned(),
            );
        }
        if protocol.days_consecutive.value && protocol.every_days.value > 1 {
            let what = "`days-consecutive` cannot hold with `every-days` above 1".to_owned();
            wrong("days-consecutive", what);
        }
        let per_session = match protocol.average_of.value {
            AverageOf::All => protocol.readings_per_session.value,
            AverageOf::LastTwo => protocol.readings_per_session.value.min(2),
            AverageOf::WithoutFirst => protocol.readings_per_session.value - 1,
        };
        let most =
            usize::from(measuring_days.saturating_sub(u16::from(drop))) * sessions * usize::from(per_session);
        let readings_min = protocol.readings_min.value;
        if usize::from(readings_min) > most {
            let what =
                format!("`readings-min` is {readings_min}, but the period averages at most {most} readings");
            wrong("readings-min", what);
        }
        if protocol.compared.value == Compared::MorningAndEvening && sessions < 2 {
            let what = "`compared` wants morning and evening, but `sessions` has only one".to_owned();
            wrong("compared", what);
        }
        let rising = protocol
            .bands
            .iter()
            .zip(protocol.bands.iter().skip(1))
            .all(|(a, b)| {
                a.from.value.systolic < b.from.value.systolic
                    && a.from.value.diastolic < b.from.value.diastolic
            });
        if !rising {
            wrong(
                "band",
                "each `band` must begin above the one before it".to_owned(),
            );
        }
    }
}

fn usual_third_reading() -> Sourced<u16> {
    Sourced {
        value: 10,
        confidence: Confidence::CommonPractice,
        source: "asked for when two readings differ by more than 10 mmHg; no guideline read has it for home sessions"
            .to_owned(),
    }
}

fn usual<T>(value: T) -> Sourced<T> {
    let source = "what every protocol read here does unless it says otherwise".to_owned();
    Sourced {
        value,
        confidence: Confidence::CommonPractice,
        source,
    }
}
