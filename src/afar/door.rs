//! One connection of a listener, as the record sees it.

use super::HEARTBEAT;
use super::line::{First, Line, LineError};
use super::orders::{Presence, Present};
use super::speech::{
    FromRecord, OCTETS_MAX, STRANGER_OCTETS_MAX, Take, ToRecord, Why, is_version, near, shown,
};
use crate::journal::{Joined, Journal, JournalError, Listener};
use crate::keys::KeySecret;
use crate::socket;
use jiff::Timestamp;
use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};

/// A caller has to say what it wants within this.
const FIRST_WORD: Duration = Duration::from_secs(10);
/// A listener that has said nothing for so long is gone: several heartbeats.
const SILENCE_MAX: Duration = HEARTBEAT.saturating_mul(5);
/// Frames and clock samples that a listener may hand on at once, and how many more each second: a year of a household is
/// through at once, and whoever only wants to fill the disk needs a day for four million.
const SHARE: f64 = 20_000.0;
const SHARE_A_SECOND: f64 = 50.0;
/// The longest time for which a listener is held back at once.
const HELD_BACK_MAX: Duration = Duration::from_secs(10);

/// How much of one listener is taken: a bucket that fills again.
#[derive(Debug)]
struct Share {
    left: f64,
    since: Instant,
}

impl Share {
    fn new(now: Instant) -> Self {
        Self {
            left: SHARE,
            since: now,
        }
    }

    /// Takes so many out, and says for how long to hold back.
    fn take(&mut self, rows: u32, now: Instant) -> Duration {
        let passed = now.saturating_duration_since(self.since).as_secs_f64();
        self.since = now;
        self.left = passed.mul_add(SHARE_A_SECOND, self.left).min(SHARE) - f64::from(rows);
        if self.left >= 0.0 {
            return Duration::ZERO;
        }
        Duration::from_secs_f64(-self.left / SHARE_A_SECOND).min(HELD_BACK_MAX)
    }
}

/// The share of each listener, by its key: one that calls again has no other.
#[derive(Clone, Debug, Default)]
pub struct Shares(Arc<Mutex<BTreeMap<[u8; 32], Share>>>);

impl Shares {
    fn take(&self, key: &[u8; 32], rows: u32, now: Instant) -> Duration {
        let mut all = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        all.entry(*key).or_insert_with(|| Share::new(now)).take(rows, now)
    }
}

/// Serves one connection to its end. What is refused is said to the listener, and given back for the log.
pub fn serve(
    line: &mut Line,
    journal: &mut Journal,
    (shares, present): (&Shares, &Present),
    version: &str,
) -> Result<(), LineError> {
    let mut presence: Option<Presence> = None;
    // Of somebody whom nobody let in, little is read.
    let mut octets_max = STRANGER_OCTETS_MAX;
    let mut patience = FIRST_WORD;
    let mut told = String::new();
    loop {
        if let Some(presence) = presence.as_mut() {
            patience = give(line, journal, presence)?;
        }
        let Some(asked) = line.hear::<ToRecord>(patience, octets_max)? else {
            return Ok(());
        };
        patience = SILENCE_MAX;
        let rows = match &asked {
            ToRecord::Take(take) => take.rows(),
            ToRecord::Time => 1,
            _ => 0,
        };
        if let ToRecord::Join { version, .. } | ToRecord::Begin { version, .. } = &asked {
            told.clone_from(version);
        }
        let does = matches!(asked, ToRecord::Begin { does: true, .. });
        if let ToRecord::Did { number, answer } = asked {
            if let Some(presence) = &mut presence {
                presence.did(number, answer);
            }
            line.say(&FromRecord::Noted)?;
            continue;
        }
        let answer = match answer(journal, &line.key, asked, (version, &told), Timestamp::now()) {
            Ok(answer) => answer,
            Err(error) => {
                tracing::error!("a listener's frames cannot be kept: {error}");
                not_now()
            }
        };
        match &answer {
            FromRecord::Refused { words, .. } => tracing::warn!("a listener was refused: {words}"),
            FromRecord::Joined { listener } => tracing::info!("listener {listener} was let in"),
            FromRecord::Holds { .. } => {
                octets_max = OCTETS_MAX;
                let listener = journal.listener_with(&line.key).ok().flatten();
                presence = presence.or_else(|| listener.map(|listener| present.comes(&listener.id, does)));
            }
            FromRecord::Kept | FromRecord::Time { .. } | FromRecord::Noted | FromRecord::Do { .. } => {}
        }
        // Before the answer: whoever waits for it sends nothing meanwhile. Of whom nothing is kept, nothing is counted.
        if matches!(answer, FromRecord::Kept | FromRecord::Time { .. }) {
            std::thread::sleep(shares.take(&line.key, rows, Instant::now()));
        }
        line.say(&answer)?;
    }
}

/// Gives a listener what it is asked to do until it says something itself, and says for how long it may still be silent.
fn give(line: &mut Line, journal: &Journal, presence: &mut Presence) -> Result<Duration, LineError> {
    let until = Instant::now() + SILENCE_MAX;
    loop {
        let left = until.saturating_duration_since(Instant::now());
        let Some(bell) = presence.bell() else {
            return Ok(left);
        };
        if line.wait(bell, left)? != First::Other {
            return Ok(until.saturating_duration_since(Instant::now()));
        }
        let listener = journal.listener_with(&line.key).ok().flatten();
        let open = listener.as_ref().is_some_and(Listener::is_open);
        for (number, request) in presence.orders(open) {
            line.say(&FromRecord::Do { number, request })?;
        }
    }
}

