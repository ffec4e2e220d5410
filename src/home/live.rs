//! What is live: one thread that reads the journal for every open page.
//!
//! It sleeps until it is asked, the journal was written, what is shown changes by itself (an hour opens, a
//! wait is over), or the beat is due, once a minute. Then it reads the frames that came since for the cuff's
//! pressure, settles the rest, and renders each view that somebody watches once, however many watch it. What
//! the household stated is folded once, and again only when a statement came. It has no Bluetooth: the
//! collector writes, this reads. Rests that somebody started are kept in memory only.

use super::aside::Aside;
use super::listening::ListeningWatch;
use super::wake::{Bell, Wake, Wary};
use crate::delivery::Clinic;
use crate::edge::uptime_ms;
use crate::gatt::{Characteristic, CuffPressure, Unit};
use crate::household::phones::Phones;
use crate::household::{MonitorId, Person, PersonId, Statement, UnknownZone};
use crate::journal::{FrameFilter, Journal, JournalError, StoredFrame, UserConsent};
use crate::monitoring::listening::ListeningTrouble;
use crate::monitoring::reminders::Silent;
use crate::monitoring::stated::Stated;
use crate::reading::Pressure;
use crate::whole::reason;
use crate::words::Language;
use jiff::{SignedDuration, Timestamp};
use std::collections::{BTreeMap, HashMap};
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::mpsc::{Receiver, SyncSender, TryRecvError, sync_channel};
use std::time::{Duration, Instant};
use tokio::sync::{oneshot, watch};

/// How often the journal is looked at while a page is open and the kernel does not tell of writes.
const LOOK: Duration = Duration::from_millis(40);
/// At the next beat after so long, what is shown is made anew even where nothing is known to have changed:
/// somebody may have set the clock.
const RENEW: SignedDuration = SignedDuration::from_secs(50);
/// Questions that wait; a page asks one or two.
const QUEUE_MAX: usize = 512;
/// A cuff that says nothing for so long is not being watched any more.
pub(crate) const CUFF_SILENT: SignedDuration = SignedDuration::from_secs(4);
/// Rest before the first reading (ESC 2024; AHA/AMA 2020).
pub(crate) const REST: SignedDuration = SignedDuration::from_mins(5);
/// How long after a rest the button is still to be pressed; later the rest is forgotten.
pub(crate) const RESTED: SignedDuration = SignedDuration::from_mins(10);

type Job = Box<dyn FnOnce(&mut Book) + Send>;

/// Asks the thread that has the journal, and follows it.
#[derive(Clone)]
pub struct Desk {
    jobs: SyncSender<Job>,
    bell: Bell,
    turns: Turns,
}

/// What the thread tells everybody; each is a count that grows.
#[derive(Clone)]
pub(crate) struct Turns {
    /// Somebody wrote, and every view was made anew.
    pub(crate) writes: watch::Receiver<u64>,
    /// The beat: the thread lives, and the journal answers.
    pub(crate) beats: watch::Receiver<u64>,
    /// The uptime at which what is shown was last made, in milliseconds.
    pub(crate) made: watch::Receiver<i64>,
    /// Whom the household calls, known without asking the journal.
    phones: watch::Receiver<Phones>,
}

/// The thread's side of it.
struct Tell {
    writes: watch::Sender<u64>,
    beats: watch::Sender<u64>,
    made: watch::Sender<i64>,
    phones: watch::Sender<Phones>,
}

