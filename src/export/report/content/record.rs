//! What stands behind the readings: notes, monitors, clocks, the protocol's rules, and what to bear in mind.

use super::super::Report;
use super::super::document::{Block, Cell, Table, columns};
use super::super::words::{and, capital, count, day, moment, plain, sentence, while_of};
use super::readings::off;
use crate::household::{Monitor, MonitorId, Site, arms_of};
use crate::monitoring::care::Care;
use crate::monitoring::protocol::{Confidence, Limits, Protocol, Stated};
use crate::reading::TimeSource;
use crate::sitting::Tie;
use crate::technique::of_monitor;
use std::collections::{BTreeMap, BTreeSet};

pub(super) fn noted(report: &Report<'_>, blocks: &mut Vec<Block>) {
    let rows: Vec<Vec<Cell>> = report
        .notes
        .iter()
        .map(|note| {
            vec![
                moment(report.zones.civil(note.at)).into(),
                if note.monitor.is_some() {
                    "monitor"
                } else {
                    "person"
                }
                .into(),
                note.what.in_words().into(),
            ]
        })
        .collect();
    if !rows.is_empty() {
        blocks.push(Block::Table(Table {
            caption: "What the household noted; said by a person, not measured".to_owned(),
            columns: columns(&["When=", "About the=", "What"]),
            rows,
        }));
    }
}

pub(super) fn monitors(report: &Report<'_>, blocks: &mut Vec<Block>) {
    let mut seen: BTreeMap<&MonitorId, usize> = BTreeMap::new();
    for (judged, _) in &report.readings {
        *seen.entry(&judged.reading.monitor).or_default() += 1;
    }
    let unknown = Monitor::default();
    for (id, n) in seen {
        let monitor = report
            .household
            .monitors
            .get(id)
            .map_or(&unknown, |(monitor, _)| monitor);
        let care = report.cares.iter().find(|(of, _)| of == id).map(|(_, care)| care);
        blocks.push(monitor_table(report, id, n, monitor, care));
        let faults = of_monitor(monitor);
        let mut items: Vec<String> = faults
            .iter()
            .map(|reason| {
                let rule = reason.rule();
                format!("{} Source: {}", rule.says, sentence(rule.source))
            })
            .collect();
        let today = report.zones.civil(report.made_at).date();
        if let Some(care) = care {
            items.extend(care.due_on(today).map(|due| {
                format!(
                    "Due since {}: {}, because {} Source: {}",
                    day(due.on),
                    plain(due.task.name()),
                    sentence(&due.because),
                    sentence(due.source)
                )
            }));
        }
        let signs = report.signs.iter().filter(|(of, _)| of == id);
        items.extend(signs.map(|(_, sign)| format!("{} Source: {}", sign.say, sentence(sign.source))));
        if !items.is_empty() {
            blocks.push(Block::List(items));
        }
    }
}

fn monitor_table(
    report: &Report<'_>,
    id: &MonitorId,
    n: usize,
    monitor: &Monitor,
    care: Option<&Care>,
) -> Block {
    let or_not_stated = |fact: Option<String>| fact.unwrap_or_else(|| "not stated".to_owned());
    let made: Vec<&str> = [&monitor.manufacturer, &monitor.model]
        .into_iter()
        .filter_map(Option::as_deref)
        .collect();
    let site = monitor.site.map(|site| match site {
        Site::UpperArm => "on the upper arm".to_owned(),
        Site::Wrist => "on the wrist".to_owned(),
    });
    let facts = [
        ("Worn", or_not_stated(site)),
        (
            "Maker and model",
            or_not_stated((!made.is_empty()).then(|| made.join(" "))),
        ),
        ("Serial number", or_not_stated(monitor.serial.clone())),
        (
            "Validation",
            monitor.validated.as_ref().map_or_else(
                || "nobody has stated one".to_owned(),
                |listed| format!("stated by a person: {listed}"),
            ),
        ),
        ("Cuff", arms_of(monitor.cuff_min_mm, monitor.cuff_max_mm)),
    ];
    let person = report.person().and_then(|person| person.arm_cm);
    let arm = person.map(|cm| ("The person's arm", format!("{cm} cm around")));
    let cared = care.into_iter().flat_map(|care| {
        [
            ("In use since", or_not_stated(care.since.map(day))),
            (
                "Last check",
                care.checked.map_or_else(|| "none noted".to_owned(), day),
            ),
        ]
    });
    let falls = care
        .filter(|care| care.drops > 0)
        .map(|care| ("Falls since then", care.drops.to_string()));
    Block::Table(Table {
        caption: format!("Monitor {id}, {} in these days", count(n, "reading")),
        columns: columns(&["Fact=", "On record"]),
        rows: facts
            .into_iter()
            .chain(arm)
            .chain(cared)
            .chain(falls)
            .map(|(name, fact)| vec![name.into(), fact.into()])
            .collect(),
    })
}

