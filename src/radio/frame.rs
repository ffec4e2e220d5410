//! A frame: one GATT value as received, before anyone looks at the bytes.

use crate::gatt::Characteristic;
use crate::household::PersonId;
use jiff::Timestamp;
use jiff::tz::Offset;
use std::fmt;
use std::str::FromStr;

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
    /// It was not told by BlueZ but overheard beside it, see [`super::ear`].
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

/// A monitor's identity address, upper case with colons. Never a resolvable private address, never an object path.
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, serde::Serialize, serde::Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct MonitorAddress(String);

impl MonitorAddress {
    /// `C0:FF:EE:00:00:01`
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl fmt::Display for MonitorAddress {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// Text that is no Bluetooth address.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{0:?} is not a Bluetooth address: give six pairs of hexadecimal digits, such as C0:FF:EE:00:00:01")]
pub struct NotAnAddress(String);

impl FromStr for MonitorAddress {
    type Err = NotAnAddress;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let mut pairs = 0;
        let good = text.split([':', '-']).all(|pair| {
            pairs += 1;
            pair.len() == 2 && pair.bytes().all(|b| b.is_ascii_hexdigit())
        });
        if good && pairs == 6 {
            Ok(Self(text.to_ascii_uppercase().replace('-', ":")))
        } else {
            Err(NotAnAddress(text.chars().take(64).collect()))
        }
    }
}

impl From<[u8; 6]> for MonitorAddress {
    /// From the six octets, most significant first.
    fn from([a, b, c, d, e, f]: [u8; 6]) -> Self {
        Self(format!("{a:02X}:{b:02X}:{c:02X}:{d:02X}:{e:02X}:{f:02X}"))
    }
}

impl TryFrom<String> for MonitorAddress {
    type Error = NotAnAddress;

    fn try_from(text: String) -> Result<Self, Self::Error> {
        text.parse()
    }
}

impl From<MonitorAddress> for String {
    fn from(address: MonitorAddress) -> Self {
        address.0
    }
}
