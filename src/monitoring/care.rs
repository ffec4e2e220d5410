//! Care of the monitor: how much it was used, and when it wants checking, new batteries or a successor.
//!
//! A function of what is on record about the monitor, its notes and the date of today.

use crate::household::{Monitor, MonitorId, Note, StatedNote};
use crate::words::said::Said;
use jiff::civil::Date;
use jiff::tz::TimeZone;
use jiff::{Span, ToSpan};

/// Years between two checks.
const CHECK_YEARS: i8 = 2;
/// Years after which to plan for another monitor, and after which to replace it.
const LIFE_YEARS: (i8, i8) = (3, 5);
/// Battery level in percent at which to change batteries (own choice): a weak one ends a measurement half
/// way.
pub const BATTERY_LOW_PERCENT: u8 = 20;

const CHECKING: &str = "common practice: every 2 years, sooner on signs; Taiwan 2020 says every 12 months";
const LIFE: &str = "common practice: 3 to 5 years; ESC 2024: over 4 years may be inaccurate";

/// Why a monitor wants checking before its time.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub enum Sign {
    /// It fell; from a note.
    Dropped,
    /// It lay in heat, cold or damp.
    BadlyStored,
    /// Many people used it in one day.
    ManyPeople,
    /// It disagrees with clinic readings.
    DisagreesWithClinic,
    /// Its readings have begun to vary widely.
    Scatters,
}

impl Sign {
    const fn because(self) -> &'static str {
        match self {
            Self::Dropped => "because-dropped",
            Self::BadlyStored => "because-badly-stored",
            Self::ManyPeople => "because-many-people",
            Self::DisagreesWithClinic => "because-disagrees",
            Self::Scatters => "because-scatters",
        }
    }
}

/// What the readings and frames tell about a monitor.
#[derive(Clone, PartialEq, Eq, Default, Debug)]
pub struct Usage {
    /// How many measurements came from it, with or without a value.
    pub measurements: u64,
    /// The date of the first.
    pub first_used: Option<Date>,
    /// Its last battery level in percent, and when it said so.
    pub battery: Option<(u8, Date)>,
    /// What was seen in its readings, and since when.
    pub signs: Vec<(Sign, Date)>,
}

/// What to do for a monitor.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub enum Task {
    /// Have it checked against a reference.
    Check,
    /// Change its batteries.
    ChangeBatteries,
    /// Think about its successor.
    PlanReplacement,
    /// Replace the monitor, which has been in use for as long as one should be.
    Replace,
}

impl Task {
    /// As listings print it.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Check => "check",
            Self::ChangeBatteries => "change-batteries",
            Self::PlanReplacement => "plan-replacement",
            Self::Replace => "replace",
        }
    }

    /// The beginning of a sentence for people, such as `a check is`; the word `due` follows it.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Check => "a check is",
            Self::ChangeBatteries => "new batteries are",
            Self::PlanReplacement => "planning its successor is",
            Self::Replace => "its successor is",
        }
    }
}

/// Something that is or will be due.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Due {
    /// The task that is or will be due.
    pub task: Task,
    /// From this day on.
    pub on: Date,
    /// The reason in words for people, without a full stop, such as `last checked on 2025-03-01`.
    pub because: Said,
    /// Who says so.
    pub source: &'static str,
}

/// The state of a monitor on one day.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Care {
    /// How many measurements came from it.
    pub measurements: u64,
    /// Since when its age counts: when it was bought, else first used.
    pub since: Option<Date>,
    /// When it was last checked.
    pub checked: Option<Date>,
    /// When its batteries were last changed.
    pub batteries_changed: Option<Date>,
    /// How often it fell since it was last checked.
    pub drops: usize,
    /// Its battery level in percent, unless the batteries were changed since.
    pub battery: Option<u8>,
    /// What is due, and will be, by date.
    pub due: Vec<Due>,
}

