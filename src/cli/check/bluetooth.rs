//! What the daemon needs of Linux's Bluetooth: the bus, bluetoothd, an adapter that is not blocked, the
//! bonds.

use super::super::failure;
use super::finding::{Finding, FindingState, advised, needed, ok};
use crate::config::Config;
use crate::household::Household;
use crate::radio::Bearer;
use crate::radio::bearer::channel::{self, Unreached};
use crate::radio::bus::{Adapter, Bus, Objects};
use crate::radio::way::{self, Choice, Way};
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

/// The oldest BlueZ that is advised; the bench runs Debian's 5.66.
const BLUEZ_ADVISED: (u32, u32) = (5, 63);
/// A program that prints its version takes milliseconds.
const VERSION_LIMIT: Duration = Duration::from_secs(2);
const VERSION_LOOK: Duration = Duration::from_millis(10);
/// Where distributions put bluetoothd, which is not in anybody's path.
const BLUETOOTHD: [&str; 2] = [
    "/usr/libexec/bluetooth/bluetoothd",
    "/usr/lib/bluetooth/bluetoothd",
];
/// Everything that is asked over D-Bus.
pub(super) async fn stack(config: &Config, stated: &Household, findings: &mut Vec<Finding>) {
    let bus = match Bus::connect() {
        Ok(bus) => bus,
        Err(error) => {
            findings.push(needed(
                "system bus",
                failure::UNAVAILABLE,
                error.to_string(),
                "start it with `systemctl start dbus`; in a container, mount /run/dbus/system_bus_socket",
            ));
            findings.push(clock(None));
            return;
        }
    };
    findings.push(ok("system bus", "D-Bus answers"));
    findings.push(clock(bus.clock_synchronized().await));
    match bus.bluez_runs().await {
        Ok(true) => findings.push(ok("bluetoothd", "runs")),
        Ok(false) => findings.push(needed(
            "bluetoothd",
            failure::UNAVAILABLE,
            "does not run",
            "`systemctl enable --now bluetooth`; where there is no such unit, `apt install bluez` first",
        )),
        Err(error) => findings.push(needed(
            "bluetoothd",
            failure::UNAVAILABLE,
            error.to_string(),
            "see `systemctl status dbus`",
        )),
    }
    findings.push(bluez_version(version_printed()));
    let choice = way::here(config.radio.bearer);
    findings.extend(direct(config.radio.bearer, &choice, channel::may_open().await));
    if findings
        .iter()
        .any(|f| f.check == "bluetoothd" && f.state == FindingState::Needed)
    {
        return;
    }
    match bus.objects().await {
        Ok(objects) => {
            adapters(config, &objects, findings);
            monitors(config, stated, &objects, findings);
        }
        Err(error) if error.is_denied() => findings.push(needed(
            "adapter",
            failure::NO_PERMISSION,
            error.to_string(),
            "add the user that runs the daemon to the group `bluetooth`",
        )),
        Err(error) => findings.push(needed(
            "adapter",
            failure::UNAVAILABLE,
            error.to_string(),
            "`systemctl restart bluetooth`",
        )),
    }
}

/// Whether monitors are linked directly, and why not, unless their owner wants them by BlueZ.
fn direct(wanted: Bearer, choice: &Choice, opened: Result<(), Unreached>) -> Option<Finding> {
    const CHECK: &str = "direct bearer";
    const NEWER: &str = "a kernel from 6.14 on, or from 6.12.20 on in its series (Debian 13 has it)";
    let why = &choice.why;
    if wanted == Bearer::Bluez {
        return None;
    }
    if choice.way == Way::Bluez {
        return Some(advised(
            CHECK,
            format!("readings come by BlueZ, which confirms them by itself: {why}"),
            NEWER,
        ));
    }
    Some(match opened {
        Ok(()) if choice.risky => advised(CHECK, format!("linked directly: {why}"), NEWER),
        Ok(()) => ok(
            CHECK,
            format!("a monitor is told \"received\" once its reading is kept: {why}"),
        ),
        Err(error) => advised(
            CHECK,
            format!("{error}; readings come by BlueZ, which confirms them by itself"),
            "allow AF_BLUETOOTH in the unit, and the kernel's module `bluetooth`; a container has it only in the host's network",
        ),
    })
}

