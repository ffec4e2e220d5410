//! How urgent it is: the table of every limit, and what an alert is.
//!
//! The limits come from the sources named beside them; what no source gives says that it is a choice.

use crate::gatt::{Sfloat, Unit};
use crate::household::{Condition, Person, PersonId};
use crate::reading::{Pressure, Reading, ReadingId, pressures};
use jiff::{SignedDuration, Timestamp};

/// How urgent an alert is.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub enum Level {
    /// Something to know.
    Note,
    /// Something for the next visit.
    TellClinic,
    /// Words were noted that are none of the list: is it one of these symptoms?
    Ask,
    /// Measure again at a time that is said.
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
            Self::Ask => "ask",
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
    HighInPregnancy,
    VeryLow,
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
            Self::HighInPregnancy => "high-in-pregnancy",
            Self::VeryLow => "very-low",
            Self::Low => "low",
            Self::Pulse => "pulse",
            Self::IrregularPulse => "irregular-pulse",
        }
    }

    /// Whether it is about a pressure that is too high: beside each of these stands that no extra medicine is
    /// taken because of a reading.
    pub const fn is_high(self) -> bool {
        matches!(
            self,
            Self::VeryHigh | Self::VeryHighInPregnancy | Self::HighInPregnancy
        )
    }
}

/// Why an alert does not stand any more.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub enum End {
    /// A later reading or symptom raised another one in its place.
    Overtaken,
    /// Later readings are clearly on the other side of its limit.
    Settled,
    /// A person said what was done.
    Answered,
    /// It was for a while only.
    Passed,
}

impl End {
    /// As listings print it.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Overtaken => "overtaken",
            Self::Settled => "settled",
            Self::Answered => "answered",
            Self::Passed => "passed",
        }
    }
}

/// Why nobody knows when the reading of an alert was taken.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub enum Undated {
    /// Its time is unknown.
    Unknown,
    /// It is dated ahead of the moment at which it was received.
    Ahead,
}

impl Undated {
    /// As listings print it.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Unknown => "unknown",
            Self::Ahead => "ahead",
        }
    }

    /// Why the time of this reading says nothing to an alert of the moment `at`, if it does not.
    pub(crate) fn of(reading: &Reading, at: Timestamp) -> Option<Self> {
        match reading.time.at {
            None => Some(Self::Unknown),
            Some(taken) => (taken > at).then_some(Self::Ahead),
        }
    }
}

/// Something that must not wait.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Alert {
    /// The matter of the alert, such as symptoms or a very high pressure.
    pub about: About,
    /// The urgency of the alert.
    pub level: Level,
    /// The moment from which on the alert stands.
    pub at: Timestamp,
    /// About whom; nobody where nobody has said yet whose the reading is.
    pub person: Option<PersonId>,
    /// From which reading; none for symptoms and for several sessions together.
    pub reading: Option<ReadingId>,
    /// Why nobody knows when that reading was taken; the alert then stands from when it was received.
    pub undated: Option<Undated>,
    /// When to measure again, where that is asked for.
    pub repeat_at: Option<Timestamp>,
    /// What to tell the person.
    pub say: String,
    /// Where the limit and the words come from.
    pub source: &'static str,
    /// From when on it does not stand, and why.
    pub end: Option<(Timestamp, End)>,
}

impl Alert {
    /// What of its row no source gives; `None` where that stands in the source.
    pub fn choice(&self) -> Option<&'static str> {
        LevelRow::of(self.about).map(|row| row.choice)
    }

    /// Whether it outranks whatever else the person would do next.
    pub fn outranks(&self) -> bool {
        self.level >= Level::Ask
    }

    /// Whether others are told of it. A question is for whoever wrote the words.
    pub fn is_told(&self) -> bool {
        self.level >= Level::MeasureAgain
    }

    /// Whether it stands at this moment.
    pub fn stands(&self, now: Timestamp) -> bool {
        self.at <= now && self.end.is_none_or(|(end, _)| now < end)
    }

    /// Names it, whenever it is looked at: an answer says which alert it answers.
    pub fn key(&self) -> String {
        let what = match (&self.reading, &self.person) {
            (Some(reading), _) => reading.0.clone(),
            (None, Some(person)) => format!("{person}@{}", self.at.as_second()),
            (None, None) => self.at.as_second().to_string(),
        };
        format!("{}/{}/{what}", self.about.name(), self.level.name())
    }
}

/// "At least so much systolic, or at least so much diastolic", in mmHg.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
#[expect(missing_docs, reason = "the names say it")]
pub struct Limit {
    pub systolic: i32,
    pub diastolic: i32,
}

