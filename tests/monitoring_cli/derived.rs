//! The derived tables of a journal: kept up to date step by step, they are what they would be if they were made anew.

use jiff::civil::date;
use jiff::tz::TimeZone;
use jiff::{SignedDuration, Timestamp};
use proptest::prelude::*;
use quietcuff::frame::{Frame, Uptime};
use quietcuff::gatt::Characteristic;
use quietcuff::household::{
    Arm, Condition, Monitor, MonitorAddress, Note, Person, PersonId, Statement, Window, Zones,
};
use quietcuff::journal::{Journal, Wanted};
use quietcuff::radio::simulated::Household;
use quietcuff::reading::{ClockSample, GatewayClock, Reading, readings};
use rusqlite::types::Value;
use std::path::Path;

/// Everything derived, as text; `frame_rows` says whether with the rows of the frames, which tell the order of arrival.
pub(crate) fn dump(state: &Path, frame_rows: bool) -> String {
    let db = rusqlite::Connection::open(state.join("journal.sqlite")).unwrap();
    let frame = if frame_rows { "frame" } else { "0" };
    let tables = [
        "SELECT * FROM connection ORDER BY monitor, started_us, number, address".to_owned(),
        format!(
            "SELECT id, {frame}, monitor, connection_us, received_us, record, form, measured, person, measured_us,
                    time_source, precision, stamp, correction_s, unit, systolic, diastolic, mean_arterial, pulse_rate,
                    user_id, status, feature, discarded
             FROM reading ORDER BY id"
        ),
        "SELECT id, disposition, reasons, judgement.mean_arterial, session
         FROM judgement JOIN reading ON reading.row = judgement.reading ORDER BY id"
            .to_owned(),
        "SELECT count(*) FROM judgement".to_owned(),
        "SELECT * FROM session ORDER BY id".to_owned(),
    ];
    let mut text = String::new();
    for sql in &tables {
        let mut query = db.prepare(sql).unwrap();
        let columns = query.column_count();
        let mut rows = query.query([]).unwrap();
        while let Some(row) = rows.next().unwrap() {
            for column in 0..columns {
                text += &format!("{:?}|", row.get::<_, Value>(column).unwrap());
            }
            text.push('\n');
        }
        text.push('\n');
    }
    text
}

/// A fortnight of the demonstration's two people and their monitor; all invented.
pub(crate) fn lived(seed: u64, days: u16) -> (Vec<Statement>, Vec<Frame>) {
    let zone = TimeZone::get("Europe/Berlin").unwrap();
    // Over the night in which clocks are put forward.
    let household = Household::demonstration(date(2026, 3, 24), zone);
    let statements = household.statements("seven-day");
    (statements, household.live(seed, days).frames)
}

const CLINIC: &str = r#"
title = "Invented"
citation = "Invented for a test"
readings-per-session = 3
sessions = ["morning"]
days = 5
days-min = 2
readings-min = 4
third-reading-above = 5
drop-first-day = false
threshold = { systolic = 128, diastolic = 80 }
"#;

fn person(word: &str) -> PersonId {
    word.parse().unwrap()
}

/// Kinds of statements after which some readings are judged or settled anew, but not all of them.
const SOME: u8 = 16;

