//! How the collector and its journal are, as OpenMetrics text, for whoever looks after the machine.
//!
//! The text is a pure function of what was measured. Nothing personal goes out, neither a value nor a name; a
//! monitor is its id. Format: OpenMetrics 1.0 (<https://prometheus.io/docs/specs/om/open_metrics_spec/>):
//! units in the names, `_total` behind counters, and an end that says that it is the end.

use crate::delivery::stuck::held_readings;
use crate::delivery::{Clinic, released_to};
use crate::journal::outbox::Progress;
use crate::journal::{Journal, JournalError, Listener};
use crate::radio::report::MonitorReport;
use crate::socket::report::CollectorReport;
use jiff::Timestamp;
use std::collections::BTreeMap;
use std::fmt::{Display, Write};

/// The type of the text, for HTTP.
pub const CONTENT_TYPE: &str = "application/openmetrics-text; version=1.0.0; charset=utf-8";

/// What is told of.
#[derive(Clone, Debug, Default)]
pub struct Gauged {
    /// How the collector says it is; nothing where none runs.
    pub collector: Option<CollectorReport>,
    /// Octets of the journal's files.
    pub journal_octets: u64,
    /// Frames in the journal.
    pub frames: u64,
    /// Readings in the journal.
    pub readings: u64,
    /// How many of them are set aside for each reason; one reading may have several.
    pub set_aside: BTreeMap<&'static str, u64>,
    /// The end of each monitor's last connection.
    pub last_heard: BTreeMap<String, Timestamp>,
    /// How delivery to each clinic gets through.
    pub delivery: Vec<Progress>,
    /// What is held back from the clinic that the configuration chose; nothing where it chose none.
    pub held: Option<HeldBack>,
    /// The other machines that hand on to this one.
    pub listeners: Vec<Listener>,
    /// The battery level that each monitor told last, in percent.
    pub batteries: BTreeMap<String, u8>,
}

/// What the household did not release to a clinic, in numbers.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct HeldBack {
    /// The server's address.
    pub clinic: String,
    /// How many people's measurements may go, of all days or of some.
    pub released: usize,
    /// Readings that would go and wait, because no release covers them.
    pub readings: usize,
}

impl HeldBack {
    fn of(journal: &Journal, clinic: &Clinic) -> Result<Option<Self>, JournalError> {
        let stated = journal.stated()?;
        let Some((clinic, releases)) = released_to(clinic, &stated.household) else {
            return Ok(None);
        };
        let held = held_readings(journal, &clinic, &releases, &stated.zones)?;
        Ok(Some(Self {
            released: releases.iter().filter(|(_, leave)| leave.is_open()).count(),
            readings: held.values().sum(),
            clinic,
        }))
    }
}

impl Gauged {
    /// Of the daemon that answered, or of none, and of the journal as it is.
    pub fn of(
        journal: &Journal,
        collector: Option<CollectorReport>,
        clinic: &Clinic,
    ) -> Result<Self, JournalError> {
        let octets = |suffix: &str| {
            let mut name = journal.path().as_os_str().to_owned();
            name.push(suffix);
            std::fs::metadata(name).map_or(0, |file| file.len())
        };
        let mut batteries = BTreeMap::new();
        for (id, (monitor, forgotten)) in &journal.household()?.monitors {
            if let Some(address) = monitor.address.as_ref().filter(|_| !forgotten)
                && let Some((level, _)) = journal.last_battery(address)?
            {
                batteries.insert(id.to_string(), level);
            }
        }
        Ok(Self {
            batteries,
            collector,
            journal_octets: ["", "-wal", "-shm"].into_iter().map(octets).sum(),
            frames: u64::try_from(journal.frame_count()?).unwrap_or_default(),
            readings: u64::try_from(journal.readings_and_set_aside()?.0).unwrap_or_default(),
            set_aside: journal.set_aside_by_reason()?,
            last_heard: journal.last_heard()?,
            delivery: journal.delivery_progress()?,
            held: HeldBack::of(journal, clinic)?,
            listeners: journal.listeners()?,
        })
    }
}

#[derive(Clone, Copy)]
enum Kind {
    Gauge,
    Counter,
}

struct Text(String);

