//! The invented household in time: whole days up to one that was named, or up to now, with a session at that moment.

use crate::cli::failure::{Failure, internal};
use crate::edge::system_zone;
use crate::household::{self, Statement, Window};
use crate::monitoring::protocols::DEFAULT;
use crate::radio::simulated::{Household, Lived};
use jiff::civil::{Date, Time};
use jiff::tz::TimeZone;
use jiff::{SignedDuration, Timestamp};

/// The last of two sittings ends before midnight.
const LATEST: Time = Time::constant(23, 15, 0, 0);
/// Before that hour of the day it is a morning's.
const NOON: i8 = 12;
/// The clock of a life that ends on a day which was named: the same on every machine.
const ZONE: &str = "Europe/Oslo";

/// A household in time: its clock, its days, and which moment has come.
pub(super) struct Life {
    pub(super) simulated: Household,
    pub(super) statements: Vec<Statement>,
    pub(super) zone: TimeZone,
    pub(super) zone_name: String,
    pub(super) first: Date,
    /// Nothing that comes later has happened yet.
    now: Timestamp,
}

impl Life {
    /// A life that ends on a day, whole.
    pub(super) fn until(last: Date, days: u16) -> Result<Self, Failure> {
        let zone = household::time_zone(ZONE).map_err(internal)?;
        let first = first_of(last, days);
        let simulated = Household::demonstration(first, zone.clone());
        Ok(Self {
            statements: stated(&simulated, days),
            simulated,
            zone,
            zone_name: ZONE.to_owned(),
            first,
            now: Timestamp::MAX,
        })
    }

    /// A life in which a session of both begins at that moment, by this machine's clock, and which has come to `now`.
    pub(super) fn around(begins: Timestamp, now: Timestamp, days: u16) -> Result<Self, Failure> {
        let zone_name = system_zone();
        let zone = household::time_zone(&zone_name).map_err(internal)?;
        let begins = zone.to_datetime(begins);
        let at = begins.time().min(LATEST);
        let first = first_of(begins.date(), days);
        let mut simulated = Household::demonstration(first, zone.clone());
        let people = simulated.shared.iter_mut().flat_map(|shared| &mut shared.people);
        for (place, person) in (0..).zip(people) {
            let at = at.saturating_add(SignedDuration::from_mins(20 * place));
            // Nearly to the minute, or the last session would not have come yet, or be over.
            person.habits.give_or_take = 2.0;
            if at.hour() < NOON {
                person.habits.morning = at;
            } else {
                person.habits.evening = at;
            }
        }
        let mut statements = stated(&simulated, days);
        for statement in &mut statements {
            if let Statement::Person { details, .. } = statement {
                (details.morning, details.evening) = windows(at);
            }
        }
        Ok(Self {
            simulated,
            statements,
            zone,
            zone_name,
            first,
            now,
        })
    }

    /// What has come by now.
    pub(super) fn live(&self, seed: u64, days: u16) -> Lived {
        let mut lived = self.simulated.clone().live(seed, days);
        lived.frames.retain(|frame| frame.received_at <= self.now);
        lived.truth.retain(|truth| truth.end <= self.now);
        lived
    }
}

fn first_of(last: Date, days: u16) -> Date {
    let before = i64::from(days) - 1;
    last.checked_sub(jiff::Span::new().days(before)).unwrap_or(last)
}

fn stated(simulated: &Household, days: u16) -> Vec<Statement> {
    let mut statements = simulated.statements(DEFAULT);
    for statement in &mut statements {
        if let Statement::Period { days: planned, .. } = statement {
            *planned = Some(days);
        }
    }
    statements
}

/// The usual hours, or longer ones where the session lies outside them.
fn windows(at: Time) -> (Option<Window>, Option<Window>) {
    let hour = |hour: i8| Time::new(hour.clamp(0, 23), 0, 0, 0).unwrap_or(Time::MIN);
    let last = |hour: i8| Time::new(hour.clamp(0, 23), 59, 0, 0).unwrap_or(Time::MAX);
    let window = |from, to| Some(Window { from, to });
    if at.hour() < NOON {
        (
            window(hour(5.min(at.hour() - 2)), last(11.max(at.hour() + 2))),
            None,
        )
    } else {
        (None, window(hour(NOON.max(17.min(at.hour() - 2))), last(23)))
    }
}

/// When the first thing came.
pub(super) fn begun(lived: &Lived) -> Timestamp {
    let first = lived.frames.first();
    first.map_or(Timestamp::UNIX_EPOCH, |frame| frame.received_at)
}
