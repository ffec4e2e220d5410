//! In which form the resources are written, and how each is handed on.

use super::codes::{AVERAGE_PROFILE, PANEL_PROFILES, PULSE_PROFILES};
use super::identity::Identity;
use super::resource::Resource;
use serde::{Deserialize, Serialize};
use std::io;

/// Which profiles the resources claim to keep. A server that knows a profile may refuse what claims one and
/// that it cannot follow.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Profiles {
    /// The resources claim no profile.
    None,
    /// The core's `bp` and `heartrate`, which every R4 server has that has profiles at all.
    #[default]
    Core,
    /// Those and HL7 CardX Hypertension Management's, which were written for measuring at home.
    SelfMeasured,
}

impl Profiles {
    /// The addresses that are claimed beyond the next lower choice.
    pub fn named(self) -> impl Iterator<Item = &'static str> {
        let [panel, own_panel] = PANEL_PROFILES;
        let [pulse, own_pulse] = PULSE_PROFILES;
        let [average] = AVERAGE_PROFILE;
        let (all, count) = match self {
            Self::None => ([panel, pulse, average], 0),
            Self::Core => ([panel, pulse, average], 2),
            Self::SelfMeasured => ([own_panel, own_pulse, average], 3),
        };
        all.into_iter().take(count)
    }

    /// The next choice that asks a server to know less.
    pub fn less(self) -> Option<Self> {
        match self {
            Self::SelfMeasured => Some(Self::Core),
            Self::Core => Some(Self::None),
            Self::None => None,
        }
    }

    /// As the configuration writes it.
    pub fn word(self) -> &'static str {
        match self {
            Self::None => "none",
            Self::Core => "core",
            Self::SelfMeasured => "self-measured",
        }
    }

    /// What [`Self::word`] wrote.
    pub fn of_word(word: &str) -> Option<Self> {
        [Self::None, Self::Core, Self::SelfMeasured]
            .into_iter()
            .find(|profiles| profiles.word() == word)
    }

    pub(super) fn of<'p>(self, profiles: &'p [&'static str; 2]) -> &'p [&'static str] {
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
    /// Write what a resource says as text too.
    pub narrative: bool,
}

impl Default for Switches {
    fn default() -> Self {
        Self {
            profiles: Profiles::default(),
            device_codes: true,
            snomed: false,
            narrative: false,
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
    /// The identifier and the UUID that name the resource.
    pub identity: Identity,
    /// Replace what the server holds under this name; else create it unless it is there.
    pub replace: bool,
    /// The patient, the device or the observation that is handed on.
    pub resource: Resource<'a>,
    /// What of it decides whether it says something else than it did, where that is less than all: what was on record
    /// before a reading was taken cannot change, and is no reason to send ten years again.
    pub compared: Option<Resource<'a>>,
}

/// Takes the resources, one after another.
pub type Sink<'s> = dyn FnMut(&Item<'_>) -> io::Result<()> + 's;

/// Whether this can stand in a resource as the clinic's reference to a patient: R4's form of an id, alone or
/// behind the address of a server.
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

/// Ids are the server's to choose, except where resources name each other by them.
pub(super) fn id(form: Form, identity: &Identity) -> Option<uuid::Uuid> {
    (form == Form::Lines).then_some(identity.uuid)
}
