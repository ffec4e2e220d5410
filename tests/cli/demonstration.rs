//! `demo`: an invented week, the same for one seed, shown to people and kept like a real one.

use crate::harness::command::{Home, Ran};
use crate::harness::left_out::in_a_hurry;
use crate::harness::page::{get, served};
use jiff::Timestamp;
use serde_json::Value;
use std::os::unix::fs::PermissionsExt;
use std::process::Command;

fn readings(home: &Home, state: &str) -> String {
    home.run(&["readings", "--json", "--state", state]).good()
}

#[test]
fn one_seed_gives_one_week() {
    let home = Home::new();
    for (state, seed) in [("a", "7"), ("b", "7"), ("c", "8")] {
        home.run(&["demo", "--until", "2026-03-29", "--state", state, "--seed", seed])
            .good();
    }
    let frames = |state: &str| home.run(&["frames", "--json", "--state", state]).good();
    assert_eq!(frames("a"), frames("b"));
    assert_eq!(readings(&home, "a"), readings(&home, "b"));
    assert_ne!(readings(&home, "a"), readings(&home, "c"));
}

/// Plain where nobody watches, and marked as invented wherever a page of it begins or ends.
#[test]
fn it_is_plain_and_says_that_it_is_invented() {
    let home = Home::new();
    let said = home.run(&["demo", "--until", "2026-03-29"]).good();
    assert!(said.lines().next().unwrap().contains("invented"), "{said}");
    assert!(said.contains("Everything invented:"), "{said}");
    assert!(!said.contains(['\x1b', '\r']));
    let kept = home.path("quietcuff-demo-1");
    for line in said
        .lines()
        .filter(|line| !line.contains(kept.to_str().unwrap()) && !line.contains(" decode "))
    {
        assert!(line.chars().count() <= 80, "{line}");
    }
    for shape in ["●", "○  marked", "⊘  set aside"] {
        assert!(said.contains(shape), "{shape}");
    }
    // Only its owner may look: it is what a real one would be.
    assert_eq!(kept.metadata().unwrap().permissions().mode() & 0o777, 0o700);
    home.run(&["demo", "--until", "2026-03-29"]).good();
    assert!(home.path("quietcuff-demo-2/journal.sqlite").exists());
}

/// The averages on screen against plain sums over the readings that `readings --json` lists.
#[test]
fn the_summary_agrees_with_the_listed_readings() {
    let home = Home::new();
    for seed in ["72", "3", "11"] {
        let said = home
            .run(&["demo", "--until", "2026-03-29", "--state", seed, "--seed", seed])
            .good();
        let blocks: Vec<&str> = said.split("\nInvented person ").skip(1).collect();
        assert_eq!(blocks.len(), 2);
        for (person, block) in ["p1", "p2"].into_iter().zip(blocks) {
            let all = home
                .run(&["readings", "--json", "--state", seed, "--person", person])
                .objects();
            let is = |what: &'static str| move |reading: &&Value| reading["disposition"] == what;
            let averaged: Vec<&Value> = all.iter().filter(|reading| !is("set-aside")(reading)).collect();
            let mean = |readings: &[&Value], what: &str| {
                let values: Vec<f64> = readings
                    .iter()
                    .map(|reading| reading[what].as_f64().unwrap())
                    .collect();
                values.iter().sum::<f64>() / f64::from(u32::try_from(values.len()).unwrap())
            };
            let row = |name: &str, readings: &[&Value]| {
                let [systolic, diastolic] = ["systolic", "diastolic"].map(|what| mean(readings, what));
                let wanted = format!("{name} {systolic:.1}/{diastolic:.1} {}", readings.len());
                let words: Vec<String> = block
                    .lines()
                    .map(|line| line.split_whitespace().collect::<Vec<_>>().join(" "))
                    .collect();
                assert!(
                    words.iter().any(|line| line.starts_with(&wanted)),
                    "{wanted}\n{block}"
                );
            };
            row("Average", &averaged);
            let later: Vec<&Value> = averaged
                .iter()
                .copied()
                .filter(|reading| !reading["measured_at"].as_str().unwrap().starts_with("2026-03-23"))
                .collect();
            row("Without the first day", &later);
            for (name, morning) in [("Mornings", true), ("Evenings", false)] {
                let half: Vec<&Value> = averaged
                    .iter()
                    .copied()
                    .filter(|reading| (&reading["measured_at"].as_str().unwrap()[11..13] < "12") == morning)
                    .collect();
                row(name, &half);
            }
            let marked = all.iter().filter(is("marked")).count();
            let counts = format!(
                " of 14 sessions. {} readings: {} counted, {marked} of them marked; {} set aside.",
                all.len(),
                averaged.len(),
                all.len() - averaged.len()
            );
            assert!(block.contains(&counts), "{counts}\n{block}");
        }
    }
}

#[test]
fn a_day_is_too_little_for_an_average_and_says_so() {
    let said = Home::new()
        .run(&["demo", "--until", "2026-03-29", "--days", "1"])
        .good();
    assert!(
        said.contains("No average yet: ") && said.contains("1 of 3 days"),
        "{said}"
    );
    assert!(!said.contains("95 % interval"), "{said}");
}

