//! The values that the Bluetooth SIG defines, byte for byte, in one file for each characteristic.
//!
//! Every decoder is total: any byte string gives a value or a small [`DecodeError`] that says what was wrong
//! and where. Nothing here reads a clock or panics, and decoding allocates nothing but where `segments` puts
//! a value together. Layouts follow the SIG's GATT Specification Supplement; reserved bits and unrecognised
//! trailing octets are accepted and reported, so that a later version of the profile does not break an old
//! collector.
//!
//! A new characteristic is a file with a `decode` and a `take`, a variant of [`Value`], a line in the table
//! of `value.rs` and its fields in `json.rs`; the labels come with the `take`.

mod appearance;
mod battery;
mod characteristic;
mod cuff_pressure;
mod current_time;
mod database_change;
mod date_time;
mod decimal;
mod device_time;
mod encoded;
mod feature;
mod float;
mod json;
mod local_time;
mod measurement;
mod octets;
mod pnp_id;
mod record;
mod record_access;
mod reference_time;
mod segments;
mod sfloat;
mod status;
mod system_id;
mod text;
mod time_stamp;
mod unit;
mod user_control;
mod user_index;
mod value;

pub use appearance::Appearance;
pub use battery::BatteryLevel;
pub use characteristic::{Characteristic, NotACharacteristic};
pub use cuff_pressure::CuffPressure;
pub use current_time::{AdjustReason, CurrentTime};
pub use database_change::DatabaseChange;
pub use date_time::DateTime;
pub use decimal::Decimal;
pub use device_time::DeviceTime;
pub use encoded::Encoded;
pub use feature::Feature;
pub use float::Float;
pub use local_time::LocalTimeInformation;
pub use measurement::{BloodPressureMeasurement, UNKNOWN_USER, is_measurement};
pub use octets::{DecodeError, Labelled};
pub use pnp_id::PnpId;
pub use record::BloodPressureRecord;
pub use record_access::RecordAccess;
pub use reference_time::{ReferenceSource, ReferenceTimeInformation};
pub use segments::{RECORD_OCTETS_MAX, SegmentOutcome, Segments, WholeRecord};
pub use sfloat::{Sfloat, Special};
pub use status::{MeasurementStatus, PulseRateRange};
pub use system_id::SystemId;
pub use text::{Text, printable};
pub use time_stamp::{Epoch, TimeStamp};
pub use unit::Unit;
pub use user_control::{ConsentCode, NotAConsentCode, UserControl};
pub use user_index::UserIndex;
pub use value::{Decoded, Value, decode, label};
