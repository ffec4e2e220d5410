//! How far the pressure falls from sitting or lying to standing, within one sitting.
//!
//! The fall of a sitting is the mean of its seated (or lying) readings before the first standing one, minus the
//! standing reading nearest to one minute and to three minutes after the last of them. NICE 2023 and ESC 2024
//! name a fall of 20 systolic or 10 diastolic; from sitting, 15 or 7 tells the same people better (Shaw et al.,
//! J Hypertens 2017, abstract). One sitting is shown as it is, and named nothing.

use super::average::ExactMean;
use super::taken::Taken;
use crate::household::Posed;
use crate::reading::Pressure;
use crate::words::said::{Part, Said};
use jiff::civil::Date;
use jiff::{SignedDuration, Timestamp};
use serde::Serialize;
use std::collections::BTreeMap;

/// A standing reading so long after the last one at rest is that of the first minute: a measurement takes half
/// a minute, and a protocol waits for one (own choice).
const FIRST_MINUTE: (SignedDuration, SignedDuration) =
    (SignedDuration::from_secs(45), SignedDuration::from_secs(150));
/// And so long that of the third minute (own choice).
const THIRD_MINUTE: (SignedDuration, SignedDuration) =
    (SignedDuration::from_secs(150), SignedDuration::from_secs(300));

/// The fall that NICE 2023 and ESC 2024 name, in mmHg.
pub const FALL_MMHG: (i32, i32) = (20, 10);

/// One sitting in which somebody stood up.
#[derive(Clone, PartialEq, Debug, Serialize)]
pub struct StoodUp {
    /// The measuring day.
    pub day: Date,
    /// When the first standing reading was taken.
    pub at: Timestamp,
    /// How the person was before: `seated` or `lying`.
    pub from: &'static str,
    /// Mean of the readings at rest, systolic and diastolic, in mmHg.
    pub rest: [f64; 2],
    /// After one minute.
    pub after_1_minute: Option<Fall>,
    /// After three minutes.
    pub after_3_minutes: Option<Fall>,
}

/// A standing reading, and how far it lies below the mean at rest.
#[derive(Clone, Copy, PartialEq, Debug, Serialize)]
pub struct Fall {
    /// What was measured standing, systolic and diastolic, in mmHg.
    pub standing: [f64; 2],
    /// The fall, systolic and diastolic, in mmHg; below zero where the pressure rose.
    pub by: [f64; 2],
    /// Whether it reaches 20 systolic or 10 diastolic.
    pub reaches_20_10: bool,
}

/// The sittings in which somebody stood up, from readings in order of time.
pub fn falls(here: &[&Taken]) -> Vec<StoodUp> {
    let mut sittings: BTreeMap<u64, Vec<&Taken>> = BTreeMap::new();
    for taken in here.iter().filter(|taken| taken.counted().is_some()) {
        if let Some(session) = taken.session {
            sittings.entry(session).or_default().push(taken);
        }
    }
    let mut found: Vec<StoodUp> = sittings.values().filter_map(|sitting| fall(sitting)).collect();
    found.sort_by_key(|standing| standing.at);
    found
}

fn fall(sitting: &[&Taken]) -> Option<StoodUp> {
    let up = sitting.iter().position(|taken| taken.posed == Posed::Standing)?;
    let (before, after) = sitting.split_at_checked(up)?;
    let last = before.last()?;
    let rest: Vec<&&Taken> = before.iter().filter(|taken| taken.posed == last.posed).collect();
    let mut mean = ExactMean::default();
    for values in rest.iter().filter_map(|taken| taken.counted()) {
        mean.add(values);
    }
    let (systolic, diastolic) = mean.systolic().zip(mean.diastolic())?;
    let within = |(from, to): (SignedDuration, SignedDuration)| {
        after
            .iter()
            .filter(|taken| taken.posed == Posed::Standing)
            .find(|taken| {
                let since = taken.at.duration_since(last.at);
                from <= since && since < to
            })
            .and_then(|taken| fallen(taken, &mean))
    };
    let (one, three) = (within(FIRST_MINUTE), within(THIRD_MINUTE));
    one.or(three)?;
    Some(StoodUp {
        day: last.day,
        at: after.first()?.at,
        from: last.posed.name(),
        rest: [systolic, diastolic],
        after_1_minute: one,
        after_3_minutes: three,
    })
}

fn fallen(taken: &Taken, rest: &ExactMean) -> Option<Fall> {
    let values = taken.counted()?;
    let mut standing = ExactMean::default();
    standing.add(values);
    let (systolic, diastolic) = (values.systolic.mmhg(), values.diastolic.mmhg());
    let [by_s, by_d] = [rest.systolic()? - systolic, rest.diastolic()? - diastolic];
    Some(Fall {
        standing: [systolic, diastolic],
        by: [by_s, by_d],
        reaches_20_10: rest.reaches_above(
            &standing,
            Pressure::from_mmhg(FALL_MMHG.0),
            Pressure::from_mmhg(FALL_MMHG.1),
        ),
    })
}

impl StoodUp {
    /// One sentence for the clinician.
    pub fn say(&self) -> Said {
        let after = |name: &'static str, fall: &Option<Fall>| {
            Part::Said(fall.map(|fall| {
                let reaches = if fall.reaches_20_10 { "yes" } else { "no" };
                Said::of(
                    name,
                    [
                        (
                            "standing",
                            format!("{:.0}/{:.0}", fall.standing[0], fall.standing[1])
                                .as_str()
                                .into(),
                        ),
                        ("by", Part::Number(format!("{:.1}/{:.1}", fall.by[0], fall.by[1]))),
                        ("reaches", reaches.into()),
                    ],
                )
            }))
        };
        let [systolic, diastolic] = self.rest;
        Said::of(
            "standing-up",
            [
                ("day", self.day.into()),
                ("from", self.from.into()),
                ("rest", Part::Number(format!("{systolic:.1}/{diastolic:.1}"))),
                ("first", after("standing-after-1", &self.after_1_minute)),
                ("third", after("standing-after-3", &self.after_3_minutes)),
            ],
        )
    }
}
