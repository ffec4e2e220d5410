//! The symptoms that a person can choose: a list from the sources, and for each how urgent it is by itself.
//!
//! A symptom is chosen by its name. Other words are kept as they were written and change no level; whoever
//! wrote them is asked whether they mean one of these.

use super::levels::Level;

/// A symptom that can be chosen.
#[derive(Debug, PartialEq, Eq)]
pub struct Symptom {
    /// Its name in notes, on forms and in the catalogues.
    pub name: &'static str,
    /// In English, for a sentence.
    pub english: &'static str,
    /// How urgent it is, whatever was measured.
    pub level: Level,
    /// How urgent it is in pregnancy and in the eight weeks after birth.
    pub in_pregnancy: Level,
    /// Offered in pregnancy and in the eight weeks after birth only.
    pub of_pregnancy: bool,
    /// Other names that mean exactly this one.
    pub also: &'static [&'static str],
    /// Where it comes from; what is a choice says so.
    pub source: &'static str,
}

impl Symptom {
    /// How urgent it is for this person.
    pub const fn level_for(&self, pregnant: bool) -> Level {
        if pregnant { self.in_pregnancy } else { self.level }
    }
}

/// The name by which somebody says that none of the list is meant. It is no symptom.
pub const NONE: &str = "none";

const AHA_NICE: &str =
    "AHA patient page; NICE NG136 section 1.5; that it comes first, whatever was measured, is our own choice";
const FAST: &str = "NHS: stroke, face, arms, speech, and the other signs named there";
const SHOCK: &str = "US NHLBI: signs of shock";
const ALONE: &str = "AHA patient page and ESC 2024 name it beside a very high reading; the level without one is our own \
                     choice";
const LOW: &str = "NHS: low blood pressure; the level is our own choice";
const PREGNANCY: &str = "NICE NG133 1.1.1: see a healthcare professional immediately";

const fn emergency(
    name: &'static str,
    english: &'static str,
    also: &'static [&'static str],
    source: &'static str,
) -> Symptom {
    Symptom {
        name,
        english,
        level: Level::Emergency,
        in_pregnancy: Level::Emergency,
        of_pregnancy: false,
        also,
        source,
    }
}

const fn other(
    name: &'static str,
    english: &'static str,
    (level, in_pregnancy): (Level, Level),
    also: &'static [&'static str],
    source: &'static str,
) -> Symptom {
    Symptom {
        name,
        english,
        level,
        in_pregnancy,
        of_pregnancy: false,
        also,
        source,
    }
}

const fn of_pregnancy(mut symptom: Symptom) -> Symptom {
    symptom.of_pregnancy = true;
    symptom
}

/// Every symptom that can be chosen, the most urgent first.
pub const SYMPTOMS: [Symptom; 19] = [
    emergency("chest-pain", "chest pain", &["pain in the chest"], AHA_NICE),
    emergency(
        "breathless",
        "short of breath",
        &["breathlessness", "shortness of breath"],
        AHA_NICE,
    ),
    emergency(
        "face-drooping",
        "the face droops on one side",
        &["drooping face", "facial droop"],
        FAST,
    ),
    emergency(
        "one-sided-weakness",
        "sudden weakness or numbness",
        &["arm weakness", "weakness", "numbness", "numb"],
        FAST,
    ),
    emergency(
        "speech",
        "trouble speaking",
        &["slurred", "slurred speech", "difficulty speaking"],
        FAST,
    ),
    emergency(
        "sight-loss",
        "sudden loss of sight",
        &["loss of sight", "loss of vision"],
        FAST,
    ),
    emergency("confused", "confused", &["confusion", "new confusion"], AHA_NICE),
    emergency(
        "fainted",
        "fainted or collapsed",
        &["collapsed", "fainting", "passed out", "unconscious"],
        SHOCK,
    ),
    emergency(
        "seizure",
        "a seizure",
        &["seizures", "fit", "convulsion"],
        "ESC 2024: a sign of an emergency",
    ),
    emergency(
        "cold-skin",
        "cold, clammy, pale skin",
        &["cold sweat", "clammy skin"],
        SHOCK,
    ),
    other(
        "severe-headache",
        "severe headache",
        (Level::ContactNow, Level::ContactNow),
        &[],
        ALONE,
    ),
    other(
        "severe-pain",
        "severe pain in the back or belly",
        (Level::ContactNow, Level::ContactNow),
        &["severe back pain", "severe belly pain", "severe abdominal pain"],
        ALONE,
    ),
    of_pregnancy(other(
        "rib-pain",
        "severe pain just below the ribs",
        (Level::ContactNow, Level::ContactNow),
        &["pain below the ribs"],
        PREGNANCY,
    )),
    of_pregnancy(other(
        "swelling",
        "sudden swelling of face, hands or feet",
        (Level::ContactNow, Level::ContactNow),
        &["sudden swelling", "swollen face"],
        PREGNANCY,
    )),
    other(
        "vision",
        "blurred or flashing vision",
        (Level::ContactToday, Level::ContactNow),
        &["blurred vision", "flashing lights", "change in vision"],
        ALONE,
    ),
    other(
        "vomiting",
        "vomiting",
        (Level::ContactToday, Level::ContactNow),
        &[],
        ALONE,
    ),
    other(
        "dizzy",
        "dizzy or lightheaded",
        (Level::ContactToday, Level::ContactToday),
        &["dizziness", "lightheaded", "faint"],
        LOW,
    ),
    other(
        "sick",
        "feeling sick",
        (Level::ContactToday, Level::ContactToday),
        &["nausea"],
        LOW,
    ),
    other(
        "weak",
        "feeling weak",
        (Level::ContactToday, Level::ContactToday),
        &[],
        LOW,
    ),
];

/// What words say of how somebody feels.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Named {
    /// One of the list.
    Chosen(&'static Symptom),
    /// None of the list.
    NoneOfThem,
    /// Words that nobody has chosen from the list.
    Unknown,
}

/// The symptom that is named by exactly these words. Part of a sentence is no choice: "no chest pain" is not
/// known.
pub fn named(words: &str) -> Named {
    let plain = |text: &str| {
        let lower = text.to_lowercase().replace(['-', '_'], " ");
        lower.split_whitespace().collect::<Vec<_>>().join(" ")
    };
    let words = plain(words);
    if words == NONE {
        return Named::NoneOfThem;
    }
    let is = |symptom: &&Symptom| {
        plain(symptom.name) == words || symptom.english == words || symptom.also.contains(&words.as_str())
    };
    SYMPTOMS.iter().find(is).map_or(Named::Unknown, Named::Chosen)
}

/// The symptom of this name.
pub fn of_name(name: &str) -> Option<&'static Symptom> {
    SYMPTOMS.iter().find(|symptom| symptom.name == name)
}
