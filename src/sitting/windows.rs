//! The parts of the day in which a person measures.

use crate::household::{Person, Window};
use jiff::ToSpan;
use jiff::civil::{Date, DateTime, Time, time};
use serde::Serialize;

/// The part of the day that a session belongs to.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, Serialize)]
#[serde(rename_all = "kebab-case")]
#[expect(missing_docs, reason = "the names say it")]
pub enum Slot {
    Morning,
    Evening,
    Other,
}

impl Slot {
    /// The name that the JSON output prints.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Morning => "morning",
            Self::Evening => "evening",
            Self::Other => "other",
        }
    }
}

/// The parts of the day in which one person measures. A window that ends before it begins runs over midnight,
/// for those who work at night.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Windows {
    morning: Window,
    evening: Window,
}

impl Windows {
    /// The usual morning window, 05:00 to 11:59, after Juhanoja et al., Hypertension 2017;69:599, who took
    /// 05:00 to 12:00 as morning.
    pub const MORNING: Window = Window {
        from: time(5, 0, 0, 0),
        to: time(11, 59, 0, 0),
    };
    /// The usual evening window, 17:00 to 23:59 (own choice).
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

    /// The window that is open at this time, and when it opened; `None` where no window is open.
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

    /// The measuring day of this time: the day on which the window that is open opened, so that a night from
    /// evening to morning is one day. Outside the windows it is the day of the calendar.
    pub fn measuring_day(&self, civil: DateTime) -> Date {
        self.opened(civil)
            .map_or(civil.date(), |(_, opened)| opened.date())
    }

    /// A time of day that belongs to both windows, which would make it unclear to which session a reading
    /// belongs; `None` where the windows do not overlap.
    pub fn both_open_at(&self) -> Option<Time> {
        // Two stretches of a day overlap only where one of them begins.
        [self.morning.from, self.evening.from]
            .into_iter()
            .find(|at| holds(self.morning, *at) && holds(self.evening, *at))
    }

    /// The first and the last minute of each window.
    pub fn hours(&self) -> [(Slot, Time, Time); 2] {
        [
            (Slot::Morning, self.morning.from, self.morning.to),
            (Slot::Evening, self.evening.from, self.evening.to),
        ]
    }

    /// The moments at which the windows of a day open, by the household's clock.
    pub fn openings(&self, date: Date) -> [(Slot, DateTime); 2] {
        [
            (Slot::Morning, date.to_datetime(self.morning.from)),
            (Slot::Evening, date.to_datetime(self.evening.from)),
        ]
    }

    /// The windows of a day, by the household's clock: when each opens, and when it is over.
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

/// Whether a time is in a window. Both the first and the last minute belong to a window, as people read
/// "05:00 to 11:59".
fn holds(window: Window, at: Time) -> bool {
    let minute = |t: Time| (t.hour(), t.minute());
    let (from, to, at) = (minute(window.from), minute(window.to), minute(at));
    if from <= to {
        from <= at && at <= to
    } else {
        from <= at || at <= to
    }
}
