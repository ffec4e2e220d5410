//! What must not wait.

use crate::technique::made::{World, at, decimal, p1, reading};
use quietcuff::gatt::{MeasurementStatus, Sfloat, Unit};
use quietcuff::household::{Condition, Note, Person};
use quietcuff::monitoring::escalation::{
    About, Alert, LEVELS, Level, LevelRow, Numbers, alerts, irregular_pulse, story,
};
use quietcuff::monitoring::symptoms::{Named, SYMPTOMS, named};
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

/// What the table of situations cannot say: words whole, and what is passed over.
#[test]
fn words_and_what_is_passed_over() {
    let first = || reading("2026-03-01T07:00:00", "185", "100");
    let world = World::new();
    let found = of(&world, NOW, vec![first()]);
    assert_eq!(
        found[0].say,
        "A reading is very high. Sit quietly for 5 minutes and measure again. If it is still 180 or above, or 110 \
         or above for the lower number, contact your clinic or out-of-hours service today. Take no extra medicine \
         because of a reading. If you have chest pain, breathlessness, a drooping face, sudden weakness or numbness, \
         trouble speaking, loss of sight, confusion, a seizure, severe headache or back pain, or if you faint, call \
         your emergency number now."
    );
    // Another person's reading is not this person's alarm.
    let mut others = first();
    others.person = None;
    assert!(of(&world, NOW, vec![others]).is_empty());
    // The order in which readings are given does not matter.
    let again = reading("2026-03-01T07:05:00", "181", "100");
    let found = of(&world, NOW, vec![again.clone(), first()]);
    assert_eq!(levels(&found), [(About::VeryHigh, Level::ContactToday)]);
    assert_eq!(found[0].reading, Some(again.id));
}

/// Every row has its source and says what of it is a choice; no row is weaker the second time than the first, but for
/// a low reading of somebody who feels well.
#[test]
fn the_table_of_levels() {
    for row in &LEVELS {
        assert!(!row.source.is_empty() && !row.choice.is_empty(), "{row:?}");
        assert!(row.with_symptoms >= row.first, "{row:?}");
        assert!(row.again >= row.first || row.about == About::Low, "{row:?}");
    }
    let pregnant = [About::VeryHighInPregnancy, About::HighInPregnancy];
    let fifteen = |row: &&LevelRow| row.repeat_after.map(|after| after.as_mins()) == Some(15);
    assert!(LEVELS.iter().filter(fifteen).map(|row| row.about).eq(pregnant));
}

/// Readings of many pressures and pulses in either unit, each an hour and more behind the one before it.
fn of_all_sizes() -> Vec<Reading> {
    let mut readings = Vec::new();
    let pairs = [
        (50, 39),
        (59, 40),
        (69, 41),
        (79, 50),
        (89, 72),
        (99, 110),
        (109, 111),
        (120, 131),
    ];
    for systolic in (59..260).step_by(10) {
        for (diastolic, pulse) in pairs {
            for kpa in [false, true] {
                let nth = readings.len();
                let taken = format!("2026-02-{:02}T{:02}:{:02}:00", 1 + nth / 24, nth % 24, nth % 60);
                let mut one = reading(&taken, &systolic.to_string(), &diastolic.to_string());
                if kpa {
                    let kpa = |mmhg: i32| decimal(&format!("{:.1}", f64::from(mmhg) / 7.500_62));
                    one.unit = Unit::KPa;
                    (one.systolic, one.diastolic) = (kpa(systolic), kpa(diastolic));
                }
                one.pulse_rate = (systolic % 50 != 9).then(|| decimal(&pulse.to_string()));
                readings.push(one);
            }
        }
    }
    readings
}

/// What makes pages of many cheap: where no reading's numbers can raise an alert, all of them together raise none; and
/// most of those that can raise one do.
#[test]
fn numbers_that_can_raise_nothing_raise_nothing() {
    let child = Person {
        born: Some(2019),
        ..Person::default()
    };
    let gave_birth = Person {
        conditions: vec![Condition::Pregnancy],
        gave_birth: Some("2025-11-01".parse().unwrap()),
        ..Person::default()
    };
    let mut counts = (0, 0);
    for world in [
        World::new(),
        with(Condition::Pregnancy),
        World::with(child),
        World::with(gave_birth),
    ] {
        let person = world.household.people.get(&p1()).map(|(person, _)| person);
        let can_raise = |one: &Reading| {
            let numbers = Numbers {
                unit: one.unit,
                systolic: one.systolic,
                diastolic: one.diastolic,
                pulse_rate: one.pulse_rate,
            };
            numbers.can_raise(person)
        };
        let told = |readings: &[Reading]| story(at(NOW), Some(&p1()), readings, &world.context());
        let (can, mut quiet): (Vec<_>, Vec<_>) = of_all_sizes().into_iter().partition(can_raise);
        assert!(quiet.len() > 20, "{}", quiet.len());
        let mut nothing = quiet[0].clone();
        (nothing.systolic, nothing.pulse_rate) = (Sfloat::NAN, Some(Sfloat::NAN));
        quiet.push(nothing);
        assert_eq!(told(&quiet), [], "{quiet:?}");
        counts.0 += can
            .iter()
            .filter(|one| !told(&[(*one).clone()]).is_empty())
            .count();
        counts.1 += can.len();
    }
    // Some are impossible, or of a child, or of somebody for whom the levels of pregnancy are over.
    assert!(counts.0 * 4 > counts.1 * 3, "{counts:?}");
}

/// The list of symptoms: each has a source, a name of its own, and no word that is part of a sentence is known.
#[test]
fn symptoms_are_chosen() {
    let mut words: Vec<&str> = SYMPTOMS
        .iter()
        .flat_map(|symptom| {
            symptom
                .also
                .iter()
                .copied()
                .chain([symptom.name, symptom.english])
        })
        .collect();
    for word in &words {
        assert!(matches!(named(word), Named::Chosen(_)), "{word}");
        assert!(matches!(named(&word.to_uppercase()), Named::Chosen(_)), "{word}");
        for around in [
            format!("no {word}"),
            format!("{word} is gone"),
            format!("{word}?"),
        ] {
            assert_eq!(named(&around), Named::Unknown, "{around}");
        }
    }
    words.sort_unstable();
    let all = words.len();
    words.dedup();
    assert!(all - words.len() <= SYMPTOMS.len(), "a word means two symptoms");
    for symptom in &SYMPTOMS {
        assert!(!symptom.source.is_empty());
        assert!(symptom.in_pregnancy >= symptom.level, "{}", symptom.name);
        let of = |word: &str| named(word) == Named::Chosen(symptom);
        assert!(symptom.also.iter().all(|word| of(word)), "{}", symptom.name);
    }
    assert_eq!(named("none"), Named::NoneOfThem);
    // What notes of earlier versions hold.
    for word in ["chest pain", "short of breath", "severe headache", "dizzy"] {
        assert!(matches!(named(word), Named::Chosen(_)), "{word}");
    }
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
            for words in [&["chest pain"][..], &["dizzy"], &["odd"], &["vomiting"], &[]] {
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
    said.extend(SYMPTOMS.iter().map(|symptom| symptom.english.to_owned()));
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
