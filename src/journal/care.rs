//! How each monitor's care stands, from what is known of its use.

use super::{Journal, JournalError};
use crate::household::{MonitorAddress, MonitorId, Zones};
use crate::monitoring::care::{self, Care, Usage};
use crate::monitoring::stated::Stated;
use jiff::Timestamp;
use jiff::civil::Date;

impl Journal {
    /// Each monitor that is listened to, with what is due for it now or later.
    pub fn cares(&mut self, stated: &Stated, now: Timestamp) -> Result<Vec<(MonitorId, Care)>, JournalError> {
        let Stated {
            household,
            zones,
            notes,
            ..
        } = stated;
        let today = zones.civil(now).date();
        let mut all = Vec::new();
        for (id, (monitor, _)) in household.monitors.iter().filter(|(_, (_, forgotten))| !forgotten) {
            let (measurements, first) = self.used(id)?;
            let usage = Usage {
                measurements,
                first_used: first.map(|at| zones.civil(at).date()),
                battery: match &monitor.address {
                    Some(address) => self.battery(address, zones)?,
                    None => None,
                },
                signs: Vec::new(),
            };
            all.push((
                id.clone(),
                care::care(id, monitor, &usage, notes, zones.at(now), today),
            ));
        }
        Ok(all)
    }

    /// The last battery level that a monitor told, and on which day.
    fn battery(&self, address: &MonitorAddress, zones: &Zones) -> Result<Option<(u8, Date)>, JournalError> {
        let told = self.last_battery(address)?;
        Ok(told.map(|(level, at)| (level, zones.civil(at).date())))
    }
}
