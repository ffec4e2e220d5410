//! What stands behind a monitor's handles: told by the collector, which sees it in BlueZ, for the ear, which cannot
//! ask.

use super::{Journal, JournalError};
use crate::gatt::{Characteristic, NotACharacteristic};
use crate::household::MonitorAddress;
use rusqlite::{Transaction, TransactionBehavior, params};
use std::collections::BTreeMap;

/// What stands behind a monitor's handles.
pub type Attributes = BTreeMap<u16, Attribute>;

/// One of them.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Attribute {
    /// What it is.
    pub characteristic: Characteristic,
    /// The monitor is bonded: only an encrypted link shows that it is really this one.
    pub bonded: bool,
}

impl Journal {
    /// What BlueZ shows of the monitor now; it replaces what was known.
    pub fn learn_attributes(
        &self,
        monitor: &MonitorAddress,
        attributes: &Attributes,
    ) -> Result<(), JournalError> {
        if self.attributes(monitor)? == *attributes {
            return Ok(());
        }
        self.in_context(|db| {
            let transaction = Transaction::new_unchecked(db, TransactionBehavior::Immediate)?;
            db.prepare_cached("DELETE FROM attribute WHERE monitor = ?1")?
                .execute([monitor.as_str()])?;
            let mut insert = db.prepare_cached(
                "INSERT INTO attribute (monitor, handle, characteristic, bonded) VALUES (?1, ?2, ?3, ?4)",
            )?;
            for (handle, attribute) in attributes {
                insert.execute(params![
                    monitor.as_str(),
                    handle,
                    attribute.characteristic.to_string(),
                    attribute.bonded
                ])?;
            }
            transaction.commit()
        })
    }

    /// What is known of the monitor's handles.
    pub fn attributes(&self, monitor: &MonitorAddress) -> Result<Attributes, JournalError> {
        self.in_context(|db| {
            let mut query =
                db.prepare_cached("SELECT handle, characteristic, bonded FROM attribute WHERE monitor = ?1")?;
            let rows = query.query_map([monitor.as_str()], |row| {
                let characteristic = row
                    .get_ref(1)?
                    .as_str()?
                    .parse()
                    .map_err(|e: NotACharacteristic| {
                        rusqlite::Error::FromSqlConversionFailure(1, rusqlite::types::Type::Text, Box::new(e))
                    })?;
                let bonded = row.get(2)?;
                Ok((
                    row.get(0)?,
                    Attribute {
                        characteristic,
                        bonded,
                    },
                ))
            })?;
            rows.collect()
        })
    }
}
