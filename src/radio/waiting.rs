//! A monitor that is waited for by a socket of our own: the kernel connects as soon as it advertises, and
//! bluetoothd has no part in it.
//!
//! Where the socket is refused or bluetoothd holds the link, that visit comes by BlueZ, as without a bearer
//! of our own.

use super::bearer::channel::{AttChannel, IdentityAddress, Peer, Unreached};
use super::bearer::talk::LinkEnd;
use super::bus::{Adapter, BluezDevice, Bus};
use super::direct::{self, Visited};
use super::fault::Fault;
use super::line::{LinkBrought, MonitorLine};
use super::patience::{ATTEMPT_GAP, After, Patience};
use crate::household::MonitorAddress;
use dbus::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicU8, Ordering};
use std::time::{Duration, Instant};
use tokio::sync::{Notify, mpsc};
use tokio::task::JoinHandle;
use tokio::time::{sleep, timeout};

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

impl Waiting {
    /// Begins to wait.
    pub(super) fn begin(
        (device, adapter): (&BluezDevice, &Adapter),
        line: Arc<MonitorLine>,
        bus: Bus,
        serves_time: bool,
        tell: mpsc::Sender<WaitingTold>,
    ) -> Self {
        let (peer, path, state) = (
            peer(device, adapter),
            device.path.clone(),
            Arc::new(State::default()),
        );
        tracing::debug!(monitor = %peer.monitor.address, bonded = peer.bonded, "waiting for it directly");
        let task = Task {
            peer: peer.clone(),
            path: path.clone(),
            line,
            bus,
            serves_time,
            state: state.clone(),
            tell,
        };
        Self {
            peer,
            path,
            state,
            task: tokio::spawn(task.run()),
        }
    }

    /// Whether it waits for this device, as BlueZ shows it now.
    pub(super) fn is_for(&self, device: &BluezDevice, adapter: &Adapter) -> bool {
        self.peer == peer(device, adapter) && self.path == device.path && !self.task.is_finished()
    }

    /// Whether BlueZ is to keep its hands off this monitor.
    pub(super) fn is_ours(&self) -> bool {
        self.state.now.load(Ordering::Relaxed) == OURS
    }

    /// BlueZ's link has ended, or the adapter has come: there may be a link now.
    pub(super) fn try_again(&self) {
        self.state.free.notify_one();
    }
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
pub(super) struct WaitingTold {
    /// Of whom.
    pub(super) monitor: MonitorAddress,
    /// What.
    pub(super) what: LinkEvent,
}

/// What happened.
pub(super) enum LinkEvent {
    /// Connected.
    Came,
    /// The link has ended.
    Went(LinkBrought),
    /// The next visit may come by BlueZ, and why.
    NotDirect(String),
    /// A person has to pair again, and why.
    Bond(&'static str),
}

/// What one task needs.
struct Task {
    peer: Peer,
    path: Path<'static>,
    line: Arc<MonitorLine>,
    bus: Bus,
    serves_time: bool,
    state: Arc<State>,
    tell: mpsc::Sender<WaitingTold>,
}

impl Task {
    async fn run(self) {
        let mut patience = Patience::default();
        loop {
            match AttChannel::wait_for(&self.peer).await {
                Ok(channel) => self.visit(channel, &mut patience).await,
                Err(Unreached::Nobody) => {}
                Err(error) => self.unreached(error, &mut patience).await,
            }
        }
    }

    async fn visit(&self, channel: AttChannel, patience: &mut Patience) {
        self.state.now.store(OURS, Ordering::Relaxed);
        self.tell(LinkEvent::Came).await;
        let (bus, path) = (self.bus.clone(), self.path.clone());
        let disconnect = async move {
            let _ = bus.disconnect(&path).await;
        };
        let Visited { end, wrong } =
            direct::visit(channel, &self.line, self.serves_time, Box::pin(disconnect)).await;
        let ended = self.line.ended();
        let good = ended.good();
        self.tell(LinkEvent::Went(ended)).await;
        self.take(patience.ended(good, Instant::now())).await;
        let why = match (wrong, end) {
            (Some(wrong), _) => wrong.to_string(),
            (None, LinkEnd::Unanswered) => "it left a question unanswered for 30 s".to_owned(),
            (None, LinkEnd::Left | LinkEnd::Ended(_)) => return,
        };
        tracing::warn!(monitor = %self.peer.monitor.address, "the direct link went wrong: {why}; BlueZ may try");
        self.leave_to_bluez(why, BY_BLUEZ).await;
    }

    async fn unreached(&self, error: Unreached, patience: &mut Patience) {
        tracing::debug!(monitor = %self.peer.monitor.address, "{error}");
        let now = Instant::now();
        match error {
            Unreached::Nobody => {}
            Unreached::Busy | Unreached::NoAdapter => {
                self.leave_to_bluez(error.to_string(), LOOK_AGAIN).await;
            }
            Unreached::NoSocket(_) => {
                tracing::warn!("{error}; readings come by BlueZ, which confirms them by itself");
                self.tell(LinkEvent::NotDirect(error.to_string())).await;
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
        self.tell(LinkEvent::NotDirect(why)).await;
        let _ = timeout(limit, self.state.free.notified()).await;
        self.state.now.store(OURS, Ordering::Relaxed);
    }

    async fn take(&self, after: After) {
        if let Some(why) = after.bond {
            self.tell(LinkEvent::Bond(why)).await;
        }
        if let Some(rest) = after.rest {
            tracing::warn!(
                monitor = %self.peer.monitor.address,
                "left alone for {} s: its links end before anything is heard", rest.as_secs()
            );
            sleep(rest).await;
        }
    }

    async fn tell(&self, what: LinkEvent) {
        let monitor = self.peer.monitor.address.clone();
        let _ = self.tell.send(WaitingTold { monitor, what }).await;
    }
}

fn peer(device: &BluezDevice, adapter: &Adapter) -> Peer {
    Peer {
        monitor: IdentityAddress {
            address: device.address.clone(),
            random: device.address_type == "random",
        },
        adapter: IdentityAddress {
            address: adapter.address.clone(),
            random: adapter.random,
        },
        bonded: device.paired,
    }
}
