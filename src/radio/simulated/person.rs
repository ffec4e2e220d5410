//! An invented person: a pressure that follows the day, and habits that are not perfect.

use super::random::Random;
use crate::household::PersonId;
use jiff::civil::Time;

/// Who uses a monitor, and how.
#[derive(Clone, Debug)]
pub struct Person {
    /// The household's word for them.
    pub id: PersonId,
    /// What they are called; says that they are invented.
    pub label: String,
    /// Their index on the monitor, if it keeps people apart.
    pub user_id: Option<u8>,
    /// Usual pressure and pulse, and how they vary.
    pub pressure: Pressure,
    /// When they measure, and what goes wrong how often.
    pub habits: Habits,
}

/// How a person's pressure behaves, in mmHg. The spreads are standard deviations.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Pressure {
    /// Systolic, over the whole week.
    pub systolic: f64,
    /// Diastolic, over the whole week.
    pub diastolic: f64,
    /// Pulse, in beats per minute.
    pub pulse: f64,
    /// By how much the mornings are higher than the evenings, systolic and diastolic.
    pub morning_over_evening: [f64; 2],
    /// By how much the first reading of a session is higher, systolic.
    pub first_reading: f64,
    /// By how much the first day is higher, systolic and diastolic.
    pub first_day: [f64; 2],
    /// From day to day, as a part of the pressure.
    pub day_to_day: f64,
    /// From reading to reading in one session, systolic and diastolic.
    pub within_session: [f64; 2],
}

impl Pressure {
    /// A person with this usual pressure and pulse. First day: Kyriakoulis et al., J Hypertens 2022;40:1380 (2.8/1.4
    /// mmHg). Day to day 6 %, within a session 4 mmHg, first reading 1 mmHg higher: the order of magnitude of
    /// published adult data, no one source; the diastolic ones are a choice.
    pub fn usual(systolic: f64, diastolic: f64, pulse: f64) -> Self {
        Self {
            systolic,
            diastolic,
            pulse,
            morning_over_evening: [4.0, 2.0],
            first_reading: 1.0,
            first_day: [2.8, 1.4],
            day_to_day: 0.06,
            within_session: [4.0, 3.0],
        }
    }
}

/// How a person measures. The chances are for each session, or for each reading where it says so.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Habits {
    /// When they measure in the morning, give or take.
    pub morning: Time,
    /// And in the evening.
    pub evening: Time,
    /// How far from that, in minutes: a standard deviation.
    pub give_or_take: f64,
    /// They do not measure at all.
    pub forgets: f64,
    /// They take the next reading at once instead of waiting a minute.
    pub too_soon: f64,
    /// They talk, for each reading.
    pub talks: f64,
    /// They move, for each reading.
    pub moves: f64,
    /// The cuff is loose, for each reading.
    pub loose_cuff: f64,
    /// The cuff is not at the height of the heart, for each reading.
    pub bad_position: f64,
    /// The pulse is irregular, for each reading.
    pub irregular_pulse: f64,
    /// The monitor gives up, for each reading.
    pub no_value: f64,
}

impl Habits {
    /// Does everything as it should be.
    pub fn faultless() -> Self {
        Self {
            morning: Time::constant(7, 5, 0, 0),
            evening: Time::constant(19, 40, 0, 0),
            give_or_take: 6.0,
            forgets: 0.0,
            too_soon: 0.0,
            talks: 0.0,
            moves: 0.0,
            loose_cuff: 0.0,
            bad_position: 0.0,
            irregular_pulse: 0.0,
            no_value: 0.0,
        }
    }

    /// Tries, and is human.
    pub fn human() -> Self {
        Self {
            forgets: 0.03,
            too_soon: 0.06,
            talks: 0.05,
            moves: 0.02,
            loose_cuff: 0.01,
            bad_position: 0.01,
            irregular_pulse: 0.01,
            no_value: 0.01,
            ..Self::faultless()
        }
    }
}

/// What was wrong with a measurement, in truth; the monitor may or may not look for it.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[expect(missing_docs, reason = "the names say it")]
pub enum Fault {
    BodyMovement,
    CuffTooLoose,
    IrregularPulse,
    ImproperPosition,
    /// It ended less than a minute after the reading before it.
    TooSoon,
    Talked,
    /// The monitor gave up.
    NoValue,
}

