//! The person whose reading it is: known only by somebody's word, never by a guess.

use super::ReadingId;
use crate::household::{Household, Mapping, MonitorId, PersonId};
use jiff::Timestamp;

/// What a measurement says about the person whose it is.
#[derive(Clone, Copy, Debug)]
pub struct Claim<'a> {
    /// The monitor that sent the measurement.
    pub monitor: &'a MonitorId,
    /// The person to whom the source of the frame gave the measurement, such as the one named for a replayed
    /// file.
    pub given_to: Option<&'a PersonId>,
    /// The monitor's index of the person; `None` where the monitor sent none.
    pub user_id: Option<u8>,
    /// The moment at which the measurement was taken; where that is unknown, when it was received.
    pub at: Timestamp,
}

/// The owner of a reading. In this order:
///
/// 1. the person to whom somebody assigned the reading;
/// 2. the person to whom the source of the frame gave it;
/// 3. where the measurement carries a user index, the person to whom that index is mapped at that moment. An
///    index that is not mapped says that the monitor tells people apart and this is one of whom nothing is
///    known; so does 255, "unknown user". Both wait, also on a monitor with a usual person. A monitor that
///    sends the same index or 255 whoever measures has that number mapped like any other;
/// 4. where it carries none, the monitor's usual person at that moment;
/// 5. nobody, until somebody says so.
///
/// A person who was removed keeps their readings: taking a mapping back is a statement of its own.
pub fn of<'a>(household: &'a Household, reading: &ReadingId, claim: Claim<'a>) -> Option<&'a PersonId> {
    // Most households assign little; looking in an empty map costs nothing.
    if let Some(person) = household.assigned.get(&reading.0).or(claim.given_to) {
        return Some(person);
    }
    match claim.user_id {
        // The key of the map owns its id, so the few entries of one household are walked, and the id need not
        // be copied.
        Some(user_id) => household
            .user_indexes
            .iter()
            .find(|((monitor, index), _)| monitor == claim.monitor && *index == user_id)
            .map(|(_, mapping)| mapping),
        None => household.usual.get(claim.monitor),
    }
    .and_then(|mapping: &Mapping| mapping.at(claim.at))
}
