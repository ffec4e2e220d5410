//! Whether anybody listens: what the collector says, or that it says nothing, and what stands in the journal.
//!
//! A thread of its own asks the collector once a minute, and learns of its end from the kernel (pidfd_open(2)) in the
//! moment of it. The page, the sheet and the commands say the same of what is found.

use crate::delivery::Clinic;
use crate::delivery::stuck::{Stuck, stuck};
use crate::household::{Household, MonitorId};
use crate::journal::{Journal, JournalError};
use crate::monitoring::listening::{ListeningTrouble, Obstacle, VISITS, is_silent};
use crate::monitoring::reminders::{ListenerHeard, Silent};
use crate::socket::{self, Collecting};
use jiff::Timestamp;
use rustix::event::{PollFd, PollFlags, Timespec, poll};
use std::collections::BTreeSet;
use std::os::fd::OwnedFd;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex, PoisonError, Weak};

/// How often a collector that answers is asked, and one that does not, in seconds: a page that nothing happens to
/// sleeps.
const ASK_S: i64 = 60;
const ASK_AGAIN_S: i64 = 10;

/// What keeps the collector from receiving, if anything does; and whether the machine's clock is known to be right.
fn of_collector(state: &Path) -> (Vec<Obstacle>, Option<OwnedFd>) {
    let Collecting { report, life } = match socket::heard(state) {
        Ok(Some(heard)) => heard,
        Ok(None) => return (vec![Obstacle::NotRunning], None),
        Err(_) => return (vec![Obstacle::NoAnswer], None),
    };
    let radio = report.radio;
    let deaf = if !radio.bluez {
        Some(Obstacle::NoBluetooth)
    } else if radio.adapter.is_none() {
        Some(Obstacle::NoAdapter)
    } else if !radio.powered {
        Some(Obstacle::Off)
    } else {
        radio.problem.map(Obstacle::Radio)
    };
    let kept = report.journal.problem.map(Obstacle::Disk);
    let clock = (report.clock_synchronized == Some(false)).then_some(Obstacle::Clock);
    (deaf.into_iter().chain(kept).chain(clock).collect(), life)
}

/// Whether the program that takes in what other rooms hear is there to be asked.
pub(crate) fn door_is_shut(state: &Path) -> bool {
    // One that does not answer is there all the same, and so is that of another user.
    matches!(socket::door(state), Ok(None))
}

/// What was found of the collector, with since when each has been so.
#[derive(Default)]
struct Seen {
    looked: bool,
    troubles: Vec<ListeningTrouble>,
}

impl Seen {
    /// Takes what is found now; whether anything is other than it was. What goes on keeps its beginning, whatever
    /// reason is given for it; what was there at the first look began before anybody looked.
    fn take(&mut self, found: Vec<Obstacle>, now: Timestamp) -> bool {
        let of = |what: &Obstacle| {
            (
                matches!(what, Obstacle::Clock),
                matches!(what, Obstacle::DoorShut),
            )
        };
        let since = |what: &Obstacle, before: &Self| {
            let goes_on = before
                .troubles
                .iter()
                .find(|trouble| of(&trouble.what) == of(what));
            match goes_on {
                Some(trouble) => trouble.since,
                None => before.looked.then_some(now),
            }
        };
        let troubles: Vec<ListeningTrouble> = found
            .into_iter()
            .map(|what| ListeningTrouble {
                since: since(&what, self),
                what,
            })
            .collect();
        let changed = !self.looked || troubles != self.troubles;
        *self = Self {
            looked: true,
            troubles,
        };
        changed
    }
}

/// Listens whether the collector listens, for as long as somebody holds it.
pub(crate) struct ListeningWatch {
    seen: Mutex<Seen>,
    turn: AtomicU64,
}

impl ListeningWatch {
    /// Starts the thread, which rings whenever something is found to be other than it was.
    pub(super) fn start(state: PathBuf, ring: impl Fn() + Send + 'static) -> std::io::Result<Arc<Self>> {
        let listener = Arc::new(Self {
            seen: Mutex::default(),
            turn: AtomicU64::new(0),
        });
        let listens = Arc::downgrade(&listener);
        std::thread::Builder::new()
            .name("page-listens".to_owned())
            .spawn(move || watch(&state, &listens, &ring))?;
        Ok(listener)
    }

    /// A count that grows whenever something is found to be other than it was.
    pub(super) fn turn(&self) -> u64 {
        self.turn.load(Ordering::Acquire)
    }

    /// What is in the way at this moment, as the household is told.
    pub(crate) fn troubles(
        &self,
        journal: &Journal,
        (household, clinic, silent): (&Household, &Clinic, Silent),
        now: Timestamp,
    ) -> Result<Vec<ListeningTrouble>, JournalError> {
        let of_collector = self
            .seen
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .troubles
            .clone();
        troubles(of_collector, journal, (household, clinic, silent), now)
    }
}

fn watch(state: &Path, listens: &Weak<ListeningWatch>, ring: &impl Fn()) {
    loop {
        let (mut found, life) = of_collector(state);
        found.extend(door_is_shut(state).then_some(Obstacle::DoorShut));
        let answers = life.is_some();
        let Some(listener) = listens.upgrade() else { return };
        let changed = listener
            .seen
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .take(found, Timestamp::now());
        if changed {
            listener.turn.fetch_add(1, Ordering::AcqRel);
            ring();
        }
        drop(listener);
        let wait = Timespec {
            tv_sec: if answers { ASK_S } else { ASK_AGAIN_S },
            tv_nsec: 0,
        };
        let mut on: Vec<PollFd<'_>> = life.iter().map(|life| PollFd::new(life, PollFlags::IN)).collect();
        if let Err(error) = poll(&mut on, Some(&wait)) {
            tracing::debug!("poll: {error}");
        }
    }
}

