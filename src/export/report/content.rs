//! What the report says, in the order in which it is read.

mod alerts;
mod beside;
mod headline;
mod long;
mod readings;
mod record;

use super::document::{Block, ReportDocument};
use super::words::{after_one_another, capital, n, range, reason};
use super::{Report, plot};
use crate::household::Arm;
use crate::monitoring::carried_over::ASSUMED;
use crate::monitoring::listening::ListeningTrouble;
use crate::monitoring::titles::of_protocol;
use crate::sitting::Slot;
use crate::words::one_line;
use std::collections::BTreeMap;

/// Stands at the foot of every sheet behind what the shapes mean: by which program it was made.
const MADE_BY: &str = concat!("quietcuff ", env!("CARGO_PKG_VERSION"), ".");

/// The report as blocks.
pub(super) fn document(report: &Report<'_>) -> ReportDocument {
    let (period, words) = (report.period, report.words);
    let title = words.with("sheet-title", &[("who", report.label().into())]);
    let mut blocks = vec![Block::Title(title.clone())];
    blocks.push(Block::Paragraph(whose(report)));
    headline::put(report, &mut blocks);
    let (plot, stems_only) = plot::over_time(report, plot::WIDTH);
    let (narrow, _) = plot::over_time(report, plot::NARROW);
    blocks.push(Block::Figure(plot, narrow, below_plot(report, stems_only)));
    blocks.push(Block::Paragraph(complete(report)));
    blocks.push(Block::Paragraph(beside::noted(report)));
    let measured_with = beside::measured_with(report);
    if !measured_with.is_empty() {
        blocks.push(Block::Small(measured_with));
    }
    let made = words.exact_moment(report.zones.civil(report.made_at));
    let unreviewed = if words.language().is_reviewed() {
        String::new()
    } else {
        words.say("unreviewed")
    };
    blocks.push(Block::Small(after_one_another(&[
        words.with("sheet-caution", &[("moment", made.into())]),
        nobody_listens(report),
    ])));
    blocks.push(Block::Sheet);

    detail(report, &mut blocks);
    ReportDocument {
        words,
        title,
        running: format!("{}, {}", who(report), words.days(period.from, period.to)),
        key: format!("{} {MADE_BY}", words.say("shapes")),
        unreviewed,
        blocks,
    }
}

/// What stands behind the first sheet.
fn detail(report: &Report<'_>, blocks: &mut Vec<Block>) {
    let (period, words) = (report.period, report.words);
    part(blocks, words.say("sheet-mornings-and-evenings"), |blocks| {
        blocks.push(Block::Pair(
            plot::panel(report, Slot::Morning, &period.morning),
            plot::panel(report, Slot::Evening, &period.evening),
        ));
        if period.average.is_some() {
            blocks.push(Block::Small(words.say("sheet-heavy-ticks")));
        }
    });
    if let Some(every) = report.every() {
        part(
            blocks,
            words.say(&format!("sheet-every-{}", every.name())),
            |blocks| {
                blocks.push(long::table(report, every));
            },
        );
    }
    part(blocks, words.say("sheet-sure"), |blocks| sure(report, blocks));
    part(blocks, words.say("sheet-to-look-at"), |blocks| {
        alerts::looked_at(report, blocks);
    });
    part(blocks, words.say("sheet-complete"), |blocks| {
        blocks.push(readings::sessions(report));
    });
    part(blocks, words.say("sheet-vary"), |blocks| {
        readings::vary(report, blocks);
    });
    part(blocks, words.say("sheet-reasons"), |blocks| {
        readings::reasons(report, blocks);
    });
    part(blocks, words.say("sheet-readings"), |blocks| {
        blocks.push(if report.is_listed() {
            readings::all_readings(report)
        } else {
            long::not_listed(report)
        });
    });
    part(blocks, words.say("sheet-noted"), |blocks| {
        record::noted(report, blocks);
    });
    part(blocks, words.say("sheet-monitor"), |blocks| {
        record::monitors(report, blocks);
    });
    part(blocks, words.say("sheet-clocks"), |blocks| {
        record::clocks(report, blocks);
    });
    part(blocks, words.say("sheet-protocol"), |blocks| {
        record::protocol(report, blocks);
    });
    part(blocks, words.say("sheet-to-bear-in-mind"), |blocks| {
        record::cautions(report, blocks);
    });
}

/// A heading with what follows it; neither where nothing follows.
fn part(blocks: &mut Vec<Block>, heading: String, fill: impl FnOnce(&mut Vec<Block>)) {
    blocks.push(Block::Heading(heading));
    let before = blocks.len();
    fill(blocks);
    if blocks.len() == before {
        blocks.pop();
    }
}

