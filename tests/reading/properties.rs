//! What holds for every household.

use crate::reading::table::{civil, frame, measurement, moment, seconds, settled, stamp, zoned, zones};
use jiff::{SignedDuration, Timestamp};
use proptest::prelude::*;
use quietcuff::frame::Frame;
use quietcuff::gatt::{AdjustReason, CurrentTime, DateTime, TimeStamp};
use quietcuff::household::{Household, MonitorId, Zones};
use quietcuff::reading::repeats::Records;
use quietcuff::reading::{Connection, GatewayClock, Past, Reading, Received, TimeSource, connections};

/// One thing that a monitor sends, by its own clock.
#[derive(Clone, Debug)]
enum Event {
    /// A measurement taken so many seconds ago.
    Stamped {
        ago: i64,
        value: u8,
        user: Option<u8>,
    },
    /// The same with a count of seconds.
    Counted {
        ago: i64,
        value: u8,
    },
    Unstamped {
        value: u8,
    },
    Impossible {
        value: u8,
    },
    /// The clock is read.
    Read,
    /// Somebody sets the clock so far off.
    Set {
        error: i64,
    },
    /// The link ends; the next is so much later.
    Silence {
        seconds: i64,
    },
}

fn event() -> impl Strategy<Value = Event> {
    let ago = prop_oneof![0..200_i64, 0..200_000_i64];
    let value = 0..6_u8;
    prop_oneof![
        6 => (ago.clone(), value.clone(), proptest::option::of(0..3_u8))
            .prop_map(|(ago, value, user)| Event::Stamped { ago, value, user }),
        1 => (ago, value.clone()).prop_map(|(ago, value)| Event::Counted { ago, value }),
        1 => value.clone().prop_map(|value| Event::Unstamped { value }),
        1 => value.prop_map(|value| Event::Impossible { value }),
        2 => Just(Event::Read),
        1 => prop_oneof![-300..300_i64, Just(3600), Just(-3600), -4_000_000..4_000_000_i64]
            .prop_map(|error| Event::Set { error }),
        4 => prop_oneof![30..900_i64, 20_000..200_000_i64].prop_map(|seconds| Event::Silence { seconds }),
    ]
}

/// Lives through the events from a start in May, in seconds and a fraction of a second.
fn frames(events: &[Event]) -> Vec<Frame> {
    let mut at = moment("2026-05-01T08:00:00.345Z");
    let mut error = 0;
    let mut connection = 1;
    let mut frames = Vec::new();
    for event in events {
        at += SignedDuration::from_millis(1_700);
        let shows = |ago: i64| jiff::tz::Offset::UTC.to_datetime(at + SignedDuration::from_secs(error - ago));
        let mut send = |characteristic: &str, value: Vec<u8>| {
            frames.push(frame(connection, at, characteristic, value));
        };
        match *event {
            Event::Stamped { ago, value, user } => {
                let mut measurement = measurement(value, Some(stamp(shows(ago))));
                measurement.user_id = user;
                send("2a35", measurement.encode().to_vec());
            }
            Event::Counted { ago, value } => {
                let measurement = measurement(value, Some(seconds(shows(ago))));
                send("2b34", measurement.encode_enhanced().unwrap().to_vec());
            }
            Event::Unstamped { value } => send("2a35", measurement(value, None).encode().to_vec()),
            Event::Impossible { value } => {
                let stamp = TimeStamp::DateTime(DateTime {
                    month: 13,
                    ..DateTime::from_civil(shows(0)).unwrap()
                });
                send("2a35", measurement(value, Some(stamp)).encode().to_vec());
            }
            Event::Read => {
                let time = CurrentTime::from_civil(shows(0), AdjustReason::default()).unwrap();
                send("2a2b", time.encode().to_vec());
            }
            Event::Set { error: now } => error = now,
            Event::Silence { seconds } => {
                at += SignedDuration::from_secs(seconds);
                connection += 1;
            }
        }
    }
    frames
}

fn household() -> Household {
    zoned(&[("+02:00", None)])
}

fn is_measurement(frame: &Frame) -> bool {
    matches!(frame.characteristic.number(), Some(0x2a35 | 0x2b34))
}

