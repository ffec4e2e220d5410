//! One connection of one monitor: the connection's frames and the past go in, its readings and the past of
//! the next connection come out.

use super::clock::{Axis, KnownClocks, Receipts, Stamp, TimeTold, ToldOfTime};
use super::echoes::echoes;
use super::received::Received;
use super::repeats::{HeardBefore, RecentUnstamped, RecordKey, Records};
use super::{GatewayClock, MeasuredTime, Reading, clock, owner};
use crate::frame::Frame;
use crate::gatt::{
    self, BloodPressureMeasurement, Characteristic, DecodeError, Feature, Segments, Value, WholeRecord,
};
use crate::household::{Household, MonitorId, Zones};
use jiff::Timestamp;
use jiff::civil::DateTime;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// The number of frames on one connection above which their records are put in a table.
const OWN_LOOKED_THROUGH: usize = 32;

/// All that settling a connection needs of those before it.
#[derive(Clone, PartialEq, Eq, Debug, Default, Serialize, Deserialize)]
pub struct Past {
    /// What is known of the monitor's clocks.
    pub clocks: KnownClocks,
    /// The monitor's Blood Pressure Feature bits; `None` until they were read.
    pub feature: Option<u16>,
    /// Measurements without stamp that may be sent again within moments, over a lost link.
    pub unstamped: RecentUnstamped,
}

/// What became of the frames of one connection.
#[derive(Clone, PartialEq, Debug)]
pub struct Connection {
    /// The readings of the connection, in order of receipt.
    pub readings: Vec<Settled>,
    /// The places of the connection's frames that are records heard before.
    pub repeats: Vec<usize>,
    /// The connection's frames that are measurements which cannot be read.
    pub refused: Vec<UnreadableMeasurement>,
    /// The past of the next connection.
    pub past: Past,
}

/// A reading and what it was made of.
#[derive(Clone, PartialEq, Debug)]
pub struct Settled {
    /// The reading that the frame became.
    pub reading: Reading,
    /// The place of the frame among those of the connection.
    pub frame: usize,
    /// The key that names the record.
    pub record: RecordKey,
}

/// A measurement that cannot be read.
#[derive(Clone, PartialEq, Debug)]
pub struct UnreadableMeasurement {
    /// The place of the frame among those of the connection.
    pub frame: usize,
    /// The reason why the measurement cannot be read.
    pub error: DecodeError,
}

/// A measurement that was not heard before.
struct Fresh<'a> {
    frame: usize,
    record: RecordKey,
    measurement: BloodPressureMeasurement<'a>,
}

/// A measurement with its own characteristic and octets: those inside, where it is a stored record.
struct Sent<'a> {
    characteristic: Characteristic,
    value: &'a [u8],
    measurement: BloodPressureMeasurement<'a>,
    /// The sequence number of the stored record; `None` for what was sent as it was measured.
    sequence: Option<u16>,
}

impl Sent<'_> {
    fn key(&self, stamped_at: Timestamp) -> RecordKey {
        let (characteristic, value, measurement) = (self.characteristic, self.value, &self.measurement);
        match self.sequence {
            Some(sequence) => RecordKey::stored(characteristic, value, measurement, sequence),
            None => RecordKey::new(characteristic, value, measurement, stamped_at),
        }
    }
}

