//! What was told to whom: one row for each matter and each way of telling it. Not derived; it survives a rebuild.
//!
//! A row is claimed and committed before anything is sent, and marked sent after. So a row that is still claimed when
//! a process starts belongs to one that was killed in between, and nobody knows whether that message went out; what
//! becomes of it is decided by [`crate::home::alerts`], by medium.

use super::{Journal, JournalError};
use crate::household::MonitorAddress;
use jiff::Timestamp;
use rusqlite::{OptionalExtension, Row, params};

/// How a matter stands with one route.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub enum Standing {
    /// To be sent.
    Pending,
    /// Being sent, or cut off in it.
    Claimed,
    /// The channel took it: the program ended with 0, the server or broker accepted it.
    Sent,
    /// Not worth saying any more before the channel worked again; the person has not been told so.
    Lapsed,
    /// Not worth saying any more.
    Dropped,
}

impl Standing {
    const ALL: [Self; 5] = [
        Self::Pending,
        Self::Claimed,
        Self::Sent,
        Self::Lapsed,
        Self::Dropped,
    ];

    /// As listings print it.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Pending => "pending",
            Self::Claimed => "claimed",
            Self::Sent => "sent",
            Self::Lapsed => "lapsed",
            Self::Dropped => "dropped",
        }
    }
}

/// One row of the ledger.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct AlertEntry {
    /// Names the matter by what it is about; the same however often it is looked at.
    pub key: String,
    /// The route's name in the configuration.
    pub route: String,
    /// How the matter stands with this route.
    pub standing: Standing,
    /// Since when it was worth saying to this route.
    pub since: Timestamp,
    /// When the standing last changed.
    pub changed: Timestamp,
    /// How often a sending was begun.
    pub tries: u32,
    /// Whether the channel failed while the matter waited.
    pub channel_failed: bool,
    /// What went wrong last.
    pub problem: Option<String>,
}

const ENTRY: &str =
    "SELECT key, route, standing, since_us, changed_us, tries, channel_failed, problem FROM alert";

impl Journal {
    /// What is urgent and could not be told: it waits for its next try, or lapsed.
    pub fn undelivered(&self) -> Result<Vec<AlertEntry>, JournalError> {
        let mut open = self.open_alerts()?;
        open.retain(|entry| {
            let failed =
                entry.problem.is_some() || entry.channel_failed || entry.standing == Standing::Lapsed;
            entry.key.starts_with("urgent/") && failed
        });
        Ok(open)
    }

    /// How a matter stands with a route, if it was ever offered.
    pub fn alert(&self, key: &str, route: &str) -> Result<Option<AlertEntry>, JournalError> {
        self.in_context(|db| {
            db.prepare_cached(&format!("{ENTRY} WHERE key = ?1 AND route = ?2"))?
                .query_row([key, route], entry)
                .optional()
        })
    }

    /// Everything that is not settled, oldest first.
    pub fn open_alerts(&self) -> Result<Vec<AlertEntry>, JournalError> {
        self.in_context(|db| {
            db.prepare_cached(&format!(
                "{ENTRY} WHERE standing IN ('pending', 'claimed', 'lapsed') ORDER BY since_us, key, route"
            ))?
            .query_map([], entry)?
            .collect()
        })
    }

    /// What changed since a moment, latest first.
    pub fn alerts_since(&self, since: Timestamp) -> Result<Vec<AlertEntry>, JournalError> {
        self.in_context(|db| {
            db.prepare_cached(&format!(
                "{ENTRY} WHERE changed_us >= ?1 ORDER BY changed_us DESC, key, route"
            ))?
            .query_map([since.as_microsecond()], entry)?
            .collect()
        })
    }

