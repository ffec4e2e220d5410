//! The pictures of *these days* and of *earlier*: what is drawn is read back from the drawing by its own axis, and held
//! against the readings that `readings --json` lists.

use crate::harness::browser::{Browser, without};
use crate::harness::left_out::in_a_hurry;
use crate::harness::page::{Home, get, post};
use jiff::{SignedDuration, Timestamp};
use serde_json::{Value, json};

/// A measurement with pulse and status (0x2A35).
fn value(systolic: u16, diastolic: u16) -> Vec<u8> {
    let mut value = vec![0x14];
    for number in [systolic, diastolic, 0x07ff, 71, 0] {
        value.extend(number.to_le_bytes());
    }
    value
}

/// So many days ago, in the morning or twelve hours later, the nth reading.
fn ago(days: i64, evening: bool, nth: i64) -> Timestamp {
    let hours = days * 24 - if evening { 12 } else { 0 };
    let ago = SignedDuration::from_hours(hours) - SignedDuration::from_secs(nth * 90);
    Timestamp::now().checked_sub(ago).unwrap()
}

fn day(home: &Home, days: i64) -> String {
    let zoned = |at: Timestamp| {
        let file = std::fs::read_to_string(home.dir.path().join("quietcuff.toml")).unwrap();
        let offset = file.split('"').nth(1).unwrap();
        let hours: i64 = offset[..3].parse().unwrap();
        at.checked_add(SignedDuration::from_hours(hours)).unwrap()
    };
    zoned(ago(days, false, 0)).to_string()[..10].to_owned()
}

/// Three days of a week: four sessions complete, one begun, one that never came.
fn three_days() -> Home {
    let home = Home::of(&[("asha", "Asha"), ("meera", "Meera")], Some("asha"));
    let sessions = [
        (3, false, vec![(131, 85), (127, 83)]),
        (3, true, vec![(124, 80), (122, 79)]),
        (2, false, vec![(138, 88), (134, 86)]),
        (2, true, vec![(129, 82)]),
        (1, true, vec![(121, 78), (119, 77)]),
    ];
    let mut heard = Vec::new();
    for (days, evening, readings) in sessions {
        for ((systolic, diastolic), nth) in readings.into_iter().zip(0..) {
            heard.push((ago(days, evening, nth), value(systolic, diastolic)));
        }
    }
    home.measurements(&heard);
    home.text(&["period", "start", "--person", "asha", "--from", &day(&home, 3)]);
    home
}

/// Numbers of an element's attribute, for each element that begins so.
fn drawn<'a>(page: &'a str, begins: &str) -> Vec<&'a str> {
    let elements = page
        .match_indices(begins)
        .map(|(at, _)| &page[at + begins.len()..]);
    elements.map(|rest| rest.split('"').next().unwrap()).collect()
}

fn numbers(text: &str) -> Vec<f64> {
    let parts = text.split(|c: char| !(c.is_ascii_digit() || c == '.' || c == '-'));
    parts.filter_map(|part| part.parse().ok()).collect()
}

/// What a height means, by two of the numbers beside the axis.
fn axis(page: &str) -> impl Fn(f64) -> f64 {
    let labels: Vec<(f64, f64)> = page
        .match_indices("<text ")
        .filter_map(|(at, _)| {
            let element = &page[at..at + page[at..].find("</text>")?];
            let said: f64 = element.split('>').nth(1)?.parse().ok()?;
            let y = numbers(element.split("y=\"").nth(1)?.split('"').next()?);
            element
                .contains("text-anchor=\"end\"")
                .then_some((*y.first()?, said))
        })
        .collect();
    let ((y0, v0), (y1, v1)) = (labels[0], labels[labels.len() - 1]);
    // A number's base line stands so much below its own line.
    let y0 = y0 - 2.8;
    let y1 = y1 - 2.8;
    assert!(v1 - v0 >= 20.0, "{labels:?}");
    move |y| v0 + (y - y0) * (v1 - v0) / (y1 - y0)
}

fn readings(home: &Home) -> Vec<(f64, f64)> {
    let all = home.json(&["readings", "--person", "asha", "--json"]);
    let number = |one: &Value, name: &str| one[name].as_f64().unwrap();
    all.iter()
        .map(|one| (number(one, "systolic"), number(one, "diastolic")))
        .collect()
}