impl Connection {
    /// Settles the frames of one connection of `monitor`, in [`Received::order`]. `before` knows the records
    /// of the connections before this one, and not its own.
    pub fn settle(
        frames: &[Received<'_>],
        monitor: &MonitorId,
        past: &Past,
        before: &impl HeardBefore,
        household: &Household,
        zones: &Zones,
    ) -> Self {
        let mut past = past.clone();
        let mut repeats = Vec::new();
        let mut refused = Vec::new();
        let mut fresh: Vec<Fresh<'_>> = Vec::new();
        let mut heard: Vec<ToldOfTime> = Vec::new();
        // A few records are sooner looked through than put in a table.
        let mut own = (frames.len() > OWN_LOOKED_THROUGH).then(Records::default);

        past.feature = last_feature(frames).or(past.feature);
        let read = clocks_read(frames);
        let echoes = echoes(frames);
        let stored = stored(frames, past.feature);
        for (index, received) in frames.iter().enumerate() {
            if echoes.contains(&index) {
                continue;
            }
            let sent = match sent(received.frame, stored.get(&index)) {
                None => {
                    let clocks = read.into_iter().flatten();
                    heard.extend(clocks.filter_map(|read| read.look(received)));
                    continue;
                }
                Some(Err(error)) => {
                    refused.push(UnreadableMeasurement { frame: index, error });
                    continue;
                }
                Some(Ok(sent)) => sent,
            };
            let (record, measurement) = (sent.key(received.frame.received_at), sent.measurement);
            let again = if measurement.time_stamp.is_none() && sent.sequence.is_none() {
                past.unstamped.again(sent.characteristic, sent.value, received.at)
            } else {
                among(&fresh, own.as_ref(), &record) || before.heard(&record)
            };
            if again {
                repeats.push(index);
                continue;
            }
            if let Some(own) = &mut own {
                own.remember(&record);
            }
            heard.push(ToldOfTime {
                received_at: received.at,
                told: told(&measurement, sent.sequence.is_some()),
            });
            fresh.push(Fresh {
                frame: index,
                record,
                measurement,
            });
        }

        let receipts = if frames.iter().all(|received| received.known) {
            Receipts::Known
        } else {
            Receipts::Unsure
        };
        let (times, clocks) = clock::settle(&heard, receipts, &past.clocks, zones);
        past.clocks = clocks;
        let mut readings = Vec::with_capacity(fresh.len());
        readings.extend(fresh.into_iter().zip(times).filter_map(|(fresh, time)| {
            let received = frames.get(fresh.frame)?;
            Some(fresh.settled(received, time, monitor, past.feature, household))
        }));
        Self {
            readings,
            repeats,
            refused,
            past,
        }
    }
}

/// What the monitor said last that it looks for, if it said so on this connection.
fn last_feature(frames: &[Received<'_>]) -> Option<u16> {
    let said = frames
        .iter()
        .rev()
        .filter(|received| received.frame.characteristic == Characteristic::BLOOD_PRESSURE_FEATURE);
    said.filter_map(|received| Feature::decode(&received.frame.value).ok())
        .map(|Feature(feature)| feature)
        .next()
}

/// Whether the record was heard before on the same connection: in `table`, where there are many.
fn among(fresh: &[Fresh<'_>], table: Option<&Records>, record: &RecordKey) -> bool {
    match table {
        Some(table) => table.heard(record),
        None => fresh.iter().any(|other| record.same_as(&other.record)),
    }
}

impl Fresh<'_> {
    fn settled(
        self,
        received: &Received<'_>,
        time: MeasuredTime,
        monitor: &MonitorId,
        feature: Option<u16>,
        household: &Household,
    ) -> Settled {
        let id = self.record.reading_id(&received.frame.monitor);
        let time = match household.timed.get(&id.0) {
            Some(at) => time.stated(*at),
            None => time,
        };
        let claim = owner::Claim {
            monitor,
            given_to: received.frame.given_to.as_ref(),
            user_id: self.measurement.user_id,
            at: time.at,
            source: time.source,
            received_at: received.at,
            receipt_known: received.known,
        };
        let person = owner::of(household, &id, claim).cloned();
        let discarded = household.discarded.get(&id.0).cloned();
        let measurement = self.measurement;
        Settled {
            reading: Reading {
                id,
                monitor: monitor.clone(),
                received_at: received.at,
                time,
                person,
                unit: measurement.unit,
                systolic: measurement.systolic,
                diastolic: measurement.diastolic,
                mean_arterial_pressure: measurement.mean_arterial_pressure,
                pulse_rate: measurement.pulse_rate,
                user_id: measurement.user_id,
                status: measurement.status,
                feature,
                discarded,
            },
            frame: self.frame,
            record: self.record,
        }
    }
}

/// The stored records among the frames, each at the place of the frame that ended it: whole, or why it cannot be.
fn stored(
    frames: &[Received<'_>],
    feature: Option<u16>,
) -> BTreeMap<usize, Result<WholeRecord, DecodeError>> {
    let mut segments = Segments::new(feature.is_some_and(|bits| Feature(bits).has(Feature::E2E_CRC)));
    let mut records = BTreeMap::new();
    let mut last = None;
    for (index, received) in frames.iter().enumerate() {
        if received.frame.characteristic != Characteristic::BLOOD_PRESSURE_RECORD {
            continue;
        }
        let brought = segments.take(&received.frame.value);
        if let (Some(error), Some(before)) = (brought.unfinished, last.replace(index)) {
            records.insert(before, Err(error));
        }
        if let Some(record) = brought.record {
            records.insert(index, record);
        }
    }
    if let (Some(error), Some(before)) = (segments.unfinished(), last) {
        records.insert(before, Err(error));
    }
    records
}

/// The measurement that a frame carries, or that it ends, where it is a segment of a stored record. `None` for
/// everything else.
fn sent<'a>(
    frame: &'a Frame,
    stored: Option<&'a Result<WholeRecord, DecodeError>>,
) -> Option<Result<Sent<'a>, DecodeError>> {
    let (characteristic, value, sequence) = match stored {
        None => (frame.characteristic, frame.value.as_slice(), None),
        Some(Err(error)) => return Some(Err(*error)),
        Some(Ok(record)) => (
            record.characteristic,
            record.value.as_slice(),
            Some(record.sequence),
        ),
    };
    let decoded = match characteristic {
        Characteristic::BLOOD_PRESSURE_MEASUREMENT => BloodPressureMeasurement::decode(value),
        Characteristic::ENHANCED_BLOOD_PRESSURE_MEASUREMENT => {
            BloodPressureMeasurement::decode_enhanced(value)
        }
        _ => return None,
    };
    Some(decoded.map(|measurement| Sent {
        characteristic,
        value,
        measurement,
        sequence,
    }))
}

fn told(measurement: &BloodPressureMeasurement<'_>, stored: bool) -> TimeTold {
    let Some(stamp) = measurement.time_stamp else {
        // The receipt of what was stored says nothing of when it was measured.
        return if stored {
            TimeTold::ImpossibleStamp
        } else {
            TimeTold::NoStamp
        };
    };
    match (stamp, stamp.civil()) {
        (_, None) => TimeTold::ImpossibleStamp,
        (gatt::TimeStamp::DateTime(_), Some(civil)) => TimeTold::Stamp(Stamp::Local(civil)),
        (gatt::TimeStamp::Seconds { .. }, Some(civil)) => {
            let shown = measurement.user_facing_time.and_then(gatt::TimeStamp::civil);
            TimeTold::Stamp(Stamp::Base(civil, shown))
        }
    }
}

/// A characteristic that shows one of the monitor's clocks.
#[derive(Clone, Copy)]
struct ClockRead {
    axis: Axis,
    characteristic: Characteristic,
    civil: fn(&Frame) -> Option<DateTime>,
}

impl ClockRead {
    /// The characteristics that show the displayed clock, in order of preference.
    const LOCAL: [Self; 3] = [
        Self {
            axis: Axis::Local,
            characteristic: Characteristic::CURRENT_TIME,
            civil: |frame| match gatt::decode(frame.characteristic, &frame.value) {
                Ok(Value::CurrentTime(time)) => time.civil(),
                _ => None,
            },
        },
        Self {
            axis: Axis::Local,
            characteristic: Characteristic::DATE_TIME,
            civil: |frame| match gatt::decode(frame.characteristic, &frame.value) {
                Ok(Value::DateTime(time)) => time.civil(),
                _ => None,
            },
        },
        Self {
            axis: Axis::Local,
            characteristic: Characteristic::DEVICE_TIME,
            civil: |frame| match gatt::decode(frame.characteristic, &frame.value) {
                Ok(Value::DeviceTime(time)) if !time.time_fault() => time.local_civil(),
                _ => None,
            },
        },
    ];
    const BASE: [Self; 1] = [Self {
        axis: Axis::Base,
        characteristic: Characteristic::DEVICE_TIME,
        civil: |frame| match gatt::decode(frame.characteristic, &frame.value) {
            Ok(Value::DeviceTime(time)) if !time.time_fault() => time.base_civil(),
            _ => None,
        },
    }];

