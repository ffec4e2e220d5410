//! What stands about very high readings, worked out anew: a sitting is judged, and not its last two readings.
//!
//! By the words of the README's sources: very high is from 180/110; measured again within the hour and still very high
//! is for the clinic today; a reading that is clearly below, 10 mmHg under both, settles what was measured once, and
//! two of them in a row what was measured again. What the monitor doubts, what nobody can date, and what came within a
//! minute of another settles nothing. Nobody of these homes answers or notes symptoms.

use super::{Home, person_id};
use crate::years::truth::sent;
use jiff::{SignedDuration, Timestamp};
use quietcuff::monitoring::escalation::{About, LOOK_BACK, Level, alerts};
use quietcuff::reading::Reading;
use quietcuff::sitting::SessionRule;
use quietcuff::technique::Context;

const HOUR: SignedDuration = SignedDuration::from_hours(1);
const MINUTE: SignedDuration = SignedDuration::from_mins(1);

/// One reading, as far as it matters here.
struct Seen {
    came: Timestamp,
    very_high: bool,
    clearly_below: bool,
    /// Neither doubted nor undated.
    certain: bool,
    /// Its time is known to the second.
    to_the_second: bool,
}

/// Something that stands.
struct Stands {
    again: bool,
    below: u8,
}

/// What stands after these readings, in order of time: of each whether it was measured again.
fn judged(seen: &[Seen]) -> Vec<bool> {
    let mut standing: Vec<Stands> = Vec::new();
    // When the last very high reading came, whether those within the hour were more than one, and whether what they
    // raised still stands; it is always the last of those that stand.
    let mut lately: Option<(Timestamp, bool, bool)> = None;
    let mut last: Option<Timestamp> = None;
    for one in seen {
        let soon = one.to_the_second && last.is_some_and(|last| one.came.duration_since(last) < MINUTE);
        last = Some(one.came);
        if one.very_high {
            for stands in &mut standing {
                stands.below = 0;
            }
            let near = lately.filter(|(at, ..)| one.came.duration_since(*at) <= HOUR);
            match near {
                // The third and later ones say nothing new.
                Some((_, true, true)) => lately = Some((one.came, true, true)),
                Some(_) | None => {
                    let again = near.is_some();
                    standing.retain(|stands| stands.again);
                    standing.push(Stands { again, below: 0 });
                    lately = Some((one.came, again, true));
                }
            }
            continue;
        }
        if soon || !one.certain {
            continue;
        }
        let newest = standing.len().checked_sub(1);
        let mut place = 0;
        standing.retain_mut(|stands| {
            stands.below = if one.clearly_below { stands.below + 1 } else { 0 };
            let over = stands.below >= if stands.again { 2 } else { 1 };
            if over
                && Some(place) == newest
                && let Some((.., still)) = &mut lately
            {
                *still = false;
            }
            place += 1;
            !over
        });
    }
    standing.iter().map(|stands| stands.again).collect()
}

impl Home {
    /// Holds what stands about each person against what is worked out here.
    pub(super) fn check_judged(&mut self, at: Timestamp) {
        let now = self.gateway.wall(at);
        let since = now.checked_sub(LOOK_BACK).unwrap();
        for person in 0..self.people.len() {
            let Some(seen) = self.seen_of(person, since, now) else {
                self.coverage.saw("very high: two at one moment, not compared");
                continue;
            };
            if !seen.iter().any(|one| one.very_high) {
                continue;
            }
            let mut wanted = judged(&seen);
            let id = person_id(person);
            let stated = self.gateway.journal().stated().unwrap();
            let mut watch = |whose| {
                let journal = self.gateway.journal();
                journal.readings_to_watch(whose, Some(since)).unwrap()
            };
            let watched = [watch(Some(&id)), watch(None)].concat();
            let readings: Vec<Reading> = watched.into_iter().map(|judged| judged.reading).collect();
            let context = Context {
                household: &stated.household,
                notes: &stated.notes,
                zone: stated.zones.at(now),
                rule: SessionRule::default(),
            };
            let mut stands: Vec<bool> = alerts(now, Some(&id), &readings, &context)
                .iter()
                .filter(|alert| alert.about == About::VeryHigh && alert.outranks())
                .map(|alert| alert.level == Level::ContactToday)
                .collect();
            stands.sort_unstable();
            wanted.sort_unstable();
            self.coverage.saw(match wanted.last() {
                None => "very high: settled",
                Some(false) => "very high: to be measured again",
                Some(true) => "very high: measured again, for the clinic today",
            });
            let shown: Vec<_> = seen
                .iter()
                .map(|one| (one.came, one.very_high, one.clearly_below))
                .collect();
            assert_eq!(stands, wanted, "very high of p{person} at {now}: {shown:?}");
        }
    }

    /// A person's readings by when they came; `None` where two of one moment have no order.
    fn seen_of(&self, person: usize, since: Timestamp, now: Timestamp) -> Option<Vec<Seen>> {
        let mut seen = Vec::new();
        for row in self.rows.iter().filter(|row| row.person == Some(person)) {
            let truth = &self.truths[row.truth];
            let (Some([systolic, diastolic, _]), false) = (truth.shown, truth.discarded) else {
                continue;
            };
            if row.at.unwrap_or(row.received) < since {
                continue;
            }
            let device = &self.devices[truth.device];
            let [systolic, diastolic] = [systolic, diastolic].map(|shown| sent(shown, device.make().unit));
            seen.push(Seen {
                came: row.at.filter(|at| *at <= now).unwrap_or(row.received.min(now)),
                very_high: systolic >= 180.0 || diastolic >= 110.0,
                clearly_below: systolic < 170.0 && diastolic < 100.0,
                certain: row.at.is_some() && !device.complains(truth.status),
                to_the_second: row.seconds,
            });
        }
        seen.sort_by_key(|one| one.came);
        let alone = seen.windows(2).all(|pair| pair[0].came < pair[1].came);
        alone.then_some(seen)
    }
}
