//! The Bluetooth central: scans for the household's monitors, answers their advertisements, and survives whatever
//! happens to bluetoothd and the adapter.
//!
//! A known monitor shows itself only by its signal strength. One `Line` and one notification stream a monitor live as
//! long as the process. Nothing here remembers whether BlueZ scans: it is asked, and told again.

use super::bus::{Adapter, Bus, BusError, Change, Exported};
use super::edge::Edge;
use super::link::{self, Line, LinkError, Listening, path_of};
use super::patience::{ATTEMPT_GAP, Patience};
use super::recover::{HEARTBEAT, Ladder, Rung};
use super::report::{MonitorReport, Report, SharedReport};
use super::{BLOOD_PRESSURE_SERVICE, MonitorAddress, current_time};
use crate::config::Radio;
use crate::journal::Entry;
use btleplug::api::{Central as _, CentralEvent, CentralState, Manager as _};
use btleplug::platform::{Adapter as Ble, Manager, Peripheral, PeripheralId};
use dbus::Path;
use futures_util::stream::BoxStream;
use futures_util::{FutureExt, StreamExt};
use std::collections::{HashMap, HashSet};
use std::sync::atomic::Ordering;
use std::sync::{Arc, PoisonError};
use std::time::{Duration, Instant};
use tokio::sync::mpsc;
use tokio::task::JoinHandle;
use tokio::time::{MissedTickBehavior, sleep, timeout};

/// Neighbours' devices that we remember not to look at again; then the list starts anew.
const STRANGERS_MAX: usize = 1024;
/// Changes on the bus come in flurries; one look behind the flurry is enough.
const SETTLE: Duration = Duration::from_millis(200);
/// A BlueZ that is busy is asked again after so long.
const LOOK_AGAIN: Duration = Duration::from_secs(1);
/// How long the end may take: BlueZ may go on scanning for a client that just vanishes.
const GOODBYE_LIMIT: Duration = Duration::from_secs(2);
/// How long btleplug may take to answer.
const ANSWER_LIMIT: Duration = Duration::from_secs(10);

/// Which monitor to listen for, and where its connection numbers go on.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Enrolled {
    /// Identity address.
    pub address: MonitorAddress,
    /// What the household calls it.
    pub id: String,
    /// The highest connection number it has had.
    pub last_connection: u32,
}

/// What the daemon asks of a running central.
#[derive(Debug)]
pub enum Request {
    /// These monitors from now on.
    Enrolled(Vec<Enrolled>),
    /// Set this monitor's clock the next time it connects.
    SetClock(MonitorAddress),
}

/// Why the central ended.
#[derive(Debug, thiserror::Error)]
pub enum CentralError {
    /// The bus failed.
    #[error(transparent)]
    Bus(#[from] BusError),
    /// btleplug failed.
    #[error("Bluetooth failed: {0}")]
    Ble(String),
    /// The bus went away.
    #[error("the D-Bus system bus went away; the service manager starts the daemon again")]
    BusGone,
    /// The ladder has no rung left.
    #[error(
        "Bluetooth stays silent; leaving so that the service manager starts the daemon afresh. If this comes back, restart bluetooth.service or plug the adapter in again"
    )]
    Deaf,
}

struct Link {
    peripheral: Peripheral,
    path: Path<'static>,
    line: Arc<Line>,
    _listening: Listening,
    attending: Option<JoinHandle<()>>,
    /// BlueZ has been asked for its readings since bluetoothd or the adapter came.
    subscribed: bool,
    connected: bool,
    patience: Patience,
}

/// A running central.
pub struct Central {
    bus: Bus,
    config: Radio,
    edge: Edge,
    frames: mpsc::Sender<Entry>,
    report: SharedReport,
    enrolled: HashMap<MonitorAddress, Enrolled>,
    lines: HashMap<MonitorAddress, Arc<Line>>,
    links: HashMap<PeripheralId, Link>,
    strangers: HashSet<PeripheralId>,
    ladder: Ladder,
    started: Instant,
    manager: Manager,
    on: Option<OnAdapter>,
    /// Adapters that were off when we first saw them have been switched on once; later it is the owner's choice.
    switched_on: HashSet<MonitorAddress>,
    /// BlueZ was busy: ask again then.
    look_again: Option<tokio::time::Instant>,
    /// Everybody is listened to, to tell a silent band from a deaf adapter.
    listening_to_all: bool,
    outcomes: (mpsc::Sender<Attempt>, mpsc::Receiver<Attempt>),
}

struct OnAdapter {
    ble: Ble,
    path: Path<'static>,
    events: BoxStream<'static, CentralEvent>,
    /// Keeps the Current Time service on offer.
    _time: Option<Exported>,
}

