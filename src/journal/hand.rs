//! What each role may write. A role that the network can reach gets a connection on which SQLite itself refuses every
//! statement that would change more than that role's tables, or how the file is guarded, before it runs
//! (<https://www.sqlite.org/c3ref/set_authorizer.html>).
//!
//! This holds against whatever such a role may be brought to say to the journal. It does not hold against somebody who
//! runs instructions of his own in its process: that is what the units' sandbox is for, and what the digests show
//! afterwards (`chain.rs`).

use super::{Journal, JournalError};
use rusqlite::hooks::{AuthAction, AuthContext, Authorization};

/// A role with the network, by what it may write.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Hand {
    /// The page: what the household states, keys to the page, the codes of monitors' users, which it cannot read, codes
    /// that let listeners in, and whether one is shut out.
    Page,
    /// Delivery to a clinic: the ledger of what is there.
    Delivery,
    /// Reminders: the ledger of what was told.
    Reminders,
    /// The record's door: frames and clock samples that listeners hand on are added, and who heard them.
    Record,
    /// A listener that hands on: how far it is, and what the record tells it of the time. Which record that is, and for
    /// how long frames are kept here, are a person's to say.
    Listener,
}

/// What is derived from frames and statements, which every role may bring up to date.
const DERIVED: [&str; 6] = [
    "basis",
    "settled",
    "connection",
    "reading",
    "judgement",
    "session",
];

/// Pragmas that a role uses with a value. Others could take the guards off (`writable_schema`, `foreign_keys`).
const PRAGMAS: [&str; 3] = ["cache_size", "query_only", "max_page_count"];

impl Hand {
    fn own(self) -> &'static [&'static str] {
        match self {
            Self::Page => &["page_key", "page_session", "page_link", "consent"],
            Self::Delivery => &["delivery", "clinic"],
            Self::Reminders => &["alert", "watched"],
            Self::Record => &["listener", "listener_code", "hearing", "room"],
            Self::Listener => &[],
        }
    }

    fn writes(self, table: &str) -> bool {
        // Where frames come in, or go out, nothing is derived.
        let derives = !matches!(self, Self::Record | Self::Listener);
        derives && DERIVED.contains(&table) || self.own().contains(&table)
    }

    /// What a person states on the page is added, with its digest, and so is what a listener heard; whether it can be
    /// changed is nobody's choice.
    fn adds(self, table: &str) -> bool {
        self.writes(table)
            || match self {
                Self::Page => ["statement", "link", "listener_code"].contains(&table),
                Self::Record => ["frame", "gateway_clock", "link"].contains(&table),
                Self::Listener => ["gateway_clock", "link"].contains(&table),
                _ => false,
            }
    }

    fn may(self, action: &AuthAction<'_>) -> bool {
        match action {
            // What opens a monitor to somebody is the collector's to know.
            AuthAction::Read {
                table_name: "consent",
                column_name,
            } => self == Self::Page && *column_name != "code",
            AuthAction::Select
            | AuthAction::Read { .. }
            | AuthAction::Recursive
            | AuthAction::Function { .. }
            | AuthAction::Transaction { .. }
            | AuthAction::Savepoint { .. }
            | AuthAction::Pragma {
                pragma_value: None, ..
            } => true,
            AuthAction::Pragma { pragma_name, .. } => PRAGMAS.contains(pragma_name),
            AuthAction::Insert { table_name } => self.adds(table_name),
            // It lets a listener in by a code, and shuts one out: neither its key nor its name is the page's to change.
            AuthAction::Update {
                table_name: "listener",
                column_name: "withdrawn_us" | "closed_us",
            } if self == Self::Page => true,
            AuthAction::Update {
                table_name: "record",
                column_name: "through" | "told_us" | "problem",
            } => self == Self::Listener,
            AuthAction::Update { table_name, .. } | AuthAction::Delete { table_name } => {
                self.writes(table_name)
            }
            // Everything else changes tables or triggers, or brings another file in.
            _ => false,
        }
    }
}

impl Journal {
    /// Lets this connection write what `hand` may, and nothing else from here on.
    pub fn only_for(mut self, hand: Hand) -> Result<Self, JournalError> {
        let judge = move |asked: AuthContext<'_>| {
            if hand.may(&asked.action) {
                Authorization::Allow
            } else {
                Authorization::Deny
            }
        };
        self.db
            .authorizer(Some(judge))
            .map_err(|error| JournalError::from_sqlite(&self.path, error))?;
        Ok(self)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::journal::UserConsent;

    /// What somebody would want to say to the journal who has got hold of a role's connection. An attacker's list: each
    /// would forge, change or hide a frame, or take off what guards them.
    const ATTACKS: [&str; 16] = [
        "INSERT INTO frame (received_us, offset_s, monitor, connection, characteristic, value)
             VALUES (1, 0, 'C0:FF:EE:00:00:01', 1, '2a35', x'00')",
        "INSERT OR REPLACE INTO frame SELECT * FROM frame",
        "UPDATE frame SET value = x'01'",
        "DELETE FROM frame",
        "DELETE FROM statement",
        "WITH one AS (SELECT 1) INSERT INTO gateway_clock SELECT 1, 1, 1, 1, 1, 1 FROM one",
        "INSERT INTO attribute DEFAULT VALUES",
        "DROP TRIGGER frame_is_never_changed",
        "DROP TABLE frame",
        "ALTER TABLE frame RENAME TO old",
        "CREATE TRIGGER mine AFTER INSERT ON reading BEGIN DELETE FROM frame; END",
        "CREATE TEMP TRIGGER mine AFTER INSERT ON main.reading BEGIN DELETE FROM main.frame; END",
        "CREATE VIEW mine AS SELECT 1",
        "PRAGMA writable_schema = on",
        "PRAGMA recursive_triggers = off",
        "ATTACH 'other.sqlite' AS other",
    ];

