//! What each alert tells the person, in English. The household's own languages are catalogues; a test holds
//! the English one to these words.

use crate::gatt::{Sfloat, Unit};
use crate::monitoring::levels::{About, Level, LevelRow, Limit, PULSE_NOTED, Reach, Undated};
use crate::reading::Reading;

pub(in crate::monitoring) const EMERGENCY_IF: &str = "If you have chest pain, breathlessness, a drooping face, sudden weakness or \
    numbness, trouble speaking, loss of sight, confusion, a seizure, severe headache or back pain, or if you faint, call \
    your emergency number now.";

/// No official page for patients says it; that medicine was taken to bring a number down quickly did harm in
/// hospitals (AHA 2025, section 6.2.4). The wording is our own.
const NO_EXTRA: &str = "Take no extra medicine because of a reading.";

const PREGNANCY_IF: &str = "With a severe headache, blurred or flashing vision, severe pain just below the ribs, vomiting, \
    or sudden swelling of face, hands or feet, contact your maternity unit at once, whatever the numbers say.";

/// A limit in the unit that the monitor shows, in kPa rounded up so that it is never called reached too
/// early.
pub(crate) fn limit_shown(mmhg: i32, unit: Unit) -> String {
    match unit {
        Unit::MmHg => mmhg.to_string(),
        Unit::KPa => format!("{:.1} kPa", (f64::from(mmhg) * 1.333_223_874_15).ceil() / 10.0),
    }
}

/// What is said of a reading, with a word where nobody knows when it was taken.
pub(super) fn dated(said: String, undated: Option<Undated>) -> String {
    match undated {
        None => said,
        Some(Undated::Unknown) => format!("{said} Nobody knows when it was taken."),
        Some(Undated::Ahead) => {
            format!("{said} Its date is ahead of the clock, so nobody knows when it was taken.")
        }
    }
}

/// What a reading is called that reached a row of the table.
pub(super) fn of_reading(row: &LevelRow, level: Level, reading: &Reading) -> String {
    match row.reach {
        Reach::High(limit, _) => {
            let said = high(row.about, level, limit, reading.unit);
            if level == Level::Emergency || level <= Level::TellClinic {
                format!("{said} {NO_EXTRA}")
            } else if row.about == About::VeryHigh {
                format!("{said} {NO_EXTRA} {EMERGENCY_IF}")
            } else {
                format!("{said} {PREGNANCY_IF} {NO_EXTRA} {EMERGENCY_IF}")
            }
        }
        Reach::Low(limit, _) => {
            let said = low(row.about, level, limit, reading.unit);
            if level > Level::TellClinic {
                format!("{said} {EMERGENCY_IF}")
            } else {
                said.clone()
            }
        }
        Reach::Slow(_) | Reach::Fast(_) => pulse(reading, Level::ContactNow),
    }
}

fn high(about: About, level: Level, limit: Limit, unit: Unit) -> String {
    let (systolic, diastolic) = (
        limit_shown(limit.systolic, unit),
        limit_shown(limit.diastolic, unit),
    );
    let still = format!("If it is still {systolic} or above, or {diastolic} or above for the lower number,");
    match (about, level) {
        (_, Level::TellClinic) => "A very high reading was followed by readings that are clearly below. All of them stand on \
                                   the sheet for your clinic."
            .to_owned(),
        (About::VeryHighInPregnancy, Level::Emergency) => {
            "This is very high, and it lasts or symptoms were noted. Call your emergency number now. Do not wait to see if \
             your pressure comes down."
                .to_owned()
        }
        (About::VeryHighInPregnancy, _) => format!(
            "A reading is very high. Contact your maternity unit or your clinic now, and measure again after 15 minutes. \
             {still} it is an emergency."
        ),
        (About::HighInPregnancy, Level::MeasureAgain) => format!(
            "A reading is high for pregnancy and the weeks after birth. Sit quietly and measure again after 15 minutes. \
             {still} contact your maternity unit or your clinic today."
        ),
        (About::HighInPregnancy, Level::ContactToday) => {
            "It was measured again and is still high for pregnancy and the weeks after birth. Contact your maternity unit or \
             your clinic today."
                .to_owned()
        }
        (About::HighInPregnancy, _) => {
            "This is high for pregnancy and the weeks after birth, and symptoms were noted. Contact your maternity unit or \
             your clinic now."
                .to_owned()
        }
        (_, Level::Emergency) => "A reading is very high, and symptoms were noted. Call your emergency number now. Do not \
                                  wait to see if your pressure comes down."
            .to_owned(),
        (_, Level::MeasureAgain) => format!(
            "A reading is very high. Sit quietly for 5 minutes and measure again. {still} contact your clinic or \
             out-of-hours service today."
        ),
        _ => "It was measured again and is still very high. Contact your clinic or out-of-hours service today.".to_owned(),
    }
}

fn low(about: About, level: Level, limit: i32, unit: Unit) -> String {
    let limit = limit_shown(limit, unit);
    match (about, level) {
        (About::VeryLow, Level::MeasureAgain) => format!(
            "A reading is very low. Sit or lie down, and measure again after 5 minutes. If it is still below {limit}, or \
             if you feel faint, dizzy or unwell, contact your clinic or out-of-hours service now."
        ),
        (About::VeryLow, _) => "This is very low, and it was measured again or symptoms were noted. Sit or lie down, and \
                                contact your clinic or out-of-hours service now."
            .to_owned(),
        (_, Level::MeasureAgain) => "A reading is low. Sit or lie down, and measure again after 5 minutes. If you feel \
                                     faint, dizzy or unwell, contact your clinic or out-of-hours service today."
            .to_owned(),
        (_, Level::TellClinic) => "It was measured again and is still low. If you feel well, tell your clinic at the next \
                                   visit. If you feel faint, dizzy or unwell, sit or lie down and note it here."
            .to_owned(),
        _ => "This is low, and symptoms were noted. Sit or lie down, and contact your clinic or out-of-hours service today."
            .to_owned(),
    }
}

/// The pulse of a reading.
pub(super) fn pulse(reading: &Reading, level: Level) -> String {
    let exact = reading
        .pulse_rate
        .map(|pulse| pulse.to_string())
        .unwrap_or_default();
    let slow = reading
        .pulse_rate
        .and_then(Sfloat::to_f64)
        .is_some_and(|pulse| pulse < PULSE_NOTED.0);
    let word = if slow { "slow" } else { "fast" };
    if level == Level::Note {
        return format!(
            "The pulse of this reading is {word}: {exact}. Tell your clinic if it stays so, and at once if you feel unwell."
        );
    }
    format!(
        "The pulse of this reading is very {word}: {exact}. Contact your clinic or out-of-hours service now. If you faint, \
         call your emergency number. {EMERGENCY_IF}"
    )
}

/// What symptoms call for.
pub(super) fn symptoms(level: Level) -> String {
    match level {
        Level::Emergency => {
            "Symptoms come first, whatever the numbers say. With the symptoms that were noted, call your \
                             emergency number now."
                .to_owned()
        }
        Level::ContactNow => format!(
            "Symptoms come first, whatever the numbers say. With the symptoms that were noted, contact your clinic, your \
             maternity unit or the out-of-hours service now. {EMERGENCY_IF}"
        ),
        Level::Ask => {
            format!("Words were noted that are none of the list. Is it one of these symptoms? {EMERGENCY_IF}")
        }
        _ => format!(
            "Symptoms come first, whatever the numbers say. If you feel faint, dizzy or unwell, sit or lie down, and contact \
             your clinic or out-of-hours service today. {EMERGENCY_IF}"
        ),
    }
}
