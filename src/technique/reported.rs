//! The faults that people reported about a measurement, and what is on record about them and their monitors.

use super::judgement::Context;
use super::reasons::{Reason, Reasons};
use crate::household::{Monitor, Note, Person, PersonId, Posed, Site, StatedNote};
use crate::reading::Reading;
use crate::sitting::{Slot, Span, Tie, Timing, Windows};
use jiff::{SignedDuration, Timestamp};

/// The time for which coffee, tobacco, exercise, a meal or waking still tell on a reading (ESC 2024, ACC/AHA
/// 2017). A full half hour is enough.
const HALF_AN_HOUR: SignedDuration = SignedDuration::from_mins(30);

/// The hour after waking in which some protocols want the morning session (Taiwan 2020, JSH 2019).
const HOUR_OF_WAKING: SignedDuration = SignedDuration::from_hours(1);

/// The hour before bed in which some protocols want the evening session (Taiwan 2020). For JSH 2019, which says "before
/// bed", the same hour is own choice.
const HOUR_BEFORE_BED: SignedDuration = SignedDuration::from_hours(1);

/// How far from a sitting a note on posture or rest may be and still be about it: as far as two readings of
/// one sitting may be apart (own choice).
const ABOUT_THE_SITTING: SignedDuration = SignedDuration::from_mins(10);

/// How far before a sitting a note can tell on that sitting: breakfast or dinner since the part of the day
/// began.
pub const NOTES_BACK: SignedDuration = SignedDuration::from_hours(12);

/// How far after a sitting a note can tell on that sitting: the next going to bed after an evening reading (own
/// choice).
pub const NOTES_AHEAD: SignedDuration = SignedDuration::from_hours(12);

/// The notes, ordered by time, that fall between two moments, both included.
pub(crate) fn between(notes: &[StatedNote], from: Timestamp, to: Timestamp) -> &[StatedNote] {
    let begin = notes.partition_point(|note| note.at < from);
    let end = notes.partition_point(|note| note.at <= to).max(begin);
    notes.get(begin..end).unwrap_or_default()
}

/// The reasons that were reported about one reading in a sitting with this span, and those that are on record
/// about the person and the monitor that took part in it.
pub(super) fn statements(reading: &Reading, span: Option<Span>, context: &Context<'_>) -> Reasons {
    let person = reading
        .person
        .as_ref()
        .and_then(|id| context.household.people.get(id))
        .map(|(person, _removed)| person);
    let monitor = context
        .household
        .monitors
        .get(&reading.monitor)
        .map(|(monitor, _forgotten)| monitor);
    let mut reasons = Reasons::NONE;
    reasons.add_if(reading.discarded.is_some(), Reason::Discarded);
    let mut cuff = monitor.map_or((None, None), |monitor| (monitor.cuff_min_mm, monitor.cuff_max_mm));

    if let (Some(at), Some(span)) = (reading.time.at, span) {
        let from = span.start.checked_sub(NOTES_BACK).unwrap_or(Timestamp::MIN);
        let to = span.end.checked_add(NOTES_AHEAD).unwrap_or(Timestamp::MAX);
        let (mut woke, mut to_bed, mut posed) = (None, None, Posed::Seated);
        for note in between(context.notes, from, to) {
            if !is_about(note, reading) {
                continue;
            }
            if note.at <= at {
                match note.what {
                    Note::Waking => woke = Some(note.at),
                    Note::Measured { posed: now } if in_sitting(note, span) => posed = now,
                    _ => {}
                }
            }
            if note.at >= at && note.what == Note::Bed {
                to_bed = to_bed.or(Some(note.at));
            }
            if let Note::Cuff { min_mm, max_mm } = note.what {
                if in_sitting(note, span) {
                    cuff = (Some(min_mm), Some(max_mm));
                }
                continue;
            }
            if let Some(reason) = of_note(note, at, span, person, context) {
                reasons.add(reason);
            }
        }
        let slot = Windows::of(person).slot(context.zone.to_datetime(at));
        reasons.add_if(
            slot == Slot::Morning
                && context.rule.timing.has(Tie::WithinHourOfWaking)
                && woke.is_some_and(|woke| at.duration_since(woke) > HOUR_OF_WAKING),
            Reason::ReportedLongAwake,
        );
        reasons.add_if(
            slot == Slot::Evening
                && context.rule.timing.has(Tie::BeforeBed)
                && to_bed.is_some_and(|to_bed| to_bed.duration_since(at) > HOUR_BEFORE_BED),
            Reason::ReportedLongBeforeBed,
        );
        let said = context.household.posed.get(&reading.id.0);
        if let Some(kind) = of_kind(said.copied().unwrap_or(posed)) {
            reasons.add(kind);
        }
    }
    let wrist = monitor.and_then(|monitor| monitor.site) == Some(Site::Wrist);
    reasons.add_if(wrist, Reason::WristMonitor);
    // The arm on record is the upper arm, which tells nothing about a wrist.
    reasons.add_if(!wrist && misfits(person, cuff), Reason::CuffSize);
    reasons
}

