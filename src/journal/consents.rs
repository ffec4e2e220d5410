//! The codes by which monitors that keep their users apart let us at their readings. They are no statements: they say
//! nothing about a reading, nobody is to read them, and one that was withdrawn is to be forgotten.

use super::{Journal, JournalError};
use crate::gatt::ConsentCode;
use crate::household::{MonitorAddress, MonitorId};
use jiff::Timestamp;
use rusqlite::params;

/// What stands for a user's index until the monitor has registered them: no monitor has such an index.
const TO_REGISTER: i64 = -1;

/// A user's consent, as somebody of the household gave it.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct UserConsent {
    /// The user's index on the monitor; without one, the monitor is to register a new user.
    pub user: Option<u8>,
    /// The code that the monitor asks for.
    pub code: ConsentCode,
    /// When it was given.
    pub given: Timestamp,
}

impl Journal {
    /// Keeps a consent; it takes the place of the one before for the same user.
    pub fn give_consent(&mut self, monitor: &MonitorId, consent: &UserConsent) -> Result<(), JournalError> {
        self.in_context(|db| {
            db.execute(
                "INSERT OR REPLACE INTO consent (monitor, user, code, given_us) VALUES (?1, ?2, ?3, ?4)",
                params![
                    monitor.as_str(),
                    consent.user.map_or(TO_REGISTER, i64::from),
                    consent.code.expose(),
                    consent.given.as_microsecond()
                ],
            )
            .map(|_| ())
        })
    }

    /// Every consent for a monitor, by user; one that is to be registered comes first.
    pub fn consents(&self, monitor: &MonitorId) -> Result<Vec<UserConsent>, JournalError> {
        self.in_context(|db| {
            let mut query = db.prepare_cached(
                "SELECT user, code, given_us FROM consent WHERE monitor = ?1 ORDER BY user",
            )?;
            let rows = query.query_map([monitor.as_str()], |row| {
                Ok((
                    row.get::<_, i64>(0)?,
                    row.get::<_, u16>(1)?,
                    row.get::<_, i64>(2)?,
                ))
            })?;
            let mut consents = Vec::new();
            for row in rows {
                let (user, code, given) = row?;
                if let (Some(code), Ok(given)) = (ConsentCode::new(code), Timestamp::from_microsecond(given))
                {
                    let user = u8::try_from(user).ok();
                    consents.push(UserConsent { user, code, given });
                }
            }
            Ok(consents)
        })
    }

    /// For whom a consent is kept, and since when, without the codes.
    pub fn consented(&self, monitor: &MonitorId) -> Result<Vec<(Option<u8>, Timestamp)>, JournalError> {
        self.in_context(|db| {
            let mut query =
                db.prepare_cached("SELECT user, given_us FROM consent WHERE monitor = ?1 ORDER BY user")?;
            let rows = query.query_map([monitor.as_str()], |row| {
                Ok((row.get::<_, i64>(0)?, row.get::<_, i64>(1)?))
            })?;
            let of =
                |(user, given)| Some((u8::try_from(user).ok(), Timestamp::from_microsecond(given).ok()?));
            rows.filter_map(|row| row.map(of).transpose()).collect()
        })
    }

    /// Forgets one user's consent, or that one is to be registered. Whether there was one.
    pub fn withdraw_consent(&mut self, monitor: &MonitorId, user: Option<u8>) -> Result<bool, JournalError> {
        self.in_context(|db| {
            db.execute(
                "DELETE FROM consent WHERE monitor = ?1 AND user = ?2",
                params![monitor.as_str(), user.map_or(TO_REGISTER, i64::from)],
            )
            .map(|gone| gone > 0)
        })
    }

    /// Forgets every consent for a monitor, as with the monitor itself.
    pub fn withdraw_consents(&mut self, monitor: &MonitorId) -> Result<(), JournalError> {
        self.in_context(|db| {
            db.execute("DELETE FROM consent WHERE monitor = ?1", [monitor.as_str()])
                .map(|_| ())
        })
    }

    /// The monitor at that address has registered the user who was waiting for it.
    pub fn registered(&mut self, address: &MonitorAddress, user: u8) -> Result<(), JournalError> {
        let household = self.household()?;
        let Some(monitor) = household.addresses.get(address) else {
            return Ok(());
        };
        self.in_context(|db| {
            db.execute(
                "UPDATE OR REPLACE consent SET user = ?2 WHERE monitor = ?1 AND user = ?3",
                params![monitor.as_str(), user, TO_REGISTER],
            )
            .map(|_| ())
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::household::{Monitor, Statement};

    fn code(number: u16) -> ConsentCode {
        ConsentCode::new(number).unwrap()
    }

    fn consent(user: Option<u8>, number: u16) -> UserConsent {
        UserConsent {
            user,
            code: code(number),
            given: Timestamp::UNIX_EPOCH,
        }
    }

    #[test]
    fn a_code_is_kept_until_it_is_replaced_or_withdrawn_and_is_no_statement() {
        let dir = tempfile::tempdir().unwrap();
        let mut journal = Journal::open(dir.path()).unwrap();
        let (m1, m2): (MonitorId, MonitorId) = ("m1".parse().unwrap(), "m2".parse().unwrap());
        journal.give_consent(&m1, &consent(Some(2), 7)).unwrap();
        journal.give_consent(&m1, &consent(Some(1), 42)).unwrap();
        journal.give_consent(&m1, &consent(Some(2), 9999)).unwrap();
        assert_eq!(
            journal.consents(&m1).unwrap(),
            [consent(Some(1), 42), consent(Some(2), 9999)]
        );
        assert_eq!(journal.consents(&m2).unwrap(), []);
        assert!(journal.withdraw_consent(&m1, Some(1)).unwrap());
        assert!(!journal.withdraw_consent(&m1, Some(1)).unwrap());
        journal.withdraw_consents(&m1).unwrap();
        assert_eq!(journal.consents(&m1).unwrap(), []);
    }

    #[test]
    fn who_was_to_be_registered_gets_the_index_that_the_monitor_gave() {
        let dir = tempfile::tempdir().unwrap();
        let mut journal = Journal::open(dir.path()).unwrap();
        let monitor: MonitorId = "m1".parse().unwrap();
        let address: MonitorAddress = [0xc0, 0xff, 0xee, 0, 0, 1].into();
        let details = Monitor {
            address: Some(address.clone()),
            ..Monitor::default()
        };
        let enrolled = Statement::Monitor {
            monitor: monitor.clone(),
            details,
        };
        journal.state(Timestamp::UNIX_EPOCH, &[enrolled]).unwrap();
        journal.give_consent(&monitor, &consent(None, 42)).unwrap();
        assert_eq!(journal.consents(&monitor).unwrap(), [consent(None, 42)]);
        journal.registered(&address, 3).unwrap();
        assert_eq!(journal.consents(&monitor).unwrap(), [consent(Some(3), 42)]);
    }
}
