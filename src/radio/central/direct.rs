//! Links of our own: for each monitor that BlueZ knows, one socket that waits for it. The kernel connects as
//! soon as the monitor advertises; bluetoothd has no part in it.
//!
//! Where the socket is refused or bluetoothd holds the link, that visit comes by BlueZ, as without a bearer
//! of our own.

use super::super::bearer::channel::{Channel, Peer, Unreached};
use super::super::bearer::talk::End;
use super::super::bus::{Bus, Device, Objects};
use super::super::direct::{self, Visited};
use super::super::fault::Fault;
use super::super::line::{Ended, Line};
use super::super::patience::{ATTEMPT_GAP, After, Patience};
use super::super::settings::Bearer;
use super::Central;
use crate::household::MonitorAddress;
use dbus::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicU8, Ordering};
use std::time::{Duration, Instant};
use tokio::sync::{Notify, mpsc};
use tokio::task::JoinHandle;
use tokio::time::{sleep, timeout};

/// So many monitors are waited for at once. A controller's own list of those it answers has eight places or
/// more; a household has a few monitors.
const WAITING_MAX: usize = 16;
/// After this time a link that bluetoothd held, or an adapter that was off, is tried again without being
/// told.
const LOOK_AGAIN: Duration = Duration::from_secs(10);
/// After a visit that went wrong the next one may come by BlueZ, for so long.
const BY_BLUEZ: Duration = Duration::from_mins(5);

/// What is waited for, where, and whether BlueZ may link it meanwhile.
pub(super) struct Waiting {
    peer: Peer,
    path: Path<'static>,
    state: Arc<State>,
    task: JoinHandle<()>,
}

impl Drop for Waiting {
    fn drop(&mut self) {
        self.task.abort();
    }
}

/// What a waiting task and the central share.
#[derive(Debug, Default)]
struct State {
    now: AtomicU8,
    /// BlueZ's link has ended, or the adapter has come: try again.
    free: Notify,
}

/// The task waits for the monitor, or attends to it: BlueZ is not to connect.
const OURS: u8 = 0;
/// BlueZ may have the next visit.
const BLUEZ: u8 = 1;

/// What a waiting task tells.
pub(super) struct Told {
    monitor: MonitorAddress,
    what: What,
}

enum What {
    /// Connected.
    Came,
    /// The link has ended.
    Went(Ended),
    /// The next visit may come by BlueZ, and why.
    NotDirect(String),
    /// A person has to pair again, and why.
    Bond(&'static str),
}

/// What one task needs.
struct Task {
    peer: Peer,
    path: Path<'static>,
    line: Arc<Line>,
    bus: Bus,
    serves_time: bool,
    state: Arc<State>,
    tell: mpsc::Sender<Told>,
}

impl Task {
    async fn run(self) {
        let mut patience = Patience::default();
        loop {
            match Channel::wait_for(&self.peer).await {
                Ok(channel) => self.visit(channel, &mut patience).await,
                Err(Unreached::Nobody) => {}
                Err(error) => self.unreached(error, &mut patience).await,
            }
        }
    }

    async fn visit(&self, channel: Channel, patience: &mut Patience) {
        self.state.now.store(OURS, Ordering::Relaxed);
        self.tell(What::Came).await;
        let (bus, path) = (self.bus.clone(), self.path.clone());
        let disconnect = async move {
            let _ = bus.disconnect(&path).await;
        };
        let Visited { end, wrong } =
            direct::visit(channel, &self.line, self.serves_time, Box::pin(disconnect)).await;
        let ended = self.line.ended();
        self.tell(What::Went(ended)).await;
        let good = ended.values > 0 || ended.subscribed;
        self.take(patience.ended(good, Instant::now())).await;
        let why = match (wrong, end) {
            (Some(wrong), _) => wrong.to_string(),
            (None, End::Unanswered) => "it left a question unanswered for 30 s".to_owned(),
            (None, End::Left | End::Ended(_)) => return,
        };
        tracing::warn!(monitor = %self.peer.address, "the direct link went wrong: {why}; BlueZ may try");
        self.leave_to_bluez(why, BY_BLUEZ).await;
    }

    async fn unreached(&self, error: Unreached, patience: &mut Patience) {
        tracing::debug!(monitor = %self.peer.address, "{error}");
        let now = Instant::now();
        match error {
            Unreached::Nobody => {}
            Unreached::Busy | Unreached::NoAdapter => {
                self.leave_to_bluez(error.to_string(), LOOK_AGAIN).await;
            }
            Unreached::NoSocket(_) => {
                tracing::warn!("{error}; readings come by BlueZ, which confirms them by itself");
                self.tell(What::NotDirect(error.to_string())).await;
                self.state.now.store(BLUEZ, Ordering::Relaxed);
                // Only another start of the program can change that.
                std::future::pending::<()>().await;
            }
            Unreached::Keys(_) => self.take(patience.failed(Fault::BondLost, true, now)).await,
            Unreached::Broke(_) => {
                self.take(patience.failed(Fault::Transient, true, now)).await;
                sleep(ATTEMPT_GAP).await;
            }
        }
    }

