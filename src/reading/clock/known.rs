//! What is known of one of a monitor's clocks, and what the clock's stamps mean by that.

use jiff::civil::DateTime;
use serde::{Deserialize, Serialize};

/// The longest lag of a live reading, in seconds: a monitor advertises for up to three minutes after a
/// measurement, and the link takes its time (common practice).
pub const LIVE_LAG_S_MAX: i64 = 5 * 60;

/// The most by which two looks at one clock differ, in seconds: a clock without fractions is cut off to the
/// second, and the read takes up to a second. Offsets within it are the same offset, so that noise does not
/// stretch an interval.
pub const CLOCK_NOISE_S: i64 = 2;

/// The lag that a live reading has on a right clock, in seconds: the measurement ends, the monitor is found
/// and connected. Only what is beyond it can be the clock's.
pub const USUAL_LAG_S_MAX: i64 = 60;

/// The number of connections in a row with a longer lag after which the clock is losing: one reading, or two,
/// may be delayed.
pub const LATE_CONNECTIONS: u8 = 3;

/// What a quartz clock without temperature compensation gains or loses in a day, in seconds, generously
/// (common practice: 20 ppm, which is 2 s a day).
pub const DRIFT_S_A_DAY: i64 = 10;

/// The most that drift explains, in seconds, however long a monitor was silent.
pub const DRIFT_S_MAX: i64 = 10 * 60;

/// The number of settings of a clock that are remembered beside the current one: enough for records that were
/// kept in the monitor meanwhile.
const TIMELINES_KEPT: usize = 3;

pub(super) const DAY_S: i64 = 86_400;

/// What is known of one of a monitor's clocks.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct KnownClock {
    /// The timeline that the clock is on.
    pub current: Timeline,
    /// The timelines before the current one, newest first.
    pub earlier: Vec<Timeline>,
    /// The moment at which the current offset was last seen to hold, in seconds since 1970.
    pub seen_s: i64,
    /// How the current offset was seen at that moment.
    pub by: Evidence,
    /// Whether the clock's live readings have been coming later than usual.
    pub lateness: Lateness,
}

/// A row of connections whose live readings all came later than [`USUAL_LAG_S_MAX`].
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct Lateness {
    /// The moment at which the clock was last seen to be right, in seconds since 1970.
    pub since_s: i64,
    /// The number of connections in the row.
    pub connections: u8,
    /// The smallest excess over the usual lag in the row, in seconds.
    pub least_s: i64,
}

/// A stretch of time through which a clock ran without being set.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct Timeline {
    /// The seconds that are added to the clock's civil time, read as UTC, to get the moment.
    pub offset_s: i64,
    /// The setting with which the timeline began; `None` where none is known.
    pub began: Option<Setting>,
}

/// The setting of a clock, somewhere between two moments.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct Setting {
    /// The moment before which the clock was not set, in seconds since 1970.
    pub after_s: i64,
    /// The moment after which the clock was not set, in seconds since 1970.
    pub before_s: i64,
    /// Whether the clock was read before and after the setting on one connection: nothing else happened to it
    /// meanwhile.
    pub witnessed: bool,
}

/// How an offset is known.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Evidence {
    /// The clock was read.
    ClockRead,
    /// The stamp of a live reading agreed with its receipt.
    LiveReading,
}

/// The stamp of one measurement, in seconds on its axis.
#[derive(Clone, Copy)]
pub(super) struct Mark {
    /// The place of the measurement among those of the connection.
    pub(super) place: usize,
    pub(super) civil: DateTime,
    pub(super) stamp_s: i64,
    pub(super) received_s: i64,
}

/// What the live stamps of a connection tell.
pub(super) struct Live {
    /// The offset by which these stamps are live.
    pub(super) offset_s: i64,
    /// The smallest difference between receipt and stamp: no measurement is received before it was taken, so
    /// no offset can be larger.
    pub(super) least_s: i64,
    pub(super) first_s: i64,
    pub(super) last_s: i64,
}

impl Live {
    pub(super) fn among(
        marks: &[Mark],
        offset: impl Fn(&Mark) -> Option<i64>,
        ahead_max: impl Fn(&Mark) -> i64,
    ) -> Option<Self> {
        let mut live: Option<Self> = None;
        for mark in marks {
            let Some(offset_s) = offset(mark) else { continue };
            let difference = mark.received_s - mark.stamp_s;
            let lag = difference - offset_s;
            if lag < -ahead_max(mark) || lag > LIVE_LAG_S_MAX {
                continue;
            }
            live = Some(Self {
                offset_s,
                least_s: live.as_ref().map_or(difference, |l| l.least_s.min(difference)),
                first_s: live.as_ref().map_or(mark.received_s, |l| l.first_s),
                last_s: mark.received_s,
            });
        }
        live
    }
}

