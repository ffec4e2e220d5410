//! How the collector and its journal are, as OpenMetrics text, for whoever looks after the machine.
//!
//! The text is a pure function of what was measured. Nothing personal goes out, neither a value nor a name; a monitor is its id.
//! Format: OpenMetrics 1.0 (<https://prometheus.io/docs/specs/om/open_metrics_spec/>): units in the names, `_total` behind
//! counters, and an end that says that it is the end.

use crate::journal::{Journal, JournalError};
use jiff::Timestamp;
use serde_json::Value;
use std::collections::BTreeMap;
use std::fmt::{Display, Write};

/// The type of the text, for HTTP.
pub const CONTENT_TYPE: &str = "application/openmetrics-text; version=1.0.0; charset=utf-8";

/// What is told of.
#[derive(Clone, Debug, Default)]
pub struct Measured {
    /// What the daemon answered to [`crate::socket::Question::Status`]; nothing where none runs.
    pub status: Option<Value>,
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
}

impl Measured {
    /// Of the daemon that answered, or of none, and of the journal as it is.
    pub fn of(journal: &Journal, status: Option<Value>) -> Result<Self, JournalError> {
        let octets = |suffix: &str| {
            let mut name = journal.path().as_os_str().to_owned();
            name.push(suffix);
            std::fs::metadata(name).map_or(0, |file| file.len())
        };
        Ok(Self {
            status,
            journal_octets: ["", "-wal", "-shm"].into_iter().map(octets).sum(),
            frames: u64::try_from(journal.frame_count()?).unwrap_or_default(),
            readings: u64::try_from(journal.readings_and_set_aside()?.0).unwrap_or_default(),
            set_aside: journal.set_aside_by_reason()?,
            last_heard: journal.last_heard()?,
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
    /// A family: its name without the prefix, its unit where it has one (the name ends with it), and what it is.
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
        let which = which
            .replace('\\', "\\\\")
            .replace('"', "\\\"")
            .replace('\n', "\\n");
        let _ = writeln!(
            self.text,
            "quietcuff_{}{}{{{label}=\"{which}\"}} {value}",
            self.name, self.suffix
        );
    }
}

/// The text.
pub fn open_metrics(measured: &Measured) -> String {
    use Kind::Gauge;
    let mut text = Text(String::new());
    text.family(Gauge, "collector_up", "", "1 where the collector answers.")
        .is(u8::from(measured.status.is_some()));
    if let Some(status) = &measured.status {
        collector(&mut text, status);
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
    text.0.push_str("# EOF\n");
    text.0
}

fn collector(text: &mut Text, status: &Value) {
    use Kind::{Counter, Gauge};
    let number = |pointer: &str| status.pointer(pointer).and_then(Value::as_u64);
    let listening = status.pointer("/radio/problem").is_none_or(Value::is_null);
    text.family(
        Gauge,
        "radio_listening",
        "",
        "1 where nothing keeps the radio from listening.",
    )
    .is(u8::from(listening));
    text.family(
        Gauge,
        "journal_writable",
        "",
        "1 where the last frames could be written.",
    )
    .is(u8::from(
        status.pointer("/journal/problem").is_none_or(Value::is_null),
    ));
    for (name, unit, pointer, kind, help) in [
        (
            "frames_kept",
            "",
            "/journal/frames_kept",
            Counter,
            "Frames written since the collector started.",
        ),
        (
            "scans_started",
            "",
            "/radio/scans_started",
            Counter,
            "Scans started since the collector started.",
        ),
        (
            "queue_frames",
            "",
            "/journal/queue",
            Gauge,
            "Frames that wait for the disk.",
        ),
        (
            "open_files",
            "",
            "/process/open_files",
            Gauge,
            "File descriptors that the collector has open.",
        ),
        (
            "resident_memory_bytes",
            "bytes",
            "/process/resident_octets",
            Gauge,
            "Memory of the collector that is resident.",
        ),
    ] {
        if let Some(value) = number(pointer) {
            text.family(kind, name, unit, help).is(value);
        }
    }
    let objects = |pointer: &str| {
        status
            .pointer(pointer)
            .and_then(Value::as_object)
            .into_iter()
            .flatten()
    };
    let mut rungs = text.family(
        Counter,
        "recover_rungs",
        "",
        "How often each rung of the ladder was tried on a silent radio since the collector started.",
    );
    for (rung, count) in objects("/radio/recover") {
        rungs.of("rung", &rung.replace('_', "-"), count);
    }
    let mut connected = text.family(
        Gauge,
        "monitor_connected",
        "",
        "1 while the monitor is connected.",
    );
    for (id, monitor) in objects("/radio/monitors") {
        let is = monitor
            .get("connected")
            .and_then(Value::as_bool)
            .unwrap_or_default();
        connected.of("monitor", id, u8::from(is));
    }
    for (name, key, help) in [
        (
            "monitor_connections",
            "connections",
            "Connections since the collector started.",
        ),
        (
            "monitor_values",
            "values",
            "Values that carried readings since the collector started.",
        ),
    ] {
        let mut family = text.family(Counter, name, "", help);
        for (id, monitor) in objects("/radio/monitors") {
            family.of(
                "monitor",
                id,
                monitor.get(key).and_then(Value::as_u64).unwrap_or_default(),
            );
        }
    }
}
