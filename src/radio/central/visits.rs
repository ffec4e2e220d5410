//! A monitor's visits: it advertises, is connected to, sends, and leaves.

use super::super::bus::{BluezDevice, BusError};
use super::super::line::LinkBrought;
use super::super::link::{self, LinkError, path_of};
use super::super::patience::{ATTEMPT_GAP, After, Patience};
use super::super::way::Way;
use super::{Attempt, Central, STRANGERS_MAX, VisitByBlueZ};
use crate::household::MonitorAddress;
use crate::journal::Entry;
use btleplug::api::{Central as _, Peripheral as _};
use btleplug::platform::{Peripheral, PeripheralId};
use std::time::Instant;
use tokio::task::JoinHandle;
use tokio::time::sleep;

impl Central {
    /// Opens the stream and subscribes for every monitor whose services BlueZ holds, before it connects.
    pub(super) async fn subscribe_to_all(&mut self) -> Result<(), BusError> {
        let objects = self.bus.objects().await?;
        let Some(on) = &self.on else { return Ok(()) };
        let (ble, adapter) = (on.ble.clone(), on.path.clone());
        self.wait_for_all(&objects, &adapter);
        let known: Vec<_> = self
            .enrolled
            .keys()
            .filter_map(|address| objects.device(&adapter, address).cloned())
            .collect();
        if known.is_empty() {
            return Ok(());
        }
        let peripherals = match ble.peripherals().await {
            Ok(peripherals) => peripherals,
            Err(error) => {
                tracing::debug!("btleplug shows no devices: {error}");
                return Ok(());
            }
        };
        for device in known {
            let Some(peripheral) = peripherals.iter().find(|p| path_of(&p.id()) == device.path) else {
                continue;
            };
            let id = peripheral.id();
            if !self.links.contains_key(&id) {
                self.link(peripheral.clone(), &device.address).await;
            }
            if let Some(link) = self.links.get_mut(&id)
                && device.gatt_known
                && !link.subscribed
                && link.peripheral.discover_services().await.is_ok()
            {
                match link::subscribe(&link.peripheral).await {
                    Ok(subscribed) => {
                        link.subscribed = true;
                        tracing::debug!(monitor = %device.address, subscribed, "subscribed before it connects");
                    }
                    Err(error) => tracing::debug!(monitor = %device.address, "{error}"),
                }
            }
            if !device.attributes.is_empty() {
                self.tell_attributes(&device).await;
            }
            if device.connected {
                self.connected(&id).await;
            }
        }
        Ok(())
    }

    /// Tells the ear, by way of the journal, where the monitor's readings come from.
    async fn tell_attributes(&self, device: &BluezDevice) {
        let entry = Entry::Attributes(device.address.clone(), device.attributes.clone());
        // A journal that has stopped is told of where frames are handed over.
        let _ = self.frames.send(entry).await;
    }

    pub(super) async fn link(&mut self, peripheral: Peripheral, monitor: &MonitorAddress) {
        let Some(line) = self.lines.get(monitor).cloned() else {
            return;
        };
        let id = peripheral.id();
        let listening = match link::listen(&peripheral, line.clone()).await {
            Ok(listening) => listening,
            Err(error) => {
                tracing::warn!(%monitor, "its notification stream could not be opened: {error}");
                return;
            }
        };
        let path = path_of(&id);
        self.links.insert(
            id,
            VisitByBlueZ {
                peripheral,
                path,
                line,
                _listening: listening,
                attending: None,
                subscribed: false,
                connected: false,
                patience: Patience::default(),
            },
        );
    }

    pub(super) async fn advertised(&mut self, id: PeripheralId) {
        if self.strangers.contains(&id) {
            self.heard_stranger().await;
            return;
        }
        if !self.links.contains_key(&id) {
            let path = path_of(&id);
            // Signal strength is there only while a device is heard: what BlueZ merely remembers has not
            // advertised.
            let Ok(Some(device)) = self.bus.device(&path).await else {
                return;
            };
            if !self.enrolled.contains_key(&device.address) {
                if self.strangers.len() >= STRANGERS_MAX {
                    self.strangers.clear();
                }
                self.strangers.insert(id);
                if device.rssi.is_some() {
                    self.heard_stranger().await;
                }
                return;
            }
            let Some(ble) = self.on.as_ref().map(|on| on.ble.clone()) else {
                return;
            };
            let Ok(peripheral) = ble.peripheral(&id).await else {
                return;
            };
            self.link(peripheral, &device.address).await;
            if device.rssi.is_none() {
                return;
            }
        }
        self.answer(&id);
    }

