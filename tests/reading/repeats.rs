//! Which frames are the same record.

use crate::reading::table::{civil, frame, measurement, moment, seconds, settled, stamp, zoned};
use quietcuff::frame::Frame;
use quietcuff::gatt::{BloodPressureMeasurement, TimeStamp};
use quietcuff::household::{Household, Monitor, Statement};
use quietcuff::reading::Reading;

const UTC: &str = "+00:00";

fn sent(connection: u32, received: &str, measurement: &BloodPressureMeasurement<'_>) -> Frame {
    frame(
        connection,
        moment(received),
        "2a35",
        measurement.encode().to_vec(),
    )
}

fn enhanced(connection: u32, received: &str, measurement: &BloodPressureMeasurement<'_>) -> Frame {
    let value = measurement.encode_enhanced().unwrap().to_vec();
    frame(connection, moment(received), "2b34", value)
}

/// Inside a stored record of one segment, without checksum.
fn recorded(connection: u32, received: &str, inner: &Frame) -> Frame {
    let number = inner.characteristic.number().unwrap().to_le_bytes();
    let value = [&[0x03, 0x07, 0x00][..], &number, &inner.value].concat();
    frame(connection, moment(received), "2b36", value)
}

fn kept(frames: &[Frame]) -> Vec<Reading> {
    settled(frames, &zoned(&[(UTC, None)]))
}

fn stamped(text: &str) -> BloodPressureMeasurement<'static> {
    measurement(1, Some(stamp(civil(text))))
}

#[test]
fn a_record_sent_again_counts_once_over_connections_and_days() {
    let record = stamped("2026-05-01T08:00:01");
    let once = kept(&[sent(1, "2026-05-01T08:00:05Z", &record)]);
    let again = kept(&[
        sent(1, "2026-05-01T08:00:05Z", &record),
        sent(1, "2026-05-01T08:00:07Z", &record),
        sent(2, "2026-05-01T08:03:00Z", &record),
        sent(3, "2026-05-03T19:00:00Z", &record),
    ]);
    assert_eq!(again, once);
    assert_eq!(once.len(), 1);
}

#[test]
fn a_record_sent_again_after_the_clock_was_set_counts_once() {
    let record = stamped("2026-05-01T09:00:01");
    let clock = |connection, at: &str, shown: &str| {
        let time = quietcuff::gatt::DateTime::from_civil(civil(shown)).unwrap();
        frame(connection, moment(at), "2a08", time.encode().to_vec())
    };
    let kept = kept(&[
        clock(1, "2026-05-01T08:00:30Z", "2026-05-01T09:00:30"),
        sent(1, "2026-05-01T08:00:32Z", &record),
        clock(1, "2026-05-01T08:00:34Z", "2026-05-01T08:00:34"),
        clock(2, "2026-05-02T08:00:30Z", "2026-05-02T08:00:30"),
        sent(2, "2026-05-02T08:00:32Z", &record),
    ]);
    assert_eq!(kept.len(), 1);
    assert_eq!(kept[0].time.at, Some(moment("2026-05-01T08:00:01Z")));
}

#[test]
fn two_equal_measurements_with_stamps_of_their_own_count_twice() {
    let kept = kept(&[
        sent(1, "2026-05-01T08:00:05Z", &stamped("2026-05-01T08:00:01")),
        sent(1, "2026-05-01T08:01:06Z", &stamped("2026-05-01T08:01:02")),
    ]);
    assert_eq!(kept.len(), 2);
    assert_ne!(kept[0].id, kept[1].id);
}

#[test]
fn the_same_stamp_with_other_values_is_another_record() {
    let other = measurement(2, Some(stamp(civil("2026-05-01T08:00:00"))));
    let kept = kept(&[
        sent(1, "2026-05-01T08:00:05Z", &stamped("2026-05-01T08:00:00")),
        sent(1, "2026-05-01T08:00:50Z", &other),
    ]);
    assert_eq!(kept.len(), 2);
}

#[test]
fn the_same_octets_with_the_same_whole_minute_are_one_record_however_far_apart() {
    let record = stamped("2026-05-01T08:00:00");
    let kept = kept(&[
        sent(1, "2026-05-01T08:00:05Z", &record),
        sent(1, "2026-05-01T08:00:45Z", &record),
    ]);
    assert_eq!(kept.len(), 1);
}

