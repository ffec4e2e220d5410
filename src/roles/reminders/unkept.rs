//! A disk that takes nothing: no reading can be kept then, and no word in the ledger of what was told. Somebody has to hear
//! of it all the same.

use crate::home::alerts::channel::Channel;
use crate::home::alerts::error::ChannelError;
use crate::home::alerts::routes::Alerts;
use crate::journal::JournalError;
use crate::monitoring::reminders::{Deaf, Kind, Reminder};
use crate::monitoring::stated::Stated;
use jiff::Timestamp;
use std::collections::{BTreeMap, BTreeSet};
use std::time::{Duration, Instant};
use tokio::task::JoinSet;

/// What was told by a route, and what became of it.
pub(super) type Unnoted = (String, Result<(), ChannelError>);

/// A disk that has room by turns is one matter, and told once, as long as it was full within this (own choice).
const SAME_MATTER: Duration = Duration::from_hours(1);

/// Nothing can be kept, or could not lately, and who was told. That stands in memory alone: after a restart it may be told
/// again.
pub(super) struct Unkept {
    since: Timestamp,
    tried: Instant,
    told: BTreeSet<String>,
    /// There is room again.
    over: bool,
}

impl Unkept {
    pub(super) fn since(now: Timestamp) -> Self {
        Self {
            since: now,
            tried: Instant::now(),
            told: BTreeSet::new(),
            over: false,
        }
    }

    /// Whether nothing can be kept now.
    pub(super) const fn holds(&self) -> bool {
        !self.over
    }

    /// Whether it is too early to try again.
    pub(super) fn rests(&self, pause: Duration) -> bool {
        self.holds() && self.tried.elapsed() < pause
    }

    /// Something could be kept.
    pub(super) fn ends(&mut self) {
        (self.over, self.tried) = (true, Instant::now());
    }

    /// Nothing can be kept again: the same matter, or another where this one was over long ago.
    pub(super) fn again(self, now: Timestamp) -> Self {
        if self.over && self.tried.elapsed() > SAME_MATTER {
            return Self::since(now);
        }
        Self { over: false, ..self }
    }

    /// Tells it once by each way that is told when nothing can be received, when it is not quiet there.
    pub(super) fn tell(
        &mut self,
        why: &JournalError,
        (alerts, channels): (&Alerts, &BTreeMap<String, Channel>),
        stated: &Stated,
        telling: &mut JoinSet<Unnoted>,
    ) {
        self.tried = Instant::now();
        let now = Timestamp::now();
        let deaf = Deaf {
            since: self.since,
            from: Some(self.since),
            why: why.to_string(),
        };
        let Some(reminder) = Reminder::of_deaf(&deaf) else {
            return;
        };
        for route in &alerts.route {
            let waits = self.told.contains(&route.name)
                || !route.takes(Kind::DaemonDeaf, None)
                || alerts.is_quiet(route, &stated.zones, now);
            let channel = channels.get(&route.name).filter(|_| !waits);
            if let Some(channel) = channel.cloned() {
                let voice = alerts.voice(route, &stated.household, &stated.zones);
                let (message, route) = (voice.say(&reminder, now), route.name.clone());
                self.told.insert(route.clone());
                telling.spawn(async move {
                    let sent = channel.send(&route, &message).await;
                    (route, sent)
                });
            }
        }
    }

    /// On this route it failed: it is told again.
    pub(super) fn not_told(&mut self, route: &str) {
        self.told.remove(route);
    }
}
