//! What must not wait for the average: very high and very low readings, a very fast or slow pulse, symptoms.
//!
//! The limits and the words come from the guidelines named beside them; the words say when to seek help and never
//! what a person has or what to take. Symptoms outrank numbers. A silent program proves nothing: a radio that fails
//! raises no alarm, and whoever shows these alerts has to say so.

use crate::gatt::Unit;
use crate::household::{Condition, Note, Person, PersonId};
use crate::reading::{Pressure, Reading, ReadingId, pressures};
use crate::sitting::SITTING_GAP;
use crate::technique::session::Session;
use crate::technique::{Context, between, possible};
use jiff::{SignedDuration, Timestamp};

/// How urgent an alert is.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub enum Level {
    /// Something to know.
    Note,
    /// Something for the next visit.
    TellClinic,
    /// Measure again after five minutes.
    MeasureAgain,
    /// Contact the clinic or the out-of-hours service today.
    ContactToday,
    /// Contact them now.
    ContactNow,
    /// Call the emergency number now.
    Emergency,
}

impl Level {
    /// As listings print it.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Note => "note",
            Self::TellClinic => "tell-clinic",
            Self::MeasureAgain => "measure-again",
            Self::ContactToday => "contact-today",
            Self::ContactNow => "contact-now",
            Self::Emergency => "emergency",
        }
    }
}

/// What an alert is about.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[expect(missing_docs, reason = "the names say it")]
pub enum About {
    Symptoms,
    VeryHigh,
    VeryHighInPregnancy,
    Low,
    Pulse,
    IrregularPulse,
}

impl About {
    /// As listings print it.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Symptoms => "symptoms",
            Self::VeryHigh => "very-high",
            Self::VeryHighInPregnancy => "very-high-in-pregnancy",
            Self::Low => "low",
            Self::Pulse => "pulse",
            Self::IrregularPulse => "irregular-pulse",
        }
    }
}

/// Something that must not wait.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Alert {
    /// About what.
    pub about: About,
    /// How urgent.
    pub level: Level,
    /// Since when.
    pub at: Timestamp,
    /// From which reading; none for symptoms and for several sessions together.
    pub reading: Option<ReadingId>,
    /// What to tell the person.
    pub say: String,
    /// Where the limit and the words come from.
    pub source: &'static str,
}

impl Alert {
    /// Whether it outranks whatever else the person would do next.
    pub fn outranks(&self) -> bool {
        self.level >= Level::MeasureAgain || self.about == About::Low
    }
}

/// "At least so much systolic, or at least so much diastolic", in mmHg.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
#[expect(missing_docs, reason = "the names say it")]
pub struct Limit {
    pub systolic: i32,
    pub diastolic: i32,
}

/// Very high at home. ESC 2024 gives 180/110 and NICE and AHA/ACC 180/120, all for the office; the lower diastolic,
/// with "at least", errs to caution.
pub const VERY_HIGH: Limit = Limit {
    systolic: 180,
    diastolic: 110,
};

/// In pregnancy and within six weeks of birth (ESC 2024 sections 5.5.1 and 9.2; the six weeks are our own choice).
pub const VERY_HIGH_IN_PREGNANCY: Limit = Limit {
    systolic: 160,
    diastolic: 110,
};

/// Below either of these. No guideline gives a home limit; this is the custom of patient education.
pub const LOW: Limit = Limit {
    systolic: 90,
    diastolic: 60,
};

/// Beats per minute from which, and up to which, to contact somebody now: the outer bands of NEWS2.
const PULSE_URGENT: (f64, f64) = (40.0, 131.0);
/// Beats per minute outside which there is something to note (own choice, looser than the quiet band of NEWS2).
pub(crate) const PULSE_NOTED: (f64, f64) = (50.0, 110.0);

/// How long to sit before a very high reading is measured again (US NHLBI).
pub const SIT_QUIETLY: SignedDuration = SignedDuration::from_mins(5);

/// How long an alert from a reading stands while no other reading follows it. A day: until then somebody will have
/// measured, or acted (own choice).
pub const STANDS: SignedDuration = SignedDuration::from_hours(24);

/// How long noted symptoms stand (own choice).
const SYMPTOMS_STAND: SignedDuration = SignedDuration::from_hours(6);

const EMERGENCY_IF: &str = "If you have chest pain, breathlessness, sudden weakness or numbness, trouble speaking, \
    change in vision, confusion, or severe headache or back pain, call your emergency number now.";

/// Parts of words that name a symptom of the lists in NICE NG136 section 1.5 and of the US NHLBI.
const EMERGENCY_SYMPTOMS: [&str; 17] = [
    "chest",
    "breath",
    "weak",
    "numb",
    "speak",
    "speech",
    "talk",
    "vision",
    "sight",
    "seeing",
    "confus",
    "headache",
    "back pain",
    "belly pain",
    "abdominal pain",
    "fainted",
    "passed out",
];

