//! `quietcuff run`: the daemon.

use super::lean::{self, HandedOver};
use super::pairing::Pairings;
use super::place::{enrolled, stated_zone};
use super::service::{Moved, Service};
use super::{Everywhere, Failure, Outcome, failure};
use crate::config::Config;
use crate::edge::{Edge, system_zone};
use crate::frame::Frame;
use crate::household::{MonitorAddress, Statement};
use crate::journal::{Entry, Journal, Progress, Writer};
use crate::radio::bus::Bus;
use crate::radio::central::{Central, CentralError, Request};
use crate::radio::json_lines::AsLine;
use crate::radio::report::SharedReport;
use crate::socket::{self, Question};
use clap::Args;
use std::path::PathBuf;
use std::process::ExitCode;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, PoisonError};
use std::time::Duration;
use tokio::signal::unix::{SignalKind, signal};
use tokio::sync::{mpsc, watch};

/// A burst's frames follow each other within tenths of a second.
const QUIET: Duration = Duration::from_secs(1);

/// How often the wall clock is looked at. A clock that is being adjusted moves by milliseconds in that time.
const CLOCK_LOOK: Duration = Duration::from_mins(1);
/// A wall clock that moved by more against the boot clock was set.
const CLOCK_STEP_US: i64 = 1_000_000;

/// Requests to the radio that may wait; they come from people.
const REQUESTS_MAX: usize = 16;

/// Listens for the household's monitors until it is told to stop.
#[derive(Args)]
pub(crate) struct RunArgs {}

pub(crate) fn run(here: &Everywhere, _: &RunArgs) -> Outcome {
    let config = here.config()?;
    state_zone(&config, &mut here.journal()?)?;
    let handed = HandedOver::new(
        here.clone(),
        std::env::current_exe()?,
        here.state()?,
        here.config_file(),
        config.radio,
    );
    listen(lean::become_listener(handed))
}

/// The daemon itself.
pub(super) fn listen(handed: HandedOver) -> Outcome {
    // One thread is enough for a few monitors, and keeps the daemon as small as bluetoothd beside it.
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .map_err(|e| Failure::new(failure::INTERNAL, format!("cannot start: {e}")))?;
    runtime.block_on(collect(handed))
}

async fn collect(handed: HandedOver) -> Outcome {
    let (state, program) = (&handed.state, &handed.program);
    let journal = Journal::open_existing(state)?;
    let edge = Edge::new(stated_zone(&journal)?);
    let enrolled = enrolled(&journal)?;
    if enrolled.is_empty() {
        tracing::info!(
            "no monitor is enrolled yet; `quietcuff monitors add ADDRESS` enrols one while this runs"
        );
    }
    let listener = socket::bind(state).map_err(|e| {
        Failure::new(
            failure::UNAVAILABLE,
            format!(
                "cannot open the local socket {}: {e}",
                socket::path(state).display()
            ),
        )
    })?;
    let bus = Bus::connect()?;
    let (writer, frames) = Writer::start(journal).map_err(|e| {
        Failure::new(
            failure::INTERNAL,
            format!("cannot start the journal's thread: {e}"),
        )
    })?;
    let report = SharedReport::default();
    let quiet = tokio::spawn(settle_when_quiet(
        writer.progress(),
        program.to_owned(),
        state.to_owned(),
    ));
    let clocks = tokio::spawn(watch_clocks(edge.clone(), bus.clone(), frames.clone()));
    let (ask, requests) = mpsc::channel(REQUESTS_MAX);
    let _ = ask.send(Request::Enrolled(enrolled)).await;
    let desk = Desk {
        state: state.to_owned(),
        report: report.clone(),
        progress: writer.progress(),
        frames: frames.clone(),
        ask,
        pairings: Pairings::new(program, state, handed.config_file.as_deref()),
    };
    let served = tokio::spawn(socket::serve(listener, move |question| {
        let desk = desk.clone();
        async move { desk.answer(question).await }
    }));
    let (look, told) = (frames.clone(), report.clone());
    let central = Central::new(bus, handed.radio, edge, frames, report)
        .await
        .map_err(central_failed)?;
    let service = Arc::new(Service::of_environment());
    let (turns, turned) = watch::channel(0);
    let life = service.is_managed().then(|| {
        let pulse = Pulse {
            turned,
            written: writer.turns(),
            frames: look,
            report: told,
        };
        tokio::spawn(show_life(service.clone(), pulse))
    });
    let stop = async {
        stopped().await;
        service.stopping();
    };
    let ended = central.run(requests, turns, stop).await;
    if let Some(life) = life {
        life.abort();
    }
    served.abort();
    clocks.abort();
    quiet.abort();
    let _ = std::fs::remove_file(socket::path(state));
    let lost = tokio::task::spawn_blocking(|| writer.finish())
        .await
        .unwrap_or_default();
    tell_lost(&lost);
    ended.map_err(central_failed)?;
    if lost.is_empty() {
        Ok(ExitCode::SUCCESS)
    } else {
        Ok(ExitCode::from(failure::IO))
    }
}

