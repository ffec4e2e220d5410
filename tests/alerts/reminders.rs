//! What is worth saying, and when.

use crate::alerts::made::{FIRST, asha, at, look, reading, session};
use jiff::Timestamp;
use jiff::civil::{date, time};
use quietcuff::gatt::Unit;
use quietcuff::home::alerts::look::Look;
use quietcuff::home::alerts::message::Voice;
use quietcuff::household::{AlertAnswer, Condition, Note, StatedAnswer, StatedNote};
use quietcuff::monitoring::care::{Care, Due, Task};
use quietcuff::monitoring::escalation::{About, Level};
use quietcuff::monitoring::reminders::{
    Deaf, Kind, ListenerHeard, MonitorHeard, QuietHours, Reminder, Silent, What,
};
use quietcuff::reading::Reading;
use quietcuff::sitting::Slot;
use quietcuff::words::{Language, one_line};
use std::sync::Arc;

fn due(look: &Look, now: Timestamp) -> Vec<Reminder> {
    let mut all = look.reminders(Silent::default(), now);
    all.retain(|one| one.is_due(now));
    all
}

fn keys(look: &Look, now: Timestamp) -> Vec<String> {
    due(look, now).into_iter().map(|one| one.key).collect()
}

/// Windows of the default: 05:00 to 11:59 and 17:00 to 23:59.
#[test]
fn a_session_is_due_half_done_and_missed_by_the_households_clock() {
    let nothing = look("Asha", vec![]);
    assert!(keys(&nothing, at(27, 4, 59)).is_empty());
    assert_eq!(
        keys(&nothing, at(27, 5, 0)),
        ["session-due/asha/2026-03-27/morning"]
    );
    assert_eq!(
        keys(&nothing, at(27, 11, 59)),
        ["session-due/asha/2026-03-27/morning"]
    );
    assert_eq!(keys(&nothing, at(27, 12, 0)), ["missed/asha/2026-03-27/morning"]);
    // The night in which the clocks were put forward: the window opens at five all the same.
    assert!(keys(&nothing, at(29, 5, 0)).contains(&"session-due/asha/2026-03-29/morning".to_owned()));
    assert!(!keys(&nothing, at(29, 4, 59)).contains(&"session-due/asha/2026-03-29/morning".to_owned()));

    let begun = look("Asha", vec![session(at(27, 7, 0), Slot::Morning, 1)]);
    assert!(
        keys(&begun, at(27, 7, 3)).is_empty(),
        "nobody is nagged within a minute of two"
    );
    assert_eq!(
        keys(&begun, at(27, 7, 5)),
        ["half-done/asha/2026-03-27/morning/1"]
    );
    assert_eq!(keys(&begun, at(27, 12, 0)), ["missed/asha/2026-03-27/morning"]);

    let done = look("Asha", vec![session(at(27, 7, 0), Slot::Morning, 2)]);
    assert!(keys(&done, at(27, 8, 0)).is_empty());
    assert!(keys(&done, at(27, 12, 30)).is_empty());
    // After the last day nobody is asked for anything.
    assert!(
        !keys(&nothing, at(34, 5, 0))
            .iter()
            .any(|key| key.starts_with("session-due"))
    );
}

#[test]
fn what_was_over_before_it_was_planned_was_not_missed() {
    let mut late = look("Asha", vec![]);
    late.people[0].plans[0].1 = at(27, 14, 0);
    assert!(keys(&late, at(27, 15, 0)).is_empty());
    assert_eq!(keys(&late, at(28, 0, 0)), ["missed/asha/2026-03-27/evening"]);
}

#[test]
fn a_very_high_reading_is_said_until_it_is_answered_whenever_one_looks() {
    let mut home = look("Asha", vec![]);
    home.readings = vec![
        reading(at(27, 7, 0), 185, 95, 70, 1),
        reading(at(27, 7, 6), 182, 96, 70, 2),
    ];
    let urgent = |home: &Look, now| {
        let mut keys = keys(home, now);
        keys.retain(|key| key.starts_with("urgent/"));
        keys
    };
    let first = urgent(&home, at(27, 7, 6));
    assert!(
        matches!(&first[..], [key] if key.contains("/contact-today/")),
        "the other is overtaken: {first:?}"
    );
    // Whoever looks first later finds the same, until somebody answers.
    for day in [27, 28, 35] {
        assert_eq!(urgent(&home, at(day, 20, 0)), first);
    }
    let answer = StatedAnswer {
        answer: AlertAnswer::ContactedClinic,
        by: None,
        at: at(27, 7, 30),
    };
    let key = first[0].strip_prefix("urgent/asha/").unwrap().to_owned();
    Arc::make_mut(&mut home.stated)
        .household
        .answers
        .insert(key, answer);
    assert_eq!(urgent(&home, at(27, 7, 29)), first, "before it is answered");
    assert!(urgent(&home, at(27, 7, 31)).is_empty());
    Arc::make_mut(&mut home.stated).household.answers.clear();
    let first = home.readings.remove(0);
    home.readings = vec![Reading {
        discarded: Some("the cuff slipped".into()),
        ..first
    }];
    assert!(
        !keys(&home, at(27, 7, 7))
            .iter()
            .any(|key| key.starts_with("urgent/"))
    );
}

