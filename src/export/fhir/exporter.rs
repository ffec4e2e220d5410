//! Translates readings, each after the people and devices that it refers to.

use super::device;
use super::form::{Form, Sink, Switches};
use super::identity::Identity;
use super::resource::Reference;
use crate::export::released::{self, Became};
use crate::household::{Household, MonitorId, Person, PersonId, Zones};
use crate::monitoring::stated::Stated;
use crate::reading::Reading;
use crate::technique::Judgement;
use std::borrow::Cow;
use std::collections::BTreeMap;
use std::io;

/// Whose the readings are, for the clinic.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum Subject {
    /// The clinic's own reference, such as `Patient/123`.
    Known(String),
    /// The clinic has not said: a Patient of our own, named by this identity.
    Unknown(Identity),
}

impl Subject {
    /// A person of whom the clinic has given no reference. The household's short word alone would be the same
    /// in two homes, so the monitor that their first reading came from is part of the name.
    pub fn unknown(household: &Household, person: &PersonId, first_monitor: &MonitorId) -> Self {
        let monitor = device::lasting_name(household, first_monitor);
        Self::Unknown(Identity::digest("person", &[person.as_str(), &monitor]))
    }
}

/// Translates. It remembers which people and devices were written already, and nothing else, so that a
/// million readings take no more memory than one.
pub struct Exporter<'a> {
    pub(super) stated: &'a Stated,
    pub(super) zones: &'a Zones,
    pub(super) switches: Switches,
    pub(super) form: Form,
    pub(super) subjects: BTreeMap<PersonId, Subject>,
    pub(super) people: BTreeMap<PersonId, String>,
    pub(super) monitors: BTreeMap<MonitorId, String>,
    pub(super) installation: &'a str,
    pub(super) gateway: Option<String>,
}

impl<'a> Exporter<'a> {
    /// For the people whose subjects are given; readings of others are nobody's. `installation` is what this
    /// gateway is called.
    pub fn new(
        installation: &'a str,
        stated: &'a Stated,
        switches: Switches,
        form: Form,
        subjects: BTreeMap<PersonId, Subject>,
    ) -> Self {
        Self {
            stated,
            zones: &stated.zones,
            switches,
            form,
            subjects,
            people: BTreeMap::new(),
            monitors: BTreeMap::new(),
            installation,
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
        let became = released::became(reading, judgement, |person| self.subjects.contains_key(person));
        let withdrawn = became == Became::Withdrawn;
        if let (true, Some(person), Some(at)) = (
            withdrawn || became == Became::Exported,
            &reading.person,
            reading.time.at,
        ) {
            self.introduce(person, Some(reading), sink)?;
            self.observations(reading, judgement, at, withdrawn, sink)?;
        }
        Ok(became)
    }

    /// Hands over as `entered-in-error` what was released of a reading as this person's, and is not theirs,
    /// or not to be released, any more.
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
    pub(super) fn introduce(
        &mut self,
        person: &PersonId,
        reading: Option<&Reading>,
        sink: &mut Sink<'_>,
    ) -> io::Result<()> {
        if !self.people.contains_key(person) {
            let reference = match self.subjects.get(person) {
                Some(Subject::Unknown(identity)) => {
                    let details = self.stated.person(person);
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
            let item = device::gateway(self.installation, self.switches, self.form);
            sink(&item)?;
            self.gateway = Some(self.refer("Device", &item.identity));
        }
        if let Some(monitor) = reading.map(|reading| &reading.monitor)
            && !self.monitors.contains_key(monitor)
        {
            let item = device::monitor(&self.stated.household, monitor, self.switches, self.form);
            sink(&item)?;
            self.monitors
                .insert(monitor.clone(), self.refer("Device", &item.identity));
        }
        Ok(())
    }

    /// What the clinic calls a person, else what we do; `None` for people who were not chosen.
    pub(super) fn known_as(&self, person: &PersonId) -> Option<&str> {
        Some(match self.subjects.get(person)? {
            Subject::Known(reference) => reference,
            Subject::Unknown(identity) => &identity.value,
        })
    }

    pub(super) fn refer(&self, kind: &str, identity: &Identity) -> String {
        match self.form {
            Form::Bundle => format!("urn:uuid:{}", identity.uuid),
            Form::Lines => format!("{kind}/{}", identity.uuid),
        }
    }

    pub(super) fn subject(&self, person: &PersonId) -> Reference<'_> {
        written(self.people.get(person))
    }
}

/// A reference to what was written before.
pub(super) fn written(reference: Option<&String>) -> Reference<'_> {
    Reference {
        reference: Cow::Borrowed(reference.map_or("", String::as_str)),
    }
}
