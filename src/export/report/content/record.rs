//! What stands behind the readings: notes, monitors, clocks, the protocol's rules, and what to bear in mind.

use super::super::Report;
use super::super::document::{Block, Cell, Set, Table, columns};
use super::super::words::{
    arms, capital, how_known, limits, n as count, note as in_words, off, sentence, source, while_of,
};
use crate::household::{Monitor, MonitorId, Site, StatedNote};
use crate::monitoring::care::Care;
use crate::monitoring::protocol::{Confidence, Protocol, Sourced};
use crate::monitoring::titles::of_protocol;
use crate::sitting::Tie;
use crate::technique::of_monitor;
use crate::words::Words;
use std::collections::BTreeMap;

pub(super) fn noted(report: &Report<'_>, blocks: &mut Vec<Block>) {
    let words = report.words;
    let row = |note: &StatedNote| -> Vec<Cell> {
        let about = if note.monitor.is_some() {
            "cell-monitor"
        } else {
            "cell-person"
        };
        vec![
            words.exact_moment(report.zones.civil(note.at)).into(),
            words.say(about).into(),
            in_words(words, &note.what).into(),
        ]
    };
    let rows: Vec<Vec<Cell>> = report.notes.iter().map(row).collect();
    if !rows.is_empty() {
        let names = [
            ("column-when", Set::Whole),
            ("column-about", Set::Whole),
            ("column-what", Set::Words),
        ];
        blocks.push(Block::Table(Table {
            caption: words.say("table-noted"),
            columns: columns(words, &names),
            rows,
        }));
    }
}

pub(super) fn monitors(report: &Report<'_>, blocks: &mut Vec<Block>) {
    let mut seen: BTreeMap<&MonitorId, usize> = BTreeMap::new();
    for (judged, _) in &report.readings {
        *seen.entry(&judged.reading.monitor).or_default() += 1;
    }
    let (unknown, words) = (Monitor::default(), report.words);
    let from = |text: &str| source(words, text);
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
                let says = words.say(&format!("reason-{}", reason.name()));
                format!("{says} {}", from(reason.rule().source))
            })
            .collect();
        let today = report.zones.civil(report.made_at).date();
        if let Some(care) = care {
            items.extend(care.due_on(today).map(|due| {
                let values = [
                    ("date", words.date_with_year(due.on).into()),
                    ("task", words.say(&format!("task-{}", due.task.name())).into()),
                    ("because", words.of(&due.because).into()),
                ];
                format!("{} {}", words.with("sheet-due", &values), from(due.source))
            }));
        }
        let signs = report.signs.iter().filter(|(of, _)| of == id);
        items.extend(signs.map(|(_, sign)| format!("{} {}", words.of(&sign.say), from(sign.source))));
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
    let words = report.words;
    let or_not_stated = |fact: Option<String>| fact.unwrap_or_else(|| words.say("not-stated"));
    let made: Vec<&str> = [&monitor.manufacturer, &monitor.model]
        .into_iter()
        .filter_map(Option::as_deref)
        .collect();
    let site = monitor.site.map(|site| {
        words.say(match site {
            Site::UpperArm => "fact-on-upper-arm",
            Site::Wrist => "fact-on-wrist",
        })
    });
    let validation = match &monitor.validated {
        Some(listed) => words.with("fact-validated", &[("listed", listed.as_str().into())]),
        None => words.say("fact-not-validated"),
    };
    let facts = [
        ("fact-worn", or_not_stated(site)),
        (
            "fact-made",
            or_not_stated((!made.is_empty()).then(|| made.join(" "))),
        ),
        ("fact-serial", or_not_stated(monitor.serial.clone())),
        ("fact-validation", validation),
        ("fact-cuff", arms(words, monitor.cuff_min_mm, monitor.cuff_max_mm)),
    ];
    let arm = report.person().and_then(|person| person.arm_cm).map(|cm| {
        let cm = words.decimal(&cm.to_string());
        ("fact-arm", words.with("fact-around", &[("cm", cm.into())]))
    });
    let day = |day| words.date_with_year(day);
    let cared = care.into_iter().flat_map(|care| {
        let checked = care.checked.map(day);
        [
            ("fact-in-use", or_not_stated(care.since.map(day))),
            (
                "fact-checked",
                checked.unwrap_or_else(|| words.say("fact-never-checked")),
            ),
        ]
    });
    let falls = care
        .filter(|care| care.drops > 0)
        .map(|care| ("fact-falls", care.drops.to_string()));
    let names = [("column-fact", Set::Whole), ("column-on-record", Set::Words)];
    Block::Table(Table {
        caption: words.with(
            "table-monitor",
            &[("monitor", id.as_str().into()), ("n", count(n))],
        ),
        columns: columns(words, &names),
        rows: facts
            .into_iter()
            .chain(arm)
            .chain(cared)
            .chain(falls)
            .map(|(name, fact)| vec![words.say(name).into(), fact.into()])
            .collect(),
    })
}

pub(super) fn clocks(report: &Report<'_>, blocks: &mut Vec<Block>) {
    let words = report.words;
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
            let (one, other) = (
                ("one", off(words, least).into()),
                ("other", off(words, most).into()),
            );
            let said = match (least, most) {
                (0, 0) => words.say("cell-none"),
                (least, most) if least == most => words.with("clock-was", &[one]),
                (0, _) => words.with("clock-up-to", &[other]),
                (_, 0) => words.with("clock-up-to", &[("other", one.1)]),
                _ => words.with("clock-between", &[one, other]),
            };
            vec![
                monitor.as_str().into(),
                words.say(how).into(),
                corrections.len().to_string().into(),
                said.into(),
            ]
        })
        .collect();
    let names = [
        ("column-monitor", Set::Words),
        ("column-time-known", Set::Words),
        ("column-readings", Set::Numbers),
        ("column-correction", Set::Words),
    ];
    blocks.push(Block::Table(Table {
        caption: words.say("table-clocks"),
        columns: columns(words, &names),
        rows,
    }));
}

