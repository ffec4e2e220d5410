//! The time of a measurement: a monitor's stamps held against the gateway's clock.
//!
//! This file is pure and looks forward only: what one connection tells is held against what the connections
//! before it taught. A stamp is a civil time without zone. All of this file counts seconds on one axis: a
//! stamp read as if it were UTC, plus an *offset*, gives a moment. On that axis a monitor that knows nothing
//! of summer time has one offset all year.
//!
//! 1. Where the monitor's clock was read on the connection, that gives the offset. For a stored stamp it is
//!    the clock's own only where a setting since the last look would have shown; else it is the offset that
//!    is known.
//! 2. Where the clock was not read, a stamp that agrees with its receipt is *live* and renews the offset
//!    known before. Every other stamp is *stored* and takes the offset that is known, or the household's wall
//!    clock. A lag is never taken for a clock error: a record that comes twelve hours late is late.
//! 3. Where there is no stamp, a single measurement takes the time of its receipt.
//! 4. What cannot be told stays [`TimeSource::Unknown`] and waits for a person.
//! 5. A receipt by a gateway's clock that was not known to be right in that boot proves nothing: no time is
//!    said to be held against it, what it says of the monitor's clock is believed only where that agrees with
//!    what was known or with the household's wall clock, and the next connection learns nothing of it.
//!
//! One connection has one offset, so that intervals between its readings are the monitor's own, to the
//! second.
//!
//! A clock that is set begins a new *timeline*. A record can be older than that, so each timeline keeps when
//! it began, and a stamp goes to the newest timeline on which its moment is possible.

mod known;

pub use known::{
    CLOCK_NOISE_S, DRIFT_S_A_DAY, DRIFT_S_MAX, Evidence, KnownClock, LATE_CONNECTIONS, LIVE_LAG_S_MAX,
    Lateness, Setting, Timeline, USUAL_LAG_S_MAX,
};

use super::{MeasuredTime, Precision, TimeSource};
use crate::household::{Moments, Zones};
use jiff::Timestamp;
use jiff::civil::DateTime;
use jiff::tz::Offset;
use known::{DAY_S, Live, Mark};
use serde::{Deserialize, Serialize};

/// How far a live stamp may lie ahead of its receipt, in seconds, where the monitor's clock cannot be read:
/// people set a clock to a minute or two (common practice). A stamp farther ahead cannot be live on a clock
/// that was set to the household's wall clock.
pub const AHEAD_S_MAX: i64 = 2 * 60;

/// How far a stamp may lie ahead of the monitor's own clock just read, in seconds, before it is from another
/// timeline.
pub const AHEAD_OF_OWN_CLOCK_S_MAX: i64 = 5;

/// The same limit in seconds where stamps have whole minutes, which may have been rounded up.
pub const AHEAD_OF_OWN_CLOCK_MINUTES_S_MAX: i64 = 30;

/// The age in days beyond which a stamp is an unset clock's, unless the monitor's clock was read: no home
/// protocol looks farther back than a year.
pub const AGE_DAYS_MAX: i64 = 400;

/// The longest lag, in days, of a stamp of a 1 January. A monitor without battery begins again at midnight of
/// some 1 January: stamps of such a day that come later than this are an unset clock's, unless the monitor's
/// clock was read. A true reading on a 1 January comes sooner.
pub const FIRST_OF_JANUARY_LAG_DAYS_MAX: i64 = 2;

/// The day on which the Blood Pressure Service was adopted, 2011-10-25, in seconds since 1970: nothing was
/// measured before it.
pub const FIRST_PLAUSIBLE_S: i64 = 1_319_500_800;

/// The shortest time, in seconds, in which a cuff can measure twice (common practice: inflating and deflating
/// takes half a minute). Records closer to each other than this were stored.
pub const MEASURING_S_MIN: i64 = 20;

/// One thing that a connection told about time, with its mended receipt. They stand in order of receipt.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct ToldOfTime {
    /// The mended moment of the receipt.
    pub received_at: Timestamp,
    /// What the connection told.
    pub told: TimeTold,
}

/// How far the receipts of a connection can be trusted.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Receipts {
    /// The gateway's clock was known to be right.
    Known,
    /// The gateway was never synchronised in that boot.
    Unsure,
}

/// What a frame tells about time.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum TimeTold {
    /// A measurement without a stamp.
    NoStamp,
    /// A measurement whose stamp is unset or impossible.
    ImpossibleStamp,
    /// A measurement with a stamp.
    Stamp(Stamp),
    /// The monitor's own clock, read on this connection.
    Clock {
        /// The one of the monitor's two clocks that was read.
        axis: Axis,
        /// The civil time that the clock showed.
        civil: DateTime,
    },
}

