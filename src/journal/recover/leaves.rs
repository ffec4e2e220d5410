//! Rows to which the tree of pages does not lead any more, found on the leaves themselves.
//!
//! A file that was cut short, or that lost an inner page, still holds most of its leaves. Each is read by itself, after
//! SQLite's "Database File Format" (sqlite.org/fileformat2.html, sections 1.6 and 2.1). Which table a leaf belongs to
//! is written nowhere on it: a row is taken for one of a table if it has the shape that the table's columns state. Rows
//! of the tables that are asked for here are never changed or deleted, so a leaf that nothing leads to holds no other
//! row than the one that was there.

use rusqlite::Connection;
use rusqlite::types::Value;
use std::collections::BTreeMap;
use std::fs::File;
use std::io;
use std::os::unix::fs::FileExt;
use std::path::Path;

/// The octets of a page, as SQLite makes them unless told otherwise; nobody tells it otherwise here.
const PAGE: usize = 4096;
/// A page that is a leaf of a table begins with this.
const LEAF: u8 = 0x0d;
/// What stands on a leaf before the places of its rows.
const HEAD: usize = 8;
/// A row of more octets than this is none of ours: a value has at most 512, a statement is a few lines of JSON.
const ROW_OCTETS_MAX: usize = 1 << 20;

/// The columns of a table, as a row of it has to be.
pub(super) struct RowShape {
    columns: Vec<Column>,
    /// Rows that were written before the last columns were added have fewer, but never fewer than this.
    least: usize,
}

struct Column {
    name: String,
    kind: String,
    required: bool,
}

impl RowShape {
    /// That of a table of a sound journal. The first column has to be the row's number.
    pub(super) fn of(db: &Connection, table: &str) -> rusqlite::Result<Self> {
        let mut query =
            db.prepare("SELECT name, type, \"notnull\", dflt_value IS NULL FROM pragma_table_info(?1)")?;
        let mut least = 1;
        let mut columns = Vec::new();
        let mut rows = query.query([table])?;
        while let Some(row) = rows.next()? {
            let required: bool = row.get(2)?;
            columns.push(Column {
                name: row.get(0)?,
                kind: row.get(1)?,
                required,
            });
            if required && row.get(3)? {
                least = columns.len();
            }
        }
        Ok(Self { columns, least })
    }

    /// The names of the columns that a row of so many values has.
    pub(super) fn names(&self, values: usize) -> String {
        let names = self.columns.iter().take(values).map(|column| &*column.name);
        names.collect::<Vec<_>>().join(", ")
    }

    fn fits(&self, row: &[Value]) -> bool {
        (self.least..=self.columns.len()).contains(&row.len())
            && row.iter().zip(&self.columns).all(|(value, column)| match value {
                Value::Null => !column.required,
                Value::Integer(_) => column.kind == "INTEGER",
                Value::Real(_) => column.kind == "REAL",
                Value::Text(_) => column.kind == "TEXT",
                Value::Blob(_) => column.kind == "BLOB",
            })
    }
}

/// The leaves of a file, with the rows of one shape that stand on them.
pub(super) struct Leaves {
    file: File,
    /// Of each row's number: the page, and the place on it.
    rows: BTreeMap<i64, (u64, usize)>,
    /// Rows of which the file ends in the middle, as they are with zeros for what is gone: SQLite fills them so, and says
    /// nothing of it.
    cut: BTreeMap<i64, Vec<Value>>,
}

impl Leaves {
    /// Looks through every page of a file once; what is remembered is where each row stands.
    pub(super) fn of(path: &Path, shape: &RowShape) -> io::Result<Self> {
        let file = File::open(path)?;
        let pages = file.metadata()?.len().div_ceil(PAGE as u64);
        let mut leaves = Self {
            file,
            rows: BTreeMap::new(),
            cut: BTreeMap::new(),
        };
        for number in 1..=pages {
            // A part of the disk that cannot be read costs its own rows.
            let page = leaves.page(number).unwrap_or_default();
            let mut filled = page.clone();
            filled.resize(PAGE, 0);
            for place in places(&filled) {
                if let Some((id, row)) = leaves.row_at(&page, place) {
                    if shape.fits(&row) {
                        leaves.rows.entry(id).or_insert((number, place));
                    }
                } else if let Some((id, row)) = leaves.row_at(&filled, place)
                    && shape.fits(&row)
                {
                    leaves.cut.insert(id, row);
                }
            }
        }
        Ok(leaves)
    }

