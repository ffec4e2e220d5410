//! Pairing: finds monitors, pairs with one, asks it what it is, and enrols it. It is no program of its own:
//! the collector does it for whoever asks at its socket (the page, `monitors add`), and `monitors add` itself
//! where no collector runs.
//!
//! Each pairing has a thread with a connection to the bus of its own. So neither a slow disk nor a fault in
//! it holds up the radio, and with the thread BlueZ sees the connection go and ends what is left of the
//! pairing. One at a time.

mod enrolment;

use super::{StartError, stated};
use crate::edge::Edge;
use crate::household::{MonitorAddress, UnknownZone};
use crate::journal::{Journal, JournalError};
use crate::radio::bond::{self, BondError, Question};
use crate::radio::bus::{Adapter, BluezDevice, Bus, BusError, Objects};
use crate::radio::central;
use crate::radio::introduce::{self, Collector, IntroduceError, Introduction};
use crate::socket::speech::{Answer, Enrolment, HeardMonitor, Pairing, Request};
use dbus::Path;
use std::collections::BTreeMap;
use std::path::PathBuf;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};
use tokio::sync::{mpsc, oneshot};

/// A whole pairing behind the wait for the monitor, with a person who reads six digits and walks to a screen.
const LIMIT: Duration = Duration::from_mins(4);
/// How long monitors are looked for.
const LOOK_FOR: Duration = Duration::from_secs(15);
/// How often BlueZ is looked at while a person waits.
const LOOK: Duration = Duration::from_millis(500);
/// The longest wait for a monitor to advertise.
const WAIT_S_MAX: u64 = 600;
/// Monitors that a house can hear; more are a neighbour's joke.
const HEARD_MAX: usize = 20;

