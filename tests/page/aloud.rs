//! A chime, a spoken step, and a screen that stays on: only where a browser was asked, which remembers it. What the
//! page asks of the browser is counted at the browser's own doors.

use crate::harness::browser::{Browser, without};
use crate::harness::page::Home;
use serde_json::json;

/// Notes that began, sentences that were spoken, and screens that were held; with a voice of this machine for English.
const COUNTED: &str = "(() => {
    window.notes = 0; window.spoken = []; window.held = 0; window.freed = 0;
    const start = OscillatorNode.prototype.start;
    OscillatorNode.prototype.start = function (...at) { window.notes += 1; return start.apply(this, at); };
    const voices = [{ lang: 'en-GB', localService: false }, { lang: 'en-US', localService: true }];
    window.SpeechSynthesisUtterance = function (text) { this.text = text; };
    Object.defineProperty(window, 'speechSynthesis', { value: {
        getVoices: () => voices, cancel() {}, addEventListener() {},
        speak: (said) => window.spoken.push([said.text, said.voice.localService]),
    } });
    Object.defineProperty(navigator, 'wakeLock', { value: { request: async () => {
        window.held += 1;
        const lock = new EventTarget();
        lock.release = async () => { window.freed += 1; lock.dispatchEvent(new Event('release')); };
        return lock;
    } } });
})()";

#[test]
fn nothing_is_heard_unless_it_was_asked_for() {
    if without() {
        return;
    }
    let home = Home::begun_today();
    let served = home.serve();
    let mut browser = Browser::start();
    browser.open("page", &served.at("/?person=asha"));
    browser.step("page", "rest");
    browser.eval("page", COUNTED);
    home.reading(70, 128, 82, 0);
    browser.step("page", "second");
    assert_eq!(browser.eval("page", "[notes, spoken, held]"), json!([0, [], 0]));

    // One tap: it is heard at once, and with each step from then on.
    browser.click("page", "#aloud");
    browser.wait("page", "notes === 2 && spoken.length === 1");
    browser.click("page", "#awake");
    browser.wait("page", "held === 1");
    home.reading(0, 126, 81, 0);
    browser.step("page", "done");
    browser.wait("page", "notes === 4 && spoken.length === 2 && freed === 1");
    assert_eq!(
        browser.eval("page", "spoken"),
        json!([
            ["Press the button: Take the second reading now.", true],
            ["Done: Take the cuff off.", true]
        ])
    );
    browser.accessible("page");

    // Remembered in this browser, and taken back in it.
    browser.goto("page", &served.at("/?person=asha"));
    let pressed = "['aloud', 'awake'].map((id) => document.getElementById(id).getAttribute('aria-pressed'))";
    assert_eq!(browser.eval("page", pressed), json!(["true", "true"]));
    browser.click("page", "#aloud");
    browser.click("page", "#awake");
    browser.goto("page", &served.at("/?person=asha"));
    assert_eq!(browser.eval("page", pressed), json!(["false", "false"]));
    browser.kept_to_itself();
}

/// Chromium here has no voice at all: it says so, and chimes.
#[test]
fn without_a_voice_it_says_so() {
    if without() {
        return;
    }
    let home = Home::begun_today();
    let served = home.serve();
    let mut browser = Browser::start();
    for (language, says) in [
        ("en", "no voice of its own for English"),
        ("hi", "की अपनी आवाज़ नहीं है"),
    ] {
        browser.told(json!({
            "do": "open", "page": language, "url": served.at("/"), "language": language, "width": 320, "height": 640,
        }));
        browser.step(language, "rest");
        browser.click(language, "#aloud");
        browser.wait(
            language,
            &format!("document.querySelector('#aids p').textContent.includes({says:?})"),
        );
        browser.accessible(language);
        let over = "document.documentElement.scrollWidth - document.documentElement.clientWidth";
        assert_eq!(browser.eval(language, over), 0);
    }
    // Without a script there is nothing to press.
    browser.told(json!({ "do": "open", "page": "old", "url": served.at("/"), "script": false }));
    assert_eq!(
        browser.eval(
            "old",
            "document.getElementById('aids').getBoundingClientRect().height"
        ),
        0
    );
    browser.kept_to_itself();
}
