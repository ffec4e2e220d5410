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

    /// The moment from which what holds at `moment` holds; `None` means from the beginning.
    pub fn since(&self, moment: Timestamp) -> Option<Timestamp> {
        self.changes().take_while(|change| *change <= moment).last()
    }

    /// The first moment behind `moment` from which something else holds; `None` means that none was said.
    pub fn until(&self, moment: Timestamp) -> Option<Timestamp> {
        self.changes().find(|change| *change > moment)
    }

    /// The moments at which the number changed hands, in order.
    pub fn changes(&self) -> impl Iterator<Item = Timestamp> {
        let moments = self.spans.iter().map(|(from, _)| *from);
        moments.filter(|from| *from != Timestamp::MIN)
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
        if self.spans.last().and_then(|(_, last)| last.as_ref()) != person.as_ref() {
            self.spans.push((from, person));
        }
    }

    /// Nobody ever had the number.
    pub(super) const fn is_empty(&self) -> bool {
        self.spans.is_empty()
    }
}
