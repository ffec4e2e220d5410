//! What a listener does not keep for ever: frames that its record has held for as long as it was told to keep them.
//!
//! The record may have to be put back from a backup, and then lacks what came after it. So a frame leaves only once the
//! record has held it for days. Its digest stays: what was not let go is still held against the whole chain.

use super::frames::OWN_CONNECTIONS;
use super::{Journal, JournalError, chain, derived};
use jiff::{SignedDuration, Timestamp};
use rusqlite::{Connection, OptionalExtension, Transaction, TransactionBehavior, params};

/// Frames that leave at once at most: the radio's frames wait meanwhile.
const AT_ONCE_MAX: i64 = 4096;
/// What the record holds is noted so often: a row a day.
const NOTED: SignedDuration = SignedDuration::from_hours(24);

/// The frames that are not here any more.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct LetGo {
    /// The number of the last one.
    pub through: i64,
    /// How many there were.
    pub frames: i64,
}

impl Journal {
    /// Removes frames that the record has held for long enough, oldest first, and says how many. `now` is the time of a
    /// clock that is known to be right.
    ///
    /// A machine where people are known has a household of its own, and one that others hand on to is a record: both
    /// keep everything.
    pub fn let_go(&mut self, now: Timestamp) -> Result<usize, JournalError> {
        if !self.household()?.people.is_empty() {
            return Ok(0);
        }
        self.in_context(|db| let_go(db, now))
    }

    /// The frames that were let go, if any were.
    pub fn was_let_go(&self) -> Result<Option<LetGo>, JournalError> {
        self.in_context(|db| {
            db.query_row("SELECT through, frames FROM let_go", [], |row| {
                Ok(LetGo {
                    through: row.get(0)?,
                    frames: row.get(1)?,
                })
            })
            .optional()
        })
    }

    /// Keeps frames for so many days after the record held them. `false` where there is no record.
    pub fn keep_for(&mut self, days: u16) -> Result<bool, JournalError> {
        self.in_context(|db| {
            db.execute("UPDATE record SET keep_days = ?1", [days])
                .map(|changed| changed == 1)
        })
    }
}

fn let_go(db: &Connection, now: Timestamp) -> rusqlite::Result<usize> {
    let transaction = Transaction::new_unchecked(db, TransactionBehavior::Immediate)?;
    let record = transaction
        .query_row(
            "SELECT through, keep_days FROM record WHERE NOT EXISTS (SELECT 1 FROM hearing)",
            [],
            |row| Ok((row.get(0)?, row.get(1)?)),
        )
        .optional()?;
    let Some((held, days)) = record else { return Ok(0) };
    note(&transaction, held, now)?;
    let Some(through) = due(&transaction, held, days, now)? else {
        transaction.commit()?;
        return Ok(0);
    };
    // Nothing that stays may rest on what goes: what is left is derived anew by whoever asks for it.
    derived::clear(&transaction)?;
    transaction.execute("DELETE FROM settled", [])?;
    // The guards of the table let go what is written down here first.
    transaction.execute(
        "INSERT INTO let_go (one, through, frames) VALUES (1, ?1, (SELECT count(*) FROM frame WHERE id <= ?1))
         ON CONFLICT (one) DO UPDATE SET through = excluded.through, frames = frames + excluded.frames",
        [through],
    )?;
    let gone = transaction.execute("DELETE FROM frame WHERE id <= ?1", [through])?;
    transaction.commit()?;
    Ok(gone)
}

/// Notes up to where the record holds everything, once a day. A note that says more than it holds now is of before it
/// was put back from a backup, and one of a day to come is of a clock that was wrong.
fn note(db: &Connection, held: i64, now: Timestamp) -> rusqlite::Result<()> {
    let now_us = now.as_microsecond();
    db.execute(
        "DELETE FROM held WHERE through > ?1 OR told_us > ?2",
        params![held, now_us],
    )?;
    let last: Option<i64> = db.query_row("SELECT max(told_us) FROM held", [], |row| row.get(0))?;
    if last.is_none_or(|last| last + i64::try_from(NOTED.as_micros()).unwrap_or(0) <= now_us) {
        db.execute(
            "INSERT OR IGNORE INTO held (through, told_us) VALUES (?1, ?2)",
            params![held, now_us],
        )?;
    }
    Ok(())
}

