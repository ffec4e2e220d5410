//! Reminders: looks when the journal changed or something becomes due, and lets the channels work.
//!
//! It needs no Bluetooth. What it learns of the collector, it learns at the local socket.

mod unkept;

use self::unkept::{Unkept, Unnoted};
use crate::delivery::Clinic;
use crate::home::alerts::channel::{self, Channel};
use crate::home::alerts::discovery::Discovery;
use crate::home::alerts::error::ChannelError;
use crate::home::alerts::look::Look;
use crate::home::alerts::mqtt::Mqtt;
use crate::home::alerts::post::{Job, Post};
use crate::home::alerts::routes::{Alerts, Broker};
use crate::home::alerts::states::states;
use crate::home::listening::{door_is_shut, not_delivered};
use crate::household::{Household, UnknownZone};
use crate::journal::{Hand, Journal, JournalError};
use crate::monitoring::reminders::{DEAF_AFTER, Deaf};
use crate::socket;
use crate::words::{Words, one_line};
use futures_util::FutureExt;
use jiff::Timestamp;
use serde_json::Value;
use std::collections::BTreeMap;
use std::panic::AssertUnwindSafe;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};
use tokio::task::{JoinHandle, JoinSet};

/// How often the journal's version is looked at: a number in shared memory.
const LOOK: Duration = Duration::from_secs(1);
/// How often the daemon is asked how it is.
const ASK_DAEMON: Duration = Duration::from_secs(30);
/// A round at least this often: clocks are set, zones change.
const ROUND_MAX: Duration = Duration::from_mins(5);
/// How long is waited for what is being sent when the program is to stop. What is cut off is in the ledger.
const STOP_WAIT: Duration = Duration::from_secs(10);

/// How the journal calls a delivery that is stuck, among what is watched.
pub const STUCK: &str = "stuck";
/// How the journal calls what home automation was told below a prefix, among what is watched.
const ANNOUNCED: &str = "discovery/";
/// What is written there and taken back, to see whether anything can be kept.
const TRIAL: &str = "trial";

