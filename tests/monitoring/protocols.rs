//! Protocol files: the built-in ones keep their promises, an impossible one is refused in words that help.

use crate::monitoring::week::{FIRST, full, of, protocol, taken};
use quietcuff::household::{PersonId, Statement};
use quietcuff::monitoring::plan::{Plan, PlanError, latest, nearest_days, plans};
use quietcuff::monitoring::protocol::Confidence;
use quietcuff::monitoring::protocols::{DEFAULT, Protocols};
use quietcuff::sitting::Slot;

const CLINIC: &str = r#"
title = "Four days at our clinic"
citation = "Invented clinic, home monitoring leaflet"
readings-per-session = 2
gap-seconds = 60
sessions = ["morning", "evening"]
days = 4
days-min = 3
readings-min = 10
drop-first-day = false
threshold = { systolic = 132.5, diastolic = 82 }
"#;

#[test]
fn built_in_protocols_name_their_sources() {
    let protocols = Protocols::built_in().unwrap();
    let names: Vec<&str> = protocols.iter().map(|protocol| protocol.name.as_str()).collect();
    let wanted = [
        DEFAULT,
        "esc-2024",
        "nice-ng136",
        "aha-ama-2020",
        "acc-aha-2017",
        "taiwan-2020",
        "jsh-2019",
    ];
    for name in wanted {
        assert!(names.contains(&name), "{name}");
    }
    for protocol in protocols.iter() {
        let as_data = serde_json::to_value(protocol).unwrap();
        let stated: Vec<_> = as_data
            .as_object()
            .unwrap()
            .values()
            .filter(|value| value.get("confidence").is_some())
            .collect();
        assert!(stated.len() >= 13, "{}", protocol.name);
        for value in stated {
            assert_ne!(value["confidence"], "clinic", "{}: {value}", protocol.name);
            assert!(
                !value["source"].as_str().unwrap().is_empty(),
                "{}: {value}",
                protocol.name
            );
        }
        assert!(protocol.citation.len() > 20);
    }
}

/// The table of guidelines: days, least days, least readings, first day, threshold.
#[test]
fn built_in_numbers() {
    for (name, days, days_min, readings_min, drop, systolic, diastolic) in [
        ("seven-day", 7, 3, 12, false, 135.0, 85.0),
        ("two-week", 14, 3, 12, false, 135.0, 85.0),
        ("esc-2024", 7, 3, 12, false, 135.0, 85.0),
        ("nice-ng136", 7, 4, 12, true, 135.0, 85.0),
        ("aha-ama-2020", 7, 3, 12, false, 135.0, 85.0),
        ("acc-aha-2017", 7, 2, 4, false, 130.0, 80.0),
        ("taiwan-2020", 7, 4, 12, true, 135.0, 85.0),
        ("jsh-2019", 7, 5, 10, false, 135.0, 85.0),
        ("aha-acc-2025", 7, 3, 12, false, 130.0, 80.0),
        ("jsh-2025", 7, 5, 10, false, 135.0, 85.0),
        ("taiwan-2022", 7, 4, 12, true, 130.0, 80.0),
        ("esh-2023", 7, 3, 12, true, 135.0, 85.0),
        ("ish-2020", 7, 3, 8, true, 135.0, 85.0),
        ("igh-iv-2019", 7, 4, 12, true, 135.0, 85.0),
    ] {
        let protocol = protocol(name);
        assert_eq!(protocol.readings_per_session.value, 2, "{name}");
        assert_eq!(protocol.gap_seconds.value, 60, "{name}");
        assert_eq!(protocol.sessions.value, [Slot::Morning, Slot::Evening], "{name}");
        assert_eq!(
            (
                protocol.days.value,
                protocol.days_min.value,
                protocol.readings_min.value,
                protocol.drop_first_day.value
            ),
            (days, days_min, readings_min, drop),
            "{name}"
        );
        let limits = protocol.threshold.value;
        assert_eq!(
            (limits.systolic.mmhg(), limits.diastolic.mmhg()),
            (systolic, diastolic),
            "{name}"
        );
    }
    assert_eq!(protocol("jsh-2019").days_min.confidence, Confidence::Memory);
    let taiwan = protocol("taiwan-2020");
    assert_eq!(
        taiwan
            .readings_with_atrial_fibrillation
            .map(|stated| stated.value),
        Some(3)
    );
}

