//! From frames and statements to readings, sessions and judgements: everything in the file that is derived.
//!
//! The core does the thinking; this file decides how much of it has to be done again. What a new frame changes is its
//! own connection and those behind it of the same monitor, and so does a statement about one reading; of the judgements
//! only the sittings that readings joined or left. So a new reading costs the same with a thousand readings behind it as with a million, and throwing
//! everything away and settling again gives the same rows.

use super::basis::Basis;
use super::derived::{self, Spot};
use super::{Journal, JournalError};
use crate::frame::{Frame, Uptime};
use crate::household::{MonitorAddress, MonitorId, PersonId, Statement};
use crate::monitoring::protocol::Protocol;
use crate::monitoring::stated::Stated;
use crate::reading::{CONNECTION_SILENCE_MAX, ClockSample, Connection, GatewayClock, Past, Received};
use crate::sitting::{self, SITTING_GAP, SessionRule, Windows};
use crate::technique::{self, Context, NOTES_AHEAD, NOTES_BACK};
use jiff::Timestamp;
use rusqlite::{Connection as Db, Transaction, TransactionBehavior, params};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// Spots of one person that lie closer together than this are judged in one go. A day keeps the queries few in a
/// replay of years without reading much that did not change.
const TOGETHER_US: i64 = 86_400_000_000;

/// What settling did.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub struct Settlement {
    /// Everything was thrown away first.
    pub rebuilt: bool,
    /// Connections that were settled.
    pub connections: usize,
    /// Readings that were written.
    pub readings: usize,
}

/// How the derived tables are filled: what they depend on.
struct World {
    stated: Arc<Stated>,
    gateway: GatewayClock,
    /// Boots whose wall clock was set while they ran, each with the most that it was ahead of the boot-time clock.
    mended_boots: BTreeMap<String, i64>,
}

/// How far the derived tables reach.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
struct Reach {
    frames: i64,
    statements: i64,
    samples: i64,
}

impl Journal {
    /// Brings everything derived up to date with the frames and statements.
    pub fn settle(&mut self) -> Result<Settlement, JournalError> {
        let (settlement, because) = self.settle_because()?;
        if let Some(because) = because {
            let path = self.path.display();
            tracing::info!("{path}: every reading was made anew, because this changed: {because}");
        }
        Ok(settlement)
    }

    /// The same, and where all that had been derived rested on something else, on what.
    pub(super) fn settle_because(&mut self) -> Result<(Settlement, Option<String>), JournalError> {
        if self.is_settled()? {
            return Ok((Settlement::default(), None));
        }
        // From here on nobody else writes: what is read belongs together.
        let transaction = Transaction::new_unchecked(&self.db, TransactionBehavior::Immediate)
            .map_err(|e| JournalError::from_sqlite(&self.path, e))?;
        let (reach, due) = (self.in_context(Reach::stands)?, self.in_context(Reach::due)?);
        let (rested, rests) = (self.in_context(Basis::kept)?, Basis::here());
        let world = self.world()?;
        let settlement = self.in_context(|db| {
            let settlement = world.settle(db, reach, due, rested != *rests)?;
            due.write(db)?;
            rests.write(db)?;
            Ok(settlement)
        })?;
        self.in_context(|_| transaction.commit())?;
        let anew = rested != *rests && reach.frames > 0;
        Ok((settlement, anew.then(|| rests.since(&rested))))
    }

    /// Whether everything derived is up to date.
    pub(super) fn is_settled(&self) -> Result<bool, JournalError> {
        Ok(self.in_context(Reach::stands)? == self.in_context(Reach::due)?
            && self.in_context(Basis::kept)? == *Basis::here())
    }

    /// Throws away everything derived and makes it again.
    pub fn rebuild(&mut self) -> Result<Settlement, JournalError> {
        self.in_context(|db| db.execute_batch("DELETE FROM settled"))?;
        self.settle()
    }