impl Text {
    /// A family: its name without the prefix, its unit where it has one (the name ends with it), and what it
    /// is.
    fn family(&mut self, kind: Kind, name: &str, unit: &str, help: &str) -> Family<'_> {
        let word = match kind {
            Kind::Gauge => "gauge",
            Kind::Counter => "counter",
        };
        let _ = writeln!(self.0, "# TYPE quietcuff_{name} {word}");
        if !unit.is_empty() {
            let _ = writeln!(self.0, "# UNIT quietcuff_{name} {unit}");
        }
        let _ = writeln!(self.0, "# HELP quietcuff_{name} {help}");
        Family {
            text: &mut self.0,
            name: name.to_owned(),
            suffix: if matches!(kind, Kind::Counter) {
                "_total"
            } else {
                ""
            },
        }
    }
}

struct Family<'a> {
    text: &'a mut String,
    name: String,
    suffix: &'static str,
}

impl Family<'_> {
    fn is(self, value: impl Display) {
        let _ = writeln!(self.text, "quietcuff_{}{} {value}", self.name, self.suffix);
    }

    fn of(&mut self, label: &str, which: &str, value: impl Display) {
        self.of_all(&[(label, which)], value);
    }

    fn of_all(&mut self, labels: &[(&str, &str)], value: impl Display) {
        let label = |(label, which): &(&str, &str)| {
            let which = which
                .replace('\\', "\\\\")
                .replace('"', "\\\"")
                .replace('\n', "\\n");
            format!("{label}=\"{which}\"")
        };
        let labels: Vec<String> = labels.iter().map(label).collect();
        let _ = writeln!(
            self.text,
            "quietcuff_{}{}{{{}}} {value}",
            self.name,
            self.suffix,
            labels.join(",")
        );
    }
}

/// A clinic is its server's address; of people nothing is told.
fn delivery(text: &mut Text, clinics: &[Progress]) {
    let mut family = |name, unit, help, value: &dyn Fn(&Progress) -> Option<i64>| {
        let mut family = text.family(Kind::Gauge, name, unit, help);
        for clinic in clinics {
            if let Some(value) = value(clinic) {
                family.of("clinic", &clinic.clinic, value);
            }
        }
    };
    family(
        "delivery_failures",
        "",
        "Failures in a row; 0 where delivery gets through.",
        &|clinic| Some(i64::from(clinic.failures)),
    );
    family(
        "delivery_refused",
        "",
        "Resources that the clinic's server refused, which wait for a person.",
        &|clinic| Some(i64::from(clinic.refused)),
    );
    family(
        "delivery_last_answer_timestamp_seconds",
        "seconds",
        "The last answer that made sense, since 1970.",
        &|clinic| clinic.last.map(Timestamp::as_second),
    );
}

/// How many people, and not who.
fn held(text: &mut Text, held: &HeldBack) {
    let families = [
        (
            "delivery_released_people",
            "People whose measurements may go to the clinic, of all days or of some.",
            held.released,
        ),
        (
            "delivery_unreleased_readings",
            "Readings that would go to the clinic and wait, because no release covers them.",
            held.readings,
        ),
    ];
    for (name, help, count) in families {
        text.family(Kind::Gauge, name, "", help)
            .of("clinic", &held.clinic, count);
    }
}

/// A listener is its id; where it stands is nobody's business.
fn listeners(text: &mut Text, listeners: &[Listener]) {
    let open = || listeners.iter().filter(|listener| listener.is_open());
    let mut family = |name, unit, help, value: &dyn Fn(&Listener) -> Option<i64>| {
        let mut family = text.family(Kind::Gauge, name, unit, help);
        for listener in open() {
            if let Some(value) = value(listener) {
                family.of("listener", &listener.id, value);
            }
        }
    };
    let whole = |count: u64| i64::try_from(count).unwrap_or(i64::MAX);
    family(
        "listener_last_heard_timestamp_seconds",
        "seconds",
        "When a listener last handed on or said that it is there, since 1970.",
        &|listener| listener.last.map(Timestamp::as_second),
    );
    family(
        "listener_waiting_frames",
        "",
        "Frames that a listener had not handed on when it was last heard.",
        &|listener| listener.waiting.map(whole),
    );
    family(
        "listener_refused",
        "",
        "1 where a listener calls and its version is not understood: bring both to the same one.",
        &|listener| Some(i64::from(listener.refused.is_some())),
    );
    family(
        "listener_clock_known",
        "",
        "1 where the clock of a listener was known to be right when it was last heard.",
        &|listener| listener.clock_known.map(i64::from),
    );
    family(
        "listener_clock_ahead_seconds",
        "seconds",
        "By how much the clock of a listener was ahead of this machine's when it was last heard.",
        &|listener| listener.clock_ahead_s,
    );
    family(
        "listener_disk_free_bytes",
        "bytes",
        "Octets of a listener's disk that were free when it was last heard.",
        &|listener| listener.disk_free.map(whole),
    );
    let mut runs = text.family(
        Kind::Gauge,
        "listener_version",
        "",
        "1 for the version that a listener ran when it was last heard.",
    );
    for listener in open() {
        if let Some(version) = &listener.version {
            runs.of_all(&[("listener", &listener.id), ("version", version)], 1);
        }
    }
}

