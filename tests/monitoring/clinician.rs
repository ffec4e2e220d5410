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
    let protocol = protocol("esc-2024");
    patterns(
        &of(&protocol, None, readings),
        &protocol,
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

/// ESC 2024, section 5.1: clinic at or above 140/90 and home below 135/85, and the reverse; by two visits or more, and
/// beyond what chance does: a visit scatters by 10/6, so the mean of two by 7.07/4.24, times 1.96.
#[test]
fn clinic_and_home_side_by_side() {
    let beside = "clinic-beside-home";
    for (home, visits, clinic_reading, expected) in [
        ((125, 75), 2, (154, 80), &["white-coat"][..]),
        ((125, 75), 2, (153, 80), &[beside][..]),
        ((130, 84), 2, (130, 99), &["white-coat"][..]),
        ((130, 84), 2, (130, 98), &[beside][..]),
        ((137, 75), 2, (126, 81), &["masked"][..]),
        ((137, 75), 2, (127, 81), &[beside][..]),
        ((137, 75), 2, (126, 82), &[beside][..]),
        ((137, 75), 8, (133, 81), &["masked"][..]),
        ((135, 75), 8, (133, 81), &[beside][..]),
        // One visit names nothing, however far apart.
        ((125, 75), 1, (190, 109), &[beside][..]),
        ((137, 75), 1, (100, 60), &[beside][..]),
        // NICE: more than 20/10 apart.
        ((136, 80), 2, (170, 85), &["white-coat-effect"][..]),
        ((136, 80), 2, (169, 85), &[beside][..]),
    ] {
        let seen: Vec<ClinicReading> = (1..=visits)
            .map(|visit| clinic(-10 * visit, clinic_reading.0, clinic_reading.1))
            .collect();
        // Days that differ by a millimetre, so that there is an interval.
        let mut week = full(7, home.0, home.1);
        for taken in &mut week {
            let up = if taken.day.day() % 2 == 0 { 0 } else { -1 };
            systolic(taken, i32::try_from(home.0).unwrap() + up);
            let diastolic = i32::try_from(home.1).unwrap() + up;
            taken.values.as_mut().unwrap().diastolic = Pressure::from_mmhg(diastolic);
        }
        let patterns = found(&week, &seen, &[]);
        let mut names = ids(&patterns);
        names.retain(|name| *name != "morning-average");
        assert_eq!(names, expected, "{home:?} {visits} {clinic_reading:?}");
        let says = &patterns
            .iter()
            .find(|pattern| pattern.id == expected[0])
            .unwrap()
            .say;
        let has = if visits == 1 {
            "from 1 visit of 2 needed"
        } else {
            "of 2 needed"
        };
        assert!(
            says.contains(has) && says.contains("28 readings on 7 days"),
            "{says}"
        );
    }
    // Two readings of one visit are one occasion.
    let twice = [clinic(-10, 190, 109), clinic(-10, 188, 108)];
    assert_eq!(ids(&found(&full(7, 125, 75), &twice, &[])), [beside]);
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
    assert!(patterns(&period, &protocol("esc-2024"), &week, &[clinic(0, 170, 100)], &[]).is_empty());
}

/// HOPE Asia Network and J-HOP: 20 mmHg or more, on more than 5 days; the mean of more than 10 morning readings on more
/// than 5 days. Both beyond what chance does.
#[test]
fn mornings() {
    for (morning, evening, days, expected) in [
        (132, 113, 7, &[][..]),
        (134, 112, 7, &["morning-rise"][..]),
        (134, 112, 5, &[][..]),
        (137, 125, 7, &["morning-average"][..]),
        (135, 125, 7, &[][..]),
        (137, 125, 5, &[][..]),
    ] {
        let mut week = full(days, evening, 70);
        for (place, taken) in week.iter_mut().enumerate() {
            // A millimetre from day to day.
            let up = if (place / 4) % 2 == 0 { 0 } else { -1 };
            let value = if taken.slot == Slot::Morning {
                morning + up
            } else {
                i32::try_from(evening).unwrap()
            };
            systolic(taken, value);
        }
        let patterns = found(&week, &[], &[]);
        assert_eq!(ids(&patterns), expected, "{morning} {evening} {days}");
        for pattern in patterns {
            assert!(pattern.say.contains("7 days"), "{}", pattern.say);
        }
    }
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

/// ESC 2024, class I: more than 10 mmHg; in three sittings or more, beyond what chance does.
#[test]
fn arms_within_a_session() {
    let week = |right: i32, sessions: usize| {
        let mut week = full(7, 120, 70);
        for (place, taken) in week.iter_mut().enumerate().take(2 * sessions) {
            taken.arm = Some(if place % 2 == 0 { Arm::Left } else { Arm::Right });
            if place % 2 == 1 {
                // Every other sitting a millimetre less.
                systolic(taken, right - i32::try_from(place / 2 % 2).unwrap());
            }
        }
        week
    };
    assert!(found(&week(130, 14), &[], &[]).is_empty());
    let patterns = found(&week(132, 14), &[], &[]);
    assert_eq!(ids(&patterns), ["arms-differ"]);
    assert!(
        patterns[0]
            .say
            .contains("In 14 sittings with both arms (3 are needed), the right arm was higher by 11.5"),
        "{}",
        patterns[0].say
    );
    assert!(found(&week(108, 14), &[], &[])[0].say.contains("the left arm"));
    // Two sittings name nothing, however far apart; three do.
    assert!(found(&week(150, 2), &[], &[]).is_empty());
    assert_eq!(ids(&found(&week(150, 3), &[], &[])), ["arms-differ"]);
    // Arms on different days compare days, not arms.
    let mut apart = full(7, 120, 70);
    for taken in &mut apart {
        let left = taken.day.day() < 4;
        taken.arm = Some(if left { Arm::Left } else { Arm::Right });
        systolic(taken, if left { 120 } else { 134 });
    }
    assert!(found(&apart, &[], &[]).is_empty());
}

/// Before against after, once the 14 days of ACC/AHA 2017 are over; the days between enter neither.
#[test]
fn before_and_after_a_medicine() {
    let mut chances = Chances(5);
    let change = FIRST.checked_add(7.days()).unwrap();
    let settled = change.checked_add(14.days()).unwrap();
    let mut weeks = full(28, 150, 90);
    for taken in &mut weeks {
        // While it settles the pressure is somewhere else altogether.
        let lower = if taken.day >= settled {
            12.0
        } else if taken.day >= change {
            -60.0
        } else {
            0.0
        };
        let value = 150.0 - lower + 3.0 * chances.normal();
        systolic(taken, value.round() as i32);
        taken.values.as_mut().unwrap().diastolic = Pressure::from_mmhg((value - 60.0).round() as i32);
    }
    let two_week = protocol("two-week");
    let period = of(&two_week, Some(28), &weeks);
    let of_changes = |changes: &[Date]| patterns(&period, &two_week, &weeks, &[], changes);
    let seen = of_changes(&[change]);
    let pattern = seen
        .iter()
        .find(|pattern| pattern.id == "medicine-changed")
        .unwrap();
    assert!((pattern.numbers["systolic"] + 12.0).abs() < 3.0);
    assert!(pattern.numbers["systolic-low"] < -12.0 + 1.5 && pattern.numbers["systolic-high"] > -12.0 - 1.5);
    assert!(pattern.say.contains("does not say that it came from it"));
    assert!(
        pattern
            .say
            .contains("From 2026-03-22 on (7 days) against before (7 days)"),
        "{}",
        pattern.say
    );
    // A week in which it settles is compared with nothing, and says until when.
    let early: Vec<Taken> = weeks
        .iter()
        .filter(|taken| taken.day < settled)
        .cloned()
        .collect();
    let first = of(&two_week, Some(14), &early);
    let patterns_of_first = patterns(&first, &two_week, &early, &[], &[change]);
    assert!(!ids(&patterns_of_first).contains(&"medicine-changed"));
    let waits = patterns_of_first
        .iter()
        .find(|pattern| pattern.id == "medicine-settling")
        .unwrap();
    assert!(
        waits.say.contains("until 2026-03-22 are settling"),
        "{}",
        waits.say
    );
    assert!(
        waits.say.contains("7 days before and 0 days after"),
        "{}",
        waits.say
    );
    // The other way round the week before is not enough either: a second change ends it.
    let second = change.checked_add(15.days()).unwrap();
    let names = ids(&of_changes(&[change, second]));
    assert!(!names.contains(&"medicine-changed"), "{names:?}");
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
