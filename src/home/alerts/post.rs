//! What goes out next: the rules between what is worth saying, the routes, and the ledger.
//!
//! - A matter is offered to a route once, claimed and committed before it is sent, and marked as sent after.
//! - What is not urgent waits for the end of quiet hours; what is over by then is let go.
//! - A channel that fails is left alone for longer and longer. What it could not say in time is told once, in
//!   a word on what it was, when it works again.
//! - One message at a time on each route, so that a slow one holds up nobody else.
//!
//! It sends nothing itself and reads no clock: a caller does both, so that a year can be tried in a second.

use super::look::Look;
use super::message::{Message, Voice};
use super::routes::{Alerts, Medium, Route};
use crate::journal::{AlertEntry, Journal, JournalError, Standing};
use crate::monitoring::reminders::{Kind, QuietHours, Reminder};
use jiff::{SignedDuration, Timestamp};
use std::collections::{BTreeMap, BTreeSet};

/// After the first failure of a channel: a restart of a router or a server takes less than a few of these.
const BACK_OFF_FIRST: SignedDuration = SignedDuration::from_secs(30);
/// A channel that is down for long is tried so often: something urgent is late by that much once it is back.
const BACK_OFF_MAX: SignedDuration = SignedDuration::from_mins(10);
/// Rows of the ledger are kept for so long after they were settled: a year, for whoever asks who was told.
const KEPT: SignedDuration = SignedDuration::from_hours(400 * 24);
/// How often old rows are looked for.
const FORGET_EVERY: SignedDuration = SignedDuration::from_hours(24);

/// Something to be sent now.
#[derive(Clone, PartialEq, Debug)]
pub struct Job {
    /// Which route of the configuration.
    pub route: String,
    /// The message that is to be sent.
    pub message: Message,
    /// The rows of the ledger that it settles beside its own.
    lapsed: Vec<String>,
}

/// The rules, and how each channel is doing.
#[derive(Debug)]
pub struct Post {
    alerts: Alerts,
    channels: BTreeMap<String, Doing>,
    forgot: Option<Timestamp>,
}

/// How a channel is doing.
#[derive(Clone, Copy, Debug, Default)]
struct Doing {
    busy: bool,
    failures: u32,
    not_before: Option<Timestamp>,
}

impl Doing {
    /// Whether it is left alone. A pause longer than the longest one is that of a clock which was set back
    /// meanwhile.
    fn rests(self, now: Timestamp) -> bool {
        self.not_before
            .is_some_and(|at| at > now && at.duration_since(now) <= BACK_OFF_MAX)
    }
}

impl Post {
    /// Begins where the ledger stands. A row that is still claimed belongs to somebody who was killed while
    /// sending: where the receiver can tell a repeat, it is sent again. A command cannot; it runs again for
    /// what is urgent, since twice is better than never, and for nothing else.
    pub fn new(alerts: Alerts, journal: &mut Journal, now: Timestamp) -> Result<Self, JournalError> {
        let routes: BTreeMap<&str, &Route> = alerts
            .route
            .iter()
            .map(|route| (route.name.as_str(), route))
            .collect();
        for entry in journal.open_alerts()? {
            if entry.standing != Standing::Claimed {
                continue;
            }
            if folds(routes.get(entry.route.as_str()).copied()) || kind_of(&entry.key) == Some(Kind::Urgent) {
                journal.unclaim_alerts(now, &[(&entry.key, &entry.route)])?;
            } else {
                journal.alert_sent(
                    now,
                    &entry.key,
                    &entry.route,
                    Some("cut off while the command ran; not run again"),
                )?;
            }
        }
        let channels = alerts
            .route
            .iter()
            .map(|route| (route.name.clone(), Doing::default()))
            .collect();
        Ok(Self {
            alerts,
            channels,
            forgot: None,
        })
    }

