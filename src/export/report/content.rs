//! What the report says, in the order in which it is read.

mod beside;
mod long;
mod readings;
mod record;

use super::document::{Block, Cell, Document, Table, columns};
use super::words::{and, capital, count, days, moment, plain, range, sentence};
use super::{Report, plot};
use crate::household::Arm;
use crate::monitoring::average::Average;
use crate::monitoring::carried_over::ASSUMED;
use crate::monitoring::escalation::{Alert, End, Level};
use crate::monitoring::listening::Trouble;
use crate::monitoring::period::Mean;
use crate::reading::{Pressure, pressures};
use crate::sitting::Slot;
use crate::technique::JudgedReading;
use std::collections::BTreeMap;

/// Alerts on the first sheet; how many more there are is said.
const ALERTS_MAX: usize = 3;

/// Diastolic pressures below which readings are counted for the clinic, in mmHg (NHS; the second is our own
/// choice).
const LOW_DIASTOLIC: i32 = 60;
const VERY_LOW_DIASTOLIC: i32 = 50;

/// Stands at the foot of every sheet: what the shapes mean,
const KEY: &str =
    "Filled: counted. Open: counted, with something to know. Struck through: set aside, not averaged.";
/// and by which program it was made.
const MADE_BY: &str = concat!("quietcuff ", env!("CARGO_PKG_VERSION"), ".");

/// Stands below every average.
const CAUTION: &str = "This is an average, not a diagnosis. Symptoms come first, whatever the numbers say. Do not start, \
                       stop or change a medicine because of it.";

/// The report as blocks.
pub(super) fn document(report: &Report<'_>) -> Document {
    let period = report.period;
    let title = format!("Home blood pressure of {}", report.label());
    let mut blocks = vec![Block::Title(title.clone())];
    blocks.push(Block::Paragraph(whose(report)));
    headline(report, &mut blocks);
    let (plot, stems_only) = plot::over_time(report, plot::WIDTH);
    let (narrow, _) = plot::over_time(report, plot::NARROW);
    blocks.push(Block::Figure(plot, narrow, below_plot(report, stems_only)));
    blocks.push(Block::Paragraph(complete(report)));
    blocks.push(Block::Paragraph(beside::noted(report)));
    let measured_with = beside::measured_with(report);
    if !measured_with.is_empty() {
        blocks.push(Block::Small(measured_with));
    }
    blocks.push(Block::Small(format!(
        "{CAUTION} A program that is off raises no alarm. Made on {}.{}",
        moment(report.zones.civil(report.made_at)),
        nobody_listens(report)
    )));
    blocks.push(Block::Sheet);

    detail(report, &mut blocks);
    Document {
        title,
        running: format!("{}, {}", who(report), days(period.from, period.to)),
        key: format!("{KEY} {MADE_BY}"),
        blocks,
    }
}

/// What stands behind the first sheet.
fn detail(report: &Report<'_>, blocks: &mut Vec<Block>) {
    let period = report.period;
    part(blocks, "Mornings and evenings", |blocks| {
        blocks.push(Block::Pair(
            plot::panel(report, Slot::Morning, &period.morning),
            plot::panel(report, Slot::Evening, &period.evening),
        ));
        if period.average.is_some() {
            blocks.push(Block::Small(
                "The heavy ticks at the right are the means.".to_owned(),
            ));
        }
    });
    if let Some(every) = report.every() {
        part(blocks, long::heading(every), |blocks| {
            blocks.push(long::table(report, every));
        });
    }
    part(blocks, "How sure the average is", |blocks| {
        sure(report, blocks);
    });
    part(blocks, "For the clinician to look at", |blocks| {
        looked_at(report, blocks);
    });
    part(blocks, "How complete the period was", |blocks| {
        blocks.push(readings::sessions(report));
    });
    part(blocks, "How the readings vary", |blocks| {
        readings::vary(report, blocks);
    });
    part(blocks, "Why readings were marked or set aside", |blocks| {
        readings::reasons(report, blocks);
    });
    part(blocks, "All readings", |blocks| {
        blocks.push(if report.is_listed() {
            readings::all_readings(report)
        } else {
            long::not_listed(report)
        });
    });
    part(blocks, "Noted in these days", |blocks| {
        record::noted(report, blocks);
    });
    part(blocks, "The monitor", |blocks| {
        record::monitors(report, blocks);
    });
    part(blocks, "Clocks", |blocks| record::clocks(report, blocks));
    part(blocks, "The protocol", |blocks| {
        record::protocol(report.protocol, blocks);
    });
    part(blocks, "To bear in mind", |blocks| {
        record::cautions(report, blocks);
    });
}