/// What a task tells of a link.
enum Attempt {
    /// It ended.
    Ended(PeripheralId, Result<(), LinkError>),
    /// It is time to try again.
    Again(PeripheralId),
}

impl Drop for Link {
    fn drop(&mut self) {
        if let Some(task) = self.attending.take() {
            task.abort();
        }
    }
}

impl Central {
    /// Prepares a central on the bus. Frames go to `frames` as they are heard.
    pub async fn new(
        bus: Bus,
        config: Radio,
        edge: Edge,
        frames: mpsc::Sender<Entry>,
        report: SharedReport,
    ) -> Result<Self, CentralError> {
        let manager = Manager::new()
            .await
            .map_err(|e| CentralError::Ble(e.to_string()))?;
        Ok(Self {
            bus,
            config,
            edge,
            frames,
            report,
            enrolled: HashMap::new(),
            lines: HashMap::new(),
            links: HashMap::new(),
            strangers: HashSet::new(),
            ladder: Ladder::default(),
            started: Instant::now(),
            manager,
            on: None,
            switched_on: HashSet::new(),
            look_again: None,
            // At first everybody: that somebody else is heard shows that the adapter hears.
            listening_to_all: true,
            outcomes: mpsc::channel(16),
        })
    }

    /// Listens until `stop` is done, then ends the scan and the links.
    pub async fn run(
        mut self,
        mut requests: mpsc::Receiver<Request>,
        stop: impl Future<Output = ()>,
    ) -> Result<(), CentralError> {
        let mut changes = self.bus.changes().await?;
        let mut heartbeat = tokio::time::interval(HEARTBEAT);
        heartbeat.set_missed_tick_behavior(MissedTickBehavior::Delay);
        let bus = self.bus.clone();
        let lost = bus.lost();
        tokio::pin!(stop, lost);
        // Monitors that are enrolled already come before the first scan, so that it can subscribe for them.
        while let Some(Some(request)) = requests.recv().now_or_never() {
            self.request(request).await;
        }
        self.set_up().await?;
        let ended = loop {
            let event = async {
                match &mut self.on {
                    Some(on) => on.events.next().await,
                    None => std::future::pending().await,
                }
            };
            let look_again = self.look_again;
            let again = async {
                match look_again {
                    Some(at) => tokio::time::sleep_until(at).await,
                    None => std::future::pending().await,
                }
            };
            tokio::select! {
                () = &mut stop => break Ok(()),
                () = &mut lost => break Err(CentralError::BusGone),
                event = event => match event {
                    Some(event) => self.event(event).await,
                    None => break Err(CentralError::BusGone),
                },
                Some(attempt) = self.outcomes.1.recv() => match attempt {
                    Attempt::Ended(id, result) => self.attended(&id, result),
                    Attempt::Again(id) => self.answer(&id),
                },
                Some(change) = changes.next() => {
                    self.changed(&change);
                    sleep(SETTLE).await;
                    while let Some(change) = changes.at_hand() {
                        self.changed(&change);
                    }
                    if let Err(error) = self.set_up().await {
                        break Err(error);
                    }
                }
                Some(request) = requests.recv() => self.request(request).await,
                () = again => {
                    self.look_again = None;
                    if let Err(error) = self.set_up().await {
                        break Err(error);
                    }
                }
                _ = heartbeat.tick() => {
                    self.heartbeat().await;
                    if let Some(rung) = self.ladder.due(self.started.elapsed())
                        && let Err(error) = self.climb(rung).await {
                            break Err(error);
                        }
                }
            }
        };
        self.goodbye().await;
        ended
    }

    fn tell(&self, change: impl FnOnce(&mut Report)) {
        change(&mut self.report.lock().unwrap_or_else(PoisonError::into_inner));
    }

    fn tell_monitor(&self, monitor: &MonitorAddress, change: impl FnOnce(&mut MonitorReport)) {
        if let Some(enrolled) = self.enrolled.get(monitor) {
            let id = enrolled.id.clone();
            self.tell(|report| {
                let entry = report.monitors.entry(id).or_default();
                entry.address = monitor.to_string();
                change(entry);
            });
        }
    }