const ESC_NHLBI: &str = "ESC 2024; US NHLBI: at 180/120 without symptoms wait 5 minutes and measure again";
const SYMPTOMS: &str = "NICE NG136 section 1.5; US NHLBI; that symptoms come first is our own choice";
const CUSTOM: &str = "custom of patient education; no guideline gives a home limit";

/// Everything about one person that must not wait, most urgent first. `readings` are in
/// [`crate::sitting::order`]; those of other people and those after `now` are passed over.
///
/// A reading that technique set aside still counts here, because the answer to a doubtful high reading is to measure
/// again, not to wait; one that is impossible or that the person discarded does not.
pub fn alerts(
    now: Timestamp,
    who: Option<&PersonId>,
    readings: &[Reading],
    context: &Context<'_>,
) -> Vec<Alert> {
    let person = who
        .and_then(|id| context.household.people.get(id))
        .map(|(person, _removed)| person);
    let since = |span| now.checked_sub(span).unwrap_or(Timestamp::MIN);

    let mut standing = readings.iter().rev().filter_map(|reading| {
        let at = reading.time.at?;
        let (systolic, diastolic) = pressures(reading)?;
        let stands = reading.person.as_ref() == who
            && at <= now
            && at >= since(STANDS)
            && reading.discarded.is_none()
            && possible(systolic, diastolic);
        stands.then_some(Standing {
            reading,
            at,
            systolic,
            diastolic,
        })
    });
    let last = standing.next();
    let before = standing.next();

    let noted: Vec<(Timestamp, &str)> = between(context.notes, since(SYMPTOMS_STAND), now)
        .iter()
        .filter(|note| who.is_some() && note.person.as_ref() == who)
        .filter_map(|note| match &note.what {
            Note::Symptoms { symptoms } => Some(symptoms.iter().map(|symptom| (note.at, symptom.as_str()))),
            _ => None,
        })
        .flatten()
        .collect();

    let mut alerts = Vec::new();
    if let Some(last) = &last {
        alerts.extend(last.very_high(before.as_ref(), person, !noted.is_empty()));
        // What is only to be noted is said while the cuff is on.
        let fresh = now.duration_since(last.at) <= SITTING_GAP;
        let others = last.low(!noted.is_empty()).into_iter().chain(last.pulse());
        alerts.extend(others.filter(|alert| fresh || alert.level > Level::Note));
    }
    alerts.extend(symptoms(&noted));
    alerts.sort_by_key(|alert| std::cmp::Reverse(alert.level));
    alerts
}

/// A reading whose values can be a person's, with those values.
struct Standing<'a> {
    reading: &'a Reading,
    at: Timestamp,
    systolic: Pressure,
    diastolic: Pressure,
}

