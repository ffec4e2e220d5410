//! A record that was sent again, told from a second measurement.
//!
//! Monitors send stored records anew on each connection, and an indication that was not confirmed on the next
//! one.
//!
//! - **Stamped**: the same octets of the same characteristic from the same monitor are the same record, on
//!   whichever connection and however late. Two honest measurements with equal values have different stamps.
//!   This holds after the monitor's clock was set too, because the octets are compared, not the time made of
//!   them. It holds for whole minutes as well: no cuff measures, rests and measures again within one, and a
//!   monitor that sends a record anew on a link that is still up is common. And it holds for stamps that say
//!   nothing (an unset clock): their readings wait for a person anyway, who should not be asked again for
//!   each time that the monitor empties its memory.
//! - **Without stamp**: the same octets heard less than [`MEASURING_S_MIN`] after the record was first heard
//!   are the same record; farther apart they are two measurements that came out equal. It counts from the
//!   first, so that no number of repeats can swallow a measurement.
//! - **Stored, without stamp**: the same octets of the same characteristic with the same sequence number are
//!   the same record, however late. When it was measured nobody knows.
//! - **In two forms**: a monitor may send one measurement as 0x2A35 and as 0x2B34, or again inside a 0x2B36.
//!   Equal values of one moment in two different characteristics are one record; the first heard stands.

use super::ReadingId;
use super::clock::MEASURING_S_MIN;
use crate::gatt::{BloodPressureMeasurement, Characteristic, Sfloat, TimeStamp, UNKNOWN_USER, Unit};
use crate::household::MonitorAddress;
use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use std::collections::{HashMap, HashSet};
use std::hash::{BuildHasherDefault, Hasher};

/// The key that names a record among all records of one monitor.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct RecordKey {
    /// The characteristic in which the record was sent; for a 0x2B36 the one inside it.
    pub characteristic: Characteristic,
    /// The digest of the characteristic and its octets, and of the receipt where there is no stamp.
    pub content: [u8; 16],
    /// The values and the displayed stamp, equal in all forms of one measurement and exact. `None` where
    /// there is no possible stamp.
    pub measured: Option<[u8; 16]>,
}

impl RecordKey {
    /// The key of a measurement that came as `value`. `stamped_at` is the receipt as the gateway stamped it.
    /// The mended receipt would be wrong here: it is learnt later, and what a person said of a reading would
    /// then be said of none.
    pub fn new(
        characteristic: Characteristic,
        value: &[u8],
        measurement: &BloodPressureMeasurement<'_>,
        stamped_at: Timestamp,
    ) -> Self {
        let mut content = octets(characteristic, value);
        if measurement.time_stamp.is_none() {
            content.update(stamped_at.as_microsecond().to_be_bytes());
        }
        Self {
            characteristic,
            content: first16(content),
            measured: measured(measurement),
        }
    }

    /// The key of a measurement that came as the stored record with this sequence number, which names it where
    /// there is no stamp: a monitor without clock hands out its records again at each visit.
    pub fn stored(
        characteristic: Characteristic,
        value: &[u8],
        measurement: &BloodPressureMeasurement<'_>,
        sequence: u16,
    ) -> Self {
        let mut content = octets(characteristic, value);
        if measurement.time_stamp.is_none() {
            content.update(sequence.to_be_bytes());
        }
        Self {
            characteristic,
            content: first16(content),
            measured: measured(measurement),
        }
    }

    /// Whether both keys name the same record, in one form or in two.
    pub fn same_as(&self, other: &Self) -> bool {
        self.content == other.content
            || self.measured.is_some()
                && self.measured == other.measured
                && self.characteristic != other.characteristic
    }

    /// The name of the reading, made from the monitor's identity address and the record. Neither is ever
    /// learnt later, so the name is the same for ever.
    pub fn reading_id(&self, monitor: &MonitorAddress) -> ReadingId {
        let named = Sha256::new_with_prefix(monitor.as_str()).chain_update(self.content);
        let whole: [u8; 32] = named.finalize().into();
        let first = whole.first_chunk().map_or(0, |first| u64::from_be_bytes(*first));
        // The digits are made one by one: formatting takes as long as the digest.
        let digit = |place: u32| {
            let nibble = u32::try_from(first >> (60 - 4 * place) & 0xf).unwrap_or(0);
            char::from_digit(nibble, 16).unwrap_or('0')
        };
        ReadingId((0..16).map(digit).collect())
    }
}

