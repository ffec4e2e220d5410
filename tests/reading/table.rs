//! Tables of what was heard, one frame a line:
//!
//! ```text
//! CONNECTION RECEIVED stamp CIVIL            -> MOMENT SOURCE CORRECTION | unknown
//! CONNECTION RECEIVED base CIVIL [CIVIL]     -> ...   0x2B34, with the displayed time
//! CONNECTION RECEIVED no-stamp               -> ...
//! CONNECTION RECEIVED zero-stamp             -> ...
//! CONNECTION RECEIVED clock CIVIL                     0x2A2B read
//! CONNECTION RECEIVED date-time CIVIL                 0x2A08 read
//! CONNECTION RECEIVED device-time CIVIL               0x2B90 read, base time
//! CONNECTION RECEIVED faulty-device-time CIVIL        the same with the time fault bit
//! ```
//!
//! Every measurement gets values of its own, so that no two are the same record. Made up, like all data here.

use jiff::Timestamp;
use jiff::civil::DateTime;
use jiff::tz::Offset;
use quietcuff::frame::Frame;
use quietcuff::gatt::{
    self, AdjustReason, BloodPressureMeasurement, CurrentTime, Epoch, Sfloat, TimeStamp, Unit,
};
use quietcuff::household::{Household, Statement, Zones};
use quietcuff::reading::{GatewayClock, Precision, Reading, readings};

pub(crate) fn moment(text: &str) -> Timestamp {
    text.parse().unwrap_or_else(|error| panic!("{text}: {error}"))
}

pub(crate) fn civil(text: &str) -> DateTime {
    text.parse().unwrap_or_else(|error| panic!("{text}: {error}"))
}

pub(crate) fn frame(connection: u32, received_at: Timestamp, characteristic: &str, value: Vec<u8>) -> Frame {
    Frame {
        received_at,
        offset: Offset::UTC,
        uptime: None,
        given_to: None,
        overheard: false,
        monitor: "C0:FF:EE:00:00:01".parse().unwrap(),
        connection,
        characteristic: characteristic.parse().unwrap(),
        value,
    }
}

/// A measurement with values that only it has.
pub(crate) fn measurement(nth: u8, time_stamp: Option<TimeStamp>) -> BloodPressureMeasurement<'static> {
    let mmhg = |n: i16| Sfloat::new(n, 0).unwrap();
    BloodPressureMeasurement {
        unit: Unit::MmHg,
        systolic: mmhg(110 + i16::from(nth)),
        diastolic: mmhg(80),
        mean_arterial_pressure: mmhg(93),
        time_stamp,
        pulse_rate: Some(mmhg(71)),
        user_id: None,
        status: None,
        user_facing_time: None,
        reserved_flags: 0,
        trailing: &[],
    }
}

pub(crate) fn stamp(civil: DateTime) -> TimeStamp {
    TimeStamp::DateTime(gatt::DateTime::from_civil(civil).unwrap())
}

pub(crate) fn seconds(civil: DateTime) -> TimeStamp {
    let since = civil.duration_since(jiff::civil::date(2000, 1, 1).at(0, 0, 0, 0));
    TimeStamp::Seconds {
        epoch: Epoch::Y2000,
        seconds: u32::try_from(since.as_secs()).unwrap(),
    }
}

pub(crate) fn zoned(zones: &[(&str, Option<&str>)]) -> Household {
    let statements: Vec<Statement> = zones
        .iter()
        .map(|(zone, from)| Statement::Zone {
            zone: (*zone).to_owned(),
            from: from.map(moment),
        })
        .collect();
    Household::after(&statements)
}

pub(crate) fn zones(household: &Household) -> Zones {
    Zones::of(household).unwrap()
}

pub(crate) fn settled(frames: &[Frame], household: &Household) -> Vec<Reading> {
    readings(frames, household, &zones(household), &GatewayClock::default())
}