    /// Takes matters up for routes, all in one commit. One that was dropped is taken up anew; one that lapsed untold
    /// has waited ever since.
    pub fn offer_alerts(&mut self, now: Timestamp, offers: &[(&str, &str)]) -> Result<(), JournalError> {
        self.each_alert(
            offers,
            "INSERT INTO alert (key, route, standing, since_us, changed_us) VALUES (?1, ?2, 'pending', ?3, ?3)
             ON CONFLICT DO UPDATE SET
               since_us = iif(standing = 'dropped', excluded.since_us, since_us),
               channel_failed = iif(standing = 'dropped', 0, channel_failed),
               standing = 'pending', changed_us = excluded.changed_us
             WHERE standing IN ('dropped', 'lapsed')",
            now,
        )
    }

    /// Claims one before it is sent; `false` where it is not there to be claimed.
    pub fn claim_alert(&mut self, now: Timestamp, key: &str, route: &str) -> Result<bool, JournalError> {
        self.in_context(|db| {
            Ok(db
                .prepare_cached(
                    "UPDATE alert SET standing = 'claimed', changed_us = ?3, tries = tries + 1
                     WHERE key = ?1 AND route = ?2 AND standing = 'pending'",
                )?
                .execute(params![key, route, now.as_microsecond()])?
                == 1)
        })
    }

    /// Marks one as sent; `problem` says what is not known for certain about it.
    pub fn alert_sent(
        &mut self,
        now: Timestamp,
        key: &str,
        route: &str,
        problem: Option<&str>,
    ) -> Result<(), JournalError> {
        self.in_context(|db| {
            db.prepare_cached(
                "UPDATE alert SET standing = 'sent', changed_us = ?3, problem = ?4 WHERE key = ?1 AND route = ?2",
            )?
            .execute(params![key, route, now.as_microsecond(), problem])?;
            Ok(())
        })
    }

    /// Gives back one that could not be sent. The failure is the channel's: everything that waits for it knows.
    pub fn alert_failed(
        &mut self,
        now: Timestamp,
        key: &str,
        route: &str,
        problem: &str,
    ) -> Result<(), JournalError> {
        self.in_context(|db| {
            let transaction = db.unchecked_transaction()?;
            transaction
                .prepare_cached(
                    "UPDATE alert SET standing = 'pending', changed_us = ?3, problem = ?4
                     WHERE key = ?1 AND route = ?2 AND standing = 'claimed'",
                )?
                .execute(params![key, route, now.as_microsecond(), problem])?;
            transaction
                .prepare_cached(
                    "UPDATE alert SET channel_failed = 1 WHERE route = ?1 AND standing = 'pending'",
                )?
                .execute([route])?;
            transaction.commit()
        })
    }

    /// Puts rows that somebody was killed over back to where they were before.
    pub fn unclaim_alerts(&mut self, now: Timestamp, rows: &[(&str, &str)]) -> Result<(), JournalError> {
        self.each_alert(
            rows,
            "UPDATE alert SET standing = 'pending', changed_us = ?3 WHERE key = ?1 AND route = ?2 AND standing = 'claimed'",
            now,
        )
    }

    /// Lets go of what is not worth saying any more. Where the channel had failed meanwhile, it is kept to be told of.
    pub fn drop_alerts(&mut self, now: Timestamp, rows: &[(&str, &str)]) -> Result<(), JournalError> {
        self.each_alert(
            rows,
            "UPDATE alert SET standing = iif(channel_failed, 'lapsed', 'dropped'), changed_us = ?3
             WHERE key = ?1 AND route = ?2 AND standing = 'pending'",
            now,
        )
    }

    /// The person was told what lapsed.
    pub fn lapsed_alerts_told(&mut self, now: Timestamp, rows: &[(&str, &str)]) -> Result<(), JournalError> {
        self.each_alert(
            rows,
            "UPDATE alert SET standing = 'dropped', changed_us = ?3 WHERE key = ?1 AND route = ?2 AND standing = 'lapsed'",
            now,
        )
    }

    /// What was said to have been told was not.
    pub fn lapsed_alerts_not_told(
        &mut self,
        now: Timestamp,
        rows: &[(&str, &str)],
    ) -> Result<(), JournalError> {
        self.each_alert(
            rows,
            "UPDATE alert SET standing = 'lapsed', changed_us = ?3 WHERE key = ?1 AND route = ?2 AND standing = 'dropped'",
            now,
        )
    }

