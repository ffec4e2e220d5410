//! What leaves the house, read by others: FHIR R4 by a structure checker and two FHIRPath engines that know nothing of
//! how it was written, CSV by two parsers. All readings are invented.

mod csv;
mod files;
mod layers;
mod modelled;
mod wrong;
