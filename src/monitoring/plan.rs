//! Which periods a person has: those that were stated, and what to show where none was.
//!
//! Periods of one person do not overlap, so that a reading belongs to one average and not to two. A period
//! stated again with the same first day replaces the earlier one: that is how a mistake is mended without
//! deleting it.

use super::period::last_day;
use super::protocol::PERIOD_DAYS_MAX;
use super::protocols::{Protocols, UnknownProtocol};
use super::taken::Taken;
use crate::household::{PersonId, Statement};
use jiff::ToSpan;
use jiff::civil::Date;

/// A period as it was planned.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Plan {
    /// The protocol's name.
    pub protocol: String,
    /// The first day of the period.
    pub from: Date,
    /// How many days.
    pub days: u16,
}

/// A period that cannot be planned.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum PlanError {
    /// No such protocol.
    #[error(transparent)]
    Protocol(#[from] UnknownProtocol),
    /// No days, or too many.
    #[error("a period of {0} days cannot be planned: give 1 to {PERIOD_DAYS_MAX} days")]
    Days(u16),
    /// It would end after the last day that the calendar has.
    #[error("a period that begins on {0} would end after the calendar does: give an earlier first day")]
    Calendar(Date),
    /// It overlaps another one.
    #[error(
        "{from} to {to} overlaps the {other} period from {other_from} to {other_to}: begin on {} or later, or state \
         the period of {other_from} anew with other days",
        other_to.tomorrow().unwrap_or(*other_to)
    )]
    Overlaps {
        /// First day of the new one.
        from: Date,
        /// Last day of the new one.
        to: Date,
        /// Protocol of the one that is there.
        other: String,
        /// Its first day.
        other_from: Date,
        /// Its last day.
        other_to: Date,
    },
}

impl Plan {
    /// A plan under a known protocol, for the protocol's own number of days unless another is given.
    pub fn new(
        protocols: &Protocols,
        protocol: &str,
        from: Date,
        days: Option<u16>,
    ) -> Result<Self, PlanError> {
        let days = days.unwrap_or(protocols.get(protocol)?.days.value);
        if days == 0 || days > PERIOD_DAYS_MAX {
            return Err(PlanError::Days(days));
        }
        last_day(from, days).ok_or(PlanError::Calendar(from))?;
        Ok(Self {
            protocol: protocol.to_owned(),
            from,
            days,
        })
    }

    /// The last day of the period, which still belongs to it; the calendar's last day where the period would
    /// end after that.
    pub fn to(&self) -> Date {
        last_day(self.from, self.days).unwrap_or(Date::MAX)
    }

    /// Whether a day is in it.
    pub fn covers(&self, day: Date) -> bool {
        (self.from..=self.to()).contains(&day)
    }

    /// Whether it may be stated beside the others.
    pub fn fits(&self, others: &[Self]) -> Result<(), PlanError> {
        let in_the_way = others
            .iter()
            .find(|other| other.from != self.from && other.from <= self.to() && self.from <= other.to());
        match in_the_way {
            None => Ok(()),
            Some(other) => Err(PlanError::Overlaps {
                from: self.from,
                to: self.to(),
                other: other.protocol.clone(),
                other_from: other.from,
                other_to: other.to(),
            }),
        }
    }
}

/// The stated periods of a person, first day first. A statement that does not hold any more (its protocol is
/// gone, it overlaps an earlier one) is left out and reported beside.
pub fn plans<'a>(
    person: &PersonId,
    protocols: &Protocols,
    statements: impl IntoIterator<Item = &'a Statement>,
) -> (Vec<Plan>, Vec<PlanError>) {
    let (mut plans, mut errors): (Vec<Plan>, Vec<PlanError>) = (Vec::new(), Vec::new());
    for statement in statements {
        let Statement::Period {
            person: whose,
            protocol,
            from,
            days,
        } = statement
        else {
            continue;
        };
        if whose != person {
            continue;
        }
        let plan =
            Plan::new(protocols, protocol, *from, *days).and_then(|plan| plan.fits(&plans).map(|()| plan));
        match plan {
            Ok(plan) => {
                plans.retain(|other| other.from != plan.from);
                plans.push(plan);
            }
            Err(error) => errors.push(error),
        }
    }
    plans.sort_by_key(|plan| plan.from);
    (plans, errors)
}

/// What to show when nobody said which period: the last stated one that has begun by then; else the days that
/// end with the last reading. `None` with neither.
pub fn latest(plans: &[Plan], protocol: &str, days: u16, readings: &[Taken], today: Date) -> Option<Plan> {
    if let Some(plan) = plans.iter().rev().find(|plan| plan.from <= today) {
        return Some(plan.clone());
    }
    let last = readings
        .iter()
        .map(|taken| taken.day)
        .filter(|day| *day <= today)
        .max()?;
    let from = last.checked_sub((i64::from(days) - 1).days()).ok()?;
    Some(Plan {
        protocol: protocol.to_owned(),
        from,
        days,
    })
}

/// For a period over days without readings: the nearest days before and after it that have some.
pub fn nearest_days(readings: &[Taken], from: Date, to: Date) -> (Option<Date>, Option<Date>) {
    let days = || readings.iter().map(|taken| taken.day);
    (
        days().filter(|day| *day < from).max(),
        days().filter(|day| *day > to).min(),
    )
}