/// Why nobody can be reminded.
#[derive(Debug, thiserror::Error)]
pub enum RemindersError {
    /// The journal cannot be read or written.
    #[error(transparent)]
    Journal(#[from] JournalError),
    /// A channel cannot be set up.
    #[error(transparent)]
    Channel(#[from] ChannelError),
    /// The household's time zone is none.
    #[error(transparent)]
    Zone(#[from] UnknownZone),
}

/// The parts that the loop works with.
pub struct Reminders {
    state: PathBuf,
    alerts: Alerts,
    journal: Journal,
    time_zone: Option<String>,
    post: Post,
    channels: BTreeMap<String, Channel>,
    mqtt: Option<Line>,
    told: BTreeMap<String, Value>,
    jobs: JoinSet<(Job, Result<(), ChannelError>)>,
    /// Takes back what home automation was told below a prefix that is not the configuration's any more.
    taking_back: JoinSet<Result<String, ChannelError>>,
    /// Since when it watches the daemon, by a clock that nobody sets.
    began: Instant,
    /// Whether the household wants backups.
    backups: bool,
    /// The clinic that the configuration chose.
    clinic: Clinic,
    /// Whether the record's door was shut when it was last asked.
    shut: bool,
    /// Since when nothing can be kept, or could not lately.
    unkept: Option<Unkept>,
    /// Tells so, and notes it nowhere.
    unnoted: JoinSet<Unnoted>,
}

/// Where the loop stands.
#[derive(Default)]
struct Turns {
    asked: Option<Instant>,
    last_round: Option<Instant>,
    version: Option<i64>,
    next: Option<Timestamp>,
    deaf: Option<Deaf>,
}

impl std::fmt::Debug for Reminders {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Reminders")
            .field("state", &self.state)
            .finish_non_exhaustive()
    }
}

/// This installation among others: when the household's first statement was made.
pub fn household_of(journal: &Journal) -> Result<i64, JournalError> {
    let stated = journal.stated()?;
    Ok(stated.rows().first().map_or(0, |row| row.at.as_microsecond()))
}

impl Reminders {
    /// Opens every channel. `time_zone` is the zone that the configuration names; it holds where none was
    /// stated.
    pub fn start(
        state: &Path,
        alerts: Alerts,
        journal: Journal,
        time_zone: Option<String>,
    ) -> Result<Self, RemindersError> {
        let mut journal = journal.only_for(Hand::Reminders)?;
        let household = household_of(&journal)?;
        let (mqtt, channels) = open(&alerts, household)?;
        for (route, person) in alerts.strangers(&journal.stated()?.household) {
            tracing::warn!("the route {route} is for {person}, whom nobody has added");
        }
        let post = Post::new(alerts.clone(), &mut journal, Timestamp::now())?;
        Ok(Self {
            state: state.to_owned(),
            alerts,
            journal,
            time_zone,
            post,
            channels,
            mqtt,
            told: BTreeMap::new(),
            jobs: JoinSet::new(),
            taking_back: JoinSet::new(),
            began: Instant::now(),
            backups: false,
            clinic: Clinic::default(),
            shut: false,
            unkept: None,
            unnoted: JoinSet::new(),
        })
    }

    /// Reminds of the clinic's server too, where one was chosen.
    #[must_use]
    pub fn with_clinic(mut self, clinic: Clinic) -> Self {
        self.clinic = clinic;
        self
    }

    /// Reminds of backups too, where the household wants them.
    #[must_use]
    pub fn with_backups(mut self, wanted: bool) -> Self {
        self.backups = wanted;
        self
    }

    /// Reminds until `stop` is over; `alive` is called at each turn.
    pub async fn run(
        mut self,
        stop: impl Future<Output = ()>,
        alive: impl Fn(),
    ) -> Result<(), RemindersError> {
        tokio::pin!(stop);
        let mut tick = tokio::time::interval(LOOK);
        tick.set_missed_tick_behavior(tokio::time::MissedTickBehavior::Delay);
        let mut turns = Turns::default();
        loop {
            alive();
            let rests = self
                .unkept
                .as_ref()
                .is_some_and(|unkept| unkept.rests(ASK_DAEMON));
            // What is on its way is noted before it could be taken up again.
            if !rests && (!self.keeps_nothing() || self.jobs.is_empty()) {
                let turned = self.turn(&mut turns).await;
                turned.or_else(|error| self.cannot_keep(error))?;
            }
            tokio::select! {
                () = &mut stop => break,
                Some(done) = self.jobs.join_next(), if !self.jobs.is_empty() => {
                    self.note(done).or_else(|error| self.cannot_keep(error))?;
                    // The channel may have something else to say.
                    turns.version = None;
                }
                Some(done) = self.taking_back.join_next(), if !self.taking_back.is_empty() => {
                    if let Ok(Ok(told)) = done {
                        let noted = self.journal.watched_since(&told, None);
                        noted.map(drop).or_else(|error| self.cannot_keep(error.into()))?;
                    }
                }
                Some(done) = self.unnoted.join_next(), if !self.unnoted.is_empty() => {
                    done.into_iter().for_each(|done| self.note_unnoted(&done));
                }
                _ = tick.tick() => {}
            }
        }
        self.finish().await
    }

    /// Asks the daemon how it is, and looks for what is due, where it is time for it.
    async fn turn(&mut self, turns: &mut Turns) -> Result<(), RemindersError> {
        self.keeps_again()?;
        if turns.asked.is_none_or(|at| at.elapsed() >= ASK_DAEMON) {
            self.mend_mqtt()?;
            let heard = self.ask_daemon().await?;
            turns.asked = Some(Instant::now());
            let state = self.state.clone();
            let shut = tokio::task::spawn_blocking(move || door_is_shut(&state));
            let shut = shut.await.unwrap_or(false);
            if heard != turns.deaf || shut != self.shut {
                (turns.deaf, self.shut) = (heard, shut);
                turns.version = None;
            }
        }
        let now = Timestamp::now();
        let changed = Some(self.journal.data_version()?) != turns.version;
        let late = turns.last_round.is_none_or(|at| at.elapsed() >= ROUND_MAX);
        if changed || late || turns.next.is_some_and(|at| at <= now) {
            turns.version = Some(self.journal.data_version()?);
            turns.last_round = Some(Instant::now());
            // A round that fails is done again.
            turns.next = Some(now);
            turns.next = self.round(turns.deaf.clone(), now).await?;
        }
        Ok(())
    }

    fn keeps_nothing(&self) -> bool {
        self.unkept.as_ref().is_some_and(Unkept::holds)
    }

    /// Tries whether anything can be kept again. What was being told when nothing could be noted is taken up as after a
    /// crash.
    fn keeps_again(&mut self) -> Result<(), JournalError> {
        if !self.keeps_nothing() {
            return Ok(());
        }
        let now = Timestamp::now();
        self.journal.watched_since(TRIAL, Some(now))?;
        self.journal.watched_since(TRIAL, None)?;
        self.post = Post::new(self.alerts.clone(), &mut self.journal, now)?;
        self.unkept.iter_mut().for_each(Unkept::ends);
        tracing::info!("what is told can be noted again");
        Ok(())
    }

    /// Tells that the disk takes nothing. Any other trouble is handed back.
    fn cannot_keep(&mut self, error: RemindersError) -> Result<(), RemindersError> {
        let why = match error {
            RemindersError::Journal(why) if why.is_of_the_place() => why,
            error => return Err(error),
        };
        if !self.keeps_nothing() {
            tracing::error!("{why}; until then nothing else is told");
        }
        let stated = self
            .journal
            .stated_in::<RemindersError>(self.time_zone.as_deref())?;
        let now = Timestamp::now();
        let before = self.unkept.take().map(|before| before.again(now));
        let unkept = self.unkept.insert(before.unwrap_or_else(|| Unkept::since(now)));
        let ways = (&self.alerts, &self.channels);
        unkept.tell(&why, ways, &stated, &mut self.unnoted);
        Ok(())
    }

    fn note_unnoted(&mut self, (route, sent): &Unnoted) {
        match sent {
            Ok(()) => tracing::info!("told that nothing can be kept by {route}"),
            Err(error) => {
                tracing::warn!("that nothing can be kept could not be told by {route}: {error}");
                if let Some(unkept) = &mut self.unkept {
                    unkept.not_told(route);
                }
            }
        }
    }

    /// Looks once, and starts what is to be sent.
    async fn round(
        &mut self,
        deaf: Option<Deaf>,
        now: Timestamp,
    ) -> Result<Option<Timestamp>, RemindersError> {
        let stated = self
            .journal
            .stated_in::<RemindersError>(self.time_zone.as_deref())?;
        let mut look = Look::at(&mut self.journal, stated, deaf, now)?;
        // After a start each listener has to call first: whoever was off for the night heard nobody all night.
        if self.began.elapsed() < DEAF_AFTER.unsigned_abs() {
            look.listeners.clear();
        }
        look.shut = self.shut;
        if self.backups {
            look.backed_up = self.journal.backed_up_until()?;
        }
        let stuck = not_delivered(&self.journal, &self.clinic, now)?
            .into_iter()
            .next();
        let since = self.journal.watched_since(STUCK, stuck.as_ref().map(|_| now))?;
        look.stuck = since.zip(stuck);
        for job in self.post.due(&mut self.journal, &look, now)? {
            if let Some(channel) = self.channels.get(&job.route).cloned() {
                self.jobs.spawn(async move {
                    // A library that panics has not sent it, and must not silence the route.
                    let outcome = AssertUnwindSafe(channel.send(&job.route, &job.message))
                        .catch_unwind()
                        .await
                        .unwrap_or(Err(ChannelError::Stopped));
                    (job, outcome)
                });
            }
        }
        self.tell_states(&look, now).await?;
        Ok(self.post.next_moment(&look, now))
    }

    async fn tell_states(&mut self, look: &Look, now: Timestamp) -> Result<(), RemindersError> {
        let (Some((mqtt, _)), Some(broker)) = (&self.mqtt, &self.alerts.mqtt) else {
            return Ok(());
        };
        let household = household_of(&self.journal)?;
        let words = self.alerts.language.words();
        let below = |prefix: &str| announced(broker, prefix, household, words, look);
        // Noted before it is told: whoever is killed in between takes back too much, never too little.
        if let Some(prefix) = &broker.discovery_prefix {
            self.journal
                .watched_since(&format!("{ANNOUNCED}{prefix}"), Some(now))?;
            for (topic, word) in below(prefix) {
                if self.told.get(&topic) != Some(&word) {
                    mqtt.announce(topic.clone(), &word).await;
                    self.told.insert(topic, word);
                }
            }
        }
        if self.taking_back.is_empty() {
            for told in self.journal.watched_below(ANNOUNCED)? {
                let prefix = told.strip_prefix(ANNOUNCED).unwrap_or_default();
                if broker.discovery_prefix.as_deref() != Some(prefix) {
                    let topics: Vec<String> = below(prefix).into_keys().collect();
                    self.taking_back.spawn(take_back(mqtt.clone(), topics, told));
                }
            }
        }
        let reminders = look.reminders(self.alerts.silent(), now);
        for (topic, state) in states(look, &reminders, broker.readings, now) {
            if self.told.get(&topic) != Some(&state) {
                mqtt.state(&topic, &state).await;
                self.told.insert(topic, state);
            }
        }
        Ok(())
    }

    fn note(
        &mut self,
        done: Result<(Job, Result<(), ChannelError>), tokio::task::JoinError>,
    ) -> Result<(), RemindersError> {
        // A task that was aborted leaves its row claimed, as a killed process does.
        let Ok((job, outcome)) = done else { return Ok(()) };
        // One line of it: a server may answer with pages.
        let said = outcome.map_err(|error| one_line(&error.to_string()));
        match &said {
            // What it said is the household's business, not the log's; a server's answer may name people as
            // well.
            Ok(()) => tracing::info!("told {} by {}", job.message.kind, job.route),
            Err(_) => tracing::warn!(
                "{} could not be told by {}; `quietcuff remind list` says why",
                job.message.kind,
                job.route
            ),
        }
        let said = match &said {
            Ok(()) => Ok(()),
            Err(error) => Err(error.as_str()),
        };
        Ok(self.post.done(&mut self.journal, &job, said, Timestamp::now())?)
    }

    async fn finish(mut self) -> Result<(), RemindersError> {
        let deadline = tokio::time::Instant::now() + STOP_WAIT;
        while let Ok(Some(done)) = tokio::time::timeout_at(deadline, self.jobs.join_next()).await {
            self.note(done)?;
        }
        self.jobs.shutdown().await;
        self.taking_back.shutdown().await;
        self.unnoted.shutdown().await;
        self.channels.clear();
        if let Some((mqtt, line)) = self.mqtt.take() {
            drop(mqtt);
            let _ = tokio::time::timeout(STOP_WAIT, line).await;
        }
        Ok(())
    }

    /// Since when the daemon hears nothing, if there is anything to hear.
    async fn ask_daemon(&mut self) -> Result<Option<Deaf>, RemindersError> {
        let state = self.state.clone();
        let why = if nothing_to_hear(&self.journal.stated()?.household) {
            None
        } else {
            tokio::task::spawn_blocking(move || why_deaf(&state))
                .await
                .unwrap_or_else(|_| Some("the daemon could not be asked".to_owned()))
        };
        let now = why.as_ref().map(|_| Timestamp::now());
        let since = self.journal.watched_since("deaf", now)?;
        let long_enough = self.began.elapsed() >= DEAF_AFTER.unsigned_abs();
        Ok(since.zip(why).map(|(since, why)| Deaf {
            since,
            from: deaf_from(since).filter(|_| long_enough),
            why,
        }))
    }

    /// A library that panics in the broker's task must not silence it for as long as this process lives.
    fn mend_mqtt(&mut self) -> Result<(), RemindersError> {
        if self.mqtt.as_ref().is_some_and(|(_, line)| line.is_finished()) {
            tracing::error!("what spoke to the MQTT broker has ended; it is started anew");
            (self.mqtt, self.channels) = open(&self.alerts, household_of(&self.journal)?)?;
            // The new one knows no state yet.
            self.told.clear();
        }
        Ok(())
    }
}

type Line = (Mqtt, JoinHandle<()>);

/// What home automation is told below a prefix.
fn announced(
    broker: &Broker,
    prefix: &str,
    household: i64,
    words: &Words,
    look: &Look,
) -> BTreeMap<String, Value> {
    let discovery = Discovery {
        prefix,
        topic: &broker.topic,
        readings: broker.readings,
        household,
        words,
    };
    discovery.announced(look)
}

/// Takes back what stands on these topics; hands back what it was noted as, once the broker knows.
async fn take_back(mqtt: Mqtt, topics: Vec<String>, noted: String) -> Result<String, ChannelError> {
    for topic in topics {
        match mqtt.take_back(topic).await {
            // What the broker refuses, it did not take before either.
            Ok(()) | Err(ChannelError::Refused(_)) => {}
            Err(error) => return Err(error),
        }
    }
    Ok(noted)
}

/// Every channel, and the broker's task that some of them speak through.
fn open(alerts: &Alerts, household: i64) -> Result<(Option<Line>, BTreeMap<String, Channel>), ChannelError> {
    let mqtt = match &alerts.mqtt {
        Some(broker) => Some(Mqtt::start(broker, household)?),
        None => None,
    };
    let channels = channel::open(alerts, mqtt.as_ref().map(|(mqtt, _)| mqtt), household)?;
    Ok((mqtt, channels))
}

/// From when on it is worth saying that the daemon has heard nothing since a moment.
pub fn deaf_from(since: Timestamp) -> Option<Timestamp> {
    since.checked_add(DEAF_AFTER).ok()
}

/// Whether this machine listens to no monitor, so that nobody has to.
pub fn nothing_to_hear(household: &Household) -> bool {
    household.here.is_empty()
}

/// What keeps the daemon from hearing, if anything does.
pub fn why_deaf(state: &Path) -> Option<String> {
    let report = match socket::collector(state) {
        Ok(Some(report)) => report,
        Ok(None) => return Some("the daemon does not run".to_owned()),
        Err(error) => return Some(format!("the daemon does not answer ({error})")),
    };
    let off = |on: bool, what: &str| (!on).then(|| what.to_owned());
    (report.radio.problem)
        .or_else(|| off(report.radio.bluez, "bluetoothd is not there"))
        .or_else(|| off(report.radio.adapter.is_some(), "there is no Bluetooth adapter"))
        .or_else(|| off(report.radio.powered, "the Bluetooth adapter is off"))
        .or(report.journal.problem)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::home::alerts::routes::Broker;

    #[tokio::test]
    async fn a_brokers_task_that_ended_is_started_anew() {
        let dir = tempfile::tempdir().unwrap();
        let broker: Broker = toml::from_str("server = \"127.0.0.1\"\nport = 1\ntls = false").unwrap();
        let alerts = Alerts {
            mqtt: Some(broker),
            ..Alerts::default()
        };
        let journal = Journal::open(dir.path()).unwrap();
        let mut service = Reminders::start(dir.path(), alerts, journal, Some("UTC".to_owned())).unwrap();
        service.told.insert("collector".to_owned(), Value::Null);
        service.mend_mqtt().unwrap();
        assert_eq!(service.told.len(), 1, "it lives");
        let (_, line) = service.mqtt.as_mut().unwrap();
        line.abort();
        let _ = line.await;
        service.mend_mqtt().unwrap();
        assert!(!service.mqtt.as_ref().unwrap().1.is_finished());
        assert!(service.told.is_empty(), "the new one is told every state");
    }

    /// A disk that is full by turns, since a few octets fit now and then, is told once.
    #[tokio::test]
    async fn a_disk_that_is_full_by_turns_is_one_matter() {
        let dir = tempfile::tempdir().unwrap();
        let route = "name = \"nobody\"\ncommand = [\"/bin/true\"]\nquiet-hours = \"none\"";
        let alerts = Alerts {
            route: vec![toml::from_str(route).unwrap()],
            ..Alerts::default()
        };
        let journal = Journal::open(dir.path()).unwrap();
        let mut service = Reminders::start(dir.path(), alerts, journal, Some("UTC".to_owned())).unwrap();
        let full = || {
            let path = dir.path().to_owned();
            RemindersError::Journal(JournalError::DiskFull { path })
        };
        for _ in 0..3 {
            service.cannot_keep(full()).unwrap();
            assert!(service.keeps_nothing());
            service.keeps_again().unwrap();
            assert!(!service.keeps_nothing());
        }
        assert_eq!(service.unnoted.len(), 1, "told once");
        let (path, what) = (dir.path().to_owned(), String::new());
        let damaged = JournalError::Damaged { path, what };
        assert!(
            service.cannot_keep(damaged.into()).is_err(),
            "another trouble ends it"
        );
    }
}
