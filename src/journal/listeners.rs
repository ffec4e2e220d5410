//! Listeners: other machines that hear this household's monitors and hand their frames on to this one, the record.
//!
//! A frame is kept as if the record's own radio had heard it, but for the number of its connection: each listener
//! counts its own, so that the record gives each a range. Offered again, a frame is left as it is. Beside it stands who
//! heard it, under the listener's own number, with a digest; so a listener learns what is still there after the record
//! was put back from a backup, and a listener whose own card was put back is noticed.

use super::frames::{OWN_CONNECTIONS, insert};
use super::rooms::keep_rooms;
use super::settle::gateway;
use super::{Appended, Journal, JournalError, chain};
use crate::frame::Frame;
use crate::household::{Household, MonitorAddress};
use crate::keys::Digest;
use crate::monitoring::reminders::ListenerHeard;
use crate::reading::{ClockSample, whole_ms};
use jiff::{SignedDuration, Timestamp};
use rusqlite::{Connection, OptionalExtension, Row, Transaction, TransactionBehavior, params};
use sha2::{Digest as _, Sha256};
use std::collections::{BTreeMap, BTreeSet};

/// Ranges of connection numbers that can be given.
const SLOTS: u32 = 255;
/// Two clocks that differ by less are as good as one (own choice): more than the slowest line takes to say what time it is.
const CLOCK_APART_S: i64 = 60;
/// A disk with less room is worth a word: ten years of a household take less.
pub const DISK_ADVISED_OCTETS: u64 = 200 * 1024 * 1024;

/// A machine that hands on frames.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Listener {
    /// Names it in lists.
    pub id: String,
    /// Where it stands, in the household's words.
    pub label: String,
    /// When it was let in.
    pub joined: Timestamp,
    /// When it was withdrawn: nothing of it is taken any more.
    pub withdrawn: Option<Timestamp>,
    /// When it came back with a backup; nothing of it is taken until somebody confirms it.
    pub closed: Option<Timestamp>,
    /// When it was last heard.
    pub last: Option<Timestamp>,
    /// How many frames it had not handed on then.
    pub waiting: Option<u64>,
    /// Whether its clock was known to be right then.
    pub clock_known: Option<bool>,
    /// The version of its program.
    pub version: Option<String>,
    /// How many octets of its disk were free then.
    pub disk_free: Option<u64>,
    /// By how many seconds its clock was ahead of this machine's then.
    pub clock_ahead_s: Option<i64>,
    /// How far the time may be off that this machine told it, where it has none of its own.
    pub clock_within: Option<SignedDuration>,
    /// When it last called and was refused for the version of its program, where it was not understood since.
    pub refused: Option<(Timestamp, String)>,
    /// How many frames it has handed on.
    pub frames: u64,
    slot: u32,
}

impl Listener {
    /// What the household calls it: where it stands, else its id.
    pub fn name(&self) -> &str {
        if self.label.is_empty() {
            &self.id
        } else {
            &self.label
        }
    }

    /// Whether frames are taken from it.
    pub const fn is_open(&self) -> bool {
        self.withdrawn.is_none() && self.closed.is_none()
    }

    /// By how many seconds its clock was ahead of this machine's, where that is worth a word.
    pub fn clock_apart(&self) -> Option<i64> {
        let ahead = self.clock_ahead_s.filter(|_| self.clock_told().is_none());
        ahead.filter(|ahead| ahead.abs() >= CLOCK_APART_S)
    }

    /// How far the time may be off that its readings have, in milliseconds, where this machine told it.
    pub fn clock_told(&self) -> Option<i64> {
        let within = self.clock_within.filter(|_| self.clock_known != Some(true));
        within.map(whole_ms)
    }

    /// Whether nobody knows the time of what it hears.
    pub fn clock_unsure(&self) -> bool {
        self.clock_known == Some(false) && self.clock_within.is_none()
    }

    /// How many octets of its disk were free, where those are few.
    pub fn disk_low(&self) -> Option<u64> {
        self.disk_free.filter(|free| *free < DISK_ADVISED_OCTETS)
    }
}

/// A frame under the number that a listener's journal gave it.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Heard {
    /// The number.
    pub sequence: i64,
    /// The frame, without whose it is: a listener knows nothing of people.
    pub frame: Frame,
}

