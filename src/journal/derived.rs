//! The derived tables: rows in, rows out. What they mean is the core's business, when they are made is
//! [`super::settle`]'s.

use super::frames::frame_of;
use crate::frame::Frame;
use crate::gatt::{MeasurementStatus, Sfloat, Unit};
use crate::household::{MonitorAddress, MonitorId, PersonId};
use crate::reading::repeats::{HeardBefore, RecordKey};
use crate::reading::{Connection, MeasuredTime, Past, Precision, Reading, ReadingId, Settled, TimeSource};
use crate::technique::session::Session;
use crate::technique::{Judgement, Reason};
use jiff::Timestamp;
use rusqlite::types::{FromSql, FromSqlError, FromSqlResult, ValueRef};
use rusqlite::{Connection as Db, OptionalExtension, Row, params};
use std::cell::RefCell;
use std::collections::BTreeSet;

/// A reading and its row.
#[derive(Clone, Debug)]
pub(super) struct ReadingRow {
    pub(super) row: i64,
    pub(super) reading: Reading,
}

pub(super) fn clear(db: &Db) -> rusqlite::Result<()> {
    db.execute_batch(
        "DELETE FROM judgement; DELETE FROM session; DELETE FROM reading; DELETE FROM connection;",
    )
}

const FRAME: &str = "SELECT id, received_us, offset_s, boot, uptime_us, given_to, monitor, connection, characteristic, value, overheard FROM frame";

/// Frames of a boot up to a row, until `each` says `false`.
pub(super) fn frames_of_boot(
    db: &Db,
    boot: &str,
    upto: i64,
    mut each: impl FnMut(Frame) -> bool,
) -> rusqlite::Result<()> {
    let mut query = db.prepare_cached(&format!("{FRAME} WHERE boot = ?1 AND id <= ?2"))?;
    let mut rows = query.query(params![boot, upto])?;
    while let Some(row) = rows.next()? {
        if !each(frame_of(row)?) {
            break;
        }
    }
    Ok(())
}

/// All boots that frames up to a row were received in.
pub(super) fn boots(db: &Db, upto: i64) -> rusqlite::Result<Vec<String>> {
    db.prepare_cached("SELECT DISTINCT boot FROM frame WHERE boot IS NOT NULL AND id <= ?1")?
        .query_map([upto], |row| row.get(0))?
        .collect()
}

/// Frames of a boot and an address from an uptime on.
pub(super) fn frames_of_boot_from(
    db: &Db,
    boot: &str,
    address: &MonitorAddress,
    from_uptime: i64,
    mut each: impl FnMut(i64, Frame),
) -> rusqlite::Result<()> {
    let mut query = db.prepare_cached(&format!(
        "{FRAME} WHERE boot = ?1 AND monitor = ?2 AND uptime_us >= ?3"
    ))?;
    let mut rows = query.query(params![boot, address.as_str(), from_uptime])?;
    while let Some(row) = rows.next()? {
        each(row.get(0)?, frame_of(row)?);
    }
    Ok(())
}

/// Frames behind a row.
pub(super) fn frames_after(db: &Db, after: i64, mut each: impl FnMut(Frame)) -> rusqlite::Result<()> {
    let mut query = db.prepare_cached(&format!("{FRAME} WHERE id > ?1"))?;
    let mut rows = query.query([after])?;
    while let Some(row) = rows.next()? {
        each(frame_of(row)?);
    }
    Ok(())
}

/// Frames of an address from a receipt on, in order of receipt, until `each` says `false`.
pub(super) fn frames_from(
    db: &Db,
    address: &MonitorAddress,
    from: i64,
    mut each: impl FnMut(i64, Frame) -> bool,
) -> rusqlite::Result<()> {
    let mut query = db.prepare_cached(&format!(
        "{FRAME} WHERE monitor = ?1 AND received_us >= ?2 ORDER BY received_us, connection, characteristic, value"
    ))?;
    let mut rows = query.query(params![address.as_str(), from])?;
    while let Some(row) = rows.next()? {
        if !each(row.get(0)?, frame_of(row)?) {
            break;
        }
    }
    Ok(())
}

