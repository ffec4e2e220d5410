//! What must not wait, in the household's words: the alerts of [`crate::monitoring::escalation`] by the catalogue.

use crate::gatt::{Sfloat, Unit};
use crate::monitoring::escalation::{
    About, Alert, PULSE_NOTED, VERY_HIGH, VERY_HIGH_IN_PREGNANCY, limit_shown,
};
use crate::reading::Reading;
use crate::words::Words;

/// The words, with the reading that it is about. `withheld` stands where the pulse would, for what passes through the
/// hands of others.
pub(super) fn said(
    alert: &Alert,
    reading: Option<&Reading>,
    words: &Words,
    withheld: Option<&str>,
) -> String {
    let name = match alert.about {
        // These have one level each.
        About::Low | About::IrregularPulse => format!("alert-{}", alert.about.name()),
        about => format!("alert-{}-{}", about.name(), alert.level.name()),
    };
    let limit = if alert.about == About::VeryHighInPregnancy {
        VERY_HIGH_IN_PREGNANCY
    } else {
        VERY_HIGH
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
    words.with(
        &name,
        &[
            ("systolic", limit_shown(limit.systolic, unit).into()),
            ("diastolic", limit_shown(limit.diastolic, unit).into()),
            ("speed", if slow { "slow" } else { "fast" }.into()),
            ("pulse", pulse.into()),
        ],
    )
}
