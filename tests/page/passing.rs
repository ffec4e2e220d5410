//! What passes while somebody sits, as it is drawn: items of posture, minutes, and the pressure in the cuff. The
//! drawing is measured in the browser, and held against its own scale.

use super::chair::on_the_first_screen;
use crate::harness::browser::{Browser, without};
use crate::harness::left_out::in_a_hurry;
use crate::harness::page::{Home, get};
use serde_json::{Value, json};

const SIZES: [(i32, i32); 3] = [(1024, 768), (1280, 800), (390, 844)];

fn open(browser: &mut Browser, page: &str, url: &str, (width, height): (i32, i32), more: &Value) {
    let mut all = json!({ "do": "open", "page": page, "url": url, "width": width, "height": height });
    for (name, value) in more.as_object().unwrap() {
        all[name] = value.clone();
    }
    browser.told(all);
}

/// What the top of the column says by the numbers beside the tube.
const BY_ITS_SCALE: &str = "(() => {
    const lines = [...document.querySelectorAll('.tube text')].map((text) => {
        const tick = text.previousElementSibling.getBoundingClientRect();
        return [Number(text.textContent), (tick.top + tick.bottom) / 2];
    });
    const [[v0, y0], [v1, y1]] = [lines[0], lines.at(-1)];
    const top = document.querySelector('.tube .column').getBoundingClientRect().top;
    return v0 + (top - y0) * (v1 - v0) / (y1 - y0);
})()";

#[test]
fn the_cuff_is_a_column_in_a_tube() {
    if in_a_hurry("the column in a browser") || without() {
        return;
    }
    let home = Home::begun_today();
    let served = home.serve();
    let mut browser = Browser::start();
    for size in SIZES {
        for (language, dark) in [("en", false), ("hi", true)] {
            let page = format!("{size:?} {language}");
            open(
                &mut browser,
                &page,
                &served.at("/"),
                size,
                &json!({ "language": language, "dark": dark }),
            );
            for pressure in [90, 172] {
                home.cuff(pressure);
                let shows = format!("document.querySelector('.cuff .number')?.textContent === '{pressure}'");
                browser.wait(&page, &shows);
                let seen = browser.eval(&page, BY_ITS_SCALE).as_f64().unwrap();
                assert!(
                    (seen - f64::from(pressure)).abs() < 2.0,
                    "{page}: {seen} of {pressure}"
                );
                let said = browser.eval(
                    &page,
                    "document.querySelector('.tube').getAttribute('aria-label')",
                );
                assert!(
                    said.as_str().unwrap().contains(&format!("{pressure} mmHg")),
                    "{said}"
                );
                for selector in ["#step", ".cuff .number", ".tube", "#unwell"] {
                    on_the_first_screen(&mut browser, &page, selector);
                }
            }
            home.cuff(171);
            browser.accessible(&page);
        }
    }
    // It moves; whoever wants nothing to move has the number.
    open(
        &mut browser,
        "still",
        &served.at("/"),
        (390, 844),
        &json!({ "still": true }),
    );
    home.cuff(150);
    browser.step("still", "measuring");
    assert_eq!(
        browser.eval(
            "still",
            "document.querySelector('.tube').getBoundingClientRect().height"
        ),
        0
    );
    assert_eq!(browser.text("still", ".cuff .number"), "150");
    browser.kept_to_itself();
}

