//! `quietcuff overhear`: the second ear, a role of its own beside the daemon. It keeps what it overhears in the same
//! journal, over a connection of its own, and tells how it is on a socket of its own.

use super::place::{known, zone};
use super::service::{Moved, Service};
use super::{Everywhere, Failure, Outcome, failure};
use crate::edge::Edge;
use crate::frame::{Frame, Uptime};
use crate::journal::{Entry, Journal, Progress, Writer};
use crate::radio::ear::btmon::{self, Btmon, Listener};
use crate::radio::ear::{Counts, Known, Overheard};
use crate::socket::{self, Question};
use clap::Args;
use serde::Serialize;
use serde_json::Value;
use std::io;
use std::path::Path;
use std::process::ExitCode;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Duration;
use tokio::io::AsyncReadExt;
use tokio::process::ChildStderr;
use tokio::sync::{mpsc, watch};

/// A `btmon` that ended is started again after so long: sooner than a monitor comes back.
const RESTART_PAUSE: Duration = Duration::from_secs(1);

/// Of what `btmon` says when it ends, so much is told.
const LAST_WORDS_OCTETS_MAX: usize = 1024;

/// Listens beside the daemon until it is told to stop. Needs `btmon`, which comes with BlueZ, and CAP_NET_RAW.
#[derive(Args)]
pub(crate) struct OverhearArgs {}

/// What `status` and `check` are told.
#[derive(Clone, Debug, Default, Serialize)]
struct Report {
    listening: bool,
    problem: Option<String>,
    /// Since the start.
    counts: Counts,
}

impl Report {
    /// For everybody on the machine.
    fn in_short(&self) -> &'static str {
        if self.listening {
            "listening"
        } else {
            "not listening: btmon ended, and is started again"
        }
    }
}

type SharedReport = watch::Sender<Report>;

pub(crate) fn run(here: &Everywhere, _: &OverhearArgs) -> Outcome {
    let state = here.state()?;
    let config = here.config()?;
    let journal = here.journal()?;
    let edge = Edge::new(zone(&config, &journal)?);
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .map_err(|e| Failure::new(failure::INTERNAL, format!("cannot start: {e}")))?;
    runtime.block_on(overhear(&state, journal, edge))
}

async fn overhear(state: &Path, journal: Journal, edge: Edge) -> Outcome {
    let path = socket::ear_path(state);
    let listener = socket::bind_at(&path).map_err(|e| {
        let what = format!("cannot open the local socket {}: {e}", path.display());
        Failure::new(failure::UNAVAILABLE, what)
    })?;
    let (writer, frames) = Writer::start(journal).map_err(|e| {
        let what = format!("cannot start the journal's thread: {e}");
        Failure::new(failure::INTERNAL, what)
    })?;
    let report = SharedReport::new(Report::default());
    let (told, progress) = (report.clone(), writer.progress());
    let served = tokio::spawn(socket::serve(listener, move |_| {
        let answer = status(&told, &progress);
        async move { answer }
    }));
    let life = tokio::spawn(show_life(writer.turns(), frames.clone(), report.subscribe()));
    let ended = listen_on(state, &edge, &frames, &report, super::run::stopped()).await;
    life.abort();
    served.abort();
    let _ = std::fs::remove_file(&path);
    let lost = tokio::task::spawn_blocking(|| writer.finish())
        .await
        .unwrap_or_default();
    super::run::tell_lost(&lost);
    ended?;
    Ok(ExitCode::from(if lost.is_empty() { 0 } else { failure::IO }))
}

/// Tells the service manager once it is known whether the ear listens, when that changes, and that the writer still
/// takes what it is handed.
async fn show_life(turns: Arc<AtomicU64>, frames: mpsc::Sender<Entry>, mut report: watch::Receiver<Report>) {
    let service = Service::of_environment();
    if !service.is_managed() {
        return;
    }
    let is_known = |report: &Report| report.listening || report.problem.is_some();
    let Ok(mut said) = report.wait_for(is_known).await.map(|report| report.in_short()) else {
        return;
    };
    service.ready(said);
    let counts = || [turns.load(Ordering::Relaxed)];
    let mut moved = Moved::since(counts());
    loop {
        let _ = frames.try_send(Entry::Look);
        let look = tokio::time::sleep(service.wait_max());
        tokio::pin!(look);
        loop {
            tokio::select! {
                () = &mut look => break,
                Ok(()) = report.changed() => {
                    let now = report.borrow_and_update().in_short();
                    if now != said {
                        service.status(now);
                        said = now;
                    }
                }
            }
        }
        if moved.all(counts()) {
            service.alive();
        } else {
            tracing::error!("no progress in the journal's writer since the last look");
        }
    }
}

