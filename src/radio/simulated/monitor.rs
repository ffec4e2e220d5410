//! The device: what it measures it keeps, and what it keeps it tells whoever connects.

use super::clock::Clock;
use crate::frame::Frame;
use crate::gatt::{
    Appearance, BatteryLevel, BloodPressureMeasurement, Characteristic, ConsentCode, CuffPressure, Feature,
    MeasurementStatus, PnpId, Sfloat, SystemId, TimeStamp, Unit, UserControl,
};
use crate::household::MonitorAddress;
use jiff::civil;
use jiff::tz::TimeZone;
use jiff::{SignedDuration, Timestamp};
use std::collections::VecDeque;

/// Conventional millimetre of mercury in kilopascal.
const KPA_A_MMHG: f64 = 0.133_322;

/// What a monitor is like. Everything may be changed before it is put to use.
#[derive(Clone, Debug)]
pub struct Make {
    /// Its identity address.
    pub address: MonitorAddress,
    /// What it calls itself.
    pub name: String,
    /// Text of the characteristic Serial Number String (0x2A25).
    pub serial: String,
    /// Upper arm or wrist.
    pub appearance: Appearance,
    /// What it looks for. Without any of bits 0 to 4 it sends no status.
    pub feature: Feature,
    /// The unit on its display.
    pub unit: Unit,
    /// How it stamps.
    pub stamps: Stamps,
    /// Whether it gives a mean arterial pressure; else it sends NaN.
    pub mean: bool,
    /// Whether its clock can be read (0x2A2B).
    pub clock_can_be_read: bool,
    /// What its clock shows after new batteries; `None` is nothing, which gives stamps of all zeros.
    pub after_new_batteries: Option<civil::DateTime>,
    /// What it keeps and when it forgets.
    pub memory: Memory,
    /// Whether it connects before it measures and tells the pressure in the cuff meanwhile (0x2A36).
    pub tells_while_measuring: bool,
    /// The users whom it keeps apart, each with the code without which it tells nothing of theirs. With none it tells
    /// everything to everybody.
    pub users: Vec<(u8, ConsentCode)>,
}

/// How a monitor stamps a measurement. The stamp is the measurement's end.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Stamps {
    /// Without a time stamp, as a monitor without a clock sends it.
    None,
    /// The seconds are always 0.
    WholeMinutes,
    /// To the second.
    Seconds,
}

/// What a monitor keeps.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Memory {
    /// The last records up to this many; each is forgotten once its indication was confirmed.
    UntilConfirmed(usize),
    /// The last records up to this many, all of which it sends on every connection.
    Always(usize),
    /// The last one only, until it was confirmed.
    LastOnly,
}

impl Make {
    /// An upper-arm monitor that does what the profile asks for, and whose every name says that it is invented.
    pub fn plain(address: [u8; 6]) -> Self {
        Self {
            address: address.into(),
            name: "Invented cuff 1".to_owned(),
            serial: "INVENTED-0001".to_owned(),
            appearance: Appearance(0x0381),
            feature: Feature(
                Feature::BODY_MOVEMENT | Feature::CUFF_FIT | Feature::IRREGULAR_PULSE | Feature::POSITION,
            ),
            unit: Unit::MmHg,
            stamps: Stamps::Seconds,
            mean: true,
            clock_can_be_read: true,
            after_new_batteries: Some(civil::date(2010, 1, 1).at(0, 0, 0, 0)),
            memory: Memory::UntilConfirmed(60),
            tells_while_measuring: false,
            users: Vec::new(),
        }
    }
}

/// What came out of inflating the cuff.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Taken {
    /// When the cuff began to fill.
    pub start: Timestamp,
    /// When the values were there.
    pub end: Timestamp,
    /// Systolic, diastolic and pulse as displayed, in mmHg and beats per minute; `None` for an error.
    pub values: Option<[i16; 3]>,
    /// The person's index on the monitor.
    pub user_id: Option<u8>,
    /// What the monitor would say of the technique if it looked for everything: bits of Measurement Status.
    pub status: u16,
}

