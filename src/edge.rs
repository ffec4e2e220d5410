//! The one place where time enters: every frame is stamped here, and nothing behind this line reads a clock.

use crate::frame::{Uptime, to_the_minute};
use crate::gatt::AdjustReason;
use crate::reading::ClockSample;
use jiff::tz::{Offset, TimeZone};
use jiff::{SignedDuration, Timestamp};
use rustix::time::{ClockId, clock_gettime};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// How many changes of the zone are looked back through for the last standard time. Daylight saving lasts one
/// change; a few more are allowed for zones that moved meanwhile.
const TRANSITIONS_LOOKED_AT: usize = 4;

/// The longest time that something stamped by the kernel may have waited for the program; a longer wait says
/// that the wall clock was set in between.
const WAITED_MAX: SignedDuration = SignedDuration::from_mins(1);

/// A wall clock that moved by more against the boot clock, beyond what slewing does, was set.
const STEP_US: i64 = 1_000_000;

/// The most that a wall clock is slewed: 500 microseconds a second (Linux, adjtimex(2): the tolerance of its
/// frequency), as a divisor of the time since.
const SLEWED_AT_MOST: i64 = 2_000;

/// The gateway's clocks: its wall clock with its zone, and its boot clock.
#[derive(Clone, Debug)]
pub struct Edge {
    zone: TimeZone,
    boot: Option<String>,
    seen: Arc<Mutex<Seen>>,
}

/// What was seen of the wall clock's adjustments.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub struct Adjusted {
    /// Why it was adjusted last; no bit where no adjustment was seen.
    pub reason: AdjustReason,
    /// How often, since the program began.
    pub times: u32,
}

/// What was seen of the wall clock. Pure: looks come in.
#[derive(Debug, Default)]
struct Seen {
    synchronized: Option<bool>,
    last: Option<Look>,
    adjusted: Adjusted,
}

/// One look at the gateway's clocks.
#[derive(Clone, Copy, Debug)]
struct Look {
    /// Of the wall clock before the boot clock, in microseconds.
    ahead: i64,
    uptime: i64,
    offset: Offset,
    saving: bool,
}

impl Seen {
    fn look(&mut self, now: Look) {
        let Some(last) = self.last.replace(now) else {
            return;
        };
        let slewed = (now.uptime - last.uptime).max(0) / SLEWED_AT_MOST;
        if (now.ahead - last.ahead).abs() > STEP_US + slewed {
            self.adjust(if self.synchronized == Some(true) {
                AdjustReason::EXTERNAL_REFERENCE
            } else {
                AdjustReason::MANUAL
            });
        }
        if now.offset != last.offset {
            self.adjust(if now.saving == last.saving {
                AdjustReason::TIME_ZONE_CHANGE
            } else {
                AdjustReason::DST_CHANGE
            });
        }
    }

    fn told(&mut self, synchronized: Option<bool>) {
        let before = std::mem::replace(&mut self.synchronized, synchronized);
        if synchronized == Some(true) && before != synchronized {
            self.adjust(AdjustReason::EXTERNAL_REFERENCE);
        }
    }

    fn adjust(&mut self, reason: AdjustReason) {
        self.adjusted = Adjusted {
            reason,
            times: self.adjusted.times.wrapping_add(1),
        };
    }
}

/// One moment on every clock of the gateway.
#[derive(Clone, Debug)]
pub struct Moment {
    /// The wall clock's time, to the microsecond.
    pub at: Timestamp,
    /// The zone's offset from UTC at that moment.
    pub offset: Offset,
    /// The boot clock's time; `None` where the kernel gives no boot id.
    pub uptime: Option<Uptime>,
}

impl Edge {
    /// The clocks of a gateway in this zone.
    pub fn new(zone: TimeZone) -> Self {
        let boot = std::fs::read_to_string("/proc/sys/kernel/random/boot_id").ok();
        Self {
            zone,
            boot: boot.map(|id| id.trim().to_owned()),
            seen: Arc::default(),
        }
    }

    fn seen(&self) -> MutexGuard<'_, Seen> {
        self.seen.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// The system says whether the wall clock is synchronised; `None` where nobody knows.
    pub fn tell_synchronized(&self, synchronized: Option<bool>) {
        self.seen().told(synchronized);
    }

    /// What the system said last.
    pub fn synchronized(&self) -> Option<bool> {
        self.seen().synchronized
    }

    /// Looks at the clocks, and says when and why the wall clock was adjusted last.
    pub fn adjusted(&self) -> Adjusted {
        let now = Timestamp::now();
        let info = self.zone.to_offset_info(now);
        let uptime = uptime_us();
        let mut seen = self.seen();
        seen.look(Look {
            ahead: now.as_microsecond().saturating_sub(uptime),
            uptime,
            offset: info.offset(),
            saving: info.dst().is_dst(),
        });
        seen.adjusted
    }

