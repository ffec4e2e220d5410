//! The statistics against scipy, statsmodels, numpy and pandas over random series, in one conversation with
//! `oracle.py`.
//!
//! The interpreter is the one that the project's test command sets up, in `quietcuff-tests/venv` of the user's cache
//! directory. Without it the test fails and says so; `QUIETCUFF_SKIP_ORACLES=1` leaves it out.

use crate::harness::left_out::installed;
use crate::monitoring::published::{asked_for_a_third, survey};
use crate::monitoring::week::{Chances, FIRST, of, protocol, taken};
use jiff::ToSpan;
use quietcuff::monitoring::average::{average, t_below, t_quantile};
use quietcuff::monitoring::carried_over::widened;
use quietcuff::monitoring::chance::both_below;
use quietcuff::monitoring::drift::{pettitt_upwards, unlike_the_earlier};
use quietcuff::monitoring::patterns::difference;
use quietcuff::monitoring::protocol::Protocol;
use quietcuff::monitoring::taken::Taken;
use quietcuff::monitoring::variability::variability;
use quietcuff::reading::Pressure;
use quietcuff::sitting::Slot;
use quietcuff::technique::Disposition;
use serde_json::{Value, json};
use std::io::Write;
use std::path::PathBuf;
use std::process::{Command, Stdio};

/// The interpreter that has scipy, statsmodels, numpy and pandas.
fn python() -> Option<PathBuf> {
    let what = "the statistics beside scipy, statsmodels, numpy and pandas";
    installed("venv/pinned", what)?;
    installed("venv/bin/python", what)
}

/// A question for the oracle and what the program says itself.
type Asked = (Value, Box<dyn Fn(&Value)>);

/// Asks everything at once: starting Python is what takes time.
fn compare(asked: &[Asked]) {
    let Some(python) = python() else { return };
    let script = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/monitoring/oracle.py");
    let mut child = Command::new(python)
        .arg(script)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .expect("Python starts");
    let mut stdin = child.stdin.take().unwrap();
    let questions: String = asked
        .iter()
        .map(|(question, _)| format!("{question}\n"))
        .collect();
    // From a thread: the pipes of both directions may fill up.
    let writer = std::thread::spawn(move || stdin.write_all(questions.as_bytes()));
    let output = child.wait_with_output().unwrap();
    writer.join().unwrap().unwrap();
    assert!(output.status.success(), "oracle.py failed; its message is above");
    let answers = String::from_utf8(output.stdout).unwrap();
    assert_eq!(answers.lines().count(), asked.len());
    for ((question, check), answer) in asked.iter().zip(answers.lines()) {
        let answer: Value = serde_json::from_str(answer).unwrap();
        let checked = std::panic::catch_unwind(std::panic::AssertUnwindSafe(|| check(&answer)));
        assert!(checked.is_ok(), "asked {question}\nthe oracle says {answer}");
    }
}

fn near(value: f64, oracle: &Value, tolerance: f64) {
    let oracle = oracle.as_f64().unwrap();
    let scale = oracle.abs().max(1.0);
    assert!(
        (value - oracle).abs() <= tolerance * scale,
        "{value} against {oracle}"
    );
}

fn near_or_none(value: Option<f64>, oracle: &Value) {
    match value {
        Some(value) => near(value, oracle, 1e-10),
        None => assert!(oracle.is_null(), "nothing against {oracle}"),
    }
}

