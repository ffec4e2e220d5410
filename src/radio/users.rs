//! What is known of the users of one monitor that keeps them apart (User Data Service): the consents that the household
//! gave, and what came of them on a connection.

use super::report::{Need, UsersReport};
use crate::gatt::{Characteristic, UserControl};
use crate::journal::UserConsent;
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};
use tokio::sync::Notify;
use tokio::time::timeout;

/// How long a monitor may take to answer its control point: as long as for any question of the Attribute Protocol (Core
/// Vol 3 Part F 3.3.3).
const ANSWER_LIMIT: Duration = Duration::from_secs(30);
/// Answers of the control point on one connection; more are not kept. Each of a monitor's users is asked for once.
const ANSWERS_MAX: u32 = 64;

/// How a monitor answered a request at its User Control Point.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) struct ControlPointAnswer {
    /// The response value.
    pub(super) value: u8,
    /// The index that a new user has got.
    pub(super) registered: Option<u8>,
}

/// What the connections of one monitor know of its users.
#[derive(Debug, Default)]
pub(super) struct MonitorUsers {
    state: Mutex<State>,
    told: Notify,
    changed: Notify,
    /// Overrides the limit for an answer.
    pub(super) limit: Option<Duration>,
}

#[derive(Debug, Default)]
struct State {
    consents: Vec<UserConsent>,
    /// Those that the monitor did not accept: it may lock itself after a few, so that none is said twice.
    wrong: Vec<UserConsent>,
    /// Those that it has registered, with the index that each has got.
    registered: Vec<(UserConsent, u8)>,
    /// It sent readings without anybody's consent.
    speaks_freely: bool,
    asked: Option<u8>,
    said: Option<ControlPointAnswer>,
    /// Of this connection.
    values: u32,
    has: bool,
    refuses: bool,
    given: Vec<u8>,
}

impl State {
    /// A consent that the monitor has registered meanwhile has an index, also where the journal does not know it yet.
    fn known(&self, consent: UserConsent) -> UserConsent {
        let same = |(one, _): &&(UserConsent, u8)| *one == consent;
        let user = self.registered.iter().find(same).map(|(_, user)| *user);
        UserConsent {
            user: consent.user.or(user),
            ..consent
        }
    }
}

impl MonitorUsers {
    fn state(&self) -> MutexGuard<'_, State> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// These are the consents now.
    pub(super) fn know(&self, consents: Vec<UserConsent>) {
        let mut state = self.state();
        let consents: Vec<UserConsent> = consents.into_iter().map(|one| state.known(one)).collect();
        if state.consents != consents {
            state.wrong.retain(|one| consents.contains(one));
            state.consents = consents;
            self.changed.notify_one();
        }
    }

    /// Waits until the consents have changed.
    pub(super) async fn changed(&self) {
        self.changed.notified().await;
    }

    /// The consents that are worth giving on this connection.
    pub(super) fn to_give(&self) -> Vec<UserConsent> {
        let state = self.state();
        let worth = |one: &&UserConsent| {
            !state.wrong.contains(one) && one.user.is_none_or(|user| !state.given.contains(&user))
        };
        state.consents.iter().filter(worth).copied().collect()
    }

    /// The monitor has a User Control Point.
    pub(super) fn has(&self) {
        self.state().has = true;
    }

    /// It refused something before anybody's consent was given.
    pub(super) fn refuses(&self) {
        let mut state = self.state();
        if state.given.is_empty() {
            state.refuses = true;
        }
    }

    /// How many consents it has accepted on this connection.
    pub(super) fn accepted_so_far(&self) -> usize {
        self.state().given.len()
    }

    /// A request is written.
    pub(super) fn begin(&self, op_code: u8) {
        let mut state = self.state();
        state.asked = Some(op_code);
        state.said = None;
    }

    /// A value came; `false` where there were too many on this connection, and it is not to be kept.
    pub(super) fn heard(&self, kind: Characteristic, value: &[u8]) -> bool {
        if kind != Characteristic::USER_CONTROL_POINT {
            return true;
        }
        let mut state = self.state();
        state.values += 1;
        let said = UserControl::decode(value).ok();
        if let Some((to, value)) = said.and_then(UserControl::response)
            && state.asked == Some(to)
        {
            let registered = said.and_then(UserControl::registered);
            state.said = Some(ControlPointAnswer { value, registered });
            state.asked = None;
        }
        self.told.notify_one();
        state.values <= ANSWERS_MAX
    }

    /// Waits for the answer to the request; `None` where none comes.
    pub(super) async fn answered(&self) -> Option<ControlPointAnswer> {
        let until = Instant::now() + self.limit.unwrap_or(ANSWER_LIMIT);
        loop {
            if let Some(said) = self.state().said.take() {
                return Some(said);
            }
            let left = until.checked_duration_since(Instant::now())?;
            let _ = timeout(left, self.told.notified()).await;
        }
    }

    /// The monitor accepted a consent, of the user with this index.
    pub(super) fn accepted(&self, user: u8) {
        let mut state = self.state();
        state.given.push(user);
        state.refuses = false;
    }

    /// It did not accept one: that one is not given again.
    pub(super) fn not_accepted(&self, consent: UserConsent) {
        self.state().wrong.push(consent);
    }

    /// It has registered a new user under this index.
    pub(super) fn registered(&self, consent: UserConsent, user: u8) {
        let mut state = self.state();
        state.registered.push((consent, user));
        for one in &mut state.consents {
            if *one == consent {
                one.user = Some(user);
            }
        }
    }

    /// The connection has ended, and brought so many values. What is to be said of it; `None` where the monitor does
    /// not keep its users apart.
    pub(super) fn ended(&self, values: u32) -> Option<UsersReport> {
        let mut state = self.state();
        let given = std::mem::take(&mut state.given);
        let refuses = std::mem::take(&mut state.refuses);
        state.values = 0;
        state.asked = None;
        if !std::mem::take(&mut state.has) {
            return None;
        }
        if given.is_empty() && values > 0 {
            state.speaks_freely = true;
        }
        let silent = values == 0 && !state.speaks_freely;
        let needs = match (given.is_empty(), refuses) {
            (true, true) => Some(Need::Refuses),
            (true, false) if silent => Some(Need::Silent),
            _ => None,
        };
        Some(UsersReport {
            given,
            wrong: state.wrong.iter().filter_map(|one| one.user).collect(),
            not_registered: state.wrong.iter().any(|one| one.user.is_none()),
            needs,
        })
    }
}
