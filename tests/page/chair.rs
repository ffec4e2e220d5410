//! What the person in the chair reads from two metres, measured in the browser: the height of an x in minutes of arc on
//! a tablet of ten inches, and what stands on the first screen. The oracle for the letters is the browser's own measure
//! of the font that it took.

use crate::harness::browser::{Browser, without};
use crate::harness::left_out::in_a_hurry;
use crate::harness::page::Home;
use quietcuff::words::Language;
use serde_json::json;

const MOVED: u16 = 1;

/// Minutes of arc of the x of an element, at two metres, on ten inches of 1280 by 800.
fn minutes(browser: &mut Browser, page: &str, selector: &str) -> f64 {
    let code = format!(
        "(() => {{
            const element = [...document.querySelectorAll({selector:?})].find((e) => e.getBoundingClientRect().height);
            const style = getComputedStyle(element);
            const ink = document.createElement('canvas').getContext('2d');
            ink.font = `${{style.fontWeight}} ${{style.fontSize}} ${{style.fontFamily}}`;
            return ink.measureText('x').actualBoundingBoxAscent;
        }})()"
    );
    let px = browser.eval(page, &code).as_f64().unwrap();
    let mm = 254.0 / 1280f64.hypot(800.0);
    (px * mm / 2000.0).atan().to_degrees() * 60.0
}

/// Whether it is on the first screen, and nothing lies over its middle.
pub(super) fn on_the_first_screen(browser: &mut Browser, page: &str, selector: &str) {
    let code = format!(
        "(() => {{
            scrollTo(0, 0);
            const element = document.querySelector({selector:?});
            const box = element.getBoundingClientRect();
            const over = document.elementFromPoint(box.x + box.width / 2, box.y + box.height / 2);
            const seen = box.height > 0 && box.top >= 0 && box.bottom <= innerHeight && element.contains(over);
            return seen ? '' : [JSON.stringify(box), innerHeight, over && over.outerHTML.slice(0, 200)].join(' ');
        }})()"
    );
    assert_eq!(browser.eval(page, &code), json!(""), "{page} {selector}");
}

#[test]
fn it_is_read_from_two_metres() {
    if without() {
        return;
    }
    let home = Home::begun_today();
    let served = home.serve();
    let mut browser = Browser::start();
    for language in Language::ALL.map(Language::tag) {
        browser.told(json!({
            "do": "open", "page": language, "url": served.at("/"), "language": language, "width": 1280, "height": 800,
        }));
        browser.step(language, "rest");
        browser.wait(
            language,
            "document.querySelectorAll('.technique li.shown').length === 1",
        );
        for selector in [".who", "#step", ".technique li.shown"] {
            let seen = minutes(&mut browser, language, selector);
            assert!(seen >= 10.0, "{language} {selector}: {seen}");
        }
        for selector in [".say", ".turn"] {
            let seen = minutes(&mut browser, language, selector);
            assert!(seen >= 7.0, "{language} {selector}: {seen}");
        }
        // The other half is used, and the item stands on the first screen.
        let left = browser.eval(
            language,
            "document.querySelector('.technique').getBoundingClientRect().left",
        );
        assert!(left.as_f64().unwrap() >= 600.0, "{left}");
        every_item_fits(&mut browser, language);
        // Small where there is no room for more: the check itself can fail.
        assert!(minutes(&mut browser, language, "footer p") < 4.0);
    }
    home.reading(200, 128, 82, 0);
    home.reading(65, 139, 88, MOVED);
    for language in Language::ALL.map(Language::tag) {
        browser.step(language, "repeat");
        for selector in [".sitting .values", ".sitting [data-became='set-aside'] .why"] {
            let seen = minutes(&mut browser, language, selector);
            assert!(seen >= 7.0, "{language} {selector}: {seen}");
            on_the_first_screen(&mut browser, language, selector);
        }
    }
}

/// Whichever item of posture has its turn: each is shown for seven seconds by the clock, so that the one that a test
/// meets says nothing of the others.
fn every_item_fits(browser: &mut Browser, page: &str) {
    let code = "[...document.querySelectorAll('.technique li')].map((item, _, all) => {
        for (const other of all) other.classList.toggle('shown', other === item);
        const box = item.getBoundingClientRect();
        return box.height > 0 && box.top >= 0 && box.bottom <= innerHeight ? null : [item.textContent, box.bottom];
    })";
    assert_eq!(
        browser.eval(page, code),
        json!([null, null, null, null, null, null, null]),
        "{page}"
    );
}

#[test]
fn both_buttons_and_the_next_action_need_no_scrolling() {
    if in_a_hurry("the first screen at each size in each language") {
        return;
    }
    if without() {
        return;
    }
    let home = Home::begun_today();
    let served = home.serve();
    let mut browser = Browser::start();
    for (width, height) in [(1024, 768), (1280, 800), (390, 844)] {
        for language in Language::ALL.map(Language::tag) {
            let page = format!("{width} {language}");
            browser.told(json!({
                "do": "open", "page": page, "url": served.at("/"), "language": language,
                "width": width, "height": height,
            }));
            browser.step(&page, "rest");
            for selector in ["#step", "#rest .start", "#unwell"] {
                on_the_first_screen(&mut browser, &page, selector);
            }
            // Whoever sits in the chair reads the whole of it, whoever is next. Tamil's long words need a larger screen.
            if width > height && language != "ta" {
                on_the_first_screen(&mut browser, &page, ".say");
            }
            // In letters of twice the size.
            browser.eval(&page, "document.documentElement.style.fontSize = '225%'");
            for selector in ["#rest .start", "#unwell"] {
                on_the_first_screen(&mut browser, &page, selector);
            }
            browser.accessible(&page);
        }
    }
    // And where nothing was begun, or all of it is over.
    let home = Home::new();
    home.begin(&["ravi"]);
    let served = home.serve();
    for (width, height) in [(1024, 768), (1280, 800), (390, 844)] {
        for language in ["en", "hi"] {
            let page = format!("begin {width} {language}");
            browser.told(json!({
                "do": "open", "page": page, "url": served.at("/?person=asha"), "language": language,
                "width": width, "height": height,
            }));
            browser.step(&page, "not-begun");
            for selector in ["#step", "#begin button", "#unwell"] {
                on_the_first_screen(&mut browser, &page, selector);
            }
        }
    }
    browser.kept_to_itself();
}

/// Whoever wants nothing to move, or has no script, has all seven items as a list.
#[test]
fn all_of_posture_stands_without_script() {
    if without() {
        return;
    }
    let home = Home::begun_today();
    let served = home.serve();
    let mut browser = Browser::start();
    browser.told(json!({
        "do": "open", "page": "p", "url": served.at("/"), "width": 1280, "height": 800, "script": false,
    }));
    let seen = "[...document.querySelectorAll('.technique li')].filter((e) => e.getBoundingClientRect().height).length";
    assert_eq!(browser.eval("p", seen), 7);
}