/// Addresses with frames behind a row, each with the earliest receipt among them.
pub(super) fn news(db: &Db, after: i64) -> rusqlite::Result<Vec<(MonitorAddress, i64)>> {
    // By row: through the index that has them grouped already, every frame there ever was would be looked at.
    let mut query = db.prepare_cached(
        "SELECT monitor, min(received_us) FROM frame NOT INDEXED WHERE id > ?1 GROUP BY monitor",
    )?;
    let rows = query.query_map([after], |row| Ok((parsed(row, 0)?, row.get(1)?)))?;
    rows.collect()
}

/// Where a reading came from: the address, and when the connection began that brought it.
pub(super) fn source_of(db: &Db, reading: &str) -> rusqlite::Result<Option<(MonitorAddress, i64)>> {
    db.prepare_cached(
        "SELECT frame.monitor, connection_us FROM reading JOIN frame ON frame.id = reading.frame WHERE reading.id = ?1",
    )?
    .query_row([reading], |row| Ok((parsed(row, 0)?, row.get(1)?)))
    .optional()
}

/// When the earliest connection of the monitor began that ended at or after this moment.
pub(super) fn first_connection_ending_after(
    db: &Db,
    monitor: &MonitorId,
    at: i64,
) -> rusqlite::Result<Option<i64>> {
    // Connections of one monitor follow each other, so the latest that began before the moment decides; one more is
    // looked at because two sources may overlap.
    db.prepare_cached(
        "SELECT min(started_us) FROM (
             SELECT started_us, ended_us FROM connection WHERE monitor = ?1 AND started_us < ?2
             ORDER BY started_us DESC LIMIT 8)
         WHERE ended_us >= ?2",
    )?
    .query_row(params![monitor.as_str(), at], |row| row.get::<_, Option<i64>>(0))
    .and_then(|before| match before {
        Some(before) => Ok(Some(before)),
        None => db
            .prepare_cached("SELECT min(started_us) FROM connection WHERE monitor = ?1 AND started_us >= ?2")?
            .query_row(params![monitor.as_str(), at], |row| row.get(0)),
    })
}

/// Removes what was settled of the monitor from a moment on; returns whose sittings it leaves.
pub(super) fn forget_from(db: &Db, monitor: &MonitorId, from: i64) -> rusqlite::Result<Vec<(PersonId, i64)>> {
    let left = {
        let mut query = db.prepare_cached(
            "SELECT person, measured_us FROM reading
             WHERE monitor = ?1 AND connection_us >= ?2 AND person IS NOT NULL AND measured_us IS NOT NULL",
        )?;
        let rows = query.query_map(params![monitor.as_str(), from], |row| {
            Ok((parsed(row, 0)?, row.get(1)?))
        })?;
        rows.collect::<rusqlite::Result<Vec<_>>>()?
    };
    for sql in [
        "DELETE FROM judgement WHERE reading IN (SELECT row FROM reading WHERE monitor = ?1 AND connection_us >= ?2)",
        "DELETE FROM reading WHERE monitor = ?1 AND connection_us >= ?2",
        "DELETE FROM connection WHERE monitor = ?1 AND started_us >= ?2",
    ] {
        db.prepare_cached(sql)?.execute(params![monitor.as_str(), from])?;
    }
    Ok(left)
}

/// What the monitor's connection before a moment left for the next.
pub(super) fn past_before(db: &Db, monitor: &MonitorId, at: i64) -> rusqlite::Result<Past> {
    let json: Option<String> = db
        .prepare_cached(
            "SELECT past FROM connection WHERE monitor = ?1 AND started_us < ?2
             ORDER BY started_us DESC, number DESC, address DESC LIMIT 1",
        )?
        .query_row(params![monitor.as_str(), at], |row| row.get(0))
        .optional()?;
    match json {
        None => Ok(Past::default()),
        Some(json) => serde_json::from_str(&json).map_err(|e| wrong(Box::new(e))),
    }
}

/// Reads what every connection left to the next one.
pub(super) fn each_past(db: &Db) -> rusqlite::Result<()> {
    let mut query = db.prepare("SELECT past FROM connection")?;
    let mut rows = query.query([])?;
    while let Some(row) = rows.next()? {
        serde_json::from_str::<Past>(row.get_ref(0)?.as_str()?).map_err(|e| wrong(Box::new(e)))?;
    }
    Ok(())
}