impl TimeTold {
    fn stamp(self) -> Option<DateTime> {
        match self {
            Self::Stamp(Stamp::Local(civil) | Stamp::Base(civil, _)) => Some(civil),
            _ => None,
        }
    }
}

/// The stamp of a measurement.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Stamp {
    /// The time of the monitor's display, from 0x2A35.
    Local(DateTime),
    /// The base time, from 0x2B34, and the time of the display where the monitor sends that too.
    Base(DateTime, Option<DateTime>),
}

/// A monitor has up to two clocks: the one that it shows (0x2A2B, 0x2A08, stamps of 0x2A35), and a base time
/// that nobody sets by hand and that may be UTC (0x2B90, stamps of 0x2B34).
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
#[expect(missing_docs, reason = "said above")]
pub enum Axis {
    Local,
    Base,
}

/// What is known of a monitor's clocks after a connection. It is all that the next connection needs of the
/// past.
#[derive(Clone, PartialEq, Eq, Debug, Default, Serialize, Deserialize)]
pub struct KnownClocks {
    /// The clock that the monitor shows; `None` while nothing is known of it.
    pub local: Option<KnownClock>,
    /// The monitor's base time; `None` while nothing is known of it.
    pub base: Option<KnownClock>,
    /// Whether some stamp had seconds other than 0, so that the monitor does not stamp whole minutes.
    pub seconds_shown: bool,
}

/// One look at the monitor's clock.
#[derive(Clone, Copy)]
struct Look {
    received_s: i64,
    offset_s: i64,
}

/// Settles the measurements of one connection, in their order, and says what is known of the clocks
/// afterwards. There is one time for each measurement.
pub fn settle(
    heard: &[ToldOfTime],
    receipts: Receipts,
    before: &KnownClocks,
    zones: &Zones,
) -> (Vec<MeasuredTime>, KnownClocks) {
    let mut after = before.clone();
    let measurements = || heard.iter().filter(|h| !matches!(h.told, TimeTold::Clock { .. }));
    let base_read = looks(heard, Axis::Base).next().is_some();
    let (mut local, mut base) = (Vec::new(), Vec::new());
    for (place, measurement) in measurements().enumerate() {
        if let Some((axis, mark)) = mark(place, measurement, base_read) {
            after.seconds_shown |= mark.civil.second() != 0;
            match axis {
                Axis::Local => local.push(mark),
                Axis::Base => base.push(mark),
            }
        }
    }
    let precision = if after.seconds_shown {
        Precision::Second
    } else {
        Precision::Minute
    };
    let mut times: Vec<MeasuredTime> = match receipts {
        Receipts::Known => by_receipt(measurements().copied()),
        Receipts::Unsure => measurements()
            .map(|h| MeasuredTime::unknown(h.told.stamp()))
            .collect(),
    };
    for (axis, marks, known) in [
        (Axis::Local, local, &mut after.local),
        (Axis::Base, base, &mut after.base),
    ] {
        let looks: Vec<Look> = looks(heard, axis).collect();
        let settling = Settling {
            axis,
            zones,
            precision,
            clock_read: !looks.is_empty(),
            followed: false,
            live: false,
        };
        match receipts {
            Receipts::Known => settling.run(&marks, &looks, known, &mut times),
            Receipts::Unsure => settling.run_unsure(&marks, &looks, known.as_ref(), &mut times),
        }
    }
    (times, after)
}

/// The times of measurements without stamp. The times of the others are unknown until their stamps are
/// settled.
fn by_receipt(measurements: impl Iterator<Item = ToldOfTime> + Clone) -> Vec<MeasuredTime> {
    let mut earlier: Option<Timestamp> = None;
    let mut later = measurements.clone().skip(1);
    measurements
        .map(|h| {
            let close = |other: Option<Timestamp>| {
                other.is_some_and(|other| {
                    h.received_at.duration_since(other).as_secs().abs() < MEASURING_S_MIN
                })
            };
            let possible = whole_seconds(h.received_at) >= FIRST_PLAUSIBLE_S;
            let alone = !close(earlier) && !close(later.next().map(|next| next.received_at));
            earlier = Some(h.received_at);
            let stamp = h.told.stamp();
            if h.told == TimeTold::NoStamp && possible && alone {
                MeasuredTime {
                    at: Some(h.received_at),
                    source: TimeSource::Receipt,
                    precision: Precision::Second,
                    stamp,
                    correction_s: 0,
                }
            } else {
                MeasuredTime::unknown(stamp)
            }
        })
        .collect()
}

