//! One monitor's connections: its notification stream, kept for the life of the process, and what is done while it is
//! connected.
//!
//! Readings come first. The stream is open and the subscriptions are asked for before the monitor connects, wherever
//! BlueZ knows its services; clock, features, battery and names are read when there is time. A subscription is never
//! ended by us and 0 is never written to a descriptor: a monitor takes that for "nobody wants readings".

use super::BLOOD_PRESSURE_SERVICE;
use super::bus::Bus;
use super::fault::Fault;
use crate::edge::Edge;
use crate::frame::{Frame, VALUE_OCTETS_MAX};
use crate::gatt::{AdjustReason, Characteristic, CurrentTime, DateTime};
use crate::household::MonitorAddress;
use crate::journal::Entry;
use btleplug::api::{CharPropFlags, Peripheral as _, WriteType};
use btleplug::platform::{Peripheral, PeripheralId};
use dbus::Path;
use futures_util::StreamExt;
use std::sync::atomic::{AtomicBool, AtomicU32, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};
use tokio::sync::mpsc;
use tokio::task::JoinHandle;
use tokio::time::timeout;

/// A monitor advertises for 30 s or more; a connection that takes longer is given up, so that the next advertisement
/// can be answered.
const CONNECT_LIMIT: Duration = Duration::from_secs(20);
/// StartNotify was seen to hang for ever after a pairing that it had set off itself.
const SUBSCRIBE_LIMIT: Duration = Duration::from_secs(10);
/// One read or write: a few connection intervals. The Attribute Protocol itself would wait 30 s.
const READ_LIMIT: Duration = Duration::from_secs(5);
/// The monitor ends the link, usually within 5 s of its last word. One that has said nothing for so long is let go.
const SILENCE_BEFORE_GOODBYE: Duration = Duration::from_secs(20);
/// BlueZ may say "resolved" just before the services are on the bus: look again so often, so far apart.
/// One whose services have moved is discovered anew first, which takes as many round trips as it has attributes.
const DISCOVER_TRIES: u32 = 20;
const DISCOVER_PAUSE: Duration = Duration::from_millis(500);

/// Clocks within a minute are left alone: nothing is gained, and each setting is one more thing to reckon with.
const CLOCK_OFF_S_MAX: i64 = 60;

/// What carries readings, the ones that a monitor may be waiting to send first.
const SUBSCRIBE: [Characteristic; 4] = [
    Characteristic::BLOOD_PRESSURE_MEASUREMENT,
    Characteristic::ENHANCED_BLOOD_PRESSURE_MEASUREMENT,
    Characteristic::INTERMEDIATE_CUFF_PRESSURE,
    Characteristic::ENHANCED_INTERMEDIATE_CUFF_PRESSURE,
];

/// The monitor's clock, best first. One is enough.
const CLOCKS: [Characteristic; 3] = [
    Characteristic::CURRENT_TIME,
    Characteristic::DEVICE_TIME,
    Characteristic::DATE_TIME,
];

/// Read on every connection that lasts.
const EACH_TIME: [Characteristic; 2] = [
    Characteristic::BLOOD_PRESSURE_FEATURE,
    Characteristic::BATTERY_LEVEL,
];

/// Read once in the life of the process: it does not change.
const ONCE: [Characteristic; 8] = [
    Characteristic::MANUFACTURER_NAME,
    Characteristic::MODEL_NUMBER,
    Characteristic::SERIAL_NUMBER,
    Characteristic::SYSTEM_ID,
    Characteristic::FIRMWARE_REVISION,
    Characteristic::HARDWARE_REVISION,
    Characteristic::SOFTWARE_REVISION,
    Characteristic::PNP_ID,
];

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