    async fn request(&mut self, request: Request) {
        match request {
            Request::Enrolled(enrolled) => {
                self.enrolled = enrolled
                    .into_iter()
                    .map(|one| (one.address.clone(), one))
                    .collect();
                for (address, one) in &self.enrolled {
                    if let Some(line) = self.lines.get(address) {
                        // Somebody else may have met it meanwhile, as a pairing does.
                        line.number_from(one.last_connection + 1);
                    }
                    if !self.lines.contains_key(address) {
                        let line = Line::new(
                            address.clone(),
                            self.edge.clone(),
                            self.frames.clone(),
                            one.last_connection + 1,
                            self.config.set_clocks,
                        );
                        self.lines.insert(address.clone(), Arc::new(line));
                    }
                }
                self.links
                    .retain(|_, link| self.enrolled.contains_key(link.line.monitor()));
                self.strangers.clear();
                self.tell(|report| report.monitors.clear());
                for address in self.enrolled.keys() {
                    self.tell_monitor(address, |_| {});
                }
                if self.on.is_some()
                    && let Err(error) = self.subscribe_to_all().await
                {
                    tracing::warn!("{error}");
                }
            }
            Request::SetClock(monitor) => {
                if let Some(line) = self.lines.get(&monitor) {
                    line.set_clock.store(true, Ordering::Relaxed);
                }
            }
        }
    }

    /// bluetoothd or an adapter came or went: what we asked BlueZ for is forgotten.
    fn changed(&mut self, change: &Change) {
        match change {
            Change::BluezWent => tracing::warn!("bluetoothd went away"),
            Change::BluezCame => tracing::info!("bluetoothd is back"),
            Change::Adapters => tracing::debug!("an adapter came or went"),
        }
        for link in self.links.values_mut() {
            link.subscribed = false;
        }
        if *change != Change::Adapters {
            self.all_links_down();
        }
    }

    fn all_links_down(&mut self) {
        for link in self.links.values_mut() {
            if let Some(task) = link.attending.take() {
                task.abort();
            }
            link.connected = false;
            link.line.ended();
        }
        self.tell(|report| {
            report
                .monitors
                .values_mut()
                .for_each(|monitor| monitor.connected = false);
        });
    }

