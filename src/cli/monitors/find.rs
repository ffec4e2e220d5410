//! `quietcuff monitors find`: who is in range, and what it says of itself.

use super::adapter::{LOOK, adapter};
use crate::cli::failure::Outcome;
use crate::cli::place::Everywhere;
use crate::gatt::{Appearance, printable};
use crate::household::{MonitorAddress, MonitorId};
use crate::radio::bus::{Bus, Device};
use std::collections::BTreeMap;
use std::io::{IsTerminal, Write};
use std::process::ExitCode;
use std::time::{Duration, Instant};

pub(super) async fn find(here: &Everywhere, time: Duration, all: bool, json: bool) -> Outcome {
    let bus = Bus::connect()?;
    let (adapter, _) = adapter(here, &bus).await?;
    bus.start_scan(&adapter.path, None).await?;
    if !json && std::io::stderr().is_terminal() {
        eprintln!(
            "Listening for {} s. Make the monitor advertise: its manual says how (often: hold its Bluetooth button).",
            time.as_secs()
        );
    }
    let started = Instant::now();
    let mut seen: BTreeMap<MonitorAddress, Device> = BTreeMap::new();
    while started.elapsed() < time {
        tokio::time::sleep(LOOK.min(time)).await;
        let objects = bus.objects().await?;
        let below = format!("{}/", adapter.path);
        for device in objects.devices.into_iter().filter(|d| d.path.starts_with(&below)) {
            // Signal strength is there only while a device is heard; BlueZ remembers many more.
            if (device.rssi.is_some() || device.connected) && (all || device.blood_pressure) {
                seen.insert(device.address.clone(), device);
            }
        }
    }
    let _ = bus.stop_scan(&adapter.path).await;
    let known = match here.existing_journal() {
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
                "blood_pressure": device.blood_pressure, "rssi_dbm": device.rssi, "paired": device.paired, "monitor": id,
            });
            writeln!(out, "{line}")?;
        } else {
            let name = printable(device.name.as_deref().unwrap_or("(no name)"));
            let kind = site.map(|site| format!(", {site}")).unwrap_or_default();
            let strength = device
                .rssi
                .map(|rssi| format!(", {rssi} dBm"))
                .unwrap_or_default();
            let paired = if device.paired { ", paired" } else { "" };
            let enrolled = id.map(|id| format!(", enrolled as {id}")).unwrap_or_default();
            writeln!(out, "{address}  {name}{kind}{strength}{paired}{enrolled}")?;
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
