//! `quietcuff people`.

use crate::harness::replayed::{Home, NO_INPUT, USAGE, cuff, live};

#[test]
fn everything_that_is_known_of_a_person() {
    let home = Home::new();
    home.text(&[
        "people",
        "add",
        "asha",
        "--label",
        "Asha (invented)",
        "--born",
        "1961",
        "--arm-cm",
        "31.5",
        "--arm",
        "left",
        "--morning",
        "06:00-09:30",
        "--evening",
        "20:00-23:00",
        "--protocol",
        "esc-2024",
        "--threshold",
        "130/80",
        "--target",
        "125/75",
        "--condition",
        "dialysis",
        "--condition",
        "atrial-fibrillation",
        "--strict",
    ]);
    let asha = home.object(&["people", "list", "--json"]);
    let expected = serde_json::json!({
        "id": "asha", "label": "Asha (invented)", "born": 1961, "arm_cm": 31.5, "arm": "left",
        "morning": "06:00-09:30", "evening": "20:00-23:00", "protocol": "esc-2024",
        "threshold": {"systolic": 130.0, "diastolic": 80.0}, "conditions": ["atrial-fibrillation", "dialysis"],
        "target": {"systolic": 125.0, "diastolic": 75.0}, "strict": true, "removed": false, "users": [], "usual": [],
    });
    assert_eq!(asha, expected);
    home.text(&[
        "people", "edit", "asha", "--born", "1962", "--clear", "strict", "--clear", "arm-cm",
    ]);
    let asha = home.object(&["people", "list", "--json"]);
    assert_eq!(
        (&asha["born"], &asha["strict"], &asha["label"]),
        (&1962.into(), &false.into(), &"Asha (invented)".into())
    );
    assert!(asha["arm_cm"].is_null());
    let text = home.text(&["people", "list"]);
    assert!(
        text.contains("born 1962") && text.contains("threshold: 130/80"),
        "{text}"
    );
}

/// Whoever changes something reads what holds now, and what holds only later.
#[test]
fn a_change_is_said() {
    let home = Home::new();
    home.text(&["people", "add", "asha"]);
    let said = home.run(&["people", "edit", "asha", "--arm", "left"]).err;
    assert!(
        said.starts_with("asha is now: ") && said.contains("left arm"),
        "{said}"
    );
    let said = home.run(&["people", "edit", "asha", "--label", "मीना"]).err;
    assert!(said.starts_with("asha is now: \"मीना\", left arm"), "{said}");
    home.text(&["period", "start", "--person", "asha"]);
    let said = home
        .run(&["people", "edit", "asha", "--protocol", "jsh-2025"])
        .err;
    assert!(
        said.contains("stays by seven-day; the next one is by jsh-2025"),
        "{said}"
    );
    let said = home.run(&["people", "edit", "asha", "--clear", "protocol"]).err;
    assert!(
        said.starts_with("asha is now: ") && !said.contains("stays by"),
        "{said}"
    );
}

#[test]
fn removed_people_keep_their_readings() {
    let home = Home::new();
    home.replay(
        &[live("2026-03-01T07:02:11", 1, cuff(120, 80))],
        &["--person", "p1"],
    );
    home.text(&["people", "remove", "p1"]);
    assert!(home.json(&["people", "list", "--json"]).is_empty());
    assert_eq!(
        home.object(&["people", "list", "--all", "--json"])["removed"],
        true
    );
    assert_eq!(
        home.object(&["readings", "--json", "--person", "p1"])["person"],
        "p1"
    );
    home.text(&["people", "add", "p1", "--again"]);
    assert_eq!(home.json(&["people", "list", "--json"]).len(), 1);
}

/// Mapping a monitor's user number settles the readings that waited for it.
#[test]
fn a_monitors_user_number() {
    let home = Home::new();
    let mut second = cuff(120, 80);
    second.user = Some(2);
    home.replay(&[live("2026-03-01T07:02:11", 1, second)], &[]);
    let waiting = home.object(&["readings", "--json"]);
    assert!(waiting["person"].is_null());
    let monitor = waiting["monitor"].as_str().unwrap();
    home.text(&["people", "add", "asha", "--user", &format!("{monitor}=2")]);
    assert_eq!(home.object(&["readings", "--json"])["person"], "asha");
    assert_eq!(
        home.object(&["people", "list", "--json"])["users"][0]["user_id"],
        2
    );
    home.fails(
        &["people", "edit", "asha", "--user", "m9=2"],
        USAGE,
        &["there is no monitor m9", monitor],
    );
}

#[test]
fn what_cannot_be_is_refused() {
    let home = Home::new();
    home.fails(&["people", "list"], NO_INPUT, &["there is no journal"]);
    home.text(&["people", "add", "asha"]);
    for (options, words) in [
        (vec!["--born", "1850"], "1850"),
        (vec!["--born", "2999"], "2999"),
        (vec!["--arm-cm", "315"], "315 cm"),
        (vec!["--arm-cm", "nan"], "cm"),
        (vec!["--arm", "both"], "left or right"),
        (vec!["--protocol", "esc2024"], "did you mean `esc-2024`?"),
        (vec!["--threshold", "80/130"], "the second"),
        (vec!["--threshold", "135"], "135/85"),
        (vec!["--condition", "pregnant"], "did you mean `pregnancy`?"),
        (vec!["--morning", "25:00-26:00"], "06:00-09:30"),
        (vec!["--morning", "06:00-06:00"], "one minute"),
        (vec!["--morning", "10:00-18:00"], "overlap"),
        (vec!["--label", "two\nlines"], "one line"),
    ] {
        let mut args = vec!["people", "edit", "asha"];
        args.extend(options);
        home.fails(&args, USAGE, &[words]);
    }
    home.fails(&["people", "add", "asha"], USAGE, &["people edit asha"]);
    home.fails(&["people", "add", "a b"], USAGE, &["cannot be an id"]);
    home.fails(
        &["people", "edit", "ashaa", "--born", "1961"],
        USAGE,
        &["did you mean `asha`?"],
    );
    home.fails(&["people", "remove", "p9"], USAGE, &["nobody is called p9"]);
    // Nothing of it was kept.
    let asha = home.object(&["people", "list", "--json"]);
    assert!(asha["born"].is_null() && asha["morning"].is_null() && asha["protocol"].is_null());
}

/// Whoever chooses between two equal names, on the page or in a message, chooses wrong.
#[test]
fn nobody_is_called_like_somebody_else() {
    let home = Home::new();
    home.text(&["people", "add", "asha", "--label", "Mother"]);
    home.fails(
        &["people", "add", "usha", "--label", " mother"],
        USAGE,
        &["asha is called", "tells them apart"],
    );
    home.text(&["people", "edit", "asha", "--label", "mother"]);
    home.text(&["people", "remove", "asha"]);
    home.text(&["people", "add", "usha", "--label", "Mother"]);
}