    /// Whether this is what SQLite makes of a row that the file's end cuts.
    pub(super) fn is_cut(&self, id: i64, row: &[Value]) -> bool {
        // A row of before the last columns were added has fewer values here.
        let like = |cut: &Vec<Value>| cut.iter().zip(row).all(|(one, other)| one == other);
        self.cut.get(&id).is_some_and(like)
    }

    /// The row of this number, if it stands on a leaf.
    pub(super) fn row(&self, id: i64) -> Option<Vec<Value>> {
        let (number, place) = self.rows.get(&id)?;
        let page = self.page(*number).ok()?;
        self.row_at(&page, *place).map(|(_, row)| row)
    }

    /// Whether no row of the shape stands on any leaf.
    pub(super) fn is_empty(&self) -> bool {
        self.rows.is_empty()
    }

    /// The highest number of a row of the shape.
    pub(super) fn last(&self) -> Option<i64> {
        self.rows.keys().next_back().copied()
    }

    /// The lowest number that is not below this one.
    pub(super) fn next(&self, id: i64) -> Option<i64> {
        self.rows.range(id..).next().map(|(id, _)| *id)
    }

    /// What there is of a page by its number, which begins at 1: the last may be cut short.
    fn page(&self, number: u64) -> io::Result<Vec<u8>> {
        let mut page = vec![0; PAGE];
        let mut filled = 0;
        let from = number.saturating_sub(1).saturating_mul(PAGE as u64);
        while let Some(rest) = page.get_mut(filled..).filter(|rest| !rest.is_empty()) {
            match self.file.read_at(rest, from.saturating_add(filled as u64))? {
                0 => break,
                read => filled += read,
            }
        }
        page.truncate(filled);
        Ok(page)
    }

    /// The number and the values of the row at a place of a leaf.
    fn row_at(&self, page: &[u8], place: usize) -> Option<(i64, Vec<Value>)> {
        let (length, rest) = varint(page.get(place..)?)?;
        let (id, rest) = varint(rest)?;
        let length = usize::try_from(length)
            .ok()
            .filter(|length| *length <= ROW_OCTETS_MAX)?;
        let local = local(length);
        let mut payload = rest.get(..local)?.to_vec();
        if local < length {
            let next = u32::from_be_bytes(*rest.get(local..)?.first_chunk()?);
            self.rest_of(&mut payload, length, next)?;
        }
        let mut row = values(&payload)?;
        // A column that is the row's number is kept as nothing.
        match row.first_mut()? {
            first @ Value::Null => *first = Value::Integer(id),
            _ => return None,
        }
        Some((id, row))
    }

    /// Adds what a row has on pages of its own, of which each names the next.
    fn rest_of(&self, payload: &mut Vec<u8>, length: usize, mut next: u32) -> Option<()> {
        while payload.len() < length {
            let page = self.page(u64::from(next)).ok().filter(|_| next > 1)?;
            next = u32::from_be_bytes(*page.first_chunk()?);
            let missing = (length - payload.len()).min(PAGE - 4);
            payload.extend(page.get(4..4 + missing)?);
        }
        Some(())
    }
}

/// The places of the rows on a page; none where it is no leaf of a table.
fn places(page: &[u8]) -> Vec<usize> {
    if page.first() != Some(&LEAF) {
        return Vec::new();
    }
    let number = |at: usize| {
        page.get(at..)
            .and_then(<[u8]>::first_chunk)
            .map(|two| u16::from_be_bytes(*two))
    };
    let rows = usize::from(number(3).unwrap_or_default());
    (0..rows)
        .filter_map(|row| number(HEAD + 2 * row).map(usize::from))
        .collect()
}

/// How many octets of a row stand on its leaf ("Cell Payload Overflow", 1.6).
fn local(length: usize) -> usize {
    let most = PAGE - 35;
    let least = (PAGE - 12) * 32 / 255 - 23;
    if length <= most {
        return length;
    }
    let local = least + (length - least) % (PAGE - 4);
    if local <= most { local } else { least }
}

/// A number of one to nine octets, and what follows it.
fn varint(octets: &[u8]) -> Option<(i64, &[u8])> {
    let mut value: u64 = 0;
    for (nth, octet) in octets.iter().take(9).enumerate() {
        let last = nth == 8;
        let bits = if last {
            u64::from(*octet)
        } else {
            u64::from(octet & 0x7f)
        };
        value = value << (if last { 8 } else { 7 }) | bits;
        if last || octet & 0x80 == 0 {
            return Some((value.cast_signed(), octets.get(nth + 1..)?));
        }
    }
    None
}

