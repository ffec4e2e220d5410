//! What the central says of itself; `status` reads it.

use super::recover::RungCounts;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::sync::{Arc, Mutex};

/// The central as a whole.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct CentralReport {
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
    pub recover: RungCounts,
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
    /// What is known of its users, since its last link; `None` where it does not keep them apart.
    pub users: Option<UsersReport>,
    /// What a person has to mend.
    pub problem: Option<String>,
}

/// What a link showed of the users of a monitor that keeps them apart (User Data Service).
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct UsersReport {
    /// The users whose consent it accepted.
    pub given: Vec<u8>,
    /// The users whose code it did not accept; it is not given again.
    pub wrong: Vec<u8>,
    /// It did not register the user whom it was to register.
    pub not_registered: bool,
    /// It wants a consent that nobody gave.
    pub needs: Option<Need>,
}

/// How a monitor shows that it wants a user's consent.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Need {
    /// It refuses to hand out readings.
    Refuses,
    /// It has sent nothing, which may also mean that it has nothing.
    Silent,
}

impl UsersReport {
    /// What is so and what a person does next, of the monitor with this id; `None` where there is nothing to do.
    pub fn problem(&self, id: &str) -> Option<(String, String)> {
        let give = format!(
            "its manual says where it shows a user's number and code: then `quietcuff monitors consent {id} NUMBER`"
        );
        let found = match (self.needs, self.wrong.as_slice()) {
            (_, [_, ..]) => {
                let users: Vec<String> = self.wrong.iter().map(u8::to_string).collect();
                format!(
                    "{id} does not accept the code of its user {}, which is not tried again",
                    users.join(", ")
                )
            }
            _ if self.not_registered => {
                format!("{id} did not register a new user; it may have no room for one")
            }
            (Some(Need::Refuses), _) => {
                format!(
                    "{id} keeps its users apart and hands out no readings before one of them consents with a code"
                )
            }
            (Some(Need::Silent), _) => format!(
                "{id} keeps its users apart and has sent nothing; it may wait for the consent of one of them"
            ),
            (None, _) => return None,
        };
        Some((found, give))
    }
}

/// The report, shared with whoever asks.
pub type SharedReport = Arc<Mutex<CentralReport>>;
