//! The one place where time enters: every frame is stamped here, and nothing behind this line reads a clock.

use crate::frame::Uptime;
use crate::reading::ClockSample;
use jiff::tz::{Offset, TimeZone};
use jiff::{SignedDuration, Timestamp};
use rustix::time::{ClockId, clock_gettime};

/// How many changes of the zone are looked back through for the last standard time. Daylight saving lasts one
/// change; a few more are allowed for zones that moved meanwhile.
const TRANSITIONS_LOOKED_AT: usize = 4;

/// The longest time that something stamped by the kernel may have waited for the program; a longer wait says
/// that the wall clock was set in between.
const WAITED_MAX: SignedDuration = SignedDuration::from_mins(1);

/// The gateway's clocks: its wall clock with its zone, and its boot clock.
#[derive(Clone, Debug)]
pub struct Edge {
    zone: TimeZone,
    boot: Option<String>,
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
        }
    }

    /// The present moment on every clock of the gateway.
    pub fn now(&self) -> Moment {
        let now = Timestamp::now();
        // The journal keeps microseconds; finer parts would not come back the same.
        let at = Timestamp::from_microsecond(now.as_microsecond()).unwrap_or(now);
        let boottime = clock_gettime(ClockId::Boottime);
        let micros = boottime
            .tv_sec
            .saturating_mul(1_000_000)
            .saturating_add(boottime.tv_nsec / 1_000);
        let uptime = self.boot.clone().map(|boot| Uptime { boot, micros });
        Moment {
            at,
            offset: self.zone.to_offset(at),
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

/// How long this machine has been on, with the time that it slept. No hand can set this clock.
pub fn uptime_ms() -> i64 {
    let boottime = clock_gettime(ClockId::Boottime);
    boottime
        .tv_sec
        .saturating_mul(1_000)
        .saturating_add(boottime.tv_nsec / 1_000_000)
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
