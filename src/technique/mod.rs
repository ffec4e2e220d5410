//! How well it was measured: every rule in one place, each with its source and a sentence for the person.
//!
//! What the radio can see is *observed*, what a person says is *reported*; the two are never mixed. A value is never
//! corrected for a fault: a published effect size explains a mark, it is not subtracted.

/// What becomes of a reading. Every reading has exactly one.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub enum Disposition {
    /// Averaged.
    Counted,
    /// Averaged, with something to know.
    Marked,
    /// Kept and listed, not averaged.
    SetAside,
}

impl Disposition {
    /// As contracts print it.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Counted => "counted",
            Self::Marked => "marked",
            Self::SetAside => "set-aside",
        }
    }
}
