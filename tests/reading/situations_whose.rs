//! The situations of `fixtures/situations/whose-and-who-listens.md`, read from the file that people read.

use jiff::civil::DateTime;
use jiff::{SignedDuration, Timestamp};
use quietcuff::household::{Household, PersonId, Statement};
use quietcuff::monitoring::listening::is_silent;
use quietcuff::reading::owner::{self, Claim};
use quietcuff::reading::{ReadingId, TimeSource};

const TABLE: &str = include_str!("../../fixtures/situations/whose-and-who-listens.md");

/// The cells of the rows whose name begins so.
fn rows<const CELLS: usize>(beginning: &str) -> Vec<[&'static str; CELLS]> {
    let lines = TABLE
        .lines()
        .filter(|line| line.starts_with(&format!("| {beginning}-")));
    lines
        .map(|line| {
            let cells: Vec<&str> = line.trim_matches('|').split('|').map(str::trim).collect();
            let cells: [&str; CELLS] = cells.try_into().unwrap_or_else(|_| panic!("{line}"));
            assert!(cells.iter().all(|cell| !cell.is_empty()), "{line}");
            cells
        })
        .collect()
}

fn moment(text: &str) -> Timestamp {
    let civil: DateTime = text.replace(' ', "T").parse().unwrap();
    jiff::tz::Offset::UTC.to_timestamp(civil).unwrap()
}

fn said(text: &str) -> Statement {
    let (what, from) = match text.split_once(" from ") {
        Some((what, from)) => (what, Some(moment(from))),
        None => (text, None),
    };
    let (number, whose) = what.split_once(' ').unwrap();
    let person: Option<PersonId> = (whose != "nobody").then(|| whose.parse().unwrap());
    let monitor = "m1".parse().unwrap();
    match number {
        "-" => Statement::UsualPerson {
            monitor,
            person,
            from,
        },
        number => Statement::UserIndex {
            monitor,
            user_id: number.parse().unwrap(),
            person,
            from,
        },
    }
}

#[test]
fn every_row_of_whose_it_is() {
    let rows = rows::<6>("whose");
    assert!(rows.len() >= 23);
    for [name, statements, number, taken, whose, _] in rows {
        let statements: Vec<Statement> = statements.split("; ").map(said).collect();
        let household = Household::after(&statements);
        let (taken, receipt_known) = match taken.strip_suffix(" unsure") {
            Some(taken) => (taken, false),
            None => (taken, true),
        };
        let (at, source) = match taken.split_once(" by ") {
            Some((at, "wall clock")) => (Some(at), TimeSource::WallClock),
            Some((at, "known offset")) => (Some(at), TimeSource::KnownOffset),
            _ if taken == "unknown" => (None, TimeSource::Unknown),
            _ => (Some(taken), TimeSource::MonitorClock),
        };
        let claim = Claim {
            monitor: &"m1".parse().unwrap(),
            given_to: None,
            user_id: number.parse().ok(),
            at: at.map(moment),
            source,
            received_at: moment("2026-05-01 08:00"),
            receipt_known,
        };
        let owner = owner::of(&household, &ReadingId("r".to_owned()), claim);
        assert_eq!(owner.map_or("nobody", PersonId::as_str), whose, "{name}");
    }
}

#[test]
fn every_row_of_a_monitor_that_is_silent() {
    let rows = rows::<5>("silent");
    assert!(rows.len() >= 9);
    for [name, heard, later, says, _] in rows {
        let (times, apart) = heard.trim_end_matches(" h").split_once(" times every ").unwrap();
        let (times, apart): (i64, i64) = (times.parse().unwrap(), apart.parse().unwrap());
        let visit = |nth: i64| Timestamp::UNIX_EPOCH + SignedDuration::from_hours(nth * apart);
        let visits: Vec<Timestamp> = (0..times).rev().map(visit).collect();
        let now = visits[0] + SignedDuration::from_hours(later.parse().unwrap());
        assert_eq!(
            if is_silent(&visits, now) {
                "silent"
            } else {
                "nothing"
            },
            says,
            "{name}"
        );
    }
}