/// What people may state between two bursts. The person, the reading that it is about and the moment, which is up to
/// half an hour before that reading, are chosen by number.
fn statement(kind: u8, whose: u8, hours: i64, readings: &[Reading], people: &[PersonId]) -> Statement {
    let who = people[usize::from(whose) % people.len()].clone();
    let about = &readings[hours as usize * 7 % readings.len()];
    let at = about.time.at.unwrap_or(about.received_at) - SignedDuration::from_mins(hours % 5 * 7);
    let note = |name: String, what: Note| Statement::Note {
        note: name,
        person: Some(who.clone()),
        monitor: None,
        at,
        what,
    };
    let reading = || about.id.0.clone();
    let details = |person: Person| Statement::Person {
        person: who.clone(),
        details: Person {
            label: "invented".to_owned(),
            ..person
        },
    };
    match kind % 20 {
        0 => note(format!("n{}", hours % 3), Note::Coffee),
        1 => note(format!("n{}", hours % 3), Note::Talked),
        2 if hours % 2 == 0 => note(format!("d{hours}"), Note::Dinner),
        // Hours after the reading, which is judged anew for it.
        2 => Statement::Note {
            note: format!("b{hours}"),
            person: Some(who.clone()),
            monitor: None,
            at: at + SignedDuration::from_hours(hours % 13),
            what: Note::Bed,
        },
        3 => note(format!("a{hours}"), Note::Arm { arm: Arm::Left }),
        4 => Statement::NoteWithdrawn {
            note: format!("n{}", hours % 3),
        },
        5 => Statement::Note {
            note: format!("m{hours}"),
            person: None,
            monitor: Some("m1".parse().unwrap()),
            at,
            what: Note::Cuff {
                min_mm: 220,
                max_mm: 300,
            },
        },
        6 => details(Person {
            strict: true,
            arm_cm: Some(33.0),
            arm: Some(Arm::Right),
            ..Person::default()
        }),
        7 => details(Person {
            morning: Some(Window {
                from: jiff::civil::time(9, 0, 0, 0),
                to: jiff::civil::time(10, 0, 0, 0),
            }),
            conditions: vec![Condition::AtrialFibrillation],
            ..Person::default()
        }),
        8 => details(Person {
            protocol: Some(["jsh-2019", "clinic"][(hours % 2) as usize].to_owned()),
            ..Person::default()
        }),
        9 => Statement::PersonRemoved { person: who },
        10 => Statement::Period {
            person: who,
            protocol: ["jsh-2019", "clinic"][(hours / 5 % 2) as usize].to_owned(),
            from: date(2026, 3, 24 + (hours % 5) as i8),
            days: Some(3),
        },
        11 => Statement::ClinicProtocol {
            text: format!("{CLINIC}gap-seconds = {}\n", 60 + hours % 3 * 60),
        },
        12 => Statement::MonitorForgotten {
            monitor: "m1".parse().unwrap(),
        },
        13 => Statement::Assigned {
            reading: reading(),
            person: (hours % 3 != 0).then_some(who),
        },
        14 => Statement::Discarded {
            reading: reading(),
            reason: (hours % 3 != 0).then(|| "invented".to_owned()),
        },
        15 => Statement::Timed {
            reading: reading(),
            measured_at: (hours % 3 != 0).then_some(at),
        },
        16 => Statement::UserIndex {
            monitor: "m1".parse().unwrap(),
            user_id: 1 + (hours % 2) as u8,
            person: (hours % 3 != 0).then_some(who),
            from: (hours % 2 == 0).then_some(at),
        },
        17 => Statement::UsualPerson {
            monitor: "m1".parse().unwrap(),
            person: Some(who),
            from: None,
        },
        18 => Statement::Zone {
            zone: ["Asia/Kolkata", "America/New_York"][usize::from(whose) % 2].to_owned(),
            from: Some(at),
        },
        _ => Statement::Monitor {
            monitor: "m1".parse().unwrap(),
            details: Monitor {
                address: Some("C0:FF:EE:00:00:01".parse().unwrap()),
                cuff_min_mm: Some(200),
                cuff_max_mm: Some(320),
                ..Monitor::default()
            },
        },
    }
}

/// One thing that happens to a journal.
#[derive(Clone, Debug)]
enum Step {
    /// So many of the frames that have not come yet, and again so many that have.
    Frames(usize, usize),
    Statement(u8, u8, i64),
    /// The gateway learns the time in this boot.
    Synchronised(u8),
    Settle,
}

fn steps() -> impl Strategy<Value = Vec<Step>> {
    let step = prop_oneof![
        2 => (1_usize..60, 0_usize..10).prop_map(|(new, again)| Step::Frames(new, again)),
        6 => (0..SOME, 0_u8..3, 0_i64..1000).prop_map(|(kind, whose, hours)| Step::Statement(kind, whose, hours)),
        1 => (any::<u8>(), 0_u8..3, 0_i64..1000).prop_map(|(kind, whose, hours)| Step::Statement(kind, whose, hours)),
        1 => (0_u8..3).prop_map(Step::Synchronised),
        5 => Just(Step::Settle),
    ];
    // Something is settled before anything else happens.
    (1_usize..400, proptest::collection::vec(step, 1..24)).prop_map(|(first, mut steps)| {
        steps.splice(0..0, [Step::Frames(first, 0), Step::Settle]);
        steps
    })
}

