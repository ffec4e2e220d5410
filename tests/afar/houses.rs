//! The record, listeners, and a household of one machine to hold them against.

use crate::harness::command::{Home, Ran, first_line};
use crate::harness::frames::stamped;
use crate::harness::left_out::left_out;
use crate::harness::volume::Volume;
use jiff::{SignedDuration, Timestamp};
use quietcuff::frame::Frame;
use quietcuff::journal::Journal;
use rusqlite::types::Value;

use std::path::{Path, PathBuf};
use std::process::{Child, Stdio};

/// Where a home keeps its journal.
pub(super) fn state(home: &Home) -> PathBuf {
    home.path(".local/state/quietcuff")
}

/// So many frames from the nth on, a reading every few minutes.
pub(super) fn frames(first: u32, count: u32) -> Vec<Frame> {
    let begun: Timestamp = "2026-03-01T06:00:00Z".parse().unwrap();
    (first..first + count)
        .map(|n| stamped(n, begun + SignedDuration::from_mins(i64::from(n) * 7)))
        .collect()
}

/// What a home's radio heard, without a radio.
pub(super) fn heard(home: &Home, frames: &[Frame]) {
    Journal::open(&state(home)).unwrap().append(frames).unwrap();
}

/// The record as it was when the backup was made. What it had is at `lost`; its own key is no part of a backup: it is what
/// listeners know it by, and has to be carried along.
pub(super) fn put_back(record: &Home, backup: &Path) -> String {
    std::fs::rename(state(record), record.path("lost")).unwrap();
    let said = record.run(&["restore", backup.to_str().unwrap()]).good();
    std::fs::copy(record.path("lost/machine.key"), state(record).join("machine.key")).unwrap();
    said
}

/// A small disk of its own for a home's journal; `None`, and left out, where it cannot be had.
pub(super) fn small_disk<'a>(home: &Home, card: &'a Path) -> Option<Volume<'a>> {
    // With room for a log that no reader lets end.
    let volume = Volume::mount(card, "size=16m");
    if volume.is_none() {
        left_out("a disk that is full", "only root can mount a volume");
    } else {
        std::fs::create_dir_all(state(home).parent().unwrap()).unwrap();
        std::os::unix::fs::symlink(card, state(home)).unwrap();
    }
    volume
}

/// Fills the disk to the last octet; there is room again once the file is gone.
pub(super) fn filled(directory: &Path) -> PathBuf {
    let filler = directory.join("filler");
    let mut room = 1 << 20;
    while room > 0 {
        let more = std::fs::read(&filler).unwrap_or_default().len() + room;
        if std::fs::write(&filler, vec![1; more]).is_err() {
            room /= 2;
        }
    }
    filler
}

/// A role that stays, until this value ends.
pub(super) struct Role(Child);

impl Drop for Role {
    fn drop(&mut self) {
        self.kill();
    }
}

impl Role {
    pub(super) const fn of(child: Child) -> Self {
        Self(child)
    }

    pub(super) fn kill(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

/// The record's door, open at a port of its own, and where it is.
pub(super) fn receiving(home: &Home, at: &str) -> (Role, String) {
    // A port that was just given up is free again in a moment.
    for _ in 0..200 {
        let mut child = home
            .command(&["listeners", "receive", "--listen", at])
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let at = first_line(&mut child);
        let role = Role(child);
        if !at.is_empty() {
            return (role, at);
        }
        std::thread::sleep(std::time::Duration::from_millis(20));
    }
    panic!("the record's door does not open at {at}");
}

pub(super) fn handing_on(home: &Home) -> Role {
    let child = home
        .command(&["record", "hand-on"])
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    Role(child)
}

/// A code of the record, for whoever reaches it at this address.
pub(super) fn code(record: &Home, at: &str, label: &str) -> String {
    let said = record
        .run(&["listeners", "invite", "--at", at, "--label", label])
        .good();
    said.trim().to_owned()
}

pub(super) fn join(listener: &Home, code: &str) -> Ran {
    listener.run(&["record", "join", code])
}

/// Everything that is derived, without what only says in which order rows came, and with each connection under the
/// number that its own machine gave it: the record keeps a range for each listener (above 16,777,216).
pub(super) fn derived(home: &Home) -> Vec<(&'static str, Vec<Vec<Value>>)> {
    home.run(&["settle"]).good();
    let db = rusqlite::Connection::open(state(home).join("journal.sqlite")).unwrap();
    let tables = [
        (
            "connection",
            "SELECT monitor, started_us, ended_us, address, number % 16777216, repeats, refused, past FROM connection
             ORDER BY 1, 2, 4, 5",
        ),
        (
            "reading",
            "SELECT id, monitor, connection_us, received_us, record, form, measured, person, measured_us, time_source,
                    precision, stamp, correction_s, unit, systolic, diastolic, mean_arterial, pulse_rate, user_id, status,
                    feature, discarded FROM reading ORDER BY id",
        ),
        (
            "judgement",
            "SELECT reading.id, disposition, reasons, judgement.mean_arterial, session FROM judgement
             JOIN reading ON reading.row = judgement.reading ORDER BY 1",
        ),
        ("session", "SELECT * FROM session ORDER BY id"),
    ];
    tables
        .into_iter()
        .map(|(table, sql)| {
            let mut query = db.prepare(sql).unwrap();
            let columns = query.column_count();
            let rows = query
                .query_map([], |row| (0..columns).map(|n| row.get(n)).collect())
                .unwrap()
                .collect::<Result<_, _>>()
                .unwrap();
            (table, rows)
        })
        .collect()
}

/// Both homes have made the same of what they heard, and not nothing.
pub(super) fn alike(record: &Home, alone: &Home) {
    let (ours, theirs) = (derived(record), derived(alone));
    for ((table, ours), (_, theirs)) in ours.iter().zip(&theirs) {
        assert_eq!(ours.len(), theirs.len(), "{table}");
        for (our, their) in ours.iter().zip(theirs) {
            assert_eq!(our, their, "{table}");
        }
    }
    assert!(!ours[1].1.is_empty(), "there are readings");
}

/// How many frames a home holds.
pub(super) fn held(home: &Home) -> i64 {
    Journal::read(&state(home)).unwrap().frame_count().unwrap()
}

/// Waits until the record holds so many.
pub(super) fn wait_for(record: &Home, count: usize) {
    for _ in 0..1_200 {
        if usize::try_from(held(record)).unwrap() == count {
            return;
        }
        std::thread::sleep(std::time::Duration::from_millis(50));
    }
    panic!("{} frames are at the record instead of {count}", held(record));
}
