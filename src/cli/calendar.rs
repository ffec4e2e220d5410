//! `quietcuff calendar`: the sessions of a period, for a calendar that rings.

use super::days::one;
use super::failure;
use super::failure::{Failure, Outcome};
use super::output::To;
use super::place::{Everywhere, protocols};
use crate::export::calendar::calendar;
use crate::home::alerts::look::plans_of;
use crate::household::PersonId;
use crate::monitoring::reminders::Known;
use clap::Args;
use jiff::Timestamp;
use std::process::ExitCode;

/// Whose sessions, and where to.
#[derive(Args)]
pub(crate) struct CalendarArgs {
    /// Whose [default: the only person there is]
    #[arg(long, value_name = "ID")]
    person: Option<PersonId>,
    /// Write the person's id instead of their name
    #[arg(long)]
    terse: bool,
    #[command(flatten)]
    to: To,
}

pub(crate) fn run(here: &Everywhere, args: &CalendarArgs) -> Outcome {
    let journal = here.read_journal()?;
    let zones = here.zones(&journal)?;
    let household = journal.household()?;
    let protocols = protocols(&household)?;
    let person = one(&household, args.person.as_ref())?;
    let alerts = here.config()?.alerts;
    let now = Timestamp::now();
    let today = zones.civil(now).date();
    let plans = plans_of(&person, &protocols, &journal.statements()?);
    let plan = plans
        .iter()
        .map(|(plan, _)| plan)
        .find(|plan| plan.to() >= today)
        .or(plans.last().map(|(plan, _)| plan))
        .ok_or_else(|| {
            Failure::new(
                failure::DATA,
                format!(
                    "no period of {person} was begun; `quietcuff period start --person {person}` begins one"
                ),
            )
        })?;
    let known = Known {
        household: &household,
        zones: &zones,
        protocols: &protocols,
        people: &[],
        readings: &[],
        monitors: &[],
        deaf: None,
        silent_days: alerts.monitor_silent_days,
    };
    let words = alerts.language.words();
    let file = calendar(&known, &person, plan, alerts.quiet_hours, words, args.terse, now);
    args.to
        .beside(&journal)?
        .write(|out| Ok(out.write_all(file.as_bytes())?))?;
    Ok(ExitCode::SUCCESS)
}
