//! The readings one by one: how complete they are, how they vary, what became of each and why.

use super::super::Report;
use super::super::document::{Block, Cell, PlotMark, Set, Table, columns};
use super::super::words::{capital, effect, n, off, reason};
use crate::gatt::{Sfloat, Unit};
use crate::household::Posed;
use crate::monitoring::taken::Taken;
use crate::monitoring::variability::Variability;
use crate::sitting::Slot;
use crate::technique::{Disposition, JudgedReading, Reason};
use crate::words::Words;
use jiff::civil::Date;
use std::collections::BTreeMap;

/// Days that are listed one by one; more are summed up by month.
const DAYS_LISTED_MAX: usize = 62;
/// Corrections of a clock below this many seconds are not worth a column: stamps are no finer.
const CORRECTION_SHOWN_S: i64 = 60;

/// Readings that counted, and that were set aside.
type Counts = (usize, usize);

/// Each day, or each month of a long period, with its parts.
pub(super) fn sessions(report: &Report<'_>) -> Block {
    let period = report.period;
    let mut days: Vec<Date> = Vec::new();
    let mut day = period.from;
    while day <= period.to {
        days.push(day);
        let Ok(next) = day.tomorrow() else { break };
        day = next;
    }
    let by_month = days.len() > DAYS_LISTED_MAX;
    let words = report.words;
    let name = |day: Date| {
        if by_month {
            words.month(day)
        } else {
            words.short_day(day)
        }
    };
    let rows = counted_by(report, &days, name);
    let other = rows.iter().any(|(_, [_, _, other])| *other != (0, 0));
    let mut names = vec![
        ("column-day", Set::Whole),
        ("column-morning", Set::Words),
        ("column-evening", Set::Words),
    ];
    if other {
        names.push(("column-other", Set::Words));
    }
    Block::Table(Table {
        caption: words.with(
            "table-sessions",
            &[
                ("by", if by_month { "month" } else { "day" }.into()),
                ("sessions", n(period.sessions)),
                ("expected", n(period.sessions_expected)),
                ("balance", words.of(&period.balance.say).into()),
            ],
        ),
        columns: columns(words, &names),
        rows: rows
            .into_iter()
            .map(|(name, parts)| {
                let parts = parts.into_iter().take(if other { 3 } else { 2 });
                let parts = parts.map(|counts| in_words(words, counts));
                [Cell::from(name)].into_iter().chain(parts).collect()
            })
            .collect(),
    })
}

/// One row for each name that the days have, in their order: morning, evening, other times.
fn counted_by(
    report: &Report<'_>,
    days: &[Date],
    name: impl Fn(Date) -> String,
) -> Vec<(String, [Counts; 3])> {
    let mut rows: Vec<(String, [Counts; 3])> = Vec::new();
    for day in days {
        let name = name(*day);
        if rows.last().is_none_or(|(last, _)| *last != name) {
            rows.push((name, Default::default()));
        }
    }
    let places: BTreeMap<String, usize> = rows
        .iter()
        .enumerate()
        .map(|(i, (name, _))| (name.clone(), i))
        .collect();
    for (_, taken) in &report.readings {
        let row = places
            .get(&name(taken.day))
            .and_then(|place| rows.get_mut(*place));
        let Some((_, [morning, evening, other])) = row else {
            continue;
        };
        let (counted, set_aside) = match taken.slot {
            Slot::Morning => morning,
            Slot::Evening => evening,
            Slot::Other => other,
        };
        if taken.counted().is_some() {
            *counted += 1;
        } else {
            *set_aside += 1;
        }
    }
    rows
}

fn in_words(words: &Words, counts: Counts) -> Cell {
    let (counted, aside) = counts;
    Cell::from(match counts {
        (0, 0) => words.say("cell-none"),
        (_, 0) => words.with("cell-counted", &[("n", n(counted))]),
        (0, _) => words.with("cell-aside", &[("n", n(aside))]),
        _ => words.with("cell-both", &[("counted", n(counted)), ("aside", n(aside))]),
    })
}

pub(super) fn vary(report: &Report<'_>, blocks: &mut Vec<Block>) {
    if report.period.average.is_none() {
        return;
    }
    let (spread, words) = (&report.period.variability, report.words);
    let number = |value: Option<f64>| {
        let number = value.map(|value| format!("{value:.1}"));
        Cell::from(words.decimal(&number.unwrap_or_default()))
    };
    let row = |name: &str, of: &Variability| {
        vec![
            words.say(name).into(),
            of.n.to_string().into(),
            number(of.sd),
            number(of.cv),
            number(of.arv),
            number(of.range),
        ]
    };
    let names = [
        ("column-averaged", Set::Words),
        ("column-n", Set::Numbers),
        ("column-sd", Set::Numbers),
        ("column-cv", Set::Numbers),
        ("column-arv", Set::Numbers),
        ("column-range", Set::Numbers),
    ];
    blocks.push(Block::Table(Table {
        caption: words.say("table-spread"),
        columns: columns(words, &names),
        rows: vec![
            row("row-all-systolic", &spread.all.systolic),
            row("row-all-diastolic", &spread.all.diastolic),
            row("row-first-systolic", &spread.first_morning.systolic),
            row("row-first-diastolic", &spread.first_morning.diastolic),
        ],
    }));
    blocks.push(Block::Small(words.say("sheet-vary-say")));
}

