//! Published examples and survey data.

use crate::monitoring::week::{full, of, protocol};
use quietcuff::monitoring::average::ExactMean;
use quietcuff::monitoring::patterns::clinic_threshold;
use quietcuff::monitoring::protocol::Limits;
use quietcuff::monitoring::taken::Values;
use quietcuff::monitoring::variability::variability;
use quietcuff::reading::Pressure;

fn mmhg(value: i32) -> Pressure {
    Pressure::from_mmhg(value)
}

fn limits(systolic: i32, diastolic: i32) -> Limits {
    Limits {
        systolic: mmhg(systolic),
        diastolic: mmhg(diastolic),
    }
}

fn close(value: f64, expected: f64, places: i32) {
    let half = 0.5 * 10f64.powi(-places);
    assert!(
        (value - expected).abs() <= half,
        "{value} is not {expected} to {places} places"
    );
}

/// Mohammed, Worthington, Woodall, Qual Saf Health Care 2008;17:137: one patient, 26 mornings. The paper's moving
/// ranges sum to 275 over 25 steps; its control limits, mean ± 2.66 × average moving range, leave only day 6 outside.
#[test]
fn twenty_six_mornings() {
    let text = include_str!("../../fixtures/data/mohammed_2008_sbp_26mornings.csv");
    let values: Vec<i32> = text
        .lines()
        .skip(1)
        .map(|line| line.split_once(',').unwrap().1.trim().parse().unwrap())
        .collect();
    let pressures: Vec<Pressure> = values.iter().copied().map(mmhg).collect();
    let spread = variability(&pressures);
    assert_eq!(spread.n, 26);
    assert_eq!(spread.arv, Some(11.0));
    close(spread.sd.unwrap(), 10.3538, 4);
    close(spread.cv.unwrap(), 5.9782, 4);
    let total: Pressure = pressures.iter().copied().sum();
    assert_eq!(total, mmhg(4503));
    close(total.mean(26), 173.1923, 4);
    let (low, high) = (total.mean(26) - 2.66 * 11.0, total.mean(26) + 2.66 * 11.0);
    close(low, 143.93, 2);
    close(high, 202.45, 2);
    let outside: Vec<usize> = (1..=26)
        .filter(|day| !(low..=high).contains(&f64::from(values[day - 1])))
        .collect();
    assert_eq!(outside, [6]);
}

/// ACC/AHA 2017, table 11: clinic pressure and the corresponding home pressure.
#[test]
fn corresponding_pressures() {
    for (clinic, home) in [
        (limits(120, 80), limits(120, 80)),
        (limits(130, 80), limits(130, 80)),
        (limits(140, 90), limits(135, 85)),
        (limits(160, 100), limits(145, 90)),
    ] {
        assert_eq!(clinic_threshold(&home), Some(clinic));
    }
    assert_eq!(clinic_threshold(&limits(125, 75)), None);
}

/// AHA/AMA 2020, monitoring schedule (28 readings in 7 days, 12 in 3; 8 days when the first is dropped); NICE NG136
/// 1.2.7 (4 days at least, the first discarded).
#[test]
fn schedule_counts() {
    for (name, days, expected) in [
        ("aha-ama-2020", 7, 28),
        ("nice-ng136", 7, 24),
        ("aha-ama-2020", 3, 12),
        ("nice-ng136", 4, 12),
        ("nice-ng136", 8, 28),
    ] {
        let readings = full(i64::from(days), 130, 80);
        let period = of(&protocol(name), Some(days), &readings);
        assert!(period.sufficient, "{name} {days}");
        assert_eq!(period.average.unwrap().n, expected, "{name} {days}");
        assert_eq!(period.sessions_expected, usize::from(days) * 2);
    }
}

/// ESC 2024, table 5, home; NICE NG136, 1.2.8.
#[test]
fn named_ranges() {
    for (name, systolic, diastolic, band) in [
        ("esc-2024", 119, 69, None),
        ("esc-2024", 120, 69, Some("elevated")),
        ("esc-2024", 119, 70, Some("elevated")),
        ("esc-2024", 134, 84, Some("elevated")),
        ("esc-2024", 135, 69, Some("hypertension range")),
        ("nice-ng136", 134, 84, None),
        ("nice-ng136", 149, 94, Some("stage 1 range")),
        ("nice-ng136", 150, 94, Some("stage 2 range")),
        ("nice-ng136", 149, 95, Some("stage 2 range")),
    ] {
        let period = of(&protocol(name), None, &full(7, systolic, diastolic));
        let found = period.band.map(|band| band.name);
        assert_eq!(found.as_deref(), band, "{name} {systolic}/{diastolic}");
    }
}

