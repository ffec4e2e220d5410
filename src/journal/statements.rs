//! What the household states, and the gateway's clock samples.

use super::{Journal, JournalError, chain};
use crate::household::Statement;
use crate::reading::ClockSample;
use jiff::Timestamp;
use rusqlite::{Transaction, TransactionBehavior, params};

impl Journal {
    /// Keeps statements, all or none.
    pub fn state(&mut self, at: Timestamp, statements: &[Statement]) -> Result<(), JournalError> {
        self.state_after(None, at, statements).map(|_| ())
    }

    /// The same where no statement came behind the one in row `newest`; whether it was so.
    pub fn state_if_newest(
        &mut self,
        newest: i64,
        at: Timestamp,
        statements: &[Statement],
    ) -> Result<bool, JournalError> {
        self.state_after(Some(newest), at, statements)
    }

    fn state_after(
        &mut self,
        newest: Option<i64>,
        at: Timestamp,
        statements: &[Statement],
    ) -> Result<bool, JournalError> {
        let statements = self.introduced(statements)?;
        let path = self.path.clone();
        let bodies: Vec<String> = statements
            .iter()
            .map(serde_json::to_string)
            .collect::<Result<_, _>>()
            .map_err(|e| JournalError::Row {
                path: path.clone(),
                table: "statement",
                row: 0,
                what: e.to_string(),
            })?;
        let mut write = || -> rusqlite::Result<bool> {
            let transaction = self
                .db
                .transaction_with_behavior(TransactionBehavior::Immediate)?;
            if let Some(newest) = newest {
                let last: i64 =
                    transaction
                        .query_row("SELECT coalesce(max(id), 0) FROM statement", [], |row| row.get(0))?;
                if last != newest {
                    return Ok(false);
                }
            }
            let mut rows = Vec::with_capacity(bodies.len());
            {
                let mut insert =
                    transaction.prepare_cached("INSERT INTO statement (stated_us, body) VALUES (?1, ?2)")?;
                for body in &bodies {
                    rows.push(insert.insert(params![at.as_microsecond(), body])?);
                }
            }
            chain::link(&transaction, "statement", &rows)?;
            transaction.commit()?;
            Ok(true)
        };
        write().map_err(|e| JournalError::from_sqlite(&path, e))
    }

    /// Keeps samples of the gateway's clocks. A sample that is handed over twice is kept twice, which changes nothing.
    pub fn sample_clocks(&mut self, samples: &[ClockSample]) -> Result<(), JournalError> {
        if samples.is_empty() {
            return Ok(());
        }
        self.in_context(|db| {
            let transaction = Transaction::new_unchecked(db, TransactionBehavior::Immediate)?;
            let mut insert = transaction.prepare_cached(
                "INSERT INTO gateway_clock (boot, uptime_us, wall_us, synchronized, within_us) VALUES (?1, ?2, ?3, ?4, ?5)",
            )?;
            let mut rows = Vec::with_capacity(samples.len());
            for sample in samples {
                rows.push(insert.insert(params![
                    sample.uptime.boot,
                    sample.uptime.micros,
                    sample.wall.as_microsecond(),
                    sample.synchronized,
                    sample.within_us(),
                ])?);
            }
            drop(insert);
            chain::link(&transaction, "gateway_clock", &rows)?;
            transaction.commit()
        })
    }
}
