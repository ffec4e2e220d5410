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
pub use observed::{Detected, detected, mean_arterial_pressure, pressures};
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

    let mut reasons: Vec<Reasons> = Vec::with_capacity(sitting.len());
    let mut earlier: &[Reading] = &[];
    for (i, reading) in sitting.iter().enumerate() {
        let mut found = observed::status(reading)
            .and(observed::values(reading))
            .and(reported::statements(reading, span, context));
        found.add_if(
            observed::too_soon(earlier, reading, context.rule.gap_s),
            Reason::TooSoon,
        );
        found.add_if(reading.time.at.is_none(), Reason::TimeUnknown);
        // There is a stamp, and it could not be believed.
        found.add_if(
            reading.time.at.is_none() && reading.time.stamp.is_some(),
            Reason::ClockFault,
        );
        found.add_if(reading.person.is_none(), Reason::PersonUnknown);
        if let (Some(at), Some(_)) = (reading.time.at, &reading.person) {
            let slot = windows.slot(context.zone.to_datetime(at));
            found.add_if(slot == Slot::Other, Reason::OutsideWindow);
        }
        reasons.push(found);
        earlier = sitting.get(..=i).unwrap_or_default();
    }

    // What the readings of the session say together.
    let averaged = |found: &Reasons| disposition(*found, strict).is_averaged();
    let counted = reasons.iter().filter(|found| averaged(found)).count();
    let apart = context.rule.apart(
        sitting
            .iter()
            .zip(&reasons)
            .filter(|(_, found)| averaged(found))
            .map(|(reading, _)| reading),
    );
    let wanted = context.rule.wanted(person, apart);
    let together = if counted == 1 && context.rule.readings > 1 {
        Some(Reason::LoneReading)
    } else if counted == 2 && wanted > 2 {
        Some(Reason::ThirdReadingMissing)
    } else {
        None
    };
    if let (Some(reason), Some(_)) = (together, span) {
        for found in &mut reasons {
            if averaged(found) {
                found.add(reason);
            }
        }
    }

    let judgements: Vec<Judgement> = sitting
        .iter()
        .zip(&reasons)
        .map(|(reading, &reasons)| Judgement {
            disposition: disposition(reasons, strict),
            reasons,
            mean_arterial_pressure: mean_arterial_pressure(reading),
        })
        .collect();
    let session = Session::of(sitting, &judgements, (wanted, apart), &windows, context.zone);
    Judged { judgements, session }
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