fn status(report: &SharedReport, progress: &watch::Receiver<Progress>) -> Value {
    let report = report.borrow().clone();
    let progress = progress.borrow().clone();
    serde_json::json!({
        "running": true,
        "version": env!("CARGO_PKG_VERSION"),
        "ear": report,
        "journal": {
            "frames_kept": progress.frames,
            "last_frame": progress.last_frame,
            "problem": progress.problem,
        },
    })
}

/// How the second ear is, for `status` and `check`.
pub(super) struct Ear {
    /// What it answers; `None` where it does not run, an error where it does not answer.
    answer: io::Result<Option<Value>>,
    /// Readings that only it heard, ever.
    alone: Option<i64>,
}

impl Ear {
    pub(super) fn ask(state: &Path) -> Self {
        let alone = Journal::open_existing(state).and_then(|mut journal| {
            journal.settle()?;
            journal.only_overheard()
        });
        Self {
            answer: socket::ask_at(&socket::ear_path(state), &Question::Status),
            alone: alone.ok(),
        }
    }

    pub(super) fn runs(&self) -> bool {
        matches!(self.answer, Ok(Some(_)))
    }

    pub(super) fn problem(&self) -> Option<String> {
        match &self.answer {
            Err(error) => Some(format!("does not answer: {error}")),
            Ok(None) => None,
            Ok(Some(status)) => ["/ear/problem", "/journal/problem"]
                .iter()
                .find_map(|place| status.pointer(place)?.as_str())
                .or_else(|| {
                    let listening = status.pointer("/ear/listening") == Some(&Value::Bool(true));
                    (!listening).then_some("does not listen yet: btmon has brought nothing")
                })
                .map(str::to_owned),
        }
    }

    pub(super) fn json(&self) -> Value {
        let answer = match &self.answer {
            Ok(Some(status)) => status.clone(),
            _ => serde_json::json!({ "running": false }),
        };
        let mut told = answer.as_object().cloned().unwrap_or_default();
        told.insert("only_overheard".to_owned(), self.alone.into());
        told.into()
    }

    /// In words.
    pub(super) fn sentence(&self) -> String {
        let alone = match self.alone {
            Some(1) => "one reading was heard by it alone".to_owned(),
            Some(more) => format!("{more} readings were heard by it alone"),
            None => "the journal does not say what it heard alone".to_owned(),
        };
        if let Some(problem) = self.problem() {
            return format!("{problem}; {alone}");
        }
        let Ok(Some(status)) = &self.answer else {
            return format!("off; {alone}");
        };
        let count = |name: &str| {
            let counted = status.pointer(&format!("/ear/counts/{name}"));
            counted.and_then(Value::as_u64).unwrap_or_default()
        };
        let mut said = format!(
            "listening, {} measurements since its start; {alone}",
            count("taken")
        );
        let left = count("unknown_handle") + count("implausible");
        if left > 0 {
            said +=
                &format!("; {left} indications were no measurement, or at a handle that it does not know");
        }
        said
    }
}

/// Listens through one `btmon` after the other, until `stop` or until another would fare no better. When it returns,
/// all that was overheard has been handed over.
async fn listen_on(
    state: &Path,
    edge: &Edge,
    frames: &mpsc::Sender<Entry>,
    report: &SharedReport,
    stop: impl Future<Output = ()>,
) -> Result<(), Failure> {
    tokio::pin!(stop);
    let mut earlier = Counts::default();
    loop {
        let Btmon { mut child, packets } = Btmon::start().map_err(|error| {
            let what = format!("btmon cannot be started: {error}; it comes with BlueZ: `apt install bluez`");
            Failure::new(failure::UNAVAILABLE, what)
        })?;
        let words = tokio::spawn(last_words(child.stderr.take()));
        let mut desk = Desk::new(state, edge.clone(), frames.clone(), report.clone(), earlier)?;
        // Its thread ends with the pipe, and that with the process; or before it, with what cannot be read.
        let mut listening = tokio::task::spawn_blocking(move || {
            let ended = btmon::listen(packets, &mut desk);
            (ended, desk.earlier.plus(desk.now))
        });
        let mut heard_out = None;
        let stopped = tokio::select! {
            _ = child.wait() => false,
            ended = &mut listening => {
                heard_out = Some(ended);
                false
            }
            () = &mut stop => true,
        };
        // Ends it, if it has not ended, and tells how.
        let _ = child.start_kill();
        let status = child.wait().await;
        let (ended, counts) = match heard_out {
            Some(ended) => ended,
            None => listening.await,
        }
        .map_err(|e| Failure::new(failure::INTERNAL, format!("the ear's thread failed: {e}")))?;
        if stopped {
            return Ok(());
        }
        // Who else has its standard error may keep it open.
        let words = tokio::time::timeout(RESTART_PAUSE, words).await;
        let words = words.ok().and_then(Result::ok).unwrap_or_default();
        if words.contains("not permitted") {
            return Err(Failure::new(
                failure::NO_PERMISSION,
                "the HCI monitor channel may not be opened: give this role CAP_NET_RAW, as \
                 systemd/quietcuff-overhear.service does",
            ));
        }
        earlier = counts;
        let how = status.map_or_else(|error| error.to_string(), |status| status.to_string());
        let wrote = ended.map_or_else(
            |error| format!(", what it wrote cannot be read: {error}"),
            |()| String::new(),
        );
        let problem = format!("btmon ended ({how}){wrote}, {words:?}; it is started again");
        tracing::warn!("{problem}");
        report.send_modify(|report| {
            report.listening = false;
            report.problem = Some(problem);
        });
        tokio::select! {
            () = tokio::time::sleep(RESTART_PAUSE) => {}
            () = &mut stop => return Ok(()),
        }
    }
}