pub(super) fn clocks(report: &Report<'_>, blocks: &mut Vec<Block>) {
    let mut known: BTreeMap<(&MonitorId, &'static str), Vec<i64>> = BTreeMap::new();
    for (judged, _) in &report.readings {
        let reading = &judged.reading;
        known
            .entry((&reading.monitor, how_known(reading.time.source)))
            .or_default()
            .push(reading.time.correction_s);
    }
    if known.is_empty() {
        return;
    }
    let rows = known
        .into_iter()
        .map(|((monitor, how), corrections)| {
            let (least, most) = corrections
                .iter()
                .fold((i64::MAX, i64::MIN), |(least, most), by| {
                    (least.min(*by), most.max(*by))
                });
            let said = match (least, most) {
                (0, 0) => "none".to_owned(),
                (least, most) if least == most => format!("the clock was {}", off(least)),
                (0, most) => format!("from none to {}", off(most)),
                (least, 0) => format!("from none to {}", off(least)),
                (least, most) => format!("the clock was between {} and {}", off(least), off(most)),
            };
            vec![
                monitor.as_str().into(),
                how.into(),
                corrections.len().to_string().into(),
                said.into(),
            ]
        })
        .collect();
    blocks.push(Block::Table(Table {
        caption: "How the time of each reading is known, and what was corrected".to_owned(),
        columns: columns(&["Monitor", "Time known by", "Readings#", "Correction"]),
        rows,
    }));
}

const fn how_known(source: TimeSource) -> &'static str {
    match source {
        TimeSource::MonitorClock => "its stamp, held against the monitor's own clock",
        TimeSource::KnownOffset => "its stamp, shifted by the last known difference of that clock",
        TimeSource::WallClock => "its stamp as it stands; nothing better is known of that clock",
        TimeSource::Receipt => "the moment of its receipt",
        TimeSource::Stated => "a person's word",
        TimeSource::Unknown => "nothing: it is unknown",
    }
}

pub(super) fn protocol(p: &Protocol, blocks: &mut Vec<Block>) {
    let mut rows = Vec::new();
    rules_of_sessions(p, &mut rows);
    rules_of_averages(p, &mut rows);
    limits_and_targets(p, &mut rows);
    let superseded = p
        .superseded_by
        .as_ref()
        .map(|by| format!(" Superseded by {}", sentence(by)))
        .unwrap_or_default();
    blocks.push(Block::Paragraph(format!(
        "{}: {}{superseded}",
        p.title,
        sentence(&p.citation)
    )));
    blocks.push(Block::Table(Table {
        caption: format!("The rules of {}, and how far each source was read", p.name),
        columns: columns(&["Rule", "Value=", "Read", "Source"]),
        rows,
    }));
}