/// The rules that judge a monitor, whoever uses it.
pub fn of_monitor(monitor: &Monitor) -> Reasons {
    let mut reasons = Reasons::NONE;
    reasons.add_if(monitor.site == Some(Site::Wrist), Reason::WristMonitor);
    reasons.add_if(monitor.validated.is_none(), Reason::NotValidated);
    reasons
}

/// Whether the person's arm is outside the range printed on the cuff, in millimetres. The range includes both
/// of its ends.
fn misfits(person: Option<&Person>, (min_mm, max_mm): (Option<u16>, Option<u16>)) -> bool {
    let Some(arm_mm) = person.and_then(|person| person.arm_cm).map(|cm| cm * 10.0) else {
        return false;
    };
    min_mm.is_some_and(|min| arm_mm < f32::from(min)) || max_mm.is_some_and(|max| arm_mm > f32::from(max))
}

/// Whether a note is about this reading. A note that names nobody is about whoever used the monitor that it
/// names. Nothing is said about a reading that is nobody's yet: once it is somebody's, it is judged anew.
fn is_about(note: &StatedNote, reading: &Reading) -> bool {
    if reading.person.is_none() {
        return false;
    }
    let person_fits = note
        .person
        .as_ref()
        .is_none_or(|person| reading.person.as_ref() == Some(person));
    let monitor_fits = note
        .monitor
        .as_ref()
        .is_none_or(|monitor| *monitor == reading.monitor);
    person_fits && monitor_fits && (note.person.is_some() || note.monitor.is_some())
}

fn in_sitting(note: &StatedNote, span: Span) -> bool {
    span.start.duration_since(note.at) <= ABOUT_THE_SITTING
        && note.at.duration_since(span.end) <= ABOUT_THE_SITTING
}

/// The moment at which the half hour after the last coffee, cigarette, meal, exercise, drink or waking is
/// over; `None` where there was none of them or the half hour is over already.
pub(crate) fn settled_at(now: Timestamp, who: &PersonId, context: &Context<'_>) -> Option<Timestamp> {
    let since = now.checked_sub(HALF_AN_HOUR).unwrap_or(Timestamp::MIN);
    between(context.notes, since, now)
        .iter()
        .filter(|note| {
            note.person.as_ref() == Some(who)
                && half_an_hour_reason(&note.what, context.rule.timing).is_some()
        })
        .filter_map(|note| note.at.checked_add(HALF_AN_HOUR).ok())
        .filter(|&settled| settled > now)
        .max()
}

/// The reason that tells a kind of reading from a seated one.
const fn of_kind(posed: Posed) -> Option<Reason> {
    match posed {
        Posed::Seated => None,
        Posed::Standing => Some(Reason::ReportedStanding),
        Posed::Lying => Some(Reason::ReportedLying),
        Posed::Night => Some(Reason::ReportedNight),
    }
}

