//! `quietcuff period`: the contract's own example, and everything that can be wrong with a period.

use crate::harness::replayed::{DATA, Home, USAGE, cuff, live, week};

fn home() -> Home {
    let home = Home::new();
    home.replay(&week(), &["--person", "p1"]);
    home
}

/// The numbers are those of the command line contract, worked out by hand: see [`week`].
#[test]
fn the_contracts_week() {
    let home = home();
    let period = home.object(&["period", "--json", "--person", "p1"]);
    assert_eq!(period["person"], "p1");
    assert_eq!(period["protocol"], "seven-day");
    assert_eq!(
        (&period["from"], &period["to"]),
        (&"2026-03-01".into(), &"2026-03-07".into())
    );
    assert_eq!(
        (period["sessions"].as_u64(), period["sessions_expected"].as_u64()),
        (Some(14), Some(14))
    );
    assert_eq!(period["readings"]["counted"], 28);
    assert_eq!(period["readings"]["set_aside"], 0);
    assert_eq!(period["sufficient"], true);
    assert_eq!(period["average"]["systolic"].to_string(), "134.32142857142858");
    assert_eq!(period["average"]["diastolic"].to_string(), "86.75");
    assert_eq!(period["average"]["pulse_rate"].as_f64(), Some(72.0));
    assert_eq!(period["average"]["n"], 28);
    assert_eq!(
        period["average_without_first_day"]["systolic"].to_string(),
        "135.41666666666666"
    );
    assert_eq!(
        period["average_without_first_day"]["diastolic"].to_string(),
        "87.54166666666667"
    );
    assert_eq!(period["average_without_first_day"]["n"], 24);
    assert_eq!(period["morning"]["n"], 14);
    assert_eq!(period["evening"]["n"], 14);
    let [low, high] = [0, 1].map(|end| {
        period["average"]["interval_95"]["systolic"][end]
            .as_f64()
            .unwrap()
    });
    assert!(low < 134.32 && 134.33 < high, "{low} {high}");
    assert_eq!(period["threshold"]["systolic"].as_f64(), Some(135.0));
    assert!(
        period["threshold"]["source"]
            .as_str()
            .unwrap()
            .contains("ESC 2024")
    );
    // 86.75 is at or above 85, 134.3 is below 135: one is enough.
    assert_eq!(period["at_or_above"], true);
    assert_eq!(period["reached_by"], serde_json::json!(["diastolic"]));
    assert_eq!(period["variability"]["all"]["systolic"]["n"], 28);
    assert_eq!(period["variability"]["first_morning"]["diastolic"]["n"], 7);
    assert!(
        period["chance_at_or_above"]["say"]
            .as_str()
            .unwrap()
            .contains("not a diagnosis")
    );
    // The only person and the last days are what is meant when nothing is said.
    assert_eq!(home.object(&["period", "--json"]), period);
}

#[test]
fn in_words_with_its_cautions() {
    let text = home().text(&["period"]);
    for words in [
        "134.3/86.8   28\n",
        "Without the first day  135.4/87.5   24",
        "At or above the threshold of 135/85 mmHg in diastolic. ",
        "Source: Seven days, ",
        "28 counted, 0 of them marked; 0 set aside.",
        "An average is not a diagnosis.",
        "Symptoms come first, whatever the numbers say.",
    ] {
        assert!(text.contains(words), "{words:?} is not in\n{text}");
    }
}

/// NICE NG136 drops the first day; the other average stands beside it.
#[test]
fn by_another_protocol() {
    let home = home();
    let period = home.object(&["period", "--json", "--protocol", "nice-ng136"]);
    assert_eq!(period["average"]["n"], 24);
    assert_eq!(period["average_of_all_days"]["n"], 28);
    home.text(&["people", "edit", "p1", "--protocol", "nice-ng136"]);
    assert_eq!(home.object(&["period", "--json"])["protocol"], "nice-ng136");
}

#[test]
fn too_few_readings_give_no_average() {
    let home = Home::new();
    home.replay(&week()[..9], &["--person", "p1"]);
    let period = home.object(&["period", "--json", "--from", "2026-03-01"]);
    assert!(period["average"].is_null() && period["average_without_first_day"].is_null());
    assert!(period["morning"]["systolic"].is_null());
    assert_eq!(period["insufficient"], "9 of 12 readings, 3 of 3 days");
    assert_eq!(period["sufficient"], false);
    let text = home.text(&["period", "--from", "2026-03-01"]);
    assert!(text.contains("No average yet: 9 of 12 readings"), "{text}");
}

#[test]
fn conditions_switch_labels_off() {
    let home = home();
    for (condition, words) in [
        ("pregnancy", "pregnancy"),
        ("atrial-fibrillation", "atrial fibrillation"),
        ("dialysis", "dialysis"),
    ] {
        home.text(&[
            "people",
            "edit",
            "p1",
            "--clear",
            "conditions",
            "--condition",
            condition,
        ]);
        let period = home.object(&["period", "--json"]);
        assert!(
            period["threshold"].is_null() && period["at_or_above"].is_null(),
            "{period}"
        );
        assert!(period["chance_at_or_above"].is_null());
        assert!(period["labels_off"].as_str().unwrap().contains(words));
        // The average is still the average.
        assert_eq!(period["average"]["systolic"].to_string(), "134.32142857142858");
    }
}