fn clock(synchronized: Option<bool>) -> Finding {
    const CHECK: &str = "clock";
    match synchronized {
        Some(true) => ok(CHECK, "synchronised"),
        Some(false) => advised(
            CHECK,
            "not synchronised: readings would get this machine's error",
            "`timedatectl set-ntp true`",
        ),
        None => advised(
            CHECK,
            "nobody here says whether it is synchronised",
            "see `timedatectl` or `chronyc tracking`",
        ),
    }
}

/// `bluetoothctl: 5.66`, or `5.66`.
fn version_printed() -> Option<(u32, u32)> {
    ["bluetoothctl"].iter().chain(&BLUETOOTHD).find_map(|program| {
        let said = said(program)?;
        let (major, minor) = said.split_whitespace().last()?.split_once('.')?;
        Some((major.parse().ok()?, minor.parse().ok()?))
    })
}

/// What a program says when asked for its version, unless it takes too long.
fn said(program: &str) -> Option<String> {
    let mut child = Command::new(program)
        .arg("--version")
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .ok()?;
    let begun = Instant::now();
    while child.try_wait().ok()?.is_none() {
        if begun.elapsed() > VERSION_LIMIT {
            let _ = child.kill();
            let _ = child.wait();
            return None;
        }
        std::thread::sleep(VERSION_LOOK);
    }
    let output = child.wait_with_output().ok()?;
    String::from_utf8(output.stdout).ok()
}

fn bluez_version(printed: Option<(u32, u32)>) -> Finding {
    const CHECK: &str = "BlueZ";
    let (major, minor) = BLUEZ_ADVISED;
    match printed {
        Some(version) if version >= BLUEZ_ADVISED => ok(CHECK, format!("{}.{}", version.0, version.1)),
        Some(version) => advised(
            CHECK,
            format!("{}.{} is older than {major}.{minor}", version.0, version.1),
            "use a newer release of your distribution; older ones were not tried with this program",
        ),
        None => advised(
            CHECK,
            "its version cannot be told",
            format!("see that it is {major}.{minor} or newer; `bluetoothctl --version` says it"),
        ),
    }
}

fn adapters(config: &Config, objects: &Objects, findings: &mut Vec<Finding>) {
    const CHECK: &str = "adapter";
    let wanted = config.radio.adapter.as_ref();
    let Some(chosen) = objects.choose(wanted) else {
        let (found, todo) = match wanted {
            Some(address) => (
                format!("{address}, which the configuration names, is not there"),
                "plug it in, or correct `radio.adapter`; `bluetoothctl list` names those there are",
            ),
            None => (
                "BlueZ shows none".to_owned(),
                "plug one in; `dmesg | grep -i bluetooth` says why the kernel does not like it",
            ),
        };
        findings.push(needed(CHECK, failure::UNAVAILABLE, found, todo));
        return;
    };
    let name = chosen.path.rsplit('/').next().unwrap_or_default().to_owned();
    findings.push(if chosen.powered {
        ok(CHECK, format!("{} ({name}), switched on", chosen.address))
    } else {
        advised(
            CHECK,
            format!("{} ({name}), switched off", chosen.address),
            "the daemon switches it on when it starts; `bluetoothctl power on` does it now",
        )
    });
    let others: Vec<String> = objects
        .adapters
        .iter()
        .filter(|adapter| adapter.path != chosen.path)
        .map(|Adapter { address, .. }| address.to_string())
        .collect();
    if wanted.is_none() && !others.is_empty() {
        findings.push(advised(
            CHECK,
            format!("there is also {}", others.join(", ")),
            format!(
                "name the one to use in the configuration: `radio.adapter = \"{}\"`",
                chosen.address
            ),
        ));
    }
    findings.extend(usb_power(Path::new("/sys"), &name));
}

