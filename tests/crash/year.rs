//! A year of an invented household on a bad disk: it fills up, goes read-only and forgets bits, while frames come by the
//! daemon's own writer, backups are made by their rule, and people do what the program tells them to do. Every frame is
//! there at the end as it was received, or was named as lost or changed when it happened.

use crate::crash::copies::{NO_VOLUME, names};
use crate::crash::{Noise, good, run};
use crate::harness::left_out::{left_out, takes_minutes};
use crate::harness::volume::Volume;
use jiff::ToSpan;
use jiff::civil::date;
use jiff::tz::TimeZone;
use quietcuff::frame::Frame;
use quietcuff::journal::{Entry, FrameFilter, Journal, Writer};
use quietcuff::radio::simulated::Household;
use serde_json::Value;
use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
use std::time::Duration;
use tokio::sync::mpsc;

const DAYS: u16 = 365;
/// Days on which the disk has no room, and for how long.
const FULL: [(u16, u16); 2] = [(40, 3), (200, 4)];
/// Days on which it cannot be written to.
const READ_ONLY: [(u16, u16); 2] = [(90, 2), (300, 3)];
/// After so many days each time it forgets a bit, ...
const DECAYS_EACH: u16 = 12;
/// ... and after so many a backup is made.
const BACKED_UP_EACH: u16 = 5;

/// What was received, as far as a journal shows it.
type Known = BTreeSet<(i64, Vec<u8>)>;

struct Year {
    state: PathBuf,
    stick: PathBuf,
    /// The last good backup there.
    good: PathBuf,
    dir: tempfile::TempDir,
    received: Known,
    /// Frames that a recovery or a restored backup came without, each said when it happened.
    lost: u64,
    changed: u64,
    recovered: u32,
    restored: u32,
    unnoticed: u32,
}

fn known(frames: &[Frame]) -> Known {
    let of = |frame: &Frame| (frame.received_at.as_microsecond(), frame.value.clone());
    frames.iter().map(of).collect()
}

fn there(state: &Path) -> Known {
    let journal = Journal::read_as_it_is(state).unwrap();
    let mut all = Known::new();
    let each = |stored: quietcuff::journal::StoredFrame| {
        let frame = stored.frame;
        all.insert((frame.received_at.as_microsecond(), frame.value))
    };
    journal.each_frame(&FrameFilter::default(), each).unwrap();
    all
}

fn send(frames: &mpsc::Sender<Entry>, day: &[Frame]) {
    for frame in day {
        frames.blocking_send(Entry::Frame(frame.clone())).unwrap();
    }
}

/// What people look at while nothing can be written.
fn can_be_read(state: &Path) {
    for looked in [
        &["sessions"][..],
        &["readings", "--person", "p1"],
        &["period", "--person", "p1"],
        &["next", "--person", "p1"],
    ] {
        good(state, looked);
    }
}

impl Year {
    fn usual(&mut self, day: &[Frame]) {
        let (writer, frames) = Writer::start(Journal::open_existing(&self.state).unwrap()).unwrap();
        send(&frames, day);
        assert_eq!(writer.finish(), [], "there was room");
        self.received.append(&mut known(day));
        Journal::open_existing(&self.state).unwrap().settle().unwrap();
    }

    /// Frames come while there is no room: they wait, and are kept once there is.
    fn without_room(&mut self, days: &[Frame], begin: impl Fn(), end: impl Fn()) {
        let (writer, frames) = Writer::start(Journal::open_existing(&self.state).unwrap()).unwrap();
        let before = there(&self.state);
        begin();
        send(&frames, days);
        let mut progress = writer.progress();
        let patience = Duration::from_secs(60);
        let mut told = |wanted: &dyn Fn(&quietcuff::journal::WriterProgress) -> bool| {
            let begun = std::time::Instant::now();
            while !wanted(&progress.borrow_and_update()) {
                assert!(begun.elapsed() < patience, "{:?}", writer.progress().borrow());
                std::thread::sleep(Duration::from_millis(20));
            }
        };
        told(&|seen| {
            seen.problem
                .as_ref()
                .is_some_and(|why| why.contains("no space left"))
        });
        can_be_read(&self.state);
        assert!(there(&self.state).is_superset(&before));
        end();
        told(&|seen| seen.problem.is_none());
        assert_eq!(writer.finish(), [], "what waited is kept");
        self.received.append(&mut known(days));
        Journal::open_existing(&self.state).unwrap().settle().unwrap();
        assert_eq!(there(&self.state), self.received);
    }

