//! The faults that can be seen without asking anybody: in the status bits, in the values, and in the time
//! since the reading before.

use super::reasons::{Reason, Reasons};
use crate::gatt::{MeasurementStatus, PulseRateRange, Sfloat};
use crate::reading::{Precision, Pressure, Reading, TimeSource};

/// What a status bit says about a fault. The monitor's Feature characteristic tells a clear bit that means
/// "did not happen" from a clear bit that means nothing.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub enum Detected {
    /// The fault happened.
    Yes,
    /// The monitor looks for the fault, and it did not happen.
    No,
    /// The monitor does not look for the fault, or nobody knows whether it does.
    Unknown,
}

/// One thing that a monitor may look for: its bit in the Blood Pressure Feature, and what the status says of
/// it.
struct Sight {
    feature_bit: u16,
    set: fn(MeasurementStatus) -> bool,
    reason: Reason,
}

const SIGHTS: [Sight; 6] = [
    Sight {
        feature_bit: 1,
        set: MeasurementStatus::body_movement,
        reason: Reason::BodyMovement,
    },
    Sight {
        feature_bit: 1 << 1,
        set: MeasurementStatus::cuff_too_loose,
        reason: Reason::CuffTooLoose,
    },
    Sight {
        feature_bit: 1 << 4,
        set: MeasurementStatus::improper_position,
        reason: Reason::ImproperPosition,
    },
    Sight {
        feature_bit: 1 << 2,
        set: MeasurementStatus::irregular_pulse,
        reason: Reason::IrregularPulse,
    },
    Sight {
        feature_bit: 1 << 3,
        set: |status| matches!(status.pulse_rate_range(), PulseRateRange::Above),
        reason: Reason::PulseRateAboveRange,
    },
    Sight {
        feature_bit: 1 << 3,
        set: |status| matches!(status.pulse_rate_range(), PulseRateRange::Below),
        reason: Reason::PulseRateBelowRange,
    },
];

impl Sight {
    /// A set bit is believed unless the Feature was read and says that the monitor does not look for the
    /// fault: then the bit means nothing, whatever it is, because the monitor contradicts itself. While the
    /// Feature is unread, a set bit is still a warning, and only a clear bit means nothing.
    fn detected(&self, status: Option<MeasurementStatus>, feature: Option<u16>) -> Detected {
        let Some(status) = status else {
            return Detected::Unknown;
        };
        let looks_for_it = feature.map(|bits| bits & self.feature_bit != 0);
        match ((self.set)(status), looks_for_it) {
            (true, Some(true) | None) => Detected::Yes,
            (false, Some(true)) => Detected::No,
            (_, Some(false)) | (false, None) => Detected::Unknown,
        }
    }
}

/// What the status bits say about each fault, in the order of the reasons.
pub fn detected(reading: &Reading) -> impl Iterator<Item = (Reason, Detected)> {
    SIGHTS
        .iter()
        .map(|sight| (sight.reason, sight.detected(reading.status, reading.feature)))
}

/// The reasons of the bits that are set although the monitor's Feature says that it does not look for them.
/// Such bits mean nothing, and are told so that nobody has to find them in the octets.
pub(crate) fn contradicted(reading: &Reading) -> Reasons {
    let Some(status) = reading.status else {
        return Reasons::NONE;
    };
    SIGHTS
        .iter()
        .filter(|sight| (sight.set)(status) && sight.detected(Some(status), reading.feature) != Detected::Yes)
        .map(|sight| sight.reason)
        .collect()
}

pub(super) fn status(reading: &Reading) -> Reasons {
    // Most readings have no bit set.
    if reading
        .status
        .is_none_or(|status| status.0 & !MeasurementStatus::RESERVED == 0)
    {
        return Reasons::NONE;
    }
    detected(reading)
        .filter(|&(_, detected)| detected == Detected::Yes)
        .map(|(reason, _)| reason)
        .collect()
}

/// The lowest and the highest pressure in mmHg; both are included in what is possible or likely.
const SYSTOLIC_POSSIBLE: (Pressure, Pressure) = (Pressure::from_mmhg(40), Pressure::from_mmhg(300));
const DIASTOLIC_POSSIBLE: (Pressure, Pressure) = (Pressure::from_mmhg(20), Pressure::from_mmhg(200));
const SYSTOLIC_LIKELY: (Pressure, Pressure) = (Pressure::from_mmhg(60), Pressure::from_mmhg(230));
const DIASTOLIC_LIKELY: (Pressure, Pressure) = (Pressure::from_mmhg(40), Pressure::from_mmhg(130));
/// The pulse pressure in mmHg. 2 % of adults have a pulse pressure above 100 (NHANES 2009-12), so the limit
/// lies well above that.
const PULSE_PRESSURE_LIKELY: (Pressure, Pressure) = (Pressure::from_mmhg(15), Pressure::from_mmhg(120));
/// The pulse rate in beats per minute.
const PULSE_LIKELY: (f64, f64) = (35.0, 180.0);