impl Heard {
    /// SHA-256 over everything that the listener says of the frame. Each part is as long as the length before it says.
    pub fn digest(&self) -> [u8; 32] {
        let Self { sequence, frame } = self;
        let mut digest = Sha256::new();
        let mut part = |octets: &[u8]| {
            digest.update(u64::try_from(octets.len()).unwrap_or(u64::MAX).to_be_bytes());
            digest.update(octets);
        };
        part(&sequence.to_be_bytes());
        part(&frame.received_at.as_microsecond().to_be_bytes());
        part(&frame.offset.seconds().to_be_bytes());
        let (boot, micros) = frame
            .uptime
            .as_ref()
            .map_or(("", 0), |uptime| (uptime.boot.as_str(), uptime.micros));
        part(boot.as_bytes());
        part(&micros.to_be_bytes());
        part(frame.monitor.as_str().as_bytes());
        part(&frame.connection.to_be_bytes());
        part(frame.characteristic.to_string().as_bytes());
        part(&[u8::from(frame.overheard)]);
        part(&frame.value);
        digest.finalize().into()
    }
}

/// What the record holds of a listener.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub struct Held {
    /// The highest number with its digest. A listener hands on in order, so that everything before it is here too,
    /// where the digest is that of the listener's own frame.
    pub last: Option<(i64, [u8; 32])>,
    /// The number of the last clock sample.
    pub clocks: i64,
}

/// How a listener is, in its own words.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub struct State {
    /// The version of its program.
    pub version: String,
    /// How many frames it has not handed on.
    pub waiting: u64,
    /// Whether its clock is known to be right.
    pub clock_known: bool,
    /// How many octets of its disk are free, where it says so.
    pub disk_free: Option<u64>,
    /// What its clock shows, where it says so.
    pub wall: Option<Timestamp>,
    /// How far the time may be off that the record told it, where it has none of its own.
    pub clock_within: Option<SignedDuration>,
}

/// A monitor that is paired at a listener.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Comes {
    /// Its id, or its address where the household does not know it.
    pub name: String,
    /// Its address.
    pub address: MonitorAddress,
    /// The battery level that it told last, and when.
    pub battery: Option<(u8, Timestamp)>,
}

/// By how much the clock of each listener was ahead of this machine's when it was last heard, by the range of its
/// connection numbers.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub struct Ahead(BTreeMap<u32, SignedDuration>);

impl Ahead {
    /// When a frame was received by this machine's clock, as well as anybody knows: a listener stamps it with its own.
    pub fn received(&self, frame: &Frame) -> Timestamp {
        let ahead = self.0.get(&(frame.connection / OWN_CONNECTIONS));
        let ahead = ahead.copied().unwrap_or_default();
        frame.received_at.checked_sub(ahead).unwrap_or(frame.received_at)
    }
}

/// What came of a code.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum Joined {
    /// The listener is let in.
    In(String),
    /// No such code, or its time is over, or another has used it.
    NoSuchCode,
    /// As many listeners as there can be.
    Full,
}

const COLUMNS: &str =
    "id, slot, label, joined_us, withdrawn_us, closed_us, last_us, waiting, clock_known, version, disk_free,
                       clock_ahead_s, refused_us, refused_version, frames, clock_within_us";

impl Journal {
    /// Keeps a code that lets one listener in until then; of the code only its digest.
    pub fn invite_listener(
        &mut self,
        code: &Digest,
        label: &str,
        until: Timestamp,
    ) -> Result<(), JournalError> {
        self.in_context(|db| {
            db.execute(
                "INSERT INTO listener_code (digest, label, until_us) VALUES (?1, ?2, ?3)",
                params![code.0, label, until.as_microsecond()],
            )
            .map(|_| ())
        })
    }

