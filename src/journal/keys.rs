//! The household's keys to the page, and the sessions that were opened with them. Neither is a statement: they say
//! nothing about a reading, and a key that was withdrawn should be forgettable.

use super::{Journal, JournalError};
use crate::household::PersonId;
use crate::keys::{Digest, HERE, Key, Role};
use jiff::{SignedDuration, Timestamp};
use rusqlite::{OptionalExtension, Row, Transaction, TransactionBehavior, params};

/// A session ends so long after it was opened: a tablet on the wall types its key again every half year.
const SESSION_LASTS: SignedDuration = SignedDuration::from_hours(24 * 180);
/// Sessions of one key; the oldest goes when there would be more. A household has fewer screens.
const SESSIONS_MAX: i64 = 32;
/// The newest rows of a table that say which moment it was: a capture that is replayed may bring older ones.
const NEWEST: i64 = 64;

const COLUMNS: &str = "page_key.id, role, person, label, made_us, until_us, withdrawn_us, closed_us,
                       people, of_group";

impl Journal {
    /// Keeps a key; of its secret only the digest.
    pub fn add_key(&mut self, key: &Key, digest: &Digest) -> Result<(), JournalError> {
        let person = match key.people.as_slice() {
            [person] => Some(person.as_str()),
            _ => None,
        };
        let people: Vec<&str> = key.people.iter().map(PersonId::as_str).collect();
        self.in_context(|db| {
            db.execute(
                "INSERT INTO page_key (id, digest, role, person, label, made_us, until_us, people, of_group)
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)",
                params![
                    key.id,
                    digest.0,
                    key.role.name(),
                    person,
                    key.label,
                    key.made.as_microsecond(),
                    key.until.map(Timestamp::as_microsecond),
                    (people.len() > 1).then(|| people.join(" ")),
                    key.group,
                ],
            )
            .map(|_| ())
        })
    }

    /// Every key, also those that were withdrawn or whose time is over.
    pub fn keys(&self) -> Result<Vec<Key>, JournalError> {
        self.in_context(|db| {
            db.prepare(&format!("SELECT {COLUMNS} FROM page_key ORDER BY made_us, id"))?
                .query_map([], key)?
                .collect()
        })
    }

    /// Withdraws a key; the sessions that were opened with it end at once. Whether there was one to withdraw.
    pub fn withdraw_key(&mut self, id: &str, now: Timestamp) -> Result<bool, JournalError> {
        self.in_context(|db| {
            db.execute("DELETE FROM page_session WHERE key = ?1", [id])?;
            db.execute(
                "UPDATE page_key SET withdrawn_us = ?2 WHERE id = ?1 AND withdrawn_us IS NULL",
                params![id, now.as_microsecond()],
            )
            .map(|changed| changed == 1)
        })
    }

    /// Lets a key that came back with a backup open the page again. Whether there was one to confirm.
    pub fn confirm_key(&mut self, id: &str) -> Result<bool, JournalError> {
        self.in_context(|db| {
            db.execute(
                "UPDATE page_key SET closed_us = NULL WHERE id = ?1 AND closed_us IS NOT NULL AND withdrawn_us IS NULL",
                [id],
            )
            .map(|changed| changed == 1)
        })
    }

    /// The moment by which keys are judged: now, or the last one that the journal knows of, whichever is later. A
    /// gateway that starts without its own time would open in 1970 what was over long ago.
    pub fn moment_for_keys(&self, now: Timestamp) -> Result<Timestamp, JournalError> {
        let last: Option<i64> = self.in_context(|db| {
            // Frames and statements are numbered as they come, so that the newest are found without looking at all.
            db.prepare_cached(
                "SELECT max(us) FROM (
                    SELECT max(received_us) AS us FROM (SELECT received_us FROM frame ORDER BY id DESC LIMIT ?1)
                    UNION ALL SELECT max(stated_us) FROM (SELECT stated_us FROM statement ORDER BY id DESC LIMIT ?1)
                    UNION ALL SELECT max(made_us, coalesce(withdrawn_us, 0)) FROM page_key
                    UNION ALL SELECT begun_us FROM page_session)",
            )?
            .query_row([NEWEST], |row| row.get(0))
        })?;
        let last = last.and_then(|us| Timestamp::from_microsecond(us).ok());
        Ok(last.map_or(now, |last| last.max(now)))
    }

    /// The key with that secret, while it opens anything.
    pub fn key_with(&self, digest: &Digest, now: Timestamp) -> Result<Option<Key>, JournalError> {
        let now = self.moment_for_keys(now)?;
        let found = self.in_context(|db| {
            db.prepare_cached(&format!("SELECT {COLUMNS} FROM page_key WHERE digest = ?1"))?
                .query_row([digest.0], key)
                .optional()
        })?;
        Ok(found.filter(|key| key.opens(now)))
    }

    /// Keeps a link that opens the page once; of its secret only the digest.
    pub fn add_link(&mut self, digest: &Digest, until: Timestamp) -> Result<(), JournalError> {
        self.in_context(|db| {
            db.execute(
                "INSERT INTO page_link (digest, until_us) VALUES (?1, ?2)",
                params![digest.0, until.as_microsecond()],
            )
            .map(|_| ())
        })
    }

    /// Takes a link, which is gone then, and lets whoever is at the machine in with a key of their own. Whether there
    /// was such a link.
    pub fn take_link(&mut self, digest: &Digest, now: Timestamp) -> Result<bool, JournalError> {
        let now = self.moment_for_keys(now)?.as_microsecond();
        self.in_context(|db| {
            let transaction = Transaction::new_unchecked(db, TransactionBehavior::Immediate)?;
            transaction.execute("DELETE FROM page_link WHERE until_us <= ?1", [now])?;
            if transaction.execute("DELETE FROM page_link WHERE digest = ?1", [digest.0])? == 0 {
                transaction.commit()?;
                return Ok(false);
            }
            // Nobody knows a key whose digest this is: a link's secret is digested for another purpose.
            transaction.execute(
                "INSERT INTO page_key (id, digest, role, label, made_us) VALUES (?1, ?2, ?3, 'this machine', ?4)
                 ON CONFLICT (id) DO UPDATE SET withdrawn_us = NULL, closed_us = NULL",
                params![HERE, digest.0, Role::Caregiver.name(), now],
            )?;
            transaction.commit()?;
            Ok(true)
        })
    }

    /// Opens a session; of its secret only the digest is kept.
    pub fn begin_session(&mut self, digest: &Digest, key: &str, now: Timestamp) -> Result<(), JournalError> {
        let now = self.moment_for_keys(now)?;
        self.in_context(|db| {
            db.execute(
                "DELETE FROM page_session WHERE digest IN (SELECT digest FROM page_session WHERE key = ?1
                 ORDER BY begun_us DESC LIMIT -1 OFFSET ?2)",
                params![key, SESSIONS_MAX - 1],
            )?;
            db.execute(
                "INSERT INTO page_session (digest, key, begun_us) VALUES (?1, ?2, ?3)",
                params![digest.0, key, now.as_microsecond()],
            )
            .map(|_| ())
        })
    }

    /// The key that a session was opened with, while both hold.
    pub fn session_key(&self, digest: &Digest, now: Timestamp) -> Result<Option<Key>, JournalError> {
        let now = self.moment_for_keys(now)?;
        let since = now.checked_sub(SESSION_LASTS).unwrap_or(Timestamp::MIN);
        let found = self.in_context(|db| {
            db.prepare_cached(&format!(
                "SELECT {COLUMNS} FROM page_session JOIN page_key ON page_key.id = page_session.key
                 WHERE page_session.digest = ?1 AND begun_us >= ?2"
            ))?
            .query_row(params![digest.0, since.as_microsecond()], key)
            .optional()
        })?;
        Ok(found.filter(|key| key.opens(now)))
    }

    /// Ends a session.
    pub fn end_session(&mut self, digest: &Digest) -> Result<(), JournalError> {
        self.in_context(|db| {
            db.execute("DELETE FROM page_session WHERE digest = ?1", [digest.0])
                .map(|_| ())
        })
    }
}

