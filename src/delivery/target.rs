//! Where to, and whose: the clinic that was chosen, and what would be sent to it now.

use super::bundle::{Draft, Going, Ledger, Unit, compose};
use super::due::{Devices, Survey, Tally};
use super::enrolled;
use super::error::DeliveryError;
use super::postman::receiver_of;
use super::releases::Releases;
use super::server::{CONSENT, HandOver, PROVENANCE, ReleaseRecords};
use super::settings::{Auth, Clinic};
use crate::export::fhir::{Fhir, Profiles, Switches};
use crate::household::{Household, PersonId};
use crate::journal::Journal;
use crate::journal::outbox::Contact;
use crate::outbound::Endpoint;
use jiff::Timestamp;
use std::collections::{BTreeMap, HashSet};

/// Readings a Bundle: some sixty resources, about 100 KiB. Small enough for any server, and little to send again.
const UNITS_A_BUNDLE: usize = 20;
/// Octets of a Bundle's resources behind which another one is begun; an average of months names many readings.
const BUNDLE_OCTETS: usize = 256 * 1024;

/// Where to, and whose.
#[derive(Clone, Debug)]
pub struct Destination {
    /// Base URL of the clinic's FHIR server.
    pub server: Endpoint,
    /// The chosen people, each with the clinic's reference.
    pub people: BTreeMap<PersonId, String>,
    /// The profiles that resources claim, where the configuration says it; else the server decides.
    pub profiles: Option<Profiles>,
    switches: Switches,
    /// What of releases may be told there; `None` where the configuration does not want it.
    records: Option<ReleaseRecords>,
}

impl Destination {
    /// As the configuration chose; every chosen person has to be known here and at the clinic.
    pub fn of(clinic: &Clinic, fhir: &Fhir, household: &Household) -> Result<Self, DeliveryError> {
        let Some(server) = &clinic.server else {
            return Err(DeliveryError::Configuration(
                "no clinic is chosen, so nothing is sent: write its server's address into `clinic.server`"
                    .into(),
            ));
        };
        let server = Endpoint::parse(server, clinic.plain_http.is_some())?;
        let (launched, records) = match clinic.auth {
            Auth::Launch => {
                let (people, records) = of_launch(clinic, fhir, &server)?;
                (Some(people), records)
            }
            _ => (None, ALL_RECORDS),
        };
        let people = clinic.chosen(household, launched.as_ref().unwrap_or(&fhir.patients), |person| {
            format!(
                "the clinic's reference for {person} is not known: write it as `{person} = \"Patient/ID\"` under \
                 [fhir.patients]"
            )
        })?;
        Ok(Self {
            server,
            people,
            profiles: fhir.profiles,
            switches: fhir.switches(),
            records: clinic.release_records.then_some(records),
        })
    }

    /// What of releases may be told there, as far as the clinic opened itself to us; `None` where the configuration does
    /// not want it.
    pub fn records_allowed(&self) -> Option<ReleaseRecords> {
        self.records
    }

    /// What of releases is told there, as far as its server is known.
    pub fn records(&self, contact: &Contact) -> Option<ReleaseRecords> {
        let unknown = ReleaseRecords {
            consent: true,
            provenance: false,
        };
        let can = contact
            .records
            .as_deref()
            .map_or(unknown, ReleaseRecords::of_word);
        self.records.map(|allowed| allowed.and(can))
    }

    /// The profiles that resources claim there.
    pub fn claims(&self, contact: &Contact) -> Profiles {
        let learnt = || contact.claims.as_deref().and_then(Profiles::of_word);
        self.profiles.or_else(learnt).unwrap_or_default()
    }

    /// What the resources are written with that go there.
    pub fn switches(&self, contact: &Contact) -> Switches {
        Switches {
            profiles: self.claims(contact),
            ..self.switches
        }
    }

    /// What the ledger calls this clinic.
    pub fn name(&self) -> String {
        name_of(&self.server)
    }

    /// How everything stands.
    pub fn tally(&self, journal: &mut Journal, survey: &Survey<'_>) -> Result<Tally, DeliveryError> {
        let ledger = Ledger::new(journal.deliveries(&self.name())?);
        survey.due(journal, &ledger, &mut |_, _| true)
    }

