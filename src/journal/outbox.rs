//! What was sent to a clinic, under which name, with a digest of its content, and what the server said to it.
//!
//! - This is not derived: a rebuild leaves it alone, and what is due is the difference between it and what the readings
//!   say now ([`crate::delivery`]). There is no second list that could disagree.
//! - A row is written before its content leaves the house ([`Journal::offer`]), so that after a crash it is known that the
//!   server may have it.

use super::{Journal, JournalError};
use jiff::Timestamp;
use rusqlite::{Connection, OptionalExtension, Row, params};
use sha2::{Digest as _, Sha256};
use std::collections::BTreeSet;

/// Between the name of a resource and its id at the server, once it is withdrawn there and its own name is free.
pub const WITHDRAWN: &str = "-withdrawn-";

/// SHA-256 of a resource as it was sent.
pub type Digest = [u8; 32];

/// One resource at one clinic.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub struct Delivered {
    /// Value of its FHIR identifier, or the number of its order (HL7 version 2).
    pub name: String,
    /// FHIR resource type, such as `Observation`, or the type of the message.
    pub kind: String,
    /// Id of the person whose it was when it was sent; `None` for a device.
    pub person: Option<String>,
    /// The clinic's reference to that person, under which the server may have it; `None` where nobody wrote it down.
    pub subject: Option<String>,
    /// Digest of what was last handed to the network.
    pub offered: Digest,
    /// Whether it was sent to replace what the server might hold (PUT).
    pub replaces: bool,
    /// Digest of what the server said it keeps.
    pub confirmed: Option<Digest>,
    /// The server's id for it, or the control id of the message that was last acknowledged.
    pub server_id: Option<String>,
    /// The server's version, as long as nothing was sent since.
    pub version: Option<String>,
    /// HTTP status of the last answer about it; 0 of what speaks no HTTP.
    pub status: Option<u16>,
    /// When that answer came.
    pub answered: Option<Timestamp>,
    /// Why the server refused what was offered; it waits for a person.
    pub refusal: Option<String>,
    /// The resource itself, where it could not be made again.
    pub content: Option<String>,
}

/// What is about to leave the house.
#[derive(Clone, Copy, Debug)]
#[expect(missing_docs, reason = "as in `Delivered`")]
pub struct Offer<'a> {
    pub name: &'a str,
    pub kind: &'a str,
    pub person: Option<&'a str>,
    pub subject: Option<&'a str>,
    pub digest: Digest,
    pub replaces: bool,
    pub content: Option<&'a str>,
}

/// What the server said to one resource.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum ServerSaid {
    /// The server keeps the resource.
    Kept {
        /// 200 or 201; 0 of what speaks no HTTP.
        status: u16,
        /// The server's id for the resource.
        id: Option<String>,
        /// The server's version of the resource.
        version: Option<String>,
    },
    /// The server refused the resource.
    Refused {
        /// The entry's status, or that of the whole answer; 0 of what speaks no HTTP.
        status: u16,
        /// The server's words, shortened, without what is secret.
        why: String,
    },
    /// The server has another than ours under its name, and a person has to say which holds.
    Differs {
        /// HTTP status of the answer.
        status: u16,
        /// Both sides, in words.
        why: String,
        /// Whose the server's is.
        subject: Option<String>,
    },
}

/// How it stands with a clinic.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub struct Contact {
    /// The last answer that made sense.
    pub last: Option<Timestamp>,
    /// Failures in a row; conflicts (status 409) are counted by themselves. 0 after a success.
    pub failures: u32,
    /// The clinic is left alone until this moment.
    pub not_before: Option<Timestamp>,
    /// Whether the server asked for that pause; else the pause is our own choice.
    pub asked: bool,
    /// Sentence for a person about what is wrong; `None` after a success.
    pub problem: Option<String>,
    /// The word for the profiles that the server takes; `None` before it was asked.
    pub claims: Option<String>,
    /// The word for how the server takes resources; `None` before it was asked.
    pub way: Option<String>,
    /// The word for what of releases the server can be told; `None` before it was asked.
    pub records: Option<String>,
}

