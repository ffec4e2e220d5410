//! What can be true of a person, wherever it is said: on the command line or on the page. What is journaled
//! has to hold.

use super::names;
use super::protocols::{Protocols, UnknownProtocol};
use crate::household::{Household, ID_CHARS_MAX, Person, PersonId, Threshold, Window};
use crate::sitting::Windows;
use jiff::civil::{Date, Time};
use jiff::{Timestamp, ToSpan};
use std::ops::RangeInclusive;

/// The longest label: one line of a report.
pub const LABEL_CHARS_MAX: usize = 80;
/// Nobody alive was born before; a smaller number is a slip.
pub const BORN_MIN: i16 = 1900;
/// Circumference of an upper arm in centimetres: beyond any cuff that is made, on either side.
pub const ARM_CM: RangeInclusive<f32> = 10.0..=80.0;
/// A threshold outside these is a slip: the limits within which a reading is possible at all.
pub const SYSTOLIC_MMHG: RangeInclusive<f64> = 40.0..=300.0;
/// The same for the diastolic pressure.
pub const DIASTOLIC_MMHG: RangeInclusive<f64> = 20.0..=200.0;

/// What cannot be true of a person.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum NotAPerson {
    /// A label that does not fit a line.
    #[error("a label has 1 to {LABEL_CHARS_MAX} characters on one line; this one has {chars}")]
    Label {
        /// How many characters it has.
        chars: usize,
    },
    /// Somebody else is called so: whoever chooses between two equal names chooses wrong.
    #[error("{other} is called \"{label}\" already; add what tells them apart")]
    SameLabel {
        /// What was said.
        label: String,
        /// Whose it is.
        other: PersonId,
    },
    /// A label with a character that nobody sees.
    #[error("a label holds no character that nobody sees; this one has U+{:04X}", u32::from(*found))]
    Invisible {
        /// The character.
        found: char,
    },
    /// A label or an id that a reader may take for somebody else's.
    #[error("{name:?} looks like {seen:?}, which {other} is called already; add what tells them apart")]
    LooksLike {
        /// What was said.
        name: String,
        /// What it looks like.
        seen: String,
        /// Whose that is.
        other: PersonId,
    },
    /// A year of birth.
    #[error("nobody here was born in {born}: give a year from {BORN_MIN} to {this_year}")]
    Born {
        /// What was said.
        born: i16,
        /// The last year that can be.
        this_year: i16,
    },
    /// A day of birth.
    #[error("nobody was born on {day}, which is after today: give the day on which they were")]
    BornOn {
        /// What was said.
        day: Date,
    },
    /// The number of a record.
    #[error("a record number has 1 to {LABEL_CHARS_MAX} visible characters on one line")]
    RecordNumber,
    /// The word of a group.
    #[error("a group is one word of at most {ID_CHARS_MAX} visible characters, such as upstairs")]
    Group,
    /// A day of giving birth.
    #[error("nobody has given birth on {day}, which is after today: give the day once the child is born")]
    GaveBirth {
        /// What was said.
        day: Date,
    },
    /// An arm's circumference.
    #[error(
        "{cm} cm is not the circumference of an upper arm: give {} to {} centimetres",
        ARM_CM.start(),
        ARM_CM.end()
    )]
    ArmCm {
        /// What was said.
        cm: f32,
    },
    /// Who chose a target, or where that is written.
    #[error(
        "who chose a target, and where that is written, have 1 to {LABEL_CHARS_MAX} visible characters on one line each"
    )]
    TargetWords,
    /// A protocol's name.
    #[error(transparent)]
    Protocol(#[from] UnknownProtocol),
    /// Windows that are open at the same time.
    #[error(
        "the morning and the evening window overlap at {}: end one before the other begins",
        at.strftime("%H:%M")
    )]
    Overlap {
        /// When both are open.
        at: Time,
    },
}