#[test]
fn an_unset_clock_that_sends_its_memory_again_asks_once() {
    let zero = TimeStamp::DateTime(quietcuff::gatt::DateTime {
        year: 0,
        month: 0,
        day: 0,
        hours: 0,
        minutes: 0,
        seconds: 0,
    });
    let record = measurement(1, Some(zero));
    let kept = kept(&[
        sent(1, "2026-05-01T08:00:05Z", &record),
        sent(2, "2026-05-02T08:00:05Z", &record),
    ]);
    assert_eq!(kept.len(), 1);
}

#[test]
fn without_stamp_equal_octets_within_moments_are_one_record() {
    let record = measurement(1, None);
    let once = kept(&[sent(1, "2026-05-01T08:00:05Z", &record)]);
    let kept = kept(&[
        sent(1, "2026-05-01T08:00:05Z", &record),
        sent(1, "2026-05-01T08:00:15Z", &record),
        // Over a lost link.
        sent(2, "2026-05-01T08:00:24Z", &record),
    ]);
    assert_eq!(kept, once);
}

#[test]
fn without_stamp_equal_octets_farther_apart_are_two_measurements() {
    let record = measurement(1, None);
    let kept = kept(&[
        sent(1, "2026-05-01T08:00:05Z", &record),
        // A repeat does not swallow the measurement after it.
        sent(1, "2026-05-01T08:00:20Z", &record),
        sent(1, "2026-05-01T08:00:25Z", &record),
        sent(2, "2026-05-02T08:00:05Z", &record),
    ]);
    assert_eq!(kept.len(), 3);
    assert!(kept.iter().all(|reading| reading.time.at.is_some()));
}

#[test]
fn another_monitor_is_another_record_unless_it_is_the_same_monitor() {
    let record = stamped("2026-05-01T08:00:01");
    let mut elsewhere = sent(1, "2026-05-02T08:00:05Z", &record);
    elsewhere.monitor = "C0:FF:EE:00:00:02".parse().unwrap();
    let frames = [sent(1, "2026-05-01T08:00:05Z", &record), elsewhere];
    assert_eq!(kept(&frames).len(), 2);

    // Paired anew under another address: the household says that both are m1.
    let monitor = |address: &str| Statement::Monitor {
        monitor: "m1".parse().unwrap(),
        details: Monitor {
            address: Some(address.parse().unwrap()),
            ..Monitor::default()
        },
    };
    let household = Household::after(&[monitor("C0:FF:EE:00:00:01"), monitor("C0:FF:EE:00:00:02")]);
    assert_eq!(settled(&frames, &household).len(), 1);
}

#[test]
fn one_measurement_in_several_forms_counts_once() {
    let plain = stamped("2026-05-01T08:00:01");
    let mut base = plain;
    base.time_stamp = Some(seconds(civil("2026-05-01T08:00:01")));
    // Base time in UTC, display two hours ahead.
    let mut shown = plain;
    shown.time_stamp = Some(seconds(civil("2026-05-01T06:00:01")));
    shown.user_facing_time = Some(seconds(civil("2026-05-01T08:00:01")));

    let first = sent(1, "2026-05-01T08:00:05Z", &plain);
    for second in [
        enhanced(1, "2026-05-01T08:00:06Z", &base),
        enhanced(1, "2026-05-01T08:00:06Z", &shown),
        recorded(2, "2026-05-02T08:00:06Z", &first),
        recorded(
            2,
            "2026-05-02T08:00:06Z",
            &enhanced(1, "2026-05-01T08:00:06Z", &base),
        ),
    ] {
        let kept = kept(&[first.clone(), second]);
        assert_eq!(kept.len(), 1);
        assert_eq!(kept[0].received_at, first.received_at);
    }

    let mut other = base;
    other.diastolic = measurement(9, None).systolic;
    assert_eq!(
        kept(&[first, enhanced(1, "2026-05-01T08:00:06Z", &other)]).len(),
        2
    );
}

#[test]
fn a_reading_keeps_its_name() {
    // By Python's hashlib, as hashlib.sha256(address + hashlib.sha256(uuid + value + receipt_us).digest()[:16]), the
    // receipt as eight octets, most significant first, and only where there is no stamp. A change would orphan what
    // households have stated about their readings.
    let frames = [
        sent(1, "2026-05-01T08:00:05Z", &stamped("2026-05-01T08:00:01")),
        sent(1, "2026-05-01T08:03:05.000001Z", &measurement(1, None)),
    ];
    let ids: Vec<String> = kept(&frames).into_iter().map(|reading| reading.id.0).collect();
    assert_eq!(ids, ["1f1740acc6e72589", "05d20e34f4c4459e"]);
}
