//! A year of the daemon's own writer in one process: what it holds on to, and what the file holds of each reading.

use crate::harness::frames::stamped;
use crate::harness::left_out::in_a_hurry;
use jiff::{SignedDuration, Timestamp};
use quietcuff::frame::Frame;
use quietcuff::journal::{Entry, Journal, Writer};

/// Two people who measure twice, morning and evening.
const READINGS_A_DAY: u32 = 8;
const DAYS: u32 = 365;
/// Beside the file's own pages, which SQLite may keep, resident memory may grow by this over all but the first month:
/// allocators round.
const GROWTH_KB_MAX: u64 = 1_024;
/// One reading in the file: its frame in the table and in two indexes, and what is derived of it in four more.
const OCTETS_A_READING_MAX: u64 = 1_600;

fn frame(n: u32) -> Frame {
    let (day, nth) = (n / READINGS_A_DAY, n % READINGS_A_DAY);
    let minutes = i64::from(day) * 1_440 + i64::from(nth / 4) * 780 + i64::from(nth % 4) * 4;
    let at = Timestamp::from_second(1_772_000_000).unwrap() + SignedDuration::from_mins(minutes);
    Frame {
        received_at: at + SignedDuration::from_secs(3),
        given_to: Some("p0".parse().unwrap()),
        ..stamped(n, at)
    }
}

/// Resident memory of this process (proc(5), VmRSS), in kB.
fn resident_kb() -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap();
    let line = status.lines().find(|line| line.starts_with("VmRSS:")).unwrap();
    line.split_whitespace().nth(1).unwrap().parse().unwrap()
}

fn open_files() -> usize {
    std::fs::read_dir("/proc/self/fd").unwrap().count()
}

/// Not a test of its own: the process that the next one looks at, alone with its memory.
#[test]
fn child_lives_a_year() {
    if std::env::var_os("QUIETCUFF_TEST_YEAR").is_none() {
        return;
    }
    let dir = tempfile::tempdir().unwrap();
    let (writer, frames) = Writer::start(Journal::open(dir.path()).unwrap()).unwrap();
    let mut progress = writer.progress();
    let runtime = tokio::runtime::Builder::new_current_thread().build().unwrap();
    let mut after_a_month = (0, 0);
    for n in 0..DAYS * READINGS_A_DAY {
        frames.blocking_send(Entry::Frame(frame(n))).unwrap();
        runtime
            .block_on(progress.wait_for(|progress| progress.frames > u64::from(n)))
            .unwrap();
        if n == 30 * READINGS_A_DAY {
            after_a_month = (resident_kb(), open_files());
        }
    }
    let (memory, files) = (resident_kb(), open_files());
    assert!(writer.finish().is_empty());
    let mut journal = Journal::open(dir.path()).unwrap();
    journal.settle().unwrap();
    drop(journal);
    let octets = std::fs::metadata(dir.path().join("journal.sqlite"))
        .unwrap()
        .len();
    let each = octets / u64::from(DAYS * READINGS_A_DAY);
    println!(
        "after a month {} kB and {} files, after a year {memory} kB and {files}; {each} octets a reading",
        after_a_month.0, after_a_month.1
    );
    assert!(
        memory <= after_a_month.0 + GROWTH_KB_MAX + octets / 1024,
        "memory grows"
    );
    assert_eq!(files, after_a_month.1, "open files grow");
    assert!(each <= OCTETS_A_READING_MAX, "{each} octets a reading");
}

#[test]
fn a_year_of_uptime_grows_by_its_readings_and_nothing_else() {
    if in_a_hurry("a year of uptime") {
        return;
    }
    let ran = std::process::Command::new(std::env::current_exe().unwrap())
        .args(["--exact", "years::uptime::child_lives_a_year", "--nocapture"])
        .env("QUIETCUFF_TEST_YEAR", "1")
        .output()
        .unwrap();
    let said = String::from_utf8_lossy(&ran.stdout);
    print!(
        "{}",
        said.lines()
            .filter(|line| line.contains("octets a reading"))
            .collect::<String>()
    );
    assert!(
        ran.status.success(),
        "{said}{}",
        String::from_utf8_lossy(&ran.stderr)
    );
    assert!(said.contains("octets a reading"), "{said}");
}