/// How far delivery to a clinic gets through, in numbers.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Progress {
    /// The server's address.
    pub clinic: String,
    /// Failures in a row.
    pub failures: u32,
    /// The last answer that made sense.
    pub last: Option<Timestamp>,
    /// Resources that the server refused, which wait for a person.
    pub refused: u32,
}

impl Journal {
    /// Everything that was ever offered to a clinic.
    pub fn deliveries(&self, clinic: &str) -> Result<Vec<Delivered>, JournalError> {
        self.in_context(|db| {
            db.prepare_cached(
                "SELECT name, kind, person, offered, replaces, confirmed, server_id, version, status, answered_us,
                    refusal, content, subject FROM delivery WHERE clinic = ?1 ORDER BY name",
            )?
            .query_map([clinic], delivered)?
            .collect()
        })
    }

    /// Writes down what is about to be sent, all or none. The server's version is forgotten: from here on it may be
    /// another.
    pub fn offer(&mut self, clinic: &str, offers: &[Offer<'_>]) -> Result<(), JournalError> {
        self.together(|db| {
            let mut write = db.prepare_cached(
                "INSERT INTO delivery (clinic, name, kind, person, offered, replaces, content, subject)
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)
                 ON CONFLICT (clinic, name) DO UPDATE SET person = excluded.person, offered = excluded.offered,
                    replaces = excluded.replaces, version = NULL, refusal = NULL, subject = excluded.subject,
                    content = coalesce(excluded.content, content)",
            )?;
            for offer in offers {
                write.execute(params![
                    clinic,
                    offer.name,
                    offer.kind,
                    offer.person,
                    offer.digest,
                    offer.replaces,
                    offer.content,
                    offer.subject
                ])?;
            }
            Ok(())
        })
    }

    /// Keeps what the server said to what was offered, all or none.
    pub fn answered(
        &mut self,
        clinic: &str,
        at: Timestamp,
        answers: &[(&str, ServerSaid)],
    ) -> Result<(), JournalError> {
        self.together(|db| {
            let mut kept = db.prepare_cached(
                "UPDATE delivery SET confirmed = offered, replaces = 0, refusal = NULL, status = ?3, answered_us = ?4,
                    server_id = coalesce(?5, server_id), version = ?6 WHERE clinic = ?1 AND name = ?2",
            )?;
            let mut refused = db.prepare_cached(
                "UPDATE delivery SET refusal = ?5, status = ?3, answered_us = ?4 WHERE clinic = ?1 AND name = ?2",
            )?;
            // What a person decides on is put in the place of what is there.
            let mut differs = db.prepare_cached(
                "UPDATE delivery SET refusal = ?5, status = ?3, answered_us = ?4, replaces = 1, server_id = NULL,
                    subject = coalesce(?6, subject) WHERE clinic = ?1 AND name = ?2",
            )?;
            let at = at.as_microsecond();
            for (name, said) in answers {
                match said {
                    ServerSaid::Kept { status, id, version } => {
                        kept.execute(params![clinic, name, status, at, id, version])?;
                    }
                    ServerSaid::Refused { status, why } => {
                        refused.execute(params![clinic, name, status, at, why])?;
                    }
                    ServerSaid::Differs { status, why, subject } => {
                        differs.execute(params![clinic, name, status, at, why, subject])?;
                    }
                }
            }
            Ok(())
        })
    }

    /// Lets what was refused be sent again: the one of this name, or every one. Ids of the server are forgotten with
    /// it, as it may have lost what they named. How many there were.
    pub fn try_again(&mut self, clinic: &str, name: Option<&str>) -> Result<usize, JournalError> {
        self.together(|db| {
            let freed = db.execute(
                "UPDATE delivery SET refusal = NULL, server_id = NULL
                 WHERE clinic = ?1 AND refusal IS NOT NULL AND (?2 IS NULL OR name = ?2)",
                params![clinic, name],
            )?;
            if freed > 0 {
                db.execute(
                    "UPDATE delivery SET server_id = NULL WHERE clinic = ?1 AND kind = 'Device'",
                    [clinic],
                )?;
                db.execute(
                    "UPDATE clinic SET not_before_us = NULL WHERE clinic = ?1",
                    [clinic],
                )?;
            }
            Ok(freed)
        })
    }

