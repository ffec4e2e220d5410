//! `quietcuff serve`: the household's page. It reads and writes the journal and has no Bluetooth.

use super::failure;
use super::failure::{Failure, Outcome};
use super::keys;
use super::place::Everywhere;
use crate::home::live::DeskError;
use crate::home::page::{ServeError, Settings};
use crate::keys::KeySecret;
use crate::roles;
use crate::roles::manager::ServiceManager;
use crate::roles::page::{self, PageError};
use clap::Args;
use std::io::{IsTerminal, Write};
use std::net::SocketAddr;
use std::process::ExitCode;

/// Serves the household's page until it is told to stop.
#[derive(Args)]
pub(crate) struct ServeArgs {
    /// Where to listen [default: `listen` of the configuration, else 127.0.0.1:8417]
    #[arg(long, value_name = "ADDRESS:PORT")]
    pub(super) listen: Option<SocketAddr>,
    /// Let everybody in who reaches it on this machine, also through a proxy that does not say so
    #[arg(long)]
    pub(super) open: bool,
}

pub(crate) fn run(here: &Everywhere, args: &ServeArgs) -> Outcome {
    stay(here, args, |_| {})
}

/// Serves until it is told to stop; `more` is told the address.
pub(super) fn stay(here: &Everywhere, args: &ServeArgs, more: impl FnOnce(SocketAddr)) -> Outcome {
    let config = here.config()?;
    let state = here.state()?;
    let own = KeySecret::new().map_err(|e| {
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
        open_on_this_machine: args.open || config.page.open_on_this_machine,
        names: config.page.names.clone(),
        own,
    };
    let is_open = settings.is_open();
    let scheme = if settings.tls.is_some() { "https" } else { "http" };
    let ready = |address: SocketAddr| {
        tracing::info!("the page is at {scheme}://{address}/");
        // For whoever started it and waits, such as a script that asked for any free port.
        let _ = writeln!(std::io::stdout(), "{scheme}://{address}/");
        let _ = std::io::stdout().flush();
        // A log is read by others, so a way in is shown to somebody at a terminal only.
        if !is_open && std::io::stderr().is_terminal() {
            match keys::new_link(&state) {
                Ok(path) => eprintln!(
                    "Open it once within {} minutes at {scheme}://{address}{path}",
                    keys::LINK_MINUTES
                ),
                Err(error) => tracing::warn!("no link can be made to come in by: {error}"),
            }
        }
        more(address);
    };
    let service = ServiceManager::of_environment();
    page::serve(
        (&state, &config),
        settings,
        &service,
        ready,
        roles::told_to_stop(),
    )?;
    Ok(ExitCode::SUCCESS)
}

impl From<PageError> for Failure {
    fn from(error: PageError) -> Self {
        let code = match &error {
            PageError::Desk(DeskError::Journal(error)) => error.exit_code(),
            PageError::Desk(DeskError::Start(_)) | PageError::Start(_) => failure::INTERNAL,
            PageError::Serve(ServeError::Plain | ServeError::Certificate(..)) => failure::CONFIG,
            PageError::Serve(ServeError::Key(error)) => error.exit_code(),
            PageError::Serve(ServeError::Listen(..)) => failure::UNAVAILABLE,
        };
        Self::new(code, error.to_string())
    }
}
