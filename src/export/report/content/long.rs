//! What a long period says in place of single readings.

use super::super::Report;
use super::super::document::{Block, Cell, Set, Table, columns};
use super::super::words::{ends, n};
use crate::monitoring::spread::{Every, SpreadPart, parts};
use crate::reading::Pressure;

/// The points of the plot as numbers.
pub(super) fn table(report: &Report<'_>, every: Every) -> Block {
    let words = report.words;
    let parts = parts(report.readings.iter().map(|(_, taken)| *taken), every);
    let name = |part: &SpreadPart| match every {
        Every::Day => words.short_day(part.from),
        Every::Week => words.with("sheet-week-of", &[("day", words.short_date(part.from).into())]),
        Every::Month => words.month(part.from),
    };
    let both = |[low, high]: [Pressure; 2]| {
        ends(
            words,
            &format!("{:.0}", low.mmhg()),
            &format!("{:.0}", high.mmhg()),
        )
    };
    let row = |part: &SpreadPart| -> Vec<Cell> {
        vec![
            name(part).into(),
            words.decimal(&part.mean.shown()).into(),
            both(part.systolic).into(),
            both(part.diastolic).into(),
            part.mean.n().to_string().into(),
            part.days.to_string().into(),
        ]
    };
    let names = [
        ("column-days", Set::Whole),
        ("column-mean", Set::Numbers),
        ("column-systolic", Set::Numbers),
        ("column-diastolic", Set::Numbers),
        ("column-readings", Set::Numbers),
        ("column-on-days", Set::Numbers),
    ];
    Block::Table(Table {
        caption: words.with("table-every", &[("every", every.name().into())]),
        columns: columns(words, &names),
        rows: parts.iter().map(row).collect(),
    })
}

pub(super) fn below_plot(report: &Report<'_>, every: Every) -> String {
    let (aside, words) = (report.period.readings.set_aside, report.words);
    let mut said = vec![words.with("below-plot-every", &[("every", every.name().into())])];
    if aside > 0 {
        said.push(words.with("below-plot-aside", &[("n", n(aside))]));
    }
    if report.period.threshold.is_some() {
        said.push(words.say("below-plot-dashed-across"));
    }
    said.join(" ")
}

/// How many readings are not listed, and how to have them.
pub(super) fn not_listed(report: &Report<'_>) -> Block {
    let all = n(report.readings.len());
    Block::Paragraph(report.words.with("sheet-not-listed", &[("n", all)]))
}
