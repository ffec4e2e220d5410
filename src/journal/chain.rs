//! A digest over each burst as it is written, chained: what was changed, added or lost afterwards is found, and named
//! by its row. It finds decay and repair tools, not somebody who writes the digests anew, and not an end that is cut
//! off together with its links: against these stands a backup, with what it printed.

use rusqlite::types::ValueRef;
use rusqlite::{CachedStatement, Connection, OptionalExtension, Row, params};
use serde::Serialize;
use sha2::{Digest, Sha256};
use std::fmt;

/// Octets of a row's digest that its link keeps by themselves, to name the row by.
const MARK: usize = 8;
/// Rows of one link: as many as one look at the file takes at once.
const LINK_ROWS_MAX: usize = 512;
/// Rows that are named; behind so many the file is another.
const NAMED_MAX: usize = 20;

/// What cannot be made again, and its columns in the order in which they are digested. A column that comes later does
/// not belong here: old links do not know it.
const TABLES: [(&str, &str); 3] = [
    (
        "frame",
        "id, received_us, offset_s, boot, uptime_us, given_to, monitor, connection, characteristic, value, overheard",
    ),
    ("statement", "id, stated_us, body"),
    ("gateway_clock", "id, boot, uptime_us, wall_us, synchronized"),
];

/// What became of a row since it was written.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Alteration {
    /// It holds something else.
    Changed,
    /// It is not there any more.
    Lost,
    /// This program never wrote it.
    Added,
}

/// A row that is not what it was, or a link of the chain itself, in the table `link`.
#[derive(Clone, PartialEq, Eq, Debug, Serialize)]
pub struct Differs {
    /// The table.
    pub table: &'static str,
    /// The number of the row.
    pub row: i64,
    /// What became of it.
    pub became: Alteration,
}

impl fmt::Display for Differs {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let became = match self.became {
            Alteration::Changed => "was changed",
            Alteration::Lost => "was lost",
            Alteration::Added => "was added by something else",
        };
        write!(f, "row {} of `{}` {became}", self.row, self.table)
    }
}

/// What the digests say of a journal.
#[derive(Clone, PartialEq, Eq, Debug, Default, Serialize)]
pub struct Chain {
    /// The last digest: as long as nothing is written it stays the same.
    pub head: String,
    /// The first rows that are not what they were.
    pub differs: Vec<Differs>,
    /// How many there are.
    pub count: usize,
}

impl Chain {
    /// Whether everything is what was written.
    pub const fn holds(&self) -> bool {
        self.count == 0
    }

    /// The rows that are not what they were, in words.
    pub fn named(&self) -> String {
        let named: Vec<String> = self.differs.iter().map(Differs::to_string).collect();
        let more = self.count.saturating_sub(named.len());
        let more = if more == 0 {
            String::new()
        } else {
            format!(", and {more} more")
        };
        named.join(", ") + &more
    }

    fn found(&mut self, table: &'static str, row: i64, became: Alteration) {
        self.count += 1;
        if self.differs.len() < NAMED_MAX {
            self.differs.push(Differs { table, row, became });
        }
    }
}

/// Chains rows that were just written to a table, in the same transaction.
pub(super) fn link(db: &Connection, table: &'static str, rows: &[i64]) -> rusqlite::Result<()> {
    let Some((_, columns)) = TABLES.iter().find(|(name, _)| *name == table) else {
        return Ok(());
    };
    if rows.is_empty() {
        return Ok(());
    }
    let mut before = head(db)?;
    let mut read = reading(db, table, columns)?;
    let mut insert =
        db.prepare_cached("INSERT INTO link (of, first, marks, digest) VALUES (?1, ?2, ?3, ?4)")?;
    for run in runs(rows) {
        let (Some(first), Some(last)) = (run.first(), run.last()) else {
            continue;
        };
        let mut marks = Vec::with_capacity(run.len() * MARK);
        let mut digest = begun(&before, table, *first);
        let mut found = read.query(params![first, last])?;
        while let Some(row) = found.next()? {
            let of_row = of(row)?;
            marks.extend(of_row.iter().take(MARK));
            digest.update(of_row);
        }
        before = digest.finalize().into();
        insert.execute(params![table, first, marks, before])?;
    }
    Ok(())
}

