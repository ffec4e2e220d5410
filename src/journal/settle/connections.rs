//! Settles connections: from a monitor's frames to readings, from the first connection on that something changes.

use super::judge::Spots;
use super::reach::DerivedReach;
use super::settlement::Settlement;
use super::world::World;
use crate::frame::Frame;
use crate::household::{MonitorAddress, MonitorId};
use crate::journal::derived::{self, ReadingRow};
use crate::reading::{CONNECTION_SILENCE_MAX, Connection, Past, Received};
use jiff::Timestamp;
use rusqlite::Connection as Db;
use std::collections::{BTreeMap, BTreeSet};

/// Readings that wait to be judged: a life's are not held in memory at once.
const SPOTS_MAX: usize = 8192;

/// Takes a frame with its row and its mended receipt; whether it wants more.
type Take<'t> = dyn FnMut(i64, Timestamp, Frame) -> bool + 't;

impl World {
    /// Each monitor that has new frames, or a reading that something was stated about, with all of its addresses and
    /// the mended receipt of the earliest.
    pub(super) fn monitors_with_news(
        &self,
        db: &Db,
        reach: DerivedReach,
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

    pub(super) fn settle_monitor(
        &self,
        db: &Db,
        monitor: &MonitorId,
        addresses: &BTreeSet<MonitorAddress>,
        from: i64,
        spots: &mut Spots,
        settlement: &mut Settlement,
    ) -> rusqlite::Result<()> {
        let resume = resume_at(db, monitor, from)?;
        for (person, at) in derived::forget_from(db, monitor, resume)? {
            spots.entry(person).or_default().insert(at);
        }
        let mut past = derived::past_before(db, monitor, resume)?;
        let mut frames: Vec<(i64, Timestamp, Frame)> = Vec::new();
        let mut failed = Ok(());
        self.frames_in_order(db, addresses, resume, &mut |id, at, frame| {
            let goes_on = frames.last().is_none_or(|(_, last, before)| {
                before.connection == frame.connection
                    && before.monitor == frame.monitor
                    && at.duration_since(*last) <= CONNECTION_SILENCE_MAX
            });
            if !goes_on {
                failed = self.settle_connection(db, monitor, &frames, &mut past, spots, settlement);
                frames.clear();
                if failed.is_ok() && spots.values().map(BTreeSet::len).sum::<usize>() >= SPOTS_MAX {
                    // Whatever joins one of these sittings later has it judged again.
                    failed = self.judge(db, spots);
                    spots.clear();
                }
            }
            frames.push((id, at, frame));
            failed.is_ok()
        })?;
        failed?;
        self.settle_connection(db, monitor, &frames, &mut past, spots, settlement)
    }

    /// Hands over the frames of these addresses from a moment on, in the order of their mended receipts.
    fn frames_in_order(
        &self,
        db: &Db,
        addresses: &BTreeSet<MonitorAddress>,
        resume: i64,
        take: &mut Take<'_>,
    ) -> rusqlite::Result<()> {
        if self.mended_boots.is_empty() && addresses.len() == 1 {
            // Straight off the index, in the order that is wanted.
            for address in addresses {
                derived::frames_from(db, address, resume, |id, frame| {
                    take(id, frame.received_at, frame)
                })?;
            }
            return Ok(());
        }
        let mut all = Vec::new();
        for address in addresses {
            let mut found = BTreeMap::new();
            derived::frames_from(db, address, resume, |id, frame| {
                found.insert(id, frame);
                true
            })?;
            // What was received by a wrong clock may stand behind this moment all the same.
            for (boot, ahead) in &self.mended_boots {
                let from = resume.saturating_sub(*ahead);
                derived::frames_of_boot_from(db, boot, address, from, |id, frame| {
                    found.insert(id, frame);
                })?;
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
        Ok(())
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
                    &[ReadingRow {
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
}

/// The start of the first connection that has to be settled again where frames came from this moment on.
fn resume_at(db: &Db, monitor: &MonitorId, from: i64) -> rusqlite::Result<i64> {
    // A connection that had not ended for certain when the new frames came may be theirs.
    let silence = i64::try_from(CONNECTION_SILENCE_MAX.as_micros()).unwrap_or(i64::MAX);
    let mut resume =
        derived::first_connection_ending_after(db, monitor, from - silence)?.map_or(from, |at| at.min(from));
    // One that ended in the very moment at which this one began has its last frames there.
    while let Some(earlier) =
        derived::first_connection_ending_after(db, monitor, resume)?.filter(|earlier| *earlier < resume)
    {
        resume = earlier;
    }
    Ok(resume)
}
