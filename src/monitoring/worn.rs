//! How the cuff was worn when a reading was taken, as far as somebody said so: on which arm, where on it, and which arms it
//! fits.
//!
//! What a note says of the sitting comes first. Else it is what was on record when the reading was taken: a statement of
//! today says nothing of the readings before it, and of those before the first nothing is known.

use crate::household::{Arm, Fact, MonitorId, Note, PersonId, Site, StatedNote, Statement};
use crate::reading::Reading;
use crate::sitting::SITTING_GAP;
use crate::technique::between;
use jiff::{SignedDuration, Timestamp};
use std::collections::BTreeMap;

/// A note on how the cuff is worn is about readings this long before and after it: as far as two readings of one sitting
/// may be apart.
const ABOUT_THE_SITTING: SignedDuration = SITTING_GAP;

/// The smallest and the largest arm that a cuff fits, as circumferences in millimetres.
pub type Fits = (Option<u16>, Option<u16>);

/// How the cuff was worn, as far as it is known.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub struct Worn {
    /// On which arm.
    pub arm: Option<Arm>,
    /// Where on the arm: the place where the monitor is worn.
    pub site: Option<Site>,
    /// Which arms the cuff fits.
    pub cuff: Option<Fits>,
}

/// What was on record through time.
#[derive(Clone, Debug, Default)]
pub(super) struct OnRecord {
    arms: BTreeMap<PersonId, Vec<(Timestamp, Option<Arm>)>>,
    monitors: BTreeMap<MonitorId, Vec<(Timestamp, Option<Site>, Fits)>>,
}

impl OnRecord {
    /// After these statements, each with the moment at which it was made, in their order.
    pub(super) fn after<'a>(statements: impl IntoIterator<Item = (Timestamp, &'a Statement)>) -> Self {
        let mut record = Self::default();
        for (at, statement) in statements {
            let mut chosen = |person: &PersonId, arm| {
                record.arms.entry(person.clone()).or_default().push((at, arm));
            };
            match statement {
                Statement::Person { person, details } => chosen(person, details.arm),
                Statement::PersonChanged { person, changes } => {
                    for fact in changes {
                        if let Fact::Arm(arm) = fact {
                            chosen(person, *arm);
                        }
                    }
                }
                Statement::Monitor { monitor, details } | Statement::MonitorAt { monitor, details, .. } => {
                    let fits = (details.cuff_min_mm, details.cuff_max_mm);
                    let of_it = record.monitors.entry(monitor.clone()).or_default();
                    of_it.push((at, details.site, fits));
                }
                _ => {}
            }
        }
        record
    }

    /// What was on record when a reading was taken.
    pub(super) fn at(&self, reading: &Reading) -> Worn {
        let Some(taken) = reading.time.at else {
            return Worn::default();
        };
        let chosen = reading.person.as_ref().and_then(|person| self.arms.get(person));
        let arm = chosen.into_iter().flatten().rfind(|(stated, _)| *stated <= taken);
        let monitor = self.monitors.get(&reading.monitor);
        let monitor = monitor
            .into_iter()
            .flatten()
            .rfind(|(stated, ..)| *stated <= taken);
        Worn {
            arm: arm.and_then(|(_, arm)| *arm),
            site: monitor.and_then(|(_, site, _)| *site),
            cuff: monitor
                .map(|(.., fits)| *fits)
                .filter(|fits| *fits != (None, None)),
        }
    }
}

impl Worn {
    /// What notes say of the sitting of a reading. `notes` are ordered by time.
    pub fn noted(reading: &Reading, notes: &[StatedNote]) -> Self {
        let of_them = |note: &StatedNote| note.person.is_some() && note.person == reading.person;
        // A note that names nobody is about whoever used the monitor that it names.
        let with_it = |note: &StatedNote| {
            let monitor = note.monitor.as_ref();
            monitor.is_none_or(|monitor| *monitor == reading.monitor)
                && (of_them(note) || note.person.is_none() && monitor.is_some())
        };
        Self {
            arm: said_of(reading, notes, |note| match note.what {
                Note::Arm { arm } if of_them(note) => Some(arm),
                _ => None,
            }),
            site: None,
            cuff: said_of(reading, notes, |note| match note.what {
                Note::Cuff { min_mm, max_mm } if with_it(note) => Some((Some(min_mm), Some(max_mm))),
                _ => None,
            }),
        }
    }

    /// The same, and what it does not know as `other` has it.
    #[must_use]
    pub fn or(self, other: Self) -> Self {
        Self {
            arm: self.arm.or(other.arm),
            site: self.site.or(other.site),
            cuff: self.cuff.or(other.cuff),
        }
    }
}