    fn look(self, received: &Received<'_>) -> Option<ToldOfTime> {
        if received.frame.characteristic != self.characteristic {
            return None;
        }
        let civil = (self.civil)(received.frame)?;
        Some(ToldOfTime {
            received_at: received.at,
            told: TimeTold::Clock {
                axis: self.axis,
                civil,
            },
        })
    }
}

/// The characteristics to look at for the monitor's clocks. There is one for each clock: two that disagree
/// would look like a clock that was set between the reads.
fn clocks_read(frames: &[Received<'_>]) -> [Option<ClockRead>; 2] {
    let shows = |read: &ClockRead| frames.iter().any(|received| read.look(received).is_some());
    [
        ClockRead::LOCAL.into_iter().find(shows),
        ClockRead::BASE.into_iter().find(shows),
    ]
}

/// The connections among one monitor's frames, which are in [`Received::order`].
pub fn connections<'r, 'f>(frames: &'r [Received<'f>]) -> impl Iterator<Item = &'r [Received<'f>]> {
    frames.chunk_by(Received::same_connection)
}

/// All readings of all monitors, from all frames in any order: what rebuilding does, in memory.
pub fn readings(
    frames: &[Frame],
    household: &Household,
    zones: &Zones,
    gateway: &GatewayClock,
) -> Vec<Reading> {
    let mut by_address: BTreeMap<_, Vec<Received<'_>>> = BTreeMap::new();
    for frame in frames {
        by_address
            .entry(&frame.monitor)
            .or_default()
            .push(Received::new(frame, gateway));
    }
    let mut by_monitor: BTreeMap<MonitorId, Vec<Received<'_>>> = BTreeMap::new();
    for (address, frames) in by_address {
        by_monitor
            .entry(household.monitor_at(address))
            .or_default()
            .extend(frames);
    }
    let mut readings = Vec::with_capacity(frames.len());
    for (monitor, mut frames) in by_monitor {
        frames.sort_unstable_by(Received::order);
        let mut past = Past::default();
        let mut heard = Records::with_room_for(frames.len());
        for frames in connections(&frames) {
            let settled = Connection::settle(frames, &monitor, &past, &heard, household, zones);
            past = settled.past;
            for settled in settled.readings {
                heard.remember(&settled.record);
                readings.push(settled.reading);
            }
        }
    }
    readings
}
