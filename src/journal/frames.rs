//! Frames in, frames out.

use super::{Journal, JournalError, chain};
use crate::frame::{Frame, Uptime};
use crate::gatt::{Characteristic, NotACharacteristic};
use crate::household::{MonitorAddress, PersonId};
use jiff::Timestamp;
use jiff::tz::Offset;
use rusqlite::{Connection, OptionalExtension, Row, TransactionBehavior, params};
use std::collections::BTreeMap;

/// Connection numbers below this are counted by this machine's own radio; those above by listeners, each in a range of
/// its own (`listeners.rs`). Half a million years of ten connections a day are fewer.
pub(super) const OWN_CONNECTIONS: u32 = 1 << 24;

/// What an append did.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub struct Appended {
    /// Frames that are new.
    pub new: usize,
    /// Frames that the journal already held.
    pub known: usize,
}

impl std::ops::AddAssign for Appended {
    fn add_assign(&mut self, other: Self) {
        self.new += other.new;
        self.known += other.known;
    }
}

/// A frame and its row.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct StoredFrame {
    /// Row id: the order in which frames reached the journal.
    pub id: i64,
    /// The value as it was received, with when and from whom.
    pub frame: Frame,
}

/// Which frames to read.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub struct FrameFilter {
    /// Only rows behind this one.
    pub after: Option<i64>,
    /// Only this monitor's.
    pub monitor: Option<MonitorAddress>,
    /// Only what was received at or after this moment.
    pub from: Option<Timestamp>,
    /// Only what was received before this moment.
    pub to: Option<Timestamp>,
}

impl Journal {
    /// Keeps frames, all or none, and returns once they are on the disk. A frame that the journal holds already is
    /// left as it is.
    pub fn append(&mut self, frames: &[Frame]) -> Result<Appended, JournalError> {
        let path = self.path.clone();
        let mut insert_all = || -> rusqlite::Result<Appended> {
            let transaction = self
                .db
                .transaction_with_behavior(TransactionBehavior::Immediate)?;
            let mut appended = Appended::default();
            let mut rows = Vec::with_capacity(frames.len());
            for frame in frames {
                match insert(&transaction, frame)? {
                    Some(row) => {
                        appended.new += 1;
                        rows.push(row);
                    }
                    None => appended.known += 1,
                }
            }
            chain::link(&transaction, "frame", &rows)?;
            transaction.commit()?;
            Ok(appended)
        };
        insert_all().map_err(|e| JournalError::from_sqlite(&path, e))
    }

    /// Hands over every frame that the filter lets through, in the order in which they reached the journal, until
    /// `each` says `false`.
    pub fn each_frame(
        &self,
        filter: &FrameFilter,
        mut each: impl FnMut(StoredFrame) -> bool,
    ) -> Result<(), JournalError> {
        let mut statement = self
            .db
            .prepare_cached(
                "SELECT id, received_us, offset_s, boot, uptime_us, given_to, monitor, connection, characteristic, value,
                        overheard
                 FROM frame
                 WHERE id > ?1 AND (?2 IS NULL OR monitor = ?2)
                   AND received_us >= ?3 AND received_us < ?4
                 ORDER BY id",
            )
            .map_err(|e| JournalError::from_sqlite(&self.path, e))?;
        let micros = |at: Option<Timestamp>, open: i64| at.map_or(open, Timestamp::as_microsecond);
        let mut rows = statement
            .query(params![
                filter.after.unwrap_or(i64::MIN),
                filter.monitor.as_ref().map(MonitorAddress::as_str),
                micros(filter.from, i64::MIN),
                micros(filter.to, i64::MAX),
            ])
            .map_err(|e| JournalError::from_sqlite(&self.path, e))?;
        while let Some(row) = rows
            .next()
            .map_err(|e| JournalError::from_sqlite(&self.path, e))?
        {
            let read = row.get(0).and_then(|id| {
                Ok(StoredFrame {
                    id,
                    frame: frame_of(row)?,
                })
            });
            if !each(read.map_err(|e| JournalError::from_sqlite(&self.path, e))?) {
                break;
            }
        }
        Ok(())
    }

    /// The newest frame of each characteristic that was received from an address.
    pub fn newest(&self, address: &MonitorAddress) -> Result<BTreeMap<Characteristic, Frame>, JournalError> {
        self.in_context(|db| {
            // The other columns are those of the row that has the maximum (SQLite, "bare columns in an aggregate").
            let mut query = db.prepare_cached(
                "SELECT id, max(received_us), offset_s, boot, uptime_us, given_to, monitor, connection, characteristic,
                        value, overheard
                 FROM frame WHERE monitor = ?1 GROUP BY characteristic",
            )?;
            let frames = query.query_map([address.as_str()], frame_of)?;
            frames.map(|frame| frame.map(|frame| (frame.characteristic, frame))).collect()
        })
    }

