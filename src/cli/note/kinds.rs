//! Every kind of note by its name, and how the words behind it become the note.

use crate::cli::failure::{self, Failure};
use crate::cli::people::arm_of;
use crate::cli::readings::posed_of;
use crate::household::Note;
use crate::monitoring::called::symptom_called;
use crate::monitoring::person::pair_of;
use crate::monitoring::protocol::did_you_mean;
use crate::monitoring::symptoms::{Named, named};

/// The longest text of a note: a few sentences.
const TEXT_CHARS_MAX: usize = 500;

/// Circumferences that a cuff can be made for, in millimetres.
const CUFF_MM: std::ops::RangeInclusive<u16> = 80..=800;

/// What a kind of note is about.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum NoteAbout {
    Person,
    Monitor,
}

/// A kind of note: its name, what may follow it, what it is about.
struct Kind {
    name: &'static str,
    words: &'static str,
    subject: NoteAbout,
    make: fn(&str) -> Result<Note, String>,
}

const fn plain(name: &'static str, make: fn(&str) -> Result<Note, String>) -> Kind {
    Kind {
        name,
        words: "",
        subject: NoteAbout::Person,
        make,
    }
}

const fn with(name: &'static str, words: &'static str, make: fn(&str) -> Result<Note, String>) -> Kind {
    Kind {
        name,
        words,
        subject: NoteAbout::Person,
        make,
    }
}

const fn of_monitor(mut kind: Kind) -> Kind {
    kind.subject = NoteAbout::Monitor;
    kind
}

const KINDS: [Kind; 24] = [
    with("medicine", "[TEXT]", |text| {
        Ok(Note::Medicine { text: maybe(text) })
    }),
    with("medicine-changed", "[TEXT]", |text| {
        Ok(Note::MedicineChanged { text: maybe(text) })
    }),
    plain("coffee", |_| Ok(Note::Coffee)),
    plain("smoking", |_| Ok(Note::Smoking)),
    plain("exercise", |_| Ok(Note::Exercise)),
    plain("alcohol", |_| Ok(Note::Alcohol)),
    plain("meal", |_| Ok(Note::Meal)),
    plain("waking", |_| Ok(Note::Waking)),
    plain("dinner", |_| Ok(Note::Dinner)),
    plain("bed", |_| Ok(Note::Bed)),
    with("symptoms", "WORDS, separated by commas", symptoms),
    with("posture", "FAULT, such as legs-crossed", |text| {
        Ok(Note::Posture {
            fault: wanted(text, "what was wrong, such as legs-crossed")?,
        })
    }),
    plain("full-bladder", |_| Ok(Note::FullBladder)),
    plain("no-rest", |_| Ok(Note::NoRest)),
    plain("talked", |_| Ok(Note::Talked)),
    plain("over-clothing", |_| Ok(Note::OverClothing)),
    with("arm", "left|right", |text| Ok(Note::Arm { arm: arm_of(text)? })),
    with(
        "measured",
        "seated|standing|lying|night, of the readings that follow in this sitting",
        |text| {
            Ok(Note::Measured {
                posed: posed_of(text)?,
            })
        },
    ),
    with("cuff", "MIN-MAX, its range in millimetres", cuff),
    with("clinic-reading", "SYSTOLIC/DIASTOLIC in mmHg", |text| {
        let (systolic, diastolic) = pair_of(text)?;
        Ok(Note::ClinicReading { systolic, diastolic })
    }),
    of_monitor(plain("monitor-dropped", |_| Ok(Note::MonitorDropped))),
    of_monitor(plain("batteries-changed", |_| Ok(Note::BatteriesChanged))),
    of_monitor(with("monitor-checked", "[TEXT]", |text| {
        Ok(Note::MonitorChecked { text: maybe(text) })
    })),
    with("other", "TEXT", |text| {
        Ok(Note::Other {
            text: wanted(text, "what you want to note")?,
        })
    }),
];

pub(super) const KINDS_HELP: &str = "Kinds: medicine [TEXT], medicine-changed [TEXT], coffee, smoking, exercise, alcohol, meal, \
waking, dinner, bed, symptoms WORDS, posture FAULT, full-bladder, no-rest, talked, over-clothing, arm left|right, \
measured seated|standing|lying|night, cuff MIN-MAX, clinic-reading SYSTOLIC/DIASTOLIC, monitor-dropped, batteries-changed, \
monitor-checked [TEXT], other TEXT";

fn maybe(text: &str) -> Option<String> {
    (!text.is_empty()).then(|| text.to_owned())
}

fn wanted(text: &str, what: &str) -> Result<String, String> {
    maybe(text).ok_or_else(|| format!("say {what}"))
}

fn symptoms(text: &str) -> Result<Note, String> {
    let symptoms: Vec<String> = text
        .split(',')
        .map(str::trim)
        .filter(|symptom| !symptom.is_empty())
        .map(|symptom| match (named(symptom), symptom_called(symptom)) {
            (Named::Unknown, Some(name)) => name,
            _ => symptom,
        })
        .map(str::to_owned)
        .collect();
    if symptoms.is_empty() {
        return Err("say which, separated by commas, such as dizzy, headache".to_owned());
    }
    Ok(Note::Symptoms { symptoms })
}

fn cuff(text: &str) -> Result<Note, String> {
    let wrong = || {
        format!(
            "write the range printed on the cuff in millimetres, such as 220-320, within {} to {}",
            CUFF_MM.start(),
            CUFF_MM.end()
        )
    };
    let (min, max) = text.split_once('-').ok_or_else(wrong)?;
    let number = |text: &str| text.trim().parse::<u16>().map_err(|_| wrong());
    let (min_mm, max_mm) = (number(min)?, number(max)?);
    if min_mm >= max_mm || !CUFF_MM.contains(&min_mm) || !CUFF_MM.contains(&max_mm) {
        return Err(wrong());
    }
    Ok(Note::Cuff { min_mm, max_mm })
}

/// A note of this kind with these words; a usage error in a sentence.
pub(super) fn note_of(kind: &str, words: &str) -> Result<(Note, NoteAbout), Failure> {
    let usage = |why: String| Failure::new(failure::USAGE, why);
    let names = KINDS.map(|kind| kind.name);
    let Some(found) = KINDS.iter().find(|known| known.name == kind) else {
        return Err(usage(format!(
            "there is no kind of note {kind:?}{}; the kinds are {}",
            did_you_mean(kind, &names),
            names.join(", ")
        )));
    };
    if found.words.is_empty() && !words.is_empty() {
        return Err(usage(format!(
            "`{kind}` takes no words; `quietcuff note add other TEXT` keeps any"
        )));
    }
    if words.chars().count() > TEXT_CHARS_MAX || words.chars().any(char::is_control) {
        return Err(usage(format!(
            "a note has at most {TEXT_CHARS_MAX} characters on one line"
        )));
    }
    let note = (found.make)(words).map_err(|why| usage(format!("{kind} {}: {why}", found.words)))?;
    Ok((note, found.subject))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What `note add` takes is what the journal keeps, kind by kind, under the same names.
    #[test]
    fn every_kind_makes_its_note() {
        for kind in KINDS {
            let words = match kind.name {
                "arm" => "left",
                "measured" => "standing",
                "cuff" => "220-320",
                "clinic-reading" => "142/91",
                _ if kind.words.is_empty() => "",
                _ => "words",
            };
            let (note, _) = note_of(kind.name, words).unwrap();
            let json = serde_json::to_value(&note).unwrap();
            assert_eq!(json["what"], kind.name);
            assert!(KINDS_HELP.contains(kind.name));
        }
    }
}
