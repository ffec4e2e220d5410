//! A program by others that does as it is told, for all tests of this process at once.

use serde_json::Value;
use std::collections::HashMap;
use std::io::{BufRead, BufReader, Write};
use std::process::{ChildStdin, Command, Stdio};
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::mpsc::{Sender, channel};
use std::sync::{Arc, Mutex};

/// It reads one JSON command a line, and writes one JSON answer a line, in whatever order: `value`, or `error`, beside
/// the command's number `n`. It ends when its standard input does, that is with this process.
pub(crate) struct Driver {
    to: Mutex<ChildStdin>,
    waiting: Arc<Mutex<HashMap<u64, Sender<Value>>>>,
    numbers: AtomicU64,
}

impl Driver {
    pub(crate) fn start(mut program: Command) -> Self {
        let mut child = program
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .unwrap_or_else(|e| panic!("{program:?}: {e}"));
        let waiting = Arc::<Mutex<HashMap<u64, Sender<Value>>>>::default();
        let (to, from) = (child.stdin.take().unwrap(), child.stdout.take().unwrap());
        let answered = Arc::clone(&waiting);
        std::thread::spawn(move || {
            for line in BufReader::new(from).lines().map_while(Result::ok) {
                let said: Value = serde_json::from_str(&line).unwrap_or_default();
                let asker = said["n"]
                    .as_u64()
                    .and_then(|n| answered.lock().unwrap().remove(&n));
                match asker {
                    Some(asker) => drop(asker.send(said)),
                    None => eprintln!("nobody asked for this: {line}"),
                }
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
    }

    /// A number that nobody else was given.
    pub(crate) fn number(&self) -> u64 {
        self.numbers.fetch_add(1, Ordering::Relaxed)
    }

    pub(crate) fn told(&self, mut command: Value) -> Value {
        let n = self.number();
        let (tell, told) = channel();
        self.waiting.lock().unwrap().insert(n, tell);
        command["n"] = n.into();
        writeln!(self.to.lock().unwrap(), "{command}").unwrap();
        let mut said = told
            .recv()
            .unwrap_or_else(|_| panic!("{command}: who should do it has ended"));
        assert!(said.get("error").is_none(), "{command}: {said}");
        said["value"].take()
    }
}
