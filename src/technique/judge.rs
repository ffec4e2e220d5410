//! The judging of a sitting: what became of each of its readings, and the session that they make.

use super::disposition::Disposition;
use super::judgement::{Context, Judgement};
use super::reasons::{Reason, Reasons};
use super::session::Session;
use super::{observed, reported, rules};
use crate::reading::{Reading, pressures};
use crate::sitting::{Slot, Span, Windows};

/// A sitting with its judgements.
#[derive(Clone, PartialEq, Debug)]
pub struct Judged {
    /// The judgements, one for each reading, in the order of the readings.
    pub judgements: Vec<Judgement>,
    /// The session that the readings make; `None` where the person or the time is unknown.
    pub session: Option<Session>,
}

/// Judges the readings of one sitting, ordered as [`crate::sitting::order`] has it.
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

    // These are the reasons that follow from the averaged readings together.
    let averaged = sitting
        .iter()
        .zip(&judgements)
        .filter(|(_, judgement)| judgement.is_of_session())
        .map(|(reading, _)| reading);
    let apart = context.rule.apart(averaged.clone());
    let wanted = context.rule.wanted(person, apart);
    let missing = match averaged.count() {
        1 if wanted > 1 => Some(Reason::LoneReading),
        2 if wanted > 2 => Some(Reason::ThirdReadingMissing),
        _ => None,
    };
    if let Some(missing) = missing {
        for judgement in judgements.iter_mut().filter(|j| j.is_of_session()) {
            judgement.reasons.add(missing);
            judgement.disposition = disposition(judgement.reasons, strict);
        }
    }
    let session = Session::of(sitting, &judgements, (wanted, apart), &windows, context.zone);
    Judged { judgements, session }
}

/// The reasons for what is not known of a reading, so that somebody has to be asked.
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

/// The disposition that the reasons give: set aside for any one reason that does so, else marked for any
/// other reason, else counted. With `strict`, a reported fault sets aside too.
fn disposition(reasons: Reasons, strict: bool) -> Disposition {
    if reasons.any_of(rules::SETTING_ASIDE) || strict && reasons.any_of(rules::REPORTED) {
        Disposition::SetAside
    } else if reasons.is_empty() {
        Disposition::Counted
    } else {
        Disposition::Marked
    }
}
