//! Delivery: takes readings and averages to the clinic's server, and stays. It uses the network and never
//! Bluetooth.

use super::StartError;
use super::manager::ServiceManager;
use super::opening::{self, Openings};
use crate::config::Config;
use crate::delivery::answer::Trouble;
use crate::delivery::due::{Survey, Tally};
use crate::delivery::letters::LetterRound;
use crate::delivery::releases::{Leave, Releases};
use crate::delivery::stuck::LOCK;
use crate::delivery::{Addressee, Auth, Courier, DeliveryError, Destination, Postman, Round, patience};
use crate::household::{PersonId, UnknownZone};
use crate::journal::{Hand, Journal, JournalError};
use crate::monitoring::stated::Stated;
use crate::socket::{self, SocketError};
use crate::whole::reason;
use jiff::Timestamp;
use rustix::fs::{FlockOperation, flock};
use std::collections::BTreeMap;
use std::fs::{File, OpenOptions};
use std::io;
use std::os::unix::fs::OpenOptionsExt;
use std::path::PathBuf;
use std::sync::Arc;
use std::time::{Duration, Instant};
use tokio::task::JoinError;

/// How often the journal is asked whether somebody wrote: a reading may be at the clinic seconds after it was
/// taken, and an idle role hardly wakes.
const LOOK: Duration = Duration::from_secs(5);
/// How often it is looked whether somebody launched anew; shorter than any watchdog.
const AWAY: Duration = Duration::from_secs(10);
/// A period ends with a day, and nobody writes then.
const LOOK_ANYWAY: Duration = Duration::from_mins(30);