    /// Lets the holder of a key in who has a code. The same holder may ask again with the same code, whose answer was
    /// lost; nobody else.
    pub fn join_listener(
        &mut self,
        code: &Digest,
        key: &[u8; 32],
        now: Timestamp,
    ) -> Result<Joined, JournalError> {
        let now = self.moment_for_keys(now)?.as_microsecond();
        self.in_context(|db| {
            let transaction = Transaction::new_unchecked(db, TransactionBehavior::Immediate)?;
            let label: Option<String> = transaction
                .query_row(
                    "SELECT label FROM listener_code
                     WHERE digest = ?1 AND until_us > ?2 AND (taken_by IS NULL OR taken_by = ?3)",
                    params![code.0, now, key],
                    |row| row.get(0),
                )
                .optional()?;
            let Some(label) = label else {
                return Ok(Joined::NoSuchCode);
            };
            transaction.execute(
                "UPDATE listener_code SET taken_by = ?2 WHERE digest = ?1",
                params![code.0, key],
            )?;
            let known: Option<String> = transaction
                .query_row("SELECT id FROM listener WHERE key = ?1", [key], |row| row.get(0))
                .optional()?;
            let id = match known {
                // The household has said so anew.
                Some(id) => {
                    transaction.execute(
                        "UPDATE listener SET withdrawn_us = NULL, closed_us = NULL, label = ?2 WHERE id = ?1",
                        params![id, label],
                    )?;
                    id
                }
                None => {
                    let last: u32 =
                        transaction.query_row("SELECT coalesce(max(slot), 0) FROM listener", [], |row| {
                            row.get(0)
                        })?;
                    if last >= SLOTS {
                        return Ok(Joined::Full);
                    }
                    let slot = last + 1;
                    let id = format!("l{slot}");
                    transaction.execute(
                        "INSERT INTO listener (id, slot, key, label, joined_us) VALUES (?1, ?2, ?3, ?4, ?5)",
                        params![id, slot, key, label, now],
                    )?;
                    id
                }
            };
            transaction.execute("DELETE FROM listener_code WHERE until_us <= ?1", [now])?;
            transaction.commit()?;
            Ok(Joined::In(id))
        })
    }

    /// Every listener, also those that were withdrawn.
    pub fn listeners(&self) -> Result<Vec<Listener>, JournalError> {
        self.in_context(|db| {
            db.prepare_cached(&format!("SELECT {COLUMNS} FROM listener ORDER BY slot"))?
                .query_map([], listener)?
                .collect()
        })
    }

    /// Each listener of which frames are taken, with the monitors that were last heard by it.
    pub fn listeners_heard(&self, household: &Household) -> Result<Vec<ListenerHeard>, JournalError> {
        let mut listeners = self.in_context(|db| {
            db.prepare_cached(
                "SELECT id, coalesce(nullif(label, ''), id), coalesce(last_us, joined_us), refused_us, refused_version
                 FROM listener
                 WHERE withdrawn_us IS NULL AND closed_us IS NULL ORDER BY slot",
            )?
            .query_map([], |row| {
                Ok(ListenerHeard {
                    id: row.get(0)?,
                    name: row.get(1)?,
                    heard: Timestamp::from_microsecond(row.get(2)?).unwrap_or_default(),
                    refused: refused(row, 3)?,
                    monitors: BTreeSet::new(),
                })
            })?
            .collect::<rusqlite::Result<Vec<_>>>()
        })?;
        if listeners.is_empty() {
            return Ok(listeners);
        }
        for (address, id) in self.last_heard_by()? {
            let Some(monitor) = address.parse().ok().map(|one| household.monitor_at(&one)) else {
                continue;
            };
            let paired = household.rooms_of(&monitor).any(|room| room == id);
            if let Some(listener) = listeners.iter_mut().find(|one| one.id == id && paired) {
                listener.monitors.insert(monitor.to_string());
            }
        }
        Ok(listeners)
    }

