//! What did not have to wait for the average, and what else a clinician may want to see.

use super::super::Report;
use super::super::document::Block;
use super::super::words::{after_one_another, n, sentence, source};
use crate::monitoring::escalation::{Alert, End, Level};
use crate::monitoring::urgent;
use crate::reading::{Pressure, pressures};
use crate::technique::JudgedReading;
use crate::words::Value;

/// Alerts on the first sheet; how many more there are is said.
const ALERTS_MAX: usize = 3;

/// Diastolic pressures below which readings are counted for the clinic, in mmHg (NHS; the second is our own
/// choice).
const LOW_DIASTOLIC: i32 = 60;
const VERY_LOW_DIASTOLIC: i32 = 50;

/// Where a low diastolic is named, and what of that is our own choice.
const LOW_SOURCE: &str = "NHS: low below 60; one reading in four of people over 65 is (survey data); that it is for the \
                          clinic only is our own choice";

pub(super) fn cannot_wait(report: &Report<'_>, blocks: &mut Vec<Block>) {
    let words = report.words;
    let urgent: Vec<_> = report
        .alerts
        .iter()
        .filter(|alert| alert.level > Level::Note)
        .collect();
    let below = || ("heading", words.say("sheet-to-look-at").into());
    for alert in urgent.iter().take(ALERTS_MAX) {
        blocks.push(Block::Notice(after_one_another(&[
            sentence(&raised(report, alert)),
            became(report, alert),
            words.with("sheet-urgent-told", &[below()]),
        ])));
    }
    if urgent.len() > ALERTS_MAX {
        let more = n(urgent.len() - ALERTS_MAX);
        let said = words.with("sheet-urgent-more", &[("n", more), below()]);
        blocks.push(Block::Notice(said));
    }
}

/// What was raised, when, and by which numbers.
fn raised(report: &Report<'_>, alert: &Alert) -> String {
    let words = report.words;
    let numbers = of_alert(report, alert)
        .map(|judged| {
            let reading = &judged.reading;
            let values = words.decimal(&format!("{}/{}", reading.systolic, reading.diastolic));
            format!(" ({values} {})", reading.unit.name())
        })
        .unwrap_or_default();
    let about = words.say(&format!("about-{}", alert.about.name()));
    let at = words.exact_moment(report.zones.civil(alert.at));
    words.with("sheet-raised", &[("about", about.into()), ("moment", at.into())]) + &numbers
}

/// The reading that an alert is about.
fn of_alert<'a>(report: &Report<'a>, alert: &Alert) -> Option<&'a JudgedReading> {
    let of = |judged: &&JudgedReading| Some(&judged.reading.id) == alert.reading.as_ref();
    report.readings.iter().map(|(judged, _)| *judged).find(of)
}

/// What became of it: who answered and when, or that nobody did.
fn became(report: &Report<'_>, alert: &Alert) -> String {
    let words = report.words;
    let on = |at| {
        let at = words.exact_moment(report.zones.civil(at));
        ("moment", Value::from(at))
    };
    match alert.end {
        Some((at, End::Answered)) => {
            let Some(answer) = report.household.answers.get(&alert.key()) else {
                return String::new();
            };
            let what = words.say(&format!("answer-{}", answer.answer.name()));
            let what = ("what", what.into());
            match answer.by.as_deref() {
                Some(by) => words.with("sheet-answered-by", &[on(at), what, ("by", by.into())]),
                None => words.with("sheet-answered", &[on(at), what]),
            }
        }
        Some((at, End::Settled)) => words.with("sheet-settled", &[on(at)]),
        Some((at, End::Overtaken)) => words.with("sheet-overtaken", &[on(at)]),
        None if alert.outranks() => words.say("sheet-unanswered"),
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
    let said = report.words.with(
        "sheet-low-diastolic",
        &[
            ("n", n(low.len())),
            ("all", n(report.readings.len())),
            ("limit", LOW_DIASTOLIC.into()),
            ("very-low", n(below(VERY_LOW_DIASTOLIC).len())),
            ("very-low-limit", VERY_LOW_DIASTOLIC.into()),
            ("lowest", format!("{:.0}", lowest.mmhg()).into()),
        ],
    );
    Some(after_one_another(&[said, source(report.words, LOW_SOURCE)]))
}

pub(super) fn looked_at(report: &Report<'_>, blocks: &mut Vec<Block>) {
    let words = report.words;
    let from = |text: &str| source(words, text);
    let alerts = report.alerts.iter().map(|alert| {
        let reading = of_alert(report, alert).map(|judged| &judged.reading);
        let choice = alert.choice().map(|_| {
            let choice = words.say(&format!("choice-{}", alert.about.name()));
            words.with("choice-of", &[("choice", choice.into())])
        });
        let said = after_one_another(&[
            urgent::whole(alert, reading, words),
            became(report, alert),
            from(alert.source),
            choice.unwrap_or_default(),
        ]);
        format!("{}: {said}", raised(report, alert))
    });
    let mut items: Vec<String> = alerts.collect();
    items.extend(low_diastolic(report));
    items.extend(
        report
            .period
            .standing
            .iter()
            .map(|standing| words.with("sheet-standing", &[("say", words.of(&standing.say()).into())])),
    );
    let patterns = report.patterns.iter().map(|pattern| {
        let name = words.say(&format!("pattern-{}", pattern.id));
        format!("{name}: {} {}", words.of(&pattern.say), from(pattern.source))
    });
    items.extend(patterns);
    if !items.is_empty() {
        blocks.push(Block::List(items));
    }
}
