//! What holds for any readings whatever.

use crate::technique::made::{World, p1, reading};
use jiff::SignedDuration;
use proptest::prelude::*;
use quietcuff::gatt::{MeasurementStatus, Sfloat, Unit};
use quietcuff::household::Note;
use quietcuff::monitoring::next::{Schedule, next};
use quietcuff::reading::{Precision, Reading, ReadingId, TimeSource};
use quietcuff::technique::{Disposition, Judged};
use std::collections::BTreeMap;

prop_compose! {
    /// Readings of two days, crowded enough to make sittings, and every odd thing that a monitor can send.
    fn any_reading()(
        second in prop_oneof![0i64..1800, 0i64..172_800],
        systolic in any::<u16>(),
        sane in 0u8..5,
        diastolic in any::<u16>(),
        pulse in any::<Option<u16>>(),
        status in prop_oneof![Just(None), Just(Some(0)), any::<u16>().prop_map(Some)],
        feature in any::<Option<u16>>(),
        kpa in proptest::bool::weighted(0.1),
        who in 0u8..4,
        source in 0u8..6,
        coarse in proptest::bool::weighted(0.2),
        discarded in proptest::bool::weighted(0.1),
    ) -> Reading {
        let mut made = reading("2026-03-01T05:00:00", "120", "80");
        let shift = SignedDuration::from_secs(second);
        made.time.at = made.time.at.map(|at| at + shift);
        made.time.stamp = made.time.stamp.map(|stamp| stamp + shift);
        made.received_at += shift;
        if sane == 0 {
            made.systolic = Sfloat::from_bits(systolic);
            made.diastolic = Sfloat::from_bits(diastolic);
        } else {
            made.systolic = Sfloat::new(110 + (systolic % 100).cast_signed(), 0).unwrap();
            made.diastolic = Sfloat::new(50 + (diastolic % 50).cast_signed(), 0).unwrap();
        }
        made.pulse_rate = pulse.map(Sfloat::from_bits);
        made.status = status.map(MeasurementStatus);
        made.feature = feature;
        if kpa {
            made.unit = Unit::KPa;
        }
        made.person = match who {
            0 => None,
            1 => Some("p2".parse().unwrap()),
            _ => Some(p1()),
        };
        made.time.source = match source {
            0 => TimeSource::Receipt,
            1 => TimeSource::WallClock,
            2 => TimeSource::Unknown,
            _ => TimeSource::MonitorClock,
        };
        if made.time.source == TimeSource::Unknown {
            made.time.at = None;
        }
        if coarse {
            made.time.precision = Precision::Minute;
        }
        made.discarded = discarded.then(|| "because".to_owned());
        made
    }
}

fn any_day() -> impl Strategy<Value = Vec<Reading>> {
    proptest::collection::vec(any_reading(), 0..40).prop_map(|mut readings| {
        for (i, reading) in readings.iter_mut().enumerate() {
            reading.id = ReadingId(format!("{i:016x}"));
        }
        readings
    })
}

fn world() -> World {
    World::new()
        .noting("2026-03-01T05:10:00", Note::Coffee)
        .noting("2026-03-01T05:12:00", Note::Talked)
        .noting("2026-03-01T18:00:00", Note::Dinner)
}