    /// The same among the last thousand frames from an address, which costs the same after ten years. Each visit of a
    /// monitor has what is read of it again.
    pub fn newest_lately(
        &self,
        address: &MonitorAddress,
    ) -> Result<BTreeMap<Characteristic, Frame>, JournalError> {
        self.in_context(|db| {
            let mut query = db.prepare_cached(
                "SELECT id, max(received_us), offset_s, boot, uptime_us, given_to, monitor, connection, characteristic,
                        value, overheard
                 FROM (SELECT * FROM frame WHERE monitor = ?1 ORDER BY received_us DESC LIMIT 1000)
                 GROUP BY characteristic",
            )?;
            let frames = query.query_map([address.as_str()], frame_of)?;
            frames.map(|frame| frame.map(|frame| (frame.characteristic, frame))).collect()
        })
    }

    /// The highest connection number under which this machine's own radio told of a monitor, 0 for a monitor that it
    /// never heard.
    pub fn last_connection(&self, monitor: &MonitorAddress) -> Result<u32, JournalError> {
        self.in_context(|db| {
            db.query_row(
                "SELECT coalesce(max(connection), 0) FROM frame
                 WHERE monitor = ?1 AND connection < ?2 AND NOT overheard",
                params![monitor.as_str(), OWN_CONNECTIONS],
                |row| row.get(0),
            )
        })
    }

    /// The number of the connection that began at a moment: one more than that of the last one before it, for so the
    /// collector counts, which does not count a connection that told it nothing. By the boot-time clock where there is
    /// one: a wall clock that was set would put the last one behind the moment.
    pub fn connection_begun_at(
        &self,
        monitor: &MonitorAddress,
        begun: Timestamp,
        uptime: Option<&Uptime>,
    ) -> Result<u32, JournalError> {
        self.in_context(|db| {
            let Some(Uptime { boot, micros }) = uptime else {
                let before = "SELECT connection FROM frame
                              WHERE monitor = ?1 AND received_us < ?2 AND connection < ?3 AND NOT overheard
                              ORDER BY received_us DESC LIMIT 1";
                return db
                    .prepare_cached(before)?
                    .query_row(
                        params![monitor.as_str(), begun.as_microsecond(), OWN_CONNECTIONS],
                        |row| row.get(0),
                    )
                    .optional();
            };
            let in_this_boot = "SELECT connection FROM frame
                                WHERE monitor = ?1 AND boot = ?2 AND uptime_us < ?3 AND NOT overheard
                                ORDER BY uptime_us DESC LIMIT 1";
            let last = db
                .prepare_cached(in_this_boot)?
                .query_row(params![monitor.as_str(), boot, micros], |row| row.get(0))
                .optional()?;
            match last {
                Some(last) => Ok(Some(last)),
                // In a boot the collector goes on from the highest of those before.
                None => db
                    .prepare_cached(
                        "SELECT max(connection) FROM frame
                         WHERE monitor = ?1 AND boot IS NOT ?2 AND connection < ?3 AND NOT overheard",
                    )?
                    .query_row(params![monitor.as_str(), boot, OWN_CONNECTIONS], |row| row.get(0)),
            }
        })
        .map(|last: Option<u32>| last.unwrap_or(0).saturating_add(1))
    }

    /// How many frames there are.
    pub fn frame_count(&self) -> Result<i64, JournalError> {
        self.in_context(|db| db.query_row("SELECT count(*) FROM frame", [], |row| row.get(0)))
    }
}

/// Inserts a frame, and gives its row. `None` where the journal holds it already. Whoever calls this chains the row.
pub(super) fn insert(db: &Connection, frame: &Frame) -> rusqlite::Result<Option<i64>> {
    let (boot, uptime) = match &frame.uptime {
        Some(uptime) => (Some(&uptime.boot), Some(uptime.micros)),
        None => (None, None),
    };
    let changed = db
        .prepare_cached(
            "INSERT INTO frame (received_us, offset_s, boot, uptime_us, given_to,
                                monitor, connection, characteristic, value, overheard)
             VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10) ON CONFLICT DO NOTHING",
        )?
        .execute(params![
            frame.received_at.as_microsecond(),
            frame.offset.seconds(),
            boot,
            uptime,
            frame.given_to.as_ref().map(PersonId::as_str),
            frame.monitor.as_str(),
            frame.connection,
            frame.characteristic.to_string(),
            frame.value,
            frame.overheard,
        ])?;
    Ok((changed == 1).then(|| db.last_insert_rowid()))
}