    /// Forgets what was settled before a moment, but for the matters named, which still stand.
    pub fn forget_alerts(&mut self, before: Timestamp, standing: &[&str]) -> Result<(), JournalError> {
        let keep = serde_json::json!(standing).to_string();
        self.in_context(|db| {
            db.execute(
                "DELETE FROM alert WHERE standing IN ('sent', 'dropped') AND changed_us < ?1
                   AND key NOT IN (SELECT value FROM json_each(?2))",
                params![before.as_microsecond(), keep],
            )?;
            Ok(())
        })
    }

    /// Since when something that is watched has been so, as far as somebody looked.
    pub fn watched(&self, what: &str) -> Result<Option<Timestamp>, JournalError> {
        self.in_context(|db| {
            db.prepare_cached("SELECT since_us FROM watched WHERE what = ?1")?
                .query_row([what], |row| moment(row.get(0)?))
                .optional()
        })
    }

    /// Since when something that is watched has been so, over restarts: the first look at which it was. `now` is
    /// `None` where it is not so any more.
    pub fn watched_since(
        &mut self,
        what: &str,
        now: Option<Timestamp>,
    ) -> Result<Option<Timestamp>, JournalError> {
        let since = self.watched(what)?;
        self.in_context(|db| match (since, now) {
            (Some(since), Some(_)) => Ok(Some(since)),
            (None, Some(now)) => {
                db.prepare_cached("INSERT INTO watched (what, since_us) VALUES (?1, ?2)")?
                    .execute(params![what, now.as_microsecond()])?;
                Ok(Some(now))
            }
            (Some(_), None) => {
                db.prepare_cached("DELETE FROM watched WHERE what = ?1")?
                    .execute([what])?;
                Ok(None)
            }
            (None, None) => Ok(None),
        })
    }

    /// What is watched whose name begins so, by its whole name.
    pub fn watched_below(&self, beginning: &str) -> Result<Vec<String>, JournalError> {
        self.in_context(|db| {
            db.prepare_cached(
                "SELECT what FROM watched WHERE substr(what, 1, length(?1)) = ?1 ORDER BY what",
            )?
            .query_map([beginning], |row| row.get(0))?
            .collect()
        })
    }

    /// The battery levels that a monitor told, the latest first, until `each` says `false`.
    pub fn each_battery_level(
        &self,
        address: &MonitorAddress,
        mut each: impl FnMut(Timestamp, &[u8]) -> bool,
    ) -> Result<(), JournalError> {
        self.in_context(|db| {
            let mut query = db.prepare_cached(
                "SELECT received_us, value FROM frame WHERE monitor = ?1 AND characteristic = '2a19'
                 ORDER BY received_us DESC",
            )?;
            let mut rows = query.query([address.as_str()])?;
            while let Some(row) = rows.next()? {
                let at = moment(row.get(0)?)?;
                if !each(at, row.get_ref(1)?.as_blob()?) {
                    break;
                }
            }
            Ok(())
        })
    }

    fn each_alert(&mut self, rows: &[(&str, &str)], sql: &str, now: Timestamp) -> Result<(), JournalError> {
        if rows.is_empty() {
            return Ok(());
        }
        self.in_context(|db| {
            let transaction = db.unchecked_transaction()?;
            for (key, route) in rows {
                transaction
                    .prepare_cached(sql)?
                    .execute(params![key, route, now.as_microsecond()])?;
            }
            transaction.commit()
        })
    }
}

fn entry(row: &Row<'_>) -> rusqlite::Result<AlertEntry> {
    let name: String = row.get(2)?;
    Ok(AlertEntry {
        key: row.get(0)?,
        route: row.get(1)?,
        standing: Standing::ALL
            .into_iter()
            .find(|standing| standing.name() == name)
            .unwrap_or(Standing::Dropped),
        since: moment(row.get(3)?)?,
        changed: moment(row.get(4)?)?,
        tries: row.get(5)?,
        channel_failed: row.get(6)?,
        problem: row.get(7)?,
    })
}

