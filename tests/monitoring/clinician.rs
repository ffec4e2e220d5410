//! Patterns for the clinician: each at its edge, each silent without what it needs.

use crate::monitoring::week::{Chances, FIRST, full, of, of_person, protocol, set_aside, taken};
use jiff::ToSpan;
use jiff::civil::Date;
use quietcuff::household::{Arm, Condition, Person};
use quietcuff::monitoring::drift::signs;
use quietcuff::monitoring::patterns::{ClinicReading, Pattern, patterns};
use quietcuff::monitoring::taken::Taken;
use quietcuff::reading::Pressure;
use quietcuff::sitting::Slot;

fn clinic(day: i64, systolic: i32, diastolic: i32) -> ClinicReading {
    ClinicReading {
        day: FIRST.checked_add(day.days()).unwrap(),
        systolic: Pressure::from_mmhg(systolic),
        diastolic: Pressure::from_mmhg(diastolic),
    }
}

fn found(readings: &[Taken], clinic: &[ClinicReading], changes: &[Date]) -> Vec<Pattern> {
    patterns(
        &of(&protocol("esc-2024"), None, readings),
        readings,
        clinic,
        changes,
    )
}

fn ids(patterns: &[Pattern]) -> Vec<&'static str> {
    patterns.iter().map(|pattern| pattern.id).collect()
}

fn systolic(taken: &mut Taken, value: i32) {
    taken.values.as_mut().unwrap().systolic = Pressure::from_mmhg(value);
}

/// ESC 2024, section 5.1: clinic at or above 140/90 and home below 135/85, and the reverse.
#[test]
fn clinic_and_home_side_by_side() {
    for (home, clinic_reading, expected) in [
        ((134, 84), (140, 80), &["white-coat"][..]),
        ((134, 84), (139, 90), &["white-coat"][..]),
        ((134, 84), (139, 89), &[][..]),
        ((135, 84), (139, 89), &["masked"][..]),
        ((135, 84), (140, 89), &[][..]),
        // NICE: more than 20/10 apart.
        ((120, 80), (141, 85), &["white-coat", "white-coat-effect"][..]),
        ((136, 80), (156, 85), &[][..]),
        ((136, 80), (157, 85), &["white-coat-effect"][..]),
        ((136, 80), (150, 91), &["white-coat-effect"][..]),
    ] {
        let seen = [clinic(-10, clinic_reading.0, clinic_reading.1)];
        let mut names = ids(&found(&full(7, home.0, home.1), &seen, &[]));
        names.retain(|name| *name != "morning-average");
        assert_eq!(names, expected, "{home:?} {clinic_reading:?}");
    }
}

#[test]
fn no_word_about_the_clinic_without_the_clinic() {
    let week = full(7, 134, 84);
    assert!(found(&week, &[], &[]).is_empty());
    // Too long ago, and too few readings at home.
    assert!(found(&week, &[clinic(-91, 160, 100)], &[]).is_empty());
    assert!(found(&full(2, 134, 84), &[clinic(0, 160, 100)], &[]).is_empty());
    // Where labels are off, nothing that rests on a threshold is said.
    let person = Person {
        conditions: vec![Condition::Pregnancy],
        ..Person::default()
    };
    let period = of_person(&person, &protocol("esc-2024"), None, &week);
    assert!(patterns(&period, &week, &[clinic(0, 170, 100)], &[]).is_empty());
}

/// HOPE Asia Network: more than 20 mmHg, and the mean of more than 10 morning readings on more than 5 days.
#[test]
fn mornings() {
    for (morning, evening, days, expected) in [
        (134, 114, 7, &[][..]),
        (134, 113, 7, &["morning-rise"][..]),
        (135, 120, 7, &["morning-average"][..]),
        (135, 120, 5, &[][..]),
    ] {
        let mut week = full(days, evening, 70);
        for taken in week.iter_mut().filter(|taken| taken.slot == Slot::Morning) {
            systolic(taken, morning);
        }
        assert_eq!(
            ids(&found(&week, &[], &[])),
            expected,
            "{morning} {evening} {days}"
        );
    }
    // Means of thirds that differ by 20 exactly do not differ by more than 20.
    let mut week: Vec<Taken> = Vec::new();
    for day in 0..7 {
        for (nth, value) in [1330, 1330, 1340].into_iter().enumerate() {
            week.push(taken(day, Slot::Morning, nth as i64, value, 700));
            week.push(taken(day, Slot::Evening, nth as i64, value - 200, 700));
        }
    }
    assert!(found(&week, &[], &[]).is_empty());
}

#[test]
fn an_irregular_pulse_in_two_sessions() {
    let mut week = full(7, 120, 70);
    week[0].irregular_pulse = true;
    week[1].irregular_pulse = true;
    assert!(found(&week, &[], &[]).is_empty());
    // Even of a reading that is set aside: the monitor reported it.
    let mut moved = set_aside(taken(3, Slot::Evening, 4, 1200, 700), "body-movement");
    moved.irregular_pulse = true;
    week.push(moved);
    let patterns = found(&week, &[], &[]);
    assert_eq!(ids(&patterns), ["irregular-pulse"]);
    assert!(
        patterns[0]
            .say
            .starts_with("Irregular pulse reported by the monitor in 2 sessions (3 readings)")
    );
    assert!(!patterns[0].say.to_lowercase().contains("fibrillation"));
}

