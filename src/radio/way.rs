//! Which way monitors are linked on this machine: as its owner says, or as its kernel allows.
//!
//! The kernels before `MENDED` have a fault: whoever closes the socket of a link that ended before it was
//! encrypted may end in `hci_chan_del`, which finds its list corrupted. By BlueZ that is bluetoothd, which its
//! unit starts again; directly it is this program, each time a monitor that has forgotten its pairing
//! advertises. The cure is the kernel's commit ab4eedb790ca, "Bluetooth: L2CAP: Fix corrupted list in
//! hci_chan_del"; Debian's changelog of linux 6.12.20-1 names it, that of 6.1.192 does not.

use super::settings::Bearer;

/// The first kernel with the cure.
const MENDED: (u32, u32) = (6, 14);
/// The long-term series before it that was given the cure, and from which of its versions on.
const MENDED_LATER: [(u32, u32, u32); 1] = [(6, 12, 20)];

/// The way to a monitor's values.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Way {
    /// A socket of our own.
    Direct,
    /// By BlueZ.
    Bluez,
}

impl Way {
    /// Its name in reports.
    pub fn name(self) -> &'static str {
        match self {
            Self::Direct => "direct",
            Self::Bluez => "bluez",
        }
    }

    /// The same in a sentence.
    pub fn how(self) -> &'static str {
        match self {
            Self::Direct => "directly",
            Self::Bluez => "by BlueZ",
        }
    }

    /// Which one has this name.
    pub fn named(name: &str) -> Option<Self> {
        [Self::Direct, Self::Bluez]
            .into_iter()
            .find(|way| way.name() == name)
    }
}

/// A way, and why it was chosen, in words.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Choice {
    /// Which way monitors are linked where nothing hinders it.
    pub way: Way,
    /// Why.
    pub why: String,
    /// It is what the owner asked for, and this kernel can end this program over it.
    pub risky: bool,
}

/// The way for this machine.
pub fn here(wanted: Bearer) -> Choice {
    let kernel = rustix::system::uname();
    choose(wanted, &kernel.release().to_string_lossy())
}

/// The way with a kernel of this release, as `uname -r` prints it.
fn choose(wanted: Bearer, kernel: &str) -> Choice {
    let mended = is_mended(kernel);
    let (way, why) = match wanted {
        Bearer::Bluez => (Way::Bluez, "the configuration says so".to_owned()),
        Bearer::Direct if mended => (Way::Direct, "the configuration says so".to_owned()),
        Bearer::Direct => (
            Way::Direct,
            format!(
                "the configuration says so, though kernel {kernel} may end this program over it (hci_chan_del)"
            ),
        ),
        Bearer::Auto if mended => (Way::Direct, format!("kernel {kernel} does it safely")),
        Bearer::Auto => (
            Way::Bluez,
            format!(
                "kernel {kernel} may end whoever links a monitor that has forgotten its pairing (hci_chan_del)"
            ),
        ),
    };
    Choice {
        way,
        why,
        risky: wanted == Bearer::Direct && !mended,
    }
}

/// Whether this kernel has the cure, as far as its version says. What cannot be read has not.
fn is_mended(kernel: &str) -> bool {
    let digits = kernel
        .split(|c: char| c != '.' && !c.is_ascii_digit())
        .next()
        .unwrap_or_default();
    let mut parts = digits.split('.').map_while(|part| part.parse::<u32>().ok());
    let (Some(major), Some(minor)) = (parts.next(), parts.next()) else {
        return false;
    };
    let patch = parts.next().unwrap_or_default();
    (major, minor) >= MENDED
        || MENDED_LATER
            .iter()
            .any(|&(a, b, from)| (major, minor) == (a, b) && patch >= from)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_kernel_without_the_cure_is_not_trusted_unless_its_owner_says_so() {
        for (kernel, mended) in [
            ("6.1.0-56-amd64", false),
            ("6.1.192", false),
            ("6.6.90", false),
            ("6.12.19", false),
            ("6.12.20", true),
            ("6.12.117+deb13-amd64", true),
            ("6.13.12", false),
            ("6.14.0-29-generic", true),
            ("7.1-rc3", true),
            ("", false),
            ("6", false),
            ("six.twelve", false),
        ] {
            let auto = choose(Bearer::Auto, kernel);
            assert_eq!(auto.way == Way::Direct, mended, "{kernel}: {auto:?}");
            assert!(!auto.risky, "{kernel}");
            assert!(auto.why.contains(kernel));
            let direct = choose(Bearer::Direct, kernel);
            assert_eq!((direct.way, direct.risky), (Way::Direct, !mended), "{kernel}");
            assert_eq!(choose(Bearer::Bluez, kernel).way, Way::Bluez, "{kernel}");
        }
    }
}
