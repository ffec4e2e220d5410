//! The simulated household: what the gateway hears against the truth beside it, and the people against what is
//! published of people.

use jiff::civil::{Date, date};
use jiff::tz::TimeZone;
use jiff::{SignedDuration, Timestamp};
use proptest::prelude::*;
use quietcuff::frame::Frame;
use quietcuff::gatt::{
    BloodPressureMeasurement, Characteristic, ConsentCode, Feature, MeasurementStatus, Unit, UserControl,
    Value, decode,
};
use quietcuff::household::Statement;
use quietcuff::radio::simulated::{
    Clock, Fault, Habits, Happening, Household, LinkFaults, Lived, Make, Memory, Monitor, Pressure, Slot,
    Stamps, Taken, Truth,
};
use std::collections::BTreeMap;

const FIRST: Date = date(2026, 3, 23);

/// Summer time begins there on 29 March 2026, within the week.
fn zone() -> TimeZone {
    TimeZone::get("Europe/Oslo").unwrap()
}

fn make() -> Make {
    Make::plain([0xc0, 0xff, 0xee, 0, 0, 7])
}

fn alone(make: Make, habits: Habits) -> Household {
    Household::alone(FIRST, zone(), make, Pressure::usual(134.0, 84.0, 70.0), habits)
}

fn measurements(lived: &Lived) -> Vec<(&Frame, BloodPressureMeasurement<'_>)> {
    lived
        .frames
        .iter()
        .filter(|frame| frame.characteristic == Characteristic::BLOOD_PRESSURE_MEASUREMENT)
        .map(|frame| (frame, BloodPressureMeasurement::decode(&frame.value).unwrap()))
        .collect()
}

fn stamp(measurement: &BloodPressureMeasurement<'_>) -> jiff::civil::DateTime {
    measurement.time_stamp.unwrap().civil().unwrap()
}

#[test]
fn the_same_seed_gives_the_same_days_and_another_one_others() {
    let week = |seed| Household::demonstration(FIRST, zone()).live(seed, 7);
    assert_eq!(week(1), week(1));
    assert_ne!(week(1), week(2));
    // Longer lives begin alike.
    let longer = Household::demonstration(FIRST, zone()).live(1, 9);
    let same = |a: &Truth, b: &Truth| (a.end, a.displayed) == (b.end, b.displayed);
    assert!(week(1).truth.iter().zip(&longer.truth).all(|(a, b)| same(a, b)));
}

#[test]
fn the_demonstration_is_a_full_week_of_two_invented_people() {
    let household = Household::demonstration(FIRST, zone());
    let statements = household.statements("seven-day");
    assert_eq!(
        statements[0],
        Statement::Zone {
            zone: "Europe/Oslo".to_owned(),
            from: None
        }
    );
    let labels: Vec<_> = statements
        .iter()
        .filter_map(|statement| match statement {
            Statement::Person { person, details } => Some((person.as_str(), details.label.as_str())),
            Statement::Monitor { monitor, details } => Some((monitor.as_str(), details.name.as_deref()?)),
            _ => None,
        })
        .collect();
    let [m, a, b] = [
        ("m1", "Invented cuff 1"),
        ("p1", "Invented person A"),
        ("p2", "Invented person B"),
    ];
    assert_eq!(labels, [m, a, b]);
    let lived = household.live(Household::DEMONSTRATION_SEED, 7);
    for person in ["p1", "p2"] {
        let counted = |truth: &&Truth| truth.counts && truth.person.as_str() == person;
        assert_eq!(lived.truth.iter().filter(counted).count(), 28, "{person}");
    }
    // It has to show what the program does with readings that do not count, and not be a comedy of errors.
    let happened = |fault| lived.truth.iter().any(|truth| truth.faults.contains(&fault));
    for fault in [
        Fault::TooSoon,
        Fault::BodyMovement,
        Fault::CuffTooLoose,
        Fault::NoValue,
        Fault::IrregularPulse,
    ] {
        assert!(happened(fault), "{fault:?}");
    }
    assert_eq!(lived.truth.iter().filter(|truth| !truth.counts).count(), 6);
    assert_eq!(lived.truth.iter().filter(|truth| truth.heard > 1).count(), 2);
    assert_eq!(lived.truth.iter().filter(|truth| truth.heard == 0).count(), 0);
    // Names that are heard say that they are invented.
    for frame in &lived.frames {
        if let Ok(Value::Text(text)) = decode(frame.characteristic, &frame.value) {
            let text = text.trimmed().to_lowercase();
            assert!(text.contains("invented") || text == "0.0", "{text}");
        }
    }
}