#[test]
fn student_and_the_two_together() {
    let mut chances = Chances(1908);
    let mut asked: Vec<Asked> = Vec::new();
    for turn in 0..400 {
        // Degrees of freedom as days give them, fractions included, and many.
        let df = if turn % 10 == 0 {
            200.0 + 3000.0 * chances.unit()
        } else {
            1.0 + 20.0 * chances.unit()
        };
        let p = if turn % 3 == 0 { 0.975 } else { chances.unit() };
        let x = 4.0 * chances.normal();
        asked.push((
            json!({"ask": "student", "p": p, "x": x, "df": df}),
            Box::new(move |answer| {
                // With very many degrees of freedom the library's quantile keeps seven digits.
                let tolerance = if df > 100.0 { 1e-6 } else { 1e-8 };
                near(t_quantile(p, df).unwrap(), &answer["quantile"], tolerance);
                near(t_below(x, df).unwrap(), &answer["below"], 1e-10);
            }),
        ));
    }
    for turn in 0..100 {
        let df = 1.0 + 13.0 * chances.unit();
        let a = 2.0 * chances.normal();
        let b = if turn % 5 == 0 {
            a + 0.01 * chances.normal()
        } else {
            2.0 * chances.normal()
        };
        let correlation = match turn % 4 {
            0 => 0.99 * (2.0 * chances.unit() - 1.0),
            1 => 0.995,
            _ => chances.unit() * 0.9,
        };
        asked.push((
            json!({"ask": "both_below", "a": a, "b": b, "correlation": correlation, "df": df}),
            Box::new(move |answer| near(both_below(a, b, correlation, df).unwrap(), &answer["value"], 1e-6)),
        ));
    }
    compare(&asked);
}

#[test]
fn averages_with_their_uncertainty() {
    let mut chances = Chances(2002);
    let mut asked: Vec<Asked> = Vec::new();
    for turn in 0..300 {
        let balanced = turn % 3 == 0;
        let days = 2 + chances.below(13) as i64;
        let mut readings: Vec<Taken> = Vec::new();
        for day in 0..days {
            let count = if balanced { 4 } else { 1 + chances.below(6) as i64 };
            let mood = 8.0 * chances.normal();
            for nth in 0..count {
                let systolic = (1320.0 + 10.0 * mood + 40.0 * chances.normal()).round() as i64;
                let diastolic = (830.0 + 6.0 * mood + 30.0 * chances.normal()).round() as i64;
                readings.push(taken(day, Slot::Morning, nth, systolic, diastolic));
            }
        }
        let days: Vec<i8> = readings.iter().map(|taken| taken.day.day()).collect();
        let made = average(&readings).unwrap();
        let uncertainty = made.uncertainty.unwrap();
        let interval = made.interval_95.unwrap();
        let sides = [
            (
                column(&readings, true),
                made.systolic,
                uncertainty.systolic,
                interval.systolic,
            ),
            (
                column(&readings, false),
                made.diastolic,
                uncertainty.diastolic,
                interval.diastolic,
            ),
        ];
        for (values, mean, variance, [low, high]) in sides {
            asked.push((
                json!({"ask": "clustered", "days": days, "values": values}),
                Box::new(move |answer| {
                    near(mean, &answer["mean"], 1e-14);
                    near(variance, &answer["variance"], 1e-10);
                    near(uncertainty.degrees_of_freedom, &answer["df"], 1e-9);
                    near(low, &answer["interval"][0], 1e-9);
                    near(high, &answer["interval"][1], 1e-9);
                    assert!(!balanced || answer["balanced"] == true);
                }),
            ));
        }
    }
    compare(&asked);
}

fn column(readings: &[Taken], systolic: bool) -> Vec<f64> {
    let of = |taken: &Taken| {
        taken.values.map(|values| {
            if systolic {
                values.systolic
            } else {
                values.diastolic
            }
        })
    };
    readings.iter().filter_map(of).map(Pressure::mmhg).collect()
}