#[test]
fn five_minutes_pass() {
    if in_a_hurry("five minutes on a screen") || without() {
        return;
    }
    let home = Home::begun_today();
    let served = home.serve();
    let mut browser = Browser::start();
    open(
        &mut browser,
        "page",
        &served.at("/?person=asha"),
        (1280, 800),
        &json!({}),
    );
    browser.click("page", "#rest .start");
    browser.step("page", "resting");
    let value = "document.querySelector('.elapsed').value";
    let before = browser.eval("page", value).as_f64().unwrap();
    assert!((0.0..60.0).contains(&before), "{before}");
    browser.wait("page", &format!("{value} > {before} + 0.4"));
    // With what the countdown says it is the whole.
    let whole = "(() => {
        const [minutes, seconds] = document.querySelector('.countdown').textContent.split(':').map(Number);
        return document.querySelector('.elapsed').value + minutes * 60 + seconds;
    })()";
    let whole = browser.eval("page", whole).as_f64().unwrap();
    assert!((whole - 300.0).abs() < 1.6, "{whole}");
    for size in SIZES {
        for (language, dark) in [("en", true), ("hi", false)] {
            let page = format!("{size:?} {language}");
            open(
                &mut browser,
                &page,
                &served.at("/?person=asha"),
                size,
                &json!({ "language": language, "dark": dark }),
            );
            browser.step(&page, "resting");
            browser.wait(
                &page,
                "document.querySelectorAll('.technique li.shown').length === 1",
            );
            for selector in ["#step", ".countdown", ".elapsed", "#rest .stop", "#unwell"] {
                on_the_first_screen(&mut browser, &page, selector);
            }
            browser.accessible(&page);
        }
    }
    // In whole minutes where nothing is to move, and with all of posture at once.
    open(
        &mut browser,
        "still",
        &served.at("/?person=asha"),
        (320, 640),
        &json!({ "still": true }),
    );
    browser.step("still", "resting");
    assert_eq!(browser.eval("still", value), 0);
    let seen = "[...document.querySelectorAll('.technique li')].filter((e) => e.getBoundingClientRect().height).length";
    assert_eq!(browser.eval("still", seen), 7);
    let over = "document.documentElement.scrollWidth - document.documentElement.clientWidth";
    assert_eq!(browser.eval("still", over), 0);
    // The minute between two readings passes as well.
    home.reading(0, 128, 82, 0);
    browser.step("page", "wait");
    assert_eq!(browser.eval("page", "document.querySelector('.elapsed').max"), 60);
    browser.kept_to_itself();
}

/// Every item has a drawing that is there, and its own words.
#[test]
fn posture_is_drawn() {
    let home = Home::begun_today();
    let served = home.serve();
    for language in ["en", "hi"] {
        let header = format!("Accept-Language: {language}\r\n");
        let page = get(served.address(), "/?person=asha", &header).body;
        let mut labels = Vec::new();
        for item in 1..=7 {
            assert!(page.contains(&format!("<symbol id=\"posture-{item}\"")), "{item}");
            let uses = format!("\"><use href=\"#posture-{item}\"></use></svg>");
            let (before, _) = page.split_once(&uses).unwrap();
            labels.push(before.rsplit("aria-label=\"").next().unwrap().to_owned());
        }
        labels.sort();
        labels.dedup();
        assert_eq!(labels.len(), 7, "{labels:?}");
    }
    // What follows what happens only refers to them; no other page has them.
    assert!(
        !get(served.address(), "/week?person=asha", "")
            .body
            .contains("posture-1")
    );
    if without() {
        return;
    }
    let mut browser = Browser::start();
    for size in SIZES {
        let page = format!("{size:?}");
        open(&mut browser, &page, &served.at("/?person=asha"), size, &json!({}));
        browser.wait(
            &page,
            "document.querySelectorAll('.technique li.shown').length === 1",
        );
        // On a telephone it stands below what is said first.
        if size.0 > 600 {
            on_the_first_screen(&mut browser, &page, ".technique li.shown .posture");
            on_the_first_screen(&mut browser, &page, ".technique li.shown");
        }
        let drawn = "[...document.querySelectorAll('symbol[id^=posture-]')].filter((symbol) => {
            const svg = document.createElementNS('http://www.w3.org/2000/svg', 'svg');
            for (const [name, value] of [['viewBox', '0 0 120 120'], ['width', 120], ['height', 120]]) svg.setAttribute(name, value);
            svg.append(...[...symbol.childNodes].map((node) => node.cloneNode(true)));
            document.body.append(svg);
            const box = svg.getBBox();
            svg.remove();
            return box.width > 40 && box.height > 40 && box.x >= 0 && box.x + box.width <= 120 && box.height <= 120;
        }).length";
        assert_eq!(browser.eval(&page, drawn), 7);
    }
}