#[test]
fn frames_are_in_order_and_decode() {
    let mut household = Household::demonstration(FIRST, zone());
    household.shared[0].monitor.make.tells_while_measuring = true;
    let lived = household.live(3, 7);
    let mut last: (Timestamp, u32) = (Timestamp::MIN, 1);
    for frame in &lived.frames {
        let here = (frame.received_at, frame.connection);
        assert!(
            last.0 < here.0 && (last.1 == here.1 || last.1 + 1 == here.1),
            "{last:?} {here:?}"
        );
        assert_eq!(frame.offset, zone().to_offset(frame.received_at));
        decode(frame.characteristic, &frame.value).unwrap();
        last = here;
    }
    let battery = |frame: &&Frame| frame.characteristic == Characteristic::BATTERY_LEVEL;
    let levels: Vec<u8> = lived
        .frames
        .iter()
        .filter(battery)
        .map(|frame| frame.value[0])
        .collect();
    assert!(levels[0] == 100 && levels.is_sorted_by(|a, b| a >= b) && *levels.last().unwrap() < 96);
    let cuff = |frame: &&Frame| frame.characteristic == Characteristic::INTERMEDIATE_CUFF_PRESSURE;
    assert!(lived.frames.iter().filter(cuff).count() > 10 * lived.truth.len());
}

#[test]
fn a_frame_says_what_the_display_said_in_either_unit() {
    for unit in [Unit::MmHg, Unit::KPa] {
        let lived = alone(
            Make { unit, ..make() },
            Habits {
                no_value: 0.1,
                ..Habits::faultless()
            },
        )
        .live(5, 7);
        let heard = measurements(&lived);
        assert_eq!(heard.len(), lived.truth.len());
        for ((_, measurement), truth) in heard.iter().zip(&lived.truth) {
            assert_eq!(measurement.unit, unit);
            let mmhg = if unit == Unit::KPa { 1.0 / 0.133_322 } else { 1.0 };
            let told = measurement.systolic.to_f64().map(|number| number * mmhg);
            match truth.displayed {
                None => assert!(told.is_none() && truth.faults == [Fault::NoValue] && !truth.counts),
                // One decimal of a kilopascal is three quarters of a millimetre.
                Some([systolic, ..]) => assert!((told.unwrap() - f64::from(systolic)).abs() < 0.38),
            }
        }
        assert!(lived.truth.iter().any(|truth| truth.displayed.is_none()));
    }
}

#[test]
fn a_monitor_tells_only_the_faults_that_it_looks_for() {
    let habits = Habits {
        moves: 0.5,
        loose_cuff: 0.5,
        bad_position: 0.5,
        irregular_pulse: 0.5,
        ..Habits::faultless()
    };
    for feature in [
        0,
        Feature::CUFF_FIT,
        Feature::BODY_MOVEMENT | Feature::POSITION,
        0b1_0111,
    ] {
        let lived = alone(
            Make {
                feature: Feature(feature),
                ..make()
            },
            habits,
        )
        .live(6, 7);
        for ((_, measurement), truth) in measurements(&lived).iter().zip(&lived.truth) {
            let has = |fault| truth.faults.contains(&fault);
            let says = |bit, fault| feature & bit != 0 && has(fault);
            let expected = [
                says(Feature::BODY_MOVEMENT, Fault::BodyMovement),
                says(Feature::CUFF_FIT, Fault::CuffTooLoose),
                says(Feature::IRREGULAR_PULSE, Fault::IrregularPulse),
                says(Feature::POSITION, Fault::ImproperPosition),
            ];
            assert_eq!(measurement.status.is_some(), feature != 0);
            let status = measurement.status.unwrap_or(MeasurementStatus(0));
            let told = [
                status.body_movement(),
                status.cuff_too_loose(),
                status.irregular_pulse(),
                status.improper_position(),
            ];
            assert_eq!(told, expected);
            let [moved, loose, _, position] = told;
            assert_eq!(truth.counts, !(moved || loose || position));
        }
    }
}

