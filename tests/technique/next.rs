//! What the person with the cuff should do, moment by moment.

use crate::technique::made::{World, at, p1, reading};
use jiff::civil::date;
use quietcuff::gatt::{MeasurementStatus, Sfloat};
use quietcuff::household::{Condition, Note, Person};
use quietcuff::monitoring::next::{Next, Schedule, Step, next};
use quietcuff::reading::{Precision, Reading};

fn when(world: &World, now: &str, readings: &[Reading]) -> Next {
    next(at(now), &p1(), &Schedule::EVERY_DAY, readings, &world.context())
}

/// One morning: rest, first reading, wait, second, third, done, and nothing due till the evening.
#[test]
fn a_morning() {
    let world = World::new();
    let first = reading("2026-03-01T07:02:11", "140", "80");
    let second = reading("2026-03-01T07:03:20", "129", "80");
    let third = reading("2026-03-01T07:04:40", "131", "80");
    let one = vec![first.clone()];
    let two = vec![second.clone(), first.clone()];
    let three = vec![third, first, second];
    for (now, readings, state, until) in [
        (
            "2026-03-01T04:59:59",
            &[][..],
            Step::NotDue,
            Some("2026-03-01T05:00:00"),
        ),
        ("2026-03-01T05:00:00", &[], Step::Rest, None),
        (
            "2026-03-01T07:02:11",
            &one,
            Step::Wait,
            Some("2026-03-01T07:03:11"),
        ),
        (
            "2026-03-01T07:03:10",
            &one,
            Step::Wait,
            Some("2026-03-01T07:03:11"),
        ),
        ("2026-03-01T07:03:11", &one, Step::Second, None),
        ("2026-03-01T07:12:11", &one, Step::Second, None),
        // Ten minutes after the only reading a new session is due.
        ("2026-03-01T07:12:12", &one, Step::Rest, None),
        (
            "2026-03-01T07:03:30",
            &two,
            Step::Wait,
            Some("2026-03-01T07:04:20"),
        ),
        ("2026-03-01T07:04:20", &two, Step::Third, None),
        (
            "2026-03-01T07:04:45",
            &three,
            Step::Done,
            Some("2026-03-01T17:00:00"),
        ),
        (
            "2026-03-01T11:59:59",
            &three,
            Step::Done,
            Some("2026-03-01T17:00:00"),
        ),
        (
            "2026-03-01T12:00:00",
            &three,
            Step::NotDue,
            Some("2026-03-01T17:00:00"),
        ),
        ("2026-03-01T17:00:00", &three, Step::Rest, None),
        (
            "2026-03-02T00:00:00",
            &three,
            Step::NotDue,
            Some("2026-03-02T05:00:00"),
        ),
        // Readings that are yet to come do not count.
        ("2026-03-01T07:02:10", &three, Step::Rest, None),
        (
            "2026-03-01T07:03:00",
            &three,
            Step::Wait,
            Some("2026-03-01T07:03:11"),
        ),
    ] {
        let found = when(&world, now, readings);
        assert_eq!(
            (found.state, found.until),
            (state, until.map(at)),
            "{now} {found:?}"
        );
        assert_eq!(found.otherwise, None);
    }
}

/// Yesterday's session does not stand for today's, though less than a day has passed.
#[test]
fn another_morning() {
    let yesterday = [
        reading("2026-03-01T09:00:00", "120", "80"),
        reading("2026-03-01T09:01:00", "121", "80"),
    ];
    let found = when(&World::new(), "2026-03-02T08:00:00", &yesterday);
    assert_eq!(
        (found.state, found.because.as_str()),
        (Step::Rest, "the morning session is due")
    );
}

/// The words of the command-line contract.
#[test]
fn words() {
    let world = World::new();
    let one = [reading("2026-03-01T07:02:11", "120", "80")];
    let found = when(&world, "2026-03-01T07:02:30", &one);
    assert_eq!(found.because, "one reading in; two belong to a session");
    assert_eq!(
        found.say,
        "Keep the cuff on. Take the second reading at 07:03:11."
    );
    let two = [one[0].clone(), reading("2026-03-01T07:03:20", "131", "80")];
    let found = when(&world, "2026-03-01T07:05:00", &two);
    assert_eq!(
        found.because,
        "the first two readings differ by more than 10 mmHg"
    );
    let found = when(&world, "2026-03-01T23:00:00", &[]);
    assert_eq!(found.because, "the evening session is due");
    let found = when(&world, "2026-03-01T13:00:00", &[]);
    assert_eq!(
        found.say,
        "The next session is the evening one, today from 17:00."
    );
    let found = when(&world, "2026-03-01T07:30:00", &one);
    assert_eq!(
        found.because,
        "the morning session is due: the last one ended with 1 of 2 readings"
    );
}

