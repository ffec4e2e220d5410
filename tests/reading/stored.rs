//! Stored records that came in several segments: what a monitor hands out behind its Record Access Control Point.

use crate::reading::table::{civil, frame, measurement, moment, seconds, settled, zoned};
use jiff::Span;
use quietcuff::frame::Frame;
use quietcuff::gatt::TimeStamp;
use quietcuff::reading::{Reading, TimeSource};

const UTC: &str = "+00:00";

/// The segments of a record of a 0x2B34, at most nine octets of it in each, one second apart from `received` on.
fn segments(connection: u32, received: &str, sequence: u16, nth: u8, stamp: Option<TimeStamp>) -> Vec<Frame> {
    let value = measurement(nth, stamp).encode_enhanced().unwrap().to_vec();
    let parts: Vec<&[u8]> = value.chunks(9).collect();
    let last = parts.len() - 1;
    parts
        .iter()
        .enumerate()
        .map(|(at, part)| {
            let header = u8::try_from(at << 2).unwrap() | u8::from(at == 0) | u8::from(at == last) << 1;
            let [low, high] = sequence.to_le_bytes();
            let value = [&[header, low, high, 0x34, 0x2b][..], part].concat();
            let at = moment(received) + Span::new().seconds(i64::try_from(at).unwrap());
            frame(connection, at, "2b36", value)
        })
        .collect()
}

fn kept(frames: &[Frame]) -> Vec<Reading> {
    settled(frames, &zoned(&[(UTC, None)]))
}

#[test]
fn segments_are_one_reading_and_again_the_same_one() {
    let taken = Some(seconds(civil("2026-03-01T07:00:11")));
    let once = segments(1, "2026-03-02T08:00:00Z", 4, 1, taken);
    assert!(once.len() > 1);
    let readings = kept(&once);
    let [reading] = &readings[..] else {
        panic!("{readings:?}")
    };
    assert_eq!(reading.systolic.to_string(), "111");
    assert_eq!(reading.time.stamp, Some(civil("2026-03-01T07:00:11")));
    let twice = [once.clone(), segments(2, "2026-03-03T08:00:00Z", 4, 1, taken)].concat();
    assert_eq!(kept(&twice).len(), 1);
}

#[test]
fn a_segment_that_did_not_come_costs_its_record_alone() {
    let (early, late) = (
        Some(seconds(civil("2026-03-01T07:00:11"))),
        Some(seconds(civil("2026-03-01T19:00:11"))),
    );
    let mut frames = segments(1, "2026-03-02T08:00:00Z", 4, 1, early);
    frames.remove(1);
    frames.extend(segments(1, "2026-03-02T08:01:00Z", 5, 2, late));
    let systolic: Vec<String> = kept(&frames).iter().map(|r| r.systolic.to_string()).collect();
    assert_eq!(systolic, ["112"]);
}

/// A monitor without clock hands out the same records at each visit: the number names them, and the receipt says
/// nothing of when they were measured.
#[test]
fn a_record_without_stamp_is_one_reading_of_unknown_time_however_often_it_comes() {
    let visit = |connection, received: &str| {
        [
            segments(connection, received, 4, 1, None),
            segments(connection, &received.replace(":00Z", ":40Z"), 5, 1, None),
        ]
        .concat()
    };
    let frames = [visit(1, "2026-03-02T08:00:00Z"), visit(2, "2026-03-03T08:00:00Z")].concat();
    let readings = kept(&frames);
    assert_eq!(readings.len(), 2, "two numbers, two records: {readings:?}");
    assert!(
        readings
            .iter()
            .all(|reading| reading.time.source == TimeSource::Unknown)
    );
}