    /// These are not refused any more, each by itself: the server refuses everything.
    pub fn unrefuse(&mut self, clinic: &str, names: &[String]) -> Result<(), JournalError> {
        self.together(|db| {
            let mut free =
                db.prepare_cached("UPDATE delivery SET refusal = NULL WHERE clinic = ?1 AND name = ?2")?;
            names
                .iter()
                .try_for_each(|name| free.execute([clinic, name]).map(drop))
        })
    }

    /// What was offered of these and never taken cannot be at the server: it refused all of it.
    pub fn never_offered(&mut self, clinic: &str, names: &[&str]) -> Result<(), JournalError> {
        self.together(|db| {
            let mut forget = db.prepare_cached(
                "DELETE FROM delivery WHERE clinic = ?1 AND name = ?2 AND confirmed IS NULL",
            )?;
            names
                .iter()
                .try_for_each(|name| forget.execute([clinic, *name]).map(drop))
        })
    }

    /// The text of what is kept there is not needed any more: it could be made again.
    pub fn forget_content(&mut self, clinic: &str, name: &str) -> Result<(), JournalError> {
        self.in_context(|db| {
            db.prepare_cached("UPDATE delivery SET content = NULL WHERE clinic = ?1 AND name = ?2")?
                .execute([clinic, name])
        })?;
        Ok(())
    }

