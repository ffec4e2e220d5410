//! What must not wait.

use crate::technique::made::{World, at, decimal, p1, reading};
use quietcuff::gatt::{MeasurementStatus, Unit};
use quietcuff::household::{Condition, Note, Person};
use quietcuff::monitoring::escalation::{About, Alert, Level, alerts, irregular_pulse};
use quietcuff::reading::Reading;
use quietcuff::sitting::order;

const NOW: &str = "2026-03-01T07:05:00";

fn of(world: &World, now: &str, mut readings: Vec<Reading>) -> Vec<Alert> {
    readings.sort_by(order);
    alerts(at(now), Some(&p1()), &readings, &world.context())
}

fn levels(alerts: &[Alert]) -> Vec<(About, Level)> {
    alerts.iter().map(|alert| (alert.about, alert.level)).collect()
}

fn one(world: &World, systolic: &str, diastolic: &str) -> Vec<(About, Level)> {
    levels(&of(
        world,
        NOW,
        vec![reading("2026-03-01T07:04:00", systolic, diastolic)],
    ))
}

fn symptoms(words: &[&str]) -> Note {
    Note::Symptoms {
        symptoms: words.iter().map(ToString::to_string).collect(),
    }
}

fn with(condition: Condition) -> World {
    World::with(Person {
        conditions: vec![condition],
        ..Person::default()
    })
}

/// 180/109 and 179/110 are both very high; 179.9/109.9 is not. Below 90 or below 60 is low.
#[test]
fn edges() {
    for (systolic, diastolic, expected) in [
        ("180", "109", Some((About::VeryHigh, Level::MeasureAgain))),
        ("179", "110", Some((About::VeryHigh, Level::MeasureAgain))),
        ("179.9", "109.9", None),
        ("90", "60", None),
        ("89.9", "60", Some((About::Low, Level::Note))),
        ("90", "59.9", Some((About::Low, Level::Note))),
        // Impossible values alarm nobody.
        ("310", "120", None),
        ("190", "200", None),
    ] {
        let found = one(&World::new(), systolic, diastolic);
        assert_eq!(
            found,
            expected.into_iter().collect::<Vec<_>>(),
            "{systolic}/{diastolic}"
        );
    }
    // 24.0 kPa are 180.01 mmHg, 23.9 are 179.3.
    for (systolic, high) in [("24.0", true), ("23.9", false)] {
        let mut kpa = reading("2026-03-01T07:04:00", systolic, "12.0");
        kpa.unit = Unit::KPa;
        let found = of(&World::new(), NOW, vec![kpa]);
        assert_eq!(!found.is_empty(), high, "{systolic}");
        assert!(found.iter().all(|alert| {
            alert
                .say
                .contains("still 24.0 kPa or above, or 14.7 kPa or above")
        }));
    }
}

/// US NHLBI: wait five minutes and measure again; still high: call. The next reading decides.
#[test]
fn two_in_a_row() {
    let first = || reading("2026-03-01T07:00:00", "185", "100");
    let again = |systolic| reading("2026-03-01T07:05:00", systolic, "100");
    let world = World::new();
    let found = of(&world, NOW, vec![first()]);
    assert_eq!(
        found[0].say,
        "This reading is very high. Sit quietly for 5 minutes and measure again. If it is still 180 or above, or 110 \
         or above for the lower number, contact your clinic or out-of-hours service today. If you have chest pain, \
         breathlessness, sudden weakness or numbness, trouble speaking, change in vision, confusion, or severe \
         headache or back pain, call your emergency number now."
    );
    let found = of(&world, NOW, vec![first(), again("181")]);
    assert_eq!(levels(&found), [(About::VeryHigh, Level::ContactToday)]);
    assert_eq!(levels(&of(&world, NOW, vec![first(), again("150")])), []);
    // Doubtful technique is a reason to measure again, not to wait; a person's own discard is heard.
    let mut moved = first();
    moved.status = Some(MeasurementStatus(1));
    assert_eq!(
        levels(&of(&world, NOW, vec![moved])),
        [(About::VeryHigh, Level::MeasureAgain)]
    );
    let mut discarded = first();
    discarded.discarded = Some("the neighbour".into());
    assert_eq!(levels(&of(&world, NOW, vec![discarded])), []);
    // It stands for a day, not for ever.
    assert_eq!(of(&world, "2026-03-02T07:00:00", vec![first()]).len(), 1);
    assert_eq!(of(&world, "2026-03-02T07:00:01", vec![first()]).len(), 0);
    // Another person's reading is not this person's alarm, and neither is one that is yet to come.
    let mut others = first();
    others.person = None;
    assert!(of(&world, NOW, vec![others]).is_empty());
    assert!(of(&world, "2026-03-01T06:59:59", vec![first()]).is_empty());
}