#[test]
fn a_very_high_reading_that_is_nobodys_is_said_too() {
    let mut home = look("Asha", vec![]);
    home.readings = vec![Reading {
        person: None,
        ..reading(at(27, 7, 0), 190, 95, 70, 1)
    }];
    let found = due(&home, at(27, 7, 1));
    let urgent = found.iter().find(|one| one.kind() == Kind::Urgent).unwrap();
    assert!(urgent.person.is_none() && urgent.key.starts_with("urgent/-/very-high/"));
}

/// Symptoms first, the guideline named, no drug, no alarm; and in a terse message no number of the person.
#[test]
fn an_urgent_message_puts_symptoms_first_and_says_what_it_is_not() {
    let mut home = look("Asha", vec![]);
    home.readings = vec![reading(at(27, 7, 0), 187, 95, 140, 1)];
    for language in Language::ALL {
        for terse in [false, true] {
            let words = language.words();
            let voice = Voice {
                words,
                household: &home.stated.household,
                zones: &home.stated.zones,
                terse,
            };
            let urgent: Vec<_> = due(&home, at(27, 7, 1))
                .into_iter()
                .filter(|one| one.kind() == Kind::Urgent)
                .collect();
            assert_eq!(urgent.len(), 2, "the pressure and the pulse");
            for one in &urgent {
                let message = voice.say(one, at(27, 7, 1));
                let What::Urgent(alert, _) = &one.what else {
                    unreachable!()
                };
                assert!(alert.level < Level::Emergency);
                assert!(
                    message.text.starts_with(&words.say("emergency-if")),
                    "{}",
                    message.text
                );
                assert!(message.text.ends_with(&words.say("told-not-an-alarm")));
                assert!(message.text.contains(alert.source));
                assert_eq!(message.source.as_deref(), Some(alert.source));
                if language == Language::English {
                    // The catalogue says what the guideline's own part of the program says.
                    let said = alert.say.replace(&words.say("emergency-if"), "");
                    if !terse {
                        assert!(message.text.contains(said.trim()), "{}\n{said}", message.text);
                    }
                }
                let json = serde_json::to_string(&message).unwrap();
                for number in ["187", "140"] {
                    assert!(!terse || !json.contains(number), "{json}");
                }
                assert_eq!(json.contains("Asha"), !terse, "{json}");
                assert!(terse || json.contains("187"), "{json}");
            }
        }
    }
}

