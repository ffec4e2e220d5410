//! `quietcuff period earlier`: the last period beside the earlier ones.

use super::super::days::one;
use super::super::failure::{self, Failure};
use super::super::output::json_line;
use super::super::place::Everywhere;
use super::super::rows::{Told, padded, widest};
use super::super::summary::{caution, paragraph};
use crate::export::report::words::{ends, n};
use crate::household::PersonId;
use crate::monitoring::patterns::Difference;
use crate::monitoring::patterns::medicine::changes_of;
use crate::monitoring::years::{Beside, Whose, beside};
use crate::words::Words;
use jiff::Timestamp;
use jiff::civil::Date;
use std::io::Write;

/// Prints the periods of a person, the first one first, each with how the last one differs from it.
pub(super) fn print(
    here: &Everywhere,
    person: Option<&PersonId>,
    (words, json): Told,
) -> Result<(), Failure> {
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
            print_row(&mut out, row, words)?;
        }
    }
    if !json {
        paragraph(&mut out, "", &words.say("earlier-say"))?;
        caution(&mut out, words)?;
    }
    Ok(out.flush()?)
}

fn print_row(out: &mut impl Write, row: &Beside, words: &Words) -> std::io::Result<()> {
    for day in &row.medicine_changed {
        writeln!(out, "    {}", changed_on(*day, words))?;
    }
    let what = match &row.average {
        Some(average) => {
            let of = [("n", n(average.n)), ("days", n(average.days))];
            let shown = words.decimal(&average.exact.shown());
            format!("{shown} mmHg {}", words.with("average-of", &of))
        }
        None => {
            let there = row.insufficient.as_ref();
            let there = there.map_or_else(|| words.say("sheet-none-counts"), |there| words.of(there));
            format!("{} ({there})", words.say("sheet-no-average"))
        }
    };
    writeln!(out, "{}  {}", words.days(row.from, row.to), row.protocol)?;
    paragraph(out, "  ", &what)?;
    if let Some(change) = row.last_minus_this {
        let values = [
            ("systolic", side(change.systolic, words).into()),
            ("diastolic", side(change.diastolic, words).into()),
        ];
        paragraph(out, "  ", &words.with("earlier-difference", &values))?;
    }
    let dates: Vec<String> = row.series.iter().map(|day| words.short_date(day.day)).collect();
    let wide = widest(&dates);
    for (day, date) in row.series.iter().zip(&dates) {
        if let Some((systolic, diastolic)) = day.systolic.zip(day.diastolic) {
            let mean = words.decimal(&format!("{systolic:.1}/{diastolic:.1}"));
            writeln!(out, "    {}  {mean:>11}  {:>3}", padded(date, wide), day.n)?;
        }
    }
    Ok(())
}

/// That a medicine was changed on this day.
pub(super) fn changed_on(day: Date, words: &Words) -> String {
    let values = [
        ("what", words.say("key-medicine").into()),
        ("day", words.date_with_year(day).into()),
    ];
    words.with("beside-on", &values)
}

/// A difference with its interval.
pub(super) fn side(of: Difference, words: &Words) -> String {
    let [low, high] = of.interval_95.map(|end| words.decimal(&format!("{end:+.1}")));
    let by = words.decimal(&format!("{:+.1}", of.by));
    format!("{by} ({})", ends(words, &low, &high))
}
