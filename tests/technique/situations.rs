//! Every situation of the table, by `next` and by what is worth a message, as pure functions.

use crate::harness::situations::{Numbers, Situation, Standing, Told, What, born_before, situations};
use crate::technique::made::{World, at, p1, reading};
use jiff::civil::DateTime;
use jiff::{Timestamp, ToSpan};
use quietcuff::gatt::{MeasurementStatus, Unit};
use quietcuff::household::{AlertAnswer, Condition, Note, Person, StatedAnswer, Zones};
use quietcuff::monitoring::escalation::{Alert, Level, alerts};
use quietcuff::monitoring::next::{Schedule, Step, next};
use quietcuff::monitoring::protocols::Protocols;
use quietcuff::monitoring::reminders::{self, Known, reminders};
use quietcuff::reading::{Reading, TimeSource};

fn moment(civil: DateTime) -> Timestamp {
    at(&civil.to_string())
}

fn made(civil: DateTime, numbers: &Numbers, nth: usize) -> Reading {
    let mut made = reading(&civil.to_string(), numbers.systolic, numbers.diastolic);
    made.id.0 = format!("{nth:016x}");
    made.pulse_rate = Some(crate::technique::made::decimal(numbers.pulse));
    if numbers.kpa {
        made.unit = Unit::KPa;
    }
    if numbers.moved {
        made.status = Some(MeasurementStatus(1));
    }
    if numbers.discarded {
        made.discarded = Some("not ours".to_owned());
    }
    if numbers.nobodys {
        made.person = None;
    }
    if let Some(received) = numbers.received {
        made.received_at = moment(received);
    }
    if numbers.undated {
        made.time.at = None;
        made.time.source = TimeSource::Unknown;
        made.received_at = moment(civil);
    }
    made
}

/// The world and the readings at the moment of the question.
fn lived(situation: &Situation) -> (World, Vec<Reading>) {
    let mut world = World::with(match situation.who {
        "pregnant" | "after birth" => Person {
            conditions: vec![Condition::Pregnancy],
            ..Person::default()
        },
        "child" => Person {
            born: Some(2015),
            ..Person::default()
        },
        who => match born_before(who) {
            Some(days) => Person {
                conditions: vec![Condition::Pregnancy],
                gave_birth: Some(situation.at.date().saturating_sub(days.days())),
                ..Person::default()
            },
            None => Person::default(),
        },
    });
    let mut readings = Vec::new();
    for event in &situation.events {
        match event.what {
            What::Reading(ref numbers) => readings.push(made(event.at, numbers, readings.len())),
            What::Noted(words) => {
                let symptoms = vec![words.to_owned()];
                world = world.noting(&event.at.to_string(), Note::Symptoms { symptoms });
            }
            What::Answered(answer) => {
                let now = moment(event.at);
                let standing = alerts(now, Some(&p1()), &readings, &world.context());
                for alert in standing.iter().filter(|alert| alert.outranks()) {
                    let stated = StatedAnswer {
                        answer: AlertAnswer::of_name(answer).unwrap(),
                        by: None,
                        at: now,
                    };
                    world.household.answers.insert(alert.key(), stated);
                }
            }
        }
    }
    for (nth, note) in world.notes.iter().enumerate() {
        world.household.notes.insert(format!("{nth:08x}"), note.clone());
    }
    (world, readings)
}

fn standing(alert: &Alert, now: Timestamp) -> Standing {
    Standing {
        about: alert.about.name().to_owned(),
        level: alert.level.name().to_owned(),
        repeat: alert
            .repeat_at
            .filter(|at| *at > now)
            .map(|at| crate::technique::made::zone().to_datetime(at)),
        nobodys: alert.person.is_none(),
    }
}

fn told(world: &World, readings: &[Reading], now: Timestamp) -> Vec<Told> {
    let zones = Zones::only(crate::technique::made::zone());
    let protocols = Protocols::built_in().unwrap();
    let known = Known {
        household: &world.household,
        zones: &zones,
        protocols: &protocols,
        people: &[],
        readings,
        monitors: &[],
        deaf: None,
        stuck: None,
        backed_up: None,
        rooms: reminders::Rooms::default(),
        silent: reminders::Silent::default(),
    };
    let mut told: Vec<Told> = reminders(&known, now)
        .into_iter()
        .filter(|reminder| reminder.is_due(now))
        .filter_map(|reminder| match reminder.what {
            reminders::What::Urgent(alert, _) => {
                Some((alert.about.name().to_owned(), alert.level.name().to_owned()))
            }
            _ => None,
        })
        .collect();
    told.sort();
    told
}

#[test]
fn every_situation_of_the_table() {
    let mut wrong = Vec::new();
    let table = situations();
    assert!(table.len() >= 60, "{} situations", table.len());
    for situation in &table {
        let (world, readings) = lived(situation);
        let now = moment(situation.at);
        let next = next(now, &p1(), &Schedule::EVERY_DAY, &readings, &world.context());
        let outrank = next.alerts.iter().filter(|alert| alert.outranks());
        let stands: Vec<Standing> = outrank.map(|alert| standing(alert, now)).collect();
        let said: Vec<&str> = next.alerts.iter().map(|alert| alert.say.as_str()).collect();
        let said = format!("{} {}", next.say, said.join(" "));
        let mut tell = told(&world, &readings, now);
        let mut expect = situation
            .told
            .iter()
            .map(|(a, l)| (a.clone(), l.clone()))
            .collect::<Vec<_>>();
        tell.sort();
        expect.sort();
        let seeks = next.state == Step::SeekHelp;
        let nobodys =
            situation.says != "Nobody has said" || next.because.contains("nobody has said whose it is");
        let says = situation.says == "Nobody has said" || said.contains(situation.says);
        if stands != situation.expected
            || seeks == situation.expected.is_empty()
            || tell != expect
            || !says
            || !nobodys
        {
            wrong.push(format!(
                "{}: stands {stands:?}, told {tell:?}, {said}",
                situation.name
            ));
        }
        // Beside every high one.
        for alert in next.alerts.iter().filter(|alert| alert.about.is_high()) {
            assert!(
                alert.say.contains("Take no extra medicine because of a reading."),
                "{alert:?}"
            );
        }
        // What is less than an emergency says when it is one.
        for alert in next
            .alerts
            .iter()
            .filter(|alert| alert.level < Level::Emergency && alert.outranks())
        {
            assert!(alert.say.contains("call your emergency number now"), "{alert:?}");
        }
    }
    assert!(
        wrong.is_empty(),
        "{} of {}:\n{}",
        wrong.len(),
        table.len(),
        wrong.join("\n")
    );
}
