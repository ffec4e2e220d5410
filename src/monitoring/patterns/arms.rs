//! One arm against the other.

use super::shared::{Pattern, at_least, tenth};
use crate::household::Arm;
use crate::monitoring::average::ExactMean;
use crate::monitoring::taken::Taken;
use crate::words::said::Said;
use std::collections::BTreeMap;

/// One arm above the other by more than this; ESC 2024.
const ARMS_MMHG: f64 = 10.0;
/// Fewest sittings with both arms: ESC and NICE measure again before they believe it, and two differences
/// know too little of their own scatter.
const SITTINGS_MIN: usize = 3;

/// Arms are compared within sittings that have both: from day to day a person changes more than arms differ.
pub(super) fn differ(here: &[&Taken]) -> Option<Pattern> {
    let mut sessions: BTreeMap<u64, (ExactMean, ExactMean)> = BTreeMap::new();
    for taken in here {
        let Some(((session, arm), values)) = taken.session.zip(taken.arm).zip(taken.counted()) else {
            continue;
        };
        let (left, right) = sessions.entry(session).or_default();
        match arm {
            Arm::Left => left.add(values),
            Arm::Right => right.add(values),
        }
    }
    let differences: Vec<f64> = sessions
        .values()
        .filter_map(|(left, right)| Some(right.systolic()? - left.systolic()?))
        .collect();
    let n = differences.len();
    let turned: Vec<f64> = differences.iter().map(|value| -value).collect();
    let (mean, least, higher) = match (at_least(&differences)?, at_least(&turned)?) {
        ((mean, least), _) if mean > 0.0 => (mean, least, "right"),
        (_, (mean, least)) => (mean, least, "left"),
    };
    let by = if higher == "right" { mean } else { -mean };
    (n >= SITTINGS_MIN && least > ARMS_MMHG).then(|| Pattern {
        id: "arms-differ",
        say: Said::of(
            "pattern-say-arms-differ",
            [
                ("n", n.into()),
                ("needed", SITTINGS_MIN.into()),
                ("arm", higher.into()),
                ("by", tenth(mean)),
                ("least", tenth(least)),
            ],
        ),
        source: "ESC 2024, class I: difference above 10 mmHg",
        numbers: BTreeMap::from([
            ("right-minus-left-systolic", by),
            ("at-least", least),
            ("sessions", n as f64),
            ("sessions-needed", SITTINGS_MIN as f64),
        ]),
    })
}