    /// The daemon cannot begin, and says why; what is there can be read. The monitors keep what is not confirmed.
    fn read_only(&mut self, days: &[Frame], volume: &Volume<'_>) {
        volume.grow("ro");
        let refused = Journal::open_existing(&self.state).and_then(|mut journal| journal.append(days));
        let why = refused.unwrap_err().to_string();
        assert!(why.contains("read-only"), "{why}");
        can_be_read(&self.state);
        assert_eq!(there(&self.state), self.received);
        volume.grow("rw");
        self.usual(days);
    }

    fn back_up(&mut self, noise: &mut Noise) {
        let made = run(&self.state, &["backup", "--to", self.stick.to_str().unwrap()]);
        if made.status.success() {
            // A backup that was made holds what was received, whatever bit was forgotten.
            assert_eq!(there(&self.state), self.received);
            // One of a journal that is not what was written is made as well, and does not count as good.
            self.good = self.stick.join(names(&self.stick).pop().unwrap());
            return;
        }
        let said = String::from_utf8_lossy(&made.stderr).into_owned();
        assert!(said.contains("quietcuff recover"), "{said}");
        assert_eq!(run(&self.state, &["check", "--thorough"]).status.code(), Some(65));
        if noise.below(2) == 0 && self.recover() {
            return;
        }
        self.restore();
    }

    /// What can be read is saved; `false` where somebody would rather take the backup, since something reads as what it
    /// was not.
    fn recover(&mut self) -> bool {
        let told = run(&self.state, &["recover", "--json"]);
        if !told.status.success() {
            return false;
        }
        let told: Value = serde_json::from_slice(&told.stdout).unwrap();
        let told = &told["recovered"];
        let now = there(&self.state);
        let (missing, foreign) = (
            self.received.difference(&now).count() as u64,
            now.difference(&self.received).count() as u64,
        );
        let (lost, changed) = (
            told["frames"]["lost"].as_u64().unwrap(),
            told["differs"]["count"].as_u64().unwrap(),
        );
        assert!(
            missing <= lost + changed && foreign <= changed,
            "{missing} {foreign}: {told}"
        );
        if foreign > 0 || told["statements"]["lost"] != 0 {
            self.changed += foreign;
            return false;
        }
        self.lost += missing;
        self.received = now;
        self.recovered += 1;
        true
    }

    /// The last good backup is put in place, with the frames of the damaged journal that read as they were written.
    fn restore(&mut self) {
        let beside = self.dir.path().join(format!("damaged-{}", self.restored));
        fs::create_dir(&beside).unwrap();
        for name in names(&self.state) {
            let from = self.state.join(&name);
            if from.is_file() {
                fs::copy(&from, beside.join(&name)).unwrap();
                fs::remove_file(from).unwrap();
            }
        }
        good(&self.state, &["restore", self.good.to_str().unwrap()]);
        let now = there(&self.state);
        assert!(
            self.received.is_superset(&now),
            "a backup holds what was received"
        );
        self.lost += self.received.difference(&now).count() as u64;
        self.received = now;
        self.restored += 1;
    }

    fn decay(&mut self, noise: &mut Noise) {
        let file = self.state.join("journal.sqlite");
        let mut octets = fs::read(&file).unwrap();
        let place = noise.below(octets.len() as u64) as usize;
        octets[place] ^= 1 << noise.below(8);
        fs::write(&file, octets).unwrap();
        let before = self.recovered + self.restored;
        self.back_up(noise);
        self.unnoticed += u32::from(before == self.recovered + self.restored);
    }
}

