//! What keeps content from the clinic's server: what the ledger says, and a delivery that nobody runs.

use super::releases::{HeldCounts, Leave, Releases};
use super::settings::Clinic;
use super::target::{name_in_ledger, released_to};
use crate::household::{PersonId, Zones};
use crate::journal::{Journal, JournalError};
use jiff::{SignedDuration, Timestamp};
use rustix::fs::{FlockOperation, flock};
use std::fs::File;
use std::io;

/// The file that keeps two deliveries apart, beside the journal.
pub const LOCK: &str = "deliver.lock";

/// A delivery that runs sends within seconds; one that is started anew, or a machine that boots, takes less than this
/// (own choice).
pub const WAITS_MAX: SignedDuration = SignedDuration::from_mins(15);
/// What waits for longer is no news, and looking for it costs (own choice).
const LOOKED_BACK: SignedDuration = SignedDuration::from_hours(30 * 24);

/// Why nothing goes on to the clinic.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum Stuck {
    /// The server fails, again and again, or refused something, for this reason.
    Fails(String),
    /// Something is due, and the program that delivers does not run.
    NotRunning,
}

/// What keeps content from the clinic that the configuration chose, with since when; nothing where it chose none.
pub fn stuck(
    journal: &Journal,
    clinic: &Clinic,
    now: Timestamp,
) -> Result<Vec<(Stuck, Option<Timestamp>)>, JournalError> {
    let Some(name) = name_in_ledger(clinic) else {
        return Ok(Vec::new());
    };
    let fails = journal.stuck_deliveries(&name)?;
    let mut found: Vec<_> = fails
        .into_iter()
        .map(|(why, since)| (Stuck::Fails(why), since))
        .collect();
    if found.is_empty() && !is_running(journal) {
        let back = |by: SignedDuration| now.checked_sub(by).unwrap_or(Timestamp::MIN);
        let stated = journal.stated()?;
        let (_, releases) = released_to(clinic, &stated.household).unwrap_or_default();
        let open: Vec<_> = releases
            .iter()
            .filter_map(|(person, leave)| Some((person.clone(), leave.moments(&stated.zones)?)))
            .collect();
        let waiting = journal.unsent_since(&name, &open, back(LOOKED_BACK)..back(WAITS_MAX))?;
        found.extend(waiting.map(|since| (Stuck::NotRunning, Some(since))));
    }
    Ok(found)
}

/// How many readings of each chosen person wait because no release covers them.
pub fn held_readings(
    journal: &Journal,
    clinic: &str,
    releases: &Releases,
    zones: &Zones,
) -> Result<HeldCounts, JournalError> {
    let held = |(person, leave): (&PersonId, &Leave)| {
        let moments = leave.moments(zones);
        Ok((
            person.clone(),
            journal.unsent_outside(clinic, person, moments.as_ref())?,
        ))
    };
    releases.iter().map(held).collect()
}

/// Whether a delivery from this journal runs. Where that cannot be seen, one is taken to run.
fn is_running(journal: &Journal) -> bool {
    match File::open(journal.path().with_file_name(LOCK)) {
        // Shared: two that look do not stand in each other's way.
        Ok(file) => flock(&file, FlockOperation::NonBlockingLockShared).is_err(),
        Err(error) => error.kind() != io::ErrorKind::NotFound,
    }
}
