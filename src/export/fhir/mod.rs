//! HL7 FHIR R4 (4.0.1): what a clinic's server takes.
//!
//! A reading becomes a blood pressure panel, its pulse an Observation of its own, what the monitor reported
//! of the technique a third; the monitor and this gateway are Devices, the period's average is an Observation
//! that names the readings it is made of.
//!
//! - Numbers have the digits that the monitor sent. Kilopascals become whole millimetres, as the vital signs
//!   profile demands, with what was sent beside them.
//! - How the cuff was worn is what was noted of the sitting, else what was on record when the reading was taken: no later
//!   statement changes it.
//! - Every resource is named by [`identity`], so that sending twice creates once.
//! - A reading that was set aside is not exported; the average's note says how many there are and why. One
//!   that a person withdrew is exported as `entered-in-error`, because it may have been released before.
//! - The sheet of a period, where it is wanted, is a DocumentReference with the PDF in it.
//! - What a household released, and where what is there comes from, are a Consent and a Provenance, delivered only.
//! - Nothing is interpreted: no threshold, no judgement, no diagnosis.

mod average;
mod codes;
pub(super) mod device;
pub mod document;
mod exporter;
mod form;
pub mod identity;
pub(super) mod moment;
mod narrative;
mod observation;
mod records;
mod resource;
mod settings;
mod sheet;

pub use average::Averaged;
pub use exporter::{Exporter, Subject};
pub use form::{Form, Item, Profiles, Sink, Switches, is_patient_reference};
pub use identity::Identity;
pub use narrative::said_in_error;
pub use records::Origin;
pub use resource::{Consent, Device, DocumentReference, Observation, Patient, Provenance, Resource};
pub use settings::Fhir;
pub use sheet::Sheet;
