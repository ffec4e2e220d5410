//! Chromium, driven line by line.

use crate::harness::driver::Driver;
use crate::harness::left_out::{installed, program};
use serde_json::{Value, json};
use std::path::PathBuf;
use std::process::Command;
use std::sync::OnceLock;

/// What the browser is for.
const WHAT: &str = "the page in a browser";

/// Whether the browser and what drives it are left out.
pub(crate) fn without() -> bool {
    !(program("node", WHAT) && program("chromium", WHAT) && modules().is_some())
}

fn modules() -> Option<PathBuf> {
    installed("node/node_modules/playwright-core", WHAT)?;
    installed("node", WHAT)
}

/// One browser for all tests of this process: to start it costs more than most of what it is asked.
fn the_one() -> &'static Driver {
    static THE_ONE: OnceLock<Driver> = OnceLock::new();
    THE_ONE.get_or_init(|| {
        let mut node = Command::new("node");
        node.arg(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/page/browser.mjs"))
            .args([modules().unwrap().as_os_str(), "/usr/bin/chromium".as_ref()]);
        Driver::start(node)
    })
}

/// A visitor's share of the browser, with pages that no other test sees.
pub(crate) struct Browser {
    by: u64,
}

impl Browser {
    pub(crate) fn start() -> Self {
        Self {
            by: the_one().number(),
        }
    }

    pub(crate) fn told(&mut self, mut command: Value) -> Value {
        command["by"] = self.by.into();
        the_one().told(command)
    }

    pub(crate) fn open(&mut self, page: &str, url: &str) {
        self.told(json!({ "do": "open", "page": page, "url": url }));
    }

    pub(crate) fn goto(&mut self, page: &str, url: &str) -> i64 {
        self.told(json!({ "do": "goto", "page": page, "url": url }))
            .as_i64()
            .unwrap()
    }

    pub(crate) fn click(&mut self, page: &str, selector: &str) {
        self.told(json!({ "do": "click", "page": page, "selector": selector }));
    }

    pub(crate) fn fill(&mut self, page: &str, selector: &str, text: &str) {
        self.told(json!({ "do": "fill", "page": page, "selector": selector, "text": text }));
    }

    pub(crate) fn eval(&mut self, page: &str, code: &str) -> Value {
        self.told(json!({ "do": "eval", "page": page, "code": code }))
    }

    /// Waits until the page shows that step.
    pub(crate) fn step(&mut self, page: &str, step: &str) {
        self.wait(
            page,
            &format!("document.querySelector('#now .step')?.dataset.step === '{step}'"),
        );
    }

    pub(crate) fn wait(&mut self, page: &str, code: &str) {
        self.told(json!({ "do": "wait", "page": page, "code": code }));
    }

    pub(crate) fn text(&mut self, page: &str, selector: &str) -> String {
        let code = format!("document.querySelector({selector:?})?.innerText ?? '(nothing there)'");
        self.eval(page, &code).as_str().unwrap().to_owned()
    }

    /// axe-core finds nothing, and looked at something.
    pub(crate) fn accessible(&mut self, page: &str) {
        let found = self.told(json!({ "do": "axe", "page": page }));
        assert_eq!(found["violations"], json!([]), "{page}");
        assert!(found["passes"].as_i64().unwrap() > 10, "{found}");
    }

    /// No page asked for anything elsewhere, and no policy was broken.
    pub(crate) fn kept_to_itself(&mut self) {
        let heard = self.told(json!({ "do": "heard" }));
        assert_eq!(heard, json!({ "outside": [], "broken": [] }));
    }
}

impl Drop for Browser {
    fn drop(&mut self) {
        // A test that fails takes its own way out.
        if !std::thread::panicking() {
            self.told(json!({ "do": "leave" }));
        }
    }
}