/// ESC 2024, class I: more than 10 mmHg.
#[test]
fn arms_within_a_session() {
    let week = |right: i32| {
        let mut week = full(7, 120, 70);
        for (place, taken) in week.iter_mut().enumerate() {
            taken.arm = Some(if place % 2 == 0 { Arm::Left } else { Arm::Right });
            if place % 2 == 1 {
                systolic(taken, right);
            }
        }
        week
    };
    assert!(found(&week(130), &[], &[]).is_empty());
    let patterns = found(&week(131), &[], &[]);
    assert_eq!(ids(&patterns), ["arms-differ"]);
    assert!(
        patterns[0].say.contains("the right arm was higher by 11.0"),
        "{}",
        patterns[0].say
    );
    assert!(found(&week(109), &[], &[])[0].say.contains("the left arm"));
    // Arms on different days compare days, not arms.
    let mut apart = full(7, 120, 70);
    for taken in &mut apart {
        let left = taken.day.day() < 4;
        taken.arm = Some(if left { Arm::Left } else { Arm::Right });
        systolic(taken, if left { 120 } else { 134 });
    }
    assert!(found(&apart, &[], &[]).is_empty());
}

#[test]
fn before_and_after_a_medicine() {
    let mut chances = Chances(5);
    let change = FIRST.checked_add(7.days()).unwrap();
    let mut weeks = full(15, 150, 90);
    for taken in &mut weeks {
        let lower = if taken.day > change { 12.0 } else { 0.0 };
        let value = 150.0 - lower + 3.0 * chances.normal();
        systolic(taken, value.round() as i32);
        taken.values.as_mut().unwrap().diastolic = Pressure::from_mmhg((value - 60.0).round() as i32);
    }
    let two_week = protocol("two-week");
    let period = of(&two_week, Some(15), &weeks);
    let of_changes = |changes: &[Date]| patterns(&period, &weeks, &[], changes);
    let seen = of_changes(&[change]);
    let pattern = seen
        .iter()
        .find(|pattern| pattern.id == "medicine-changed")
        .unwrap();
    assert!((pattern.numbers["systolic"] + 12.0).abs() < 3.0);
    assert!(pattern.numbers["systolic-low"] < -12.0 + 1.5 && pattern.numbers["systolic-high"] > -12.0 - 1.5);
    assert!(pattern.say.contains("does not say that it came from it"));
    assert!(
        pattern.say.contains("(7 days) against before (7 days)"),
        "{}",
        pattern.say
    );
    // A second change two days later leaves too few days after the first, and the days between it and the first are
    // too few before it.
    let second = change.checked_add(2.days()).unwrap();
    assert!(!ids(&of_changes(&[change, second])).contains(&"medicine-changed"));
    assert!(!ids(&of_changes(&[])).contains(&"medicine-changed"));
}

fn months(
    chances: &mut Chances,
    days: i64,
    level: impl Fn(i64) -> f64,
    scatter: impl Fn(i64) -> f64,
) -> Vec<Taken> {
    let mut readings = full(days, 0, 0);
    for taken in &mut readings {
        let day = i64::from(FIRST.until(taken.day).unwrap().get_days());
        let value = level(day) + scatter(day) * chances.normal();
        systolic(taken, value.round() as i32);
        let diastolic = 80.0 + 0.6 * scatter(day) * chances.normal();
        taken.values.as_mut().unwrap().diastolic = Pressure::from_mmhg(diastolic.round() as i32);
    }
    readings
}

#[test]
fn a_monitor_that_begins_to_scatter() {
    let mut chances = Chances(11);
    let steady = months(&mut chances, 60, |_| 130.0, |_| 4.0);
    assert!(signs(&steady, &[], None).is_empty());
    let worse = months(
        &mut chances,
        60,
        |_| 130.0,
        |day| if day < 40 { 4.0 } else { 10.0 },
    );
    let seen = signs(&worse, &[], None);
    assert_eq!(ids(&seen), ["monitor-scatters"]);
    assert!(seen[0].say.contains("Have the monitor and its cuff checked"));
    assert!(seen[0].numbers["after"] > 1.5 * seen[0].numbers["before"]);
    // A monitor that becomes steadier is no reason, nor one that was checked since.
    let better = months(
        &mut chances,
        60,
        |_| 130.0,
        |day| if day < 40 { 10.0 } else { 4.0 },
    );
    assert!(signs(&better, &[], None).is_empty());
    assert!(signs(&worse, &[], Some(FIRST.checked_add(41.days()).unwrap())).is_empty());
    // The person's own level may go where it likes.
    let higher = months(
        &mut chances,
        60,
        |day| if day < 30 { 130.0 } else { 160.0 },
        |_| 4.0,
    );
    assert!(signs(&higher, &[], None).is_empty());
}

#[test]
fn a_monitor_that_begins_to_disagree() {
    let mut chances = Chances(12);
    let readings = months(
        &mut chances,
        300,
        |day| if day < 200 { 130.0 } else { 150.0 },
        |_| 4.0,
    );
    let visits = |last: i32| {
        [
            (20, 136),
            (60, 134),
            (100, 137),
            (140, 135),
            (180, 136),
            (250, last),
        ]
        .map(|(day, s)| clinic(day, s, 80))
    };
    // Home and clinic rose together: nothing to check. Home alone rose: a look at the monitor.
    assert!(signs(&readings, &visits(156), None).is_empty());
    let seen = signs(&readings, &visits(136), None);
    assert_eq!(ids(&seen), ["monitor-disagrees"]);
    assert!(seen[0].say.contains("5 times before"));
    assert!(seen[0].say.contains("A changed medicine can do that"));
    let few = visits(136);
    assert!(
        signs(&readings, &few[2..], None).is_empty(),
        "three earlier visits are too few"
    );
}