/// How a connection goes.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub struct LinkFaults {
    /// The monitor hangs up after this many indications; the rest stays in its memory.
    pub hangs_up_after: Option<usize>,
    /// The last indication was heard, but its confirmation was not: the monitor sends it again next time.
    pub loses_last_confirmation: bool,
}

/// Names a record for the time of the simulation.
pub type RecordNumber = u64;

/// What was heard on one connection.
#[derive(Clone, PartialEq, Debug, Default)]
pub struct Visit {
    /// The frames, in order.
    pub frames: Vec<Frame>,
    /// The records among them.
    pub records: Vec<RecordNumber>,
}

#[derive(Clone, Debug)]
struct Record {
    number: RecordNumber,
    user: Option<u8>,
    value: Vec<u8>,
}

/// A monitor in use.
#[derive(Clone, Debug)]
pub struct Monitor {
    /// What it is like.
    pub make: Make,
    /// What its clock shows, and how fast that runs.
    pub clock: Clock,
    battery: u8,
    memory: VecDeque<Record>,
    next: RecordNumber,
    connections: u32,
}

impl Monitor {
    /// A new one, with a clock that somebody has set or not.
    pub fn new(make: Make, clock: Clock) -> Self {
        Self {
            make,
            clock,
            battery: 100,
            memory: VecDeque::new(),
            next: 0,
            connections: 0,
        }
    }

    /// Somebody puts in new batteries: the clock begins anew, the records stay.
    pub fn change_batteries(&mut self, at: Timestamp) {
        self.battery = 100;
        self.clock = Clock::new(at, self.make.after_new_batteries, self.clock.drift_ms_a_day);
    }

    /// The records in its memory, oldest first.
    pub fn kept(&self) -> impl Iterator<Item = RecordNumber> {
        self.memory.iter().map(|record| record.number)
    }

    /// Keeps a measurement.
    pub fn keep(&mut self, taken: &Taken) -> RecordNumber {
        let number = self.next;
        self.next += 1;
        let value = self.measurement(taken);
        let user = taken.user_id;
        self.memory.push_back(Record { number, user, value });
        let most = match self.make.memory {
            Memory::UntilConfirmed(most) | Memory::Always(most) => most.max(1),
            Memory::LastOnly => 1,
        };
        while self.memory.len() > most {
            self.memory.pop_front();
        }
        self.battery = self.battery.saturating_sub(u8::from(number % 8 == 7));
        number
    }

    /// Somebody connects, when there is something to tell or to pair.
    pub fn connect(&mut self, at: Timestamp, zone: &TimeZone, link: LinkFaults) -> Visit {
        self.connect_with(at, zone, link, &[])
    }

    /// Somebody connects and gives these users' codes, one after the other.
    pub fn connect_with(
        &mut self,
        at: Timestamp,
        zone: &TimeZone,
        link: LinkFaults,
        codes: &[(u8, ConsentCode)],
    ) -> Visit {
        let mut ear = Ear::new(self, at, zone);
        ear.wait(180);
        self.tell_clock(&mut ear);
        if self.make.users.is_empty() {
            self.tell_records(&mut ear, link, None);
        }
        for code in codes {
            let known = self.make.users.contains(code);
            let answer = if known {
                UserControl::SUCCESS
            } else {
                UserControl::NOT_AUTHORIZED
            };
            let answer = [UserControl::RESPONSE, UserControl::CONSENT, answer];
            ear.hears(Characteristic::USER_CONTROL_POINT, &answer, 60);
            if known {
                self.tell_records(&mut ear, link, Some(code.0));
            }
        }
        if link.hangs_up_after.is_none() {
            self.tell_rest(&mut ear);
        }
        ear.heard
    }

