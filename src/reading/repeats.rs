//! A record that was sent again, told from a second measurement.
//!
//! Monitors send stored records anew on each connection, and an indication that was not confirmed on the next one.
//!
//! - **Stamped**: the same octets of the same characteristic from the same monitor are the same record, on whichever
//!   connection and however late. Two honest measurements with equal values have different stamps. This holds after
//!   the monitor's clock was set too, because the octets are compared, not the time made of them. It holds for whole
//!   minutes as well: no cuff measures, rests and measures again within one, and a monitor that sends a record anew
//!   on a link that is still up is common. And it holds for stamps that say nothing (an unset clock): their readings
//!   wait for a person anyway, who should not be asked again for each time that the monitor empties its memory.
//! - **Without stamp**: the same octets heard less than [`MEASURING_S_MIN`] after the record was first heard are the same
//!   record; farther apart they are two measurements that came out equal. It counts from the first, so that no number
//!   of repeats can swallow a measurement.
//! - **In two forms**: a monitor may send one measurement as 0x2A35 and as 0x2B34, or again inside a 0x2B36. Equal
//!   values of one moment in two different characteristics are one record; the first heard stands.

use super::ReadingId;
use super::clock::MEASURING_S_MIN;
use crate::gatt::{BloodPressureMeasurement, Characteristic};
use crate::radio::MonitorAddress;
use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use std::collections::{HashMap, HashSet};

/// What names a record, among all records of one monitor.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct RecordKey {
    /// The form in which it was sent; for a 0x2B36 the one inside it.
    pub characteristic: Characteristic,
    /// Digest of the characteristic and its octets, and of the receipt where there is no stamp.
    pub content: [u8; 16],
    /// Digest of the decoded values and the displayed stamp, equal in all forms of one measurement. `None` where
    /// there is no possible stamp.
    pub measured: Option<[u8; 16]>,
}

impl RecordKey {
    /// The key of a measurement that came as `value`.
    pub fn new(
        characteristic: Characteristic,
        value: &[u8],
        measurement: &BloodPressureMeasurement<'_>,
        received_at: Timestamp,
    ) -> Self {
        let mut content = octets(characteristic, value);
        if measurement.time_stamp.is_none() {
            content = content.chain_update(received_at.as_microsecond().to_be_bytes());
        }
        Self {
            characteristic,
            content: first16(content),
            measured: measured(measurement),
        }
    }

    /// The reading's name: from the monitor's identity address and the record. Neither is ever learnt later, so the
    /// name is the same for ever.
    pub fn reading_id(&self, monitor: &MonitorAddress) -> ReadingId {
        const DIGITS: &[u8; 16] = b"0123456789abcdef";
        let named = Sha256::new_with_prefix(monitor.as_str()).chain_update(self.content);
        let digits = first16(named)
            .into_iter()
            .take(8)
            .flat_map(|octet| [octet >> 4, octet & 0xf])
            .filter_map(|nibble| DIGITS.get(usize::from(nibble)))
            .map(|digit| char::from(*digit))
            .collect();
        ReadingId(digits)
    }
}

fn octets(characteristic: Characteristic, value: &[u8]) -> Sha256 {
    Sha256::new_with_prefix(characteristic.uuid().as_bytes()).chain_update(value)
}

fn first16(digest: Sha256) -> [u8; 16] {
    let whole: [u8; 32] = digest.finalize().into();
    let mut first = [0; 16];
    first.iter_mut().zip(whole).for_each(|(to, from)| *to = from);
    first
}

fn measured(measurement: &BloodPressureMeasurement<'_>) -> Option<[u8; 16]> {
    let shown = measurement.user_facing_time.or(measurement.time_stamp)?.civil()?;
    let mut digest = Sha256::new_with_prefix(measurement.unit.name());
    for value in [
        Some(measurement.systolic),
        Some(measurement.diastolic),
        Some(measurement.mean_arterial_pressure),
        measurement.pulse_rate,
    ] {
        digest.update(value.map_or([0xff; 2], |v| v.bits().to_be_bytes()));
    }
    digest.update([
        u8::from(measurement.user_id.is_some()),
        measurement.user_id.unwrap_or(0),
    ]);
    digest.update(shown.year().to_be_bytes());
    digest.update(
        [
            shown.month(),
            shown.day(),
            shown.hour(),
            shown.minute(),
            shown.second(),
        ]
        .map(|n| n.to_be_bytes()[0]),
    );
    Some(first16(digest))
}

/// A measurement without stamp, heard a moment ago.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct Unstamped {
    octets: [u8; 16],
    heard_us: i64,
}

/// Those of the last [`MEASURING_S_MIN`] seconds; more cannot matter.
#[derive(Clone, PartialEq, Eq, Debug, Default, Serialize, Deserialize)]
pub struct RecentUnstamped(Vec<Unstamped>);

impl RecentUnstamped {
    /// Whether these octets were heard a moment ago.
    pub fn again(&mut self, characteristic: Characteristic, value: &[u8], received_at: Timestamp) -> bool {
        let heard_us = received_at.as_microsecond();
        self.0
            .retain(|u| (heard_us - u.heard_us).abs() < MEASURING_S_MIN * 1_000_000);
        let octets = first16(octets(characteristic, value));
        let again = self.0.iter().any(|u| u.octets == octets);
        if !again {
            self.0.push(Unstamped { octets, heard_us });
        }
        again
    }
}

/// The records of one monitor that were heard already.
pub trait HeardBefore {
    /// Whether the record was heard before, in this form or in another.
    fn heard(&self, record: &RecordKey) -> bool;
}

/// Those of a monitor, in memory.
#[derive(Clone, Debug, Default)]
pub struct Records {
    contents: HashSet<[u8; 16]>,
    measured: HashMap<[u8; 16], Characteristic>,
}

impl Records {
    /// Remembers a record.
    pub fn remember(&mut self, record: &RecordKey) {
        self.contents.insert(record.content);
        if let Some(measured) = record.measured {
            self.measured.entry(measured).or_insert(record.characteristic);
        }
    }
}

impl HeardBefore for Records {
    fn heard(&self, record: &RecordKey) -> bool {
        self.contents.contains(&record.content)
            || record.measured.is_some_and(|measured| {
                self.measured
                    .get(&measured)
                    .is_some_and(|form| *form != record.characteristic)
            })
    }
}
