//! The rule by which a protocol asks for the readings of one session.

use super::windows::Slot;
use crate::household::{Condition, Person};
use crate::reading::{Pressure, Reading, pressures};

/// What a protocol asks of one session.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub struct SessionRule {
    /// The number of averaged readings that a session needs.
    pub readings: u16,
    /// The number of averaged readings that a session of a person with atrial fibrillation needs, if it is
    /// larger.
    pub readings_in_atrial_fibrillation: u16,
    /// The least number of seconds between two readings.
    pub gap_s: i64,
    /// The difference in mmHg between the first two readings above which a third one is asked for; `None`
    /// where none ever is.
    pub third_above_mmhg: Option<u16>,
    /// Whether a session is asked for in the morning.
    pub morning: bool,
    /// Whether a session is asked for in the evening.
    pub evening: bool,
}

/// The least number of readings in a session of a person with atrial fibrillation, which makes single
/// readings vary (Taiwan 2020).
const READINGS_IN_ATRIAL_FIBRILLATION: u16 = 3;

impl Default for SessionRule {
    /// The rule of two readings at least a minute apart, morning and evening (NICE NG136, AHA/AMA 2020, ESC
    /// 2024); the third reading is common practice.
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
    /// Whether a session is asked for in this part of the day.
    pub const fn asks_for(&self, slot: Slot) -> bool {
        match slot {
            Slot::Morning => self.morning,
            Slot::Evening => self.evening,
            Slot::Other => false,
        }
    }

    /// Whether the first two of the readings differ so much, in the systolic or in the diastolic pressure,
    /// that a third one is asked for.
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

    /// The number of averaged readings that a session of this person needs.
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
