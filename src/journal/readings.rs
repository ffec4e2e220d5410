//! Readings, sessions and judgements as they stand; settled first, so that a reader never sees half a truth.

use super::derived::spot_of;
use super::{Journal, JournalError, derived};
use crate::gatt::Sfloat;
use crate::household::{MonitorId, PersonId, Zones};
use crate::monitoring::enters::averaged;
use crate::monitoring::escalation::Numbers;
use crate::monitoring::history;
use crate::monitoring::period::Period;
use crate::monitoring::protocol::Protocol;
use crate::monitoring::stated::Stated;
use crate::monitoring::taken::Taken;
use crate::reading::{Reading, ReadingId};
use crate::sitting::Slot;
use crate::technique::session::{Session, SessionId};
use crate::technique::{Disposition, JudgedReading, Judgement, Reason, Reasons};
use jiff::civil::{Date, Time};
use jiff::{Timestamp, ToSpan};
use rusqlite::{Connection, Row, params};
use std::collections::{BTreeMap, HashMap, HashSet};

/// A person's whole record.
#[derive(Clone, Debug, Default)]
pub struct History {
    /// The readings, in order of time.
    pub readings: Vec<JudgedReading>,
    /// The same, as averaging takes them.
    pub taken: Vec<Taken>,
    /// Their sessions, in order.
    pub sessions: Vec<Session>,
}

impl History {
    /// The readings that the average of a period is made of, in order of time.
    pub fn averaged(&self, protocol: &Protocol, period: &Period) -> Vec<&Reading> {
        let chosen: HashSet<*const Taken> = averaged(protocol, period.from, period.to, &self.taken)
            .into_iter()
            .map(std::ptr::from_ref)
            .collect();
        self.readings
            .iter()
            .zip(&self.taken)
            .filter(|(_, taken)| chosen.contains(&std::ptr::from_ref(*taken)))
            .map(|(judged, _)| &judged.reading)
            .collect()
    }
}

/// Which readings or sessions.
#[derive(Clone, Debug, Default)]
pub struct Wanted {
    /// Only this person's.
    pub person: Option<PersonId>,
    /// Only those taken at or after this moment.
    pub from: Option<Timestamp>,
    /// Only those taken before this moment.
    pub to: Option<Timestamp>,
    /// Only the one with this id.
    pub id: Option<String>,
}

impl Wanted {
    /// Everything that may belong to one of these measuring days: a window may open on the day before its first
    /// reading, and close on the day after.
    pub fn of_days(person: &PersonId, from: Date, to: Date, zones: &Zones) -> Self {
        let midnight = |day: Date| zones.instant(day.to_datetime(Time::midnight()));
        Self {
            person: Some(person.clone()),
            from: from.yesterday().ok().and_then(midnight),
            to: to.checked_add(2.days()).ok().and_then(midnight),
            id: None,
        }
    }

    /// Whether a reading whose time is unknown can be among them.
    fn any_time(&self) -> bool {
        self.from.is_none() && self.to.is_none()
    }

    /// Said so that each of them finds its index: a part of ten years costs what the part costs.
    fn which(&self) -> &'static str {
        match self {
            Self { id: Some(_), .. } => "id = ?4 AND (?1 IS NULL OR person = ?1)",
            Self { person: Some(_), .. } => "person = ?1 AND ?4 IS NULL",
            _ => "?1 IS NULL AND ?4 IS NULL",
        }
    }

    fn when(&self) -> &'static str {
        if self.any_time() {
            "(?2 < ?3 AND ?5)"
        } else {
            "measured_us >= ?2 AND measured_us < ?3 AND NOT ?5"
        }
    }
}

/// Those whose time is unknown, by their receipt.
const UNDATED: &str = "measured_us IS NULL AND received_us >= ?2 AND received_us < ?3 AND NOT ?5";

/// Readings with their judgements. One that has lost its judgement is a row that cannot be read, and not hidden.
pub(super) const JUDGED: &str = "SELECT row, id, monitor, received_us, person, measured_us, time_source, precision, stamp,
    correction_s, unit, systolic, diastolic, reading.mean_arterial, pulse_rate, user_id, status, feature, discarded,
    disposition, reasons, judgement.mean_arterial, session, frame
 FROM reading LEFT JOIN judgement ON judgement.reading = reading.row";

/// Sessions, without their readings.
pub(super) const SESSION: &str =
    "SELECT id, person, start_us, end_us, date, slot, counted, wanted, apart, irregular_pulse FROM session";