impl Timeline {
    fn holds(self, at: i64, latest: i64) -> bool {
        at <= latest && self.began.is_none_or(|began| at >= began.after_s - CLOCK_NOISE_S)
    }
}

/// The most that a clock can gain or lose in a time, both in seconds.
fn drift(silent_s: i64) -> i64 {
    let silent_s = silent_s.max(0);
    (silent_s / DAY_S * DRIFT_S_A_DAY + silent_s % DAY_S * DRIFT_S_A_DAY / DAY_S).min(DRIFT_S_MAX)
}

impl Lateness {
    fn none(since_s: i64) -> Self {
        Self {
            since_s,
            connections: 0,
            least_s: 0,
        }
    }
}

impl KnownClock {
    pub(super) fn new(offset_s: i64, seen_s: i64, by: Evidence) -> Self {
        Self {
            current: Timeline {
                offset_s,
                began: None,
            },
            earlier: Vec::new(),
            seen_s,
            by,
            lateness: Lateness::none(seen_s),
        }
    }

    /// Notes that what is known of the clock is right at this moment.
    pub(super) fn seen(&mut self, at_s: i64, by: Evidence) {
        self.seen_s = at_s;
        self.by = by;
        self.lateness = Lateness::none(at_s);
    }

    /// The most that drift can explain since the clock was last seen, in seconds.
    pub(super) fn drift(&self, at_s: i64) -> i64 {
        drift(at_s - self.seen_s)
    }

    /// Begins a new timeline.
    pub(super) fn turn(&mut self, offset_s: i64, setting: Setting) {
        self.earlier.insert(0, self.current);
        self.earlier.truncate(TIMELINES_KEPT);
        self.current = Timeline {
            offset_s,
            began: Some(setting),
        };
    }

    /// Follows a clock that gains or loses. One that gains is seen at once, because no measurement is
    /// received before it was taken. One that loses looks like a delay; only several in a row tell it, and it
    /// is followed no farther than drift can explain.
    pub(super) fn renew(&mut self, live: &Live, usual_lag_s: i64) {
        let offset_s = &mut self.current.offset_s;
        *offset_s = (*offset_s).min(live.least_s + CLOCK_NOISE_S);
        let excess = live.least_s - usual_lag_s - *offset_s;
        if excess <= 0 {
            self.seen(live.last_s, Evidence::LiveReading);
            return;
        }
        self.seen_s = live.last_s;
        self.by = Evidence::LiveReading;
        let late = &mut self.lateness;
        late.least_s = if late.connections == 0 {
            excess
        } else {
            late.least_s.min(excess)
        };
        late.connections += 1;
        if late.connections >= LATE_CONNECTIONS {
            *offset_s += late.least_s.min(drift(live.last_s - late.since_s));
            *late = Lateness::none(live.last_s);
        }
    }

    /// Whether the clock was set around that moment and nobody saw it. Such a clock may have been set more
    /// than once, and have shown a third time in between.
    pub(super) fn set_unseen(&self, at_s: i64) -> bool {
        let began = self.current.began;
        began.is_some_and(|began| !began.witnessed && at_s < began.before_s)
    }

    /// The moment of a stamp in seconds since 1970, and whether it is on the current timeline. `None` where
    /// no timeline can hold it.
    pub(super) fn place(&self, mark: &Mark, ahead_s: i64) -> Option<(i64, bool)> {
        let latest = mark.received_s + ahead_s;
        let at = mark.stamp_s + self.current.offset_s;
        let began = self.current.began;
        let witnessed = began.is_some_and(|began| began.witnessed);
        if self.current.holds(at, latest) {
            // The reading may also have been taken before the clock was set, unless it is live. Where that
            // makes no more than a minute, it does not matter.
            let either = mark.received_s - at > LIVE_LAG_S_MAX
                && self.earlier.first().zip(began).is_some_and(|(old, began)| {
                    let before = mark.stamp_s + old.offset_s;
                    (before - at).abs() > USUAL_LAG_S_MAX && old.holds(before, began.before_s + ahead_s)
                });
            return (!either).then_some((at, true));
        }
        // The stamp is later than the clock itself: it is from a timeline before the clock was reset. Which
        // timeline can be told only where the setting was seen.
        if at > latest && !witnessed {
            return None;
        }
        let mut until = began?.before_s;
        for old in &self.earlier {
            let at = mark.stamp_s + old.offset_s;
            if old.holds(at, until + ahead_s) {
                return Some((at, false));
            }
            if at > until + ahead_s {
                return None;
            }
            until = old.began?.before_s;
        }
        None
    }
}
