//! The edges of a period: one reading more or less, one hundredth of a millimetre, conditions that switch labels off.

use crate::monitoring::week::{FIRST, full, of, of_person, protocol, set_aside, taken};
use quietcuff::gatt::Unit;
use quietcuff::household::{Condition, Person, PersonId, Threshold};
use quietcuff::monitoring::period::{PeriodError, period};
use quietcuff::monitoring::protocol::AverageOf;
use quietcuff::monitoring::taken::Taken;
use quietcuff::reading::Pressure;
use quietcuff::sitting::Slot;
use quietcuff::technique::Disposition;

fn with_values(
    mut readings: Vec<Taken>,
    systolic: (i64, i8),
    diastolic: (i64, i8),
    unit: Unit,
) -> Vec<Taken> {
    for values in readings.iter_mut().filter_map(|taken| taken.values.as_mut()) {
        values.systolic = Pressure::from_decimal(systolic.0, systolic.1, unit).unwrap();
        values.diastolic = Pressure::from_decimal(diastolic.0, diastolic.1, unit).unwrap();
    }
    readings
}

#[test]
fn threshold_edges() {
    for (systolic, diastolic, reached) in [
        ((13_499, -2), (8_499, -2), &[][..]),
        ((135, 0), (84, 0), &["systolic"][..]),
        ((134, 0), (85, 0), &["diastolic"][..]),
        ((135, 0), (85, 0), &["systolic", "diastolic"][..]),
        ((1346, -1), (84, 0), &[][..]),
    ] {
        let period = of(
            &protocol("seven-day"),
            None,
            &with_values(full(7, 0, 0), systolic, diastolic, Unit::MmHg),
        );
        assert_eq!(period.reached_by, reached, "{systolic:?} {diastolic:?}");
        assert_eq!(period.at_or_above, Some(!reached.is_empty()));
    }
    // 17.9 kPa is 134.26 mmHg and 18.0 kPa is 135.01; a mean that mixes units is compared exactly as well.
    for (tenths, reached) in [(179, false), (180, true)] {
        let readings = with_values(full(7, 0, 0), (tenths, -1), (10, 0), Unit::KPa);
        assert_eq!(
            of(&protocol("seven-day"), None, &readings).at_or_above,
            Some(reached)
        );
    }
}

#[test]
fn twelve_and_eleven_readings() {
    let mut readings = full(3, 130, 80);
    let seven_day = protocol("seven-day");
    assert!(of(&seven_day, None, &readings).sufficient);
    readings.pop();
    let short = of(&seven_day, None, &readings);
    assert!(!short.sufficient);
    assert_eq!(
        short.insufficient.as_deref(),
        Some("11 of 12 readings, 3 of 3 days")
    );
    // No number that could be taken for an average is shown; how many readings there are is.
    let json = serde_json::to_value(&short).unwrap();
    for mean in [
        "average",
        "average_of_all_days",
        "average_without_first_day",
        "at_or_above",
        "chance_at_or_above",
    ] {
        assert!(json[mean].is_null(), "{mean}");
    }
    assert_eq!(
        json["morning"],
        serde_json::json!({"systolic": null, "diastolic": null, "n": 6})
    );
    assert_eq!(json["readings"]["counted"], 11);
}

#[test]
fn many_readings_on_too_few_days() {
    let readings: Vec<Taken> = (0..20)
        .map(|nth| taken(nth % 2, Slot::Morning, nth, 1300, 800))
        .collect();
    let period = of(&protocol("seven-day"), None, &readings);
    assert_eq!(
        period.insufficient.as_deref(),
        Some("4 of 12 readings (of one sitting at most 2), 2 of 3 days")
    );
    let none = of(&protocol("seven-day"), None, &[]);
    assert_eq!(
        none.insufficient.as_deref(),
        Some("0 of 12 readings, 0 of 3 days")
    );
    assert_eq!((none.sessions, none.variability.all.systolic.n), (0, 0));
}