impl Journal {
    /// Hands over readings, ordered by the time at which they were taken, until `each` says `false`. Those whose time
    /// is unknown come last, in order of receipt.
    pub fn each_reading(
        &mut self,
        wanted: &Wanted,
        mut each: impl FnMut(JudgedReading) -> bool,
    ) -> Result<(), JournalError> {
        let which = (wanted.which(), wanted.when());
        // Before the first is handed over, so that none is handed over twice where they are made anew.
        self.on_derived(|db| rows(db, which, wanted, &mut |_| true))?;
        self.in_context(|db| rows(db, which, wanted, &mut each))
    }

    /// All of them at once; for a period or a page, not for ten years.
    pub fn readings(&mut self, wanted: &Wanted) -> Result<Vec<JudgedReading>, JournalError> {
        self.all_of((wanted.which(), wanted.when()), wanted)
    }

    fn all_of(&mut self, which: (&str, &str), wanted: &Wanted) -> Result<Vec<JudgedReading>, JournalError> {
        self.on_derived(|db| gathered(db, which, wanted))
    }

    /// What may have to be told at once of this person since a moment, or with `None` of readings that are nobody's.
    pub fn readings_to_watch(
        &mut self,
        person: Option<&PersonId>,
        from: Option<Timestamp>,
    ) -> Result<Vec<JudgedReading>, JournalError> {
        let wanted = Wanted {
            person: person.cloned(),
            from,
            ..Wanted::default()
        };
        let mut readings = match person {
            Some(_) => self.readings(&wanted)?,
            None => self.all_of(
                ("person IS NULL AND ?1 IS NULL AND ?4 IS NULL", wanted.when()),
                &wanted,
            )?,
        };
        readings.extend(self.undated_since(person, from)?);
        Ok(readings)
    }

