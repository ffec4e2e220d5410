//! A house of many: eighty people and a hundred monitors stand on the pages in parts, with a field to search by.

use crate::harness::browser::{Browser, without};
use crate::harness::left_out::in_a_hurry;
use crate::harness::page::{Home, get};
use jiff::{SignedDuration, Timestamp};
use quietcuff::frame::Frame;
use quietcuff::gatt::Characteristic;
use quietcuff::household::{Monitor, MonitorAddress, Statement};
use serde_json::json;
use std::collections::BTreeSet;

const PEOPLE: u8 = 80;
const MONITORS: u8 = 100;
/// As many stand on one page.
const SHOWN: usize = 10;
/// No page is larger, in octets.
const PAGE_MAX: usize = 80 * 1024;
/// The pages of many: what stands before the id of each, and how many there are.
const PAGES: [(&str, &str, u8); 3] = [
    ("/people", "aria-labelledby=\"p-", PEOPLE),
    ("/household", "aria-labelledby=\"h-", PEOPLE),
    ("/monitors", "aria-labelledby=\"m-", MONITORS),
];

fn address(monitor: u8) -> MonitorAddress {
    [0xc0, 0xff, 0xee, 0, 1, monitor].into()
}

/// Person p07 has monitor m7, and so on; the last of them has just measured what must not wait.
fn house() -> Home {
    let people: Vec<(String, String)> = (1..=PEOPLE)
        .map(|n| (format!("p{n:02}"), format!("Invented person {n:02}")))
        .collect();
    let people: Vec<(&str, &str)> = people
        .iter()
        .map(|(id, label)| (id.as_str(), label.as_str()))
        .collect();
    let home = Home::of(&people, None);
    let mut statements = Vec::new();
    for n in 1..=MONITORS {
        statements.push(Statement::Monitor {
            monitor: format!("m{n}").parse().unwrap(),
            details: Monitor {
                address: Some(address(n)),
                name: Some("Invented monitor".to_owned()),
                ..Monitor::default()
            },
        });
    }
    for n in 1..=PEOPLE {
        statements.push(Statement::UsualPerson {
            monitor: format!("m{n}").parse().unwrap(),
            person: Some(format!("p{n:02}").parse().unwrap()),
            from: None,
        });
    }
    let mut journal = home.journal();
    journal.state(Timestamp::now(), &statements).unwrap();
    let mut value = vec![0x14];
    for number in [204_u16, 124, 0x07ff, 71, 0] {
        value.extend(number.to_le_bytes());
    }
    let frame = Frame {
        received_at: Timestamp::now() - SignedDuration::from_secs(120),
        offset: jiff::tz::Offset::UTC,
        uptime: None,
        given_to: None,
        overheard: false,
        monitor: address(PEOPLE),
        connection: 1,
        characteristic: Characteristic::BLOOD_PRESSURE_MEASUREMENT,
        value,
    };
    journal.append(&[frame]).unwrap();
    home
}

/// The ids behind a beginning, in their order.
fn ids<'a>(body: &'a str, begins: &str) -> Vec<&'a str> {
    let behind = body.split(begins).skip(1);
    behind.map(|rest| rest.split('"').next().unwrap()).collect()
}

