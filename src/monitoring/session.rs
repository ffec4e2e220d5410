//! Sessions: the readings of one person that were taken together, in one sitting.
//!
//! A sitting is a longest run of one person's readings, in order of time, in which no two neighbours are further apart
//! than [`SITTING_GAP`]. It depends on nothing but the readings, so that the order in which they arrived does not
//! matter, and a reading that comes late can only lengthen its own sitting or join it to the next. A reading whose
//! person or time is unknown sits alone and makes no session.

use super::pressure::Pressure;
use super::protocol::Protocol;
pub use super::taken::Slot;
use crate::household::{Condition, Person, PersonId, Window};
use crate::reading::{Reading, ReadingId};
use crate::technique::{Judgement, Reason, pressures};
use jiff::civil::{Date, DateTime, Time, time};
use jiff::tz::TimeZone;
use jiff::{SignedDuration, Timestamp, ToSpan};
use std::cmp::Ordering;

/// The longest pause inside a sitting. No guideline gives one (own choice): long enough for five minutes of rest after
/// a very high reading and one failed attempt, short enough to keep a second sitting apart.
pub const SITTING_GAP: SignedDuration = SignedDuration::from_mins(10);

/// What a protocol asks of one session.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub struct SessionRule {
    /// How many readings.
    pub readings: u16,
    /// How many in atrial fibrillation, if more.
    pub readings_in_atrial_fibrillation: u16,
    /// The least number of seconds between them.
    pub gap_s: i64,
    /// A third reading is asked for where the first two differ by more than this.
    pub third_above_mmhg: Option<u16>,
    /// Whether a session is asked for in the morning.
    pub morning: bool,
    /// Whether one is asked for in the evening.
    pub evening: bool,
}

/// Atrial fibrillation makes single readings vary: at least three a session (Taiwan 2020).
const READINGS_IN_ATRIAL_FIBRILLATION: u16 = 3;

impl Default for SessionRule {
    /// Two readings at least a minute apart, morning and evening (NICE NG136, AHA/AMA 2020, ESC 2024); the third is
    /// common practice.
    fn default() -> Self {
        Self {
            readings: 2,
            readings_in_atrial_fibrillation: READINGS_IN_ATRIAL_FIBRILLATION,
            gap_s: 60,
            third_above_mmhg: Some(10),
            morning: true,
            evening: true,
        }
    }
}

impl SessionRule {
    /// What this protocol asks.
    pub fn of(protocol: &Protocol) -> Self {
        let in_atrial_fibrillation = protocol
            .readings_with_atrial_fibrillation
            .as_ref()
            .map_or(READINGS_IN_ATRIAL_FIBRILLATION, |stated| stated.value);
        Self {
            readings: protocol.readings_per_session.value,
            readings_in_atrial_fibrillation: in_atrial_fibrillation,
            gap_s: i64::from(protocol.gap_seconds.value),
            third_above_mmhg: Some(protocol.third_reading_above.value).filter(|&limit| limit != 0),
            morning: protocol.sessions.value.contains(&Slot::Morning),
            evening: protocol.sessions.value.contains(&Slot::Evening),
        }
    }

    /// Whether a session is asked for in this part of the day.
    pub const fn asks_for(&self, slot: Slot) -> bool {
        match slot {
            Slot::Morning => self.morning,
            Slot::Evening => self.evening,
            Slot::Other => false,
        }
    }

    /// Whether the first two of these differ by more than a third reading is asked for.
    pub fn apart<'a>(&self, averaged: impl IntoIterator<Item = &'a Reading>) -> bool {
        let mut values = averaged.into_iter().filter_map(pressures);
        let (Some(limit), Some((s1, d1)), Some((s2, d2))) =
            (self.third_above_mmhg, values.next(), values.next())
        else {
            return false;
        };
        let limit = Pressure::from_mmhg(i32::from(limit));
        let apart = |a: Pressure, b: Pressure| if a > b { a - b } else { b - a };
        apart(s1, s2) > limit || apart(d1, d2) > limit
    }

    /// How many averaged readings a session of this person needs.
    pub fn wanted(&self, person: Option<&Person>, apart: bool) -> usize {
        let mut wanted = self.readings;
        if person.is_some_and(|person| person.conditions.contains(&Condition::AtrialFibrillation)) {
            wanted = wanted.max(self.readings_in_atrial_fibrillation);
        }
        if apart {
            wanted = wanted.max(3);
        }
        usize::from(wanted)
    }
}