/// The same frame with every clock put forward: the gateway's and the monitor's.
fn shifted(frame: &Frame, by: SignedDuration) -> Frame {
    let mut frame = frame.clone();
    frame.received_at += by;
    let later = |time: DateTime| {
        let civil = time
            .civil()
            .or_else(|| DateTime { month: 1, ..time }.civil())
            .unwrap();
        let moved = DateTime::from_civil(civil + by).unwrap();
        if time.civil().is_some() {
            moved
        } else {
            DateTime { month: 13, ..moved }
        }
    };
    match frame.characteristic.number() {
        Some(0x2a35) => {
            let mut m = quietcuff::gatt::BloodPressureMeasurement::decode(&frame.value).unwrap();
            if let Some(TimeStamp::DateTime(time)) = m.time_stamp {
                m.time_stamp = Some(TimeStamp::DateTime(later(time)));
            }
            frame.value = m.encode().to_vec();
        }
        Some(0x2b34) => {
            let mut m = quietcuff::gatt::BloodPressureMeasurement::decode_enhanced(&frame.value).unwrap();
            m.time_stamp = m.time_stamp.map(|time| seconds(time.civil().unwrap() + by));
            frame.value = m.encode_enhanced().unwrap().to_vec();
        }
        Some(0x2a2b) => {
            let time = CurrentTime::decode(&frame.value).unwrap();
            let civil = time.civil().unwrap() + by;
            frame.value = CurrentTime::from_civil(civil, time.adjust_reason)
                .unwrap()
                .encode()
                .to_vec();
        }
        _ => unreachable!(),
    }
    frame
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn the_order_of_arrival_never_changes_the_result(
        (straight, shuffled) in proptest::collection::vec(event(), 1..40)
            .prop_map(|events| frames(&events))
            .prop_flat_map(|frames| (Just(frames.clone()), Just(frames).prop_shuffle())),
    ) {
        prop_assert_eq!(settled(&shuffled, &household()), settled(&straight, &household()));
    }

    #[test]
    fn a_repeat_never_changes_anything(
        events in proptest::collection::vec(event(), 1..40),
        again in proptest::collection::vec((any::<prop::sample::Index>(), 0..20_000_i64, 0..300_000_i64, 0..5_u32), 1..6),
    ) {
        let frames = frames(&events);
        let kept = settled(&frames, &household());
        let mut more = frames.clone();
        for (which, soon, late, connection) in again {
            let measurements: Vec<&Frame> = frames
                .iter()
                .filter(|frame| is_measurement(frame) && kept.iter().any(|r| r.received_at == frame.received_at))
                .collect();
            if measurements.is_empty() {
                continue;
            }
            let mut frame = (*which.get(&measurements)).clone();
            let unstamped = frame.value[0] & 2 == 0;
            if unstamped {
                // Without a stamp only what comes at once is told for a repeat.
                frame.received_at += SignedDuration::from_millis(soon);
            } else {
                frame.received_at += SignedDuration::from_secs(late);
                frame.connection += connection;
            }
            more.push(frame);
        }
        prop_assert_eq!(settled(&more, &household()), kept);
    }

    /// What was told is not changed by being overheard, and where it was not told it is the same by the ear.
    #[test]
    fn an_ear_beside_it_never_changes_anything(
        events in proptest::collection::vec(event(), 1..40),
        heard in proptest::collection::vec((any::<bool>(), -1_000..1_000_i64), 40),
        untold in proptest::collection::vec(any::<bool>(), 40),
    ) {
        let told = frames(&events);
        let kept = settled(&told, &household());
        let mut both = told.clone();
        for (frame, (heard, millis)) in told.iter().zip(&heard) {
            if *heard && is_measurement(frame) {
                let mut echo = frame.clone();
                echo.overheard = true;
                echo.received_at += SignedDuration::from_millis(*millis);
                both.push(echo);
            }
        }
        prop_assert_eq!(settled(&both, &household()), kept.clone());
        let mut instead = told.clone();
        for (frame, untold) in instead.iter_mut().zip(&untold) {
            // One sent twice and told once counts from where it was told: the same reading, received later. One without
            // stamp would have another name then.
            let once = told.iter().filter(|other| other.value == frame.value).count() == 1;
            frame.overheard = *untold && once && is_measurement(frame) && frame.value[0] & 2 != 0;
        }
        prop_assert_eq!(settled(&instead, &household()), kept);
    }

    #[test]
    fn shifting_all_clocks_shifts_all_times_and_nothing_else(
        events in proptest::collection::vec(event(), 1..40),
        minutes in -20_000..20_000_i64,
    ) {
        // Whole minutes, because a stamp with seconds 0 says something of its own.
        let by = SignedDuration::from_mins(minutes);
        let frames = frames(&events);
        let moved: Vec<Frame> = frames.iter().map(|frame| shifted(frame, by)).collect();
        let before = settled(&frames, &household());
        let after = settled(&moved, &household());
        prop_assert_eq!(before.len(), after.len());
        for (before, after) in before.into_iter().zip(after) {
            let expected = Reading {
                // The octets of a stamp name the record.
                id: after.id.clone(),
                received_at: before.received_at + by,
                time: quietcuff::reading::MeasuredTime {
                    at: before.time.at.map(|at| at + by),
                    stamp: before.time.stamp.map(|stamp| stamp + by),
                    ..before.time
                },
                ..before
            };
            prop_assert_eq!(after, expected);
        }
    }

    #[test]
    fn never_a_time_without_source_nor_after_its_receipt(events in proptest::collection::vec(event(), 1..40)) {
        for reading in settled(&frames(&events), &household()) {
            prop_assert_eq!(reading.time.at.is_none(), reading.time.source == TimeSource::Unknown);
            if let Some(at) = reading.time.at {
                let ahead = at.duration_since(reading.received_at);
                prop_assert!(ahead <= SignedDuration::from_mins(12), "{}", ahead);
            }
        }
    }

    #[test]
    fn intervals_on_one_connection_are_the_monitors_own(
        first in 0..40_000_i64,
        gaps in proptest::collection::vec(1..4_000_i64, 1..6),
        error in -40_000_000..40_000_000_i64,
        known in any::<bool>(),
    ) {
        // All stored before one live reading, by a clock that was never set meanwhile.
        let mut ago = first + gaps.iter().sum::<i64>();
        let mut events = vec![Event::Set { error: if known { error } else { error % 100 } }];
        if known {
            events.push(Event::Read);
        }
        for gap in &gaps {
            events.push(Event::Stamped { ago, value: 1, user: None });
            ago -= gap;
        }
        events.push(Event::Stamped { ago: 3, value: 2, user: None });
        let readings = settled(&frames(&events), &household());
        for pair in readings.windows(2) {
            if let [a, b] = pair
                && let (Some(at_a), Some(at_b), Some(stamp_a), Some(stamp_b)) =
                    (a.time.at, b.time.at, a.time.stamp, b.time.stamp)
            {
                prop_assert_eq!(at_b.duration_since(at_a), stamp_b.duration_since(stamp_a));
            } else {
                prop_assert!(false, "unknown times: {:?}", readings);
            }
        }
    }

    /// As the journal does it: one connection after another, with nothing but the small past between them, and that
    /// written down and read again.
    #[test]
    fn one_connection_at_a_time_gives_the_same(events in proptest::collection::vec(event(), 1..40)) {
        let frames = frames(&events);
        let household = household();
        let zones = zones(&household);
        let gateway = GatewayClock::default();
        let monitor: MonitorId = "c0ffee000001".parse().unwrap();
        let received: Vec<Received<'_>> = frames.iter().map(|frame| Received::new(frame, &gateway)).collect();
        let mut past = serde_json::to_string(&Past::default()).unwrap();
        let mut heard = Records::default();
        let mut readings = Vec::new();
        let (mut fresh, mut repeats) = (0, 0);
        for connection in connections(&received) {
            let before: Past = serde_json::from_str(&past).unwrap();
            let made = Connection::settle(connection, &monitor, &before, &heard, &household, &zones);
            past = serde_json::to_string(&made.past).unwrap();
            repeats += made.repeats.len();
            fresh += made.readings.len();
            prop_assert!(made.refused.is_empty());
            for settled in made.readings {
                prop_assert_eq!(&connection[settled.frame].at, &settled.reading.received_at);
                heard.remember(&settled.record);
                readings.push(settled.reading);
            }
        }
        prop_assert_eq!(fresh + repeats, frames.iter().filter(|frame| is_measurement(frame)).count());
        prop_assert_eq!(readings, settled(&frames, &household));
    }

    /// A civil time that the household's clocks showed is found again from its moment, in every zone and over moves.
    #[test]
    fn moments_and_civil_times_agree(at in 1_300_000_000..2_000_000_000_i64, zone in 0..4_usize, moved in any::<bool>()) {
        let names = ["Europe/Berlin", "Australia/Lord_Howe", "America/St_Johns", "-09:00"];
        let mut spans = vec![(names[zone], None)];
        if moved {
            spans.push((names[(zone + 1) % 4], Some("2020-04-05T03:00:00Z")));
        }
        let wall: Zones = zones(&zoned(&spans));
        let at = Timestamp::from_second(at).unwrap();
        let moments = wall.moments(wall.civil(at)).unwrap();
        prop_assert!(at == moments.first() || at == moments.last(), "{:?}", moments);
        prop_assert!(!matches!(moments, quietcuff::household::Moments::Never(_)));
    }
}

#[test]
fn a_person_can_follow_a_frame_to_its_reading() {
    // The generator is not vacuous: it makes every source of time.
    let events = [
        Event::Stamped {
            ago: 5,
            value: 1,
            user: None,
        },
        Event::Silence { seconds: 900 },
        Event::Unstamped { value: 1 },
        Event::Silence { seconds: 900 },
        Event::Impossible { value: 1 },
        Event::Silence { seconds: 900 },
        Event::Stamped {
            ago: 4000,
            value: 1,
            user: None,
        },
    ];
    // The monitor shows UTC, the household +02:00.
    let sources: Vec<TimeSource> = settled(&frames(&events), &zoned(&[("+00:00", None)]))
        .iter()
        .map(|reading| reading.time.source)
        .collect();
    assert_eq!(
        sources,
        [
            TimeSource::MonitorClock,
            TimeSource::Receipt,
            TimeSource::Unknown,
            TimeSource::KnownOffset
        ]
    );
    assert_eq!(civil("2026-05-01T08:00:00").second(), 0);
}