    /// Somebody is connected while the monitor measures, and hears the pressure in the cuff.
    pub fn connect_and_measure(
        &mut self,
        taken: &Taken,
        zone: &TimeZone,
        link: LinkFaults,
    ) -> (RecordNumber, Visit) {
        let mut ear = Ear::new(self, taken.start, zone);
        ear.wait(180);
        self.tell_clock(&mut ear);
        self.tell_rest(&mut ear);
        // The cuff fills to above the systolic pressure in a third of the time and empties to below the diastolic.
        let [systolic, diastolic, _] = taken.values.unwrap_or([150, 90, 0]).map(f64::from);
        let span = taken.end.duration_since(taken.start).as_millis();
        let (top, bottom) = (systolic + 30.0, diastolic - 20.0);
        while let elapsed = ear.at.duration_since(taken.start).as_millis()
            && elapsed + 1000 < span
        {
            let (elapsed, third) = (elapsed as f64, span as f64 / 3.0);
            let pressure = if elapsed < third {
                top * elapsed / third
            } else {
                top - (top - bottom) * (elapsed - third) / (2.0 * third)
            };
            let value = CuffPressure {
                unit: self.make.unit,
                pressure: self.pressure(whole(pressure)),
                time_stamp: None,
                pulse_rate: None,
                user_id: taken.user_id,
                status: None,
                user_facing_time: None,
                reserved_flags: 0,
                trailing: &[],
            };
            ear.hears(Characteristic::INTERMEDIATE_CUFF_PRESSURE, &value.encode(), 1000);
        }
        let number = self.keep(taken);
        ear.at = taken.end;
        ear.wait(90);
        if self.make.users.is_empty() {
            self.tell_records(&mut ear, link, None);
        }
        (number, ear.heard)
    }

    /// The clock is read first: without it the stamps of the records mean less.
    fn tell_clock(&self, ear: &mut Ear) {
        if self.make.clock_can_be_read {
            let time = self.clock.current_time(ear.at);
            ear.hears(Characteristic::CURRENT_TIME, &time.encode(), 60);
        }
    }

    /// What is in its memory: everything, or one user's.
    fn tell_records(&mut self, ear: &mut Ear, link: LinkFaults, of: Option<u8>) {
        let theirs = |record: &Record| of.is_none() || record.user == of;
        let count = self.memory.iter().filter(|record| theirs(record)).count();
        let sent = link.hangs_up_after.unwrap_or(usize::MAX).min(count);
        for record in self.memory.iter().filter(|record| theirs(record)).take(sent) {
            ear.hears(Characteristic::BLOOD_PRESSURE_MEASUREMENT, &record.value, 60);
            ear.heard.records.push(record.number);
        }
        let mut confirmed = sent - usize::from(link.loses_last_confirmation && sent > 0);
        if !matches!(self.make.memory, Memory::Always(_)) {
            self.memory.retain(|record| {
                let gone = theirs(record) && confirmed > 0;
                confirmed -= usize::from(gone);
                !gone
            });
        }
    }

    /// What is read when there is time: on the first connection everything, later the battery.
    fn tell_rest(&self, ear: &mut Ear) {
        let level = BatteryLevel(self.battery).encode();
        ear.hears(Characteristic::BATTERY_LEVEL, &level, 60);
        if self.connections > 1 {
            return;
        }
        let product = PnpId {
            vendor_source: 1,
            // 0xFFFF is the Bluetooth SIG's company identifier for tests.
            vendor: 0xffff,
            product: 1,
            version: 0x0100,
        };
        for (characteristic, value) in [
            (
                Characteristic::BLOOD_PRESSURE_FEATURE,
                &self.make.feature.encode()[..],
            ),
            (Characteristic::APPEARANCE, &self.make.appearance.encode()),
            (Characteristic::DEVICE_NAME, self.make.name.as_bytes()),
            (Characteristic::MANUFACTURER_NAME, b"Invented maker"),
            (Characteristic::MODEL_NUMBER, b"INVENTED"),
            (Characteristic::SERIAL_NUMBER, self.make.serial.as_bytes()),
            (Characteristic::FIRMWARE_REVISION, b"0.0"),
            (
                Characteristic::SYSTEM_ID,
                &SystemId([1, 0, 0, 0, 0, 0xff, 0xff, 0x02]).encode(),
            ),
            (Characteristic::PNP_ID, &product.encode()),
        ] {
            ear.hears(characteristic, value, 60);
        }
    }

