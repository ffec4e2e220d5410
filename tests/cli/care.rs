//! The care of monitors, where people look for it: `monitors list` and `check`.

use crate::harness::command::{Home, objects};
use jiff::Timestamp;
use quietcuff::household::{Monitor, Statement};
use quietcuff::journal::Journal;

/// A household with one monitor, bought when `bought` says; enrolling needs a radio, stating does not.
fn household(home: &Home, bought: &str) -> String {
    let state = home.path("state");
    let details = Monitor {
        address: Some("C0:FF:EE:00:00:01".parse().unwrap()),
        model: Some("Invented cuff 1".into()),
        bought: Some(bought.parse().unwrap()),
        ..Monitor::default()
    };
    let monitor = "m1".parse().unwrap();
    let statements = [
        Statement::Zone {
            zone: "UTC".into(),
            from: None,
        },
        Statement::Monitor { monitor, details },
    ];
    Journal::open(&state)
        .unwrap()
        .state(Timestamp::now(), &statements)
        .unwrap();
    state.display().to_string()
}

#[test]
fn an_old_monitor_wants_a_check_and_a_successor() {
    let home = Home::new();
    let state = household(&home, "2015-01-01");
    let listed = home
        .run(&["monitors", "list", "--json", "--state", &state])
        .objects();
    let due = listed[0]["care"]["due"].as_array().unwrap();
    let tasks: Vec<&str> = due.iter().map(|due| due["task"].as_str().unwrap()).collect();
    assert_eq!(tasks, ["check", "replace"]);
    assert_eq!(
        due[0]["on"], "2017-01-01",
        "two years after it was bought, since it was never checked"
    );
    assert_eq!(due[1]["on"], "2020-01-01", "five years after it was bought");
    let text = home.run(&["monitors", "list", "--state", &state]).good();
    assert!(
        text.contains("Due since 1 January 2017: Have it checked") && text.contains("common practice"),
        "{text}"
    );
    let checked = home.run(&["check", "--json", "--state", &state]);
    let advised: Vec<_> = objects(&checked.out)
        .into_iter()
        .filter(|line| line["check"] == "monitor care")
        .collect();
    assert_eq!(advised.len(), 2, "{advised:?}");
    assert!(
        advised.iter().all(|line| line["state"] == "advised"),
        "{advised:?}"
    );
}

#[test]
fn a_check_and_a_fall_move_the_date() {
    let home = Home::new();
    let today = Timestamp::now().to_string();
    let day = &today[..10];
    let state = household(&home, day);
    let due = |home: &Home| {
        let listed = home
            .run(&["monitors", "list", "--json", "--state", &state])
            .objects();
        listed[0]["care"]["due"][0].clone()
    };
    assert_ne!(due(&home)["on"], day);
    home.run(&[
        "note",
        "add",
        "monitor-dropped",
        "--monitor",
        "m1",
        "--state",
        &state,
    ])
    .good();
    let dropped = due(&home);
    assert_eq!((&dropped["task"], &dropped["on"]), (&"check".into(), &day.into()));
    home.run(&[
        "note",
        "add",
        "monitor-checked",
        "--monitor",
        "m1",
        "--state",
        &state,
    ])
    .good();
    assert_ne!(
        due(&home)["on"],
        day,
        "a check on the day of the fall came after it"
    );
}
