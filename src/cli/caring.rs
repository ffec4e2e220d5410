//! How a monitor's care stands, for `monitors list` and `check`.

use super::Failure;
use crate::home::care;
use crate::household::{Household, MonitorId, Zones};
use crate::journal::Journal;
use crate::monitoring::care::Care;
use jiff::Timestamp;
use serde_json::{Value, json};

/// Each monitor that is listened to, with what is due for it now or later.
pub(super) fn of_all(
    journal: &mut Journal,
    household: &Household,
    zones: &Zones,
) -> Result<Vec<(MonitorId, Care)>, Failure> {
    Ok(care::of_all(journal, household, zones, Timestamp::now())?)
}

/// As listings print it.
pub(super) fn json(care: &Care) -> Value {
    let due: Vec<Value> = care
        .due
        .iter()
        .map(|due| json!({ "task": due.task.name(), "on": due.on, "because": due.because, "source": due.source }))
        .collect();
    json!({
        "measurements": care.measurements, "in_use_since": care.since, "checked": care.checked,
        "batteries_changed": care.batteries_changed, "drops_since_check": care.drops, "due": due,
    })
}
