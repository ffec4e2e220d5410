//! What the journal costs, and what becomes of its frames.
//!
//! Every figure has its reference beside it, measured in the same run: the same rows put into SQLite bare, with the
//! same schema, indexes and pragmas. People, monitors and readings are invented.

use crate::table::{Aim, Table};
use jiff::civil::{DateTime, date};
use jiff::tz::{Offset, TimeZone};
use jiff::{SignedDuration, Timestamp, ToSpan};
use quietcuff::frame::Frame;
use quietcuff::gatt::Characteristic;
use quietcuff::household::{Household, Person, PersonId, Statement, Zones};
use quietcuff::journal::{Entry, Journal, Wanted, Writer};
use quietcuff::monitoring::history::taken;
use quietcuff::monitoring::period::{Period, period};
use quietcuff::monitoring::protocols::Protocols;
use quietcuff::reading::{GatewayClock, readings};
use quietcuff::sitting::{SessionRule, order, sittings};
use quietcuff::technique::{Context, judge};
use rusqlite::types::Value;
use rusqlite::{Connection, params, params_from_iter};
use std::hint::black_box;
use std::path::Path;
use std::time::{Duration, Instant};

pub(crate) const FRAMES: usize = 1_000_000;
/// Readings of one person: about fourteen years of two in the morning and two in the evening.
const A_PERSON: usize = 20_000;
/// Frames a transaction, as a replay has it.
const BURST: usize = 8192;
/// New readings, each settled on its own.
const ONE_BY_ONE: usize = 201;
/// Frames of one connection: a reading with what stands around it.
const COMMIT: usize = 4;
/// Readings of ten years, and what becoming a report may cost them.
const TEN_YEARS: usize = 30_000;
const REPORT_BUDGET: Duration = Duration::from_millis(20);
/// What one may cost more among many: memory is further away than the cache.
const GROWTH_MAX: f64 = 3.0;
/// The same for hundreds of megabytes, whose pages the kernel hands out one by one; what grew with the square of their
/// number would be a thousand times.
const GROWTH_OF_ALL_MAX: f64 = 10.0;
/// Everything derived may cost as much again as the bare rows.
const SPEED_MIN: f64 = 0.5;

/// The reading's place among those of one person: two at seven and two at twenty, two minutes apart.
pub(crate) fn frame(monitor: usize, place: usize) -> Frame {
    let (day, slot, nth) = (place / 4, place / 2 % 2, place % 2);
    let first = date(2012, 1, 2).at(if slot == 0 { 7 } else { 20 }, 2, 0, 0);
    let civil: DateTime = first
        .checked_add(i64::try_from(day).unwrap().days())
        .and_then(|at| at.checked_add(i64::try_from(nth * 2).unwrap().minutes()))
        .unwrap();
    // Scattered without a pattern that an index would like.
    let noise = (monitor * A_PERSON + place).wrapping_mul(2_654_435_761) >> 7;
    let small = |n: usize| u8::try_from(n).unwrap();
    let [year_low, year_high] = civil.year().to_le_bytes();
    let part = |n: i8| n.to_le_bytes()[0];
    let value = vec![
        0x1e,
        small(115 + noise % 40),
        0,
        small(70 + noise / 64 % 25),
        0,
        0xff,
        0x07,
        year_low,
        year_high,
        part(civil.month()),
        part(civil.day()),
        part(civil.hour()),
        part(civil.minute()),
        part(civil.second()),
        small(60 + noise / 4096 % 30),
        0,
        1,
        u8::from(noise.is_multiple_of(50)),
        0,
    ];
    let at = Offset::constant(1).to_timestamp(civil).unwrap();
    let [.., high, low] = u16::try_from(monitor).unwrap().to_be_bytes();
    Frame {
        received_at: at + SignedDuration::from_secs(4),
        offset: Offset::constant(1),
        uptime: None,
        given_to: Some(format!("p{monitor}").parse().unwrap()),
        overheard: false,
        monitor: [0xc0, 0xff, 0xee, 0, high, low].into(),
        connection: u32::try_from(place / 2).unwrap() + 1,
        characteristic: Characteristic::BLOOD_PRESSURE_MEASUREMENT,
        value,
    }
}

fn frames(count: usize) -> Vec<Frame> {
    (0..count).map(|n| frame(n / A_PERSON, n % A_PERSON)).collect()
}

fn statements(people: usize) -> Vec<Statement> {
    let zone = Statement::Zone {
        zone: "+01:00".to_owned(),
        from: None,
    };
    let person = |n: usize| Statement::Person {
        person: format!("p{n}").parse().unwrap(),
        details: Person {
            label: "Invented".to_owned(),
            ..Person::default()
        },
    };
    std::iter::once(zone).chain((0..people).map(person)).collect()
}

