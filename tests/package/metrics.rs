//! The metrics, read by Prometheus' own Python client (`prometheus_client.openmetrics.parser`), which is strict about
//! the format and knows nothing of how it was written.

use crate::harness::left_out::installed;
use crate::package::{good, quietcuff};
use quietcuff::home::metrics::{Gauged, HeldBack, open_metrics};
use quietcuff::socket::report::CollectorReport;
use std::collections::BTreeMap;
use std::io::Write;
use std::path::PathBuf;
use std::process::{Command, Stdio};

/// Prints one line a sample: name, labels, value, the family's type and unit.
const READ: &str = "
import sys
from prometheus_client.openmetrics.parser import text_string_to_metric_families as read
for family in read(sys.stdin.read()):
    for s in family.samples:
        print(s.name, ','.join(f'{k}={v}' for k, v in sorted(s.labels.items())), float(s.value), family.type, family.unit, sep='|')
";

const CLINIC: &str = "clinic=https://clinic.example/r4";

fn python() -> Option<PathBuf> {
    let what = "the metrics beside another parser";
    installed("venv/pinned", what)?;
    installed("venv/bin/python", what)
}

/// By name and labels: the value, and the family's type and unit.
type Samples = BTreeMap<(String, String), (f64, String, String)>;

/// What the other parser understood.
fn read(text: &str) -> Option<Samples> {
    let mut child = Command::new(python()?)
        .args(["-c", READ])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    child.stdin.take().unwrap().write_all(text.as_bytes()).unwrap();
    let out = good(child.wait_with_output().unwrap());
    let samples = out.lines().map(|line| {
        let parts: Vec<&str> = line.split('|').collect();
        let key = (parts[0].to_owned(), parts[1].to_owned());
        (
            key,
            (
                parts[2].parse().unwrap(),
                parts[3].to_owned(),
                parts[4].to_owned(),
            ),
        )
    });
    Some(samples.collect())
}

#[test]
fn another_parser_reads_every_number() {
    let collector: CollectorReport = serde_json::from_value(serde_json::json!({
        "running": true,
        "radio": {
            "problem": null, "scans_started": 3,
            "recover": { "listen_to_all": 2, "restart_scan": 1, "new_session": 0, "power_cycle": 0 },
            "monitors": { "m\"1\\": { "connected": true, "connections": 7, "values": 21, "address": "C0:FF:EE:00:00:01" } },
        },
        "journal": { "frames_kept": 44, "problem": "the disk is full", "queue": 5 },
        "process": { "open_files": 19, "resident_octets": 7_000_000 },
    }))
    .unwrap();
    let measured = Gauged {
        collector: Some(collector),
        journal_octets: 4096,
        frames: 177,
        readings: 60,
        set_aside: BTreeMap::from([("too-soon", 2), ("body-movement", 1)]),
        last_heard: BTreeMap::from([("m1".to_owned(), "2026-03-01T00:00:00Z".parse().unwrap())]),
        delivery: vec![quietcuff::journal::outbox::Progress {
            clinic: "https://clinic.example/r4".into(),
            failures: 3,
            last: Some("2026-03-01T00:00:00Z".parse().unwrap()),
            refused: 2,
        }],
        held: Some(HeldBack {
            clinic: "https://clinic.example/r4".into(),
            released: 2,
            readings: 14,
        }),
        // Those of a real record are read in `afar::handed`.
        listeners: Vec::new(),
        batteries: BTreeMap::from([("m1".to_owned(), 55)]),
    };
    let text = open_metrics(&measured);
    assert!(
        !text.contains("C0:FF") && !text.contains("disk is full"),
        "{text}"
    );
    let Some(samples) = read(&text) else { return };
    for (name, labels, value, kind, unit) in [
        ("collector_up", "", 1.0, "gauge", ""),
        ("radio_listening", "", 1.0, "gauge", ""),
        ("journal_writable", "", 0.0, "gauge", ""),
        ("frames_kept_total", "", 44.0, "counter", ""),
        ("queue_frames", "", 5.0, "gauge", ""),
        ("open_files", "", 19.0, "gauge", ""),
        ("resident_memory_bytes", "", 7e6, "gauge", "bytes"),
        ("journal_size_bytes", "", 4096.0, "gauge", "bytes"),
        ("journal_frames", "", 177.0, "gauge", ""),
        ("readings", "", 60.0, "gauge", ""),
        ("readings_set_aside", "reason=too-soon", 2.0, "gauge", ""),
        ("recover_rungs_total", "rung=listen-to-all", 2.0, "counter", ""),
        ("monitor_connections_total", "monitor=m\"1\\", 7.0, "counter", ""),
        ("monitor_connected", "monitor=m\"1\\", 1.0, "gauge", ""),
        (
            "monitor_last_heard_timestamp_seconds",
            "monitor=m1",
            1_772_323_200.0,
            "gauge",
            "seconds",
        ),
        ("monitor_battery_ratio", "monitor=m1", 0.55, "gauge", "ratio"),
        ("delivery_failures", CLINIC, 3.0, "gauge", ""),
        ("delivery_refused", CLINIC, 2.0, "gauge", ""),
        ("delivery_released_people", CLINIC, 2.0, "gauge", ""),
        ("delivery_unreleased_readings", CLINIC, 14.0, "gauge", ""),
        (
            "delivery_last_answer_timestamp_seconds",
            CLINIC,
            1_772_323_200.0,
            "gauge",
            "seconds",
        ),
    ] {
        let found = samples
            .get(&(format!("quietcuff_{name}"), labels.to_owned()))
            .unwrap_or_else(|| panic!("no {name} {labels} in {samples:?}"));
        assert!((found.0 - value).abs() < 0.001, "{name}: {found:?}");
        assert_eq!((found.1.as_str(), found.2.as_str()), (kind, unit), "{name}");
    }
}

/// Without a daemon the journal is told of, and that nobody answers.
#[test]
fn the_command_tells_of_a_journal_without_a_daemon() {
    let home = tempfile::tempdir().unwrap();
    good(quietcuff(
        home.path(),
        &[
            "demo",
            "--until",
            "2026-03-29",
            "--fast",
            "--state",
            home.path().to_str().unwrap(),
        ],
    ));
    let state = home.path().to_str().unwrap();
    let text = good(quietcuff(home.path(), &["status", "--metrics", "--state", state]));
    assert!(text.ends_with("# EOF\n"), "{text}");
    for line in ["quietcuff_collector_up 0", "quietcuff_journal_frames 177"] {
        assert!(text.contains(line), "{text}");
    }
    let Some(samples) = read(&text) else { return };
    let aside: f64 = samples
        .iter()
        .filter(|((name, _), _)| name == "quietcuff_readings_set_aside")
        .map(|(_, (value, ..))| value)
        .sum();
    assert!(aside >= 1.0, "the invented week has readings set aside: {text}");
}
