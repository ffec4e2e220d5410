//! Whether anybody listens: a real collector on a bus of its own, before a BlueZ that is only said to be there, that is
//! killed, stopped, or has no adapter. The page, its days and the sheet say so, with since when.

use crate::harness::browser::{Browser, without};
use crate::harness::left_out::{in_a_hurry, program};
use crate::harness::page::{Home, Served, get};
use dbus::arg::PropMap;
use dbus::blocking::Connection;
use dbus::channel::Channel;
use dbus_crossroads::Crossroads;
use jiff::{SignedDuration, Timestamp};
use quietcuff::household::Statement;
use quietcuff::journal::Journal;
use std::io::{BufRead, BufReader};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

/// A process that ends with this.
pub(crate) struct Ends(pub(crate) Child);

impl Ends {
    pub(crate) fn signal(&self, which: &str) {
        let sent = Command::new("kill")
            .args([which, &self.0.id().to_string()])
            .status();
        assert!(sent.unwrap().success());
    }

    /// Stops without ending, and not in the midst of a write: nobody else could write then.
    pub(crate) fn hangs(&self, home: &Home) {
        let journal = rusqlite::Connection::open(home.state().join("journal.sqlite")).unwrap();
        journal.busy_timeout(Duration::from_secs(60)).unwrap();
        journal.execute_batch("BEGIN IMMEDIATE").unwrap();
        self.signal("-STOP");
    }
}

impl Drop for Ends {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

/// A bus, with or without a BlueZ on it.
pub(crate) struct Bus {
    _daemon: Ends,
    address: String,
}

impl Bus {
    pub(crate) fn start() -> Self {
        let started = Command::new("dbus-daemon")
            .args(["--session", "--nofork", "--print-address=1"])
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn();
        let mut daemon = Ends(started.unwrap());
        let mut address = String::new();
        BufReader::new(daemon.0.stdout.take().unwrap())
            .read_line(&mut address)
            .unwrap();
        Self {
            _daemon: daemon,
            address: address.trim().to_owned(),
        }
    }

    /// Says that BlueZ is there, with an adapter or without one, and a clock service that does not know the time.
    pub(crate) fn bluez(&self, adapter: bool) {
        self.bluez_and_clock(adapter, false);
    }

    /// The same with a clock service that knows the time, or does not.
    pub(crate) fn bluez_and_clock(&self, adapter: bool, known: bool) {
        let mut connected = Channel::open_private(&self.address).unwrap();
        connected.register().unwrap();
        let connection = Connection::from(connected);
        for name in ["org.bluez", "org.freedesktop.timedate1"] {
            connection.request_name(name, false, true, false).unwrap();
        }
        std::thread::spawn(move || objects(adapter, known).serve(&connection));
    }