#[test]
fn each_reading_of_the_days_is_a_stem_at_its_height() {
    let home = three_days();
    let served = home.serve();
    let page = get(served.address(), "/week?person=asha", "").body;
    let value = axis(&page);
    let stems = numbers(drawn(&page, "<path class=\"ink\" d=\"")[0]);
    let mut seen: Vec<(f64, f64)> = stems
        .chunks(4)
        .map(|stem| (value(stem[1]), value(stem[3])))
        .collect();
    let mut there = readings(&home);
    seen.sort_by(|a, b| a.partial_cmp(b).unwrap());
    there.sort_by(|a, b| a.partial_cmp(b).unwrap());
    assert_eq!(seen.len(), there.len());
    for (seen, there) in seen.iter().zip(&there) {
        assert!(
            (seen.0 - there.0).abs() < 0.3 && (seen.1 - there.1).abs() < 0.3,
            "{seen:?} {there:?}"
        );
    }
    // In order of time from left to right, morning before evening.
    let across: Vec<f64> = stems.chunks(4).map(|stem| stem[0]).collect();
    assert!(across.windows(2).all(|pair| pair[0] < pair[1]), "{across:?}");
    for name in ["picture-t", "picture-d"] {
        assert!(page.contains(&format!("id=\"{name}\"")), "{name}");
    }
    // The level is a broken line with its number.
    assert!(page.contains("<path class=\"dashed\"") && page.contains(">135</text>"));
}

#[test]
fn a_place_for_each_session_says_what_became_of_it() {
    let home = three_days();
    let served = home.serve();
    let page = get(served.address(), "/week?person=asha", "").body;
    let places = drawn(&page, "<svg class=\"place\" data-place=\"");
    let mornings = [
        "complete", "complete", "missed", "due", "to-come", "to-come", "to-come",
    ];
    let evenings = [
        "complete", "begun", "complete", "to-come", "to-come", "to-come", "to-come",
    ];
    assert_eq!(places, [mornings, evenings].concat());
}

/// At home whole numbers; with them stand the exact ones, and mornings and evenings for themselves.
#[test]
fn an_average_is_whole_at_home_and_exact_in_its_detail() {
    let home = Home::new();
    let heard: Vec<(Timestamp, Vec<u8>)> = (1..=7)
        .flat_map(|days| [false, true].map(|evening| (days, evening)))
        .flat_map(|(days, evening)| [0, 1].map(|nth| (days, evening, nth)))
        .map(|(days, evening, nth)| {
            let systolic = 134 + u16::from(evening) * 2 + u16::from(nth == 1 && days == 1);
            (ago(days, evening, nth), value(systolic, 84))
        })
        .collect();
    home.measurements(&heard);
    home.text(&["period", "start", "--person", "asha", "--from", &day(&home, 7)]);
    let of = |all: &[(f64, f64)]| all.iter().map(|(systolic, _)| systolic).sum::<f64>() / all.len() as f64;
    let mean = of(&readings(&home));
    let served = home.serve();
    let page = get(served.address(), "/week?person=asha", "").body;
    assert!(
        page.contains(&format!("<p class=\"large\">{mean:.0}/84 ")),
        "{mean}"
    );
    assert!(page.contains(&format!("{mean:.1}/84.0")), "{mean}");
    assert!(page.contains("Mornings 134/84, 14 readings") && page.contains("Evenings 136/84, 14 readings"));
    // It ended yesterday, and says so, with the sheet and what comes next.
    assert!(
        page.contains("These days are over.") && page.contains("Begin again when the clinic asks for it.")
    );
    let sheet = drawn(&page, "<a class=\"button\" href=\"")[0].replace("&amp;", "&");
    let sheet = get(served.address(), &sheet, "");
    assert!(
        sheet.status == 200 && sheet.body.contains("<title>"),
        "{}",
        sheet.status
    );
    assert!(page.contains("Begin 7 days today"));
}

#[test]
fn nothing_was_missed_by_somebody_new() {
    let home = three_days();
    let served = home.serve();
    let before = get(served.address(), "/week?person=meera", "");
    assert!(before.body.contains("Not begun yet") && !before.body.contains("none came"));
    let form = format!("person=meera&token={}", before.token());
    let cookie = before
        .header("Set-Cookie")
        .map(|cookie| format!("Cookie: {cookie}\r\n"))
        .unwrap_or_default();
    assert_eq!(post(served.address(), "/period", &form, &cookie).status, 303);
    let after = get(served.address(), "/week?person=meera", "").body;
    assert!(!after.contains("Not begun yet") && !after.contains("none came") && after.contains("due now"));
}