fn mark(place: usize, heard: &ToldOfTime, base_read: bool) -> Option<(Axis, Mark)> {
    let TimeTold::Stamp(stamp) = heard.told else {
        return None;
    };
    let (axis, civil) = match stamp {
        Stamp::Local(civil) => (Axis::Local, civil),
        // The display's time is on the axis that most is known of, unless the base time itself was read.
        Stamp::Base(_, Some(shown)) if !base_read => (Axis::Local, shown),
        Stamp::Base(civil, _) => (Axis::Base, civil),
    };
    let mark = Mark {
        place,
        civil,
        stamp_s: whole_seconds(as_utc(civil)?),
        received_s: whole_seconds(heard.received_at),
    };
    Some((axis, mark))
}

fn looks(heard: &[ToldOfTime], wanted: Axis) -> impl Iterator<Item = Look> {
    heard.iter().filter_map(move |h| match h.told {
        TimeTold::Clock { axis, civil } if axis == wanted => {
            let difference = h.received_at.as_microsecond() - as_utc(civil)?.as_microsecond();
            Some(Look {
                received_s: whole_seconds(h.received_at),
                offset_s: difference.div_euclid(1_000_000),
            })
        }
        _ => None,
    })
}

fn as_utc(civil: DateTime) -> Option<Timestamp> {
    Offset::UTC.to_timestamp(civil).ok()
}

fn whole_seconds(at: Timestamp) -> i64 {
    at.as_microsecond().div_euclid(1_000_000)
}

fn moment(seconds: i64) -> Option<Timestamp> {
    Timestamp::from_second(seconds).ok()
}

impl MeasuredTime {
    fn unknown(stamp: Option<DateTime>) -> Self {
        Self {
            at: None,
            source: TimeSource::Unknown,
            precision: Precision::Second,
            stamp,
            correction_s: 0,
        }
    }

    /// The time with a moment that a person stated; the stamp stays.
    pub fn stated(self, at: Timestamp) -> Self {
        Self {
            at: Some(at),
            source: TimeSource::Stated,
            precision: Precision::Second,
            stamp: self.stamp,
            correction_s: 0,
        }
    }
}

/// The moment by what was known of the clock, whatever the receipt says. A stamp that lies farther from when
/// the clock was last seen than a stamp can be old is an unset clock's.
fn by_known_alone(mark: &Mark, known: &KnownClock) -> Option<(i64, TimeSource)> {
    let at = mark.stamp_s + known.current.offset_s;
    ((at - known.seen_s).abs() <= AGE_DAYS_MAX * DAY_S).then_some((at, TimeSource::KnownOffset))
}

/// The settling of one connection on one axis.
struct Settling<'a> {
    axis: Axis,
    zones: &'a Zones,
    precision: Precision,
    clock_read: bool,
    /// The clock was seen so lately that a setting since then would show: stored stamps are its own too.
    followed: bool,
    live: bool,
}

