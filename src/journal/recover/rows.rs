//! Rows on their way from the damaged file into the new one.

use rusqlite::types::Value;
use rusqlite::{Connection, ErrorCode, params_from_iter};

/// The columns of a table that both have: an older program made fewer, and what is damaged may name any.
pub(super) fn known_columns(
    damaged: &Connection,
    new: &Connection,
    table: &str,
) -> rusqlite::Result<Vec<String>> {
    let of = |db: &Connection| -> rusqlite::Result<Vec<String>> {
        let mut names = db.prepare("SELECT name FROM pragma_table_info(?1)")?;
        names.query_map([table], |row| row.get(0))?.collect()
    };
    let there = of(damaged).unwrap_or_default();
    let mut columns = of(new)?;
    columns.retain(|column| there.contains(column));
    Ok(columns)
}

pub(super) fn inserting(table: &str, columns: &str, width: usize) -> String {
    let places = vec!["?"; width].join(", ");
    format!("INSERT INTO {table} ({columns}) VALUES ({places})")
}

/// Whether a row could be kept, and is then what it has to be.
pub(super) fn inserted(
    db: &Connection,
    insert: &mut rusqlite::Statement<'_>,
    row: Vec<Value>,
    reads: impl FnOnce(&Connection) -> rusqlite::Result<bool>,
) -> rusqlite::Result<bool> {
    db.prepare_cached("SAVEPOINT row")?.execute([])?;
    let kept = match insert.execute(params_from_iter(row)).and_then(|_| reads(db)) {
        // Not the row's fault: no row must be called lost for it.
        Err(error) if is_of_the_disk(&error) => return Err(error),
        kept => kept.unwrap_or(false),
    };
    if !kept {
        db.prepare_cached("ROLLBACK TO row")?.execute([])?;
    }
    db.prepare_cached("RELEASE row")?.execute([])?;
    Ok(kept)
}

pub(super) fn is_of_the_disk(error: &rusqlite::Error) -> bool {
    matches!(
        error.sqlite_error_code(),
        Some(
            ErrorCode::DiskFull
                | ErrorCode::SystemIoFailure
                | ErrorCode::OutOfMemory
                | ErrorCode::DatabaseCorrupt
                | ErrorCode::DatabaseBusy
                | ErrorCode::ReadOnly
        )
    )
}
