//! The household's wall clock, held against Python's `zoneinfo` (see `civil_time.py`): every quarter of an hour around
//! every change of some years in zones with whole, half and quarter hours, with and without summer time, on both
//! hemispheres, and one that skipped a day.

use crate::harness::left_out::program;
use crate::reading::table::{civil, moment, zoned, zones};
use jiff::tz::{TimeZone, TimeZoneDatabase};
use jiff::{SignedDuration, Timestamp};
use quietcuff::household::{Household, Moments, Statement, Zones};
use std::io::Write;
use std::process::{Command, Stdio};

const ZONES: [&str; 14] = [
    "Europe/Berlin",
    "Europe/London",
    "Europe/Dublin",
    "America/New_York",
    "America/Sao_Paulo",
    "America/St_Johns",
    "Africa/Casablanca",
    "Asia/Kolkata",
    "Asia/Kathmandu",
    "Asia/Tehran",
    "Australia/Lord_Howe",
    "Australia/Sydney",
    "Pacific/Apia",
    "UTC",
];

/// Asks the oracle all at once. `None` where the person running the tests said to do without.
fn zoneinfo(questions: &[String]) -> Option<Vec<String>> {
    if !program("python3", "civil time beside Python's zoneinfo") {
        return None;
    }
    let script = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/reading/civil_time.py");
    let mut python = Command::new("python3")
        .arg(script)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let mut stdin = python.stdin.take().unwrap();
    let lines = questions.join("\n");
    let writer = std::thread::spawn(move || stdin.write_all(lines.as_bytes()));
    let output = python.wait_with_output().unwrap();
    writer.join().unwrap().unwrap();
    assert!(output.status.success(), "the oracle failed");
    let answers: Vec<String> = String::from_utf8(output.stdout)
        .unwrap()
        .lines()
        .map(str::to_owned)
        .collect();
    assert_eq!(answers.len(), questions.len());
    Some(answers)
}

/// The moments at which a zone's offset changed, in years of which all rule sets agree, also old ones.
fn changes(zone: &TimeZone) -> Vec<Timestamp> {
    let until = moment("2024-12-31T00:00:00Z");
    zone.following(moment("2009-01-01T00:00:00Z"))
        .map(|change| change.timestamp())
        .take_while(|at| *at < until)
        .collect()
}

fn spelled(moments: Moments) -> String {
    match moments {
        Moments::Once(at) => format!("once {}", at.as_second()),
        Moments::Twice(first, second) => format!("twice {} {}", first.as_second(), second.as_second()),
        Moments::Never(at) => format!("never {}", at.as_second()),
    }
}

#[test]
fn civil_times_are_the_moments_that_zoneinfo_says() {
    let mut questions = Vec::new();
    let mut answers = Vec::new();
    let mut kinds = [0; 3];
    for name in ZONES {
        let wall = zones(&zoned(&[(name, None)]));
        let zone = TimeZoneDatabase::bundled().get(name).unwrap();
        let mut places = changes(&zone);
        places.push(moment("2024-02-29T12:00:00Z"));
        for at in places {
            let middle = wall.civil(at);
            for quarter in -16..=16 {
                let civil = middle + SignedDuration::from_mins(15 * quarter);
                let made = wall.moments(civil).unwrap();
                match made {
                    Moments::Once(_) => kinds[0] += 1,
                    Moments::Twice(..) => kinds[1] += 1,
                    Moments::Never(_) => kinds[2] += 1,
                }
                questions.push(format!("civil {name} {civil}"));
                answers.push(spelled(made));
                let nearby = at + SignedDuration::from_mins(15 * quarter);
                questions.push(format!("moment {name} {}", nearby.as_second()));
                answers.push(wall.offset(nearby).seconds().to_string());
            }
        }
    }
    assert!(
        kinds.iter().all(|n| *n > 500),
        "the cases have to hold once, twice and never: {kinds:?}"
    );
    let Some(oracle) = zoneinfo(&questions) else {
        return;
    };
    for ((question, ours), theirs) in questions.iter().zip(&answers).zip(&oracle) {
        assert_eq!(ours, theirs, "{question}");
    }
}

