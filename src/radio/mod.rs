//! Where frames come from: the Bluetooth central, a capture file, JSON Lines, a simulated monitor. Everything
//! after this step is the same code for every source.

pub mod bearer;
pub mod bond;
pub mod bus;
pub mod capture;
pub mod central;
mod consent;
mod current_time;
mod direct;
pub mod ear;
mod fault;
mod fetch;
mod gateway_time;
pub mod introduce;
pub mod json_lines;
mod line;
mod link;
mod patience;
mod questions;
pub mod recover;
pub mod report;
mod settings;
pub mod simulated;
pub mod source;
mod stored;
mod users;
mod waiting;
pub mod way;

pub use fault::Fault;
pub use settings::{Bearer, Radio};

use uuid::Uuid;

/// The Generic Health Sensor service, 0x1840, in which newer monitors may send their observations. What comes is kept
/// as it came; nothing here decodes it yet.
pub const HEALTH_SENSOR_SERVICE: Uuid = crate::gatt::Characteristic::assigned(0x1840).uuid();

/// The User Data service, 0x181C, by which a monitor keeps its users apart.
pub const USER_DATA_SERVICE: Uuid = crate::gatt::Characteristic::assigned(0x181c).uuid();

/// The Blood Pressure service, 0x1810.
pub const BLOOD_PRESSURE_SERVICE: Uuid = crate::gatt::Characteristic::assigned(0x1810).uuid();
