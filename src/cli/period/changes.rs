//! `quietcuff period changes`: before and after each change of medicine, over years.

use super::super::days::one;
use super::super::failure::Failure;
use super::super::output::json_line;
use super::super::place::Everywhere;
use super::super::rows::{Told, padded, widest};
use super::super::summary::{caution, paragraph, paragraph_behind};
use super::earlier::{changed_on, side};
use crate::export::report::words::n;
use crate::household::PersonId;
use crate::monitoring::average::Average;
use crate::monitoring::patterns::medicine::{Around, MEDICINE_DAYS, changes_of, each_change};
use crate::monitoring::plan::Plan;
use crate::monitoring::protocols::DEFAULT;
use crate::monitoring::stated::Stated;
use crate::words::Words;
use jiff::civil::Date;
use std::io::Write;

/// Prints each change of medicine that was noted, the first one first, with the averages before and after it.
pub(super) fn print(
    here: &Everywhere,
    person: Option<&PersonId>,
    (words, json): Told,
) -> Result<(), Failure> {
    let mut journal = here.read_journal()?;
    let stated = here.stated(&journal)?;
    let id = one(&stated.household, person)?;
    let history = journal.history(&id, &stated)?;
    let changes = changes_of(&id, &stated.notes, &stated.zones);
    let mut out = std::io::BufWriter::new(std::io::stdout().lock());
    if changes.is_empty() && !json {
        let values = [
            ("who", stated.label(&id).into()),
            ("command", "`quietcuff note add medicine-changed`".into()),
        ];
        eprintln!("quietcuff: {}", words.with("nothing-changed", &values));
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
            print_one(&mut out, &around, words)?;
        }
    }
    if !json {
        let days = [("days", MEDICINE_DAYS.into())];
        paragraph(&mut out, "", &words.with("changes-say", &days))?;
        caution(&mut out, words)?;
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

fn print_one(out: &mut impl Write, around: &Around, words: &Words) -> std::io::Result<()> {
    let shown = |of: &Option<Average>| match of {
        Some(average) => {
            let of = [("n", n(average.n)), ("days", n(average.days))];
            let mean = words.decimal(&average.exact.shown());
            format!("{mean} mmHg {}", words.with("average-of", &of))
        }
        None => words.say("changes-no-reading"),
    };
    let settled = [("day", words.date_with_year(around.settled).into())];
    let (last, says) = match (&around.after_minus_before, around.lacks()) {
        (Some(change), _) => {
            let values = [
                ("systolic", side(change.systolic, words).into()),
                ("diastolic", side(change.diastolic, words).into()),
            ];
            let says = words.with("changes-by", &values);
            ("changes-difference", says)
        }
        (None, Some(lacks)) => ("changes-not-compared", words.of(&lacks)),
        (None, None) => ("changes-not-compared", words.say("changes-same")),
    };
    let rows = [
        (words.say("changes-before"), shown(&around.before)),
        (words.with("changes-after", &settled), shown(&around.after)),
        (words.say(last), says),
    ];
    writeln!(out, "{}", changed_on(around.changed, words))?;
    let wide = widest(rows.iter().map(|(name, _)| name));
    for (name, says) in &rows {
        let first = format!("    {}  ", padded(name, wide));
        paragraph_behind(out, &first, &" ".repeat(wide + 6), says)?;
    }
    Ok(())
}