/// Why the thread cannot start.
#[derive(Debug, thiserror::Error)]
pub enum DeskError {
    /// The journal cannot be opened.
    #[error(transparent)]
    Journal(#[from] JournalError),
    /// The operating system gives no thread.
    #[error("cannot start: {}", reason(.0))]
    Start(#[from] std::io::Error),
}

/// The thread is too busy, or gone.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("the journal's thread is busy")]
pub struct Busy;

impl Desk {
    /// Opens the journal and starts the thread, which renders so and whose beat comes so often. It ends at
    /// the beat after which nobody can ask any more.
    pub fn start(place: PagePlace, (render, beat): (Render, Duration)) -> Result<Self, DeskError> {
        let (journal, aside) = Aside::open(&place.state)?;
        let wake = Wake::of(&place.state)?;
        let bell = wake.bell();
        let (sender, jobs) = sync_channel(QUEUE_MAX);
        let (writes, beats) = (watch::Sender::new(0), watch::Sender::new(0));
        let made = watch::Sender::new(uptime_ms());
        let phones = watch::Sender::new(place.phones.clone());
        let turns = Turns {
            phones: phones.subscribe(),
            writes: writes.subscribe(),
            beats: beats.subscribe(),
            made: made.subscribe(),
        };
        let tell = Tell {
            writes,
            beats,
            made,
            phones,
        };
        let ring = wake.bell();
        let listener = ListeningWatch::start(place.state.clone(), move || ring.ring())?;
        std::thread::Builder::new()
            .name("page-journal".to_owned())
            .spawn(move || {
                let mut book = Book::new(journal, place, render);
                book.aside = aside;
                book.listener = Some(listener);
                book.run(&jobs, &wake, beat, &tell);
            })?;
        Ok(Self {
            jobs: sender,
            bell,
            turns,
        })
    }

    /// Follows the thread from now on.
    pub(crate) fn turns(&self) -> Turns {
        let mut turns = self.turns.clone();
        turns.writes.mark_unchanged();
        turns.beats.mark_unchanged();
        turns
    }

    /// Whom the household calls, as it was last known: nobody is waited for.
    pub(crate) fn phones(&self) -> Phones {
        self.turns.phones.borrow().clone()
    }

    /// Lets the thread do something and waits for what it says.
    pub async fn ask<T: Send + 'static>(
        &self,
        work: impl FnOnce(&mut Book) -> T + Send + 'static,
    ) -> Result<T, Busy> {
        let (tell, told) = oneshot::channel();
        let job: Job = Box::new(move |book| {
            let _ = tell.send(work(book));
        });
        self.jobs.try_send(job).map_err(|_| Busy)?;
        self.bell.ring();
        told.await.map_err(|_| Busy)
    }
}

/// Whose view, and in which language: everybody's where no person is named.
pub type View = (Option<PersonId>, Language);

/// Makes what everybody who watches a view is shown, and says when it changes by itself.
pub type Render = fn(&mut Book, &View, Timestamp) -> (String, Option<Timestamp>);

/// The journal's directory, the zone that the configuration names, which holds where none was stated, and the clinic
/// that it chose.
#[derive(Clone, Debug)]
pub struct PagePlace {
    pub(crate) state: PathBuf,
    zone: Option<String>,
    clinic: Clinic,
    silent: Silent,
    pub(crate) phones: Phones,
}

impl PagePlace {
    /// With the clinic that the configuration chose.
    pub fn new(state: PathBuf, zone: Option<String>, clinic: Clinic) -> Self {
        Self {
            clinic: Clinic {
                state: Some(state.clone()),
                ..clinic
            },
            state,
            zone,
            silent: Silent::default(),
            phones: Phones::default(),
        }
    }

    /// The clinic that the configuration chose.
    pub(crate) const fn clinic(&self) -> &Clinic {
        &self.clinic
    }

    /// The same, with whom the household calls.
    #[must_use]
    pub fn calling(self, phones: Phones) -> Self {
        Self { phones, ..self }
    }

    /// The same, with how long a silence is worth a word.
    #[must_use]
    pub fn patient(self, silent: Silent) -> Self {
        Self { silent, ..self }
    }

    /// What the household stated. Where the zone is unknown, a screen in the kitchen goes on in UTC.
    pub(crate) fn stated(&self, journal: &Journal) -> Result<Arc<Stated>, JournalError> {
        match journal.stated_in(self.zone.as_deref()) {
            Ok(stated) => Ok(stated),
            Err(NotStated::Journal(error)) => Err(error),
            Err(NotStated::Zone) => journal.stated(),
        }
    }
}

/// Why nothing can be said of the household.
enum NotStated {
    Journal(JournalError),
    Zone,
}

impl From<JournalError> for NotStated {
    fn from(error: JournalError) -> Self {
        Self::Journal(error)
    }
}

impl From<UnknownZone> for NotStated {
    fn from(_: UnknownZone) -> Self {
        Self::Zone
    }
}

/// The cuff of a monitor, while it works.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Cuff {
    pub(crate) pressure: Pressure,
    pub(crate) unit: Unit,
    pub(crate) rising: Option<bool>,
    pub(crate) at: Timestamp,
}

