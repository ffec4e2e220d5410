//! One monitor's connections by BlueZ: its notification stream, kept for the life of the process, and what is
//! done while it is connected.
//!
//! Readings come first. The stream is open and the subscriptions are asked for before the monitor connects,
//! wherever BlueZ knows its services; clock, features, battery and names are read when there is time. A
//! subscription is never ended by us and 0 is never written to a descriptor: a monitor takes that for "nobody
//! wants readings".

use super::bus::Bus;
use super::consent::{self, Left};
use super::fault::Fault;
use super::fetch::AfterFetch;
use super::line::{MonitorLine, SUBSCRIBE, is_awaited};
use super::questions::{self, Askable, all};
use super::{BLOOD_PRESSURE_SERVICE, HEALTH_SENSOR_SERVICE};
use crate::gatt::Characteristic;
use btleplug::api::{CharPropFlags, Peripheral as _, WriteType};
use btleplug::platform::{Peripheral, PeripheralId};
use dbus::Path;
use futures_util::StreamExt;
use std::sync::Arc;
use std::sync::atomic::Ordering;
use std::time::{Duration, Instant};
use tokio::task::JoinHandle;
use tokio::time::timeout;

/// A monitor advertises for 30 s or more; a connection that takes longer is given up, so that the next
/// advertisement can be answered.
const CONNECT_LIMIT: Duration = Duration::from_secs(20);
/// StartNotify was seen to hang for ever after a pairing that it had set off itself.
const SUBSCRIBE_LIMIT: Duration = Duration::from_secs(10);
/// One read or write: a few connection intervals. The Attribute Protocol itself would wait 30 s.
const READ_LIMIT: Duration = Duration::from_secs(5);
/// BlueZ may say "resolved" just before the services are on the bus: look again so often, so far apart. One
/// whose services have moved is discovered anew first, which takes as many round trips as it has attributes.
const DISCOVER_TRIES: u32 = 20;
const DISCOVER_PAUSE: Duration = Duration::from_millis(500);

const CONNECTING: &str = "connecting";

/// A failure on a link: what it means and what was said.
#[derive(Clone, PartialEq, Eq, Debug, thiserror::Error)]
#[error("{doing}: {said}")]
pub struct LinkError {
    /// What it means for us.
    pub fault: Fault,
    /// What was being done.
    pub doing: &'static str,
    /// What BlueZ or btleplug said, or that no answer came in time.
    pub said: String,
    /// Nothing was said in time.
    too_slow: bool,
}

impl LinkError {
    fn new(doing: &'static str, error: &btleplug::Error) -> Self {
        Self {
            fault: Fault::of(error),
            doing,
            said: error.to_string(),
            too_slow: false,
        }
    }

    /// The monitor was there, and the link broke while it was being made.
    pub(super) fn cut_short(&self) -> bool {
        self.doing == CONNECTING && self.fault == Fault::Transient && !self.too_slow
    }

    fn too_slow(doing: &'static str, limit: Duration) -> Self {
        Self {
            fault: Fault::Transient,
            doing,
            said: format!("no answer within {} s", limit.as_secs()),
            too_slow: true,
        }
    }
}

/// Opens the notification stream and lets it run for the life of the process. It must exist before the
/// monitor connects: BlueZ switches the subscription on by itself, and a monitor may speak and leave within
/// 20 ms.
pub(super) async fn listen(
    peripheral: &Peripheral,
    line: Arc<MonitorLine>,
) -> Result<Subscription, btleplug::Error> {
    let mut values = peripheral.notifications().await?;
    let task = tokio::spawn(async move {
        while let Some(value) = values.next().await {
            let characteristic = Characteristic::from(value.uuid);
            // A read of ours shows up here as well; it is kept where it was asked for.
            if is_awaited(characteristic) {
                line.heard(characteristic, value.value).await;
            }
        }
        tracing::warn!(monitor = %line.monitor(), "the notification stream ended");
    });
    Ok(Subscription(task))
}

/// An open notification stream. Dropping it closes the stream: two open ones would hear every value twice.
pub(super) struct Subscription(JoinHandle<()>);