/// A heading with what follows it; neither where nothing follows.
fn part(blocks: &mut Vec<Block>, heading: &str, fill: impl FnOnce(&mut Vec<Block>)) {
    blocks.push(Block::Heading(heading.to_owned()));
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
    let period = report.period;
    let mut about = who(report);
    if let Some(person) = report.person() {
        match (person.born_on, person.born) {
            (Some(day), _) => about += &format!(", born {}", super::words::day(day)),
            (None, Some(year)) => about += &format!(", born {year}"),
            (None, None) => {}
        }
        if let Some(number) = &person.record_number {
            about += &format!(", record number {number}");
        }
        match person.arm {
            Some(Arm::Left) => about += ", left arm",
            Some(Arm::Right) => about += ", right arm",
            None => {}
        }
    }
    format!(
        "{about}. {}. Protocol: {} ({}).",
        capital(&days(period.from, period.to)),
        report.protocol.title,
        period.protocol
    )
}

/// The answer: the average, what it is held against, what cannot wait, and the averages beside it.
fn headline(report: &Report<'_>, blocks: &mut Vec<Block>) {
    let period = report.period;
    match &period.average {
        Some(average) => {
            blocks.push(Block::Large(format!("{} mmHg", average.exact.shown())));
            let pulse = average
                .pulse_rate
                .map(|pulse| format!(", pulse {pulse:.0} a minute"))
                .unwrap_or_default();
            let interval = average.interval_95.map_or_else(
                || format!(" {}", average.no_interval()),
                |interval| {
                    format!(
                        " The 95 % interval is {} systolic and {} diastolic.",
                        range(interval.systolic),
                        range(interval.diastolic)
                    )
                },
            );
            let balance = &period.balance;
            let uneven = if balance.even && balance.mean_of_sittings.is_none() {
                String::new()
            } else {
                format!(" {}", balance.say)
            };
            blocks.push(Block::Paragraph(format!(
                "Average of {} on {}{pulse}.{interval}{uneven}",
                count(average.n, "reading"),
                count(average.days, "day")
            )));
        }
        None => {
            blocks.push(Block::Large("No average".to_owned()));
            blocks.push(Block::Paragraph(format!(
                "Not enough readings for an average ({}). No average is shown, because a number that is shown is a \
                 number that is used.",
                period.insufficient.as_deref().unwrap_or("none counts")
            )));
        }
    }
    if let Some(changed) = report.changed {
        blocks.push(Block::Notice(changed.to_owned()));
    }
    held_against(report, blocks);
    cannot_wait(report, blocks);
    if period.average.is_some() {
        blocks.push(averages(report));
    }
}

