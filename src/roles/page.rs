//! The page: serves the household's page to browsers. It reads and writes the journal and has no Bluetooth.

use super::manager::ServiceManager;
use super::{StartError, runtime};
use crate::config::Config;
use crate::home::live::{Desk, DeskError, PagePlace};
use crate::home::page::{self, ServeError, Settings, now};
use std::net::SocketAddr;
use std::path::Path;
use std::time::Duration;

/// How often an open page hears from the server at least. The script of the page knows it.
const BEAT_MAX: Duration = Duration::from_mins(1);

/// Why the page cannot be served.
#[derive(Debug, thiserror::Error)]
pub enum PageError {
    /// The journal cannot be opened, or there is no thread for it.
    #[error(transparent)]
    Desk(#[from] DeskError),
    /// The address or the certificate.
    #[error(transparent)]
    Serve(#[from] ServeError),
    /// The operating system gives no thread or no timer.
    #[error(transparent)]
    Start(#[from] StartError),
}

/// Serves until `stop` ends; `ready` is told the address. The order of the boot: the thread that has the
/// journal, then the address.
pub fn serve(
    (state, config): (&Path, &Config),
    settings: Settings,
    service: &ServiceManager,
    ready: impl FnOnce(SocketAddr),
    stop: impl Future<Output = ()>,
) -> Result<(), PageError> {
    let beat = service.wait_max().min(BEAT_MAX);
    let place = PagePlace::new(state.to_owned(), config.time_zone.clone(), config.clinic.clone())
        .calling(config.emergency.clone())
        .patient(config.alerts.silent());
    let desk = Desk::start(place, (now::view, beat))?;
    let ready = |address| {
        service.ready("the page is served");
        ready(address);
    };
    let stop = async {
        stop.await;
        service.stopping();
    };
    let alive = || service.alive();
    Ok(runtime()?.block_on(page::serve(settings, desk, ready, alive, stop))?)
}
