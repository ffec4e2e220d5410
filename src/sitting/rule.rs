//! The rule by which a protocol asks for the readings of one session.

use super::windows::Slot;
use crate::household::{Condition, Person};
use crate::reading::{Pressure, Reading, pressures};
use serde::Serialize;

/// A point of the day that a protocol may tie its sessions to.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Tie {
    /// In the morning not within the half hour after waking.
    NotJustWoken,
    /// In the morning within an hour after waking.
    WithinHourOfWaking,
    /// In the morning before breakfast.
    BeforeBreakfast,
    /// In the morning before medicines.
    BeforeMedicines,
    /// In the evening before dinner.
    BeforeDinner,
    /// In the evening within an hour before bed.
    BeforeBed,
}

impl Tie {
    /// All of them, in the order of the day.
    pub const ALL: [Self; 6] = [
        Self::NotJustWoken,
        Self::WithinHourOfWaking,
        Self::BeforeBreakfast,
        Self::BeforeMedicines,
        Self::BeforeDinner,
        Self::BeforeBed,
    ];

    /// The name that a protocol file writes.
    pub const fn name(self) -> &'static str {
        match self {
            Self::NotJustWoken => "not-just-woken",
            Self::WithinHourOfWaking => "within-hour-of-waking",
            Self::BeforeBreakfast => "before-breakfast",
            Self::BeforeMedicines => "before-medicines",
            Self::BeforeDinner => "before-dinner",
            Self::BeforeBed => "before-bed",
        }
    }
}

/// The points of the day that one protocol ties its sessions to.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub struct Timing(u8);

impl Timing {
    /// The usual timing (common practice): half an hour after waking, before breakfast and medicines, and in
    /// the evening before dinner.
    pub const USUAL: Self = Self(0)
        .with(Tie::NotJustWoken)
        .with(Tie::BeforeBreakfast)
        .with(Tie::BeforeMedicines)
        .with(Tie::BeforeDinner);

    /// The same timing with one more point.
    #[must_use]
    pub const fn with(self, tie: Tie) -> Self {
        Self(self.0 | 1 << tie as u8)
    }

    /// Whether the sessions are tied to this point.
    pub const fn has(self, tie: Tie) -> bool {
        self.0 & 1 << tie as u8 != 0
    }
}

impl FromIterator<Tie> for Timing {
    fn from_iter<I: IntoIterator<Item = Tie>>(ties: I) -> Self {
        ties.into_iter().fold(Self(0), Self::with)
    }
}

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
    /// The points of the day that the sessions are tied to.
    pub timing: Timing,
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
            timing: Timing::USUAL,
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