/// Label and id.
fn who(report: &Report<'_>) -> String {
    let (label, id) = (report.label(), report.period.person.as_str());
    let apart = format!("({id})");
    if label == id || label.ends_with(&apart) {
        label
    } else {
        format!("{label} {apart}")
    }
}

fn whose(report: &Report<'_>) -> String {
    let (period, words) = (report.period, report.words);
    let mut about = vec![who(report)];
    if let Some(person) = report.person() {
        let born = match (person.born_on, person.born) {
            (Some(day), _) => Some(words.date_with_year(day)),
            (None, year) => year.map(|year| year.to_string()),
        };
        about.extend(born.map(|born| words.with("sheet-born", &[("born", born.into())])));
        let number = person.record_number.as_deref();
        about.extend(number.map(|number| words.with("sheet-record-number", &[("number", number.into())])));
        match person.arm {
            Some(Arm::Left) => about.push(words.say("sheet-left-arm")),
            Some(Arm::Right) => about.push(words.say("sheet-right-arm")),
            None => {}
        }
    }
    words.with(
        "sheet-whose",
        &[
            ("about", about.join(", ").into()),
            ("days", capital(&words.days(period.from, period.to)).into()),
            ("title", of_protocol(words, &report.protocol.title).into()),
            ("name", period.protocol.as_str().into()),
        ],
    )
}

/// What kept readings from arriving when the sheet was made: what is missing here may be on the monitor.
fn nobody_listens(report: &Report<'_>) -> String {
    let words = report.words;
    let say = |trouble: &ListeningTrouble| {
        let name = format!("trouble-{}", trouble.what.name());
        let what = words.with(&name, &[("detail", one_line(trouble.what.detail()).into())]);
        match trouble.since {
            Some(since) => {
                let since = words.exact_moment(report.zones.civil(since));
                let values = [("what", what.into()), ("since", since.into())];
                words.with("sheet-trouble", &values)
            }
            None => words.with("sheet-trouble-since-unknown", &[("what", what.into())]),
        }
    };
    report.troubles.iter().map(say).collect::<Vec<_>>().join(" ")
}

fn below_plot(report: &Report<'_>, stems_only: bool) -> String {
    if let Some(every) = report.every() {
        return long::below_plot(report, every);
    }
    let words = report.words;
    let mut said = vec![words.say(if stems_only {
        "below-plot-stems"
    } else {
        "below-plot-days"
    })];
    if report.period.threshold.is_some() {
        said.push(words.say("below-plot-dashed"));
    }
    let left_out = plot::left_out(report);
    if left_out > 0 {
        said.push(words.with("below-plot-left-out", &[("n", n(left_out))]));
    }
    after_one_another(&said)
}

fn complete(report: &Report<'_>) -> String {
    let (period, words) = (report.period, report.words);
    let counts = &period.readings;
    let named = |reasons: &BTreeMap<&'static str, usize>| {
        let each: Vec<String> = reasons
            .iter()
            .map(|(name, n)| format!("{} {n}", reason(words, name)))
            .collect();
        if each.is_empty() {
            String::new()
        } else {
            format!(" ({})", each.join(", "))
        }
    };
    let mut said = vec![words.with(
        "sheet-completeness",
        &[
            ("sessions", n(period.sessions)),
            ("expected", n(period.sessions_expected)),
            ("n", n(counts.counted + counts.set_aside)),
            ("counted", n(counts.counted)),
            ("marked", n(counts.marked)),
            ("marked-why", named(&counts.marked_reasons).into()),
            ("aside", n(counts.set_aside)),
            ("aside-why", named(&counts.set_aside_reasons).into()),
        ],
    )];
    said.extend(
        period
            .outside_sessions
            .as_ref()
            .map(|outside| words.of(&outside.say())),
    );
    if report.nobodys > 0 {
        said.push(words.with("sheet-nobodys", &[("n", report.nobodys.into())]));
    }
    after_one_another(&said)
}

fn sure(report: &Report<'_>, blocks: &mut Vec<Block>) {
    let words = report.words;
    let Some(average) = &report.period.average else {
        return;
    };
    if let Some(chance) = &report.period.chance_at_or_above {
        blocks.push(Block::Paragraph(words.of(&chance.say)));
    }
    if average.interval_95.is_some() {
        blocks.push(Block::Paragraph(words.say("sheet-interval-means")));
    }
    if let Some(widened) = report.widened.filter(|_| average.interval_95.is_some()) {
        blocks.push(Block::Paragraph(words.with(
            "sheet-carried-over",
            &[
                ("assumed", words.decimal(&ASSUMED.to_string()).into()),
                ("systolic", range(words, widened.systolic).into()),
                ("diastolic", range(words, widened.diastolic).into()),
            ],
        )));
    }
}