    fn refused(journal: &Journal, sql: &str) -> bool {
        matches!(
            journal.db.execute_batch(sql),
            Err(rusqlite::Error::SqliteFailure(failure, _)) if failure.code == rusqlite::ErrorCode::AuthorizationForStatementDenied
        )
    }

    #[test]
    fn a_role_with_the_network_forges_and_hides_nothing() {
        for hand in [Hand::Page, Hand::Delivery, Hand::Reminders, Hand::Listener] {
            let dir = tempfile::tempdir().unwrap();
            let journal = Journal::open(dir.path()).unwrap().only_for(hand).unwrap();
            for sql in ATTACKS {
                let told = hand == Hand::Listener && sql.contains("INTO gateway_clock");
                assert!(refused(&journal, sql) != told, "{hand:?}: {sql}");
            }
        }
    }

    /// It adds frames and clock samples: that is what it is for. It changes, replaces and hides none.
    #[test]
    fn the_records_door_adds_and_changes_nothing() {
        let dir = tempfile::tempdir().unwrap();
        let journal = Journal::open(dir.path()).unwrap().only_for(Hand::Record).unwrap();
        for sql in ATTACKS {
            let adds = sql == ATTACKS[0] || sql.contains("INTO gateway_clock");
            if adds {
                journal.db.execute_batch(sql).unwrap();
            } else if sql.starts_with("INSERT OR REPLACE") {
                // SQLite asks for the right to insert alone, and the journal's own guards do the rest: the same frame is
                // left out, and another in its place is refused.
                journal.db.execute_batch(sql).unwrap();
                let other = "REPLACE INTO frame (id, received_us, offset_s, monitor, connection, characteristic, value)
                             SELECT id, 2, 0, monitor, 1, '2a35', x'01' FROM frame";
                let said = journal.db.execute_batch(other).unwrap_err().to_string();
                assert!(said.contains("never replaced"), "{said}");
            } else {
                assert!(refused(&journal, sql), "{sql}");
            }
        }
        let value: Vec<u8> = journal
            .db
            .query_row("SELECT value FROM frame", [], |row| row.get(0))
            .unwrap();
        assert_eq!((journal.frame_count().unwrap(), value), (1, vec![0]));
    }

    /// Otherwise whoever takes that role over could have frames let go that no record holds.
    #[test]
    fn who_hands_on_says_how_far_it_is_and_not_what_leaves() {
        let dir = tempfile::tempdir().unwrap();
        let journal = Journal::open(dir.path())
            .unwrap()
            .only_for(Hand::Listener)
            .unwrap();
        for sql in [
            "UPDATE record SET keep_days = 0",
            "UPDATE record SET at = 'other:1'",
            "UPDATE record SET key = x'00'",
            "UPDATE record SET through = 1, joined_us = 0",
            "INSERT INTO record (one, at, key, joined_us) VALUES (1, 'other:1', x'00', 0)",
            "DELETE FROM record",
            "INSERT INTO held DEFAULT VALUES",
            "INSERT INTO let_go DEFAULT VALUES",
            "UPDATE let_go SET through = 1000000",
        ] {
            assert!(refused(&journal, sql), "{sql}");
        }
        journal
            .db
            .execute_batch("UPDATE record SET through = 1, told_us = 1, problem = NULL")
            .unwrap();
    }

    #[test]
    fn no_role_with_the_network_reads_a_code() {
        let dir = tempfile::tempdir().unwrap();
        for hand in [
            Hand::Page,
            Hand::Delivery,
            Hand::Reminders,
            Hand::Record,
            Hand::Listener,
        ] {
            let journal = Journal::open(dir.path()).unwrap().only_for(hand).unwrap();
            for sql in [
                "SELECT code FROM consent",
                "SELECT * FROM consent",
                "SELECT 1 FROM consent WHERE code > 4999",
            ] {
                assert!(refused(&journal, sql), "{hand:?}: {sql}");
            }
        }
        let (page, monitor) = (
            Journal::open(dir.path()).unwrap().only_for(Hand::Page),
            "m1".parse().unwrap(),
        );
        let (mut page, given) = (page.unwrap(), jiff::Timestamp::UNIX_EPOCH);
        let (user, code) = (Some(1), "0042".parse().unwrap());
        for _ in 0..2 {
            page.give_consent(&monitor, &UserConsent { user, code, given })
                .unwrap();
        }
        assert_eq!(page.consented(&monitor).unwrap(), [(user, given)]);
        assert!(page.withdraw_consent(&monitor, user).unwrap());
        page.withdraw_consents(&monitor).unwrap();
    }

    #[test]
    fn a_role_writes_its_own_ledger_and_no_others() {
        let tables = [
            "statement",
            "link",
            "page_key",
            "page_session",
            "page_link",
            "consent",
            "delivery",
            "clinic",
            "alert",
            "watched",
            "listener",
            "listener_code",
            "hearing",
            "room",
            "record",
            "frame",
            "gateway_clock",
            "reading",
        ];
        let hands = [
            (Hand::Page, 8),
            (Hand::Delivery, 3),
            (Hand::Reminders, 3),
            (Hand::Record, 7),
            (Hand::Listener, 2),
        ];
        for (hand, count) in hands {
            let dir = tempfile::tempdir().unwrap();
            let journal = Journal::open(dir.path()).unwrap().only_for(hand).unwrap();
            let written = tables
                .iter()
                .filter(|table| !refused(&journal, &format!("INSERT INTO {table} DEFAULT VALUES")));
            assert_eq!(written.count(), count, "{hand:?}");
        }
    }
}
