//! The gateway's own clock: a small computer without a battery boots in the past and learns the time later.
//! Frames that the gateway received meanwhile carry a wrong receipt, beside a boot-time clock that nobody can
//! set.

use crate::frame::{Frame, Uptime};
use jiff::{SignedDuration, Timestamp};
use std::collections::{BTreeMap, BTreeSet};

/// The difference up to which a receipt stays as it is, although the boot-time clock says another time: a
/// synchronised clock is adjusted by fractions of a second all the time.
pub const RECEIPT_ERROR_MAX: SignedDuration = SignedDuration::from_secs(2);

/// The wall clock held against the boot-time clock at one moment.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct ClockSample {
    /// The time of the boot-time clock.
    pub uptime: Uptime,
    /// The time of the wall clock at the same moment.
    pub wall: Timestamp,
    /// Whether the kernel said that the wall clock is synchronised.
    pub synchronized: bool,
}

/// What is known of the gateway's clock through all of its boots.
#[derive(Clone, Debug, Default)]
pub struct GatewayClock {
    boots: BTreeMap<String, Vec<Seen>>,
    /// The boots in which the gateway's clock was ever synchronised.
    synchronized: BTreeSet<String>,
}

#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug)]
struct Seen {
    uptime_us: i64,
    synchronized: bool,
    /// The wall clock minus the boot-time clock, in microseconds.
    ahead_us: i64,
}

impl GatewayClock {
    /// What all samples together say, in whichever order they stand.
    pub fn new(samples: impl IntoIterator<Item = ClockSample>) -> Self {
        let mut boots: BTreeMap<String, Vec<Seen>> = BTreeMap::new();
        let mut synchronized = BTreeSet::new();
        for sample in samples {
            if sample.synchronized {
                synchronized.insert(sample.uptime.boot.clone());
            }
            boots.entry(sample.uptime.boot).or_default().push(Seen {
                uptime_us: sample.uptime.micros,
                synchronized: sample.synchronized,
                ahead_us: sample.wall.as_microsecond().saturating_sub(sample.uptime.micros),
            });
        }
        for seen in boots.values_mut() {
            seen.sort_unstable();
        }
        Self { boots, synchronized }
    }

    /// Whether the clock that a frame's receipt rests on was known to be right at any time in the frame's
    /// boot. A frame without a boot comes from a file and stands as it says. A gateway whose kernel never
    /// said of any boot that it is synchronised has a clock that people keep, and nothing to tell its boots
    /// apart by.
    pub fn knew(&self, frame: &Frame) -> bool {
        frame
            .uptime
            .as_ref()
            .is_none_or(|uptime| self.knew_in(&uptime.boot))
    }

    /// Whether the clock was known to be right at any time in this boot, which is given by its id.
    pub fn knew_in(&self, boot: &str) -> bool {
        self.synchronized.is_empty() || self.synchronized.contains(boot)
    }

    /// Whether the clock was ever synchronised in any boot.
    pub fn ever_knew(&self) -> bool {
        !self.synchronized.is_empty()
    }

    /// The moment at which a frame was received, by the best that is known now.
    ///
    /// Of the boot's synchronised samples the nearest to the frame counts, because both clocks run on one
    /// quartz and drift together while there is no network. In a boot that was never synchronised the last
    /// sample counts, where the samples show that somebody set the clock. Where they agree, a receipt that
    /// differs from them all came after a setting that the gateway did not live to sample, and stands as it
    /// says.
    pub fn received_at(&self, frame: &Frame) -> Timestamp {
        let own = frame.received_at;
        let Some(uptime) = &frame.uptime else { return own };
        let Some(seen) = self.boots.get(&uptime.boot) else {
            return own;
        };
        let best = seen
            .iter()
            .filter(|sample| sample.synchronized)
            .min_by_key(|sample| sample.uptime_us.abs_diff(uptime.micros))
            .or_else(|| seen.last().filter(|_| was_set(seen)));
        let mended = best
            .and_then(|best| best.ahead_us.checked_add(uptime.micros))
            .and_then(|us| Timestamp::from_microsecond(us).ok());
        match mended {
            Some(mended) if mended.duration_since(own).abs() > RECEIPT_ERROR_MAX => mended,
            _ => own,
        }
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
