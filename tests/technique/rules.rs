//! The edges of what can be observed.

use crate::technique::made::{World, decimal, m1, names, reading};
use jiff::SignedDuration;
use quietcuff::gatt::{MeasurementStatus, Sfloat, Unit};
use quietcuff::household::{Monitor, Person, Site};
use quietcuff::reading::{Precision, Reading, TimeSource};
use quietcuff::technique::{Detected, Disposition, Reason, detected, explain, of_monitor};

const MORNING: &str = "2026-03-01T07:02:11";

/// The limits of the impossible and the unlikely, on both sides: systolic 40 to 300 and 60 to 230, diastolic 20 to 200
/// and 40 to 130, pulse pressure 15 to 120, pulse 35 to 180.
#[test]
fn values() {
    for (systolic, diastolic, pulse, expected) in [
        ("120", "80", "72", ""),
        ("80", "80", "72", "impossible-value"),
        ("80.1", "80", "72", "unlikely-value"),
        ("79.9", "80", "72", "impossible-value"),
        ("39.9", "25", "72", "impossible-value"),
        ("40", "25", "72", "unlikely-value"),
        ("300", "190", "72", "unlikely-value"),
        ("301", "190", "72", "impossible-value"),
        ("60", "19.9", "72", "impossible-value"),
        ("60", "20", "72", "unlikely-value"),
        ("250", "200", "72", "unlikely-value"),
        ("250", "201", "72", "impossible-value"),
        ("59.9", "40", "72", "unlikely-value"),
        ("60", "40", "72", ""),
        ("230", "120", "72", ""),
        ("231", "120", "72", "unlikely-value"),
        ("100", "39.9", "72", "unlikely-value"),
        ("100", "40", "72", ""),
        ("180", "130", "72", ""),
        ("180", "131", "72", "unlikely-value"),
        ("95", "80", "72", ""),
        ("94.9", "80", "72", "unlikely-value"),
        ("200", "80", "72", ""),
        ("200.1", "80", "72", "unlikely-value"),
        ("120", "80", "35", ""),
        ("120", "80", "34.9", "unlikely-value"),
        ("120", "80", "180", ""),
        ("120", "80", "180.1", "unlikely-value"),
    ] {
        let mut reading = reading(MORNING, systolic, diastolic);
        reading.pulse_rate = Some(decimal(pulse));
        let judged = World::new().alone(reading);
        assert_eq!(
            names(judged.reasons).join(" "),
            expected,
            "{systolic}/{diastolic} {pulse}"
        );
        let disposition = match expected {
            "impossible-value" => Disposition::SetAside,
            _ => judged.disposition,
        };
        assert_eq!(judged.disposition, disposition);
        assert_eq!(judged.disposition.is_averaged(), expected != "impossible-value");
    }
}

/// All five special codes of IEEE 11073-20601, in either pressure. A pulse that is none says nothing.
#[test]
fn no_value() {
    for bits in [0x07fe, 0x07ff, 0x0800, 0x0801, 0x0802] {
        let special = Sfloat::from_bits(bits);
        for (systolic, diastolic) in [
            (special, decimal("80")),
            (decimal("120"), special),
            (special, special),
        ] {
            let mut reading = reading(MORNING, "120", "80");
            (reading.systolic, reading.diastolic) = (systolic, diastolic);
            let judged = World::new().alone(reading);
            assert_eq!(names(judged.reasons), ["no-value"]);
            assert_eq!(judged.disposition, Disposition::SetAside);
        }
        let mut reading = reading(MORNING, "120", "80");
        reading.pulse_rate = Some(special);
        assert!(World::new().alone(reading).reasons.is_empty());
    }
    // A number that no pressure can be: 2000 × 10⁷ mmHg.
    let mut huge = reading(MORNING, "120", "80");
    huge.systolic = Sfloat::new(2000, 7).unwrap();
    assert_eq!(names(World::new().alone(huge).reasons), ["impossible-value"]);
}