pub(super) fn reasons(report: &Report<'_>, blocks: &mut Vec<Block>) {
    let (counts, words) = (&report.period.readings, report.words);
    let all = counts
        .set_aside_reasons
        .iter()
        .map(|reason| (PlotMark::SetAside, reason))
        .chain(
            counts
                .marked_reasons
                .iter()
                .map(|reason| (PlotMark::Marked, reason)),
        );
    let row = |(mark, (name, n)): (PlotMark, (&&'static str, &usize))| {
        let rule = Reason::from_name(name).map(Reason::rule);
        let basis = rule.map(|rule| words.say(&format!("basis-{}", rule.basis.name().replace(' ', "-"))));
        let mut says: Vec<String> = rule
            .iter()
            .map(|_| words.say(&format!("reason-{name}")))
            .collect();
        says.extend(rule.and_then(|rule| rule.effect).map(|of| effect(words, &of)));
        vec![
            Cell {
                mark: Some(mark),
                text: capital(&reason(words, name)),
            },
            n.to_string().into(),
            basis.unwrap_or_default().into(),
            says.join(" ").into(),
            rule.map_or("", |rule| rule.source).into(),
        ]
    };
    let rows: Vec<Vec<Cell>> = all.map(row).collect();
    if rows.is_empty() {
        blocks.push(Block::Paragraph(words.say("sheet-reasons-none")));
        return;
    }
    let names = [
        ("column-reason", Set::Whole),
        ("column-readings", Set::Numbers),
        ("column-known", Set::Whole),
        ("column-says", Set::Words),
        ("column-source", Set::Words),
    ];
    blocks.push(Block::Table(Table {
        caption: words.say("table-reasons"),
        columns: columns(words, &names),
        rows,
    }));
}

pub(super) fn all_readings(report: &Report<'_>) -> Block {
    let corrected = report
        .readings
        .iter()
        .any(|(judged, _)| judged.reading.time.correction_s.abs() >= CORRECTION_SHOWN_S);
    let words = report.words;
    let mut names = vec![
        ("column-day", Set::Whole),
        ("column-time", Set::Whole),
        ("column-part", Set::Whole),
        ("column-values", Set::Numbers),
        ("column-pulse", Set::Numbers),
        ("column-disposition", Set::Whole),
        ("column-why", Set::Words),
    ];
    if corrected {
        names.insert(2, ("column-clock-off", Set::Numbers));
    }
    let mut days: BTreeMap<Date, String> = BTreeMap::new();
    let slots = [Slot::Morning, Slot::Evening, Slot::Other]
        .map(|slot| (slot, words.say(&format!("part-{}", slot.name()))));
    let slot_of = |slot: Slot| {
        let named = slots.iter().find(|(named, _)| *named == slot);
        named.map(|(_, name)| name.clone()).unwrap_or_default()
    };
    let mut rows = Vec::with_capacity(report.readings.len());
    for ((judged, taken), averaged) in report.readings.iter().zip(&report.averaged) {
        let timed = judged.reading.time.at.map(|at| report.zones.civil(at));
        let day = timed.map(|civil| {
            let day = civil.date();
            days.entry(day).or_insert_with(|| words.short_day(day)).clone()
        });
        let pulse = judged.reading.pulse_rate;
        let pulse = pulse.filter(|pulse| pulse.special().is_none());
        let mut row: Vec<Cell> = vec![
            day.unwrap_or_else(|| words.say("reading-time-unknown")).into(),
            timed
                .map(|civil| civil.strftime("%H:%M:%S").to_string())
                .unwrap_or_default()
                .into(),
            timed.map(|_| slot_of(taken.slot)).unwrap_or_default().into(),
            values(words, judged).into(),
            words
                .decimal(&pulse.map(|pulse| pulse.to_string()).unwrap_or_default())
                .into(),
            Cell {
                mark: Some(PlotMark::of(taken.disposition)),
                text: disposition(words, taken, *averaged),
            },
            why(words, judged).into(),
        ];
        if corrected {
            row.insert(2, off(words, judged.reading.time.correction_s).into());
        }
        rows.push(row);
    }
    Block::Table(Table {
        caption: words.with("table-readings", &[("n", n(report.readings.len()))]),
        columns: columns(words, &names),
        rows,
    })
}

/// As the monitor sent them, with exactly its digits.
fn values(words: &Words, judged: &JudgedReading) -> String {
    let reading = &judged.reading;
    let digits = |value: Sfloat| match value.special() {
        Some(_) => words.say("cell-none"),
        None => value.to_string(),
    };
    if reading.systolic.special().is_some() && reading.diastolic.special().is_some() {
        return words.say("cell-no-value");
    }
    let unit = match reading.unit {
        Unit::MmHg => "",
        Unit::KPa => " kPa",
    };
    let values = format!("{}/{}{unit}", digits(reading.systolic), digits(reading.diastolic));
    if values.contains('.') {
        words.decimal(&values)
    } else {
        values
    }
}

fn disposition(words: &Words, taken: &Taken, averaged: bool) -> String {
    let kept = match taken.disposition {
        Disposition::SetAside => return words.say("set-aside"),
        Disposition::Marked => words.say("cell-marked"),
        Disposition::Counted => words.say("counted"),
    };
    if averaged {
        return kept;
    }
    let left_out = words.say(if taken.posed != Posed::Seated {
        "cell-own-mean"
    } else if taken.slot == Slot::Other {
        "cell-outside"
    } else {
        "cell-left-out"
    });
    format!("{kept}, {left_out}")
}

fn why(words: &Words, judged: &JudgedReading) -> String {
    let names = judged.judgement.reasons.iter();
    let names = names.map(|because| reason(words, because.name()));
    let own = judged
        .reading
        .discarded
        .as_ref()
        .map(|words| format!("\u{201c}{words}\u{201d}"));
    names.chain(own).collect::<Vec<_>>().join(", ")
}