/// What was not read says so where a reader sees it, and what is superseded says by what, which is there.
#[test]
fn sure_as_the_source_and_superseded_by_what_is_there() {
    for (name, threshold, days) in [
        ("aha-acc-2025", Confidence::Summary, Confidence::Summary),
        ("jsh-2025", Confidence::Summary, Confidence::Memory),
        ("taiwan-2022", Confidence::Memory, Confidence::Summary),
        ("esh-2023", Confidence::Memory, Confidence::Memory),
        ("ish-2020", Confidence::Memory, Confidence::Memory),
        ("igh-iv-2019", Confidence::Summary, Confidence::Memory),
    ] {
        let protocol = protocol(name);
        assert_eq!(protocol.threshold.confidence, threshold, "{name}");
        assert_eq!(protocol.days.confidence, days, "{name}");
        assert_eq!(protocol.superseded_by, None, "{name}");
        let memory = protocol.days.confidence == Confidence::Memory;
        assert_eq!(
            memory,
            protocol.title.contains("not confirmed") || protocol.title.contains("from memory"),
            "{name}"
        );
    }
    let targets = |name: &str| -> Vec<(f64, f64)> {
        let below = |target: &quietcuff::monitoring::protocol::Target| target.below.value;
        let protocol = protocol(name);
        let of = protocol.targets.iter().map(below);
        of.map(|limits| (limits.systolic.mmhg(), limits.diastolic.mmhg()))
            .collect()
    };
    assert_eq!(targets("aha-acc-2025"), [(130.0, 80.0)]);
    assert_eq!(targets("jsh-2025"), [(125.0, 75.0)]);
    for (older, newer) in [
        ("acc-aha-2017", "aha-acc-2025"),
        ("jsh-2019", "jsh-2025"),
        ("taiwan-2020", "taiwan-2022"),
    ] {
        let by = protocol(older).superseded_by.unwrap();
        assert!(by.contains(&format!("`{newer}`")), "{by}");
        assert_eq!(protocol(newer).name, newer);
    }
    // One month, two weeks: the waiting time after a change is each source's.
    for (name, settling) in [
        ("aha-acc-2025", 28),
        ("jsh-2025", 28),
        ("taiwan-2022", 14),
        ("acc-aha-2017", 14),
    ] {
        assert_eq!(protocol(name).settling_days.value, settling, "{name}");
    }
}

#[test]
fn a_clinic_may_write_its_own() {
    let protocols = Protocols::built_in().unwrap().with_clinic(CLINIC).unwrap();
    let clinic = protocols.get("clinic").unwrap();
    assert_eq!(clinic.days.confidence, Confidence::Clinic);
    let period = of(clinic, None, &full(4, 132, 81));
    assert!(period.sufficient);
    assert_eq!(period.at_or_above, Some(false));
    let period = of(clinic, None, &full(4, 133, 81));
    assert_eq!(
        (period.at_or_above, period.reached_by.as_slice()),
        (Some(true), &["systolic"][..])
    );
    assert!(
        Protocols::built_in()
            .unwrap()
            .get("clinic")
            .unwrap_err()
            .to_string()
            .contains("the clinic's file")
    );
}

#[test]
fn impossible_rules_are_refused() {
    for (from, to, line, says) in [
        ("days-min = 3", "days-min = 9", 8, "only 4 measuring days"),
        (
            "days-min = 3",
            "days-min = -3",
            8,
            "a whole number from 1 to 3700",
        ),
        ("days = 4", "days = 0", 7, "a whole number from 1"),
        ("days = 4", "days = 4.5", 7, "a whole number"),
        ("readings-min = 10", "readings-min = 17", 9, "at most 16 readings"),
        (
            "readings-min = 10",
            "readings-min = 10\naverage-of = \"without-first\"",
            9,
            "at most 8 readings",
        ),
        ("readings-min", "reading-min", 9, "did you mean `readings-min`?"),
        (
            "sessions = [\"morning\", \"evening\"]",
            "sessions = []",
            6,
            "name at least one",
        ),
        ("\"evening\"]", "\"morning\"]", 6, "twice"),
        ("\"evening\"]", "\"evning\"]", 6, "did you mean `evening`?"),
        ("gap-seconds = 60", "gap-seconds = 3600", 5, "from 0 to 600"),
        ("systolic = 132.5", "systolic = nan", 11, "from 40 to 300"),
        ("systolic = 132.5", "systolic = 13.25", 11, "from 40 to 300"),
        (
            "systolic = 132.5, diastolic = 82",
            "systolic = 80, diastolic = 82",
            11,
            "must be above",
        ),
        ("diastolic = 82", "diastol = 82", 11, "did you mean `diastolic`?"),
        (
            "drop-first-day = false",
            "drop-first-day = \"no\"",
            10,
            "true or false",
        ),
        ("drop-first-day = false\n", "", 1, "`drop-first-day` is missing"),
        (
            "days = 4",
            "days = 4\ndays-consecutive = true\nevery-days = 2",
            8,
            "cannot hold",
        ),
        (
            "days = 4",
            "days = { value = 4, confidence = \"full-text\" }",
            7,
            "needs its `source`",
        ),
        (
            "days = 4",
            "days = { value = 4, confidence = \"fulltext\", source = \"x\" }",
            7,
            "`full-text`",
        ),
        (
            "title",
            "name = \"esc-2024\"\ntitle",
            1,
            "calls itself \"esc-2024\"",
        ),
        ("days = 4", "days = = 4", 7, ""),
    ] {
        assert!(CLINIC.contains(from), "{from}");
        let text = CLINIC.replacen(from, to, 1);
        let error = Protocols::built_in().unwrap().with_clinic(&text).unwrap_err();
        let told = error
            .problems
            .iter()
            .any(|problem| problem.line == line && problem.what.contains(says));
        assert!(told, "{to}: {error}");
        assert!(error.to_string().contains("`clinic` cannot be used"), "{error}");
    }
    let huge = "#".repeat(300_000);
    assert!(
        Protocols::built_in()
            .unwrap()
            .with_clinic(&huge)
            .unwrap_err()
            .to_string()
            .contains("300000 bytes")
    );
}