/// The order in which readings are judged: by person, by time, and by id where two were taken in the same second.
/// Readings without a person or a time come first.
pub fn order(a: &Reading, b: &Reading) -> Ordering {
    (&a.person, a.time.at, &a.id).cmp(&(&b.person, b.time.at, &b.id))
}

/// Splits readings that stand in [`order`] into sittings.
pub fn sittings(readings: &[Reading]) -> impl Iterator<Item = &[Reading]> {
    readings.chunk_by(|a, b| {
        let (Some(before), Some(after)) = (a.time.at, b.time.at) else {
            return false;
        };
        a.person.is_some() && a.person == b.person && after.duration_since(before) <= SITTING_GAP
    })
}

/// From the first to the last reading of a sitting.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Span {
    /// When the first was taken.
    pub start: Timestamp,
    /// When the last was taken.
    pub end: Timestamp,
}

impl Span {
    /// Of readings in order; none where the time is unknown.
    pub fn of(sitting: &[Reading]) -> Option<Self> {
        Some(Self {
            start: sitting.first()?.time.at?,
            end: sitting.last()?.time.at?,
        })
    }
}

/// The parts of the day in which one person measures. A window that ends before it begins runs over midnight, for
/// those who work at night.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Windows {
    morning: Window,
    evening: Window,
}

impl Windows {
    /// 05:00 to 11:59, after Juhanoja et al., Hypertension 2017;69:599, who took 05:00 to 12:00 as morning.
    pub const MORNING: Window = Window {
        from: time(5, 0, 0, 0),
        to: time(11, 59, 0, 0),
    };
    /// 17:00 to 23:59 (own choice).
    pub const EVENING: Window = Window {
        from: time(17, 0, 0, 0),
        to: time(23, 59, 0, 0),
    };

    /// A person's own windows, or the usual ones.
    pub fn of(person: Option<&Person>) -> Self {
        Self {
            morning: person.and_then(|p| p.morning).unwrap_or(Self::MORNING),
            evening: person.and_then(|p| p.evening).unwrap_or(Self::EVENING),
        }
    }

    /// The part of the day at this time of the household's clock.
    pub fn slot(&self, civil: DateTime) -> Slot {
        self.opened(civil).map_or(Slot::Other, |(slot, _)| slot)
    }

    /// The window that is open at this time, and when it opened.
    pub fn opened(&self, civil: DateTime) -> Option<(Slot, DateTime)> {
        [(Slot::Morning, self.morning), (Slot::Evening, self.evening)]
            .into_iter()
            .find(|(_, window)| holds(*window, civil.time()))
            .map(|(slot, window)| {
                // Past midnight, a window opened the day before.
                let date = if civil.time() < window.from {
                    civil.date().yesterday().unwrap_or(Date::MIN)
                } else {
                    civil.date()
                };
                (slot, date.to_datetime(window.from))
            })
    }

    /// A time of day that belongs to both windows, which would make it unclear which session a reading is of.
    pub fn both_open_at(&self) -> Option<Time> {
        // Two stretches of a day overlap only where one of them begins.
        [self.morning.from, self.evening.from]
            .into_iter()
            .find(|at| holds(self.morning, *at) && holds(self.evening, *at))
    }

    /// First and last minute of each.
    pub fn hours(&self) -> [(Slot, Time, Time); 2] {
        [
            (Slot::Morning, self.morning.from, self.morning.to),
            (Slot::Evening, self.evening.from, self.evening.to),
        ]
    }

    /// When the windows of a day open.
    pub fn openings(&self, date: Date) -> [(Slot, DateTime); 2] {
        [
            (Slot::Morning, date.to_datetime(self.morning.from)),
            (Slot::Evening, date.to_datetime(self.evening.from)),
        ]
    }