/// The frame in a row of `id, received_us, offset_s, boot, uptime_us, given_to, monitor, connection, characteristic,
/// value, overheard`.
pub(super) fn frame_of(row: &Row<'_>) -> rusqlite::Result<Frame> {
    fn wrong(column: usize, error: impl std::error::Error + Send + Sync + 'static) -> rusqlite::Error {
        rusqlite::Error::FromSqlConversionFailure(column, rusqlite::types::Type::Text, Box::new(error))
    }
    let boot: Option<String> = row.get(3)?;
    let micros: Option<i64> = row.get(4)?;
    let given_to: Option<String> = row.get(5)?;
    Ok(Frame {
        received_at: Timestamp::from_microsecond(row.get(1)?).map_err(|e| wrong(1, e))?,
        offset: Offset::from_seconds(row.get(2)?).map_err(|e| wrong(2, e))?,
        uptime: boot.zip(micros).map(|(boot, micros)| Uptime { boot, micros }),
        given_to: given_to
            .map(PersonId::try_from)
            .transpose()
            .map_err(|e| wrong(5, e))?,
        monitor: MonitorAddress::try_from(row.get::<_, String>(6)?).map_err(|e| wrong(6, e))?,
        connection: row.get(7)?,
        characteristic: row
            .get_ref(8)?
            .as_str()?
            .parse()
            .map_err(|e: NotACharacteristic| wrong(8, e))?,
        value: row.get(9)?,
        overheard: row.get(10)?,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn frame(second: i64, value: u8) -> Frame {
        Frame {
            received_at: Timestamp::from_microsecond(1_772_000_000_000_001 + second * 1_000_000).unwrap(),
            offset: jiff::tz::offset(1),
            uptime: (second % 2 == 0).then(|| Uptime {
                boot: "b".into(),
                micros: second,
            }),
            given_to: (second % 3 == 0).then(|| "p1".parse().unwrap()),
            overheard: second % 5 == 0,
            monitor: "C0:FF:EE:00:00:01".parse().unwrap(),
            connection: 1,
            characteristic: Characteristic::BLOOD_PRESSURE_MEASUREMENT,
            value: vec![value; 3],
        }
    }

    #[test]
    fn what_goes_in_comes_out_once_and_in_order() {
        let dir = tempfile::tempdir().unwrap();
        let frames: Vec<Frame> = (0..7).map(|n| frame(n, u8::try_from(n).unwrap())).collect();
        let mut journal = Journal::open(dir.path()).unwrap();
        assert_eq!(journal.append(&frames).unwrap(), Appended { new: 7, known: 0 });
        assert_eq!(
            journal.append(&frames[2..]).unwrap(),
            Appended { new: 0, known: 5 }
        );
        let journal = Journal::open_existing(dir.path()).unwrap();
        let mut read = Vec::new();
        journal
            .each_frame(&FrameFilter::default(), |stored| {
                read.push(stored.frame);
                true
            })
            .unwrap();
        assert_eq!(read, frames);
        assert_eq!(journal.last_connection(&frames[0].monitor).unwrap(), 1);
        assert_eq!(
            journal
                .last_connection(&"C0:FF:EE:00:00:02".parse().unwrap())
                .unwrap(),
            0
        );
    }

    #[test]
    fn a_full_disk_keeps_what_was_there() {
        let dir = tempfile::tempdir().unwrap();
        let mut journal = Journal::open(dir.path()).unwrap();
        journal.append(&[frame(0, 0)]).unwrap();
        // SQLite's own limit stands in for the disk's end: the error is the same SQLITE_FULL.
        let pages: i64 = journal
            .db
            .query_row("PRAGMA page_count", [], |row| row.get(0))
            .unwrap();
        journal.db.pragma_update(None, "max_page_count", pages).unwrap();
        let many: Vec<Frame> = (1..20_000).map(|n| frame(n, 1)).collect();
        let refused = journal.append(&many).unwrap_err();
        assert!(matches!(refused, JournalError::DiskFull { .. }), "{refused}");
        assert_eq!(refused.exit_code(), 74);
        journal
            .db
            .pragma_update(None, "max_page_count", 1_000_000_i64)
            .unwrap();
        assert_eq!(journal.frame_count().unwrap(), 1);
        assert_eq!(journal.append(&many).unwrap().new, many.len());
    }
}