#[test]
fn a_third_reading_follows_two_that_differ() {
    let lived = alone(make(), Habits::faultless()).live(8, 200);
    let mut sessions: BTreeMap<(Date, Slot), Vec<[i16; 3]>> = BTreeMap::new();
    for truth in &lived.truth {
        sessions
            .entry((truth.day, truth.slot))
            .or_default()
            .push(truth.displayed.unwrap());
    }
    assert_eq!(sessions.len(), 400);
    let differ = |a: [i16; 3], b: [i16; 3]| (a[0] - b[0]).abs() > 10 || (a[1] - b[1]).abs() > 10;
    let mut third = 0u32;
    for readings in sessions.values() {
        assert_eq!(
            readings.len(),
            if differ(readings[0], readings[1]) { 3 } else { 2 }
        );
        third += u32::from(readings.len() == 3);
    }
    // NHANES 2017-18, 6,612 people measured three times: 6.6 % differ by more than 10 in either pressure; other
    // published adult series 7 to 11 %.
    let share = f64::from(third) / 400.0;
    assert!((0.05..0.13).contains(&share), "{share}");
}

#[test]
fn the_pressure_is_that_of_the_person() {
    let lived = alone(make(), Habits::faultless()).live(9, 700);
    let mean = |pick: &dyn Fn(&Truth) -> bool| {
        let values: Vec<f64> = lived
            .truth
            .iter()
            .filter(|t| pick(t))
            .map(|t| t.true_values[0])
            .collect();
        values.iter().sum::<f64>() / f64::from(u32::try_from(values.len()).unwrap())
    };
    let all = mean(&|_| true);
    // 8 mmHg from day to day over 700 days: a standard error of 0.3. Half of the readings are first ones.
    assert!((all - 134.5).abs() < 1.0, "{all}");
    let difference = mean(&|t| t.slot == Slot::Morning) - mean(&|t| t.slot == Slot::Evening);
    assert!((difference - 4.0).abs() < 0.6, "{difference}");
}

#[test]
fn a_clock_drifts_and_does_not_know_summer_time() {
    let mut household = alone(make(), Habits::faultless());
    household.shared[0].monitor.clock.drift_ms_a_day = 6_000;
    let begin = zone().to_timestamp(date(2026, 3, 22).at(18, 30, 0, 0)).unwrap();
    let lived = household.live(10, 7);
    for ((_, measurement), truth) in measurements(&lived).iter().zip(&lived.truth) {
        let winter = TimeZone::fixed(jiff::tz::offset(1)).to_datetime(truth.end);
        let ahead = stamp(measurement).duration_since(winter).as_secs_f64();
        let days = truth.end.duration_since(begin).as_secs_f64() / 86_400.0;
        assert!((ahead - 6.0 * days).abs() <= 1.0, "{ahead} after {days}");
    }
    let last = &lived.truth.last().unwrap();
    let wall = zone().to_datetime(last.end);
    assert!(
        wall.duration_since(stamp(&measurements(&lived).last().unwrap().1)) > SignedDuration::from_mins(55)
    );
}