#[test]
fn everybody_stands_in_one_part_and_is_found_by_name() {
    let home = house();
    let served = home.serve();
    let at = served.address();
    for (path, begins, count) in PAGES {
        let mut seen = BTreeSet::new();
        let parts = usize::from(count).div_ceil(SHOWN);
        for part in 1..=parts {
            let page = get(at, &format!("{path}?part={part}"), "");
            assert!(
                page.body.len() <= PAGE_MAX,
                "{path} {part}: {} octets",
                page.body.len()
            );
            let shown = ids(&page.body, begins);
            assert_eq!(shown.len(), SHOWN, "{path} {part}");
            assert!(page.body.contains(&format!(" of {count}")), "{path} {part}");
            assert!(
                page.body.contains(&format!("{path}?part={parts}")),
                "{path} {part}"
            );
            for id in shown {
                assert!(seen.insert(id.to_owned()), "{path}: {id} stands twice");
            }
        }
        assert_eq!(seen.len(), usize::from(count), "{path}");
        // What no link says is no fault of whoever typed it.
        let last = get(at, &format!("{path}?part={parts}"), "").body;
        let beyond = get(at, &format!("{path}?part=999"), "").body;
        assert_eq!(ids(&last, begins), ids(&beyond, begins), "{path}");
        let first = get(at, path, "").body;
        let odd = get(at, &format!("{path}?part=x"), "").body;
        assert_eq!(ids(&first, begins), ids(&odd, begins), "{path}");
        // By a part of the name, in letters of any size.
        let found = get(at, &format!("{path}?find=PERSON+55"), "").body;
        assert_eq!(ids(&found, begins).len(), 1, "{path}");
        assert!(
            found.contains("Invented person 55") && found.contains("value=\"PERSON 55\""),
            "{path}"
        );
        let none = get(at, &format!("{path}?find=%3Cb%3E"), "").body;
        assert!(none.contains("Nobody and nothing is called that."), "{path}");
        assert!(!none.contains("<b>"), "{path}");
    }
    // What must not wait is on the first part, whoever it is about.
    let first = get(at, "/household", "").body;
    assert_eq!(ids(&first, "aria-labelledby=\"h-")[0], "p80");
    assert!(first.contains("And 90 more"), "the other monitors");
    let now = get(at, "/", "").body;
    assert!(
        now.contains("Invented person 80") && now.contains("And 69 more"),
        "{now}"
    );
    // Whose page it is stands above it, though their part is another.
    let week = get(at, "/week?person=p55", "").body;
    let whose = week
        .split("nav class=\"whose\"")
        .nth(1)
        .unwrap()
        .split("</nav>")
        .next()
        .unwrap();
    assert_eq!(whose.matches("<a ").count(), 1, "{whose}");
    assert!(whose.contains("person=p55\" aria-current=\"true\""), "{whose}");
    assert!(week.contains("/week?person=p55&amp;part=2"), "{week}");
    // A reading that is nobody's is given by a list, and refused without a choice.
    for path in [
        "/",
        "/earlier?person=p55",
        "/notes?person=p55",
        "/sheet?person=p55",
        "/questions",
    ] {
        let size = get(at, path, "").body.len();
        assert!(size <= PAGE_MAX, "{path}: {size} octets");
    }
}

#[test]
fn where_few_live_nothing_is_in_parts() {
    let home = Home::new();
    let served = home.serve();
    for (path, ..) in PAGES {
        let body = get(served.address(), path, "").body;
        assert!(
            !body.contains("role=\"search\"") && !body.contains("class=\"parts\""),
            "{path}"
        );
    }
}

#[test]
fn the_parts_are_used_in_a_browser_of_any_width() {
    if in_a_hurry("many people in a browser") || without() {
        return;
    }
    let home = house();
    let served = home.serve();
    let mut browser = Browser::start();
    for (name, width, height) in [("phone", 390, 844), ("tablet", 1024, 768)] {
        for (path, ..) in PAGES {
            browser.told(json!({
                "do": "open", "page": name, "url": served.at(path), "language": "en", "width": width, "height": height,
            }));
            browser.accessible(name);
            let wide = browser.eval(name, "document.documentElement.scrollWidth <= innerWidth");
            assert_eq!(wide, true, "{path} at {width}");
            browser.fill(name, "#find", "person 07");
            browser.click(name, "form.find button");
            browser.wait(name, "location.search === '?find=person+07'");
            let found = browser.text(name, "main");
            assert!(
                found.contains("1–1 of 1") && found.contains("Invented person 07"),
                "{found}"
            );
        }
        browser.goto(name, &served.at("/week?person=p03"));
        browser.click(name, "details.find summary");
        browser.click(name, "nav.parts li:last-child a");
        browser.wait(name, "location.search === '?person=p03&part=8'");
        browser.accessible(name);
        assert!(
            browser
                .text(name, "details.find nav.whose")
                .contains("Invented person 80")
        );
    }
    browser.kept_to_itself();
}
