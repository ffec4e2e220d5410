//! What a monitor that fetches the time is given, whichever way it is linked.

use super::bearer::server::Time;
use crate::edge::Edge;
use crate::gatt::{CurrentTime, LocalTimeInformation, ReferenceSource, ReferenceTimeInformation};

/// The gateway's clock as the Current Time service shows it.
#[derive(Clone, Debug)]
pub(super) struct GatewayTime(pub(super) Edge);

impl Time for GatewayTime {
    fn current_time(&self) -> Option<Vec<u8>> {
        let reason = self.0.adjusted().reason;
        let now = self.0.now();
        let civil = now.offset.to_datetime(now.at);
        CurrentTime::from_civil(civil, reason).map(|time| time.encode().to_vec())
    }

    fn local_time(&self) -> Option<Vec<u8>> {
        let (standard, saving) = self.0.standard_and_saving_minutes();
        let local = LocalTimeInformation::from_minutes(standard, saving);
        Some(local.encode().to_vec())
    }

    fn reference_time(&self) -> Vec<u8> {
        let synchronized = self.0.synchronized();
        // One that is synchronised is adjusted all the time; how far it is off nobody says.
        let (source, since) = match synchronized {
            Some(true) => (ReferenceSource::NTP, 0),
            Some(false) => (ReferenceSource::NOT_SYNCHRONIZED, 255),
            None => (ReferenceSource::UNKNOWN, 255),
        };
        let reference = ReferenceTimeInformation {
            source,
            accuracy: 255,
            days_since_update: since,
            hours_since_update: since,
        };
        reference.encode().to_vec()
    }

    fn adjustments(&self) -> u32 {
        self.0.adjusted().times
    }
}
