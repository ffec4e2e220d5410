//! How long a server that cannot answer is left alone. Pure: the moment and the dice are passed in.

use jiff::Timestamp;
use std::time::Duration;

/// After the first failure.
const FIRST: Duration = Duration::from_secs(30);
/// A server that is down for a week is asked about two hundred times.
const LONGEST: Duration = Duration::from_hours(1);
/// A server that asks for more than a day is asked again all the same.
const ASKED_MAX: Duration = Duration::from_hours(24);
/// And by that much more, so that not all come back at once.
const REST_MAX: Duration = Duration::from_hours(30);

/// How long to wait after so many failures in a row. `dice` is any number: homes that lost the same server must not all
/// come back in the same second. What the server asked for (`Retry-After`) is kept to, within reason.
pub fn wait(failures: u32, asked: Option<Duration>, dice: u64) -> Duration {
    let doubled = FIRST
        .checked_mul(1_u32.checked_shl(failures.saturating_sub(1)).unwrap_or(u32::MAX))
        .map_or(LONGEST, |wait| wait.min(LONGEST));
    let half = doubled / 2;
    let more = u64::try_from(half.as_millis()).map_or(0, |half| dice % (half + 1));
    let ours = half + Duration::from_millis(more);
    let Some(asked) = asked.map(|asked| asked.min(ASKED_MAX)) else {
        return ours;
    };
    // Every home was told the same, and asked at the same time: they come back spread over a quarter more.
    let quarter = u64::try_from(asked.as_millis() / 4).unwrap_or(u64::MAX);
    (asked + Duration::from_millis(dice % (quarter + 1))).max(ours)
}

/// Whether the server is still left alone. A pause longer than the longest one is that of a clock which was set back
/// meanwhile.
pub fn rests(not_before: Option<Timestamp>, now: Timestamp) -> bool {
    not_before
        .and_then(|at| Duration::try_from(at.duration_since(now)).ok())
        .is_some_and(|left| !left.is_zero() && left <= REST_MAX)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_clock_that_was_set_back_does_not_lengthen_the_rest() {
        let now: Timestamp = "2026-03-01T08:00:00Z".parse().unwrap();
        let later = |hours| Some(now + Duration::from_hours(hours));
        assert!(!rests(None, now) && !rests(Some(now), now));
        assert!(rests(later(1), now) && rests(later(30), now) && !rests(later(31), now));
        assert!(!rests(Some(now - Duration::from_secs(1)), now));
    }

    #[test]
    fn it_doubles_up_to_an_hour_and_never_comes_at_once() {
        for (failures, longest) in [
            (1, 30),
            (2, 60),
            (3, 120),
            (7, 1920),
            (8, 3600),
            (40, 3600),
            (u32::MAX, 3600),
        ] {
            for dice in [0, 1, 14_999, 15_000, 15_001, u64::MAX, 123_456_789] {
                let wait = wait(failures, None, dice).as_secs_f64();
                assert!(
                    wait <= f64::from(longest) && wait >= f64::from(longest) / 2.0,
                    "{failures} {wait}"
                );
            }
        }
        assert_ne!(wait(3, None, 7), wait(3, None, 7_007), "the dice matter");
    }

    #[test]
    fn what_the_server_asks_for_is_kept_to_within_a_day() {
        assert_eq!(
            wait(1, Some(Duration::from_secs(120)), 0),
            Duration::from_secs(120)
        );
        assert_eq!(
            wait(1, Some(Duration::ZERO), 0),
            Duration::from_secs(15),
            "never a hammer"
        );
        assert_eq!(wait(1, Some(Duration::from_secs(u64::MAX)), 0), ASKED_MAX);
    }

    /// A thousand homes that were told the same come back spread, none early, none later than a quarter more.
    #[test]
    fn who_was_told_the_same_comes_back_spread() {
        let told = Some(Duration::from_secs(3600));
        let mut minutes = [0; 16];
        for home in 0..1_000_u64 {
            let dice = home.wrapping_mul(0x9e37_79b9_7f4a_7c15);
            let late = wait(1, told, dice)
                .checked_sub(Duration::from_secs(3600))
                .unwrap();
            minutes[usize::try_from(late.as_secs() / 60).unwrap()] += 1;
        }
        assert!(
            minutes[..15].iter().all(|homes| (30..120).contains(homes)),
            "{minutes:?}"
        );
        assert_eq!(minutes[15], 0);
        assert!(wait(1, Some(Duration::from_secs(u64::MAX)), u64::MAX) <= REST_MAX);
    }

    /// A week without an answer.
    #[test]
    fn a_week_costs_few_tries() {
        let (mut waited, mut tries) = (Duration::ZERO, 0);
        while waited < Duration::from_hours(24 * 7) {
            tries += 1;
            waited += wait(tries, None, u64::from(tries) * 7_919);
        }
        assert!((168..400).contains(&tries), "{tries}");
    }
}