    /// Brings the ledger up to what is known, and claims what is to be sent now.
    pub fn due(
        &mut self,
        journal: &mut Journal,
        look: &Look,
        now: Timestamp,
    ) -> Result<Vec<Job>, JournalError> {
        let reminders = look.reminders(self.alerts.silent(), now);
        self.offer(journal, &reminders, now)?;
        let open = journal.open_alerts()?;
        self.let_go(journal, &reminders, &open, now)?;
        self.forget(journal, &reminders, now)?;
        let open = journal.open_alerts()?;
        let mut jobs = Vec::new();
        for route in &self.alerts.route {
            let Some(doing) = self.channels.get_mut(&route.name) else {
                continue;
            };
            if doing.busy || doing.rests(now) {
                continue;
            }
            let voice = self
                .alerts
                .voice(route, &look.stated.household, &look.stated.zones);
            // What is nobody's yet may be another's than those whom this route is for: no numbers of it.
            let of_nobody = Voice {
                terse: voice.terse || route.people.is_some(),
                ..voice
            };
            let quiet = self.alerts.is_quiet(route, &look.stated.zones, now);
            let mine: Vec<&AlertEntry> = open.iter().filter(|entry| entry.route == route.name).collect();
            let next = best(&mine, &reminders, quiet, now);
            let job = match next {
                Some(reminder) => journal
                    .claim_alert(now, &reminder.key, &route.name)?
                    .then(|| Job {
                        route: route.name.clone(),
                        message: match reminder.person {
                            Some(_) => voice.say(reminder, now),
                            None => of_nobody.say(reminder, now),
                        },
                        lapsed: Vec::new(),
                    }),
                None if quiet => None,
                None => lapsed(&mine, &voice, route, now),
            };
            if let Some(job) = job {
                // A command that is cut off must not say it again.
                if !job.lapsed.is_empty() && !folds(Some(route)) {
                    journal.lapsed_alerts_told(now, &rows(&job))?;
                }
                doing.busy = true;
                jobs.push(job);
            }
        }
        Ok(jobs)
    }

    /// Takes note of what became of a job.
    pub fn done(
        &mut self,
        journal: &mut Journal,
        job: &Job,
        outcome: Result<(), &str>,
        now: Timestamp,
    ) -> Result<(), JournalError> {
        let (key, route) = (job.message.key.as_str(), job.route.as_str());
        if let Some(doing) = self.channels.get_mut(route) {
            doing.busy = false;
            match outcome {
                Ok(()) => *doing = Doing::default(),
                Err(_) => {
                    doing.not_before = now.checked_add(back_off(doing.failures)).ok();
                    doing.failures = doing.failures.saturating_add(1);
                }
            }
        }
        let rows = rows(job);
        match outcome {
            Ok(()) if rows.is_empty() => journal.alert_sent(now, key, route, None),
            Ok(()) => journal.lapsed_alerts_told(now, &rows),
            // What lapsed stays so, and is told another time.
            Err(_) if !rows.is_empty() => journal.lapsed_alerts_not_told(now, &rows),
            Err(problem) => journal.alert_failed(now, key, route, problem),
        }
    }

    /// The next moment at which something becomes due, quiet hours end or a channel is tried again.
    pub fn next_moment(&self, look: &Look, now: Timestamp) -> Option<Timestamp> {
        let reminders = look.reminders(self.alerts.silent(), now);
        let begins = reminders.iter().map(|reminder| reminder.from);
        let retries = self.channels.values().filter_map(|doing| doing.not_before);
        let civil = look.stated.zones.civil(now);
        let quiet = |hours: QuietHours| hours.end(civil).and_then(|end| look.stated.zones.instant(end));
        let ends = std::iter::once(self.alerts.quiet_hours)
            .chain(self.alerts.route.iter().filter_map(|route| route.quiet_hours))
            .filter_map(quiet);
        begins.chain(retries).chain(ends).filter(|at| *at > now).min()
    }

    fn offer(
        &self,
        journal: &mut Journal,
        reminders: &[Reminder],
        now: Timestamp,
    ) -> Result<(), JournalError> {
        let mut offers = Vec::new();
        for reminder in reminders.iter().filter(|reminder| reminder.is_due(now)) {
            for route in &self.alerts.route {
                if route.takes(reminder.kind(), reminder.person.as_ref())
                    && !told_as_nobodys(journal, reminder, route)?
                {
                    let standing = journal
                        .alert(&reminder.key, &route.name)?
                        .map(|entry| entry.standing);
                    if matches!(standing, None | Some(Standing::Dropped | Standing::Lapsed)) {
                        offers.push((reminder.key.as_str(), route.name.as_str()));
                    }
                }
            }
        }
        journal.offer_alerts(now, &offers)
    }

    /// Lets go of what waits and is over, or is not so any more, or waits for a route that is gone.
    fn let_go(
        &self,
        journal: &mut Journal,
        reminders: &[Reminder],
        open: &[AlertEntry],
        now: Timestamp,
    ) -> Result<(), JournalError> {
        let due: BTreeSet<&str> = reminders
            .iter()
            .filter(|reminder| reminder.is_due(now))
            .map(|reminder| reminder.key.as_str())
            .collect();
        let of = |standing: Standing| open.iter().filter(move |entry| entry.standing == standing);
        let no_route = |entry: &&AlertEntry| !self.channels.contains_key(&entry.route);
        let gone: Vec<(&str, &str)> = of(Standing::Pending)
            .filter(|entry| !due.contains(entry.key.as_str()) || no_route(entry))
            .map(row)
            .collect();
        journal.drop_alerts(now, &gone)?;
        // By a route that is gone, nobody can be told of it any more.
        let untold: Vec<(&str, &str)> = of(Standing::Lapsed).filter(no_route).map(row).collect();
        journal.lapsed_alerts_told(now, &untold)
    }

