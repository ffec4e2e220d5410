//! `quietcuff serve`: the household's page. It reads and writes the journal and has no Bluetooth.

use super::service::Service;
use super::{Everywhere, Failure, Outcome, failure};
use crate::home::live::Desk;
use crate::home::page::{self, ServeError, Settings};
use crate::keys::Secret;
use clap::Args;
use std::io::Write;
use std::net::SocketAddr;
use std::process::ExitCode;

/// Serves the household's page until it is told to stop.
#[derive(Args)]
pub(crate) struct ServeArgs {
    /// Where to listen [default: `listen` of the configuration, else 127.0.0.1:8417]
    #[arg(long, value_name = "ADDRESS:PORT")]
    listen: Option<SocketAddr>,
}

pub(crate) fn run(here: &Everywhere, args: &ServeArgs) -> Outcome {
    let config = here.config()?;
    // States the clinic's protocol, where the configuration names one, as every command does.
    let journal = here.journal()?;
    let state = here.state()?;
    drop(journal);
    let own = Secret::new().map_err(|e| {
        Failure::new(
            failure::UNAVAILABLE,
            format!("no random numbers from the system: {e}"),
        )
    })?;
    let settings = Settings {
        listen: args.listen.unwrap_or(config.page.listen),
        tls: config
            .page
            .tls_certificate
            .clone()
            .zip(config.page.tls_key.clone()),
        plain_http_to_others: config.page.plain_http_to_others,
        behind_proxy: config.page.behind_proxy,
        names: config.page.names.clone(),
        own,
    };
    let scheme = if settings.tls.is_some() { "https" } else { "http" };
    let desk = Desk::start(&state, &config)?;
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .map_err(|e| Failure::new(failure::INTERNAL, format!("cannot start: {e}")))?;
    let service = Service::of_environment();
    let ready = |address: SocketAddr| {
        service.ready("the page is served");
        tracing::info!("the page is at {scheme}://{address}/");
        // For whoever started it and waits, such as a script that asked for any free port.
        let _ = writeln!(std::io::stdout(), "{scheme}://{address}/");
        let _ = std::io::stdout().flush();
    };
    let stop = async {
        super::run::stopped().await;
        service.stopping();
    };
    runtime
        .block_on(page::serve(
            settings,
            desk,
            ready,
            (service.wait_max(), || service.alive()),
            stop,
        ))
        .map_err(|error| {
            let code = match error {
                ServeError::Plain | ServeError::Certificate(..) => failure::CONFIG,
                ServeError::Listen(..) => failure::UNAVAILABLE,
            };
            Failure::new(code, error.to_string())
        })?;
    Ok(ExitCode::SUCCESS)
}
