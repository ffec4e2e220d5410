//! What a physician wants beside the average before turning the sheet: symptoms, medicine, the clinic's own readings, the
//! period before, and what was measured with.

use super::super::Report;
use super::super::words::{and, count, day, days};
use crate::household::{Arm, Monitor, MonitorId, Note, Site, StatedNote, arms_of};
use std::collections::BTreeSet;

/// So many of one kind stand on the first sheet; the rest is under "Noted in these days".
const NAMED_MAX: usize = 3;

/// Who noted what, the clinic's readings, and the period before. That there is none is said as well.
pub(super) fn noted(report: &Report<'_>) -> String {
    let of = |is: fn(&Note) -> bool| report.notes.iter().filter(move |note| is(&note.what));
    let symptoms = each(report, of(|what| matches!(what, Note::Symptoms { .. })));
    let changes = each(report, of(|what| matches!(what, Note::MedicineChanged { .. })));
    let at_the_clinic = report
        .before
        .iter()
        .chain(of(|what| matches!(what, Note::ClinicReading { .. })));
    let clinic = match each(report, at_the_clinic) {
        none if none.is_empty() => {
            " No reading at the clinic was noted, in the eight weeks before either.".to_owned()
        }
        readings => format!(" At the clinic: {readings}."),
    };
    let noted = match (symptoms.is_empty(), changes.is_empty()) {
        (true, true) => "No symptom and no change of medicine was noted in these days.".to_owned(),
        (true, false) => format!("Medicine: {changes}. No symptom was noted in these days."),
        (false, true) => format!("Symptoms: {symptoms}. No change of medicine was noted in these days."),
        (false, false) => format!("Symptoms: {symptoms}. Medicine: {changes}."),
    };
    noted + &clinic + &before(report)
}

/// What was noted, without saying of which kind it is.
fn what(note: &Note) -> String {
    match note {
        Note::Symptoms { symptoms } => and(symptoms),
        Note::MedicineChanged { text } => text.clone().unwrap_or_else(|| "changed".to_owned()),
        Note::ClinicReading { systolic, diastolic } => format!("{systolic}/{diastolic} mmHg"),
        other => other.in_words(),
    }
}

/// Each with its day, the first few of them.
fn each<'a>(report: &Report<'_>, notes: impl Iterator<Item = &'a StatedNote>) -> String {
    let said: Vec<String> = notes
        .map(|note| {
            format!(
                "{} on {}",
                what(&note.what),
                day(report.zones.civil(note.at).date())
            )
        })
        .collect();
    let more = match said.len().saturating_sub(NAMED_MAX) {
        0 => String::new(),
        more => format!(", and {more} more"),
    };
    said.into_iter().take(NAMED_MAX).collect::<Vec<_>>().join(", ") + &more
}

fn before(report: &Report<'_>) -> String {
    let Some(earlier) = &report.earlier else {
        return " There is no period before this one.".to_owned();
    };
    let which = format!("{}, by {}", days(earlier.from, earlier.to), earlier.protocol);
    match &earlier.average {
        Some(average) => format!(
            " The period before ({which}): {} mmHg, of {}.",
            average.exact.shown(),
            count(average.n, "reading")
        ),
        None => format!(" The period before ({which}) had too few readings for an average."),
    }
}

/// Monitor, validation, cuff and arm.
pub(super) fn measured_with(report: &Report<'_>) -> String {
    let used: BTreeSet<&MonitorId> = report
        .readings
        .iter()
        .map(|(judged, _)| &judged.reading.monitor)
        .collect();
    let unknown = Monitor::default();
    let monitors: Vec<String> = used
        .into_iter()
        .map(|id| {
            let stated = report.household.monitors.get(id);
            monitor(id, stated.map_or(&unknown, |(monitor, _)| monitor))
        })
        .collect();
    let person = report.person();
    let arm = match person.and_then(|person| person.arm) {
        Some(Arm::Left) => "the left arm",
        Some(Arm::Right) => "the right arm",
        None => "an arm that nobody has stated",
    };
    let around = person.and_then(|person| person.arm_cm).map_or_else(
        || ", its girth not stated".to_owned(),
        |cm| format!(", {cm} cm around"),
    );
    if monitors.is_empty() {
        return String::new();
    }
    format!("Measured with {}; on {arm}{around}.", and(&monitors))
}

fn monitor(id: &MonitorId, monitor: &Monitor) -> String {
    let name = [&monitor.model, &monitor.name]
        .into_iter()
        .find_map(Option::as_deref);
    let site = match monitor.site {
        Some(Site::UpperArm) => "upper arm",
        Some(Site::Wrist) => "wrist",
        None => "where it is worn not stated",
    };
    let validation = match &monitor.validated {
        Some(listed) => format!("validation as stated: {listed}"),
        None => "no validation stated".to_owned(),
    };
    let cuff = match (monitor.cuff_min_mm, monitor.cuff_max_mm) {
        (None, None) => "cuff size not stated".to_owned(),
        (least, most) => format!("cuff for {}", arms_of(least, most)),
    };
    format!("{} ({site}; {validation}; {cuff})", name.unwrap_or(id.as_str()))
}
