//! Every week of the table of what may count, lived by people of one household: by the command `period`, on the sheet,
//! on the page, by `next`, and by what `remind` would tell.

use crate::harness::left_out::in_a_hurry;
use crate::harness::page::{Home, get};
use crate::harness::weeks::{Week, What, weeks};
use jiff::civil::{Date, Time, time};
use jiff::{Timestamp, ToSpan};
use quietcuff::household::{Condition, Note, Person, PersonId, PersonTarget, Posed, Statement, Window};
use serde_json::Value;

fn id_of(place: usize) -> String {
    format!("p{place}")
}

/// 0x2A35 with pulse and user, without a stamp: it is taken when it is heard.
fn octets(systolic: u16, diastolic: u16, user: u8) -> Vec<u8> {
    let mut value = vec![0x0c];
    for number in [systolic, diastolic, 0x07ff, 72] {
        value.extend(number.to_le_bytes());
    }
    value.push(user);
    value
}

fn note(kind: &str, words: &str) -> Note {
    let text = (!words.is_empty()).then(|| words.to_owned());
    match kind {
        "waking" => Note::Waking,
        "bed" => Note::Bed,
        "medicine" => Note::Medicine { text },
        "meal" => Note::Meal,
        "dinner" => Note::Dinner,
        "medicine-changed" => Note::MedicineChanged { text },
        "clinic" => {
            let (systolic, diastolic) = words.split_once('/').unwrap();
            Note::ClinicReading {
                systolic: systolic.parse().unwrap(),
                diastolic: diastolic.parse().unwrap(),
            }
        }
        other => panic!("{other}"),
    }
}

fn person(week: &Week) -> Person {
    let mut person = Person {
        label: format!("Invented {}", week.name),
        ..Person::default()
    };
    let window = |from: Time, to: Time| Some(Window { from, to });
    for trait_of in &week.who {
        match *trait_of {
            "adult" => {}
            "night worker" => {
                person.morning = window(time(14, 0, 0, 0), time(17, 0, 0, 0));
                person.evening = window(time(22, 0, 0, 0), time(3, 0, 0, 0));
            }
            "strict" => person.strict = true,
            "pregnant" => person.conditions.push(Condition::Pregnancy),
            other => {
                let target = other
                    .strip_prefix("target ")
                    .and_then(|target| target.split_once('/'));
                let (systolic, diastolic) = target.unwrap_or_else(|| panic!("{}: who is {other}", week.name));
                person.target = Some(PersonTarget {
                    systolic: systolic.parse().unwrap(),
                    diastolic: diastolic.parse().unwrap(),
                    by: None,
                    source: None,
                });
            }
        }
    }
    person
}

/// Somebody lives a week; what they come to is the moment of their last reading.
fn live(home: &Home, place: usize, week: &Week, first: Date) -> Timestamp {
    let id: PersonId = id_of(place).parse().unwrap();
    let user = u8::try_from(place).unwrap();
    let mut journal = home.journal();
    let zones = quietcuff::household::Zones::of(&journal.household().unwrap()).unwrap();
    let moment = |day: i64, minute: i64| {
        let midnight = first.checked_add((day - 1).days()).unwrap();
        let at = midnight.to_datetime(Time::midnight()) + minute.minutes();
        zones.instant(at).unwrap()
    };
    let mut statements = vec![
        Statement::Person {
            person: id.clone(),
            details: person(week),
        },
        Statement::UserIndex {
            monitor: "m1".parse().unwrap(),
            user_id: user,
            person: Some(id.clone()),
            from: None,
        },
        Statement::Period {
            person: id.clone(),
            protocol: week.protocol.to_owned(),
            from: first,
            days: None,
        },
    ];
    let mut readings = Vec::new();
    for (nth, event) in week.events.iter().enumerate() {
        for day in event.days.clone() {
            let at = moment(day, event.minute);
            match &event.what {
                What::Readings(pressures, posed) => {
                    statements.extend(posed.map(|posed| Statement::Note {
                        note: format!("{place:04x}{nth:04x}{day:04x}"),
                        person: Some(id.clone()),
                        monitor: None,
                        at,
                        what: Note::Measured {
                            posed: Posed::of_name(posed).unwrap(),
                        },
                    }));
                    for (pair, (systolic, diastolic)) in (0_i64..).zip(pressures) {
                        readings.push((at + (2 * pair).minutes(), octets(*systolic, *diastolic, user)));
                    }
                }
                What::Noted(kind, words) => statements.push(Statement::Note {
                    note: format!("{place:04x}{nth:04x}{day:04x}"),
                    person: Some(id.clone()),
                    monitor: None,
                    at,
                    what: note(kind, words),
                }),
            }
        }
    }
    // Before the period ends: who states one that is over is not told of it.
    journal.state(moment(1, 0), &statements).unwrap();
    drop(journal);
    readings.sort();
    home.measurements(&readings);
    readings.last().unwrap().0
}

