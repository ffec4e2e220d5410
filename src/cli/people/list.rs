//! The list of the people, one a line.

use super::details::CONDITIONS;
use crate::cli::failure::Failure;
use crate::cli::output::json_line;
use crate::cli::rows::{padded, widest};
use crate::cli::summary::paragraph_behind;
use crate::export::report::words::held;
use crate::household::{
    Arm, Condition, Mapping, MonitorId, Person, PersonId, PersonTarget, Threshold, Window,
};
use crate::monitoring::stated::Stated;
use crate::monitoring::titles::of_protocol;
use crate::words::{Language, Words};
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
    #[serde(skip_serializing_if = "Option::is_none")]
    group: Option<&'a str>,
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
    /// Until when, where that was said already.
    #[serde(skip_serializing_if = "Option::is_none")]
    until: Option<Timestamp>,
}

pub(super) fn list(stated: &Stated, words: &'static Words, all: bool, json: bool) -> Result<(), Failure> {
    let household = &stated.household;
    let now = Timestamp::now();
    let mut out = std::io::BufWriter::new(std::io::stdout().lock());
    if household.people.values().all(|(_, removed)| *removed && !all) && !json {
        let command = [("command", "`quietcuff people add ID`".into())];
        eprintln!("quietcuff: {}", words.with("nothing-added", &command));
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
            group: person.group.as_deref(),
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
                .filter(|(_, mapping)| mapping.at(now) == Some(id))
                .map(|((monitor, user_id), mapping)| User {
                    monitor,
                    user_id: *user_id,
                    since: mapping.since(now),
                    until: mapping.until(now),
                })
                .collect(),
            usual: household
                .usual
                .iter()
                .filter(|(_, mapping)| mapping.at(now) == Some(id))
                .map(|(monitor, _)| monitor)
                .collect(),
        };
        if json {
            json_line(&mut out, &line)?;
        } else {
            print(&mut out, (stated, person), &line, (words, now))?;
        }
    }
    Ok(out.flush()?)
}

fn print(
    out: &mut impl Write,
    (stated, person): (&Stated, &Person),
    line: &Line<'_>,
    (words, now): (&Words, Timestamp),
) -> std::io::Result<()> {
    let (household, zones) = (&stated.household, &stated.zones);
    let held = |of: String, mapping: Option<&Mapping>| {
        let when = mapping.map_or_else(String::new, |mapping| held(words, zones, mapping, now));
        if when.is_empty() {
            of
        } else {
            format!("{of} ({when})")
        }
    };
    let mut facts: Vec<String> = Vec::new();
    facts.extend(line.removed.then(|| words.say("person-removed")));
    facts.extend(facts_of(person, Some(stated), words));
    facts.extend(line.users.iter().map(|user| {
        let values = [
            ("number", user.user_id.to_string().into()),
            ("monitor", user.monitor.as_str().into()),
        ];
        let number = (user.monitor.clone(), user.user_id);
        held(
            words.with("people-user", &values),
            household.user_indexes.get(&number),
        )
    }));
    facts.extend(line.usual.iter().map(|monitor| {
        let name = [("monitor", monitor.as_str().into())];
        held(words.with("people-usual", &name), household.usual.get(*monitor))
    }));
    let people = &stated.household.people;
    let ids = widest(people.keys().map(PersonId::as_str));
    let labels = widest(people.values().map(|(person, _)| &person.label));
    let first = format!(
        "{}  {}  ",
        padded(line.id.as_str(), ids),
        padded(line.label, labels)
    );
    paragraph_behind(out, &first, &" ".repeat(ids + 2), &facts.join(", "))
}

/// All that is known of a person, on one line, in English.
pub(super) fn in_words(person: &Person) -> String {
    // Without escapes: they would take vowels apart from their letters. No label holds a control character.
    let mut facts = vec![format!("\"{}\"", person.label)];
    facts.extend(facts_of(person, None, Language::English.words()));
    facts.join(", ")
}

fn window(window: Window) -> String {
    let minute = |time: Time| time.strftime("%H:%M").to_string();
    format!("{}-{}", minute(window.from), minute(window.to))
}

/// What is known of a person; with what the household stated, protocols by their titles.
fn facts_of(person: &Person, stated: Option<&Stated>, words: &Words) -> Vec<String> {
    let named = |name: &str, fact: &str| format!("{}: {fact}", words.say(name));
    let born = match person.born_on {
        Some(day) => Some(words.date_with_year(day)),
        None => person.born.map(|born| born.to_string()),
    };
    let mut facts: Vec<String> = Vec::new();
    facts.extend(born.map(|born| words.with("sheet-born", &[("born", born.into())])));
    let number = person.record_number.as_deref();
    facts.extend(number.map(|number| words.with("sheet-record-number", &[("number", number.into())])));
    facts.extend(person.group.as_deref().map(|group| named("person-group", group)));
    facts.extend(person.arm_cm.map(|cm| {
        let cm = words.decimal(&cm.to_string());
        named("person-arm-cm", &format!("{cm} cm"))
    }));
    facts.extend(person.arm.map(|arm| {
        words.say(match arm {
            Arm::Left => "sheet-left-arm",
            Arm::Right => "sheet-right-arm",
        })
    }));
    for (name, hours) in [
        ("person-morning", person.morning),
        ("person-evening", person.evening),
    ] {
        facts.extend(hours.map(|hours| named(name, &window(hours))));
    }
    facts.extend(person.protocol.as_ref().map(|name| {
        let protocol = stated.and_then(|stated| stated.protocols.get(name).ok());
        let title = protocol.map_or_else(|| name.clone(), |protocol| of_protocol(words, &protocol.title));
        named("person-protocol", &title)
    }));
    facts.extend(person.threshold.map(|limits| {
        let limits = words.decimal(&format!("{}/{}", limits.systolic, limits.diastolic));
        named("person-threshold", &limits)
    }));
    facts.extend(person.target.as_ref().map(|target| {
        let limits = words.decimal(&format!("{}/{}", target.systolic, target.diastolic));
        let from: Vec<&str> = [&target.by, &target.source]
            .into_iter()
            .filter_map(|said| said.as_deref())
            .collect();
        let from = match from.as_slice() {
            [] => String::new(),
            from => format!(" ({})", from.join("; ")),
        };
        named("person-target", &format!("{limits}{from}"))
    }));
    let conditions = CONDITIONS
        .iter()
        .filter(|(_, condition)| person.conditions.contains(condition));
    facts.extend(conditions.map(|(name, _)| words.say(&format!("condition-{name}"))));
    if let (Some(born), Some(end)) = (person.gave_birth, person.pregnancy_ends()) {
        let values = [
            ("born", words.date_with_year(born).into()),
            ("ends", words.date_with_year(end).into()),
        ];
        facts.push(format!(
            "{} {}",
            words.say("person-gave-birth"),
            words.with("person-gave-birth-until", &values)
        ));
    }
    facts.extend(person.strict.then(|| words.say("person-strict")));
    facts
}