/// Writes what was measured as the text of an OpenMetrics answer, up to its end mark.
pub fn open_metrics(measured: &Gauged) -> String {
    use Kind::Gauge;
    let mut text = Text(String::new());
    text.family(Gauge, "collector_up", "", "1 where the collector answers.")
        .is(u8::from(measured.collector.is_some()));
    if let Some(report) = &measured.collector {
        collector(&mut text, report);
    }
    let mut heard = text.family(
        Gauge,
        "monitor_last_heard_timestamp_seconds",
        "seconds",
        "End of the last connection that brought something, since 1970.",
    );
    for (monitor, at) in &measured.last_heard {
        heard.of("monitor", monitor, at.as_second());
    }
    let mut batteries = text.family(
        Gauge,
        "monitor_battery_ratio",
        "ratio",
        "The battery level that the monitor told last, of 1.",
    );
    for (monitor, level) in &measured.batteries {
        batteries.of("monitor", monitor, f64::from(*level) / 100.0);
    }
    text.family(Gauge, "journal_frames", "", "Frames in the journal.")
        .is(measured.frames);
    text.family(
        Gauge,
        "journal_size_bytes",
        "bytes",
        "Octets of the journal's files.",
    )
    .is(measured.journal_octets);
    text.family(Gauge, "readings", "", "Readings in the journal.")
        .is(measured.readings);
    let mut aside = text.family(
        Gauge,
        "readings_set_aside",
        "",
        "Readings set aside; one may have several reasons.",
    );
    for (reason, count) in &measured.set_aside {
        aside.of("reason", reason, count);
    }
    delivery(&mut text, &measured.delivery);
    if let Some(what) = &measured.held {
        held(&mut text, what);
    }
    listeners(&mut text, &measured.listeners);
    text.0.push_str("# EOF\n");
    text.0
}

fn collector(text: &mut Text, report: &CollectorReport) {
    use Kind::{Counter, Gauge};
    let (radio, journal, process) = (&report.radio, &report.journal, &report.process);
    text.family(
        Gauge,
        "radio_listening",
        "",
        "1 where nothing keeps the radio from listening.",
    )
    .is(u8::from(radio.problem.is_none()));
    text.family(
        Gauge,
        "journal_writable",
        "",
        "1 where the last frames could be written.",
    )
    .is(u8::from(journal.problem.is_none()));
    text.family(
        Counter,
        "frames_kept",
        "",
        "Frames written since the collector started.",
    )
    .is(journal.frames_kept);
    text.family(
        Counter,
        "scans_started",
        "",
        "Scans started since the collector started.",
    )
    .is(radio.scans_started);
    text.family(Gauge, "queue_frames", "", "Frames that wait for the disk.")
        .is(journal.queue);
    if let Some(files) = process.open_files {
        let help = "File descriptors that the collector has open.";
        text.family(Gauge, "open_files", "", help).is(files);
    }
    if let Some(octets) = process.resident_octets {
        let help = "Memory of the collector that is resident.";
        text.family(Gauge, "resident_memory_bytes", "bytes", help)
            .is(octets);
    }
    let mut rungs = text.family(
        Counter,
        "recover_rungs",
        "",
        "How often each rung of the ladder was tried on a silent radio since the collector started.",
    );
    for (rung, count) in radio.recover.named() {
        rungs.of("rung", rung, count);
    }
    monitors(text, &radio.monitors);
}

fn monitors(text: &mut Text, monitors: &BTreeMap<String, MonitorReport>) {
    use Kind::{Counter, Gauge};
    let mut connected = text.family(
        Gauge,
        "monitor_connected",
        "",
        "1 while the monitor is connected.",
    );
    for (id, monitor) in monitors {
        connected.of("monitor", id, u8::from(monitor.connected));
    }
    let mut connections = text.family(
        Counter,
        "monitor_connections",
        "",
        "Connections since the collector started.",
    );
    for (id, monitor) in monitors {
        connections.of("monitor", id, monitor.connections);
    }
    let mut values = text.family(
        Counter,
        "monitor_values",
        "",
        "Values that carried readings since the collector started.",
    );
    for (id, monitor) in monitors {
        values.of("monitor", id, monitor.values);
    }
}
