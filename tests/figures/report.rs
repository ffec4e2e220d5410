//! What the sheet for the clinic costs, the whole call from the journal to the file, and the page with the same ten
//! years behind it. The readings are invented.

use crate::harness::frames::stamped;
use crate::harness::page::{get, served};
use crate::table::{Aim, Table};
use jiff::civil::Date;
use jiff::tz::{Offset, TimeZone};
use jiff::{SignedDuration, Timestamp, ToSpan};
use quietcuff::frame::Frame;
use quietcuff::household::{Monitor, MonitorAddress, MonitorId, Person, PersonId, Statement};
use quietcuff::journal::Journal;
use quietcuff::monitoring::protocols::DEFAULT;
use quietcuff::radio::simulated::Household;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Instant;

const TEN_YEARS: u16 = 3_652;
/// How long a report of so many days may take (ms), as HTML and as PDF.
const BUDGETS: [(u16, [f64; 2]); 2] = [(7, [100.0, 500.0]), (TEN_YEARS, [2_000.0, 2_000.0])];
/// The largest report (MB), of whatever days: what a mail server takes as an attachment, and a half to spare (own
/// choice).
const LARGEST_MB: f64 = 4.0;
const RUNS: usize = 7;
/// A page's median (ms), and a page with its style and script.
const PAGE_MS: f64 = 20.0;
const PAGE_KIB: f64 = 80.0;
const PAGE_RUNS: usize = 21;
/// A house of many.
const MANY: u8 = 80;
const MANY_DAYS: u8 = 30;

/// From the command on a fresh start to a whole first screen (ms; own choice: nobody wonders yet).
const FIRST_SCREEN_MS: f64 = 1_000.0;
const STARTS: usize = 5;

pub(crate) fn measure(table: &mut Table) {
    first_screen(table);
    for (days, budgets) in BUDGETS {
        let home = tempfile::tempdir().unwrap();
        // Up to yesterday, so that the page has something to say.
        let zone = TimeZone::fixed(Offset::constant(1));
        let today = zone.to_datetime(Timestamp::now()).date();
        let first = today.checked_sub(i64::from(days).days()).unwrap();
        lived(home.path(), first, days, zone);
        for (name, budget) in ["a.html", "a.pdf"].into_iter().zip(budgets) {
            let took = median(
                (0..RUNS)
                    .map(|_| report(home.path(), first, days, name))
                    .collect(),
            );
            let octets = std::fs::metadata(home.path().join(name)).unwrap().len();
            let what = format!("report of {days} days as {name}");
            table.limit(&what, took, "ms", budget, Aim::AtMost(1.0)).binds();
            let size = octets as f64 / 1e6;
            table
                .limit("  its size", size, "MB", LARGEST_MB, Aim::AtMost(1.0))
                .binds();
        }
        if days == TEN_YEARS {
            let (slowest, octets) = pages(home.path(), "p1");
            slowest_row(table, "with ten years behind it", slowest);
            table
                .limit(
                    "the largest page with style and script",
                    octets as f64 / 1024.0,
                    "KiB",
                    PAGE_KIB,
                    Aim::AtMost(1.0),
                )
                .binds();
        }
    }
    let home = tempfile::tempdir().unwrap();
    many(home.path());
    let (slowest, _) = pages(home.path(), "p80");
    slowest_row(table, "of eighty people", slowest);
}

/// A house of many who have measured for a month, twice a day.
fn many(state: &Path) {
    let begun = Timestamp::now() - SignedDuration::from_hours(24 * i64::from(MANY_DAYS));
    let mut statements = vec![Statement::Zone {
        zone: "UTC".to_owned(),
        from: None,
    }];
    let mut frames = Vec::new();
    for n in 1..=MANY {
        let (person, monitor): (PersonId, MonitorId) =
            (format!("p{n}").parse().unwrap(), format!("m{n}").parse().unwrap());
        let address: MonitorAddress = [0xc0, 0xff, 0xee, 0, 2, n].into();
        statements.push(Statement::Person {
            person: person.clone(),
            details: Person {
                label: format!("Invented person {n}"),
                ..Person::default()
            },
        });
        statements.push(Statement::Monitor {
            monitor: monitor.clone(),
            details: Monitor {
                address: Some(address.clone()),
                ..Monitor::default()
            },
        });
        statements.push(Statement::UserIndex {
            monitor,
            user_id: 1,
            person: Some(person),
            from: None,
        });
        for nth in 0..u32::from(MANY_DAYS) * 4 {
            let at = begun
                + SignedDuration::from_hours(i64::from(nth / 2) * 12)
                + SignedDuration::from_secs(i64::from(n) * 61 + i64::from(nth % 2) * 90);
            frames.push(Frame {
                monitor: address.clone(),
                ..stamped(nth, at)
            });
        }
    }
    frames.sort_by_key(|frame| frame.received_at);
    let mut journal = Journal::open(state).unwrap();
    journal.state(begun, &statements).unwrap();
    for burst in frames.chunks(8192) {
        journal.append(burst).unwrap();
    }
    journal.settle().unwrap();
}