pub(super) fn write_connection(
    db: &Db,
    monitor: &MonitorId,
    (started, ended): (Timestamp, Timestamp),
    first: &Frame,
    settled: &Connection,
) -> rusqlite::Result<()> {
    let past = serde_json::to_string(&settled.past).map_err(|e| wrong(Box::new(e)))?;
    db.prepare_cached(
        "INSERT INTO connection (monitor, started_us, ended_us, address, number, repeats, refused, past)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)",
    )?
    .execute(params![
        monitor.as_str(),
        started.as_microsecond(),
        ended.as_microsecond(),
        first.monitor.as_str(),
        first.connection,
        i64::try_from(settled.repeats.len()).unwrap_or(i64::MAX),
        i64::try_from(settled.refused.len()).unwrap_or(i64::MAX),
        past,
    ])?;
    Ok(())
}

/// Writes a reading and returns its row.
pub(super) fn write_reading(
    db: &Db,
    frame: i64,
    connection: Timestamp,
    settled: &Settled,
) -> rusqlite::Result<i64> {
    let reading = &settled.reading;
    db.prepare_cached(
        "INSERT INTO reading (id, frame, monitor, connection_us, received_us, record, form, measured, person,
                              measured_us, time_source, precision, stamp, correction_s, unit, systolic, diastolic,
                              mean_arterial, pulse_rate, user_id, status, feature, discarded)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15, ?16, ?17, ?18, ?19, ?20, ?21, ?22, ?23)",
    )?
    .execute(params![
        reading.id.0,
        frame,
        reading.monitor.as_str(),
        connection.as_microsecond(),
        reading.received_at.as_microsecond(),
        settled.record.content,
        settled.record.characteristic.to_string(),
        settled.record.measured,
        reading.person.as_ref().map(PersonId::as_str),
        reading.time.at.map(Timestamp::as_microsecond),
        reading.time.source.name(),
        reading.time.precision.name(),
        reading.time.stamp.map(|stamp| stamp.to_string()),
        reading.time.correction_s,
        reading.unit.name(),
        reading.systolic.bits(),
        reading.diastolic.bits(),
        reading.mean_arterial_pressure.bits(),
        reading.pulse_rate.map(Sfloat::bits),
        reading.user_id,
        reading.status.map(|status| status.0),
        reading.feature,
        reading.discarded,
    ])?;
    Ok(db.last_insert_rowid())
}

/// The span of whole sittings around two moments: widened until nothing of the person's lies within a sitting's gap
/// outside it.
pub(super) fn widen(
    db: &Db,
    person: &PersonId,
    mut from: i64,
    mut to: i64,
    gap: i64,
) -> rusqlite::Result<(i64, i64)> {
    // From the edge outwards, one neighbour at a time: a sitting has a handful.
    let mut before = db.prepare_cached(
        "SELECT max(measured_us) FROM reading WHERE person = ?1 AND measured_us < ?2 AND measured_us >= ?2 - ?3",
    )?;
    while let Some(at) = before.query_row(params![person.as_str(), from, gap], |row| {
        row.get::<_, Option<i64>>(0)
    })? {
        from = at;
    }
    let mut after = db.prepare_cached(
        "SELECT min(measured_us) FROM reading WHERE person = ?1 AND measured_us > ?2 AND measured_us <= ?2 + ?3",
    )?;
    while let Some(at) = after.query_row(params![person.as_str(), to, gap], |row| {
        row.get::<_, Option<i64>>(0)
    })? {
        to = at;
    }
    Ok((from, to))
}

/// Sessions that touch the span: whichever they were, they are made anew.
pub(super) fn forget_sessions(db: &Db, person: &PersonId, from: i64, to: i64) -> rusqlite::Result<()> {
    db.prepare_cached("DELETE FROM session WHERE person = ?1 AND start_us <= ?3 AND start_us >= ?2")?
        .execute(params![person.as_str(), from, to])?;
    Ok(())
}

const READING: &str =
    "SELECT row, id, monitor, received_us, person, measured_us, time_source, precision, stamp, correction_s,
    unit, systolic, diastolic, mean_arterial, pulse_rate, user_id, status, feature, discarded FROM reading";

