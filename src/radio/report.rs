//! What the central says of itself; `status` reads it.

use super::recover::Counts;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::sync::{Arc, Mutex};

/// The central as a whole.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Report {
    /// Whether bluetoothd is there.
    pub bluez: bool,
    /// The adapter in use.
    pub adapter: Option<String>,
    /// The adapter is switched on.
    pub powered: bool,
    /// The way that monitors are linked where nothing hinders it: `direct` or `bluez`.
    pub bearer: Option<String>,
    /// Why that way, in words.
    pub bearer_because: Option<String>,
    /// What keeps the radio from listening, in words.
    pub problem: Option<String>,
    /// How often each rung of the recovery was tried.
    pub recover: Counts,
    /// How often a scan was started.
    pub scans_started: u32,
    /// Each monitor by id.
    pub monitors: BTreeMap<String, MonitorReport>,
}

/// What the central says of one monitor.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct MonitorReport {
    /// Identity address, as `AA:BB:CC:DD:EE:FF`.
    pub address: String,
    /// Its last advertisement since the daemon started.
    pub last_seen: Option<jiff::Timestamp>,
    /// Linked at the moment.
    pub connected: bool,
    /// Links since the daemon started.
    pub connections: u32,
    /// Values that carried readings, since the daemon started.
    pub values: u32,
    /// The way its last link came since the daemon started: `direct` or `bluez`.
    pub bearer: Option<String>,
    /// Why its next link does not come directly, in words, where that is wanted.
    pub not_direct: Option<String>,
    /// What a person has to mend.
    pub problem: Option<String>,
}

/// The report, shared with whoever asks.
pub type SharedReport = Arc<Mutex<Report>>;