#[test]
fn a_reading_that_was_set_aside_is_repeated() {
    let mut moved = reading("2026-03-01T07:02:11", "120", "80");
    moved.status = Some(MeasurementStatus(1));
    let world = World::new();
    let found = when(&world, "2026-03-01T07:02:30", &[moved.clone()]);
    assert_eq!(
        (found.state, found.until),
        (Step::Repeat, Some(at("2026-03-01T07:03:11")))
    );
    assert_eq!(found.because, "the last reading was set aside: body-movement");
    assert_eq!(
        found.say,
        "The monitor felt movement. Keep still while the cuff works. Measure again at 07:03:11."
    );
    let found = when(&world, "2026-03-01T07:03:11", &[moved.clone()]);
    assert_eq!((found.state, found.until), (Step::Repeat, None));
    // One good reading later, the session goes on.
    let good = reading("2026-03-01T07:03:30", "120", "80");
    assert_eq!(
        when(&world, "2026-03-01T07:05:00", &[moved.clone(), good.clone()]).state,
        Step::Second
    );
    // A second reading that came too soon, or gave no value.
    let soon = reading("2026-03-01T07:04:00", "120", "80");
    assert_eq!(
        when(&world, "2026-03-01T07:04:10", &[good.clone(), soon]).state,
        Step::Repeat
    );
    let mut failed = reading("2026-03-01T07:05:00", "120", "80");
    failed.systolic = Sfloat::NAN;
    assert_eq!(
        when(&world, "2026-03-01T07:05:10", &[good, failed]).state,
        Step::Repeat
    );
}

/// Three readings belong to a session in atrial fibrillation, however well the first two agree.
#[test]
fn atrial_fibrillation() {
    let world = World::with(Person {
        conditions: vec![Condition::AtrialFibrillation],
        ..Person::default()
    });
    let two = [
        reading("2026-03-01T07:02:00", "120", "80"),
        reading("2026-03-01T07:03:30", "121", "80"),
    ];
    let found = when(&world, "2026-03-01T07:05:00", &two);
    assert_eq!(found.state, Step::Third);
    assert_eq!(found.because, "two readings in; three belong to a session");
}

/// A stamp of 07:02 may have been made at 07:02:59; one that was heard at 07:02:20 was not.
#[test]
fn whole_minutes_wait_for_the_last_possible_second() {
    let mut coarse = reading("2026-03-01T07:02:00", "120", "80");
    coarse.time.precision = Precision::Minute;
    let world = World::new();
    coarse.received_at = at("2026-03-01T07:02:20");
    let found = when(&world, "2026-03-01T07:02:30", &[coarse.clone()]);
    assert_eq!(found.until, Some(at("2026-03-01T07:03:20")));
    coarse.received_at = at("2026-03-01T07:05:00");
    let found = when(&world, "2026-03-01T07:02:30", &[coarse]);
    assert_eq!(found.until, Some(at("2026-03-01T07:03:59")));
}

/// Half an hour after coffee, also for somebody whose reading was set aside for it.
#[test]
fn coffee_first() {
    let world = World::new().noting("2026-03-01T06:50:00", Note::Coffee);
    let found = when(&world, "2026-03-01T07:00:00", &[]);
    assert_eq!(
        (found.state, found.until),
        (Step::Rest, Some(at("2026-03-01T07:20:00")))
    );
    assert_eq!(when(&world, "2026-03-01T07:20:00", &[]).until, None);

    let mut strict = World::with(Person {
        strict: true,
        ..Person::default()
    });
    strict.notes = world.notes.clone();
    let early = [reading("2026-03-01T07:15:00", "120", "80")];
    let found = when(&strict, "2026-03-01T07:15:10", &early);
    assert_eq!(
        (found.state, found.until),
        (Step::Repeat, Some(at("2026-03-01T07:20:00")))
    );
    // Where it only marks, the second reading follows as ever.
    let found = when(&world, "2026-03-01T07:15:10", &early);
    assert_eq!(
        (found.state, found.until),
        (Step::Wait, Some(at("2026-03-01T07:16:00")))
    );
}