    /// Of these people those of whom nothing can have to be told since a moment, by the numbers of their readings: of each
    /// the readings since `lately`. Whoever has one that is dated ahead of now, or of which nobody knows when it was
    /// taken, is none of them. It is asked for many at once: of each it looks at a month, and reads a day.
    pub fn quiet_since<'a>(
        &mut self,
        people: &[&'a PersonId],
        (since, lately, now): (Timestamp, Timestamp, Timestamp),
        can_raise: impl Fn(&PersonId, Numbers) -> bool,
    ) -> Result<BTreeMap<&'a PersonId, Vec<JudgedReading>>, JournalError> {
        self.on_derived(|db| {
            let mut undated = db.prepare_cached(
                "SELECT 1 FROM reading WHERE person = ?1 AND measured_us IS NULL AND received_us >= ?2 LIMIT 1",
            )?;
            let mut numbers = db.prepare_cached(
                "SELECT measured_us, unit, systolic, diastolic, pulse_rate FROM reading
                 WHERE person = ?1 AND measured_us >= ?2 ORDER BY measured_us DESC",
            )?;
            let mut quiet = BTreeMap::new();
            'people: for person in people {
                let theirs = params![person.as_str(), since.as_microsecond()];
                if undated.exists(theirs)? {
                    continue;
                }
                let mut rows = numbers.query(theirs)?;
                while let Some(row) = rows.next()? {
                    let numbers = Numbers {
                        unit: row.get(1)?,
                        systolic: Sfloat::from_bits(row.get(2)?),
                        diastolic: Sfloat::from_bits(row.get(3)?),
                        pulse_rate: row.get::<_, Option<u16>>(4)?.map(Sfloat::from_bits),
                    };
                    if row.get::<_, i64>(0)? > now.as_microsecond() || can_raise(person, numbers) {
                        continue 'people;
                    }
                }
                let wanted = Wanted {
                    person: Some((*person).clone()),
                    from: Some(lately),
                    ..Wanted::default()
                };
                quiet.insert(*person, gathered(db, (wanted.which(), wanted.when()), &wanted)?);
            }
            Ok(quiet)
        })
    }

    /// Readings of this person, or nobody's, of which nobody knows when they were taken, received at or after a moment.
    pub fn undated_since(
        &mut self,
        person: Option<&PersonId>,
        received: Option<Timestamp>,
    ) -> Result<Vec<JudgedReading>, JournalError> {
        let wanted = Wanted {
            person: person.cloned(),
            ..Wanted::default()
        };
        let whose = if person.is_some() {
            "person = ?1 AND ?4 IS NULL AND measured_us IS NULL"
        } else {
            "person IS NULL AND ?1 IS NULL AND ?4 IS NULL AND measured_us IS NULL"
        };
        let mut readings = self.all_of((whose, wanted.when()), &wanted)?;
        readings.retain(|judged| received.is_none_or(|since| judged.reading.received_at >= since));
        Ok(readings)
    }

    /// Sessions whose id begins so, two of them at most: enough to know that there are several.
    pub fn sessions_beginning(&mut self, beginning: &str) -> Result<Vec<Session>, JournalError> {
        let ids: Vec<String> = self.on_derived(|db| {
            db.prepare_cached(
                "SELECT id FROM session WHERE id >= ?1 AND id < ?1 || char(1114111) ORDER BY id LIMIT 2",
            )?
            .query_map([beginning], |row| row.get(0))?
            .collect()
        })?;
        let mut sessions = Vec::new();
        for id in ids {
            let exact = id == beginning;
            let found = self.sessions(&Wanted {
                id: Some(id),
                ..Wanted::default()
            })?;
            if exact {
                return Ok(found);
            }
            sessions.extend(found);
        }
        Ok(sessions)
    }

    /// Sessions, ordered by their start.
    pub fn sessions(&mut self, wanted: &Wanted) -> Result<Vec<Session>, JournalError> {
        self.on_derived(|db| {
            let mut members = db.prepare_cached(
                "SELECT id FROM reading JOIN judgement ON judgement.reading = reading.row
                 WHERE person = ?1 AND measured_us BETWEEN ?2 AND ?3 AND session = ?4 ORDER BY measured_us, id",
            )?;
            let whose = if wanted.person.is_some() {
                "person = ?1"
            } else {
                "?1 IS NULL"
            };
            let mut query = db.prepare_cached(&format!(
                "{SESSION} WHERE {whose} AND start_us >= ?2 AND start_us < ?3 AND (?4 IS NULL OR id = ?4)
                 ORDER BY start_us, id"
            ))?;
            let micros = |at: Option<Timestamp>, open: i64| at.map_or(open, Timestamp::as_microsecond);
            let mut rows = query.query(params![
                wanted.person.as_ref().map(PersonId::as_str),
                micros(wanted.from, i64::MIN),
                micros(wanted.to, i64::MAX),
                wanted.id,
            ])?;
            let mut sessions = Vec::new();
            while let Some(row) = rows.next()? {
                let mut session = session_of(row)?;
                let (start, end) = (session.start.as_microsecond(), session.end.as_microsecond());
                session.readings = members
                    .query_map(params![session.person.as_str(), start, end, session.id.0], |row| {
                        row.get(0).map(ReadingId)
                    })?
                    .collect::<rusqlite::Result<Vec<_>>>()?;
                sessions.push(session);
            }
            Ok(sessions)
        })
    }

    /// Everything of one person: each reading with what averaging needs of it, in order of time.
    pub fn history(&mut self, person: &PersonId, stated: &Stated) -> Result<History, JournalError> {
        self.history_of(
            &Wanted {
                person: Some(person.clone()),
                ..Wanted::default()
            },
            stated,
        )
    }

    /// The same of a part of a person's time, with the readings of unknown time that were received in it. A
    /// session of which the part lacks the beginning is not known in it.
    pub fn history_of(&mut self, wanted: &Wanted, stated: &Stated) -> Result<History, JournalError> {
        let mut readings = self.readings(wanted)?;
        if !wanted.any_time() {
            readings.extend(self.all_of(("person = ?1 AND ?4 IS NULL", UNDATED), wanted)?);
        }
        let sessions = self.sessions(wanted)?;
        let numbers: HashMap<&str, (u64, &Session)> = (0..)
            .zip(&sessions)
            .map(|(number, session)| (session.id.0.as_str(), (number, session)))
            .collect();
        let taken = readings
            .iter()
            .map(|judged| {
                let session = judged.session.as_deref().and_then(|id| numbers.get(id)).copied();
                history::taken(
                    &judged.reading,
                    &judged.judgement,
                    session,
                    &stated.notes,
                    &stated.zones,
                )
            })
            .collect();
        Ok(History {
            readings,
            taken,
            sessions,
        })
    }

    /// Ids of readings that begin so, up to `limit` of them.
    pub fn reading_ids(&mut self, beginning: &str, limit: usize) -> Result<Vec<ReadingId>, JournalError> {
        self.on_derived(|db| {
            // Everything with this beginning lies between it and itself with the last character there is.
            db.prepare_cached(
                "SELECT id FROM reading WHERE id >= ?1 AND id < ?1 || char(1114111) ORDER BY id LIMIT ?2",
            )?
            .query_map(
                params![beginning, i64::try_from(limit).unwrap_or(i64::MAX)],
                |row| row.get(0).map(ReadingId),
            )?
            .collect()
        })
    }

    /// How many readings between two moments are nobody's yet; those of unknown time by their receipt.
    pub fn nobodys(&mut self, from: Timestamp, to: Timestamp) -> Result<i64, JournalError> {
        self.on_derived(|db| {
            db.prepare_cached(
                "SELECT count(*) FROM reading WHERE person IS NULL
                   AND coalesce(measured_us, received_us) >= ?1 AND coalesce(measured_us, received_us) < ?2",
            )?
            .query_row(params![from.as_microsecond(), to.as_microsecond()], |row| {
                row.get(0)
            })
        })
    }

    /// Every monitor that a reading came from.
    pub fn monitors_heard(&mut self) -> Result<Vec<MonitorId>, JournalError> {
        self.on_derived(|db| {
            db.prepare_cached("SELECT DISTINCT monitor FROM connection ORDER BY monitor")?
                .query_map([], |row| {
                    MonitorId::try_from(row.get::<_, String>(0)?).map_err(wrong)
                })?
                .collect()
        })
    }

    /// How many measurements a monitor has made, and when the first was taken, as far as that is known.
    pub fn used(&mut self, monitor: &MonitorId) -> Result<(u64, Option<Timestamp>), JournalError> {
        let (count, first): (i64, Option<i64>) = self.on_derived(|db| {
            db.query_row(
                "SELECT count(*), min(coalesce(measured_us, received_us)) FROM reading WHERE monitor = ?1",
                [monitor.as_str()],
                |row| Ok((row.get(0)?, row.get(1)?)),
            )
        })?;
        let first = first.and_then(|at| Timestamp::from_microsecond(at).ok());
        Ok((u64::try_from(count).unwrap_or(0), first))
    }
}