/// Which readings a row of the table is about, and which are clearly not. Pressures in mmHg, pulses a minute.
#[derive(Clone, Copy, PartialEq, Debug)]
pub enum Reach {
    /// Systolic or diastolic at least so high; both below the second is clearly below.
    High(Limit, Limit),
    /// Systolic below the first; at least the second is clearly above. The diastolic does not decide: one
    /// reading in four of people over 65 has a diastolic below 60 (survey data, `fixtures/data`), and it is
    /// for the sheet.
    Low(i32, i32),
    /// A pulse of at most so much.
    Slow(f64),
    /// A pulse of at least so much.
    Fast(f64),
}

/// A row of the table.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct LevelRow {
    /// The matter of the alerts that this row raises.
    pub about: About,
    /// The readings that this row is about: pressures in mmHg, or pulses in beats a minute.
    pub reach: Reach,
    /// The first such reading of a sitting.
    pub first: Level,
    /// Another one of the same sitting, or within the hour.
    pub again: Level,
    /// How long after the first it has to be taken to be that other one.
    pub again_after: SignedDuration,
    /// With a symptom of the list, noted up to [`WITH_SYMPTOMS`] before or after.
    pub with_symptoms: Level,
    /// How long to sit before it is measured again; none where that is not asked for.
    pub repeat_after: Option<SignedDuration>,
    /// Where the limit comes from.
    pub source: &'static str,
    /// What of this row no source gives.
    pub choice: &'static str,
}

const NONE: SignedDuration = SignedDuration::ZERO;
const FIVE: SignedDuration = SignedDuration::from_mins(5);
const FIFTEEN: SignedDuration = SignedDuration::from_mins(15);

const CLEARLY: &str = "clearly below is 10 mmHg below: two readings of one sitting differ by less in 19 of 20 (standard \
                       deviation within a sitting 3.7 and 3.4, survey data)";

/// Every limit. Within a direction the more urgent row comes first.
pub const LEVELS: [LevelRow; 7] = [
    LevelRow {
        about: About::VeryHighInPregnancy,
        reach: Reach::High(limit(160, 110), limit(150, 100)),
        first: Level::ContactNow,
        again: Level::Emergency,
        again_after: FIFTEEN,
        with_symptoms: Level::Emergency,
        repeat_after: Some(FIFTEEN),
        source: "AHA/ACC 2025: 160 or 110, confirmed within 15 minutes; ESC 2024 section 9.2: an emergency if it lasts \
                 longer than 15 minutes",
        choice: "the eight weeks after birth; to contact somebody at the first such reading",
    },
    LevelRow {
        about: About::HighInPregnancy,
        reach: Reach::High(limit(140, 90), limit(140, 90)),
        first: Level::MeasureAgain,
        again: Level::ContactToday,
        again_after: NONE,
        with_symptoms: Level::ContactNow,
        repeat_after: Some(FIFTEEN),
        source: "NICE NG133: high in pregnancy from 140/90; to call somebody at 140 to 159 or 90 to 109 is the advice of a \
                 patients' charity",
        choice: "to measure again first; the 15 minutes at this level",
    },
    LevelRow {
        about: About::VeryHigh,
        reach: Reach::High(limit(180, 110), limit(170, 100)),
        first: Level::MeasureAgain,
        again: Level::ContactToday,
        again_after: NONE,
        with_symptoms: Level::Emergency,
        repeat_after: Some(FIVE),
        source: "ESC 2024: 180/110, confirm promptly; US NHLBI: wait 5 minutes and measure again",
        choice: CLEARLY,
    },
    LevelRow {
        about: About::VeryLow,
        reach: Reach::Low(80, 90),
        first: Level::MeasureAgain,
        again: Level::ContactNow,
        again_after: NONE,
        with_symptoms: Level::ContactNow,
        repeat_after: Some(FIVE),
        source: "NEWS2 (Royal College of Physicians 2017): a systolic of 90 or less alone asks for urgent review in acute \
                 illness; no page for patients calls a number alone an emergency",
        choice: "80, below which fewer than one adult in a thousand is (survey data); the 5 minutes",
    },
    LevelRow {
        about: About::Low,
        reach: Reach::Low(90, 90),
        first: Level::MeasureAgain,
        again: Level::TellClinic,
        again_after: NONE,
        with_symptoms: Level::ContactToday,
        repeat_after: Some(FIVE),
        source: "NHS: low below 90, which does not always cause symptoms; with symptoms see somebody",
        choice: "to measure again first; the 5 minutes; today",
    },
    LevelRow {
        about: About::Pulse,
        reach: Reach::Slow(40.0),
        first: Level::ContactNow,
        again: Level::ContactNow,
        again_after: NONE,
        with_symptoms: Level::ContactNow,
        repeat_after: None,
        source: NEWS2_PULSE,
        choice: "that it holds outside acute illness too",
    },
    LevelRow {
        about: About::Pulse,
        reach: Reach::Fast(131.0),
        first: Level::ContactNow,
        again: Level::ContactNow,
        again_after: NONE,
        with_symptoms: Level::ContactNow,
        repeat_after: None,
        source: NEWS2_PULSE,
        choice: "that it holds outside acute illness too",
    },
];

