//! What averaging needs to know of a reading, and nothing else.
//!
//! It does not know frames, clocks or rules: when, whose and how well are settled before. So that an average
//! can be checked from outside with a handful of plain values.

use crate::household::{Arm, Posed};
use crate::reading::Pressure;
use crate::sitting::Slot;
use crate::technique::Disposition;
use jiff::Timestamp;
use jiff::civil::Date;
use std::cmp::Ordering;

/// One reading of one person.
#[derive(Clone, PartialEq, Debug)]
pub struct Taken {
    /// The measuring day that it belongs to: that of its session; of a reading in no session, the household's
    /// calendar day on which it was taken; where the time is unknown, the day of its receipt.
    pub day: Date,
    /// Where in the day.
    pub slot: Slot,
    /// Which session; readings with one number were taken in one sitting. `None` for a reading that is in
    /// none.
    pub session: Option<u64>,
    /// When it was taken; where that is unknown, when it was received.
    pub at: Timestamp,
    /// What it measured, unless the monitor sent no number.
    pub values: Option<Values>,
    /// What technique made of it.
    pub disposition: Disposition,
    /// The reasons for that disposition: for a reading set aside those that set it aside, for a marked one
    /// its marks.
    pub reasons: Vec<&'static str>,
    /// Whether the monitor reported an irregular pulse, and can report one.
    pub irregular_pulse: bool,
    /// The arm, where somebody stated it.
    pub arm: Option<Arm>,
    /// How the person was; only seated readings enter a protocol's average.
    pub posed: Posed,
}

/// The numbers of a reading.
#[derive(Clone, Copy, PartialEq, Debug)]
#[expect(missing_docs, reason = "the names say it")]
pub struct Values {
    pub systolic: Pressure,
    pub diastolic: Pressure,
    /// Beats per minute.
    pub pulse_rate: Option<f64>,
}

impl Taken {
    /// Its values, if it is averaged. A reading without numbers never is, whatever its disposition says.
    pub fn counted(&self) -> Option<&Values> {
        match self.disposition {
            Disposition::Counted | Disposition::Marked => self.values.as_ref(),
            Disposition::SetAside => None,
        }
    }

    /// Order of time; equal moments in order of everything else, so that no result depends on the order of
    /// arrival.
    pub(super) fn in_time(&self, other: &Self) -> Ordering {
        let key = |taken: &Self| {
            let pressures = taken.values.map(|values| (values.systolic, values.diastolic));
            (
                taken.day,
                taken.at,
                taken.session,
                taken.slot,
                taken.disposition,
                pressures,
            )
        };
        let pulse = |taken: &Self| {
            taken
                .values
                .and_then(|values| values.pulse_rate)
                .unwrap_or(f64::NAN)
        };
        key(self)
            .cmp(&key(other))
            .then_with(|| pulse(self).total_cmp(&pulse(other)))
            .then_with(|| self.reasons.cmp(&other.reasons))
    }
}