#[test]
fn new_batteries_begin_another_time() {
    for after in [Some(date(2010, 1, 1).at(0, 0, 0, 0)), None] {
        let at = |day, hour| zone().to_timestamp(date(2026, 3, day).at(hour, 0, 0, 0)).unwrap();
        let mut household = alone(
            Make {
                after_new_batteries: after,
                ..make()
            },
            Habits::faultless(),
        );
        household.shared[0].happenings = vec![
            (at(25, 12), Happening::NewBatteries),
            (at(27, 12), Happening::ClockSet { off_by_s: -90 }),
        ];
        let lived = household.live(11, 7);
        let mut clock_read = None;
        for frame in &lived.frames {
            let at = frame.received_at;
            let lost = (at >= self::at(25, 12)) && at < self::at(27, 12);
            match decode(frame.characteristic, &frame.value).unwrap() {
                Value::CurrentTime(time) => clock_read = Some((at, time)),
                Value::Measurement(measurement) => {
                    let civil = measurement.time_stamp.unwrap().civil();
                    match (lost, after) {
                        (true, None) => assert_eq!(civil, None),
                        (true, Some(after)) => assert!(civil.unwrap().duration_since(after).as_hours() < 48),
                        (false, _) => assert_eq!(civil.unwrap().year(), 2026),
                    }
                    // The clock that was read on the same connection is the clock of the stamp.
                    let (read_at, clock) = clock_read.unwrap();
                    if let (Some(civil), Some(clock)) = (civil, clock.civil()) {
                        let behind = clock.duration_since(civil);
                        assert!(behind >= SignedDuration::ZERO && behind < SignedDuration::from_secs(4));
                    }
                    assert!(at.duration_since(read_at) < SignedDuration::from_secs(1));
                }
                _ => (),
            }
        }
    }
}

fn at(day: i8, hour: i8) -> Timestamp {
    zone().to_timestamp(date(2026, 3, day).at(hour, 0, 0, 0)).unwrap()
}

#[test]
fn stamps_can_be_coarse_or_absent() {
    let lived = |stamps| {
        alone(
            Make { stamps, ..make() },
            Habits {
                too_soon: 1.0,
                ..Habits::faultless()
            },
        )
        .live(12, 7)
    };
    let coarse = lived(Stamps::WholeMinutes);
    for (_, measurement) in measurements(&coarse) {
        assert_eq!(stamp(&measurement).second(), 0);
    }
    for (_, measurement) in measurements(&lived(Stamps::None)) {
        assert_eq!(measurement.time_stamp, None);
    }
    // Haste shows only in the seconds.
    let hasty = |lived: &Lived| {
        lived
            .truth
            .iter()
            .filter(|t| t.faults.contains(&Fault::TooSoon))
            .count()
    };
    let fine = lived(Stamps::Seconds);
    assert_eq!((hasty(&coarse), hasty(&fine)), (14, 14));
    assert!(coarse.truth.iter().all(|truth| truth.counts));
    assert_eq!(fine.truth.iter().filter(|truth| !truth.counts).count(), 14);
    let half = Habits {
        too_soon: 0.5,
        ..Habits::human()
    };
    for pair in alone(make(), half).live(12, 60).truth.windows(2) {
        let gap = pair[1].end.duration_since(pair[0].end);
        assert_eq!(
            pair[1].faults.contains(&Fault::TooSoon),
            gap < SignedDuration::from_secs(60)
        );
    }
}

#[test]
fn a_new_clock_shows_what_it_was_told_to() {
    let mut clock = Clock::new(at(23, 7), None, 0);
    assert_eq!(clock.shows(at(23, 8)), None);
    clock.set(at(23, 8), date(2026, 3, 23).at(8, 0, 30, 0));
    assert_eq!(clock.shows(at(23, 9)), Some(date(2026, 3, 23).at(9, 0, 30, 0)));
}

