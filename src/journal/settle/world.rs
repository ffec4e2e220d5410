//! What the derived tables follow from beside the frames: the statements, and what is known of the gateway's clock.

use super::reach::{DerivedReach, old_of};
use crate::frame::Uptime;
use crate::journal::derived;
use crate::monitoring::stated::Stated;
use crate::reading::{ClockSample, GatewayClock};
use jiff::{SignedDuration, Timestamp};
use rusqlite::Connection as Db;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// How the derived tables are filled: what they depend on.
pub(super) struct World {
    pub(super) stated: Arc<Stated>,
    pub(super) gateway: GatewayClock,
    /// Boots whose wall clock was set while they ran, each with the most that it was ahead of the boot-time clock.
    pub(super) mended_boots: BTreeMap<String, i64>,
}

impl World {
    /// Reads the clock's samples; `stated` is what the household stated by now.
    pub(super) fn of(db: &Db, stated: Arc<Stated>) -> rusqlite::Result<Self> {
        let samples = samples(db)?;
        let mended_boots = mended_boots(&samples);
        Ok(Self {
            stated,
            gateway: GatewayClock::new(samples),
            mended_boots,
        })
    }

    /// Whether a frame that is settled already has another receipt, or one that is worth more or less, now that more is
    /// known of the gateway's clock.
    pub(super) fn receipts_moved(&self, db: &Db, reach: DerivedReach) -> rusqlite::Result<bool> {
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
}

/// What is known of the gateway's clock.
pub(in crate::journal) fn gateway(db: &Db) -> rusqlite::Result<GatewayClock> {
    samples(db).map(GatewayClock::new)
}

fn samples(db: &Db) -> rusqlite::Result<Vec<ClockSample>> {
    let mut query = db.prepare_cached(
        "SELECT boot, uptime_us, wall_us, synchronized, within_us FROM gateway_clock ORDER BY id",
    )?;
    let rows = query.query_map([], |row| {
        Ok((
            row.get::<_, String>(0)?,
            row.get::<_, i64>(1)?,
            row.get::<_, i64>(2)?,
            row.get::<_, bool>(3)?,
            row.get::<_, Option<i64>>(4)?,
        ))
    })?;
    let mut samples = Vec::new();
    for row in rows {
        let (boot, micros, wall, synchronized, within) = row?;
        if let Ok(wall) = Timestamp::from_microsecond(wall) {
            samples.push(ClockSample {
                uptime: Uptime { boot, micros },
                wall,
                synchronized,
                within: within.map(SignedDuration::from_micros),
            });
        }
    }
    Ok(samples)
}

/// Only in these can a receipt be other than it says.
fn mended_boots(samples: &[ClockSample]) -> BTreeMap<String, i64> {
    let mut spread: BTreeMap<&str, (i64, i64)> = BTreeMap::new();
    // Where the time was told, the wall clock may be anything.
    let told = samples.iter().filter(|sample| sample.within.is_some());
    let told: BTreeSet<&str> = told.map(|sample| sample.uptime.boot.as_str()).collect();
    for sample in samples {
        let ahead = sample.wall.as_microsecond().saturating_sub(sample.uptime.micros);
        let (least, most) = spread.entry(&sample.uptime.boot).or_insert((ahead, ahead));
        *least = ahead.min(*least);
        *most = ahead.max(*most);
    }
    let limit = i64::try_from(crate::reading::RECEIPT_ERROR_MAX.as_micros()).unwrap_or(i64::MAX);
    spread
        .into_iter()
        .filter(|(boot, (least, most))| most - least > limit || told.contains(boot))
        .map(|(boot, (_, most))| (boot.to_owned(), most))
        .collect()
}