/// An adapter that the kernel puts to sleep misses advertisements.
fn usb_power(sys: &Path, adapter: &str) -> Option<Finding> {
    const CHECK: &str = "USB power";
    let device = sys
        .join("class/bluetooth")
        .join(adapter)
        .join("device")
        .canonicalize()
        .ok()?;
    let usb = device.ancestors().find(|above| above.join("idVendor").exists())?;
    let control = usb.join("power/control");
    let set = fs::read_to_string(&control).ok()?;
    Some(match set.trim() {
        "auto" => advised(
            CHECK,
            "the kernel may put the adapter to sleep (power/control is auto)",
            format!(
                "as root: `echo on > {}`; a udev rule makes it last",
                control.display()
            ),
        ),
        other => ok(CHECK, format!("power/control is {other}")),
    })
}

/// Bluetooth radios that are blocked, by a key or by a switch.
pub(super) fn blocked(sys: &Path) -> Vec<Finding> {
    const CHECK: &str = "rfkill";
    let read = |file: PathBuf| fs::read_to_string(file).unwrap_or_default().trim().to_owned();
    let mut switches: Vec<PathBuf> = fs::read_dir(sys.join("class/rfkill"))
        .into_iter()
        .flatten()
        .filter_map(|entry| Some(entry.ok()?.path()))
        .filter(|switch| read(switch.join("type")) == "bluetooth")
        .collect();
    switches.sort();
    switches
        .into_iter()
        .map(|switch| {
            let name = read(switch.join("name"));
            let is_set = |file| read(switch.join(file)) == "1";
            if is_set("hard") {
                let todo =
                    "turn the machine's wireless switch on, or look for Bluetooth in its firmware settings";
                needed(
                    CHECK,
                    failure::UNAVAILABLE,
                    format!("{name} is blocked by a switch"),
                    todo,
                )
            } else if is_set("soft") {
                let todo = "`rfkill unblock bluetooth`";
                needed(CHECK, failure::UNAVAILABLE, format!("{name} is blocked"), todo)
            } else {
                ok(CHECK, format!("{name} is not blocked"))
            }
        })
        .collect()
}