fn within<T: PartialOrd + Copy>(value: T, (low, high): (T, T)) -> bool {
    low <= value && value <= high
}

/// Whether the two pressures can be a person's at all.
pub(crate) fn possible(systolic: Pressure, diastolic: Pressure) -> bool {
    systolic > diastolic && within(systolic, SYSTOLIC_POSSIBLE) && within(diastolic, DIASTOLIC_POSSIBLE)
}

/// The reasons that the values of a reading give. `pressures` are those of the reading.
pub(super) fn values(reading: &Reading, pressures: Option<(Pressure, Pressure)>) -> Reasons {
    let mut reasons = Reasons::NONE;
    if reading.systolic.special().is_some() || reading.diastolic.special().is_some() {
        reasons.add(Reason::NoValue);
        return reasons;
    }
    // A number too large for a pressure is as impossible as one out of range.
    let possible = pressures.filter(|&(systolic, diastolic)| possible(systolic, diastolic));
    let Some((systolic, diastolic)) = possible else {
        reasons.add(Reason::ImpossibleValue);
        return reasons;
    };
    let pulse = reading.pulse_rate.and_then(Sfloat::to_f64);
    reasons.add_if(
        !within(systolic, SYSTOLIC_LIKELY)
            || !within(diastolic, DIASTOLIC_LIKELY)
            || !within(systolic - diastolic, PULSE_PRESSURE_LIKELY)
            || pulse.is_some_and(|pulse| !within(pulse, PULSE_LIKELY)),
        Reason::UnlikelyValue,
    );
    reasons
}

/// The mean arterial pressure, where it is a number between the other two. A wrong one says nothing against
/// the reading: the mean arterial pressure alone is dropped.
pub(super) fn mean_arterial_pressure(
    reading: &Reading,
    pressures: Option<(Pressure, Pressure)>,
) -> Option<Sfloat> {
    let (systolic, diastolic) = pressures?;
    let mean = Pressure::from_sfloat(reading.mean_arterial_pressure, reading.unit)?;
    (diastolic < mean && mean < systolic).then_some(reading.mean_arterial_pressure)
}

/// The most seconds by which two clocks, each read to the second, may disagree about how far apart two
/// moments are.
const TWO_CLOCKS_S: i64 = 2;

/// The number of earlier readings that are looked at. A cuff cannot be pumped up more often than that in a
/// minute; more readings come only from a source that makes them up.
const EARLIER_MAX: usize = 8;

/// Whether the stamps prove that less than `gap_s` seconds passed since the end of an earlier measurement,
/// whatever became of that one: an arm was squeezed. `earlier` are the readings of the sitting before this
/// one, in order.
pub(super) fn too_soon(earlier: &[Reading], reading: &Reading, gap_s: i64) -> bool {
    earlier
        .iter()
        .rev()
        .take(EARLIER_MAX)
        .any(|before| gap_at_most_s(before, reading).is_some_and(|gap| gap < gap_s))
}

/// The most seconds that can have passed from the end of one measurement to the end of the other. `None`
/// where the stamps prove nothing.
///
/// Nobody's stamp says when a measurement began, so that the rest between two is shorter still by the half
/// minute that the second took; what is too short between the ends is therefore certainly too short. A stamp
/// in whole minutes proves nothing, and neither does a receipt: a reading may have waited for its connection
/// longer than its successor did, and two that were taken well apart can arrive together.
fn gap_at_most_s(before: &Reading, after: &Reading) -> Option<i64> {
    let proves = |reading: &Reading| {
        reading.time.precision == Precision::Second
            && matches!(
                reading.time.source,
                TimeSource::MonitorClock | TimeSource::KnownOffset | TimeSource::WallClock
            )
    };
    if !proves(before) || !proves(after) {
        return None;
    }
    let by_moment = after.time.at?.duration_since(before.time.at?).as_secs();
    if before.monitor != after.monitor {
        let both_read =
            before.time.source == TimeSource::MonitorClock && after.time.source == TimeSource::MonitorClock;
        return both_read.then_some(by_moment + TWO_CLOCKS_S);
    }
    // Both stamps are of one clock. Where it was not set in between, its stamps are right about the gap even
    // if the two corrections differ by a second; where it was set, the moments are. The longer of the two is
    // what is proven. Two corrections can put the two in the other order, and a gap is one all the same.
    let by_stamp = after
        .time
        .stamp?
        .duration_since(before.time.stamp?)
        .as_secs()
        .abs();
    Some(by_moment.max(by_stamp))
}