    /// The address of each monitor whose last frame came by a listener, with the listener's id.
    fn last_heard_by(&self) -> Result<Vec<(String, String)>, JournalError> {
        self.in_context(|db| {
            // A step in the index for each monitor, however many frames it has sent.
            db.prepare_cached(
                "WITH RECURSIVE each (monitor) AS (
                     SELECT min(monitor) FROM frame
                     UNION ALL
                     SELECT (SELECT min(monitor) FROM frame WHERE monitor > each.monitor) FROM each
                     WHERE each.monitor IS NOT NULL
                 )
                 SELECT each.monitor, hearing.listener FROM each JOIN hearing ON hearing.frame = (
                     SELECT id FROM frame WHERE frame.monitor = each.monitor ORDER BY received_us DESC LIMIT 1
                 ) WHERE each.monitor IS NOT NULL",
            )?
            .query_map([], |row| Ok((row.get(0)?, row.get(1)?)))?
            .collect()
        })
    }

    /// By how much the clock of each listener was ahead of this machine's when it was last heard.
    pub fn clocks_ahead(&self) -> Result<Ahead, JournalError> {
        self.in_context(|db| {
            db.prepare_cached("SELECT slot, clock_ahead_s FROM listener WHERE clock_ahead_s <> 0")?
                .query_map([], |row| {
                    Ok((row.get(0)?, SignedDuration::from_secs(row.get(1)?)))
                })?
                .collect::<rusqlite::Result<_>>()
                .map(Ahead)
        })
    }

    /// The monitors that are paired at each listener, by the listener's id: each with the battery level that it told last, and
    /// when.
    pub fn coming_by(&self, household: &Household) -> Result<BTreeMap<String, Vec<Comes>>, JournalError> {
        let mut by: BTreeMap<String, Vec<Comes>> = BTreeMap::new();
        for (id, (monitor, _)) in &household.monitors {
            let Some(address) = &monitor.address else { continue };
            let battery = self.last_battery(address)?;
            let name = if household.met.contains(id) {
                address.to_string()
            } else {
                id.to_string()
            };
            for listener in household.rooms_of(id) {
                by.entry(listener.to_owned()).or_default().push(Comes {
                    name: name.clone(),
                    address: address.clone(),
                    battery,
                });
            }
        }
        Ok(by)
    }

    /// A listener called, and was refused for the version of its program.
    pub fn listener_refused(
        &mut self,
        listener: &Listener,
        version: &str,
        now: Timestamp,
    ) -> Result<(), JournalError> {
        self.in_context(|db| {
            db.execute(
                "UPDATE listener SET refused_us = ?2, refused_version = ?3 WHERE id = ?1",
                params![listener.id, now.as_microsecond(), version],
            )
            .map(|_| ())
        })
    }

    /// The listener with that key.
    pub fn listener_with(&self, key: &[u8; 32]) -> Result<Option<Listener>, JournalError> {
        self.in_context(|db| {
            db.prepare_cached(&format!("SELECT {COLUMNS} FROM listener WHERE key = ?1"))?
                .query_row([key], listener)
                .optional()
        })
    }

    /// Takes nothing more of a listener. Whether there was one to withdraw.
    pub fn withdraw_listener(&mut self, id: &str, now: Timestamp) -> Result<bool, JournalError> {
        self.in_context(|db| {
            db.execute(
                "UPDATE listener SET withdrawn_us = ?2 WHERE id = ?1 AND withdrawn_us IS NULL",
                params![id, now.as_microsecond()],
            )
            .map(|changed| changed == 1)
        })
    }

    /// Takes frames again of a listener that came back with a backup. Whether there was one to confirm.
    pub fn confirm_listener(&mut self, id: &str) -> Result<bool, JournalError> {
        self.in_context(|db| {
            db.execute(
                "UPDATE listener SET closed_us = NULL WHERE id = ?1 AND closed_us IS NOT NULL AND withdrawn_us IS NULL",
                [id],
            )
            .map(|changed| changed == 1)
        })
    }

    /// What is held of a listener.
    pub fn held_of(&self, listener: &Listener) -> Result<Held, JournalError> {
        self.in_context(|db| {
            let last = db
                .prepare_cached(
                    "SELECT sequence, digest FROM hearing WHERE listener = ?1 ORDER BY sequence DESC LIMIT 1",
                )?
                .query_row([&listener.id], |row| Ok((row.get(0)?, row.get(1)?)))
                .optional()?;
            let clocks = db.query_row(
                "SELECT clocks FROM listener WHERE id = ?1",
                [&listener.id],
                |row| row.get(0),
            )?;
            Ok(Held { last, clocks })
        })
    }

    /// Keeps what a listener hands on, all or none, and returns once it is on the disk. Nothing where the listener was
    /// withdrawn meanwhile.
    pub fn take_from(
        &mut self,
        listener: &Listener,
        heard: &[Heard],
        clocks: &[(i64, ClockSample)],
        state: &State,
        now: Timestamp,
    ) -> Result<Option<Appended>, JournalError> {
        self.in_context(|db| {
            let transaction = Transaction::new_unchecked(db, TransactionBehavior::Immediate)?;
            let open: bool = transaction.query_row(
                "SELECT withdrawn_us IS NULL AND closed_us IS NULL FROM listener WHERE id = ?1",
                [&listener.id],
                |row| row.get(0),
            )?;
            if !open {
                return Ok(None);
            }
            let (appended, told) = keep_heard(&transaction, listener, heard, now)?;
            keep_clocks(&transaction, clocks)?;
            transaction
                .prepare_cached(
                    "UPDATE listener SET last_us = ?2, waiting = ?3, clock_known = ?4, version = ?5, clocks = max(clocks, ?6),
                                         frames = frames + ?7, disk_free = ?8, clock_ahead_s = ?9, refused_us = NULL,
                                         refused_version = NULL, clock_within_us = ?10
                     WHERE id = ?1",
                )?
                .execute(params![
                    listener.id,
                    now.as_microsecond(),
                    i64::try_from(state.waiting).unwrap_or(i64::MAX),
                    state.clock_known,
                    state.version,
                    clocks.iter().map(|(sequence, _)| *sequence).max().unwrap_or(0),
                    told,
                    state.disk_free.map(|free| i64::try_from(free).unwrap_or(i64::MAX)),
                    state.wall.map(|wall| wall.duration_since(now).as_secs()),
                    state
                        .clock_within
                        .map(|within| i64::try_from(within.as_micros()).unwrap_or(i64::MAX)),
                ])?;
            transaction.commit()?;
            Ok(Some(appended))
        })
    }

    /// When a frame was received and how far that may be off, where the machine that heard it was told the time.
    pub fn received_by_time_told(
        &self,
        frame: &Frame,
    ) -> Result<Option<(Timestamp, SignedDuration)>, JournalError> {
        let clock = self.in_context(gateway)?;
        let within = clock.within(frame);
        Ok(within.map(|within| (clock.received_at(frame), within)))
    }

    /// The listeners that handed on a frame, each by its id with its label; none where this machine's own radio heard it
    /// alone. With `anytime`, those too that heard the same octets of the same monitor: a record with a stamp is the same
    /// whenever it comes.
    pub fn heard_by(&self, frame: i64, anytime: bool) -> Result<Vec<(String, String)>, JournalError> {
        self.in_context(|db| {
            // Most households have no second machine, and all frames of a monitor are many.
            let any: bool = db
                .prepare_cached("SELECT EXISTS (SELECT 1 FROM hearing)")?
                .query_row([], |row| row.get(0))?;
            if !any {
                return Ok(Vec::new());
            }
            db.prepare_cached(
                "SELECT DISTINCT listener.id, label FROM frame AS this
                 JOIN frame AS same ON same.monitor = this.monitor AND (same.id = this.id
                     OR ?2 AND same.characteristic = this.characteristic AND same.value = this.value)
                 JOIN hearing ON hearing.frame = same.id
                 JOIN listener ON listener.id = hearing.listener
                 WHERE this.id = ?1 ORDER BY slot",
            )?
            .query_map(params![frame, anytime], |row| Ok((row.get(0)?, row.get(1)?)))?
            .collect()
        })
    }
}