/// The bonds of those that are listened to.
fn monitors(config: &Config, stated: &Household, objects: &Objects, findings: &mut Vec<Finding>) {
    const CHECK: &str = "monitor";
    let adapter = objects.choose(config.radio.adapter.as_ref());
    let listened = stated
        .addresses
        .iter()
        .filter(|(_, id)| stated.here.contains(*id));
    let mut any = false;
    for (address, id) in listened {
        any = true;
        let device = adapter.and_then(|adapter| objects.device(&adapter.path, address));
        findings.push(match device {
            Some(device) if device.paired => ok(CHECK, format!("{id} ({address}) is paired")),
            Some(_) => advised(
                CHECK,
                format!("{id} ({address}) is known to BlueZ, without a bond"),
                format!(
                    "unless it cannot pair: start its pairing mode and `quietcuff monitors add {address}`"
                ),
            ),
            None => advised(
                CHECK,
                format!("{id} ({address}) is not known to BlueZ on this adapter"),
                format!("start its pairing mode and `quietcuff monitors add {address}`"),
            ),
        });
    }
    if !any {
        findings.push(advised(
            CHECK,
            "none is enrolled",
            "start its pairing mode, then `quietcuff monitors find`",
        ));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn file(path: PathBuf, text: &str) {
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, text).unwrap();
    }

    /// A tree as the kernel's documentation describes it (Documentation/ABI/stable/sysfs-class-rfkill).
    #[test]
    fn a_blocked_radio_is_named_with_what_lifts_it() {
        let sys = tempfile::tempdir().unwrap();
        assert_eq!(blocked(sys.path()), []);
        for (n, (kind, name, soft, hard)) in [
            ("wlan", "phy0", "1", "0"),
            ("bluetooth", "hci0", "1", "0"),
            ("bluetooth", "laptop", "1", "1"),
            ("bluetooth", "hci1", "0", "0"),
        ]
        .into_iter()
        .enumerate()
        {
            let switch = sys.path().join(format!("class/rfkill/rfkill{n}"));
            for (what, value) in [("type", kind), ("name", name), ("soft", soft), ("hard", hard)] {
                file(switch.join(what), &format!("{value}\n"));
            }
        }
        let found = blocked(sys.path());
        assert_eq!(found.len(), 3, "{found:?}");
        assert_eq!(found[0].todo.as_deref(), Some("`rfkill unblock bluetooth`"));
        assert!(
            found[1].found.contains("laptop is blocked by a switch"),
            "{found:?}"
        );
        assert_eq!(
            (found[0].code, found[1].code, found[2].state),
            (69, 69, FindingState::Ok)
        );
    }

    #[test]
    fn an_adapter_that_may_sleep_is_noticed() {
        let sys = tempfile::tempdir().unwrap();
        let usb = sys.path().join("devices/pci0/usb1/1-4");
        file(usb.join("idVendor"), "1d6b\n");
        file(usb.join("power/control"), "auto\n");
        fs::create_dir_all(usb.join("1-4:1.0")).unwrap();
        fs::create_dir_all(sys.path().join("class/bluetooth/hci0")).unwrap();
        std::os::unix::fs::symlink(
            usb.join("1-4:1.0"),
            sys.path().join("class/bluetooth/hci0/device"),
        )
        .unwrap();
        let found = usb_power(sys.path(), "hci0").unwrap();
        assert_eq!(found.state, FindingState::Advised);
        assert!(found.todo.unwrap().contains("1-4/power/control"));
        file(usb.join("power/control"), "on\n");
        assert_eq!(usb_power(sys.path(), "hci0").unwrap().state, FindingState::Ok);
        assert_eq!(usb_power(sys.path(), "hci1"), None);
    }

    #[test]
    fn an_old_bluez_is_advised_against() {
        assert_eq!(bluez_version(Some((5, 63))).state, FindingState::Ok);
        assert_eq!(bluez_version(Some((6, 0))).state, FindingState::Ok);
        assert_eq!(bluez_version(Some((5, 9))).state, FindingState::Advised);
        assert_eq!(bluez_version(None).state, FindingState::Advised);
    }

    #[test]
    fn which_way_monitors_are_linked_is_said_and_why() {
        let choice = |way, risky| Choice {
            way,
            why: "kernel 6.1.0 (hci_chan_del)".to_owned(),
            risky,
        };
        let refused = || Err(Unreached::NoSocket(std::io::ErrorKind::PermissionDenied.into()));
        let found = |wanted, way, risky, opened| direct(wanted, &choice(way, risky), opened);
        assert_eq!(found(Bearer::Bluez, Way::Bluez, false, Ok(())), None);
        let older = found(Bearer::Auto, Way::Bluez, false, Ok(())).unwrap();
        assert_eq!(older.state, FindingState::Advised);
        assert!(
            older.found.contains("come by BlueZ") && older.found.contains("hci_chan_del"),
            "{older:?}"
        );
        assert!(older.todo.unwrap().contains("6.14"));
        let mended = found(Bearer::Auto, Way::Direct, false, Ok(())).unwrap();
        assert_eq!(mended.state, FindingState::Ok);
        assert!(mended.found.contains("kernel 6.1.0"), "{mended:?}");
        for (wanted, risky, opened) in [(Bearer::Direct, true, Ok(())), (Bearer::Auto, false, refused())] {
            let advised = found(wanted, Way::Direct, risky, opened).unwrap();
            assert_eq!(advised.state, FindingState::Advised, "{advised:?}");
        }
    }
}