/// Received then, taken nobody knows when; and with a symptom that was noted later, the reading keeps its own time.
#[test]
fn what_nobody_can_date_was_received_and_not_measured() {
    let plain = reading(at(27, 7, 0), 187, 95, 70, 1);
    let mut unknown = plain.clone();
    unknown.time.at = None;
    let mut ahead = plain.clone();
    ahead.time.at = Some(at(29, 9, 0));
    let noted = StatedNote {
        person: Some(asha()),
        monitor: None,
        at: at(27, 7, 10),
        what: Note::Symptoms {
            symptoms: vec!["chest-pain".to_owned()],
        },
    };
    let cases = [
        (&plain, None, "Measured on", ""),
        (
            &unknown,
            Some("unknown"),
            "Received on",
            "Nobody knows when it was taken.",
        ),
        (
            &ahead,
            Some("ahead"),
            "Received on",
            "Its date is ahead of the clock, so nobody knows when it was taken.",
        ),
    ];
    for (one, undated, began, said) in cases {
        for with_symptoms in [false, true] {
            let mut home = look("Asha", vec![]);
            home.readings = vec![one.clone()];
            if with_symptoms {
                let household = &mut Arc::make_mut(&mut home.stated).household;
                household.notes.insert("00000001".to_owned(), noted.clone());
            }
            let now = at(27, 7, 11);
            let about =
                |what: &What| matches!(what, What::Urgent(alert, _) if alert.about == About::VeryHigh);
            let told = due(&home, now).into_iter().find(|one| about(&one.what)).unwrap();
            for language in Language::ALL {
                let words = language.words();
                for terse in [false, true] {
                    let voice = Voice {
                        words,
                        household: &home.stated.household,
                        zones: &home.stated.zones,
                        terse,
                    };
                    let text = voice.say(&told, now).text;
                    let moment = words.moment(date(2026, 3, 27).at(7, 0, 0, 0));
                    assert!(text.contains(&moment), "{text}");
                    match undated {
                        Some(why) => {
                            assert!(
                                text.contains(&words.say(&format!("told-reading-is-{why}"))),
                                "{text}"
                            );
                        }
                        None => {
                            for why in ["unknown", "ahead"] {
                                let not = words.say(&format!("told-reading-is-{why}"));
                                assert!(!text.contains(&not), "{text}");
                            }
                        }
                    }
                    if language == Language::English {
                        assert!(
                            text.contains(&format!("{began} {moment}")) && text.contains(said),
                            "{text}"
                        );
                    }
                }
            }
        }
    }
}

/// Once, at the midnight after the eighth week, in both languages, and not to whoever hears of it weeks later.
#[test]
fn the_end_of_the_levels_of_pregnancy_is_said() {
    let mut home = look("Asha", vec![]);
    let asha_is = Arc::make_mut(&mut home.stated)
        .household
        .people
        .get_mut(&asha())
        .unwrap();
    asha_is.0.conditions = vec![Condition::Pregnancy];
    let key = "after-birth/asha/2026-03-27";
    assert!(
        !keys(&home, at(27, 8, 0))
            .iter()
            .any(|one| one.starts_with("after-birth"))
    );
    // Eight weeks before the 27th of March.
    let asha_is = Arc::make_mut(&mut home.stated)
        .household
        .people
        .get_mut(&asha())
        .unwrap();
    asha_is.0.gave_birth = Some(date(2026, 1, 30));
    let said = |now| keys(&home, now).iter().any(|one| one == key);
    assert!(!said(at(26, 23, 59)));
    assert!(said(at(27, 0, 0)) && said(at(40, 23, 0)));
    assert!(!said(at(41, 1, 0)));
    let found = due(&home, at(27, 8, 0));
    let one = found.iter().find(|one| one.key == key).unwrap();
    for (language, ended, levels) in [
        (
            Language::English,
            "levels of pregnancy have ended",
            "the general levels hold",
        ),
        (Language::Hindi, "सीमाएँ ख़त्म हुईं", "सामान्य सीमाएँ लागू हैं"),
        (
            Language::German,
            "Grenzen der Schwangerschaft gelten nicht mehr",
            "gelten die allgemeinen Grenzen",
        ),
        (
            Language::Spanish,
            "niveles del embarazo han terminado",
            "valen los niveles generales",
        ),
        (
            Language::Tamil,
            "கர்ப்ப கால எல்லைகள் முடிந்தன",
            "பொதுவான எல்லைகள் பொருந்தும்",
        ),
    ] {
        let voice = Voice {
            words: language.words(),
            household: &home.stated.household,
            zones: &home.stated.zones,
            terse: false,
        };
        let message = voice.say(one, at(27, 8, 0));
        assert!(message.subject.contains(ended), "{message:?}");
        assert!(
            message.text.contains(levels) && message.text.contains("NICE NG133"),
            "{message:?}"
        );
    }
}

