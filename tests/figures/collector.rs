//! What the collector costs while it runs: the program that ships, on a bus of its own, before a BlueZ that is only
//! said to be there. Its one adapter takes a scan and hears nothing.

use crate::harness::left_out::there;
use crate::journal::frame;
use crate::table::{Aim, Table};
use dbus::arg::PropMap;
use dbus::blocking::Connection;
use dbus::channel::Channel;
use dbus_crossroads::Crossroads;
use jiff::Timestamp;
use quietcuff::household::{Monitor, Statement};
use quietcuff::journal::Journal;
use quietcuff::radio::json_lines::AsLine;
use std::fmt::Write;
use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::time::{Duration, Instant};

/// From the start of the program until BlueZ is asked to scan, with a million frames in the journal.
const SCANNING_MS: f64 = 150.0;
const STARTS: usize = 7;
/// Frames that have just been kept when the collector counts as loaded.
const JUST_KEPT: usize = 1_000;
/// How long wake-ups are counted.
const IDLE: Duration = Duration::from_mins(1);
/// After its start it is left alone for so long.
const SETTLED: Duration = Duration::from_secs(5);
/// All that deriving everything anew may hold at once, however much there is, in MB.
const ANEW_MB: f64 = 64.0;
/// More than a start ever takes; a collector that never scans fails.
const SCAN_WAIT: Duration = Duration::from_secs(30);

/// A process that ends with this.
struct Ends(Child);

impl Drop for Ends {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

impl Ends {
    fn pid(&self) -> u32 {
        self.0.id()
    }
}

/// A bus with a BlueZ on it that tells of each scan that it is asked for.
struct Bluez {
    bus: Ends,
    address: String,
    scans: Receiver<Instant>,
}

impl Bluez {
    fn start() -> Option<Self> {
        let started = Command::new("dbus-daemon")
            .args(["--session", "--nofork", "--print-address=1"])
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn();
        let mut bus = Ends(started.ok()?);
        let mut address = String::new();
        BufReader::new(bus.0.stdout.take()?)
            .read_line(&mut address)
            .ok()?;
        let address = address.trim().to_owned();
        let (tell, scans) = channel();
        let mut connected = Channel::open_private(&address).unwrap();
        connected.register().unwrap();
        let connection = Connection::from(connected);
        connection.request_name("org.bluez", false, true, false).unwrap();
        std::thread::spawn(move || objects(tell).serve(&connection));
        Some(Self { bus, address, scans })
    }