#[test]
fn all_that_is_wrong_is_said_at_once() {
    let text = CLINIC
        .replace("days-min = 3", "days-min = 9")
        .replace("gap-seconds", "gap-second");
    let error = Protocols::built_in().unwrap().with_clinic(&text).unwrap_err();
    assert!(error.problems.len() >= 2, "{error}");
}

#[test]
fn an_unknown_protocol_names_the_nearest() {
    let error = Protocols::built_in()
        .unwrap()
        .get("nice-136")
        .unwrap_err()
        .to_string();
    assert!(error.contains("did you mean `nice-ng136`?"), "{error}");
    assert!(error.contains("acc-aha-2017"), "{error}");
}

fn stated(protocol: &str, from: &str, days: Option<u16>) -> Statement {
    let person: PersonId = "p1".parse().unwrap();
    Statement::Period {
        person,
        protocol: protocol.to_owned(),
        from: from.parse().unwrap(),
        days,
    }
}

#[test]
fn periods_do_not_overlap() {
    let protocols = Protocols::built_in().unwrap();
    let plan = |from: &str, days| Plan::new(&protocols, "seven-day", from.parse().unwrap(), days);
    let first = plan("2026-03-01", None).unwrap();
    assert_eq!(first.to().to_string(), "2026-03-07");
    assert!(first.covers(FIRST) && !first.covers("2026-03-08".parse().unwrap()));
    let next = plan("2026-03-08", None).unwrap();
    next.fits(std::slice::from_ref(&first)).unwrap();
    let error = plan("2026-03-07", None)
        .unwrap()
        .fits(&[first.clone(), next])
        .unwrap_err()
        .to_string();
    assert!(
        error.contains("overlaps the seven-day period from 2026-03-01 to 2026-03-07"),
        "{error}"
    );
    assert!(error.contains("begin on 2026-03-08"), "{error}");
    assert_eq!(plan("2026-03-01", Some(0)), Err(PlanError::Days(0)));
    assert!(matches!(plan("9999-12-30", None), Err(PlanError::Calendar(_))));
}

#[test]
fn stated_periods() {
    let protocols = Protocols::built_in().unwrap();
    let statements = [
        stated("seven-day", "2026-03-08", None),
        stated("seven-day", "2026-03-01", None),
        stated("nice-ng136", "2026-03-05", None),
        stated("gone", "2026-05-01", None),
        stated("nice-ng136", "2026-03-01", Some(4)),
    ];
    let (found, errors) = plans(&"p1".parse().unwrap(), &protocols, &statements);
    let shape: Vec<(&str, String, u16)> = found
        .iter()
        .map(|plan| (plan.protocol.as_str(), plan.from.to_string(), plan.days))
        .collect();
    // The same first day stated anew replaces what was stated before.
    assert_eq!(
        shape,
        [
            ("nice-ng136", "2026-03-01".to_owned(), 4),
            ("seven-day", "2026-03-08".to_owned(), 7)
        ]
    );
    assert_eq!(errors.len(), 2);
    assert!(
        plans(&"p2".parse().unwrap(), &protocols, &statements)
            .0
            .is_empty()
    );

    let readings = [taken(30, Slot::Morning, 0, 1300, 800)];
    let on = |day: &str| latest(&found, "seven-day", 7, &readings, day.parse().unwrap());
    assert_eq!(on("2026-03-10").unwrap().from.to_string(), "2026-03-08");
    assert_eq!(on("2026-03-03").unwrap().protocol, "nice-ng136");
    assert_eq!(on("2026-01-01"), None);
    let unplanned = latest(&[], "seven-day", 7, &readings, "2026-04-30".parse().unwrap()).unwrap();
    assert_eq!(
        (unplanned.from.to_string(), unplanned.to().to_string()),
        ("2026-03-25".into(), "2026-03-31".into())
    );
    let (before, after) = nearest_days(
        &readings,
        "2026-04-01".parse().unwrap(),
        "2026-04-07".parse().unwrap(),
    );
    assert_eq!(
        (before.map(|day| day.to_string()).as_deref(), after),
        (Some("2026-03-31"), None)
    );
}

/// The weekly form: one day in each of twelve weeks.
#[test]
fn weekly_follow_up() {
    let weekly = protocol("weekly");
    let readings: Vec<_> = (0..12)
        .flat_map(|week| {
            [
                (week, Slot::Morning, 0),
                (week, Slot::Morning, 1),
                (week, Slot::Evening, 0),
            ]
        })
        .map(|(week, slot, nth)| taken(week * 7, slot, nth, 1280 + week * 10, 800))
        .collect();
    let period = of(&weekly, None, &readings);
    assert_eq!((period.sessions, period.sessions_expected), (24, 24));
    assert_eq!(period.average.unwrap().n, 36);
}