    pub(crate) fn collector(&self, mut run: Command) -> Ends {
        let child = run
            .env("DBUS_SYSTEM_BUS_ADDRESS", &self.address)
            .env_remove("NOTIFY_SOCKET")
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        Ends(child)
    }
}

/// The properties that BlueZ documents for `org.bluez.Adapter1`, and `NTPSynchronized` of `org.freedesktop.timedate1`.
fn objects(adapter: bool, known: bool) -> Crossroads {
    let mut objects = Crossroads::new();
    let clock = objects.register("org.freedesktop.timedate1", |b| {
        b.property("NTPSynchronized").get(move |_, ()| Ok(known));
    });
    objects.insert("/org/freedesktop/timedate1", &[clock], ());
    let interface = objects.register("org.bluez.Adapter1", |b| {
        b.method(
            "SetDiscoveryFilter",
            ("filter",),
            (),
            |_, (): &mut (), (_,): (PropMap,)| Ok(()),
        );
        b.method("StartDiscovery", (), (), |_, (): &mut (), ()| Ok(()));
        b.method("StopDiscovery", (), (), |_, (): &mut (), ()| Ok(()));
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
        for name in ["Powered", "Pairable", "Discovering"] {
            b.property(name).get(|_, ()| Ok(true)).set(|_, (), _| Ok(None));
        }
        b.property("Discoverable").get(|_, ()| Ok(false));
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
    objects.insert("/org/bluez", &[], ());
    if adapter {
        objects.insert("/org/bluez/hci0", &[interface, gatt], ());
    }
    objects
}

/// Whether the tools for a bus are there.
pub(crate) fn without_bus() -> bool {
    !program("dbus-daemon", "a bus of the test's own")
}

/// What the page says is in the way, by name.
fn troubles(served: &Served, path: &str) -> Vec<String> {
    let body = get(served.address(), path, "").body;
    body.split("data-trouble=\"")
        .skip(1)
        .map(|rest| rest.split('"').next().unwrap().to_owned())
        .collect()
}

/// Waits until the page says just this, and fails after a while.
fn says(served: &Served, expected: &[&str], limit_s: u64) {
    let begun = Instant::now();
    loop {
        let said = troubles(served, "/");
        if said == expected {
            return;
        }
        assert!(
            begun.elapsed() < Duration::from_secs(limit_s),
            "{said:?} and not {expected:?}"
        );
        std::thread::sleep(Duration::from_millis(200));
    }
}

fn sheet(home: &Home, served: &Served) -> [String; 2] {
    let path = home.dir.path().join("sheet.html");
    home.text(&[
        "report",
        "--output",
        path.to_str().unwrap(),
        "--person",
        "asha",
        "--days",
        "7",
    ]);
    [
        std::fs::read_to_string(path).unwrap(),
        get(served.address(), "/sheet/open?person=asha&days=7", "").body,
    ]
}

#[test]
fn a_collector_that_is_killed_or_hangs_is_told_wherever_one_looks() {
    if in_a_hurry("a collector that is killed or hangs") || without_bus() {
        return;
    }
    let home = Home::new();
    home.reading(3600, 128, 82, 0);
    let bus = Bus::start();
    bus.bluez(true);
    let served = home.serve();
    // Nobody has started it yet: the last sign of life was the reading.
    says(&served, &["not-running"], 10);
    let collector = bus.collector(home.command(&["run"]));
    says(&served, &["clock"], 40);
    for text in sheet(&home, &served) {
        assert!(text.contains("the clock of the gateway is not known to be right"));
        assert!(!text.contains("readings do not arrive"), "{text}");
    }
    let killed = Timestamp::now();
    // SIGKILL, of which a process cannot say anything; the page is told by the kernel, not at the next minute.
    drop(collector);
    says(&served, &["not-running"], 5);
    let minute = |at: Timestamp| at.as_second() / 60;
    for path in ["/", "/week?person=asha", "/sheet?person=asha"] {
        let body = get(served.address(), path, "").body;
        assert!(body.contains("the program that listens does not run"), "{path}");
        let since = body.split("does not run.").nth(1).unwrap();
        let time = since.split("Since ").nth(1).unwrap();
        let zone = get(served.address(), "/", "").body;
        let offset: i64 = zone
            .split("data-offset=\"")
            .nth(1)
            .unwrap()
            .split('"')
            .next()
            .unwrap()
            .parse()
            .unwrap();
        let shown = |at: Timestamp| {
            let civil = jiff::tz::Offset::from_seconds(offset as i32)
                .unwrap()
                .to_datetime(at);
            civil.strftime("%H:%M").to_string()
        };
        let (first, last) = (shown(killed), shown(Timestamp::now()));
        assert!(
            [first.as_str(), last.as_str()]
                .iter()
                .any(|at| time.split("</p>").next().unwrap().contains(at)),
            "{path}: {time:.60} and not {first} to {last} ({})",
            minute(killed)
        );
    }
    for text in sheet(&home, &served) {
        assert!(
            text.contains("readings do not arrive: the program that listens does not run"),
            "{text}"
        );
    }
    // One that hangs answers nobody.
    let hung = bus.collector(home.command(&["run"]));
    says(&served, &["clock"], 40);
    hung.hangs(&home);
    says(&served, &["no-answer"], 80);
    hung.signal("-CONT");
    says(&served, &["clock"], 30);
}

#[test]
fn without_bluetooth_or_an_adapter_the_page_says_which() {
    if in_a_hurry("a machine without Bluetooth") || without_bus() {
        return;
    }
    for (bluez, trouble) in [(false, "no-bluetooth"), (true, "no-adapter")] {
        let home = Home::new();
        let bus = Bus::start();
        if bluez {
            bus.bluez(false);
        }
        let _collector = bus.collector(home.command(&["run"]));
        let served = home.serve();
        let begun = Instant::now();
        while troubles(&served, "/").first().map(String::as_str) != Some(trouble) {
            assert!(
                begun.elapsed() < Duration::from_secs(80),
                "{:?} and not {trouble}",
                troubles(&served, "/")
            );
            std::thread::sleep(Duration::from_millis(300));
        }
    }
}

fn forget(home: &Home) {
    let forgotten = Statement::MonitorForgotten {
        monitor: "m1".parse().unwrap(),
    };
    home.journal().state(Timestamp::now(), &[forgotten]).unwrap();
}

/// Nothing is enrolled, so nobody has to listen.
#[test]
fn a_household_without_monitors_is_not_told_that_nobody_listens() {
    let home = Home::new();
    forget(&home);
    let served = home.serve();
    std::thread::sleep(Duration::from_secs(1));
    assert_eq!(troubles(&served, "/"), Vec::<String>::new());
}

/// What the ledger of the clinic says of failures and refusals is shown, with the last answer that made sense.
#[test]
fn a_delivery_that_is_stuck_is_told() {
    let home = Home::new();
    home.configure("[clinic]\nserver = \"https://clinic.invalid/fhir\"\npeople = [\"asha\"]\n");
    forget(&home);
    let served = home.serve();
    let stuck = |failures: u32| {
        let contact = quietcuff::journal::outbox::Contact {
            last: Some(Timestamp::now() - SignedDuration::from_hours(48)),
            failures,
            problem: Some("the server is closed (invented)".to_owned()),
            ..Default::default()
        };
        Journal::open(&home.state())
            .unwrap()
            .set_contact("https://clinic.invalid/fhir", &contact)
            .unwrap();
    };
    stuck(1);
    assert_eq!(troubles(&served, "/"), Vec::<String>::new());
    stuck(3);
    assert_eq!(troubles(&served, "/week?person=asha"), ["delivery"]);
    let body = get(served.address(), "/week?person=asha", "").body;
    assert!(
        body.contains("the server is closed (invented). They are kept here. Since "),
        "{body}"
    );
}

#[test]
fn a_monitor_that_is_silent_beyond_its_habit_is_told() {
    if in_a_hurry("a monitor that is silent") || without_bus() {
        return;
    }
    for (last_h, told) in [(10, false), (48, true)] {
        let home = Home::new();
        // Mornings and evenings of ten days, until so many hours ago.
        for nth in (0..20).rev() {
            home.reading((last_h + nth * 12) * 3600, 128, 82, 0);
        }
        let bus = Bus::start();
        bus.bluez(true);
        let _collector = bus.collector(home.command(&["run"]));
        let served = home.serve();
        says(&served, if told { &["clock", "silent"] } else { &["clock"] }, 60);
    }
}

/// By a clock that nobody can set: the browser's wall clock is put back, and the page is old all the same.
#[test]
fn a_page_knows_that_it_is_old_whatever_the_clock_says() {
    if without() {
        return;
    }
    let home = Home::new();
    let mut served = Some(home.serve());
    let mut browser = Browser::start();
    let url = |path: &str, served: &Option<Served>| served.as_ref().unwrap().at(path);
    for (page, path) in [("now", "/"), ("week", "/week?person=asha"), ("people", "/people")] {
        browser.open(page, &url(path, &served));
        assert!(browser.text(page, "#as-of").starts_with("As of "), "{page}");
    }
    browser.wait("now", "document.querySelector('#lost').hidden");
    drop(served.take());
    // Eleven minutes in one step, while somebody puts the wall clock back by an hour.
    let later =
        "(() => { const real = performance.now.bind(performance); performance.now = () => real() + 660000;
                   const wall = Date.now.bind(Date); Date.now = () => wall() - 3600000; })()";
    for page in ["now", "week", "people"] {
        browser.eval(page, later);
    }
    browser.wait("now", "!document.querySelector('#lost').hidden");
    for page in ["week", "people"] {
        browser.wait(page, "!document.querySelector('#stale').hidden");
        browser.accessible(page);
        assert!(browser.text(page, "#stale").contains("Load it anew"));
    }
}
