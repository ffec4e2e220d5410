//! The real binary delivers to a FHIR server by others, and to servers that fail in every way. All readings are invented.

mod answers;
mod arrives;
mod clinic;
mod faults;
mod holds;
mod killed;
mod proxy;
mod secrets;
mod smart;
