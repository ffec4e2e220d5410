//! How often a monitor is tried, and when a person is told that its bond is gone. Pure: time and outcomes come in.
//!
//! A monitor advertises ten times a second for half a minute or more. Radio weather is forgiven at once and often; a
//! monitor that refuses is left alone, since only a person can mend that, and never silently.

use super::fault::Fault;
use std::time::{Duration, Instant};

/// Advertisements come ten times a second; one attempt to connect answers several.
pub(super) const ATTEMPT_GAP: Duration = Duration::from_millis(300);
/// So many failures in a row, and the monitor is left alone for [`REST`]: it may be busy with somebody else.
const FAILURES_MAX: u32 = 4;
/// Radio weather is forgiven longer.
const TRANSIENT_FAILURES_MAX: u32 = 9;
/// How long a monitor is left alone after that.
const REST: Duration = Duration::from_secs(30);
/// A monitor that does not accept our keys is tried this seldom.
const REST_WITHOUT_BOND: Duration = Duration::from_mins(10);
/// So many links in a row that broke before a subscription stood, and the keys are suspect: BlueZ has no other word
/// for a monitor that has forgotten us than the one for bad radio.
const BROKEN_LINKS_MAX: u32 = 3;

/// What is remembered of the attempts to reach one monitor.
#[derive(Debug, Default)]
pub(super) struct Patience {
    last_attempt: Option<Instant>,
    failures: u32,
    broken_links: u32,
    rest_until: Option<Instant>,
}

/// What to do after a failure.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub(super) struct After {
    /// Try again after [`ATTEMPT_GAP`] without waiting for an advertisement: a signal strength that does not change
    /// would not tell of one.
    pub(super) again: bool,
    /// Leave it alone for so long.
    pub(super) rest: Option<Duration>,
    /// Tell a person to pair again, and why.
    pub(super) bond: Option<&'static str>,
}

impl Patience {
    /// Whether to connect now. Saying yes counts as an attempt.
    pub(super) fn try_now(&mut self, now: Instant) -> bool {
        let resting = self.rest_until.is_some_and(|until| now < until);
        let just_tried = self
            .last_attempt
            .is_some_and(|at| now.duration_since(at) < ATTEMPT_GAP);
        let yes = !resting && !just_tried;
        if yes {
            self.last_attempt = Some(now);
        }
        yes
    }

    /// Somebody else made a link: it is to be used at once. What is suspected of it stands until a link was good.
    pub(super) fn use_at_once(&mut self) {
        self.last_attempt = None;
        self.rest_until = None;
    }

    /// An attempt failed; `cut_short` says that the monitor was there and the link broke while it was being made.
    pub(super) fn failed(&mut self, fault: Fault, cut_short: bool, now: Instant) -> After {
        let mut after = After::default();
        if cut_short {
            after.bond = self.broke();
        }
        let (tries, rest) = match fault {
            Fault::BondLost => {
                after.bond = Some("it no longer accepts this server's keys");
                (1, REST_WITHOUT_BOND)
            }
            Fault::Transient | Fault::Gone => (TRANSIENT_FAILURES_MAX, REST),
            _ => (FAILURES_MAX, REST),
        };
        after.rest = self.count(tries, rest, now);
        after.again = cut_short && after.rest.is_none();
        after
    }

    /// A link ended. It was a good one where it brought values or a subscription stood on it; a bad one counts as an
    /// attempt that failed, or a monitor that hangs up on everybody would be tried for ever.
    pub(super) fn ended(&mut self, good: bool, now: Instant) -> After {
        if good {
            self.failures = 0;
            self.broken_links = 0;
            self.rest_until = None;
            return After::default();
        }
        After {
            bond: self.broke(),
            rest: self.count(TRANSIENT_FAILURES_MAX, REST, now),
            again: false,
        }
    }

    /// Counts a failure, and says for how long to leave the monitor alone if that was one too many.
    fn count(&mut self, tries: u32, rest: Duration, now: Instant) -> Option<Duration> {
        self.failures += 1;
        if self.failures < tries {
            return None;
        }
        self.failures = 0;
        self.broken_links = 0;
        self.rest_until = Some(now + rest);
        Some(rest)
    }

    fn broke(&mut self) -> Option<&'static str> {
        self.broken_links += 1;
        (self.broken_links == BROKEN_LINKS_MAX)
            .then_some("its links break as soon as they are made, as when it has forgotten this server")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_attempt_answers_several_advertisements() {
        let mut patience = Patience::default();
        let start = Instant::now();
        let tried = (0..20)
            .filter(|n| patience.try_now(start + Duration::from_millis(100) * *n))
            .collect::<Vec<u32>>();
        assert_eq!(tried, [0, 3, 6, 9, 12, 15, 18]);
    }

    #[test]
    fn weather_is_forgiven_nine_times_and_then_it_rests() {
        let mut patience = Patience::default();
        let now = Instant::now();
        for _ in 1..TRANSIENT_FAILURES_MAX {
            assert_eq!(patience.failed(Fault::Transient, false, now), After::default());
        }
        assert_eq!(patience.failed(Fault::Transient, false, now).rest, Some(REST));
        assert!(!patience.try_now(now + REST / 2));
        assert!(patience.try_now(now + REST));
    }

    #[test]
    fn keys_that_are_refused_are_told_at_once_and_seldom_tried() {
        let mut patience = Patience::default();
        let now = Instant::now();
        let after = patience.failed(Fault::BondLost, false, now);
        assert!(after.bond.is_some() && !after.again);
        assert_eq!(after.rest, Some(REST_WITHOUT_BOND));
    }

    #[test]
    fn links_that_break_at_once_are_tried_again_at_once_and_told_once() {
        let mut patience = Patience::default();
        let now = Instant::now();
        let after: Vec<After> = (0..TRANSIENT_FAILURES_MAX)
            .map(|_| patience.failed(Fault::Transient, true, now))
            .collect();
        assert_eq!(after.iter().filter(|after| after.bond.is_some()).count(), 1);
        assert!(after[2].bond.is_some(), "the third");
        assert!(after[..8].iter().all(|after| after.again) && !after[8].again);
    }

    #[test]
    fn a_good_link_wipes_the_slate() {
        let mut patience = Patience::default();
        let now = Instant::now();
        for _ in 0..2 {
            patience.failed(Fault::Transient, true, now);
        }
        assert_eq!(patience.ended(true, now), After::default());
        for _ in 0..2 {
            assert_eq!(patience.ended(false, now), After::default());
        }
        assert!(patience.ended(false, now).bond.is_some());
    }

    #[test]
    fn a_monitor_that_hangs_up_on_everybody_is_left_alone_too() {
        let mut patience = Patience::default();
        let now = Instant::now();
        for _ in 1..TRANSIENT_FAILURES_MAX {
            assert_eq!(patience.ended(false, now).rest, None);
        }
        assert_eq!(patience.ended(false, now).rest, Some(REST));
        assert!(!patience.try_now(now + REST / 2));
    }

    #[test]
    fn a_link_that_somebody_else_made_clears_nothing_that_is_suspected() {
        let mut patience = Patience::default();
        let now = Instant::now();
        assert!(patience.try_now(now));
        assert_eq!(patience.ended(false, now).bond, None);
        assert_eq!(patience.ended(false, now).bond, None);
        patience.use_at_once();
        assert!(patience.try_now(now));
        assert!(patience.ended(false, now).bond.is_some(), "the third");
    }
}
