//! What is released of a reading, in whatever form it is handed on.

use crate::household::PersonId;
use crate::reading::Reading;
use crate::technique::{Judgement, Reason, Reasons};

/// What became of a reading that was handed over.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Became {
    /// It is exported.
    Exported,
    /// It is exported as withdrawn.
    Withdrawn,
    /// It was set aside, for these reasons.
    SetAside(Reasons),
    /// Nobody knows whose it is, or that person is not among the chosen ones.
    Nobodys,
}

/// What becomes of a reading, where these people are chosen.
pub(super) fn became(
    reading: &Reading,
    judgement: &Judgement,
    chosen: impl FnOnce(&PersonId) -> bool,
) -> Became {
    let because = judgement.because();
    let Some(person) = &reading.person else {
        return Became::Nobodys;
    };
    if reading.time.at.is_none() {
        return Became::SetAside(because);
    }
    if !chosen(person) {
        return Became::Nobodys;
    }
    // Released before it was withdrawn, if nothing else stood against it.
    if because == Reasons::from_iter([Reason::Discarded]) {
        Became::Withdrawn
    } else if judgement.disposition.is_averaged() {
        Became::Exported
    } else {
        Became::SetAside(because)
    }
}