/// What is in the way as a command finds it, which has not looked before.
pub(crate) fn troubles_now(
    state: &Path,
    journal: &Journal,
    (household, clinic, silent): (&Household, &Clinic, Silent),
    now: Timestamp,
) -> Result<Vec<ListeningTrouble>, JournalError> {
    let mut seen = Seen::default();
    let mut found = of_collector(state).0;
    found.extend(door_is_shut(state).then_some(Obstacle::DoorShut));
    seen.take(found, now);
    troubles(seen.troubles, journal, (household, clinic, silent), now)
}

fn troubles(
    mut troubles: Vec<ListeningTrouble>,
    journal: &Journal,
    (household, clinic, silent): (&Household, &Clinic, Silent),
    now: Timestamp,
) -> Result<Vec<ListeningTrouble>, JournalError> {
    let enrolled: Vec<_> = household
        .monitors
        .iter()
        .filter(|(_, (_, forgotten))| !forgotten)
        .map(|(monitor, _)| monitor)
        .collect();
    let shut = troubles.iter().any(|trouble| trouble.what == Obstacle::DoorShut);
    troubles.retain(|trouble| trouble.what != Obstacle::DoorShut);
    let (rooms, elsewhere) = rooms(shut, journal, (household, silent), now)?;
    // Where there is nothing to hear, nobody has to listen.
    if household.here.is_empty() {
        troubles.clear();
    }
    // Whoever looked longer knows it better; where nobody did, it worked when it last brought something.
    let watched = journal.watched("deaf")?;
    let worked = journal.last_sign_of_life()?;
    for trouble in &mut troubles {
        trouble.since = match trouble.what {
            Obstacle::Clock => trouble.since.or(worked),
            _ => watched.into_iter().chain(trouble.since).min().or(worked),
        };
    }
    let hears = troubles
        .iter()
        .all(|trouble| matches!(trouble.what, Obstacle::Clock));
    // One that comes by another room which is not heard is not to blame.
    let by_itself = |monitor: &&MonitorId| {
        (hears || !household.here.contains(*monitor)) && !elsewhere.contains(monitor.as_str())
    };
    for monitor in enrolled.into_iter().filter(by_itself) {
        let visits = journal.last_visits(monitor, VISITS)?;
        if is_silent(&visits, now) {
            troubles.push(ListeningTrouble {
                what: Obstacle::Silent(monitor.clone()),
                since: visits.first().copied(),
            });
        }
    }
    troubles.extend(rooms);
    troubles.extend(not_delivered(journal, clinic, now)?);
    Ok(troubles)
}

/// What other rooms keep from arriving, and the monitors that come by those.
fn rooms(
    shut: bool,
    journal: &Journal,
    (household, silent): (&Household, Silent),
    now: Timestamp,
) -> Result<(Vec<ListeningTrouble>, BTreeSet<String>), JournalError> {
    let mut listeners = journal.listeners_heard(household)?;
    if shut {
        let since = listeners.iter().map(|listener| listener.heard).max();
        let trouble = since.map(|since| ListeningTrouble {
            what: Obstacle::DoorShut,
            since: Some(since),
        });
        let elsewhere = listeners.into_iter().flat_map(|listener| listener.monitors);
        return Ok((trouble.into_iter().collect(), elsewhere.collect()));
    }
    let gone = |listener: &ListenerHeard| now.duration_since(listener.called()) >= silent.listener();
    listeners.retain(|listener| gone(listener) || listener.refused.is_some());
    let trouble = |listener: &ListenerHeard| {
        let name = listener.name.clone();
        let (what, since) = if gone(listener) {
            (Obstacle::Room(name), listener.called())
        } else {
            (Obstacle::RoomApart(name), listener.heard)
        };
        ListeningTrouble {
            what,
            since: Some(since),
        }
    };
    let troubles = listeners.iter().map(trouble).collect();
    let elsewhere = listeners.into_iter().flat_map(|listener| listener.monitors);
    Ok((troubles, elsewhere.collect()))
}

/// What keeps readings from the clinic's server.
pub(crate) fn not_delivered(
    journal: &Journal,
    clinic: &Clinic,
    now: Timestamp,
) -> Result<Vec<ListeningTrouble>, JournalError> {
    let found = stuck(journal, clinic, now)?.into_iter();
    let trouble = |(stuck, since)| ListeningTrouble {
        what: match stuck {
            Stuck::Fails(why) => Obstacle::Delivery(why),
            Stuck::NotRunning => Obstacle::NotDelivering,
        },
        since,
    };
    Ok(found.map(trouble).collect())
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::SignedDuration;

    #[test]
    fn what_goes_on_keeps_its_beginning() {
        let at = |minutes: i64| Timestamp::UNIX_EPOCH + SignedDuration::from_mins(minutes);
        let mut seen = Seen::default();
        assert!(seen.take(vec![Obstacle::NotRunning], at(0)));
        assert_eq!(seen.troubles[0].since, None, "it was so before anybody looked");
        assert!(!seen.take(vec![Obstacle::NotRunning], at(1)));
        assert!(seen.take(vec![], at(2)));
        assert!(seen.take(vec![Obstacle::NoAnswer], at(3)));
        assert!(seen.take(vec![Obstacle::NotRunning, Obstacle::Clock], at(4)));
        let since: Vec<_> = seen.troubles.iter().map(|trouble| trouble.since).collect();
        assert_eq!(since, [Some(at(3)), Some(at(4))]);
    }
}
