//! The collector's desk: what it answers at the local socket.

use super::super::pairing::Pairings;
use super::super::stated::enrolled;
use crate::household::{MonitorAddress, MonitorId, Statement};
use crate::journal::{Entry, Journal, WriterProgress};
use crate::radio::bus::Bus;
use crate::radio::central;
use crate::radio::report::SharedReport;
use crate::socket::report::{CollectorReport, ProcessReport, WriterReport};
use crate::socket::speech::{Answer, Request};
use std::path::PathBuf;
use std::sync::PoisonError;
use tokio::sync::{mpsc, watch};

/// Who answers at the local socket.
#[derive(Clone)]
pub(super) struct SocketDesk {
    pub(super) state: PathBuf,
    pub(super) report: SharedReport,
    pub(super) progress: watch::Receiver<WriterProgress>,
    pub(super) frames: mpsc::Sender<Entry>,
    pub(super) radio: mpsc::Sender<central::CentralRequest>,
    pub(super) pairings: Pairings,
    /// Whether the machine's clock is known to be right.
    pub(super) clock: watch::Receiver<Option<bool>>,
}

fn process() -> ProcessReport {
    let files = std::fs::read_dir("/proc/self/fd").map(Iterator::count).ok();
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let resident_kib = status.lines().find_map(|line| {
        let kib = line.strip_prefix("VmRSS:")?.trim().strip_suffix(" kB")?;
        kib.parse::<u64>().ok()
    });
    ProcessReport {
        open_files: files.and_then(|files| u64::try_from(files).ok()),
        resident_octets: resident_kib.map(|kib| kib * 1024),
    }
}

impl SocketDesk {
    pub(super) async fn answer(&self, request: Request) -> Answer {
        let outcome = match request {
            Request::Status => {
                let report = Box::new(self.report());
                return Answer::Collector { report };
            }
            Request::Reload => self.reload().await,
            Request::SetClock { monitor } => self.set_clock(&monitor).await,
            Request::Forget { monitor } => self.forget(&monitor).await,
            Request::ForgetAt { address } => self.forget_at(address).await,
            Request::At { .. } => Err("this is no record's door; ask it at its own socket".to_owned()),
            Request::Opening { .. } => Err("this is not delivery; ask it at its own socket".to_owned()),
            Request::Find
            | Request::Pair { .. }
            | Request::Passkey { .. }
            | Request::Pairing
            | Request::StopPairing => return self.pairings.answer(request),
        };
        match outcome {
            Ok(()) => Answer::Done,
            Err(error) => Answer::Refused { error },
        }
    }

    fn report(&self) -> CollectorReport {
        let radio = self.report.lock().unwrap_or_else(PoisonError::into_inner).clone();
        let progress = self.progress.borrow().clone();
        CollectorReport {
            running: true,
            version: env!("CARGO_PKG_VERSION").to_owned(),
            radio,
            journal: WriterReport {
                frames_kept: progress.frames,
                last_frame: progress.last_frame,
                problem: progress.problem,
                queue: self.frames.max_capacity() - self.frames.capacity(),
            },
            clock_synchronized: *self.clock.borrow(),
            process: process(),
        }
    }

    async fn reload(&self) -> Result<(), String> {
        let journal = Journal::read_as_it_is(&self.state).map_err(|e| e.to_string())?;
        let enrolled = enrolled(&journal).map_err(|e| e.to_string())?;
        self.radio
            .send(central::CentralRequest::Enrolled(enrolled))
            .await
            .map_err(|e| e.to_string())
    }

    /// One that is still listened to keeps its bond.
    async fn forget(&self, monitor: &MonitorId) -> Result<(), String> {
        self.reload().await?;
        let journal = Journal::read_as_it_is(&self.state).map_err(|e| e.to_string())?;
        let household = journal.household().map_err(|e| e.to_string())?;
        let forgotten = !household.here.contains(monitor);
        let theirs = household
            .addresses
            .iter()
            .filter(|(_, id)| forgotten && *id == monitor);
        let addresses: Vec<MonitorAddress> = theirs.map(|(address, _)| address.clone()).collect();
        let removed = async { Bus::connect()?.forget(&addresses).await };
        removed.await.map_err(|e| e.to_string())
    }

    /// The household here, which is a listener's, forgets it. One that is not listened to is as good as forgotten.
    async fn forget_at(&self, address: MonitorAddress) -> Result<(), String> {
        let state = self.state.clone();
        let stated = tokio::task::spawn_blocking(move || -> Result<Option<MonitorId>, String> {
            let mut journal = Journal::open_existing(&state).map_err(|e| e.to_string())?;
            let household = journal.household().map_err(|e| e.to_string())?;
            let known = household.addresses.get(&address);
            let Some(monitor) = known.filter(|id| household.here.contains(*id)).cloned() else {
                return Ok(None);
            };
            let forgotten = Statement::MonitorForgotten {
                monitor: monitor.clone(),
            };
            journal
                .state(jiff::Timestamp::now(), &[forgotten])
                .map_err(|e| e.to_string())?;
            journal.withdraw_consents(&monitor).map_err(|e| e.to_string())?;
            Ok(Some(monitor))
        });
        match stated.await.map_err(|e| e.to_string())?? {
            Some(monitor) => self.forget(&monitor).await,
            None => Ok(()),
        }
    }

    async fn set_clock(&self, monitor: &MonitorId) -> Result<(), String> {
        let journal = Journal::read_as_it_is(&self.state).map_err(|e| e.to_string())?;
        let enrolled = enrolled(&journal).map_err(|e| e.to_string())?;
        let addresses: Vec<MonitorAddress> = enrolled
            .into_iter()
            .filter(|one| one.id == monitor.as_str())
            .map(|one| one.address)
            .collect();
        if addresses.is_empty() {
            return Err(format!("no monitor {monitor} is enrolled"));
        }
        for address in addresses {
            self.radio
                .send(central::CentralRequest::SetClock(address))
                .await
                .map_err(|e| e.to_string())?;
        }
        Ok(())
    }
}
