//! What a failed radio operation means for us: btleplug hands every BlueZ error over as text.

use btleplug::Error;

/// What to do about a failure.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub enum Fault {
    /// Radio weather: try again at once, or at the next advertisement.
    Transient,
    /// The device object or its link is gone: wait for the next advertisement.
    Gone,
    /// The monitor does not accept our keys, or wants keys that we don't have: a person has to pair again.
    BondLost,
    /// The adapter is off, blocked or unplugged.
    AdapterOff,
    /// bluetoothd or the bus is not there.
    BusLost,
    /// The bus forbids it.
    Denied,
    /// Words that are not known here.
    Other,
}

/// Words that BlueZ and the kernel use, and what they mean; the first that matches wins.
const SAYINGS: &[(&str, Fault)] = &[
    ("AccessDenied", Fault::Denied),
    ("ServiceUnknown", Fault::BusLost),
    ("NameHasNoOwner", Fault::BusLost),
    ("NotReady", Fault::AdapterOff),
    ("Resource Not Ready", Fault::AdapterOff),
    ("adapter-not-powered", Fault::AdapterOff),
    ("Blocked", Fault::AdapterOff),
    ("le-connection-abort-by-local", Fault::Transient),
    ("br-connection-canceled", Fault::Transient),
    ("le-connection-canceled", Fault::Transient),
    ("Software caused connection abort", Fault::Transient),
    ("Operation already in progress", Fault::Transient),
    ("InProgress", Fault::Transient),
    ("Timeout was reached", Fault::Transient),
    ("NoReply", Fault::Transient),
    ("Insufficient Authentication", Fault::BondLost),
    ("Insufficient Encryption", Fault::BondLost),
    ("AuthenticationFailed", Fault::BondLost),
    ("AuthenticationRejected", Fault::BondLost),
    ("0x05", Fault::BondLost),
    ("0x0f", Fault::BondLost),
    ("PIN or Key Missing", Fault::BondLost),
    ("NotPaired", Fault::BondLost),
    ("UnknownObject", Fault::Gone),
    ("DoesNotExist", Fault::Gone),
    ("Not connected", Fault::Gone),
    ("NotConnected", Fault::Gone),
    ("Host is down", Fault::Gone),
    ("0x0e", Fault::Gone),
];

impl Fault {
    /// What a btleplug error means.
    pub fn of(error: &Error) -> Self {
        match error {
            Error::NotConnected | Error::DeviceNotFound => Self::Gone,
            Error::PermissionDenied => Self::Denied,
            Error::TimedOut(_) => Self::Transient,
            other => Self::said(&format!("{other} {other:?}")),
        }
    }

    /// What words mean.
    fn said(words: &str) -> Self {
        SAYINGS
            .iter()
            .find(|(saying, _)| words.contains(saying))
            .map_or(Self::Other, |(_, fault)| *fault)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Words as BlueZ 5.66 was seen to say them, or as threads about it quote them.
    #[test]
    fn what_bluez_says_is_understood() {
        for (words, fault) in [
            (
                "org.bluez.Error.Failed: le-connection-abort-by-local",
                Fault::Transient,
            ),
            (
                "org.bluez.Error.InProgress: Operation already in progress",
                Fault::Transient,
            ),
            ("org.bluez.Error.NotReady: Resource Not Ready", Fault::AdapterOff),
            (
                "org.bluez.Error.Failed: Operation failed with ATT error: 0x0e",
                Fault::Gone,
            ),
            (
                "org.freedesktop.DBus.Error.UnknownObject: Method \"Connect\" doesn't exist",
                Fault::Gone,
            ),
            (
                "org.freedesktop.DBus.Error.AccessDenied: Rejected send message",
                Fault::Denied,
            ),
            (
                "org.freedesktop.DBus.Error.ServiceUnknown: The name org.bluez was not provided",
                Fault::BusLost,
            ),
            (
                "org.bluez.Error.AuthenticationFailed: Authentication Failed",
                Fault::BondLost,
            ),
            (
                "org.bluez.Error.Failed: Operation failed with ATT error: 0x05",
                Fault::BondLost,
            ),
            ("something new", Fault::Other),
        ] {
            assert_eq!(Fault::said(words), fault, "{words}");
        }
        assert_eq!(Fault::of(&Error::NotConnected), Fault::Gone);
    }
}
