//! What a household released to a clinic: whose measurements, of which days, who said so, and who took it back.

use jiff::Timestamp;
use jiff::civil::Date;

/// Characters that are kept of the name of whoever says something about a release: one line of a list.
pub const BY_CHARS_MAX: usize = 80;

/// What was said of one person and one clinic, and what became of it.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Release {
    /// The address of the clinic's server, as deliveries call it.
    pub clinic: String,
    /// What was released; `None` where somebody took back what nobody had stated.
    pub given: Option<ReleasedDays>,
    /// Who took it back, and when; `None` while it holds.
    pub withdrawn: Option<TakenBack>,
}

/// What was released, and who said so.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct ReleasedDays {
    /// The first day of which a measurement may go, by the household's clock; `None` means from the beginning.
    pub from: Option<Date>,
    /// The last such day; `None` means that none is the last.
    pub until: Option<Date>,
    /// The one who said so; `None` where nobody was named.
    pub by: Option<String>,
    /// The moment at which it was said.
    pub at: Timestamp,
}

/// A release was taken back.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct TakenBack {
    /// The one who said so; `None` where nobody was named.
    pub by: Option<String>,
    /// The moment at which it was said.
    pub at: Timestamp,
}

/// What was released, and until when that held.
#[derive(Clone, Copy, Debug)]
pub struct Granted<'h> {
    /// What was released.
    pub days: &'h ReleasedDays,
    /// The moment at which it was withdrawn, or another took its place; `None` while it holds.
    pub until: Option<Timestamp>,
}

impl Granted<'_> {
    /// Whether it held at this moment.
    pub fn held_at(&self, at: Timestamp) -> bool {
        self.days.at <= at && self.until.is_none_or(|until| at < until)
    }
}