    fn world(&self) -> Result<World, JournalError> {
        let samples = self.in_context(samples)?;
        let mended_boots = mended_boots(&samples);
        Ok(World {
            stated: self.stated()?,
            gateway: GatewayClock::new(samples),
            mended_boots,
        })
    }
}

/// How many of a table's rows, all of them in order of their numbers, had been settled. A number is no place in that
/// order: a journal that was recovered lacks some.
fn old_of(db: &Db, table: &str, reach: i64, all: usize) -> rusqlite::Result<usize> {
    let new: i64 = db
        .prepare_cached(&format!("SELECT count(*) FROM {table} WHERE id > ?1"))?
        .query_row([reach], |row| row.get(0))?;
    Ok(all.saturating_sub(usize::try_from(new).unwrap_or(all)))
}

impl Reach {
    fn stands(db: &Db) -> rusqlite::Result<Self> {
        let mut query = db.prepare_cached("SELECT name, value FROM settled")?;
        let mut reach = Self::default();
        let mut rows = query.query([])?;
        while let Some(row) = rows.next()? {
            let value = row.get(1)?;
            match row.get_ref(0)?.as_str().unwrap_or_default() {
                "frames" => reach.frames = value,
                "statements" => reach.statements = value,
                "samples" => reach.samples = value,
                _ => {}
            }
        }
        Ok(reach)
    }

    fn due(db: &Db) -> rusqlite::Result<Self> {
        let last = |table: &str| -> rusqlite::Result<i64> {
            db.prepare_cached(&format!("SELECT coalesce(max(id), 0) FROM {table}"))?
                .query_row([], |row| row.get(0))
        };
        Ok(Self {
            frames: last("frame")?,
            statements: last("statement")?,
            samples: last("gateway_clock")?,
        })
    }

    fn write(self, db: &Db) -> rusqlite::Result<()> {
        let mut write = db.prepare_cached("INSERT OR REPLACE INTO settled (name, value) VALUES (?1, ?2)")?;
        for (name, value) in [
            ("frames", self.frames),
            ("statements", self.statements),
            ("samples", self.samples),
        ] {
            write.execute(params![name, value])?;
        }
        Ok(())
    }
}

fn samples(db: &Db) -> rusqlite::Result<Vec<ClockSample>> {
    let mut query =
        db.prepare_cached("SELECT boot, uptime_us, wall_us, synchronized FROM gateway_clock ORDER BY id")?;
    let rows = query.query_map([], |row| {
        Ok((
            row.get::<_, String>(0)?,
            row.get::<_, i64>(1)?,
            row.get::<_, i64>(2)?,
            row.get::<_, bool>(3)?,
        ))
    })?;
    let mut samples = Vec::new();
    for row in rows {
        let (boot, micros, wall, synchronized) = row?;
        if let Ok(wall) = Timestamp::from_microsecond(wall) {
            samples.push(ClockSample {
                uptime: Uptime { boot, micros },
                wall,
                synchronized,
            });
        }
    }
    Ok(samples)
}

/// Only in these can a receipt be other than it says.
fn mended_boots(samples: &[ClockSample]) -> BTreeMap<String, i64> {
    let mut spread: BTreeMap<&str, (i64, i64)> = BTreeMap::new();
    for sample in samples {
        let ahead = sample.wall.as_microsecond().saturating_sub(sample.uptime.micros);
        let (least, most) = spread.entry(&sample.uptime.boot).or_insert((ahead, ahead));
        *least = ahead.min(*least);
        *most = ahead.max(*most);
    }
    let limit = i64::try_from(crate::reading::RECEIPT_ERROR_MAX.as_micros()).unwrap_or(i64::MAX);
    spread
        .into_iter()
        .filter(|(_, (least, most))| most - least > limit)
        .map(|(boot, (_, most))| (boot.to_owned(), most))
        .collect()
}

/// Spans of time in which a person's readings have to be judged anew.
type Spots = BTreeMap<PersonId, BTreeSet<i64>>;

