//! The few R4 elements that are used, as they are written. What the standard forbids cannot be written: no
//! nulls, no empty lists, no empty strings; numbers keep their digits.

use crate::gatt::Decimal;
use serde::{Serialize, Serializer};
use std::borrow::Cow;
use uuid::Uuid;

/// A code of a code system.
#[derive(Clone, Copy, Debug, Serialize)]
pub(super) struct Coding {
    pub(super) system: &'static str,
    pub(super) code: &'static str,
    pub(super) display: &'static str,
}

/// A FHIR R4 resource of one of the kinds that are exported or delivered.
#[derive(Clone, Debug, Serialize)]
#[serde(untagged)]
#[expect(missing_docs, reason = "the names are the standard's")]
pub enum Resource<'a> {
    Patient(Patient),
    Device(Box<Device<'a>>),
    Observation(Box<Observation<'a>>),
    Document(Box<DocumentReference<'a>>),
    Consent(Box<Consent<'a>>),
    Provenance(Box<Provenance<'a>>),
}

impl Resource<'_> {
    /// The name of its type.
    pub fn kind(&self) -> &'static str {
        match self {
            Self::Patient(_) => "Patient",
            Self::Device(_) => "Device",
            Self::Observation(_) => "Observation",
            Self::Document(_) => "DocumentReference",
            Self::Consent(_) => "Consent",
            Self::Provenance(_) => "Provenance",
        }
    }
}

/// A word that is written as the resource's type.
macro_rules! kind {
    ($name:ident, $text:literal) => {
        #[derive(Clone, Copy, Debug, Default)]
        pub(super) struct $name;
        impl Serialize for $name {
            fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
                serializer.serialize_str($text)
            }
        }
    };
}
kind!(PatientType, "Patient");
kind!(DeviceType, "Device");
kind!(ObservationType, "Observation");
kind!(DocumentType, "DocumentReference");
kind!(ConsentType, "Consent");
kind!(ProvenanceType, "Provenance");

/// A person, as little of them as the clinic needs to know whose readings these are.
#[derive(Clone, Debug, Serialize)]
#[serde(rename_all = "camelCase")]
pub struct Patient {
    pub(super) resource_type: PatientType,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) id: Option<Uuid>,
    pub(super) identifier: Vec<Identifier<'static>>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) name: Option<[Name; 1]>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) birth_date: Option<String>,
}

#[derive(Clone, Debug, Serialize)]
pub(super) struct Name {
    pub(super) text: String,
}

/// A monitor, or this gateway.
#[derive(Clone, Debug, Serialize)]
#[serde(rename_all = "camelCase")]
pub struct Device<'a> {
    pub(super) resource_type: DeviceType,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) id: Option<Uuid>,
    pub(super) identifier: Vec<Identifier<'a>>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) manufacturer: Option<&'a str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) serial_number: Option<&'a str>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub(super) device_name: Vec<DeviceName<'a>>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) model_number: Option<&'a str>,
    #[serde(rename = "type")]
    pub(super) kind: Concept,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub(super) specialization: Vec<Specialization>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub(super) version: Vec<Version>,
}

#[derive(Clone, Debug, Serialize)]
pub(super) struct DeviceName<'a> {
    pub(super) name: &'a str,
    #[serde(rename = "type")]
    pub(super) kind: &'static str,
}

#[derive(Clone, Debug, Serialize)]
#[serde(rename_all = "camelCase")]
pub(super) struct Specialization {
    pub(super) system_type: Concept,
}

#[derive(Clone, Debug, Serialize)]
pub(super) struct Version {
    pub(super) value: &'static str,
}

/// A file with what is known of it.
#[derive(Clone, Debug, Serialize)]
#[serde(rename_all = "camelCase")]
pub struct DocumentReference<'a> {
    pub(super) resource_type: DocumentType,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) id: Option<Uuid>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) text: Option<Narrative>,
    pub(super) identifier: [Identifier<'static>; 1],
    pub(super) status: &'static str,
    #[serde(rename = "type")]
    pub(super) kind: Concept,
    pub(super) subject: Reference<'a>,
    pub(super) date: String,
    pub(super) author: [Reference<'a>; 1],
    pub(super) content: [DocumentContent; 1],
    pub(super) context: DocumentContext,
}

#[derive(Clone, Debug, Serialize)]
pub(super) struct DocumentContent {
    pub(super) attachment: Attachment,
}

#[derive(Clone, Debug, Serialize)]
#[serde(rename_all = "camelCase")]
pub(super) struct Attachment {
    pub(super) content_type: &'static str,
    pub(super) language: &'static str,
    pub(super) data: String,
    pub(super) title: String,
    pub(super) creation: String,
}

#[derive(Clone, Debug, Serialize)]
pub(super) struct DocumentContext {
    pub(super) period: Span,
}

#[derive(Clone, Debug, Serialize)]
pub(super) struct Span {
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) start: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) end: Option<String>,
}

/// What a household released to the clinic.
#[derive(Clone, Debug, Serialize)]
#[serde(rename_all = "camelCase")]
pub struct Consent<'a> {
    pub(super) resource_type: ConsentType,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) id: Option<Uuid>,
    pub(super) identifier: [Identifier<'static>; 1],
    pub(super) status: &'static str,
    pub(super) scope: Concept,
    pub(super) category: [Concept; 1],
    pub(super) patient: Reference<'a>,
    pub(super) date_time: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) performer: Option<[Named<'a>; 1]>,
    pub(super) policy_rule: Concept,
    pub(super) provision: Provision,
}