fn slowest_row(table: &mut Table, of: &str, (took, path): (f64, &str)) {
    let what = format!("the slowest page {of}, {path}");
    table.limit(&what, took, "ms", PAGE_MS, Aim::AtMost(1.0));
}

/// A household that lived so many days, settled.
fn lived(state: &Path, first: Date, days: u16, zone: TimeZone) {
    let household = Household::demonstration(first, zone);
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

fn report(state: &Path, first: Date, days: u16, name: &str) -> f64 {
    let start = Instant::now();
    let ended = Command::new(crate::program("quietcuff"))
        .args(["report", "--person", "p1", "--from"])
        .arg(first.to_string())
        .arg("--days")
        .arg(days.to_string())
        .arg("--state")
        .arg(state)
        .arg("--output")
        .arg(state.join(name))
        .stdout(Stdio::null())
        .status()
        .unwrap();
    assert!(ended.success());
    start.elapsed().as_secs_f64() * 1e3
}

/// From a command in an empty folder until the first page is there, with its style and script: a household that is still
/// empty, and the README's first command.
fn first_screen(table: &mut Table) {
    for (what, arguments) in [
        (
            "an empty folder to the first screen of the page",
            &["serve", "--open"][..],
        ),
        ("the same of the demonstration", &["demo", "--serve"]),
    ] {
        let round = || {
            let home = tempfile::tempdir().unwrap();
            let start = Instant::now();
            let mut command = Command::new(crate::program("quietcuff"));
            command.args(arguments).args(["--listen", "127.0.0.1:0"]);
            if arguments[0] == "serve" {
                command.arg("--state").arg(home.path());
            }
            let page = served(command);
            for path in ["/", "/page.css", "/now.js"] {
                let back = get(page.address(), path, "");
                assert_eq!(back.status, 200, "{path}");
                assert!(!back.body.is_empty(), "{path}");
            }
            start.elapsed().as_secs_f64() * 1e3
        };
        let took = median((0..STARTS).map(|_| round()).collect());
        table.limit(what, took, "ms", FIRST_SCREEN_MS, Aim::AtMost(1.0));
    }
}

/// Every page in turn: the slowest with its time in ms, and the octets of the largest with what all of them share.
fn pages(state: &Path, person: &str) -> ((f64, &'static str), usize) {
    let mut command = Command::new(crate::program("quietcuff"));
    command
        .args(["serve", "--open", "--listen", "127.0.0.1:0", "--state"])
        .arg(state);
    let server = served(command);
    let at = server.address();
    let octets = |path: &str| {
        let back = get(at, path, "");
        assert_eq!(back.status, 200, "{path}");
        back.head.len() + back.body.len()
    };
    let (style, script, of_now) = (octets("/page.css"), octets("/page.js"), octets("/now.js"));
    let (mut slowest, mut largest) = ((0.0, ""), 0);
    for path in [
        "/",
        "/household",
        "/week",
        "/earlier",
        "/notes",
        "/questions",
        "/monitors",
        "/people",
    ] {
        let whole = format!("{path}?person={person}");
        largest = largest.max(style + octets(&whole) + if path == "/" { of_now } else { script });
        let round = || {
            let took = (0..PAGE_RUNS).map(|_| {
                let start = Instant::now();
                octets(&whole);
                start.elapsed().as_secs_f64() * 1e3
            });
            median(took.collect())
        };
        // Other programs take their share of this machine: the best of three rounds is this program's own.
        let took = round().min(round()).min(round());
        if took > slowest.0 {
            slowest = (took, path);
        }
    }
    drop(server);
    (slowest, largest)
}

fn median(mut times: Vec<f64>) -> f64 {
    times.sort_by(f64::total_cmp);
    times.get(times.len() / 2).copied().unwrap()
}
