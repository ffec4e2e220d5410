//! The person whose reading it is: known only by somebody's word, never by a guess.

use super::{Reading, ReadingId, TimeSource};
use crate::household::{Household, Mapping, MonitorId, PersonId};
use jiff::{SignedDuration, Timestamp};

/// How near to a change of hands a moment may lie that rests on a clock nobody looked at (own choice): such a clock may
/// be off by a zone, by summer time, or by morning and evening.
pub const UNPROVEN_NEAR: SignedDuration = SignedDuration::from_hours(24);

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
    /// The moment at which the measurement was taken; `None` where that is unknown.
    pub at: Option<Timestamp>,
    /// How that moment is known.
    pub source: TimeSource,
    /// When it was received.
    pub received_at: Timestamp,
    /// Whether the gateway's clock was known to be right then. If not, it may have been received at any time.
    pub receipt_known: bool,
}

/// Why a reading is nobody's although its number was somebody's at the moment that it is taken for.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Doubt {
    /// Nobody knows when it was taken, and the number has changed hands.
    TimeUnknown,
    /// The number changed hands near the moment, which rests on a clock that nobody looked at.
    ClockUnproven,
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
/// A number that changed hands is nobody's for a reading that may be from before or after that: of unknown time, or
/// within [`UNPROVEN_NEAR`] by a clock that nobody looked at. What changed hands after the receipt changes nothing.
///
/// A person who was removed keeps their readings: taking a mapping back is a statement of its own.
pub fn of<'a>(household: &'a Household, reading: &ReadingId, claim: Claim<'a>) -> Option<&'a PersonId> {
    // Most households assign little; looking in an empty map costs nothing.
    if let Some(person) = household.assigned.get(&reading.0).or(claim.given_to) {
        return Some(person);
    }
    let mapping = number(household, claim.monitor, claim.user_id)?;
    let person = mapping.at(claim.at.unwrap_or(claim.received_at))?;
    doubted(mapping, &claim).is_none().then_some(person)
}

/// Why a reading is nobody's whose number was somebody's; `None` where it is somebody's, or its number was nobody's
/// either.
pub fn doubt(household: &Household, reading: &Reading) -> Option<Doubt> {
    if reading.person.is_some() {
        return None;
    }
    let mapping = number(household, &reading.monitor, reading.user_id)?;
    mapping.at(reading.time.at.unwrap_or(reading.received_at))?;
    Some(match reading.time.at {
        None => Doubt::TimeUnknown,
        Some(_) => Doubt::ClockUnproven,
    })
}

/// Whether the number of a measurement is somebody's, and it is in doubt whose the measurement is.
pub fn is_doubted(household: &Household, claim: &Claim<'_>) -> bool {
    number(household, claim.monitor, claim.user_id).is_some_and(|mapping| {
        mapping.at(claim.at.unwrap_or(claim.received_at)).is_some() && doubted(mapping, claim).is_some()
    })
}

fn number<'a>(household: &'a Household, monitor: &MonitorId, user_id: Option<u8>) -> Option<&'a Mapping> {
    match user_id {
        // The key of the map owns its id, so the few entries of one household are walked, and the id need not
        // be copied.
        Some(user_id) => household
            .user_indexes
            .iter()
            .find(|((of, index), _)| of == monitor && *index == user_id)
            .map(|(_, mapping)| mapping),
        None => household.usual.get(monitor),
    }
}

fn doubted(mapping: &Mapping, claim: &Claim<'_>) -> Option<Doubt> {
    let last = if claim.receipt_known {
        claim.received_at
    } else {
        Timestamp::MAX
    };
    let mut before = mapping.changes().take_while(|change| *change <= last);
    match (claim.at, claim.source) {
        (None, _) => before.next().map(|_| Doubt::TimeUnknown),
        (Some(at), TimeSource::KnownOffset | TimeSource::WallClock) => before
            .any(|change| change.duration_since(at).abs() <= UNPROVEN_NEAR)
            .then_some(Doubt::ClockUnproven),
        _ => None,
    }
}
