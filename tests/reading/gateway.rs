//! A gateway that boots without its own time and learns it later.

use crate::reading::table::{frame, measurement, moment, stamp, zoned, zones};
use jiff::{SignedDuration, Timestamp};
use quietcuff::frame::{Frame, Uptime};
use quietcuff::reading::{ClockSample, GatewayClock, TimeSource, readings};

fn sample(boot: &str, uptime_s: i64, wall: &str, synchronized: bool) -> ClockSample {
    ClockSample {
        uptime: Uptime {
            boot: boot.to_owned(),
            micros: uptime_s * 1_000_000,
        },
        wall: moment(wall),
        synchronized,
        within: None,
    }
}

fn heard(boot: Option<(&str, i64)>, received: &str) -> Frame {
    let value = measurement(1, None).encode().to_vec();
    let mut frame = frame(1, moment(received), "2a35", value);
    frame.uptime = boot.map(|(boot, uptime_s)| Uptime {
        boot: boot.to_owned(),
        micros: uptime_s * 1_000_000,
    });
    frame
}

fn mended(samples: &[ClockSample], frame: &Frame) -> Timestamp {
    let forwards = GatewayClock::new(samples.to_vec()).received_at(frame);
    let backwards = GatewayClock::new(samples.iter().rev().cloned()).received_at(frame);
    assert_eq!(forwards, backwards, "the order of samples does not matter");
    forwards
}

#[test]
fn a_frame_received_before_the_time_was_learnt_is_mended() {
    let samples = [
        sample("a", 10, "1970-01-01T00:00:10Z", false),
        sample("a", 300, "2026-05-01T08:05:00Z", true),
        sample("a", 9000, "2026-05-01T10:30:00Z", true),
    ];
    let early = heard(Some(("a", 60)), "1970-01-01T00:01:00Z");
    assert_eq!(mended(&samples, &early), moment("2026-05-01T08:01:00Z"));
}

#[test]
fn a_frame_received_by_a_right_clock_stays_to_the_microsecond() {
    let samples = [
        sample("a", 300, "2026-05-01T08:05:00Z", true),
        sample("a", 9000, "2026-05-01T10:30:01.5Z", true),
    ];
    let late = heard(Some(("a", 600)), "2026-05-01T08:10:00.123456Z");
    assert_eq!(mended(&samples, &late), late.received_at);
}

#[test]
fn a_clock_that_a_person_set_counts_where_none_was_synchronised() {
    let samples = [
        sample("a", 10, "2020-01-01T00:00:10Z", false),
        sample("a", 300, "2026-05-01T08:05:00Z", false),
    ];
    let early = heard(Some(("a", 60)), "2020-01-01T00:01:00Z");
    assert_eq!(mended(&samples, &early), moment("2026-05-01T08:01:00Z"));
}

#[test]
fn a_synchronised_clock_outranks_a_later_one_that_is_not() {
    let samples = [
        sample("a", 300, "2026-05-01T08:05:00Z", true),
        sample("a", 400, "2031-05-01T08:05:00Z", false),
    ];
    let between = heard(Some(("a", 350)), "2031-05-01T08:04:10Z");
    assert_eq!(mended(&samples, &between), moment("2026-05-01T08:05:50Z"));
}

#[test]
fn a_clock_that_drifted_without_network_is_mended_near_the_step_and_left_alone_far_from_it() {
    // Synchronised at boot, then without network for two months; both clocks lose five minutes, then a step.
    let samples = [
        sample("a", 100, "2026-05-01T08:00:00Z", true),
        sample("a", 5_183_800, "2026-06-30T08:00:00Z", true),
    ];
    let early = heard(Some(("a", 200)), "2026-05-01T08:01:40Z");
    assert_eq!(mended(&samples, &early), early.received_at);
    let slow = heard(Some(("a", 5_183_700)), "2026-06-30T07:53:20Z");
    assert_eq!(mended(&samples, &slow), moment("2026-06-30T07:58:20Z"));
}

#[test]
fn another_boot_says_nothing() {
    let samples = [sample("a", 300, "2026-05-01T08:05:00Z", true)];
    let other = heard(Some(("b", 60)), "1970-01-01T00:01:00Z");
    assert_eq!(mended(&samples, &other), other.received_at);
    let without = heard(None, "1970-01-01T00:01:00Z");
    assert_eq!(mended(&samples, &without), without.received_at);
}

/// What another machine tells of the time counts in that boot, with how far it may be off, and proves nothing of others.
#[test]
fn a_time_that_was_told_is_one_within_its_limits() {
    let told = |boot, uptime_s, within_ms| ClockSample {
        within: Some(SignedDuration::from_millis(within_ms)),
        ..sample(boot, uptime_s, "2026-05-01T08:05:00Z", false)
    };
    let (own, other) = (
        heard(Some(("a", 100)), "1970-01-01T00:01:40Z"),
        heard(Some(("b", 90)), "2026-05-01T08:01:30Z"),
    );
    let clock = GatewayClock::new([sample("a", 1, "1970-01-01T00:00:01Z", false), told("a", 300, 40)]);
    assert_eq!(clock.received_at(&own), moment("2026-05-01T08:01:40Z"));
    // 200 s apart two boot clocks drift by 10 ms more.
    assert_eq!(clock.within(&own), Some(SignedDuration::from_millis(50)));
    assert!(clock.knew(&own) && clock.knew(&other) && !clock.ever_knew());
    assert_eq!(clock.within(&other), None);
    // Beside a gateway that is synchronised.
    let clock = GatewayClock::new([told("a", 300, 40), sample("c", 1, "2026-05-01T08:00:00Z", true)]);
    assert!(clock.knew(&own) && !clock.knew(&other));
    // Where its own clock says the same, nothing was told that it did not know.
    let right = heard(Some(("a", 100)), "2026-05-01T08:01:39Z");
    assert_eq!(
        (clock.received_at(&right), clock.within(&right)),
        (right.received_at, None)
    );
}

#[test]
fn readings_of_a_gateway_without_time_are_right_once_it_knows() {
    // Stamped by a right monitor and unstamped, both heard in 1970.
    let household = zoned(&[("+00:00", None)]);
    let mut stamped = heard(Some(("a", 30)), "1970-01-01T00:00:30Z");
    let time = stamp(crate::reading::table::civil("2026-05-01T08:00:27"));
    stamped.value = measurement(2, Some(time)).encode().to_vec();
    let frames = [stamped, heard(Some(("a", 90)), "1970-01-01T00:01:30Z")];
    let settle = |samples: Vec<ClockSample>| {
        let gateway = GatewayClock::new(samples);
        let made = readings(&frames, &household, &zones(&household), &gateway);
        made.into_iter()
            .map(|reading| (reading.time.at, reading.time.source))
            .collect::<Vec<_>>()
    };
    // Until then a stamp decades after its receipt is in the future, and a receipt of 1970 is none.
    assert_eq!(
        settle(Vec::new()),
        [(None, TimeSource::Unknown), (None, TimeSource::Unknown)]
    );
    assert_eq!(
        settle(vec![sample("a", 300, "2026-05-01T08:05:00Z", true)]),
        [
            (Some(moment("2026-05-01T08:00:27Z")), TimeSource::MonitorClock),
            (Some(moment("2026-05-01T08:01:30Z")), TimeSource::Receipt)
        ]
    );
}