/// The answer to one question of the holder of this key. `versions` are the record's and the listener's.
pub fn answer(
    journal: &mut Journal,
    key: &[u8; 32],
    asked: ToRecord,
    (ours, theirs): (&str, &str),
    now: Timestamp,
) -> Result<FromRecord, JournalError> {
    // Nobody may bring other signs into a log or a list by it.
    if !is_version(theirs) {
        return Ok(refused(
            Why::Nonsense,
            "the listener names no version of its program",
        ));
    }
    if !near(ours, theirs) {
        let words = format!(
            "the listener runs version {theirs} and the record {ours}: only neighbouring versions understand each other; \
             bring both to the same one, nothing is lost meanwhile"
        );
        // It is there, and whoever is asked to plug it in is asked in vain.
        if let Some(listener) = journal.listener_with(key)?.filter(Listener::is_open) {
            journal.listener_refused(&listener, theirs, now)?;
        }
        return Ok(refused(Why::Version, words));
    }
    if let ToRecord::Join { code, .. } = &asked {
        return join(journal, key, code, now);
    }
    let listener = match known(journal, key)? {
        Ok(listener) => listener,
        Err(refusal) => return Ok(refusal),
    };
    match asked {
        ToRecord::Take(take) => keep(journal, &listener, &take, theirs, now),
        ToRecord::Time => Ok(FromRecord::Time {
            right: is_right(journal),
            wall_us: Timestamp::now().as_microsecond(),
        }),
        ToRecord::Begin { .. } | ToRecord::Join { .. } | ToRecord::Did { .. } => {
            let held = journal.held_of(&listener)?;
            Ok(FromRecord::Holds {
                through: held.last.map(|(sequence, _)| sequence),
                digest: held.last.map(|(_, digest)| shown(&digest)),
                clocks: held.clocks,
                tells_time: true,
            })
        }
    }
}

/// Tells a listener that nothing can be kept, and why it should come again.
pub fn turn_away(line: &mut Line) -> Result<(), LineError> {
    if line.hear::<ToRecord>(FIRST_WORD, STRANGER_OCTETS_MAX)?.is_some() {
        line.say(&not_now())?;
    }
    Ok(())
}

fn not_now() -> FromRecord {
    refused(
        Why::Later,
        "the record cannot write at the moment; its own `quietcuff check` says why",
    )
}

/// Whether the clock of this machine is known to be right: the collector knows.
fn is_right(journal: &Journal) -> Option<bool> {
    let state = journal.path().parent()?;
    socket::collector(state).ok()??.clock_synchronized
}

fn refused(why: Why, words: impl Into<String>) -> FromRecord {
    FromRecord::Refused {
        why,
        words: words.into(),
    }
}

fn join(
    journal: &mut Journal,
    key: &[u8; 32],
    code: &str,
    now: Timestamp,
) -> Result<FromRecord, JournalError> {
    let joined = match KeySecret::typed(code) {
        Some(secret) => journal.join_listener(&secret.digest("listener"), key, now)?,
        None => Joined::NoSuchCode,
    };
    Ok(match joined {
        Joined::In(listener) => FromRecord::Joined { listener },
        Joined::NoSuchCode => refused(
            Why::Code,
            "this code lets nobody in: it is over, or was used, or is none; `quietcuff listeners invite` at the record prints \
             a new one",
        ),
        Joined::Full => refused(Why::Code, "the record has as many listeners as there can be"),
    })
}

/// The listener with a key, while anything of it is taken.
fn known(journal: &Journal, key: &[u8; 32]) -> Result<Result<Listener, FromRecord>, JournalError> {
    let listener = journal.listener_with(key)?;
    Ok(match listener {
        Some(listener) if listener.is_open() => Ok(listener),
        Some(Listener {
            id,
            closed: Some(_),
            withdrawn: None,
            ..
        }) => Err(refused(
            Why::NotLetIn,
            format!(
                "the record was put back from a backup; `quietcuff listeners confirm {id}` there lets this listener in again"
            ),
        )),
        Some(listener) => Err(refused(
            Why::NotLetIn,
            format!(
                "listener {} was withdrawn at the record; nothing of it is taken any more",
                listener.id
            ),
        )),
        None => Err(refused(
            Why::NotLetIn,
            "the record knows no listener with this key; `quietcuff listeners invite` there prints a code for `quietcuff record join`",
        )),
    })
}

fn keep(
    journal: &mut Journal,
    listener: &Listener,
    take: &Take,
    version: &str,
    now: Timestamp,
) -> Result<FromRecord, JournalError> {
    let (heard, clocks) = match take.heard().and_then(|heard| Ok((heard, take.clocks()?))) {
        Ok(offered) => offered,
        Err(error) => {
            let words = format!("listener {}: {error}; nothing of it was kept", listener.id);
            return Ok(refused(Why::Nonsense, words));
        }
    };
    Ok(
        match journal.take_from(listener, &heard, &clocks, &take.state(version), now)? {
            Some(_) => FromRecord::Kept,
            None => refused(
                Why::NotLetIn,
                format!(
                    "listener {} was withdrawn at the record; nothing of it is taken any more",
                    listener.id
                ),
            ),
        },
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_listener_has_its_share_and_no_more() {
        let (begun, shares) = (Instant::now(), Shares::default());
        let batch = super::super::speech::FRAMES_MAX;
        let (bad, other) = ([1; 32], [2; 32]);
        let mut waited = Duration::ZERO;
        for _ in 0..(1_000_000 / batch) {
            // On a connection of its own each time, it has no other share.
            waited += shares.clone().take(&bad, batch, begun + waited);
        }
        // A million are held back to 50 a second behind the first twenty thousand.
        assert!(waited > Duration::from_secs(19_000), "{waited:?}");
        for second in 0..10_000 {
            let now = begun + Duration::from_secs(second);
            assert_eq!(shares.take(&other, 40, now), Duration::ZERO);
        }
    }
}