impl Standing<'_> {
    fn reaches(&self, limit: Limit) -> bool {
        self.systolic >= Pressure::from_mmhg(limit.systolic)
            || self.diastolic >= Pressure::from_mmhg(limit.diastolic)
    }

    fn alert(&self, about: About, level: Level, say: String, source: &'static str) -> Alert {
        Alert {
            about,
            level,
            at: self.at,
            reading: Some(self.reading.id.clone()),
            say,
            source,
        }
    }

    fn very_high(&self, before: Option<&Self>, person: Option<&Person>, symptoms: bool) -> Option<Alert> {
        let pregnant = person.is_some_and(|person| person.conditions.contains(&Condition::Pregnancy));
        let (about, limit) = if pregnant {
            (About::VeryHighInPregnancy, VERY_HIGH_IN_PREGNANCY)
        } else {
            (About::VeryHigh, VERY_HIGH)
        };
        if !self.reaches(limit) {
            return None;
        }
        let (level, say, source) = if symptoms {
            (
                Level::Emergency,
                "This reading is very high, and you have noted symptoms. Call your emergency number now. Do not wait \
                 to see if your pressure comes down."
                    .to_owned(),
                SYMPTOMS,
            )
        } else if pregnant {
            (
                Level::ContactNow,
                format!(
                    "This reading is very high. Contact your maternity unit or your clinic now. If it lasts for more \
                     than 15 minutes, it is an emergency. {EMERGENCY_IF}"
                ),
                "ESC 2024 sections 5.5.1 and 9.2",
            )
        } else if before.is_some_and(|before| before.reaches(limit)) {
            (
                Level::ContactToday,
                format!(
                    "Two readings in a row are very high. Contact your clinic or out-of-hours service today. \
                     {EMERGENCY_IF}"
                ),
                ESC_NHLBI,
            )
        } else {
            let shown = |mmhg| limit_shown(mmhg, self.reading.unit);
            (
                Level::MeasureAgain,
                format!(
                    "This reading is very high. Sit quietly for 5 minutes and measure again. If it is still {} or \
                     above, or {} or above for the lower number, contact your clinic or out-of-hours service today. \
                     {EMERGENCY_IF}",
                    shown(limit.systolic),
                    shown(limit.diastolic)
                ),
                ESC_NHLBI,
            )
        };
        Some(self.alert(about, level, say, source))
    }

    fn low(&self, symptoms: bool) -> Option<Alert> {
        let low = self.systolic < Pressure::from_mmhg(LOW.systolic)
            || self.diastolic < Pressure::from_mmhg(LOW.diastolic);
        let level = if symptoms {
            Level::ContactToday
        } else {
            Level::Note
        };
        low.then(|| {
            self.alert(
                About::Low,
                level,
                "This is lower than usual. If you feel faint, dizzy or unwell, sit or lie down and contact your \
                 clinic; if you faint or are confused, call your emergency number."
                    .to_owned(),
                CUSTOM,
            )
        })
    }

    fn pulse(&self) -> Option<Alert> {
        let exact = self.reading.pulse_rate?;
        let pulse = exact.to_f64()?;
        let word = if pulse < PULSE_NOTED.0 { "slow" } else { "fast" };
        if pulse <= PULSE_URGENT.0 || pulse >= PULSE_URGENT.1 {
            return Some(self.alert(
                About::Pulse,
                Level::ContactNow,
                format!(
                    "The pulse of this reading is very {word}: {exact}. Contact your clinic or out-of-hours service \
                     now. If you faint, call your emergency number. {EMERGENCY_IF}"
                ),
                "outer bands of NEWS2, Royal College of Physicians 2017 (from memory)",
            ));
        }
        (pulse < PULSE_NOTED.0 || pulse > PULSE_NOTED.1).then(|| {
            self.alert(
                About::Pulse,
                Level::Note,
                format!(
                    "The pulse of this reading is {word}: {exact}. Tell your clinic if it stays so, and at once if you \
                     feel unwell."
                ),
                "own choice, looser than NEWS2",
            )
        })
    }
}

fn symptoms(noted: &[(Timestamp, &str)]) -> Option<Alert> {
    let &(at, _) = noted.last()?;
    let emergency = noted.iter().any(|(_, symptom)| {
        let words = symptom.to_lowercase().replace(['-', '_'], " ");
        EMERGENCY_SYMPTOMS.iter().any(|part| words.contains(part))
    });
    let (level, say) = if emergency {
        (
            Level::Emergency,
            "Symptoms come first, whatever the numbers say. With the symptoms that you noted, call your emergency \
             number now."
                .to_owned(),
        )
    } else {
        (
            Level::ContactToday,
            format!(
                "Symptoms come first, whatever the numbers say. If you feel faint, dizzy or unwell, sit or lie down \
                 and contact your clinic. {EMERGENCY_IF}"
            ),
        )
    };
    Some(Alert {
        about: About::Symptoms,
        level,
        at,
        reading: None,
        say,
        source: SYMPTOMS,
    })
}

/// A limit in the unit that the monitor shows, in kPa rounded up so that it is never called reached too early.
pub(crate) fn limit_shown(mmhg: i32, unit: Unit) -> String {
    match unit {
        Unit::MmHg => mmhg.to_string(),
        Unit::KPa => format!("{:.1} kPa", (f64::from(mmhg) * 1.333_223_874_15).ceil() / 10.0),
    }
}

/// In how many sessions the monitor has to report an irregular pulse before the clinic is told (own choice).
const IRREGULAR_SESSIONS: usize = 2;

/// An irregular pulse in several sessions, for the clinic. What it means only an ECG can tell (ESC 2024), so it is
/// never named.
pub fn irregular_pulse<'a>(sessions: impl IntoIterator<Item = &'a Session>) -> Option<Alert> {
    let irregular: Vec<&Session> = sessions
        .into_iter()
        .filter(|session| session.irregular_pulse)
        .collect();
    let last = irregular.iter().max_by_key(|session| session.end)?;
    (irregular.len() >= IRREGULAR_SESSIONS).then(|| Alert {
        about: About::IrregularPulse,
        level: Level::TellClinic,
        at: last.end,
        reading: None,
        say: format!(
            "Irregular pulse reported by the monitor in {} sessions. Tell your clinic; only an ECG shows what it is.",
            irregular.len()
        ),
        source: "ESC 2024: an ECG is needed; the two sessions are our own choice",
    })
}
