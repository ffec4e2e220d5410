//! The collector's desk: what it answers at the local socket.

use super::super::pairing::Pairings;
use super::super::stated::enrolled;
use crate::household::MonitorAddress;
use crate::journal::{Entry, Journal, Progress};
use crate::radio::central::Request;
use crate::radio::report::SharedReport;
use crate::socket::Question;
use std::path::PathBuf;
use std::sync::PoisonError;
use tokio::sync::{mpsc, watch};

/// Who answers at the local socket.
#[derive(Clone)]
pub(super) struct Desk {
    pub(super) state: PathBuf,
    pub(super) report: SharedReport,
    pub(super) progress: watch::Receiver<Progress>,
    pub(super) frames: mpsc::Sender<Entry>,
    pub(super) ask: mpsc::Sender<Request>,
    pub(super) pairings: Pairings,
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
    pub(super) async fn answer(&self, question: Question) -> serde_json::Value {
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