/// Everything that pages are made of.
pub struct Book {
    pub(crate) journal: Journal,
    pub(crate) place: PagePlace,
    version: Option<i64>,
    frame: i64,
    pub(crate) cuffs: HashMap<Option<PersonId>, Cuff>,
    rests: HashMap<PersonId, Timestamp>,
    views: BTreeMap<View, watch::Sender<Arc<str>>>,
    render: Render,
    /// When a view that somebody watches changes by itself.
    due: Option<Timestamp>,
    /// From when on the beat makes every view anew.
    renew: Timestamp,
    /// Whether anybody listens; a page without a socket does not look.
    listener: Option<Arc<ListeningWatch>>,
    /// What of it was last shown.
    listened: u64,
    /// Whether anything can be kept at the moment.
    pub(crate) aside: Aside,
}

impl Book {
    pub(super) fn new(journal: Journal, place: PagePlace, render: Render) -> Self {
        Self {
            journal,
            place,
            version: None,
            frame: 0,
            cuffs: HashMap::new(),
            rests: HashMap::new(),
            views: BTreeMap::new(),
            render,
            due: None,
            renew: Timestamp::MIN,
            listener: None,
            listened: 0,
            aside: Aside::default(),
        }
    }

    fn run(&mut self, jobs: &Receiver<Job>, wake: &Wake, beat: Duration, tell: &Tell) {
        self.frame = self.journal.newest_frame().unwrap_or(0);
        self.tell_phones(tell);
        let (mut next_beat, mut wary) = (Instant::now() + beat, Wary::default());
        loop {
            self.views.retain(|_, view| view.receiver_count() > 0);
            let now = Instant::now();
            let mut wait = next_beat.saturating_duration_since(now);
            if !self.views.is_empty() {
                let look = (!wake.hears()).then_some(LOOK);
                let sooner = [self.until_due(), wary.wait(now), look];
                wait = sooner.into_iter().flatten().fold(wait, Duration::min);
            }
            if wake.wait(wait) {
                wary.written(Instant::now());
            }
            loop {
                match jobs.try_recv() {
                    Ok(job) => {
                        self.look(tell);
                        job(self);
                        // What somebody just stated shows on every screen at once.
                        self.look(tell);
                    }
                    Err(TryRecvError::Empty) => break,
                    Err(TryRecvError::Disconnected) => return,
                }
            }
            if !self.views.is_empty() {
                self.look(tell);
            }
            wary.looked(Instant::now());
            if Instant::now() >= next_beat {
                next_beat = Instant::now() + beat;
                self.try_to_keep();
                if self.journal.data_version().is_ok() {
                    tell.beats.send_modify(|beats| *beats += 1);
                }
            }
        }
    }

    /// How long until a view changes by itself.
    fn until_due(&self) -> Option<Duration> {
        let left = self.due?.duration_since(Timestamp::now());
        Some(Duration::try_from(left).unwrap_or(Duration::ZERO))
    }