/// A person's readings in a span, in the order in which they are judged, until `each` says `false`.
pub(super) fn readings_between(
    db: &Db,
    person: &PersonId,
    from: i64,
    to: i64,
    mut each: impl FnMut(ReadingRow) -> bool,
) -> rusqlite::Result<()> {
    let mut query = db.prepare_cached(&format!(
        "{READING} WHERE person = ?1 AND measured_us BETWEEN ?2 AND ?3 ORDER BY measured_us, id"
    ))?;
    let mut rows = query.query(params![person.as_str(), from, to])?;
    while let Some(row) = rows.next()? {
        if !each(spot_of(row)?) {
            break;
        }
    }
    Ok(())
}

/// Whoever has a reading.
pub(super) fn people(db: &Db) -> rusqlite::Result<Vec<PersonId>> {
    // One look into the index for each, instead of one for each reading.
    let mut query = db.prepare_cached("SELECT min(person) FROM reading WHERE person > ?1")?;
    let mut people: Vec<PersonId> = Vec::new();
    loop {
        let after = people.last().map_or("", PersonId::as_str);
        match query.query_row([after], |row| row.get::<_, Option<String>>(0))? {
            Some(person) => people.push(PersonId::try_from(person).map_err(|e| wrong(Box::new(e)))?),
            None => return Ok(people),
        }
    }
}

/// A person's readings whose time is unknown.
pub(super) fn undated(db: &Db, person: &PersonId) -> rusqlite::Result<Vec<ReadingRow>> {
    let mut query = db.prepare_cached(&format!(
        "{READING} WHERE person = ?1 AND measured_us IS NULL ORDER BY id"
    ))?;
    let rows = query.query_map([person.as_str()], spot_of)?;
    rows.collect()
}

/// When a person's readings in a span were taken.
pub(super) fn times_between(
    db: &Db,
    person: &PersonId,
    from: i64,
    to: i64,
    times: &mut BTreeSet<i64>,
) -> rusqlite::Result<()> {
    let mut query = db.prepare_cached(
        "SELECT measured_us FROM reading WHERE person = ?1 AND measured_us BETWEEN ?2 AND ?3",
    )?;
    let mut rows = query.query(params![person.as_str(), from, to])?;
    while let Some(row) = rows.next()? {
        times.insert(row.get(0)?);
    }
    Ok(())
}

pub(super) fn spot_of(row: &Row<'_>) -> rusqlite::Result<ReadingRow> {
    let micros = |at: i64| Timestamp::from_microsecond(at).map_err(|e| wrong(Box::new(e)));
    let stamp: Option<String> = row.get(8)?;
    let reading = Reading {
        id: ReadingId(row.get(1)?),
        monitor: parsed(row, 2)?,
        received_at: micros(row.get(3)?)?,
        person: row
            .get::<_, Option<String>>(4)?
            .map(PersonId::try_from)
            .transpose()
            .map_err(|e| wrong(Box::new(e)))?,
        time: MeasuredTime {
            at: row.get::<_, Option<i64>>(5)?.map(micros).transpose()?,
            source: row.get(6)?,
            precision: row.get(7)?,
            stamp: stamp
                .map(|stamp| stamp.parse())
                .transpose()
                .map_err(|e: jiff::Error| wrong(Box::new(e)))?,
            correction_s: row.get(9)?,
        },
        unit: row.get(10)?,
        systolic: Sfloat::from_bits(row.get(11)?),
        diastolic: Sfloat::from_bits(row.get(12)?),
        mean_arterial_pressure: Sfloat::from_bits(row.get(13)?),
        pulse_rate: row.get::<_, Option<u16>>(14)?.map(Sfloat::from_bits),
        user_id: row.get(15)?,
        status: row.get::<_, Option<u16>>(16)?.map(MeasurementStatus),
        feature: row.get(17)?,
        discarded: row.get(18)?,
    };
    Ok(ReadingRow {
        row: row.get(0)?,
        reading,
    })
}