/// Settles a table and compares. Gives the readings for what the table cannot say.
pub(crate) fn settles(zone: &str, table: &str) -> Vec<Reading> {
    settles_in(&zoned(&[(zone, None)]), table)
}

pub(crate) fn settles_in(household: &Household, table: &str) -> Vec<Reading> {
    let lines: Vec<(&str, Option<&str>)> = table
        .lines()
        .map(str::trim)
        .filter(|line| !line.is_empty() && !line.starts_with('#'))
        .map(|line| match line.split_once("->") {
            Some((heard, expected)) => (heard, Some(expected)),
            None => (line, None),
        })
        .collect();
    let frames: Vec<Frame> = (0..)
        .zip(&lines)
        .map(|(nth, (heard, _))| parse(nth, heard))
        .collect();
    let made = settled(&frames, household);

    let zones = zones(household);
    let expected: Vec<String> = lines
        .iter()
        .filter_map(|(_, expected)| expected.map(|text| normal(text, &zones)))
        .collect();
    let got: Vec<String> = made.iter().map(|reading| spelled(reading, &zones)).collect();
    assert!(!expected.is_empty(), "a table that expects nothing");
    assert_eq!(got, expected, "\n{table}");
    made
}

fn parse(nth: u8, line: &str) -> Frame {
    let words: Vec<&str> = line.split_whitespace().collect();
    let (connection, received_at) = (words[0].parse().unwrap(), moment(words[1]));
    let civil = |n: usize| civil(words[n]);
    let (characteristic, value) = match words[2] {
        "stamp" => ("2a35", measurement(nth, Some(stamp(civil(3)))).encode().to_vec()),
        "no-stamp" => ("2a35", measurement(nth, None).encode().to_vec()),
        "zero-stamp" => {
            let zero = gatt::DateTime {
                year: 0,
                month: 0,
                day: 0,
                hours: 0,
                minutes: 0,
                seconds: 0,
            };
            let measurement = measurement(nth, Some(TimeStamp::DateTime(zero)));
            ("2a35", measurement.encode().to_vec())
        }
        "base" => {
            let mut measurement = measurement(nth, Some(seconds(civil(3))));
            measurement.user_facing_time = words.get(4).map(|_| seconds(civil(4)));
            ("2b34", measurement.encode_enhanced().unwrap().to_vec())
        }
        "clock" => {
            let time = CurrentTime::from_civil(civil(3), AdjustReason::default()).unwrap();
            ("2a2b", time.encode().to_vec())
        }
        "date-time" => {
            let time = gatt::DateTime::from_civil(civil(3)).unwrap();
            ("2a08", time.encode().to_vec())
        }
        kind @ ("device-time" | "faulty-device-time") => {
            let TimeStamp::Seconds { seconds, .. } = seconds(civil(3)) else {
                unreachable!()
            };
            // Zone and daylight saving unknown; status: epoch 2000.
            let mut value = seconds.to_le_bytes().to_vec();
            let status = if kind == "device-time" { 0x10 } else { 0x11 };
            value.extend([0x80, 0xff, status, 0x00]);
            ("2b90", value)
        }
        word => panic!("{word}?"),
    };
    frame(connection, received_at, characteristic, value)
}

fn spelled(reading: &Reading, zones: &Zones) -> String {
    let time = &reading.time;
    let minutes = match time.precision {
        Precision::Second => "",
        Precision::Minute => " minute",
    };
    match time.at {
        None => "unknown".to_owned(),
        Some(at) => format!(
            "{} {} {:+}{minutes}",
            at.display_with_offset(zones.offset(at)),
            time.source.name(),
            time.correction_s
        ),
    }
}

/// An expected moment may be written with any offset.
fn normal(expected: &str, zones: &Zones) -> String {
    let words: Vec<&str> = expected.split_whitespace().collect();
    if words == ["unknown"] {
        return "unknown".to_owned();
    }
    let at = moment(words[0]);
    let at = at.display_with_offset(zones.offset(at)).to_string();
    [&[at.as_str()], &words[1..]].concat().join(" ")
}
