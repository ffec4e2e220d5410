//! A person's judged readings as averaging takes them.

use super::taken::{Taken, Values};
use crate::gatt::Sfloat;
use crate::household::{Arm, Note, StatedNote, Zones};
use crate::reading::{Reading, pressures};
use crate::sitting::{SITTING_GAP, Slot};
use crate::technique::session::Session;
use crate::technique::{Judgement, Reason, between};
use jiff::SignedDuration;

/// A note on the arm is about readings this long before and after it: as far as two readings of one sitting
/// may be apart.
const ABOUT_THE_SITTING: SignedDuration = SITTING_GAP;

/// What averaging needs of a reading. `session` is the session that it belongs to and its number among the
/// person's; `notes` are ordered by time.
pub fn taken(
    reading: &Reading,
    judgement: &Judgement,
    session: Option<(u64, &Session)>,
    notes: &[StatedNote],
    zones: &Zones,
) -> Taken {
    let at = reading.time.at.unwrap_or(reading.received_at);
    Taken {
        day: session.map_or_else(|| zones.civil(at).date(), |(_, session)| session.date),
        slot: session.map_or(Slot::Other, |(_, session)| session.slot),
        session: session.map(|(number, _)| number),
        at,
        values: pressures(reading).map(|(systolic, diastolic)| Values {
            systolic,
            diastolic,
            pulse_rate: reading.pulse_rate.and_then(Sfloat::to_f64),
        }),
        disposition: judgement.disposition,
        reasons: judgement.because().iter().map(Reason::name).collect(),
        irregular_pulse: judgement.reasons.contains(Reason::IrregularPulse),
        arm: arm(reading, notes),
        posed: judgement.reasons.posed(),
    }
}

/// The arm that was noted last before the reading, else next after it, in the same sitting.
fn arm(reading: &Reading, notes: &[StatedNote]) -> Option<Arm> {
    let at = reading.time.at?;
    let from = at.checked_sub(ABOUT_THE_SITTING).ok()?;
    let to = at.checked_add(ABOUT_THE_SITTING).ok()?;
    let noted = || {
        between(notes, from, to)
            .iter()
            .filter_map(|note| match note.what {
                Note::Arm { arm } if note.person.is_some() && note.person == reading.person => {
                    Some((note.at, arm))
                }
                _ => None,
            })
    };
    let before = noted().rfind(|(when, _)| *when <= at);
    before.or_else(|| noted().next()).map(|(_, arm)| arm)
}
