//! Whose a reading is.

use crate::reading::table::{civil, frame, measurement, moment, settled, stamp};
use quietcuff::household::{Household, Monitor, Person, PersonId, Statement};
use quietcuff::reading::Reading;

fn person(id: &str) -> PersonId {
    id.parse().unwrap()
}

/// Of one reading: what its frame carries and what the household states, and whose it must be.
struct Case {
    situation: &'static str,
    user_id: Option<u8>,
    given_to: Option<&'static str>,
    statements: Vec<Statement>,
    owner: Option<&'static str>,
}

fn enrolled() -> Statement {
    Statement::Monitor {
        monitor: "m1".parse().unwrap(),
        details: Monitor {
            address: Some("C0:FF:EE:00:00:01".parse().unwrap()),
            ..Monitor::default()
        },
    }
}

fn index(user_id: u8, owner: Option<&str>) -> Statement {
    Statement::UserIndex {
        monitor: "m1".parse().unwrap(),
        user_id,
        person: owner.map(person),
        from: None,
    }
}

fn index_from(user_id: u8, owner: Option<&str>, from: &str) -> Statement {
    Statement::UserIndex {
        monitor: "m1".parse().unwrap(),
        user_id,
        person: owner.map(person),
        from: Some(moment(from)),
    }
}

fn usual(owner: Option<&str>) -> Statement {
    Statement::UsualPerson {
        monitor: "m1".parse().unwrap(),
        person: owner.map(person),
        from: None,
    }
}

fn heard(user_id: Option<u8>, given_to: Option<&str>, statements: &[Statement]) -> Reading {
    let time = stamp(civil("2026-05-01T08:00:01"));
    let mut measurement = measurement(1, Some(time));
    measurement.user_id = user_id;
    let mut frame = frame(
        1,
        moment("2026-05-01T08:00:04Z"),
        "2a35",
        measurement.encode().to_vec(),
    );
    frame.given_to = given_to.map(person);
    settled(&[frame], &Household::after(statements)).remove(0)
}

