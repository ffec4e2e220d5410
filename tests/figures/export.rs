//! How fast readings become NDJSON, held against `serde_json` writing the same number of octets from values that are
//! ready, in the same run, so that the machine does not matter. The readings are invented.

use crate::table::{Aim, Table};
use jiff::{Timestamp, ToSpan};
use quietcuff::export::fhir::document::Document;
use quietcuff::export::fhir::{Exporter, Form, Subject, Switches};
use quietcuff::gatt::{Sfloat, Unit};
use quietcuff::monitoring::stated::Stated;
use quietcuff::reading::{MeasuredTime, Precision, Reading, ReadingId, TimeSource};
use quietcuff::technique::{Disposition, Judgement, Reason, Reasons};
use serde_json::Value;
use std::io::{self, Write};
use std::time::{Duration, Instant};

const READINGS: usize = 100_000;
/// As many are ready as values at a time: all of them would fill the memory of a small machine.
const READY: usize = 2_000;
const RUNS: usize = 7;
/// What has to be reached, as a share of the speed of `serde_json`.
const SHARE_MIN: f64 = 0.5;
/// What ten times as many readings may take more: the noise of an allocator.
const GROWTH_KIB_MAX: u64 = 2 * 1024;

/// Counts octets, and touches each of them once as a file's buffer does.
struct Counted {
    page: Vec<u8>,
    octets: usize,
}

impl Write for Counted {
    fn write(&mut self, octets: &[u8]) -> io::Result<usize> {
        if self.page.len() + octets.len() > self.page.capacity() {
            self.page.clear();
        }
        self.page.extend_from_slice(octets);
        self.octets += octets.len();
        Ok(octets.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

fn counted() -> Counted {
    Counted {
        page: Vec::with_capacity(64 * 1024),
        octets: 0,
    }
}

fn readings() -> Vec<(Reading, Judgement)> {
    let start: Timestamp = "2016-03-01T06:02:11Z".parse().unwrap();
    let sfloat = |mantissa: usize| Sfloat::new(i16::try_from(mantissa).unwrap(), -1).unwrap();
    (0..READINGS)
        .map(|n| {
            let at = start + (i64::try_from(n).unwrap() * 40).minutes();
            let flagged = n % 20 == 0;
            let reading = Reading {
                id: ReadingId(format!("{n:016x}")),
                monitor: "m1".parse().unwrap(),
                received_at: at + 20.seconds(),
                time: MeasuredTime {
                    at: Some(at),
                    source: TimeSource::MonitorClock,
                    precision: Precision::Second,
                    stamp: None,
                    correction_s: 0,
                },
                person: Some("p1".parse().unwrap()),
                unit: Unit::MmHg,
                systolic: sfloat(1_200 + n % 300),
                diastolic: sfloat(700 + n % 200),
                mean_arterial_pressure: sfloat(950 + n % 200),
                pulse_rate: Some(sfloat(600 + n % 200)),
                user_id: None,
                status: None,
                feature: None,
                discarded: None,
            };
            let judgement = Judgement {
                disposition: if flagged {
                    Disposition::Marked
                } else {
                    Disposition::Counted
                },
                reasons: if flagged {
                    [Reason::IrregularPulse].into_iter().collect()
                } else {
                    Reasons::NONE
                },
                mean_arterial_pressure: Some(reading.mean_arterial_pressure),
            };
            (reading, judgement)
        })
        .collect()
}

fn export<W: Write>(readings: &[(Reading, Judgement)], stated: &Stated, out: W) -> u64 {
    let person = "p1".parse().unwrap();
    let subject = Subject::unknown(&stated.household, &person, &"m1".parse().unwrap());
    let subjects = [(person, subject)].into();
    let mut exporter = Exporter::new("home", stated, Switches::default(), Form::Lines, subjects);
    let mut document = Document::begin(out, Form::Lines).unwrap();
    for (reading, judgement) in readings {
        exporter
            .reading(reading, judgement, &mut |item| document.write(item))
            .unwrap();
    }
    document.end().unwrap()
}

/// The most memory that this process has had, in KiB.
fn peak() -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap();
    let line = status.lines().find(|line| line.starts_with("VmHWM:")).unwrap();
    line.split_whitespace().nth(1).unwrap().parse().unwrap()
}

pub(crate) fn measure(table: &mut Table) {
    let stated = Stated::of(Vec::new()).unwrap().in_zone("+01:00").unwrap();
    let all = readings();

    export(&all[..READINGS / 10], &stated, counted());
    // From here on: the parts before this one had a peak of their own (proc(5), clear_refs).
    std::fs::write("/proc/self/clear_refs", "5").unwrap();
    let before = peak();
    let resources = export(&all, &stated, counted());
    let growth = peak() - before;

    let mut text = Vec::new();
    export(&all[..READY], &stated, &mut text);
    let ready: Vec<Value> = text
        .split(|octet| *octet == b'\n')
        .filter(|line| !line.is_empty())
        .map(|line| serde_json::from_slice(line).unwrap())
        .collect();
    let (mut ours, mut theirs) = (Vec::new(), Vec::new());
    for _ in 0..RUNS {
        let (mut sink, start) = (counted(), Instant::now());
        export(&all, &stated, &mut sink);
        ours.push(speed(sink.octets, start.elapsed()));

        let (mut sink, start) = (counted(), Instant::now());
        for _ in 0..READINGS / READY {
            for value in &ready {
                serde_json::to_writer(&mut sink, value).unwrap();
                sink.write_all(b"\n").unwrap();
            }
        }
        theirs.push(speed(sink.octets, start.elapsed()));
        assert_eq!(sink.octets, text.len() * (READINGS / READY), "the same octets");
    }
    ours.sort_by(f64::total_cmp);
    theirs.sort_by(f64::total_cmp);
    let (ours, theirs) = (ours[RUNS / 2], theirs[RUNS / 2]);
    let what = format!("{READINGS} readings ({resources} resources) to NDJSON");
    table
        .row(
            &what,
            ours,
            "MB/s",
            (theirs, "serde_json, ready values"),
            Aim::AtLeast(SHARE_MIN),
        )
        .binds();
    table
        .limit(
            "  more memory for ten times the readings",
            growth as f64,
            "KiB",
            GROWTH_KIB_MAX as f64,
            Aim::AtMost(1.0),
        )
        .binds();
}

/// In megabytes a second.
fn speed(octets: usize, took: Duration) -> f64 {
    octets as f64 / took.as_secs_f64() / 1e6
}
