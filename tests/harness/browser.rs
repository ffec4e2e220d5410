//! Chromium, driven line by line.

use crate::harness::left_out::{installed, program};
use serde_json::{Value, json};
use std::collections::HashMap;
use std::io::{BufRead, BufReader, Write};
use std::path::PathBuf;
use std::process::{ChildStdin, Command, Stdio};
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::mpsc::{Sender, channel};
use std::sync::{Arc, Mutex, OnceLock};

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
struct Driver {
    to: Mutex<ChildStdin>,
    waiting: Arc<Mutex<HashMap<u64, Sender<Value>>>>,
    numbers: AtomicU64,
}

impl Driver {
    /// It ends when its standard input does, that is with this process.
    fn the_one() -> &'static Self {
        static THE_ONE: OnceLock<Driver> = OnceLock::new();
        THE_ONE.get_or_init(|| {
            let mut child = Command::new("node")
                .arg(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/page/browser.mjs"))
                .args([modules().unwrap().as_os_str(), "/usr/bin/chromium".as_ref()])
                .stdin(Stdio::piped())
                .stdout(Stdio::piped())
                .spawn()
                .unwrap();
            let waiting = Arc::<Mutex<HashMap<u64, Sender<Value>>>>::default();
            let (to, from) = (child.stdin.take().unwrap(), child.stdout.take().unwrap());
            let answered = Arc::clone(&waiting);
            std::thread::spawn(move || {
                for line in BufReader::new(from).lines().map_while(Result::ok) {
                    let said: Value = serde_json::from_str(&line).unwrap_or_default();
                    let asker = said["n"]
                        .as_u64()
                        .and_then(|n| answered.lock().unwrap().remove(&n));
                    let Some(asker) = asker else {
                        eprintln!("the browser said what nobody asked: {line}");
                        continue;
                    };
                    let _ = asker.send(said);
                }
                // Whoever waits still hears that there is nobody any more.
                answered.lock().unwrap().clear();
                let _ = child.wait();
            });
            Self {
                to: Mutex::new(to),
                waiting,
                numbers: AtomicU64::new(0),
            }
        })
    }

    fn number(&self) -> u64 {
        self.numbers.fetch_add(1, Ordering::Relaxed)
    }

    fn told(&self, mut command: Value, by: u64) -> Value {
        let n = self.number();
        let (tell, told) = channel();
        self.waiting.lock().unwrap().insert(n, tell);
        command["n"] = n.into();
        command["by"] = by.into();
        writeln!(self.to.lock().unwrap(), "{command}").unwrap();
        let mut said = told
            .recv()
            .unwrap_or_else(|_| panic!("{command}: the browser has ended"));
        assert!(said.get("error").is_none(), "{command}: {said}");
        said["value"].take()
    }
}

/// A visitor's share of the browser, with pages that no other test sees.
pub(crate) struct Browser {
    by: u64,
}

impl Browser {
    pub(crate) fn start() -> Self {
        Self {
            by: Driver::the_one().number(),
        }
    }

    pub(crate) fn told(&mut self, command: Value) -> Value {
        Driver::the_one().told(command, self.by)
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
