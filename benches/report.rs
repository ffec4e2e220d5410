//! What the sheet for the clinic costs, the whole call from the journal to the file: `cargo bench --bench report`.
//!
//! Prints the median of several runs and fails where a budget is missed. The readings are invented.
#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a bench may stop")]

use jiff::civil::date;
use jiff::tz::{Offset, TimeZone};
use quietcuff::household::Statement;
use quietcuff::journal::Journal;
use quietcuff::monitoring::protocol::DEFAULT;
use quietcuff::radio::simulated::Household;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

/// How long a report of so many days may take, as HTML and as PDF.
const BUDGETS: [(u16, [Duration; 2]); 2] = [
    (7, [Duration::from_millis(100), Duration::from_millis(500)]),
    (3_652, [Duration::from_secs(2), Duration::from_secs(2)]),
];
const RUNS: usize = 7;

fn main() {
    let mut missed = false;
    for (days, budgets) in BUDGETS {
        let home = tempfile::tempdir().unwrap();
        lived(home.path(), days);
        for (name, budget) in ["a.html", "a.pdf"].into_iter().zip(budgets) {
            let mut took: Vec<Duration> = (0..RUNS).map(|_| report(home.path(), days, name)).collect();
            took.sort();
            let median = took.get(RUNS / 2).copied().unwrap();
            let octets = std::fs::metadata(home.path().join(name)).unwrap().len();
            missed |= median > budget;
            println!(
                "{days:>5} days as {name:<6}  {:>7.1} ms, at most {} ms; {:.2} MB",
                median.as_secs_f64() * 1e3,
                budget.as_millis(),
                octets as f64 / 1e6
            );
        }
    }
    assert!(!missed, "a budget is missed");
}

/// A household that lived so many days, settled.
fn lived(state: &Path, days: u16) {
    let zone = TimeZone::fixed(Offset::constant(1));
    let household = Household::demonstration(date(2016, 3, 7), zone);
    let mut statements = household.statements(DEFAULT);
    statements.retain(|statement| !matches!(statement, Statement::Period { .. }));
    let lived = household.live(Household::DEMONSTRATION_SEED, days);
    let mut journal = Journal::open(state).unwrap();
    let first = lived.frames.first().unwrap().received_at;
    journal.state(first, &statements).unwrap();
    for burst in lived.frames.chunks(8192) {
        journal.append(burst).unwrap();
    }
    journal.settle().unwrap();
}

fn report(state: &Path, days: u16, name: &str) -> Duration {
    let start = Instant::now();
    let ended = Command::new(env!("CARGO_BIN_EXE_quietcuff"))
        .args(["report", "--person", "p1", "--from", "2016-03-07", "--days"])
        .arg(days.to_string())
        .arg("--state")
        .arg(state)
        .arg("--output")
        .arg(state.join(name))
        .stdout(Stdio::null())
        .status()
        .unwrap();
    assert!(ended.success());
    start.elapsed()
}
