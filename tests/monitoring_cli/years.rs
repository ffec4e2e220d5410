//! `quietcuff period earlier` and `--carry-over`: one person over years.

use crate::harness::replayed::{DATA, Home, USAGE, week};

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
        text.contains("medicine changed on 2026-03-04") && text.contains("by chance alone"),
        "{text}"
    );
    home.fails(&["period", "--carry-over", "0.9"], USAGE, &["0 to 0.8"]);
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
