//! Every situation of the table again, lived by people of one household: by the command `next`, on the page, and by
//! what `remind` would tell.

use crate::harness::page::{Home, get};
use crate::harness::situations::{Numbers, Situation, Told, What, born_before, situations};
use jiff::{Timestamp, ToSpan};
use quietcuff::household::{AlertAnswer, Condition, Note, Person, PersonId, Statement, Zones};
use quietcuff::journal::Wanted;
use quietcuff::monitoring::escalation::alerts;
use quietcuff::reading::Reading;
use quietcuff::sitting::SessionRule;
use quietcuff::technique::Context;
use serde_json::Value;

/// The monitor's number for a user whom nobody has named.
const A_GUEST: u8 = 254;

fn id_of(place: usize) -> String {
    format!("p{place}")
}

/// The moment of an event, so that the question is asked now.
fn moment(situation: &Situation, asked: Timestamp, civil: jiff::civil::DateTime) -> Timestamp {
    asked - situation.at.duration_since(civil)
}

/// 0x2A35 with pulse, user and status, without a stamp: it is taken when it is heard.
fn octets(numbers: &Numbers, user: u8) -> Vec<u8> {
    let sfloat = |text: &str| {
        let tenths = text.contains('.');
        let mantissa: u16 = text.replace('.', "").parse().unwrap();
        mantissa | if tenths { 0xf000 } else { 0 }
    };
    let mut value = vec![0x1c | u8::from(numbers.kpa) | if numbers.undated { 0x02 } else { 0 }];
    for number in [sfloat(numbers.systolic), sfloat(numbers.diastolic), 0x07ff] {
        value.extend(number.to_le_bytes());
    }
    if numbers.undated {
        // The first of January 2001, 00:02: a clock that nobody set.
        value.extend([0xd1, 0x07, 1, 1, 0, 2, 0]);
    }
    value.extend(sfloat(numbers.pulse).to_le_bytes());
    value.push(if numbers.nobodys { A_GUEST } else { user });
    value.extend(u16::from(numbers.moved).to_le_bytes());
    value
}

/// Somebody lives a situation.
fn live(home: &Home, place: usize, situation: &Situation, asked: Timestamp) {
    let person: PersonId = id_of(place).parse().unwrap();
    let user = u8::try_from(place).unwrap();
    let details = Person {
        label: format!("Invented {}", situation.name),
        conditions: match situation.who {
            "pregnant" | "after birth" => vec![Condition::Pregnancy],
            who if born_before(who).is_some() => vec![Condition::Pregnancy],
            _ => vec![],
        },
        gave_birth: born_before(situation.who).map(|days| {
            let zones = Zones::of(&home.journal().household().unwrap()).unwrap();
            zones.civil(asked).date().saturating_sub(days.days())
        }),
        born: (situation.who == "child").then(|| asked.in_tz("UTC").unwrap().year() - 10),
        ..Person::default()
    };
    let named = Statement::UserIndex {
        monitor: "m1".parse().unwrap(),
        user_id: user,
        person: Some(person.clone()),
        from: None,
    };
    let stated = Statement::Person {
        person: person.clone(),
        details,
    };
    home.journal().state(asked, &[stated, named]).unwrap();
    for (nth, event) in situation.events.iter().enumerate() {
        let at = moment(situation, asked, event.at);
        match &event.what {
            What::Reading(numbers) => {
                let heard = numbers
                    .received
                    .map_or(at, |heard| moment(situation, asked, heard));
                home.measurement(heard, octets(numbers, user));
                state_of_last(home, numbers, user, (heard, at));
            }
            What::Noted(words) => {
                let note = Statement::Note {
                    note: format!("{place:04x}{nth:04x}"),
                    person: Some(person.clone()),
                    monitor: None,
                    at,
                    what: Note::Symptoms {
                        symptoms: vec![(*words).to_owned()],
                    },
                };
                home.journal().state(at, &[note]).unwrap();
            }
            What::Answered(answer) => answer_all(home, &person, at, answer),
        }
    }
}