    /// Connects, unless that is being done, was just tried, or the monitor has to be left alone.
    pub(super) fn answer(&mut self, id: &PeripheralId) {
        let Some(monitor) = self.links.get(id).map(|link| link.line.monitor().clone()) else {
            return;
        };
        let at = self.edge.now().at;
        self.tell_monitor(&monitor, |report| report.last_seen = Some(at));
        if self.is_ours(&monitor) {
            return;
        }
        let Some(link) = self.links.get_mut(id) else {
            return;
        };
        let busy = link.attending.as_ref().is_some_and(|task| !task.is_finished());
        if !busy && link.patience.try_now(Instant::now()) {
            tracing::debug!(%monitor, "advertises; connecting");
            let (bus, peripheral, path, line) = (
                self.bus.clone(),
                link.peripheral.clone(),
                link.path.clone(),
                link.line.clone(),
            );
            let (tell, id) = (self.outcomes.0.clone(), id.clone());
            link.attending = Some(tokio::spawn(async move {
                let result = link::attend(&peripheral, &bus, &path, &line).await;
                let _ = tell.send(Attempt::Ended(id, result)).await;
            }));
        }
    }

    pub(super) async fn connected(&mut self, id: &PeripheralId) {
        if !self.links.contains_key(id) {
            self.advertised(id.clone()).await;
        }
        let Some(link) = self.links.get_mut(id) else {
            return;
        };
        if link.connected {
            return;
        }
        link.connected = true;
        let monitor = link.line.monitor().clone();
        if self.is_ours(&monitor) {
            return;
        }
        let Some(link) = self.links.get_mut(id) else {
            return;
        };
        // Somebody else may have made the link, such as a pairing: its readings are ours to take all the
        // same.
        if link.attending.as_ref().is_none_or(JoinHandle::is_finished) {
            link.patience.use_at_once();
            self.answer(id);
        }
        self.tell_monitor(&monitor, |report| {
            report.connected = true;
            report.connections += 1;
            report.bearer = Some(Way::Bluez.name().to_owned());
        });
    }

    pub(super) fn disconnected(&mut self, id: &PeripheralId) {
        let Some(link) = self.links.get_mut(id) else {
            return;
        };
        if link.attending.is_none() {
            let monitor = link.line.monitor().clone();
            if self.is_ours(&monitor) {
                if let Some(link) = self.links.get_mut(id) {
                    link.connected = false;
                }
                return;
            }
        }
        let Some(link) = self.links.get_mut(id) else {
            return;
        };
        // An attempt that has ended tells of its failure itself: one broken link is one failure.
        let told = link.attending.as_ref().is_some_and(JoinHandle::is_finished);
        if let Some(task) = link.attending.take() {
            task.abort();
        }
        let was_connected = std::mem::take(&mut link.connected);
        // BlueZ drops a subscription whose renewal was still on its way when the monitor hung up. Ask again
        // before the next connection, which may come within half a second; where it still stands, BlueZ says
        // so.
        let (peripheral, again) = (link.peripheral.clone(), link.line.monitor().clone());
        let (bus, path, frames) = (self.bus.clone(), link.path.clone(), self.frames.clone());
        tokio::spawn(async move {
            if let Err(error) = link::subscribe(&peripheral).await {
                tracing::debug!(monitor = %again, "between connections: {error}");
            }
            // What it has may have moved.
            let attributes = bus.attributes(&path).await.unwrap_or_default();
            if !attributes.is_empty() {
                let _ = frames.send(Entry::Attributes(again, attributes)).await;
            }
        });
        let ended = link.line.ended();
        let good = ended.good();
        let LinkBrought { values, users, .. } = ended;
        let monitor = link.line.monitor().clone();
        self.is_free(&monitor);
        let Some(link) = self.links.get_mut(id) else {
            return;
        };
        tracing::info!(%monitor, values, "disconnected");
        let after = if good || was_connected && !told {
            link.patience.ended(good, Instant::now())
        } else {
            After::default()
        };
        self.tell_monitor(&monitor, |report| {
            report.connected = false;
            report.values += values;
            report.users = users.or(report.users.take());
            if good {
                report.problem = None;
            }
        });
        if let Some(rest) = after.rest {
            tracing::warn!(%monitor, "left alone for {} s: its links end before anything is heard", rest.as_secs());
        }
        if let Some(why) = after.bond {
            self.bond_is_lost(&monitor, why);
        }
    }

    pub(super) fn bond_is_lost(&self, monitor: &MonitorAddress, why: &str) {
        let problem =
            format!("{monitor}: {why}; start its pairing mode and run `quietcuff monitors add {monitor}`");
        tracing::error!("{problem}");
        self.tell_monitor(monitor, |report| report.problem = Some(problem));
    }

    pub(super) fn attended(&mut self, id: &PeripheralId, result: Result<(), LinkError>) {
        let Some(link) = self.links.get_mut(id) else {
            return;
        };
        let monitor = link.line.monitor().clone();
        let Err(error) = result else { return };
        tracing::info!(%monitor, "{error}");
        let after = link
            .patience
            .failed(error.fault, error.cut_short(), Instant::now());
        if after.again {
            let (tell, id) = (self.outcomes.0.clone(), id.clone());
            tokio::spawn(async move {
                sleep(ATTEMPT_GAP).await;
                let _ = tell.send(Attempt::Again(id)).await;
            });
        }
        if let Some(rest) = after.rest {
            tracing::warn!(%monitor, "left alone for {} s: {error}", rest.as_secs());
        }
        if let Some(why) = after.bond {
            self.bond_is_lost(&monitor, why);
        }
    }
}