#[test]
fn dropping_the_first_day() {
    // The first day on which a reading counts is dropped, not the calendar day of the plan.
    let readings: Vec<Taken> = full(4, 130, 80)
        .into_iter()
        .map(|mut taken| {
            let first = taken.day == FIRST;
            taken.day = taken.day.tomorrow().unwrap();
            if first {
                taken.values.as_mut().unwrap().systolic = Pressure::from_mmhg(150);
            }
            taken
        })
        .collect();
    let nice = of(&protocol("nice-ng136"), None, &readings);
    let average = nice.average.unwrap();
    assert_eq!((average.n, average.systolic), (12, 130.0));
    assert_eq!(nice.average_of_all_days.unwrap().systolic, 135.0);
    assert_eq!(nice.variability.first_morning.systolic.n, 3);
    let esc = of(&protocol("esc-2024"), None, &readings);
    assert_eq!(esc.average.unwrap().systolic, 135.0);
    assert_eq!(esc.average_without_first_day.unwrap(), average);
    let short = of(&protocol("nice-ng136"), None, &full(3, 130, 80));
    assert_eq!(
        short.insufficient.as_deref(),
        Some("8 of 12 readings without the first day, 3 of 4 days")
    );
}

#[test]
fn one_day_only_has_no_average_without_it() {
    let mut one_day = protocol("seven-day");
    one_day.days_min.value = 1;
    one_day.readings_min.value = 1;
    let period = of(&one_day, None, &full(1, 130, 80));
    assert_eq!(period.average_without_first_day, None);
    let average = period.average.unwrap();
    assert_eq!((average.n, average.interval_95), (4, None));
    assert_eq!(period.chance_at_or_above, None);
}

#[test]
fn consecutive_days() {
    let taiwan = protocol("taiwan-2020");
    let gap: Vec<Taken> = full(7, 130, 80)
        .into_iter()
        .filter(|t| t.day.day() != 4)
        .collect();
    let period = of(&taiwan, None, &gap);
    assert_eq!(
        period.insufficient.as_deref(),
        Some("20 of 12 readings without the first day, 3 of 4 consecutive days")
    );
    let late: Vec<Taken> = full(7, 130, 80)
        .into_iter()
        .filter(|t| t.day.day() != 2)
        .collect();
    assert!(of(&taiwan, None, &late).sufficient);
}

#[test]
fn which_readings_of_a_session() {
    let mut three: Vec<Taken> = Vec::new();
    for day in 0..7 {
        for slot in [Slot::Morning, Slot::Evening] {
            three.extend((0..3).map(|nth| taken(day, slot, nth, 1400 - nth * 60, 800)));
        }
    }
    let mut protocol = protocol("seven-day");
    for (which, n, systolic) in [
        (AverageOf::All, 42, 134.0),
        (AverageOf::LastTwo, 28, 131.0),
        (AverageOf::WithoutFirst, 28, 131.0),
    ] {
        protocol.average_of.value = which;
        let period = of(&protocol, None, &three);
        let average = period.average.unwrap();
        assert_eq!((average.n, average.systolic), (n, systolic), "{which:?}");
        // The first reading of a morning stays the first reading.
        assert_eq!(period.first_morning.systolic, Some(140.0));
        assert_eq!(period.readings.counted, 42);
    }
}

#[test]
fn set_aside_readings_are_counted_and_not_averaged() {
    let mut readings = full(7, 130, 80);
    let mut moved = set_aside(taken(1, Slot::Morning, 5, 2000, 1200), "body-movement");
    moved.reasons.push("too-soon");
    readings.push(moved);
    let mut empty = set_aside(taken(2, Slot::Evening, 5, 0, 0), "no-value");
    empty.values = None;
    readings.push(empty.clone());
    // A reading that says it counts but has no numbers cannot.
    empty.disposition = Disposition::Counted;
    empty.reasons.clear();
    readings.push(empty);
    readings[0].disposition = Disposition::Marked;
    readings[0].reasons = vec!["outside-window"];
    let period = of(&protocol("seven-day"), None, &readings);
    assert_eq!(period.average.unwrap().systolic, 130.0);
    let json = serde_json::to_value(&period.readings).unwrap();
    assert_eq!(
        json,
        serde_json::json!({
            "counted": 28, "marked": 1, "set_aside": 3,
            "set_aside_reasons": {"body-movement": 1, "too-soon": 1, "no-value": 2},
            "marked_reasons": {"outside-window": 1}
        })
    );
}

