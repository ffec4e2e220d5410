//! The judgement: what became of a reading, and why.

use super::disposition::Disposition;
use super::reasons::Reasons;
use super::rules::{REPORTED, SETTING_ASIDE};
use crate::gatt::Sfloat;
use crate::household::Posed;
use crate::household::{Household, StatedNote};
use crate::reading::Reading;
use crate::sitting::SessionRule;
use jiff::tz::TimeZone;

/// What a judgement depends on beside the readings themselves.
#[derive(Clone, Copy, Debug)]
pub struct Context<'a> {
    /// The people and the monitors.
    pub household: &'a Household,
    /// The notes that were not taken back, ordered by time. Of the sitting at hand only the notes from
    /// [`super::NOTES_BACK`] before it to [`super::NOTES_AHEAD`] after it are looked at.
    pub notes: &'a [StatedNote],
    /// The household's zone at that time.
    pub zone: &'a TimeZone,
    /// What the protocol asks of a session.
    pub rule: SessionRule,
}

/// What became of one reading, and why.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Judgement {
    /// What became of the reading.
    pub disposition: Disposition,
    /// The reasons for the disposition; there are none where the reading is simply counted.
    pub reasons: Reasons,
    /// The mean arterial pressure, in the reading's own unit; `None` where the monitor gave none or an
    /// impossible one.
    pub mean_arterial_pressure: Option<Sfloat>,
}

impl Judgement {
    /// Whether the reading makes up its session: it is averaged, and of the kind that protocols ask for.
    pub fn is_of_session(&self) -> bool {
        self.disposition.is_averaged() && self.reasons.posed() == Posed::Seated
    }

    /// Whether it is set aside only because `strict` is stated for its person: by anybody else's it would be marked.
    pub(crate) fn is_by_strict(&self) -> bool {
        self.disposition == Disposition::SetAside && !self.reasons.any_of(SETTING_ASIDE)
    }

    /// The reasons that the disposition rests on: of a reading that was set aside the reasons that set it
    /// aside, of a marked reading its marks.
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
    /// The reading that was judged.
    pub reading: Reading,
    /// What became of the reading, and why.
    pub judgement: Judgement,
    /// The id of the session that the reading belongs to; `None` where it belongs to none.
    pub session: Option<String>,
    /// The number in the journal of the frame that the reading was made of.
    pub frame: i64,
}
