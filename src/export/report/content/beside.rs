//! What a physician wants beside the average before turning the sheet: symptoms, medicine, the clinic's own readings,
//! the period before, and what was measured with.

use super::super::Report;
use super::super::words::{arms, n, note, symptom};
use crate::household::{Arm, Monitor, MonitorId, Note, Site, StatedNote};
use crate::words::Words;
use std::collections::BTreeSet;

/// So many of one kind stand on the first sheet; the rest is under "Noted in these days".
const NAMED_MAX: usize = 3;

/// Who noted what, the clinic's readings, and the period before. That there is none is said as well.
pub(super) fn noted(report: &Report<'_>) -> String {
    let words = report.words;
    let of = |is: fn(&Note) -> bool| report.notes.iter().filter(move |note| is(&note.what));
    let symptoms = each(report, of(|what| matches!(what, Note::Symptoms { .. })));
    let changes = each(report, of(|what| matches!(what, Note::MedicineChanged { .. })));
    let at_the_clinic = report
        .before
        .iter()
        .chain(of(|what| matches!(what, Note::ClinicReading { .. })));
    let clinic = match each(report, at_the_clinic) {
        none if none.is_empty() => words.say("beside-clinic-none"),
        readings => words.with("beside-clinic", &[("readings", readings.into())]),
    };
    let noted = match (symptoms.is_empty(), changes.is_empty()) {
        (true, true) => words.say("beside-nothing-noted"),
        (true, false) => words.with("beside-medicine", &[("changes", changes.into())]),
        (false, true) => words.with("beside-symptoms", &[("symptoms", symptoms.into())]),
        (false, false) => {
            let both = [("symptoms", symptoms.into()), ("changes", changes.into())];
            words.with("beside-both", &both)
        }
    };
    format!("{noted} {clinic} {}", before(report))
}

/// What was noted, without saying of which kind it is.
fn what(words: &Words, what: &Note) -> String {
    match what {
        Note::Symptoms { symptoms } => {
            let each: Vec<String> = symptoms.iter().map(|one| symptom(words, one)).collect();
            words.list(&each)
        }
        Note::MedicineChanged { text } => match text {
            Some(text) => text.clone(),
            None => words.say("beside-changed"),
        },
        Note::ClinicReading { systolic, diastolic } => {
            format!("{} mmHg", words.decimal(&format!("{systolic}/{diastolic}")))
        }
        other => note(words, other),
    }
}

/// Each with its day, the first few of them.
fn each<'a>(report: &Report<'_>, notes: impl Iterator<Item = &'a StatedNote>) -> String {
    let words = report.words;
    let mut said: Vec<String> = notes
        .map(|note| {
            let day = words.date_with_year(report.zones.civil(note.at).date());
            let values = [("what", what(words, &note.what).into()), ("day", day.into())];
            words.with("beside-on", &values)
        })
        .collect();
    let more = said.len().saturating_sub(NAMED_MAX);
    said.truncate(NAMED_MAX);
    if more > 0 {
        said.push(words.with("beside-more", &[("n", n(more))]));
    }
    said.join(", ")
}

fn before(report: &Report<'_>) -> String {
    let words = report.words;
    let Some(earlier) = &report.earlier else {
        return words.say("beside-before-none");
    };
    let mut values = vec![
        ("days", words.days(earlier.from, earlier.to).into()),
        ("protocol", earlier.protocol.as_str().into()),
    ];
    match &earlier.average {
        Some(average) => {
            values.push(("average", words.decimal(&average.exact.shown()).into()));
            values.push(("n", n(average.n)));
            words.with("beside-before", &values)
        }
        None => words.with("beside-before-too-few", &values),
    }
}

/// Monitor, validation, cuff and arm.
pub(super) fn measured_with(report: &Report<'_>) -> String {
    let used: BTreeSet<&MonitorId> = report
        .readings
        .iter()
        .map(|(judged, _)| &judged.reading.monitor)
        .collect();
    let unstated = Monitor::default();
    let words = report.words;
    let monitors: Vec<String> = used
        .into_iter()
        .map(|id| {
            let stated = report.household.monitors.get(id);
            monitor(words, id, stated.map_or(&unstated, |(monitor, _)| monitor))
        })
        .collect();
    if monitors.is_empty() {
        return String::new();
    }
    let person = report.person();
    let arm = match person.and_then(|person| person.arm) {
        Some(Arm::Left) => "left",
        Some(Arm::Right) => "right",
        None => "none",
    };
    let around = person.and_then(|person| person.arm_cm);
    let around = around.map_or_else(|| "none".to_owned(), |cm| words.decimal(&cm.to_string()));
    words.with(
        "beside-measured-with",
        &[
            ("monitors", words.list(&monitors).into()),
            ("arm", arm.into()),
            ("around", around.into()),
        ],
    )
}

fn monitor(words: &Words, id: &MonitorId, monitor: &Monitor) -> String {
    let name = [&monitor.model, &monitor.name]
        .into_iter()
        .find_map(Option::as_deref);
    let site = words.say(match monitor.site {
        Some(Site::UpperArm) => "beside-upper-arm",
        Some(Site::Wrist) => "beside-wrist",
        None => "beside-site-not-stated",
    });
    let validation = match &monitor.validated {
        Some(listed) => words.with("beside-validation", &[("listed", listed.as_str().into())]),
        None => words.say("beside-validation-none"),
    };
    let cuff = match (monitor.cuff_min_mm, monitor.cuff_max_mm) {
        (None, None) => words.say("beside-cuff-not-stated"),
        (least, most) => words.with("beside-cuff", &[("arms", arms(words, least, most).into())]),
    };
    format!("{} ({site}; {validation}; {cuff})", name.unwrap_or(id.as_str()))
}
