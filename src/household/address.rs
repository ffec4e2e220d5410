//! The address by which a monitor is known on the air.

use std::fmt;
use std::str::FromStr;

/// A monitor's identity address, in upper case with colons. It is never a resolvable private address and
/// never an object path.
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, serde::Serialize, serde::Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct MonitorAddress(String);

impl MonitorAddress {
    /// The address as text, such as `C0:FF:EE:00:00:01`.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl fmt::Display for MonitorAddress {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// The error for text that is no Bluetooth address; the text is cut at 64 characters.
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
    /// The address of six octets, most significant first.
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