    /// Looks whether anything changed, and renders what somebody watches.
    fn look(&mut self, tell: &Tell) {
        let version = self.journal.data_version().ok();
        let written = version != self.version;
        let now = Timestamp::now();
        let due = self.due.is_some_and(|due| due <= now) || self.renew <= now;
        let listened = self.listener.as_ref().map_or(0, |listener| listener.turn());
        if !written && !due && listened == self.listened {
            return;
        }
        self.listened = listened;
        if written {
            self.version = version;
            self.aside.keep_up(&mut self.journal, &self.place.state);
            self.hear(now);
            self.tell_phones(tell);
        }
        self.renew = now.checked_add(RENEW).unwrap_or(Timestamp::MAX);
        self.due = None;
        let views: Vec<View> = self.views.keys().cloned().collect();
        for view in views {
            let (made, until) = (self.render)(self, &view, now);
            self.due = self
                .due
                .into_iter()
                .chain(until.filter(|until| *until > now))
                .min();
            if let Some(watched) = self.views.get(&view) {
                watched.send_if_modified(|shown| {
                    let new = **shown != *made;
                    if new {
                        *shown = made.into();
                    }
                    new
                });
            }
        }
        tell.made.send_replace(uptime_ms());
        if written {
            tell.writes.send_modify(|writes| *writes += 1);
        }
    }

    fn tell_phones(&self, tell: &Tell) {
        if let Ok(known) = self.known() {
            let phones = self.phones(&known);
            tell.phones.send_if_modified(|told| {
                let new = *told != phones;
                *told = phones;
                new
            });
        }
    }

    /// Whom the household calls: as somebody stated, else as the configuration says.
    pub(crate) fn phones(&self, known: &Stated) -> Phones {
        let stated = known.household.phones.as_ref();
        stated.unwrap_or(&self.place.phones).clone()
    }

    /// Reads the frames that came since for the cuff.
    fn hear(&mut self, now: Timestamp) {
        let after = FrameFilter {
            after: Some(self.frame),
            ..FrameFilter::default()
        };
        let mut new: Vec<StoredFrame> = Vec::new();
        let ahead = self.journal.clocks_ahead().unwrap_or_default();
        let read = self.journal.each_frame(&after, |stored| {
            self.frame = stored.id;
            // A capture that is replayed tells nothing of this moment, and neither does what a listener kept for a while.
            if now.duration_since(ahead.received(&stored.frame)) < CUFF_SILENT {
                new.push(stored);
            }
            true
        });
        if let Err(error) = read {
            tracing::warn!("{error}");
        }
        let Ok(known) = self.known() else { return };
        for StoredFrame { frame, .. } in new {
            let monitor = known.household.monitor_at(&frame.monitor);
            let decoded = match frame.characteristic {
                Characteristic::INTERMEDIATE_CUFF_PRESSURE => CuffPressure::decode(&frame.value).ok(),
                Characteristic::ENHANCED_INTERMEDIATE_CUFF_PRESSURE => {
                    CuffPressure::decode_enhanced(&frame.value).ok()
                }
                _ => None,
            };
            let Some(cuff) = decoded else {
                if matches!(
                    frame.characteristic,
                    Characteristic::BLOOD_PRESSURE_MEASUREMENT
                        | Characteristic::ENHANCED_BLOOD_PRESSURE_MEASUREMENT
                ) {
                    self.cuffs.clear();
                }
                continue;
            };
            let Some(pressure) = Pressure::from_sfloat(cuff.pressure, cuff.unit) else {
                continue;
            };
            let whose = match cuff.user_id {
                Some(user) => known.household.user_indexes.get(&(monitor, user)),
                None => known.household.usual.get(&monitor),
            };
            let whose = whose.and_then(|mapping| mapping.at(now)).cloned();
            let before = self.cuffs.get(&whose).copied();
            let rising = match before {
                Some(before) if before.pressure == pressure => before.rising,
                Some(before) => Some(before.pressure < pressure),
                None => None,
            };
            self.cuffs.insert(
                whose,
                Cuff {
                    pressure,
                    unit: cuff.unit,
                    rising,
                    at: now,
                },
            );
        }
    }

    /// The household as it stands.
    pub(crate) fn known(&self) -> Result<Arc<Stated>, JournalError> {
        self.place.stated(&self.journal)
    }

    /// What keeps readings from arriving, or from going on, at the moment.
    pub(crate) fn troubles(&mut self, now: Timestamp) -> Result<Vec<ListeningTrouble>, JournalError> {
        let known = self.known()?;
        let mut troubles = match &self.listener {
            Some(listener) => {
                let known = (&known.household, &self.place.clinic, self.place.silent);
                listener.troubles(&self.journal, known, now)?
            }
            None => Vec::new(),
        };
        troubles.splice(0..0, self.aside.trouble());
        Ok(troubles)
    }