/// Counts anew what each listener has handed on.
pub(super) fn count_anew(db: &Connection) -> rusqlite::Result<()> {
    db.execute(
        "UPDATE listener SET frames = (SELECT count(*) FROM hearing WHERE hearing.listener = listener.id)",
        [],
    )
    .map(|_| ())
}

/// Keeps the frames, and says beside what was new how many this listener had not told of before.
fn keep_heard(
    db: &Connection,
    listener: &Listener,
    heard: &[Heard],
    now: Timestamp,
) -> rusqlite::Result<(Appended, i64)> {
    let mut appended = Appended::default();
    let mut told = 0;
    let mut rows = Vec::with_capacity(heard.len());
    for one in heard {
        let mut frame = one.frame.clone();
        frame.connection = listener.slot * OWN_CONNECTIONS + frame.connection.min(OWN_CONNECTIONS - 1);
        frame.given_to = None;
        let row = match insert(db, &frame)? {
            Some(row) => {
                appended.new += 1;
                rows.push(row);
                row
            }
            None => {
                appended.known += 1;
                db.prepare_cached(
                    "SELECT id FROM frame WHERE monitor = ?1 AND received_us = ?2 AND connection = ?3
                     AND characteristic = ?4 AND value = ?5",
                )?
                .query_row(
                    params![
                        frame.monitor.as_str(),
                        frame.received_at.as_microsecond(),
                        frame.connection,
                        frame.characteristic.to_string(),
                        frame.value
                    ],
                    |row| row.get(0),
                )?
            }
        };
        let mut tell = db.prepare_cached(
            "INSERT INTO hearing (listener, sequence, digest, frame, taken_us) VALUES (?1, ?2, ?3, ?4, ?5)
             ON CONFLICT DO NOTHING",
        )?;
        let new = tell.execute(params![
            listener.id,
            one.sequence,
            one.digest(),
            row,
            now.as_microsecond()
        ])?;
        told += i64::from(new == 1);
    }
    chain::link(db, "frame", &rows)?;
    keep_rooms(db, &listener.id, heard.iter().map(|one| &one.frame))?;
    Ok((appended, told))
}