#[test]
fn a_week_of_the_past_is_a_point_and_opens() {
    let home = Home::new();
    // Whole weeks from their Mondays on, and one day of another.
    let today: jiff::civil::Date = day(&home, 0).parse().unwrap();
    let monday = i64::from(today.weekday().to_monday_zero_offset());
    let heard: Vec<(Timestamp, Vec<u8>)> = [
        (monday + 70, 7, 140),
        (monday + 35, 7, 132),
        (monday + 21, 1, 128),
    ]
    .into_iter()
    .flat_map(|(from, days, systolic)| (0..days).map(move |n| (from - n, systolic + n as u16)))
    .flat_map(|(days, systolic)| [0, 1].map(|nth| (ago(days, false, nth), value(systolic, 82))))
    .collect();
    home.measurements(&heard);
    home.text(&[
        "note",
        "add",
        "clinic-reading",
        "148/88",
        "--person",
        "asha",
        "--at",
        &format!("{}T10:00", day(&home, 50)),
    ]);
    home.text(&[
        "note",
        "add",
        "medicine-changed",
        "--person",
        "asha",
        "--at",
        &format!("{}T10:00", day(&home, 49)),
    ]);
    let served = home.serve();
    let at = served.address();
    let page = get(at, "/earlier?person=asha", "").body;
    let value = axis(&page);
    let weeks = drawn(&page, "<a href=\"/week?person=asha&amp;from=");
    // Each week twice: in the picture, and in the table behind it.
    let mut here: Vec<&str> = weeks.clone();
    here.sort_unstable();
    here.dedup();
    assert_eq!(weeks.len(), 2 * here.len());
    let dots = page.matches("<circle class=").count();
    assert_eq!((here.len(), dots), (3, 6));
    // The lone day is an open point, both numbers of it.
    assert_eq!(page.matches("<circle class=\"open\"").count(), 2);
    // The spreads reach from the lowest to the highest reading of all.
    let spreads = numbers(drawn(&page, "<path class=\"ink\" d=\"")[0]);
    let ends: Vec<f64> = spreads.chunks(2).map(|end| value(end[1])).collect();
    let highest = ends.iter().copied().fold(0.0, f64::max);
    let there = readings(&home)
        .iter()
        .map(|(systolic, _)| *systolic)
        .fold(0.0, f64::max);
    assert!((highest - there).abs() < 0.3, "{highest} {there}");
    // Clinic and medicine stand in the picture and in its words.
    assert!(page.contains("148/88") && page.contains("medicine changed: "));
    let crosses = numbers(drawn(&page, "<path class=\"heavy\" d=\"")[0]);
    let middle = value((crosses[1] + crosses[3]) / 2.0);
    assert!((middle - 148.0).abs() < 0.3, "{middle}");
    // A tap opens the week with its readings.
    let week = get(at, &format!("/week?person=asha&from={}", here[0]), "").body;
    assert!(week.contains("140/82") || week.contains("141/82"), "{}", here[0]);
    assert_eq!(get(at, "/week?person=asha&from=yesterday", "").status, 422);
    let all = get(at, "/earlier?person=asha&span=all", "").body;
    assert!(all.contains("month by month") && all.contains("<circle class="));
}

#[test]
fn pictures_are_for_every_reader() {
    if in_a_hurry("every picture for every reader") {
        return;
    }
    if without() {
        return;
    }
    let home = three_days();
    let served = home.serve();
    let mut browser = Browser::start();
    for (language, width, dark) in [
        ("en", 390, false),
        ("hi", 1024, true),
        ("hi", 320, false),
        ("de", 320, false),
        ("ta", 390, false),
    ] {
        let page = format!("{language} {width}");
        browser.told(json!({
            "do": "open", "page": page, "url": served.at("/"), "language": language, "dark": dark,
            "width": width, "height": 780,
        }));
        for path in [
            "/week?person=asha",
            "/earlier?person=asha",
            "/earlier?person=asha&span=all",
            "/week?person=meera",
        ] {
            assert_eq!(browser.goto(&page, &served.at(path)), 200);
            browser.accessible(&page);
            let over = "document.documentElement.scrollWidth - document.documentElement.clientWidth";
            assert_eq!(browser.eval(&page, over), 0, "{page} {path}");
            // The letters of a picture are as large as a telephone's own.
            let small =
                "[...document.querySelectorAll('.plot text')].map((t) => t.getBoundingClientRect().height)
                .filter((height) => height < 9.5)";
            assert_eq!(browser.eval(&page, small), json!([]), "{page} {path}");
        }
    }
    browser.kept_to_itself();
}
