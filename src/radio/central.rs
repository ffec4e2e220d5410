//! The Bluetooth central: scans for the household's monitors, answers their advertisements, and survives
//! whatever happens to bluetoothd and the adapter.
//!
//! A known monitor shows itself only by its signal strength. One `Line` and one notification stream a monitor
//! live as long as the process. Nothing here remembers whether BlueZ scans: it is asked, and told again.

mod direct;
mod listening;
mod visits;

use super::Radio;
use super::bus::{Bus, BusError};
use super::current_time::OfferedService;
use super::line::MonitorLine;
use super::link::{LinkError, Subscription};
use super::patience::Patience;
use super::recover::{HEARTBEAT, Ladder};
use super::report::{CentralReport, MonitorReport, SharedReport};
use super::waiting::{Waiting, WaitingTold};
use super::way::{self, Way};
use crate::edge::Edge;
use crate::household::MonitorAddress;
use crate::journal::{Entry, UserConsent};
use btleplug::api::{CentralEvent, CentralState};
use btleplug::platform::{Adapter as Ble, Manager, Peripheral, PeripheralId};
use dbus::Path;
use futures_util::stream::BoxStream;
use futures_util::{FutureExt, StreamExt};
use std::collections::{HashMap, HashSet};
use std::sync::atomic::Ordering;
use std::sync::{Arc, PoisonError};
use std::time::{Duration, Instant};
use tokio::sync::{mpsc, watch};
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
pub struct EnrolledMonitor {
    /// Identity address, by which BlueZ knows it once it is paired.
    pub address: MonitorAddress,
    /// What the household calls it.
    pub id: String,
    /// The highest connection number it has had.
    pub last_connection: u32,
    /// The consents of its users, where it keeps them apart.
    pub consents: Vec<UserConsent>,
}

/// What the daemon asks of a running central.
#[derive(Debug)]
pub enum CentralRequest {
    /// These monitors from now on.
    Enrolled(Vec<EnrolledMonitor>),
    /// Set this monitor's clock the next time it connects.
    SetClock(MonitorAddress),
    /// BlueZ is to link this monitor alone, as for a pairing, until the next [`CentralRequest::Enrolled`].
    StandAside(MonitorAddress),
}