/// States the zone that the configuration names, from now on, or the first zone of all. A machine's own zone never
/// changes that of a household: a container runs in UTC, a kitchen does not.
fn state_zone(config: &Config, journal: &mut Journal) -> Result<(), Failure> {
    let household = journal.household()?;
    let now = jiff::Timestamp::now();
    let statement = match (household.zones.last(), &config.time_zone) {
        (None, named) => Statement::Zone {
            zone: named.clone().unwrap_or_else(system_zone),
            from: None,
        },
        (Some((_, holds)), Some(named)) if holds != named => Statement::Zone {
            zone: named.clone(),
            from: Some(now),
        },
        _ => return Ok(()),
    };
    Ok(journal.state(now, &[statement])?)
}

/// Holds the wall clock against the boot clock, and keeps a sample at the start, when the wall clock was set, and once
/// it is synchronised: what was received on a wrong clock can be mended then.
async fn watch_clocks(edge: Edge, bus: Bus, journal: mpsc::Sender<Entry>) {
    let mut look = tokio::time::interval(CLOCK_LOOK);
    let mut last: Option<(i64, bool)> = None;
    loop {
        look.tick().await;
        let Some(mut sample) = edge.sample() else { return };
        let ahead = sample.wall.as_microsecond() - sample.uptime.micros;
        let was_set = last.is_none_or(|(before, _)| (ahead - before).abs() > CLOCK_STEP_US);
        let unsure = last.is_none_or(|(_, synchronized)| !synchronized);
        if was_set || unsure {
            sample.synchronized = bus.clock_synchronized().await.unwrap_or(false);
            if was_set || sample.synchronized {
                last = Some((ahead, sample.synchronized));
                if journal.send(Entry::Clock(sample)).await.is_err() {
                    return;
                }
            }
        }
    }
}

/// Whenever a burst is over, lets a process of its own make readings of it, so that whoever looks finds them ready. Apart
/// from this one, because nothing that judges may ever hold up, or take down, what hears and keeps.
async fn settle_when_quiet(mut progress: watch::Receiver<Progress>, program: PathBuf, state: PathBuf) {
    while progress.changed().await.is_ok() {
        while tokio::time::timeout(QUIET, progress.changed())
            .await
            .is_ok_and(|changed| changed.is_ok())
        {}
        let settled = tokio::process::Command::new(&program)
            .arg("--state")
            .arg(&state)
            .arg("settle")
            .kill_on_drop(true)
            .status();
        match settled.await {
            Ok(status) if status.success() => {}
            Ok(status) => {
                tracing::warn!("the readings could not be settled ({status}); they will be when asked for");
            }
            Err(error) => {
                tracing::warn!("the readings could not be settled ({error}); they will be when asked for");
            }
        }
    }
}

/// Where it shows that the collector lives.
struct Pulse {
    turned: watch::Receiver<u64>,
    written: Arc<AtomicU64>,
    frames: mpsc::Sender<Entry>,
    report: SharedReport,
}

/// Tells the service manager when the radio is set up, then that the loop turns and the writer writes.
async fn show_life(service: Arc<Service>, mut pulse: Pulse) {
    if pulse.turned.changed().await.is_err() {
        return;
    }
    let mut said = pulse.status();
    service.ready(&said);
    let mut moved = Moved::since(pulse.counts());
    loop {
        // A full queue is no harm: the writer has enough to show that it lives.
        let _ = pulse.frames.try_send(Entry::Look);
        tokio::time::sleep(service.wait_max()).await;
        if moved.all(pulse.counts()) {
            service.alive();
        } else {
            tracing::error!("no progress, in the radio's loop or the journal's writer, since the last look");
        }
        let now = pulse.status();
        if now != said {
            service.status(&now);
            said = now;
        }
    }
}

