//! What becomes of a reading.

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

    /// Whether the reading goes into an average.
    pub const fn is_averaged(self) -> bool {
        !matches!(self, Self::SetAside)
    }
}