pub(crate) struct Surveyed {
    pub(crate) age: u32,
    /// Systolic and diastolic of the first, second and third reading; 0 where the observer heard no diastolic sound.
    pub(crate) readings: [Option<(i32, i32)>; 3],
}

/// People of the US health survey 2017-2018 with up to three readings in a row; see fixtures/data/ORIGINS.md.
pub(crate) fn survey() -> Vec<Surveyed> {
    let text = include_str!("../../fixtures/data/nhanes_2017_18_auscultatory_triplicate.csv");
    let person = |line: &str| {
        let cells: Vec<Option<i32>> = line.split(',').map(|cell| cell.trim().parse().ok()).collect();
        let reading = |place: usize| cells[place].zip(cells[place + 1]);
        Surveyed {
            age: cells[1].unwrap() as u32,
            readings: [reading(2), reading(4), reading(6)],
        }
    };
    text.lines().skip(1).map(person).collect()
}

/// How many adults would be asked for a third reading: those whose first two differ by more than the protocol's
/// limit. Adults, of them those with two diastolic pressures that were heard, and how many of them differ in the
/// systolic, the diastolic, either.
pub(crate) fn asked_for_a_third() -> [usize; 5] {
    let limit = mmhg(i32::from(protocol("seven-day").third_reading_above.value));
    let differ = |a: i32, b: i32| mmhg(a.max(b)) - mmhg(a.min(b)) > limit;
    let mut counts = [0; 5];
    for person in survey().iter().filter(|person| person.age >= 18) {
        let [Some((s1, d1)), Some((s2, d2)), _] = person.readings else {
            continue;
        };
        let heard = d1 > 0 && d2 > 0;
        let (systolic, diastolic) = (differ(s1, s2), heard && differ(d1, d2));
        let facts = [true, heard, systolic, diastolic, heard && (systolic || diastolic)];
        for (count, fact) in counts.iter_mut().zip(facts) {
            *count += usize::from(fact);
        }
    }
    counts
}

/// The shares as pandas computes them from the same file; the oracle counts them anew. With "10 or more" in place of
/// "more than 10" the last would be 12.6 %.
#[test]
fn third_reading_of_the_surveyed() {
    let [adults, heard, systolic, diastolic, either] = asked_for_a_third();
    let share = |count: usize, of: usize| 100.0 * count as f64 / of as f64;
    close(share(systolic, adults), 3.97, 2);
    close(share(diastolic, heard), 2.77, 2);
    close(share(either, heard), 6.56, 2);
}

/// The edge of the third reading: 10 does not ask, 10.1 does.
#[test]
fn ten_and_ten_point_one() {
    use quietcuff::gatt::Unit;
    let limit = mmhg(i32::from(protocol("seven-day").third_reading_above.value));
    let tenths = |value| Pressure::from_decimal(value, -1, Unit::MmHg).unwrap();
    assert!(tenths(1310) - tenths(1210) <= limit);
    assert!(tenths(1311) - tenths(1210) > limit);
}

/// A mean of thirds is compared as it is and not as it prints.
#[test]
fn exact_means() {
    let mean = |values: &[i64]| {
        let mut mean = ExactMean::default();
        for systolic in values {
            let systolic = Pressure::from_decimal(*systolic, -2, quietcuff::gatt::Unit::MmHg).unwrap();
            mean.add(&Values {
                systolic,
                diastolic: mmhg(80),
                pulse_rate: None,
            });
        }
        mean
    };
    assert!(!mean(&[13_499, 13_500, 13_500]).systolic_reaches(mmhg(135)));
    assert!(mean(&[13_499, 13_501, 13_500]).systolic_reaches(mmhg(135)));
    assert!(!mean(&[13_460, 13_460]).systolic_reaches(mmhg(135)));
    // 0.1 + 0.2 in every place where a float would go wrong.
    assert!(mean(&[13_510, 13_520, 13_470]).systolic_reaches(mmhg(135)));
}
