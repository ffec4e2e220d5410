//! `quietcuff run`: the daemon.

use super::failure;
use super::failure::{Failure, Outcome};
use super::lean::{self, HandedOver};
use super::place::Everywhere;
use crate::config::Config;
use crate::edge::system_zone;
use crate::household::Statement;
use crate::journal::Journal;
use crate::roles::collector::{self, CollectorError, CollectorPlace};
use crate::roles::manager::ServiceManager;
use crate::roles::{self, Ended, StartError};
use clap::Args;
use std::process::ExitCode;
use std::sync::Arc;

/// Listens for the household's monitors until it is told to stop.
#[derive(Args)]
pub(crate) struct RunArgs {}

pub(crate) fn run(here: &Everywhere, _: &RunArgs) -> Outcome {
    let config = here.config()?;
    let mut journal = here.journal()?;
    state_zone(&config, &mut journal)?;
    if let Some(said) = here.take_up_clinic_protocol(&mut journal)? {
        tracing::info!("{said}");
    }
    drop(journal);
    let place = CollectorPlace {
        program: std::env::current_exe()?,
        state: here.state()?,
        radio: config.radio,
    };
    listen(&lean::become_listener(HandedOver::new(here.clone(), place)))
}

/// The daemon itself.
pub(super) fn listen(handed: &HandedOver) -> Outcome {
    let service = Arc::new(ServiceManager::of_environment());
    let ended =
        roles::runtime()?.block_on(collector::collect(&handed.place, service, roles::told_to_stop()))?;
    Ok(code_of(ended))
}

/// Says by the exit code whether frames were lost.
pub(super) fn code_of(ended: Ended) -> ExitCode {
    ExitCode::from(if ended.lost == 0 { 0 } else { failure::IO })
}

impl From<StartError> for Failure {
    fn from(error: StartError) -> Self {
        Self::new(failure::INTERNAL, error.to_string())
    }
}

impl From<CollectorError> for Failure {
    fn from(error: CollectorError) -> Self {
        let code = match error {
            CollectorError::Journal(error) => return error.into(),
            CollectorError::Bus(error) => return error.into(),
            CollectorError::Start(error) => return error.into(),
            CollectorError::Zone(_) => failure::CONFIG,
            CollectorError::Central(_) | CollectorError::Socket(_) => failure::UNAVAILABLE,
        };
        Self::new(code, error.to_string())
    }
}

/// States the zone that the configuration names, from now on, or the first zone of all. A machine's own zone never
/// changes that of a household: a container runs in UTC, a kitchen does not.
fn state_zone(config: &Config, journal: &mut Journal) -> Result<(), Failure> {
    let household = journal.household()?;
    let now = jiff::Timestamp::now();
    let statement = match (household.zones.last(), &config.time_zone) {
        (None, named) => Statement::Zone {
            zone: named.clone().unwrap_or_else(system_zone),
            from: None,
        },
        (Some((_, holds)), Some(named)) if holds != named => Statement::Zone {
            zone: named.clone(),
            from: Some(now),
        },
        _ => return Ok(()),
    };
    if let Statement::Zone { zone, .. } = &statement {
        tracing::info!("the household's time zone is {zone}");
    }
    Ok(journal.state(now, &[statement])?)
}
