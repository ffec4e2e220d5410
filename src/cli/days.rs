//! `--person`, `--from` and `--to`: which part of the household's readings a command is about.

use super::run::household;
use super::{Failure, failure};
use crate::household::{Household, PersonId, Zones};
use crate::journal::{Journal, Wanted};
use clap::Args;
use jiff::Timestamp;
use jiff::civil::Date;

/// Whose and which days.
#[derive(Args)]
pub(crate) struct Days {
    /// Only this person's
    #[arg(long, value_name = "ID")]
    pub(crate) person: Option<PersonId>,
    /// From this day on, by the household's clock
    #[arg(long, value_name = "DATE")]
    pub(crate) from: Option<Date>,
    /// Up to this day, which is included
    #[arg(long, value_name = "DATE")]
    pub(crate) to: Option<Date>,
}

impl Days {
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
            known(&household(journal)?, person)?;
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
    zones.instant(day.to_datetime(jiff::civil::Time::midnight()))
}

/// An error that names the people there are.
pub(crate) fn known(household: &Household, person: &PersonId) -> Result<(), Failure> {
    if household.people.contains_key(person) {
        return Ok(());
    }
    let there: Vec<&str> = household.people.keys().map(PersonId::as_str).collect();
    let there = if there.is_empty() {
        "nobody has been added yet; `quietcuff people add ID` does it".to_owned()
    } else {
        format!("there are: {}", there.join(", "))
    };
    Err(Failure::new(
        failure::USAGE,
        format!("nobody is called {person}; {there}"),
    ))
}
