//! What holds for every series of readings, and the shape of the contract.

use crate::monitoring::oracle::untidy;
use crate::monitoring::week::{Chances, full, of, protocol, set_aside, taken};
use jiff::ToSpan;
use proptest::prelude::*;
use quietcuff::household::{Person, PersonId};
use quietcuff::monitoring::period::period;
use quietcuff::monitoring::taken::Taken;
use quietcuff::sitting::Slot;

const PROTOCOLS: [&str; 15] = [
    "seven-day",
    "two-week",
    "weekly",
    "esc-2024",
    "nice-ng136",
    "aha-ama-2020",
    "acc-aha-2017",
    "aha-acc-2025",
    "jsh-2025",
    "taiwan-2022",
    "esh-2023",
    "ish-2020",
    "igh-iv-2019",
    "taiwan-2020",
    "jsh-2019",
];

proptest! {
    /// To the last bit, JSON included.
    #[test]
    fn order_of_input_changes_nothing(seed: u64, which in 0..PROTOCOLS.len()) {
        let mut chances = Chances(seed);
        let mut readings = untidy(&mut chances);
        // Readings of one moment too: a tie must not fall to the order of arrival.
        if let Some(first) = readings.first().cloned() {
            let mut twin = taken(2, Slot::Morning, 0, 1111, 777);
            (twin.at, twin.day, twin.session) = (first.at, first.day, first.session);
            readings.push(twin);
        }
        let protocol = protocol(PROTOCOLS[which]);
        let sorted = serde_json::to_string(&of(&protocol, None, &readings)).unwrap();
        chances.shuffle(&mut readings);
        prop_assert_eq!(sorted, serde_json::to_string(&of(&protocol, None, &readings)).unwrap());
    }

    #[test]
    fn every_reading_is_in_exactly_one_disposition(seed: u64, which in 0..PROTOCOLS.len(), days in 1u16..12) {
        let readings = untidy(&mut Chances(seed));
        let period = of(&protocol(PROTOCOLS[which]), Some(days), &readings);
        let here = readings.iter().filter(|taken| (period.from..=period.to).contains(&taken.day)).count();
        prop_assert_eq!(period.readings.counted + period.readings.set_aside, here);
        prop_assert!(period.readings.marked <= period.readings.counted);
        prop_assert_eq!(period.sufficient, period.insufficient.is_none());
        prop_assert_eq!(period.sufficient, period.average.is_some());
        for average in period.average.iter().chain(&period.average_without_first_day) {
            prop_assert!(average.n <= period.readings.counted);
        }
    }

    /// A reading set aside moves no mean, whatever it measured.
    #[test]
    fn set_aside_readings_move_nothing(seed: u64, systolic in 400i64..3000, day in 0i64..7) {
        let mut readings = untidy(&mut Chances(seed));
        let protocol = protocol("seven-day");
        let before = of(&protocol, None, &readings);
        readings.push(set_aside(taken(day, Slot::Morning, 7, systolic, 300), "too-soon"));
        let after = of(&protocol, None, &readings);
        prop_assert_eq!(before.average, after.average);
        prop_assert_eq!(before.variability, after.variability);
        prop_assert_eq!(before.readings.set_aside + 1, after.readings.set_aside);
    }

    /// The same week in another month has the same numbers.
    #[test]
    fn shifting_the_calendar_changes_no_number(seed: u64, shift in -2000i64..2000) {
        let readings = untidy(&mut Chances(seed));
        let protocol = protocol("nice-ng136");
        let here = of(&protocol, None, &readings);
        let moved: Vec<Taken> = readings
            .into_iter()
            .map(|mut taken| {
                taken.day = taken.day.checked_add(shift.days()).unwrap();
                taken.at += (shift * 24).hours();
                taken
            })
            .collect();
        let id: PersonId = "p1".parse().unwrap();
        let from = here.from.checked_add(shift.days()).unwrap();
        let mut there = period(&id, &Person::default(), &protocol, from, None, &moved).unwrap();
        prop_assert_eq!(there.from, from);
        (there.from, there.to) = (here.from, here.to);
        prop_assert_eq!(here, there);
    }
}

/// The contract's own example, 28 readings: 3761 ÷ 28 prints as 134.32142857142858.
#[test]
fn the_contracts_shape() {
    let mut readings = full(7, 134, 86);
    for (place, taken) in readings.iter_mut().enumerate() {
        let values = taken.values.as_mut().unwrap();
        let up = |more: bool| quietcuff::reading::Pressure::from_mmhg(i32::from(more));
        values.systolic += up((4..13).contains(&place));
        values.diastolic += up((4..25).contains(&place));
    }
    let json = serde_json::to_value(of(&protocol("seven-day"), None, &readings)).unwrap();
    for (path, expected) in [
        ("/person", serde_json::json!("p1")),
        ("/protocol", serde_json::json!("seven-day")),
        ("/from", serde_json::json!("2026-03-01")),
        ("/to", serde_json::json!("2026-03-07")),
        ("/sessions", serde_json::json!(14)),
        ("/sessions_expected", serde_json::json!(14)),
        ("/readings/counted", serde_json::json!(28)),
        ("/sufficient", serde_json::json!(true)),
        ("/average/diastolic", serde_json::json!(86.75)),
        ("/average/pulse_rate", serde_json::json!(70.0)),
        ("/average/n", serde_json::json!(28)),
        ("/average_without_first_day/n", serde_json::json!(24)),
        ("/morning/n", serde_json::json!(14)),
        ("/evening/n", serde_json::json!(14)),
        ("/variability/all/systolic/n", serde_json::json!(28)),
        ("/variability/first_morning/diastolic/n", serde_json::json!(7)),
        ("/threshold/systolic", serde_json::json!(135.0)),
        ("/threshold/diastolic", serde_json::json!(85.0)),
        ("/at_or_above", serde_json::json!(true)),
    ] {
        assert_eq!(json.pointer(path), Some(&expected), "{path}");
    }
    assert!(
        json["average"]
            .to_string()
            .contains("\"systolic\":134.32142857142858"),
        "{}",
        json["average"]
    );
    assert!(
        json["average_without_first_day"]
            .to_string()
            .contains("\"systolic\":134.375"),
        "{json}"
    );
    let [low, high] = [0, 1].map(|side| json["average"]["interval_95"]["systolic"][side].as_f64().unwrap());
    assert!(low < 134.3 && 134.4 < high && high - low < 2.0);
    assert!(
        json["threshold"]["source"]
            .as_str()
            .unwrap()
            .contains("ESC 2024 table 5")
    );
    for name in ["sd", "cv", "arv"] {
        assert!(json["variability"]["all"]["systolic"][name].is_f64(), "{name}");
    }
    assert_eq!(json.get("insufficient"), None);
}
