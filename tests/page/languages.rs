//! Every language: chosen by what the browser asks for, marked where no native speaker has read it, its calendar and
//! its numbers as the browser's own tables (CLDR) have them, and nothing cut off or pushed off the screen by long
//! words.

use crate::harness::browser::{Browser, without};
use crate::harness::left_out::in_a_hurry;
use crate::harness::page::{Home, get};
use jiff::civil::date;
use quietcuff::words::Language;
use serde_json::json;

#[test]
fn a_page_is_in_the_language_that_the_browser_asks_for() {
    let home = Home::new();
    let served = home.serve();
    let page = |asked: &str| {
        let header = format!("Accept-Language: {asked}\r\n");
        get(served.address(), "/week?person=asha", &header).body
    };
    for language in Language::ALL {
        let tag = language.tag();
        let words = language.words();
        for asked in [
            tag.to_owned(),
            format!("fr-CH, {tag}-XX;q=0.9, zz;q=0.5"),
            tag.to_uppercase(),
        ] {
            let body = page(&asked);
            assert!(body.contains(&format!("<html lang=\"{tag}\">")), "{asked}");
            assert!(body.contains(&words.say("title-week")), "{asked}");
            // Who reads it learns whether anybody has read it before.
            let marked = body.contains(&words.say("unreviewed"));
            assert_eq!(marked, !language.is_reviewed(), "{asked}");
        }
    }
    assert!(page("fr, zz;q=0.5").contains("<html lang=\"en\">"));
}

/// The oracle is the browser's own copy of the CLDR.
#[test]
fn days_months_and_numbers_are_those_of_the_browser() {
    if without() {
        return;
    }
    let home = Home::new();
    let served = home.serve();
    let mut browser = Browser::start();
    browser.open("page", &served.at("/"));
    for language in Language::ALL {
        let (tag, words) = (language.tag(), language.words());
        // English as it is written in Britain, and everywhere else as its tag alone says; digits are Latin.
        let locale = format!("{}-u-nu-latn", if tag == "en" { "en-GB" } else { tag });
        let mut told = |day: jiff::civil::Date, how: &str| {
            let code = format!(
                "new Intl.DateTimeFormat('{locale}', {{ timeZone: 'UTC', {how} }}).format(new Date('{day}T00:00:00Z'))"
            );
            browser.eval("page", &code).as_str().unwrap().to_owned()
        };
        for n in 1..=12 {
            let day = date(2026, n, 14);
            let full = told(day, "day: 'numeric', month: 'long', year: 'numeric'");
            assert_eq!(words.date_with_year(day), full, "{tag}");
            assert_eq!(
                words.month(day),
                told(day, "month: 'long', year: 'numeric'"),
                "{tag}"
            );
        }
        for n in 2..=8 {
            let day = date(2026, 3, n);
            let name = told(day, "weekday: 'long'");
            assert!(words.date(day).starts_with(&name), "{tag}: {name}");
        }
        let number = format!("new Intl.NumberFormat('{locale}').format(128.4)");
        assert_eq!(browser.eval("page", &number), words.decimal("128.4"), "{tag}");
    }
}

/// German words are long. Nothing stands outside its box, and nothing outside the screen.
#[test]
fn long_words_stay_in_their_places() {
    if in_a_hurry("long words on every page") {
        return;
    }
    if without() {
        return;
    }
    let home = Home::new();
    home.reading(200, 128, 82, 0);
    home.reading(130, 139, 88, 1);
    let served = home.serve();
    let mut browser = Browser::start();
    for language in Language::ALL {
        for (width, height) in [(320, 640), (390, 844), (1280, 800)] {
            let page = format!("{} {width}", language.tag());
            browser.told(json!({
                "do": "open", "page": page, "url": served.at("/"), "language": language.tag(),
                "width": width, "height": height,
            }));
            for path in [
                "/?person=asha",
                "/week?person=asha",
                "/earlier?person=asha",
                "/notes?person=asha",
                "/person",
            ] {
                assert_eq!(browser.goto(&page, &served.at(path)), 200);
                let over = "document.documentElement.scrollWidth - document.documentElement.clientWidth";
                assert_eq!(browser.eval(&page, over), 0, "{page} {path}");
                let out = "[...document.querySelectorAll('h1, h2, h3, p, li, a, button, label, th, td')].filter((e) => {
                        const clips = getComputedStyle(e).overflowX !== 'visible' || e.matches('.unseen, .skip');
                        return !clips && !e.closest('.unseen, .skip') && e.clientWidth && e.scrollWidth > e.clientWidth + 1;
                    }).map((e) => e.outerHTML.slice(0, 200))";
                assert_eq!(browser.eval(&page, out), json!([]), "{page} {path}");
            }
        }
    }
}

/// Of many days the sheet lists readings where somebody ticks that; where there is none, it says so as the page speaks.
#[test]
fn the_sheet_of_the_page_says_all_in_the_readers_language() {
    let home = Home::new();
    home.reading(3600, 128, 82, 0);
    let served = home.serve();
    for language in [Language::German, Language::Tamil] {
        let (tag, words) = (language.tag(), language.words());
        let header = format!("Accept-Language: {tag}\r\n");
        let page = |path: &str| get(served.address(), path, &header);
        let form = page("/sheet?person=asha").body;
        assert!(form.contains(&words.say("sheet-list-all")), "{form}");
        let summed = page("/sheet/open?person=asha&days=60").body;
        let listed = page("/sheet/open?person=asha&days=60&readings=all").body;
        let caption = words.with("table-readings", &[("n", 1.into())]);
        assert!(!summed.contains(&caption), "{tag}");
        assert!(listed.contains(&caption), "{tag}");
        let none = page("/sheet/open?person=asha&from=2020-01-01&days=7");
        assert_eq!(none.status, 422, "{}", none.body);
        let day = words.date_with_year(date(2020, 1, 7));
        assert!(none.body.contains(&day), "{}", none.body);
        assert!(!none.body.contains("has no reading"), "{}", none.body);
    }
}

/// Its form opens with the days that are meant, so that somebody sees them before choosing others.
#[test]
fn the_form_of_the_sheet_opens_with_the_days_that_run() {
    let home = Home::new();
    let served = home.serve();
    let form = || get(served.address(), "/sheet?person=asha", "").body;
    let today = home.day(0);
    let filled = format!(r#"name="from" value="{today}""#);
    assert!(!form().contains(&filled), "nothing was begun: {}", form());
    home.begin(&["asha"]);
    assert!(form().contains(&filled), "{}", form());
    assert!(form().contains(r#"value="7""#), "{}", form());
}