/// 300 mmHg are 39.9967 kPa, 40 mmHg are 5.3329 kPa (NIST SP 811: 1 mmHg is 0.1333224 kPa).
#[test]
fn kilopascals_are_judged_as_what_they_are() {
    for (systolic, diastolic, expected) in [
        ("16.0", "10.7", ""),
        ("39.9", "24.0", "unlikely-value"),
        ("40.0", "24.0", "impossible-value"),
        ("5.34", "3.00", "unlikely-value"),
        ("5.33", "3.00", "impossible-value"),
        // 120 and 80 in kPa is what a unit mix-up looks like: 900/600 mmHg.
        ("120", "80", "impossible-value"),
    ] {
        let mut reading = reading(MORNING, systolic, diastolic);
        reading.unit = Unit::KPa;
        let judged = World::new().alone(reading);
        assert_eq!(
            names(judged.reasons).join(" "),
            expected,
            "{systolic}/{diastolic} kPa"
        );
    }
}

/// Status bit, Feature bit, and what the two say together (GATT Specification Supplement, Blood Pressure Feature).
#[test]
fn status_bits_have_three_states() {
    for (bit, feature_bit, reason, disposition) in [
        (1u16, 1u16, Reason::BodyMovement, Disposition::SetAside),
        (1 << 1, 1 << 1, Reason::CuffTooLoose, Disposition::SetAside),
        (1 << 5, 1 << 4, Reason::ImproperPosition, Disposition::SetAside),
        (1 << 2, 1 << 2, Reason::IrregularPulse, Disposition::Marked),
        (1 << 3, 1 << 3, Reason::PulseRateAboveRange, Disposition::Marked),
        (1 << 4, 1 << 3, Reason::PulseRateBelowRange, Disposition::Marked),
    ] {
        for (status, feature, expected) in [
            (Some(bit), Some(feature_bit), Detected::Yes),
            (Some(bit), Some(0x1ff), Detected::Yes),
            // Nobody read the Feature: a warning is a warning, silence is not.
            (Some(bit), None, Detected::Yes),
            (Some(0), None, Detected::Unknown),
            (Some(0), Some(feature_bit), Detected::No),
            // The monitor says that it does not look for it.
            (Some(0), Some(!feature_bit), Detected::Unknown),
            (Some(bit), Some(!feature_bit), Detected::Unknown),
            // No status in the frame.
            (None, Some(feature_bit), Detected::Unknown),
            (None, None, Detected::Unknown),
        ] {
            let mut reading = reading(MORNING, "120", "80");
            reading.status = status.map(MeasurementStatus);
            reading.feature = feature;
            let found = detected(&reading).find(|(found, _)| *found == reason).unwrap().1;
            assert_eq!(found, expected, "{reason:?} {status:?} {feature:?}");
            let judged = World::new().alone(reading.clone());
            if expected == Detected::Yes {
                assert_eq!(names(judged.reasons), [reason.name()]);
                assert_eq!(judged.disposition, disposition);
            } else {
                assert!(judged.reasons.is_empty(), "{reason:?} {status:?} {feature:?}");
            }
            let contradicts = status == Some(bit) && expected == Detected::Unknown;
            let told = explain(&reading, &judged)
                .join("\n")
                .contains("Ignored: the monitor set its bit");
            assert_eq!(told, contradicts, "{reason:?} {status:?} {feature:?}");
        }
    }
}

/// 0b11 in the pulse range is reserved, and reserved bits mean nothing.
#[test]
fn reserved_status_means_nothing() {
    let mut reading = reading(MORNING, "120", "80");
    reading.status = Some(MeasurementStatus(0b11 << 3 | MeasurementStatus::RESERVED));
    assert!(World::new().alone(reading).reasons.is_empty());
}

/// A mean arterial pressure lies between the other two, or it alone is dropped.
#[test]
fn mean_arterial_pressure_is_dropped_alone() {
    for (mean, kept) in [
        ("80", false),
        ("80.1", true),
        ("93.3", true),
        ("119", true),
        ("120", false),
        ("7", false),
    ] {
        let mut reading = reading(MORNING, "120", "80");
        reading.mean_arterial_pressure = decimal(mean);
        let judged = World::new().alone(reading.clone());
        assert!(judged.reasons.is_empty());
        assert_eq!(
            judged.mean_arterial_pressure,
            kept.then(|| decimal(mean)),
            "{mean}"
        );
        assert_eq!(explain(&reading, &judged).join("\n").contains("Dropped"), !kept);
    }
    let without = World::new().alone(reading(MORNING, "120", "80"));
    assert_eq!(without.mean_arterial_pressure, None);
}