/// Whether what would be stated of a person makes sense; `id` is theirs, if they have one yet.
pub fn check(
    id: Option<&PersonId>,
    person: &Person,
    household: &Household,
    protocols: &Protocols,
    now: Timestamp,
) -> Result<(), NotAPerson> {
    let chars = person.label.chars().count();
    if chars == 0 || chars > LABEL_CHARS_MAX || person.label.chars().any(char::is_control) {
        return Err(NotAPerson::Label { chars });
    }
    let same = |label: &str| label.trim().to_lowercase() == person.label.trim().to_lowercase();
    let other = household
        .people
        .iter()
        .find(|(other, (them, removed))| !removed && id != Some(*other) && same(&them.label));
    if let Some((other, _)) = other {
        return Err(NotAPerson::SameLabel {
            label: person.label.clone(),
            other: other.clone(),
        });
    }
    told_apart(id, person, household)?;
    let this_year = jiff::tz::Offset::UTC.to_datetime(now).year();
    if let Some(born) = person.born.filter(|born| !(BORN_MIN..=this_year).contains(born)) {
        return Err(NotAPerson::Born { born, this_year });
    }
    if let Some(cm) = person.arm_cm.filter(|cm| !ARM_CM.contains(cm)) {
        return Err(NotAPerson::ArmCm { cm });
    }
    // Somewhere it is tomorrow already.
    let tomorrow = jiff::tz::Offset::UTC
        .to_datetime(now)
        .date()
        .saturating_add(1.day());
    if let Some(day) = person.gave_birth.filter(|day| *day > tomorrow) {
        return Err(NotAPerson::GaveBirth { day });
    }
    if let Some(day) = person.born_on.filter(|day| *day > tomorrow) {
        return Err(NotAPerson::BornOn { day });
    }
    let numbered = person.record_number.as_ref();
    if numbered.is_some_and(|number| !is_a_line(number)) {
        return Err(NotAPerson::RecordNumber);
    }
    if person.group.as_ref().is_some_and(|group| !is_group(group)) {
        return Err(NotAPerson::Group);
    }
    let target = person.target.iter();
    let mut words = target.flat_map(|target| target.by.iter().chain(&target.source));
    if !words.all(|words| is_a_line(words)) {
        return Err(NotAPerson::TargetWords);
    }
    if let Some(protocol) = &person.protocol {
        protocols.get(protocol)?;
    }
    match Windows::of(Some(person)).both_open_at() {
        Some(at) => Err(NotAPerson::Overlap { at }),
        None => Ok(()),
    }
}

/// Whether words stand on one line, and are seen.
fn is_a_line(words: &str) -> bool {
    let fits = (1..=LABEL_CHARS_MAX).contains(&words.chars().count());
    fits && !words.trim().is_empty()
        && !words.chars().any(char::is_control)
        && names::invisible(words).is_none()
}

/// Whether it is the word of a group: without signs that a terminal or a list takes otherwise, and all of it is seen.
pub(crate) fn is_group(word: &str) -> bool {
    (1..=ID_CHARS_MAX).contains(&word.chars().count())
        && word.chars().all(|c| !c.is_whitespace() && !c.is_control())
        && names::invisible(word).is_none()
}

/// Whether a reader can tell the person from everybody else: by the label from everybody who was not removed, and by a
/// new id from every id that there ever was.
fn told_apart(id: Option<&PersonId>, person: &Person, household: &Household) -> Result<(), NotAPerson> {
    if let Some(found) = names::invisible(&person.label) {
        return Err(NotAPerson::Invisible { found });
    }
    let looks_like = |name: &str, seen: &str, other: &PersonId| NotAPerson::LooksLike {
        name: name.to_owned(),
        seen: seen.to_owned(),
        other: other.clone(),
    };
    let new = id.filter(|id| !household.people.contains_key(*id));
    for (other, (them, removed)) in household.people.iter().filter(|(other, _)| id != Some(*other)) {
        if !removed && names::alike(&them.label, &person.label) {
            return Err(looks_like(&person.label, &them.label, other));
        }
        if let Some(new) = new.filter(|new| names::alike(new.as_str(), other.as_str())) {
            return Err(looks_like(new.as_str(), other.as_str(), other));
        }
    }
    Ok(())
}