fn held_against(report: &Report<'_>, blocks: &mut Vec<Block>) {
    let period = report.period;
    if let Some(why) = &period.labels_off {
        blocks.push(Block::Paragraph(format!(
            "No threshold is applied: {}",
            sentence(why)
        )));
    }
    if let Some(target) = &period.target {
        blocks.push(Block::Paragraph(target.say()));
    }
    let Some(threshold) = &period.threshold else {
        return;
    };
    let limits = format!(
        "{}/{} mmHg",
        threshold.limits.systolic.mmhg(),
        threshold.limits.diastolic.mmhg()
    );
    let mut said = match period.at_or_above {
        Some(true) => format!(
            "At or above the threshold of {limits} in {}. Only a clinician can say what it means.",
            and(&period.reached_by)
        ),
        Some(false) => format!("Below the threshold of {limits}."),
        None => format!("The threshold would be {limits}."),
    };
    if let Some(average) = &period.average {
        let parts = [
            ("systolic", average.systolic, threshold.limits.systolic.mmhg()),
            ("diastolic", average.diastolic, threshold.limits.diastolic.mmhg()),
        ];
        for (name, exact, limit) in parts {
            // What is printed is rounded, what is compared is not.
            let printed = (exact * 10.0).round() / 10.0;
            if exact < limit && printed >= limit {
                said += &format!(" The exact {name} average is {exact:.4}, below {limit}.");
            }
        }
    }
    said += &format!(" Threshold: {}", sentence(&threshold.source));
    if let Some(band) = &period.band {
        said += &format!(" The guideline's own word: {} ({}).", band.name, band.source);
    }
    if let Some(more) = period.go_on_to_days {
        said += &format!(" So close to the threshold the protocol goes on to {more} days.");
    }
    blocks.push(Block::Paragraph(said));
}

/// What kept readings from arriving when the sheet was made: what is missing here may be on the monitor.
fn nobody_listens(report: &Report<'_>) -> String {
    let say = |trouble: &Trouble| {
        let since = match trouble.since {
            Some(since) => format!("since {}", moment(report.zones.civil(since))),
            None => "nobody knows since when".to_owned(),
        };
        format!(" When it was made, {}, {since}.", trouble.what.in_words())
    };
    report.troubles.iter().map(say).collect()
}

fn cannot_wait(report: &Report<'_>, blocks: &mut Vec<Block>) {
    let urgent: Vec<_> = report
        .alerts
        .iter()
        .filter(|alert| alert.level > Level::Note)
        .collect();
    for alert in urgent.iter().take(ALERTS_MAX) {
        blocks.push(Block::Notice(format!(
            "{}. {} What the household was told stands under \u{201c}For the clinician to look at\u{201d}.",
            raised(report, alert),
            became(report, alert)
        )));
    }
    if urgent.len() > ALERTS_MAX {
        blocks.push(Block::Notice(format!(
            "{} more of this kind, all under \u{201c}For the clinician to look at\u{201d}.",
            urgent.len() - ALERTS_MAX
        )));
    }
}

/// What was raised, when, and by which numbers.
fn raised(report: &Report<'_>, alert: &Alert) -> String {
    let of = |judged: &&JudgedReading| Some(&judged.reading.id) == alert.reading.as_ref();
    let mut readings = report.readings.iter().map(|(judged, _)| *judged);
    let numbers = readings
        .find(of)
        .map(|judged| {
            let reading = &judged.reading;
            format!(
                " ({}/{} {})",
                reading.systolic,
                reading.diastolic,
                reading.unit.name()
            )
        })
        .unwrap_or_default();
    format!(
        "{} on {}{numbers}",
        capital(&plain(alert.about.name())),
        moment(report.zones.civil(alert.at))
    )
}

/// What became of it: who answered and when, or that nobody did.
fn became(report: &Report<'_>, alert: &Alert) -> String {
    let shown = |at| moment(report.zones.civil(at));
    match alert.end {
        Some((at, End::Answered)) => {
            let Some(answer) = report.household.answers.get(&alert.key()) else {
                return String::new();
            };
            let by = answer
                .by
                .as_deref()
                .map(|by| format!(", said by {by}"))
                .unwrap_or_default();
            format!("On {} {}{by}.", shown(at), answer.answer.in_words())
        }
        Some((at, End::Settled)) => format!("Later readings settled it, on {}.", shown(at)),
        Some((at, End::Overtaken)) => format!("Another one was raised on {}.", shown(at)),
        None if alert.outranks() => "Nobody has said what was done.".to_owned(),
        Some((_, End::Passed)) | None => String::new(),
    }
}