/// A journal with so many frames, settled.
pub(crate) fn fill(state: &Path, count: usize) {
    filled(state, &frames(count));
}

fn filled(state: &Path, frames: &[Frame]) -> (Journal, Duration, Duration) {
    let mut journal = Journal::open(state).unwrap();
    journal
        .state(
            Timestamp::UNIX_EPOCH,
            &statements(frames.len().div_ceil(A_PERSON)),
        )
        .unwrap();
    let start = Instant::now();
    for burst in frames.chunks(BURST) {
        journal.append(burst).unwrap();
    }
    let appended = start.elapsed();
    journal.settle().unwrap();
    (journal, appended, start.elapsed() - appended)
}

/// The same rows into the same tables of another file, and how long the inserting takes, table by table. Rows are read
/// before the clock runs.
fn bare(from: &Path, state: &Path) -> Vec<(&'static str, Duration)> {
    drop(Journal::open(state).unwrap());
    let open = |state: &Path| {
        let db = Connection::open(state.join("journal.sqlite")).unwrap();
        db.execute_batch("PRAGMA journal_mode = wal; PRAGMA synchronous = full; PRAGMA foreign_keys = true; PRAGMA cache_size = -65536;")
            .unwrap();
        db
    };
    let (from, into) = (open(from), open(state));
    let mut took = Vec::new();
    for table in ["frame", "connection", "reading", "judgement", "session"] {
        let mut query = from.prepare(&format!("SELECT * FROM {table}")).unwrap();
        let columns = query.column_count();
        let mut insert = into
            .prepare(&format!(
                "INSERT INTO {table} VALUES ({})",
                vec!["?"; columns].join(", ")
            ))
            .unwrap();
        let mut rows = query.query([]).unwrap();
        let mut total = Duration::ZERO;
        // Frames come in bursts; what is derived is one transaction.
        let by_burst = table == "frame";
        let time = |total: &mut Duration, work: &mut dyn FnMut()| {
            let start = Instant::now();
            work();
            *total += start.elapsed();
        };
        if !by_burst {
            time(&mut total, &mut || into.execute_batch("BEGIN").unwrap());
        }
        loop {
            let mut burst: Vec<Vec<Value>> = Vec::with_capacity(BURST);
            while burst.len() < BURST
                && let Some(row) = rows.next().unwrap()
            {
                burst.push((0..columns).map(|column| row.get(column).unwrap()).collect());
            }
            if burst.is_empty() {
                break;
            }
            time(&mut total, &mut || {
                if by_burst {
                    into.execute_batch("BEGIN").unwrap();
                }
                for row in &burst {
                    insert.execute(params_from_iter(row)).unwrap();
                }
                if by_burst {
                    into.execute_batch("COMMIT").unwrap();
                }
            });
        }
        if !by_burst {
            time(&mut total, &mut || into.execute_batch("COMMIT").unwrap());
        }
        took.push((table, total));
    }
    took
}

pub(crate) fn median(mut times: Vec<Duration>) -> Duration {
    times.sort();
    times.get(times.len() / 2).copied().unwrap_or_default()
}

/// One new reading after the others: the frame kept, and everything settled.
fn one_by_one(journal: &mut Journal, behind: usize) -> (Duration, Duration) {
    let (mut kept, mut settled) = (Vec::new(), Vec::new());
    let monitor = behind.div_ceil(A_PERSON) - 1;
    let place = behind - monitor * A_PERSON;
    for n in 0..ONE_BY_ONE {
        let new = [frame(monitor, place + n)];
        let start = Instant::now();
        journal.append(&new).unwrap();
        let appended = start.elapsed();
        let settlement = journal.settle().unwrap();
        assert!(!settlement.rebuilt && settlement.readings <= 2);
        kept.push(appended);
        settled.push(start.elapsed() - appended);
    }
    (median(kept), median(settled))
}

/// The owner of one reading stated anew, with so many of its person's behind it: how many were settled again, in what
/// time.
fn restated(journal: &mut Journal, behind: usize) -> (usize, Duration) {
    let person: Option<PersonId> = Some("p0".parse().unwrap());
    let readings = journal
        .readings(&Wanted {
            person: person.clone(),
            ..Wanted::default()
        })
        .unwrap();
    let reading = readings.iter().rev().nth(behind).unwrap().reading.id.0.clone();
    journal
        .state(Timestamp::UNIX_EPOCH, &[Statement::Assigned { reading, person }])
        .unwrap();
    let start = Instant::now();
    let settlement = journal.settle().unwrap();
    assert!(!settlement.rebuilt && settlement.readings > behind);
    (settlement.readings, start.elapsed())
}

/// The same tables, for whoever writes rows there by SQLite alone.
pub(crate) fn bare_journal(at: &Path) -> Connection {
    drop(Journal::open(at).unwrap());
    let db = Connection::open(at.join("journal.sqlite")).unwrap();
    db.execute_batch("PRAGMA journal_mode = wal; PRAGMA synchronous = full;")
        .unwrap();
    db
}

