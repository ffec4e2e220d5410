//! `quietcuff monitors find`: who is in range, and what it says of itself.

use crate::cli::failure::Outcome;
use crate::cli::place::Everywhere;
use crate::gatt::{Appearance, printable};
use crate::household::MonitorId;
use crate::radio::bus::Bus;
use crate::roles::pairing;
use std::collections::BTreeMap;
use std::io::{IsTerminal, Write};
use std::process::ExitCode;
use std::time::Duration;

pub(super) async fn find(here: &Everywhere, time: Duration, all: bool, json: bool) -> Outcome {
    let bus = Bus::connect()?;
    let wanted = here.config()?.radio.adapter;
    if !json && std::io::stderr().is_terminal() {
        eprintln!(
            "Listening for {} s. Make the monitor advertise: its manual says how (often: hold its Bluetooth button).",
            time.as_secs()
        );
    }
    let seen = pairing::hear(&bus, wanted.as_ref(), time, all).await?;
    let known = match here.read_journal() {
        Ok(journal) => journal.household()?.addresses,
        Err(_) => BTreeMap::new(),
    };
    let mut out = std::io::stdout().lock();
    for (address, device) in &seen {
        let site = device.appearance.and_then(|a| Appearance(a).name());
        let id = known.get(address).map(MonitorId::as_str);
        if json {
            let line = serde_json::json!({
                "address": address, "address_type": device.address_type, "name": device.name, "kind": site,
                "blood_pressure": device.blood_pressure, "generic_health_sensor": device.health_sensor,
                "user_data": device.user_data,
                "rssi_dbm": device.rssi, "paired": device.paired, "monitor": id,
            });
            writeln!(out, "{line}")?;
        } else {
            let name = printable(device.name.as_deref().unwrap_or("(no name)"));
            let kind = site.map(|site| format!(", {site}")).unwrap_or_default();
            // One that names both is heard as a blood pressure monitor.
            let only = device.health_sensor && !device.blood_pressure;
            let sensor = if only {
                ", generic health sensor: what it sends is kept and not read yet"
            } else {
                ""
            };
            let users = if device.user_data {
                ", keeps its users apart: have a user's number and code at hand"
            } else {
                ""
            };
            let strength = device
                .rssi
                .map(|rssi| format!(", {rssi} dBm"))
                .unwrap_or_default();
            let paired = if device.paired { ", paired" } else { "" };
            let enrolled = id.map(|id| format!(", enrolled as {id}")).unwrap_or_default();
            writeln!(
                out,
                "{address}  {name}{kind}{sensor}{users}{strength}{paired}{enrolled}"
            )?;
        }
    }
    if seen.is_empty() && !json {
        writeln!(
            out,
            "No blood pressure monitor was heard. Start its pairing mode and try again; `--all` lists every device."
        )?;
    }
    Ok(ExitCode::SUCCESS)
}