/// Some measurements again with a stamp of zeros: their time is unknown.
fn undated(frames: &mut Vec<Frame>) {
    let stamped: Vec<Frame> = frames
        .iter()
        .filter(|frame| frame.characteristic == Characteristic::BLOOD_PRESSURE_MEASUREMENT)
        .filter(|frame| frame.value[0] & 2 != 0)
        .step_by(9)
        .cloned()
        .collect();
    for mut frame in stamped {
        frame.value[7..14].fill(0);
        frame.received_at += SignedDuration::from_secs(1);
        frames.push(frame);
    }
}

/// Beside the daemon an ear: of the measurements most are heard by both, some by either alone.
fn overheard(frames: &mut Vec<Frame>) {
    let mut heard = Vec::new();
    for (nth, frame) in frames.iter_mut().enumerate() {
        if frame.characteristic != Characteristic::BLOOD_PRESSURE_MEASUREMENT {
            continue;
        }
        match nth % 5 {
            0 => {}
            1 => frame.overheard = true,
            _ => heard.push(Frame {
                overheard: true,
                received_at: frame.received_at - SignedDuration::from_millis(40),
                ..frame.clone()
            }),
        }
    }
    frames.extend(heard);
}

/// Every third connection is that of another address.
fn second(frames: &mut [Frame], own: &str, stated: &mut Vec<Statement>) {
    let address: MonitorAddress = "C0:FF:EE:00:00:02".parse().unwrap();
    for frame in frames.iter_mut().filter(|frame| frame.connection % 3 == 0) {
        frame.monitor = address.clone();
    }
    let monitor = own.parse().unwrap();
    let details = Monitor {
        address: Some(address),
        cuff_max_mm: Some(320),
        ..Monitor::default()
    };
    stated.push(Statement::Monitor { monitor, details });
    stated.push(Statement::UserIndex {
        monitor: own.parse().unwrap(),
        user_id: 1,
        person: Some(person("p1")),
        from: None,
    });
}

fn kept_readings(journal: &mut Journal) -> Vec<Reading> {
    let readings = journal.readings(&Wanted::default()).unwrap();
    let mut readings: Vec<Reading> = readings.into_iter().map(|judged| judged.reading).collect();
    readings.sort_by(|a, b| a.id.cmp(&b.id));
    readings
}

