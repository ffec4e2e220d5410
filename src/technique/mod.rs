//! How well it was measured: every rule in one place, each with its source and a sentence for the person.
//!
//! What the radio can see is *observed*, what a person says is *reported*; the two are never mixed. A value is never
//! corrected for a fault: a published effect size explains a mark, it is not subtracted.
//!
//! The unit of judgement is a sitting (see [`crate::monitoring::session`]): a new reading changes the judgement of its
//! own sitting and of nothing else, so that judging costs the same with a thousand readings behind it as with a
//! million. [`judge`] is a function of the sitting's readings and of what the household stated; the order in which
//! they arrived does not enter.

mod explain;
mod observed;
mod reasons;
mod reported;
mod rules;

pub use explain::explain;
pub(crate) use observed::possible;
pub use observed::{Detected, detected, pressures};
pub use reasons::{Reason, Reasons};
pub use reported::{NOTES_AHEAD, NOTES_BACK, of_monitor};
pub(crate) use reported::{between, settled_at};
pub use rules::{Basis, Effect, Judges, RULES, Rule};

use crate::gatt::Sfloat;
use crate::household::{Household, StatedNote};
use crate::monitoring::session::{Session, SessionRule, Slot, Span, Windows};
use crate::reading::Reading;
use jiff::tz::TimeZone;

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
        let decisive = self.reasons.only(rules::SETTING_ASIDE);
        match self.disposition {
            Disposition::SetAside if decisive.is_empty() => self.reasons.only(rules::REPORTED),
            Disposition::SetAside => decisive,
            Disposition::Counted | Disposition::Marked => self.reasons,
        }
    }
}

/// A sitting, judged.
#[derive(Clone, PartialEq, Debug)]
pub struct Judged {
    /// One for each reading, in their order.
    pub judgements: Vec<Judgement>,
    /// The session that they make; none where the person or the time is unknown.
    pub session: Option<Session>,
}

/// Judges the readings of one sitting, ordered as [`crate::monitoring::session::order`] has it.
pub fn judge(sitting: &[Reading], context: &Context<'_>) -> Judged {
    let span = Span::of(sitting);
    let person = sitting
        .first()
        .and_then(|reading| reading.person.as_ref())
        .and_then(|id| context.household.people.get(id))
        .map(|(person, _removed)| person);
    let strict = person.is_some_and(|person| person.strict);
    let windows = Windows::of(person);

    let mut judgements: Vec<Judgement> = sitting
        .iter()
        .enumerate()
        .map(|(i, reading)| {
            let pressures = pressures(reading);
            let mut reasons = observed::status(reading)
                .and(observed::values(reading, pressures))
                .and(reported::statements(reading, span, context))
                .and(unsettled(reading));
            let earlier = sitting.get(..i).unwrap_or_default();
            reasons.add_if(
                observed::too_soon(earlier, reading, context.rule.gap_s),
                Reason::TooSoon,
            );
            if let (Some(at), Some(_)) = (reading.time.at, &reading.person) {
                let slot = windows.slot(context.zone.to_datetime(at));
                reasons.add_if(slot == Slot::Other, Reason::OutsideWindow);
            }
            Judgement {
                disposition: disposition(reasons, strict),
                reasons,
                mean_arterial_pressure: observed::mean_arterial_pressure(reading, pressures),
            }
        })
        .collect();

    // What the readings that count say together.
    let averaged = sitting
        .iter()
        .zip(&judgements)
        .filter(|(_, judgement)| judgement.disposition.is_averaged())
        .map(|(reading, _)| reading);
    let apart = context.rule.apart(averaged.clone());
    let wanted = context.rule.wanted(person, apart);
    let missing = match averaged.count() {
        1 if wanted > 1 => Some(Reason::LoneReading),
        2 if wanted > 2 => Some(Reason::ThirdReadingMissing),
        _ => None,
    };
    if let Some(missing) = missing {
        for judgement in judgements.iter_mut().filter(|j| j.disposition.is_averaged()) {
            judgement.reasons.add(missing);
            judgement.disposition = disposition(judgement.reasons, strict);
        }
    }
    let session = Session::of(sitting, &judgements, (wanted, apart), &windows, context.zone);
    Judged { judgements, session }
}

/// What is not known of a reading, so that somebody has to be asked.
fn unsettled(reading: &Reading) -> Reasons {
    let mut reasons = Reasons::NONE;
    reasons.add_if(reading.time.at.is_none(), Reason::TimeUnknown);
    // There is a stamp, and it could not be believed.
    reasons.add_if(
        reading.time.at.is_none() && reading.time.stamp.is_some(),
        Reason::ClockFault,
    );
    reasons.add_if(reading.person.is_none(), Reason::PersonUnknown);
    reasons
}

/// Set aside for any one reason that does so, else marked for any other.
fn disposition(reasons: Reasons, strict: bool) -> Disposition {
    if reasons.any_of(rules::SETTING_ASIDE) || strict && reasons.any_of(rules::REPORTED) {
        Disposition::SetAside
    } else if reasons.is_empty() {
        Disposition::Counted
    } else {
        Disposition::Marked
    }
}