/// `06:00-09:30`, first and last minute.
pub(crate) fn window_of(text: &str) -> Result<Window, String> {
    let wrong = || "write first and last minute, such as 06:00-09:30".to_owned();
    let (from, to) = text.split_once('-').ok_or_else(wrong)?;
    let time = |text: &str| {
        (text.len() == 5)
            .then(|| text.parse::<Time>().ok())
            .flatten()
            .ok_or_else(wrong)
    };
    let (from, to) = (time(from)?, time(to)?);
    if from == to {
        return Err("a window of one minute cannot be met".to_owned());
    }
    Ok(Window { from, to })
}

/// `130/80`, a clinic's threshold.
pub(crate) fn threshold_of(text: &str) -> Result<Threshold, String> {
    let (systolic, diastolic) = pair_of(text)?;
    Ok(Threshold { systolic, diastolic })
}

/// `135/85`, within what a pressure can be.
pub(crate) fn pair_of(text: &str) -> Result<(f64, f64), String> {
    let wrong = || "write systolic over diastolic in mmHg, such as 135/85".to_owned();
    let (systolic, diastolic) = text.split_once('/').ok_or_else(wrong)?;
    let number = |text: &str| text.trim().parse::<f64>().map_err(|_| wrong());
    let (systolic, diastolic) = (number(systolic)?, number(diastolic)?);
    if !SYSTOLIC_MMHG.contains(&systolic) || !DIASTOLIC_MMHG.contains(&diastolic) || systolic <= diastolic {
        return Err("the first is 40 to 300, the second 20 to 200 and smaller".to_owned());
    }
    Ok((systolic, diastolic))
}

/// An id for somebody new who is called `label`, and that nobody had: `Asha Devi` becomes `asha-devi`, or
/// `asha-devi-2`.
pub fn id_for(label: &str, taken: impl Fn(&PersonId) -> bool) -> Option<PersonId> {
    /// Room for a dash and a number.
    const STEM_OCTETS_MAX: usize = 28;
    const NUMBERS_MAX: u32 = 100;
    let words = label
        .split(|c: char| !c.is_alphanumeric())
        .filter(|word| !word.is_empty());
    let mut stem = String::new();
    for c in words.collect::<Vec<_>>().join("-").to_lowercase().chars() {
        if stem.len() + c.len_utf8() > STEM_OCTETS_MAX {
            break;
        }
        stem.push(c);
    }
    let stem = match stem.trim_end_matches('-') {
        "" => "p",
        stem => stem,
    };
    (1..=NUMBERS_MAX)
        .map(|number| match number {
            1 => stem.to_owned(),
            number => format!("{stem}-{number}"),
        })
        .filter_map(|id| id.parse::<PersonId>().ok())
        .find(|id| !taken(id))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_id_is_made_of_a_name_in_any_script() {
        let id = |label: &str, taken: &[&str]| {
            id_for(label, |id| taken.contains(&id.as_str()))
                .unwrap()
                .to_string()
        };
        assert_eq!(id("Asha", &[]), "asha");
        assert_eq!(id("  Asha Devi (mother) ", &[]), "asha-devi-mother");
        assert_eq!(id("Asha", &["asha", "asha-2"]), "asha-3");
        assert_eq!(id("<b>", &[]), "b");
        assert_eq!(id("!!!", &[]), "p");
        assert_eq!(id(&"x".repeat(80), &[]).len(), 28);
        assert!(id("आशा देवी", &[]).starts_with("आशा"));
        assert!(id_for("a", |_| true).is_none());
    }
}