impl World {
    fn settle(
        &self,
        db: &Db,
        reach: Reach,
        due: Reach,
        rests_elsewhere: bool,
    ) -> rusqlite::Result<Settlement> {
        let mut settlement = Settlement::default();
        let mut spots = Spots::new();
        let new = self.stated.since(reach.statements);
        let nothing_yet = reach.frames == 0;
        let moved = rests_elsewhere
            || (reach.samples != due.samples && self.receipts_moved(db, reach)?)
            || new.iter().any(|row| settles_anew(&row.statement));
        let mut reach = reach;
        if moved && !nothing_yet || rests_elsewhere || reach == Reach::default() {
            derived::clear(db)?;
            reach.frames = 0;
            settlement.rebuilt = true;
        } else {
            for row in new {
                self.judges_anew(db, &row.statement, &mut spots)?;
            }
        }
        // After a clearing every frame is news, and there is no reading yet to look for.
        let about = new.iter().filter_map(|row| reading_of(&row.statement));
        let about: BTreeSet<&str> = about.collect();
        for (monitor, addresses, from) in self.monitors_with_news(db, reach, &about)? {
            // Judged while what was written is still at hand. A sitting that another monitor has a part in is judged
            // again behind that one.
            let mut its_spots = Spots::new();
            self.settle_monitor(db, &monitor, &addresses, from, &mut its_spots, &mut settlement)?;
            self.judge(db, &its_spots)?;
        }
        self.judge(db, &spots)?;
        Ok(settlement)
    }

    /// Whether a frame that is settled already has another receipt, or one that is worth more or less, now that more is
    /// known of the gateway's clock.
    fn receipts_moved(&self, db: &Db, reach: Reach) -> rusqlite::Result<bool> {
        let samples = samples(db)?;
        let (old, new) = samples.split_at(old_of(db, "gateway_clock", reach.samples, samples.len())?);
        let before = GatewayClock::new(old.iter().cloned());
        if before.ever_knew() != self.gateway.ever_knew()
            && derived::boots(db, reach.frames)?
                .iter()
                .any(|boot| before.knew_in(boot) != self.gateway.knew_in(boot))
        {
            return Ok(true);
        }
        let sampled: BTreeSet<&str> = new.iter().map(|sample| sample.uptime.boot.as_str()).collect();
        for boot in sampled {
            let proven = before.knew_in(boot) != self.gateway.knew_in(boot);
            if !proven && !self.mended_boots.contains_key(boot) {
                continue;
            }
            let mut moved = false;
            derived::frames_of_boot(db, boot, reach.frames, |frame| {
                moved = proven || before.received_at(&frame) != self.gateway.received_at(&frame);
                !moved
            })?;
            if moved {
                return Ok(true);
            }
        }
        Ok(false)
    }

    /// Each monitor that has new frames, or a reading that something was stated about, with all of its addresses and the
    /// mended receipt of the earliest.
    fn monitors_with_news(
        &self,
        db: &Db,
        reach: Reach,
        about: &BTreeSet<&str>,
    ) -> rusqlite::Result<Vec<(MonitorId, BTreeSet<MonitorAddress>, i64)>> {
        let mut news: BTreeMap<MonitorId, i64> = BTreeMap::new();
        let mut addresses: BTreeMap<MonitorId, BTreeSet<MonitorAddress>> = BTreeMap::new();
        let mut tell = |address: MonitorAddress, earliest: i64| {
            let monitor = self.stated.household.monitor_at(&address);
            let from = news.entry(monitor.clone()).or_insert(i64::MAX);
            *from = earliest.min(*from);
            addresses.entry(monitor).or_default().insert(address);
        };
        if self.mended_boots.is_empty() {
            for (address, earliest) in derived::news(db, reach.frames)? {
                tell(address, earliest);
            }
        } else {
            derived::frames_after(db, reach.frames, |frame| {
                let at = self.gateway.received_at(&frame).as_microsecond();
                tell(frame.monitor, at);
            })?;
        }
        for reading in about {
            if let Some((address, connection)) = derived::source_of(db, reading)? {
                tell(address, connection);
            }
        }
        for (address, monitor) in &self.stated.household.addresses {
            if news.contains_key(monitor) {
                addresses
                    .entry(monitor.clone())
                    .or_default()
                    .insert(address.clone());
            }
        }
        Ok(news
            .into_iter()
            .map(|(monitor, from)| {
                let addresses = addresses.remove(&monitor).unwrap_or_default();
                (monitor, addresses, from)
            })
            .collect())
    }

