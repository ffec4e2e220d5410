//! A frame: one GATT value as received, before anyone looks at the bytes.

use crate::gatt::Characteristic;
use crate::household::{MonitorAddress, PersonId};
use jiff::Timestamp;
use jiff::tz::Offset;

/// The longest value that the Attribute Protocol allows (Core Vol 3 Part F 3.2.9). Longer ones are not frames.
pub const VALUE_OCTETS_MAX: usize = 512;

/// One GATT value as received.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Frame {
    /// When the gateway received it, by the gateway's own clock, to the microsecond.
    pub received_at: Timestamp,
    /// The gateway's offset from UTC at that moment; for people, never for arithmetic.
    pub offset: Offset,
    /// The same moment on a clock that nobody can set, where the source knows it.
    pub uptime: Option<Uptime>,
    /// Whose readings the source says these are, such as the person named for a replayed file.
    pub given_to: Option<PersonId>,
    /// It was not told by BlueZ but overheard beside it, see [`crate::radio::ear`].
    pub overheard: bool,
    /// Who sent it.
    pub monitor: MonitorAddress,
    /// Which connection it came on; counts up for each monitor.
    pub connection: u32,
    /// Which characteristic.
    pub characteristic: Characteristic,
    /// The bytes.
    pub value: Vec<u8>,
}

/// A moment on the gateway's boot-time clock. It lets a receipt time be mended afterwards, when a gateway that booted
/// without its own time has learnt it.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Uptime {
    /// The kernel's boot id.
    pub boot: String,
    /// Microseconds since that boot.
    pub micros: i64,
}
