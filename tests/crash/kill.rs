//! `kill -9` at hundreds of random moments.

use crate::crash::{Noise, frame, good, line, quietcuff};
use crate::harness::left_out::{in_a_hurry, takes_minutes};
use crate::harness::script::{Datalink, Script, file as capture};
use quietcuff::gatt::Characteristic;
use quietcuff::household::{Monitor, Statement};
use quietcuff::journal::{Attribute, Entry, FrameFilter, Journal, Writer};
use std::io::{BufRead, BufReader, Write};
use std::os::unix::fs::PermissionsExt;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Duration;

const WRITER_KILLS: u64 = 200;
/// Of so many the killed process had not come to its end: the others do not count.
const BINARY_KILLS: u64 = 300;
/// Of the role that hears, with a stand-in for `btmon` behind it that brings one reading after the other.
const EAR_KILLS: u64 = 100;
/// A machine on which fewer than one in four can be killed in time shows nothing.
const TURNS_MAX: u64 = 4 * BINARY_KILLS;
/// In less no process does anything.
const LIMIT_US_MIN: u64 = 4_000;
/// Names the state directory to a child that is this test again.
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
        .args(["--exact", "crash::kill::child_writes", "--nocapture"])
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
    if in_a_hurry("the writer killed at any moment") {
        return;
    }
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

/// The binary, always with frames that it has not kept yet, and what rewrites or copies the journal in between.
#[test]
fn commands_killed_at_any_moment_leave_a_journal() {
    if takes_minutes("commands killed at any moment") {
        return;
    }
    const FRAMES: u32 = 60;
    let dir = tempfile::tempdir().unwrap();
    let (state, whole) = (dir.path().join("state"), dir.path().join("whole"));
    let (file, copy) = (dir.path().join("frames.jsonl"), dir.path().join("copy"));
    let (file, copy) = (file.to_str().unwrap(), copy.to_str().unwrap());
    let mut noise = Noise(17);
    let (mut before, mut turn, mut in_vain) = (0, 0, 0);
    let mut killed: [u64; 5] = [0; 5];
    // How long each may run: shorter when one was over before it was killed, longer when not. So most are killed, at
    // any moment of their work, on a machine of any speed.
    let mut limits_us = [100_000_u64; 5];
    while killed.iter().sum::<u64>() < BINARY_KILLS {
        turn += 1;
        assert!(turn < TURNS_MAX, "{killed:?} only were killed");
        let kind = if before == 0 { 0 } else { noise.below(5) as usize };
        let arguments: &[&str] = match kind {
            0 | 1 => {
                std::fs::write(file, (before..before + FRAMES).map(line).collect::<String>()).unwrap();
                &["replay", file]
            }
            2 => &["rebuild"],
            3 => &["backup", "--output", copy],
            _ => &["settle"],
        };
        let limit_us = &mut limits_us[kind];
        let mut child = quietcuff(&state, arguments)
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        std::thread::sleep(Duration::from_micros(noise.below(*limit_us)));
        child.kill().unwrap();
        let code = child.wait().unwrap().code();
        killed[kind] += u64::from(code.is_none());
        *limit_us = if code.is_none() {
            *limit_us * 10 / 9
        } else {
            (*limit_us * 3 / 4).max(LIMIT_US_MIN)
        };
        assert_eq!(code.unwrap_or(0), 0, "{arguments:?}");
        if code.is_some() && kind < 2 {
            // It said that it had kept them.
            before += FRAMES;
        }
        if state.join("journal.sqlite").exists() {
            // The first ones are killed before it has its tables.
            drop(Journal::open(&state).unwrap());
            let there = holds_from_the_first(&state, before);
            in_vain += u64::from(kind < 2 && there == before && code.is_none());
            before = there;
        }
        if Path::new(copy).exists() {
            let restored = dir.path().join(format!("restored-{turn}"));
            good(&restored, &["restore", copy]);
            std::fs::remove_file(copy).unwrap();
            std::fs::remove_dir_all(restored).unwrap();
        }
    }
    std::fs::write(file, (0..before).map(line).collect::<String>()).unwrap();
    good(&whole, &["replay", file]);
    assert_eq!(
        good(&state, &["readings", "--json"]),
        good(&whole, &["readings", "--json"])
    );
    println!("{killed:?} killed in {turn} turns, {in_vain} before the frames were kept; {before} frames");
    assert!(killed.iter().all(|kind| *kind > BINARY_KILLS / 20), "{killed:?}");
    assert!(
        in_vain > 0 && in_vain < killed[0] + killed[1],
        "on both sides of the commit: {in_vain}"
    );
}