/// A low diastolic alone is no alert; how often and how low it was is for the clinic.
fn low_diastolic(report: &Report<'_>) -> Option<String> {
    let below = |limit: i32| {
        let all = report
            .readings
            .iter()
            .filter_map(|(judged, _)| pressures(&judged.reading));
        all.filter(|(_, diastolic)| *diastolic < Pressure::from_mmhg(limit))
            .map(|(_, diastolic)| diastolic)
            .collect::<Vec<_>>()
    };
    let low = below(LOW_DIASTOLIC);
    let lowest = low.iter().min()?;
    Some(format!(
        "Low diastolic: {} of {} have a diastolic below {LOW_DIASTOLIC} mmHg, {} of them below {VERY_LOW_DIASTOLIC}; the \
         lowest is {:.0}. Nobody was alarmed by it. Source: NHS: low below 60; one reading in four of people over 65 is \
         (survey data); that it is for the clinic only is our own choice.",
        low.len(),
        count(report.readings.len(), "reading"),
        below(VERY_LOW_DIASTOLIC).len(),
        lowest.mmhg()
    ))
}

fn averages(report: &Report<'_>) -> Block {
    let period = report.period;
    let drop = report.protocol.drop_first_day.value;
    let mut rows = Vec::new();
    let mut whole = |name: &str, average: &Option<Average>| {
        let Some(average) = average else { return };
        let (systolic, diastolic) = average.interval_95.map_or_else(Default::default, |interval| {
            (range(interval.systolic), range(interval.diastolic))
        });
        rows.push(vec![
            name.into(),
            average.exact.shown().into(),
            systolic.into(),
            diastolic.into(),
            average
                .pulse_rate
                .map(|pulse| format!("{pulse:.1}"))
                .unwrap_or_default()
                .into(),
            average.n.to_string().into(),
            average.days.to_string().into(),
        ]);
    };
    let (all, without) = if drop {
        ("Of all days", "By the protocol, without the first day")
    } else {
        ("By the protocol, of all days", "Without the first day")
    };
    let pair = [
        (all, &period.average_of_all_days),
        (without, &period.average_without_first_day),
    ];
    let ordered = if drop { [pair[1], pair[0]] } else { pair };
    for (name, average) in ordered {
        whole(name, average);
    }
    for (name, slot) in [("Mornings", Slot::Morning), ("Evenings", Slot::Evening)] {
        whole(name, &report.average_of(slot));
    }
    rows.extend(of_mean("First reading of each morning", &period.first_morning));
    for kind in &period.other_kinds {
        let mut row: Vec<Cell> = vec![
            format!("{}, not in the average", capital(kind.kind)).into(),
            kind.exact.shown().into(),
        ];
        row.extend(["", "", ""].map(Cell::from));
        row.extend([kind.n, kind.days].map(|n| Cell::from(n.to_string())));
        rows.push(row);
    }
    Block::Table(Table {
        caption: "Averages in mmHg, systolic over diastolic".to_owned(),
        columns: columns(&[
            "Average",
            "mmHg#",
            "95 % systolic#",
            "95 % diastolic#",
            "Pulse#",
            "Readings#",
            "Days#",
        ]),
        rows,
    })
}

fn of_mean(name: &str, mean: &Mean) -> Option<Vec<Cell>> {
    mean.systolic?;
    let mut row: Vec<Cell> = vec![name.into(), mean.exact.shown().into()];
    row.extend(["", "", ""].map(Cell::from));
    row.push(mean.n.to_string().into());
    row.push("".into());
    Some(row)
}

