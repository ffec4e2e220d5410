//! A person's judged readings as averaging takes them.

use super::taken::{Taken, Values};
use super::worn::Worn;
use crate::gatt::Sfloat;
use crate::household::{StatedNote, Zones};
use crate::reading::{Reading, pressures};
use crate::sitting::Slot;
use crate::technique::session::Session;
use crate::technique::{Judgement, Reason};

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
        arm: Worn::noted(reading, notes).arm,
        posed: judgement.reasons.posed(),
    }
}