    /// Starts the collector: the process, and how long it took until it asked for a scan.
    fn collector(&self, state: &Path) -> (Ends, Duration) {
        while self.scans.try_recv().is_ok() {}
        let begun = Instant::now();
        let child = Command::new(crate::program("quietcuff"))
            .args(["run", "--state"])
            .arg(state)
            .env("DBUS_SYSTEM_BUS_ADDRESS", &self.address)
            .env_remove("NOTIFY_SOCKET")
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let collector = Ends(child);
        let scanning = self.scans.recv_timeout(SCAN_WAIT).expect("a scan is asked for");
        (collector, scanning.duration_since(begun))
    }
}

/// One adapter, with the properties that BlueZ documents for `org.bluez.Adapter1`.
fn objects(tell: Sender<Instant>) -> Crossroads {
    let mut objects = Crossroads::new();
    let adapter = objects.register("org.bluez.Adapter1", move |b| {
        let tell = std::sync::Mutex::new(tell);
        b.method(
            "SetDiscoveryFilter",
            ("filter",),
            (),
            |_, (): &mut (), (_,): (PropMap,)| Ok(()),
        );
        // A scan that is not said to run is asked for again at each heartbeat.
        let scans = Arc::new(AtomicBool::new(false));
        let started = scans.clone();
        b.method("StartDiscovery", (), (), move |_, (), ()| {
            started.store(true, Ordering::Relaxed);
            // Nobody listens any more when the bench ends.
            let _ = tell.lock().unwrap().send(Instant::now());
            Ok(())
        });
        b.method("StopDiscovery", (), (), |_, (), ()| Ok(()));
        for name in ["Address", "AddressType", "Name", "Alias", "Modalias"] {
            b.property(name).get(move |_, ()| {
                let text = match name {
                    "Address" => "C0:FF:EE:FF:FF:FF",
                    "AddressType" => "public",
                    "Modalias" => "usb:v1D6Bp0246d0542",
                    _ => "invented",
                };
                Ok(text.to_owned())
            });
        }
        for name in ["Powered", "Discoverable", "Pairable"] {
            b.property(name).get(move |_, ()| Ok(name == "Powered"));
        }
        b.property("Discovering")
            .get(move |_, ()| Ok(scans.load(Ordering::Relaxed)));
        b.property("Class").get(|_, ()| Ok(0_u32));
        b.property("UUIDs").get(|_, ()| Ok(Vec::<String>::new()));
    });
    let gatt = objects.register("org.bluez.GattManager1", |b| {
        b.method(
            "RegisterApplication",
            ("application", "options"),
            (),
            |_, (): &mut (), _: (dbus::Path<'static>, PropMap)| Ok(()),
        );
    });
    let manager = objects.object_manager();
    objects.insert("/", &[manager], ());
    objects.insert("/org/bluez/hci0", &[adapter, gatt], ());
    objects
}

/// A line of `/proc/PID/status`, as a number.
fn status(of: &str, line: &str) -> u64 {
    let text = std::fs::read_to_string(format!("{of}/status")).unwrap();
    let line = text.lines().find_map(|found| found.strip_prefix(line)).unwrap();
    line.split_whitespace().next().unwrap().parse().unwrap()
}

fn resident_mb(pid: u32) -> f64 {
    status(&format!("/proc/{pid}"), "VmRSS:") as f64 * 1024.0 / 1e6
}

/// The most that a process had resident at once, looked for until it ends.
fn most_resident_mb(process: &mut Ends) -> f64 {
    let status = format!("/proc/{}/status", process.pid());
    let mut most = 0_u32;
    while process.0.try_wait().unwrap().is_none() {
        // One that has just ended has no memory any more.
        let text = std::fs::read_to_string(&status).unwrap_or_default();
        let line = text.lines().find_map(|line| line.strip_prefix("VmHWM:"));
        most = most.max(line.map_or(0, |line| line.split_whitespace().next().unwrap().parse().unwrap()));
        std::thread::sleep(Duration::from_millis(20));
    }
    assert!(process.0.wait().unwrap().success());
    f64::from(most) * 1024.0 / 1e6
}

/// How often the threads of a process went to sleep of their own accord, so far: once for each time that they woke.
fn wake_ups(pid: u32) -> u64 {
    let threads = std::fs::read_dir(format!("/proc/{pid}/task")).unwrap();
    threads
        .map(|thread| {
            status(
                thread.unwrap().path().to_str().unwrap(),
                "voluntary_ctxt_switches:",
            )
        })
        .sum()
}

pub(crate) fn measure(table: &mut Table, full: &Path, count: usize) {
    let Some(bluez) = Bluez::start() else {
        there(false, "the collector's figures", "dbus-daemon");
        return;
    };
    let empty = tempfile::tempdir().unwrap();
    for state in [empty.path(), full] {
        let enrolled = Statement::Monitor {
            monitor: "m1".parse().unwrap(),
            details: Monitor {
                address: Some(frame(0, 0).monitor),
                name: Some("Invented monitor".to_owned()),
                ..Monitor::default()
            },
        };
        let mut journal = Journal::open(state).unwrap();
        journal.state(Timestamp::now(), &[enrolled]).unwrap();
        journal.settle().unwrap();
    }

    let start = |state: &Path| {
        let mut took: Vec<f64> = (0..STARTS)
            .map(|_| bluez.collector(state).1.as_secs_f64() * 1e3)
            .collect();
        took.sort_by(f64::total_cmp);
        took[STARTS / 2]
    };
    let (of_empty, of_full) = (start(empty.path()), start(full));
    let what = format!("start to scanning, {count} frames in the journal");
    table
        .limit(&what, of_full, "ms", SCANNING_MS, Aim::AtMost(1.0))
        .binds();
    table.row(
        "  beside an empty journal",
        of_full,
        "ms",
        (of_empty, "an empty one"),
        Aim::None,
    );

    let (collector, _) = bluez.collector(empty.path());
    std::thread::sleep(SETTLED);
    let idle = resident_mb(collector.pid());
    let bus = resident_mb(bluez.bus.pid());
    let woken = || wake_ups(collector.pid()) as f64;
    let bus_woken = || wake_ups(bluez.bus.pid()) as f64;
    let before = (woken(), bus_woken());
    std::thread::sleep(IDLE);
    let (woken, bus_woken) = (woken() - before.0, bus_woken() - before.1);
    table.row(
        "resident, idle, nothing in the journal",
        idle,
        "MB",
        (bus, "dbus-daemon"),
        Aim::None,
    );
    // A bus that nobody used has not woken: one, so that the ratio is a number.
    table.row(
        "wake-ups of the idle collector in a minute",
        woken,
        "",
        (bus_woken.max(1.0), "dbus-daemon"),
        Aim::None,
    );
    drop(collector);

    let (collector, _) = bluez.collector(full);
    let mut lines = String::new();
    for place in 0..JUST_KEPT {
        // Of a monitor of its own, after everything that is there.
        writeln!(lines, "{}", AsLine(&frame(60_000, place))).unwrap();
    }
    let file = empty.path().join("more.jsonl");
    std::fs::write(&file, lines).unwrap();
    let replayed = Command::new(crate::program("quietcuff"))
        .args(["replay", "--json"])
        .arg(&file)
        .arg("--state")
        .arg(full)
        .stdout(Stdio::null())
        .status()
        .unwrap();
    assert!(replayed.success());
    std::thread::sleep(SETTLED);
    let what = format!("  with {count} frames, {JUST_KEPT} just kept beside it");
    table.row(
        &what,
        resident_mb(collector.pid()),
        "MB",
        (idle, "idle"),
        Aim::None,
    );
    drop(collector);

    let anew = Command::new(crate::program("quietcuff"))
        .args(["rebuild", "--state"])
        .arg(full)
        .stdout(Stdio::null())
        .spawn()
        .unwrap();
    let most = most_resident_mb(&mut Ends(anew));
    let what = format!("resident at most while {count} frames are derived anew");
    table.limit(&what, most, "MB", ANEW_MB, Aim::AtMost(1.0)).binds();
}