    fn measurement(&self, taken: &Taken) -> Vec<u8> {
        let mut stamp = self.clock.stamp(taken.end);
        if self.make.stamps == Stamps::WholeMinutes {
            stamp.seconds = 0;
        }
        let [systolic, diastolic, mean, pulse] = match taken.values {
            Some([systolic, diastolic, pulse]) => [
                self.pressure(systolic),
                self.pressure(diastolic),
                if self.make.mean {
                    self.pressure(diastolic + (systolic - diastolic) / 3)
                } else {
                    Sfloat::NAN
                },
                Sfloat::new(pulse, 0).unwrap_or(Sfloat::NAN),
            ],
            None => [Sfloat::NAN; 4],
        };
        BloodPressureMeasurement {
            unit: self.make.unit,
            systolic,
            diastolic,
            mean_arterial_pressure: mean,
            time_stamp: (self.make.stamps != Stamps::None).then_some(TimeStamp::DateTime(stamp)),
            pulse_rate: Some(pulse),
            user_id: taken.user_id,
            status: self
                .looks()
                .then_some(MeasurementStatus(taken.status & self.watched())),
            user_facing_time: None,
            reserved_flags: 0,
            trailing: &[],
        }
        .encode()
        .to_vec()
    }

    /// A pressure in the monitor's unit: whole mmHg, or kPa with one decimal.
    fn pressure(&self, mmhg: i16) -> Sfloat {
        match self.make.unit {
            Unit::MmHg => Sfloat::new(mmhg, 0),
            Unit::KPa => Sfloat::new(whole(f64::from(mmhg) * KPA_A_MMHG * 10.0), -1),
        }
        .unwrap_or(Sfloat::NAN)
    }

    fn looks(&self) -> bool {
        self.make.feature.0 & 0b1_1111 != 0
    }

    /// The status bits that the monitor looks for: the same order as in Feature, but the pulse rate range has two.
    pub(super) fn watched(&self) -> u16 {
        let feature = self.make.feature.0;
        let range = if feature & Feature::PULSE_RATE_RANGE != 0 {
            0b11 << 3
        } else {
            0
        };
        feature & 0b111 | range | (feature & Feature::POSITION) << 1
    }
}

/// A gateway that is connected.
struct Ear<'a> {
    at: Timestamp,
    zone: &'a TimeZone,
    monitor: MonitorAddress,
    connection: u32,
    heard: Visit,
}

impl<'a> Ear<'a> {
    fn new(monitor: &mut Monitor, at: Timestamp, zone: &'a TimeZone) -> Self {
        monitor.connections += 1;
        Self {
            at,
            zone,
            monitor: monitor.make.address.clone(),
            connection: monitor.connections,
            heard: Visit::default(),
        }
    }

    fn wait(&mut self, millis: i64) {
        self.at = later(self.at, millis);
    }

    /// Hears a value; the next one comes so much later.
    fn hears(&mut self, characteristic: Characteristic, value: &[u8], then: i64) {
        self.heard.frames.push(Frame {
            received_at: self.at,
            offset: self.zone.to_offset(self.at),
            uptime: None,
            given_to: None,
            overheard: false,
            monitor: self.monitor.clone(),
            connection: self.connection,
            characteristic,
            value: value.to_vec(),
        });
        self.wait(then);
    }
}

/// So much later. At the end of time, time stands still.
pub(super) fn later(at: Timestamp, millis: i64) -> Timestamp {
    at.checked_add(SignedDuration::from_millis(millis)).unwrap_or(at)
}

/// The nearest whole number that an SFLOAT of exponent 0 or -1 can hold.
#[expect(clippy::cast_possible_truncation, reason = "clamped before")]
pub(super) fn whole(value: f64) -> i16 {
    value.round().clamp(-2000.0, 2000.0) as i16
}