/// Somebody of whom only the name is known.
#[derive(Clone, Debug, Serialize)]
pub(super) struct Named<'a> {
    pub(super) display: &'a str,
}

#[derive(Clone, Debug, Serialize)]
#[serde(rename_all = "camelCase")]
pub(super) struct Provision {
    #[serde(rename = "type")]
    pub(super) kind: &'static str,
    pub(super) period: Span,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) data_period: Option<Span>,
}

/// Where what is at the clinic comes from.
#[derive(Clone, Debug, Serialize)]
#[serde(rename_all = "camelCase")]
pub struct Provenance<'a> {
    pub(super) resource_type: ProvenanceType,
    pub(super) id: Uuid,
    pub(super) target: Vec<Reference<'a>>,
    pub(super) recorded: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) policy: Option<[&'a str; 1]>,
    pub(super) agent: [Agent<'a>; 2],
}

#[derive(Clone, Debug, Serialize)]
pub(super) struct Agent<'a> {
    #[serde(rename = "type")]
    pub(super) kind: Concept,
    pub(super) who: Reference<'a>,
}

/// A measurement, its pulse, its status flags, or an average.
#[derive(Clone, Debug, Serialize)]
#[serde(rename_all = "camelCase")]
pub struct Observation<'a> {
    pub(super) resource_type: ObservationType,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) id: Option<Uuid>,
    #[serde(skip_serializing_if = "Meta::is_empty")]
    pub(super) meta: Meta,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) text: Option<Narrative>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub(super) extension: Vec<Extension<'a>>,
    pub(super) identifier: [Identifier<'static>; 1],
    pub(super) status: &'static str,
    pub(super) category: [Concept; 1],
    pub(super) code: Concept,
    pub(super) subject: Reference<'a>,
    #[serde(flatten)]
    pub(super) effective: Effective,
    pub(super) issued: String,
    pub(super) performer: [Reference<'a>; 1],
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) value_quantity: Option<Quantity>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub(super) note: Vec<Annotation>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) body_site: Option<Concept>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) method: Option<Concept>,
    pub(super) device: Reference<'a>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub(super) derived_from: Vec<Reference<'a>>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub(super) component: Vec<Component>,
}

/// What a resource says, as text.
#[derive(Clone, Debug, Serialize)]
pub(super) struct Narrative {
    pub(super) status: &'static str,
    /// XHTML.
    pub(super) div: String,
}

#[derive(Clone, Copy, Debug, Serialize)]
pub(super) struct Meta {
    pub(super) profile: &'static [&'static str],
}

impl Meta {
    fn is_empty(&self) -> bool {
        self.profile.is_empty()
    }
}

#[derive(Clone, Debug, Serialize)]
pub(super) enum Effective {
    #[serde(rename = "effectiveDateTime")]
    At(String),
    #[serde(rename = "effectivePeriod")]
    During { start: String, end: String },
}

#[derive(Clone, Debug, Serialize)]
pub(super) struct Extension<'a> {
    pub(super) url: &'static str,
    #[serde(flatten)]
    pub(super) value: ExtensionValue<'a>,
}

#[derive(Clone, Debug, Serialize)]
pub(super) enum ExtensionValue<'a> {
    #[serde(rename = "valueReference")]
    Reference(Reference<'a>),
    #[serde(rename = "valueInteger")]
    Integer(usize),
    #[serde(rename = "valueCodeableConcept")]
    Concept(Concept),
    #[serde(rename = "valueQuantity")]
    Quantity(Box<Quantity>),
}

#[derive(Clone, Debug, Serialize)]
pub(super) struct Identifier<'a> {
    #[serde(rename = "type", skip_serializing_if = "Option::is_none")]
    pub(super) kind: Option<Concept>,
    /// `None` where nobody said who gives the numbers.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) system: Option<&'static str>,
    pub(super) value: Cow<'a, str>,
}

#[derive(Clone, Copy, Debug, Serialize)]
pub(super) struct Concept {
    #[serde(skip_serializing_if = "<[Coding]>::is_empty")]
    pub(super) coding: &'static [Coding],
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) text: Option<&'static str>,
}

#[derive(Clone, Debug, Serialize)]
pub(super) struct Reference<'a> {
    pub(super) reference: Cow<'a, str>,
}

#[derive(Clone, Debug, Serialize)]
pub(super) struct Annotation {
    pub(super) text: String,
}

#[derive(Clone, Debug, Serialize)]
pub(super) struct Quantity {
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) extension: Option<[Extension<'static>; 1]>,
    pub(super) value: Decimal,
    pub(super) unit: &'static str,
    pub(super) system: &'static str,
    pub(super) code: &'static str,
}

#[derive(Clone, Debug, Serialize)]
pub(super) struct Component {
    pub(super) code: Concept,
    #[serde(flatten)]
    pub(super) value: ComponentValue,
}

#[derive(Clone, Debug, Serialize)]
pub(super) enum ComponentValue {
    #[serde(rename = "valueQuantity")]
    Quantity(Quantity),
    #[serde(rename = "valueBoolean")]
    Boolean(bool),
    #[serde(rename = "valueInteger")]
    Integer(usize),
}
