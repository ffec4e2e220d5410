//! The answer: the average, what it is held against, what cannot wait, and the averages beside it.

use super::super::Report;
use super::super::document::{Block, Cell, Set, Table, columns};
use super::super::words::{after_one_another, limits, n, range, sentence};
use super::alerts;
use crate::monitoring::average::Average;
use crate::monitoring::period::Mean;
use crate::monitoring::titles::{of_protocol, of_source};
use crate::sitting::Slot;

/// Puts it first.
pub(super) fn put(report: &Report<'_>, blocks: &mut Vec<Block>) {
    let (period, words) = (report.period, report.words);
    match &period.average {
        Some(average) => {
            let shown = words.decimal(&average.exact.shown());
            blocks.push(Block::Large(format!("{shown} mmHg")));
            blocks.push(Block::Paragraph(average_of(report, average)));
        }
        None => {
            blocks.push(Block::Large(words.say("sheet-no-average")));
            let there = match &period.insufficient {
                Some(there) => words.of(there),
                None => words.say("sheet-none-counts"),
            };
            blocks.push(Block::Paragraph(
                words.with("sheet-no-average-say", &[("there", there.into())]),
            ));
        }
    }
    if let Some(changed) = report.changed {
        blocks.push(Block::Notice(words.of(changed)));
    }
    held_against(report, blocks);
    alerts::cannot_wait(report, blocks);
    if period.average.is_some() {
        blocks.push(averages(report));
    }
}

/// What the average is made of, and how far it may be off.
fn average_of(report: &Report<'_>, average: &Average) -> String {
    let words = report.words;
    let pulse = average.pulse_rate.map(|pulse| format!("{pulse:.0}"));
    let of = words.with(
        "sheet-average",
        &[
            ("n", n(average.n)),
            ("days", n(average.days)),
            ("pulse", pulse.as_deref().unwrap_or("none").into()),
        ],
    );
    let interval = match average.interval_95 {
        Some(interval) => words.with(
            "sheet-interval",
            &[
                ("systolic", range(words, interval.systolic).into()),
                ("diastolic", range(words, interval.diastolic).into()),
            ],
        ),
        None => words.of(&average.no_interval()),
    };
    let balance = &report.period.balance;
    let uneven = if balance.even && balance.mean_of_sittings.is_none() {
        String::new()
    } else {
        words.of(&balance.say)
    };
    after_one_another(&[of, interval, uneven])
}

fn held_against(report: &Report<'_>, blocks: &mut Vec<Block>) {
    let (period, words) = (report.period, report.words);
    if let Some(why) = &period.labels_off {
        let why = sentence(&words.of(why));
        blocks.push(Block::Paragraph(
            words.with("sheet-no-threshold", &[("why", why.into())]),
        ));
    }
    if let Some(target) = &period.target {
        blocks.push(Block::Paragraph(words.of(&target.say())));
    }
    let Some(threshold) = &period.threshold else {
        return;
    };
    let shown = limits(words, &threshold.limits);
    let mut said = vec![match period.at_or_above {
        Some(true) => {
            let which = |which: &&str| words.say(&format!("reached-{}", which.replace(' ', "-")));
            let which: Vec<String> = period.reached_by.iter().map(which).collect();
            let which = words.list(&which);
            words.with(
                "sheet-threshold-reached",
                &[("limits", shown.into()), ("which", which.into())],
            )
        }
        Some(false) => words.with("sheet-threshold-below", &[("limits", shown.into())]),
        None => words.with("sheet-threshold-would", &[("limits", shown.into())]),
    }];
    if let Some(average) = &period.average {
        let parts = [
            ("systolic", average.systolic, threshold.limits.systolic.mmhg()),
            ("diastolic", average.diastolic, threshold.limits.diastolic.mmhg()),
        ];
        for (name, exact, limit) in parts {
            // What is printed is rounded, what is compared is not.
            let printed = (exact * 10.0).round() / 10.0;
            if exact < limit && printed >= limit {
                let values = [
                    ("which", name.into()),
                    ("exact", words.decimal(&format!("{exact:.4}")).into()),
                    ("limit", words.decimal(&limit.to_string()).into()),
                ];
                said.push(words.with("sheet-threshold-exact", &values));
            }
        }
    }
    let from = of_source(words, &threshold.source);
    said.push(words.with("sheet-threshold-source", &[("source", sentence(&from).into())]));
    if let Some(band) = &period.band {
        let name = of_protocol(words, &band.name);
        let source = of_source(words, &band.source);
        let values = [("name", name.into()), ("source", source.into())];
        said.push(words.with("sheet-band", &values));
    }
    if let Some(more) = period.go_on_to_days {
        said.push(words.with("sheet-go-on", &[("days", n(more.into()))]));
    }
    blocks.push(Block::Paragraph(after_one_another(&said)));
}

fn averages(report: &Report<'_>) -> Block {
    let (period, words) = (report.period, report.words);
    let drop = report.protocol.drop_first_day.value;
    let mut rows = Vec::new();
    let mut whole = |name: &str, average: &Option<Average>| {
        let Some(average) = average else { return };
        let (systolic, diastolic) = average.interval_95.map_or_else(Default::default, |interval| {
            (range(words, interval.systolic), range(words, interval.diastolic))
        });
        let pulse = average.pulse_rate.map(|pulse| format!("{pulse:.1}"));
        rows.push(vec![
            words.say(name).into(),
            words.decimal(&average.exact.shown()).into(),
            systolic.into(),
            diastolic.into(),
            words.decimal(&pulse.unwrap_or_default()).into(),
            average.n.to_string().into(),
            average.days.to_string().into(),
        ]);
    };
    let (all, without) = if drop {
        ("row-all-days", "row-protocol-without-first")
    } else {
        ("row-protocol-all-days", "row-without-first")
    };
    let pair = [
        (all, &period.average_of_all_days),
        (without, &period.average_without_first_day),
    ];
    let ordered = if drop { [pair[1], pair[0]] } else { pair };
    for (name, average) in ordered {
        whole(name, average);
    }
    whole("row-mornings", &report.average_of(Slot::Morning));
    whole("row-evenings", &report.average_of(Slot::Evening));
    rows.extend(of_mean(report, "row-first-mornings", &period.first_morning));
    for kind in &period.other_kinds {
        let mut row: Vec<Cell> = vec![
            words.say(&format!("row-{}", kind.kind)).into(),
            words.decimal(&kind.exact.shown()).into(),
        ];
        row.extend(["", "", ""].map(Cell::from));
        row.extend([kind.n, kind.days].map(|n| Cell::from(n.to_string())));
        rows.push(row);
    }
    let names = [
        ("average", Set::Words),
        ("column-values", Set::Numbers),
        ("column-systolic-95", Set::Numbers),
        ("column-diastolic-95", Set::Numbers),
        ("column-pulse", Set::Numbers),
        ("column-readings", Set::Numbers),
        ("column-days", Set::Numbers),
    ];
    Block::Table(Table {
        caption: words.say("table-averages"),
        columns: columns(words, &names),
        rows,
    })
}

fn of_mean(report: &Report<'_>, name: &str, mean: &Mean) -> Option<Vec<Cell>> {
    mean.systolic?;
    let words = report.words;
    let mut row: Vec<Cell> = vec![words.say(name).into(), words.decimal(&mean.exact.shown()).into()];
    row.extend(["", "", ""].map(Cell::from));
    row.push(mean.n.to_string().into());
    row.push("".into());
    Some(row)
}
