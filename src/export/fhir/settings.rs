//! What a clinic's server takes, and what the clinic calls the household's people.

use super::form::{Profiles, Switches, is_patient_reference};
use crate::household::PersonId;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// What a clinic's FHIR server takes, and what it calls the household's people.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields, default)]
pub struct Fhir {
    /// Which profiles the resources claim to keep; else what the clinic's server knows, and in a file the core's.
    pub profiles: Option<Profiles>,
    /// Write device codes (ISO/IEEE 11073) beside LOINC's, and the monitor's status flags, which have no
    /// other codes.
    pub device_codes: bool,
    /// Write SNOMED CT codes, which need a licence in some countries.
    pub snomed: bool,
    /// Write what a resource says as text too, for a reader whose program shows no codes.
    pub narrative: bool,
    /// The clinic's own reference for a person, such as `Patient/123`.
    pub patients: BTreeMap<PersonId, String>,
}

impl Default for Fhir {
    fn default() -> Self {
        let Switches {
            device_codes,
            snomed,
            narrative,
            ..
        } = Switches::default();
        Self {
            profiles: None,
            device_codes,
            snomed,
            narrative,
            patients: BTreeMap::new(),
        }
    }
}

impl Fhir {
    /// What the resources of a file are written with.
    pub fn switches(&self) -> Switches {
        Switches {
            profiles: self.profiles.unwrap_or_default(),
            device_codes: self.device_codes,
            snomed: self.snomed,
            narrative: self.narrative,
        }
    }

    /// What is wrong with the references: one that is none, or one for two people, whose readings would be
    /// mixed.
    pub(crate) fn wrong_patient(&self) -> Option<String> {
        let mut seen = BTreeMap::new();
        self.patients.iter().find_map(|(person, reference)| {
            if !is_patient_reference(reference) {
                return Some(format!(
                    "fhir.patients.{person}: {reference:?} is no reference to a patient: write Patient/ID, or the \
                     whole address that ends so"
                ));
            }
            seen.insert(reference, person)
                .map(|other| format!("fhir.patients: {other} and {person} are both {reference}"))
        })
    }
}