    /// What stood under this name was withdrawn and is out of the way: the server has none of that name, as far as this
    /// ledger goes. Whose it was, and until when, stays under the name that it has there now.
    pub fn made_way(&mut self, clinic: &str, name: &str, at: Timestamp) -> Result<(), JournalError> {
        self.together(|db| {
            db.prepare_cached(
                "INSERT INTO delivery (clinic, name, kind, person, subject, offered, replaces, confirmed, server_id,
                    answered_us)
                 SELECT clinic, name || ?3 || coalesce(server_id, ''), kind, person, subject, offered, 0, offered,
                    server_id, ?4 FROM delivery WHERE clinic = ?1 AND name = ?2
                 ON CONFLICT (clinic, name) DO UPDATE SET answered_us = excluded.answered_us",
            )?
            .execute(params![clinic, name, WITHDRAWN, at.as_microsecond()])?;
            db.prepare_cached(
                "UPDATE delivery SET confirmed = NULL, server_id = NULL, version = NULL, refusal = NULL, subject = NULL
                 WHERE clinic = ?1 AND name = ?2",
            )?
            .execute([clinic, name])
        })?;
        Ok(())
    }

    /// What this installation is called, for whoever is told of it: a digest of the first frame that came here, to the
    /// microsecond. So a copy of the journal is called the same, and no two homes are.
    pub fn installation(&self) -> Result<String, JournalError> {
        let first = self.in_context(|db| {
            db.prepare_cached("SELECT received_us, monitor, value FROM frame ORDER BY id LIMIT 1")?
                .query_row([], |row| {
                    let (received, monitor, value): (i64, String, Vec<u8>) =
                        (row.get(0)?, row.get(1)?, row.get(2)?);
                    let digest = Sha256::new_with_prefix(received.to_be_bytes())
                        .chain_update(monitor)
                        .chain_update(value)
                        .finalize();
                    Ok(digest.iter().map(|octet| format!("{octet:02x}")).collect())
                })
                .optional()
        })?;
        Ok(first.unwrap_or_default())
    }

    /// How many resources a clinic's server refused that wait for a person, and since when nothing went through.
    pub fn delivery_progress(&self) -> Result<Vec<Progress>, JournalError> {
        self.in_context(|db| {
            db.prepare_cached(
                "SELECT clinic.clinic, failures, last_us,
                    (SELECT count(*) FROM delivery WHERE delivery.clinic = clinic.clinic AND refusal IS NOT NULL)
                 FROM clinic ORDER BY clinic.clinic",
            )?
            .query_map([], |row| {
                Ok(Progress {
                    clinic: row.get(0)?,
                    failures: row.get(1)?,
                    last: moment(row.get(2)?),
                    refused: row.get(3)?,
                })
            })?
            .collect()
        })
    }

    /// How it stands with a clinic.
    pub fn contact(&self, clinic: &str) -> Result<Contact, JournalError> {
        let contact = self.in_context(|db| {
            db.prepare_cached(
                "SELECT last_us, failures, not_before_us, asked, problem, claims, way, records FROM clinic
                 WHERE clinic = ?1",
            )?
            .query_row([clinic], |row| {
                Ok(Contact {
                    last: moment(row.get(0)?),
                    failures: row.get(1)?,
                    not_before: moment(row.get(2)?),
                    asked: row.get(3)?,
                    problem: row.get(4)?,
                    claims: row.get(5)?,
                    way: row.get(6)?,
                    records: row.get(7)?,
                })
            })
            .optional()
        })?;
        Ok(contact.unwrap_or_default())
    }

    /// Of whom it was told that they go to this clinic without that anybody has stated a release.
    pub fn told_unstated(&self, clinic: &str) -> Result<BTreeSet<String>, JournalError> {
        let told: Option<Option<String>> = self.in_context(|db| {
            db.prepare_cached("SELECT told_unstated FROM clinic WHERE clinic = ?1")?
                .query_row([clinic], |row| row.get(0))
                .optional()
        })?;
        let told = told.flatten().unwrap_or_default();
        Ok(told.split_whitespace().map(ToOwned::to_owned).collect())
    }

    /// Keeps of whom that was told.
    pub fn set_told_unstated(&mut self, clinic: &str, told: &BTreeSet<String>) -> Result<(), JournalError> {
        let told: Vec<&str> = told.iter().map(String::as_str).collect();
        self.in_context(|db| {
            db.prepare_cached(
                "INSERT INTO clinic (clinic, failures, asked, told_unstated) VALUES (?1, 0, 0, ?2)
                 ON CONFLICT (clinic) DO UPDATE SET told_unstated = excluded.told_unstated",
            )?
            .execute([clinic, &told.join(" ")])
        })?;
        Ok(())
    }

    /// Replaces what is kept of how it stands with this clinic.
    pub fn set_contact(&mut self, clinic: &str, contact: &Contact) -> Result<(), JournalError> {
        self.in_context(|db| {
            db.prepare_cached(
                "INSERT INTO clinic (clinic, last_us, failures, not_before_us, asked, problem, claims, way, records)
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)
                 ON CONFLICT (clinic) DO UPDATE SET last_us = excluded.last_us, failures = excluded.failures,
                    not_before_us = excluded.not_before_us, asked = excluded.asked, problem = excluded.problem,
                    claims = excluded.claims, way = excluded.way, records = excluded.records",
            )?
            .execute(params![
                clinic,
                contact.last.map(Timestamp::as_microsecond),
                contact.failures,
                contact.not_before.map(Timestamp::as_microsecond),
                contact.asked,
                contact.problem,
                contact.claims,
                contact.way,
                contact.records,
            ])
        })?;
        Ok(())
    }

    fn together<T>(
        &mut self,
        work: impl FnOnce(&Connection) -> rusqlite::Result<T>,
    ) -> Result<T, JournalError> {
        let path = self.path.clone();
        let run = || {
            let transaction = self
                .db
                .transaction_with_behavior(rusqlite::TransactionBehavior::Immediate)?;
            let done = work(&transaction)?;
            transaction.commit()?;
            Ok(done)
        };
        run().map_err(|e| JournalError::from_sqlite(&path, e))
    }
}

fn moment(micros: Option<i64>) -> Option<Timestamp> {
    micros.and_then(|micros| Timestamp::from_microsecond(micros).ok())
}

fn delivered(row: &Row<'_>) -> rusqlite::Result<Delivered> {
    Ok(Delivered {
        name: row.get(0)?,
        kind: row.get(1)?,
        person: row.get(2)?,
        offered: row.get(3)?,
        replaces: row.get(4)?,
        confirmed: row.get(5)?,
        server_id: row.get(6)?,
        version: row.get(7)?,
        status: row.get(8)?,
        answered: moment(row.get(9)?),
        refusal: row.get(10)?,
        content: row.get(11)?,
        subject: row.get(12)?,
    })
}