#[test]
fn spreads_and_steps() {
    let mut chances = Chances(1979);
    let mut asked: Vec<Asked> = Vec::new();
    for _ in 0..200 {
        let length = 2 + chances.below(60) as usize;
        let step = if chances.unit() < 0.5 { 20.0 } else { 0.0 };
        let values: Vec<i32> = (0..length)
            .map(|place| {
                let level = 130.0 + if place > length / 2 { step } else { 0.0 };
                (level + 9.0 * chances.normal()).round() as i32
            })
            .collect();
        let pressures: Vec<Pressure> = values.iter().copied().map(Pressure::from_mmhg).collect();
        asked.push((
            json!({"ask": "variability", "values": values}),
            Box::new(move |answer| {
                let spread = variability(&pressures);
                assert_eq!(spread.n as u64, answer["n"]);
                for (value, name) in [
                    (spread.sd, "sd"),
                    (spread.cv, "cv"),
                    (spread.arv, "arv"),
                    (spread.range, "range"),
                ] {
                    near_or_none(value, &answer[name]);
                }
            }),
        ));
        let floats: Vec<f64> = values.iter().copied().map(f64::from).collect();
        asked.push((
            json!({"ask": "pettitt", "values": values}),
            Box::new(move |answer| {
                let change = pettitt_upwards(&floats).unwrap();
                near(change.p, &answer["p"], 1e-12);
                assert_eq!(change.at as u64, answer["at"]);
            }),
        ));
        let earlier: Vec<f64> = (0..2 + chances.below(10))
            .map(|_| 6.0 * chances.normal())
            .collect();
        let newest = 15.0 * chances.normal();
        asked.push((
            json!({"ask": "unlike", "earlier": earlier, "newest": newest}),
            Box::new(move |answer| near(unlike_the_earlier(&earlier, newest).unwrap(), &answer["p"], 1e-9)),
        ));
    }
    compare(&asked);
}

/// Days that carry over, with gaps between them: by matrices, of day means with equally many readings each.
#[test]
fn widened_intervals() {
    let mut chances = Chances(1970);
    let mut asked: Vec<Asked> = Vec::new();
    for turn in 0..60 {
        let mut days: Vec<i64> = Vec::new();
        let mut readings = Vec::new();
        let mut means = Vec::new();
        for day in 0..3 + chances.below(12) as i64 {
            if chances.unit() < 0.2 && !days.is_empty() {
                continue;
            }
            days.push(day);
            let tenths = (1300.0 + 80.0 * chances.normal()).round() as i64;
            means.push(tenths as f64 / 10.0);
            readings.extend((0..4).map(|nth| taken(day, Slot::Morning, nth, tenths, tenths - 500)));
        }
        if days.len() < 2 {
            continue;
        }
        let correlation = f64::from(turn % 9) / 10.0;
        let made = average(&readings).unwrap();
        let on: Vec<jiff::civil::Date> = readings.iter().map(|taken| taken.day).collect();
        asked.push((
            json!({"ask": "widened", "days": days, "means": means, "correlation": correlation}),
            Box::new(move |answer| {
                let interval = widened(&made, &on, correlation).unwrap();
                for (place, end) in interval.systolic.into_iter().enumerate() {
                    near(end, &answer["interval"][place], 1e-7);
                }
            }),
        ));
    }
    assert!(asked.len() > 50);
    compare(&asked);
}

#[test]
fn before_and_after() {
    let mut chances = Chances(1947);
    let mut asked: Vec<Asked> = Vec::new();
    for _ in 0..100 {
        let [first, second] = [0, 1].map(|side| {
            let days = 2 + chances.below(12) as i64;
            let mut readings = Vec::new();
            for day in 0..days {
                let mood = 80.0 * chances.normal();
                for nth in 0..4 {
                    let systolic =
                        (1400.0 - 80.0 * f64::from(side) + mood + 40.0 * chances.normal()).round() as i64;
                    readings.push(taken(day, Slot::Morning, nth, systolic, 800 + nth));
                }
            }
            readings
        });
        let means = |readings: &[Taken]| -> Vec<f64> {
            column(readings, true)
                .chunks(4)
                .map(|day| day.iter().sum::<f64>() / 4.0)
                .collect()
        };
        let question = json!({"ask": "welch", "first": means(&first), "second": means(&second)});
        // The diastolic pressures are the same every day: nothing is known of their scatter, and nothing is claimed.
        assert_eq!(
            difference(&average(&first).unwrap(), &average(&second).unwrap()),
            None
        );
        let vary = |mut readings: Vec<Taken>| {
            for taken in &mut readings {
                let values = taken.values.as_mut().unwrap();
                values.diastolic = values.systolic - Pressure::from_mmhg(50);
            }
            average(&readings).unwrap()
        };
        let (first, second) = (vary(first), vary(second));
        asked.push((
            question,
            Box::new(move |answer| {
                for side in <[_; 2]>::from(difference(&first, &second).unwrap()) {
                    near(side.by, &answer["by"], 1e-10);
                    near(side.interval_95[0], &answer["interval"][0], 1e-8);
                    near(side.interval_95[1], &answer["interval"][1], 1e-8);
                }
            }),
        ));
    }
    compare(&asked);
}

