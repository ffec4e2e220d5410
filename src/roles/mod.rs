//! The roles: programs that stay. Each is one file here, takes values (directories, configuration, when to
//! stop) and returns a result with a type. A role prints nothing and reads no command line; `cli` does both.
//!
//! | role | command | reads | writes |
//! |---|---|---|---|
//! | [`collector`] | `run` | BlueZ, the local socket | the journal |
//! | [`ear`] | `overhear` | the HCI monitor channel | the journal |
//! | [`page`] | `serve` | the journal, what browsers send | browsers; statements and keys in the journal |
//! | [`delivery`] | `deliver` | the journal, its local socket | the clinic's server, the ledger in the journal |
//! | [`reminders`] | `remind` | the journal, the collector's socket | people, the ledger in the journal |
//! | [`record`] | `listeners receive` | what listeners hand on | the journal |
//! | [`listener`] | `record hand-on` | the journal | the record, how far it is in the journal |
//!
//! What the last five may write is held by SQLite (`journal/hand.rs`); of them only the record's door adds frames.
//!
//! Each role has an error of its own: a common one would link every role's libraries into the collector,
//! which has to stay small.

pub mod collector;
pub mod delivery;
pub mod ear;
pub mod listener;
pub mod manager;
mod opening;
pub mod page;
pub(crate) mod pairing;
pub mod record;
pub mod reminders;
pub mod stated;

use crate::journal::Writer;
use crate::radio::json_lines::AsLine;
use crate::whole::reason;
use manager::ServiceManager;
use std::io;
use std::sync::Arc;
use tokio::runtime::{Builder, Runtime};
use tokio::signal::unix::{SignalKind, signal};
use tokio::task::JoinError;

/// The operating system gives no thread or no timer.
#[derive(Debug, thiserror::Error)]
#[error("cannot start: {}", reason(.0))]
pub struct StartError(#[from] io::Error);

/// What a role that keeps frames leaves behind.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Ended {
    /// How many frames the disk would not take; the log has them.
    pub lost: usize,
}

/// Ends the journal's writer. What the disk does not take goes into the log, for a person to save.
async fn finish(writer: Writer) -> Ended {
    let lost = tokio::task::spawn_blocking(|| writer.finish())
        .await
        .unwrap_or_default();
    for frame in &lost {
        tracing::error!(
            "not kept, feed this line to `quietcuff replay FILE` when there is room: {}",
            AsLine(frame)
        );
    }
    Ended { lost: lost.len() }
}

/// A runtime with one thread, this one: enough for a household, and it keeps an idle role small.
pub fn runtime() -> Result<Runtime, StartError> {
    Ok(Builder::new_current_thread().enable_all().build()?)
}

/// Does a role's work on a thread of its own until the work ends or `stop` does. The work may be in the middle of
/// anything then: a role that is run so has nothing that must not be left. `None` where it was stopped.
fn work_until<T: Send + 'static, E: From<StartError> + From<JoinError>>(
    service: ServiceManager,
    stop: impl Future<Output = ()>,
    work: impl FnOnce(&ServiceManager) -> T + Send + 'static,
) -> Result<Option<T>, E> {
    let runtime = runtime()?;
    let service = Arc::new(service);
    let ended = runtime.block_on(async {
        let told = service.clone();
        let work = tokio::task::spawn_blocking(move || work(&told));
        tokio::select! {
            ended = work => Ok(Some(ended?)),
            () = stop => {
                service.stopping();
                Ok(None)
            }
        }
    });
    runtime.shutdown_background();
    ended
}

/// Ends when somebody tells this process to stop, with SIGTERM or SIGINT.
pub async fn told_to_stop() {
    let signals =
        signal(SignalKind::terminate()).and_then(|term| Ok((term, signal(SignalKind::interrupt())?)));
    match signals {
        Ok((mut term, mut interrupt)) => {
            tokio::select! { _ = term.recv() => {}, _ = interrupt.recv() => {} }
            tracing::info!("stopping");
        }
        Err(error) => {
            tracing::warn!("signals cannot be caught, so the goodbye will be rude: {error}");
            std::future::pending::<()>().await;
        }
    }
}