#[test]
fn the_clinics_own_threshold() {
    let home = home();
    home.text(&["people", "edit", "p1", "--threshold", "134.4/87"]);
    let period = home.object(&["period", "--json"]);
    assert_eq!(period["at_or_above"], false);
    assert!(period["threshold"]["source"].as_str().unwrap().contains("clinic"));
    home.text(&["people", "edit", "p1", "--threshold", "134.3/87"]);
    assert_eq!(
        home.object(&["period", "--json"])["reached_by"],
        serde_json::json!(["systolic"])
    );
}

#[test]
fn days_without_data_say_so() {
    let home = home();
    home.fails(
        &["period", "--json", "--from", "2026-02-01", "--days", "7"],
        DATA,
        &["p1 has no reading from 2026-02-01 to 2026-02-07", "2026-03-01"],
    );
    // A period that was begun is shown with nothing in it, and says so beside.
    home.text(&["period", "start", "--from", "2026-02-01"]);
    let said = home.run(&["period", "--json", "--from", "2026-02-01"]);
    assert_eq!(said.code, 0);
    assert!(
        said.err.contains("the first after was on 1 March 2026"),
        "{}",
        said.err
    );
    let period: serde_json::Value = serde_json::from_str(&said.out).unwrap();
    assert_eq!(period["insufficient"], "0 of 12 readings, 0 of 3 days");
}

#[test]
fn periods_are_kept_and_do_not_overlap() {
    let home = home();
    home.text(&["period", "start", "--from", "2026-03-01"]);
    home.fails(
        &[
            "period",
            "start",
            "--from",
            "2026-03-07",
            "--protocol",
            "two-week",
        ],
        USAGE,
        &[
            "overlaps the seven-day period from 2026-03-01 to 2026-03-07",
            "2026-03-08",
        ],
    );
    home.text(&[
        "period",
        "start",
        "--from",
        "2026-03-08",
        "--protocol",
        "two-week",
    ]);
    // Stated again for the same first day, it replaces the earlier one.
    home.text(&["period", "start", "--from", "2026-03-01", "--days", "5"]);
    let periods = home.json(&["period", "list", "--json"]);
    let days: Vec<_> = periods
        .iter()
        .map(|p| {
            (
                p["from"].as_str().unwrap(),
                p["to"].as_str().unwrap(),
                p["protocol"].as_str().unwrap(),
            )
        })
        .collect();
    assert_eq!(
        days,
        [
            ("2026-03-01", "2026-03-05", "seven-day"),
            ("2026-03-08", "2026-03-21", "two-week")
        ]
    );
    // Its days and its protocol are those of the period.
    let period = home.object(&["period", "--json", "--from", "2026-03-01"]);
    assert_eq!(period["readings"]["counted"], 20);
}

#[test]
fn what_cannot_be_is_refused() {
    let home = home();
    home.fails(
        &["period", "--protocol", "seven-days"],
        USAGE,
        &["did you mean `seven-day`?"],
    );
    home.fails(
        &["period", "--person", "p2"],
        USAGE,
        &["nobody is called p2", "p1"],
    );
    home.fails(
        &["period", "--days", "0", "--from", "2026-03-01"],
        USAGE,
        &["0 days"],
    );
    home.fails(
        &["period", "--days", "9999", "--from", "2026-03-01"],
        USAGE,
        &["9999 days"],
    );
    home.fails(&["period", "--from", "2026-02-30"], USAGE, &["2026-02-30"]);
    home.fails(
        &["period", "start", "--protocol", "sevenday"],
        USAGE,
        &["seven-day"],
    );
    home.fails(&["period", "--person", "p1", "list"], USAGE, &["start"]);
    // Nothing was stated by any of it.
    assert!(home.json(&["period", "list", "--json"]).is_empty());
}

/// A very high reading is in the period's alerts, whenever it was; so is an irregular pulse in two sessions.
#[test]
fn what_did_not_have_to_wait() {
    let mut lines = week();
    lines.push(live("2026-03-03T13:00:00", 90, cuff(181, 100)));
    for (day, connection) in [("04", 91), ("05", 92)] {
        let mut irregular = cuff(135, 87);
        irregular.status = 0x0004;
        lines.push(live(&format!("2026-03-{day}T12:30:00"), connection, irregular));
    }
    let home = Home::new();
    home.replay(&lines, &["--person", "p1"]);
    let period = home.object(&["period", "--json"]);
    let alerts: Vec<(&str, &str)> = period["alerts"]
        .as_array()
        .unwrap()
        .iter()
        .map(|alert| (alert["about"].as_str().unwrap(), alert["level"].as_str().unwrap()))
        .collect();
    assert_eq!(
        alerts,
        [("very-high", "measure-again"), ("irregular-pulse", "tell-clinic")]
    );
    assert_eq!(period["alerts"][0]["at"], "2026-03-03T13:00:00+01:00");
    let patterns = period["patterns"].as_array().unwrap();
    assert!(
        patterns.iter().any(|pattern| pattern["id"] == "irregular-pulse"),
        "{patterns:?}"
    );
    assert!(
        period["readings"]["marked_reasons"]["outside-window"]
            .as_u64()
            .unwrap()
            >= 3
    );
}

/// A reading that is nobody's is counted beside the average, not in it.
#[test]
fn nothing_is_hidden() {
    let home = Home::new();
    home.replay(&week(), &["--person", "p1"]);
    home.replay(&[live("2026-03-02T21:00:00", 95, cuff(150, 90))], &[]);
    let period = home.object(&["period", "--json"]);
    assert_eq!(period["person_unknown"], 1);
    assert_eq!(period["average"]["n"], 28);
}
