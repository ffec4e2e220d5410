//! The gateway: a journal on a file system in memory, and a machine that loses its power, its disk and its time.

use jiff::tz::TimeZone;
use jiff::{SignedDuration, Timestamp};
use quietcuff::frame::{Frame, Uptime};
use quietcuff::household::{MonitorAddress, Statement};
use quietcuff::journal::{Journal, JournalError};
use quietcuff::reading::ClockSample;
use rusqlite::Connection;
use rusqlite::types::ValueRef;
use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::path::PathBuf;
use tempfile::TempDir;

/// Room on a disk that is full, in pages: none.
const FULL: u32 = 1;
/// On one that is not.
const ROOM: u32 = 1 << 30;

pub(crate) struct Gateway {
    dir: TempDir,
    generation: u32,
    journal: Option<Journal>,
    /// A second look at the file, as another process has it.
    eye: Option<Connection>,
    boots: u32,
    boot: String,
    booted: Timestamp,
    /// How far the wall clock is from the truth, and whether it was ever right in this boot.
    error: SignedDuration,
    /// Frames that wait in memory because the disk is full.
    pub(crate) waiting: Vec<Frame>,
    pub(crate) full: bool,
    connections: BTreeMap<MonitorAddress, u32>,
}

/// A directory that is not on a disk, where there is one: these files are as good as any, and are gone afterwards.
fn in_memory() -> TempDir {
    let shared = std::path::Path::new("/dev/shm");
    if shared.is_dir() {
        tempfile::tempdir_in(shared).unwrap()
    } else {
        tempfile::tempdir().unwrap()
    }
}

impl Gateway {
    pub(crate) fn new(at: Timestamp, statements: &[Statement]) -> Self {
        let mut gateway = Self {
            dir: in_memory(),
            generation: 0,
            journal: None,
            eye: None,
            boots: 0,
            boot: String::new(),
            booted: at,
            error: SignedDuration::ZERO,
            waiting: Vec::new(),
            full: false,
            connections: BTreeMap::new(),
        };
        gateway.open();
        gateway.boot(at, SignedDuration::ZERO);
        gateway.journal().state(at, statements).unwrap();
        gateway
    }

    fn state(&self) -> PathBuf {
        self.dir.path().join(self.generation.to_string())
    }

    fn open(&mut self) {
        let journal = Journal::open(&self.state()).unwrap();
        let eye = Connection::open(journal.path()).unwrap();
        eye.set_prepared_statement_cache_capacity(16);
        self.eye = Some(eye);
        self.journal = Some(journal);
    }

    pub(crate) fn journal(&mut self) -> &mut Journal {
        self.journal.as_mut().unwrap()
    }

    pub(crate) fn eye(&self) -> &Connection {
        self.eye.as_ref().unwrap()
    }

    /// How often it has started.
    pub(crate) fn boots(&self) -> u32 {
        self.boots
    }

    /// What its clock on the wall shows.
    pub(crate) fn wall(&self, at: Timestamp) -> Timestamp {
        at + self.error
    }

    /// Whether its clock on the wall is right.
    pub(crate) fn knows_the_time(&self) -> bool {
        self.error.is_zero()
    }

    fn sample(&mut self, at: Timestamp) {
        let sample = ClockSample {
            uptime: self.uptime(at),
            wall: self.wall(at),
            synchronized: self.error.is_zero(),
            within: None,
        };
        self.journal().sample_clocks(&[sample]).unwrap();
    }

    fn uptime(&self, at: Timestamp) -> Uptime {
        Uptime {
            boot: self.boot.clone(),
            micros: at.duration_since(self.booted).as_micros() as i64,
        }
    }

    /// It starts, with a clock that is so far off.
    fn boot(&mut self, at: Timestamp, error: SignedDuration) {
        self.boots += 1;
        self.boot = format!("boot-{}", self.boots);
        self.booted = at - SignedDuration::from_secs(20);
        self.error = error;
        self.connections.clear();
        self.sample(at);
    }