fn pair(seconds: i64, change: impl Fn(&mut Reading, &mut Reading)) -> Vec<String> {
    let mut first = reading("2026-03-01T07:00:00", "120", "80");
    let mut second = reading("2026-03-01T07:00:00", "121", "81");
    let gap = SignedDuration::from_secs(seconds);
    second.time.at = second.time.at.map(|at| at + gap);
    second.time.stamp = second.time.stamp.map(|stamp| stamp + gap);
    second.received_at += gap;
    change(&mut first, &mut second);
    let judged = World::new().sitting(vec![first, second]);
    judged
        .judgements
        .iter()
        .map(|judgement| names(judgement.reasons).join(" "))
        .collect()
}

/// NICE NG136 rec 1.2.7 and AHA/AMA 2020: at least 1 minute apart.
#[test]
fn fifty_nine_seconds_are_too_soon_and_sixty_are_not() {
    assert_eq!(pair(59, |_, _| ()), ["lone-reading", "too-soon"]);
    assert_eq!(pair(60, |_, _| ()), ["", ""]);
    assert_eq!(pair(61, |_, _| ()), ["", ""]);
    assert_eq!(pair(0, |_, _| ()), ["lone-reading", "too-soon"]);
}

#[test]
fn only_stamps_to_the_second_prove_that_it_was_too_soon() {
    for source in [TimeSource::Receipt, TimeSource::Stated] {
        assert_eq!(pair(30, |_, second| second.time.source = source), ["", ""]);
        assert_eq!(pair(30, |first, _| first.time.source = source), ["", ""]);
    }
    for source in [TimeSource::KnownOffset, TimeSource::WallClock] {
        let both = pair(59, |first, second| {
            (first.time.source, second.time.source) = (source, source);
        });
        assert_eq!(both, ["lone-reading", "too-soon"], "{source:?}");
    }
    // Whole minutes: 07:00 and 07:00, 07:00 and 07:01.
    for seconds in [0, 60] {
        let both = pair(seconds, |first, second| {
            (first.time.precision, second.time.precision) = (Precision::Minute, Precision::Minute);
        });
        assert_eq!(both, ["", ""]);
    }
    // A clock that was set 40 s back between the two: its stamps say 30 s, the moments 70 s.
    let set = pair(70, |_, second| {
        second.time.stamp = second
            .time
            .stamp
            .map(|stamp| stamp - SignedDuration::from_secs(40));
        second.time.correction_s = 40;
    });
    assert_eq!(set, ["", ""]);
}

/// Two clocks prove less than one: each was read to the second.
#[test]
fn two_monitors_squeeze_one_arm() {
    let other = |_: &mut Reading, second: &mut Reading| second.monitor = "m2".parse().unwrap();
    assert_eq!(pair(57, other), ["lone-reading", "too-soon"]);
    assert_eq!(pair(58, other), ["", ""]);
    let unread = |first: &mut Reading, second: &mut Reading| {
        second.monitor = "m2".parse().unwrap();
        first.time.source = TimeSource::WallClock;
    };
    assert_eq!(pair(30, unread), ["", ""]);
}

/// A failed measurement squeezed the arm as well; a set-aside one counts as the reading before.
#[test]
fn too_soon_after_a_failed_measurement() {
    let mut failed = reading("2026-03-01T07:00:00", "120", "80");
    failed.systolic = Sfloat::NAN;
    let soon = reading("2026-03-01T07:00:50", "120", "80");
    let then = reading("2026-03-01T07:01:40", "121", "80");
    let well = reading("2026-03-01T07:02:40", "122", "80");
    let judged = World::new().sitting(vec![failed, soon, then, well]);
    let all: Vec<_> = judged
        .judgements
        .iter()
        .map(|j| names(j.reasons).join(" "))
        .collect();
    assert_eq!(all, ["no-value", "too-soon", "too-soon", "lone-reading"]);
}

#[test]
fn a_reading_between_two_proven_ones_does_not_hide_that_they_are_too_close() {
    let first = reading("2026-03-01T07:00:00", "120", "80");
    let mut between = reading("2026-03-01T07:00:30", "120", "81");
    between.time.source = TimeSource::Receipt;
    let last = reading("2026-03-01T07:00:50", "121", "80");
    let judged = World::new().sitting(vec![first, between, last]);
    assert_eq!(names(judged.judgements[2].reasons), ["too-soon"]);
}

