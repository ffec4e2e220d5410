//! What is stated when a monitor is enrolled.

use crate::gatt::{Appearance, Characteristic, SystemId, Text};
use crate::household::{Household, Monitor, MonitorId, Site, Statement};
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
    let details = details(introduction);
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
fn details(introduction: &Introduction) -> Monitor {
    let facts = &introduction.facts;
    let text = |characteristic| {
        facts
            .get(&characteristic)
            .and_then(|value| Text::decode(value).ok().map(|text| text.trimmed().to_owned()))
            .filter(|text| !text.is_empty())
    };
    Monitor {
        address: Some(introduction.address.clone()),
        name: introduction.name.clone(),
        manufacturer: text(Characteristic::MANUFACTURER_NAME),
        model: text(Characteristic::MODEL_NUMBER),
        serial: text(Characteristic::SERIAL_NUMBER),
        system_id: facts
            .get(&Characteristic::SYSTEM_ID)
            .and_then(|value| SystemId::decode(value).ok())
            .filter(|id| id.is_identity())
            .map(|id| id.to_string()),
        site: facts
            .get(&Characteristic::APPEARANCE)
            .and_then(|value| Appearance::decode(value).ok())
            .and_then(site),
        ..Monitor::default()
    }
}

fn site(appearance: Appearance) -> Option<Site> {
    match appearance {
        Appearance::BLOOD_PRESSURE_ARM => Some(Site::UpperArm),
        Appearance::BLOOD_PRESSURE_WRIST => Some(Site::Wrist),
        _ => None,
    }
}