/// Symptoms outrank numbers: with a very high reading they are an emergency at once, and they need no reading.
#[test]
fn symptoms_outrank_numbers() {
    let noted = |words: &[&str]| World::new().noting("2026-03-01T07:03:00", symptoms(words));
    let found = one(&noted(&["dizzy"]), "185", "100");
    assert_eq!(
        found,
        [
            (About::VeryHigh, Level::Emergency),
            (About::Symptoms, Level::ContactToday)
        ]
    );
    for words in [
        "chest pain",
        "chest-pain",
        "Trouble speaking",
        "short of breath",
        "CONFUSION",
        "numb left hand",
    ] {
        assert_eq!(
            one(&noted(&[words]), "120", "80"),
            [(About::Symptoms, Level::Emergency)],
            "{words}"
        );
        assert_eq!(
            levels(&of(&noted(&[words]), NOW, vec![])),
            [(About::Symptoms, Level::Emergency)]
        );
    }
    assert_eq!(
        one(&noted(&["dizzy"]), "120", "80"),
        [(About::Symptoms, Level::ContactToday)]
    );
    assert_eq!(one(&noted(&[]), "120", "80"), []);
    let low = one(&noted(&["dizzy"]), "85", "55");
    assert_eq!(
        low,
        [
            (About::Low, Level::ContactToday),
            (About::Symptoms, Level::ContactToday)
        ]
    );
    // Six hours later they no longer stand.
    assert!(of(&noted(&["chest pain"]), "2026-03-01T13:03:00", vec![]).len() == 1);
    assert!(of(&noted(&["chest pain"]), "2026-03-01T13:03:01", vec![]).is_empty());
}

/// ESC 2024 sections 5.5.1 and 9.2.
#[test]
fn pregnancy_has_its_own_limit() {
    let now = Some((About::VeryHighInPregnancy, Level::ContactNow));
    for (systolic, diastolic, expected) in [
        ("160", "100", now),
        ("159", "110", now),
        ("159.9", "109.9", None),
        ("190", "100", now),
    ] {
        let found = one(&with(Condition::Pregnancy), systolic, diastolic);
        assert_eq!(
            found,
            expected.into_iter().collect::<Vec<_>>(),
            "{systolic}/{diastolic}"
        );
    }
    assert_eq!(one(&World::new(), "160", "100"), []);
}

/// The outer pair of bands is that of NEWS2, 40 and below, 131 and above.
#[test]
fn pulse() {
    for (pulse, level) in [
        ("40", Some(Level::ContactNow)),
        ("40.1", Some(Level::Note)),
        ("49.9", Some(Level::Note)),
        ("50", None),
        ("110", None),
        ("110.1", Some(Level::Note)),
        ("130.9", Some(Level::Note)),
        ("131", Some(Level::ContactNow)),
    ] {
        let mut reading = reading("2026-03-01T07:04:00", "120", "80");
        reading.pulse_rate = Some(decimal(pulse));
        let found = of(&World::new(), NOW, vec![reading]);
        assert_eq!(found.first().map(|alert| alert.level), level, "{pulse}");
    }
}

/// In two sessions, and never by a name that only an ECG can give.
#[test]
fn irregular_pulse_in_two_sessions() {
    let irregular = |civil: &str| {
        let mut reading = reading(civil, "120", "80");
        reading.status = Some(MeasurementStatus(1 << 2));
        reading
    };
    let world = World::new();
    let told = |readings: Vec<Reading>| {
        let sessions: Vec<_> = world
            .judge(readings)
            .into_iter()
            .filter_map(|(_, judged)| judged.session)
            .collect();
        irregular_pulse(&sessions)
    };
    let same = vec![irregular("2026-03-01T07:00:00"), irregular("2026-03-01T07:01:00")];
    assert_eq!(told(same), None);
    let alert = told(vec![
        irregular("2026-03-01T07:00:00"),
        reading("2026-03-01T19:00:00", "120", "80"),
        irregular("2026-03-02T07:00:00"),
    ])
    .unwrap();
    assert_eq!(alert.level, Level::TellClinic);
    assert!(alert.say.contains("2 sessions"));
    assert!(!alert.say.to_lowercase().contains("fibrillation"));
}

/// No word of any alert names a disease or a drug.
#[test]
fn no_alert_diagnoses() {
    let mut said = Vec::new();
    for condition in [Condition::Pregnancy, Condition::AtrialFibrillation] {
        for (systolic, diastolic) in [("200", "120"), ("80", "50")] {
            for words in [&["chest pain"][..], &["dizzy"], &[]] {
                for pulse in ["35", "45", "120", "140"] {
                    let world = with(condition).noting("2026-03-01T07:03:00", symptoms(words));
                    let mut reading = reading("2026-03-01T07:04:00", systolic, diastolic);
                    reading.pulse_rate = Some(decimal(pulse));
                    said.extend(of(&world, NOW, vec![reading]).into_iter().map(|alert| alert.say));
                }
            }
        }
    }
    assert!(said.len() > 40);
    for say in said {
        let words = say.to_lowercase();
        for never in [
            "hypertension",
            "hypotension",
            "crisis",
            "stroke",
            "fibrillation",
            "eclampsia",
            "dose",
            "drug",
        ] {
            assert!(!words.contains(never), "{say}");
        }
    }
}
