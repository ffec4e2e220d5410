//! The words for people in which the household's notes are shown.

use super::{Arm, Note, StatedNote};
use jiff::Timestamp;
use sha2::{Digest, Sha256};

impl Note {
    /// The words of a listing or a sheet for what happened.
    pub fn in_words(&self) -> String {
        let with = |what: &str, text: &Option<String>| match text {
            Some(text) => format!("{what}: {text}"),
            None => what.to_owned(),
        };
        match self {
            Note::Medicine { text } => with("medicine taken", text),
            Note::MedicineChanged { text } => with("medicine changed", text),
            Note::Coffee => "coffee".to_owned(),
            Note::Smoking => "smoking".to_owned(),
            Note::Exercise => "exercise".to_owned(),
            Note::Alcohol => "alcohol".to_owned(),
            Note::Meal => "meal".to_owned(),
            Note::Waking => "waking".to_owned(),
            Note::Dinner => "dinner".to_owned(),
            Note::Bed => "gone to bed".to_owned(),
            Note::Symptoms { symptoms } => format!("symptoms: {}", symptoms.join(", ")),
            Note::Posture { fault } => format!("posture: {fault}"),
            Note::FullBladder => "full bladder".to_owned(),
            Note::NoRest => "no rest before".to_owned(),
            Note::Talked => "talked".to_owned(),
            Note::OverClothing => "cuff over clothing".to_owned(),
            Note::Arm { arm: Arm::Left } => "left arm".to_owned(),
            Note::Arm { arm: Arm::Right } => "right arm".to_owned(),
            Note::Measured { posed } => format!("measured {}", posed.name()),
            Note::Cuff { min_mm, max_mm } => format!("cuff for {}", arms_of(Some(*min_mm), Some(*max_mm))),
            Note::ClinicReading { systolic, diastolic } => {
                format!("reading at the clinic: {systolic}/{diastolic} mmHg")
            }
            Note::MonitorDropped => "monitor dropped".to_owned(),
            Note::BatteriesChanged => "batteries changed".to_owned(),
            Note::MonitorChecked { text } => with("monitor checked", text),
            Note::Other { text } => text.clone(),
        }
    }
}

impl StatedNote {
    /// The name of the note: eight hexadecimal digits. They come from the note and from the moment at which
    /// it was stated, so that two people who note something at once do not take each other's name.
    pub fn name(&self, stated: Timestamp) -> String {
        let digest: [u8; 32] = Sha256::digest(format!("{} {self:?}", stated.as_nanosecond())).into();
        digest
            .iter()
            .take(4)
            .map(|octet| format!("{octet:02x}"))
            .collect()
    }
}

/// The arms that a cuff fits, by the circumferences printed on it in millimetres, as words in centimetres.
pub fn arms_of(min_mm: Option<u16>, max_mm: Option<u16>) -> String {
    let cm = |mm: u16| format!("{} cm", f32::from(mm) / 10.0);
    match (min_mm, max_mm) {
        (Some(min), Some(max)) => format!("arms of {} to {}", cm(min), cm(max)),
        (Some(min), None) => format!("arms from {}", cm(min)),
        (None, Some(max)) => format!("arms up to {}", cm(max)),
        (None, None) => "not stated".to_owned(),
    }
}
