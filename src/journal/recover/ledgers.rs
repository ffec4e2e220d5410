//! What was told, delivered and allowed, and where the ear listens: no truth about anybody, but nothing that can be
//! made again either.
//!
//! Rows of a ledger have no numbers. So it is read in the order of its keys up to what cannot be read, then from a key
//! farther on: backwards, up to the same place, and on. How many rows stood in that place nobody knows.

use super::rows::{inserted, inserting, known_columns};
use crate::journal::{Journal, JournalError, listeners};
use rusqlite::types::Value;
use rusqlite::{Connection, params_from_iter};
use std::ops::RangeInclusive;

/// Each with its key. A session's key comes before the session.
const LEDGERS: [(&str, &[&str]); 15] = [
    ("delivery", &["clinic", "name"]),
    ("clinic", &["clinic"]),
    ("page_key", &["rowid"]),
    ("page_session", &["digest"]),
    ("alert", &["key", "route"]),
    ("watched", &["what"]),
    ("attribute", &["monitor", "handle"]),
    ("consent", &["monitor", "user"]),
    ("good_backup", &["made_us"]),
    ("listener", &["rowid"]),
    ("hearing", &["listener", "sequence", "digest"]),
    ("room", &["id"]),
    ("record", &["one"]),
    ("held", &["through"]),
    ("let_go", &["one"]),
];

/// A file with more damaged places than this in one ledger has nothing in order any more, and its keys may go in
/// circles.
const GAPS_MAX: u64 = 1_000;

/// Keys are made of letters, digits and signs.
const FIRST: char = ' ';
const LAST: char = '~';

/// What recovering one ledger came to.
#[derive(Clone, PartialEq, Eq, Debug, serde::Serialize)]
pub struct RecoveredLedger {
    /// Name of the table in the journal, such as `alert`.
    pub table: &'static str,
    /// Rows taken over.
    pub recovered: u64,
    /// Rows that were found, and are what no such row can be.
    pub lost: u64,
    /// Places that cannot be read; each held some rows.
    pub gaps: u64,
}

type Key = Vec<Value>;

pub(super) fn take_over(damaged: &Connection, new: &Journal) -> Result<Vec<RecoveredLedger>, JournalError> {
    let ledgers = LEDGERS.iter().map(|(table, key)| {
        new.in_context(|db| {
            db.execute_batch("BEGIN IMMEDIATE")?;
            let ledger = take_over_one(damaged, db, table, key)?;
            db.execute_batch("COMMIT")?;
            Ok(ledger)
        })
    });
    let ledgers = ledgers.collect::<Result<_, _>>()?;
    // Not every row of what they handed on may have been saved.
    new.in_context(listeners::count_anew)?;
    Ok(ledgers)
}

fn take_over_one(
    damaged: &Connection,
    new: &Connection,
    table: &'static str,
    key: &[&str],
) -> rusqlite::Result<RecoveredLedger> {
    let mut ledger = RecoveredLedger {
        table,
        recovered: 0,
        lost: 0,
        gaps: 0,
    };
    let mut columns: Vec<String> = key.iter().map(|&column| column.to_owned()).collect();
    let others = known_columns(damaged, new, table)?;
    if others.is_empty() {
        // An older file has none, and neither has one that does not name it any more.
        return Ok(ledger);
    }
    columns.extend(
        others
            .into_iter()
            .filter(|column| !key.contains(&column.as_str())),
    );
    let walk = Walk {
        damaged,
        table,
        columns: &columns.join(", "),
        key,
    };
    let mut insert = new.prepare(&inserting(table, walk.columns, columns.len()))?;
    let mut keep =
        |ledger: &mut RecoveredLedger, row: rusqlite::Result<Vec<Value>>| -> rusqlite::Result<()> {
            let kept = match row {
                Ok(row) => inserted(new, &mut insert, row, |_| Ok(true))?,
                Err(_) => false,
            };
            *(if kept {
                &mut ledger.recovered
            } else {
                &mut ledger.lost
            }) += 1;
            Ok(())
        };
    let mut from: Option<Key> = None;
    while ledger.gaps < GAPS_MAX {
        let mut last = None;
        let whole = walk.forward(from.as_deref(), |key, row| {
            keep(&mut ledger, row)?;
            last = key.or(last.take());
            Ok(true)
        })?;
        if whole {
            break;
        }
        ledger.gaps += 1;
        let last = last.or(from);
        let next = last.as_deref().and_then(|last| walk.behind_the_gap(last));
        walk.backward(next.as_deref(), |key, row| {
            let goes_on = key.is_none() || key != last;
            if goes_on {
                keep(&mut ledger, row)?;
            }
            Ok(goes_on)
        })?;
        if next.is_none() {
            break;
        }
        from = next;
    }
    Ok(ledger)
}

struct Walk<'a> {
    damaged: &'a Connection,
    table: &'a str,
    /// Those of the key first.
    columns: &'a str,
    key: &'a [&'a str],
}

