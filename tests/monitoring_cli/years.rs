//! `quietcuff period earlier` and `--carry-over`: one person over years.

use crate::harness::replayed::{DATA, Home, USAGE, cuff, live, week};

#[test]
fn the_last_period_stands_beside_the_earlier_ones() {
    let home = Home::new();
    home.replay(&week(), &["--person", "p1"]);
    // Nothing was begun yet.
    home.fails(&["period", "earlier"], DATA, &["no period of p1 has begun"]);
    for (from, days) in [("2026-03-01", "3"), ("2026-03-04", "4")] {
        home.text(&[
            "period", "start", "--person", "p1", "--from", from, "--days", days,
        ]);
    }
    home.text(&[
        "note",
        "add",
        "medicine-changed",
        "--person",
        "p1",
        "--at",
        "2026-03-04T06:00:00+01:00",
    ]);
    let rows = home.json(&["period", "earlier", "--json"]);
    assert_eq!(rows.len(), 2);
    let [first, last] = [0, 1].map(|place| &rows[place]);
    assert_eq!(
        (&first["from"], &first["to"]),
        (&"2026-03-01".into(), &"2026-03-03".into())
    );
    // Each average is that of the period for itself, and the difference is theirs.
    for (row, from, days) in [(first, "2026-03-01", "3"), (last, "2026-03-04", "4")] {
        let alone = home.object(&[
            "period", "--json", "--person", "p1", "--from", from, "--days", days,
        ]);
        assert_eq!(row["average"]["systolic"], alone["average"]["systolic"]);
        assert_eq!(row["average"]["n"], alone["average"]["n"]);
    }
    let value = |row: &serde_json::Value| row["average"]["systolic"].as_f64().unwrap();
    let by = first["last_minus_this"]["systolic"]["by"].as_f64().unwrap();
    assert!((by - (value(last) - value(first))).abs() < 1e-9);
    let ends = [0, 1].map(|end| {
        first["last_minus_this"]["systolic"]["interval_95"][end]
            .as_f64()
            .unwrap()
    });
    assert!(ends[0] < by && by < ends[1]);
    assert!(last["last_minus_this"].is_null());
    assert_eq!(last["medicine_changed"], serde_json::json!(["2026-03-04"]));
    assert_eq!(first["medicine_changed"], serde_json::json!([]));
    let text = home.text(&["period", "earlier"]);
    assert!(
        text.contains("medicine changed on 4 March 2026") && text.contains("by chance alone"),
        "{text}"
    );
    home.fails(&["period", "--carry-over", "0.9"], USAGE, &["0 to 0.8"]);
}

