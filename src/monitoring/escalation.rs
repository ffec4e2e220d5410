//! What must not wait for the average: very high and very low readings, a very fast or slow pulse, symptoms.
//!
//! [`LEVELS`] is the table: every limit, how urgent it is at first, when it is measured again, and with
//! symptoms, and where that comes from. [`story`] judges the readings of each sitting by it, in order of
//! time, and tells every alert that was raised with what became of it; [`alerts`] are those that stand at a
//! moment. The command, the page, the reminders and the sheet all use that one value.
//!
//! The words say when to seek help and never what a person has or what to take. Symptoms outrank numbers. A
//! doubtful reading can raise an alert and never settles one. A silent program proves nothing: a radio that
//! fails raises no alarm, and whoever shows these alerts has to say so.

mod story;
mod words;

pub(crate) use super::levels::PULSE_NOTED;
pub use super::levels::{
    About, Alert, End, LEVELS, LOOK_BACK, Level, LevelRow, Limit, Numbers, Reach, TOGETHER, Undated,
    WITH_SYMPTOMS,
};
pub use story::{alerts, story};
pub(super) use words::EMERGENCY_IF;
pub(crate) use words::limit_shown;

use crate::technique::session::Session;

/// In how many sessions the monitor has to report an irregular pulse before the clinic is told (own choice).
const IRREGULAR_SESSIONS: usize = 2;

/// An irregular pulse in several sessions, for the clinic. What it means only an ECG can tell (ESC 2024), so
/// it is never named.
pub fn irregular_pulse<'a>(sessions: impl IntoIterator<Item = &'a Session>) -> Option<Alert> {
    let irregular: Vec<&Session> = sessions
        .into_iter()
        .filter(|session| session.irregular_pulse)
        .collect();
    let last = irregular.iter().max_by_key(|session| session.end)?;
    (irregular.len() >= IRREGULAR_SESSIONS).then(|| Alert {
        about: About::IrregularPulse,
        level: Level::TellClinic,
        at: last.end,
        person: Some(last.person.clone()),
        reading: None,
        undated: None,
        repeat_at: None,
        end: None,
        say: format!(
            "Irregular pulse reported by the monitor in {} sessions. Tell your clinic; only an ECG shows what it is.",
            irregular.len()
        ),
        source: "ESC 2024: an ECG is needed; the two sessions are our own choice",
    })
}
