//! How far what is derived reaches: the last frame, statement and clock sample that is in it.

use rusqlite::{Connection as Db, params};

/// How far the derived tables reach.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub(super) struct DerivedReach {
    pub(super) frames: i64,
    pub(super) statements: i64,
    pub(super) samples: i64,
}

impl DerivedReach {
    pub(super) fn stands(db: &Db) -> rusqlite::Result<Self> {
        let mut query = db.prepare_cached("SELECT name, value FROM settled")?;
        let mut reach = Self::default();
        let mut rows = query.query([])?;
        while let Some(row) = rows.next()? {
            let value = row.get(1)?;
            match row.get_ref(0)?.as_str().unwrap_or_default() {
                "frames" => reach.frames = value,
                "statements" => reach.statements = value,
                "samples" => reach.samples = value,
                _ => {}
            }
        }
        Ok(reach)
    }

    pub(super) fn due(db: &Db) -> rusqlite::Result<Self> {
        let last = |table: &str| -> rusqlite::Result<i64> {
            db.prepare_cached(&format!("SELECT coalesce(max(id), 0) FROM {table}"))?
                .query_row([], |row| row.get(0))
        };
        Ok(Self {
            frames: last("frame")?,
            statements: last("statement")?,
            samples: last("gateway_clock")?,
        })
    }

    pub(super) fn write(self, db: &Db) -> rusqlite::Result<()> {
        let mut write = db.prepare_cached("INSERT OR REPLACE INTO settled (name, value) VALUES (?1, ?2)")?;
        for (name, value) in [
            ("frames", self.frames),
            ("statements", self.statements),
            ("samples", self.samples),
        ] {
            write.execute(params![name, value])?;
        }
        Ok(())
    }
}

/// How many of a table's rows, all of them in order of their numbers, had been settled. A number is no place in that
/// order: a journal that was recovered lacks some.
pub(super) fn old_of(db: &Db, table: &str, reach: i64, all: usize) -> rusqlite::Result<usize> {
    let new: i64 = db
        .prepare_cached(&format!("SELECT count(*) FROM {table} WHERE id > ?1"))?
        .query_row([reach], |row| row.get(0))?;
    Ok(all.saturating_sub(usize::try_from(new).unwrap_or(all)))
}
