//! Brings the radio to where it listens, from wherever bluetoothd and the adapter have left it, and keeps it there.

use super::super::bus::{Adapter, BusChange, BusError};
use super::super::recover::Rung;
use super::super::{BLOOD_PRESSURE_SERVICE, current_time};
use super::{ANSWER_LIMIT, Central, CentralError, LOOK_AGAIN, OnAdapter};
use btleplug::api::{Central as _, Manager as _};
use btleplug::platform::Manager;
use std::sync::PoisonError;
use tokio::time::timeout;

/// A BlueZ that is not there, and what to do.
const NO_BLUEZ: &str = "bluetoothd is not running; start it with `systemctl start bluetooth`";

impl Central {
    /// bluetoothd or an adapter came or went: what we asked BlueZ for is forgotten.
    pub(super) fn changed(&mut self, change: &BusChange) {
        match change {
            BusChange::BluezWent => tracing::warn!("bluetoothd went away"),
            BusChange::BluezCame => tracing::info!("bluetoothd is back"),
            BusChange::Adapters => tracing::debug!("an adapter came or went"),
        }
        for link in self.links.values_mut() {
            link.subscribed = false;
        }
        if *change != BusChange::Adapters {
            self.all_links_down();
        }
    }

    /// Brings the radio to where it listens, from wherever it is. Does nothing where it listens already. An adapter or
    /// a bluetoothd that is missing is no error: the bus tells when it comes.
    pub(super) async fn set_up(&mut self) -> Result<(), CentralError> {
        match self.try_set_up().await {
            Ok(problem) => {
                if let Some(problem) = &problem {
                    tracing::warn!("{problem}");
                }
                self.tell(|report| report.problem = problem);
                Ok(())
            }
            Err(error) if error.is_denied() => Err(error.into()),
            Err(error) => {
                let problem = if error.is_no_bluez() {
                    NO_BLUEZ.to_owned()
                } else {
                    error.to_string()
                };
                tracing::warn!("{problem}");
                self.tell(|report| {
                    report.bluez = !error.is_no_bluez();
                    report.problem = Some(problem);
                });
                Ok(())
            }
        }
    }

    /// `Ok(Some(_))` says in words why it cannot listen yet.
    pub(super) async fn try_set_up(&mut self) -> Result<Option<String>, BusError> {
        if !self.bus.bluez_runs().await? {
            self.tell(|report| report.bluez = false);
            return Ok(Some(NO_BLUEZ.into()));
        }
        let objects = self.bus.objects().await?;
        self.tell(|report| report.bluez = true);
        let Some(adapter) = objects.choose(self.config.adapter.as_ref()) else {
            if self.on.take().is_some() {
                self.all_links_down();
                self.links.clear();
            }
            self.tell(|report| (report.adapter, report.powered) = (None, false));
            return Ok(Some(match &self.config.adapter {
                Some(wanted) => {
                    format!("the adapter {wanted} is not there; plug it in, or change `radio.adapter`")
                }
                None => "there is no Bluetooth adapter; plug one in".into(),
            }));
        };
        let mut powered = adapter.powered;
        if !powered && self.switched_on.insert(adapter.address.clone()) {
            self.bus.set_powered(&adapter.path, true).await?;
            powered = true;
        }
        self.switched_on.insert(adapter.address.clone());
        self.tell(|report| {
            report.adapter = Some(adapter.address.to_string());
            report.powered = powered;
        });
        if self.on.as_ref().is_none_or(|on| on.path != adapter.path) {
            self.all_links_down();
            self.links.clear();
            self.strangers.clear();
            match self.move_to(adapter).await {
                Ok(on) => self.on = Some(on),
                Err(error) => {
                    return Ok(Some(format!(
                        "cannot use the adapter {}: {error}",
                        adapter.address
                    )));
                }
            }
        }
        if !powered {
            return Ok(Some(format!(
                "the adapter {} is switched off; `bluetoothctl power on` switches it on",
                adapter.address
            )));
        }
        self.subscribe_to_all().await?;
        if self.scan().await? {
            return Ok(None);
        }
        self.look_again = Some(tokio::time::Instant::now() + LOOK_AGAIN);
        Ok(Some("BlueZ is busy with an older scan; asking again".into()))
    }

