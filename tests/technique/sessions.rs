//! Sittings, sessions, their part of the day and how far they have come.

use crate::technique::made::{World, at, names, p1, reading};
use jiff::civil::time;
use jiff::tz::TimeZone;
use quietcuff::gatt::{Sfloat, Unit};
use quietcuff::household::{Condition, Person, Window};
use quietcuff::monitoring::protocols::Protocols;
use quietcuff::reading::Reading;
use quietcuff::sitting::{SessionRule, Slot};
use quietcuff::technique::session::SessionState;

fn two(first: (&str, &str), second: (&str, &str)) -> Vec<Reading> {
    vec![
        reading("2026-03-01T07:00:00", first.0, first.1),
        reading("2026-03-01T07:01:00", second.0, second.1),
    ]
}

/// More than 10 mmHg, in either pressure, in exact decimals (common practice).
#[test]
fn a_third_reading_is_due_above_ten() {
    for (first, second, due) in [
        (("130", "80"), ("120", "80"), false),
        (("130.1", "80"), ("120", "80"), true),
        (("130.0", "80"), ("120.0", "80"), false),
        (("120", "80"), ("120", "90"), false),
        (("120", "80"), ("120", "90.1"), true),
        (("120", "80.2"), ("120", "90.2"), false),
        (("120", "80"), ("131", "70"), true),
    ] {
        let judged = World::new().sitting(two(first, second));
        let session = judged.session.unwrap();
        assert_eq!(session.wanted, if due { 3 } else { 2 }, "{first:?} {second:?}");
        assert_eq!(
            session.state(None),
            if due {
                SessionState::Short
            } else {
                SessionState::Done
            }
        );
        for judgement in &judged.judgements {
            let expected: &[&str] = if due { &["third-reading-missing"] } else { &[] };
            assert_eq!(names(judgement.reasons), expected);
            assert!(judgement.disposition.is_averaged());
        }
        let mut three = two(first, second);
        three.push(reading("2026-03-01T07:02:00", "121", "81"));
        let judged = World::new().sitting(three);
        assert_eq!(judged.session.unwrap().state(None), SessionState::Done);
        assert!(
            judged
                .judgements
                .iter()
                .all(|judgement| judgement.reasons.is_empty())
        );
    }
    // 10 mmHg are 1.3332 kPa.
    for (second, due) in [("17.3", false), ("17.4", true)] {
        let mut readings = two(("16.0", "10.0"), (second, "10.0"));
        readings.iter_mut().for_each(|reading| reading.unit = Unit::KPa);
        assert_eq!(
            World::new().sitting(readings).session.unwrap().apart,
            due,
            "{second}"
        );
    }
}

/// The first two that count are compared, not the first two that were taken.
#[test]
fn a_set_aside_reading_is_not_compared() {
    let mut readings = two(("150", "80"), ("120", "80"));
    readings[0].discarded = Some("moved".into());
    readings.push(reading("2026-03-01T07:02:00", "121", "80"));
    let session = World::new().sitting(readings).session.unwrap();
    assert_eq!((session.counted, session.wanted, session.apart), (2, 2, false));
}

#[test]
fn a_lone_reading_is_marked_until_another_comes() {
    let judged = World::new().sitting(vec![reading("2026-03-01T07:00:00", "120", "80")]);
    assert_eq!(names(judged.judgements[0].reasons), ["lone-reading"]);
    let session = judged.session.unwrap();
    assert_eq!(session.state(Some(at("2026-03-01T07:10:00"))), SessionState::Open);
    assert_eq!(
        session.state(Some(at("2026-03-01T07:10:01"))),
        SessionState::Short
    );
    assert_eq!(session.state(None), SessionState::Short);
    // Where the protocol wants one, it is not alone.
    let mut world = World::new();
    world.rule.readings = 1;
    let judged = world.sitting(vec![reading("2026-03-01T07:00:00", "120", "80")]);
    assert!(judged.judgements[0].reasons.is_empty());
    assert_eq!(judged.session.unwrap().state(None), SessionState::Done);
}

#[test]
fn a_session_in_which_nothing_counts_is_empty() {
    let mut failed = reading("2026-03-01T07:00:00", "120", "80");
    failed.systolic = Sfloat::NAN;
    let session = World::new().sitting(vec![failed]).session.unwrap();
    assert_eq!((session.counted, session.slot), (0, Slot::Morning));
    assert_eq!(session.state(None), SessionState::Empty);
    assert_eq!(session.state(Some(at("2026-03-01T07:05:00"))), SessionState::Open);
}

/// Taiwan 2020: at least three readings a session in atrial fibrillation.
#[test]
fn atrial_fibrillation_wants_three() {
    let world = World::with(Person {
        conditions: vec![Condition::AtrialFibrillation],
        ..Person::default()
    });
    let judged = world.sitting(two(("120", "80"), ("121", "80")));
    assert_eq!(judged.session.unwrap().wanted, 3);
    assert_eq!(names(judged.judgements[0].reasons), ["third-reading-missing"]);
}

