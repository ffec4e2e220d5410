//! When a monitor wants attention: every 2 years, after 3 to 5 years of life, sooner on signs (common practice).

use crate::technique::made::{m1, note, zone};
use jiff::civil::{Date, date};
use quietcuff::household::{Monitor, Note, StatedNote};
use quietcuff::monitoring::care::{Care, Sign, Task, Usage, care};

fn on(civil: &str, what: Note) -> StatedNote {
    StatedNote {
        person: None,
        monitor: Some(m1()),
        ..note(civil, what)
    }
}

fn checked() -> Note {
    Note::MonitorChecked { text: None }
}

fn on_day(bought: Option<Date>, usage: &Usage, notes: &[StatedNote], today: Date) -> Care {
    let monitor = Monitor {
        bought,
        ..Monitor::default()
    };
    care(&m1(), &monitor, usage, notes, &zone(), today)
}

fn dues(care: &Care) -> Vec<(Task, Date)> {
    care.due.iter().map(|due| (due.task, due.on)).collect()
}

#[test]
fn due_dates_count_from_the_last_check_and_from_the_purchase() {
    let bought = Some(date(2024, 2, 29));
    let care = on_day(bought, &Usage::default(), &[], date(2025, 1, 1));
    // Two and three years after 29 February come the 28th.
    let expected = [
        (Task::Check, date(2026, 2, 28)),
        (Task::PlanReplacement, date(2027, 2, 28)),
    ];
    assert_eq!(dues(&care), expected);
    assert_eq!(care.due_on(date(2026, 2, 27)).count(), 0);
    assert_eq!(care.due_on(date(2026, 2, 28)).count(), 1);

    let notes = [on("2026-03-01T09:00:00", checked())];
    let care = on_day(bought, &Usage::default(), &notes, date(2026, 4, 1));
    assert_eq!(care.checked, Some(date(2026, 3, 1)));
    assert_eq!(
        dues(&care),
        [
            (Task::PlanReplacement, date(2027, 2, 28)),
            (Task::Check, date(2028, 3, 1))
        ]
    );

    let old = on_day(bought, &Usage::default(), &notes, date(2029, 2, 28));
    assert!(dues(&old).contains(&(Task::Replace, date(2029, 2, 28))));
    let younger = on_day(bought, &Usage::default(), &notes, date(2029, 2, 27));
    assert!(dues(&younger).contains(&(Task::PlanReplacement, date(2027, 2, 28))));
}

#[test]
fn a_monitor_of_unknown_age_counts_from_its_first_measurement_or_is_due() {
    let usage = Usage {
        measurements: 7,
        first_used: Some(date(2026, 1, 1)),
        ..Usage::default()
    };
    let care = on_day(None, &usage, &[], date(2026, 2, 1));
    assert_eq!((care.measurements, care.since), (7, Some(date(2026, 1, 1))));
    assert_eq!(dues(&care)[0], (Task::Check, date(2028, 1, 1)));
    let unknown = on_day(None, &Usage::default(), &[], date(2026, 2, 1));
    assert_eq!(dues(&unknown), [(Task::Check, date(2026, 2, 1))]);
}

#[test]
fn a_fall_brings_the_check_forward_until_it_was_checked() {
    let bought = Some(date(2026, 1, 1));
    let fell = || on("2026-03-01T20:00:00", Note::MonitorDropped);
    let care = on_day(bought, &Usage::default(), &[fell()], date(2026, 3, 2));
    assert_eq!((care.drops, dues(&care)[0]), (1, (Task::Check, date(2026, 3, 1))));
    assert!(care.due[0].because.contains("dropped"));
    // The day before it fell, nobody knew.
    assert_eq!(
        on_day(bought, &Usage::default(), &[fell()], date(2026, 2, 28)).drops,
        0
    );
    let after = [fell(), on("2026-03-05T20:00:00", checked())];
    let care = on_day(bought, &Usage::default(), &after, date(2026, 3, 6));
    assert_eq!(care.drops, 0);
    assert!(dues(&care).contains(&(Task::Check, date(2028, 3, 5))));
    // Checked on the day of the fall: after it.
    let same_day = [fell(), on("2026-03-01T09:00:00", checked())];
    assert_eq!(
        on_day(bought, &Usage::default(), &same_day, date(2026, 3, 6)).drops,
        0
    );
    // Another monitor's fall is not its own.
    let mut others = fell();
    others.monitor = Some("m2".parse().unwrap());
    assert_eq!(
        on_day(bought, &Usage::default(), &[others], date(2026, 3, 2)).drops,
        0
    );
}

#[test]
fn what_its_readings_show_brings_the_check_forward() {
    let usage = Usage {
        signs: vec![
            (Sign::Scatters, date(2026, 5, 2)),
            (Sign::DisagreesWithClinic, date(2026, 5, 1)),
        ],
        ..Usage::default()
    };
    let care = on_day(Some(date(2026, 1, 1)), &usage, &[], date(2026, 5, 3));
    assert_eq!(dues(&care)[0], (Task::Check, date(2026, 5, 1)));
    assert!(care.due[0].because.contains("clinic"));
}

#[test]
fn batteries() {
    let at = |level, notes: &[StatedNote]| {
        let usage = Usage {
            battery: Some((level, date(2026, 3, 1))),
            ..Usage::default()
        };
        let care = on_day(Some(date(2026, 1, 1)), &usage, notes, date(2026, 3, 2));
        let due = care.due.iter().any(|due| due.task == Task::ChangeBatteries);
        (care.battery, due)
    };
    assert_eq!(at(21, &[]), (Some(21), false));
    assert_eq!(at(20, &[]), (Some(20), true));
    let changed = [on("2026-03-01T21:00:00", Note::BatteriesChanged)];
    assert_eq!(at(5, &changed), (None, false));
}
