//! The readings that can be plotted, as days, parts of the day and numbers.

use crate::export::report::Report;
use crate::export::report::document::PlotMark;
use crate::monitoring::taken::Taken;
use crate::sitting::Slot;
use crate::technique::Disposition;
use jiff::civil::Date;

/// What is plotted, in mmHg; beyond it a value that cannot be would press all others flat.
const PLOTTED: std::ops::RangeInclusive<f64> = 20.0..=300.0;
impl PlotMark {
    pub(in crate::export::report) const fn of(disposition: Disposition) -> Self {
        match disposition {
            Disposition::Counted => Self::Counted,
            Disposition::Marked => Self::Marked,
            Disposition::SetAside => Self::SetAside,
        }
    }
}

/// A reading that can be plotted.
#[derive(Clone, Copy)]
pub(super) struct Spot {
    pub(super) day: Date,
    pub(super) slot: Slot,
    pub(super) mark: PlotMark,
    pub(super) systolic: f64,
    pub(super) diastolic: f64,
    pub(super) pulse: Option<f64>,
}

/// What can be plotted: its time is known, and its values are not beyond all measure.
pub(super) fn spots(report: &Report<'_>) -> Vec<Spot> {
    let timed = report
        .readings
        .iter()
        .filter(|(judged, _)| judged.reading.time.at.is_some());
    timed.filter_map(|(_, taken)| spot(taken)).collect()
}

pub(super) fn spot(taken: &Taken) -> Option<Spot> {
    let values = taken.values?;
    let (systolic, diastolic) = (values.systolic.mmhg(), values.diastolic.mmhg());
    (PLOTTED.contains(&systolic) && PLOTTED.contains(&diastolic)).then_some(Spot {
        day: taken.day,
        slot: taken.slot,
        mark: PlotMark::of(taken.disposition),
        systolic,
        diastolic,
        pulse: values.pulse_rate.filter(|pulse| PLOTTED.contains(pulse)),
    })
}
