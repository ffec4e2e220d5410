//! What is derived and cannot be read is made anew from the frames and statements, by itself, once, and said.

use super::error::is_about_a_value;
use super::readings::{JUDGED, SESSION, judged, session_of};
use super::{Journal, JournalError, derived};
use rusqlite::{Connection, MAIN_DB};

impl Journal {
    /// Settles, and lets `work` read what is derived. Where it meets a row that cannot be read, everything derived is
    /// made anew and `work` reads once more.
    pub(super) fn on_derived<T>(
        &mut self,
        mut work: impl FnMut(&Connection) -> rusqlite::Result<T>,
    ) -> Result<T, JournalError> {
        self.settle()?;
        match work(&self.db) {
            Err(error) if is_about_a_value(&error) => {
                self.derive_anew(&error.to_string())?;
                self.in_context(work)
            }
            done => done.map_err(|error| JournalError::from_sqlite(&self.path, error)),
        }
    }

    /// Makes everything derived anew because of a fault. A journal that is opened for reading only goes on with a
    /// private copy.
    fn derive_anew(&mut self, fault: &str) -> Result<(), JournalError> {
        let path = self.path.display();
        let only_read = self.in_context(|db| {
            let asked: bool = db.pragma_query_value(None, "query_only", |row| row.get(0))?;
            Ok(asked || db.is_readonly(MAIN_DB)?)
        })?;
        if !only_read {
            tracing::warn!(
                "{path}: a reading, judgement or session cannot be read ({fault}); all of them were made anew from \
                 the frames, which are whole"
            );
            self.rebuild()?;
            return Ok(());
        }
        tracing::warn!(
            "{path}: a reading, judgement or session cannot be read ({fault}); all of them were made anew from the \
             frames, which are whole, for this command alone. `quietcuff rebuild` mends the file"
        );
        let mut own = self.in_private()?;
        own.rebuild()?;
        own.in_context(|db| db.pragma_update(None, "query_only", true))?;
        *self = own;
        Ok(())
    }

    /// The first fault of what is derived, in words; `None` where every row can be read and none is missing beside
    /// another. Only for a journal of this version's schema.
    pub fn fault_of_derived(&self) -> Result<Option<String>, JournalError> {
        match read_all(&self.db) {
            Ok(()) => Ok(None),
            Err(error) if is_about_a_value(&error) => Ok(Some(error.to_string())),
            Err(error) => Err(JournalError::from_sqlite(&self.path, error)),
        }
    }

    /// Makes everything derived anew where a row of it cannot be read; the fault that there was.
    pub(super) fn mend_derived(&mut self) -> Result<Option<String>, JournalError> {
        let fault = self.fault_of_derived()?;
        if let Some(fault) = &fault {
            self.derive_anew(fault)?;
            if let Some(still) = self.fault_of_derived()? {
                let (path, what) = (self.path.clone(), still);
                return Err(JournalError::Damaged { path, what });
            }
        }
        Ok(fault)
    }
}

/// Reads every row that is derived, as everybody reads it.
fn read_all(db: &Connection) -> rusqlite::Result<()> {
    let mut each = db.prepare(JUDGED)?;
    let (mut rows, mut judgements) = (each.query([])?, 0_i64);
    while let Some(row) = rows.next()? {
        judged(row)?;
        judgements += 1;
    }
    let count = |table: &str| {
        db.query_row(&format!("SELECT count(*) FROM {table}"), [], |row| {
            row.get::<_, i64>(0)
        })
    };
    if (count("reading")?, count("judgement")?) != (judgements, judgements) {
        return Err(derived::wrong(
            "a reading without its judgement, or the other way round".into(),
        ));
    }
    let mut each = db.prepare(SESSION)?;
    let mut rows = each.query([])?;
    while let Some(row) = rows.next()? {
        session_of(row)?;
    }
    derived::each_past(db)
}