    fn settle_monitor(
        &self,
        db: &Db,
        monitor: &MonitorId,
        addresses: &BTreeSet<MonitorAddress>,
        from: i64,
        spots: &mut Spots,
        settlement: &mut Settlement,
    ) -> rusqlite::Result<()> {
        // A connection that had not ended for certain when the new frames came may be theirs.
        let silence = i64::try_from(CONNECTION_SILENCE_MAX.as_micros()).unwrap_or(i64::MAX);
        let mut resume = derived::first_connection_ending_after(db, monitor, from - silence)?
            .map_or(from, |at| at.min(from));
        // One that ended in the very moment at which this one began has its last frames there.
        while let Some(earlier) =
            derived::first_connection_ending_after(db, monitor, resume)?.filter(|earlier| *earlier < resume)
        {
            resume = earlier;
        }
        for (person, at) in derived::forget_from(db, monitor, resume)? {
            spots.entry(person).or_default().insert(at);
        }
        let mut past = derived::past_before(db, monitor, resume)?;
        let mut frames: Vec<(i64, Timestamp, Frame)> = Vec::new();
        let mut failed = Ok(());
        let mut take = |id: i64, at: Timestamp, frame: Frame| {
            let goes_on = frames.last().is_none_or(|(_, last, before)| {
                before.connection == frame.connection
                    && before.monitor == frame.monitor
                    && at.duration_since(*last) <= CONNECTION_SILENCE_MAX
            });
            if !goes_on {
                failed = self.settle_connection(db, monitor, &frames, &mut past, spots, settlement);
                frames.clear();
            }
            frames.push((id, at, frame));
            failed.is_ok()
        };
        if self.mended_boots.is_empty() && addresses.len() == 1 {
            // Straight off the index, in the order that is wanted.
            for address in addresses {
                derived::frames_from(db, address, resume, |id, frame| {
                    take(id, frame.received_at, frame)
                })?;
            }
        } else {
            let mut all = Vec::new();
            for address in addresses {
                let mut found = BTreeMap::new();
                derived::frames_from(db, address, resume, |id, frame| {
                    found.insert(id, frame);
                    true
                })?;
                // What was received by a wrong clock may stand behind this moment all the same.
                for (boot, ahead) in &self.mended_boots {
                    derived::frames_of_boot_from(
                        db,
                        boot,
                        address,
                        resume.saturating_sub(*ahead),
                        |id, frame| {
                            found.insert(id, frame);
                        },
                    )?;
                }
                for (id, frame) in found {
                    let at = self.gateway.received_at(&frame);
                    if at.as_microsecond() >= resume {
                        all.push((id, at, frame));
                    }
                }
            }
            all.sort_unstable_by(|(_, at, frame), (_, other_at, other)| {
                let received = |at: Timestamp, frame| Received {
                    at,
                    known: self.gateway.knew(frame),
                    frame,
                };
                received(*at, frame).order(&received(*other_at, other))
            });
            for (id, at, frame) in all {
                if !take(id, at, frame) {
                    break;
                }
            }
        }
        failed?;
        self.settle_connection(db, monitor, &frames, &mut past, spots, settlement)
    }