    fn forget(
        &mut self,
        journal: &mut Journal,
        reminders: &[Reminder],
        now: Timestamp,
    ) -> Result<(), JournalError> {
        // A clock that was set back meanwhile is no reason to wait.
        let lately = |at: Timestamp| at <= now && now.duration_since(at) < FORGET_EVERY;
        if self.forgot.is_some_and(lately) {
            return Ok(());
        }
        self.forgot = Some(now);
        let standing: Vec<&str> = reminders.iter().map(|reminder| reminder.key.as_str()).collect();
        let before = now.checked_sub(KEPT).unwrap_or(Timestamp::MIN);
        journal.forget_alerts(before, &standing)
    }
}

/// What a route is told next: what is urgent first; then what was tried least, so that one message that a
/// server will not take does not stand before all others; then the oldest.
fn best<'a>(
    mine: &[&AlertEntry],
    reminders: &'a [Reminder],
    quiet: bool,
    now: Timestamp,
) -> Option<&'a Reminder> {
    mine.iter()
        .filter(|entry| entry.standing == Standing::Pending)
        .filter_map(|entry| {
            let reminder = reminders
                .iter()
                .find(|reminder| reminder.key == entry.key && reminder.is_due(now))?;
            (reminder.is_urgent() || !quiet).then_some((entry, reminder))
        })
        .min_by_key(|(entry, reminder)| (!reminder.is_urgent(), entry.tries, reminder.from, &reminder.key))
        .map(|(_, reminder)| reminder)
}

/// One message about everything that lapsed on this route.
fn lapsed(mine: &[&AlertEntry], voice: &Voice<'_>, route: &Route, now: Timestamp) -> Option<Job> {
    let rows: Vec<&&AlertEntry> = mine
        .iter()
        .filter(|entry| entry.standing == Standing::Lapsed)
        .collect();
    let from = rows.iter().map(|entry| entry.since).min()?;
    let mut kinds: BTreeMap<Kind, usize> = BTreeMap::new();
    for kind in rows.iter().filter_map(|entry| kind_of(&entry.key)) {
        *kinds.entry(kind).or_default() += 1;
    }
    // The rows name it, so that a repeat after a crash is the same message.
    let last = rows.iter().map(|entry| entry.changed).max().unwrap_or(now);
    let key = format!("lapsed/{}/{}", from.as_microsecond(), last.as_microsecond());
    Some(Job {
        route: route.name.clone(),
        message: voice.lapsed(key, &kinds, from, now),
        lapsed: rows.iter().map(|entry| entry.key.clone()).collect(),
    })
}

/// Whether this route had the same numbers already, when the reading was nobody's yet. One that is for some
/// people only was told no numbers then.
fn told_as_nobodys(journal: &Journal, reminder: &Reminder, route: &Route) -> Result<bool, JournalError> {
    let Some(key) = reminder.key_as_nobodys().filter(|_| route.people.is_none()) else {
        return Ok(false);
    };
    let entry = journal.alert(&key, &route.name)?;
    Ok(entry.is_some_and(|entry| matches!(entry.standing, Standing::Sent | Standing::Claimed)))
}

fn row(entry: &AlertEntry) -> (&str, &str) {
    (&entry.key, &entry.route)
}

/// The rows that a job tells of as lapsed.
fn rows(job: &Job) -> Vec<(&str, &str)> {
    job.lapsed
        .iter()
        .map(|key| (key.as_str(), job.route.as_str()))
        .collect()
}

/// Whether who receives by this route can tell a repeat.
fn folds(route: Option<&Route>) -> bool {
    route.and_then(Route::medium).is_some_and(Medium::folds_repeats)
}

/// A key begins with its kind.
pub fn kind_of(key: &str) -> Option<Kind> {
    key.split('/').next().and_then(Kind::from_name)
}

fn back_off(failures: u32) -> SignedDuration {
    let doubled = 1_i32.checked_shl(failures.min(16)).unwrap_or(i32::MAX);
    BACK_OFF_FIRST
        .checked_mul(doubled)
        .unwrap_or(BACK_OFF_MAX)
        .min(BACK_OFF_MAX)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_channel_is_left_alone_for_longer_and_longer() {
        let seconds: Vec<i64> = (0..7).map(|failures| back_off(failures).as_secs()).collect();
        assert_eq!(seconds, [30, 60, 120, 240, 480, 600, 600]);
        assert_eq!(back_off(u32::MAX), BACK_OFF_MAX);
    }
}