/// Readings as untidy as they come: missed sessions, lone ones, marks, some set aside, some outside the period.
pub(crate) fn untidy(chances: &mut Chances) -> Vec<Taken> {
    let mut readings = Vec::new();
    let level = 1250 + chances.below(200) as i64;
    for day in -2..9 {
        for slot in [Slot::Morning, Slot::Other, Slot::Evening] {
            let usual = if slot == Slot::Other { 0.15 } else { 0.8 };
            if chances.unit() > usual {
                continue;
            }
            for nth in 0..1 + chances.below(3) as i64 {
                let systolic = level + chances.below(300) as i64 - 150;
                let mut reading = taken(day + 2, slot, nth, systolic, systolic - 500);
                reading.day = FIRST.checked_add(day.days()).unwrap();
                match chances.below(10) {
                    0 => {
                        reading.disposition = Disposition::SetAside;
                        reading.reasons.push("body-movement");
                    }
                    1 => reading.disposition = Disposition::Marked,
                    _ => {}
                }
                readings.push(reading);
            }
        }
    }
    readings
}

fn asked_period(readings: &[Taken], protocol: &Protocol) -> Value {
    let rows: Vec<Value> = readings
        .iter()
        .map(|taken| {
            let tenths = |pressure: Pressure| (pressure.mmhg() * 10.0).round() as i64;
            let values = taken.values.unwrap();
            json!({
                "day": FIRST.until(taken.day).unwrap().get_days(), "minute": taken.at.as_second() / 60,
                "slot": taken.slot, "session": taken.session, "disposition": taken.disposition.name(),
                "systolic": tenths(values.systolic), "diastolic": tenths(values.diastolic),
            })
        })
        .collect();
    json!({
        "ask": "period", "readings": rows, "days": protocol.days.value, "drop": protocol.drop_first_day.value,
        "sessions": protocol.sessions.value, "per_session": protocol.readings_per_session.value, "readings_min": protocol.readings_min.value, "days_min": protocol.days_min.value,
    })
}

