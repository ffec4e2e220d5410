//! Simulated people, whose true average is known. All of them are invented: pressures around 132/83, a day-to-day
//! coefficient of variation of 6 %, sessions of a day that differ by 2 mmHg, readings of a session by 4, the first
//! reading of a session 1 higher, whole millimetres as a monitor shows them.

use crate::harness::left_out::in_a_hurry;
use crate::monitoring::week::{Chances, FIRST, of, protocol, taken};
use jiff::ToSpan;
use jiff::civil::Date;
use quietcuff::household::Arm;
use quietcuff::monitoring::average::average;
use quietcuff::monitoring::carried_over::widened;
use quietcuff::monitoring::chance::chance_at_or_above;
use quietcuff::monitoring::drift::{SCATTER_SESSIONS_MAX, signs, unlike_the_earlier};
use quietcuff::monitoring::patterns::{ClinicReading, patterns};
use quietcuff::monitoring::taken::Taken;
use quietcuff::monitoring::variability::variability;
use quietcuff::reading::Pressure;
use quietcuff::sitting::Slot;

const PEOPLE: usize = 10_000;
const DAY_CV: f64 = 0.06;
const SESSION_SD: f64 = 2.0;
const READING_SD: f64 = 4.0;
const FIRST_READING: f64 = 1.0;
/// Systolic and diastolic pressure of one person move together from day to day.
const TOGETHER: f64 = 0.6;

#[derive(Clone, Copy)]
struct Habits {
    /// Sessions that are missed.
    missed: f64,
    /// Sessions with one reading instead of two; as many again have three.
    lone: f64,
    /// Morning above evening.
    morning: f64,
    /// First day above the others: Kyriakoulis et al., J Hypertens 2022;40:1380 (2.8/1.4 mmHg).
    first_day: [f64; 2],
    /// Correlation of a day with the day before it.
    carried_over: f64,
}

const BY_THE_BOOK: Habits = Habits {
    missed: 0.0,
    lone: 0.0,
    morning: 0.0,
    first_day: [0.0, 0.0],
    carried_over: 0.0,
};
const AS_PEOPLE_DO: Habits = Habits {
    missed: 0.2,
    lone: 0.1,
    morning: 4.0,
    first_day: [2.8, 1.4],
    carried_over: 0.0,
};

struct Simulated {
    readings: Vec<Taken>,
    /// What the same schedule would tend to over many such days: the level, and its share of first readings.
    truth: [f64; 2],
}

fn somebody(chances: &mut Chances, level: [f64; 2], days: i64, habits: Habits) -> Simulated {
    let mut readings = Vec::new();
    let mut before = [chances.normal(), chances.normal()];
    for day in 0..days {
        let carry = habits.carried_over;
        let fresh = (1.0 - carry * carry).sqrt();
        before = before.map(|mood| carry * mood + fresh * chances.normal());
        let shared = before[0];
        let rest = (1.0 - TOGETHER * TOGETHER).sqrt();
        let moods = [shared, TOGETHER * shared + rest * before[1]];
        for slot in [Slot::Morning, Slot::Evening] {
            if chances.unit() < habits.missed {
                continue;
            }
            let half = if slot == Slot::Morning { 0.5 } else { -0.5 } * habits.morning;
            let sitting = [chances.normal() * SESSION_SD, chances.normal() * SESSION_SD];
            let kind = chances.unit();
            let count = if kind < habits.lone {
                1
            } else if kind < 2.0 * habits.lone {
                3
            } else {
                2
            };
            for nth in 0..count {
                let tenths = [0, 1].map(|which| {
                    let first_day = if day == 0 { habits.first_day[which] } else { 0.0 };
                    let first = if nth == 0 { FIRST_READING } else { 0.0 };
                    let around = level[which] * (1.0 + DAY_CV * moods[which]) + sitting[which] + half;
                    (around + first + first_day + chances.normal() * READING_SD).round() as i64 * 10
                });
                readings.push(taken(day, slot, nth, tenths[0], tenths[1]));
            }
        }
    }
    Simulated {
        readings,
        truth: level.map(|level| level + FIRST_READING / 2.0),
    }
}