    /// The windows of a day: when each opens, and when it is over.
    pub fn of_day(&self, date: Date) -> [(Slot, DateTime, DateTime); 2] {
        [(Slot::Morning, self.morning), (Slot::Evening, self.evening)].map(|(slot, window)| {
            let last = if window.to < window.from {
                date.tomorrow().unwrap_or(Date::MAX)
            } else {
                date
            };
            let over = last.to_datetime(window.to).checked_add(1.minute());
            (slot, date.to_datetime(window.from), over.unwrap_or(DateTime::MAX))
        })
    }
}

/// Both the first and the last minute belong to a window, as people read "05:00 to 11:59".
fn holds(window: Window, at: Time) -> bool {
    let minute = |t: Time| (t.hour(), t.minute());
    let (from, to, at) = (minute(window.from), minute(window.to), minute(at));
    if from <= to {
        from <= at && at <= to
    } else {
        from <= at || at <= to
    }
}

/// Names a session: the person and the first reading.
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub struct SessionId(pub String);

/// The readings of one sitting, judged.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Session {
    /// Which.
    pub id: SessionId,
    /// Whose.
    pub person: PersonId,
    /// When the first reading was taken.
    pub start: Timestamp,
    /// When the last reading was taken.
    pub end: Timestamp,
    /// The household's date of the first reading.
    pub date: Date,
    /// The part of the day: that of the first averaged reading that falls in any, so that a reading a minute before
    /// the window does not take the session out of it.
    pub slot: Slot,
    /// All of its readings, in order.
    pub readings: Vec<ReadingId>,
    /// How many are averaged.
    pub counted: usize,
    /// How many averaged readings it needs.
    pub wanted: usize,
    /// Whether its first two averaged readings differ by more than a third is asked for.
    pub apart: bool,
    /// Whether the monitor reported an irregular pulse in an averaged reading.
    pub irregular_pulse: bool,
}

/// How far a session has come.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub enum State {
    /// Readings are missing, and may still come.
    Open,
    /// As many readings count as it needs.
    Done,
    /// It ended with fewer.
    Short,
    /// It ended with none that counts.
    Empty,
}

impl State {
    /// As contracts print it.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Open => "open",
            Self::Done => "done",
            Self::Short => "short",
            Self::Empty => "empty",
        }
    }
}

impl Session {
    /// The session of a judged sitting; none where the person or the time is unknown.
    pub(crate) fn of(
        sitting: &[Reading],
        judgements: &[Judgement],
        (wanted, apart): (usize, bool),
        windows: &Windows,
        zone: &TimeZone,
    ) -> Option<Self> {
        let first = sitting.first()?;
        let person = first.person.clone()?;
        let Span { start, end } = Span::of(sitting)?;
        let averaged = || {
            sitting
                .iter()
                .zip(judgements)
                .filter(|(_, judgement)| judgement.disposition.is_averaged())
        };
        let slot_of = |reading: &Reading| windows.slot(zone.to_datetime(reading.time.at.unwrap_or(start)));
        let in_a_window = |slot: &Slot| *slot != Slot::Other;
        let counted = averaged().count();
        let slot = if counted == 0 {
            sitting.iter().map(slot_of).find(in_a_window)
        } else {
            averaged().map(|(reading, _)| slot_of(reading)).find(in_a_window)
        };
        Some(Self {
            id: SessionId([person.as_str(), "-", &first.id.0].concat()),
            person,
            start,
            end,
            date: zone.to_datetime(start).date(),
            slot: slot.unwrap_or(Slot::Other),
            readings: sitting.iter().map(|reading| reading.id.clone()).collect(),
            counted,
            wanted,
            apart,
            irregular_pulse: averaged()
                .any(|(_, judgement)| judgement.reasons.contains(Reason::IrregularPulse)),
        })
    }

    /// How far it has come; at a moment, if one is given, else once no more readings can join it.
    pub fn state(&self, now: Option<Timestamp>) -> State {
        if self.counted >= self.wanted {
            State::Done
        } else if now.is_some_and(|now| now.duration_since(self.end) <= SITTING_GAP) {
            State::Open
        } else if self.counted == 0 {
            State::Empty
        } else {
            State::Short
        }
    }
}