/// Up to where frames are to leave: whole links of the chain only, never the last frame that the record holds, by which
/// the two know each other, and nothing behind a frame that came here by another way than the radio.
fn due(db: &Connection, held: i64, days: u16, now: Timestamp) -> rusqlite::Result<Option<i64>> {
    let since = now - SignedDuration::from_hours(24 * i64::from(days));
    let long_held: Option<i64> = db.query_row(
        "SELECT max(through) FROM held WHERE told_us <= ?1",
        [since.as_microsecond()],
        |row| row.get(0),
    )?;
    let (first, own): (Option<i64>, Option<i64>) = db.query_row(
        "SELECT min(id), min(id) FILTER (WHERE connection >= ?1) FROM frame",
        [OWN_CONNECTIONS],
        |row| Ok((row.get(0)?, row.get(1)?)),
    )?;
    let (Some(long_held), Some(first)) = (long_held, first) else {
        return Ok(None);
    };
    let last = long_held
        .min(held - 1)
        .min(own.unwrap_or(i64::MAX) - 1)
        .min(first + AT_ONCE_MAX);
    Ok(chain::whole_up_to(db, "frame", last)?.filter(|through| *through >= first))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::frame::Frame;
    use crate::gatt::Characteristic;
    use crate::household::{Person, Statement};

    const DAY: SignedDuration = SignedDuration::from_hours(24);

    fn start() -> Timestamp {
        Timestamp::from_second(1_772_000_000).unwrap()
    }

    /// A listener whose bursts of three frames the record holds up to the end of a burst.
    fn listener(bursts: i64, held: i64) -> (tempfile::TempDir, Journal) {
        let dir = tempfile::tempdir().unwrap();
        let mut journal = Journal::open(dir.path()).unwrap();
        for burst in 0..bursts {
            let frame = |n| Frame {
                received_at: start() + SignedDuration::from_secs(burst * 60 + n),
                offset: jiff::tz::Offset::UTC,
                uptime: None,
                given_to: None,
                overheard: false,
                monitor: [0xc0, 0xff, 0xee, 0, 0, 1].into(),
                connection: u32::try_from(burst + 1).unwrap(),
                characteristic: Characteristic::BLOOD_PRESSURE_MEASUREMENT,
                value: vec![0, u8::try_from(120 + burst * 3 + n).unwrap(), 0, 82, 0, 97, 0],
            };
            journal.append(&[0, 1, 2].map(frame)).unwrap();
        }
        journal.join_record("record:8419", &[7; 32], start()).unwrap();
        journal.record_holds(held * 3, start()).unwrap();
        (dir, journal)
    }

    fn kept(journal: &Journal) -> Vec<i64> {
        let heard = journal.to_hand_on(0, 1000).unwrap();
        heard.iter().map(|heard| heard.sequence).collect()
    }

    #[test]
    fn what_the_record_has_held_for_long_leaves_and_nothing_else() {
        let (_dir, mut journal) = listener(4, 3);
        journal.settle().unwrap();
        assert_eq!(journal.let_go(start()).unwrap(), 0);
        assert_eq!(journal.let_go(start() + DAY * 89).unwrap(), 0);
        // The last frame that it holds stays, and with it that burst.
        assert_eq!(journal.let_go(start() + DAY * 90).unwrap(), 6);
        assert_eq!(kept(&journal), (7..=12).collect::<Vec<_>>());
        assert_eq!(
            journal.was_let_go().unwrap(),
            Some(LetGo {
                through: 6,
                frames: 6
            })
        );
        assert_eq!(journal.let_go(start() + DAY * 400).unwrap(), 0);
        // The digests hold, and what is left can be derived.
        let chain = journal.chain().unwrap();
        assert!(chain.holds(), "{}", chain.named());
        journal.settle().unwrap();
        assert_eq!(journal.readings_and_set_aside().unwrap().0, 6);
        // More is written and held, and leaves in its turn.
        journal.record_holds(12, start() + DAY * 400).unwrap();
        assert_eq!(journal.let_go(start() + DAY * 401).unwrap(), 3);
        assert_eq!(journal.let_go(start() + DAY * 491).unwrap(), 0);
        assert!(journal.chain().unwrap().holds());
        // What is lost otherwise is named as ever.
        journal
            .db
            .execute_batch("DROP TRIGGER frame_is_never_deleted; DELETE FROM frame WHERE id = 11")
            .unwrap();
        assert_eq!(journal.chain().unwrap().named(), "row 11 of `frame` was lost");
    }

    #[test]
    fn a_record_that_was_put_back_gets_its_days_anew() {
        let (_dir, mut journal) = listener(4, 3);
        journal.let_go(start()).unwrap();
        journal.record_holds(3, start() + DAY * 80).unwrap();
        journal.let_go(start() + DAY * 80).unwrap();
        journal.record_holds(9, start() + DAY * 80).unwrap();
        assert_eq!(journal.let_go(start() + DAY * 100).unwrap(), 0);
        assert_eq!(journal.let_go(start() + DAY * 190).unwrap(), 6);
    }

    #[test]
    fn nothing_leaves_without_a_record_or_where_people_are_known_or_by_a_clock_of_the_future() {
        let (_dir, mut journal) = listener(4, 3);
        journal.let_go(start() + DAY * 9000).unwrap();
        assert_eq!(journal.let_go(start()).unwrap(), 0);
        assert_eq!(journal.let_go(start() + DAY * 30).unwrap(), 0);
        let person = Statement::Person {
            person: "asha".parse().unwrap(),
            details: Person::default(),
        };
        journal.state(start(), &[person]).unwrap();
        assert_eq!(journal.let_go(start() + DAY * 400).unwrap(), 0);

        let (_dir, mut journal) = listener(4, 3);
        journal.let_go(start()).unwrap();
        journal.leave_record().unwrap();
        assert_eq!(journal.let_go(start() + DAY * 400).unwrap(), 0);
        assert!(!journal.keep_for(7).unwrap());
    }

    #[test]
    fn without_a_row_that_says_so_the_guards_let_no_frame_go() {
        let (_dir, journal) = listener(1, 1);
        let deleted = journal.db.execute_batch("DELETE FROM frame WHERE id = 1");
        assert!(deleted.unwrap_err().to_string().contains("never deleted"));
    }
}