/// A boot's id is drawn at random, so that no two machines share one.
fn keep_clocks(db: &Connection, clocks: &[(i64, ClockSample)]) -> rusqlite::Result<()> {
    let mut rows = Vec::with_capacity(clocks.len());
    for (_, sample) in clocks {
        let changed = db
            .prepare_cached(
                "INSERT INTO gateway_clock (boot, uptime_us, wall_us, synchronized, within_us) SELECT ?1, ?2, ?3, ?4, ?5
                 WHERE NOT EXISTS (SELECT 1 FROM gateway_clock
                                   WHERE boot = ?1 AND uptime_us = ?2 AND wall_us = ?3 AND synchronized = ?4)",
            )?
            .execute(params![
                sample.uptime.boot,
                sample.uptime.micros,
                sample.wall.as_microsecond(),
                sample.synchronized,
                sample.within_us(),
            ])?;
        if changed == 1 {
            rows.push(db.last_insert_rowid());
        }
    }
    chain::link(db, "gateway_clock", &rows)
}

fn listener(row: &Row<'_>) -> rusqlite::Result<Listener> {
    let at = |column: usize| -> rusqlite::Result<Option<Timestamp>> {
        row.get::<_, Option<i64>>(column)?
            .map(Timestamp::from_microsecond)
            .transpose()
            .map_err(|error| {
                rusqlite::Error::FromSqlConversionFailure(
                    column,
                    rusqlite::types::Type::Integer,
                    Box::new(error),
                )
            })
    };
    Ok(Listener {
        id: row.get(0)?,
        slot: row.get(1)?,
        label: row.get(2)?,
        joined: at(3)?.unwrap_or_default(),
        withdrawn: at(4)?,
        closed: at(5)?,
        last: at(6)?,
        waiting: row.get::<_, Option<i64>>(7)?.and_then(|n| u64::try_from(n).ok()),
        clock_known: row.get(8)?,
        version: row.get(9)?,
        disk_free: row.get::<_, Option<i64>>(10)?.and_then(|n| u64::try_from(n).ok()),
        clock_ahead_s: row.get(11)?,
        refused: refused(row, 12)?,
        frames: row.get::<_, i64>(14)?.try_into().unwrap_or(0),
        clock_within: row.get::<_, Option<i64>>(15)?.map(SignedDuration::from_micros),
    })
}

