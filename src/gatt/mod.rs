//! What the Bluetooth SIG defines, byte for byte: one file a characteristic.
//!
//! Every decoder is total: any byte string gives a value or a small [`DecodeError`] that says what was wrong and
//! where. Nothing here allocates for a measurement, reads a clock or panics. Layouts follow the SIG's GATT
//! Specification Supplement; reserved bits and unrecognised trailing octets are accepted and reported, so that a
//! later version of the profile does not break an old collector.

mod characteristic;
mod date_time;
mod measurement;
mod octets;
mod sfloat;

pub use characteristic::Characteristic;
pub use date_time::DateTime;
pub use measurement::{BloodPressureMeasurement, Epoch, MeasurementStatus, PulseRateRange, TimeStamp, Unit};
pub use octets::DecodeError;
pub use sfloat::{Sfloat, Special};
