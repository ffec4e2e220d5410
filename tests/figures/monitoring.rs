//! What a period, its patterns and the signs of a monitor cost over ten years of one person. The readings are invented.

use crate::table::{Aim, Table};
use jiff::ToSpan;
use jiff::civil::{Date, date};
use quietcuff::household::{Person, PersonId};
use quietcuff::monitoring::drift::signs;
use quietcuff::monitoring::patterns::patterns;
use quietcuff::monitoring::period::period;
use quietcuff::monitoring::protocols::Protocols;
use quietcuff::monitoring::taken::{Taken, Values};
use quietcuff::reading::Pressure;
use quietcuff::sitting::Slot;
use quietcuff::technique::Disposition;
use std::hint::black_box;
use std::time::{Duration, Instant};

const DAYS: i64 = 3_652;
/// What "from frames to report" may take in all; the part here has to stay far below it.
const BUDGET: Duration = Duration::from_millis(20);
const RUNS: usize = 41;

fn ten_years() -> Vec<Taken> {
    let first = date(2016, 3, 1);
    let midnight = first.at(0, 0, 0, 0).in_tz("UTC").unwrap().timestamp();
    let mut readings = Vec::new();
    let mut state = 1u64;
    let mut less_than = |most: i32| {
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        i32::try_from((state >> 33) % u64::try_from(most).unwrap()).unwrap()
    };
    for day in 0..DAYS {
        for (slot, hour) in [(Slot::Morning, 7), (Slot::Evening, 20)] {
            for nth in 0..4 {
                readings.push(Taken {
                    day: first.checked_add(day.days()).unwrap(),
                    slot,
                    session: Some(u64::try_from(day * 2 + i64::from(slot == Slot::Evening)).unwrap()),
                    at: midnight + (day * 24 + hour).hours() + (nth * 2).minutes(),
                    values: Some(Values {
                        systolic: Pressure::from_mmhg(120 + less_than(30)),
                        diastolic: Pressure::from_mmhg(70 + less_than(20)),
                        pulse_rate: Some(f64::from(60 + less_than(20))),
                    }),
                    disposition: if less_than(20) == 0 {
                        Disposition::Marked
                    } else {
                        Disposition::Counted
                    },
                    reasons: Vec::new(),
                    irregular_pulse: false,
                    posed: quietcuff::household::Posed::Seated,
                    arm: None,
                });
            }
        }
    }
    readings
}

fn median(mut work: impl FnMut()) -> Duration {
    let mut runs: Vec<Duration> = (0..RUNS)
        .map(|_| {
            let start = Instant::now();
            work();
            start.elapsed()
        })
        .collect();
    runs.sort();
    runs.get(RUNS / 2).copied().unwrap_or_default()
}

pub(crate) fn measure(table: &mut Table) {
    let readings = ten_years();
    let mut backwards = readings.clone();
    backwards.reverse();
    let protocols = Protocols::built_in().unwrap();
    let seven_day = protocols.get("seven-day").unwrap();
    let id: PersonId = "p1".parse().unwrap();
    let person = Person::default();
    let of = |from: Date, days: Option<u16>, readings: &[Taken]| {
        period(&id, &person, seven_day, from, days, black_box(readings)).unwrap()
    };
    let (first, last_week) = (date(2016, 3, 1), date(2026, 2, 20));
    let ten_years_days = Some(u16::try_from(DAYS).unwrap());
    let whole = of(first, ten_years_days, &readings);
    let week = of(last_week, None, &readings);
    assert!(whole.readings.counted == readings.len() && week.readings.counted == 56);
    let mut report = |name: &str, took: Duration| {
        let what = format!("{}: {name}", readings.len());
        table
            .limit(
                &what,
                took.as_secs_f64() * 1e3,
                "ms",
                BUDGET.as_secs_f64() * 1e3,
                Aim::AtMost(1.0),
            )
            .binds();
    };
    report(
        "the last week of them",
        median(|| drop(black_box(of(last_week, None, &readings)))),
    );
    report(
        "all ten years",
        median(|| drop(black_box(of(first, ten_years_days, &readings)))),
    );
    report(
        "all ten years, newest first",
        median(|| drop(black_box(of(first, ten_years_days, &backwards)))),
    );
    let json = || drop(black_box(serde_json::to_string(&whole).unwrap()));
    report("its JSON", median(json));
    report(
        "patterns of the last week",
        median(|| {
            drop(black_box(patterns(
                &week,
                seven_day,
                &readings,
                &[],
                &[last_week],
            )));
        }),
    );
    report(
        "signs of the monitor",
        median(|| drop(black_box(signs(&readings, &[], None)))),
    );
    report(
        "reading all protocol files",
        median(|| drop(black_box(Protocols::built_in().unwrap()))),
    );
}
