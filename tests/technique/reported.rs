//! What people say about a measurement, from when to when it tells on a reading.

use crate::technique::made::{World, m1, names, note, reading};
use quietcuff::household::{Arm, Note, Person, StatedNote};
use quietcuff::sitting::{Tie, Timing};
use quietcuff::technique::{Disposition, KnownBy, RULES};

/// What is marked on a reading at 07:30 on 1 March 2026 by this note.
fn marks(civil: &str, what: Note) -> String {
    let world = World::new().noting(civil, what);
    names(world.alone(reading("2026-03-01T07:30:00", "120", "80")).reasons).join(" ")
}

/// ESC 2024 and ACC/AHA 2017: not within 30 minutes. A full half hour is enough, and what comes after the reading
/// does not tell on it.
#[test]
fn half_an_hour() {
    for (what, reason) in [
        (Note::Coffee, "reported-coffee"),
        (Note::Smoking, "reported-smoking"),
        (Note::Exercise, "reported-exercise"),
        (Note::Alcohol, "reported-alcohol"),
        (Note::Waking, "reported-just-woken"),
        (Note::Dinner, "reported-dinner"),
    ] {
        assert_eq!(marks("2026-03-01T07:00:00", what.clone()), "");
        assert_eq!(marks("2026-03-01T07:00:01", what.clone()), reason);
        assert_eq!(marks("2026-03-01T07:30:00", what.clone()), reason);
        assert_eq!(marks("2026-03-01T07:30:01", what), "");
    }
}

/// Morning means before breakfast and medicines, evening before dinner: since the window opened, at 05:00 and 17:00.
#[test]
fn before_breakfast_medicines_and_dinner() {
    let medicine = || Note::Medicine { text: None };
    for (what, reason) in [(Note::Meal, "reported-meal"), (medicine(), "reported-medicine")] {
        assert_eq!(marks("2026-03-01T05:00:00", what.clone()), reason);
        assert_eq!(marks("2026-03-01T04:59:59", what.clone()), "");
        assert_eq!(marks("2026-03-01T07:30:01", what), "");
    }
    let evening = |civil: &str, what: Note| {
        let world = World::new().noting(civil, what);
        names(world.alone(reading("2026-03-01T21:00:00", "120", "80")).reasons).join(" ")
    };
    assert_eq!(evening("2026-03-01T17:00:00", Note::Dinner), "reported-dinner");
    assert_eq!(evening("2026-03-01T16:59:59", Note::Dinner), "");
    assert_eq!(evening("2026-03-01T20:00:00", Note::Meal), "");
    assert_eq!(evening("2026-03-01T20:00:00", medicine()), "");
}

/// Taiwan 2020: within an hour before bed, where the protocol asks for it. The next going to bed after the reading
/// tells, and no other; of a reading in the morning it says nothing.
#[test]
fn before_bed() {
    let marks = |timing: Timing, taken: &str, beds: &[&str]| {
        let mut world = beds
            .iter()
            .fold(World::new(), |world, civil| world.noting(civil, Note::Bed));
        world.rule.timing = timing;
        names(world.alone(reading(taken, "120", "80")).reasons).join(" ")
    };
    let asked = Timing::USUAL.with(Tie::BeforeBed);
    let far = "reported-long-before-bed";
    for (beds, expected) in [
        (&["2026-03-01T22:00:00"][..], ""),
        (&["2026-03-01T22:00:01"], far),
        (&["2026-03-02T02:00:00"], far),
        (&["2026-03-01T20:59:59"], ""),
        (&["2026-03-01T21:30:00", "2026-03-01T23:30:00"], ""),
        (&["2026-03-01T20:30:00", "2026-03-01T23:30:00"], far),
        (&["2026-03-02T09:00:01"], ""),
    ] {
        assert_eq!(marks(asked, "2026-03-01T21:00:00", beds), expected, "{beds:?}");
        assert_eq!(marks(Timing::USUAL, "2026-03-01T21:00:00", beds), "", "{beds:?}");
    }
    assert_eq!(marks(asked, "2026-03-01T07:30:00", &["2026-03-01T14:00:00"]), "");
}

