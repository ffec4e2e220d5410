//! `quietcuff calendar`: the sessions of a period, for a calendar that rings.

use super::days::one;
use super::failure;
use super::failure::{Failure, Outcome};
use super::output::To;
use super::place::Everywhere;
use crate::export::calendar::calendar;
use crate::household::PersonId;
use crate::monitoring::reminders::{Known, Rooms};
use crate::roles::reminders::household_of;
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
    let stated = here.stated(&journal)?;
    let person = one(&stated.household, args.person.as_ref())?;
    let alerts = here.config()?.alerts;
    let now = Timestamp::now();
    let today = stated.zones.civil(now).date();
    let plans = stated.plans(&person);
    let plan = plans
        .iter()
        .find(|plan| plan.to() >= today)
        .or(plans.last())
        .ok_or_else(|| {
            Failure::new(
                failure::DATA,
                format!(
                    "no period of {person} was begun; `quietcuff period start --person {person}` begins one"
                ),
            )
        })?;
    let known = Known {
        household: &stated.household,
        zones: &stated.zones,
        protocols: &stated.protocols,
        people: &[],
        readings: &[],
        monitors: &[],
        deaf: None,
        stuck: None,
        backed_up: None,
        rooms: Rooms::default(),
        silent: alerts.silent(),
    };
    let words = alerts.language.words();
    let file = calendar(
        &known,
        household_of(&journal)?,
        &person,
        plan,
        alerts.quiet_hours,
        (words, args.terse),
        now,
    );
    args.to
        .beside(&journal)?
        .write(|out| Ok(out.write_all(file.as_bytes())?))?;
    Ok(ExitCode::SUCCESS)
}
