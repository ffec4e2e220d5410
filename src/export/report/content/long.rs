//! What a long period says in place of single readings.

use super::super::Report;
use super::super::document::{Block, Cell, Table, columns};
use super::super::words::{count, short_day};
use crate::monitoring::spread::{Every, Part, parts};
use crate::reading::Pressure;

pub(super) const fn heading(every: Every) -> &'static str {
    match every {
        Every::Day => "Day by day",
        Every::Week => "Week by week",
        Every::Month => "Month by month",
    }
}

/// The points of the plot as numbers.
pub(super) fn table(report: &Report<'_>, every: Every) -> Block {
    let parts = parts(report.readings.iter().map(|(_, taken)| *taken), every);
    let name = |part: &Part| match every {
        Every::Day => short_day(part.from),
        Every::Week => format!("Week of {}", part.from.strftime("%-d %b %Y")),
        Every::Month => part.from.strftime("%B %Y").to_string(),
    };
    let ends = |[low, high]: [Pressure; 2]| format!("{:.0} to {:.0}", low.mmhg(), high.mmhg());
    let row = |part: &Part| -> Vec<Cell> {
        vec![
            name(part).into(),
            part.mean.shown().into(),
            ends(part.systolic).into(),
            ends(part.diastolic).into(),
            part.mean.n().to_string().into(),
            part.days.to_string().into(),
        ]
    };
    Block::Table(Table {
        caption: format!(
            "Readings of each {} that count, in mmHg: their mean, and from the lowest to the highest. None of these means is \
             an average by the protocol.",
            every.name()
        ),
        columns: columns(&[
            "Days=",
            "Mean#",
            "Systolic#",
            "Diastolic#",
            "Readings#",
            "On days#",
        ]),
        rows: parts.iter().map(row).collect(),
    })
}

pub(super) fn below_plot(report: &Report<'_>, every: Every) -> String {
    let aside = report.period.readings.set_aside;
    let mut said = format!(
        "Each point is the mean of a {}, its line goes from the lowest to the highest reading that counts.",
        every.name()
    );
    if aside > 0 {
        said += &format!(
            " {} set aside: counted below, not drawn.",
            count(aside, "reading")
        );
    }
    if report.period.threshold.is_some() {
        said += " Dashed from left to right: the threshold.";
    }
    said
}

/// How many readings are not listed, and how to have them.
pub(super) fn not_listed(report: &Report<'_>) -> Block {
    Block::Paragraph(format!(
        "{} of so many days are not listed one by one; how many were marked or set aside, and why, stands above. To have \
         them all: quietcuff report --readings.",
        count(report.readings.len(), "reading")
    ))
}