/// Reads the rows that are wanted, ordered by time, until `each` says `false`.
fn rows(
    db: &Connection,
    (which, when): (&str, &str),
    wanted: &Wanted,
    each: &mut dyn FnMut(JudgedReading) -> bool,
) -> rusqlite::Result<()> {
    let micros = |at: Option<Timestamp>, open: i64| at.map_or(open, Timestamp::as_microsecond);
    let mut query = db.prepare_cached(&format!(
        "{JUDGED} WHERE {which} AND {when} ORDER BY measured_us NULLS LAST, received_us, id"
    ))?;
    let mut rows = query.query(params![
        wanted.person.as_ref().map(PersonId::as_str),
        micros(wanted.from, i64::MIN),
        micros(wanted.to, i64::MAX),
        wanted.id,
        wanted.any_time(),
    ])?;
    while let Some(row) = rows.next()? {
        if !each(judged(row)?) {
            break;
        }
    }
    Ok(())
}

fn gathered(db: &Connection, which: (&str, &str), wanted: &Wanted) -> rusqlite::Result<Vec<JudgedReading>> {
    let mut readings = Vec::new();
    rows(db, which, wanted, &mut |reading| {
        readings.push(reading);
        true
    })?;
    Ok(readings)
}

pub(super) fn judged(row: &Row<'_>) -> rusqlite::Result<JudgedReading> {
    let disposition = match row.get_ref(19)?.as_str()? {
        "counted" => Disposition::Counted,
        "marked" => Disposition::Marked,
        "set-aside" => Disposition::SetAside,
        _ => return Err(no_such("disposition")),
    };
    let reasons = row
        .get_ref(20)?
        .as_str()?
        .split_ascii_whitespace()
        .map(|name| Reason::from_name(name).ok_or_else(|| no_such("reason")))
        .collect::<rusqlite::Result<Reasons>>()?;
    let mean_arterial_pressure = row.get::<_, Option<u16>>(21)?.map(Sfloat::from_bits);
    Ok(JudgedReading {
        reading: spot_of(row)?.reading,
        judgement: Judgement {
            disposition,
            reasons,
            mean_arterial_pressure,
        },
        session: row.get(22)?,
        frame: row.get(23)?,
    })
}

pub(super) fn session_of(row: &Row<'_>) -> rusqlite::Result<Session> {
    let slot = row.get_ref(5)?.as_str()?;
    Ok(Session {
        id: SessionId(row.get(0)?),
        person: PersonId::try_from(row.get::<_, String>(1)?).map_err(wrong)?,
        start: Timestamp::from_microsecond(row.get(2)?).map_err(wrong)?,
        end: Timestamp::from_microsecond(row.get(3)?).map_err(wrong)?,
        date: row
            .get::<_, String>(4)?
            .parse()
            .map_err(|e: jiff::Error| wrong(e))?,
        slot: [Slot::Morning, Slot::Evening, Slot::Other]
            .into_iter()
            .find(|known| known.name() == slot)
            .ok_or_else(|| no_such("slot"))?,
        readings: Vec::new(),
        counted: usize::try_from(row.get::<_, i64>(6)?).map_err(wrong)?,
        wanted: usize::try_from(row.get::<_, i64>(7)?).map_err(wrong)?,
        apart: row.get(8)?,
        irregular_pulse: row.get(9)?,
    })
}

/// A word that this program never wrote there.
fn no_such(what: &str) -> rusqlite::Error {
    derived::wrong(format!("there is no such {what}").into())
}

fn wrong(error: impl std::error::Error + Send + Sync + 'static) -> rusqlite::Error {
    rusqlite::Error::FromSqlConversionFailure(0, rusqlite::types::Type::Text, Box::new(error))
}