/// One rule, its value, how far its source was read, and the source.
fn row<T>(rows: &mut Vec<Vec<Cell>>, name: &str, stated: &Stated<T>, value: String) {
    rows.push(vec![
        name.into(),
        value.into(),
        read(stated.confidence).into(),
        stated.source.clone().into(),
    ]);
}

/// When to measure, and how.
fn rules_of_sessions(p: &Protocol, rows: &mut Vec<Vec<Cell>>) {
    let slots: Vec<&str> = p.sessions.value.iter().map(|slot| slot.name()).collect();
    row(rows, "Days", &p.days, p.days.value.to_string());
    row(rows, "Sessions a day", &p.sessions, and(&slots));
    row(
        rows,
        "Readings a session",
        &p.readings_per_session,
        p.readings_per_session.value.to_string(),
    );
    row(
        rows,
        "Least time between them",
        &p.gap_seconds,
        while_of(i64::from(p.gap_seconds.value)),
    );
    for (tie, stated) in &p.timing {
        let kept = match (stated.value, tie) {
            (false, _) => "not asked for",
            (true, Tie::BeforeBed) => "asked for; judged where going to bed was noted",
            (true, _) => "asked for",
        };
        row(rows, &capital(&plain(tie.name())), stated, kept.to_owned());
    }
}

/// What an average needs, and what is left out of it.
fn rules_of_averages(p: &Protocol, rows: &mut Vec<Vec<Cell>>) {
    row(
        rows,
        "Fewest days for an average",
        &p.days_min,
        p.days_min.value.to_string(),
    );
    row(
        rows,
        "Fewest readings for an average",
        &p.readings_min,
        p.readings_min.value.to_string(),
    );
    for (name, stated) in [
        ("Mornings of an even average", &p.mornings_min),
        ("Evenings of an even average", &p.evenings_min),
    ] {
        row(rows, name, stated, format!("at least {}", stated.value));
    }
    let drop = if p.drop_first_day.value {
        "left out"
    } else {
        "averaged"
    };
    row(
        rows,
        "Settling after a change of medicine",
        &p.settling_days,
        format!("{} days", p.settling_days.value),
    );
    row(rows, "The first day", &p.drop_first_day, drop.to_owned());
}

/// What an average is held against.
fn limits_and_targets(p: &Protocol, rows: &mut Vec<Vec<Cell>>) {
    let limits = |limits: &Limits| format!("{}/{} mmHg", limits.systolic.mmhg(), limits.diastolic.mmhg());
    row(rows, "Its threshold", &p.threshold, limits(&p.threshold.value));
    for target in &p.targets {
        row(
            rows,
            &format!("Target on treatment, {}", target.name),
            &target.below,
            format!("below {}; not applied here", limits(&target.below.value)),
        );
    }
}

const fn read(confidence: Confidence) -> &'static str {
    match confidence {
        Confidence::FullText => "in full",
        Confidence::Summary => "in a summary",
        Confidence::Memory => "from memory, unconfirmed",
        Confidence::CommonPractice => "common practice",
        Confidence::OwnChoice => "own choice",
        Confidence::Clinic => "the clinic's",
    }
}

pub(super) fn cautions(report: &Report<'_>, blocks: &mut Vec<Block>) {
    let mut items = vec![
        "No threshold in pregnancy, for children, in atrial fibrillation or on a dialysis arm, unless a clinician set it up."
            .to_owned(),
        "Whether the monitor is validated and the cuff fits is for a person to check.".to_owned(),
        "No value was corrected for a fault. What was set aside or marked is listed, never removed.".to_owned(),
    ];
    let reported: BTreeSet<&str> = report
        .readings
        .iter()
        .flat_map(|(_, taken)| taken.reasons.iter().copied())
        .filter(|reason| reason.starts_with("reported-"))
        .collect();
    if !reported.is_empty() {
        items.push(
            "Reasons that begin with \u{201c}reported\u{201d} are a person's word, not the monitor's."
                .to_owned(),
        );
    }
    blocks.push(Block::List(items));
}