/// Chains every row that is there: of a journal that an earlier version made, or that was recovered.
pub(super) fn begin(db: &Connection) -> rusqlite::Result<()> {
    for (table, _) in TABLES {
        let mut query = db.prepare(&format!(
            "SELECT id FROM {table} WHERE id > ?1 ORDER BY id LIMIT 65536"
        ))?;
        let mut last = i64::MIN;
        loop {
            let rows: Vec<i64> = query
                .query_map([last], |row| row.get(0))?
                .collect::<Result<_, _>>()?;
            let Some(end) = rows.last() else { break };
            last = *end;
            link(db, table, &rows)?;
        }
    }
    Ok(())
}

/// The highest number of a table's rows that was chained.
pub(super) fn last_of(db: &Connection, table: &str) -> rusqlite::Result<i64> {
    let last = format!("SELECT coalesce(max(first + length(marks) / {MARK} - 1), 0) FROM link WHERE of = ?1");
    db.query_row(&last, [table], |row| row.get(0))
}

/// The number of the last row, not behind `last`, up to which links end that are whole.
pub(super) fn whole_up_to(db: &Connection, table: &str, last: i64) -> rusqlite::Result<Option<i64>> {
    let ends = format!(
        "SELECT max(first + length(marks) / {MARK} - 1) FROM link
         WHERE of = ?1 AND first + length(marks) / {MARK} - 1 <= ?2"
    );
    db.query_row(&ends, params![table, last], |row| row.get(0))
}

/// The number of the last frame that a listener let go: no row up to it is missed. In a file of before that, and in one
/// where it cannot be read, every row is.
fn let_go_up_to(db: &Connection) -> Option<i64> {
    db.query_row("SELECT through FROM let_go", [], |row| row.get(0))
        .ok()
}

/// Rows whose numbers follow each other, and no more of them than a link has.
fn runs(rows: &[i64]) -> impl Iterator<Item = &[i64]> {
    rows.chunk_by(|a, b| a.checked_add(1) == Some(*b))
        .flat_map(|run| run.chunks(LINK_ROWS_MAX))
}

fn head(db: &Connection) -> rusqlite::Result<[u8; 32]> {
    let last = db
        .prepare_cached("SELECT digest FROM link ORDER BY id DESC LIMIT 1")?
        .query_row([], |row| row.get(0))
        .optional()?;
    Ok(last.unwrap_or_default())
}

fn reading<'a>(db: &'a Connection, table: &str, columns: &str) -> rusqlite::Result<CachedStatement<'a>> {
    db.prepare_cached(&format!(
        "SELECT {columns} FROM {table} WHERE id BETWEEN ?1 AND ?2 ORDER BY id"
    ))
}

/// What a link says before its rows.
fn begun(before: &[u8; 32], table: &str, first: i64) -> Sha256 {
    let mut digest = Sha256::new();
    digest.update(before);
    digest.update(table);
    digest.update(first.to_le_bytes());
    digest
}

/// The digest of a row: each column with its kind and its length before it, so that no two rows look alike.
fn of(row: &Row<'_>) -> rusqlite::Result<[u8; 32]> {
    let mut digest = Sha256::new();
    let mut part = |kind: u8, octets: &[u8]| {
        digest.update([kind]);
        digest.update((octets.len() as u64).to_le_bytes());
        digest.update(octets);
    };
    for column in 0..row.as_ref().column_count() {
        match row.get_ref(column)? {
            ValueRef::Null => part(0, &[]),
            ValueRef::Integer(value) => part(1, &value.to_le_bytes()),
            ValueRef::Real(value) => part(2, &value.to_le_bytes()),
            ValueRef::Text(octets) => part(3, octets),
            ValueRef::Blob(octets) => part(4, octets),
        }
    }
    Ok(digest.finalize().into())
}

/// One row of the table `link`.
struct ChainLink {
    id: i64,
    first: i64,
    marks: Vec<u8>,
    digest: Vec<u8>,
}

impl ChainLink {
    /// The number behind that of its last row.
    fn end(&self) -> i64 {
        let rows = i64::try_from(self.marks.len() / MARK).unwrap_or(0);
        self.first.saturating_add(rows)
    }
}