#[test]
fn whole_periods() {
    let mut chances = Chances(42);
    let mut asked: Vec<Asked> = Vec::new();
    let protocols = ["seven-day", "nice-ng136", "aha-ama-2020", "two-week"].map(protocol);
    for turn in 0..200 {
        let protocol = &protocols[turn % 4];
        let mut readings = untidy(&mut chances);
        let keep = readings.len() - if turn % 5 == 0 { readings.len() / 2 } else { 0 };
        readings.truncate(keep);
        let question = asked_period(&readings, protocol);
        chances.shuffle(&mut readings);
        let period = of(protocol, None, &readings);
        asked.push((
            question,
            Box::new(move |answer| {
                let ours = serde_json::to_value(&period).unwrap();
                for name in ["counted", "marked", "set_aside"] {
                    assert_eq!(ours["readings"][name], answer[name], "{name}");
                }
                for name in ["sessions", "sufficient", "at_or_above"] {
                    assert_eq!(ours[name], answer[name], "{name}");
                }
                let balance = &ours["balance"];
                for name in ["mornings", "evenings", "sittings"] {
                    assert_eq!(balance[name], answer[name], "{name}");
                }
                let even = answer["mornings"].as_u64() >= balance["mornings_min"].as_u64()
                    && answer["evenings"].as_u64() >= balance["evenings_min"].as_u64();
                assert_eq!(balance["even"], even);
                if let Some(systolic) = ours["average"]["systolic"].as_f64() {
                    let apart = ["systolic", "diastolic"]
                        .iter()
                        .enumerate()
                        .map(|(place, pressure)| {
                            let of = answer["mean_of_sittings"][place].as_f64().unwrap();
                            let shown = &balance["mean_of_sittings"][pressure];
                            if !shown.is_null() {
                                near(shown.as_f64().unwrap(), &json!(of), 1e-10);
                            }
                            (of - ours["average"][pressure].as_f64().unwrap()).abs()
                        });
                    let apart = apart.fold(0.0, f64::max);
                    assert!(systolic > 0.0);
                    assert_eq!(!balance["mean_of_sittings"].is_null(), apart >= 1.0, "{apart}");
                }
                let outside = &ours["outside_sessions"];
                assert_eq!(outside["n"].as_u64().unwrap_or(0), answer["outside"]);
                for (place, pressure) in ["systolic", "diastolic"].iter().enumerate() {
                    if let Some(change) = outside["change"][pressure].as_f64() {
                        let with = ours["average"][pressure].as_f64().unwrap() + change;
                        near(with, &answer["with_outside"][place], 1e-10);
                    }
                }
                let means = [
                    "average",
                    "average_of_all_days",
                    "average_without_first_day",
                    "morning",
                    "evening",
                    "first_morning",
                ];
                for name in means {
                    for (place, pressure) in ["systolic", "diastolic"].iter().enumerate() {
                        near_or_none(ours[name][pressure].as_f64(), &answer[name][place]);
                    }
                }
                if period.variability.all.systolic.n > 1 {
                    near_or_none(period.variability.all.systolic.sd, &answer["sd"]);
                    near_or_none(period.variability.all.systolic.arv, &answer["arv"]);
                }
            }),
        ));
    }
    compare(&asked);
}

/// 6,612 people of the survey: means and standard deviations of their readings, and the third reading.
#[test]
fn surveyed_people() {
    let file = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/fixtures/data/nhanes_2017_18_auscultatory_triplicate.csv"
    );
    let check = |answer: &Value| {
        let people = survey();
        assert_eq!(people.len(), 6_612);
        for (place, person) in people.iter().enumerate() {
            let whole: Vec<Taken> = (0..)
                .zip(person.readings.iter().flatten())
                .map(|(nth, (systolic, diastolic))| {
                    taken(
                        0,
                        Slot::Other,
                        nth,
                        i64::from(*systolic) * 10,
                        i64::from(*diastolic) * 10,
                    )
                })
                .collect();
            let made = average(&whole);
            near_or_none(
                made.as_ref().map(|made| made.systolic),
                &answer["systolic_mean"][place],
            );
            near_or_none(
                made.as_ref().map(|made| made.diastolic),
                &answer["diastolic_mean"][place],
            );
            for (systolic, name) in [(true, "systolic_sd"), (false, "diastolic_sd")] {
                let pressures: Vec<Pressure> = whole
                    .iter()
                    .filter_map(|taken| taken.values)
                    .map(|values| {
                        if systolic {
                            values.systolic
                        } else {
                            values.diastolic
                        }
                    })
                    .collect();
                near_or_none(variability(&pressures).sd, &answer[name][place]);
            }
        }
        let asked: Vec<usize> = serde_json::from_value(answer["asked"].clone()).unwrap();
        assert_eq!(asked, asked_for_a_third());
    };
    compare(&[(json!({"ask": "survey", "file": file}), Box::new(check))]);
}