/// Everything that was decided, by reading and by session.
fn decided(judged: &[(Vec<Reading>, Judged)]) -> BTreeMap<String, String> {
    judged
        .iter()
        .flat_map(|(sitting, judged)| {
            let readings = sitting
                .iter()
                .zip(&judged.judgements)
                .map(|(reading, judgement)| {
                    (
                        reading.id.0.clone(),
                        format!("{judgement:?} {:?}", judged.session),
                    )
                });
            readings.collect::<Vec<_>>()
        })
        .collect()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(512))]

    #[test]
    fn the_order_of_arrival_changes_nothing(day in any_day(), seed in any::<u64>()) {
        let mut shuffled = day.clone();
        let mut state = seed | 1;
        for i in (1..shuffled.len()).rev() {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            shuffled.swap(i, (state >> 33) as usize % (i + 1));
        }
        let world = world();
        prop_assert_eq!(decided(&world.judge(day)), decided(&world.judge(shuffled)));
    }

    #[test]
    fn every_reading_is_in_exactly_one_disposition(day in any_day()) {
        let judged = world().judge(day.clone());
        let mut seen: BTreeMap<String, usize> = BTreeMap::new();
        for (sitting, judged) in &judged {
            prop_assert_eq!(sitting.len(), judged.judgements.len());
            let mut averaged = 0;
            for (reading, judgement) in sitting.iter().zip(&judged.judgements) {
                *seen.entry(reading.id.0.clone()).or_default() += 1;
                averaged += usize::from(judgement.disposition.is_averaged());
                // A reason for everything that is not simply counted, and none for what is.
                prop_assert_eq!(judgement.reasons.is_empty(), judgement.disposition == Disposition::Counted);
                let aside = judgement.reasons.iter().any(|reason| reason.rule().disposition == Disposition::SetAside);
                prop_assert_eq!(aside, judgement.disposition == Disposition::SetAside);
                if reading.person.is_none() || reading.time.at.is_none() {
                    prop_assert!(aside);
                }
            }
            if let Some(session) = &judged.session {
                prop_assert_eq!(session.counted, averaged);
                prop_assert_eq!(session.readings.len(), sitting.len());
            } else {
                prop_assert_eq!((averaged, sitting.len()), (0, 1));
            }
        }
        prop_assert!(seen.values().all(|&times| times == 1));
        prop_assert_eq!(seen.len(), day.len());
    }

    /// A reading changes the judgement of its own sitting and of nothing else.
    #[test]
    fn a_new_reading_judges_only_its_own_sitting_anew(day in any_day(), new in any_reading()) {
        let world = world();
        let before = world.judge(day.clone());
        let mut more = day;
        let new = Reading { id: ReadingId("new".into()), ..new };
        more.push(new.clone());
        let after = world.judge(more);
        let own = after.iter().find(|(sitting, _)| sitting.contains(&new)).unwrap();
        for (sitting, judged) in &before {
            if !sitting.iter().any(|reading| own.0.contains(reading)) {
                prop_assert!(after.contains(&(sitting.clone(), judged.clone())));
            }
        }
    }

    /// Later by whole days is the same, only later: no rule looks at the calendar.
    #[test]
    fn days_do_not_matter(day in any_day(), days in 1i64..400) {
        let shift = SignedDuration::from_hours(24 * days);
        let mut world = world();
        let before: Vec<_> = world.judge(day.clone()).into_iter().map(|(_, judged)| judged.judgements).collect();
        let mut later = day;
        for reading in &mut later {
            reading.time.at = reading.time.at.map(|at| at + shift);
            reading.time.stamp = reading.time.stamp.map(|stamp| stamp + shift);
            reading.received_at += shift;
        }
        for note in &mut world.notes {
            note.at += shift;
        }
        let after: Vec<_> = world.judge(later).into_iter().map(|(_, judged)| judged.judgements).collect();
        prop_assert_eq!(before, after);
    }

    /// Whatever came in, there is one thing to do, its words are there, and a time to wait for lies ahead.
    #[test]
    fn there_is_always_something_to_do(day in any_day(), second in 0i64..172_800) {
        let now = crate::technique::made::at("2026-03-01T05:00:00") + SignedDuration::from_secs(second);
        let world = world();
        let found = next(now, &p1(), &Schedule::EVERY_DAY, &day, &world.context());
        prop_assert!(!found.say.is_empty() && !found.because.is_empty());
        prop_assert!(found.until.is_none_or(|until| until > now));
        let mut reversed = day;
        reversed.reverse();
        prop_assert_eq!(found, next(now, &p1(), &Schedule::EVERY_DAY, &reversed, &world.context()));
    }
}