#[test]
fn the_owner_is_told_and_never_guessed() {
    let assigned = |owner: Option<&str>, user_id: Option<u8>| Statement::Assigned {
        reading: heard(user_id, None, &[]).id.0,
        person: owner.map(person),
    };
    let removed = || Statement::PersonRemoved {
        person: person("asha"),
    };
    let added = || Statement::Person {
        person: person("asha"),
        details: Person::default(),
    };
    let cases = [
        Case {
            situation: "nothing is known",
            user_id: None,
            given_to: None,
            statements: vec![],
            owner: None,
        },
        Case {
            situation: "no index, and the monitor has a usual person",
            user_id: None,
            given_to: None,
            statements: vec![usual(Some("asha"))],
            owner: Some("asha"),
        },
        Case {
            situation: "the usual person was taken back",
            user_id: None,
            given_to: None,
            statements: vec![usual(Some("asha")), usual(None)],
            owner: None,
        },
        Case {
            situation: "the index changed hands an hour after it was taken",
            user_id: Some(1),
            given_to: None,
            statements: vec![
                index(1, Some("asha")),
                index_from(1, Some("bo"), "2026-05-01T09:00:00Z"),
            ],
            owner: Some("asha"),
        },
        Case {
            situation: "the index changed hands before it was taken, and it was received later still",
            user_id: Some(1),
            given_to: None,
            statements: vec![
                index(1, Some("asha")),
                index_from(1, Some("bo"), "2026-05-01T07:00:00Z"),
            ],
            owner: Some("bo"),
        },
        Case {
            situation: "nobody had the index yet when it was taken",
            user_id: Some(1),
            given_to: None,
            statements: vec![index_from(1, Some("bo"), "2026-05-01T09:00:00Z")],
            owner: None,
        },
        Case {
            situation: "the index was given up, and said again from the beginning",
            user_id: Some(1),
            given_to: None,
            statements: vec![
                index_from(1, None, "2026-05-01T07:00:00Z"),
                index_from(1, Some("bo"), "2026-05-01T07:30:00Z"),
                index(1, Some("asha")),
            ],
            owner: Some("asha"),
        },
        Case {
            situation: "the index is mapped",
            user_id: Some(2),
            given_to: None,
            statements: vec![index(1, Some("asha")), index(2, Some("bo"))],
            owner: Some("bo"),
        },
        Case {
            situation: "the index is mapped, and there is a usual person",
            user_id: Some(2),
            given_to: None,
            statements: vec![usual(Some("asha")), index(2, Some("bo"))],
            owner: Some("bo"),
        },
        Case {
            situation: "the index is not mapped, and the usual person does not stand in",
            user_id: Some(3),
            given_to: None,
            statements: vec![usual(Some("asha")), index(2, Some("bo"))],
            owner: None,
        },
        Case {
            situation: "the only index that ever came is not mapped: still nobody's word",
            user_id: Some(1),
            given_to: None,
            statements: vec![usual(Some("asha"))],
            owner: None,
        },
        Case {
            situation: "the monitor says that it does not know the user",
            user_id: Some(255),
            given_to: None,
            statements: vec![usual(Some("asha")), index(1, Some("bo"))],
            owner: None,
        },
        Case {
            situation: "the household said whose 255 is",
            user_id: Some(255),
            given_to: None,
            statements: vec![index(255, Some("asha"))],
            owner: Some("asha"),
        },
        Case {
            situation: "a mapping was taken back",
            user_id: Some(1),
            given_to: None,
            statements: vec![index(1, Some("asha")), index(1, None)],
            owner: None,
        },
        Case {
            situation: "a mapping was changed",
            user_id: Some(1),
            given_to: None,
            statements: vec![index(1, Some("asha")), index(1, Some("bo"))],
            owner: Some("bo"),
        },
        Case {
            situation: "the source of the frame gave it to somebody",
            user_id: Some(1),
            given_to: Some("cleo"),
            statements: vec![usual(Some("asha")), index(1, Some("bo"))],
            owner: Some("cleo"),
        },
        Case {
            situation: "somebody assigned the reading",
            user_id: Some(1),
            given_to: Some("cleo"),
            statements: vec![index(1, Some("bo")), assigned(Some("asha"), Some(1))],
            owner: Some("asha"),
        },
        Case {
            situation: "the assignment was taken back",
            user_id: Some(1),
            given_to: None,
            statements: vec![
                index(1, Some("bo")),
                assigned(Some("asha"), Some(1)),
                assigned(None, Some(1)),
            ],
            owner: Some("bo"),
        },
        Case {
            situation: "a removed person keeps their readings",
            user_id: Some(1),
            given_to: None,
            statements: vec![added(), index(1, Some("asha")), removed()],
            owner: Some("asha"),
        },
        Case {
            situation: "a forgotten monitor's readings stay",
            user_id: Some(1),
            given_to: None,
            statements: vec![
                index(1, Some("asha")),
                Statement::MonitorForgotten {
                    monitor: "m1".parse().unwrap(),
                },
            ],
            owner: Some("asha"),
        },
    ];
    for case in cases {
        let statements = [vec![enrolled()], case.statements].concat();
        let reading = heard(case.user_id, case.given_to, &statements);
        let owner = reading.person.as_ref().map(PersonId::as_str);
        assert_eq!(owner, case.owner, "{}", case.situation);
        assert_eq!(reading.monitor.as_str(), "m1", "{}", case.situation);
    }
}

#[test]
fn another_monitors_index_means_nothing() {
    let other = Statement::UserIndex {
        monitor: "m2".parse().unwrap(),
        user_id: 1,
        person: Some(person("asha")),
        from: None,
    };
    assert_eq!(heard(Some(1), None, &[enrolled(), other]).person, None);
}

#[test]
fn a_monitor_that_was_never_stated_is_named_after_its_address() {
    assert_eq!(heard(None, None, &[]).monitor.as_str(), "c0ffee000001");
}

#[test]
fn discarding_is_reversible() {
    let id = heard(None, None, &[]).id.0;
    let discard = |reason: Option<&str>| Statement::Discarded {
        reading: id.clone(),
        reason: reason.map(str::to_owned),
    };
    let discarded = |statements: &[Statement]| heard(None, None, statements).discarded;
    assert_eq!(discarded(&[]), None);
    assert_eq!(
        discarded(&[discard(Some("cuff slipped"))]).as_deref(),
        Some("cuff slipped")
    );
    assert_eq!(discarded(&[discard(Some("cuff slipped")), discard(None)]), None);
}