/// What was noted last before the reading, else next after it, in the same sitting.
fn said_of<T>(reading: &Reading, notes: &[StatedNote], what: impl Fn(&StatedNote) -> Option<T>) -> Option<T> {
    let at = reading.time.at?;
    let from = at.checked_sub(ABOUT_THE_SITTING).ok()?;
    let to = at.checked_add(ABOUT_THE_SITTING).ok()?;
    let noted = || {
        let near = between(notes, from, to).iter();
        near.filter_map(|note| Some((note.at, what(note)?)))
    };
    let before = noted().rfind(|(when, _)| *when <= at);
    before.or_else(|| noted().next()).map(|(_, said)| said)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::gatt::{Sfloat, Unit};
    use crate::reading::{MeasuredTime, Precision, ReadingId, TimeSource};

    const LEFT: Worn = Worn {
        arm: Some(Arm::Left),
        site: None,
        cuff: None,
    };

    fn at(hour: &str) -> Timestamp {
        format!("2026-03-01T{hour}Z").parse().unwrap()
    }

    fn taken(hour: &str) -> Reading {
        let number = Sfloat::new(1_200, -1).unwrap();
        Reading {
            id: ReadingId("00".to_owned()),
            monitor: "m1".parse().unwrap(),
            received_at: at("23:00:00"),
            time: MeasuredTime {
                at: Some(at(hour)),
                source: TimeSource::MonitorClock,
                precision: Precision::Second,
                stamp: None,
                correction_s: 0,
            },
            person: Some("asha".parse().unwrap()),
            unit: Unit::MmHg,
            systolic: number,
            diastolic: number,
            mean_arterial_pressure: number,
            pulse_rate: None,
            user_id: None,
            status: None,
            feature: None,
            discarded: None,
        }
    }

    /// As the journal keeps them.
    fn on_record(stated: &[(&str, &str)]) -> OnRecord {
        let stated: Vec<(Timestamp, Statement)> = stated
            .iter()
            .map(|(hour, body)| (at(hour), serde_json::from_str(body).unwrap()))
            .collect();
        OnRecord::after(stated.iter().map(|(at, statement)| (*at, statement)))
    }

    const CHOSEN: (&str, &str) = (
        "08:00:00",
        r#"{"kind": "person", "person": "asha", "arm": "left"}"#,
    );

    #[test]
    fn nothing_is_known_before_it_was_stated_and_nothing_stated_later_changes_it() {
        let mut stated = vec![
            CHOSEN,
            (
                "09:00:00",
                r#"{"kind": "monitor", "monitor": "m1", "site": "upper-arm", "cuff-max-mm": 320}"#,
            ),
        ];
        let early = on_record(&stated);
        let whole = Worn {
            site: Some(Site::UpperArm),
            cuff: Some((None, Some(320))),
            ..LEFT
        };
        for (hour, worn) in [
            ("07:59:59", Worn::default()),
            ("08:00:00", LEFT),
            ("09:30:00", whole),
        ] {
            assert_eq!(early.at(&taken(hour)), worn, "{hour}");
        }
        stated.extend([
            (
                "10:00:00",
                r#"{"kind": "person-changed", "person": "asha", "changes": [{"arm": "right"}, {"strict": true}]}"#,
            ),
            (
                "11:00:00",
                r#"{"kind": "monitor", "monitor": "m1", "site": "wrist"}"#,
            ),
            (
                "12:00:00",
                r#"{"kind": "person-changed", "person": "asha", "changes": [{"arm": null}]}"#,
            ),
            (
                "12:00:00",
                r#"{"kind": "person", "person": "ravi", "arm": "right"}"#,
            ),
        ]);
        let late = on_record(&stated);
        for hour in ["07:00:00", "08:30:00", "09:59:59"] {
            assert_eq!(late.at(&taken(hour)), early.at(&taken(hour)), "{hour}");
        }
        let right = Some(Arm::Right);
        assert_eq!(late.at(&taken("10:00:00")), Worn { arm: right, ..whole });
        let wrist = Worn {
            arm: right,
            site: Some(Site::Wrist),
            cuff: None,
        };
        assert_eq!(late.at(&taken("11:30:00")), wrist);
        assert_eq!(late.at(&taken("13:00:00")), Worn { arm: None, ..wrist });
        let timeless = Reading {
            time: MeasuredTime {
                at: None,
                ..taken("13:00:00").time
            },
            ..taken("13:00:00")
        };
        assert_eq!(late.at(&timeless), Worn::default());
    }

    /// A clock that was set back: what was stated last of what was stated by then.
    #[test]
    fn a_clock_that_was_set_back_takes_nothing_from_the_readings_before() {
        let back = r#"{"kind": "person-changed", "person": "asha", "changes": [{"arm": "right"}]}"#;
        let record = on_record(&[CHOSEN, ("07:00:00", back)]);
        let arm = |hour| record.at(&taken(hour)).arm;
        assert_eq!(
            [arm("06:00:00"), arm("07:30:00"), arm("09:00:00")],
            [None, Some(Arm::Right), Some(Arm::Right)]
        );
    }

    #[test]
    fn a_note_of_the_sitting_comes_before_what_is_on_record() {
        let note = |hour, person: Option<&str>, monitor: Option<&str>, what| StatedNote {
            person: person.map(|person| person.parse().unwrap()),
            monitor: monitor.map(|monitor| monitor.parse().unwrap()),
            at: at(hour),
            what,
        };
        let cuff = Note::Cuff {
            min_mm: 220,
            max_mm: 420,
        };
        let notes = [
            note("07:00:00", Some("ravi"), None, Note::Arm { arm: Arm::Right }),
            note("07:01:00", None, Some("m2"), cuff.clone()),
            note("07:55:00", Some("asha"), None, Note::Arm { arm: Arm::Right }),
            note("08:01:00", None, Some("m1"), cuff),
        ];
        let noted = |hour| Worn::noted(&taken(hour), &notes);
        assert_eq!(noted("07:01:30"), Worn::default());
        let both = Worn {
            arm: Some(Arm::Right),
            site: None,
            cuff: Some((Some(220), Some(420))),
        };
        assert_eq!(noted("08:00:00"), both);
        let record = on_record(&[CHOSEN]).at(&taken("08:00:00"));
        assert_eq!(
            (record, both.or(record), Worn::default().or(record)),
            (LEFT, both, LEFT)
        );
    }
}