    fn settle_connection(
        &self,
        db: &Db,
        monitor: &MonitorId,
        frames: &[(i64, Timestamp, Frame)],
        past: &mut Past,
        spots: &mut Spots,
        settlement: &mut Settlement,
    ) -> rusqlite::Result<()> {
        let (Some((_, started, first)), Some((_, ended, _))) = (frames.first(), frames.last()) else {
            return Ok(());
        };
        let received: Vec<Received<'_>> = frames
            .iter()
            .map(|(_, at, frame)| Received {
                at: *at,
                known: self.gateway.knew(frame),
                frame,
            })
            .collect();
        let heard = derived::HeardInJournal::new(db, monitor);
        let settled = Connection::settle(
            &received,
            monitor,
            past,
            &heard,
            &self.stated.household,
            &self.stated.zones,
        );
        heard.failure()?;
        derived::write_connection(db, monitor, (*started, *ended), first, &settled)?;
        for one in &settled.readings {
            let Some((frame, ..)) = frames.get(one.frame) else {
                continue;
            };
            let row = derived::write_reading(db, *frame, *started, one)?;
            settlement.readings += 1;
            match (&one.reading.person, one.reading.time.at) {
                (Some(person), Some(at)) => {
                    spots
                        .entry(person.clone())
                        .or_default()
                        .insert(at.as_microsecond());
                }
                // Without a person or a time it belongs to no sitting but its own.
                _ => self.judge_sitting(
                    db,
                    &[Spot {
                        row,
                        reading: one.reading.clone(),
                    }],
                )?,
            }
        }
        settlement.connections += 1;
        *past = settled.past;
        Ok(())
    }

    /// Judges the sittings around these spots.
    fn judge(&self, db: &Db, spots: &Spots) -> rusqlite::Result<()> {
        let gap = i64::try_from(SITTING_GAP.as_micros()).unwrap_or(i64::MAX);
        for (person, spots) in spots {
            let mut spots = spots.iter().copied().peekable();
            while let Some(first) = spots.next() {
                let mut last = first;
                while let Some(next) = spots.next_if(|next| next - last <= TOGETHER_US) {
                    last = next;
                }
                let (from, to) = derived::widen(db, person, first, last, gap)?;
                derived::forget_sessions(db, person, from, to)?;
                let mut sitting: Vec<Spot> = Vec::new();
                let mut failed = Ok(());
                derived::readings_between(db, person, from, to, |spot| {
                    let goes_on = sitting.last().is_none_or(|before| {
                        let between = before.reading.time.at.zip(spot.reading.time.at);
                        between.is_some_and(|(before, after)| after.duration_since(before) <= SITTING_GAP)
                    });
                    if !goes_on {
                        failed = self.judge_sitting(db, &sitting);
                        sitting.clear();
                    }
                    sitting.push(spot);
                    failed.is_ok()
                })?;
                failed?;
                self.judge_sitting(db, &sitting)?;
            }
        }
        Ok(())
    }

    fn judge_sitting(&self, db: &Db, sitting: &[Spot]) -> rusqlite::Result<()> {
        if sitting.is_empty() {
            return Ok(());
        }
        let readings: Vec<_> = sitting.iter().map(|spot| spot.reading.clone()).collect();
        debug_assert!(readings.is_sorted_by(|a, b| sitting::order(a, b).is_le()));
        let first = sitting.first().map(|spot| &spot.reading);
        let at = first
            .and_then(|reading| reading.time.at.or(Some(reading.received_at)))
            .unwrap_or_default();
        let context = Context {
            household: &self.stated.household,
            notes: &self.stated.notes,
            zone: self.stated.zones.at(at),
            rule: self.rule_of(first.and_then(|reading| reading.person.as_ref()), at),
        };
        let judged = technique::judge(&readings, &context);
        for (spot, judgement) in sitting.iter().zip(&judged.judgements) {
            derived::write_judgement(db, spot.row, judgement, judged.session.as_ref())?;
        }
        if let Some(session) = &judged.session {
            derived::write_session(db, session)?;
        }
        Ok(())
    }