impl Drop for Subscription {
    fn drop(&mut self) {
        self.0.abort();
    }
}

/// Asks for readings. Works before the monitor is connected where BlueZ holds its services.
pub(super) async fn subscribe(peripheral: &Peripheral) -> Result<usize, LinkError> {
    subscribe_to(peripheral, &SUBSCRIBE).await
}

async fn subscribe_to(peripheral: &Peripheral, wanted: &[Characteristic]) -> Result<usize, LinkError> {
    let doing = "subscribing";
    let mut subscribed = 0;
    let offered = peripheral.characteristics();
    for wanted in wanted {
        for found in offered.iter().filter(|c| c.uuid == wanted.uuid()) {
            match timeout(SUBSCRIBE_LIMIT, peripheral.subscribe(found)).await {
                Ok(Ok(())) => subscribed += 1,
                // It stands already.
                Ok(Err(error)) if stands_already(&error) => subscribed += 1,
                Ok(Err(error)) => return Err(LinkError::new(doing, &error)),
                Err(_) => return Err(LinkError::too_slow(doing, SUBSCRIBE_LIMIT)),
            }
        }
    }
    Ok(subscribed)
}

fn stands_already(error: &btleplug::Error) -> bool {
    let said = error.to_string().to_lowercase();
    ["inprogress", "in progress", "alreadyexists", "already"]
        .iter()
        .any(|word| said.contains(word))
}

/// Greets, then stays until nothing more comes. The monitor may hang up at any point; the caller then drops
/// this future.
pub(super) async fn attend(
    peripheral: &Peripheral,
    bus: &Bus,
    path: &Path<'static>,
    line: &MonitorLine,
) -> Result<(), LinkError> {
    let left = greet(peripheral, bus, path, line, true).await?;
    if consent::fetch_all(peripheral, line, left).await == AfterFetch::Leave {
        let _ = bus.disconnect(path).await;
        return Ok(());
    }
    consent::stay(peripheral, line).await;
    tracing::debug!(monitor = %line.monitor(), "nothing more comes; disconnecting");
    let _ = bus.disconnect(path).await;
    Ok(())
}

/// Connects, subscribes, and reads what there is time for. What cannot be read is left for another time. Gives the
/// consents of the monitor's users that are left.
pub(super) async fn greet(
    peripheral: &Peripheral,
    bus: &Bus,
    path: &Path<'static>,
    line: &MonitorLine,
    take_readings: bool,
) -> Result<Left, LinkError> {
    connect(peripheral, bus, path).await?;
    line.speaks();
    tracing::debug!(monitor = %line.monitor(), "connected");
    discover(peripheral).await?;
    let mut left = Left::new();
    if take_readings {
        match subscribe(peripheral).await {
            Ok(subscribed) => {
                line.subscribed();
                tracing::debug!(monitor = %line.monitor(), subscribed, "subscribed");
            }
            // One that keeps its users apart may want a consent first.
            Err(error) if Askable::has(peripheral, Characteristic::USER_CONTROL_POINT) && !error.too_slow => {
                tracing::debug!(monitor = %line.monitor(), "it does not let itself be subscribed to yet: {error}");
                line.users.has();
                line.users.refuses();
            }
            Err(error) => return Err(error),
        }
        left = consent::begin(peripheral, line).await;
    }
    questions::how_are_you(peripheral, line).await;
    read_from_bluez(bus, path, line).await;
    questions::who_are_you(peripheral, line).await;
    Ok(left)
}

async fn connect(peripheral: &Peripheral, bus: &Bus, path: &Path<'static>) -> Result<(), LinkError> {
    let doing = CONNECTING;
    match timeout(CONNECT_LIMIT, peripheral.connect()).await {
        Ok(Ok(())) => Ok(()),
        Ok(Err(error)) if error.to_string().contains("AlreadyConnected") => resolved(bus, path).await,
        Ok(Err(error)) => Err(LinkError::new(doing, &error)),
        Err(_) => {
            // BlueZ goes on trying until it is told to stop; its documented way is Disconnect.
            let _ = bus.disconnect(path).await;
            Err(LinkError::too_slow(doing, CONNECT_LIMIT))
        }
    }
}