fn octets(characteristic: Characteristic, value: &[u8]) -> Sha256 {
    Sha256::new_with_prefix(characteristic.uuid().as_bytes()).chain_update(value)
}

fn first16(digest: Sha256) -> [u8; 16] {
    let whole: [u8; 32] = digest.finalize().into();
    whole.first_chunk().copied().unwrap_or_default()
}

fn measured(measurement: &BloodPressureMeasurement<'_>) -> Option<[u8; 16]> {
    let shown = measurement
        .user_facing_time
        .or(measurement.time_stamp)
        .and_then(TimeStamp::civil)?;
    // The seconds are counted since 1582, which no stamp precedes: 38 bits up to the year 9999, and 111 bits
    // with the other values.
    let since = shown.duration_since(jiff::civil::date(1582, 1, 1).at(0, 0, 0, 0));
    let mut packed = u128::try_from(since.as_secs()).ok()? << 1 | u128::from(measurement.unit == Unit::KPa);
    for value in [
        measurement.systolic,
        measurement.diastolic,
        measurement.mean_arterial_pressure,
        // An absent pulse rate says as much as one that is not a number, an absent user as much as an unknown
        // one.
        measurement.pulse_rate.unwrap_or(Sfloat::NAN),
    ] {
        packed = packed << 16 | u128::from(value.bits());
    }
    packed = packed << 8 | u128::from(measurement.user_id.unwrap_or(UNKNOWN_USER));
    Some(packed.to_be_bytes())
}

/// A measurement without stamp, heard a moment ago.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct Unstamped {
    octets: [u8; 16],
    heard_us: i64,
}

/// The measurements without stamp of the last [`MEASURING_S_MIN`] seconds; older ones cannot matter.
#[derive(Clone, PartialEq, Eq, Debug, Default, Serialize, Deserialize)]
pub struct RecentUnstamped(Vec<Unstamped>);

impl RecentUnstamped {
    /// Whether these octets were heard a moment ago. Octets that were not are remembered.
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

/// The records of one monitor that were heard already, in memory.
#[derive(Clone, Debug, Default)]
pub struct Records {
    contents: HashSet<[u8; 16], Folded>,
    measured: HashMap<[u8; 16], Characteristic, Folded>,
}

/// Contents are digests already, and who could choose measurements to collide has to be a bonded monitor:
/// folding the 128 bits is enough, and takes a tenth of the default hash's time in a rebuild.
type Folded = BuildHasherDefault<Fold>;

#[derive(Clone, Copy, Default, Debug)]
struct Fold(u64);

impl Hasher for Fold {
    fn write(&mut self, octets: &[u8]) {
        for half in octets.chunks(8) {
            let mut whole = [0; 8];
            whole.iter_mut().zip(half).for_each(|(to, from)| *to = *from);
            // The odd number is 2^64 divided by the golden ratio (Knuth, The Art of Computer Programming 3,
            // 6.4).
            let mixed =
                (self.0.rotate_left(29) ^ u64::from_le_bytes(whole)).wrapping_mul(0x9e37_79b9_7f4a_7c15);
            self.0 = mixed ^ mixed >> 32;
        }
    }

    fn write_usize(&mut self, _length: usize) {
        // The length is always the same, so it tells nothing.
    }

    fn finish(&self) -> u64 {
        self.0
    }
}

impl Records {
    /// An empty set of records, with room for this many.
    pub fn with_room_for(records: usize) -> Self {
        Self {
            contents: HashSet::with_capacity_and_hasher(records, Folded::default()),
            measured: HashMap::with_capacity_and_hasher(records, Folded::default()),
        }
    }

    /// Adds a record to those that were heard.
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
