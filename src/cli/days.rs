//! `--person`, `--from`, `--to` and `--at`: which part of the household's readings a command is about, and when.

use super::failure;
use super::failure::Failure;
use crate::household::{Household, Moments, PersonId, Zones};
use crate::journal::{Journal, Wanted};
use crate::monitoring::protocol::did_you_mean;
use crate::words::Words;
use clap::Args;
use jiff::Timestamp;
use jiff::civil::{Date, DateTime, Time};

/// Whose and which days.
#[derive(Args)]
pub(crate) struct WhichDays {
    /// Only this person's
    #[arg(long, value_name = "ID")]
    pub(crate) person: Option<PersonId>,
    /// From this day on, by the household's clock
    #[arg(long, value_name = "DATE", value_parser = day)]
    pub(crate) from: Option<Date>,
    /// Up to this day, which is included
    #[arg(long, value_name = "DATE", value_parser = day)]
    pub(crate) to: Option<Date>,
}

/// What a list is of.
#[derive(Clone, Copy)]
pub(crate) enum Listed {
    Readings,
    Sessions,
}

/// A day without a time: with one it would be read as the day alone.
pub(crate) fn day(text: &str) -> Result<Date, &'static str> {
    let day = (!text.contains(':')).then(|| text.parse().ok()).flatten();
    day.ok_or("that is no day of the calendar; write one such as 2026-03-01")
}

impl WhichDays {
    /// Whether anything was narrowed down.
    pub(crate) fn any(&self) -> bool {
        self.person.is_some() || self.from.is_some() || self.to.is_some()
    }

    /// Says that a list is empty, and what would bring something.
    pub(crate) fn say_that_there_is_nothing(
        &self,
        journal: &Journal,
        what: Listed,
        words: &Words,
    ) -> Result<(), Failure> {
        let (all, _) = journal.readings_and_set_aside()?;
        let what = match what {
            Listed::Readings => "readings",
            Listed::Sessions => "sessions",
        };
        let what = ("what", what.into());
        let brings = if all > 0 {
            let options = ("options", "--person, --from, --to".into());
            words.with("nothing-such", &[what, options])
        } else if journal.household()?.monitors.is_empty() {
            let command = ("command", "`quietcuff monitors add ADDRESS`".into());
            words.with("nothing-without-monitor", &[what, command])
        } else {
            let listens = ("listens", "`quietcuff run`".into());
            let says = ("says", "`quietcuff status`".into());
            words.with("nothing-yet", &[what, listens, says])
        };
        eprintln!("quietcuff: {brings}");
        Ok(())
    }

    /// The same for the journal; an unknown person is an error, not an empty list.
    pub(crate) fn wanted(&self, journal: &Journal, zones: &Zones) -> Result<Wanted, Failure> {
        if let (Some(from), Some(to)) = (self.from, self.to)
            && from > to
        {
            return Err(Failure::new(
                failure::USAGE,
                format!("--from {from} is after --to {to}"),
            ));
        }
        if let Some(person) = &self.person {
            known(&journal.household()?, person)?;
        }
        Ok(Wanted {
            person: self.person.clone(),
            from: self.from.and_then(|day| midnight(zones, day)),
            to: self
                .to
                .and_then(|day| day.tomorrow().ok())
                .and_then(|day| midnight(zones, day)),
            id: None,
        })
    }
}

/// When a day of the household begins.
pub(crate) fn midnight(zones: &Zones, day: Date) -> Option<Timestamp> {
    zones.instant(day.to_datetime(Time::midnight()))
}

/// An error that names the people there are.
pub(crate) fn known(household: &Household, person: &PersonId) -> Result<(), Failure> {
    if household.people.contains_key(person) {
        return Ok(());
    }
    let known: Vec<&str> = household.people.keys().map(PersonId::as_str).collect();
    let there = if known.is_empty() {
        NOBODY.to_owned()
    } else {
        format!("there are: {}", known.join(", "))
    };
    Err(Failure::new(
        failure::USAGE,
        format!(
            "nobody is called {person}{}; {there}",
            did_you_mean(person.as_str(), &known)
        ),
    ))
}

const NOBODY: &str = "nobody has been added yet; `quietcuff people add ID` does it";

/// The person who was named, else the only one there is.
pub(crate) fn one(household: &Household, named: Option<&PersonId>) -> Result<PersonId, Failure> {
    if let Some(person) = named {
        known(household, person)?;
        return Ok(person.clone());
    }
    let mut there = household
        .people
        .iter()
        .filter(|(_, (_, removed))| !removed)
        .map(|(id, _)| id);
    match (there.next(), there.next()) {
        (Some(only), None) => Ok(only.clone()),
        (None, _) => Err(Failure::new(failure::USAGE, NOBODY)),
        (Some(first), Some(second)) => {
            let all: Vec<&str> = [first, second]
                .into_iter()
                .chain(there)
                .map(PersonId::as_str)
                .collect();
            Err(Failure::new(
                failure::USAGE,
                format!("say who with `--person ID`; there are: {}", all.join(", ")),
            ))
        }
    }
}

/// A moment as people write it: with an offset from UTC, or by the household's clock, of today where no day is given.
pub(crate) fn moment(text: &str, zones: &Zones, now: Timestamp) -> Result<Timestamp, Failure> {
    let wrong = |why: String| Failure::new(failure::USAGE, why);
    if let Ok(exact) = text.parse::<Timestamp>() {
        return Ok(exact);
    }
    let civil = match (text.parse::<DateTime>(), text.parse::<Time>()) {
        // A date alone would be taken for its midnight.
        (Ok(civil), _) if text.contains(':') => civil,
        (_, Ok(time)) if text.contains(':') => zones.civil(now).date().to_datetime(time),
        _ => {
            return Err(wrong(format!(
                "{text:?} is not a moment: give 07:05 for today, 2026-03-01T07:05, or with an offset \
                 2026-03-01T07:05:00+01:00"
            )));
        }
    };
    match zones.moments(civil) {
        Some(Moments::Once(at)) => Ok(at),
        Some(Moments::Twice(first, second)) => Err(wrong(format!(
            "the clock showed {civil} twice; write {} or {}",
            shown(first, zones),
            shown(second, zones)
        ))),
        Some(Moments::Never(_)) => Err(wrong(format!(
            "the clock never showed {civil}, because it was put forward over it"
        ))),
        None => Err(wrong(format!("{civil} is beyond the calendar"))),
    }
}

/// A moment that has to have come already.
pub(crate) fn past(text: &str, zones: &Zones, now: Timestamp) -> Result<Timestamp, Failure> {
    let at = moment(text, zones, now)?;
    if at > now {
        return Err(Failure::new(
            failure::USAGE,
            format!(
                "{} has not come yet; it is {}",
                shown(at, zones),
                shown(now.round(jiff::Unit::Second).unwrap_or(now), zones)
            ),
        ));
    }
    Ok(at)
}

/// A moment by the household's clock, as contracts print it.
pub(crate) fn shown(at: Timestamp, zones: &Zones) -> String {
    at.display_with_offset(zones.offset(at)).to_string()
}
