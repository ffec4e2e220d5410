//! Sittings: the readings of one person that were taken together.
//!
//! A sitting is a longest run of one person's readings, in order of time, in which no two neighbours are
//! further apart than [`SITTING_GAP`]. It depends on nothing but the readings, so that the order in which
//! they arrived does not matter, and a reading that comes late can only lengthen its own sitting or join it
//! to the next. A reading whose person or time is unknown sits alone and makes no session.

mod rule;
mod windows;

pub use rule::{SessionRule, Tie, Timing};
pub use windows::{Slot, Windows};

use crate::reading::Reading;
use jiff::{SignedDuration, Timestamp};
use std::cmp::Ordering;

/// The longest pause inside a sitting. No guideline gives one (own choice): it is long enough for five
/// minutes of rest after a very high reading and one failed attempt, and short enough to keep a second
/// sitting apart.
pub const SITTING_GAP: SignedDuration = SignedDuration::from_mins(10);

/// The order in which readings are judged: by person, by time, and by id where two were taken in the same
/// second. Readings without a person or a time come first.
pub fn order(a: &Reading, b: &Reading) -> Ordering {
    (&a.person, a.time.at, &a.id).cmp(&(&b.person, b.time.at, &b.id))
}

/// Splits readings that stand in [`order`] into sittings.
pub fn sittings(readings: &[Reading]) -> impl Iterator<Item = &[Reading]> {
    readings.chunk_by(|a, b| {
        let (Some(before), Some(after)) = (a.time.at, b.time.at) else {
            return false;
        };
        a.person.is_some() && a.person == b.person && after.duration_since(before) <= SITTING_GAP
    })
}

/// The time from the first to the last reading of a sitting.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Span {
    /// The moment at which the first reading was taken.
    pub start: Timestamp,
    /// The moment at which the last reading was taken.
    pub end: Timestamp,
}

impl Span {
    /// The span of readings that stand in order; `None` where there is no reading or the time is unknown.
    pub fn of(sitting: &[Reading]) -> Option<Self> {
        Some(Self {
            start: sitting.first()?.time.at?,
            end: sitting.last()?.time.at?,
        })
    }
}