/// What the period says where a row expects something, in the words of the row.
fn said(expected: &str, period: &Value) -> String {
    let words: Vec<&str> = expected.split(' ').collect();
    let mean = |of: &Value| {
        let tenths = |name: &str| (of[name].as_f64().unwrap_or(f64::NAN) * 10.0).round() / 10.0;
        format!(
            "{:.1}/{:.1} n {}",
            tenths("systolic"),
            tenths("diastolic"),
            of["n"]
        )
    };
    let readings = &period["readings"];
    match words[..] {
        ["average", ..] => format!(
            "average {} days {}",
            mean(&period["average"]),
            period["average"]["days"]
        ),
        ["no", "average"] if period["average"].is_null() => expected.to_owned(),
        ["sessions", ..] => format!(
            "sessions {} of {}",
            period["sessions"], period["sessions_expected"]
        ),
        ["outside", _] => format!(
            "outside {}",
            period["outside_sessions"]["n"].as_u64().unwrap_or(0)
        ),
        ["standing" | "lying" | "night", _, "n", _] => {
            let kinds = period["other_kinds"].as_array().unwrap();
            let of = kinds.iter().find(|kind| kind["kind"] == words[0]);
            format!("{} {}", words[0], mean(of.unwrap_or(&Value::Null)))
        }
        ["pattern", name] | ["no", "pattern", name] => {
            let list = period["patterns"].as_array().unwrap();
            let there = list.iter().any(|pattern| pattern["id"] == *name);
            format!("{}pattern {name}", if there { "" } else { "no " })
        }
        ["target", "reached"] | ["target", "missed"] => {
            let reached = &period["target"]["reached"];
            format!("target {}", if *reached == true { "reached" } else { "missed" })
        }
        ["at", "or", "above"] | ["below", "threshold"] => {
            let above = period["at_or_above"] == true;
            if above { "at or above" } else { "below threshold" }.to_owned()
        }
        ["changed"] if period["medicine_changed"].is_string() => expected.to_owned(),
        ["not", "changed"] if period["medicine_changed"].is_null() => expected.to_owned(),
        ["even"] | ["not", "even"] => {
            let even = period["balance"]["even"] == true;
            if even { "even" } else { "not even" }.to_owned()
        }
        ["mornings", _] => format!("mornings {}", period["balance"]["mornings"]),
        ["evenings", _] => format!("evenings {}", period["balance"]["evenings"]),
        ["sitting", "means", _] => {
            let means = &period["balance"]["mean_of_sittings"];
            let tenth = |name: &str| means[name].as_f64().unwrap_or(f64::NAN);
            format!("sitting means {:.1}/{:.1}", tenth("systolic"), tenth("diastolic"))
        }
        ["no", "sitting", "means"] if period["balance"]["mean_of_sittings"].is_null() => expected.to_owned(),
        ["no", "interval"] if period["average"]["interval_95"].is_null() => expected.to_owned(),
        ["interval"] if !period["average"]["interval_95"].is_null() => expected.to_owned(),
        ["fall", ..] => {
            let standing = &period["standing"][0];
            let fall = |name: &str| match &standing[name]["by"] {
                Value::Null => "none".to_owned(),
                by => format!("{}/{}", by[0], by[1]),
            };
            format!("fall {} {}", fall("after_1_minute"), fall("after_3_minutes"))
        }
        ["marked", _] => format!("marked {}", readings["marked"]),
        ["set-aside", _] => format!("set-aside {}", readings["set_aside"]),
        ["reason", name, _] => {
            let of = |list: &str| readings[list][name].as_u64().unwrap_or(0);
            format!(
                "reason {name} {}",
                of("marked_reasons").max(of("set_aside_reasons"))
            )
        }
        _ => format!("{period}"),
    }
}