/// How somebody sat is said about a sitting: during it, and up to ten minutes before and after.
#[test]
fn about_the_sitting() {
    let posture = |fault: &str| Note::Posture { fault: fault.into() };
    for (what, reason) in [
        (Note::NoRest, "reported-no-rest"),
        (Note::FullBladder, "reported-full-bladder"),
        (Note::Talked, "reported-talked"),
        (Note::OverClothing, "reported-over-clothing"),
        (posture("legs-crossed"), "reported-legs-crossed"),
        (posture("Back unsupported"), "reported-back-unsupported"),
        (posture("arm_unsupported"), "reported-arm-unsupported"),
        (posture("arm below heart"), "reported-arm-low"),
        (posture("clenched fist"), "reported-fist-clenched"),
        (posture("standing"), "reported-posture"),
    ] {
        assert_eq!(marks("2026-03-01T07:20:00", what.clone()), reason);
        assert_eq!(marks("2026-03-01T07:40:00", what.clone()), reason);
        assert_eq!(marks("2026-03-01T07:19:59", what.clone()), "");
        assert_eq!(marks("2026-03-01T07:40:01", what), "");
    }
    // All readings of the sitting, however far the note is from the first.
    let world = World::new().noting("2026-03-01T07:45:00", Note::Talked);
    let judged = world.sitting(vec![
        reading("2026-03-01T07:30:00", "120", "80"),
        reading("2026-03-01T07:39:00", "120", "80"),
    ]);
    for judgement in &judged.judgements {
        assert_eq!(names(judgement.reasons), ["reported-talked"]);
    }
}

#[test]
fn the_chosen_arm_and_the_cuff_of_the_day() {
    let person = |arm, arm_cm| Person {
        arm,
        arm_cm,
        ..Person::default()
    };
    let marks = |person, what| {
        let world = World::with(person).noting("2026-03-01T07:29:00", what);
        names(world.alone(reading("2026-03-01T07:30:00", "120", "80")).reasons).join(" ")
    };
    let right = || Note::Arm { arm: Arm::Right };
    assert_eq!(
        marks(person(Some(Arm::Left), None), right()),
        "reported-other-arm"
    );
    assert_eq!(marks(person(Some(Arm::Right), None), right()), "");
    assert_eq!(marks(person(None, None), right()), "");
    let cuff = |min_mm, max_mm| Note::Cuff { min_mm, max_mm };
    assert_eq!(marks(person(None, Some(35.0)), cuff(220, 320)), "cuff-size");
    assert_eq!(marks(person(None, Some(35.0)), cuff(320, 420)), "");
}

#[test]
fn notes_about_others_do_not_tell() {
    let about = |person: Option<&str>, monitor: Option<&str>| {
        let mut world = World::new();
        world.notes = vec![StatedNote {
            person: person.map(|id| id.parse().unwrap()),
            monitor: monitor.map(|id| id.parse().unwrap()),
            ..note("2026-03-01T07:29:00", Note::Talked)
        }];
        !world
            .alone(reading("2026-03-01T07:30:00", "120", "80"))
            .reasons
            .is_empty()
    };
    assert!(about(Some("p1"), None));
    assert!(about(Some("p1"), Some(m1().as_str())));
    assert!(about(None, Some("m1")));
    assert!(!about(Some("p2"), None));
    assert!(!about(Some("p1"), Some("m2")));
    assert!(!about(None, None));
    // A reading that is nobody's yet is judged by itself alone, or a note would have to look for it.
    let mut world = World::new();
    world.notes = vec![StatedNote {
        person: None,
        monitor: Some(m1()),
        ..note("2026-03-01T07:29:00", Note::Talked)
    }];
    let mut nobodys = reading("2026-03-01T07:30:00", "120", "80");
    nobodys.person = None;
    assert_eq!(names(world.alone(nobodys).reasons), ["person-unknown"]);
}

/// Reported faults mark a reading; for somebody who is strict they set it aside, and nothing else changes.
#[test]
fn strict_sets_reported_faults_aside() {
    for strict in [false, true] {
        let world = World::with(Person {
            strict,
            ..Person::default()
        })
        .noting("2026-03-01T07:10:00", Note::Coffee);
        let judged = world.alone(reading("2026-03-01T07:30:00", "120", "80"));
        assert_eq!(names(judged.reasons), ["reported-coffee"]);
        let expected = if strict {
            Disposition::SetAside
        } else {
            Disposition::Marked
        };
        assert_eq!(judged.disposition, expected);
        assert_eq!(names(judged.because()), ["reported-coffee"]);
        let observed = world.alone(reading("2026-03-01T13:00:00", "120", "80"));
        assert_eq!(names(observed.reasons), ["outside-window"]);
        assert_eq!(observed.disposition, Disposition::Marked);
    }
}

/// A published effect is shown and never subtracted: the type holds text, and each names who measured it.
#[test]
fn effects_name_their_source() {
    let with_effect = RULES
        .iter()
        .filter_map(|rule| rule.effect.map(|effect| (rule, effect)));
    let mut seen = 0;
    for (rule, effect) in with_effect {
        seen += 1;
        assert_ne!(rule.basis, KnownBy::Observed, "{:?}", rule.reason);
        assert!(
            effect.source == "common practice" || effect.source.contains("J Hypertens 2017;35:421"),
            "{:?}",
            rule.reason
        );
    }
    assert!(seen >= 10, "{seen}");
}