fn memories() -> impl Strategy<Value = Memory> {
    prop::sample::select(vec![
        Memory::UntilConfirmed(60),
        Memory::Always(5),
        Memory::LastOnly,
    ])
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// Whatever the radio does, every 0x2A35 heard is a measurement of the truth, as often as the truth says; a
    /// monitor that forgets on confirmation keeps or has told everything.
    #[test]
    fn what_is_heard_is_what_was_measured(
        seed in any::<u64>(), memory in memories(), live in any::<bool>(),
        out_of_reach in 0.0..0.9f64, hangs_up in 0.0..0.9f64, loses_confirmation in 0.0..0.9f64,
    ) {
        let make = Make { memory, tells_while_measuring: live, ..make() };
        let mut household = alone(make, Habits::human());
        household.shared[0].reception =
            quietcuff::radio::simulated::Reception { out_of_reach, hangs_up, loses_confirmation };
        let lived = household.live(seed, 7);
        let mut heard: BTreeMap<String, u32> = BTreeMap::new();
        for (_, measurement) in measurements(&lived) {
            *heard.entry(stamp(&measurement).to_string()).or_default() += 1;
        }
        for truth in &lived.truth {
            // Clock right at the start and no drift: the stamp is the winter time of the end.
            let civil = TimeZone::fixed(jiff::tz::offset(1)).to_datetime(truth.end);
            let civil = civil.with().subsec_nanosecond(0).build().unwrap();
            prop_assert_eq!(heard.remove(&civil.to_string()).unwrap_or(0), truth.heard);
        }
        prop_assert!(heard.is_empty());
        let last = lived.truth.iter().rposition(|truth| truth.heard > 0).unwrap_or(0);
        if let Memory::UntilConfirmed(_) = memory {
            // Records go out in order, so those before the last one that was heard were heard too.
            prop_assert!(lived.truth[..last].iter().all(|truth| truth.heard > 0));
        }
    }
}

#[test]
fn a_monitor_that_keeps_its_users_apart_tells_of_those_who_consented_alone() {
    let code = |number| ConsentCode::new(number).unwrap();
    let codes = [(1, code(42)), (2, code(8053))];
    let fresh = || {
        let make = Make {
            users: codes.to_vec(),
            ..make()
        };
        let clock = Clock::new(at(23, 6), Some(date(2026, 3, 23).at(6, 0, 0, 0)), 0);
        let mut monitor = Monitor::new(make, clock);
        for (hour, user) in [(7, 1), (8, 2), (9, 1)] {
            monitor.keep(&Taken {
                start: at(23, hour),
                end: at(23, hour),
                values: Some([130 + i16::from(user), 80, 60]),
                user_id: Some(user),
                status: 0,
            });
        }
        monitor
    };
    let told = |codes: &[(u8, ConsentCode)]| {
        let mut monitor = fresh();
        let heard = monitor.connect_with(at(23, 10), &zone(), LinkFaults::default(), codes);
        let users: Vec<Option<u8>> = heard
            .frames
            .iter()
            .filter_map(
                |frame| match decode(frame.characteristic, &frame.value).unwrap() {
                    Value::Measurement(measurement) => Some(measurement.user_id),
                    _ => None,
                },
            )
            .collect();
        let answers: Vec<u8> = heard
            .frames
            .iter()
            .filter(|frame| frame.characteristic == Characteristic::USER_CONTROL_POINT)
            .map(|frame| UserControl::decode(&frame.value).unwrap().response().unwrap().1)
            .collect();
        (users, answers, monitor.kept().count())
    };
    let (ok, no) = (UserControl::SUCCESS, UserControl::NOT_AUTHORIZED);
    // No consent, one that is wrong, one of the two, and both.
    assert_eq!(told(&[]), (vec![], vec![], 3));
    assert_eq!(told(&[(1, code(43))]), (vec![], vec![no], 3));
    assert_eq!(told(&codes[1..]), (vec![Some(2)], vec![ok], 2));
    assert_eq!(told(&codes), (vec![Some(1), Some(1), Some(2)], vec![ok, ok], 0));
}