/// What people said of the reading that was just heard.
fn state_of_last(home: &Home, numbers: &Numbers, user: u8, (heard, at): (Timestamp, Timestamp)) {
    if !numbers.discarded && numbers.received.is_none() {
        return;
    }
    let mut journal = home.journal();
    let readings = journal.readings(&Wanted::default()).unwrap();
    let last = readings
        .iter()
        .find(|judged| judged.reading.received_at == heard && judged.reading.user_id == Some(user))
        .unwrap();
    let reading = last.reading.id.0.clone();
    let said = if numbers.discarded {
        Statement::Discarded {
            reading,
            reason: Some("not ours".to_owned()),
        }
    } else {
        Statement::Timed {
            reading,
            measured_at: Some(at),
        }
    };
    journal.state(heard, &[said]).unwrap();
}

fn answer_all(home: &Home, person: &PersonId, at: Timestamp, answer: &str) {
    let mut journal = home.journal();
    let readings: Vec<Reading> = journal
        .readings(&Wanted::default())
        .unwrap()
        .into_iter()
        .map(|judged| judged.reading)
        .filter(|reading| reading.time.at.is_some_and(|taken| taken <= at))
        .collect();
    let household = journal.household().unwrap();
    let notes = household.notes_in_time();
    let context = Context {
        household: &household,
        notes: &notes,
        zone: &jiff::tz::TimeZone::UTC,
        rule: SessionRule::default(),
    };
    let said: Vec<Statement> = alerts(at, Some(person), &readings, &context)
        .iter()
        .filter(|alert| alert.outranks())
        .map(|alert| Statement::AlertAnswered {
            alert: alert.key(),
            answer: AlertAnswer::of_name(answer),
            by: Some("Invented carer".to_owned()),
            at,
        })
        .collect();
    assert!(!said.is_empty(), "nothing stood at {at}");
    journal.state(at, &said).unwrap();
}

/// What is wrong with what is said of one of them now.
fn wrongs(
    home: &Home,
    served: &str,
    place: usize,
    situation: &Situation,
    due: &[(String, Told)],
) -> Vec<String> {
    let id = id_of(place);
    let next = home.json(&["next", "--json", "--person", &id]).remove(0);
    let now = Timestamp::now();
    let text = |value: &Value| value.as_str().unwrap_or_default().to_owned();
    let stands: Vec<&Value> = next["alerts"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|alert| !["note", "tell-clinic"].contains(&alert["level"].as_str().unwrap()))
        .collect();
    let mut wrong = Vec::new();
    let expected = &situation.expected;
    let same = stands.len() == expected.len()
        && stands.iter().zip(expected).all(|(alert, expected)| {
            let left = |at: &Value| -> Option<i64> {
                let at: Timestamp = at.as_str()?.parse().ok()?;
                Some(at.duration_since(now).as_secs())
            };
            let due = left(&alert["repeat_at"]).filter(|left| *left > 0);
            let wanted = expected
                .repeat
                .map(|at| at.duration_since(situation.at).as_secs());
            text(&alert["about"]) == expected.about
                && text(&alert["level"]) == expected.level
                && (alert["nobodys"] == true) == expected.nobodys
                && match (due, wanted) {
                    (Some(due), Some(wanted)) => (wanted - 60..=wanted).contains(&due),
                    (due, wanted) => due.is_none() == wanted.is_none(),
                }
        });
    if !same {
        wrong.push(format!("next says {stands:?}"));
    }
    if (next["state"] == "seek-help") == expected.is_empty() {
        wrong.push(format!("the state is {}", next["state"]));
    }
    let page = get(served, &format!("/?person={id}"), "").body;
    let urgent = page.contains("data-urgent");
    let keys = page
        .split("data-alerts=\"")
        .nth(1)
        .and_then(|rest| rest.split('"').next())
        .unwrap_or_default();
    if urgent == expected.is_empty() || keys.split_whitespace().count() != expected.len() {
        wrong.push(format!("the page has {keys:?} in front, urgent: {urgent}"));
    }
    let says = if situation.says == "Measure again now" {
        "Measure again"
    } else {
        situation.says
    };
    if !page.contains(says) {
        wrong.push(format!("the page does not say {says:?}"));
    }
    let high = expected.iter().any(|standing| standing.about.contains("high"));
    if high && !page.contains("Take no extra medicine because of a reading.") {
        wrong.push("the page does not say that no extra medicine is taken".to_owned());
    }
    let mut told: Vec<&Told> = due
        .iter()
        .filter(|(whose, _)| *whose == id || whose == "-")
        .map(|(_, told)| told)
        .collect();
    let mut wanted: Vec<&Told> = situation.told.iter().collect();
    told.sort();
    wanted.sort();
    if told != wanted {
        wrong.push(format!("remind would tell {told:?}"));
    }
    wrong
        .iter()
        .map(|wrong| format!("{}: {wrong}", situation.name))
        .collect()
}