/// Share of people, in per cent, whose truth lies in their interval: systolic and diastolic.
fn coverage(days: i64, habits: Habits) -> [f64; 2] {
    let mut chances = Chances(20_260_301 + days as u64);
    let (mut inside, mut people) = ([0usize; 2], 0usize);
    while people < PEOPLE {
        let level = [132.0 + 12.0 * chances.normal(), 83.0 + 8.0 * chances.normal()];
        let person = somebody(&mut chances, level, days, habits);
        let Some(interval) = average(&person.readings).and_then(|average| average.interval_95) else {
            continue;
        };
        people += 1;
        for (which, [low, high]) in [interval.systolic, interval.diastolic].into_iter().enumerate() {
            inside[which] += usize::from((low..=high).contains(&person.truth[which]));
        }
    }
    inside.map(|inside| 100.0 * inside as f64 / people as f64)
}

/// For 3 to 14 days, by the book and with missed sessions, lone and third readings, a morning that is higher and a
/// first day that is.
#[test]
fn the_interval_holds_the_truth_in_95_of_100_people() {
    if in_a_hurry("intervals of thousands of simulated people") {
        return;
    }
    let runs: Vec<(i64, Habits)> = (3..=14)
        .flat_map(|days| [(days, BY_THE_BOOK), (days, AS_PEOPLE_DO)])
        .collect();
    std::thread::scope(|scope| {
        let halves: Vec<_> = (0..2)
            .map(|half| {
                let runs = &runs;
                scope.spawn(move || {
                    runs.iter()
                        .skip(half)
                        .step_by(2)
                        .map(|(days, habits)| (*days, coverage(*days, *habits)))
                        .collect::<Vec<_>>()
                })
            })
            .collect();
        for (half, name) in halves.into_iter().zip(["by the book", "as people do"]) {
            for (days, [systolic, diastolic]) in half.join().unwrap() {
                println!("{name}, {days} days: {systolic:.2} % {diastolic:.2} %");
                assert!(
                    (93.0..=97.0).contains(&systolic),
                    "{name}, {days} days: systolic {systolic} %"
                );
                assert!(
                    (93.0..=97.0).contains(&diastolic),
                    "{name}, {days} days: diastolic {diastolic} %"
                );
            }
        }
    });
}

/// Where the interval ends: days that resemble the day before them. The module says how much it then falls short.
#[test]
fn days_that_carry_over_make_it_too_narrow() {
    for (carried_over, least, most) in [(0.1, 92.0, 94.5), (0.3, 85.0, 90.0)] {
        let [systolic, diastolic] = coverage(
            7,
            Habits {
                carried_over,
                ..BY_THE_BOOK
            },
        );
        println!("{carried_over}: {systolic:.1} % {diastolic:.1} %");
        assert!((least..most).contains(&systolic) && (least..most).contains(&diastolic));
    }
}

/// Widened for the correlation of their days, it holds the truth again, and a little more often: the readings of a day
/// scatter for themselves, so that the means of days carry over a little less; the table is in
/// `tests/figures/measured.md`.
#[test]
fn widened_for_days_that_carry_over_it_holds_the_truth() {
    println!("| days | correlation | as it stands | widened |\n|---|---|---|---|");
    for (days, correlation) in [(7, 0.0), (7, 0.1), (7, 0.3), (7, 0.5), (14, 0.3), (14, 0.5)] {
        let habits = Habits {
            carried_over: correlation,
            ..BY_THE_BOOK
        };
        let mut chances = Chances(4_711 + days as u64);
        let (mut inside, mut plain) = (0, 0);
        let people = 4_000;
        for _ in 0..people {
            let level = [132.0 + 12.0 * chances.normal(), 83.0 + 8.0 * chances.normal()];
            let person = somebody(&mut chances, level, days, habits);
            let made = average(&person.readings).unwrap();
            let on: Vec<Date> = person.readings.iter().map(|taken| taken.day).collect();
            let holds = |[low, high]: [f64; 2]| usize::from((low..=high).contains(&person.truth[0]));
            plain += holds(made.interval_95.unwrap().systolic);
            inside += holds(widened(&made, &on, correlation).unwrap().systolic);
        }
        let share = |n: usize| 100.0 * n as f64 / f64::from(people);
        println!(
            "| {days} | {correlation} | {:.1} % | {:.1} % |",
            share(plain),
            share(inside)
        );
        assert!(
            (93.5..=97.5).contains(&share(inside)),
            "{days} days, {correlation}: {}",
            share(inside)
        );
        if correlation > 0.2 {
            assert!(
                share(plain) < 90.0,
                "{days} days, {correlation}: {}",
                share(plain)
            );
        }
    }
}

