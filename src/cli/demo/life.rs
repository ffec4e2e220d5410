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
pub(super) const LATEST: Time = Time::constant(23, 15, 0, 0);
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

    /// A life in which a session of both begins at that moment, by this machine's clock, or at `latest` where that is
    /// earlier. The household's hours are such that it is due from `due` on, or from midnight where that lies between.
    pub(super) fn around(
        (due, begins): (Timestamp, Timestamp),
        latest: Time,
        days: u16,
    ) -> Result<Self, Failure> {
        let zone_name = system_zone();
        let zone = household::time_zone(&zone_name).map_err(internal)?;
        let (due, begins) = (zone.to_datetime(due), zone.to_datetime(begins));
        let due = if due.date() == begins.date() {
            due.time()
        } else {
            Time::MIN
        };
        let at = begins.time().min(latest);
        let first = first_of(begins.date(), days);
        let mut simulated = Household::demonstration(first, zone.clone());
        let people = simulated.shared.iter_mut().flat_map(|shared| &mut shared.people);
        for (place, person) in (0..).zip(people) {
            let at = at.saturating_add(SignedDuration::from_mins(20 * place));
            // Nearly to the minute, or the last session would not have come yet, or be over.
            person.habits.give_or_take = 2.0;
            if due.hour() < NOON {
                person.habits.morning = at;
            } else {
                person.habits.evening = at;
            }
        }
        let mut statements = stated(&simulated, days);
        for statement in &mut statements {
            if let Statement::Person { details, .. } = statement {
                (details.morning, details.evening) = windows(due);
            }
        }
        Ok(Self {
            simulated,
            statements,
            zone,
            zone_name,
            first,
            now: Timestamp::MAX,
        })
    }

    /// The same, which has come to that moment.
    pub(super) fn come_to(self, now: Timestamp) -> Self {
        Self { now, ..self }
    }

    /// The same, which has come to the beginning of the hours in which `due` lies: nobody has measured in them yet.
    pub(super) fn come_to_the_hours_of(self, due: Timestamp) -> Self {
        let due = self.zone.to_datetime(due);
        let (morning, evening) = windows(due.time());
        let from = morning.or(evening).map_or(Time::MIN, |window| window.from);
        let opens = self.zone.to_timestamp(due.date().to_datetime(from));
        self.come_to(opens.unwrap_or(Timestamp::MIN))
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

/// The usual hours, or longer ones where what is due then lies outside them.
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
