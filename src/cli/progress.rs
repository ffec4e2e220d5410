//! How far long work has come, for whoever waits at a terminal; nothing where nobody does.

use std::io::{IsTerminal, Write, stderr};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::mpsc::{RecvTimeoutError, Sender, channel};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

/// What is done sooner needs no word; and how often it is said anew.
const SAID_EVERY: Duration = Duration::from_secs(1);

/// A line at the foot of a terminal, which is gone when this is dropped.
pub(crate) struct ProgressLine {
    count: Arc<AtomicU64>,
    line: Option<(Sender<()>, JoinHandle<()>)>,
}

impl ProgressLine {
    /// `doing` is what goes on, such as "reading frames"; `what` is what is counted, or nothing.
    pub(crate) fn start(doing: &'static str, what: &'static str) -> Self {
        Self::start_if(true, doing, what)
    }

    /// The same, unless what is done stands on the terminal itself.
    pub(crate) fn start_if(elsewhere: bool, doing: &'static str, what: &'static str) -> Self {
        let count = Arc::new(AtomicU64::new(0));
        let line = (elsewhere && stderr().is_terminal()).then(|| {
            let (end, ended) = channel::<()>();
            let count = count.clone();
            let thread = std::thread::spawn(move || {
                let begun = Instant::now();
                let mut said = false;
                while ended.recv_timeout(SAID_EVERY) == Err(RecvTimeoutError::Timeout) {
                    said = true;
                    let counted = match count.load(Ordering::Relaxed) {
                        0 => String::new(),
                        n => format!(": {n} {what}"),
                    };
                    let _ = write!(
                        stderr(),
                        "\r\x1b[Kquietcuff: {doing}{counted}, {} s",
                        begun.elapsed().as_secs()
                    );
                    let _ = stderr().flush();
                }
                if said {
                    let _ = write!(stderr(), "\r\x1b[K");
                }
            });
            (end, thread)
        });
        Self { count, line }
    }

    /// So many are done.
    pub(crate) fn count(&self, n: u64) {
        self.count.store(n, Ordering::Relaxed);
    }

    /// One more is done.
    pub(crate) fn one_more(&self) {
        self.count.fetch_add(1, Ordering::Relaxed);
    }
}

impl Drop for ProgressLine {
    fn drop(&mut self) {
        if let Some((end, thread)) = self.line.take() {
            drop(end);
            let _ = thread.join();
        }
    }
}
