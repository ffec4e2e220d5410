//! The disposition: what becomes of a reading.

/// What becomes of a reading. Every reading has exactly one disposition.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub enum Disposition {
    /// The reading is averaged, and nothing speaks against it.
    Counted,
    /// The reading is averaged, with something to know.
    Marked,
    /// The reading is kept and listed, and not averaged.
    SetAside,
}

impl Disposition {
    /// The name that the JSON output prints.
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