/// Of whom a page of everybody says another thing than the page of this one person, for which all their readings of the
/// month are read.
fn otherwise_for_many(served: &str, people: usize) -> Vec<String> {
    let between = |text: &str, begins: &str, ends: &str| {
        let rest = text.split(begins).nth(1)?;
        rest.split(ends).next().map(str::to_owned)
    };
    let asked: Vec<String> = (1..=people.div_ceil(10))
        .map(|part| get(served, &format!("/household?part={part}"), "").body)
        .collect();
    let now = between(&get(served, "/", "").body, "<ul class=\"others\">", "</ul>").unwrap_or_default();
    let mut seen = (0, 0);
    let mut wrong = Vec::new();
    for place in 0..people {
        let id = id_of(place);
        let alone = get(served, &format!("/?person={id}"), "").body;
        let step = between(&alone, "id=\"step\">", "</h1>").unwrap();
        let urgent = alone.contains("data-urgent").then(|| step.clone());
        let section = format!("aria-labelledby=\"h-{id}\"");
        let theirs = asked
            .iter()
            .find_map(|page| between(page, &section, "</section>"));
        let notice = between(
            &theirs.unwrap(),
            &format!("<p class=\"notice\"><a href=\"/?person={id}\">"),
            "</a>",
        );
        seen.0 += usize::from(notice.is_some());
        if notice != urgent {
            wrong.push(format!(
                "{id}: everybody's page says {notice:?}, their own {urgent:?}"
            ));
        }
        let other = between(&now, &format!("<li><a href=\"/?person={id}\"><bdi>"), "</li>");
        if let Some(other) = other {
            seen.1 += 1;
            if !other.ends_with(&format!(": {step}")) {
                wrong.push(format!("{id}: among others it says {other:?}, alone {step:?}"));
            }
        }
    }
    assert!(people < 20 || seen.0 > 5 && seen.1 == 10, "{seen:?}");
    wrong
}

/// What is due now: whose, about what, how urgent.
fn due(home: &Home) -> Vec<(String, Told)> {
    let lines = home.json(&["remind", "list", "--json"]);
    let keys = lines
        .iter()
        .filter(|line| line["state"] == "due" && line["kind"] == "urgent")
        .map(|line| line["key"].as_str().unwrap());
    keys.map(|key| {
        let parts: Vec<&str> = key.split('/').collect();
        (parts[1].to_owned(), (parts[2].to_owned(), parts[3].to_owned()))
    })
    .collect()
}

#[test]
fn every_situation_is_told_alike_by_next_the_page_and_remind() {
    let table = situations();
    let is_nobodys = |situation: &&Situation| {
        situation
            .events
            .iter()
            .any(|event| matches!(&event.what, What::Reading(numbers) if numbers.nobodys))
    };
    // What is nobody's may be everybody's of a home, so each of those has a home of its own.
    let (apart, together): (Vec<&Situation>, Vec<&Situation>) = table.iter().partition(is_nobodys);
    let mut homes = vec![together];
    homes.extend(apart.into_iter().map(|situation| vec![situation]));
    let mut wrong = Vec::new();
    for lived in homes {
        let home = Home::of(&[], None);
        // Frames are kept to the microsecond.
        let asked = Timestamp::from_second(Timestamp::now().as_second() - 1).unwrap();
        for (place, situation) in lived.iter().enumerate() {
            live(&home, place, situation, asked);
        }
        let (served, due) = (home.serve(), due(&home));
        for (place, situation) in lived.iter().enumerate() {
            wrong.extend(wrongs(&home, served.address(), place, situation, &due));
        }
        wrong.extend(otherwise_for_many(served.address(), lived.len()));
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