#[test]
fn labels_are_off_where_adult_thresholds_do_not_apply() {
    let high = full(7, 150, 95);
    let person = |born, conditions: &[Condition]| Person {
        born,
        conditions: conditions.to_vec(),
        ..Person::default()
    };
    let of = |person: &Person, name: &str| of_person(person, &protocol(name), None, &high);
    assert_eq!(of(&person(Some(1960), &[]), "esc-2024").at_or_above, Some(true));
    for (person, why) in [
        (person(Some(2012), &[]), "under 18"),
        (person(Some(2008), &[]), "under 18"),
        (person(None, &[Condition::Pregnancy]), "pregnancy"),
        (
            person(None, &[Condition::AtrialFibrillation]),
            "atrial fibrillation",
        ),
        (person(None, &[Condition::Dialysis]), "dialysis"),
    ] {
        let period = of(&person, "esc-2024");
        assert!(
            period
                .labels_off
                .as_deref()
                .is_some_and(|text| text.contains(why)),
            "{why}"
        );
        assert!(period.average.is_some());
        let json = serde_json::to_value(&period).unwrap();
        for label in ["threshold", "at_or_above", "band", "chance_at_or_above"] {
            assert!(json[label].is_null(), "{label}");
        }
        assert!(period.reached_by.is_empty() && period.go_on_to_days.is_none());
    }
    assert_eq!(of(&person(Some(2007), &[]), "esc-2024").at_or_above, Some(true));
    // The clinic may say otherwise for a condition in its own protocol, never for a child.
    let mut own = protocol("esc-2024");
    own.threshold_also_for = vec![Condition::AtrialFibrillation];
    let fibrillation = person(None, &[Condition::AtrialFibrillation]);
    assert_eq!(
        of_person(&fibrillation, &own, None, &high).at_or_above,
        Some(true)
    );
    assert_eq!(
        of_person(&person(Some(2012), &[]), &own, None, &high).at_or_above,
        None
    );
}

#[test]
fn the_clinics_threshold_for_this_person() {
    let threshold = Some(Threshold {
        systolic: 130.0,
        diastolic: 80.0,
    });
    let person = Person {
        threshold,
        ..Person::default()
    };
    let period = of_person(&person, &protocol("seven-day"), None, &full(7, 131, 75));
    let json = serde_json::to_value(&period).unwrap();
    assert_eq!(json["at_or_above"], true);
    assert_eq!(
        json["threshold"],
        serde_json::json!({"systolic": 130.0, "diastolic": 80.0, "source": "set by the person's clinic"})
    );
}

/// ESC 2024, figure 4: a short average close to the threshold goes on to seven days.
#[test]
fn close_to_the_threshold() {
    let esc = protocol("esc-2024");
    for (systolic, days, go_on) in [(131, 3, Some(7)), (129, 3, None), (141, 3, None), (131, 7, None)] {
        assert_eq!(
            of(&esc, None, &full(days, systolic, 70)).go_on_to_days,
            go_on,
            "{systolic} {days}"
        );
    }
}

/// JSH keeps morning and evening separate: one of them at the threshold is enough.
#[test]
fn morning_and_evening_apart() {
    let mut readings = full(7, 120, 70);
    for taken in readings.iter_mut().filter(|taken| taken.slot == Slot::Morning) {
        taken.values.as_mut().unwrap().systolic = Pressure::from_mmhg(135);
    }
    assert_eq!(
        of(&protocol("jsh-2019"), None, &readings).reached_by,
        ["morning systolic"]
    );
    assert_eq!(
        of(&protocol("esc-2024"), None, &readings).at_or_above,
        Some(false)
    );
}

#[test]
fn periods_that_cannot_be() {
    let id: PersonId = "p1".parse().unwrap();
    let seven_day = protocol("seven-day");
    let of = |from: &str, days| {
        period(
            &id,
            &Person::default(),
            &seven_day,
            from.parse().unwrap(),
            days,
            &[],
        )
        .unwrap_err()
    };
    assert_eq!(of("2026-03-01", Some(0)), PeriodError::Days(0));
    assert_eq!(of("2026-03-01", Some(u16::MAX)), PeriodError::Days(u16::MAX));
    assert!(matches!(of("9999-12-30", None), PeriodError::Calendar(_)));
}