/// A part of them where `tests/run --quick` is in a hurry.
fn cases() -> u32 {
    if std::env::var("QUIETCUFF_SIZE").is_ok_and(|size| size == "quick") {
        16
    } else {
        64
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: cases(), failure_persistence: None, ..ProptestConfig::default() })]

    /// Whatever came in whichever order, with whatever was stated in between.
    #[test]
    fn step_by_step_is_the_same_as_anew(seed in 0_u64..1000, shuffle in any::<u64>(), steps in steps()) {
        let (mut stated, mut frames) = lived(seed, 8);
        for statement in &mut stated {
            if let Statement::Monitor { details, .. } = statement {
                details.cuff_max_mm = Some(320);
            }
        }
        // Periods are among what is stated later.
        stated.retain(|statement| !matches!(statement, Statement::Period { .. }));
        stated.push(Statement::ClinicProtocol { text: CLINIC.to_owned() });
        undated(&mut frames);
        // A second monitor, or the same one at a second address.
        if shuffle % 5 < 2 {
            let own = ["m1", "m2"][(shuffle % 5) as usize];
            second(&mut frames, own, &mut stated);
        }
        if shuffle % 2 == 0 {
            overheard(&mut frames);
        }
        if shuffle % 3 == 0 {
            boot(&mut frames);
        }
        let frames = shuffled(frames, shuffle);
        let dir = tempfile::tempdir().unwrap();
        let mut journal = Journal::open(dir.path()).unwrap();
        let now = Timestamp::UNIX_EPOCH;
        journal.state(now, &stated).unwrap();
        // Every reading that there will be, to say something about some of them before they come.
        let all = {
            let dir = tempfile::tempdir().unwrap();
            let mut whole = Journal::open(dir.path()).unwrap();
            whole.state(now, &stated).unwrap();
            whole.append(&frames).unwrap();
            kept_readings(&mut whole)
        };
        let mut samples = Vec::new();
        for boot in 0..3 {
            samples.push(sample(boot, false));
        }
        journal.sample_clocks(&samples).unwrap();
        let mut said = stated;
        let people = [person("p1"), person("p2"), person("p3")];
        let mut come = 0;
        for step in &steps {
            match step {
                Step::Frames(new, again) => {
                    let from = come - (*again).min(come);
                    come = (come + new).min(frames.len());
                    journal.append(&frames[from..come]).unwrap();
                }
                Step::Statement(kind, whose, hours) => {
                    said.push(statement(*kind, *whose, *hours, &all, &people));
                    journal.state(now, &said[said.len() - 1..]).unwrap();
                }
                Step::Synchronised(boot) => {
                    samples.push(sample(*boot, true));
                    journal.sample_clocks(&samples[samples.len() - 1..]).unwrap();
                }
                Step::Settle => {
                    journal.settle().unwrap();
                }
            }
        }
        journal.settle().unwrap();
        let kept = dump(dir.path(), true);
        journal.rebuild().unwrap();
        prop_assert_eq!(kept, dump(dir.path(), true));

        // And once the gateway knows its time, the same as the core makes of all of it in memory, at once.
        let learnt = [sample(0, true), sample(1, true), sample(2, true)];
        journal.sample_clocks(&learnt).unwrap();
        samples.extend(learnt);
        journal.settle().unwrap();
        let kept = dump(dir.path(), true);
        journal.rebuild().unwrap();
        prop_assert_eq!(kept, dump(dir.path(), true));
        let household = quietcuff::household::Household::after(&said);
        let zones = Zones::of(&household).unwrap();
        let mut at_once = readings(&frames[..come], &household, &zones, &GatewayClock::new(samples));
        at_once.sort_by(|a, b| a.id.cmp(&b.id));
        prop_assert_eq!(kept_readings(&mut journal), at_once);
    }
}

const BOOT_DAYS: i64 = 3;
const FIRST_BOOT: &str = "2026-03-23T12:00:00Z";

/// How far the gateway's clock is behind until it learns the time: in the second boot by decades, in the third by a
/// minute and a half.
fn behind(boot: u8) -> SignedDuration {
    match boot {
        1 => SignedDuration::from_hours(24 * 365 * 50),
        2 => SignedDuration::from_secs(90),
        _ => SignedDuration::ZERO,
    }
}

fn started(boot: u8) -> Timestamp {
    FIRST_BOOT.parse::<Timestamp>().unwrap() + SignedDuration::from_hours(24 * BOOT_DAYS * i64::from(boot))
}

/// The gateway boots every few days, and learns the time in the middle of that.
fn boot(frames: &mut [Frame]) {
    let first: Timestamp = FIRST_BOOT.parse().unwrap();
    for frame in frames {
        let days = frame.received_at.duration_since(first).as_hours() / 24;
        let boot = u8::try_from((days / BOOT_DAYS).clamp(0, 2)).unwrap();
        let up = frame.received_at.duration_since(started(boot));
        frame.uptime = Some(Uptime {
            boot: format!("b{boot}"),
            micros: i64::try_from(up.as_micros()).unwrap(),
        });
        if up < SignedDuration::from_hours(12 * BOOT_DAYS) {
            frame.received_at -= behind(boot);
        }
    }
}

fn sample(boot: u8, synchronized: bool) -> ClockSample {
    let up = if synchronized {
        SignedDuration::from_hours(12 * BOOT_DAYS)
    } else {
        SignedDuration::from_secs(20)
    };
    let wall = started(boot) + up;
    ClockSample {
        uptime: Uptime {
            boot: format!("b{boot}"),
            micros: i64::try_from(up.as_micros()).unwrap(),
        },
        wall: if synchronized { wall } else { wall - behind(boot) },
        synchronized,
        within: None,
    }
}

/// The same every time: Fisher and Yates with a linear congruential generator.
pub(crate) fn shuffled<T>(mut items: Vec<T>, seed: u64) -> Vec<T> {
    let mut state = seed;
    for last in (1..items.len()).rev() {
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        items.swap(last, (state >> 33) as usize % (last + 1));
    }
    items
}