pub(super) fn write_judgement(
    db: &Db,
    row: i64,
    judgement: &Judgement,
    session: Option<&Session>,
) -> rusqlite::Result<()> {
    let reasons: Vec<&str> = judgement.reasons.iter().map(Reason::name).collect();
    db.prepare_cached(
        "INSERT OR REPLACE INTO judgement (reading, disposition, reasons, mean_arterial, session)
         VALUES (?1, ?2, ?3, ?4, ?5)",
    )?
    .execute(params![
        row,
        judgement.disposition.name(),
        reasons.join(" "),
        judgement.mean_arterial_pressure.map(Sfloat::bits),
        session.map(|session| session.id.0.as_str()),
    ])?;
    Ok(())
}

pub(super) fn write_session(db: &Db, session: &Session) -> rusqlite::Result<()> {
    db.prepare_cached(
        "INSERT OR REPLACE INTO session (id, person, start_us, end_us, date, slot, counted, wanted, apart, irregular_pulse)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10)",
    )?
    .execute(params![
        session.id.0,
        session.person.as_str(),
        session.start.as_microsecond(),
        session.end.as_microsecond(),
        session.date.to_string(),
        session.slot.name(),
        i64::try_from(session.counted).unwrap_or(i64::MAX),
        i64::try_from(session.wanted).unwrap_or(i64::MAX),
        session.apart,
        session.irregular_pulse,
    ])?;
    Ok(())
}

/// The records that the journal holds of a monitor.
pub(super) struct HeardInJournal<'a> {
    db: &'a Db,
    monitor: &'a MonitorId,
    failure: RefCell<Option<rusqlite::Error>>,
}

impl<'a> HeardInJournal<'a> {
    pub(super) fn new(db: &'a Db, monitor: &'a MonitorId) -> Self {
        Self {
            db,
            monitor,
            failure: RefCell::new(None),
        }
    }

    fn look(&self, record: &RecordKey) -> rusqlite::Result<bool> {
        let same = self
            .db
            .prepare_cached("SELECT 1 FROM reading WHERE record = ?1 AND monitor = ?2")?
            .exists(params![record.content, self.monitor.as_str()])?;
        if same || record.measured.is_none() {
            return Ok(same);
        }
        self.db
            .prepare_cached("SELECT 1 FROM reading WHERE measured = ?1 AND monitor = ?2 AND form <> ?3")?
            .exists(params![
                record.measured,
                self.monitor.as_str(),
                record.characteristic.to_string()
            ])
    }

    /// An error on the way, which the core has no place for.
    pub(super) fn failure(self) -> rusqlite::Result<()> {
        self.failure.into_inner().map_or(Ok(()), Err)
    }
}

impl HeardBefore for HeardInJournal<'_> {
    fn heard(&self, record: &RecordKey) -> bool {
        self.look(record).unwrap_or_else(|error| {
            self.failure.replace(Some(error));
            false
        })
    }
}

pub(super) fn wrong(error: Box<dyn std::error::Error + Send + Sync>) -> rusqlite::Error {
    rusqlite::Error::FromSqlConversionFailure(0, rusqlite::types::Type::Text, error)
}

fn parsed<T>(row: &Row<'_>, column: usize) -> rusqlite::Result<T>
where
    T: TryFrom<String>,
    T::Error: std::error::Error + Send + Sync + 'static,
{
    T::try_from(row.get(column)?).map_err(|e| wrong(Box::new(e)))
}

impl FromSql for TimeSource {
    fn column_result(value: ValueRef<'_>) -> FromSqlResult<Self> {
        let name = value.as_str()?;
        Self::ALL
            .into_iter()
            .find(|source| source.name() == name)
            .ok_or(FromSqlError::InvalidType)
    }
}

impl FromSql for Precision {
    fn column_result(value: ValueRef<'_>) -> FromSqlResult<Self> {
        let name = value.as_str()?;
        [Self::Second, Self::Minute]
            .into_iter()
            .find(|fine| fine.name() == name)
            .ok_or(FromSqlError::InvalidType)
    }
}

impl FromSql for Unit {
    fn column_result(value: ValueRef<'_>) -> FromSqlResult<Self> {
        let name = value.as_str()?;
        [Self::MmHg, Self::KPa]
            .into_iter()
            .find(|unit| unit.name() == name)
            .ok_or(FromSqlError::InvalidType)
    }
}