    /// The present moment on every clock of the gateway.
    pub fn now(&self) -> Moment {
        let now = Timestamp::now();
        // The journal keeps microseconds; finer parts would not come back the same.
        let at = Timestamp::from_microsecond(now.as_microsecond()).unwrap_or(now);
        let micros = uptime_us();
        let uptime = self.boot.clone().map(|boot| Uptime { boot, micros });
        Moment {
            at,
            offset: to_the_minute(self.zone.to_offset(at)),
            uptime,
        }
    }

    /// The moment that the kernel stamped by the wall clock a short while ago, on every clock. Where the
    /// stamp lies in the future or is more than a minute old, the present moment.
    pub fn stamped(&self, at: Timestamp) -> Moment {
        let mut moment = self.now();
        let waited = moment.at.duration_since(at);
        if waited.is_negative() || waited > WAITED_MAX {
            return moment;
        }
        moment.at = at;
        if let Some(uptime) = &mut moment.uptime {
            let micros = i64::try_from(waited.as_micros()).unwrap_or(0);
            uptime.micros = uptime.micros.saturating_sub(micros);
        }
        moment
    }

    /// The wall clock held against the boot clock; `None` where the kernel gives no boot id. Whether the wall
    /// clock is synchronised is for the caller to ask.
    pub fn sample(&self) -> Option<ClockSample> {
        let now = self.now();
        Some(ClockSample {
            uptime: now.uptime?,
            wall: now.at,
            synchronized: false,
            within: None,
        })
    }

    /// The minutes from UTC in standard time, and the minutes of daylight saving that hold now.
    pub(crate) fn standard_and_saving_minutes(&self) -> (i16, i16) {
        let now = Timestamp::now();
        let info = self.zone.to_offset_info(now);
        let standard = if info.dst().is_dst() {
            // The zone database says that daylight saving holds, but not by how much: the last standard time
            // tells.
            let before = self
                .zone
                .preceding(now)
                .take(TRANSITIONS_LOOKED_AT)
                .find(|change| !change.dst().is_dst());
            before.map_or(info.offset(), |change| change.offset())
        } else {
            info.offset()
        };
        let minutes = |offset: Offset| i16::try_from(offset.seconds() / 60).unwrap_or(0);
        (minutes(standard), minutes(info.offset()) - minutes(standard))
    }
}

fn uptime_us() -> i64 {
    let boottime = clock_gettime(ClockId::Boottime);
    boottime
        .tv_sec
        .saturating_mul(1_000_000)
        .saturating_add(boottime.tv_nsec / 1_000)
}

/// How long this machine has been on, with the time that it slept. No hand can set this clock.
pub fn uptime_ms() -> i64 {
    uptime_us() / 1_000
}

/// The system's zone by name; where it has no name, the offset from UTC that holds now, such as `+01:00`.
pub fn system_zone() -> String {
    let zone = TimeZone::system();
    match zone.iana_name() {
        Some(name) => name.to_owned(),
        None => {
            let minutes = zone.to_offset(Timestamp::now()).seconds() / 60;
            let sign = if minutes < 0 { '-' } else { '+' };
            format!("{sign}{:02}:{:02}", minutes.abs() / 60, minutes.abs() % 60)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const HOUR: i64 = 3_600_000_000;

    fn look(uptime: i64, ahead: i64, hours: i8, saving: bool) -> Look {
        let offset = Offset::constant(hours);
        Look {
            ahead,
            uptime,
            offset,
            saving,
        }
    }

    #[test]
    fn why_the_clock_was_adjusted() {
        let mut seen = Seen::default();
        seen.look(look(0, 0, 1, false));
        seen.look(look(HOUR, 1_500_000, 1, false));
        assert_eq!(seen.adjusted, Adjusted::default(), "so much is slewed in an hour");
        seen.look(look(HOUR + 1, 4_500_000, 1, false));
        assert_eq!(
            (seen.adjusted.reason, seen.adjusted.times),
            (AdjustReason::MANUAL, 1)
        );
        seen.told(Some(false));
        seen.told(Some(true));
        let external = AdjustReason::EXTERNAL_REFERENCE;
        assert_eq!((seen.adjusted.reason, seen.adjusted.times), (external, 2));
        seen.told(Some(true));
        seen.look(look(HOUR + 2, 9_500_000, 1, false));
        assert_eq!((seen.adjusted.reason, seen.adjusted.times), (external, 3));
        seen.look(look(HOUR + 3, 9_500_000, 2, true));
        assert_eq!(
            (seen.adjusted.reason, seen.adjusted.times),
            (AdjustReason::DST_CHANGE, 4)
        );
        seen.look(look(HOUR + 4, 9_500_000, 3, true));
        assert_eq!(
            (seen.adjusted.reason, seen.adjusted.times),
            (AdjustReason::TIME_ZONE_CHANGE, 5)
        );
        seen.look(look(HOUR + 5, 9_500_000, 3, true));
        assert_eq!(seen.adjusted.times, 5);
    }
}