/// The same people with the readings taken for independent: what the day as the unit protects from.
#[test]
fn independent_readings_would_promise_too_much() {
    let mut chances = Chances(7);
    let (mut inside, people) = (0, 2_000);
    for _ in 0..people {
        let person = somebody(&mut chances, [132.0, 83.0], 7, BY_THE_BOOK);
        let average = average(&person.readings).unwrap();
        let spread = variability(
            &person
                .readings
                .iter()
                .filter_map(Taken::counted)
                .map(|values| values.systolic)
                .collect::<Vec<_>>(),
        );
        // t of 27 degrees of freedom, 97.5 %: 2.0518 (any table).
        let reach = 2.0518 * spread.sd.unwrap() / (spread.n as f64).sqrt();
        inside += usize::from((average.systolic - person.truth[0]).abs() <= reach);
    }
    assert!(inside * 100 < people * 80, "{inside} of {people}");
}

/// Of the people of whom a chance of about p is said, p are truly at or above the threshold. Their levels are spread
/// evenly around it, as the chance supposes.
#[test]
fn the_chance_comes_true_as_often_as_it_says() {
    let mut chances = Chances(135_085);
    let (systolic, diastolic) = (Pressure::from_mmhg(135), Pressure::from_mmhg(85));
    let mut bins = [[(0usize, 0.0, 0usize); 10]; 3];
    for _ in 0..6_000 {
        let level = [115.0 + 40.0 * chances.unit(), 70.0 + 30.0 * chances.unit()];
        let person = somebody(&mut chances, level, 5, BY_THE_BOOK);
        let average = average(&person.readings).unwrap();
        let said = chance_at_or_above(&average, systolic, diastolic).unwrap();
        let true_ones = [person.truth[0] >= 135.0, person.truth[1] >= 85.0];
        let happened = [true_ones[0], true_ones[1], true_ones[0] || true_ones[1]];
        for (which, (said, happened)) in [said.systolic, said.diastolic, said.either]
            .into_iter()
            .zip(happened)
            .enumerate()
        {
            let bin = &mut bins[which][((said * 10.0) as usize).min(9)];
            bin.0 += 1;
            bin.1 += said;
            bin.2 += usize::from(happened);
        }
    }
    for (which, bins) in bins.iter().enumerate() {
        for (people, said, happened) in bins.iter().filter(|(people, ..)| *people >= 100) {
            let (people, happened) = (*people as f64, *happened as f64);
            let said = said / people;
            // Four standard errors of a share.
            let slack = 4.0 * (said * (1.0 - said) / people).sqrt() + 0.01;
            assert!(
                (happened / people - said).abs() < slack,
                "{which}: said {said}, happened {}",
                happened / people
            );
        }
    }
}

/// People of whom a pattern is not true, each at the very limit of it, and how often it is named all the same.
struct Imagined {
    pattern: &'static str,
    what: &'static str,
    /// Their true averages at home.
    home: [f64; 2],
    /// Their true averages at the clinic.
    clinic: [f64; 2],
    visits: i64,
    /// Their true difference of morning and evening.
    morning: f64,
    /// Their true difference of right and left arm.
    arms: f64,
}

const NOTHING: Imagined = Imagined {
    pattern: "",
    what: "",
    home: [125.0, 75.0],
    clinic: [125.0, 75.0],
    visits: 2,
    morning: 0.0,
    arms: 0.0,
};

/// Scatter of one visit's readings around what many visits would give, as `src/monitoring/patterns/clinic.rs` has it.
const VISIT_SD: [f64; 2] = [10.0, 6.0];

