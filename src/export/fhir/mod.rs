//! HL7 FHIR R4 (4.0.1): what a clinic's server takes.
//!
//! A reading becomes a blood pressure panel, its pulse an Observation of its own, what the monitor reported of the
//! technique a third; the monitor and this gateway are Devices, the period's average is an Observation that names the
//! readings it is made of.
//!
//! - Numbers have the digits that the monitor sent. Kilopascals become whole millimetres, as the vital signs profile
//!   demands, with what was sent beside them.
//! - Every resource is named by [`identity`], so that sending twice creates once.
//! - A reading that was set aside is not exported; the average's note says how many there are and why. One that a person
//!   withdrew is exported as `entered-in-error`, because it may have been released before.
//! - Nothing is interpreted: no threshold, no judgement, no diagnosis.

mod average;
mod codes;
mod device;
pub mod document;
pub mod identity;
mod moment;
mod observation;
mod resource;
mod settings;

pub use average::Averaged;
pub use identity::Identity;
pub use resource::{Device, Observation, Patient, Resource};
pub use settings::Fhir;

use crate::household::{Household, MonitorId, Person, PersonId, Zones};
use crate::reading::Reading;
use crate::technique::{Judgement, Reason, Reasons};
use resource::Reference;
use serde::{Deserialize, Serialize};
use std::borrow::Cow;
use std::collections::BTreeMap;
use std::io;

/// Which profiles the resources claim to keep. A server that knows a profile may refuse what claims one and that it
/// cannot follow.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Profiles {
    /// None.
    None,
    /// The core's `bp` and `heartrate`.
    Core,
    /// Those and HL7 CardX Hypertension Management's, which were written for measuring at home.
    #[default]
    SelfMeasured,
}

impl Profiles {
    fn of<'p>(self, profiles: &'p [&'static str; 2]) -> &'p [&'static str] {
        let [core, _] = profiles;
        match self {
            Self::None => &[],
            Self::Core => std::slice::from_ref(core),
            Self::SelfMeasured => profiles,
        }
    }
}

/// What the clinic's server can take.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Switches {
    /// Which profiles are claimed.
    pub profiles: Profiles,
    /// Write device codes (ISO/IEEE 11073) beside LOINC's, and the status flags that have no other.
    pub device_codes: bool,
    /// Write SNOMED CT codes, which need a licence in some countries.
    pub snomed: bool,
}

impl Default for Switches {
    fn default() -> Self {
        Self {
            profiles: Profiles::default(),
            device_codes: true,
            snomed: false,
        }
    }
}

/// How resources name each other.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Form {
    /// By `urn:uuid:` inside one Bundle; the server chooses ids.
    Bundle,
    /// By type and id, for one resource a line.
    Lines,
}

/// A resource with what has to be done so that it is there once.
#[derive(Clone, Debug)]
pub struct Item<'a> {
    /// Names it.
    pub identity: Identity,
    /// Replace what the server holds under this name; else create it unless it is there.
    pub replace: bool,
    /// The resource.
    pub resource: Resource<'a>,
}

/// Takes the resources, one after another.
pub type Sink<'s> = dyn FnMut(&Item<'_>) -> io::Result<()> + 's;

/// Whose the readings are, for the clinic.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum Subject {
    /// The clinic's own reference, such as `Patient/123`.
    Known(String),
    /// The clinic has not said: a Patient of our own, named by this identity.
    Unknown(Identity),
}

impl Subject {
    /// A person of whom the clinic has given no reference. The household's short word alone would be the same in two
    /// homes, so the monitor that their first reading came from is part of the name.
    pub fn unknown(household: &Household, person: &PersonId, first_monitor: &MonitorId) -> Self {
        let monitor = device::lasting_name(household, first_monitor);
        Self::Unknown(Identity::digest("person", &[person.as_str(), &monitor]))
    }
}

/// Whether this can stand in a resource as the clinic's reference to a patient: R4's form of an id, alone or behind the
/// address of a server.
pub fn is_patient_reference(text: &str) -> bool {
    let Some((before, id)) = text.rsplit_once("Patient/") else {
        return false;
    };
    let server = before.is_empty()
        || before.ends_with('/')
            && ["http://", "https://"]
                .iter()
                .any(|scheme| before.len() > scheme.len() && before.starts_with(scheme))
            && before.chars().all(|c| c.is_ascii_graphic());
    server
        && (1..=64).contains(&id.len())
        && id
            .chars()
            .all(|c| c.is_ascii_alphanumeric() || c == '-' || c == '.')
}

/// What became of a reading that was handed over.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Became {
    /// It is exported.
    Exported,
    /// It is exported as `entered-in-error`.
    Withdrawn,
    /// It was set aside, for these reasons.
    SetAside(Reasons),
    /// Nobody knows whose it is.
    Nobodys,
}