/// Nothing invented among a household's own readings.
#[test]
fn it_never_writes_into_a_journal_that_is_there() {
    let home = Home::new();
    home.run(&["demo", "--until", "2026-03-29", "--state", "own", "--days", "1"])
        .good();
    let before = home.run(&["frames", "--json", "--state", "own"]).good();
    home.run(&["demo", "--until", "2026-03-29", "--state", "own"])
        .failed(73, &["own/journal.sqlite", "leave out `--state`"]);
    let file = home.file("other/journal.sqlite", "somebody else's");
    home.run(&["demo", "--until", "2026-03-29", "--state", "other"])
        .failed(73, &["other/journal.sqlite"]);
    assert_eq!(std::fs::read(file).unwrap(), b"somebody else's");
    assert_eq!(home.run(&["frames", "--json", "--state", "own"]).good(), before);
}

/// What it proposes to type next can be typed.
#[test]
fn the_next_commands_work_as_printed() {
    let home = Home::new();
    let temporary = home.path("it's mine");
    std::fs::create_dir(&temporary).unwrap();
    let output = home
        .command(&["demo", "--until", "2026-03-29"])
        .env("TMPDIR", temporary)
        .output()
        .unwrap();
    let said = Ran::of(&output, &["demo", "--until", "2026-03-29"]).good();
    let next: Vec<&str> = said
        .lines()
        .skip_while(|line| *line != "Four things to try:")
        .skip(1)
        .collect();
    assert_eq!(next.len(), 4, "{next:?}");
    // It stays; see below.
    assert!(next[0].ends_with(" demo --serve"), "{next:?}");
    for line in &next[1..] {
        let output = Command::new("sh")
            .args(["-c", *line])
            .env("HOME", home.path(""))
            .output()
            .unwrap();
        let ran = Ran::of(&output, &[*line]);
        assert!(ran.out.lines().count() >= 3, "{line}: {ran:?}");
        ran.good();
    }
}

/// A week at a walking pace takes the time that was asked for, about.
#[test]
fn it_can_be_slowed() {
    let home = Home::new();
    let begun = std::time::Instant::now();
    home.run(&["demo", "--until", "2026-03-29", "--days", "1", "--seconds", "2"])
        .good();
    let took = begun.elapsed().as_secs_f64();
    assert!((1.9..20.0).contains(&took), "{took} s");
}

/// Where no day is named it ends now: the last reading is a session's, less than an hour old, and none is to come.
#[test]
fn it_ends_now() {
    let home = Home::new();
    home.run(&["demo", "--state", "now"]).good();
    let all = home.run(&["readings", "--json", "--state", "now"]).objects();
    let at = |reading: &Value| {
        reading["measured_at"]
            .as_str()
            .unwrap()
            .parse::<Timestamp>()
            .unwrap()
    };
    let last = all
        .iter()
        .filter(|reading| reading["measured_at"].is_string())
        .map(at)
        .max()
        .unwrap();
    let age_min = Timestamp::now().duration_since(last).as_mins();
    assert!((0..70).contains(&age_min), "{age_min} min: {all:?}");
    assert!(all.len() > 40, "{}", all.len());
    // Every counted session of that day is in a part of the day, whatever the hour is.
    let sessions = home.run(&["sessions", "--json", "--state", "now"]).objects();
    assert!(
        sessions.iter().all(|session| session["slot"] != "other"),
        "{sessions:?}"
    );
}

/// A session is due on the page, and its two readings come by themselves and count.
#[test]
fn the_page_of_a_demonstration_plays_a_session() {
    if in_a_hurry("a session that the demonstration plays") {
        return;
    }
    let home = Home::new();
    let served = served(home.command(&["demo", "--serve", "--state", "live", "--faster", "60"]));
    let before = home
        .run(&["next", "--json", "--person", "p1", "--state", "live"])
        .objects()
        .remove(0);
    assert_eq!(before["state"], "rest", "{before}");
    let page = get(served.address(), "/?person=p1", "");
    assert!(
        page.status == 200 && page.body.contains("Invented person A"),
        "{}",
        page.body
    );
    assert!(!page.body.contains("does not run"), "{}", page.body);
    let was = home
        .run(&["readings", "--json", "--person", "p1", "--state", "live"])
        .objects()
        .len();
    let begun = std::time::Instant::now();
    loop {
        let all = home
            .run(&["readings", "--json", "--person", "p1", "--state", "live"])
            .objects();
        if all.len() == was + 2 {
            assert!(
                all[was..]
                    .iter()
                    .all(|reading| reading["disposition"] == "counted"),
                "{all:?}"
            );
            break;
        }
        assert!(
            begun.elapsed().as_secs() < 400,
            "{was} readings, then {}",
            all.len()
        );
        std::thread::sleep(std::time::Duration::from_secs(2));
    }
    let after = home
        .run(&["next", "--json", "--person", "p1", "--state", "live"])
        .objects()
        .remove(0);
    assert_eq!(after["state"], "done", "{after}");
}