impl Fault {
    /// The bit of Measurement Status that says it.
    pub fn status(self) -> u16 {
        match self {
            Self::BodyMovement => 1,
            Self::CuffTooLoose => 1 << 1,
            Self::IrregularPulse => 1 << 2,
            Self::ImproperPosition => 1 << 5,
            Self::TooSoon | Self::Talked | Self::NoValue => 0,
        }
    }

    /// How much a reading is off by it, at most, systolic in mmHg: within the ranges that Kallioinen et al., J
    /// Hypertens 2017;35:421 give for the arm's height, and what AHA's material for patients says of talking. Movement
    /// and a loose cuff have no published figure there; theirs is a choice.
    fn disturbs(self) -> (i64, i64) {
        match self {
            Self::BodyMovement => (-12, 20),
            Self::CuffTooLoose => (0, 12),
            Self::ImproperPosition => (4, 15),
            Self::Talked => (10, 15),
            Self::TooSoon => (-3, 5),
            Self::IrregularPulse | Self::NoValue => (0, 0),
        }
    }
}

/// The part of the day.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug)]
#[expect(missing_docs, reason = "the names say it")]
pub enum Slot {
    Morning,
    Evening,
}

/// One day's pressure of one person, before the readings scatter about it.
#[derive(Clone, Copy, Debug)]
pub(super) struct Day {
    shift: [f64; 2],
}

impl Person {
    /// Begins a day.
    pub(super) fn day(&self, first: bool, random: &mut Random) -> Day {
        let Pressure {
            systolic,
            diastolic,
            day_to_day,
            first_day,
            ..
        } = self.pressure;
        // Both pressures rise and fall together, for the most part.
        let (shared, own) = (random.normal(0.0, 0.9), random.normal(0.0, 0.436));
        let of_day = [systolic * (shared + own), diastolic * (shared - own)];
        let [s, d] = of_day.map(|part| part * day_to_day);
        let [first_s, first_d] = first_day.map(|excess| if first { excess } else { 0.0 });
        Day {
            shift: [s + first_s, d + first_d],
        }
    }

    /// The true systolic and diastolic pressure and pulse at the moment of one reading.
    pub(super) fn at(&self, day: Day, slot: Slot, first: bool, random: &mut Random) -> [f64; 3] {
        let pressure = self.pressure;
        let half = if slot == Slot::Morning { 0.5 } else { -0.5 };
        let [shift_s, shift_d] = day.shift;
        let [over_s, over_d] = pressure.morning_over_evening;
        let [spread_s, spread_d] = pressure.within_session;
        let excess = if first { pressure.first_reading } else { 0.0 };
        let systolic = random.normal(pressure.systolic + shift_s + half * over_s + excess, spread_s);
        let diastolic = random.normal(pressure.diastolic + shift_d + half * over_d, spread_d);
        let pulse = random.normal(pressure.pulse, 4.0);
        // A pulse pressure below 15 is no person's who sits at a table.
        [systolic, diastolic.min(systolic - 15.0), pulse]
    }

    /// What goes wrong with one reading, apart from its haste.
    pub(super) fn faults(&self, random: &mut Random) -> Vec<Fault> {
        let habits = self.habits;
        [
            (Fault::BodyMovement, habits.moves),
            (Fault::CuffTooLoose, habits.loose_cuff),
            (Fault::IrregularPulse, habits.irregular_pulse),
            (Fault::ImproperPosition, habits.bad_position),
            (Fault::Talked, habits.talks),
            (Fault::NoValue, habits.no_value),
        ]
        .into_iter()
        .filter(|&(_, chance)| random.chance(chance))
        .map(|(fault, _)| fault)
        .collect()
    }
}

/// By how much the faults put a reading off, in mmHg.
pub(super) fn disturbance(faults: &[Fault], random: &mut Random) -> [f64; 2] {
    let off: i64 = faults
        .iter()
        .map(|fault| {
            let (least, most) = fault.disturbs();
            random.between(least, most)
        })
        .sum();
    let off = f64::from(i32::try_from(off).unwrap_or(0));
    [off, off / 2.0]
}
