//! Whose and by what: the person, the monitor, this gateway.

use super::codes::{self, RECORD_NUMBER, SYSTEM_ID};
use super::form::{Form, Item, Switches, id};
use super::identity::{Identity, SYSTEM};
use super::resource::{
    Device, DeviceName, DeviceType, Identifier, Name, Patient, PatientType, Resource, Specialization, Version,
};
use crate::household::{Household, MonitorId, Person};
use std::borrow::Cow;

const PROGRAM: &str = env!("CARGO_PKG_NAME");
const VERSION: &str = env!("CARGO_PKG_VERSION");

pub(super) fn ours<'a>(identity: &Identity) -> Identifier<'a> {
    Identifier {
        kind: None,
        system: Some(SYSTEM),
        value: Cow::Owned(identity.value.clone()),
    }
}

/// A person whom the clinic has not named yet: what the household calls them, when they were born, and the number
/// of their record.
pub(super) fn patient(identity: &Identity, details: &Person, form: Form) -> Item<'static> {
    let label = details.label.trim();
    let mut identifier = vec![ours(identity)];
    identifier.extend(details.record_number.as_ref().map(|number| Identifier {
        kind: Some(RECORD_NUMBER),
        system: None,
        value: Cow::Owned(number.clone()),
    }));
    let year = details.born.filter(|year| (1000..=9999).contains(year));
    Item {
        identity: identity.clone(),
        replace: false,
        resource: Resource::Patient(Patient {
            resource_type: PatientType,
            id: id(form, identity),
            identifier,
            name: (!label.is_empty()).then(|| {
                [Name {
                    text: label.to_owned(),
                }]
            }),
            birth_date: details
                .born_on
                .map(|day| day.to_string())
                .or_else(|| year.map(|year| year.to_string())),
        }),
        compared: None,
    }
}

/// A monitor by its identity address, in the form in which one that was never enrolled is called.
pub(in crate::export) fn lasting_name(household: &Household, monitor: &MonitorId) -> String {
    household
        .monitors
        .get(monitor)
        .and_then(|(details, _)| details.address.as_ref())
        .map_or_else(
            || monitor.to_string(),
            |address| address.as_str().replace(':', "").to_lowercase(),
        )
}

/// A monitor, named by its identity address: unlike a System ID no two have the same.
pub(super) fn monitor<'a>(
    household: &'a Household,
    monitor: &MonitorId,
    switches: Switches,
    form: Form,
) -> Item<'a> {
    let details = household.monitors.get(monitor).map(|(details, _)| details);
    let said = |text: Option<&'a String>| text.map(|text| text.trim()).filter(|text| !text.is_empty());
    let identity = Identity::digest("monitor", &[&lasting_name(household, monitor)]);
    let mut identifier = vec![ours(&identity)];
    if let Some(system_id) = said(details.and_then(|details| details.system_id.as_ref()))
        && switches.device_codes
    {
        identifier.push(Identifier {
            kind: Some(SYSTEM_ID),
            system: Some(codes::EUI_64),
            value: Cow::Borrowed(system_id),
        });
    }
    let name = said(details.and_then(|details| details.name.as_ref()));
    let resource = Device {
        resource_type: DeviceType,
        id: id(form, &identity),
        identifier,
        manufacturer: said(details.and_then(|details| details.manufacturer.as_ref())),
        serial_number: said(details.and_then(|details| details.serial.as_ref())),
        device_name: name
            .into_iter()
            .map(|name| DeviceName {
                name,
                kind: "user-friendly-name",
            })
            .collect(),
        model_number: said(details.and_then(|details| details.model.as_ref())),
        kind: codes::device_type(false, switches.device_codes, switches.snomed),
        specialization: if switches.device_codes {
            vec![Specialization {
                system_type: codes::BLOOD_PRESSURE_MONITOR,
            }]
        } else {
            Vec::new()
        },
        version: Vec::new(),
    };
    Item {
        identity,
        replace: false,
        resource: Resource::Device(Box::new(resource)),
        compared: None,
    }
}

/// This gateway: the program in its version, at this installation. What kind of computer stands in a home is
/// nobody's business; but one Device for all homes would be one that a mistake in any of them spoils.
pub(super) fn gateway(installation: &str, switches: Switches, form: Form) -> Item<'static> {
    let identity = Identity::digest("gateway", &[PROGRAM, VERSION, installation]);
    let resource = Device {
        resource_type: DeviceType,
        id: id(form, &identity),
        identifier: vec![ours(&identity)],
        manufacturer: None,
        serial_number: None,
        device_name: vec![DeviceName {
            name: PROGRAM,
            kind: "model-name",
        }],
        model_number: None,
        kind: codes::device_type(true, switches.device_codes, switches.snomed),
        specialization: Vec::new(),
        version: vec![Version { value: VERSION }],
    };
    Item {
        identity,
        replace: false,
        resource: Resource::Device(Box::new(resource)),
        compared: None,
    }
}
