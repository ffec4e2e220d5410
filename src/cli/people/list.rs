//! The list of the people, one a line.

use super::details::CONDITIONS;
use crate::cli::failure::Failure;
use crate::cli::output::json_line;
use crate::household::{
    Arm, Condition, Household, MonitorId, Person, PersonId, PersonTarget, Threshold, Window,
};
use jiff::Timestamp;
use jiff::civil::{Date, Time};
use serde::Serialize;
use std::io::Write;

#[derive(Serialize)]
struct Line<'a> {
    id: &'a PersonId,
    label: &'a str,
    born: Option<i16>,
    #[serde(skip_serializing_if = "Option::is_none")]
    born_on: Option<Date>,
    #[serde(skip_serializing_if = "Option::is_none")]
    record_number: Option<&'a str>,
    arm_cm: Option<f32>,
    arm: Option<Arm>,
    morning: Option<String>,
    evening: Option<String>,
    protocol: Option<&'a str>,
    threshold: Option<Threshold>,
    target: Option<&'a PersonTarget>,
    conditions: &'a [Condition],
    #[serde(skip_serializing_if = "Option::is_none")]
    gave_birth: Option<Date>,
    strict: bool,
    removed: bool,
    users: Vec<User<'a>>,
    usual: Vec<&'a MonitorId>,
}

#[derive(Serialize)]
struct User<'a> {
    monitor: &'a MonitorId,
    user_id: u8,
    /// From when on; `null` means from the beginning.
    since: Option<Timestamp>,
}

pub(super) fn list(household: &Household, all: bool, json: bool) -> Result<(), Failure> {
    let mut out = std::io::BufWriter::new(std::io::stdout().lock());
    if household.people.values().all(|(_, removed)| *removed && !all) && !json {
        eprintln!("quietcuff: nobody has been added yet; `quietcuff people add ID` does it");
    }
    for (id, (person, removed)) in &household.people {
        if *removed && !all {
            continue;
        }
        let line = Line {
            id,
            label: &person.label,
            born: person.born,
            born_on: person.born_on,
            record_number: person.record_number.as_deref(),
            arm_cm: person.arm_cm,
            arm: person.arm,
            morning: person.morning.map(window),
            evening: person.evening.map(window),
            protocol: person.protocol.as_deref(),
            threshold: person.threshold,
            target: person.target.as_ref(),
            conditions: &person.conditions,
            gave_birth: person.gave_birth,
            strict: person.strict,
            removed: *removed,
            users: household
                .user_indexes
                .iter()
                .filter(|(_, mapping)| mapping.holder() == Some(id))
                .map(|((monitor, user_id), mapping)| User {
                    monitor,
                    user_id: *user_id,
                    since: mapping.since(),
                })
                .collect(),
            usual: household
                .usual
                .iter()
                .filter(|(_, mapping)| mapping.holder() == Some(id))
                .map(|(monitor, _)| monitor)
                .collect(),
        };
        if json {
            json_line(&mut out, &line)?;
        } else {
            print(&mut out, person, &line)?;
        }
    }
    Ok(out.flush()?)
}

fn print(out: &mut impl Write, person: &Person, line: &Line<'_>) -> std::io::Result<()> {
    let mut facts: Vec<String> = Vec::new();
    facts.extend(line.removed.then(|| "removed".to_owned()));
    facts.extend(facts_of(person));
    let since = |since: Option<Timestamp>| {
        since
            .map(|since| format!(" since {since:.0}"))
            .unwrap_or_default()
    };
    let users = line
        .users
        .iter()
        .map(|user| format!("user {} of {}{}", user.user_id, user.monitor, since(user.since)));
    facts.extend(users);
    facts.extend(
        line.usual
            .iter()
            .map(|monitor| format!("usual person of {monitor}")),
    );
    writeln!(
        out,
        "{:<12}  {}  {}",
        line.id.as_str(),
        line.label,
        facts.join(", ")
    )
}

/// All that is known of a person, on one line.
pub(super) fn in_words(person: &Person) -> String {
    // Without escapes: they would take vowels apart from their letters. No label holds a control character.
    let mut facts = vec![format!("\"{}\"", person.label)];
    facts.extend(facts_of(person));
    facts.join(", ")
}

fn window(window: Window) -> String {
    let minute = |time: Time| time.strftime("%H:%M").to_string();
    format!("{}-{}", minute(window.from), minute(window.to))
}

fn facts_of(person: &Person) -> Vec<String> {
    let mut facts: Vec<String> = Vec::new();
    facts.extend(match person.born_on {
        Some(day) => Some(format!("born {day}")),
        None => person.born.map(|born| format!("born {born}")),
    });
    let number = person.record_number.as_ref();
    facts.extend(number.map(|number| format!("record number {number}")));
    facts.extend(person.arm_cm.map(|cm| format!("arm {cm} cm")));
    facts.extend(person.arm.map(|arm| {
        match arm {
            Arm::Left => "left arm",
            Arm::Right => "right arm",
        }
        .to_owned()
    }));
    facts.extend(person.morning.map(|hours| format!("morning {}", window(hours))));
    facts.extend(person.evening.map(|hours| format!("evening {}", window(hours))));
    facts.extend(
        person
            .protocol
            .as_ref()
            .map(|protocol| format!("protocol {protocol}")),
    );
    facts.extend(
        person
            .threshold
            .map(|t| format!("threshold {}/{} set by the clinic", t.systolic, t.diastolic)),
    );
    facts.extend(person.target.as_ref().map(|t| {
        let by = t.by.as_deref().unwrap_or("the clinic");
        let source = t
            .source
            .as_ref()
            .map(|source| format!(" ({source})"))
            .unwrap_or_default();
        format!("target below {}/{} set by {by}{source}", t.systolic, t.diastolic)
    }));
    let named = CONDITIONS
        .iter()
        .filter(|(_, condition)| person.conditions.contains(condition));
    facts.extend(named.map(|(name, _)| (*name).to_owned()));
    if let (Some(born), Some(end)) = (person.gave_birth, person.pregnancy_ends()) {
        facts.push(format!(
            "gave birth on {born}: the levels of pregnancy end on {end}"
        ));
    }
    facts.extend(person.strict.then(|| "strict".to_owned()));
    facts
}
