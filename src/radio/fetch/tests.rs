use super::super::stored::WaitLimits;
use super::*;
use crate::edge::Edge;
use crate::journal::Entry;
use jiff::tz::TimeZone;
use std::sync::{Arc, Mutex};
use std::time::Duration;
use tokio::sync::mpsc;

const RECORD: Characteristic = Characteristic::BLOOD_PRESSURE_RECORD;
const COUNT: &[u8] = &[4, 1];
const ALL: &[u8] = &[1, 1];
const NEWEST: &[u8] = &[1, 6];
const ABORT: &[u8] = &[3, 0];

/// What a monitor answers to a write: whether it takes it, and what it sends after it.
type Says = (Result<(), String>, Vec<(Characteristic, Vec<u8>)>);

/// A monitor that does as it is told here: what was written, and how often that was before.
struct Monitor<F> {
    line: Arc<MonitorLine>,
    says: F,
    asked: Mutex<Vec<Vec<u8>>>,
}

impl<F: Fn(&[u8], usize) -> Says + Sync> Askable for Monitor<F> {
    async fn read(&self, _: Characteristic) -> Result<Option<Vec<u8>>, String> {
        Ok(None)
    }

    fn has(&self, wanted: Characteristic) -> bool {
        STORED.contains(&wanted)
    }

    async fn listen_to(&self, _: &[Characteristic]) -> Result<(), String> {
        Ok(())
    }

    async fn write(&self, wanted: Characteristic, value: Vec<u8>) -> Option<Result<(), String>> {
        assert_eq!(wanted, CONTROL_POINT);
        let before = {
            let mut asked = self.asked.lock().unwrap();
            asked.push(value.clone());
            asked.iter().filter(|asked| **asked == value).count() - 1
        };
        let (taken, values) = (self.says)(&value, before);
        for (kind, value) in values {
            self.line.heard(kind, value).await;
        }
        Some(taken)
    }
}

/// A line whose journal keeps everything, or nothing.
fn line(keeps: bool) -> Arc<MonitorLine> {
    let (frames, mut journal) = mpsc::channel(64);
    tokio::spawn(async move {
        while let Some(entry) = journal.recv().await {
            if let Entry::Owed(_, kept) = entry
                && keeps
            {
                let _ = kept.send(());
            }
        }
    });
    let edge = Edge::new(TimeZone::UTC);
    let mut line = MonitorLine::new("C0:FF:EE:00:00:01".parse().unwrap(), edge, frames, 1, false);
    line.stored.limits = WaitLimits {
        silence: Duration::from_millis(60),
        procedure: Duration::from_secs(2),
        abort: Duration::from_millis(80),
        busy: Duration::from_millis(1),
    };
    Arc::new(line)
}

async fn fetched(
    line: &Arc<MonitorLine>,
    says: impl Fn(&[u8], usize) -> Says + Sync,
) -> (AfterFetch, Vec<Vec<u8>>) {
    let (line, asked) = (line.clone(), Mutex::new(Vec::new()));
    let monitor = Monitor { line, says, asked };
    let link = fetch(&monitor, &monitor.line).await;
    (link, monitor.asked.into_inner().unwrap())
}

/// The record with this number, whole, in one segment.
fn record(sequence: u8) -> (Characteristic, Vec<u8>) {
    let value = vec![3, sequence, 0, 0x35, 0x2a, 0, 120 + sequence, 0, 80, 0, 93, 0];
    (RECORD, value)
}

fn answer(octets: &[u8]) -> (Characteristic, Vec<u8>) {
    (CONTROL_POINT, octets.to_vec())
}

/// A monitor as it should be, with so many records.
fn honest(count: u8) -> impl Fn(&[u8], usize) -> Says + Sync {
    move |asked, _| {
        let mut values = match asked {
            COUNT => return (Ok(()), vec![answer(&[5, 0, count, 0])]),
            ALL => (0..count).map(record).collect(),
            NEWEST => vec![record(count - 1)],
            _ => vec![],
        };
        values.push(answer(&[6, 0, asked[0], 1]));
        (Ok(()), values)
    }
}

#[tokio::test]
async fn all_are_asked_for_and_then_only_what_is_new() {
    let line = line(true);
    assert_eq!(
        fetched(&line, honest(3)).await,
        (AfterFetch::Stay, vec![COUNT.to_vec(), ALL.to_vec()])
    );
    let looked = vec![COUNT.to_vec(), NEWEST.to_vec()];
    assert_eq!(
        fetched(&line, honest(3)).await,
        (AfterFetch::Stay, looked.clone())
    );
    assert_eq!(
        fetched(&line, honest(4)).await,
        (AfterFetch::Stay, vec![COUNT.to_vec(), ALL.to_vec()])
    );
    // As many as before, and another newest: the oldest gave way.
    let other = |asked: &[u8], before| match asked {
        NEWEST => (Ok(()), vec![record(77), answer(&[6, 0, 1, 1])]),
        _ => honest(4)(asked, before),
    };
    assert_eq!(
        fetched(&line, other).await,
        (AfterFetch::Stay, [looked, vec![ALL.to_vec()]].concat())
    );
    assert_eq!(
        fetched(&line, honest(0)).await,
        (AfterFetch::Stay, vec![COUNT.to_vec()])
    );
}