#[test]
fn a_move_west_shows_hours_twice_and_a_move_east_never() {
    // Berlin, then New York from noon UTC: 14:00 there becomes 08:00 here. Then back, a month later.
    let household = zoned(&[
        ("Europe/Berlin", None),
        ("America/New_York", Some("2026-05-10T12:00:00Z")),
        ("Europe/Berlin", Some("2026-06-10T12:00:00Z")),
    ]);
    let wall = zones(&household);
    for (shown, expected) in [
        ("2026-05-10T07:59:00", "once 2026-05-10T05:59:00Z"),
        (
            "2026-05-10T09:00:00",
            "twice 2026-05-10T07:00:00Z 2026-05-10T13:00:00Z",
        ),
        (
            "2026-05-10T13:59:00",
            "twice 2026-05-10T11:59:00Z 2026-05-10T17:59:00Z",
        ),
        ("2026-05-10T14:00:00", "once 2026-05-10T18:00:00Z"),
        ("2026-06-10T07:59:00", "once 2026-06-10T11:59:00Z"),
        ("2026-06-10T09:00:00", "never 2026-06-10T13:00:00Z"),
        ("2026-06-10T14:00:00", "once 2026-06-10T12:00:00Z"),
        (
            "2026-10-25T02:30:00",
            "twice 2026-10-25T00:30:00Z 2026-10-25T01:30:00Z",
        ),
        ("2026-03-29T02:30:00", "never 2026-03-29T01:30:00Z"),
    ] {
        let made = match wall.moments(civil(shown)).unwrap() {
            Moments::Once(at) => format!("once {at}"),
            Moments::Twice(first, second) => format!("twice {first} {second}"),
            Moments::Never(at) => format!("never {at}"),
        };
        assert_eq!(made, expected, "{shown}");
    }
}

#[test]
fn fixed_offsets() {
    let seconds = |zone: &str| {
        zones(&zoned(&[(zone, None)]))
            .offset(moment("2026-05-01T00:00:00Z"))
            .seconds()
    };
    assert_eq!(seconds("-09:00"), -9 * 3600);
    assert_eq!(seconds("+05:30"), 19_800);
    assert_eq!(seconds("+0545"), 20_700);
    assert_eq!(seconds("+14:00"), 50_400);
    assert_eq!(seconds("-03"), -10_800);
    assert_eq!(seconds("UTC"), 0);
    for wrong in [
        "Mars/Olympus",
        "+14:01",
        "+05:60",
        "-9:00",
        "+",
        "+1:2:3",
        "+aa:bb",
        "",
        "+é0",
    ] {
        let error = Zones::of(&zoned(&[(wrong, None)])).unwrap_err();
        assert!(
            error.to_string().contains("is not a time zone"),
            "{wrong}: {error}"
        );
    }
}

#[test]
fn without_a_zone_it_is_utc() {
    let wall = zones(&Household::default());
    assert_eq!(wall.offset(moment("2026-05-01T00:00:00Z")).seconds(), 0);
}

#[test]
fn a_zone_stated_again_for_the_same_moment_replaces_it() {
    let zone = |zone: &str, from: Option<&str>| Statement::Zone {
        zone: zone.to_owned(),
        from: from.map(moment),
    };
    let household = Household::after(&[
        zone("UTC", None),
        zone("+05:30", Some("2026-05-01T00:00:00Z")),
        zone("+03:00", Some("2026-04-01T00:00:00Z")),
        zone("+01:00", None),
        zone("+05:45", Some("2026-05-01T00:00:00Z")),
    ]);
    let names: Vec<&str> = household.zones.iter().map(|(_, name)| name.as_str()).collect();
    assert_eq!(names, ["+01:00", "+03:00", "+05:45"]);
    let wall = zones(&household);
    assert_eq!(
        wall.civil(moment("2020-01-01T00:00:00Z")),
        civil("2020-01-01T01:00:00")
    );
    assert_eq!(
        wall.civil(moment("2026-05-01T00:00:00Z")),
        civil("2026-05-01T05:45:00")
    );
}

#[test]
fn a_change_is_found_to_the_second() {
    let wall = zones(&zoned(&[("Europe/Berlin", None)]));
    let change = wall.change_between(moment("2026-03-01T00:00:00Z"), moment("2026-04-01T12:34:56Z"));
    assert_eq!(change, Some(moment("2026-03-29T01:00:00Z")));
    let none = wall.change_between(moment("2026-04-01T00:00:00Z"), moment("2026-05-01T00:00:00Z"));
    assert_eq!(none, None);
}