    /// BlueZ may connect until its link has ended, at most for so long.
    async fn leave_to_bluez(&self, why: String, limit: Duration) {
        self.state.now.store(BLUEZ, Ordering::Relaxed);
        self.tell(What::NotDirect(why)).await;
        let _ = timeout(limit, self.state.free.notified()).await;
        self.state.now.store(OURS, Ordering::Relaxed);
    }

    async fn take(&self, after: After) {
        if let Some(why) = after.bond {
            self.tell(What::Bond(why)).await;
        }
        if let Some(rest) = after.rest {
            tracing::warn!(
                monitor = %self.peer.address,
                "left alone for {} s: its links end before anything is heard", rest.as_secs()
            );
            sleep(rest).await;
        }
    }

    async fn tell(&self, what: What) {
        let monitor = self.peer.address.clone();
        let _ = self.tell.send(Told { monitor, what }).await;
    }
}

impl Central {
    /// Waits for every monitor that BlueZ knows on this adapter, and for no other.
    pub(super) fn wait_for_all(&mut self, objects: &Objects, adapter: &Path<'static>) {
        if self.config.bearer != Bearer::Direct {
            return;
        }
        let wanted: Vec<(Peer, Path<'static>)> = self
            .enrolled
            .keys()
            .filter_map(|address| objects.device(adapter, address))
            .take(WAITING_MAX)
            .map(|device| (peer(device), device.path.clone()))
            .collect();
        self.waiting.retain(|_, waiting| {
            wanted.iter().any(|(peer, path)| {
                *peer == waiting.peer && *path == waiting.path && !waiting.task.is_finished()
            })
        });
        for (peer, path) in wanted {
            let Some(line) = self.lines.get(&peer.address).cloned() else {
                continue;
            };
            if let Some(waiting) = self.waiting.get(&peer.address) {
                waiting.state.free.notify_one();
                continue;
            }
            tracing::debug!(monitor = %peer.address, bonded = peer.bonded, "waiting for it directly");
            let state = Arc::new(State::default());
            let task = Task {
                peer: peer.clone(),
                path: path.clone(),
                line,
                bus: self.bus.clone(),
                serves_time: self.config.serve_time,
                state: state.clone(),
                tell: self.visits.0.clone(),
            };
            let task = tokio::spawn(task.run());
            let address = peer.address.clone();
            let waiting = Waiting {
                peer,
                path,
                state,
                task,
            };
            self.waiting.insert(address, waiting);
        }
    }

    /// Whether BlueZ is to keep its hands off this monitor.
    pub(super) fn is_ours(&self, monitor: &MonitorAddress) -> bool {
        self.waiting
            .get(monitor)
            .is_some_and(|waiting| waiting.state.now.load(Ordering::Relaxed) == OURS)
    }

    /// A link that BlueZ had has ended.
    pub(super) fn is_free(&self, monitor: &MonitorAddress) {
        if let Some(waiting) = self.waiting.get(monitor) {
            waiting.state.free.notify_one();
        }
    }

    /// A waiting task has told something.
    pub(super) fn told(&mut self, told: Told) {
        let Told { monitor, what } = told;
        match what {
            What::Came => {
                tracing::debug!(%monitor, "connected directly");
                let at = self.edge.now().at;
                self.tell_monitor(&monitor, |report| {
                    report.connected = true;
                    report.connections += 1;
                    report.last_seen = Some(at);
                    report.bearer = Some(Bearer::Direct.name().to_owned());
                    report.not_direct = None;
                });
            }
            What::Went(Ended { values, subscribed }) => {
                tracing::info!(%monitor, values, "disconnected");
                self.tell_monitor(&monitor, |report| {
                    report.connected = false;
                    report.values += values;
                    if values > 0 || subscribed {
                        report.problem = None;
                    }
                });
            }
            What::NotDirect(why) => {
                self.tell_monitor(&monitor, |report| report.not_direct = Some(why));
                let linked = self
                    .links
                    .iter_mut()
                    .find(|(_, link)| link.connected && *link.line.monitor() == monitor);
                if let Some((id, link)) = linked {
                    link.patience.use_at_once();
                    let id = id.clone();
                    self.answer(&id);
                }
            }
            What::Bond(why) => self.bond_is_lost(&monitor, why),
        }
    }
}

fn peer(device: &Device) -> Peer {
    Peer {
        address: device.address.clone(),
        random: device.address_type == "random",
        bonded: device.paired,
    }
}