    /// Hands over every Bundle that would be sent now. Ids that the server has yet to give stand as `urn:uuid:`.
    pub fn preview(
        &self,
        journal: &mut Journal,
        survey: &Survey<'_>,
        mut show: impl FnMut(&str) -> std::io::Result<()>,
    ) -> Result<Tally, DeliveryError> {
        let known = Ledger::new(journal.deliveries(&self.name())?);
        let (mut units, mut shown, mut promised) = (Vec::new(), Ok(()), HashSet::new());
        let server = self.name();
        let way = journal
            .contact(&server)?
            .way
            .as_deref()
            .and_then(HandOver::of_word);
        let going = Going {
            server: &server,
            way: way.unwrap_or_default(),
            now: Timestamp::now(),
        };
        let mut all_devices = Devices::new();
        let mut flush = |units: &mut Vec<Unit>, devices: &Devices, promised: &mut HashSet<_>| {
            promised.extend(units.iter().flatten().map(|draft| draft.identity.uuid));
            let text = compose(units, devices, &known, going, &|uuid| promised.contains(uuid)).text;
            units.clear();
            show(&text)
        };
        let tally = survey.due(journal, &known, &mut |unit, devices| {
            if is_full(&units, &unit) {
                shown = flush(&mut units, devices, &mut promised);
            }
            units.push(unit);
            all_devices.clone_from(devices);
            shown.is_ok()
        })?;
        shown?;
        if !units.is_empty() {
            flush(&mut units, &all_devices, &mut promised)?;
        }
        Ok(tally)
    }
}

const ALL_RECORDS: ReleaseRecords = ReleaseRecords {
    consent: true,
    provenance: true,
};

/// The one person whose record is open, with the reference that the clinic gave at the launch, and what of releases may
/// be written into it.
fn of_launch(
    clinic: &Clinic,
    fhir: &Fhir,
    server: &Endpoint,
) -> Result<(BTreeMap<PersonId, String>, ReleaseRecords), DeliveryError> {
    let wrong = |what: String| Err(DeliveryError::Configuration(what));
    let enrolled = enrolled::of(clinic, server)?;
    let person = only(clinic)?;
    if person != enrolled.person() {
        return Err(DeliveryError::NotOpen(format!(
            "the record of {} is open, and clinic.people names {person}: `quietcuff deliver launch` opens that one",
            enrolled.person()
        )));
    }
    let reference = enrolled.reference();
    match fhir.patients.get(person) {
        Some(other) if *other != reference => wrong(format!(
            "[fhir.patients] says that {person} is {other}, and the clinic said at the launch that the record is {reference}; \
             take the line out, or ask the clinic"
        )),
        _ => {
            let records = ReleaseRecords {
                consent: enrolled.may_write(CONSENT),
                provenance: enrolled.may_write(PROVENANCE),
            };
            Ok(([(person.clone(), reference)].into(), records))
        }
    }
}

/// The one person whom a launch is for.
pub fn only(clinic: &Clinic) -> Result<&PersonId, DeliveryError> {
    match clinic.people.as_slice() {
        [person] => Ok(person),
        [] => Err(DeliveryError::Configuration(
            "nobody is chosen: name the one person whose record is to be opened in `clinic.people`".into(),
        )),
        _ => Err(DeliveryError::Configuration(
            "`clinic.people` names several, and a launch opens one person's record: name one; the others need a gateway of \
             their own, or `auth = \"smart\"`"
                .into(),
        )),
    }
}

/// What the ledger calls the clinic that the configuration names, whatever it speaks; `None` where there is none.
pub fn name_in_ledger(clinic: &Clinic) -> Option<String> {
    if let Some(receiver) = receiver_of(clinic) {
        return receiver.ok().map(|receiver| receiver.to_string());
    }
    let server = Endpoint::parse(clinic.server.as_ref()?, clinic.plain_http.is_some());
    server.ok().map(|server| name_of(&server))
}

/// What the ledger calls the clinic that the configuration names, and how it stands there with the readings of the
/// people whom it names; `None` where it names no clinic.
pub fn released_to(clinic: &Clinic, household: &Household) -> Option<(String, Releases)> {
    let name = name_in_ledger(clinic)?;
    let releases = Releases::of(household, &name, clinic.consent, &clinic.people);
    Some((name, releases))
}

/// What the ledger calls the clinic of this server.
fn name_of(server: &Endpoint) -> String {
    // With or without the slash it is the same server, and has to be the same ledger.
    server.to_string().trim_end_matches('/').to_owned()
}

/// Whether another Bundle is begun with this.
pub(super) fn is_full(units: &[Unit], next: &Unit) -> bool {
    let octets = |unit: &Unit| unit.iter().map(|draft| draft.json.len()).sum::<usize>();
    // An average may refer to what stands before it only once the server has it.
    let is_average = |unit: &Unit| unit.iter().any(|draft| draft.keep);
    let is_record = |unit: &Unit| unit.iter().any(Draft::is_record);
    !units.is_empty()
        && (units.len() >= UNITS_A_BUNDLE
            // A server that does not know one is to refuse nothing else for it.
            || is_record(next)
            || units.iter().any(is_record)
            || units.iter().chain([next]).map(octets).sum::<usize>() > BUNDLE_OCTETS
            || is_average(next) && !units.iter().any(is_average))
}