/// What a `btmon` brings whose monitor sends these frames one after the other.
fn brought(frames: std::ops::Range<u32>) -> Vec<u8> {
    let mut script = Script::default();
    script.connect(64, 1, [0xc0, 0xff, 0xee, 0, 0, 1]);
    for n in frames {
        let octets: String = frame(n)
            .value
            .iter()
            .map(|octet| format!("{octet:02x}"))
            .collect();
        script.received(64, &format!("1d 1000 {octets}"));
    }
    capture(Datalink::Monitor, &script.packets)
}

/// The part of the daemon that can be had without a Bluetooth adapter, under load: pipe, thread, queue, writer.
#[test]
fn the_ear_killed_at_any_moment_keeps_what_it_heard_in_order() {
    if in_a_hurry("the ear killed at any moment") {
        return;
    }
    const AHEAD: u32 = 1_500;
    let dir = tempfile::tempdir().unwrap();
    let state = dir.path().join("state");
    let mut journal = Journal::open(&state).unwrap();
    let address = frame(0).monitor;
    let monitor = Statement::Monitor {
        monitor: "cuff".parse().unwrap(),
        details: Monitor {
            address: Some(address.clone()),
            ..Monitor::default()
        },
    };
    journal.state(jiff::Timestamp::UNIX_EPOCH, &[monitor]).unwrap();
    let measurement = Attribute {
        characteristic: Characteristic::BLOOD_PRESSURE_MEASUREMENT,
        bonded: false,
    };
    journal
        .learn_attributes(&address, &[(0x10, measurement)].into())
        .unwrap();
    drop(journal);
    let (btmon, packets) = (dir.path().join("btmon"), dir.path().join("packets"));
    std::fs::write(
        &btmon,
        format!("#!/bin/sh\ncat {} > $2; exec sleep 1\n", packets.display()),
    )
    .unwrap();
    std::fs::set_permissions(&btmon, std::fs::Permissions::from_mode(0o755)).unwrap();
    let path = format!("{}:/usr/bin:/bin", dir.path().display());
    let mut noise = Noise(29);
    let (mut before, mut in_the_middle) = (0, 0);
    // As above: most come into the middle of its work, on a machine of any speed.
    let mut limit_us = 100_000;
    for turn in 0..EAR_KILLS {
        std::fs::write(&packets, brought(before..before + AHEAD)).unwrap();
        let mut child = quietcuff(&state, &["overhear"])
            .env("PATH", &path)
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        std::thread::sleep(Duration::from_micros(noise.below(limit_us)));
        child.kill().unwrap();
        assert_eq!(child.wait().unwrap().code(), None, "{turn}: it ended by itself");
        let journal = Journal::open_existing(&state).unwrap();
        assert_eq!(journal.integrity().unwrap(), None);
        let there = follow(&journal, before);
        if there == before {
            limit_us = limit_us * 10 / 9;
        } else if there == before + AHEAD {
            limit_us = limit_us * 3 / 4;
        } else {
            in_the_middle += 1;
        }
        before = there;
    }
    assert_eq!(follow(&Journal::open_existing(&state).unwrap(), 0), before);
    println!("{EAR_KILLS} kills, {before} frames, {in_the_middle} in the middle of what was brought");
    assert!(in_the_middle > EAR_KILLS / 4, "{in_the_middle}");
}

/// Where the frames end that follow so many, one after the other.
fn follow(journal: &Journal, before: u32) -> u32 {
    let mut n = before;
    let behind = FrameFilter {
        after: Some(i64::from(before)),
        ..FrameFilter::default()
    };
    journal
        .each_frame(&behind, |stored| {
            // Each has a stamp of its own.
            assert_eq!(stored.frame.value, frame(n).value);
            n += 1;
            true
        })
        .unwrap();
    n
}
