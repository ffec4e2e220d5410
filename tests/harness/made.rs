//! A home whose days hold everything that a reading can be.

use crate::harness::command::{Home, objects};
use serde_json::Value;
use std::collections::BTreeMap;

pub(crate) const MONITOR: &str = "C0:FF:EE:00:00:01";
pub(crate) const KPA_MONITOR: &str = "C0:FF:EE:00:00:02";

/// No number, as an SFLOAT.
const NAN: u16 = 0x07ff;

/// mantissa × 10^exponent as the 16 bits of an SFLOAT (IEEE 11073-20601).
pub(crate) fn sfloat(mantissa: u16, exponent: i8) -> u16 {
    u16::from(exponent.to_le_bytes()[0] & 0xf) << 12 | mantissa
}

/// What a monitor sends: octets of 0x2A35 (GATT Specification Supplement, Blood Pressure Measurement) and how they
/// come.
pub(crate) struct Sent {
    pub(crate) monitor: &'static str,
    pub(crate) connection: u32,
    /// The clock's time and the stamp, an hour ahead of UTC.
    pub(crate) at: String,
    pub(crate) stamped: bool,
    pub(crate) kpa: bool,
    pub(crate) systolic: u16,
    pub(crate) diastolic: u16,
    pub(crate) mean: u16,
    pub(crate) pulse: Option<u16>,
    pub(crate) status: u16,
}

impl Sent {
    pub(crate) fn new(at: &str, connection: u32, systolic: u16, diastolic: u16) -> Self {
        Self {
            monitor: MONITOR,
            connection,
            at: at.to_owned(),
            stamped: true,
            kpa: false,
            systolic,
            diastolic,
            mean: NAN,
            pulse: Some(72),
            status: 0,
        }
    }

    /// As a line of frames, received a quarter of a second after its stamp.
    pub(crate) fn line(&self) -> String {
        let flags =
            u8::from(self.kpa) | u8::from(self.stamped) << 1 | u8::from(self.pulse.is_some()) << 2 | 1 << 4;
        let mut octets = vec![flags];
        for value in [self.systolic, self.diastolic, self.mean] {
            octets.extend(value.to_le_bytes());
        }
        if self.stamped {
            let part = |from: usize| self.at[from..from + 2].parse::<u8>().unwrap();
            octets.extend(self.at[..4].parse::<u16>().unwrap().to_le_bytes());
            octets.extend([5, 8, 11, 14, 17].map(part));
        }
        if let Some(pulse) = self.pulse {
            octets.extend(pulse.to_le_bytes());
        }
        octets.extend(self.status.to_le_bytes());
        let hex: String = octets.iter().map(|octet| format!("{octet:02x}")).collect();
        format!(
            "{{\"received_at\":\"{}.250+01:00\",\"monitor\":\"{}\",\"connection\":{},\"characteristic\":\"2a35\",\
             \"value\":\"{hex}\"}}",
            self.at, self.monitor, self.connection
        )
    }
}

/// What makes one of them special.
type Change = fn(&mut Sent);

/// Seven days with two readings each morning and evening, and among them what is special.
pub(crate) fn sent() -> Vec<Sent> {
    let mut all = Vec::new();
    for day in 1..=7_u16 {
        for (slot, hour) in [(0_u16, 7), (1, 20)] {
            for nth in 0..2_u16 {
                let at = format!("2026-03-{day:02}T{hour:02}:{:02}:11", 2 + nth * 2);
                let connection = u32::from(day * 2 + slot) * 4 + u32::from(nth);
                // One decimal with a trailing zero or not: digits that a binary float would not keep.
                let tenths = 1_280 + (day * 7 + slot * 5 + nth * 3) % 20;
                all.push(Sent::new(&at, connection, sfloat(tenths, -1), 80 + day));
            }
        }
    }
    let special: [(usize, Change); 10] = [
        (0, |sent| sent.systolic = sfloat(1_300, -1)),
        (2, |sent| sent.mean = sfloat(933, -1)),
        (4, |sent| sent.status = 1 << 2),
        (6, |sent| sent.pulse = None),
        (8, |sent| sent.status = 1),
        (10, |sent| sent.pulse = Some(NAN)),
        (12, |sent| sent.systolic = NAN),
        (14, |sent| {
            sent.monitor = KPA_MONITOR;
            sent.kpa = true;
            sent.systolic = sfloat(171, -1);
            sent.diastolic = sfloat(113, -1);
            sent.mean = sfloat(132, -1);
        }),
        (16, |sent| sent.stamped = false),
        (18, |sent| sent.status = 0b01 << 3 | 1 << 2),
    ];
    for (n, change) in special {
        change(&mut all[n]);
    }
    all
}

/// A household in which one person measured all of that.
pub(crate) struct Made {
    pub(crate) home: Home,
    /// Every reading as `readings --json` lists it, by its time.
    pub(crate) readings: Vec<Value>,
}

pub(crate) const DISCARDED: usize = 20;

impl Made {
    pub(crate) fn new() -> Self {
        Self::of(&sent())
    }

    pub(crate) fn of(sent: &[Sent]) -> Self {
        let home = Home::new();
        let lines: Vec<String> = sent.iter().map(Sent::line).collect();
        let file = home.file("frames.jsonl", lines.join("\n") + "\n");
        home.run(&["replay", &file, "--person", "asha", "--time-zone=+01:00"])
            .good();
        let readings = home.run(&["readings", "--json"]).objects();
        Self { home, readings }
    }

    pub(crate) fn with_one_discarded() -> Self {
        let mut made = Self::new();
        let id = made.readings[DISCARDED]["id"].as_str().unwrap().to_owned();
        made.home
            .run(&[
                "readings",
                "discard",
                &id,
                "--reason",
                "a guest measured, \"just once\"",
            ])
            .good();
        made.readings = made.home.run(&["readings", "--json"]).objects();
        made
    }

    /// Somebody states this at a moment that is over.
    pub(crate) fn state_at(&self, at: &str, statement: &Value) {
        let at: jiff::Timestamp = at.parse().unwrap();
        let db = rusqlite::Connection::open(self.home.path(".local/state/quietcuff/journal.sqlite")).unwrap();
        let sql = "INSERT INTO statement (stated_us, body) VALUES (?1, ?2)";
        db.execute(sql, (at.as_microsecond(), statement.to_string()))
            .unwrap();
    }

    pub(crate) fn bundle(&self, more: &[&str]) -> Value {
        serde_json::from_str(&self.home.run(&[&["export", "fhir"], more].concat()).good()).unwrap()
    }

    pub(crate) fn lines(&self, more: &[&str]) -> Vec<Value> {
        objects(
            &self
                .home
                .run(&[&["export", "fhir", "--ndjson"], more].concat())
                .good(),
        )
    }

    /// The resources of its Bundle by the value of their identifier.
    pub(crate) fn by_name(&self, more: &[&str]) -> BTreeMap<String, Value> {
        entries(&self.bundle(more))
            .iter()
            .map(|entry| {
                let resource = &entry["resource"];
                (
                    resource["identifier"][0]["value"].as_str().unwrap().to_owned(),
                    resource.clone(),
                )
            })
            .collect()
    }
}

pub(crate) fn entries(bundle: &Value) -> &[Value] {
    bundle["entry"].as_array().map_or(&[], Vec::as_slice)
}