impl Settling<'_> {
    fn run(
        mut self,
        marks: &[Mark],
        looks: &[Look],
        known: &mut Option<KnownClock>,
        times: &mut [MeasuredTime],
    ) {
        self.renew(marks, looks, known);
        for mark in marks {
            let settled = self.place(mark, known.as_ref());
            if let Some(time) = times.get_mut(mark.place) {
                *time = self.measured(mark, settled);
            }
        }
    }

    /// Does what `run` does, where the gateway's own clock may be wrong by anything.
    fn run_unsure(
        mut self,
        marks: &[Mark],
        looks: &[Look],
        known: Option<&KnownClock>,
        times: &mut [MeasuredTime],
    ) {
        let mut told = known.cloned();
        self.renew(marks, looks, &mut told);
        let believed = self.confirms(told.as_ref(), known);
        for mark in marks {
            let settled = match known {
                _ if believed => self.place(mark, told.as_ref()),
                Some(known) => by_known_alone(mark, known),
                // Of a monitor that was never heard before, a wrong gateway would be taken for a wrong
                // monitor.
                None => self.place(mark, None),
            };
            // The time is only assumed: it is held against nothing that was known to be right.
            let settled = settled.map(|(at, source)| match source {
                TimeSource::MonitorClock => (at, TimeSource::KnownOffset),
                _ => (at, source),
            });
            if let Some(time) = times.get_mut(mark.place) {
                *time = self.measured(mark, settled);
            }
        }
    }

    /// Whether an unsure receipt shows the monitor's clock where it was known to be, or where the household's
    /// is. Two clocks that agree are not both wrong by chance.
    fn confirms(&self, told: Option<&KnownClock>, known: Option<&KnownClock>) -> bool {
        if !self.clock_read && !self.live {
            return false;
        }
        told.is_some_and(|told| {
            let near = |other: i64, limit: i64| (told.current.offset_s - other).abs() <= limit;
            known.is_some_and(|known| near(known.current.offset_s, CLOCK_NOISE_S + known.drift(told.seen_s)))
                || self
                    .wall_offset(told.seen_s)
                    .is_some_and(|wall| near(wall, USUAL_LAG_S_MAX))
        })
    }

    fn renew(&mut self, marks: &[Mark], looks: &[Look], known: &mut Option<KnownClock>) {
        if self.clock_read {
            self.followed = looks
                .first()
                .zip(known.as_ref())
                .is_some_and(|(look, clock)| clock.drift(look.received_s) <= USUAL_LAG_S_MAX);
            self.renew_by_looks(looks, known);
        } else {
            self.live = self.renew_by_live(marks, known);
        }
    }

    fn renew_by_looks(&self, looks: &[Look], known: &mut Option<KnownClock>) {
        let same = |a: &Look, b: &Look| (a.offset_s - b.offset_s).abs() <= CLOCK_NOISE_S;
        for (nth, run) in looks.chunk_by(same).enumerate() {
            let (Some(first), Some(last)) = (run.first(), run.last()) else {
                continue;
            };
            // A slow read only adds to the difference, so the smallest is the best.
            let seen = run.iter().map(|l| l.offset_s).min().unwrap_or(first.offset_s);
            let was = known.as_ref().map(|clock| clock.current.offset_s);
            let near = |other: Option<i64>| other.filter(|o| (seen - o).abs() <= CLOCK_NOISE_S);
            let offset_s = near(was)
                .or_else(|| near(self.wall_offset(first.received_s)))
                .unwrap_or(seen);
            match known {
                None => *known = Some(KnownClock::new(offset_s, last.received_s, Evidence::ClockRead)),
                Some(clock) => {
                    let witnessed = nth > 0;
                    let drift = if witnessed {
                        0
                    } else {
                        clock.drift(first.received_s)
                    };
                    if (offset_s - clock.current.offset_s).abs() > CLOCK_NOISE_S + drift {
                        self.turn(clock, offset_s, first.received_s, witnessed);
                    } else {
                        clock.current.offset_s = offset_s;
                    }
                    clock.seen(last.received_s, Evidence::ClockRead);
                }
            }
        }
    }

    /// Whether a live reading told the offset.
    fn renew_by_live(&self, marks: &[Mark], known: &mut Option<KnownClock>) -> bool {
        if let Some(clock) = known {
            let offset_s = clock.current.offset_s;
            let ahead = |m: &Mark| AHEAD_S_MAX + clock.drift(m.received_s);
            if let Some(live) = Live::among(marks, |_| Some(offset_s), ahead) {
                clock.renew(&live, self.usual_lag());
                return true;
            }
        }
        // Nothing agrees with what was known. What agrees with the household's wall clock, or with UTC on a
        // base time, was set to it since; it happens when summer time begins and ends, and after a change of
        // batteries.
        let wall = |m: &Mark| self.wall_offset_live(m);
        let live = Live::among(marks, wall, |_| AHEAD_S_MAX)
            .or_else(|| {
                let utc = |_: &Mark| (self.axis == Axis::Base).then_some(0);
                Live::among(marks, utc, |_| AHEAD_S_MAX)
            })
            .or_else(|| {
                // The clock may have been set back to where it was before, so that what was known says the
                // stamp lies in the future.
                let clock = known.as_ref()?;
                clock.earlier.iter().find_map(|earlier| {
                    let old = |m: &Mark| {
                        let future = m.stamp_s + clock.current.offset_s > m.received_s + AHEAD_S_MAX;
                        future.then_some(earlier.offset_s)
                    };
                    Live::among(marks, old, |_| AHEAD_S_MAX)
                })
            });
        let Some(live) = live else {
            return false;
        };
        // The stamp stands as it is, unless it lies after its receipt.
        let offset_s = live.offset_s.min(live.least_s + CLOCK_NOISE_S);
        match known {
            None => *known = Some(KnownClock::new(offset_s, live.last_s, Evidence::LiveReading)),
            Some(clock) => {
                self.turn(clock, offset_s, live.first_s, false);
                clock.seen(live.last_s, Evidence::LiveReading);
            }
        }
        true
    }

    /// Begins a new timeline: the clock was set between when it was last seen and `before_s`.
    fn turn(&self, clock: &mut KnownClock, offset_s: i64, before_s: i64, witnessed: bool) {
        let mut after_s = clock.seen_s;
        // The clock showed the household's time then and shows it now, and the household's time changed
        // between: then the clock was set with the household's clocks, not before them.
        let showed_wall = |offset: i64, at: i64| {
            self.wall_offset(at)
                .is_some_and(|wall| (wall - offset).abs() <= USUAL_LAG_S_MAX)
        };
        if showed_wall(clock.current.offset_s, clock.seen_s)
            && showed_wall(offset_s, before_s)
            && let (Some(then), Some(now)) = (moment(clock.seen_s), moment(before_s))
            && let Some(change) = self.zones.change_between(then, now)
        {
            after_s = after_s.max(whole_seconds(change));
        }
        clock.turn(
            offset_s,
            Setting {
                after_s,
                before_s,
                witnessed,
            },
        );
    }

    fn place(&self, mark: &Mark, known: Option<&KnownClock>) -> Option<(i64, TimeSource)> {
        let placed = match known {
            Some(clock) => {
                let ahead = if self.clock_read {
                    match self.precision {
                        Precision::Second => AHEAD_OF_OWN_CLOCK_S_MAX,
                        Precision::Minute => AHEAD_OF_OWN_CLOCK_MINUTES_S_MAX,
                    }
                } else {
                    AHEAD_S_MAX + clock.drift(mark.received_s)
                };
                let placed = clock.place(mark, ahead).map(|(at, current)| {
                    let fresh = mark.received_s - at <= LIVE_LAG_S_MAX;
                    let kept = self.clock_read && self.followed && !clock.set_unseen(at);
                    let seen = (self.clock_read || self.live) && fresh || kept;
                    let source = if current && seen {
                        TimeSource::MonitorClock
                    } else {
                        TimeSource::KnownOffset
                    };
                    (at, source)
                });
                let future = mark.stamp_s + clock.current.offset_s > mark.received_s + ahead;
                if placed.is_none() && future && !self.clock_read && !self.live {
                    self.by_wall(mark)
                } else {
                    placed
                }
            }
            None => self.by_wall(mark),
        };
        placed.filter(|(at, _)| self.plausible(mark, *at))
    }

    /// The moment of a stamp that is taken for the household's wall clock. Of two moments the earlier is
    /// taken: that concerns an hour in one night of the year, on the same date.
    fn by_wall(&self, mark: &Mark) -> Option<(i64, TimeSource)> {
        let at = whole_seconds(self.zones.instant(mark.civil)?);
        (at <= mark.received_s + AHEAD_S_MAX).then_some((at, TimeSource::WallClock))
    }

    fn plausible(&self, mark: &Mark, at: i64) -> bool {
        let late_s = mark.received_s - at;
        let reset = mark.civil.month() == 1
            && mark.civil.day() == 1
            && late_s > FIRST_OF_JANUARY_LAG_DAYS_MAX * DAY_S;
        let old = late_s > AGE_DAYS_MAX * DAY_S;
        let unset = if self.clock_read {
            reset && old
        } else {
            reset || old
        };
        at >= FIRST_PLAUSIBLE_S && !unset
    }

    fn measured(&self, mark: &Mark, settled: Option<(i64, TimeSource)>) -> MeasuredTime {
        let unknown = MeasuredTime::unknown(Some(mark.civil));
        let Some((at, source)) = settled.and_then(|(at, source)| Some((moment(at)?, source))) else {
            return unknown;
        };
        let wall = self.zones.moments(mark.civil);
        let correction_s = match wall {
            Some(Moments::Twice(_, second)) if second == at => 0,
            Some(wall) => whole_seconds(at) - whole_seconds(wall.first()),
            None => 0,
        };
        MeasuredTime {
            at: Some(at),
            source,
            precision: self.precision,
            correction_s,
            ..unknown
        }
    }

    fn usual_lag(&self) -> i64 {
        match self.precision {
            Precision::Second => USUAL_LAG_S_MAX,
            Precision::Minute => USUAL_LAG_S_MAX + 60,
        }
    }

    /// The offset of a clock that shows the household's time at a moment.
    fn wall_offset(&self, at_s: i64) -> Option<i64> {
        let offset = self.zones.offset(moment(at_s)?);
        Some(-i64::from(offset.seconds()))
    }

    /// The offset of a clock that shows the household's time, by the moment of the stamp that is nearest its
    /// receipt.
    fn wall_offset_live(&self, mark: &Mark) -> Option<i64> {
        let moments = self.zones.moments(mark.civil)?;
        let nearest = [moments.first(), moments.last()]
            .map(whole_seconds)
            .into_iter()
            .min_by_key(|at| (mark.received_s - at).abs())?;
        Some(nearest - mark.stamp_s)
    }
}
