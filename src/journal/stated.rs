//! What the household stated, as an open journal keeps it: put together once, and again only when a statement
//! came.

use super::kept::KeptView;
use super::{Journal, JournalError};
use crate::edge::system_zone;
use crate::household::{Household, UnknownZone};
use crate::monitoring::stated::{Row, Stated};
use jiff::Timestamp;
use std::sync::Arc;

impl Journal {
    /// Everything that follows from the statements that are in the journal now, and the monitors that came by listeners.
    /// Where no zone was stated, the clock is UTC.
    pub fn stated(&self) -> Result<Arc<Stated>, JournalError> {
        let stated = self.stated_alone()?;
        let Some(seen) = self.rooms_seen()? else {
            return Ok(stated);
        };
        let mut kept = self.kept.0.borrow_mut();
        let roomed = kept.as_ref().and_then(|kept| kept.roomed.as_ref());
        if let Some((_, roomed)) = roomed.filter(|(of, _)| *of == seen) {
            return Ok(roomed.clone());
        }
        let roomed = Arc::new(stated.come_by(&self.standing()?, self.rooms()?));
        if let Some(kept) = kept.as_mut() {
            kept.roomed = Some((seen, roomed.clone()));
            kept.placed = None;
        }
        Ok(roomed)
    }

    /// Everything that follows from the statements alone, from which everything is derived.
    pub(super) fn stated_alone(&self) -> Result<Arc<Stated>, JournalError> {
        // Statements are never changed, so where the newest is the same, all of them are.
        let newest = self.newest_statement()?;
        if let Some(kept) = &*self.kept.0.borrow()
            && kept.stated.newest() == newest
        {
            return Ok(kept.stated.clone());
        }
        let rows = self.statement_rows()?;
        tracing::debug!("{} statements were put together", rows.len());
        let stated = Arc::new(Stated::of(rows).map_err(|error| JournalError::Row {
            path: self.path.clone(),
            table: "statement",
            row: 0,
            what: error.to_string(),
        })?);
        self.kept.0.replace(Some(Box::new(KeptView {
            stated: stated.clone(),
            roomed: None,
            placed: None,
        })));
        Ok(stated)
    }

    /// The same for whoever shows it: where no zone was stated, the clock is that of the zone `named`, else of
    /// the machine's zone.
    pub fn stated_in<E>(&self, named: Option<&str>) -> Result<Arc<Stated>, E>
    where
        E: From<JournalError> + From<UnknownZone>,
    {
        let stated = self.stated()?;
        if !stated.household.zones.is_empty() {
            return Ok(stated);
        }
        let mut kept = self.kept.0.borrow_mut();
        let placed = kept.as_ref().and_then(|kept| kept.placed.as_ref());
        if let Some((_, placed)) = placed.filter(|(for_name, _)| for_name.as_deref() == named) {
            return Ok(placed.clone());
        }
        let zone = named.map_or_else(system_zone, str::to_owned);
        let placed = Arc::new(stated.in_zone(&zone)?);
        if let Some(kept) = kept.as_mut() {
            kept.placed = Some((named.map(str::to_owned), placed.clone()));
        }
        Ok(placed)
    }

    /// What holds after everything that was stated.
    pub fn household(&self) -> Result<Household, JournalError> {
        Ok(self.stated()?.household.clone())
    }

    /// Everything that was stated, in order.
    fn statement_rows(&self) -> Result<Vec<Row>, JournalError> {
        let sql = |e| JournalError::from_sqlite(&self.path, e);
        let mut query = self
            .db
            .prepare_cached("SELECT id, stated_us, body FROM statement ORDER BY id")
            .map_err(sql)?;
        let mut found = query.query([]).map_err(sql)?;
        let mut rows = Vec::new();
        while let Some(columns) = found.next().map_err(sql)? {
            let (row, at, body): (i64, i64, String) = (
                columns.get(0).map_err(sql)?,
                columns.get(1).map_err(sql)?,
                columns.get(2).map_err(sql)?,
            );
            let wrong = |what: String| JournalError::Row {
                path: self.path.clone(),
                table: "statement",
                row,
                what,
            };
            rows.push(Row {
                row,
                at: Timestamp::from_microsecond(at).map_err(|e| wrong(e.to_string()))?,
                statement: serde_json::from_str(&body).map_err(|e| wrong(e.to_string()))?,
            });
        }
        Ok(rows)
    }
}
