//! Days, weeks and months as points: the mean of each part, and from where to where its readings lie.
//!
//! For pictures of more days than single readings can be seen in. No part is an average by a protocol, and none is
//! compared with anything.

use super::average::ExactMean;
use super::taken::Taken;
use crate::household::Posed;
use crate::reading::Pressure;
use jiff::ToSpan;
use jiff::civil::Date;
use std::collections::BTreeMap;

/// More days than these are drawn as weeks, and more than [`WEEKS_MAX_DAYS`] as months: points nearer to each other
/// than their own width cannot be told apart on a telephone. Own choice.
const DAYS_MAX: usize = 62;
const WEEKS_MAX_DAYS: usize = 400;
/// A week or a month is a full point with readings on so many days: the fewest from which the guidelines take an
/// average (three days, ESC 2024; AHA/AMA 2020).
const FULL_DAYS: usize = 3;

/// How long a part is.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
#[expect(missing_docs, reason = "the names say it")]
pub enum Every {
    Day,
    Week,
    Month,
}

impl Every {
    /// The parts in which so many days are drawn.
    pub const fn for_days(days: usize) -> Self {
        if days <= DAYS_MAX {
            Self::Day
        } else if days <= WEEKS_MAX_DAYS {
            Self::Week
        } else {
            Self::Month
        }
    }

    /// The name in the catalogue and in an address.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Day => "day",
            Self::Week => "week",
            Self::Month => "month",
        }
    }

    /// The first day of the part in which a day is. Weeks begin on Monday (ISO 8601).
    pub fn first(self, day: Date) -> Date {
        match self {
            Self::Day => day,
            Self::Week => {
                let since = i64::from(day.weekday().to_monday_zero_offset());
                day.checked_sub(since.days()).unwrap_or(day)
            }
            Self::Month => day.first_of_month(),
        }
    }

    /// The last day of the part that begins so.
    pub fn last(self, first: Date) -> Date {
        match self {
            Self::Day => first,
            Self::Week => first.checked_add(6.days()).unwrap_or(Date::MAX),
            Self::Month => first.last_of_month(),
        }
    }
}

/// One part with readings.
#[derive(Clone, Debug)]
pub struct SpreadPart {
    /// Its first day.
    pub from: Date,
    /// The mean of its readings.
    pub mean: ExactMean,
    /// The lowest and the highest systolic pressure.
    pub systolic: [Pressure; 2],
    /// The lowest and the highest diastolic pressure.
    pub diastolic: [Pressure; 2],
    /// On how many days somebody measured.
    pub days: usize,
    /// The last of these days.
    last: Date,
}

impl SpreadPart {
    /// Whether it rests on as many days as an average asks for; a day rests on itself.
    pub const fn full(&self, every: Every) -> bool {
        matches!(every, Every::Day) || self.days >= FULL_DAYS
    }
}

/// The parts with seated readings that count, the first one first. The readings stand in order of their days.
pub fn parts<'a>(taken: impl IntoIterator<Item = &'a Taken>, every: Every) -> Vec<SpreadPart> {
    let mut parts: BTreeMap<Date, SpreadPart> = BTreeMap::new();
    for taken in taken.into_iter().filter(|taken| taken.posed == Posed::Seated) {
        let Some(values) = taken.counted() else { continue };
        let from = every.first(taken.day);
        let part = parts.entry(from).or_insert_with(|| SpreadPart {
            from,
            mean: ExactMean::default(),
            systolic: [values.systolic; 2],
            diastolic: [values.diastolic; 2],
            days: 0,
            last: Date::MIN,
        });
        part.mean.add(values);
        for (ends, value) in [
            (&mut part.systolic, values.systolic),
            (&mut part.diastolic, values.diastolic),
        ] {
            *ends = [ends[0].min(value), ends[1].max(value)];
        }
        if part.last != taken.day {
            part.last = taken.day;
            part.days += 1;
        }
    }
    parts.into_values().collect()
}
