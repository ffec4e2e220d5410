//! What became of a reading, and why.

use super::disposition::Disposition;
use super::reasons::Reasons;
use super::rules::{REPORTED, SETTING_ASIDE};
use crate::gatt::Sfloat;
use crate::household::{Household, StatedNote};
use crate::reading::Reading;
use crate::sitting::SessionRule;
use jiff::tz::TimeZone;

/// What a judgement depends on beside the readings themselves.
#[derive(Clone, Copy, Debug)]
pub struct Context<'a> {
    /// People and monitors.
    pub household: &'a Household,
    /// Notes that were not taken back, ordered by time. Of the sitting at hand only those from [`NOTES_BACK`] before
    /// it to [`NOTES_AHEAD`] after it are looked at.
    pub notes: &'a [StatedNote],
    /// The household's zone at that time.
    pub zone: &'a TimeZone,
    /// What the protocol asks of a session.
    pub rule: SessionRule,
}

/// What became of one reading, and why.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Judgement {
    /// Exactly one.
    pub disposition: Disposition,
    /// None where it is simply counted.
    pub reasons: Reasons,
    /// The mean arterial pressure, unless the monitor gave none or one that cannot be.
    pub mean_arterial_pressure: Option<Sfloat>,
}

impl Judgement {
    /// The reasons that the disposition rests on: of a reading that was set aside those that set it aside, of a marked
    /// one its marks.
    pub fn because(&self) -> Reasons {
        let decisive = self.reasons.only(SETTING_ASIDE);
        match self.disposition {
            Disposition::SetAside if decisive.is_empty() => self.reasons.only(REPORTED),
            Disposition::SetAside => decisive,
            Disposition::Counted | Disposition::Marked => self.reasons,
        }
    }
}

/// A reading with its judgement.
#[derive(Clone, Debug)]
pub struct JudgedReading {
    /// The reading.
    pub reading: Reading,
    /// What became of it.
    pub judgement: Judgement,
    /// The session that it belongs to.
    pub session: Option<String>,
    /// The frame that it was made of.
    pub frame: i64,
}
