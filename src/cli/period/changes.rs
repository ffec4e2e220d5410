//! `quietcuff period changes`: before and after each change of medicine, over years.

use super::super::days::one;
use super::super::failure::Failure;
use super::super::output::json_line;
use super::super::place::Everywhere;
use super::super::summary::{CAUTION, paragraph};
use super::earlier::side;
use crate::household::PersonId;
use crate::monitoring::average::Average;
use crate::monitoring::patterns::medicine::{Around, MEDICINE_DAYS, changes_of, each_change};
use crate::monitoring::plan::Plan;
use crate::monitoring::protocols::DEFAULT;
use crate::monitoring::stated::Stated;
use jiff::civil::Date;
use std::io::Write;

/// Prints each change of medicine that was noted, the first one first, with the averages before and after it.
pub(super) fn print(here: &Everywhere, person: Option<&PersonId>, json: bool) -> Result<(), Failure> {
    let mut journal = here.read_journal()?;
    let stated = here.stated(&journal)?;
    let id = one(&stated.household, person)?;
    let history = journal.history(&id, &stated)?;
    let changes = changes_of(&id, &stated.notes, &stated.zones);
    let mut out = std::io::BufWriter::new(std::io::stdout().lock());
    if changes.is_empty() && !json {
        eprintln!(
            "quietcuff: no change of medicine of {id} was noted; `quietcuff note add medicine-changed` notes one"
        );
        return Ok(());
    }
    let settling = |day: Date| {
        let protocol = stated.protocols.get(running(&stated, &id, day));
        protocol.map_or(0, |protocol| protocol.settling_days.value)
    };
    for around in each_change(&history.taken, &changes, settling) {
        if json {
            json_line(&mut out, &around)?;
        } else {
            print_one(&mut out, &around)?;
        }
    }
    if !json {
        let about = format!(
            "Before: up to {MEDICINE_DAYS} days. After: as many, once the protocol's waiting time is over; the days between \
             are settling and are left out, and no side reaches over another change. Behind them: after minus before, with \
             its 95 % interval. That one came after the other does not say that it came from it."
        );
        paragraph(&mut out, "", &about)?;
        paragraph(&mut out, "", CAUTION)?;
    }
    Ok(out.flush()?)
}

/// The protocol that a change falls into, or came after.
fn running<'a>(stated: &'a Stated, id: &PersonId, day: Date) -> &'a str {
    let begun = stated.plans(id).iter().filter(|plan| plan.from <= day);
    let own = stated.person(id).and_then(|person| person.protocol.as_deref());
    let named = begun
        .max_by_key(|plan| plan.from)
        .map(|plan: &Plan| plan.protocol.as_str());
    let known = named.or(own).filter(|name| stated.protocols.get(name).is_ok());
    known.unwrap_or(DEFAULT)
}

fn print_one(out: &mut impl Write, around: &Around) -> std::io::Result<()> {
    let shown = |of: &Option<Average>| match of {
        Some(average) => format!(
            "{} n {} on {} days",
            average.exact.shown(),
            average.n,
            average.days
        ),
        None => "no reading".to_owned(),
    };
    writeln!(out, "medicine changed on {}", around.changed)?;
    writeln!(out, "    before              {}", shown(&around.before))?;
    writeln!(out, "    from {}     {}", around.settled, shown(&around.after))?;
    match (&around.after_minus_before, around.lacks()) {
        (Some(change), _) => writeln!(
            out,
            "    after minus before  {}, {}",
            side(change.systolic),
            side(change.diastolic)
        ),
        (None, Some(lacks)) => writeln!(out, "    not compared        {lacks}"),
        (None, None) => writeln!(out, "    not compared        the days do not vary"),
    }
}
