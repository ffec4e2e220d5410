//! What leaves the house, read by others: FHIR R4 by a structure checker and two FHIRPath engines that know nothing of
//! how it was written, HL7 version 2 and CSV by two parsers each. All readings are invented.

mod csv;
mod files;
mod hl7;
pub(crate) mod layers;
mod modelled;
mod sheet;
mod wrong;
