//! What a role takes from the household's statements: the monitors to listen for, and the time zones.

use crate::household::MonitorAddress;
use crate::household::{Household, MonitorId, UnknownZone, time_zone};
use crate::journal::{Journal, JournalError};
use crate::radio::central::EnrolledMonitor;
use crate::radio::ear::ListenedTo;
use jiff::tz::TimeZone;

/// Every monitor that this machine listens to. One that was paired anew under another address is listened to under
/// both.
pub fn enrolled(journal: &Journal) -> Result<Vec<EnrolledMonitor>, JournalError> {
    let stated = journal.stated()?;
    let mut enrolled = Vec::new();
    for (address, id) in listened(&stated.household) {
        enrolled.push(EnrolledMonitor {
            address: address.clone(),
            id: id.to_string(),
            last_connection: journal.last_connection(address)?,
            consents: journal.consents(id)?,
        });
    }
    Ok(enrolled)
}

/// The same monitors with what stands behind their handles, for the second ear.
pub fn known(journal: &Journal) -> Result<ListenedTo, JournalError> {
    let stated = journal.stated()?;
    let mut known = ListenedTo::new();
    for (address, _) in listened(&stated.household) {
        known.insert(address.clone(), journal.attributes(address)?);
    }
    Ok(known)
}

fn listened(household: &Household) -> impl Iterator<Item = (&MonitorAddress, &MonitorId)> {
    household
        .addresses
        .iter()
        .filter(|(_, id)| household.here.contains(*id))
}

/// The zone of what is received now: the one that the configuration names, else the last that was stated,
/// else the machine's.
pub fn zone(named: Option<&str>, household: &Household) -> Result<TimeZone, UnknownZone> {
    let stated = household.zones.last().map(|(_, name)| name.as_str());
    match named.or(stated) {
        Some(name) => time_zone(name),
        None => Ok(TimeZone::system()),
    }
}