/// Why a monitor was not found or not enrolled.
#[derive(Debug, thiserror::Error)]
pub(crate) enum PairingError {
    #[error(transparent)]
    Journal(#[from] JournalError),
    #[error("{0}; {todo}", todo = .0.todo())]
    Bus(#[from] BusError),
    #[error("time-zone: {0}")]
    Zone(#[from] UnknownZone),
    #[error(transparent)]
    Start(#[from] StartError),
    #[error("BlueZ does not show {}; plug it in, then see `quietcuff check`", which(.0.as_ref()))]
    NoAdapter(Option<MonitorAddress>),
    #[error(
        "{address} was not heard within {seconds} s; start its pairing mode, hold it nearer, and check the address with \
         `quietcuff monitors find`"
    )]
    NotHeard { address: MonitorAddress, seconds: u64 },
    #[error("not paired: {0}")]
    NotPaired(#[from] BondError),
    #[error("not enrolled: {0}. Start its pairing mode and try again")]
    NotIntroduced(IntroduceError),
    #[error("enrolled, but the link broke: {0}")]
    LinkBroke(IntroduceError),
    #[error("it took too long")]
    TooLong,
}

fn which(adapter: Option<&MonitorAddress>) -> String {
    adapter.map_or_else(
        || "any Bluetooth adapter".to_owned(),
        |address| format!("the adapter {address}"),
    )
}

impl PairingError {
    /// The exit code of sysexits that says the same.
    pub(crate) fn exit_code(&self) -> u8 {
        match self {
            Self::Journal(error) => error.exit_code(),
            Self::Bus(error) => error.exit_code(),
            Self::Zone(_) => 78,
            Self::Start(_) => 70,
            Self::NotPaired(BondError::Refused | BondError::WrongPasskey) => 77,
            Self::NoAdapter(_)
            | Self::NotHeard { .. }
            | Self::NotPaired(_)
            | Self::NotIntroduced(_)
            | Self::LinkBroke(_)
            | Self::TooLong => 69,
        }
    }
}

/// Where monitors are enrolled, and who takes their readings then.
#[derive(Clone, Debug)]
pub(crate) struct PairingPlace {
    /// The directory of the journal.
    pub(crate) state: PathBuf,
    /// The adapter that the configuration names.
    pub(crate) adapter: Option<MonitorAddress>,
    /// The time zone that the configuration names.
    pub(crate) time_zone: Option<String>,
    /// The radio of the collector that runs in this process; without one, what the monitor sends is kept
    /// here.
    pub(crate) radio: Option<mpsc::Sender<central::CentralRequest>>,
}

/// The pairing that goes on, if one does.
#[derive(Clone)]
pub(crate) struct Pairings {
    place: PairingPlace,
    now: Arc<Mutex<Now>>,
}

type Thread = JoinHandle<Result<(), PairingError>>;

#[derive(Default)]
struct Now {
    number: u32,
    step: Pairing,
    digits: Option<mpsc::Sender<String>>,
    /// The pairing ends when this is dropped.
    stop: Option<oneshot::Sender<()>>,
    thread: Option<Thread>,
}

/// What one pairing does.
enum Work {
    Find,
    Enrol(Enrolment),
}

impl Pairings {
    pub(crate) fn new(place: PairingPlace) -> Self {
        Self {
            place,
            now: Arc::default(),
        }
    }

    /// Answers what is asked of pairings; each answer says how far the pairing is.
    pub(crate) fn answer(&self, request: Request) -> Answer {
        match request {
            Request::Find => self.start(Pairing::Looking, Work::Find),
            Request::Pair { enrolment } => self.start(Pairing::Waiting, Work::Enrol(enrolment)),
            Request::Passkey { digits } => self.passkey(digits),
            Request::StopPairing => {
                let mut now = self.lock();
                now.stop = None;
                now.step = Pairing::None;
            }
            Request::Status
            | Request::Reload
            | Request::SetClock { .. }
            | Request::Forget { .. }
            | Request::ForgetAt { .. }
            | Request::At { .. }
            | Request::Opening { .. }
            | Request::Pairing => {}
        }
        let now = self.lock();
        Answer::Pairing {
            number: now.number,
            step: now.step.clone(),
        }
    }

    /// Waits until the pairing's thread has ended: a monitor that is enrolled may still hand over what it
    /// kept.
    pub(crate) fn finish(&self) -> Result<(), PairingError> {
        let thread = self.lock().thread.take();
        thread.map_or(Ok(()), |thread| thread.join().unwrap_or(Ok(())))
    }

    fn lock(&self) -> MutexGuard<'_, Now> {
        self.now.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Starts a pairing. One that goes on gives way to it: the person who asked last stands before a screen.
    fn start(&self, step: Pairing, work: Work) {
        let (digits, typed) = mpsc::channel(1);
        let (stop, stopped) = oneshot::channel();
        let mut now = self.lock();
        now.number = now.number.wrapping_add(1);
        let (this, number, before) = (self.clone(), now.number, now.thread.take());
        now.step = step;
        now.digits = Some(digits);
        // The one before ends with its own.
        now.stop = Some(stop);
        let thread = std::thread::Builder::new()
            .name("pairing".to_owned())
            .spawn(move || {
                // BlueZ lets one client pair at a time.
                let _ = before.map(JoinHandle::join);
                this.run(number, work, typed, stopped)
            });
        match thread {
            Ok(thread) => now.thread = Some(thread),
            Err(error) => {
                let error = PairingError::Start(StartError(error));
                now.step = failed(&error);
            }
        }
    }

    fn run(
        &self,
        number: u32,
        work: Work,
        typed: mpsc::Receiver<String>,
        stopped: oneshot::Receiver<()>,
    ) -> Result<(), PairingError> {
        let tell = |step| {
            let mut now = self.lock();
            if now.number == number && now.stop.is_some() {
                now.step = step;
            }
        };
        let wanted = match &work {
            Work::Find => None,
            Work::Enrol(wanted) => Some(wanted.clone()),
        };
        let limit = match &work {
            Work::Find => LIMIT,
            Work::Enrol(wanted) => LIMIT + Duration::from_secs(wanted.seconds.min(WAIT_S_MAX)),
        };
        let work = async {
            match work {
                Work::Find => {
                    let monitors = self.find().await?;
                    tell(Pairing::Heard { monitors });
                    Ok(())
                }
                Work::Enrol(wanted) => enrol(&self.place, &wanted, typed, &tell).await,
            }
        };
        let limited = async {
            tokio::select! {
                ended = tokio::time::timeout(limit, work) => ended.unwrap_or(Err(PairingError::TooLong)),
                _ = stopped => Ok(()),
            }
        };
        let ended = super::runtime()
            .map_err(PairingError::Start)
            .and_then(|runtime| runtime.block_on(limited));
        if wanted.is_some() {
            self.take_back();
        }
        match (&ended, wanted) {
            (Err(error @ PairingError::LinkBroke(_)), _) => tracing::warn!("{error}"),
            (Err(error @ PairingError::NotPaired(BondError::Refused)), Some(enrolment)) => {
                let why = error.to_string();
                tell(Pairing::WithoutPairing { why, enrolment });
            }
            (Err(error), _) => tell(failed(error)),
            (Ok(()), _) => {}
        }
        ended
    }

    /// However a pairing ended, the collector's radio listens to every monitor that is enrolled.
    fn take_back(&self) {
        let Some(radio) = &self.place.radio else { return };
        let enrolled = Journal::read_as_it_is(&self.place.state)
            .map_err(PairingError::from)
            .and_then(|journal| Ok(stated::enrolled(&journal)?));
        match enrolled {
            Ok(enrolled) => drop(radio.blocking_send(central::CentralRequest::Enrolled(enrolled))),
            Err(error) => tracing::warn!("the radio cannot be told who is enrolled: {error}"),
        }
    }

    fn passkey(&self, digits: String) {
        let mut now = self.lock();
        if now.step == Pairing::Asks {
            let sent = now.digits.as_ref().is_some_and(|to| to.try_send(digits).is_ok());
            if sent {
                now.step = Pairing::Working;
            }
        }
    }

    async fn find(&self) -> Result<Vec<HeardMonitor>, PairingError> {
        let bus = Bus::connect()?;
        let heard = hear(&bus, self.place.adapter.as_ref(), LOOK_FOR, false).await?;
        let heard = heard.into_values().take(HEARD_MAX).map(|device| HeardMonitor {
            address: device.address,
            name: device.name,
        });
        Ok(heard.collect())
    }
}

fn failed(error: &PairingError) -> Pairing {
    Pairing::Failed {
        why: error.to_string(),
        code: error.exit_code(),
    }
}

/// The adapter to use, switched on, with everything that BlueZ shows.
async fn adapter(bus: &Bus, wanted: Option<&MonitorAddress>) -> Result<(Adapter, Objects), PairingError> {
    let objects = bus.objects().await?;
    let adapter = objects
        .choose(wanted)
        .cloned()
        .ok_or_else(|| PairingError::NoAdapter(wanted.cloned()))?;
    if !adapter.powered {
        bus.set_powered(&adapter.path, true).await?;
    }
    Ok((adapter, objects))
}

/// Listens for `time` and returns who was heard: blood pressure monitors, or with `all` every device.
pub(crate) async fn hear(
    bus: &Bus,
    wanted: Option<&MonitorAddress>,
    time: Duration,
    all: bool,
) -> Result<BTreeMap<MonitorAddress, BluezDevice>, PairingError> {
    let (adapter, _) = adapter(bus, wanted).await?;
    bus.start_scan(&adapter.path, None).await?;
    let started = Instant::now();
    let mut seen = BTreeMap::new();
    while started.elapsed() < time {
        tokio::time::sleep(LOOK.min(time)).await;
        let objects = bus.objects().await?;
        let below = format!("{}/", adapter.path);
        for device in objects.devices.into_iter().filter(|d| d.path.starts_with(&below)) {
            // Signal strength is there only while a device is heard; BlueZ remembers many more.
            if (device.rssi.is_some() || device.connected)
                && (all || device.blood_pressure || device.health_sensor)
            {
                seen.insert(device.address.clone(), device);
            }
        }
    }
    let _ = bus.stop_scan(&adapter.path).await;
    Ok(seen)
}

/// Pairs with a monitor and enrols it, and says each step. Returns when the monitor has nothing more to say.
async fn enrol(
    place: &PairingPlace,
    wanted: &Enrolment,
    typed: mpsc::Receiver<String>,
    tell: &impl Fn(Pairing),
) -> Result<(), PairingError> {
    let mut journal = Journal::open_existing(&place.state)?;
    if let Some(radio) = &place.radio {
        let _ = radio
            .send(central::CentralRequest::StandAside(wanted.address.clone()))
            .await;
    }
    let bus = Bus::connect()?;
    let (adapter, objects) = adapter(&bus, place.adapter.as_ref()).await?;
    let known = objects.device(&adapter.path, &wanted.address).cloned();
    bus.start_scan(&adapter.path, None).await?;
    let introduced = async {
        let path = fresh(&bus, &adapter.path, wanted, known, tell).await?;
        introduced(
            place,
            &bus,
            (&adapter.path, &path),
            wanted,
            (typed, tell),
            &mut journal,
        )
        .await
    }
    .await;
    let _ = bus.stop_scan(&adapter.path).await;
    let introduction = introduced?;
    let told = Some(Box::new(enrolment::told(&introduction)));
    let (monitor, statements) = enrolment::statements(
        &journal.household()?,
        wanted,
        &introduction,
        jiff::Timestamp::now(),
    );
    journal.state(jiff::Timestamp::now(), &statements)?;
    if let Some(radio) = &place.radio {
        // The collector takes the link over: it subscribes while the monitor is still there.
        let enrolled = stated::enrolled(&journal)?;
        let _ = radio.send(central::CentralRequest::Enrolled(enrolled)).await;
    }
    tell(Pairing::Done { monitor, told });
    introduction
        .linger(&mut journal)
        .await
        .map_err(PairingError::LinkBroke)
}

/// The monitor, heard and without a pairing. An old one is removed only once the monitor was heard: out of
/// range, it stays.
async fn fresh(
    bus: &Bus,
    adapter: &Path<'static>,
    wanted: &Enrolment,
    known: Option<BluezDevice>,
    tell: &impl Fn(Pairing),
) -> Result<Path<'static>, PairingError> {
    let device = wait_for(bus, adapter, wanted, known).await?;
    if !device.paired || wanted.no_pairing {
        return Ok(device.path);
    }
    // A person asked for a pairing: keys that are kept here are old, or one would not ask.
    tell(Pairing::Removing);
    bus.remove(adapter, &device.path).await?;
    Ok(wait_for(bus, adapter, wanted, None).await?.path)
}

async fn wait_for(
    bus: &Bus,
    adapter: &Path<'static>,
    wanted: &Enrolment,
    mut known: Option<BluezDevice>,
) -> Result<BluezDevice, PairingError> {
    let started = Instant::now();
    loop {
        if let Some(device) = known
            .take()
            .filter(|device| device.rssi.is_some() || device.connected)
        {
            return Ok(device);
        }
        if started.elapsed() >= Duration::from_secs(wanted.seconds.min(WAIT_S_MAX)) {
            return Err(PairingError::NotHeard {
                address: wanted.address.clone(),
                seconds: wanted.seconds,
            });
        }
        tokio::time::sleep(LOOK).await;
        known = bus.objects().await?.device(adapter, &wanted.address).cloned();
    }
}

async fn introduced(
    place: &PairingPlace,
    bus: &Bus,
    (adapter, path): (&Path<'static>, &Path<'static>),
    wanted: &Enrolment,
    (typed, tell): (mpsc::Receiver<String>, &impl Fn(Pairing)),
    journal: &mut Journal,
) -> Result<Introduction, PairingError> {
    if !wanted.no_pairing {
        tell(Pairing::Working);
        if let Err(error) = paired(bus, path, typed, tell).await {
            // Half a bond would make BlueZ refuse the next attempt.
            let _ = bus.remove(adapter, path).await;
            return Err(error.into());
        }
        bus.trust(path).await?;
    }
    tell(Pairing::Reading);
    let zone = stated::zone(place.time_zone.as_deref(), &journal.household()?)?;
    let collector = match place.radio {
        Some(_) => Collector::Daemon,
        None => Collector::Here,
    };
    introduce::introduce(bus, path, Edge::new(zone), journal, collector)
        .await
        .map_err(PairingError::NotIntroduced)
}

/// Pairs, and carries the monitor's questions to a person and back.
async fn paired(
    bus: &Bus,
    path: &Path<'static>,
    mut typed: mpsc::Receiver<String>,
    tell: &impl Fn(Pairing),
) -> Result<(), BondError> {
    let (ask, mut questions) = mpsc::channel(1);
    let pairing = bond::pair(bus, path, ask);
    tokio::pin!(pairing);
    let mut waits = None;
    loop {
        tokio::select! {
            ended = &mut pairing => return ended,
            Some(question) = questions.recv() => match question {
                Question::Show(passkey) => tell(Pairing::Shows { passkey: format!("{passkey:06}") }),
                Question::Passkey(answer) => {
                    waits = Some(answer);
                    tell(Pairing::Asks);
                }
            },
            Some(digits) = typed.recv() => if let Some(answer) = waits.take() {
                let _ = answer.send(passkey_of(&digits));
            },
        }
    }
}

/// The passkey, where these are six digits.
pub(crate) fn passkey_of(digits: &str) -> Option<u32> {
    let six = digits.len() == 6 && digits.bytes().all(|octet| octet.is_ascii_digit());
    six.then(|| digits.parse().ok()).flatten()
}
