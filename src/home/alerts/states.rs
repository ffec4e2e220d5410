//! The state of the home as home automation reads it: topics below the broker's, each with one JSON object.
//!
//! | topic | what |
//! |---|---|
//! | `collector` | whether readings can be received: `listening` or `deaf`, since when, why |
//! | `person/ID` | the session: `due`, `half-done`, `missed` or `none`; whether something must not wait |
//! | `person/ID/reading` | the last reading of three days, where the configuration says `readings = true` |
//! | `person/ID/average` | with it, the average of the period that ended last, for as long as that is news |
//! | `monitor/ID` | when it was last heard, its battery, what is due for it |

use super::look::Look;
use crate::gatt::Sfloat;
use crate::household::PersonId;
use crate::monitoring::reminders::{BACK, Kind, Reminder, What};
use crate::reading::pressures;
use jiff::Timestamp;
use serde_json::{Value, json};
use std::collections::BTreeMap;

/// Every state at this moment; `null` where there is none any more, so that no broker keeps what is not so:
/// of a person who was removed, a monitor that was forgotten, a reading that turned out to be somebody else's, and an
/// average that nobody waits for any more.
pub fn states(
    look: &Look,
    reminders: &[Reminder],
    readings: bool,
    now: Timestamp,
) -> BTreeMap<String, Value> {
    let mut states = BTreeMap::new();
    states.insert(
        "collector".to_owned(),
        match &look.deaf {
            None => json!({ "state": "listening" }),
            Some(deaf) => json!({ "state": "deaf", "since": deaf.since, "because": deaf.why }),
        },
    );
    for (id, (_, removed)) in &look.stated.household.people {
        let last = last_reading(look, id, now).filter(|_| readings && !removed);
        states.insert(format!("person/{id}/reading"), last.unwrap_or(Value::Null));
        let average = average(reminders, id, now).filter(|_| readings && !removed);
        states.insert(format!("person/{id}/average"), average.unwrap_or(Value::Null));
        if *removed {
            states.insert(format!("person/{id}"), Value::Null);
        }
    }
    for (monitor, (_, forgotten)) in &look.stated.household.monitors {
        if *forgotten {
            states.insert(format!("monitor/{monitor}"), Value::Null);
        }
    }
    for measured in &look.people {
        let id = &measured.person;
        let due = |kind: Kind| {
            reminders
                .iter()
                .any(|one| one.person.as_ref() == Some(id) && one.kind() == kind && one.is_due(now))
        };
        let session = [
            (Kind::HalfDone, "half-done"),
            (Kind::SessionDue, "due"),
            (Kind::Missed, "missed"),
        ]
        .into_iter()
        .find(|(kind, _)| due(*kind))
        .map_or("none", |(_, name)| name);
        states.insert(
            format!("person/{id}"),
            json!({ "person": id, "session": session, "urgent": due(Kind::Urgent) }),
        );
    }
    for heard in &look.monitors {
        let today = look.stated.zones.civil(now).date();
        let due: Vec<&str> = heard.care.due_on(today).map(|due| due.task.name()).collect();
        states.insert(
            format!("monitor/{}", heard.monitor),
            json!({
                "monitor": heard.monitor, "last_heard": heard.heard,
                "battery_percent": heard.care.battery, "due": due,
            }),
        );
    }
    states
}

/// Of the period that is told of as finished; there is none before there is enough.
fn average(reminders: &[Reminder], person: &PersonId, now: Timestamp) -> Option<Value> {
    let finished = reminders
        .iter()
        .filter(|one| one.person.as_ref() == Some(person) && one.is_due(now));
    let period = finished
        .filter_map(|one| match &one.what {
            What::PeriodFinished(period) => Some(period),
            _ => None,
        })
        .max_by_key(|period| period.to)?;
    let average = period.average.as_ref()?;
    Some(json!({
        "person": person, "protocol": period.protocol, "from": period.from, "to": period.to,
        "systolic": average.systolic, "diastolic": average.diastolic, "pulse_rate": average.pulse_rate,
        "unit": "mmHg", "readings": average.n, "days": average.days,
    }))
}

fn last_reading(look: &Look, person: &PersonId, now: Timestamp) -> Option<Value> {
    let since = now.checked_sub(BACK).ok();
    let (reading, disposition) = look
        .readings
        .iter()
        .zip(&look.dispositions)
        .filter(|(reading, _)| {
            reading.person.as_ref() == Some(person) && reading.time.at.is_some_and(|at| Some(at) >= since)
        })
        .max_by_key(|(reading, _)| reading.time.at)?;
    let number = |value: Sfloat| value.to_f64();
    let mmhg = pressures(reading);
    Some(json!({
        "id": reading.id.0, "measured_at": reading.time.at,
        "systolic": number(reading.systolic), "diastolic": number(reading.diastolic),
        "pulse_rate": reading.pulse_rate.and_then(number), "unit": unit(reading.unit),
        "systolic_mmhg": mmhg.map(|(systolic, _)| systolic.mmhg()),
        "diastolic_mmhg": mmhg.map(|(_, diastolic)| diastolic.mmhg()),
        "disposition": disposition.name(),
    }))
}

const fn unit(unit: crate::gatt::Unit) -> &'static str {
    match unit {
        crate::gatt::Unit::MmHg => "mmHg",
        crate::gatt::Unit::KPa => "kPa",
    }
}