/// What the tasks of one monitor share.
#[derive(Debug)]
pub(super) struct Line {
    monitor: MonitorAddress,
    edge: Edge,
    frames: mpsc::Sender<Entry>,
    connection: AtomicU32,
    used: AtomicBool,
    last_word: Mutex<Instant>,
    /// The clock is to be set on the next connection that allows it.
    pub(super) set_clock: AtomicBool,
    /// A clock that is off by more than [`CLOCK_OFF_S_MAX`] is set without being asked.
    keep_clock_right: bool,
    /// Names and numbers that do not change have been read.
    identified: AtomicBool,
    values: AtomicU32,
    /// A subscription stood on this connection.
    subscribed: AtomicBool,
}

impl Line {
    pub(super) fn new(
        monitor: MonitorAddress,
        edge: Edge,
        frames: mpsc::Sender<Entry>,
        connection: u32,
        keep_clock_right: bool,
    ) -> Self {
        Self {
            keep_clock_right,
            monitor,
            edge,
            frames,
            connection: AtomicU32::new(connection),
            used: AtomicBool::new(false),
            last_word: Mutex::new(Instant::now()),
            set_clock: AtomicBool::new(false),
            identified: AtomicBool::new(false),
            values: AtomicU32::new(0),
            subscribed: AtomicBool::new(false),
        }
    }

    /// Stamps a value and hands it to the journal. Waits where the journal is behind: nothing is dropped.
    async fn heard(&self, characteristic: Characteristic, value: Vec<u8>) {
        // BlueZ hands on whatever fits the air, which is a little more than the protocol allows.
        if value.len() > VALUE_OCTETS_MAX {
            tracing::warn!(
                monitor = %self.monitor, %characteristic,
                "left out a value of {} octets; the Attribute Protocol allows {VALUE_OCTETS_MAX}", value.len()
            );
            return;
        }
        let now = self.edge.now();
        self.used.store(true, Ordering::Relaxed);
        *self.last_word.lock().unwrap_or_else(PoisonError::into_inner) = Instant::now();
        let frame = Frame {
            received_at: now.at,
            offset: now.offset,
            uptime: now.uptime,
            given_to: None,
            overheard: false,
            monitor: self.monitor.clone(),
            connection: self.connection.load(Ordering::Relaxed),
            characteristic,
            value,
        };
        tracing::debug!(monitor = %frame.monitor, %characteristic, octets = frame.value.len(), "heard");
        if self.frames.send(Entry::Frame(frame)).await.is_err() {
            tracing::error!(monitor = %self.monitor, "the journal has stopped; a frame could not be kept");
        }
    }

    pub(super) fn monitor(&self) -> &MonitorAddress {
        &self.monitor
    }

    fn silence(&self) -> Duration {
        self.last_word
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .elapsed()
    }

    /// The next connection has at least this number; one that is under way keeps its own.
    pub(super) fn number_from(&self, number: u32) {
        if !self.used.load(Ordering::Relaxed) {
            self.connection.fetch_max(number, Ordering::Relaxed);
        }
    }

    /// The link ended: whatever comes now belongs to the next connection.
    pub(super) fn ended(&self) -> Ended {
        if self.used.swap(false, Ordering::Relaxed) {
            self.connection.fetch_add(1, Ordering::Relaxed);
        }
        Ended {
            values: self.values.swap(0, Ordering::Relaxed),
            subscribed: self.subscribed.swap(false, Ordering::Relaxed),
        }
    }
}

/// What a link brought.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) struct Ended {
    /// Values that carry readings.
    pub(super) values: u32,
    /// A subscription stood.
    pub(super) subscribed: bool,
}

/// Opens the notification stream and lets it run for the life of the process. It must exist before the monitor
/// connects: BlueZ switches the subscription on by itself, and a monitor may speak and leave within 20 ms.
pub(super) async fn listen(peripheral: &Peripheral, line: Arc<Line>) -> Result<Listening, btleplug::Error> {
    let mut values = peripheral.notifications().await?;
    let task = tokio::spawn(async move {
        while let Some(value) = values.next().await {
            let characteristic = Characteristic::from(value.uuid);
            // A read of ours shows up here as well; it is kept where it was asked for.
            if SUBSCRIBE.contains(&characteristic) {
                line.values.fetch_add(1, Ordering::Relaxed);
                line.heard(characteristic, value.value).await;
            }
        }
        tracing::warn!(monitor = %line.monitor, "the notification stream ended");
    });
    Ok(Listening(task))
}