/// When a listener was refused for its version, and for which: two columns.
fn refused(row: &Row<'_>, column: usize) -> rusqlite::Result<Option<(Timestamp, String)>> {
    let at = row.get::<_, Option<i64>>(column)?;
    let version: Option<String> = row.get(column + 1)?;
    Ok(at
        .and_then(|at| Timestamp::from_microsecond(at).ok())
        .zip(version))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::frame::Uptime;
    use crate::gatt::Characteristic;
    use crate::journal::{FrameFilter, schema};

    /// Behind the frames.
    const NOW: Timestamp = Timestamp::constant(1_773_000_000, 0);

    fn heard(sequence: i64) -> Heard {
        Heard {
            sequence,
            frame: Frame {
                received_at: Timestamp::from_second(1_772_000_000 + sequence).unwrap(),
                offset: jiff::tz::offset(1),
                uptime: Some(Uptime {
                    boot: "b".into(),
                    micros: sequence,
                }),
                given_to: Some("asha".parse().unwrap()),
                overheard: false,
                monitor: "C0:FF:EE:00:00:01".parse().unwrap(),
                connection: 7,
                characteristic: Characteristic::BLOOD_PRESSURE_MEASUREMENT,
                value: vec![1, 2, 3],
            },
        }
    }

    fn state() -> State {
        State {
            version: "1.0.0".into(),
            waiting: 3,
            clock_known: true,
            disk_free: Some(1_000),
            wall: Some(NOW - SignedDuration::from_secs(90)),
            clock_within: None,
        }
    }

    fn joined(journal: &mut Journal, code: u8) -> Listener {
        let (code, key) = (Digest([code; 32]), [code + 100; 32]);
        journal.invite_listener(&code, "bedroom", Timestamp::MAX).unwrap();
        assert!(matches!(
            journal.join_listener(&code, &key, NOW).unwrap(),
            Joined::In(_)
        ));
        journal.listener_with(&key).unwrap().unwrap()
    }

    #[test]
    fn a_code_lets_one_in_and_its_holder_again() {
        let dir = tempfile::tempdir().unwrap();
        let mut journal = Journal::open(dir.path()).unwrap();
        let (code, until) = (Digest([1; 32]), Timestamp::from_second(600).unwrap());
        journal.invite_listener(&code, "bedroom", until).unwrap();
        let mut ask = |code: u8, key: u8, at: i64| {
            let now = Timestamp::from_second(at).unwrap();
            journal
                .join_listener(&Digest([code; 32]), &[key; 32], now)
                .unwrap()
        };
        assert_eq!(ask(2, 1, 0), Joined::NoSuchCode, "guessed");
        assert_eq!(ask(1, 1, 0), Joined::In("l1".into()));
        assert_eq!(ask(1, 1, 1), Joined::In("l1".into()), "the answer was lost");
        assert_eq!(ask(1, 2, 1), Joined::NoSuchCode, "used twice");
        assert_eq!(ask(1, 1, 600), Joined::NoSuchCode, "over");
        assert_eq!(journal.listeners().unwrap().len(), 1);
    }

    #[test]
    fn offered_a_thousand_times_it_is_one_frame() {
        let dir = tempfile::tempdir().unwrap();
        let mut journal = Journal::open(dir.path()).unwrap();
        let listener = joined(&mut journal, 1);
        let sample = ClockSample {
            uptime: Uptime {
                boot: "b".into(),
                micros: 5,
            },
            wall: NOW,
            synchronized: true,
            within: None,
        };
        for n in 0..1_000 {
            let took = journal
                .take_from(
                    &listener,
                    &[heard(1), heard(2)],
                    &[(4, sample.clone())],
                    &state(),
                    NOW,
                )
                .unwrap()
                .unwrap();
            assert_eq!(took.new, if n == 0 { 2 } else { 0 });
        }
        assert_eq!(journal.frame_count().unwrap(), 2);
        let held = journal.held_of(&listener).unwrap();
        assert_eq!(held.last, Some((2, heard(2).digest())));
        assert_eq!(held.clocks, 4);
        let samples: i64 = journal
            .db
            .query_row("SELECT count(*) FROM gateway_clock", [], |row| row.get(0))
            .unwrap();
        assert_eq!(samples, 1);
        assert_eq!(journal.chain().unwrap().count, 0);
        let listed = journal.listeners().unwrap();
        assert_eq!((listed[0].frames, listed[0].waiting), (2, Some(3)));
        // Whose it is a listener does not say, and each has connection numbers of its own.
        let mut frames = Vec::new();
        journal
            .each_frame(&FrameFilter::default(), |stored| {
                frames.push(stored.frame);
                true
            })
            .unwrap();
        assert_eq!(frames[0].given_to, None);
        assert_eq!(frames[0].connection, OWN_CONNECTIONS + 7);
        assert_eq!(journal.last_connection(&frames[0].monitor).unwrap(), 0);
        let second = joined(&mut journal, 2);
        assert_eq!(
            journal
                .take_from(&second, &[heard(1)], &[], &state(), NOW)
                .unwrap()
                .unwrap()
                .new,
            1
        );
        let ids = |anytime| -> Vec<String> {
            let by = journal.heard_by(1, anytime).unwrap();
            by.into_iter().map(|(id, _)| id).collect()
        };
        assert_eq!(ids(false), ["l1"]);
        assert_eq!(ids(true), ["l1", "l2"]);
    }

    /// What each listener is said to have handed on, and how many rows there are.
    fn counted(journal: &Journal) -> Vec<(u64, u32)> {
        let listed = journal.listeners().unwrap();
        let rows = |one: &Listener| -> u32 {
            let asked = "SELECT count(*) FROM hearing WHERE listener = ?1";
            journal.db.query_row(asked, [&one.id], |row| row.get(0)).unwrap()
        };
        listed.iter().map(|one| (one.frames, rows(one))).collect()
    }

    #[test]
    fn what_was_handed_on_is_counted_as_it_comes() {
        let dir = tempfile::tempdir().unwrap();
        let mut journal = Journal::open(dir.path()).unwrap();
        let listeners = [joined(&mut journal, 1), joined(&mut journal, 2)];
        let mut take = |nth: usize, heard: &[Heard]| {
            journal
                .take_from(&listeners[nth], heard, &[], &state(), NOW)
                .unwrap()
                .unwrap();
            counted(&journal)
        };
        assert_eq!(take(0, &[]), [(0, 0), (0, 0)]);
        assert_eq!(take(0, &[heard(1), heard(2), heard(2)]), [(2, 2), (0, 0)]);
        assert_eq!(take(0, &[heard(1), heard(2), heard(3)]), [(3, 3), (0, 0)]);
        assert_eq!(take(1, &[heard(1)]), [(3, 3), (1, 1)]);
        // The same number of another frame, as after an older copy of its card was put back.
        let mut other = heard(3);
        other.frame.value = vec![4, 5, 6];
        assert_eq!(take(0, &[other]), [(4, 4), (1, 1)]);
        // The same frame under another number.
        let again = Heard {
            sequence: 9,
            ..heard(3)
        };
        assert_eq!(take(0, &[again]), [(5, 5), (1, 1)]);
        assert!(journal.withdraw_listener("l1", NOW).unwrap());
        let refused = journal.take_from(&listeners[0], &[heard(10)], &[], &state(), NOW);
        assert_eq!(refused.unwrap(), None);
        assert_eq!(counted(&journal), [(5, 5), (1, 1)]);
    }

    #[test]
    fn an_older_journal_learns_how_much_each_has_handed_on() {
        let dir = tempfile::tempdir().unwrap();
        let mut journal = Journal::open(dir.path()).unwrap();
        let listener = joined(&mut journal, 1);
        joined(&mut journal, 2);
        journal
            .take_from(&listener, &[heard(1), heard(2)], &[], &state(), NOW)
            .unwrap();
        let added = schema::MIGRATIONS
            .iter()
            .position(|step| step.contains("ALTER TABLE listener ADD COLUMN frames"))
            .unwrap();
        // As the program before left it, and whatever later ones added is no part of it.
        journal
            .db
            .execute_batch("ALTER TABLE listener DROP COLUMN frames")
            .unwrap();
        journal.db.execute_batch(schema::MIGRATIONS[added]).unwrap();
        assert_eq!(counted(&journal), [(2, 2), (0, 0)]);
    }

    #[test]
    fn recovering_counts_what_could_be_saved() {
        let dir = tempfile::tempdir().unwrap();
        let mut journal = Journal::open(dir.path()).unwrap();
        let listener = joined(&mut journal, 1);
        let all: Vec<Heard> = (1..=400).map(heard).collect();
        journal.take_from(&listener, &all, &[], &state(), NOW).unwrap();
        let leaves = "SELECT pageno - 1 FROM dbstat WHERE name = 'hearing' AND pagetype = 'leaf'";
        let leaf: u32 = journal.db.query_row(leaves, [], |row| row.get(0)).unwrap();
        assert_eq!(counted(&journal), [(400, 400)]);
        journal
            .in_context(|db| db.pragma_update(None, "wal_checkpoint", "truncate"))
            .unwrap();
        drop(journal);
        let path = dir.path().join(crate::journal::place::FILE_NAME);
        let mut octets = std::fs::read(&path).unwrap();
        let at = usize::try_from(leaf * 4_096).unwrap();
        octets[at..at + 4_096].fill(0xAA);
        std::fs::write(&path, octets).unwrap();
        crate::journal::recover::recover(dir.path(), "test", true)
            .unwrap()
            .unwrap();
        let journal = Journal::open(dir.path()).unwrap();
        let counted = counted(&journal);
        let [(said, rows)] = counted[..] else {
            panic!("{counted:?}")
        };
        assert_eq!(said, u64::from(rows));
        assert!((1..400).contains(&rows), "{rows}");
    }

    #[test]
    fn nothing_is_taken_of_one_that_is_withdrawn() {
        let dir = tempfile::tempdir().unwrap();
        let mut journal = Journal::open(dir.path()).unwrap();
        let listener = joined(&mut journal, 1);
        assert!(journal.withdraw_listener("l1", NOW).unwrap());
        assert!(!journal.withdraw_listener("l1", NOW).unwrap());
        assert_eq!(
            journal
                .take_from(&listener, &[heard(1)], &[], &state(), NOW)
                .unwrap(),
            None
        );
        assert_eq!(journal.frame_count().unwrap(), 0);
    }

    #[test]
    fn a_digest_is_of_everything_that_a_listener_says() {
        let whole = heard(1).digest();
        let change: [fn(&mut Heard); 9] = [
            |h| h.sequence = 2,
            |h| h.frame.received_at = NOW,
            |h| h.frame.offset = jiff::tz::offset(2),
            |h| h.frame.uptime = None,
            |h| h.frame.monitor = "C0:FF:EE:00:00:02".parse().unwrap(),
            |h| h.frame.connection = 8,
            |h| h.frame.characteristic = Characteristic::BATTERY_LEVEL,
            |h| h.frame.overheard = true,
            |h| h.frame.value = vec![1, 2],
        ];
        for change in change {
            let mut other = heard(1);
            change(&mut other);
            assert_ne!(other.digest(), whole, "{other:?}");
        }
    }
}