/// Three days, a change, two weeks of waiting and three days: the means are those of what was measured, worked out
/// here.
#[test]
fn before_and_after_each_change_of_medicine_over_years() {
    let home = Home::new();
    home.replay(&week(), &["--person", "p1"]);
    let none = home.run(&["period", "changes"]).err;
    assert!(none.contains("no change of medicine of p1 was noted"), "{none}");
    assert!(home.json(&["period", "changes", "--json"]).is_empty());
    let change = |day: &str| {
        let at = format!("{day}T06:00:00+01:00");
        home.text(&["note", "add", "medicine-changed", "--person", "p1", "--at", &at]);
    };
    change("2026-03-04");
    // Nobody has measured for as long as the medicine takes.
    let one = home.object(&["period", "changes", "--json"]);
    assert_eq!(one["changed"], "2026-03-04");
    assert_eq!(one["settled"], "2026-03-18");
    assert!(
        one["after"].is_null() && one["after_minus_before"].is_null(),
        "{one}"
    );
    let text = home.text(&["period", "changes"]);
    assert!(
        text.split_whitespace()
            .collect::<Vec<_>>()
            .join(" ")
            .contains("3 days before and 0 days from 18 March 2026 on; 3 of each are needed"),
        "{text}"
    );
    let later = [(18, 128_u16), (19, 126), (20, 121)];
    let lines: Vec<String> = (100..)
        .step_by(2)
        .zip(later)
        .flat_map(|(connection, (day, systolic))| {
            [(0, connection), (2, connection + 1)].map(|(minute, connection)| {
                live(
                    &format!("2026-03-{day}T07:0{minute}:00"),
                    connection,
                    cuff(systolic, 80),
                )
            })
        })
        .collect();
    home.replay(&lines, &["--person", "p1"]);
    let one = home.object(&["period", "changes", "--json"]);
    let readings = home.json(&["readings", "--json", "--from", "2026-03-01", "--to", "2026-03-03"]);
    let before: Vec<f64> = readings
        .iter()
        .filter(|reading| reading["disposition"] != "set-aside" && !reading["session"].is_null())
        .map(|reading| reading["systolic"].as_f64().unwrap())
        .collect();
    let mean = before.iter().sum::<f64>() / before.len() as f64;
    let value = |side: &str| one[side]["systolic"].as_f64().unwrap();
    assert_eq!(one["before"]["n"], before.len());
    assert!((value("before") - mean).abs() < 1e-9, "{one}");
    assert!((value("after") - 125.0).abs() < 1e-9, "{one}");
    let differ = &one["after_minus_before"]["systolic"];
    let by = differ["by"].as_f64().unwrap();
    assert!((by - (125.0 - mean)).abs() < 1e-9, "{one}");
    let ends = [0, 1].map(|end| differ["interval_95"][end].as_f64().unwrap());
    assert!(ends[0] < by && by < ends[1], "{one}");
    // Another change in between: neither side reaches over it.
    change("2026-03-19");
    let rows = home.json(&["period", "changes", "--json"]);
    assert_eq!(rows.len(), 2);
    assert_eq!(
        (&rows[0]["after"]["days"], &rows[1]["before"]["days"]),
        (&1.into(), &4.into())
    );
    // What waits, waits as the protocol says that ran then.
    home.text(&[
        "period",
        "start",
        "--person",
        "p1",
        "--protocol",
        "jsh-2025",
        "--from",
        "2026-02-01",
    ]);
    let rows = home.json(&["period", "changes", "--json"]);
    assert_eq!(rows[0]["settled"], "2026-04-01");
}

#[test]
fn weekly_follow_up_is_a_series() {
    let home = Home::new();
    home.replay(&week(), &["--person", "p1"]);
    home.text(&[
        "period",
        "start",
        "--person",
        "p1",
        "--protocol",
        "weekly",
        "--from",
        "2026-03-01",
    ]);
    let row = home.object(&["period", "earlier", "--json"]);
    let series = row["series"].as_array().unwrap();
    assert_eq!(series.len(), 7);
    assert_eq!(
        (&series[0]["day"], &series[0]["n"]),
        (&"2026-03-01".into(), &4.into())
    );
    let whole: f64 = series
        .iter()
        .map(|day| day["systolic"].as_f64().unwrap())
        .sum::<f64>()
        / 7.0;
    assert!((whole - row["average"]["systolic"].as_f64().unwrap()).abs() < 1e-9);
}

#[test]
fn days_that_carry_over_widen_the_interval() {
    let home = Home::new();
    home.replay(&week(), &["--person", "p1"]);
    let width = |correlation: &str| {
        let period = home.object(&["period", "--json", "--carry-over", correlation]);
        let of = |name: &str| {
            let ends = &period[name]["systolic"];
            ends[1].as_f64().unwrap() - ends[0].as_f64().unwrap()
        };
        assert_eq!(period["interval_widened"]["correlation"].to_string(), correlation);
        let ends = &period["average"]["interval_95"]["systolic"];
        (
            of("interval_widened"),
            ends[1].as_f64().unwrap() - ends[0].as_f64().unwrap(),
        )
    };
    // With none it is the interval itself: every day has four readings.
    let (none, plain) = width("0.0");
    assert!((none - plain).abs() < 1e-6, "{none} {plain}");
    let (some, more) = (width("0.3").0, width("0.6").0);
    assert!(plain < some && some < more, "{plain} {some} {more}");
    let text = home.text(&["period", "--carry-over", "0.3"]);
    assert!(
        text.split_whitespace()
            .collect::<Vec<_>>()
            .join(" ")
            .contains("with a correlation of 0.3"),
        "{text}"
    );
}