/// Translates. It remembers which people and devices were written already, and nothing else, so that a million readings
/// take no more memory than one.
pub struct Exporter<'a> {
    household: &'a Household,
    zones: &'a Zones,
    switches: Switches,
    form: Form,
    subjects: BTreeMap<PersonId, Subject>,
    people: BTreeMap<PersonId, String>,
    monitors: BTreeMap<MonitorId, String>,
    gateway: Option<String>,
}

impl<'a> Exporter<'a> {
    /// For the people whose subjects are given; readings of others are nobody's.
    pub fn new(
        household: &'a Household,
        zones: &'a Zones,
        switches: Switches,
        form: Form,
        subjects: BTreeMap<PersonId, Subject>,
    ) -> Self {
        Self {
            household,
            zones,
            switches,
            form,
            subjects,
            people: BTreeMap::new(),
            monitors: BTreeMap::new(),
            gateway: None,
        }
    }

    /// Hands over what a reading becomes, and before it the person and the devices that were not written yet.
    pub fn reading(
        &mut self,
        reading: &Reading,
        judgement: &Judgement,
        sink: &mut Sink<'_>,
    ) -> io::Result<Became> {
        let (Some(person), Some(at)) = (&reading.person, reading.time.at) else {
            return Ok(if reading.person.is_none() {
                Became::Nobodys
            } else {
                Became::SetAside(judgement.because())
            });
        };
        if !self.subjects.contains_key(person) {
            return Ok(Became::Nobodys);
        }
        let because = judgement.because();
        // Released before it was withdrawn, if nothing else stood against it.
        let withdrawn = because == Reasons::from_iter([Reason::Discarded]);
        if !judgement.disposition.is_averaged() && !withdrawn {
            return Ok(Became::SetAside(because));
        }
        self.introduce(person, Some(reading), sink)?;
        self.observations(reading, judgement, at, withdrawn, sink)?;
        Ok(if withdrawn {
            Became::Withdrawn
        } else {
            Became::Exported
        })
    }

    /// Hands over as `entered-in-error` what was released of a reading as this person's, and is not theirs, or not to be
    /// released, any more.
    pub fn take_back(
        &mut self,
        reading: &Reading,
        judgement: &Judgement,
        person: &PersonId,
        sink: &mut Sink<'_>,
    ) -> io::Result<()> {
        let as_released = Reading {
            person: Some(person.clone()),
            ..reading.clone()
        };
        // Where even the time is not known any more, the receipt is when it can have been at the latest.
        let at = reading.time.at.unwrap_or(reading.received_at);
        self.introduce(person, Some(&as_released), sink)?;
        self.observations(&as_released, judgement, at, true, sink)
    }

    /// Writes the person, the monitor and this gateway where they were not written yet.
    fn introduce(
        &mut self,
        person: &PersonId,
        reading: Option<&Reading>,
        sink: &mut Sink<'_>,
    ) -> io::Result<()> {
        if !self.people.contains_key(person) {
            let reference = match self.subjects.get(person) {
                Some(Subject::Unknown(identity)) => {
                    let details = self.household.people.get(person).map(|(details, _)| details);
                    sink(&device::patient(
                        identity,
                        details.unwrap_or(&Person::default()),
                        self.form,
                    ))?;
                    self.refer("Patient", identity)
                }
                Some(Subject::Known(reference)) => reference.clone(),
                None => return Ok(()),
            };
            self.people.insert(person.clone(), reference);
        }
        if self.gateway.is_none() {
            let item = device::gateway(self.switches, self.form);
            sink(&item)?;
            self.gateway = Some(self.refer("Device", &item.identity));
        }
        if let Some(monitor) = reading.map(|reading| &reading.monitor)
            && !self.monitors.contains_key(monitor)
        {
            let item = device::monitor(self.household, monitor, self.switches, self.form);
            sink(&item)?;
            self.monitors
                .insert(monitor.clone(), self.refer("Device", &item.identity));
        }
        Ok(())
    }

    fn refer(&self, kind: &str, identity: &Identity) -> String {
        match self.form {
            Form::Bundle => format!("urn:uuid:{}", identity.uuid),
            Form::Lines => format!("{kind}/{}", identity.uuid),
        }
    }

    fn subject(&self, person: &PersonId) -> Reference<'_> {
        written(self.people.get(person))
    }
}

/// A reference to what was written before.
fn written(reference: Option<&String>) -> Reference<'_> {
    Reference {
        reference: Cow::Borrowed(reference.map_or("", String::as_str)),
    }
}

/// Ids are the server's to choose, except where resources name each other by them.
fn id(form: Form, identity: &Identity) -> Option<uuid::Uuid> {
    (form == Form::Lines).then_some(identity.uuid)
}