#[test]
fn on_a_bad_disk_nothing_is_lost_that_was_not_named() {
    if takes_minutes("a year on a bad disk") {
        return;
    }
    let dir = tempfile::tempdir().unwrap();
    let state = dir.path().join("disk");
    let Some(volume) = Volume::mount(&state, "size=64m,mode=0700") else {
        left_out("a year on a bad disk", NO_VOLUME);
        return;
    };
    let stick = dir.path().join("stick");
    fs::create_dir(&stick).unwrap();
    let first = date(2025, 1, 6);
    let household = Household::demonstration(first, TimeZone::UTC);
    let mut journal = Journal::open(&state).unwrap();
    let statements = household.statements("seven-day");
    let lived = household.live(Household::DEMONSTRATION_SEED, DAYS);
    journal.state(lived.frames[0].received_at, &statements).unwrap();
    drop(journal);
    let of = |day: u16, days: u16| -> Vec<Frame> {
        let midnight = |day: u16| {
            let day = first.checked_add(i64::from(day).days()).unwrap();
            TimeZone::UTC.to_timestamp(day.at(0, 0, 0, 0)).unwrap()
        };
        let begin = if day == 0 {
            jiff::Timestamp::MIN
        } else {
            midnight(day)
        };
        let within = begin..midnight(day + days);
        lived
            .frames
            .iter()
            .filter(|frame| within.contains(&frame.received_at))
            .cloned()
            .collect()
    };
    let mut year = Year {
        state: state.clone(),
        stick,
        good: PathBuf::new(),
        dir,
        received: Known::new(),
        lost: 0,
        changed: 0,
        recovered: 0,
        restored: 0,
        unnoticed: 0,
    };
    let mut noise = Noise(0x9e37_79b9_7f4a_7c15);
    let mut day = 0;
    while day < DAYS {
        let begins = |troubles: &[(u16, u16)]| {
            troubles
                .iter()
                .find(|(from, _)| *from == day)
                .map(|(_, days)| *days)
        };
        let filling = state.join("holiday.raw");
        let days = if let Some(days) = begins(&FULL) {
            let fill = || assert!(!fill(&filling), "there is an end to the room");
            year.without_room(&of(day, days), fill, || fs::remove_file(&filling).unwrap());
            days
        } else if let Some(days) = begins(&READ_ONLY) {
            year.read_only(&of(day, days), &volume);
            days
        } else {
            year.usual(&of(day, 1));
            1
        };
        day += days;
        if day % BACKED_UP_EACH == 0 {
            year.back_up(&mut noise);
        }
        if day % DECAYS_EACH == 0 {
            year.decay(&mut noise);
        }
    }
    let looked = String::from_utf8(run(&state, &["check", "--thorough"]).stdout).unwrap();
    assert!(
        looked.contains("every frame and statement is what was written"),
        "{looked}"
    );
    let derived = |state: &Path| good(state, &["readings", "--json"]);
    let before = derived(&state);
    good(&state, &["rebuild"]);
    assert_eq!(derived(&state), before, "derived as it is anew");
    assert_eq!(there(&state), year.received);
    let all = known(&lived.frames);
    assert_eq!(all.len() as u64, year.received.len() as u64 + year.lost);
    println!(
        "{} frames: {} lost and named, {} that read as what they were not; {} recoveries, {} backups restored, {} decays of what holds nothing",
        all.len(),
        year.lost,
        year.changed,
        year.recovered,
        year.restored,
        year.unnoticed
    );
    // Each of the ways was gone.
    assert!(
        year.recovered > 0 && year.restored > 0,
        "{} {}",
        year.recovered,
        year.restored
    );
}

/// Fills the disk up; whether all of it was written.
fn fill(file: &Path) -> bool {
    let octets = vec![0; 1 << 20];
    let mut file = fs::File::create(file).unwrap();
    (0..1 << 10).all(|_| std::io::Write::write_all(&mut file, &octets).is_ok())
}
