//! What the clinic's receiver is told, and what it calls the household's people.

use crate::household::PersonId;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// The longest identifier with everything around it, in characters (chapter 3, PID-3: 250).
const PATIENT_MAX: usize = 250;

/// What the clinic's receiver of HL7 version 2 is told, and what it calls the household's people.
#[derive(Clone, PartialEq, Eq, Debug, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields, default)]
pub struct Hl7 {
    /// What the clinic calls this home (MSH-4); else a name made of this gateway's own.
    pub sending_facility: Option<String>,
    /// The program that receives, as the clinic calls it (MSH-5).
    pub receiving_application: Option<String>,
    /// The clinic, as it calls itself (MSH-6).
    pub receiving_facility: Option<String>,
    /// The clinic's own identifier of a person in the standard's form, such as `1234^^^CLINIC^MR`.
    pub patients: BTreeMap<PersonId, String>,
}

impl Hl7 {
    /// What is wrong with the identifiers: one that is none, or one for two people, whose readings would be mixed.
    pub(crate) fn wrong(&self) -> Option<String> {
        let mut seen = BTreeMap::new();
        self.patients.iter().find_map(|(person, patient)| {
            let id = patient.split('^').next().unwrap_or_default().trim();
            let odd = patient.contains(['|', '~', '\\']) || patient.chars().any(char::is_control);
            if id.is_empty() || odd || patient.chars().count() > PATIENT_MAX {
                return Some(format!(
                    "hl7.patients.{person}: {patient:?} is no patient identifier: write the number alone, or with who gave it \
                     and its type as 1234^^^CLINIC^MR"
                ));
            }
            seen.insert(patient.trim(), person)
                .map(|other| format!("hl7.patients: {other} and {person} are both {patient}"))
        })
    }
}
