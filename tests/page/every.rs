//! Every page, in every language, in the light and in the dark, on a telephone and in large type.

use crate::harness::browser::{Browser, without};
use crate::harness::left_out::takes_minutes;
use crate::harness::page::{HOSTILE, Home, get};
use quietcuff::words::Language;
use serde_json::json;

const PAGES: [&str; 12] = [
    "/",
    "/household",
    "/week",
    "/earlier",
    "/notes",
    "/questions",
    "/sheet",
    "/monitors",
    "/monitors/listeners",
    "/people",
    "/person",
    "/person?person=asha",
];

/// A household in which every page has something on it, with words that would do harm if they could.
fn household() -> Home {
    let home = Home::of(&[("asha", HOSTILE), ("ravi", "Ravi")], Some("asha"));
    home.reading(200, 128, 82, 0);
    home.reading(130, 139, 88, 1);
    home.reading(65, 126, 81, 0);
    home.text(&["note", "add", "other", HOSTILE, "--person", "asha"]);
    home
}

#[test]
fn axe_finds_nothing_and_nothing_moves_sideways() {
    if takes_minutes("axe on every page") {
        return;
    }
    if without() {
        return;
    }
    let home = household();
    let served = home.serve();
    let mut browser = Browser::start();
    for (place, language) in Language::ALL.map(Language::tag).into_iter().enumerate() {
        // In both lights in English and Hindi, in one of them in the others, which have the same colours.
        for dark in [false, true]
            .into_iter()
            .filter(|dark| place < 2 || *dark == (place % 2 == 0))
        {
            let page = format!("{language} {dark}");
            browser.told(json!({
                "do": "open", "page": page, "url": served.at("/"), "language": language, "dark": dark,
                "width": 360, "height": 740,
            }));
            for path in PAGES {
                assert_eq!(browser.goto(&page, &served.at(path)), 200);
                assert_eq!(browser.eval(&page, "document.documentElement.lang"), language);
                is_for_everybody(&mut browser, &page, path);
            }
        }
    }
    browser.kept_to_itself();
}

/// What is shown now passes axe, fits into its width also in large type, and has nothing too small to be touched.
pub(crate) fn is_for_everybody(browser: &mut Browser, page: &str, path: &str) {
    browser.accessible(page);
    let over = "document.documentElement.scrollWidth - document.documentElement.clientWidth";
    assert_eq!(browser.eval(page, over), 0, "{page} {path}");
    // Twice the size of the letters.
    browser.eval(page, "document.documentElement.style.fontSize = '225%'");
    let wide = "document.documentElement.scrollWidth <= document.documentElement.clientWidth ? [] :
                    [...document.querySelectorAll('body *')].filter((e) => !e.closest('.scroll, .unseen')
                        && e.getBoundingClientRect().right > document.documentElement.clientWidth + 1)
                        .map((e) => e.outerHTML.slice(0, 150))";
    assert_eq!(browser.eval(page, wide), json!([]), "{page} {path} in large type");
    assert_eq!(browser.eval(page, over), 0, "{page} {path} in large type");
    let small = "[...document.querySelectorAll('a, button, input, select, textarea')].filter((e) => {
                    const box = e.getBoundingClientRect();
                    return box.width && !['radio', 'checkbox'].includes(e.type) && !e.classList.contains('skip') && box.height < 47.9;
                }).map((e) => e.outerHTML)";
    assert_eq!(browser.eval(page, small), json!([]), "{page} {path}");
}

/// The check itself can fail.
#[test]
fn axe_finds_what_is_wrong() {
    if without() {
        return;
    }
    let home = Home::new();
    let served = home.serve();
    let mut browser = Browser::start();
    browser.open("page", &served.at("/week"));
    browser.eval(
        "page",
        "document.documentElement.removeAttribute('lang'); document.querySelector('h1').style.color = '#eee'",
    );
    let found = browser.told(json!({ "do": "axe", "page": "page" }))["violations"].to_string();
    for rule in ["html-has-lang", "color-contrast"] {
        assert!(found.contains(rule), "{found}");
    }
}

#[test]
fn what_people_wrote_stays_text() {
    let home = household();
    let served = home.serve();
    for path in &PAGES {
        let page = get(served.address(), path, "");
        assert_eq!(page.status, 200, "{path}");
        assert!(
            !page.body.contains("<script>alert") && !page.body.contains("<img"),
            "{path}"
        );
        let scripts = page.body.matches("<script").count();
        assert_eq!(scripts, 1, "{path}");
        assert!(
            page.body.contains("<script src=\"/page.js\" defer></script>")
                || (*path == "/" && page.body.contains("<script src=\"/now.js\" defer></script>")),
            "{path}"
        );
        assert!(
            !page.body.contains(" style=") && !page.body.contains(" onclick"),
            "{path}"
        );
    }
    let notes = get(served.address(), "/notes?person=asha", "");
    assert!(notes.body.contains("&lt;script&gt;alert(1)&lt;/script&gt;"));
    if without() {
        return;
    }
    let mut browser = Browser::start();
    browser.open("page", &served.at("/?person=asha"));
    assert_eq!(browser.text("page", ".who"), HOSTILE);
    browser.kept_to_itself();
}

#[test]
fn a_language_is_chosen_and_kept() {
    if without() {
        return;
    }
    let home = Home::new();
    let served = home.serve();
    let mut browser = Browser::start();
    browser.open("page", &served.at("/week"));
    browser.click("page", "button[name=language][value=hi]");
    assert!(browser.text("page", "h1").starts_with("इन दिनों"));
    browser.goto("page", &served.at("/notes"));
    assert!(browser.text("page", "h1").starts_with("टिप्पणियाँ"));
}

/// By keyboard alone: the skip link first, then the pages, and a note with the enter key.
#[test]
fn it_can_be_used_without_a_mouse() {
    if without() {
        return;
    }
    let home = Home::new();
    let served = home.serve();
    let mut browser = Browser::start();
    browser.open("page", &served.at("/notes?person=asha"));
    let mut press = |key: &str| browser.told(json!({ "do": "press", "page": "page", "key": key }));
    press("Tab");
    press("Enter");
    let mut seen = Vec::new();
    for _ in 0..30 {
        browser.told(json!({ "do": "press", "page": "page", "key": "Tab" }));
        seen.push(browser.eval(
            "page",
            "document.activeElement.value ?? document.activeElement.innerText",
        ));
        if seen.last() == Some(&json!("medicine")) {
            break;
        }
    }
    assert_eq!(seen.last(), Some(&json!("medicine")), "{seen:?}");
    browser.told(json!({ "do": "press", "page": "page", "key": "Enter" }));
    browser.wait("page", "document.querySelector('ul.notes li') !== null");
    assert_eq!(home.json(&["note", "list", "--json"])[0]["what"], "medicine");
}
