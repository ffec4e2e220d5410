//! When the radio falls silent: what to try, in which order, and how often.
//!
//! Silence of our own monitors is normal for days, and a house without neighbours is silent too. What is suspect is
//! silence of strangers where strangers were heard before, and a BlueZ that no longer answers. The ladder goes up one
//! rung at a time, each rung is counted, and it starts again at the bottom as soon as anything is heard. It holds no
//! "scanning" flag of its own: whether BlueZ scans is asked of BlueZ.

use std::time::Duration;

/// So long nothing from any stranger, where strangers were heard before: the first rung is due.
pub const SILENCE_MAX: Duration = Duration::from_mins(10);

/// Between rungs. Neighbours' devices advertise every few seconds, so a minute of listening to everybody tells.
pub const RUNG_GAP: Duration = Duration::from_mins(1);

/// How often BlueZ is asked whether it lives.
pub const HEARTBEAT: Duration = Duration::from_secs(30);

/// So many heartbeats in a row without an answer mean that the bus or bluetoothd is stuck.
pub const HEARTBEATS_MISSED_MAX: u32 = 3;

/// What to try.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Rung {
    /// Take the filter off and listen to everybody, to tell a silent band from a deaf adapter.
    ListenToAll,
    /// End the scan and start it again.
    RestartScan,
    /// Make btleplug's session and everything on it anew.
    NewSession,
    /// Switch the adapter off and on.
    PowerCycle,
    /// Leave with exit code 69 and let systemd start the daemon afresh.
    Leave,
}

/// How often each rung was tried since the daemon started.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default, serde::Serialize, serde::Deserialize)]
#[serde(default)]
pub struct RungCounts {
    /// Filters taken off.
    pub listen_to_all: u32,
    /// Scans started again.
    pub restart_scan: u32,
    /// Sessions made anew.
    pub new_session: u32,
    /// Adapters switched off and on.
    pub power_cycle: u32,
}

impl RungCounts {
    /// Each with its rung's name.
    pub fn named(self) -> [(&'static str, u32); 4] {
        [
            ("listen-to-all", self.listen_to_all),
            ("restart-scan", self.restart_scan),
            ("new-session", self.new_session),
            ("power-cycle", self.power_cycle),
        ]
    }
}

/// The ladder. Time comes in as the time since the daemon's start.
#[derive(Debug, Default)]
pub struct Ladder {
    heard_once: bool,
    last_heard: Duration,
    last_rung: Duration,
    tried: usize,
    heartbeats_missed: u32,
    counts: RungCounts,
}

const LADDER: [Rung; 5] = [
    Rung::ListenToAll,
    Rung::RestartScan,
    Rung::NewSession,
    Rung::PowerCycle,
    Rung::Leave,
];

impl Ladder {
    /// A stranger was heard: the band and the adapter are alive.
    pub fn heard(&mut self, now: Duration) {
        self.heard_once = true;
        self.last_heard = now;
        self.tried = 0;
    }

    /// BlueZ answered a heartbeat, or did not.
    pub fn heartbeat(&mut self, answered: bool) {
        self.heartbeats_missed = if answered { 0 } else { self.heartbeats_missed + 1 };
    }

    /// What is due now, if anything. Asking counts as trying.
    pub fn due(&mut self, now: Duration) -> Option<Rung> {
        if self.heartbeats_missed >= HEARTBEATS_MISSED_MAX {
            return Some(Rung::Leave);
        }
        let due = if self.tried == 0 {
            self.last_heard + SILENCE_MAX
        } else {
            self.last_rung + RUNG_GAP
        };
        if !self.heard_once || now < due {
            return None;
        }
        let rung = LADDER.get(self.tried).copied().unwrap_or(Rung::Leave);
        self.tried += 1;
        self.last_rung = now;
        match rung {
            Rung::ListenToAll => self.counts.listen_to_all += 1,
            Rung::RestartScan => self.counts.restart_scan += 1,
            Rung::NewSession => self.counts.new_session += 1,
            Rung::PowerCycle => self.counts.power_cycle += 1,
            Rung::Leave => {}
        }
        Some(rung)
    }

    /// How often each rung was tried.
    pub fn counts(&self) -> RungCounts {
        self.counts
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const MINUTE: Duration = Duration::from_mins(1);

    #[test]
    fn a_band_that_was_never_heard_is_left_alone() {
        let mut ladder = Ladder::default();
        assert!((0..10_000).all(|minute| ladder.due(MINUTE * minute).is_none()));
    }

    #[test]
    fn silence_climbs_one_rung_at_a_time_and_a_sound_starts_over() {
        let mut ladder = Ladder::default();
        ladder.heard(MINUTE);
        let rungs: Vec<(u32, Rung)> = (1..60)
            .filter_map(|minute| ladder.due(MINUTE * minute).map(|rung| (minute, rung)))
            .collect();
        assert_eq!(
            rungs[..5],
            [
                (11, Rung::ListenToAll),
                (12, Rung::RestartScan),
                (13, Rung::NewSession),
                (14, Rung::PowerCycle),
                (15, Rung::Leave)
            ]
        );
        ladder.heard(MINUTE * 60);
        assert_eq!(ladder.due(MINUTE * 69), None);
        assert_eq!(ladder.due(MINUTE * 70), Some(Rung::ListenToAll));
        assert_eq!(
            ladder.counts(),
            RungCounts {
                listen_to_all: 2,
                restart_scan: 1,
                new_session: 1,
                power_cycle: 1
            }
        );
    }

    #[test]
    fn a_bluez_that_does_not_answer_is_left_after_three_heartbeats() {
        let mut ladder = Ladder::default();
        for answered in [false, false, true, false, false] {
            ladder.heartbeat(answered);
            assert_eq!(ladder.due(MINUTE), None);
        }
        ladder.heartbeat(false);
        assert_eq!(ladder.due(MINUTE), Some(Rung::Leave));
    }
}