impl Walk<'_> {
    /// Hands over rows from a key on, each with its key where it can be read, until `each` says `false`. Whether it
    /// came to an end: if not, what comes next cannot be read. An error is one of `each`.
    fn forward(
        &self,
        from: Option<&[Value]>,
        each: impl FnMut(Option<Key>, rusqlite::Result<Vec<Value>>) -> rusqlite::Result<bool>,
    ) -> rusqlite::Result<bool> {
        self.rows(from, ">=", "", each)
    }

    /// A key behind what cannot be read, by small steps: the next such place may be near.
    fn behind_the_gap(&self, last: &[Value]) -> Option<Key> {
        let mut tried = farther(last).into_iter().flat_map(|key| {
            let longer = longer(&key);
            std::iter::once(key).chain(longer)
        });
        tried.find(|key| self.forward(Some(key), |_, _| Ok(false)).unwrap_or(false))
    }

    /// The same from before a key, or the end, backwards.
    fn backward(
        &self,
        before: Option<&[Value]>,
        each: impl FnMut(Option<Key>, rusqlite::Result<Vec<Value>>) -> rusqlite::Result<bool>,
    ) -> rusqlite::Result<bool> {
        self.rows(before, "<", " DESC", each)
    }

    fn rows(
        &self,
        bound: Option<&[Value]>,
        compared: &str,
        order: &str,
        mut each: impl FnMut(Option<Key>, rusqlite::Result<Vec<Value>>) -> rusqlite::Result<bool>,
    ) -> rusqlite::Result<bool> {
        let Self {
            table, columns, key, ..
        } = self;
        let bound = bound.unwrap_or_default();
        let condition = if bound.is_empty() {
            String::new()
        } else {
            let compares = key
                .iter()
                .take(bound.len())
                .copied()
                .collect::<Vec<_>>()
                .join(", ");
            let places = vec!["?"; bound.len()].join(", ");
            format!("WHERE ({compares}) {compared} ({places})")
        };
        let ordered: Vec<String> = key.iter().map(|column| format!("{column}{order}")).collect();
        let asked = format!(
            "SELECT {columns} FROM {table} {condition} ORDER BY {}",
            ordered.join(", ")
        );
        let Ok(mut asked) = self.damaged.prepare_cached(&asked) else {
            return Ok(false);
        };
        let width = asked.column_count();
        let Ok(mut rows) = asked.query(params_from_iter(bound)) else {
            return Ok(false);
        };
        loop {
            match rows.next() {
                Ok(Some(row)) => {
                    let row: rusqlite::Result<Vec<Value>> =
                        (0..width).map(|column| row.get(column)).collect();
                    let key = row
                        .as_ref()
                        .ok()
                        .map(|row| row.iter().take(key.len()).cloned().collect());
                    if !each(key, row)? {
                        return Ok(true);
                    }
                }
                Ok(None) => return Ok(true),
                Err(_) => return Ok(false),
            }
        }
    }
}

/// Keys behind this one, each farther from it than the one before. What is of less columns is the beginning of many.
fn farther(key: &[Value]) -> Vec<Key> {
    let columns = (0..key.len()).rev().filter_map(|column| {
        let (same, changed) = key.split_at(column);
        Some((same, greater(changed.first()?)))
    });
    columns
        .flat_map(|(same, greater)| {
            greater
                .into_iter()
                .map(move |greater| [same, &[greater]].concat())
        })
        .collect()
}

fn greater(value: &Value) -> Vec<Value> {
    match value {
        Value::Integer(n) => (0..63)
            .filter_map(|bits| n.checked_add(1 << bits).map(Value::Integer))
            .collect(),
        Value::Text(text) => text
            .char_indices()
            .rev()
            .flat_map(|(at, last)| texts(text.get(..at).unwrap_or_default(), last..=LAST).skip(1))
            .collect(),
        Value::Blob(octets) => (0..octets.len())
            .rev()
            .filter_map(|at| octets.get(..=at)?.split_last())
            .flat_map(|(last, same)| blobs(same, *last).skip(1))
            .collect(),
        _ => Vec::new(),
    }
}

/// Keys that begin with this one, in their order.
fn longer(key: &[Value]) -> Vec<Key> {
    let Some((last, same)) = key.split_last() else {
        return Vec::new();
    };
    let longer: Vec<Value> = match last {
        Value::Text(text) => texts(text, FIRST..=LAST).collect(),
        Value::Blob(octets) => blobs(octets, 0).collect(),
        _ => Vec::new(),
    };
    longer.into_iter().map(|last| [same, &[last]].concat()).collect()
}

fn texts(same: &str, characters: RangeInclusive<char>) -> impl Iterator<Item = Value> {
    characters.map(move |last| Value::Text(format!("{same}{last}")))
}

fn blobs(same: &[u8], from: u8) -> impl Iterator<Item = Value> {
    (from..=u8::MAX).map(move |last| Value::Blob([same, &[last]].concat()))
}