/// One row, and nothing else.
pub(crate) fn insert_bare(db: &Connection, frame: &Frame) {
    db.prepare_cached(
        "INSERT INTO frame (received_us, offset_s, monitor, connection, characteristic, value)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
    )
    .unwrap()
    .execute(params![
        frame.received_at.as_microsecond(),
        frame.offset.seconds(),
        frame.monitor.as_str(),
        frame.connection,
        frame.characteristic.to_string(),
        frame.value,
    ])
    .unwrap();
}

/// From the hand of the radio to the disk: one frame through the queue and the writer's thread, and the same row put
/// into SQLite bare by whoever waits for it.
fn heard(state: &Path, bare: &Path) -> (Duration, Duration) {
    let db = bare_journal(bare);
    let (writer, hand) = Writer::start(Journal::open(state).unwrap()).unwrap();
    let mut progress = writer.progress();
    let runtime = tokio::runtime::Builder::new_current_thread().build().unwrap();
    let (mut through, mut alone) = (Vec::new(), Vec::new());
    for place in 0..ONE_BY_ONE {
        let new = frame(0, place);
        let start = Instant::now();
        insert_bare(&db, &new);
        alone.push(start.elapsed());
        let start = Instant::now();
        runtime.block_on(async {
            hand.send(Entry::Frame(new)).await.unwrap();
            progress.changed().await.unwrap();
        });
        through.push(start.elapsed());
    }
    assert!(writer.finish().is_empty());
    (median(through), median(alone))
}

/// Bursts of a connection committed one by one, and the same rows in the same tables without their digests, in turns.
fn chained(state: &Path, bare: &Path) -> (Duration, Duration) {
    let mut journal = Journal::open(state).unwrap();
    let db = bare_journal(bare);
    let mut insert = db
        .prepare(
            "INSERT INTO frame (received_us, offset_s, given_to, monitor, connection, characteristic, value)
             VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7) ON CONFLICT DO NOTHING",
        )
        .unwrap();
    let (mut with, mut without) = (Vec::new(), Vec::new());
    for nth in 0..ONE_BY_ONE {
        let burst: Vec<Frame> = (0..COMMIT).map(|place| frame(0, nth * COMMIT + place)).collect();
        let start = Instant::now();
        db.execute_batch("BEGIN IMMEDIATE").unwrap();
        for new in &burst {
            insert
                .execute(params![
                    new.received_at.as_microsecond(),
                    new.offset.seconds(),
                    new.given_to.as_ref().map(PersonId::as_str),
                    new.monitor.as_str(),
                    new.connection,
                    new.characteristic.to_string(),
                    new.value,
                ])
                .unwrap();
        }
        db.execute_batch("COMMIT").unwrap();
        without.push(start.elapsed());
        let start = Instant::now();
        journal.append(&burst).unwrap();
        with.push(start.elapsed());
    }
    assert!(journal.chain().unwrap().holds());
    (median(with), median(without))
}

/// From frames in memory to a report, nothing kept anywhere.
fn report(
    frames: &[Frame],
    household: &Household,
    zones: &Zones,
    protocols: &Protocols,
) -> (Period, [Duration; 3]) {
    let start = Instant::now();
    let mut readings = readings(frames, household, zones, &GatewayClock::default());
    readings.sort_unstable_by(order);
    let read = start.elapsed();
    let id: PersonId = "p0".parse().unwrap();
    let mut all = Vec::with_capacity(readings.len());
    for (number, sitting) in (0..).zip(sittings(&readings)) {
        let at = sitting.first().and_then(|reading| reading.time.at).unwrap();
        let context = Context {
            household,
            notes: &[],
            zone: zones.at(at),
            rule: SessionRule::default(),
        };
        let judged = judge(sitting, &context);
        let session = judged.session.as_ref().map(|session| (number, session));
        all.extend(
            sitting
                .iter()
                .zip(&judged.judgements)
                .map(|(reading, judgement)| taken(reading, judgement, session, &[], zones)),
        );
    }
    let judged = start.elapsed();
    let days = u16::try_from((frames.len() / 4).min(3_700)).unwrap();
    let from = all.first().unwrap().day;
    let protocol = protocols.get("seven-day").unwrap();
    let made = period(&id, &Person::default(), protocol, from, Some(days), &all).unwrap();
    (made, [read, judged - read, start.elapsed() - judged])
}

pub(crate) fn ms(took: Duration) -> f64 {
    took.as_secs_f64() * 1e3
}