/// An open notification stream. Dropping it closes the stream: two open ones would hear every value twice.
pub(super) struct Listening(JoinHandle<()>);

impl Drop for Listening {
    fn drop(&mut self) {
        self.0.abort();
    }
}

/// Asks for readings. Works before the monitor is connected where BlueZ holds its services.
pub(super) async fn subscribe(peripheral: &Peripheral) -> Result<usize, LinkError> {
    let doing = "subscribing";
    let mut subscribed = 0;
    let offered = peripheral.characteristics();
    for wanted in SUBSCRIBE {
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

/// Greets, then stays until nothing more comes. The monitor may hang up at any point; the caller then drops this future.
pub(super) async fn attend(
    peripheral: &Peripheral,
    bus: &Bus,
    path: &Path<'static>,
    line: &Line,
) -> Result<(), LinkError> {
    greet(peripheral, bus, path, line, true).await?;
    loop {
        let silence = line.silence();
        if silence >= SILENCE_BEFORE_GOODBYE {
            tracing::debug!(monitor = %line.monitor, "nothing more comes; disconnecting");
            let _ = bus.disconnect(path).await;
            return Ok(());
        }
        tokio::time::sleep(SILENCE_BEFORE_GOODBYE - silence).await;
    }
}

/// Connects, subscribes, and reads what there is time for. What cannot be read is left for another time.
pub(super) async fn greet(
    peripheral: &Peripheral,
    bus: &Bus,
    path: &Path<'static>,
    line: &Line,
    take_readings: bool,
) -> Result<(), LinkError> {
    connect(peripheral, bus, path).await?;
    tracing::debug!(monitor = %line.monitor, "connected");
    discover(peripheral).await?;
    if take_readings {
        let subscribed = subscribe(peripheral).await?;
        line.subscribed.store(true, Ordering::Relaxed);
        tracing::debug!(monitor = %line.monitor, subscribed, "subscribed");
    }
    // The clock first: it says what the stamps that arrive meanwhile are worth.
    read_clock(peripheral, line).await;
    for characteristic in EACH_TIME {
        let _ = read(peripheral, line, characteristic).await;
    }
    read_from_bluez(bus, path, line).await;
    if !line.identified.load(Ordering::Relaxed) {
        let mut all = true;
        for characteristic in ONCE {
            all &= read(peripheral, line, characteristic).await.is_ok();
        }
        line.identified.store(all, Ordering::Relaxed);
    }
    Ok(())
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
            .any(|service| service.uuid == BLOOD_PRESSURE_SERVICE)
        {
            return Ok(());
        }
        tokio::time::sleep(DISCOVER_PAUSE).await;
    }
    Err(LinkError {
        fault: Fault::Other,
        doing,
        said: "it has no Blood Pressure service".into(),
        too_slow: false,
    })
}

/// Reads one characteristic and keeps what came. `Err` where it could not be read now; a monitor that does not have it
/// is `Ok(None)`.
async fn read(
    peripheral: &Peripheral,
    line: &Line,
    wanted: Characteristic,
) -> Result<Option<Vec<u8>>, LinkError> {
    let found = peripheral
        .characteristics()
        .into_iter()
        .find(|c| c.uuid == wanted.uuid() && c.properties.contains(CharPropFlags::READ));
    let Some(found) = found else { return Ok(None) };
    let outcome = match timeout(READ_LIMIT, peripheral.read(&found)).await {
        Ok(Ok(value)) => Ok(value),
        Ok(Err(error)) => Err(LinkError::new("reading", &error)),
        Err(_) => Err(LinkError::too_slow("reading", READ_LIMIT)),
    };
    match outcome {
        Ok(value) => {
            line.heard(wanted, value.clone()).await;
            Ok(Some(value))
        }
        Err(error) => {
            tracing::debug!(monitor = %line.monitor, characteristic = %wanted, "could not be read: {error}");
            Err(error)
        }
    }
}

/// BlueZ keeps the battery and the appearance to itself; it shows the same values as properties.
async fn read_from_bluez(bus: &Bus, path: &Path<'static>, line: &Line) {
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

async fn read_clock(peripheral: &Peripheral, line: &Line) {
    for clock in CLOCKS {
        match read(peripheral, line, clock).await {
            Ok(None) => continue,
            Err(_) => return,
            Ok(Some(value)) => {
                if line.keep_clock_right && is_off(line, clock, &value) {
                    line.set_clock.store(true, Ordering::Relaxed);
                }
            }
        }
        if line.set_clock.load(Ordering::Relaxed) && set_clock(peripheral, line, clock).await {
            line.set_clock.store(false, Ordering::Relaxed);
            // Some monitors accept the write and ignore it: what counts is what they show afterwards.
            let _ = read(peripheral, line, clock).await;
        }
        return;
    }
    if line.set_clock.swap(false, Ordering::Relaxed) {
        tracing::warn!(monitor = %line.monitor, "it offers no clock to be set; set it on the monitor itself");
    }
}

fn is_off(line: &Line, clock: Characteristic, value: &[u8]) -> bool {
    let shown = match clock {
        Characteristic::CURRENT_TIME => CurrentTime::decode(value).ok().and_then(CurrentTime::civil),
        Characteristic::DATE_TIME => DateTime::decode(value).ok().and_then(DateTime::civil),
        _ => None,
    };
    let now = line.edge.now();
    shown.is_some_and(|shown| {
        now.offset
            .to_datetime(now.at)
            .duration_until(shown)
            .as_secs()
            .abs()
            > CLOCK_OFF_S_MAX
    })
}

async fn set_clock(peripheral: &Peripheral, line: &Line, clock: Characteristic) -> bool {
    let found = peripheral
        .characteristics()
        .into_iter()
        .find(|c| c.uuid == clock.uuid() && c.properties.contains(CharPropFlags::WRITE));
    let Some(found) = found else {
        tracing::warn!(monitor = %line.monitor, "its clock cannot be set from here; set it on the monitor itself");
        return true;
    };
    let now = line.edge.now();
    let civil = now.offset.to_datetime(now.at);
    let value = match clock {
        Characteristic::CURRENT_TIME => CurrentTime::from_civil(civil, AdjustReason::EXTERNAL_REFERENCE)
            .map(|time| time.encode().to_vec()),
        Characteristic::DATE_TIME => DateTime::from_civil(civil).map(|time| time.encode().to_vec()),
        // Device Time is set through a control point of its own, which nothing here has been tried against.
        _ => None,
    };
    let Some(value) = value else {
        tracing::warn!(monitor = %line.monitor, "its kind of clock cannot be set from here; set it on the monitor itself");
        return true;
    };
    match timeout(
        READ_LIMIT,
        peripheral.write(&found, &value, WriteType::WithResponse),
    )
    .await
    {
        Ok(Ok(())) => {
            tracing::info!(monitor = %line.monitor, "clock set");
            true
        }
        Ok(Err(error)) => {
            tracing::warn!(monitor = %line.monitor, "its clock could not be set: {error}");
            // 0x80 is "data field ignored": it will not do better next time. Anything else may.
            error.to_string().contains("0x80")
        }
        Err(_) => false,
    }
}

/// BlueZ's object path of a btleplug id, which prints without the common beginning.
pub(super) fn path_of(id: &PeripheralId) -> Path<'static> {
    Path::from(format!("/org/bluez/{id}"))
}
