//! The calendar of a period, as Python's icalendar reads it.

use crate::alerts::made::oracles;
use crate::alerts::whole::Home;
use serde_json::Value;
use std::process::Command;

fn read(home: &Home, folder: &std::path::Path) -> (String, Vec<Value>) {
    let file = home.path("week.ics");
    home.text(&["calendar", "--person", "asha", "--output", file.to_str().unwrap()]);
    let output = Command::new(folder.join("venv/bin/python"))
        .arg(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/alerts/ics.py"))
        .arg(&file)
        .output()
        .unwrap();
    assert!(output.status.success(), "{output:?}");
    let events = String::from_utf8(output.stdout)
        .unwrap()
        .lines()
        .map(|line| serde_json::from_str(line).unwrap())
        .collect();
    (std::fs::read_to_string(file).unwrap(), events)
}

/// Summer time began in Berlin on 29 March 2026: seven in the morning is 06:00 UTC before, and 05:00 after.
#[test]
fn a_week_over_the_change_of_summer_time() {
    let Some(folder) = oracles() else { return };
    let home = Home::new("");
    std::fs::write(home.path("quietcuff.toml"), "").unwrap();
    std::fs::remove_dir_all(home.path("state")).unwrap();
    std::fs::write(home.path("quietcuff.toml"), "time-zone = \"Europe/Berlin\"\n").unwrap();
    std::fs::write(home.path("none.jsonl"), "").unwrap();
    home.text(&["replay", home.path("none.jsonl").to_str().unwrap()]);
    let label = "Äsha; \"a,b\\c\" सुबह की नाप और शाम की नाप, दोनों समय पर 🫀";
    home.text(&["people", "add", "asha", "--label", label]);
    home.text(&["period", "start", "--person", "asha", "--from", "2026-03-27"]);
    let (text, events) = read(&home, &folder);
    for line in text.split("\r\n") {
        assert!(line.len() <= 75 && !line.contains('\n'), "{line:?}");
    }
    assert_eq!(events.len(), 14);
    let starts: Vec<&str> = events
        .iter()
        .map(|event| event["start"].as_str().unwrap())
        .collect();
    assert_eq!(
        starts[0], "2026-03-27T06:00:00+00:00",
        "at the end of quiet hours"
    );
    assert_eq!(starts[1], "2026-03-27T16:00:00+00:00");
    assert_eq!(starts[4], "2026-03-29T05:00:00+00:00", "summer time");
    assert_eq!(starts[13], "2026-04-02T15:00:00+00:00");
    for event in &events {
        assert_eq!(event["minutes"], 15.0);
        assert_eq!(event["alarms"], serde_json::json!([["DISPLAY", 0.0]]));
        assert!(event["summary"].as_str().unwrap().contains(label), "{event}");
    }
    let uids = |events: &[Value]| -> Vec<String> { events.iter().map(|e| e["uid"].to_string()).collect() };
    let (_, again) = read(&home, &folder);
    assert_eq!(
        uids(&events),
        uids(&again),
        "read again they move, and are not added"
    );
    let mut distinct = uids(&events);
    distinct.sort();
    distinct.dedup();
    assert_eq!(distinct.len(), 14);
    assert!(!distinct.iter().any(|uid| uid.contains("asha")), "{distinct:?}");
    // Another home with somebody of the same name, who measures in the same week.
    let other = Home::new("");
    std::fs::remove_dir_all(other.path("state")).unwrap();
    std::fs::write(other.path("none.jsonl"), "").unwrap();
    other.text(&["replay", other.path("none.jsonl").to_str().unwrap()]);
    other.text(&["people", "add", "asha"]);
    other.text(&["period", "start", "--person", "asha", "--from", "2026-03-27"]);
    let (_, theirs) = read(&other, &folder);
    assert!(uids(&theirs).iter().all(|uid| !distinct.contains(uid)));
}

#[test]
fn without_a_period_there_is_no_calendar() {
    let home = Home::new("");
    home.text(&["people", "add", "asha"]);
    let said = home.run(&["calendar"]);
    assert_eq!(said.status.code(), Some(65));
    assert!(String::from_utf8(said.stderr).unwrap().contains("period start"));
}
