//! A frame: one GATT value as received, before anyone looks at the octets.

use crate::gatt::Characteristic;
use crate::household::{MonitorAddress, PersonId};
use jiff::Timestamp;
use jiff::tz::Offset;

/// The longest value that the Attribute Protocol allows, in octets (Core Vol 3 Part F 3.2.9). A longer value
/// is not a frame.
pub const VALUE_OCTETS_MAX: usize = 512;

/// One GATT value as received.
///
/// ```
/// use jiff::tz::Offset;
/// use quietcuff::frame::Frame;
/// use quietcuff::gatt::{BloodPressureMeasurement, Characteristic};
///
/// let frame = Frame {
///     received_at: "2026-03-01T07:02:11Z".parse()?,
///     offset: Offset::UTC,
///     uptime: None,
///     given_to: Some("asha".parse()?),
///     overheard: false,
///     monitor: "C0:FF:EE:00:00:01".parse()?,
///     connection: 1,
///     characteristic: Characteristic::BLOOD_PRESSURE_MEASUREMENT,
///     value: vec![0x04, 128, 0, 82, 0, 0xff, 0x07, 71, 0],
/// };
/// // Flags, systolic, diastolic and mean arterial pressure (here the code for "no number"), pulse rate.
/// let measurement = BloodPressureMeasurement::decode(&frame.value)?;
/// assert_eq!(measurement.systolic.to_string(), "128");
/// assert_eq!(measurement.mean_arterial_pressure.to_string(), "NaN");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Frame {
    /// The moment at which the gateway received the value, by the gateway's own clock, to the microsecond.
    pub received_at: Timestamp,
    /// The gateway's offset from UTC at that moment, [`to_the_minute`]; for people, never for arithmetic.
    pub offset: Offset,
    /// The same moment on a clock that nobody can set; `None` where the source does not know it.
    pub uptime: Option<Uptime>,
    /// The person whose reading the source says this is, such as the person named for a replayed file.
    pub given_to: Option<PersonId>,
    /// Whether the value was not told by BlueZ but overheard beside it, see [`crate::radio::ear`].
    pub overheard: bool,
    /// The address of the monitor that sent the value.
    pub monitor: MonitorAddress,
    /// The number of the connection on which the value came; it counts up for each monitor.
    pub connection: u32,
    /// The characteristic whose value this is.
    pub characteristic: Characteristic,
    /// The octets of the value as they came, at most 512.
    pub value: Vec<u8>,
}

/// An offset from UTC as RFC 3339 writes it, which has no seconds there; the moment beside it stays exact.
pub fn to_the_minute(offset: Offset) -> Offset {
    Offset::from_seconds(offset.seconds() / 60 * 60).unwrap_or(offset)
}

/// A moment on the gateway's boot-time clock. It lets a receipt time be mended afterwards, when a gateway
/// that booted without its own time has learnt it.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Uptime {
    /// The boot id that the kernel gave.
    pub boot: String,
    /// The microseconds since that boot.
    pub micros: i64,
}