/// The values of a record ("Record Format", 2.1).
fn values(payload: &[u8]) -> Option<Vec<Value>> {
    let (head, _) = varint(payload)?;
    let (head, mut body) = payload.split_at_checked(usize::try_from(head).ok()?)?;
    let (_, mut kinds) = varint(head)?;
    let mut values = Vec::new();
    while !kinds.is_empty() {
        let (kind, rest) = varint(kinds)?;
        let (value, after) = value(kind, body)?;
        values.push(value);
        (kinds, body) = (rest, after);
    }
    body.is_empty().then_some(values)
}

fn value(kind: i64, body: &[u8]) -> Option<(Value, &[u8])> {
    let length = match kind {
        0 | 8 | 9 => 0,
        1..=4 => usize::try_from(kind).ok()?,
        5 => 6,
        6 | 7 => 8,
        12.. => usize::try_from((kind - 12) / 2).ok()?,
        _ => return None,
    };
    let (octets, rest) = body.split_at_checked(length)?;
    let integer = || {
        // The sign is that of the first octet.
        let sign = if octets.first().is_some_and(|first| first & 0x80 != 0) {
            -1
        } else {
            0
        };
        octets
            .iter()
            .fold(sign, |value: i64, octet| value << 8 | i64::from(*octet))
    };
    let value = match kind {
        0 => Value::Null,
        7 => Value::Real(f64::from_be_bytes(*octets.first_chunk()?)),
        8 => Value::Integer(0),
        9 => Value::Integer(1),
        1..=6 => Value::Integer(integer()),
        even if even % 2 == 0 => Value::Blob(octets.to_vec()),
        _ => Value::Text(String::from_utf8(octets.to_vec()).ok()?),
    };
    Some((value, rest))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// SQLite writes the file, the leaves are read without it.
    #[test]
    fn every_row_that_sqlite_wrote_is_on_a_leaf() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("made.sqlite");
        let db = Connection::open(&path).unwrap();
        db.execute_batch(
            "CREATE TABLE made (id INTEGER PRIMARY KEY, n INTEGER, r REAL, t TEXT NOT NULL, b BLOB);
             CREATE TABLE other (id INTEGER PRIMARY KEY, t TEXT NOT NULL);
             INSERT INTO other VALUES (1, 'of another shape'); BEGIN",
        )
        .unwrap();
        let numbers = [
            0,
            1,
            -1,
            127,
            -128,
            32767,
            -32768,
            1 << 23,
            -(1 << 40),
            1 << 47,
            i64::MAX,
            i64::MIN,
        ];
        let mut made: Vec<Vec<Value>> = Vec::new();
        let mut id = 0;
        // From what fits on a leaf to what takes several pages of its own.
        for length in (0..70).chain([511, 3000, 4050, 4061, 4062, 5000, 9000, 60_000]) {
            for (nth, number) in numbers.iter().enumerate() {
                id += if nth % 40 == 0 { 1 << 33 } else { 1 };
                let row = vec![
                    Value::Integer(id),
                    if nth % 5 == 0 {
                        Value::Null
                    } else {
                        Value::Integer(*number)
                    },
                    Value::Real(if nth % 3 == 0 { -0.5 } else { 1e300 }),
                    Value::Text("ü".repeat(length / 2)),
                    Value::Blob(vec![0xa5; length]),
                ];
                db.execute(
                    "INSERT INTO made VALUES (?1, ?2, ?3, ?4, ?5)",
                    rusqlite::params_from_iter(row.clone()),
                )
                .unwrap();
                made.push(row);
            }
        }
        db.execute_batch("COMMIT").unwrap();
        let shape = RowShape::of(&db, "made").unwrap();
        let leaves = Leaves::of(&path, &shape).unwrap();
        assert_eq!(leaves.rows.len(), made.len());
        for row in made {
            let Value::Integer(id) = row[0] else {
                unreachable!()
            };
            assert_eq!(leaves.row(id), Some(row));
        }
        assert_eq!(shape.names(2), "id, n");
    }

    proptest::proptest! {
        #[test]
        fn any_octets_are_rows_or_none(octets: Vec<u8>) {
            let mut page = octets;
            page.insert(0, LEAF);
            page.resize(PAGE, 0x81);
            let dir = tempfile::tempdir().unwrap();
            let path = dir.path().join("any");
            std::fs::write(&path, &page).unwrap();
            let file = File::open(&path).unwrap();
            let leaves = Leaves { file, rows: BTreeMap::new(), cut: BTreeMap::new() };
            for place in places(&page) {
                let _ = leaves.row_at(&page, place);
            }
        }
    }
}
