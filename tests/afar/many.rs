//! A house of many: a hundred monitors that twelve listeners hear, a month of eighty people, at one record.

use super::houses::{alike, code, heard, held, join, receiving, state};
use crate::harness::command::Home;
use crate::harness::frames::stamped;
use crate::harness::left_out::in_a_hurry;
use jiff::{SignedDuration, Timestamp};
use quietcuff::frame::Frame;
use quietcuff::household::{Monitor, MonitorAddress, Person, PersonId, Statement};
use quietcuff::journal::Journal;

const MONITORS: u8 = 100;
const LISTENERS: usize = 12;
const PEOPLE: u8 = 80;
const DAYS: i64 = 30;
/// Two sessions a day, of two readings.
const READINGS_A_DAY: i64 = 4;
/// The monitors behind those that are somebody's own are lent, to one person and then to another, by day of the month.
const LOANS: [(i64, i64); 2] = [(5, 12), (15, 25)];

fn begun() -> Timestamp {
    "2026-03-01T00:00:00Z".parse().unwrap()
}

fn day(day: i64) -> Timestamp {
    begun() + SignedDuration::from_hours(24 * day)
}

fn address(monitor: u8) -> MonitorAddress {
    [0xc0, 0xff, 0xee, 0, 1, monitor].into()
}

fn person(n: u8) -> PersonId {
    format!("p{n}").parse().unwrap()
}

/// Every frame in order of time, with the listener that hears it: of five monitors one is carried to and fro.
fn lived() -> Vec<(usize, Frame)> {
    let mut heard = Vec::new();
    for monitor in 0..MONITORS {
        for nth in 0..DAYS * READINGS_A_DAY {
            let (of_day, in_day) = (nth / READINGS_A_DAY, nth % READINGS_A_DAY);
            let at = day(of_day)
                + SignedDuration::from_hours(6 + in_day / 2 * 13)
                + SignedDuration::from_secs(i64::from(monitor) * 61 + in_day % 2 * 90);
            let away = usize::from(monitor % 5 == 0 && of_day % 2 == 1);
            let frame = Frame {
                monitor: address(monitor),
                connection: u32::try_from(nth / 2 + 1).unwrap(),
                ..stamped(u32::try_from(nth).unwrap() + u32::from(monitor), at)
            };
            heard.push(((usize::from(monitor) + away) % LISTENERS, frame));
        }
    }
    heard.sort_by_key(|(_, frame)| frame.received_at);
    heard
}

fn stated() -> Vec<Statement> {
    let mut statements = vec![Statement::Zone {
        zone: "UTC".to_owned(),
        from: None,
    }];
    statements.extend((0..PEOPLE).map(|n| Statement::Person {
        person: person(n),
        details: Person {
            label: format!("Invented person {n}"),
            ..Person::default()
        },
    }));
    for n in 0..MONITORS {
        let monitor = || format!("m{n}").parse().unwrap();
        statements.push(Statement::Monitor {
            monitor: monitor(),
            details: Monitor {
                address: Some(address(n)),
                ..Monitor::default()
            },
        });
        let mut hand = |person: Option<PersonId>, from: Option<Timestamp>| {
            statements.push(Statement::UserIndex {
                monitor: monitor(),
                user_id: 1,
                person,
                from,
            });
        };
        if n < PEOPLE {
            hand(Some(person(n)), None);
        } else {
            for ((from, until), whom) in LOANS.into_iter().zip([n - PEOPLE, n - PEOPLE + 40]) {
                hand(Some(person(whom)), Some(day(from)));
                hand(None, Some(day(until)));
            }
        }
    }
    statements
}

/// How many readings are whose.
fn counted(home: &Home) -> Vec<(Option<String>, i64)> {
    let db = rusqlite::Connection::open(state(home).join("journal.sqlite")).unwrap();
    let mut query = db
        .prepare("SELECT person, count(*) FROM reading GROUP BY person ORDER BY person")
        .unwrap();
    let rows = query.query_map([], |row| Ok((row.get(0)?, row.get(1)?))).unwrap();
    rows.map(Result::unwrap).collect()
}

#[test]
fn a_house_of_many_is_at_the_record_as_if_one_had_heard_it() {
    if in_a_hurry("a month of eighty people") {
        return;
    }
    let (record, alone) = (Home::new(), Home::new());
    for home in [&record, &alone] {
        let mut journal = Journal::open(&state(home)).unwrap();
        journal.state(begun(), &stated()).unwrap();
    }
    let lived = lived();
    let (_door, at) = receiving(&record, "127.0.0.1:0");
    for nth in 0..LISTENERS {
        let away = Home::new();
        let its: Vec<Frame> = lived
            .iter()
            .filter(|(listener, _)| *listener == nth)
            .map(|(_, frame)| frame.clone())
            .collect();
        heard(&away, &its);
        join(&away, &code(&record, &at, &format!("room {nth}"))).good();
        let handed = away.run(&["record", "hand-on", "--once"]).good();
        assert_eq!(handed.trim(), format!("{} frames handed on", its.len()));
    }
    let all: Vec<Frame> = lived.into_iter().map(|(_, frame)| frame).collect();
    heard(&alone, &all);
    assert_eq!(usize::try_from(held(&record)).unwrap(), all.len());
    alike(&record, &alone);
    // Each has what came by their own monitor and by those that were lent to them, and nobody what came between.
    let lent: i64 = LOANS.iter().map(|(from, until)| until - from).sum();
    let monitors = i64::from(MONITORS - PEOPLE);
    for (whose, count) in counted(&record) {
        let days = match whose.as_deref().map(|id| id[1..].parse::<u8>().unwrap()) {
            None => monitors * (DAYS - lent),
            Some(n) if n < MONITORS - PEOPLE => DAYS + LOANS[0].1 - LOANS[0].0,
            Some(n) if (40..40 + MONITORS - PEOPLE).contains(&n) => DAYS + LOANS[1].1 - LOANS[1].0,
            Some(_) => DAYS,
        };
        assert_eq!(count, days * READINGS_A_DAY, "{whose:?}");
    }
    assert_eq!(counted(&record).len(), usize::from(PEOPLE) + 1);
    let listed = record.run(&["listeners", "list", "--json"]).objects();
    let frames: i64 = listed.iter().map(|one| one["frames"].as_i64().unwrap()).sum();
    assert_eq!((listed.len(), frames), (LISTENERS, held(&record)));
}