/// Share of people, in per cent, of whom the pattern is named.
fn named(who: &Imagined) -> f64 {
    const MANY: usize = 1_000;
    let mut chances = Chances(1_908 + who.pattern.len() as u64);
    let esc = protocol("esc-2024");
    let habits = Habits {
        morning: who.morning,
        ..BY_THE_BOOK
    };
    let mut times = 0;
    for _ in 0..MANY {
        // The readings tend to half a millimetre more than the level: see `truth`.
        let level = who.home.map(|level| level - FIRST_READING / 2.0);
        let mut week = somebody(&mut chances, level, 7, habits).readings;
        if who.arms > 0.0 {
            for (place, taken) in week.iter_mut().enumerate() {
                taken.arm = Some(if place % 2 == 0 { Arm::Left } else { Arm::Right });
                if place % 2 == 1 {
                    // The first reading is the left one, and higher for being the first.
                    let more = Pressure::from_mmhg((who.arms + FIRST_READING) as i32);
                    taken.values.as_mut().unwrap().systolic += more;
                }
            }
        }
        let clinic: Vec<ClinicReading> = (1..=who.visits)
            .map(|visit| {
                let [systolic, diastolic] = [0, 1]
                    .map(|which| (who.clinic[which] + VISIT_SD[which] * chances.normal()).round() as i32);
                ClinicReading {
                    day: FIRST.checked_sub((10 * visit).days()).unwrap(),
                    systolic: Pressure::from_mmhg(systolic),
                    diastolic: Pressure::from_mmhg(diastolic),
                }
            })
            .collect();
        let period = of(&esc, None, &week);
        let found = patterns(&period, &esc, &week, &clinic, &[]);
        times += usize::from(found.iter().any(|pattern| pattern.id == who.pattern));
    }
    100.0 * times as f64 / MANY as f64
}

/// Of people at the very limit, for whom a pattern is just not true, at most 5 % are told to have it; of people who are
/// far beyond it, most are.
#[test]
fn patterns_are_rarely_imagined() {
    if in_a_hurry("patterns of thousands of simulated people") {
        return;
    }
    let imagined = [
        Imagined {
            pattern: "white-coat",
            what: "clinic at 140",
            clinic: [140.0, 80.0],
            ..NOTHING
        },
        Imagined {
            pattern: "white-coat",
            what: "clinic at 140/90",
            clinic: [140.0, 90.0],
            ..NOTHING
        },
        Imagined {
            pattern: "white-coat",
            what: "home at 135",
            home: [135.0, 75.0],
            clinic: [165.0, 100.0],
            ..NOTHING
        },
        Imagined {
            pattern: "white-coat",
            what: "home at 85",
            home: [125.0, 85.0],
            clinic: [165.0, 100.0],
            ..NOTHING
        },
        Imagined {
            pattern: "masked",
            what: "home at 135/85",
            home: [135.0, 85.0],
            clinic: [115.0, 70.0],
            ..NOTHING
        },
        Imagined {
            pattern: "masked",
            what: "clinic at 140",
            home: [150.0, 95.0],
            clinic: [140.0, 70.0],
            visits: 3,
            ..NOTHING
        },
        Imagined {
            pattern: "white-coat-effect",
            what: "20/10 apart",
            clinic: [145.0, 85.0],
            ..NOTHING
        },
        Imagined {
            pattern: "arms-differ",
            what: "10 apart",
            arms: 10.0,
            ..NOTHING
        },
        Imagined {
            pattern: "morning-rise",
            what: "20 apart",
            morning: 20.0,
            ..NOTHING
        },
        Imagined {
            pattern: "morning-average",
            what: "mornings at 135/85",
            home: [135.0, 85.0],
            ..NOTHING
        },
    ];
    let real = [
        Imagined {
            pattern: "white-coat",
            what: "165/100 and 120/72",
            home: [120.0, 72.0],
            clinic: [165.0, 100.0],
            ..NOTHING
        },
        Imagined {
            pattern: "masked",
            what: "118/72 and 150/95",
            home: [150.0, 95.0],
            clinic: [118.0, 72.0],
            ..NOTHING
        },
        Imagined {
            pattern: "white-coat-effect",
            what: "50/25 apart",
            clinic: [175.0, 100.0],
            ..NOTHING
        },
        Imagined {
            pattern: "arms-differ",
            what: "18 apart",
            arms: 18.0,
            ..NOTHING
        },
        Imagined {
            pattern: "morning-rise",
            what: "28 apart",
            morning: 28.0,
            ..NOTHING
        },
        Imagined {
            pattern: "morning-average",
            what: "mornings at 150/95",
            home: [150.0, 95.0],
            ..NOTHING
        },
    ];
    println!("| pattern | people | named |\n|---|---|---|");
    let share = |of: &Imagined| {
        let share = named(of);
        println!("| {} | {} | {share:.1} % |", of.pattern, of.what);
        share
    };
    let too_often: Vec<_> = imagined
        .iter()
        .filter(|of| share(of) > 5.0)
        .map(|of| of.what)
        .collect();
    let too_rarely: Vec<_> = real
        .iter()
        .filter(|of| share(of) < 80.0)
        .map(|of| of.what)
        .collect();
    assert!(too_often.is_empty(), "imagined of too many: {too_often:?}");
    assert!(too_rarely.is_empty(), "not seen in too many: {too_rarely:?}");
}

