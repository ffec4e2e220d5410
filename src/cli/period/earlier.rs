//! `quietcuff period earlier`: the last period beside the earlier ones.

use super::super::days::one;
use super::super::failure::{self, Failure};
use super::super::output::json_line;
use super::super::place::Everywhere;
use super::super::summary::{CAUTION, paragraph};
use crate::household::PersonId;
use crate::monitoring::patterns::Difference;
use crate::monitoring::patterns::medicine::changes_of;
use crate::monitoring::years::{Beside, Whose, beside};
use jiff::Timestamp;
use std::io::Write;

/// Prints the periods of a person, the first one first, each with how the last one differs from it.
pub(super) fn print(here: &Everywhere, person: Option<&PersonId>, json: bool) -> Result<(), Failure> {
    let mut journal = here.read_journal()?;
    let stated = here.stated(&journal)?;
    let id = one(&stated.household, person)?;
    let history = journal.history(&id, &stated)?;
    let whose = Whose {
        id: &id,
        person: &stated.person(&id).cloned().unwrap_or_default(),
        taken: &history.taken,
        changes: &changes_of(&id, &stated.notes, &stated.zones),
    };
    let today = stated.zones.civil(Timestamp::now()).date();
    let rows = beside(&whose, stated.plans(&id), &stated.protocols, today)
        .map_err(|error| Failure::new(failure::USAGE, error.to_string()))?;
    if rows.is_empty() {
        return Err(Failure::new(
            failure::DATA,
            format!("no period of {id} has begun; `quietcuff period start` begins one"),
        ));
    }
    let mut out = std::io::BufWriter::new(std::io::stdout().lock());
    for row in &rows {
        if json {
            json_line(&mut out, row)?;
        } else {
            print_row(&mut out, row)?;
        }
    }
    if !json {
        paragraph(
            &mut out,
            "",
            "Behind each earlier average: the last one minus it, with its 95 % interval. Of twenty such intervals one \
             leaves out the truth by chance alone.",
        )?;
        paragraph(&mut out, "", CAUTION)?;
    }
    Ok(out.flush()?)
}

fn print_row(out: &mut impl Write, row: &Beside) -> std::io::Result<()> {
    for day in &row.medicine_changed {
        writeln!(out, "    medicine changed on {day}")?;
    }
    let what = match &row.average {
        Some(average) => format!("{:>12} n {:<4}", average.exact.shown(), average.n),
        None => format!(
            "no average: {}",
            row.insufficient.as_deref().unwrap_or("nothing counts")
        ),
    };
    let change = row.last_minus_this.map_or_else(String::new, |change| {
        format!("  {}, {}", side(change.systolic), side(change.diastolic))
    });
    writeln!(
        out,
        "{} to {}  {:<12}  {what}{change}",
        row.from, row.to, row.protocol
    )?;
    for day in &row.series {
        if let Some((systolic, diastolic)) = day.systolic.zip(day.diastolic) {
            writeln!(out, "    {}  {systolic:.1}/{diastolic:.1} n {}", day.day, day.n)?;
        }
    }
    Ok(())
}

/// A difference with its interval.
pub(super) fn side(of: Difference) -> String {
    let [low, high] = of.interval_95;
    format!("{:+.1} ({low:+.1} to {high:+.1})", of.by)
}