const NEWS2_PULSE: &str = "NEWS2, Royal College of Physicians 2017: a pulse of 40 or less, or 131 or more, alone asks for \
                           urgent review in acute illness";

const fn limit(systolic: i32, diastolic: i32) -> Limit {
    Limit { systolic, diastolic }
}

impl LevelRow {
    /// The row of this subject; the first where there are two.
    pub fn of(about: About) -> Option<&'static Self> {
        LEVELS.iter().find(|row| row.about == about)
    }

    pub(super) fn reached_by(&self, reading: &Reading) -> bool {
        Numbers::of(reading).reach(self)
    }

    pub(super) fn settled_by(&self, reading: &Reading) -> bool {
        let Some((systolic, diastolic)) = pressures(reading) else {
            return false;
        };
        match self.reach {
            Reach::High(_, clearly) => !reaches(systolic, diastolic, clearly),
            Reach::Low(_, clearly) => systolic >= Pressure::from_mmhg(clearly),
            Reach::Slow(_) | Reach::Fast(_) => reading.pulse_rate.is_some() && !self.reached_by(reading),
        }
    }
}

/// What of a reading the limits are about.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Numbers {
    /// The unit of both pressures.
    pub unit: Unit,
    /// The systolic pressure.
    pub systolic: Sfloat,
    /// The diastolic pressure.
    pub diastolic: Sfloat,
    /// The pulse, in beats a minute.
    pub pulse_rate: Option<Sfloat>,
}

impl Numbers {
    pub(super) const fn of(reading: &Reading) -> Self {
        Self {
            unit: reading.unit,
            systolic: reading.systolic,
            diastolic: reading.diastolic,
            pulse_rate: reading.pulse_rate,
        }
    }

    fn reach(&self, row: &LevelRow) -> bool {
        let pressures = Pressure::from_sfloat(self.systolic, self.unit)
            .zip(Pressure::from_sfloat(self.diastolic, self.unit));
        let Some((systolic, diastolic)) = pressures else {
            return false;
        };
        let pulse = self.pulse();
        match row.reach {
            Reach::High(limit, _) => reaches(systolic, diastolic, limit),
            Reach::Low(limit, _) => systolic < Pressure::from_mmhg(limit),
            Reach::Slow(limit) => pulse.is_some_and(|pulse| pulse <= limit),
            Reach::Fast(limit) => pulse.is_some_and(|pulse| pulse >= limit),
        }
    }

    fn pulse(&self) -> Option<f64> {
        self.pulse_rate.and_then(Sfloat::to_f64)
    }

    /// Whether they are outside of what is only to be noted.
    pub(super) fn pulse_is_noted(&self) -> bool {
        self.pulse()
            .is_some_and(|pulse| pulse < PULSE_NOTED.0 || pulse > PULSE_NOTED.1)
    }

    /// Whether a reading with these can raise an alert about this person. Where none of theirs can, and no symptom is
    /// noted, nothing has to be told of them, whatever else is known.
    pub fn can_raise(&self, person: Option<&Person>) -> bool {
        let pregnant = person.is_some_and(|person| person.conditions.contains(&Condition::Pregnancy));
        let of_pregnancy = |about| matches!(about, About::VeryHighInPregnancy | About::HighInPregnancy);
        let mut rows = LEVELS.iter().filter(|row| pregnant || !of_pregnancy(row.about));
        self.pulse_is_noted() || rows.any(|row| self.reach(row))
    }
}

fn reaches(systolic: Pressure, diastolic: Pressure, limit: Limit) -> bool {
    systolic >= Pressure::from_mmhg(limit.systolic) || diastolic >= Pressure::from_mmhg(limit.diastolic)
}

/// Beats per minute outside which there is something to note (own choice, looser than the quiet band of
/// NEWS2).
pub(crate) const PULSE_NOTED: (f64, f64) = (50.0, 110.0);

/// Two readings so close together are judged together, also where the cuff was off in between (own choice).
pub const TOGETHER: SignedDuration = SignedDuration::from_hours(1);

/// A symptom belongs to readings of so long before and after it (own choice).
pub const WITH_SYMPTOMS: SignedDuration = SignedDuration::from_hours(6);

/// How far back is looked for alerts that nobody has answered. A month: what nobody has answered by then
/// stands on the sheet for the clinic (own choice).
pub const LOOK_BACK: SignedDuration = SignedDuration::from_hours(31 * 24);

/// For how long symptoms stand that do not call for help now, and a question that nobody answers (own
/// choice).
pub(super) const SYMPTOMS_STAND: SignedDuration = SignedDuration::from_hours(24);