/// An hour after it was last heard, once for each silence; and where nothing is taken in, that alone.
#[test]
fn a_listener_is_told_of_once_for_each_silence() {
    let mut home = look("Asha", vec![]);
    let listener = |id: &str, name: &str, heard, monitors: &[&str]| ListenerHeard {
        id: id.into(),
        name: name.into(),
        heard,
        refused: None,
        monitors: monitors.iter().map(ToString::to_string).collect(),
    };
    home.listeners = vec![
        listener("l1", "bedroom", at(18, 7, 0), &["m1", "m2"]),
        listener("l2", "l2", at(18, 9, 30), &[]),
    ];
    let silences = |home: &Look, now| -> Vec<Reminder> {
        let mut all = due(home, now);
        all.retain(|one| one.kind() == Kind::ListenerSilent);
        all
    };
    assert!(silences(&home, at(18, 7, 59)).is_empty());
    let one = silences(&home, at(18, 8, 0));
    assert_eq!(one.len(), 1);
    assert_eq!(
        silences(&home, at(18, 10, 29)),
        one,
        "the same silence is the same matter"
    );
    assert_eq!(silences(&home, at(18, 10, 30)).len(), 2);
    for language in Language::ALL {
        for terse in [true, false] {
            let voice = Voice {
                words: language.words(),
                household: &home.stated.household,
                zones: &home.stated.zones,
                terse,
            };
            // Whoever stands there has to know which one, and what to do.
            let said = voice.say(&one[0], at(18, 8, 0));
            assert!(said.subject.contains("bedroom"), "{said:?}");
            assert!(said.text.contains('2'), "{said:?}");
            let nameless = voice.say(&silences(&home, at(18, 10, 30))[1], at(18, 10, 30));
            assert!(nameless.subject.contains("l2"), "{nameless:?}");
        }
    }
    let english = Voice {
        words: Language::default().words(),
        household: &home.stated.household,
        zones: &home.stated.zones,
        terse: true,
    };
    let said = english.say(&one[0], at(18, 8, 0));
    assert!(
        said.text.contains("hears 2 monitors") && said.text.contains("plugged in"),
        "{said:?}"
    );
    let asked = Silent {
        listener_minutes: 120,
        ..Silent::default()
    };
    let early = home.reminders(asked, at(18, 8, 59));
    assert!(
        !early
            .iter()
            .any(|one| one.kind() == Kind::ListenerSilent && one.is_due(at(18, 8, 59)))
    );
    // Heard again, and silent again: another matter.
    home.listeners[0].heard = at(18, 12, 0);
    let again = silences(&home, at(18, 13, 0));
    assert_eq!(again.len(), 2);
    assert!(again.iter().all(|other| other.key != one[0].key));
    // One that calls and is not understood is there: no plug is to blame until it is silent as well.
    home.listeners[0].refused = Some((at(18, 12, 50), "99.0.0".into()));
    let apart: Vec<Reminder> = silences(&home, at(18, 13, 0));
    assert_eq!(apart.len(), 2);
    let apart = apart
        .iter()
        .find(|one| matches!(one.what, What::ListenerApart(_)))
        .unwrap();
    let said = english.say(apart, at(18, 13, 0));
    assert!(
        said.text.contains("99.0.0") && !said.text.contains("plugged"),
        "{said:?}"
    );
    let gone = silences(&home, at(18, 13, 50));
    assert!(
        gone.iter().all(|one| matches!(one.what, What::ListenerSilent(_))),
        "{gone:?}"
    );
    home.listeners[0].refused = None;
    // Nobody is sent to a plug when the fault is here: one matter, an hour after anything came.
    home.shut = true;
    assert!(silences(&home, at(18, 12, 59)).is_empty());
    let shut = silences(&home, at(18, 13, 0));
    assert!(
        matches!(
            shut[..],
            [Reminder {
                what: What::DoorShut { .. },
                ..
            }]
        ),
        "{shut:?}"
    );
    let said = english.say(&shut[0], at(18, 13, 0));
    assert!(said.text.contains("quietcuff check"), "{said:?}");
}

#[test]
fn a_monitor_and_the_daemon_are_told_of_once_for_each_episode() {
    let mut home = look("Asha", vec![]);
    let monitor: quietcuff::household::MonitorId = "m1".parse().unwrap();
    home.monitors = vec![MonitorHeard {
        monitor: monitor.clone(),
        heard: at(10, 7, 0),
        battery_low_since: Some(at(9, 7, 0)),
        care: Care {
            measurements: 100,
            since: Some(date(2024, 3, 1)),
            checked: None,
            batteries_changed: None,
            drops: 0,
            battery: Some(15),
            due: vec![
                Due {
                    task: Task::ChangeBatteries,
                    on: date(2026, 3, 9),
                    because: Default::default(),
                    source: "s",
                },
                Due {
                    task: Task::Check,
                    on: date(2026, 3, 1),
                    because: Default::default(),
                    source: "s",
                },
            ],
        },
    }];
    home.deaf = Some(Deaf {
        since: at(18, 6, 50),
        from: Some(at(18, 7, 0)),
        why: "the daemon does not run".into(),
    });
    let at_seven = keys(&home, at(18, 7, 0));
    let kinds: Vec<&str> = at_seven
        .iter()
        .map(|key| key.split('/').next().unwrap())
        .collect();
    assert_eq!(
        kinds,
        ["battery-low", "monitor-silent", "check-due", "daemon-deaf"]
    );
    assert_eq!(
        keys(&home, at(18, 6, 59)).len(),
        2,
        "silent for 8 days, deaf for 10 minutes"
    );
    assert_eq!(
        keys(&home, at(25, 7, 0)),
        at_seven,
        "a week later they are the same matters"
    );
    home.deaf = home.deaf.map(|deaf| Deaf { from: None, ..deaf });
    assert_eq!(
        keys(&home, at(18, 9, 0)).len(),
        3,
        "who watches has only just begun"
    );
    home.monitors[0].care.due.clear();
    home.monitors[0].heard = at(18, 7, 30);
    home.deaf = None;
    assert!(keys(&home, at(18, 8, 0)).is_empty());
}