fn below_plot(report: &Report<'_>, stems_only: bool) -> String {
    if let Some(every) = report.every() {
        return long::below_plot(report, every);
    }
    let mut said = if stems_only {
        "Each reading is a thin stem from systolic to diastolic. Those that were set aside are ticks at the lower edge; \
         the table tells counted from marked."
    } else {
        "In each day mornings stand left, evenings right; a missed session leaves a gap."
    }
    .to_owned();
    if report.period.threshold.is_some() {
        said += " Dashed: the threshold.";
    }
    match plot::left_out(report) {
        0 => {}
        1 => said += " 1 reading without a time or a possible value stands in the table only.",
        n => said += &format!(" {n} readings without a time or a possible value stand in the table only."),
    }
    said
}

fn complete(report: &Report<'_>) -> String {
    let period = report.period;
    let counts = &period.readings;
    let named = |reasons: &BTreeMap<&'static str, usize>| {
        let each: Vec<String> = reasons
            .iter()
            .map(|(reason, n)| format!("{} {n}", plain(reason)))
            .collect();
        if each.is_empty() {
            String::new()
        } else {
            format!(" ({})", each.join(", "))
        }
    };
    let mut said = format!(
        "{} of {} sessions. {}: {} counted, {} of them marked{}; {} set aside{}.",
        period.sessions,
        period.sessions_expected,
        count(counts.counted + counts.set_aside, "reading"),
        counts.counted,
        counts.marked,
        named(&counts.marked_reasons),
        counts.set_aside,
        named(&counts.set_aside_reasons)
    );
    if let Some(outside) = &period.outside_sessions {
        said += &format!(" {}", outside.say());
    }
    match report.nobodys {
        0 => {}
        1 => said += " 1 more reading of these days is nobody's yet.",
        n => said += &format!(" {n} more readings of these days are nobody's yet."),
    }
    said
}

fn sure(report: &Report<'_>, blocks: &mut Vec<Block>) {
    let Some(average) = &report.period.average else {
        return;
    };
    if let Some(chance) = &report.period.chance_at_or_above {
        blocks.push(Block::Paragraph(chance.say.clone()));
    }
    if average.interval_95.is_some() {
        blocks.push(Block::Paragraph(
            "The interval takes the day as the unit that repeats, because readings of one day resemble each other. It \
             does not know an error of the monitor. The exact average is compared with the threshold, never a rounded \
             one."
                .to_owned(),
        ));
    }
    if let Some(widened) = report.widened.filter(|_| average.interval_95.is_some()) {
        blocks.push(Block::Paragraph(format!(
            "Nor does it know whether days carry over: if each day resembled the one before it, with an assumed \
             correlation of {ASSUMED}, the interval would be {} systolic and {} diastolic. A week cannot tell.",
            range(widened.systolic),
            range(widened.diastolic)
        )));
    }
}

fn looked_at(report: &Report<'_>, blocks: &mut Vec<Block>) {
    let mut items: Vec<String> = report
        .alerts
        .iter()
        .map(|alert| {
            format!(
                "{}: {} {} Source: {}{}",
                raised(report, alert),
                alert.say,
                became(report, alert),
                sentence(alert.source),
                alert
                    .choice()
                    .map(|choice| format!(" Own choice: {}", sentence(choice)))
                    .unwrap_or_default()
            )
        })
        .collect();
    items.extend(low_diastolic(report));
    items.extend(report.period.standing.iter().map(|standing| {
        format!(
            "Standing up on {} Source: NICE 2023 and ESC 2024 name a fall of 20/10; the minutes are counted from the last \
             reading at rest.",
            standing.say()
        )
    }));
    let patterns = report.patterns.iter().map(|pattern| {
        format!(
            "{}: {} Source: {}",
            capital(&plain(pattern.id)),
            pattern.say,
            sentence(pattern.source)
        )
    });
    items.extend(patterns);
    if !items.is_empty() {
        blocks.push(Block::List(items));
    }
}
