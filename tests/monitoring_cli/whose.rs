//! Whose a monitor's number is, from when on, and who changed it.

use crate::harness::replayed::{Home, USAGE, cuff, frame, live, measurement};
use jiff::{SignedDuration, Timestamp};
use std::process::Stdio;
use std::time::Duration;

/// Three days of user 1 of the monitor, which are Asha's; its id.
fn asked(home: &Home) -> String {
    let lines: Vec<String> = (1..=3)
        .map(|day| {
            let mut cuff = cuff(120 + day, 80);
            cuff.user = Some(1);
            live(&format!("2026-03-0{day}T07:02:11"), day.into(), cuff)
        })
        .collect();
    home.replay(&lines, &[]);
    let monitor = home.json(&["readings", "--json"])[0]["monitor"]
        .as_str()
        .unwrap()
        .to_owned();
    home.text(&["people", "add", "asha", "--user", &format!("{monitor}=1")]);
    home.text(&["people", "add", "ravi"]);
    monitor
}

fn owners(home: &Home) -> Vec<String> {
    let readings = home.json(&["readings", "--json"]);
    readings
        .iter()
        .map(|reading| reading["person"].as_str().unwrap_or("-").to_owned())
        .collect()
}

#[test]
fn a_number_changes_hands_from_a_moment_and_never_without_a_word() {
    let home = Home::new();
    let number = format!("{}=1", asked(&home));
    let before = ["asha", "asha", "asha"];
    // Nothing moves where nothing is confirmed, and each refusal counts what would.
    for (more, count) in [
        (&["--from", "beginning"][..], "3 readings of asha"),
        (&["--from", "2026-03-02"], "2 readings of asha"),
        (&["--from", "2026-03-02T07:02:12+01:00"], "1 reading of asha"),
        (&[], "0 readings of asha"),
        (
            &["--from", "beginning", "--moves", "2"],
            "3 readings of asha, not 2",
        ),
    ] {
        let mut args = vec!["people", "edit", "ravi", "--user", &number];
        args.extend(more);
        let wanted = count.split(' ').next().unwrap();
        home.fails(
            &args,
            USAGE,
            &["the number is asha's", count, &format!("--moves {wanted}")],
        );
        assert_eq!(owners(&home), before);
    }
    home.fails(
        &[
            "people",
            "edit",
            "ravi",
            "--user",
            &number,
            "--from",
            "2999-01-01T00:00",
        ],
        USAGE,
        &["has not come yet"],
    );
    let second = [
        "people",
        "edit",
        "ravi",
        "--user",
        &number,
        "--from",
        "2026-03-02",
        "--moves",
        "2",
    ];
    home.text(&second);
    let after = ["asha", "ravi", "ravi"];
    assert_eq!(owners(&home), after);
    home.text(&["rebuild"]);
    assert_eq!(owners(&home), after);
    let ravi = home.json(&["people", "list", "--json"]).pop().unwrap();
    assert_eq!(ravi["users"][0]["since"], "2026-03-01T23:00:00Z");
    // Said once more it takes nothing from anybody, so nobody is asked.
    home.text(&[
        "people",
        "edit",
        "ravi",
        "--user",
        &number,
        "--from",
        "2026-03-02",
    ]);
    assert_eq!(owners(&home), after);
}