/// Ten minutes belong together, one second more does not.
#[test]
fn ten_minutes_part_two_sittings() {
    for (last, sittings) in [("2026-03-01T07:10:00", 1), ("2026-03-01T07:10:01", 2)] {
        let readings = vec![
            reading("2026-03-01T07:00:00", "120", "80"),
            reading(last, "120", "80"),
        ];
        assert_eq!(World::new().judge(readings).len(), sittings);
    }
    // Another person on the same cuff sits by themselves.
    let mut others = reading("2026-03-01T07:01:00", "120", "80");
    others.person = Some("p2".parse().unwrap());
    let judged = World::new().judge(vec![
        reading("2026-03-01T07:00:00", "120", "80"),
        others,
        reading("2026-03-01T07:02:00", "120", "80"),
    ]);
    assert_eq!(judged.len(), 2);
    assert!(
        judged[0]
            .1
            .judgements
            .iter()
            .all(|judgement| judgement.reasons.is_empty())
    );
}

/// 05:00 to 11:59 and 17:00 to 23:59, both minutes included.
#[test]
fn windows_include_their_first_and_last_minute() {
    for (civil, slot) in [
        ("04:59:59", Slot::Other),
        ("05:00:00", Slot::Morning),
        ("11:59:59", Slot::Morning),
        ("12:00:00", Slot::Other),
        ("16:59:59", Slot::Other),
        ("17:00:00", Slot::Evening),
        ("23:59:59", Slot::Evening),
        ("00:00:00", Slot::Other),
    ] {
        let judged = World::new().sitting(vec![reading(&format!("2026-03-01T{civil}"), "120", "80")]);
        assert_eq!(judged.session.unwrap().slot, slot, "{civil}");
        let marked = names(judged.judgements[0].reasons).contains(&"outside-window");
        assert_eq!(marked, slot == Slot::Other, "{civil}");
    }
}

#[test]
fn a_window_may_run_over_midnight() {
    let world = World::with(Person {
        morning: Some(Window {
            from: time(22, 0, 0, 0),
            to: time(1, 30, 0, 0),
        }),
        evening: Some(Window {
            from: time(10, 0, 0, 0),
            to: time(12, 0, 0, 0),
        }),
        ..Person::default()
    });
    for (civil, slot) in [
        ("2026-03-01T21:59:59", Slot::Other),
        ("2026-03-01T22:00:00", Slot::Morning),
        ("2026-03-02T00:00:00", Slot::Morning),
        ("2026-03-02T01:30:59", Slot::Morning),
        ("2026-03-02T01:31:00", Slot::Other),
        ("2026-03-02T12:00:30", Slot::Evening),
    ] {
        let session = world.sitting(vec![reading(civil, "120", "80")]).session.unwrap();
        assert_eq!(session.slot, slot, "{civil}");
    }
}

/// The wall clock decides, on both sides of the change of 29 March 2026 in Berlin (02:00 to 03:00).
#[test]
fn windows_follow_the_household_clock_through_a_change() {
    let mut world = World::new();
    world.zone = TimeZone::get("Europe/Berlin").unwrap();
    for (instant, slot) in [
        ("2026-03-28T04:00:00Z", Slot::Morning),
        ("2026-03-28T03:59:59Z", Slot::Other),
        ("2026-03-29T03:00:00Z", Slot::Morning),
        ("2026-03-29T02:59:59Z", Slot::Other),
    ] {
        let mut reading = reading("2026-03-29T05:00:00", "120", "80");
        reading.time.at = Some(instant.parse().unwrap());
        assert_eq!(
            world.sitting(vec![reading]).session.unwrap().slot,
            slot,
            "{instant}"
        );
    }
}

/// A reading a minute before the window is marked; it does not take the session out of the window.
#[test]
fn a_session_belongs_to_the_window_that_it_reaches() {
    let judged = World::new().sitting(vec![
        reading("2026-03-01T04:59:00", "120", "80"),
        reading("2026-03-01T05:00:00", "120", "80"),
    ]);
    assert_eq!(names(judged.judgements[0].reasons), ["outside-window"]);
    assert!(judged.judgements[1].reasons.is_empty());
    let session = judged.session.unwrap();
    assert_eq!(session.slot, Slot::Morning);
    assert_eq!(session.id.0, "p1-2026-03-01T04:59:00 120/80");
    assert_eq!(session.person, p1());
    assert_eq!(
        (session.start, session.end),
        (at("2026-03-01T04:59:00"), at("2026-03-01T05:00:00"))
    );
    assert_eq!(session.readings.len(), 2);
    // A session over midnight is of the day on which it began.
    let over = World::new().sitting(vec![
        reading("2026-03-01T23:59:00", "120", "80"),
        reading("2026-03-02T00:01:00", "120", "80"),
    ]);
    assert_eq!(over.session.unwrap().date, jiff::civil::date(2026, 3, 1));
}

/// The default rule is what the built-in default protocol says.
#[test]
fn the_default_rule_is_the_seven_day_protocol() {
    let protocols = Protocols::built_in().unwrap();
    assert_eq!(
        protocols.get("seven-day").unwrap().session_rule(),
        SessionRule::default()
    );
    for protocol in protocols.iter() {
        let rule = protocol.session_rule();
        assert!((1..=3).contains(&rule.readings), "{}", protocol.name);
        assert!(
            rule.gap_s >= 60 && rule.readings_in_atrial_fibrillation >= 3,
            "{}",
            protocol.name
        );
    }
}