fn plain(text: &str) -> String {
    let text = text.replace("&#39;", "'").replace("&amp;", "&");
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn wrongs(home: &Home, served: &str, place: usize, week: &Week, last: Timestamp) -> Vec<String> {
    let id = id_of(place);
    let period = home.json(&["period", "--json", "--person", &id]).remove(0);
    let mut wrong: Vec<String> = week
        .expected
        .iter()
        .map(|expected| (expected, said(expected, &period)))
        .filter(|(expected, said)| **expected != said)
        .map(|(expected, said)| format!("expected {expected}, the period says {said}"))
        .collect();
    let sheet = home.dir.path().join(format!("{id}.html"));
    home.text(&["report", "--person", &id, "--output", sheet.to_str().unwrap()]);
    let places = [
        (
            "terminal",
            plain(&home.text(&["period", "--person", &id, "--full"])),
        ),
        ("sheet", plain(&std::fs::read_to_string(&sheet).unwrap())),
    ];
    for (place, text) in &places {
        let missing = week.says.iter().filter(|says| !text.contains(**says));
        wrong.extend(missing.map(|says| format!("the {place} does not say {says:?}")));
    }
    let page = get(served, &format!("/week?person={id}"), "").body;
    let shown = match period["average"]["systolic"].as_f64() {
        Some(systolic) => format!(
            "{:.1}/{:.1}, ",
            systolic,
            period["average"]["diastolic"].as_f64().unwrap()
        ),
        None => "No average yet".to_owned(),
    };
    if !page.contains(&shown) {
        wrong.push(format!("the page does not show {shown:?}"));
    }
    let changed = period["medicine_changed"].is_string() && !period["average"].is_null();
    if changed != page.contains("Medicine was changed within these days") {
        wrong.push(format!("changed: {changed}, and the page says otherwise"));
    }
    let target = !period["target"].is_null() && !period["average"].is_null();
    if target != page.contains("The clinic’s target is below") {
        wrong.push(format!("target: {target}, and the page says otherwise"));
    }
    let uneven = !period["average"].is_null() && period["balance"]["even"] == false;
    if uneven != page.contains("Not even:") {
        wrong.push(format!("uneven: {uneven}, and the page says otherwise"));
    }
    let outside = !period["outside_sessions"]["average_with"].is_null();
    if outside != page.contains("outside every session") {
        wrong.push(format!("outside: {outside}, and the page says otherwise"));
    }
    let next = home.json(&["next", "--json", "--person", &id, "--at", &last.to_string()]);
    if next[0]["state"] == "seek-help" {
        wrong.push(format!("next says {}", next[0]));
    }
    wrong
        .iter()
        .map(|wrong| format!("{}: {wrong}", week.name))
        .collect()
}

#[test]
fn every_week_is_told_alike_by_period_sheet_page_next_and_remind() {
    if in_a_hurry("every week at each place that tells it") {
        return;
    }
    let table = weeks();
    let home = Home::of(&[], None);
    let zones = quietcuff::household::Zones::of(&home.journal().household().unwrap()).unwrap();
    // The last day of a week of seven is the day before yesterday, so that its last night is over.
    let first = zones.civil(Timestamp::now()).date() - 8.days();
    let lasts: Vec<Timestamp> = (1..)
        .zip(&table)
        .map(|(place, week)| live(&home, place, week, first))
        .collect();
    let served = home.serve();
    let mut wrong = Vec::new();
    for ((place, week), last) in (1..).zip(&table).zip(&lasts) {
        wrong.extend(wrongs(&home, served.address(), place, week, *last));
    }
    // Each of their periods is over, which is worth a message; nothing else of them is.
    let due: Vec<Value> = home.json(&["remind", "list", "--json"]);
    let of = |kind: &str| {
        due.iter()
            .filter(|line| line["state"] == "due" && line["kind"] == kind)
            .count()
    };
    if (of("period-finished"), of("urgent")) != (table.len(), 0) {
        wrong.push(format!("remind would tell {due:?}"));
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