/// Waits for a link that somebody else made to have its services discovered.
async fn resolved(bus: &Bus, path: &Path<'static>) -> Result<(), LinkError> {
    let started = Instant::now();
    while started.elapsed() < CONNECT_LIMIT {
        if bus
            .device(path)
            .await
            .ok()
            .flatten()
            .is_some_and(|device| device.resolved)
        {
            return Ok(());
        }
        tokio::time::sleep(Duration::from_millis(200)).await;
    }
    Err(LinkError::too_slow(
        "waiting for the monitor's services",
        CONNECT_LIMIT,
    ))
}

async fn discover(peripheral: &Peripheral) -> Result<(), LinkError> {
    let doing = "discovering services";
    for _ in 0..DISCOVER_TRIES {
        peripheral
            .discover_services()
            .await
            .map_err(|e| LinkError::new(doing, &e))?;
        if peripheral
            .services()
            .iter()
            .any(|service| [BLOOD_PRESSURE_SERVICE, HEALTH_SENSOR_SERVICE].contains(&service.uuid))
        {
            return Ok(());
        }
        tokio::time::sleep(DISCOVER_PAUSE).await;
    }
    Err(LinkError {
        fault: Fault::Other,
        doing,
        said: "it has no Blood Pressure service and no Generic Health Sensor service".into(),
        too_slow: false,
    })
}

impl Askable for Peripheral {
    async fn read(&self, wanted: Characteristic) -> Result<Option<Vec<u8>>, String> {
        let Some(found) = offered(self, wanted, CharPropFlags::READ) else {
            return Ok(None);
        };
        match timeout(READ_LIMIT, btleplug::api::Peripheral::read(self, &found)).await {
            Ok(Ok(value)) => Ok(Some(value)),
            Ok(Err(error)) => Err(error.to_string()),
            Err(_) => Err(LinkError::too_slow("reading", READ_LIMIT).to_string()),
        }
    }

    fn has(&self, wanted: Characteristic) -> bool {
        let offered = self.characteristics();
        offered.iter().any(|c| c.uuid == wanted.uuid())
    }

    async fn listen_to(&self, wanted: &[Characteristic]) -> Result<(), String> {
        let subscribed = subscribe_to(self, wanted).await;
        all(subscribed.map_err(|error| error.to_string())?, wanted)
    }

    async fn write(&self, wanted: Characteristic, value: Vec<u8>) -> Option<Result<(), String>> {
        let found = offered(self, wanted, CharPropFlags::WRITE)?;
        let writing = btleplug::api::Peripheral::write(self, &found, &value, WriteType::WithResponse);
        Some(match timeout(READ_LIMIT, writing).await {
            Ok(written) => written.map_err(|error| error.to_string()),
            Err(_) => Err(LinkError::too_slow("writing", READ_LIMIT).to_string()),
        })
    }
}

fn offered(
    peripheral: &Peripheral,
    wanted: Characteristic,
    how: CharPropFlags,
) -> Option<btleplug::api::Characteristic> {
    peripheral
        .characteristics()
        .into_iter()
        .find(|c| c.uuid == wanted.uuid() && c.properties.contains(how))
}

/// BlueZ keeps the battery and the appearance to itself; it shows the same values as properties.
async fn read_from_bluez(bus: &Bus, path: &Path<'static>, line: &MonitorLine) {
    if let Some(level) = bus.battery(path).await {
        line.heard(Characteristic::BATTERY_LEVEL, vec![level]).await;
    }
    if !line.identified.load(Ordering::Relaxed)
        && let Ok(Some(device)) = bus.device(path).await
        && let Some(appearance) = device.appearance
    {
        line.heard(Characteristic::APPEARANCE, appearance.to_le_bytes().to_vec())
            .await;
    }
}

/// BlueZ's object path of a btleplug id, which prints without the common beginning.
pub(super) fn path_of(id: &PeripheralId) -> Path<'static> {
    Path::from(format!("/org/bluez/{id}"))
}
