//! Whose the readings are that a monitor sends under one number, or without a number, through time.

use super::PersonId;
use jiff::Timestamp;

/// The person behind one number of a monitor. A number changes hands at a moment; what was measured before
/// stays with whoever had it then.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub struct Mapping {
    /// From each moment on the person, or nobody; in order, and never twice the same in a row.
    spans: Vec<(Timestamp, Option<PersonId>)>,
}

impl Mapping {
    /// The person at a moment; `None` where the number was nobody's.
    pub fn at(&self, moment: Timestamp) -> Option<&PersonId> {
        let after = self.spans.partition_point(|(from, _)| *from <= moment);
        self.spans
            .get(after.checked_sub(1)?)
            .and_then(|(_, person)| person.as_ref())
    }

    /// The person who has the number as far as anybody has said.
    pub fn holder(&self) -> Option<&PersonId> {
        self.spans.last().and_then(|(_, person)| person.as_ref())
    }

    /// The moment from which the holder has the number; `None` means from the beginning.
    pub fn since(&self) -> Option<Timestamp> {
        self.spans
            .last()
            .map(|(from, _)| *from)
            .filter(|from| *from != Timestamp::MIN)
    }

    /// Everybody else who has the number at that moment or later.
    pub fn others(&self, from: Timestamp, than: Option<&PersonId>) -> impl Iterator<Item = &PersonId> {
        let first = self
            .spans
            .partition_point(|(begins, _)| *begins <= from)
            .saturating_sub(1);
        self.spans
            .iter()
            .skip(first)
            .filter_map(|(_, person)| person.as_ref())
            .filter(move |person| Some(*person) != than)
    }

    /// From that moment on the number is this person's, or nobody's, whatever was said of later moments.
    pub(super) fn hand_over(&mut self, from: Timestamp, person: Option<PersonId>) {
        self.spans.retain(|(begins, _)| *begins < from);
        if self.holder() != person.as_ref() {
            self.spans.push((from, person));
        }
    }

    /// Nobody ever had the number.
    pub(super) const fn is_empty(&self) -> bool {
        self.spans.is_empty()
    }
}
