//! Invented readings of invented people.

use jiff::Timestamp;
use jiff::tz::{Offset, TimeZone};
use quietcuff::gatt::{MeasurementStatus, Sfloat, Unit};
use quietcuff::household::{Household, MonitorId, Note, Person, PersonId, StatedNote};
use quietcuff::reading::{MeasuredTime, Precision, Reading, ReadingId, TimeSource};
use quietcuff::sitting::{SessionRule, order, sittings};
use quietcuff::technique::{Context, Judged, Judgement, Reason, Reasons, judge};

/// The household's clock in these tests is an hour ahead of UTC, unless a test says otherwise.
pub(crate) fn zone() -> TimeZone {
    TimeZone::fixed(Offset::constant(1))
}

pub(crate) fn at(civil: &str) -> Timestamp {
    zone().to_timestamp(civil.parse().unwrap()).unwrap()
}

pub(crate) fn decimal(text: &str) -> Sfloat {
    let exponent = text.split_once('.').map_or(0, |(_, fraction)| fraction.len());
    let mantissa = text.replace('.', "").parse().unwrap();
    Sfloat::new(mantissa, -i8::try_from(exponent).unwrap()).unwrap()
}

pub(crate) fn p1() -> PersonId {
    "p1".parse().unwrap()
}

pub(crate) fn m1() -> MonitorId {
    "m1".parse().unwrap()
}

/// A reading by `p1` on `m1`, its stamp held against the monitor's clock, heard two seconds later.
pub(crate) fn reading(civil: &str, systolic: &str, diastolic: &str) -> Reading {
    Reading {
        id: ReadingId(format!("{civil} {systolic}/{diastolic}")),
        monitor: m1(),
        received_at: at(civil) + jiff::SignedDuration::from_secs(2),
        time: MeasuredTime {
            at: Some(at(civil)),
            source: TimeSource::MonitorClock,
            precision: Precision::Second,
            stamp: Some(civil.parse().unwrap()),
            correction_s: 0,
        },
        person: Some(p1()),
        unit: Unit::MmHg,
        systolic: decimal(systolic),
        diastolic: decimal(diastolic),
        mean_arterial_pressure: Sfloat::NAN,
        pulse_rate: Some(decimal("72")),
        user_id: Some(1),
        status: Some(MeasurementStatus(0)),
        feature: Some(0x1f),
        discarded: None,
    }
}

pub(crate) fn note(civil: &str, what: Note) -> StatedNote {
    StatedNote {
        person: Some(p1()),
        monitor: None,
        at: at(civil),
        what,
    }
}

/// What a test judges by.
pub(crate) struct World {
    pub(crate) household: Household,
    pub(crate) notes: Vec<StatedNote>,
    pub(crate) zone: TimeZone,
    pub(crate) rule: SessionRule,
}

impl World {
    pub(crate) fn new() -> Self {
        Self::with(Person::default())
    }

    pub(crate) fn with(person: Person) -> Self {
        let mut household = Household::default();
        household.people.insert(p1(), (person, false));
        Self {
            household,
            notes: Vec::new(),
            zone: zone(),
            rule: SessionRule::default(),
        }
    }

    pub(crate) fn noting(mut self, civil: &str, what: Note) -> Self {
        self.notes.push(note(civil, what));
        self.notes.sort_by_key(|note| note.at);
        self
    }

    pub(crate) fn context(&self) -> Context<'_> {
        Context {
            household: &self.household,
            notes: &self.notes,
            zone: &self.zone,
            rule: self.rule,
        }
    }

    /// All of them, judged sitting by sitting.
    pub(crate) fn judge(&self, mut readings: Vec<Reading>) -> Vec<(Vec<Reading>, Judged)> {
        readings.sort_by(order);
        sittings(&readings)
            .map(|sitting| (sitting.to_vec(), judge(sitting, &self.context())))
            .collect()
    }

    /// One sitting, judged.
    pub(crate) fn sitting(&self, readings: Vec<Reading>) -> Judged {
        let mut judged = self.judge(readings);
        assert_eq!(judged.len(), 1, "more than one sitting");
        judged.remove(0).1
    }

    /// What becomes of a reading under a protocol that is content with one.
    pub(crate) fn alone(&self, reading: Reading) -> Judgement {
        let context = Context {
            rule: SessionRule {
                readings: 1,
                ..self.rule
            },
            ..self.context()
        };
        judge(&[reading], &context).judgements[0]
    }
}

pub(crate) fn names(reasons: Reasons) -> Vec<&'static str> {
    reasons.iter().map(Reason::name).collect()
}
