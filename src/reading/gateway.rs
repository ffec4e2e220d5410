//! The gateway's own clock: a small computer without a battery boots in the past and learns the time later.
//! Frames that the gateway received meanwhile carry a wrong receipt, beside a boot-time clock that nobody can
//! set.

use crate::frame::{Frame, Uptime};
use jiff::{SignedDuration, Timestamp};
use std::collections::{BTreeMap, BTreeSet};

/// The difference up to which a receipt stays as it is, although the boot-time clock says another time: a
/// synchronised clock is adjusted by fractions of a second all the time.
pub const RECEIPT_ERROR_MAX: SignedDuration = SignedDuration::from_secs(2);

/// By one part of so many a boot clock may run fast or slow (common practice: 50 parts in a million).
const DRIFT_PARTS: i64 = 20_000;

/// The wall clock held against the boot-time clock at one moment.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct ClockSample {
    /// The time of the boot-time clock.
    pub uptime: Uptime,
    /// The time of the wall clock at the same moment.
    pub wall: Timestamp,
    /// Whether the kernel said that the wall clock is synchronised.
    pub synchronized: bool,
    /// How far the time may be off, where it is not this machine's wall clock: where the record told it over the line.
    pub within: Option<SignedDuration>,
}

impl ClockSample {
    /// How far the time may be off where it was told, in microseconds.
    pub fn within_us(&self) -> Option<i64> {
        let within = self.within?.as_micros();
        Some(i64::try_from(within).unwrap_or(i64::MAX))
    }
}

/// How far a time may be off, in whole milliseconds; rather more than less.
pub fn whole_ms(within: SignedDuration) -> i64 {
    let ms = within.as_micros().saturating_add(999) / 1_000;
    i64::try_from(ms).unwrap_or(i64::MAX)
}

/// What is known of the gateway's clock through all of its boots.
#[derive(Clone, Debug, Default)]
pub struct GatewayClock {
    boots: BTreeMap<String, Vec<Seen>>,
    /// The boots in which another machine told the time.
    told: BTreeSet<String>,
    /// The boots in which the gateway's clock was ever synchronised.
    synchronized: BTreeSet<String>,
}

#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug)]
struct Seen {
    uptime_us: i64,
    /// Whether the time is known to be right: synchronised, or told.
    known: bool,
    /// The wall clock minus the boot-time clock, in microseconds.
    ahead_us: i64,
    within: Option<SignedDuration>,
}

impl GatewayClock {
    /// What all samples together say, in whichever order they stand.
    pub fn new(samples: impl IntoIterator<Item = ClockSample>) -> Self {
        let mut boots: BTreeMap<String, Vec<Seen>> = BTreeMap::new();
        let (mut synchronized, mut told) = (BTreeSet::new(), BTreeSet::new());
        for sample in samples {
            if sample.within.is_some() {
                told.insert(sample.uptime.boot.clone());
            }
            if sample.synchronized {
                synchronized.insert(sample.uptime.boot.clone());
            }
            boots.entry(sample.uptime.boot).or_default().push(Seen {
                uptime_us: sample.uptime.micros,
                known: sample.synchronized || sample.within.is_some(),
                within: sample.within,
                ahead_us: sample.wall.as_microsecond().saturating_sub(sample.uptime.micros),
            });
        }
        for seen in boots.values_mut() {
            seen.sort_unstable();
        }
        Self {
            boots,
            told,
            synchronized,
        }
    }

    /// Whether the clock that a frame's receipt rests on was known to be right at any time in the frame's
    /// boot, or the time was told in it. A frame without a boot comes from a file and stands as it says. A
    /// gateway whose kernel never said of any boot that it is synchronised has a clock that people keep, and
    /// nothing to tell its boots apart by.
    pub fn knew(&self, frame: &Frame) -> bool {
        frame
            .uptime
            .as_ref()
            .is_none_or(|uptime| self.knew_in(&uptime.boot))
    }

    /// Whether the clock was known to be right at any time in this boot, which is given by its id.
    pub fn knew_in(&self, boot: &str) -> bool {
        self.synchronized.is_empty() || self.synchronized.contains(boot) || self.told.contains(boot)
    }

    /// Whether the clock was ever synchronised in any boot.
    pub fn ever_knew(&self) -> bool {
        !self.synchronized.is_empty()
    }

    /// The moment at which a frame was received, by the best that is known now.
    ///
    /// Of the boot's samples that were synchronised or told the nearest to the frame counts, because both clocks run on one
    /// quartz and drift together while there is no network. In a boot that was never synchronised the last
    /// sample counts, where the samples show that somebody set the clock. Where they agree, a receipt that
    /// differs from them all came after a setting that the gateway did not live to sample, and stands as it
    /// says.
    pub fn received_at(&self, frame: &Frame) -> Timestamp {
        self.mended(frame).map_or(frame.received_at, |(at, _)| at)
    }

    /// How far off the moment may be that [`Self::received_at`] says, where it rests on a time that another machine told.
    pub fn within(&self, frame: &Frame) -> Option<SignedDuration> {
        self.mended(frame).and_then(|(_, within)| within)
    }

    /// The moment, where it is not the one that the frame says.
    fn mended(&self, frame: &Frame) -> Option<(Timestamp, Option<SignedDuration>)> {
        let uptime = frame.uptime.as_ref()?;
        let seen = self.boots.get(&uptime.boot)?;
        let best = seen
            .iter()
            .filter(|sample| sample.known)
            .min_by_key(|sample| sample.uptime_us.abs_diff(uptime.micros))
            .or_else(|| seen.last().filter(|_| was_set(seen)))?;
        let at = Timestamp::from_microsecond(best.ahead_us.checked_add(uptime.micros)?).ok()?;
        let drift = best.uptime_us.saturating_sub(uptime.micros).saturating_abs() / DRIFT_PARTS;
        let within = best
            .within
            .map(|within| within + SignedDuration::from_micros(drift));
        (at.duration_since(frame.received_at).abs() > RECEIPT_ERROR_MAX).then_some((at, within))
    }
}

/// Whether the samples of a boot show that its wall clock was set.
fn was_set(seen: &[Seen]) -> bool {
    let ahead = || seen.iter().map(|sample| sample.ahead_us);
    let spread = ahead()
        .max()
        .unwrap_or(0)
        .saturating_sub(ahead().min().unwrap_or(0));
    i128::from(spread) > RECEIPT_ERROR_MAX.as_micros()
}