    /// It loses its power with the file as it is at this moment, and starts again.
    pub(crate) fn crash(&mut self, at: Timestamp, error: SignedDuration) {
        let old = self.state();
        self.generation += 1;
        let new = self.state();
        std::fs::create_dir(&new).unwrap();
        for name in ["journal.sqlite", "journal.sqlite-wal"] {
            // Without the shared memory, which does not survive a machine.
            if old.join(name).exists() {
                std::fs::copy(old.join(name), new.join(name)).unwrap();
            }
        }
        self.eye = None;
        self.journal = None;
        std::fs::remove_dir_all(old).unwrap();
        self.open();
        self.waiting.clear();
        self.full = false;
        self.boot(at, error);
    }

    /// It hears the time from the network.
    pub(crate) fn learn_the_time(&mut self, at: Timestamp) {
        self.error = SignedDuration::ZERO;
        self.sample(at);
    }

    pub(crate) fn fill_disk(&mut self) {
        self.full = true;
        self.journal().limit_pages(FULL).unwrap();
    }

    /// Somebody makes room; what waited is kept now.
    pub(crate) fn make_room(&mut self) -> Vec<Frame> {
        self.full = false;
        self.journal().limit_pages(ROOM).unwrap();
        let waiting = std::mem::take(&mut self.waiting);
        self.journal().append(&waiting).unwrap();
        waiting
    }

    /// The frames of one connection as this gateway stamps them.
    pub(crate) fn stamps(&mut self, frames: &mut [Frame], zone: &TimeZone) {
        let Some(first) = frames.first() else { return };
        let address = first.monitor.clone();
        let before = match self.connections.get(&address) {
            Some(before) => *before,
            None => self.journal().last_connection(&address).unwrap(),
        };
        self.connections.insert(address, before + 1);
        for frame in frames {
            frame.uptime = Some(self.uptime(frame.received_at));
            frame.received_at = self.wall(frame.received_at);
            frame.offset = zone.to_offset(frame.received_at);
            frame.connection = before + 1;
        }
    }

    /// One burst to the disk. `false`: it is full, and the frames wait in memory.
    pub(crate) fn keep(&mut self, frames: &[Frame]) -> bool {
        match self.journal().append(frames) {
            Ok(_) => true,
            Err(JournalError::DiskFull { .. }) => {
                assert!(self.full, "there was room");
                self.waiting.extend_from_slice(frames);
                false
            }
            Err(error) => panic!("{error}"),
        }
    }

    pub(crate) fn settle(&mut self) {
        match self.journal().settle() {
            Err(JournalError::DiskFull { .. }) if self.full => {}
            settled => {
                settled.unwrap();
            }
        }
    }

    /// Everything derived, but for row numbers and for how far it reaches.
    pub(crate) fn derived(&self) -> String {
        const TABLES: [&str; 4] = [
            "SELECT * FROM connection ORDER BY monitor, started_us, address, number",
            "SELECT id, frame, monitor, connection_us, received_us, hex(record), form, hex(measured), person, measured_us,
                    time_source, precision, stamp, correction_s, unit, systolic, diastolic, mean_arterial, pulse_rate,
                    user_id, status, feature, discarded FROM reading ORDER BY id",
            "SELECT id, disposition, reasons, judgement.mean_arterial, session FROM judgement
             JOIN reading ON judgement.reading = reading.row ORDER BY id",
            "SELECT * FROM session ORDER BY id",
        ];
        let mut all = String::new();
        for sql in TABLES {
            let mut query = self.eye().prepare_cached(sql).unwrap();
            let columns = query.column_count();
            let mut rows = query.query([]).unwrap();
            while let Some(row) = rows.next().unwrap() {
                for column in 0..columns {
                    match row.get_ref(column).unwrap() {
                        ValueRef::Text(text) => write!(all, "{}|", String::from_utf8_lossy(text)),
                        ValueRef::Integer(number) => write!(all, "{number}|"),
                        other => write!(all, "{other:?}|"),
                    }
                    .unwrap();
                }
                all.push('\n');
            }
        }
        all
    }

    /// A rebuild that was broken off behind its first step.
    pub(crate) fn begin_to_rebuild(&self) {
        self.eye().execute_batch("DELETE FROM settled").unwrap();
    }
}

impl Drop for Gateway {
    fn drop(&mut self) {
        if std::thread::panicking() {
            self.dir.disable_cleanup(true);
            eprintln!("its journal is kept in {}", self.state().display());
        }
    }
}
