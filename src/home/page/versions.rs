//! Two versions of a person beside each other, where somebody else changed them while a form was open.

use super::ask::Ask;
use crate::household::{Arm, Condition, Person, PersonTarget, Window};
use crate::monitoring::stated::Stated;
use crate::monitoring::titles::of_protocol;
use maud::{Markup, html};

pub(super) const CONDITIONS: [(&str, Condition); 3] = [
    ("condition-pregnancy", Condition::Pregnancy),
    ("condition-atrial-fibrillation", Condition::AtrialFibrillation),
    ("condition-dialysis", Condition::Dialysis),
];

/// What the form was begun from, what is so now and what was typed, of each fact that is not the same everywhere.
pub(super) fn both(ask: &Ask, known: &Stated, base: &Person, now: &Person, typed: &Person) -> Markup {
    let rows = facts(ask, known, base)
        .into_iter()
        .zip(facts(ask, known, now))
        .zip(facts(ask, known, typed))
        .filter(|((begun, now), typed)| begun.1 != now.1 || begun.1 != typed.1);
    let shown = |text: &str| {
        if text.is_empty() {
            "–".to_owned()
        } else {
            text.to_owned()
        }
    };
    html! {
        section.notice role="alert" aria-labelledby="versions" {
            h2 #versions { (ask.say("versions-title")) }
            p { (ask.say("versions-say")) }
            div.scroll tabindex="0" role="group" aria-labelledby="versions" {
                table.versions {
                    thead {
                        tr {
                            td {}
                            @for name in ["versions-begun", "versions-now", "versions-yours"] {
                                th scope="col" { (ask.say(name)) }
                            }
                        }
                    }
                    tbody {
                        @for ((begun, now), typed) in rows {
                            tr {
                                th scope="row" { (ask.say(begun.0)) }
                                td { (shown(&begun.1)) }
                                td { (shown(&now.1)) }
                                td { (shown(&typed.1)) }
                            }
                        }
                    }
                }
            }
            p { (ask.say("versions-below")) }
        }
    }
}

/// Every fact that the form shows, in its order.
fn facts(ask: &Ask, known: &Stated, person: &Person) -> [(&'static str, String); 14] {
    let window = |window: Option<Window>| {
        let hours =
            window.map(|hours| format!("{}–{}", ask.words.time(hours.from), ask.words.time(hours.to)));
        hours.unwrap_or_default()
    };
    let arm = match person.arm {
        Some(Arm::Left) => ask.say("arm-left"),
        Some(Arm::Right) => ask.say("arm-right"),
        None => String::new(),
    };
    let conditions: Vec<String> = CONDITIONS
        .iter()
        .filter(|(_, condition)| person.conditions.contains(condition))
        .map(|(name, _)| ask.say(name))
        .collect();
    let protocol = person.protocol.as_deref().map(|name| {
        let protocol = known.protocols.get(name).ok();
        protocol.map_or_else(
            || name.to_owned(),
            |protocol| of_protocol(ask.words, &protocol.title),
        )
    });
    let threshold = person
        .threshold
        .map(|t| format!("{}/{} mmHg", t.systolic, t.diastolic));
    [
        ("person-label", person.label.clone()),
        ("person-born", born_said(person).unwrap_or_default()),
        (
            "person-record-number",
            person.record_number.clone().unwrap_or_default(),
        ),
        ("person-group", person.group.clone().unwrap_or_default()),
        ("person-arm", arm),
        (
            "person-arm-cm",
            person.arm_cm.map(|cm| format!("{cm} cm")).unwrap_or_default(),
        ),
        ("person-morning", window(person.morning)),
        ("person-evening", window(person.evening)),
        ("person-protocol", protocol.unwrap_or_default()),
        ("person-threshold", threshold.unwrap_or_default()),
        (
            "person-target",
            person.target.as_ref().map(target_said).unwrap_or_default(),
        ),
        ("person-conditions", conditions.join("; ")),
        (
            "person-gave-birth",
            person
                .gave_birth
                .map(|day| ask.words.date_with_year(day))
                .unwrap_or_default(),
        ),
        (
            "person-strict",
            if person.strict {
                ask.say("person-strict-say")
            } else {
                String::new()
            },
        ),
    ]
}

/// The day or the year in which somebody was born, as the form takes it.
pub(super) fn born_said(person: &Person) -> Option<String> {
    let day = person.born_on.map(|day| day.to_string());
    day.or_else(|| person.born.map(|year| year.to_string()))
}

/// A target as lists show it: its numbers, who chose it, and where that is written.
pub(super) fn target_said(target: &PersonTarget) -> String {
    let numbers = format!("{}/{} mmHg", target.systolic, target.diastolic);
    let words = target.by.iter().chain(&target.source).cloned();
    std::iter::once(numbers)
        .chain(words)
        .collect::<Vec<_>>()
        .join("; ")
}