/// Why nothing can be delivered.
#[derive(Debug, thiserror::Error)]
pub enum DeliverError {
    /// The configuration, a secret, an address or a resource.
    #[error(transparent)]
    Delivery(#[from] DeliveryError),
    /// The journal cannot be read or written.
    #[error(transparent)]
    Journal(#[from] JournalError),
    /// The household's time zone is none.
    #[error(transparent)]
    Zone(#[from] UnknownZone),
    /// Two at once would send the same twice at the same moment, which not every server can tell apart.
    #[error(
        "a delivery is running already and sends what is due; `quietcuff deliver list` says how it stands"
    )]
    Running,
    /// The file that keeps two deliveries apart cannot be made.
    #[error("cannot lock {}: {}", path.display(), reason(error))]
    Lock {
        /// Where it would be.
        path: PathBuf,
        /// What the system says.
        error: io::Error,
    },
    /// The server asked for patience until then.
    #[error("the clinic's server asked to be left alone until {0:.0}; what is due waits")]
    LeftAlone(Timestamp),
    /// The local socket cannot be opened.
    #[error(transparent)]
    Socket(#[from] SocketError),
    /// The operating system gives no thread or no timer.
    #[error(transparent)]
    Start(#[from] StartError),
    /// The thread that delivers ended by itself.
    #[error("the delivery's thread failed: {0}")]
    Thread(#[from] JoinError),
}

/// Somebody who looks whether a delivery runs holds the file for less than this.
const LOOKED_AT: Duration = Duration::from_millis(200);

/// Keeps other deliveries from this journal out for as long as the file is open.
pub fn lock(journal: &Journal) -> Result<File, DeliverError> {
    let path = journal.path().with_file_name(LOCK);
    let opened = OpenOptions::new()
        .create(true)
        .write(true)
        .truncate(false)
        .mode(0o600)
        .open(&path);
    let locked = opened.and_then(|file| {
        if flock(&file, FlockOperation::NonBlockingLockExclusive).is_err() {
            std::thread::sleep(LOOKED_AT);
            flock(&file, FlockOperation::NonBlockingLockExclusive)?;
        }
        Ok(file)
    });
    locked.map_err(|error| match error.kind() {
        io::ErrorKind::WouldBlock => DeliverError::Running,
        _ => DeliverError::Lock { path, error },
    })
}

/// Everything that a look at what is due needs.
pub struct Delivery {
    /// What the configuration says of the clinic.
    pub config: Config,
    /// The journal, with the ledger of what was sent.
    pub journal: Journal,
    /// What the household stated.
    pub stated: Arc<Stated>,
    /// Where to, and whose.
    pub to: ToClinic,
    carrier: Option<Carrier>,
}

/// The clinic, by what it speaks.
#[derive(Clone, Debug)]
pub enum ToClinic {
    /// A FHIR server.
    Server(Destination),
    /// A receiver of HL7 version 2.
    Receiver(Addressee),
}

/// What a look at what is due needs, by what the clinic speaks.
pub enum Looked<'a> {
    /// For a FHIR server.
    Server(&'a Destination, &'a Survey<'a>),
    /// For a receiver of HL7 version 2.
    Receiver(&'a Addressee, &'a LetterRound<'a>),
}

enum Carrier {
    Courier(Box<Courier>),
    Postman(Postman),
}

impl ToClinic {
    /// As the configuration chose; with a launch, as the clinic said.
    fn of(config: &Config, stated: &Stated) -> Result<Self, DeliveryError> {
        let household = &stated.household;
        Ok(match Addressee::of(&config.clinic, &config.hl7, household)? {
            Some(addressee) => Self::Receiver(addressee),
            None => Self::Server(Destination::of(&config.clinic, &config.fhir, household)?),
        })
    }

    /// What the ledger calls it.
    pub fn name(&self) -> String {
        match self {
            Self::Server(target) => target.name(),
            Self::Receiver(addressee) => addressee.name(),
        }
    }

    /// Its address, as people know it.
    pub fn address(&self) -> String {
        match self {
            Self::Server(target) => target.server.to_string(),
            Self::Receiver(addressee) => addressee.receiver.to_string(),
        }
    }

    /// The chosen people, each with what the clinic calls them.
    pub fn people(&self) -> &BTreeMap<PersonId, String> {
        match self {
            Self::Server(target) => &target.people,
            Self::Receiver(addressee) => &addressee.people,
        }
    }

    /// What is sent there: several of it.
    pub fn things(&self) -> &'static str {
        match self {
            Self::Server(_) => "resources",
            Self::Receiver(_) => "messages",
        }
    }
}

impl Delivery {
    /// Gathers what is needed, and refuses what the configuration lacks.
    pub fn begin(mut config: Config, journal: Journal) -> Result<Self, DeliverError> {
        config.clinic.state = journal.path().parent().map(ToOwned::to_owned);
        let stated = journal.stated_in::<DeliverError>(config.time_zone.as_deref())?;
        let to = ToClinic::of(&config, &stated)?;
        Ok(Self {
            config,
            journal: journal.only_for(Hand::Delivery)?,
            stated,
            to,
            carrier: None,
        })
    }

    /// The household may have said something since, and somebody may have launched anew, or withdrawn.
    fn look_again(&mut self) -> Result<(), DeliverError> {
        let named = self.config.time_zone.as_deref();
        self.stated = self.journal.stated_in::<DeliverError>(named)?;
        if self.config.clinic.auth == Auth::Launch {
            let to = ToClinic::of(&self.config, &self.stated)?;
            if to.people() != self.to.people() {
                self.carrier = None;
            }
            self.to = to;
        }
        Ok(())
    }

    /// What of the chosen people's readings the household released to the clinic.
    pub fn releases(&self) -> Releases {
        let (household, people) = (&self.stated.household, self.to.people());
        Releases::of(
            household,
            &self.to.name(),
            self.config.clinic.consent,
            people.keys(),
        )
    }

    /// Lets `work` look at what is due now.
    pub fn with_look<T>(
        &mut self,
        work: impl FnOnce(&mut Journal, Looked<'_>) -> Result<T, DeliveryError>,
    ) -> Result<T, DeliverError> {
        let now = Timestamp::now();
        let today = self.stated.zones.civil(now).date();
        let clinic = self.to.name();
        let contact = self.journal.contact(&clinic)?;
        let releases = &self.releases();
        let journal = &mut self.journal;
        Ok(match &self.to {
            ToClinic::Server(target) => {
                let survey = Survey {
                    stated: &self.stated,
                    switches: target.switches(&contact),
                    people: &target.people,
                    releases,
                    today,
                    sheets: self.config.sheets_to_clinic(),
                    clinic: &clinic,
                    records: target.records(&contact),
                };
                work(journal, Looked::Server(target, &survey))?
            }
            ToClinic::Receiver(addressee) => {
                let look = LetterRound {
                    stated: &self.stated,
                    settings: &self.config.hl7,
                    people: &addressee.people,
                    releases,
                    today,
                    now,
                };
                work(journal, Looked::Receiver(addressee, &look))?
            }
        })
    }

    /// How everything stands.
    pub fn tally(&mut self) -> Result<Tally, DeliverError> {
        self.with_look(|journal, looked| match looked {
            Looked::Server(target, survey) => target.tally(journal, survey),
            Looked::Receiver(addressee, look) => addressee.tally(journal, look),
        })
    }

    fn carrier(&mut self) -> Result<Carrier, DeliveryError> {
        if let Some(carrier) = self.carrier.take() {
            return Ok(carrier);
        }
        let clinic = &self.config.clinic;
        Ok(match &self.to {
            ToClinic::Server(target) => Carrier::Courier(Box::new(Courier::new(clinic, target.clone())?)),
            ToClinic::Receiver(addressee) => Carrier::Postman(Postman::new(clinic, addressee)?),
        })
    }

    /// Rounds until nothing is due or something is wrong. `alive` is called at each Bundle: the first
    /// delivery of ten years takes longer than a watchdog waits. `went` is told after each round how many were
    /// answered.
    fn rounds(&mut self, alive: &dyn Fn(), went: &dyn Fn(usize)) -> Result<Round, DeliverError> {
        let mut all = Round::default();
        let mut carrier = self.carrier()?;
        // The time is asked for when a Bundle is sent and when it is answered.
        let clock = || {
            alive();
            Timestamp::now()
        };
        loop {
            // Whoever takes back what was released does not wait until ten years are delivered.
            self.stated = self
                .journal
                .stated_in::<DeliverError>(self.config.time_zone.as_deref())?;
            let round = self.with_look(|journal, looked| match (looked, &mut carrier) {
                (Looked::Server(_, survey), Carrier::Courier(courier)) => {
                    courier.round(journal, survey, &clock)
                }
                (Looked::Receiver(_, look), Carrier::Postman(postman)) => {
                    postman.round(journal, look, &clock)
                }
                // The one was made for the other.
                _ => Ok(Round::default()),
            })?;
            all.sent += round.sent;
            all.refused += round.refused;
            went(all.sent + all.refused);
            if let Some(learnt) = &round.learnt {
                tracing::warn!("{}: {learnt}", self.to.address());
            }
            if round.is_last() {
                // Whoever mends that we are not let in writes a new secret, which is read then.
                if !matches!(
                    round.trouble,
                    Some(Trouble::NotAllowed { .. } | Trouble::Ended(_))
                ) {
                    self.carrier = Some(carrier);
                }
                all.trouble = round.trouble;
                all.held = round.held;
                return Ok(all);
            }
        }
    }

    /// Sends what is due. What is wrong with the server stands in the round; `went` is told how many were answered so
    /// far.
    pub fn once(&mut self, went: &dyn Fn(usize)) -> Result<Round, DeliverError> {
        let contact = self.journal.contact(&self.to.name())?;
        if let Some(at) = contact
            .not_before
            .filter(|at| contact.asked && patience::rests(Some(*at), Timestamp::now()))
        {
            return Err(DeliverError::LeftAlone(at));
        }
        self.tell_unstated()?;
        self.rounds(&|| (), went)
    }

    /// Says once of each person whose readings go without that anybody has stated a release.
    fn tell_unstated(&mut self) -> Result<(), DeliverError> {
        let clinic = self.to.name();
        let releases = self.releases();
        let mut told = self.journal.told_unstated(&clinic)?;
        for (person, leave) in releases.iter() {
            if *leave == Leave::Unstated && told.insert(person.to_string()) {
                tracing::warn!(
                    "{}: {person} goes there because clinic.people says so, and nobody has stated a release; `quietcuff \
                     deliver release {person}` states one, which stands in the record. This is told once",
                    self.to.address()
                );
                self.journal.set_told_unstated(&clinic, &told)?;
            }
        }
        Ok(())
    }

    /// Logs what a round did.
    pub fn tell(&self, round: &Round) {
        tell(round, &self.to);
    }

    /// Looks when somebody wrote, when patience is over, and now and then.
    fn follow(mut self, service: &ServiceManager) -> Result<(), DeliverError> {
        service.ready("following the journal");
        self.tell_unstated()?;
        let (mut seen, mut looked, mut closed) = (None, Instant::now(), false);
        loop {
            service.alive();
            let version = self.journal.data_version()?;
            let contact = self.journal.contact(&self.to.name())?;
            let patient = patience::rests(contact.not_before, Timestamp::now());
            let news = seen != Some(version) || contact.failures > 0 || looked.elapsed() > LOOK_ANYWAY;
            if news && !patient {
                (seen, looked) = (Some(version), Instant::now());
                match self.look_again() {
                    // Somebody withdrew; whoever launches anew writes that down beside the journal.
                    Err(DeliverError::Delivery(DeliveryError::NotOpen(why))) => {
                        if !std::mem::replace(&mut closed, true) {
                            tracing::warn!("nothing is delivered: {why}");
                        }
                        (seen, self.carrier) = (None, None);
                        std::thread::sleep(AWAY);
                        continue;
                    }
                    looked => {
                        looked?;
                        closed = false;
                    }
                }
                let round = self.rounds(&|| service.alive(), &|_| ())?;
                tell(&round, &self.to);
                if let Some(trouble) = &round.trouble {
                    let until = self.journal.contact(&self.to.name())?.not_before;
                    let until = until.map(|at| format!("{at:.0}")).unwrap_or_default();
                    tracing::warn!("{}: {trouble}; not before {until} again", self.to.address());
                }
            }
            std::thread::sleep(LOOK);
        }
    }
}

/// Numbers only: what was measured, and whose it is, does not belong into a log.
fn tell(round: &Round, to: &ToClinic) {
    let things = to.things();
    if round.sent > 0 {
        tracing::info!("{}: {} {things} delivered", to.address(), round.sent);
    }
    if round.refused > 0 {
        tracing::warn!(
            "{}: {} {things} were refused; `quietcuff deliver list` shows the server's reasons",
            to.address(),
            round.refused
        );
    }
}

/// Waits until the one record is open that a launch is for; where the configuration means none, it does not wait.
fn until_open(config: &Config, journal: &Journal, service: &ServiceManager) -> Result<(), DeliverError> {
    let mut told = false;
    loop {
        let stated = journal.stated_in::<DeliverError>(config.time_zone.as_deref())?;
        match ToClinic::of(config, &stated) {
            Err(DeliveryError::NotOpen(why)) => {
                if !std::mem::replace(&mut told, true) {
                    tracing::warn!("nothing is delivered: {why}");
                    service.ready("waiting until somebody opens their record");
                }
                service.alive();
                std::thread::sleep(AWAY);
            }
            other => return Ok(other.map(drop)?),
        }
    }
}

/// Delivers until `stop` ends. Where one person opens their own record, the page is answered as well, also before that
/// was done.
pub fn stay(
    mut config: Config,
    journal: Journal,
    service: ServiceManager,
    stop: impl Future<Output = ()>,
) -> Result<(), DeliverError> {
    let state = journal.path().parent().map(ToOwned::to_owned).unwrap_or_default();
    config.clinic.state = Some(state.clone());
    let path = socket::delivery_path(&state);
    let page = match config.clinic.auth {
        Auth::Launch => Some((
            socket::bind_early(&path)?,
            Openings::new(state, config.clinic.clone()),
        )),
        _ => None,
    };
    let asked = page.is_some();
    let stop = async {
        match page {
            Some((listener, openings)) => {
                tokio::select! { () = opening::serve(listener, openings) => {}, () = stop => {} }
            }
            None => stop.await,
        }
    };
    let ended = super::work_until(service, stop, move |service| {
        until_open(&config, &journal, service)?;
        Delivery::begin(config, journal)?.follow(service)
    });
    if asked {
        let _ = std::fs::remove_file(&path);
    }
    ended.and_then(|ended: Option<_>| ended.unwrap_or(Ok(())))
}