    /// What a session of that moment is judged by: the protocol of the period that it falls in, else the person's own.
    fn rule_of(&self, person: Option<&PersonId>, at: Timestamp) -> SessionRule {
        let details = person.and_then(|person| self.stated.person(person));
        let windows = Windows::of(details);
        let day = windows.measuring_day(self.stated.zones.civil(at));
        let planned = person
            .and_then(|person| self.stated.plans(person).iter().find(|plan| plan.covers(day)))
            .map(|plan| plan.protocol.as_str());
        let own = details.and_then(|person| person.protocol.as_deref());
        planned
            .or(own)
            .and_then(|name| self.stated.protocols.get(name).ok())
            .map_or_else(SessionRule::default, Protocol::session_rule)
    }

    /// A statement that changes no reading may still change how some are judged.
    fn judges_anew(&self, db: &Db, statement: &Statement, spots: &mut Spots) -> rusqlite::Result<()> {
        match statement {
            // One stated again is elsewhere now, one taken back was where it was stated.
            Statement::Note { note, .. } | Statement::NoteWithdrawn { note } => {
                let span = |d: jiff::SignedDuration| i64::try_from(d.as_micros()).unwrap_or(i64::MAX);
                for row in self.stated.rows() {
                    let Statement::Note {
                        note: same,
                        person,
                        at,
                        ..
                    } = &row.statement
                    else {
                        continue;
                    };
                    if same != note {
                        continue;
                    }
                    let from = at.as_microsecond() - span(NOTES_AHEAD);
                    let to = at.as_microsecond() + span(NOTES_BACK);
                    let whose = match person {
                        Some(person) => vec![person.clone()],
                        None => derived::people(db)?,
                    };
                    for person in whose {
                        let times = spots.entry(person.clone()).or_default();
                        derived::times_between(db, &person, from, to, times)?;
                    }
                }
            }
            Statement::Person { person, .. }
            | Statement::PersonRemoved { person }
            | Statement::Period { person, .. } => {
                self.judges_all_of(db, person, spots)?;
            }
            Statement::ClinicProtocol { .. } => {
                for person in derived::people(db)? {
                    self.judges_all_of(db, &person, spots)?;
                }
            }
            _ => {}
        }
        Ok(())
    }

    fn judges_all_of(&self, db: &Db, person: &PersonId, spots: &mut Spots) -> rusqlite::Result<()> {
        let times = spots.entry(person.clone()).or_default();
        derived::times_between(db, person, i64::MIN, i64::MAX, times)?;
        for spot in derived::undated(db, person)? {
            self.judge_sitting(db, &[spot])?;
        }
        Ok(())
    }
}

/// The one reading that a statement is about.
fn reading_of(statement: &Statement) -> Option<&str> {
    match statement {
        Statement::Assigned { reading, .. }
        | Statement::Timed { reading, .. }
        | Statement::Discarded { reading, .. }
        | Statement::ReadingKind { reading, .. } => Some(reading),
        _ => None,
    }
}

/// Whether a statement can change what many readings are: their time, their person, their monitor.
fn settles_anew(statement: &Statement) -> bool {
    match statement {
        Statement::Zone { .. }
        | Statement::Monitor { .. }
        | Statement::UserIndex { .. }
        | Statement::UsualPerson { .. } => true,
        Statement::Assigned { .. }
        | Statement::Timed { .. }
        | Statement::Discarded { .. }
        | Statement::ReadingKind { .. }
        | Statement::Person { .. }
        | Statement::PersonRemoved { .. }
        | Statement::MonitorForgotten { .. }
        | Statement::Note { .. }
        | Statement::NoteWithdrawn { .. }
        | Statement::AlertAnswered { .. }
        | Statement::ClinicProtocol { .. }
        | Statement::Period { .. } => false,
    }
}
