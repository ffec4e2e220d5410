//! What a clinician should know of a reading or an average, in words that every form carries.

use crate::gatt::Unit;
use crate::household::{Arm, Site, arms_of};
use crate::monitoring::average::Average;
use crate::monitoring::period::Period;
use crate::monitoring::protocol::{AverageOf, Protocol};
use crate::monitoring::worn::{Fits, Worn};
use crate::reading::{MeasuredTime, Reading, TimeSource};
use crate::technique::{Disposition, Judgement, Reason};
use std::collections::BTreeMap;
use std::fmt::Write;

/// What the monitor itself reports.
const REPORTED: [Reason; 6] = [
    Reason::BodyMovement,
    Reason::CuffTooLoose,
    Reason::IrregularPulse,
    Reason::PulseRateAboveRange,
    Reason::PulseRateBelowRange,
    Reason::ImproperPosition,
];

/// What a clinician should know of the reading, in words.
pub(super) fn of_reading(reading: &Reading, judgement: &Judgement) -> Vec<String> {
    let mut notes = Vec::new();
    let mut say = |text: String| notes.push(text);
    let reported = |reason: &Reason| REPORTED.contains(reason);
    let named = |reasons: &mut dyn Iterator<Item = Reason>| {
        let names: Vec<String> = reasons.map(|reason| reason.name().replace('-', " ")).collect();
        names.join(", ")
    };
    let flags = named(&mut judgement.reasons.iter().filter(reported));
    if !flags.is_empty() {
        say(format!("The monitor reported: {flags}."));
    }
    if judgement.disposition != Disposition::Counted {
        let others = named(
            &mut judgement
                .reasons
                .iter()
                .filter(|reason| !reported(reason) && *reason != Reason::Discarded),
        );
        if !others.is_empty() {
            say(format!("To know: {others}."));
        }
    }
    if let Some(time) = time_note(&reading.time) {
        say(time);
    }
    if reading.unit == Unit::KPa {
        say("Measured in kPa; converted to mmHg and rounded half up. What was measured stands beside each value.".into());
    }
    if let Some(reason) = &reading.discarded {
        say(format!("Withdrawn by the household: {}", reason.trim()));
    }
    notes
}

/// What every measurement of a household's has in common.
pub(super) const AT_HOME: &str = "Self-measured at home with an automatic monitor";

/// How a reading was measured, in words.
pub(super) fn of_how(worn: &Worn) -> Vec<String> {
    let on = of_site(worn).map_or_else(String::new, |site| format!(", on the {site}"));
    let mut notes = vec![format!("{AT_HOME}{on}.")];
    notes.extend(worn.cuff.map(of_cuff));
    notes
}

/// Where the cuff was; `None` where nobody said on which arm.
pub(super) fn of_site(worn: &Worn) -> Option<&'static str> {
    Some(match (worn.arm?, worn.site) {
        (Arm::Left, Some(Site::UpperArm)) => "left upper arm",
        (Arm::Right, Some(Site::UpperArm)) => "right upper arm",
        (Arm::Left, Some(Site::Wrist)) => "left wrist",
        (Arm::Right, Some(Site::Wrist)) => "right wrist",
        (Arm::Left, None) => "left arm",
        (Arm::Right, None) => "right arm",
    })
}

/// Which arms the cuff fits.
pub(super) fn of_cuff((min_mm, max_mm): Fits) -> String {
    format!("Cuff for {}.", arms_of(min_mm, max_mm))
}

/// How the time is known, unless it is the monitor's own and its clock was right.
fn time_note(time: &MeasuredTime) -> Option<String> {
    let stamp = time.stamp.map(|stamp| stamp.to_string()).unwrap_or_default();
    let corrected = format!(
        "Time corrected: the monitor's clock said {stamp}; {} s were {} ({}).",
        time.correction_s.unsigned_abs(),
        if time.correction_s < 0 {
            "taken away"
        } else {
            "added"
        },
        time.source.name().replace('-', " ")
    );
    match time.source {
        TimeSource::Stated => Some("Time stated by the household.".to_owned()),
        TimeSource::Receipt => {
            Some("The monitor sent no time; this is when the reading was received.".to_owned())
        }
        _ if time.correction_s != 0 => Some(corrected),
        TimeSource::WallClock => {
            Some("The time is the monitor's own, whose clock could not be checked.".to_owned())
        }
        TimeSource::MonitorClock | TimeSource::KnownOffset | TimeSource::Unknown => None,
    }
}

/// The rule in words, and what is not in the average.
pub(super) fn of_average(period: &Period, protocol: &Protocol, average: &Average) -> String {
    let counted = match protocol.average_of.value {
        AverageOf::All => "every seated reading of the sessions that counts",
        AverageOf::LastTwo => "the last two readings of each session that count",
        AverageOf::WithoutFirst => "the readings of each session that count, without its first",
    };
    let first_day = if protocol.drop_first_day.value {
        "the first day is left out"
    } else {
        "the first day is included"
    };
    let mut text = format!(
        "Average of {} self-measured readings on {} days, {} to {}. Protocol {}: {}. Rule: the mean of {counted}; {first_day}; \
         at least {} readings on {} days are needed. Sessions: {} of {} expected. ",
        average.n,
        average.days,
        period.from,
        period.to,
        protocol.name,
        protocol.title,
        protocol.readings_min.value,
        protocol.days_min.value,
        period.sessions,
        period.sessions_expected,
    );
    let readings = &period.readings;
    // Writing to a String cannot fail.
    let _ = match readings.set_aside {
        0 => write!(text, "No reading of these days was set aside. "),
        n => write!(
            text,
            "Set aside, kept at home and not in the average: {n} ({}). ",
            listed(&readings.set_aside_reasons)
        ),
    };
    if readings.marked > 0 {
        let _ = write!(
            text,
            "Marked, with something to know: {} ({}). ",
            readings.marked,
            listed(&readings.marked_reasons)
        );
    }
    for kind in &period.other_kinds {
        let _ = write!(
            text,
            "Not in the average: {} {} readings, mean {}. ",
            kind.n,
            kind.kind,
            kind.exact.shown()
        );
    }
    if let Some(outside) = &period.outside_sessions {
        let _ = write!(text, "{} ", outside.say());
    }
    let _ = write!(text, "{} ", period.balance.say);
    if let Some(interval) = &average.interval_95 {
        let [[low, high], [low_diastolic, high_diastolic]] = [interval.systolic, interval.diastolic];
        let _ = write!(
            text,
            "95 % interval: systolic {low:.1} to {high:.1}, diastolic {low_diastolic:.1} to {high_diastolic:.1} mmHg. "
        );
    }
    text.push_str("Means are rounded half up to 0.1 mmHg. This is an average, not a diagnosis.");
    text
}

fn listed(reasons: &BTreeMap<&'static str, usize>) -> String {
    let each: Vec<String> = reasons
        .iter()
        .map(|(reason, n)| format!("{} {n}", reason.replace('-', " ")))
        .collect();
    each.join(", ")
}
