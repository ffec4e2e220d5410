//! What is stated when a monitor is enrolled.

use crate::household::{Household, Monitor, MonitorId, Statement};
use crate::radio::introduce::Introduction;
use crate::socket::speech::Enrolment;
use jiff::Timestamp;

/// What is stated: the monitor under its old id where it is the same one, and whose readings it takes.
pub(super) fn statements(
    household: &Household,
    wanted: &Enrolment,
    introduction: &Introduction,
    now: Timestamp,
) -> (MonitorId, Vec<Statement>) {
    let details = told(introduction);
    let same = household.same_monitor(&details);
    let monitor = wanted
        .id
        .clone()
        .or(same)
        .unwrap_or_else(|| household.free_monitor_id());
    let kept = household
        .monitors
        .get(&monitor)
        .map(|(kept, _)| kept.clone())
        .unwrap_or_default();
    let details = Monitor {
        validated: kept.validated,
        cuff_min_mm: kept.cuff_min_mm,
        cuff_max_mm: kept.cuff_max_mm,
        bought: kept.bought,
        ..details
    };
    let mut statements = vec![Statement::Monitor {
        monitor: monitor.clone(),
        details,
    }];
    statements.extend(household.taken_by(&monitor, wanted.person.as_ref(), &wanted.users, now));
    (monitor, statements)
}

/// What the monitor told of itself.
pub(super) fn told(introduction: &Introduction) -> Monitor {
    let told = Monitor {
        address: Some(introduction.address.clone()),
        name: introduction.name.clone(),
        ..Monitor::default()
    };
    told.filled_by(Monitor::told(&introduction.facts))
}