#[tokio::test]
async fn what_the_journal_did_not_keep_is_asked_for_again() {
    let line = line(false);
    for _ in 0..2 {
        assert_eq!(
            fetched(&line, honest(2)).await,
            (AfterFetch::Stay, vec![COUNT.to_vec(), ALL.to_vec()])
        );
    }
}

/// Each code that an answer may have, to the count and to the report: what is asked after it.
#[tokio::test]
async fn every_response_code() {
    for code in 0..=0x0c_u8 {
        let refuses = |op: u8| {
            move |asked: &[u8], before: usize| {
                if asked[0] == op {
                    (Ok(()), vec![answer(&[6, 0, op, code])])
                } else {
                    honest(2)(asked, before)
                }
            }
        };
        let (link, asked) = fetched(&line(true), refuses(4)).await;
        let expected: Vec<&[u8]> = match code {
            6 => vec![COUNT],
            8 | 0x0a => vec![COUNT; 3],
            _ => vec![COUNT, ALL],
        };
        assert_eq!(
            (link, asked),
            (AfterFetch::Stay, expected.iter().map(|e| e.to_vec()).collect()),
            "count: {code}"
        );

        let (link, asked) = fetched(&line(true), refuses(1)).await;
        let rounds = if matches!(code, 1 | 8 | 0x0a) { 3 } else { 1 };
        assert_eq!(
            (link, asked),
            (
                AfterFetch::Stay,
                vec![[COUNT.to_vec(), ALL.to_vec()]; rounds].concat()
            ),
            "report: {code}"
        );
    }
}

#[tokio::test]
async fn what_came_broken_is_asked_for_once_more() {
    for wrong in [
        // A gap, one that is not finished, one too few, and octets that are nothing.
        vec![(RECORD, vec![0x0a, 9, 9])],
        vec![(RECORD, vec![0x01, 0, 0, 0x35, 0x2a, 1, 2])],
        vec![],
        vec![(RECORD, vec![])],
    ] {
        let says = |asked: &[u8], before| match (asked, before) {
            (ALL, 0) => {
                let values = [vec![record(0)], wrong.clone(), vec![answer(&[6, 0, 1, 1])]].concat();
                (Ok(()), values)
            }
            _ => honest(2)(asked, before),
        };
        let rounds = vec![[COUNT.to_vec(), ALL.to_vec()]; 2].concat();
        assert_eq!(
            fetched(&line(true), says).await,
            (AfterFetch::Stay, rounds),
            "{wrong:02x?}"
        );
    }
}

#[tokio::test]
async fn a_wrong_checksum_is_seen_where_the_feature_names_one() {
    let line = line(true);
    line.heard(Characteristic::BLOOD_PRESSURE_FEATURE, vec![0x40, 0])
        .await;
    let (link, asked) = fetched(&line, honest(1)).await;
    assert_eq!((link, asked.len()), (AfterFetch::Stay, 6), "{asked:02x?}");
}

#[tokio::test]
async fn silence_is_aborted_and_the_link_kept() {
    let (link, asked) = fetched(&line(true), |_, _| (Ok(()), vec![])).await;
    assert_eq!(
        (link, asked),
        (AfterFetch::Stay, vec![COUNT.to_vec(), ABORT.to_vec()])
    );
    // In the middle of a report, and answered.
    let says = |asked: &[u8], before| match asked {
        ALL => (Ok(()), vec![record(0)]),
        _ => honest(2)(asked, before),
    };
    let (link, asked) = fetched(&line(true), says).await;
    assert_eq!(
        (link, asked),
        (
            AfterFetch::Stay,
            vec![COUNT.to_vec(), ALL.to_vec(), ABORT.to_vec()]
        )
    );
}

#[tokio::test]
async fn what_is_refused_is_aborted_and_tried_again() {
    let says = |asked: &[u8], before| match (asked, before) {
        (COUNT, 0) => (Err("ATT error 0xfe".to_owned()), vec![]),
        _ => honest(1)(asked, before),
    };
    let (link, asked) = fetched(&line(true), says).await;
    let expected = [COUNT, ABORT, COUNT, ALL].map(<[u8]>::to_vec);
    assert_eq!((link, asked), (AfterFetch::Stay, expected.to_vec()));
}

#[tokio::test]
async fn one_that_cannot_be_stopped_is_left() {
    // Answers to other questions, whatever it is asked.
    let confused = |_: &[u8], _| (Ok(()), vec![answer(&[6, 0, 2, 1]); 20]);
    let (link, asked) = fetched(&line(true), confused).await;
    assert_eq!(
        (link, asked),
        (AfterFetch::Leave, vec![COUNT.to_vec(), ABORT.to_vec()])
    );
    // Segments without end, and more of them as an answer to the abort.
    let endless = |asked: &[u8], before| match asked {
        COUNT => honest(9)(asked, before),
        _ => (
            Ok(()),
            (0..5000_u16)
                .map(|n| record(u8::try_from(n % 100).unwrap()))
                .collect(),
        ),
    };
    let (link, asked) = fetched(&line(true), endless).await;
    assert_eq!(
        (link, asked),
        (
            AfterFetch::Leave,
            vec![COUNT.to_vec(), ALL.to_vec(), ABORT.to_vec()]
        )
    );
}