/// Why the central ended.
#[derive(Debug, thiserror::Error)]
pub enum CentralError {
    /// The bus failed.
    #[error(transparent)]
    Bus(#[from] BusError),
    /// btleplug could not reach its adapter; the text is its own.
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

struct VisitByBlueZ {
    peripheral: Peripheral,
    path: Path<'static>,
    line: Arc<MonitorLine>,
    _listening: Subscription,
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
    way: Way,
    edge: Edge,
    frames: mpsc::Sender<Entry>,
    report: SharedReport,
    enrolled: HashMap<MonitorAddress, EnrolledMonitor>,
    lines: HashMap<MonitorAddress, Arc<MonitorLine>>,
    links: HashMap<PeripheralId, VisitByBlueZ>,
    strangers: HashSet<PeripheralId>,
    ladder: Ladder,
    started: Instant,
    manager: Manager,
    on: Option<OnAdapter>,
    /// Adapters that were off when we first saw them have been switched on once; later it is the owner's
    /// choice.
    switched_on: HashSet<MonitorAddress>,
    /// BlueZ was busy: ask again then.
    look_again: Option<tokio::time::Instant>,
    /// Everybody is listened to, to tell a silent band from a deaf adapter.
    listening_to_all: bool,
    outcomes: (mpsc::Sender<Attempt>, mpsc::Receiver<Attempt>),
    /// Whom we wait for with a socket of our own.
    waiting: HashMap<MonitorAddress, Waiting>,
    news: (mpsc::Sender<WaitingTold>, mpsc::Receiver<WaitingTold>),
}

struct OnAdapter {
    ble: Ble,
    path: Path<'static>,
    events: BoxStream<'static, CentralEvent>,
    /// Keeps the Current Time service on offer.
    _time: Option<OfferedService>,
}

/// What a task tells of a link.
enum Attempt {
    /// The connection ended; the error says why, where it was not the monitor that hung up.
    Ended(PeripheralId, Result<(), LinkError>),
    /// It is time to try again.
    Again(PeripheralId),
}

impl Drop for VisitByBlueZ {
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
        let choice = way::here(config.bearer);
        tracing::info!("monitors are linked {}: {}", choice.way.how(), choice.why);
        {
            let mut report = report.lock().unwrap_or_else(PoisonError::into_inner);
            report.bearer = Some(choice.way.name().to_owned());
            report.bearer_because = Some(choice.why);
        }
        let manager = Manager::new()
            .await
            .map_err(|e| CentralError::Ble(e.to_string()))?;
        Ok(Self {
            bus,
            config,
            way: choice.way,
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
            waiting: HashMap::new(),
            news: mpsc::channel(16),
        })
    }

    /// Listens until `stop` is done, then ends the scan and the links. `turns` counts the turns of the loop;
    /// the first comes when everything is set up, and the heartbeat sees to it that the next is never far.
    pub async fn run(
        mut self,
        mut requests: mpsc::Receiver<CentralRequest>,
        turns: watch::Sender<u64>,
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
            turns.send_modify(|turns| *turns += 1);
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
                Some(told) = self.news.1.recv() => self.told(told),
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

    fn tell(&self, change: impl FnOnce(&mut CentralReport)) {
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

    async fn request(&mut self, request: CentralRequest) {
        match request {
            CentralRequest::Enrolled(enrolled) => {
                self.enrolled = enrolled
                    .into_iter()
                    .map(|one| (one.address.clone(), one))
                    .collect();
                for (address, one) in &self.enrolled {
                    if let Some(line) = self.lines.get(address) {
                        // Somebody else may have met it meanwhile, as a pairing does.
                        line.number_from(one.last_connection.saturating_add(1));
                    }
                    if !self.lines.contains_key(address) {
                        let line = MonitorLine::new(
                            address.clone(),
                            self.edge.clone(),
                            self.frames.clone(),
                            one.last_connection.saturating_add(1),
                            self.config.set_clocks,
                        );
                        self.lines.insert(address.clone(), Arc::new(line));
                    }
                    if let Some(line) = self.lines.get(address) {
                        line.users.know(one.consents.clone());
                    }
                }
                self.waiting
                    .retain(|monitor, _| self.enrolled.contains_key(monitor));
                self.links
                    .retain(|_, link| self.enrolled.contains_key(link.line.monitor()));
                self.strangers.clear();
                let ids: HashSet<String> = self.enrolled.values().map(|one| one.id.clone()).collect();
                self.tell(|report| report.monitors.retain(|id, _| ids.contains(id)));
                for address in self.enrolled.keys() {
                    self.tell_monitor(address, |_| {});
                }
                if self.on.is_some()
                    && let Err(error) = self.subscribe_to_all().await
                {
                    tracing::warn!("{error}");
                }
            }
            CentralRequest::StandAside(monitor) => drop(self.waiting.remove(&monitor)),
            CentralRequest::SetClock(monitor) => {
                if let Some(line) = self.lines.get(&monitor) {
                    line.set_clock.store(true, Ordering::Relaxed);
                }
            }
        }
    }

    fn all_links_down(&mut self) {
        let mut down = Vec::new();
        for link in self.links.values_mut() {
            if let Some(task) = link.attending.take() {
                task.abort();
            }
            link.connected = false;
            down.push(link.line.clone());
        }
        // A link of our own outlives bluetoothd, and tells of its end itself.
        for line in down.iter().filter(|line| !self.is_ours(line.monitor())) {
            line.ended();
            self.tell_monitor(line.monitor(), |report| report.connected = false);
        }
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

    /// Ends the links first: BlueZ writes 0 to the subscription of a monitor that is still connected when we
    /// leave.
    async fn goodbye(&mut self) {
        self.waiting.clear();
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
