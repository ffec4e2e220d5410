//! What the machine's owner decides about the radio.

use crate::household::MonitorAddress;
use serde::{Deserialize, Serialize};

/// How the radio is used.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields, default)]
pub struct Radio {
    /// The adapter's own address, where there are several. Numbers such as hci0 change when one is plugged
    /// in.
    pub adapter: Option<MonitorAddress>,
    /// Which way monitors that are paired are linked.
    pub bearer: Bearer,
    /// Listen only for advertisements that name the Blood Pressure service. Turn off for a monitor that
    /// leaves it out.
    pub named_service_only: bool,
    /// Set a monitor's clock when it is off by more than a minute and allows it.
    pub set_clocks: bool,
    /// Offer the Current Time service to monitors that fetch it.
    pub serve_time: bool,
}

impl Default for Radio {
    fn default() -> Self {
        Self {
            adapter: None,
            bearer: Bearer::default(),
            named_service_only: true,
            set_clocks: false,
            serve_time: true,
        }
    }
}

/// What the owner says of the way to a monitor's values.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Bearer {
    /// Directly where this machine's kernel does it safely, else by BlueZ.
    #[default]
    Auto,
    /// A socket of our own: a monitor is told "received" once its reading is on the disk.
    Direct,
    /// By BlueZ, which confirms by itself.
    Bluez,
}
