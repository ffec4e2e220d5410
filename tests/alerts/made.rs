//! A household of two, made by hand, and servers to talk to.

use crate::harness::left_out::{installed, program, there};
use jiff::civil::{Date, date};
use jiff::tz::TimeZone;
use jiff::{SignedDuration, Timestamp};
use quietcuff::gatt::{Sfloat, Unit};
use quietcuff::home::alerts::look::Look;
use quietcuff::home::alerts::message::Message;
use quietcuff::household::{Person, PersonId, Statement};
use quietcuff::monitoring::plan::Plan;
use quietcuff::monitoring::reminders::Measured;
use quietcuff::monitoring::stated::{Row, Stated};
use quietcuff::reading::{MeasuredTime, Precision, Reading, ReadingId, TimeSource};
use quietcuff::sitting::Slot;
use quietcuff::technique::session::{Session, SessionId};
use std::net::TcpListener;
use std::path::{Path, PathBuf};
use std::process::Child;
use std::sync::Arc;

/// Summer time began in Berlin on 29 March 2026, inside the week.
pub(crate) const FIRST: Date = date(2026, 3, 27);

pub(crate) fn berlin() -> TimeZone {
    TimeZone::get("Europe/Berlin").unwrap()
}

/// A moment by Berlin's clock; day 32 is the first of April.
pub(crate) fn at(day: i8, hour: i8, minute: i8) -> Timestamp {
    let day = date(2026, 3, 1)
        .checked_add(jiff::Span::new().days(i64::from(day) - 1))
        .unwrap();
    berlin().to_timestamp(day.at(hour, minute, 0, 0)).unwrap()
}

pub(crate) fn asha() -> PersonId {
    "asha".parse().unwrap()
}

pub(crate) fn stated(label: &str) -> Stated {
    let statements = [
        Statement::Zone {
            zone: "Europe/Berlin".into(),
            from: None,
        },
        Statement::Person {
            person: asha(),
            details: Person {
                label: label.to_owned(),
                ..Person::default()
            },
        },
    ];
    let rows = (1..).zip(statements).map(|(row, statement)| Row {
        row,
        at: at(26, 12, 0),
        statement,
    });
    Stated::of(rows.collect()).unwrap()
}

/// What is known of a home in which Asha measures for a week and these sessions were received.
pub(crate) fn look(label: &str, sessions: Vec<Session>) -> Look {
    let stated = stated(label);
    let plan = Plan::new(&stated.protocols, "seven-day", FIRST, None).unwrap();
    Look {
        people: vec![Measured {
            person: asha(),
            plans: vec![(plan, at(26, 12, 0))],
            sessions,
            periods: vec![],
        }],
        readings: vec![],
        dispositions: vec![],
        monitors: vec![],
        deaf: None,
        stuck: None,
        backed_up: None,
        listeners: vec![],
        shut: false,
        stated: Arc::new(stated),
    }
}

/// A session that began at this moment, with so many of two readings.
pub(crate) fn session(start: Timestamp, slot: Slot, counted: usize) -> Session {
    Session {
        id: SessionId(format!("asha-{}", start.as_second())),
        person: asha(),
        start,
        end: start.checked_add(SignedDuration::from_secs(90)).unwrap(),
        date: berlin().to_datetime(start).date(),
        slot,
        readings: vec![],
        counted,
        wanted: 2,
        apart: false,
        irregular_pulse: false,
    }
}

/// A reading of Asha's; the numbers are the 16 bits that a monitor sends, which up to 2047 are themselves.
pub(crate) fn reading(taken: Timestamp, systolic: u16, diastolic: u16, pulse: u16, n: u8) -> Reading {
    Reading {
        id: ReadingId(format!("{n:016x}")),
        monitor: "m1".parse().unwrap(),
        received_at: taken,
        time: MeasuredTime {
            at: Some(taken),
            source: TimeSource::MonitorClock,
            precision: Precision::Second,
            stamp: None,
            correction_s: 0,
        },
        person: Some(asha()),
        unit: Unit::MmHg,
        systolic: Sfloat::from_bits(systolic),
        diastolic: Sfloat::from_bits(diastolic),
        mean_arterial_pressure: Sfloat::NAN,
        pulse_rate: Some(Sfloat::from_bits(pulse)),
        user_id: None,
        status: None,
        feature: None,
        discarded: None,
    }
}

/// A message with everything in it that a household could write to break something.
pub(crate) fn hostile() -> Message {
    Message {
        key: "missed/asha/2026-03-27/morning".into(),
        kind: "missed",
        urgent: false,
        person: Some(asha()),
        subject: "Ashä \"#+/\" <b>&\r\nBcc: thief@evil.example: missed".into(),
        text: "First line\n.\nQUIT\r\n<script>alert(1)</script> $(touch /tmp/pwned) `id` सुबह".into(),
        source: None,
        since: at(27, 12, 0),
        until: None,
        measured: None,
    }
}

pub(crate) fn free_port() -> u16 {
    TcpListener::bind("127.0.0.1:0")
        .unwrap()
        .local_addr()
        .unwrap()
        .port()
}

/// The folder of `tests/alerts/prepare`; nothing, where comparisons are left out.
pub(crate) fn oracles() -> Option<PathBuf> {
    let what = "what is told, to a broker, an SMTP server and a calendar reader by others";
    let broker = "/usr/sbin/mosquitto";
    if !there(Path::new(broker).exists(), what, broker) || !program("mosquitto_sub", what) {
        return None;
    }
    installed("alerts/pins", what)?;
    installed("alerts", what)
}

/// A process that ends with the test.
pub(crate) struct Running(pub(crate) Child);

impl Drop for Running {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

/// Waits until something is so, for a machine that is slow.
pub(crate) fn until(what: &str, mut so: impl FnMut() -> bool) {
    let begun = std::time::Instant::now();
    while !so() {
        assert!(begun.elapsed().as_secs() < 60, "{what} does not happen");
        std::thread::sleep(std::time::Duration::from_millis(50));
    }
}