#[test]
fn unknown_time_and_person_wait_for_an_answer() {
    let world = World::new();
    let mut timeless = reading(MORNING, "120", "80");
    timeless.time.at = None;
    timeless.time.source = TimeSource::Unknown;
    let judged = world.sitting(vec![timeless.clone()]);
    assert_eq!(
        names(judged.judgements[0].reasons),
        ["time-unknown", "clock-fault"]
    );
    assert_eq!(judged.session, None);
    timeless.time.stamp = None;
    assert_eq!(names(world.alone(timeless.clone()).reasons), ["time-unknown"]);

    let mut nobodys = reading(MORNING, "120", "80");
    nobodys.person = None;
    let judged = world.sitting(vec![nobodys.clone()]);
    assert_eq!(names(judged.judgements[0].reasons), ["person-unknown"]);
    assert_eq!(judged.judgements[0].disposition, Disposition::SetAside);
    assert_eq!(judged.session, None);
    // They never sit together, and never make another reading too soon.
    let known = reading("2026-03-01T07:02:31", "120", "80");
    assert_eq!(
        world.judge(vec![nobodys.clone(), nobodys, timeless, known]).len(),
        4
    );
}

#[test]
fn a_discarded_reading_is_set_aside_in_their_own_words() {
    let mut reading = reading(MORNING, "120", "80");
    reading.discarded = Some("the neighbour tried it".into());
    let judged = World::new().alone(reading.clone());
    assert_eq!(judged.disposition, Disposition::SetAside);
    assert_eq!(names(judged.reasons), ["discarded"]);
    let text = explain(&reading, &judged).join("\n");
    assert!(text.contains("the neighbour tried it"), "{text}");
    assert!(text.contains("does not go into the average"), "{text}");
}

/// The range printed on the cuff, 22 to 32 cm, includes its ends; a wrist tells nothing about the upper arm.
#[test]
fn cuff_and_site() {
    let monitor = Monitor {
        cuff_min_mm: Some(220),
        cuff_max_mm: Some(320),
        validated: Some("stated for this test".into()),
        ..Monitor::default()
    };
    for (arm_cm, site, expected) in [
        (Some(21.9), None, "cuff-size"),
        (Some(22.0), None, ""),
        (Some(32.0), Some(Site::UpperArm), ""),
        (Some(32.1), Some(Site::UpperArm), "cuff-size"),
        (None, None, ""),
        (Some(40.0), Some(Site::Wrist), "wrist-monitor"),
    ] {
        let mut world = World::with(Person {
            arm_cm,
            ..Person::default()
        });
        let monitor = Monitor {
            site,
            ..monitor.clone()
        };
        world.household.monitors.insert(m1(), (monitor, false));
        let judged = world.alone(reading(MORNING, "120", "80"));
        assert_eq!(names(judged.reasons).join(" "), expected, "{arm_cm:?} {site:?}");
        assert!(judged.disposition.is_averaged());
    }
}

/// Said once for the monitor, not on each of its readings.
#[test]
fn a_monitor_without_stated_validation_is_told_once() {
    let mut world = World::new();
    world.household.monitors.insert(m1(), (Monitor::default(), false));
    assert_eq!(
        world.alone(reading(MORNING, "120", "80")).disposition,
        Disposition::Counted
    );
    assert_eq!(names(of_monitor(&Monitor::default())), ["not-validated"]);
    let stated = Monitor {
        validated: Some("stated for this test".into()),
        ..Monitor::default()
    };
    assert!(of_monitor(&stated).is_empty());
}

#[test]
fn an_explanation_names_the_source_and_never_subtracts() {
    let mut reading = reading(MORNING, "120", "80");
    reading.status = Some(MeasurementStatus(0b101));
    reading.time.precision = Precision::Minute;
    let judged = World::new().alone(reading.clone());
    assert_eq!(names(judged.because()), ["body-movement"]);
    let lines = explain(&reading, &judged);
    assert_eq!(
        lines,
        [
            "120 over 80 mmHg, pulse 72: set aside. It is kept and listed, and does not go into the average.",
            "body-movement (observed, set-aside): The monitor felt movement. Keep still while the cuff works. Source: \
             Bluetooth Blood Pressure Service, Measurement Status; common practice.",
            "irregular-pulse (observed, marked): The monitor reported an irregular pulse. Show your clinic if it does \
             so again. Source: Bluetooth Blood Pressure Service, Measurement Status; common practice.",
            "Its stamp has whole minutes only, which cannot prove that it was taken too soon after another.",
        ]
    );
}