impl Care {
    /// What is due on that day already.
    pub fn due_on(&self, today: Date) -> impl Iterator<Item = &Due> {
        self.due.iter().filter(move |due| due.on <= today)
    }
}

/// The state of a monitor today. Notes on other monitors, and from after today, are passed over.
pub fn care(
    id: &MonitorId,
    monitor: &Monitor,
    usage: &Usage,
    notes: &[StatedNote],
    zone: &TimeZone,
    today: Date,
) -> Care {
    let dates = |wanted: fn(&Note) -> bool| {
        notes
            .iter()
            .filter(move |note| note.monitor.as_ref() == Some(id) && wanted(&note.what))
            .map(|note| zone.to_datetime(note.at).date())
            .filter(move |&date| date <= today)
    };
    let since = monitor.bought.or(usage.first_used);
    let checked = dates(|note| matches!(note, Note::MonitorChecked { .. })).max();
    let batteries_changed = dates(|note| matches!(note, Note::BatteriesChanged)).max();
    // A check on the day of the fall came after it: one has a dropped monitor checked, not the other way
    // round.
    let open = |date: &Date| checked.is_none_or(|checked| *date > checked);
    let drops: Vec<Date> = dates(|note| matches!(note, Note::MonitorDropped))
        .filter(open)
        .collect();
    let battery = usage
        .battery
        .filter(|&(_, said)| batteries_changed.is_none_or(|changed| said > changed));

    let sign = usage
        .signs
        .iter()
        .copied()
        .chain(drops.iter().map(|&date| (Sign::Dropped, date)))
        .filter(|(_, date)| open(date) && *date <= today)
        .min_by_key(|&(sign, date)| (date, sign));
    let mut due = vec![check(checked, since, sign, today)];
    if let Some(since) = since {
        let (plan, replace) = (after(since, LIFE_YEARS.0), after(since, LIFE_YEARS.1));
        let (task, on, years) = if today < replace {
            (Task::PlanReplacement, plan, LIFE_YEARS.0)
        } else {
            (Task::Replace, replace, LIFE_YEARS.1)
        };
        due.push(Due {
            task,
            on,
            because: Said::of(
                "because-years",
                [
                    ("years", u16::from(years.unsigned_abs()).into()),
                    ("since", since.into()),
                ],
            ),
            source: LIFE,
        });
    }
    if let Some((level, said)) = battery
        && level <= BATTERY_LOW_PERCENT
    {
        due.push(Due {
            task: Task::ChangeBatteries,
            on: said,
            because: Said::of(
                "because-battery",
                [("level", u16::from(level).into()), ("date", said.into())],
            ),
            source: "own choice: at 20 % and below",
        });
    }
    due.sort_by_key(|due| due.on);
    Care {
        measurements: usage.measurements,
        since,
        checked,
        batteries_changed,
        drops: drops.len(),
        battery: battery.map(|(level, _)| level),
        due,
    }
}

fn check(checked: Option<Date>, since: Option<Date>, sign: Option<(Sign, Date)>, today: Date) -> Due {
    let regular = match (checked, since) {
        (Some(date), _) => (
            after(date, CHECK_YEARS),
            Said::of("because-checked", [("date", date.into())]),
        ),
        (None, Some(date)) => (
            after(date, CHECK_YEARS),
            Said::of("because-never-checked", [("date", date.into())]),
        ),
        (None, None) => (today, Said::of("because-unknown", [])),
    };
    let (on, because) = match sign {
        Some((sign, date)) if date < regular.0 => (date, Said::of(sign.because(), [("date", date.into())])),
        _ => regular,
    };
    Due {
        task: Task::Check,
        on,
        because,
        source: CHECKING,
    }
}

/// 29 February becomes the 28th where the year has none.
fn after(date: Date, years: i8) -> Date {
    let span: Span = years.years();
    date.checked_add(span).unwrap_or(Date::MAX)
}