/// Reads everything that is chained, and what is not.
pub(super) fn verify(db: &Connection) -> rusqlite::Result<Chain> {
    let mut chain = Chain::default();
    let gone = let_go_up_to(db);
    let mut before = [0; 32];
    let mut expected = 1;
    let mut chained: [Vec<(i64, i64)>; 3] = Default::default();
    let mut query = db.prepare("SELECT id, of, first, marks, digest FROM link ORDER BY id")?;
    let mut links = query.query([])?;
    while let Some(row) = links.next()? {
        let link = ChainLink {
            id: row.get(0)?,
            first: row.get(2)?,
            marks: row.get(3)?,
            digest: row.get(4)?,
        };
        while expected < link.id && chain.count < NAMED_MAX {
            chain.found("link", expected, Alteration::Lost);
            expected += 1;
        }
        expected = link.id.saturating_add(1);
        let of = row.get_ref(1)?.as_str().unwrap_or_default().to_owned();
        let place = TABLES.iter().position(|(name, _)| *name == of);
        let Some(((table, columns), spans)) = place.and_then(|at| TABLES.get(at).zip(chained.get_mut(at)))
        else {
            chain.found("link", link.id, Alteration::Changed);
            continue;
        };
        spans.push((link.first, link.end()));
        let whole = if *table == "frame" && gone.is_some_and(|gone| link.end() <= gone.saturating_add(1)) {
            None
        } else {
            held_against(db, (table, columns), &link, &before, &mut chain)?
        };
        let Ok(digest) = link.digest.as_slice().try_into() else {
            chain.found("link", link.id, Alteration::Changed);
            continue;
        };
        // Where a row is not what it was, its own name says more.
        if whole.is_some_and(|whole| whole != digest) {
            chain.found("link", link.id, Alteration::Changed);
        }
        before = digest;
    }
    for ((table, _), spans) in TABLES.iter().zip(&mut chained) {
        added(db, table, spans, &mut chain)?;
    }
    chain.head = before.iter().map(|octet| format!("{octet:02x}")).collect();
    Ok(chain)
}

/// Names the rows of a link that are not what they were; where all are, gives the digest that the link should have.
fn held_against(
    db: &Connection,
    (table, columns): (&'static str, &str),
    link: &ChainLink,
    before: &[u8; 32],
    chain: &mut Chain,
) -> rusqlite::Result<Option<[u8; 32]>> {
    let mut digest = begun(before, table, link.first);
    // A damaged link may begin at any number.
    let mut marks = (0..)
        .map(|nth| link.first.saturating_add(nth))
        .zip(link.marks.chunks(MARK));
    let last = link.end().saturating_sub(1);
    let mut read = reading(db, table, columns)?;
    let mut rows = read.query(params![link.first, last])?;
    let mut all = true;
    while let Some(row) = rows.next()? {
        let (id, of_row): (i64, _) = (row.get(0)?, of(row)?);
        for (expected, mark) in marks.by_ref() {
            if expected < id {
                chain.found(table, expected, Alteration::Lost);
                all = false;
                continue;
            }
            if of_row.get(..MARK) != Some(mark) {
                chain.found(table, id, Alteration::Changed);
                all = false;
            }
            break;
        }
        digest.update(of_row);
    }
    for (expected, _) in marks {
        chain.found(table, expected, Alteration::Lost);
        all = false;
    }
    Ok(all.then(|| digest.finalize().into()))
}

/// Names the rows that no link knows.
fn added(
    db: &Connection,
    table: &'static str,
    spans: &mut [(i64, i64)],
    chain: &mut Chain,
) -> rusqlite::Result<()> {
    spans.sort_unstable();
    let mut spans = spans.iter().copied().peekable();
    let mut query = db.prepare(&format!("SELECT id FROM {table} ORDER BY id"))?;
    let mut rows = query.query([])?;
    while let Some(row) = rows.next()? {
        let id: i64 = row.get(0)?;
        while spans.next_if(|(_, end)| *end <= id).is_some() {}
        if spans.peek().is_none_or(|(first, _)| id < *first) {
            chain.found(table, id, Alteration::Added);
        }
    }
    Ok(())
}