    pub(super) async fn move_to(&self, adapter: &Adapter) -> Result<OnAdapter, String> {
        let told = |e: btleplug::Error| e.to_string();
        let name = adapter.path.rsplit('/').next().unwrap_or_default().to_owned();
        for ble in self.manager.adapters().await.map_err(told)? {
            // btleplug prints an adapter as `hci0 (usb:…)`.
            if ble.adapter_info().await.map_err(told)?.split(' ').next() != Some(name.as_str()) {
                continue;
            }
            let events = timeout(ANSWER_LIMIT, ble.events())
                .await
                .map_err(|_| "no answer")?
                .map_err(told)?;
            let time = if self.config.serve_time {
                current_time::offer(&self.bus, &adapter.path, self.edge.clone())
                    .await
                    .inspect_err(|error| tracing::warn!("the Current Time service is not offered: {error}"))
                    .ok()
            } else {
                None
            };
            tracing::info!(adapter = %adapter.address, "using adapter {name}");
            return Ok(OnAdapter {
                ble,
                path: adapter.path.clone(),
                events,
                _time: time,
            });
        }
        Err("btleplug does not show it".into())
    }

    /// Starts the scan, and says whether it runs now.
    pub(super) async fn scan(&mut self) -> Result<bool, BusError> {
        let Some(on) = &self.on else { return Ok(false) };
        let named = self.config.named_service_only && !self.listening_to_all;
        let service = named.then_some(BLOOD_PRESSURE_SERVICE);
        let mut started = self.bus.start_scan(&on.path, service).await;
        if started.as_ref().is_err_and(BusError::is_in_progress) {
            // A scan of ours runs, or the kernel still ends one of a bluetoothd that was killed. Only a new one tells.
            let _ = self.bus.stop_scan(&on.path).await;
            started = self.bus.start_scan(&on.path, service).await;
        }
        match started {
            Ok(()) => {
                tracing::info!("scanning for {} monitor(s)", self.enrolled.len());
                self.tell(|report| report.scans_started += 1);
                Ok(true)
            }
            Err(error) if error.is_in_progress() => Ok(false),
            Err(error) => Err(error),
        }
    }

    pub(super) async fn heartbeat(&mut self) {
        let Some(on) = &self.on else {
            // Nothing to ask; the bus tells when an adapter comes.
            self.ladder.heartbeat(true);
            let _ = self.set_up().await;
            return;
        };
        let discovering = self.bus.discovering(&on.path).await;
        let powered = self.report.lock().unwrap_or_else(PoisonError::into_inner).powered;
        match discovering {
            Ok(true) => self.ladder.heartbeat(true),
            Ok(false) if !powered => self.ladder.heartbeat(true),
            Ok(false) => {
                self.ladder.heartbeat(true);
                tracing::warn!("BlueZ does not scan; asking it again");
                let _ = self.set_up().await;
            }
            Err(error) if error.is_no_bluez() || error.name.ends_with("UnknownObject") => {
                self.ladder.heartbeat(true);
                let _ = self.set_up().await;
            }
            Err(error) => {
                tracing::warn!("no heartbeat: {error}");
                self.ladder.heartbeat(false);
            }
        }
    }

    pub(super) async fn climb(&mut self, rung: Rung) -> Result<(), CentralError> {
        match rung {
            Rung::ListenToAll => tracing::debug!("listening to everybody for a while"),
            _ => tracing::warn!(
                ?rung,
                "nothing is heard from anybody any more; trying the next thing"
            ),
        }
        match rung {
            Rung::ListenToAll => {
                self.listening_to_all = true;
                self.restart_scan().await;
            }
            Rung::RestartScan => self.restart_scan().await,
            Rung::NewSession => {
                self.all_links_down();
                self.on = None;
                self.links.clear();
                self.manager = timeout(ANSWER_LIMIT, Manager::new())
                    .await
                    .map_err(|_| CentralError::Deaf)?
                    .map_err(|e| CentralError::Ble(e.to_string()))?;
                self.set_up().await?;
            }
            Rung::PowerCycle => {
                if let Some(path) = self.on.as_ref().map(|on| on.path.clone()) {
                    for on in [false, true] {
                        if let Err(error) = self.bus.set_powered(&path, on).await {
                            tracing::warn!("{error}");
                        }
                    }
                }
                self.set_up().await?;
            }
            Rung::Leave => return Err(CentralError::Deaf),
        }
        let counts = self.ladder.counts();
        self.tell(|report| report.recover = counts);
        Ok(())
    }

    pub(super) async fn restart_scan(&mut self) {
        if let Some(path) = self.on.as_ref().map(|on| on.path.clone()) {
            if let Err(error) = self.bus.stop_scan(&path).await {
                tracing::debug!("{error}");
            }
            if let Err(error) = self.scan().await {
                tracing::warn!("{error}");
            }
        }
    }

    /// The band is alive and so is the adapter: the filter can go on again.
    pub(super) async fn heard_stranger(&mut self) {
        self.ladder.heard(self.started.elapsed());
        if std::mem::take(&mut self.listening_to_all) && self.config.named_service_only {
            tracing::debug!("others are heard; listening for blood pressure monitors only");
            self.restart_scan().await;
        }
    }
}