/// The last that a `btmon` said. All of it is read: with a full pipe it would stand still.
async fn last_words(stderr: Option<ChildStderr>) -> String {
    let mut words = Vec::new();
    if let Some(mut stderr) = stderr {
        while let Ok(1..) = stderr.read_buf(&mut words).await {
            words.drain(..words.len().saturating_sub(LAST_WORDS_OCTETS_MAX));
        }
    }
    String::from_utf8_lossy(&words).trim().to_owned()
}

/// Between what is overheard and the journal.
struct Desk {
    /// For reading; the writer has its own.
    journal: Journal,
    version: Option<i64>,
    known: Known,
    edge: Edge,
    frames: mpsc::Sender<Entry>,
    report: SharedReport,
    /// What earlier `btmon`s brought,
    earlier: Counts,
    /// and this one.
    now: Counts,
}

impl Desk {
    fn new(
        state: &Path,
        edge: Edge,
        frames: mpsc::Sender<Entry>,
        report: SharedReport,
        earlier: Counts,
    ) -> Result<Self, Failure> {
        Ok(Self {
            journal: Journal::open_existing(state)?,
            version: None,
            known: Known::new(),
            edge,
            frames,
            report,
            earlier,
            now: Counts::default(),
        })
    }

    fn tell(&self, change: impl FnOnce(&mut Report)) {
        self.report.send_modify(change);
    }
}

impl Listener for Desk {
    fn open(&mut self) {
        tracing::info!("overhearing the HCI monitor channel");
        self.tell(|report| {
            report.listening = true;
            report.problem = None;
        });
    }

    fn known(&mut self) -> &Known {
        // A journal that cannot be read now is asked again with the next packet; what was known holds.
        if let Ok(version) = self.journal.data_version()
            && self.version != Some(version)
        {
            match known(&self.journal) {
                Ok(known) => (self.known, self.version) = (known, Some(version)),
                Err(error) => tracing::warn!("the household's monitors cannot be looked up: {error}"),
            }
        }
        &self.known
    }

    fn heard(&mut self, overheard: Overheard) {
        let moment = self.edge.stamped(overheard.at);
        let lasted = overheard.at.duration_since(overheard.connected);
        let begun = moment.uptime.as_ref().map(|uptime| Uptime {
            boot: uptime.boot.clone(),
            micros: uptime.micros - i64::try_from(lasted.as_micros()).unwrap_or(0).max(0),
        });
        let connection = self
            .journal
            .connection_begun_at(&overheard.monitor, overheard.connected, begun.as_ref())
            .unwrap_or_else(|error| {
                tracing::warn!("its connection cannot be told: {error}");
                1
            });
        let frame = Frame {
            received_at: moment.at,
            offset: moment.offset,
            uptime: moment.uptime,
            given_to: None,
            overheard: true,
            monitor: overheard.monitor,
            connection,
            characteristic: overheard.characteristic,
            value: overheard.value,
        };
        tracing::debug!(monitor = %frame.monitor, octets = frame.value.len(), "overheard");
        if self.frames.blocking_send(Entry::Frame(frame)).is_err() {
            tracing::error!("the journal has stopped; a frame could not be kept");
        }
    }

    fn counted(&mut self, counts: Counts) {
        self.now = counts;
        let all = self.earlier.plus(counts);
        self.tell(|report| report.counts = all);
    }
}