fn moment(us: i64) -> rusqlite::Result<Timestamp> {
    Timestamp::from_microsecond(us).map_err(|e| {
        rusqlite::Error::FromSqlConversionFailure(0, rusqlite::types::Type::Integer, Box::new(e))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(second: i64) -> Timestamp {
        Timestamp::from_second(second).unwrap()
    }

    fn standing(journal: &Journal, key: &str) -> Standing {
        journal.alert(key, "r").unwrap().unwrap().standing
    }

    #[test]
    fn a_matter_is_claimed_once_and_the_ledger_outlives_a_rebuild() {
        let dir = tempfile::tempdir().unwrap();
        let mut journal = Journal::open(dir.path()).unwrap();
        journal.offer_alerts(at(1), &[("a", "r"), ("b", "r")]).unwrap();
        assert!(journal.claim_alert(at(2), "a", "r").unwrap());
        assert!(!journal.claim_alert(at(2), "a", "r").unwrap(), "claimed already");
        journal.alert_sent(at(3), "a", "r", None).unwrap();
        journal.offer_alerts(at(4), &[("a", "r")]).unwrap();
        assert_eq!(standing(&journal, "a"), Standing::Sent, "offered again in vain");
        journal.rebuild().unwrap();
        drop(journal);
        let journal = Journal::open(dir.path()).unwrap();
        assert_eq!(standing(&journal, "a"), Standing::Sent);
        assert_eq!(journal.open_alerts().unwrap().len(), 1);
    }

    #[test]
    fn what_waited_for_a_channel_that_failed_is_kept_to_be_told() {
        let dir = tempfile::tempdir().unwrap();
        let mut journal = Journal::open(dir.path()).unwrap();
        journal
            .offer_alerts(at(1), &[("a", "r"), ("b", "r"), ("c", "other")])
            .unwrap();
        journal.claim_alert(at(2), "a", "r").unwrap();
        journal.alert_failed(at(3), "a", "r", "refused").unwrap();
        journal
            .drop_alerts(at(4), &[("a", "r"), ("b", "r"), ("c", "other")])
            .unwrap();
        assert_eq!(standing(&journal, "a"), Standing::Lapsed);
        assert_eq!(
            standing(&journal, "b"),
            Standing::Lapsed,
            "it waited for the same channel"
        );
        let other = journal.alert("c", "other").unwrap().unwrap();
        assert_eq!(other.standing, Standing::Dropped);
        journal
            .lapsed_alerts_told(at(5), &[("a", "r"), ("b", "r")])
            .unwrap();
        assert!(journal.open_alerts().unwrap().is_empty());
    }

    #[test]
    fn old_rows_go_unless_the_matter_still_stands() {
        let dir = tempfile::tempdir().unwrap();
        let mut journal = Journal::open(dir.path()).unwrap();
        for key in ["old", "standing"] {
            journal.offer_alerts(at(1), &[(key, "r")]).unwrap();
            journal.claim_alert(at(1), key, "r").unwrap();
            journal.alert_sent(at(1), key, "r", None).unwrap();
        }
        journal.forget_alerts(at(2), &["standing"]).unwrap();
        assert!(journal.alert("old", "r").unwrap().is_none());
        assert_eq!(standing(&journal, "standing"), Standing::Sent);
    }

    #[test]
    fn what_is_watched_began_once() {
        let dir = tempfile::tempdir().unwrap();
        let mut journal = Journal::open(dir.path()).unwrap();
        assert_eq!(journal.watched_since("deaf", Some(at(5))).unwrap(), Some(at(5)));
        drop(journal);
        let mut journal = Journal::open(dir.path()).unwrap();
        assert_eq!(journal.watched_since("deaf", Some(at(9))).unwrap(), Some(at(5)));
        assert_eq!(journal.watched_since("deaf", None).unwrap(), None);
        assert_eq!(journal.watched_since("deaf", Some(at(10))).unwrap(), Some(at(10)));
    }
}
