//! The page: serves the household's page to browsers. It reads and writes the journal and has no Bluetooth.

use super::manager::ServiceManager;
use super::{StartError, runtime};
use crate::config::Config;
use crate::home::live::Desk;
use crate::home::page::{self, ServeError, Settings, now};
use crate::journal::JournalError;
use std::net::SocketAddr;
use std::path::Path;

/// Why the page cannot be served.
#[derive(Debug, thiserror::Error)]
pub enum PageError {
    /// The journal cannot be opened.
    #[error(transparent)]
    Journal(#[from] JournalError),
    /// The address or the certificate.
    #[error(transparent)]
    Serve(#[from] ServeError),
    /// The operating system gives no thread or no timer.
    #[error(transparent)]
    Start(#[from] StartError),
}

/// Serves until `stop` ends; `ready` is told the address. The order of the boot: the thread that has the journal, then
/// the address.
pub fn serve(
    (state, config): (&Path, &Config),
    settings: Settings,
    service: &ServiceManager,
    ready: impl FnOnce(SocketAddr),
    stop: impl Future<Output = ()>,
) -> Result<(), PageError> {
    let desk = Desk::start(state, config.time_zone.clone(), now::view)?;
    let ready = |address| {
        service.ready("the page is served");
        ready(address);
    };
    let stop = async {
        stop.await;
        service.stopping();
    };
    let life = (service.wait_max(), || service.alive());
    Ok(runtime()?.block_on(page::serve(settings, desk, ready, life, stop))?)
}
