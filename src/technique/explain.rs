//! The explanation of what became of a reading, in plain words with the sources.

use super::disposition::Disposition;
use super::judgement::Judgement;
use super::observed::contradicted;
use super::rules::Rule;
use crate::household::Posed;
use crate::reading::{Precision, Reading};

/// The explanation as lines, each of which is one paragraph: the verdict, a line for each reason, and what
/// was ignored.
pub fn explain(reading: &Reading, judgement: &Judgement) -> Vec<String> {
    let pulse = reading
        .pulse_rate
        .map(|pulse| format!(", pulse {pulse}"))
        .unwrap_or_default();
    let verdict = match judgement.disposition {
        Disposition::Counted => "counted. It goes into the average, and nothing speaks against it",
        Disposition::Marked if judgement.reasons.posed() != Posed::Seated => {
            "marked. It is kept apart: it goes into no protocol's average, and into a mean of its own kind"
        }
        Disposition::Marked => "marked. It goes into the average of its session, with something to know",
        Disposition::SetAside => "set aside. It is kept and listed, and does not go into the average",
    };
    let mut lines = vec![format!(
        "{} over {} {}{pulse}: {verdict}.",
        reading.systolic,
        reading.diastolic,
        reading.unit.name()
    )];
    lines.extend(judgement.reasons.iter().map(|reason| of_rule(reason.rule())));
    if let Some(words) = &reading.discarded {
        lines.push(format!("Their own words: {words}"));
    }
    if judgement.is_by_strict() {
        lines.push(
            "These faults alone would only mark it. They set it aside because `strict` is stated for this person."
                .to_owned(),
        );
    }
    for reason in contradicted(reading).iter() {
        lines.push(format!(
            "Ignored: the monitor set its bit for {}, and its Blood Pressure Feature says that it does not look for that.",
            reason.name()
        ));
    }
    if judgement.mean_arterial_pressure.is_none() && reading.mean_arterial_pressure.special().is_none() {
        lines.push(format!(
            "Dropped: the mean arterial pressure of {} does not lie between the other two. They stand without it.",
            reading.mean_arterial_pressure
        ));
    }
    if reading.time.precision == Precision::Minute {
        lines.push(
            "Its stamp has whole minutes only, which cannot prove that it was taken too soon after another."
                .to_owned(),
        );
    }
    lines
}

fn of_rule(rule: &Rule) -> String {
    let effect = rule.effect.map_or_else(String::new, |effect| {
        format!(
            " Known effect in mmHg, shown and never subtracted: systolic {}, diastolic {} ({}).",
            effect.systolic, effect.diastolic, effect.source
        )
    });
    format!(
        "{} ({}, {}): {} Source: {}.{effect}",
        rule.reason.name(),
        rule.basis.name(),
        rule.disposition.name(),
        rule.says,
        rule.source
    )
}
