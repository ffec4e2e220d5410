//! `quietcuff monitors list`: what is enrolled, and what its care wants.

use crate::cli::failure::Outcome;
use crate::cli::place::Everywhere;
use crate::frame::Frame;
use crate::gatt::{Characteristic, Feature, printable};
use crate::household::{Monitor, MonitorAddress, MonitorId, Site};
use std::collections::BTreeMap;
use std::io::Write;
use std::process::ExitCode;

pub(super) fn describe(monitor: &Monitor) -> String {
    let name = monitor
        .model
        .as_deref()
        .or(monitor.name.as_deref())
        .unwrap_or("a monitor");
    let site = match monitor.site {
        Some(Site::UpperArm) => " (upper arm)",
        Some(Site::Wrist) => " (wrist)",
        None => "",
    };
    let serial = monitor
        .serial
        .as_ref()
        .map(|serial| format!(", serial {}", printable(serial)))
        .unwrap_or_default();
    format!("{}{site}{serial}", printable(name))
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

pub(super) fn list(here: &Everywhere, json: bool) -> Outcome {
    let mut journal = here.read_journal()?;
    let stated = here.stated(&journal)?;
    let (household, zones) = (&stated.household, &stated.zones);
    let today = zones.civil(jiff::Timestamp::now()).date();
    let cared = journal.cares(&stated, jiff::Timestamp::now())?;
    let mut out = std::io::stdout().lock();
    for (id, care) in &cared {
        let Some((monitor, _)) = household.monitors.get(id) else {
            continue;
        };
        let facts = match &monitor.address {
            Some(address) => facts(journal.newest(address)?),
            None => BTreeMap::new(),
        };
        if json {
            let mut line = listed(id, monitor, &facts);
            if let Some(line) = line.as_object_mut() {
                line.insert("care".into(), care_json(care));
            }
            writeln!(out, "{line}")?;
        } else {
            let address = monitor
                .address
                .as_ref()
                .map(MonitorAddress::to_string)
                .unwrap_or_default();
            let battery = facts
                .get(&Characteristic::BATTERY_LEVEL)
                .and_then(|value| value.first())
                .map(|level| format!(", battery {level} %"))
                .unwrap_or_default();
            writeln!(
                out,
                "{id:<8} {address}  {}{battery}, {} measurements",
                describe(monitor),
                care.measurements
            )?;
            for due in &care.due {
                let when = if due.on <= today {
                    "due now".to_owned()
                } else {
                    format!("due on {}", due.on)
                };
                writeln!(
                    out,
                    "         {} {when}: {} ({})",
                    due.task.words(),
                    due.because,
                    due.source
                )?;
            }
        }
    }
    if household.monitors.values().all(|(_, forgotten)| *forgotten) && !json {
        eprintln!("quietcuff: no monitor is enrolled; `quietcuff monitors find` lists what is in range");
    }
    Ok(ExitCode::SUCCESS)
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