impl Pulse {
    fn counts(&self) -> [u64; 2] {
        [*self.turned.borrow(), self.written.load(Ordering::Relaxed)]
    }

    fn status(&self) -> String {
        let report = self.report.lock().unwrap_or_else(PoisonError::into_inner);
        match &report.problem {
            Some(problem) => problem.clone(),
            None => format!("listening for {} monitors", report.monitors.len()),
        }
    }
}

/// Frames that the disk would not take, for a person to save.
pub(super) fn tell_lost(frames: &[Frame]) {
    for frame in frames {
        tracing::error!(
            "not kept, feed this line to `quietcuff replay` when there is room: {}",
            AsLine(frame)
        );
    }
}

pub(super) async fn stopped() {
    let signals =
        signal(SignalKind::terminate()).and_then(|term| Ok((term, signal(SignalKind::interrupt())?)));
    match signals {
        Ok((mut term, mut interrupt)) => {
            tokio::select! { _ = term.recv() => {}, _ = interrupt.recv() => {} }
            tracing::info!("stopping");
        }
        Err(error) => {
            tracing::warn!("signals cannot be caught, so the goodbye to BlueZ will be rude: {error}");
            std::future::pending::<()>().await;
        }
    }
}

fn central_failed(error: CentralError) -> Failure {
    match error {
        CentralError::Bus(error) => error.into(),
        other => Failure::new(failure::UNAVAILABLE, other.to_string()),
    }
}

/// Who answers at the local socket.
#[derive(Clone)]
struct Desk {
    state: PathBuf,
    report: SharedReport,
    progress: watch::Receiver<Progress>,
    frames: mpsc::Sender<Entry>,
    ask: mpsc::Sender<Request>,
    pairings: Pairings,
}

/// What this process takes of the machine, from proc(5).
fn process() -> serde_json::Value {
    let open_files = std::fs::read_dir("/proc/self/fd").map(Iterator::count).ok();
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let resident = status
        .lines()
        .find_map(|line| {
            line.strip_prefix("VmRSS:")?
                .trim()
                .strip_suffix(" kB")?
                .parse()
                .ok()
        })
        .map(|kib: u64| kib * 1024);
    serde_json::json!({ "open_files": open_files, "resident_octets": resident })
}

impl Desk {
    async fn answer(&self, question: Question) -> serde_json::Value {
        let outcome = match question {
            Question::Status => return self.status(),
            Question::Reload => self.reload().await,
            Question::SetClock { monitor } => self.set_clock(&monitor).await,
            pairing => return self.pairings.answer(pairing),
        };
        match outcome {
            Ok(()) => serde_json::json!({ "done": true }),
            Err(error) => serde_json::json!({ "error": error }),
        }
    }

    fn status(&self) -> serde_json::Value {
        let report = self.report.lock().unwrap_or_else(PoisonError::into_inner).clone();
        let progress = self.progress.borrow().clone();
        serde_json::json!({
            "running": true,
            "version": env!("CARGO_PKG_VERSION"),
            "radio": report,
            "journal": {
                "frames_kept": progress.frames,
                "last_frame": progress.last_frame,
                "problem": progress.problem,
                "queue": self.frames.max_capacity() - self.frames.capacity(),
            },
            "process": process(),
        })
    }

    async fn reload(&self) -> Result<(), String> {
        let journal = Journal::open_existing(&self.state).map_err(|e| e.to_string())?;
        let enrolled = enrolled(&journal).map_err(|e| e.to_string())?;
        self.ask
            .send(Request::Enrolled(enrolled))
            .await
            .map_err(|e| e.to_string())
    }

    async fn set_clock(&self, monitor: &str) -> Result<(), String> {
        let journal = Journal::open_existing(&self.state).map_err(|e| e.to_string())?;
        let enrolled = enrolled(&journal).map_err(|e| e.to_string())?;
        let addresses: Vec<MonitorAddress> = enrolled
            .into_iter()
            .filter(|one| one.id == monitor)
            .map(|one| one.address)
            .collect();
        if addresses.is_empty() {
            return Err(format!("no monitor {monitor:?} is enrolled"));
        }
        for address in addresses {
            self.ask
                .send(Request::SetClock(address))
                .await
                .map_err(|e| e.to_string())?;
        }
        Ok(())
    }
}