#[test]
fn a_removed_id_is_not_inherited_with_its_keys() {
    let home = Home::new();
    let monitor = asked(&home);
    home.text(&["keys", "add", "--role", "person", "--person", "asha"]);
    let withdrawn = || {
        let keys = home.json(&["keys", "list", "--json"]);
        assert_eq!(keys.len(), 1);
        keys[0]["state"] == "withdrawn"
    };
    assert!(!withdrawn());
    let said = home.run(&["people", "remove", "asha"]);
    assert!(said.err.contains("key to the page opens nothing"), "{}", said.err);
    assert!(withdrawn());
    // What comes later under her number is nobody's; what she measured stays hers.
    let mut later = cuff(150, 90);
    later.user = Some(1);
    let day = Timestamp::now() + SignedDuration::from_hours(1);
    let day = jiff::tz::Offset::from_hours(1).unwrap().to_datetime(day);
    home.replay(
        &[live(&day.strftime("%Y-%m-%dT%H:%M:%S").to_string(), 9, later)],
        &[],
    );
    assert_eq!(owners(&home), ["asha", "asha", "asha", "-"]);
    home.fails(
        &["people", "add", "asha"],
        USAGE,
        &["asha was removed", "choose another id", "--again"],
    );
    home.fails(&["people", "add", "bo", "--again"], USAGE, &["nobody called bo"]);
    home.text(&["people", "add", "asha", "--again"]);
    assert!(withdrawn());
    assert_eq!(owners(&home), ["asha", "asha", "asha", "-"]);
    let asha = &home.json(&["people", "list", "--json"])[0];
    assert_eq!(asha["users"].as_array().unwrap().len(), 0, "{asha}");
    // Nobody has the number now, so it is taken from nobody.
    home.text(&[
        "people",
        "edit",
        "ravi",
        "--user",
        &format!("{monitor}=1"),
        "--from",
        "now",
    ]);
}