/// The reason that a note gives in the half hour after it; `None` for every other note.
const fn half_an_hour_reason(what: &Note, timing: Timing) -> Option<Reason> {
    match what {
        Note::Coffee => Some(Reason::ReportedCoffee),
        Note::Smoking => Some(Reason::ReportedSmoking),
        Note::Exercise => Some(Reason::ReportedExercise),
        Note::Alcohol => Some(Reason::ReportedAlcohol),
        Note::Waking if timing.has(Tie::NotJustWoken) => Some(Reason::ReportedJustWoken),
        Note::Meal => Some(Reason::ReportedMeal),
        Note::Dinner => Some(Reason::ReportedDinner),
        _ => None,
    }
}

fn of_note(
    note: &StatedNote,
    at: Timestamp,
    span: Span,
    person: Option<&Person>,
    context: &Context<'_>,
) -> Option<Reason> {
    let before = note.at <= at;
    if before
        && at.duration_since(note.at) < HALF_AN_HOUR
        && let Some(reason) = half_an_hour_reason(&note.what, context.rule.timing)
    {
        return Some(reason);
    }
    let sitting = in_sitting(note, span);
    let earlier_in = |slot: Slot, tie: Tie| {
        before
            && context.rule.timing.has(tie)
            && Windows::of(person)
                .opened(context.zone.to_datetime(at))
                .is_some_and(|(found, since)| found == slot && since <= context.zone.to_datetime(note.at))
    };
    match &note.what {
        Note::Meal => earlier_in(Slot::Morning, Tie::BeforeBreakfast).then_some(Reason::ReportedMeal),
        Note::Dinner => earlier_in(Slot::Evening, Tie::BeforeDinner).then_some(Reason::ReportedDinner),
        Note::Medicine { .. } => {
            earlier_in(Slot::Morning, Tie::BeforeMedicines).then_some(Reason::ReportedMedicine)
        }
        Note::NoRest => sitting.then_some(Reason::ReportedNoRest),
        Note::FullBladder => sitting.then_some(Reason::ReportedFullBladder),
        Note::Talked => sitting.then_some(Reason::ReportedTalked),
        Note::OverClothing => sitting.then_some(Reason::ReportedOverClothing),
        Note::Posture { fault } => sitting.then(|| posture(fault)),
        Note::Arm { arm } => {
            let chosen = person.and_then(|person| person.arm);
            (sitting && chosen.is_some_and(|chosen| chosen != *arm)).then_some(Reason::ReportedOtherArm)
        }
        // The first five notes tell for half an hour only; a cuff, a kind and going to bed are looked at above; the
        // other notes say nothing about how one measurement was taken.
        Note::Coffee
        | Note::Smoking
        | Note::Exercise
        | Note::Alcohol
        | Note::Waking
        | Note::Bed
        | Note::Cuff { .. }
        | Note::Measured { .. }
        | Note::MedicineChanged { .. }
        | Note::Symptoms { .. }
        | Note::ClinicReading { .. }
        | Note::MonitorDropped
        | Note::BatteriesChanged
        | Note::MonitorChecked { .. }
        | Note::Other { .. } => None,
    }
}

/// The reason that a fault of posture gives. Some faults have a published effect of their own; any other
/// words are a fault of posture all the same.
fn posture(fault: &str) -> Reason {
    let word: String = fault
        .trim()
        .chars()
        .map(|c| {
            if c == ' ' || c == '_' {
                '-'
            } else {
                c.to_ascii_lowercase()
            }
        })
        .collect();
    match word.as_str() {
        "legs-crossed" | "crossed-legs" => Reason::ReportedLegsCrossed,
        "back-unsupported" | "no-back-support" => Reason::ReportedBackUnsupported,
        "arm-unsupported" | "no-arm-support" => Reason::ReportedArmUnsupported,
        "arm-low" | "arm-below-heart" | "arm-hanging" | "hand-on-lap" => Reason::ReportedArmLow,
        "fist-clenched" | "clenched-fist" => Reason::ReportedFistClenched,
        _ => Reason::ReportedPosture,
    }
}