#[test]
fn seeking_help_outranks_every_step() {
    let world = World::new();
    let high = [reading("2026-03-01T07:02:11", "185", "100")];
    let found = when(&world, "2026-03-01T07:02:30", &high);
    assert_eq!(
        (found.state, found.until),
        (Step::SeekHelp, Some(at("2026-03-01T07:07:11")))
    );
    assert_eq!(found.otherwise, Some(Step::Wait));
    assert!(found.say.starts_with("A reading is very high."));
    let found = when(&world, "2026-03-01T07:07:11", &high);
    assert_eq!(found.until, None);
    assert!(found.say.starts_with("Measure again now."));
    // Until it was measured again, in the afternoon too.
    assert_eq!(when(&world, "2026-03-01T14:00:00", &high).state, Step::SeekHelp);
    let calmer = [high[0].clone(), reading("2026-03-01T14:00:00", "150", "90")];
    assert_ne!(when(&world, "2026-03-01T14:00:10", &calmer).state, Step::SeekHelp);

    // A low reading is measured again after a while of lying down, and says what would have come next.
    let low = [reading("2026-03-01T07:02:11", "88", "62")];
    let found = when(&world, "2026-03-01T07:02:30", &low);
    assert_eq!(
        (found.state, found.until, found.otherwise),
        (Step::SeekHelp, Some(at("2026-03-01T07:07:11")), Some(Step::Wait))
    );
    assert!(found.say.starts_with("A reading is low. Sit or lie down"));

    let ill = World::new().noting(
        "2026-03-01T14:00:00",
        Note::Symptoms {
            symptoms: vec!["chest pain".into()],
        },
    );
    let found = when(&ill, "2026-03-01T14:00:01", &[]);
    assert_eq!(
        (found.state, found.otherwise),
        (Step::SeekHelp, Some(Step::NotDue))
    );
    assert!(found.say.contains("call your emergency number now"));

    // An unusual pulse is told beside the step.
    let mut slow = reading("2026-03-01T07:02:11", "120", "80");
    slow.pulse_rate = Some(crate::technique::made::decimal("45"));
    let found = when(&world, "2026-03-01T07:02:30", &[slow]);
    assert_eq!((found.state, found.alerts.len()), (Step::Wait, 1));
}

#[test]
fn a_schedule_says_on_which_days() {
    let world = World::new();
    let weekly = Schedule {
        from: date(2026, 3, 1),
        to: date(2026, 3, 14),
        every_days: 7,
    };
    for (now, state, until) in [
        ("2026-02-27T08:00:00", Step::NotDue, Some("2026-03-01T05:00:00")),
        ("2026-03-01T08:00:00", Step::Rest, None),
        ("2026-03-01T13:00:00", Step::NotDue, Some("2026-03-01T17:00:00")),
        ("2026-03-02T08:00:00", Step::NotDue, Some("2026-03-08T05:00:00")),
        ("2026-03-08T18:00:00", Step::Rest, None),
        ("2026-03-09T08:00:00", Step::NotDue, None),
        ("2026-04-09T08:00:00", Step::NotDue, None),
    ] {
        let found = next(at(now), &p1(), &weekly, &[], &world.context());
        assert_eq!((found.state, found.until), (state, until.map(at)), "{now}");
    }
    let found = next(at("2026-03-02T08:00:00"), &p1(), &weekly, &[], &world.context());
    assert_eq!(
        found.say,
        "The next session is the morning one, on Sunday 8 March from 05:00."
    );
    // A protocol that asks for mornings only.
    let mut mornings = World::new();
    mornings.rule.evening = false;
    let found = when(&mornings, "2026-03-01T18:00:00", &[]);
    assert_eq!(
        (found.state, found.until),
        (Step::NotDue, Some(at("2026-03-02T05:00:00")))
    );
}
