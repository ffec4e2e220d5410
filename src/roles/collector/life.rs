//! Where it shows that the collector lives, and what the service manager is told of it.

use super::super::manager::{Moved, ServiceManager};
use crate::journal::Entry;
use crate::radio::report::SharedReport;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, PoisonError};
use tokio::sync::{mpsc, watch};

/// The counts that move while it lives.
pub(super) struct Pulse {
    pub(super) turned: watch::Receiver<u64>,
    pub(super) written: Arc<AtomicU64>,
    pub(super) frames: mpsc::Sender<Entry>,
    pub(super) report: SharedReport,
}

/// Tells the service manager when the radio is set up, then that the loop turns and the writer writes.
pub(super) async fn show(service: Arc<ServiceManager>, mut pulse: Pulse) {
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
