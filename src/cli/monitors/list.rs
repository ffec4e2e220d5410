//! `quietcuff monitors list`: what is enrolled, and what its care wants.

use crate::cli::days;
use crate::cli::failure::Outcome;
use crate::cli::place::{Everywhere, Reader};
use crate::cli::rows::{padded, widest};
use crate::cli::summary::paragraph_behind;
use crate::export::report::words::{held, source};
use crate::frame::Frame;
use crate::gatt::{Characteristic, Feature, printable};
use crate::household::{Household, Mapping, Monitor, MonitorAddress, MonitorId, PersonId, Site};
use crate::journal::Listener;
use crate::monitoring::care::Due;
use crate::monitoring::stated::Stated;
use crate::words::Words;
use jiff::Timestamp;
use jiff::civil::Date;
use std::collections::BTreeMap;
use std::io::Write;
use std::process::ExitCode;

/// Its name, where it is worn, and its serial number.
pub(super) fn describe(monitor: &Monitor, words: &Words) -> String {
    let name = monitor.model.as_deref().or(monitor.name.as_deref());
    let name = name.map_or_else(|| words.say("column-monitor"), |name| printable(name).to_string());
    let site = monitor.site.map_or_else(String::new, |site| {
        let site = match site {
            Site::UpperArm => "beside-upper-arm",
            Site::Wrist => "beside-wrist",
        };
        format!(" ({})", words.say(site))
    });
    let serial = monitor.serial.as_ref().map_or_else(String::new, |serial| {
        format!(", {} {}", words.say("fact-serial"), printable(serial))
    });
    format!("{name}{site}{serial}")
}

pub(super) fn listed(
    id: &MonitorId,
    monitor: &Monitor,
    facts: &BTreeMap<Characteristic, Vec<u8>>,
) -> serde_json::Value {
    let features = facts
        .get(&Characteristic::BLOOD_PRESSURE_FEATURE)
        .and_then(|value| Feature::decode(value).ok())
        .map(|feature| {
            feature
                .named()
                .filter(|(_, has)| *has)
                .map(|(name, _)| name)
                .collect::<Vec<_>>()
        });
    let battery = facts
        .get(&Characteristic::BATTERY_LEVEL)
        .and_then(|value| value.first().copied());
    let mut line = serde_json::to_value(monitor).unwrap_or_default();
    if let Some(line) = line.as_object_mut() {
        line.insert("id".into(), serde_json::json!(id));
        line.insert("features".into(), serde_json::json!(features));
        line.insert("battery_percent".into(), serde_json::json!(battery));
    }
    line
}

pub(super) fn list(here: &Everywhere, reader: &Reader, json: bool) -> Outcome {
    let words = here.words(reader)?;
    let mut journal = here.read_journal()?;
    let stated = here.stated(&journal)?;
    let (household, zones) = (&stated.household, &stated.zones);
    let now = Timestamp::now();
    let today = zones.civil(now).date();
    let cared = journal.cares(&stated, now)?;
    let (listeners, last_heard) = (journal.listeners()?, journal.last_heard()?);
    let ids = widest(cared.iter().map(|(id, _)| id.as_str()));
    let mut out = std::io::stdout().lock();
    for (id, care) in &cared {
        let monitor = &journal.described(household, id)?;
        let rooms: Vec<&Listener> = listeners
            .iter()
            .filter(|listener| household.rooms_of(id).any(|room| room == listener.id))
            .collect();
        let facts = match &monitor.address {
            Some(address) => facts(journal.newest(address)?),
            None => BTreeMap::new(),
        };
        if json {
            let mut line = listed(id, monitor, &facts);
            if let Some(line) = line.as_object_mut() {
                line.insert("care".into(), care_json(care));
                line.insert("whose".into(), whose_json(household, id, now));
                let heard = last_heard.get(id.as_str());
                let heard = heard.map(|at| days::shown(*at, zones));
                line.insert("last_heard".into(), serde_json::json!(heard));
                line.insert("here".into(), household.here.contains(id).into());
                line.insert("rooms".into(), rooms_json(&rooms));
            }
            writeln!(out, "{line}")?;
        } else {
            let address = monitor
                .address
                .as_ref()
                .map(MonitorAddress::to_string)
                .unwrap_or_default();
            let mut said = vec![describe(monitor, words)];
            let battery = facts.get(&Characteristic::BATTERY_LEVEL);
            let battery = battery.and_then(|value| value.first());
            said.extend(battery.map(|level| format!("{} {level} %", words.say("monitor-battery"))));
            said.push(format!(
                "{} {}",
                words.say("monitor-measurements"),
                care.measurements
            ));
            said.extend(whose(&stated, id, words, now));
            said.extend(places(household.here.contains(id), &rooms, words));
            let first = format!("{}  {address}  ", padded(id.as_str(), ids));
            paragraph_behind(&mut out, &first, &" ".repeat(ids + 2), &said.join(", "))?;
            for due in &care.due {
                paragraph_behind(
                    &mut out,
                    &format!("{}- ", " ".repeat(ids + 2)),
                    &" ".repeat(ids + 4),
                    &due_in_words(due, today, words),
                )?;
            }
        }
    }
    if household.monitors.values().all(|(_, forgotten)| *forgotten) && !json {
        let command = [("command", "`quietcuff monitors find`".into())];
        eprintln!("quietcuff: {}", words.with("nothing-enrolled", &command));
    }
    Ok(ExitCode::SUCCESS)
}