#[test]
fn nobody_is_told_of_somebody_who_was_removed() {
    let mut home = look("Asha", vec![]);
    home.readings = vec![reading(at(27, 8, 0), 190, 90, 70, 1)];
    let urgent = |home: &Look| {
        keys(home, at(27, 8, 1))
            .iter()
            .filter(|key| key.starts_with("urgent/"))
            .count()
    };
    assert_eq!(urgent(&home), 1);
    Arc::make_mut(&mut home.stated)
        .household
        .people
        .get_mut(&asha())
        .unwrap()
        .1 = true;
    assert_eq!(urgent(&home), 0);
}

#[test]
fn quiet_hours_run_over_midnight() {
    let quiet: QuietHours = "21:00-07:00".to_owned().try_into().unwrap();
    assert_eq!(quiet, QuietHours::default());
    for (hour, holds) in [(20, false), (21, true), (0, true), (6, true), (7, false)] {
        assert_eq!(quiet.holds(time(hour, 0, 0, 0)), holds, "{hour}");
    }
    let end = |hour| quiet.end(FIRST.at(hour, 30, 0, 0));
    assert_eq!(end(22), Some(date(2026, 3, 28).at(7, 0, 0, 0)));
    assert_eq!(end(5), Some(FIRST.at(7, 0, 0, 0)));
    assert_eq!(end(12), None);
    let noon: QuietHours = "12:00-14:00".to_owned().try_into().unwrap();
    assert!(noon.holds(time(13, 0, 0, 0)) && !noon.holds(time(23, 0, 0, 0)));
    assert!(!QuietHours::NONE.holds(time(3, 0, 0, 0)));
    for wrong in ["", "21", "21:00", "21:00-25:00", "07:00-07:00", "a-b"] {
        assert!(QuietHours::try_from(wrong.to_owned()).is_err(), "{wrong}");
    }
}

#[test]
fn what_others_wrote_is_one_line() {
    assert_eq!(one_line("a\r\nBcc: b\u{2028}c\0d\u{202e}e"), "a Bcc: b c de");
    assert_eq!(one_line(&"x".repeat(500)).len(), 160);
    let home = look("Asha\r\nBcc: thief@evil.example", vec![]);
    let voice = Voice {
        words: Language::English.words(),
        household: &home.stated.household,
        zones: &home.stated.zones,
        terse: false,
    };
    let first = &due(&home, at(27, 8, 0))[0];
    let message = voice.say(first, at(27, 8, 0));
    assert_eq!(
        message.subject,
        "Asha Bcc: thief@evil.example: the morning session is due"
    );
    assert_eq!(message.person, Some(asha()));
}

#[test]
fn units_are_those_that_the_monitor_shows() {
    let mut home = look("Asha", vec![]);
    // SFLOAT: an exponent of −1 before 250 and 130.
    home.readings = vec![Reading {
        unit: Unit::KPa,
        ..reading(at(27, 7, 0), 0xf0fa, 0xf082, 70, 1)
    }];
    let voice = Voice {
        words: Language::English.words(),
        household: &home.stated.household,
        zones: &home.stated.zones,
        terse: false,
    };
    let found = due(&home, at(27, 7, 1));
    let urgent = found.iter().find(|one| one.kind() == Kind::Urgent).unwrap();
    let text = voice.say(urgent, at(27, 7, 1)).text;
    // 180 mmHg are 23.998 kPa (1 mmHg = 133.322 Pa, SI Brochure).
    assert!(
        text.contains("25.0/13.0 kPa") && text.contains("24.0 kPa"),
        "{text}"
    );
}
