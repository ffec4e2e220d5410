//! `quietcuff overhear`: the second ear beside the daemon.

use super::failure::{Failure, Outcome};
use super::place::Everywhere;
use super::{failure, run};
use crate::edge::Edge;
use crate::roles::ear::{self, EarError};
use crate::roles::manager::ServiceManager;
use crate::roles::{self, stated};
use clap::Args;

/// Listens beside the daemon until it is told to stop. Needs `btmon`, which comes with BlueZ, and CAP_NET_RAW.
#[derive(Args)]
pub(crate) struct OverhearArgs {}

pub(crate) fn run(here: &Everywhere, _: &OverhearArgs) -> Outcome {
    let state = here.state()?;
    let config = here.config()?;
    let journal = here.journal()?;
    let edge = Edge::new(stated::zone(config.time_zone.as_deref(), &journal.household()?)?);
    let service = ServiceManager::of_environment();
    let ended = roles::runtime()?.block_on(ear::overhear(
        &state,
        journal,
        edge,
        service,
        roles::told_to_stop(),
    ))?;
    Ok(run::code_of(ended))
}

impl From<EarError> for Failure {
    fn from(error: EarError) -> Self {
        let code = match error {
            EarError::Journal(error) => return error.into(),
            EarError::Start(_) | EarError::Thread(_) => failure::INTERNAL,
            EarError::NotPermitted => failure::NO_PERMISSION,
            EarError::Socket(_) | EarError::Btmon(_) => failure::UNAVAILABLE,
        };
        Self::new(code, error.to_string())
    }
}
