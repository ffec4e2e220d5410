//! The second ear, beside the collector. It keeps what it overhears in the same journal, over a connection of
//! its own, and tells how it is on a socket of its own.

use super::manager::{Moved, ServiceManager};
use super::stated::known;
use super::{Ended, StartError};
use crate::edge::Edge;
use crate::frame::{Frame, Uptime};
use crate::journal::{Entry, Journal, JournalError, Writer, WriterProgress};
use crate::radio::ear::btmon::{self, Btmon, ChannelListener};
use crate::radio::ear::{EarCounts, ListenedTo, Overheard};
use crate::socket::report::{EarReport, OverheardReport, WriterReport};
use crate::socket::speech::{Answer, Request};
use crate::socket::{self, SocketError};
use crate::whole::reason;
use std::io;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Duration;
use tokio::io::AsyncReadExt;
use tokio::process::ChildStderr;
use tokio::sync::{mpsc, watch};
use tokio::task::JoinError;

/// A `btmon` that ended is started again after so long: sooner than a monitor comes back.
const RESTART_PAUSE: Duration = Duration::from_secs(1);

/// Of what `btmon` says when it ends, so much is told.
const LAST_WORDS_OCTETS_MAX: usize = 1024;

/// For everybody on the machine.
fn in_short(report: &OverheardReport) -> &'static str {
    if report.listening {
        "listening"
    } else {
        "not listening: btmon ended, and is started again"
    }
}

type SharedReport = watch::Sender<OverheardReport>;

/// Why the second ear cannot begin, or ended.
#[derive(Debug, thiserror::Error)]
pub enum EarError {
    /// The journal cannot be read.
    #[error(transparent)]
    Journal(#[from] JournalError),
    /// The local socket cannot be opened.
    #[error(transparent)]
    Socket(#[from] SocketError),
    /// The operating system gives no thread or no timer.
    #[error(transparent)]
    Start(#[from] StartError),
    /// There is no `btmon`, or it cannot be run.
    #[error("btmon cannot be started: {}; it comes with BlueZ: `apt install bluez`", reason(.0))]
    Btmon(io::Error),
    /// The kernel does not open the channel for this process.
    #[error(
        "the HCI monitor channel may not be opened: give this role CAP_NET_RAW, as systemd/quietcuff-overhear.service \
         does"
    )]
    NotPermitted,
    /// The thread that reads what `btmon` writes ended by itself.
    #[error("the ear's thread failed: {0}")]
    Thread(#[from] JoinError),
}

/// Overhears until `stop` ends. The order of the boot: the local socket (which keeps a second ear out), the
/// journal's writer, the desk, and last `btmon`.
pub async fn overhear(
    state: &Path,
    journal: Journal,
    edge: Edge,
    service: ServiceManager,
    stop: impl Future<Output = ()>,
) -> Result<Ended, EarError> {
    let path = socket::ear_path(state);
    let listener = socket::bind(&path)?;
    let (writer, frames) = Writer::start(journal).map_err(StartError)?;
    let report = SharedReport::new(OverheardReport::default());
    let (told, progress) = (report.clone(), writer.progress());
    let served = tokio::spawn(socket::serve(listener, move |request| {
        let answer = answer(&request, &told, &progress);
        async move { answer }
    }));
    let life = show_life(service, writer.turns(), frames.clone(), report.subscribe());
    let life = tokio::spawn(life);
    let ended = listen_on(state, &edge, &frames, &report, stop).await;
    life.abort();
    served.abort();
    let _ = std::fs::remove_file(&path);
    let left = super::finish(writer).await;
    ended?;
    Ok(left)
}

/// Tells the service manager once it is known whether the ear listens, when that changes, and that the writer
/// still takes what it is handed.
async fn show_life(
    service: ServiceManager,
    turns: Arc<AtomicU64>,
    frames: mpsc::Sender<Entry>,
    mut report: watch::Receiver<OverheardReport>,
) {
    if !service.is_managed() {
        return;
    }
    let is_known = |report: &OverheardReport| report.listening || report.problem.is_some();
    let Ok(mut said) = report.wait_for(is_known).await.map(|report| in_short(&report)) else {
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
                    let now = in_short(&report.borrow_and_update());
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

fn answer(request: &Request, report: &SharedReport, progress: &watch::Receiver<WriterProgress>) -> Answer {
    if *request != Request::Status {
        return Answer::Refused {
            error: "the second ear says how it is, and does nothing else for others; ask the collector"
                .to_owned(),
        };
    }
    let progress = progress.borrow().clone();
    let report = EarReport {
        running: true,
        version: env!("CARGO_PKG_VERSION").to_owned(),
        ear: report.borrow().clone(),
        journal: WriterReport {
            frames_kept: progress.frames,
            last_frame: progress.last_frame,
            problem: progress.problem,
            queue: 0,
        },
    };
    Answer::Ear {
        report: Box::new(report),
    }
}

/// Listens through one `btmon` after the other, until `stop` or until another would fare no better. When it
/// returns, all that was overheard has been handed over.
async fn listen_on(
    state: &Path,
    edge: &Edge,
    frames: &mpsc::Sender<Entry>,
    report: &SharedReport,
    stop: impl Future<Output = ()>,
) -> Result<(), EarError> {
    tokio::pin!(stop);
    let mut earlier = EarCounts::default();
    loop {
        let Btmon { mut child, packets } = Btmon::start().map_err(EarError::Btmon)?;
        let words = tokio::spawn(last_words(child.stderr.take()));
        let mut desk = EarDesk::new(state, edge.clone(), frames.clone(), report.clone(), earlier)?;
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
        }?;
        if stopped {
            return Ok(());
        }
        // Who else has its standard error may keep it open.
        let words = tokio::time::timeout(RESTART_PAUSE, words).await;
        let words = words.ok().and_then(Result::ok).unwrap_or_default();
        if words.contains("not permitted") {
            return Err(EarError::NotPermitted);
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
struct EarDesk {
    /// For reading; the writer has its own.
    journal: Journal,
    version: Option<i64>,
    known: ListenedTo,
    edge: Edge,
    frames: mpsc::Sender<Entry>,
    report: SharedReport,
    /// What earlier `btmon`s brought,
    earlier: EarCounts,
    /// and this one.
    now: EarCounts,
}

impl EarDesk {
    fn new(
        state: &Path,
        edge: Edge,
        frames: mpsc::Sender<Entry>,
        report: SharedReport,
        earlier: EarCounts,
    ) -> Result<Self, JournalError> {
        Ok(Self {
            journal: Journal::open_existing(state)?,
            version: None,
            known: ListenedTo::new(),
            edge,
            frames,
            report,
            earlier,
            now: EarCounts::default(),
        })
    }

    fn tell(&self, change: impl FnOnce(&mut OverheardReport)) {
        self.report.send_modify(change);
    }
}

impl ChannelListener for EarDesk {
    fn open(&mut self) {
        tracing::info!("overhearing the HCI monitor channel");
        self.tell(|report| {
            report.listening = true;
            report.problem = None;
        });
    }

    fn known(&mut self) -> &ListenedTo {
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

    fn counted(&mut self, counts: EarCounts) {
        self.now = counts;
        let all = self.earlier.plus(counts);
        self.tell(|report| report.counts = all);
    }
}