    /// Keeps what somebody stated on a page.
    pub(crate) fn state(&mut self, statements: &[Statement]) -> Result<(), JournalError> {
        self.try_to_keep();
        self.journal.state(Timestamp::now(), statements)?;
        self.changed();
        Ok(())
    }

    /// The same, unless somebody stated something since the household was looked at; whether it was kept.
    pub(crate) fn state_if_known(
        &mut self,
        known: &Stated,
        statements: &[Statement],
    ) -> Result<bool, JournalError> {
        self.try_to_keep();
        let now = Timestamp::now();
        let kept = self.journal.state_if_newest(known.newest(), now, statements)?;
        self.changed();
        Ok(kept)
    }

    /// Keeps the code of a user of a monitor.
    pub(crate) fn give_consent(
        &mut self,
        monitor: &MonitorId,
        consent: &UserConsent,
    ) -> Result<(), JournalError> {
        self.try_to_keep();
        self.journal.give_consent(monitor, consent)?;
        self.changed();
        Ok(())
    }

    /// Forgets the code of a user of a monitor, where one is kept.
    pub(crate) fn withdraw_consent(
        &mut self,
        monitor: &MonitorId,
        user: Option<u8>,
    ) -> Result<(), JournalError> {
        self.try_to_keep();
        self.journal.withdraw_consent(monitor, user)?;
        self.changed();
        Ok(())
    }

    /// Forgets the codes of all users of a monitor.
    pub(crate) fn withdraw_consents(&mut self, monitor: &MonitorId) -> Result<(), JournalError> {
        self.try_to_keep();
        self.journal.withdraw_consents(monitor)?;
        self.changed();
        Ok(())
    }

    /// Takes a person off the lists, and withdraws their keys.
    pub(crate) fn remove(&mut self, person: &PersonId) -> Result<(), JournalError> {
        self.try_to_keep();
        self.journal.remove_person(person, Timestamp::now())?;
        self.changed();
        Ok(())
    }

    /// Brings back a person who was removed. No key of theirs from then opens anything.
    pub(crate) fn again(&mut self, person: &PersonId, details: Person) -> Result<(), JournalError> {
        self.try_to_keep();
        self.journal.withdraw_keys_of(person, Timestamp::now())?;
        let person = person.clone();
        self.state(&[Statement::Person { person, details }])
    }

    /// Opens the journal for writing again, where nothing could be kept.
    pub(crate) fn try_to_keep(&mut self) {
        if self.aside.try_to_keep(&mut self.journal, &self.place.state) {
            self.changed();
        }
    }

    /// Makes everything that is shown anew.
    fn changed(&mut self) {
        self.version = None;
    }

    /// The rest that somebody started, until it is over and a little longer.
    pub(crate) fn rest(&self, person: &PersonId, now: Timestamp) -> Option<Timestamp> {
        let until = *self.rests.get(person)?;
        let forgotten = until.checked_add(RESTED).unwrap_or(Timestamp::MAX);
        (now < forgotten).then_some(until)
    }

    /// Starts a rest, or ends it.
    pub(crate) fn set_rest(&mut self, person: PersonId, start: bool) {
        if start {
            let until = Timestamp::now().checked_add(REST).unwrap_or(Timestamp::MAX);
            self.rests.insert(person, until);
        } else {
            self.rests.remove(&person);
        }
        self.version = None;
    }

    /// Watches a view: everybody who does shares one.
    pub(crate) fn watch(&mut self, view: View) -> watch::Receiver<Arc<str>> {
        if let Some(watched) = self
            .views
            .get(&view)
            .filter(|watched| watched.receiver_count() > 0)
        {
            return watched.subscribe();
        }
        let (made, _) = (self.render)(self, &view, Timestamp::now());
        let (sender, receiver) = watch::channel(made.into());
        self.views.insert(view, sender);
        self.renew = Timestamp::MIN;
        receiver
    }
}