    /// Brings the radio to where it listens, from wherever it is. Does nothing where it listens already. An adapter or
    /// a bluetoothd that is missing is no error: the bus tells when it comes.
    async fn set_up(&mut self) -> Result<(), CentralError> {
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
                    "bluetoothd is not running; start it with `systemctl start bluetooth`".to_owned()
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
    async fn try_set_up(&mut self) -> Result<Option<String>, BusError> {
        if !self.bus.bluez_runs().await? {
            self.tell(|report| report.bluez = false);
            return Ok(Some(
                "bluetoothd is not running; start it with `systemctl start bluetooth`".into(),
            ));
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

    async fn move_to(&self, adapter: &Adapter) -> Result<OnAdapter, String> {
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
    async fn scan(&mut self) -> Result<bool, BusError> {
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

    /// Opens the stream and subscribes for every monitor whose services BlueZ holds, before it connects.
    async fn subscribe_to_all(&mut self) -> Result<(), BusError> {
        let objects = self.bus.objects().await?;
        let Some(on) = &self.on else { return Ok(()) };
        let ble = on.ble.clone();
        let known: Vec<_> = self
            .enrolled
            .keys()
            .filter_map(|address| objects.device(&on.path, address).cloned())
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
            let Some(peripheral) = peripherals
                .iter()
                .find(|p| path_of(&btleplug::api::Peripheral::id(*p)) == device.path)
            else {
                continue;
            };
            let id = btleplug::api::Peripheral::id(peripheral);
            if !self.links.contains_key(&id) {
                self.link(peripheral.clone(), &device.address).await;
            }
            if let Some(link) = self.links.get_mut(&id)
                && device.gatt_known
                && !link.subscribed
                && btleplug::api::Peripheral::discover_services(&link.peripheral)
                    .await
                    .is_ok()
            {
                match link::subscribe(&link.peripheral).await {
                    Ok(subscribed) => {
                        link.subscribed = true;
                        tracing::debug!(monitor = %device.address, subscribed, "subscribed before it connects");
                    }
                    Err(error) => tracing::debug!(monitor = %device.address, "{error}"),
                }
            }
            if device.connected {
                self.connected(&id).await;
            }
        }
        Ok(())
    }

    async fn link(&mut self, peripheral: Peripheral, monitor: &MonitorAddress) {
        let Some(line) = self.lines.get(monitor).cloned() else {
            return;
        };
        let id = btleplug::api::Peripheral::id(&peripheral);
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
            Link {
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

    async fn event(&mut self, event: CentralEvent) {
        match event {
            CentralEvent::DeviceDiscovered(id)
            | CentralEvent::RssiUpdate { id, .. }
            | CentralEvent::ServicesAdvertisement { id, .. }
            | CentralEvent::ManufacturerDataAdvertisement { id, .. }
            | CentralEvent::ServiceDataAdvertisement { id, .. }
            | CentralEvent::DeviceUpdated(id) => self.advertised(id).await,
            CentralEvent::DeviceConnected(id) => self.connected(&id).await,
            CentralEvent::DeviceDisconnected(id) => self.disconnected(&id),
            CentralEvent::StateUpdate(CentralState::PoweredOn) => {
                tracing::info!("the adapter is on");
                for link in self.links.values_mut() {
                    link.subscribed = false;
                }
                // An error shows in the report; the heartbeat tries again.
                let _ = self.set_up().await;
            }
            CentralEvent::StateUpdate(_) => {
                tracing::warn!("the adapter is off");
                self.tell(|report| {
                    report.powered = false;
                    report.problem =
                        Some("the adapter is off; `bluetoothctl power on` switches it on".into());
                });
                self.all_links_down();
            }
            _ => {}
        }
    }

    async fn advertised(&mut self, id: PeripheralId) {
        if self.strangers.contains(&id) {
            self.heard_stranger().await;
            return;
        }
        if !self.links.contains_key(&id) {
            let path = path_of(&id);
            // Signal strength is there only while a device is heard: what BlueZ merely remembers has not advertised.
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
    fn answer(&mut self, id: &PeripheralId) {
        let Some(link) = self.links.get_mut(id) else {
            return;
        };
        let monitor = link.line.monitor().clone();
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
        let at = self.edge.now().at;
        self.tell_monitor(&monitor, |report| report.last_seen = Some(at));
    }

    async fn connected(&mut self, id: &PeripheralId) {
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
        // Somebody else may have made the link, such as a pairing: its readings are ours to take all the same.
        if link.attending.as_ref().is_none_or(JoinHandle::is_finished) {
            link.patience.forgive();
            self.answer(id);
        }
        self.tell_monitor(&monitor, |report| {
            report.connected = true;
            report.connections += 1;
        });
    }

    fn disconnected(&mut self, id: &PeripheralId) {
        let Some(link) = self.links.get_mut(id) else {
            return;
        };
        if let Some(task) = link.attending.take() {
            task.abort();
        }
        let was_connected = std::mem::take(&mut link.connected);
        // BlueZ drops a subscription whose renewal was still on its way when the monitor hung up. Ask again before the
        // next connection, which may come within half a second; where it still stands, BlueZ says so.
        let (peripheral, again) = (link.peripheral.clone(), link.line.monitor().clone());
        tokio::spawn(async move {
            if let Err(error) = link::subscribe(&peripheral).await {
                tracing::debug!(monitor = %again, "between connections: {error}");
            }
        });
        let link::Ended { values, subscribed } = link.line.ended();
        let monitor = link.line.monitor().clone();
        tracing::info!(%monitor, values, "disconnected");
        let good = values > 0 || subscribed;
        let suspect = if good || was_connected {
            link.patience.ended(good)
        } else {
            None
        };
        self.tell_monitor(&monitor, |report| {
            report.connected = false;
            report.values += values;
            if good {
                report.problem = None;
            }
        });
        if let Some(why) = suspect {
            self.bond_is_lost(&monitor, why);
        }
    }

    fn bond_is_lost(&self, monitor: &MonitorAddress, why: &str) {
        let problem =
            format!("{monitor}: {why}; start its pairing mode and run `quietcuff monitors add {monitor}`");
        tracing::error!("{problem}");
        self.tell_monitor(monitor, |report| report.problem = Some(problem));
    }

    fn attended(&mut self, id: &PeripheralId, result: Result<(), LinkError>) {
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

    async fn heartbeat(&mut self) {
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

    async fn climb(&mut self, rung: Rung) -> Result<(), CentralError> {
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

    async fn restart_scan(&mut self) {
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
    async fn heard_stranger(&mut self) {
        self.ladder.heard(self.started.elapsed());
        if std::mem::take(&mut self.listening_to_all) && self.config.named_service_only {
            tracing::debug!("others are heard; listening for blood pressure monitors only");
            self.restart_scan().await;
        }
    }

    /// Ends the links first: BlueZ writes 0 to the subscription of a monitor that is still connected when we leave.
    async fn goodbye(&mut self) {
        let Some(path) = self.on.as_ref().map(|on| on.path.clone()) else {
            return;
        };
        let ending = async {
            for link in self.links.values_mut() {
                if let Some(task) = link.attending.take() {
                    task.abort();
                }
                if link.connected {
                    let _ = self.bus.disconnect(&link.path).await;
                }
            }
            let _ = self.bus.stop_scan(&path).await;
        };
        if timeout(GOODBYE_LIMIT, ending).await.is_err() {
            tracing::warn!("BlueZ did not answer the goodbye");
        }
    }
}