/// Frames to a report, for one person with more and more of them; the period has ten years at most.
fn reports(table: &mut Table, most: usize) {
    let household = Household::after(&statements(1));
    let zones = Zones::only(TimeZone::fixed(Offset::constant(1)));
    let protocols = Protocols::built_in().unwrap();
    let best_of = |count: usize, runs: usize| {
        let frames: Vec<Frame> = (0..count).map(|place| frame(0, place)).collect();
        // Another process on the core makes a run slower, never faster, so the best of many is the core's own speed.
        let mut best = [Duration::MAX; 3];
        for _ in 0..runs {
            let (made, parts) = report(black_box(&frames), &household, &zones, &protocols);
            assert!(made.readings.counted + made.readings.set_aside > 0);
            drop(black_box(made));
            for (best, part) in best.iter_mut().zip(parts) {
                *best = part.min(*best);
            }
        }
        best
    };
    let [read, judged, averaged] = best_of(TEN_YEARS, 101);
    let budget = ms(REPORT_BUDGET);
    let what = format!("{TEN_YEARS} readings of one person, frames to report");
    table.limit(
        &what,
        ms(read + judged + averaged),
        "ms",
        budget,
        Aim::AtMost(1.0),
    );
    for (part, took) in [
        ("when and whose", read),
        ("technique, sessions", judged),
        ("the period", averaged),
    ] {
        table.row(&format!("  {part}"), ms(took), "ms", (budget, "of it"), Aim::None);
    }
    // One person's thousand is the reference: what each reading costs must not depend on how many there are.
    let mut each_of_few = None;
    for (count, runs) in [(1_000, 101), (10_000, 21), (100_000, 5), (1_000_000, 1)] {
        if count > most {
            continue;
        }
        let [_, judged, averaged] = best_of(count, runs);
        let each = ms(judged + averaged) * 1e6 / count as f64;
        let few = *each_of_few.get_or_insert(each);
        let what = format!("{count} readings judged and averaged, each");
        table
            .row(
                &what,
                each,
                "ns",
                (few, "each of 1,000"),
                Aim::AtMost(GROWTH_OF_ALL_MAX),
            )
            .binds();
    }
}

/// Leaves a journal with so many frames in the directory.
pub(crate) fn measure(table: &mut Table, full: &Path, count: usize) {
    reports(table, count);
    let at_full_size = count >= FRAMES;
    let dir = tempfile::tempdir().unwrap();
    let (copy, few) = (dir.path().join("bare"), dir.path().join("few"));
    let all = frames(count);
    let (mut journal, appended, settled) = filled(full, &all);
    drop(all);
    let (kept, _) = journal.readings_and_set_aside().unwrap();
    assert_eq!(kept, i64::try_from(count).unwrap());
    let took = bare(full, &copy);
    let bare_frames: Duration = took
        .iter()
        .filter(|(table, _)| *table == "frame")
        .map(|(_, took)| *took)
        .sum();
    let rows: Duration = took.iter().map(|(_, took)| *took).sum();
    let a_second = |took: Duration| count as f64 / took.as_secs_f64() / 1e3;
    let what = format!("{count} frames kept");
    table.row(
        &what,
        a_second(appended),
        "k/s",
        (a_second(bare_frames), "bare SQLite"),
        Aim::None,
    );
    let speed = table.row(
        "  and everything derived",
        a_second(appended + settled),
        "k/s",
        (a_second(rows), "bare SQLite, the same rows"),
        Aim::AtLeast(SPEED_MIN),
    );
    // With few rows the fixed cost of settling weighs more.
    if at_full_size {
        speed.binds();
    }

    let few_behind = (count / 1000).clamp(100, 1000);
    let (mut small, ..) = filled(&few, &frames(few_behind));
    let (_, of_few) = one_by_one(&mut small, few_behind);
    let (_, of_many) = one_by_one(&mut journal, count);
    let what = format!("one new reading settled, with {count} behind it");
    let beside = format!("with {few_behind}");
    table
        .row(
            &what,
            ms(of_many),
            "ms",
            (ms(of_few), &beside),
            Aim::AtMost(GROWTH_MAX),
        )
        .binds();
    let (again, took) = restated(&mut journal, 365 * 4);
    table.row(
        &format!("one reading restated, a year behind it ({again} settled)"),
        ms(took),
        "ms",
        (ms(settled), "everything"),
        Aim::None,
    );

    let (on_its_way, on_its_own) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    let (through, alone) = heard(on_its_way.path(), on_its_own.path());
    table.row(
        "one frame from the radio's hand to the disk",
        ms(through),
        "ms",
        (ms(alone), "bare insert and commit"),
        Aim::AtMost(1.5),
    );
    let (with, without) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    let (with, without) = chained(with.path(), without.path());
    let a_second = |took: Duration| 1.0 / took.as_secs_f64();
    table.row(
        &format!("commits of {COMMIT} frames a second, with their digest"),
        a_second(with),
        "",
        (a_second(without), "without"),
        Aim::AtLeast(1.0 / 1.1),
    );
}
