//! A listener's errand: hands on to the record what the collector beside it hears. It has the network, and writes
//! nothing but how far it is.

use super::StartError;
use super::manager::ServiceManager;
use crate::afar::HEARTBEAT;
use crate::afar::errand::{Errand, ErrandError, if_there_is_room};
use crate::afar::key::{KeyError, OwnKey};
use crate::home::wake::{Wake, Wary};
use crate::journal::{Hand, Journal, JournalError, Record};
use crate::socket;
use crate::socket::speech::{Answer, Request};
use crate::whole::reason;
use serde_json::Value;
use std::io;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};
use tokio::task::JoinError;

/// The first pause after a failure; it doubles up to the longest.
const PAUSE: Duration = Duration::from_secs(1);
const PAUSE_MAX: Duration = Duration::from_mins(1);
/// The pause where a person has to do something first.
const PAUSE_FOR_SOMEBODY: Duration = Duration::from_mins(5);

/// Why nothing can be handed on.
#[derive(Debug, thiserror::Error)]
pub enum HandingError {
    /// The journal cannot be opened or written.
    #[error(transparent)]
    Journal(#[from] JournalError),
    /// This machine has no key.
    #[error(transparent)]
    Key(#[from] KeyError),
    /// The errand to the record.
    #[error(transparent)]
    Errand(#[from] ErrandError),
    /// This machine belongs to no record.
    #[error(
        "this machine hands on to no record: `quietcuff listeners invite` on the machine with the record prints a code, and \
         `quietcuff record join CODE` here takes it"
    )]
    NoRecord,
    /// The kernel gives no bell.
    #[error("cannot follow the journal: {}", reason(.0))]
    Wake(#[from] io::Error),
    /// The operating system gives no thread or no timer.
    #[error(transparent)]
    Start(#[from] StartError),
    /// The thread that hands on ended by itself.
    #[error("the thread that hands on failed: {0}")]
    Thread(#[from] JoinError),
}

/// A listener and its record.
#[derive(Debug)]
pub struct Listening {
    state: PathBuf,
    journal: Journal,
    own: OwnKey,
}

impl Listening {
    /// Looks that there is a record to hand on to.
    pub fn begin(state: &Path) -> Result<Self, HandingError> {
        let journal = Journal::open(state)?.only_for(Hand::Listener)?;
        journal.record()?.ok_or(HandingError::NoRecord)?;
        Ok(Self {
            state: state.to_owned(),
            own: OwnKey::of(state)?,
            journal,
        })
    }

    fn errand(&self, record: &Record) -> Result<Errand, ErrandError> {
        Errand::begin(record, &self.own, env!("CARGO_PKG_VERSION"), &self.journal)
    }

    /// Hands on everything that waits now, and says how many frames it was.
    pub fn once(mut self) -> Result<usize, HandingError> {
        let record = self.journal.record()?.ok_or(HandingError::NoRecord)?;
        let handed = self.errand(&record).and_then(|mut errand| {
            let clock_known = self.journal.clock_is_known()?;
            let mut all = 0;
            loop {
                all += errand.hand_on(&mut self.journal, clock_known)?;
                if !errand.waits(&self.journal)? {
                    return Ok(all);
                }
            }
        });
        if let Err(error) = &handed {
            if_there_is_room(self.journal.record_fails(&error.to_string()))?;
        }
        Ok(handed?)
    }

    fn follow(mut self, service: &ServiceManager) -> Result<(), HandingError> {
        let wake = Wake::of(&self.state)?;
        let mut pause = PAUSE;
        let mut told = String::new();
        service.ready("handing on to the record");
        loop {
            service.alive();
            let record = self.journal.record()?.ok_or(HandingError::NoRecord)?;
            let ended = self.errand(&record).and_then(|errand| {
                if !told.is_empty() {
                    tracing::info!("{}: the record answers again", record.at);
                    told.clear();
                }
                pause = PAUSE;
                self.stay(errand, &wake, service)
            });
            let Err(error) = ended else { continue };
            let words = error.to_string();
            if_there_is_room(self.journal.record_fails(&words))?;
            // The same fault each minute says nothing new.
            if words != told {
                tracing::warn!("{words}; what is heard waits here");
                told = words;
            }
            service.status("the record cannot be reached; what is heard waits here");
            rest(
                if error.needs_somebody() {
                    PAUSE_FOR_SOMEBODY
                } else {
                    pause
                },
                service,
            );
            pause = (pause * 2).min(PAUSE_MAX);
        }
    }

    /// Hands on until the line breaks.
    fn stay(&mut self, mut errand: Errand, wake: &Wake, service: &ServiceManager) -> Result<(), ErrandError> {
        service.status("handing on to the record");
        loop {
            service.alive();
            let clock_known = self.journal.clock_is_known()?;
            let handed = errand.hand_on(&mut self.journal, clock_known)?;
            if handed > 0 {
                tracing::debug!("{handed} frames handed on");
            }
            self.wait(&mut errand, wake, service)?;
        }
    }

    /// Does what the record asks, of the little that it may ask.
    fn does(&self, request: Value) -> Answer {
        let refused = |error: &str| Answer::Refused {
            error: error.to_owned(),
        };
        let Ok(request) = serde_json::from_value::<Request>(request) else {
            return refused(
                "the listener does not know what it is asked; bring both machines to the same version",
            );
        };
        if !request.may_come_from_afar() {
            tracing::warn!("the record asked for what a record may not ask, and was refused");
            return refused(
                "a listener finds, pairs and forgets monitors, and does nothing else for its record",
            );
        }
        match socket::ask(&socket::path(&self.state), &request) {
            Ok(Some(answer)) => answer,
            Ok(None) => refused(
                "the program that listens does not run on the listener; `systemctl enable --now quietcuff` there starts it",
            ),
            Err(error) => refused(&error.to_string()),
        }
    }

    /// Waits until something waits to be handed on, or the record should hear that this machine is there.
    /// Meanwhile it does what the record asks.
    fn wait(&self, errand: &mut Errand, wake: &Wake, service: &ServiceManager) -> Result<(), ErrandError> {
        let until = Instant::now() + HEARTBEAT;
        let mut wary = Wary::default();
        loop {
            service.alive();
            while let Some((number, request)) = errand.order()? {
                let answer = self.does(request);
                errand.did(number, &answer)?;
                service.alive();
            }
            let now = Instant::now();
            if now >= until || errand.waits(&self.journal)? {
                return Ok(());
            }
            wary.looked(now);
            let mut limit = (until - now).min(service.wait_max());
            if !wake.hears() {
                limit = limit.min(Duration::from_millis(500));
            }
            if errand.is_asked()? {
                continue;
            }
            let limit = wary.wait(now).map_or(limit, |soon| soon.min(limit));
            if wake.wait_beside(limit, Some(errand.line())) {
                wary.written(Instant::now());
            }
        }
    }
}

/// A pause in which the service manager hears that this role lives.
fn rest(pause: Duration, service: &ServiceManager) {
    let until = Instant::now() + pause;
    loop {
        service.alive();
        let left = until.saturating_duration_since(Instant::now());
        if left.is_zero() {
            return;
        }
        std::thread::sleep(left.min(service.wait_max()));
    }
}

/// Hands on until `stop` ends.
pub fn stay(
    listening: Listening,
    service: ServiceManager,
    stop: impl Future<Output = ()>,
) -> Result<(), HandingError> {
    // What was on its way is offered again.
    let ended = super::work_until(service, stop, move |service| listening.follow(service));
    ended.and_then(|ended: Option<_>| ended.unwrap_or(Ok(())))
}
