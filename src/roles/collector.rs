//! The collector: hears the household's monitors, and keeps what they send. It judges nothing.

mod beside;
mod desk;
mod life;

use super::manager::ServiceManager;
use super::pairing::{self, Pairings};
use super::{Ended, StartError, stated};
use crate::edge::Edge;
use crate::household::UnknownZone;
use crate::journal::{Journal, JournalError, Writer};
use crate::radio::Radio;
use crate::radio::bus::{Bus, BusError};
use crate::radio::central::{Central, CentralError, CentralRequest};
use crate::radio::report::SharedReport;
use crate::socket::{self, SocketError};
use desk::SocketDesk;
use life::Pulse;
use serde::{Deserialize, Serialize};
use std::path::PathBuf;
use std::sync::Arc;
use tokio::sync::{mpsc, watch};

/// Requests to the radio that may wait; they come from people.
const REQUESTS_MAX: usize = 16;

/// Where the collector works, and how it uses the radio.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CollectorPlace {
    /// The program with all commands: readings are made by a process of its own.
    pub program: PathBuf,
    /// The directory of the journal.
    pub state: PathBuf,
    /// How the radio is used.
    pub radio: Radio,
}

/// Why the collector cannot begin, or ended.
#[derive(Debug, thiserror::Error)]
pub enum CollectorError {
    /// The journal cannot be read.
    #[error(transparent)]
    Journal(#[from] JournalError),
    /// D-Bus or BlueZ refuses.
    #[error(transparent)]
    Bus(#[from] BusError),
    /// The radio's loop ended.
    #[error(transparent)]
    Central(CentralError),
    /// The household's time zone is none.
    #[error("time-zone: {0}")]
    Zone(#[from] UnknownZone),
    /// The local socket cannot be opened.
    #[error(transparent)]
    Socket(#[from] SocketError),
    /// The operating system gives no thread or no timer.
    #[error(transparent)]
    Start(#[from] StartError),
}

impl From<CentralError> for CollectorError {
    fn from(error: CentralError) -> Self {
        match error {
            CentralError::Bus(error) => Self::Bus(error),
            other => Self::Central(other),
        }
    }
}

/// Collects until `stop` ends. The order of the boot: the journal, the local socket (which keeps a second
/// collector out), the bus, the journal's writer, what runs beside the radio, the desk, and last the radio.
pub async fn collect(
    place: &CollectorPlace,
    service: Arc<ServiceManager>,
    stop: impl Future<Output = ()>,
) -> Result<Ended, CollectorError> {
    let journal = Journal::open_existing(&place.state)?;
    let edge = Edge::new(stated::zone(None, &journal.household()?)?);
    let enrolled = stated::enrolled(&journal)?;
    if enrolled.is_empty() {
        tracing::info!(
            "no monitor is enrolled yet; `quietcuff monitors add ADDRESS` enrols one while this runs"
        );
    }
    let listener = socket::bind(&socket::path(&place.state))?;
    let bus = Bus::connect()?;
    let (writer, frames) = Writer::start(journal).map_err(StartError)?;
    let report = SharedReport::default();
    let settling = beside::settle_when_quiet(writer.progress(), place.program.clone(), place.state.clone());
    let (tell_clock, clock) = watch::channel(None);
    let clocks = beside::watch_clocks(edge.clone(), bus.clone(), frames.clone(), tell_clock);
    let (ask, requests) = mpsc::channel(REQUESTS_MAX);
    let _ = ask.send(CentralRequest::Enrolled(enrolled)).await;
    let desk = SocketDesk {
        state: place.state.clone(),
        report: report.clone(),
        progress: writer.progress(),
        frames: frames.clone(),
        radio: ask.clone(),
        clock,
        pairings: Pairings::new(pairing::PairingPlace {
            state: place.state.clone(),
            adapter: place.radio.adapter.clone(),
            // The household's own zone was stated when this began.
            time_zone: None,
            radio: Some(ask),
        }),
    };
    let served = socket::serve(listener, move |request| {
        let desk = desk.clone();
        async move { desk.answer(request).await }
    });
    let mut tasks = vec![tokio::spawn(settling), tokio::spawn(clocks), tokio::spawn(served)];
    let central = Central::new(bus, place.radio.clone(), edge, frames.clone(), report.clone()).await?;
    let (turns, turned) = watch::channel(0);
    if service.is_managed() {
        let pulse = Pulse {
            turned,
            written: writer.turns(),
            frames,
            report,
        };
        tasks.push(tokio::spawn(life::show(service.clone(), pulse)));
    }
    let stop = async {
        stop.await;
        service.stopping();
    };
    let ended = central.run(requests, turns, stop).await;
    for task in tasks {
        task.abort();
    }
    let _ = std::fs::remove_file(socket::path(&place.state));
    let left = super::finish(writer).await;
    ended?;
    Ok(left)
}
