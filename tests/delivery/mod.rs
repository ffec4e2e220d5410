//! The real binary delivers to a FHIR server and a receiver of HL7 by others, and to such that fail in every way. All
//! readings are invented.

mod answers;
mod arrives;
mod clinic;
mod faults;
mod hl7;
mod holds;
mod homes;
mod killed;
mod launch;
mod opened;
mod proxy;
mod real;
mod records;
mod released;
mod secrets;
mod sheet;
mod site;
mod smart;