pub(super) fn protocol(report: &Report<'_>, blocks: &mut Vec<Block>) {
    let (p, words) = (report.protocol, report.words);
    let mut rules = Rules {
        words,
        rows: Vec::new(),
    };
    rules.of_sessions(p);
    rules.of_averages(p);
    rules.limits_and_targets(p);
    let mut said = format!("{}: {}", of_protocol(words, &p.title), sentence(&p.citation));
    if let Some(by) = &p.superseded_by {
        said += &format!(" {}", words.with("superseded-by", &[("by", by.as_str().into())]));
    }
    blocks.push(Block::Paragraph(said));
    let names = [
        ("column-rule", Set::Words),
        ("column-value", Set::Whole),
        ("column-read", Set::Words),
        ("column-source", Set::Words),
    ];
    blocks.push(Block::Table(Table {
        caption: words.with("table-rules", &[("name", p.name.as_str().into())]),
        columns: columns(words, &names),
        rows: rules.rows,
    }));
}

/// The rules of a protocol as rows.
struct Rules {
    words: &'static Words,
    rows: Vec<Vec<Cell>>,
}

impl Rules {
    /// One rule, its value, how far its source was read, and the source.
    fn row<T>(&mut self, name: &str, stated: &Sourced<T>, value: String) {
        let name = self.words.say(name);
        self.named(name, stated, value);
    }

    fn named<T>(&mut self, name: String, stated: &Sourced<T>, value: String) {
        self.rows.push(vec![
            name.into(),
            value.into(),
            self.words.say(read(stated.confidence)).into(),
            stated.source.clone().into(),
        ]);
    }

    /// When to measure, and how.
    fn of_sessions(&mut self, p: &Protocol) {
        let words = self.words;
        let slots = p.sessions.value.iter();
        let slots: Vec<String> = slots
            .map(|slot| words.say(&format!("part-{}", slot.name())))
            .collect();
        self.row("rule-days", &p.days, p.days.value.to_string());
        self.row("rule-sessions", &p.sessions, words.list(&slots));
        let readings = p.readings_per_session.value.to_string();
        self.row("rule-readings", &p.readings_per_session, readings);
        let gap = while_of(words, i64::from(p.gap_seconds.value));
        self.row("rule-gap", &p.gap_seconds, gap);
        for (tie, stated) in &p.timing {
            let kept = words.say(match (stated.value, tie) {
                (false, _) => "rule-not-asked",
                (true, Tie::BeforeBed) => "rule-asked-before-bed",
                (true, _) => "rule-asked",
            });
            let name = words.say(&format!("tie-{}", tie.name()));
            self.named(capital(&name), stated, kept);
        }
    }

    /// What an average needs, and what is left out of it.
    fn of_averages(&mut self, p: &Protocol) {
        let words = self.words;
        self.row("rule-days-min", &p.days_min, p.days_min.value.to_string());
        self.row(
            "rule-readings-min",
            &p.readings_min,
            p.readings_min.value.to_string(),
        );
        for (name, stated) in [
            ("rule-mornings-min", &p.mornings_min),
            ("rule-evenings-min", &p.evenings_min),
        ] {
            let least = words.with("rule-at-least", &[("n", stated.value.into())]);
            self.row(name, stated, least);
        }
        let settling = words.with("rule-of-days", &[("n", p.settling_days.value.into())]);
        self.row("rule-settling", &p.settling_days, settling);
        let drop = words.say(if p.drop_first_day.value {
            "rule-left-out"
        } else {
            "rule-averaged"
        });
        self.row("rule-first-day", &p.drop_first_day, drop);
    }

    /// What an average is held against.
    fn limits_and_targets(&mut self, p: &Protocol) {
        let words = self.words;
        let shown = |of| format!("{} mmHg", limits(words, of));
        self.row("rule-threshold", &p.threshold, shown(&p.threshold.value));
        for target in &p.targets {
            let name = of_protocol(words, &target.name);
            let name = words.with("rule-target", &[("name", name.into())]);
            let below = limits(words, &target.below.value);
            let below = words.with("rule-below", &[("limits", below.into())]);
            self.named(name, &target.below, below);
        }
    }
}

const fn read(confidence: Confidence) -> &'static str {
    match confidence {
        Confidence::FullText => "read-in-full",
        Confidence::Summary => "read-in-a-summary",
        Confidence::Memory => "read-from-memory",
        Confidence::CommonPractice => "read-common-practice",
        Confidence::OwnChoice => "read-own-choice",
        Confidence::Clinic => "read-clinic",
    }
}

pub(super) fn cautions(report: &Report<'_>, blocks: &mut Vec<Block>) {
    let words = report.words;
    let mut items = vec![
        words.say("mind-no-threshold"),
        words.say("mind-validation"),
        words.say("mind-nothing-corrected"),
    ];
    let reported = |reason: &&'static str| reason.starts_with("reported-");
    let mut reasons = report.readings.iter().flat_map(|(_, taken)| &taken.reasons);
    if reasons.any(reported) {
        items.push(words.say("mind-reported"));
    }
    blocks.push(Block::List(items));
}
