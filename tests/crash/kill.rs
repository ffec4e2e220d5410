//! `kill -9` at hundreds of random moments.

use crate::{Noise, frame, good, line, quietcuff, run};
use quietcuff::journal::{Entry, FrameFilter, Journal, Writer};
use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Duration;

const WRITER_KILLS: u64 = 150;
const BINARY_KILLS: u64 = 150;
/// Names the state directory to a child that is this test again.
/// In less no process does anything.
const LIMIT_US_MIN: u64 = 4_000;
const CHILD: &str = "QUIETCUFF_TEST_WRITES_TO";

/// Not a test of its own: the child of the next one and of `power`, which hands frames to the daemon's writer one after
/// the other and says of each when it is on the disk.
#[test]
fn child_writes() {
    let Some(state) = std::env::var_os(CHILD) else {
        return;
    };
    let journal = Journal::open(Path::new(&state)).unwrap();
    let first = journal.frame_count().unwrap() as u32;
    let limit: u32 = std::env::var("QUIETCUFF_TEST_FRAMES").map_or(u32::MAX, |text| text.parse().unwrap());
    let (writer, frames) = Writer::start(journal).unwrap();
    let progress = writer.progress();
    let mut out = std::io::stdout().lock();
    for n in (first..).take(limit as usize) {
        frames.blocking_send(Entry::Frame(frame(n))).unwrap();
        while progress.borrow().frames < u64::from(n - first + 1) {
            std::thread::yield_now();
        }
        // One write: what is read of it is whole.
        out.write_all(format!("\nkept {}\n", n + 1).as_bytes()).unwrap();
        out.flush().unwrap();
    }
    assert!(writer.finish().is_empty());
}

pub(crate) fn child(state: &Path) -> Command {
    let mut child = Command::new(std::env::current_exe().unwrap());
    child
        .args(["--exact", "kill::child_writes", "--nocapture"])
        .env(CHILD, state);
    child.stdout(Stdio::piped()).stderr(Stdio::null());
    child
}

/// The last number that a writer said was kept.
pub(crate) fn kept(said: &str) -> u32 {
    said.lines()
        .filter_map(|line| line.strip_prefix("kept "))
        .filter_map(|n| n.parse().ok())
        .next_back()
        .unwrap_or(0)
}

/// So many frames at least, from the first on, each once.
pub(crate) fn holds_from_the_first(state: &Path, kept: u32) -> u32 {
    let journal = Journal::open_existing(state).unwrap();
    assert_eq!(journal.integrity().unwrap(), None);
    let mut n = 0;
    journal
        .each_frame(&FrameFilter::default(), |stored| {
            assert_eq!(stored.frame, frame(n));
            n += 1;
            true
        })
        .unwrap();
    assert!(n >= kept, "{kept} were said to be kept, {n} are there");
    n
}

#[test]
fn what_the_writer_says_it_kept_is_there() {
    let dir = tempfile::tempdir().unwrap();
    let mut noise = Noise(9);
    let (mut before, mut most) = (0, 0);
    for _ in 0..WRITER_KILLS {
        let mut child = child(dir.path()).spawn().unwrap();
        let mut out = BufReader::new(child.stdout.take().unwrap());
        let lines = noise.below(30);
        let (mut said, mut line) = (before, String::new());
        // Not before it has begun, or there is nothing to be killed.
        while u64::from(said - before) < lines && out.read_line(&mut line).unwrap() > 0 {
            said = said.max(kept(&line));
            line.clear();
        }
        std::thread::sleep(Duration::from_micros(noise.below(3_000)));
        child.kill().unwrap();
        child.wait().unwrap();
        for line in out.lines() {
            said = said.max(kept(&line.unwrap_or_default()));
        }
        let there = holds_from_the_first(dir.path(), said);
        assert!(there >= before);
        most = most.max(there - before);
        before = there;
    }
    println!("{WRITER_KILLS} kills, {before} frames, up to {most} between two");
    assert!(most > 10, "it was never under load");
}

#[test]
fn commands_killed_at_any_moment_leave_a_journal() {
    const FRAMES: u32 = 4_000;
    let dir = tempfile::tempdir().unwrap();
    let (state, whole) = (dir.path().join("state"), dir.path().join("whole"));
    let file = dir.path().join("frames.jsonl");
    std::fs::write(&file, (0..FRAMES).map(line).collect::<String>()).unwrap();
    let file = file.to_str().unwrap();
    good(&whole, &["replay", file]);
    let copy = dir.path().join("copy");
    let copy = copy.to_str().unwrap();
    let mut noise = Noise(17);
    let (mut before, mut killed) = (0, 0);
    // How long each may run: shorter when one was over before it was killed, longer when not. So most are killed, at
    // any moment of their work, on a machine of any speed.
    let mut limits_us = [400_000_u64; 4];
    for turn in 0..BINARY_KILLS {
        let arguments: &[&str] = match turn % 4 {
            0 | 1 => &["replay", file],
            2 if before > 0 => &["rebuild"],
            3 if before > 0 => &["backup", "--output", copy],
            _ => &["settle"],
        };
        let limit_us = &mut limits_us[turn as usize % 4];
        let mut child = quietcuff(&state, arguments)
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        std::thread::sleep(Duration::from_micros(noise.below(*limit_us)));
        child.kill().unwrap();
        let was_killed = child.wait().unwrap().code().is_none();
        killed += u32::from(was_killed);
        *limit_us = if was_killed {
            *limit_us * 10 / 9
        } else {
            (*limit_us * 3 / 4).max(LIMIT_US_MIN)
        };
        if state.join("journal.sqlite").exists() && run(&state, &["frames", "--json"]).status.success() {
            let there = holds_from_the_first(&state, before);
            before = before.max(there);
        }
        if Path::new(copy).exists() {
            let restored = dir.path().join(format!("restored-{turn}"));
            good(&restored, &["restore", copy]);
            std::fs::remove_file(copy).unwrap();
            std::fs::remove_dir_all(restored).unwrap();
        }
    }
    assert!(u64::from(killed) > BINARY_KILLS / 2, "{killed} only were killed");
    good(&state, &["replay", file]);
    assert_eq!(
        good(&state, &["readings", "--json"]),
        good(&whole, &["readings", "--json"])
    );
    println!("{killed} of {BINARY_KILLS} killed, {before} frames");
}