/// A command that has looked, and waits for the file while somebody else writes.
#[test]
fn a_command_that_was_begun_before_anothers_change_is_refused() {
    let home = Home::new();
    home.text(&["people", "add", "asha", "--born", "1961"]);
    let path = home.state().join("journal.sqlite");
    let db = rusqlite::Connection::open(path).unwrap();
    for (other, refused) in [
        (
            r#"{"kind":"person-changed","person":"asha","changes":[{"conditions":["pregnancy"]}]}"#,
            true,
        ),
        (r#"{"kind":"person","person":"ravi","label":"Ravi"}"#, false),
    ] {
        db.execute_batch("BEGIN IMMEDIATE").unwrap();
        let command = home
            .command(&["people", "edit", "asha", "--born", "1962"])
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        // Long enough to look, and less than it waits for the file.
        std::thread::sleep(Duration::from_millis(1500));
        db.execute("INSERT INTO statement (stated_us, body) VALUES (0, ?1)", [other])
            .unwrap();
        db.execute_batch("COMMIT").unwrap();
        let ended = command.wait_with_output().unwrap();
        let said = String::from_utf8(ended.stderr).unwrap();
        let people = home.json(&["people", "list", "--json"]);
        assert_eq!(people[0]["conditions"], serde_json::json!(["pregnancy"]));
        if refused {
            assert_eq!(ended.status.code(), Some(USAGE), "{said}");
            assert!(
                said.contains("It is now: \"asha\", born 1961, Pregnant, or within"),
                "{said}"
            );
            assert!(said.contains("You wanted: \"asha\", born 1962."), "{said}");
            assert_eq!(people[0]["born"], 1961);
        } else {
            // What somebody else states of somebody else is no reason.
            assert!(ended.status.success(), "{said}");
            assert_eq!(people[0]["born"], 1962);
        }
    }
    // What was stated is the one change.
    let body: String = db
        .query_row("SELECT body FROM statement ORDER BY id DESC LIMIT 1", [], |row| {
            row.get(0)
        })
        .unwrap();
    assert_eq!(
        body,
        r#"{"kind":"person-changed","person":"asha","changes":[{"born":1962}]}"#
    );
}

/// Stored measurements of a monitor whose clock was never set (a time stamp of zeros, which the profile calls unknown).
#[test]
fn a_reading_of_unknown_time_is_told_as_it_was_received() {
    let home = Home::new();
    let zero = |high, low| measurement("0000-00-00T00:00:00", cuff(high, low));
    let received = |ago: i64| {
        let at = jiff::tz::Offset::from_hours(1)
            .unwrap()
            .to_datetime(Timestamp::now() - SignedDuration::from_secs(ago));
        at.strftime("%Y-%m-%dT%H:%M:%S").to_string()
    };
    let lines = [
        frame(&received(61), 1, "2a35", &zero(196, 112)),
        frame(&received(60), 1, "2a35", &zero(120, 80)),
    ];
    home.replay(&lines, &["--person", "p1"]);
    let readings = home.json(&["readings", "--json"]);
    let high = readings
        .iter()
        .find(|reading| reading["systolic"] == 196.0)
        .unwrap();
    assert!(high["measured_at"].is_null(), "{high}");
    let next = home.object(&["next", "--json", "--person", "p1"]);
    let alert = &next["alerts"][0];
    assert_eq!(
        (&alert["about"], &alert["reading"]),
        (&"very-high".into(), &high["id"]),
        "{next}"
    );
    assert!(alert["choice"].as_str().unwrap().contains("10 mmHg"), "{next}");
}

/// A monitor that a clinic lends: Asha has it, it lies in a drawer, Ravi has it. What it stored meanwhile is read out while
/// Ravi has it, by the offset that is known of its clock.
#[test]
fn lent_handed_back_and_lent_again_no_reading_goes_to_the_wrong_person() {
    let home = Home::new();
    let civil = |systolic: u16| -> &str {
        match systolic {
            121 => "2026-03-01T07:02:11",
            122 => "2026-03-03T07:02:11",
            131 => "2026-03-05T07:02:11",
            132 => "2026-03-09T20:02:11",
            133 => "2026-03-10T20:02:11",
            134 => "2026-03-11T07:02:11",
            135 => "2026-03-12T07:02:11",
            136 => "2026-03-13T07:02:11",
            123 => "2026-03-14T07:02:11",
            124 => "2026-03-20T12:00:01",
            _ => "0000-00-00T00:00:00",
        }
    };
    let sent = |systolic: u16| measurement(civil(systolic), cuff(systolic, 80));
    let live = |systolic: u16, connection| frame(civil(systolic), connection, "2a35", &sent(systolic));
    let stored = |systolic: u16, second: u16| {
        frame(
            &format!("2026-03-14T07:01:{second:02}"),
            3,
            "2a35",
            &sent(systolic),
        )
    };
    let mut lines = vec![live(121, 1), live(122, 2)];
    lines.extend(
        (131..=137)
            .zip(10..)
            .map(|(systolic, second)| stored(systolic, second)),
    );
    lines.extend([live(123, 3), live(124, 4)]);
    home.replay(&lines, &[]);
    let monitor = home.json(&["readings", "--json"])[0]["monitor"]
        .as_str()
        .unwrap()
        .to_owned();
    for person in ["asha", "ravi"] {
        home.text(&["people", "add", person]);
    }
    let lend = |person: &str, from: &str, until: &str| {
        let args = [
            "people", "edit", person, "--usual", &monitor, "--from", from, "--until", until,
        ];
        home.text(&args);
    };
    lend("asha", "2026-03-02", "2026-03-09");
    lend("ravi", "2026-03-12", "2026-03-20T12:00");
    let whose = || -> Vec<(u64, String)> {
        let readings = home.json(&["readings", "--json"]);
        let mut whose: Vec<(u64, String)> = readings
            .iter()
            .map(|reading| {
                let systolic = reading["systolic"].as_f64().unwrap() as u64;
                (systolic, reading["person"].as_str().unwrap_or("-").to_owned())
            })
            .collect();
        whose.sort_unstable();
        whose
    };
    let expected = [
        (121, "-"),
        (122, "asha"),
        // As it is heard, to the second.
        (123, "ravi"),
        (124, "-"),
        (131, "asha"),
        // Within a day of the hour at which it was handed back, and of the one at which it was lent again.
        (132, "-"),
        (133, "-"),
        (134, "-"),
        (135, "-"),
        (136, "ravi"),
        // Of unknown time.
        (137, "-"),
    ]
    .map(|(systolic, person)| (systolic, person.to_owned()));
    assert_eq!(whose(), expected);
    home.text(&["rebuild"]);
    assert_eq!(whose(), expected);
    // Said with a reason, in both forms, where the number was somebody's.
    let said = |systolic: f64| {
        let readings = home.json(&["readings", "--json"]);
        let one = readings.iter().find(|one| one["systolic"] == systolic).unwrap();
        let id = one["id"].as_str().unwrap().to_owned();
        let told = home.object(&["readings", "explain", &id, "--json"])["says"].to_string();
        (
            home.text(&["readings", "explain", &id]).replace('\n', " "),
            told,
            id,
        )
    };
    for (systolic, says) in [
        (135.0, Some("within a day of this")),
        (137.0, Some("nobody knows when it was measured")),
        (124.0, None),
        (123.0, None),
    ] {
        let (text, told, _) = said(systolic);
        for text in [text, told] {
            assert_eq!(
                text.contains("changed hands"),
                says.is_some(),
                "{systolic}: {text}"
            );
            assert!(says.is_none_or(|says| text.contains(says)), "{systolic}: {text}");
        }
    }
    // A person's word settles it.
    home.text(&["readings", "assign", &said(137.0).2, "asha"]);
    assert!(whose().contains(&(137, "asha".to_owned())));
}

#[test]
fn a_loan_ends_when_it_was_said_and_can_be_ended_sooner() {
    let home = Home::new();
    let number = format!("{}=1", asked(&home));
    let users = |nth: usize| home.json(&["people", "list", "--json"])[nth]["users"].clone();
    let edit =
        |more: &[&'static str]| [&["people", "edit", "asha", "--user", number.as_str()][..], more].concat();
    // An end that lies ahead: it is hers until then.
    home.text(&edit(&["--until", "2999-12-31"]));
    assert_eq!(users(0)[0]["until"], "2999-12-31T23:00:00Z");
    assert!(
        home.text(&["people", "list"])
            .contains("until Wednesday 1 January 3000, 00:00"),
        "{}",
        home.text(&["people", "list"])
    );
    assert_eq!(owners(&home), ["asha"; 3]);
    // Ended sooner than that, it is asked what would move, because her own readings would.
    home.fails(
        &edit(&["--until", "2026-03-02"]),
        USAGE,
        &["1 reading of asha", "--moves 1"],
    );
    home.text(&edit(&["--until", "2026-03-02", "--moves", "1"]));
    assert_eq!(owners(&home), ["asha", "asha", "-"]);
    assert_eq!(users(0), serde_json::json!([]));
    // Whoever hands back what has come is not asked.
    home.text(&[
        "people",
        "edit",
        "ravi",
        "--user",
        &number,
        "--from",
        "2026-03-03",
    ]);
    assert_eq!(owners(&home), ["asha", "asha", "ravi"]);
    home.text(&["people", "edit", "ravi", "--user", &number, "--until", "now"]);
    assert_eq!(users(1), serde_json::json!([]));
    assert_eq!(owners(&home), ["asha", "asha", "ravi"]);
    // What nobody can mean.
    home.fails(
        &edit(&["--from", "2026-03-05", "--until", "2026-03-04"]),
        USAGE,
        &["number 1 of", "is not asha's before", "--from"],
    );
    home.fails(
        &edit(&["--until", "tomorrow"]),
        USAGE,
        &["is not a moment", "`now` and a day"],
    );
    home.fails(
        &edit(&["--until", "2026-03-04"]),
        USAGE,
        &["is not asha's before"],
    );
    home.fails(
        &["people", "edit", "asha", "--until", "now"],
        USAGE,
        &["--usual MONITOR"],
    );
    // Lent to the same person again, the days between stay nobody's.
    home.text(&edit(&[]));
    assert_eq!(owners(&home), ["asha", "asha", "ravi"]);
}
