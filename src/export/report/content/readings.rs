//! The readings one by one: how complete they are, how they vary, what became of each and why.

use super::super::Report;
use super::super::document::{Block, Cell, Mark, Table, columns};
use super::super::words::{capital, count, plain, short_day, while_of};
use crate::gatt::{Sfloat, Unit};
use crate::household::Posed;
use crate::monitoring::taken::Taken;
use crate::monitoring::variability::Variability;
use crate::sitting::Slot;
use crate::technique::{Disposition, JudgedReading, Reason};
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
    let name = |day: Date| {
        if by_month {
            day.strftime("%B %Y").to_string()
        } else {
            short_day(day)
        }
    };
    let rows = counted_by(report, &days, name);
    let other = rows.iter().any(|(_, [_, _, other])| *other != (0, 0));
    let names: &[&str] = if other {
        &["Day=", "Morning", "Evening", "At other times"]
    } else {
        &["Day=", "Morning", "Evening"]
    };
    Block::Table(Table {
        caption: format!(
            "Readings by {} and part of the day: {} of {} sessions held. {}",
            if by_month { "month" } else { "day" },
            period.sessions,
            period.sessions_expected,
            period.balance.say
        ),
        columns: columns(names),
        rows: rows
            .into_iter()
            .map(|(name, parts)| {
                let parts = parts.into_iter().take(names.len() - 1).map(in_words);
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

fn in_words(counts: Counts) -> Cell {
    Cell::from(match counts {
        (0, 0) => "none".to_owned(),
        (n, 0) => format!("{n} counted"),
        (0, n) => format!("{n} set aside"),
        (n, m) => format!("{n} counted, {m} set aside"),
    })
}

pub(super) fn vary(report: &Report<'_>, blocks: &mut Vec<Block>) {
    if report.period.average.is_none() {
        return;
    }
    let spread = &report.period.variability;
    let number =
        |value: Option<f64>| Cell::from(value.map(|value| format!("{value:.1}")).unwrap_or_default());
    let row = |name: &str, of: &Variability| {
        vec![
            name.into(),
            of.n.to_string().into(),
            number(of.sd),
            number(of.cv),
            number(of.arv),
            number(of.range),
        ]
    };
    blocks.push(Block::Table(Table {
        caption: "Spread in mmHg, the coefficient of variation in per cent".to_owned(),
        columns: columns(&[
            "Readings averaged",
            "n#",
            "Standard deviation#",
            "Coefficient of variation#",
            "Average real variability#",
            "Range#",
        ]),
        rows: vec![
            row("All, systolic", &spread.all.systolic),
            row("All, diastolic", &spread.all.diastolic),
            row("First of each morning, systolic", &spread.first_morning.systolic),
            row(
                "First of each morning, diastolic",
                &spread.first_morning.diastolic,
            ),
        ],
    }));
    blocks.push(Block::Small(
        "For information, not a verdict: there is no agreement on how to measure variability, and no trial shows that \
         lowering it helps (ESC 2024, section 5.6). Average real variability: mean absolute difference of readings that \
         follow one another (Mena et al., J Hypertens 2005;23:505)."
            .to_owned(),
    ));
}

pub(super) fn reasons(report: &Report<'_>, blocks: &mut Vec<Block>) {
    let counts = &report.period.readings;
    let all = counts
        .set_aside_reasons
        .iter()
        .map(|reason| (Mark::SetAside, reason))
        .chain(counts.marked_reasons.iter().map(|reason| (Mark::Marked, reason)));
    let rows: Vec<Vec<Cell>> = all
        .map(|(mark, (name, n))| {
            let rule = Reason::from_name(name).map(Reason::rule);
            let effect = rule.and_then(|rule| rule.effect).map(|effect| {
                format!(
                    " Known effect in mmHg, shown and never subtracted: systolic {}, diastolic {} ({}).",
                    effect.systolic, effect.diastolic, effect.source
                )
            });
            vec![
                Cell {
                    mark: Some(mark),
                    text: capital(&plain(name)),
                },
                n.to_string().into(),
                rule.map_or("", |rule| rule.basis.name()).into(),
                rule.map(|rule| rule.says.to_owned() + effect.as_deref().unwrap_or_default())
                    .unwrap_or_default()
                    .into(),
                rule.map_or("", |rule| rule.source).into(),
            ]
        })
        .collect();
    if rows.is_empty() {
        blocks.push(Block::Paragraph("None was.".to_owned()));
        return;
    }
    blocks.push(Block::Table(Table {
        caption: "Reasons, how often, and how each is known".to_owned(),
        columns: columns(&["Reason=", "Readings#", "Known=", "What it says", "Source"]),
        rows,
    }));
}

pub(super) fn all_readings(report: &Report<'_>) -> Block {
    let corrected = report
        .readings
        .iter()
        .any(|(judged, _)| judged.reading.time.correction_s.abs() >= CORRECTION_SHOWN_S);
    let mut names = vec!["Day=", "Time=", "Part=", "mmHg#", "Pulse#", "Disposition=", "Why"];
    if corrected {
        names.insert(2, "Clock off#");
    }
    let rows = report
        .readings
        .iter()
        .zip(&report.averaged)
        .map(|((judged, taken), averaged)| {
            let timed = judged.reading.time.at.map(|at| report.zones.civil(at));
            let mut row: Vec<Cell> = vec![
                timed
                    .map_or_else(|| "unknown".to_owned(), |civil| short_day(civil.date()))
                    .into(),
                timed
                    .map(|civil| civil.strftime("%H:%M:%S").to_string())
                    .unwrap_or_default()
                    .into(),
                if timed.is_some() { taken.slot.name() } else { "" }.into(),
                values(judged).into(),
                judged
                    .reading
                    .pulse_rate
                    .filter(|pulse| pulse.special().is_none())
                    .map(|pulse| pulse.to_string())
                    .unwrap_or_default()
                    .into(),
                Cell {
                    mark: Some(Mark::of(taken.disposition)),
                    text: disposition(taken, *averaged),
                },
                why(judged).into(),
            ];
            if corrected {
                row.insert(2, off(judged.reading.time.correction_s).into());
            }
            row
        })
        .collect();
    Block::Table(Table {
        caption: format!(
            "{} by the household's clock, systolic over diastolic in mmHg unless another unit is named",
            capital(&count(report.readings.len(), "reading"))
        ),
        columns: columns(&names),
        rows,
    })
}

/// As the monitor sent them, with exactly its digits.
fn values(judged: &JudgedReading) -> String {
    let reading = &judged.reading;
    let digits = |value: Sfloat| {
        value
            .special()
            .map_or_else(|| value.to_string(), |_| "none".to_owned())
    };
    if reading.systolic.special().is_some() && reading.diastolic.special().is_some() {
        return "no value".to_owned();
    }
    let unit = match reading.unit {
        Unit::MmHg => "",
        Unit::KPa => " kPa",
    };
    format!("{}/{}{unit}", digits(reading.systolic), digits(reading.diastolic))
}

fn disposition(taken: &Taken, averaged: bool) -> String {
    match taken.disposition {
        Disposition::SetAside => "set aside".to_owned(),
        kept => {
            let left_out = if averaged {
                ""
            } else if taken.posed != Posed::Seated {
                ", in a mean of its own"
            } else if taken.slot == Slot::Other {
                ", outside every session"
            } else {
                ", left out by the protocol"
            };
            format!("{}{left_out}", kept.name())
        }
    }
}

fn why(judged: &JudgedReading) -> String {
    let names: Vec<String> = judged
        .judgement
        .reasons
        .iter()
        .map(|reason| plain(reason.name()))
        .collect();
    let own = judged
        .reading
        .discarded
        .as_ref()
        .map(|words| format!("\u{201c}{words}\u{201d}"));
    names.into_iter().chain(own).collect::<Vec<_>>().join(", ")
}

/// How far the monitor's clock was from the household's.
pub(super) fn off(correction_s: i64) -> String {
    match correction_s {
        0 => String::new(),
        behind @ 1.. => format!("{} slow", while_of(behind)),
        ahead => format!("{} fast", while_of(ahead)),
    }
}
