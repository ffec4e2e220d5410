//! What must not wait, in the household's words: the alerts of [`crate::monitoring::escalation`] by the
//! catalogue.

use super::escalation::{About, Alert, EMERGENCY_IF, Level, LevelRow, PULSE_NOTED, Reach, limit_shown};
use crate::gatt::{Sfloat, Unit};
use crate::reading::Reading;
use crate::words::Words;

/// All that is said of it: also when to call the emergency number, and that nobody knows when the reading was taken.
pub fn whole(alert: &Alert, reading: Option<&Reading>, words: &Words) -> String {
    let mut said = told(alert, reading, words, None);
    // The English words say beside which levels this stands.
    if alert.say.contains(EMERGENCY_IF) {
        said = format!("{said} {}", words.say("emergency-if"));
    }
    with_undated(alert, said, words)
}

/// The words, with the reading that it is about. `withheld` stands where the pulse would, for what passes
/// through the hands of others.
pub fn said(alert: &Alert, reading: Option<&Reading>, words: &Words, withheld: Option<&str>) -> String {
    with_undated(alert, told(alert, reading, words, withheld), words)
}

fn with_undated(alert: &Alert, said: String, words: &Words) -> String {
    match alert.undated {
        Some(undated) => {
            let undated = words.say(&format!("told-reading-is-{}", undated.name()));
            format!("{said} {undated}")
        }
        None => said,
    }
}

fn told(alert: &Alert, reading: Option<&Reading>, words: &Words, withheld: Option<&str>) -> String {
    let name = match alert.about {
        // It has one level.
        About::IrregularPulse => "alert-irregular-pulse".to_owned(),
        about => format!("alert-{}-{}", about.name(), alert.level.name()),
    };
    let (systolic, diastolic) = match LevelRow::of(alert.about).map(|row| row.reach) {
        Some(Reach::High(limit, _)) => (limit.systolic, limit.diastolic),
        Some(Reach::Low(limit, _)) => (limit, 0),
        _ => (0, 0),
    };
    let unit = reading.map_or(Unit::MmHg, |reading| reading.unit);
    let pulse = reading.and_then(|reading| reading.pulse_rate);
    let slow = pulse
        .and_then(Sfloat::to_f64)
        .is_some_and(|pulse| pulse < PULSE_NOTED.0);
    let pulse = match withheld {
        Some(withheld) => withheld.to_owned(),
        None => pulse.map(|pulse| pulse.to_string()).unwrap_or_default(),
    };
    let mut said = words.with(
        &name,
        &[
            ("systolic", words.decimal(&limit_shown(systolic, unit)).into()),
            ("diastolic", words.decimal(&limit_shown(diastolic, unit)).into()),
            ("speed", if slow { "slow" } else { "fast" }.into()),
            ("pulse", pulse.into()),
        ],
    );
    let in_pregnancy = matches!(alert.about, About::VeryHighInPregnancy | About::HighInPregnancy);
    if in_pregnancy && alert.level < Level::Emergency && alert.level > Level::TellClinic {
        said = format!("{said} {}", words.say("pregnancy-if"));
    }
    if alert.about.is_high() {
        said = format!("{said} {}", words.say("no-extra-medicine"));
    }
    said
}
