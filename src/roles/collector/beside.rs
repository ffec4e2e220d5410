//! What runs beside the radio's loop: a look at the clocks, and a process that makes readings of what came.

use crate::edge::Edge;
use crate::journal::{Entry, WriterProgress};
use crate::radio::bus::Bus;
use std::path::PathBuf;
use std::time::{Duration, Instant};
use tokio::sync::{mpsc, watch};

/// A burst's frames follow each other within tenths of a second.
const QUIET: Duration = Duration::from_secs(1);

/// How often the wall clock is looked at. A clock that is being adjusted moves by milliseconds in that time.
const CLOCK_LOOK: Duration = Duration::from_mins(1);
/// What a listener's record has held for long is looked for so often.
const LET_GO: Duration = Duration::from_hours(6);
/// A wall clock that moved by more against the boot clock was set.
const CLOCK_STEP_US: i64 = 1_000_000;

/// Holds the wall clock against the boot clock, and keeps a sample at the start, when the wall clock was set,
/// and once it is synchronised: what was received on a wrong clock can be mended then.
pub(super) async fn watch_clocks(
    edge: Edge,
    bus: Bus,
    journal: mpsc::Sender<Entry>,
    tell: watch::Sender<Option<bool>>,
) {
    let mut look = tokio::time::interval(CLOCK_LOOK);
    let mut last: Option<(i64, bool)> = None;
    let mut let_go: Option<Instant> = None;
    loop {
        look.tick().await;
        let Some(mut sample) = edge.sample() else { return };
        let now = sample.wall;
        let ahead = sample.wall.as_microsecond() - sample.uptime.micros;
        let was_set = last.is_none_or(|(before, _)| (ahead - before).abs() > CLOCK_STEP_US);
        let unsure = last.is_none_or(|(_, synchronized)| !synchronized);
        if was_set || unsure {
            let synchronized = bus.clock_synchronized().await;
            tell.send_replace(synchronized);
            edge.tell_synchronized(synchronized);
            sample.synchronized = synchronized.unwrap_or(false);
            if was_set || sample.synchronized {
                last = Some((ahead, sample.synchronized));
                if journal.send(Entry::Clock(sample)).await.is_err() {
                    return;
                }
            }
        }
        let known = last.is_some_and(|(_, synchronized)| synchronized);
        if known && let_go.is_none_or(|before| before.elapsed() >= LET_GO) {
            let_go = Some(Instant::now());
            if journal.send(Entry::LetGo(now)).await.is_err() {
                return;
            }
        }
    }
}

/// Whenever a burst is over, lets a process of its own make readings of it, so that whoever looks finds them
/// ready. Apart from this one, because nothing that judges may ever hold up, or take down, what hears and
/// keeps.
pub(super) async fn settle_when_quiet(
    mut progress: watch::Receiver<WriterProgress>,
    program: PathBuf,
    state: PathBuf,
) {
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