/// Sessions of one year with two readings each; from `change` on the monitor scatters by `factor` more.
fn a_year(chances: &mut Chances, change: i64, factor: f64) -> Vec<Taken> {
    let mut readings = Vec::new();
    for session in 0..52 * 14 {
        let (day, slot) = (
            session / 2,
            if session % 2 == 0 {
                Slot::Morning
            } else {
                Slot::Evening
            },
        );
        let sd = if session >= change { factor } else { 1.0 };
        let level = [132.0 + 8.0 * chances.normal(), 83.0 + 5.0 * chances.normal()];
        for nth in 0..2 {
            let first = if nth == 0 { FIRST_READING } else { 0.0 };
            let values = [
                level[0] + first + 4.0 * sd * chances.normal(),
                level[1] + 3.0 * sd * chances.normal(),
            ];
            let [systolic, diastolic] = values.map(|value| value.round() as i64 * 10);
            readings.push(taken(day, slot, nth, systolic, diastolic));
        }
    }
    readings
}

/// The first week in which a look at the last sessions finds that the monitor scatters.
fn first_alarm(year: &[Taken], weeks: std::ops::Range<usize>) -> Option<usize> {
    weeks.into_iter().find(|week| {
        let end = week * 28;
        let seen = &year[end.saturating_sub(2 * SCATTER_SESSIONS_MAX)..end];
        signs(seen, &[], None)
            .iter()
            .any(|sign| sign.id == "monitor-scatters")
    })
}

/// False alarms: fewer than 1 in 20 monitors that never change, looked at every week for a year. And a monitor whose
/// scatter doubles in the middle of the year is found within eight weeks.
#[test]
fn a_monitor_that_scatters() {
    let mut chances = Chances(1979);
    let monitors = 200;
    let false_alarms = (0..monitors)
        .filter(|_| first_alarm(&a_year(&mut chances, i64::MAX, 1.0), 2..53).is_some())
        .count();
    println!("false alarms in a year: {false_alarms} of {monitors}");
    assert!(false_alarms * 20 < monitors, "{false_alarms} of {monitors}");
    let found = (0..50)
        .filter(|_| first_alarm(&a_year(&mut chances, 26 * 14, 2.0), 27..35).is_some())
        .count();
    println!("doubled scatter found within eight weeks: {found} of 50");
    assert!(found >= 48, "{found} of 50");
}

/// The other sign has the level that it says, whatever the number of earlier clinic readings.
#[test]
fn a_disagreement_is_rarely_imagined() {
    let mut chances = Chances(1991);
    for earlier in [4, 6, 10] {
        let series = 20_000;
        let alarms = (0..series)
            .filter(|_| {
                let values: Vec<f64> = (0..earlier).map(|_| -5.0 + 6.0 * chances.normal()).collect();
                unlike_the_earlier(&values, -5.0 + 6.0 * chances.normal()).unwrap() < 0.01
            })
            .count();
        let share = 100.0 * alarms as f64 / f64::from(series);
        assert!((0.7..1.3).contains(&share), "{earlier} earlier: {share} %");
    }
}

/// The days that the simulation makes are days of the calendar, so that the whole way through a period is the same.
#[test]
fn the_simulated_week_is_a_week() {
    let person = somebody(&mut Chances(1), [132.0, 83.0], 7, BY_THE_BOOK);
    let period = of(&protocol("seven-day"), None, &person.readings);
    assert_eq!((period.readings.counted, period.sessions), (28, 14));
    assert_eq!(
        person.readings.last().unwrap().day,
        FIRST.checked_add(6.days()).unwrap()
    );
    assert_eq!(period.average, average(&person.readings));
}