/// Each number of a monitor that somebody has, `None` first: what comes without a number.
fn numbers<'a>(
    household: &'a Household,
    id: &MonitorId,
    now: Timestamp,
) -> impl Iterator<Item = (Option<u8>, &'a PersonId, &'a Mapping)> {
    let usual = household.usual.get(id).map(|mapping| (None, mapping));
    let users = household.user_indexes.iter();
    let users = users.filter(move |((monitor, _), _)| monitor == id);
    usual
        .into_iter()
        .chain(users.map(|((_, number), mapping)| (Some(*number), mapping)))
        .filter_map(move |(number, mapping)| Some((number, mapping.at(now)?, mapping)))
}

/// Whose it is, since when and until when.
fn whose(stated: &Stated, id: &MonitorId, words: &Words, now: Timestamp) -> Vec<String> {
    numbers(&stated.household, id, now)
        .map(|(number, person, mapping)| {
            let label = stated.label(person);
            let of = match number {
                None => format!("{}: {label}", words.say("monitor-usual")),
                Some(number) => {
                    let values = [("number", number.to_string().into()), ("person", label.into())];
                    words.with("monitor-user", &values)
                }
            };
            let when = held(words, &stated.zones, mapping, now);
            if when.is_empty() {
                of
            } else {
                format!("{of} ({when})")
            }
        })
        .collect()
}

fn whose_json(household: &Household, id: &MonitorId, now: Timestamp) -> serde_json::Value {
    numbers(household, id, now)
        .map(|(number, person, mapping)| {
            serde_json::json!({
                "user_id": number, "person": person, "since": mapping.since(now), "until": mapping.until(now),
            })
        })
        .collect()
}

/// Where it is paired, where that is not this machine alone.
fn places(here: bool, rooms: &[&Listener], words: &Words) -> Option<String> {
    let named = rooms.iter().map(|room| printable(room.name()).to_string());
    let here = here.then(|| words.say("monitor-here"));
    let places: Vec<String> = here.into_iter().chain(named).collect();
    (!rooms.is_empty()).then(|| format!("{}: {}", words.say("monitor-places"), places.join(", ")))
}

fn rooms_json(rooms: &[&Listener]) -> serde_json::Value {
    let room = |room: &&Listener| serde_json::json!({ "listener": room.id, "label": room.label });
    rooms.iter().map(room).collect()
}

/// What its care wants, since when or from when on, and why.
fn due_in_words(due: &Due, today: Date, words: &Words) -> String {
    let values = [
        ("task", words.say(&format!("task-{}", due.task.name())).into()),
        ("date", words.date_with_year(due.on).into()),
        ("because", words.of(&due.because).into()),
    ];
    let source = source(words, due.source);
    if due.on <= today {
        return format!("{} {source}", words.with("sheet-due", &values));
    }
    let because = words.of(&due.because);
    format!("{} ({because}). {source}", words.with("monitor-due-on", &values))
}

/// What a monitor said of itself, without when.
pub(super) fn facts(newest: BTreeMap<Characteristic, Frame>) -> BTreeMap<Characteristic, Vec<u8>> {
    newest
        .into_iter()
        .map(|(characteristic, frame)| (characteristic, frame.value))
        .collect()
}

/// As listings print it.
fn care_json(care: &crate::monitoring::care::Care) -> serde_json::Value {
    let due: Vec<serde_json::Value> = care
        .due
        .iter()
        .map(|due| serde_json::json!({ "task": due.task.name(), "on": due.on, "because": due.because, "source": due.source }))
        .collect();
    serde_json::json!({
        "measurements": care.measurements, "in_use_since": care.since, "checked": care.checked,
        "batteries_changed": care.batteries_changed, "drops_since_check": care.drops, "due": due,
    })
}