fn key(row: &Row<'_>) -> rusqlite::Result<Key> {
    let wrong = |error: Box<dyn std::error::Error + Send + Sync>| {
        rusqlite::Error::FromSqlConversionFailure(0, rusqlite::types::Type::Text, error)
    };
    let at = |micros: i64| Timestamp::from_microsecond(micros).map_err(|e| wrong(Box::new(e)));
    let role: String = row.get(1)?;
    let people: Option<String> = match row.get(8)? {
        Some(people) => Some(people),
        None => row.get(2)?,
    };
    Ok(Key {
        id: row.get(0)?,
        role: Role::of_name(&role).ok_or_else(|| wrong(format!("no role {role:?}").into()))?,
        people: people
            .as_deref()
            .unwrap_or_default()
            .split_whitespace()
            .map(|id| PersonId::try_from(id.to_owned()))
            .collect::<Result<_, _>>()
            .map_err(|e| wrong(Box::new(e)))?,
        group: row.get(9)?,
        label: row.get(3)?,
        made: at(row.get(4)?)?,
        until: row.get::<_, Option<i64>>(5)?.map(at).transpose()?,
        withdrawn: row.get::<_, Option<i64>>(6)?.map(at).transpose()?,
        closed: row.get::<_, Option<i64>>(7)?.map(at).transpose()?,
    })
}
