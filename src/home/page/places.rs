//! Places: who may be connected at once, and who has to go when there are too many.
//!
//! Nobody waits outside. Whoever comes gets a place; where that is one too many, somebody else goes. First goes who has
//! shown no key yet, of the address that has the most of those, the longest there of them. A connection that showed a
//! key goes only where there are none without, and then of the key's holder who has the most. So whoever opens many
//! connections takes them from themselves.

use super::door::{From, Viewer};
use std::collections::{BTreeMap, HashMap};
use std::net::IpAddr;
use std::sync::{Arc, Mutex, PoisonError};
use tokio::sync::Notify;

/// Connections at once: a household's screens, each with a stream and two more, and room for a hundred open
/// pages. Own choice.
const CONNECTIONS_MAX: usize = 256;
/// Connections of one address without a key. A browser opens six to one server (common practice). Own choice.
const OF_ADDRESS_MAX: usize = 32;
/// Streams of one session: a browser has a few tabs. Own choice.
const STREAMS_OF_SESSION_MAX: usize = 8;
/// Streams of one key, or of all who need none: a hundred open pages. Half of the places. Own choice.
const STREAMS_OF_KEY_MAX: usize = CONNECTIONS_MAX / 2;

/// Who is connected.
#[derive(Default)]
pub(super) struct Places(Mutex<Taken>);

#[derive(Default)]
struct Taken {
    next: u64,
    seats: BTreeMap<u64, Sitting>,
    streams: BTreeMap<u64, Stream>,
}

struct Sitting {
    from: From,
    /// The key that it showed; `Some(None)` where none is needed.
    holder: Option<Holder>,
    leave: Arc<Notify>,
}

/// A key, or nobody's where none is needed.
type Holder = Option<String>;

struct Stream {
    holder: Holder,
    session: Option<[u8; 32]>,
    leave: Arc<Notify>,
}

/// A place; it is free again when this is dropped.
pub(super) struct Seat {
    places: Arc<Places>,
    number: u64,
    pub(super) from: From,
    /// Told when somebody else needs the place.
    pub(super) leave: Arc<Notify>,
}

/// A stream's place; it is free again when this is dropped.
pub(super) struct StreamSeat {
    places: Arc<Places>,
    number: u64,
    /// Told when a newer stream needs the place.
    pub(super) leave: Arc<Notify>,
}

impl Places {
    fn taken(&self) -> std::sync::MutexGuard<'_, Taken> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// A place for a new connection, from somebody else where there is none.
    pub(super) fn take(self: &Arc<Self>, address: IpAddr, behind_proxy: bool) -> Arc<Seat> {
        let from = From::of(address);
        let leave = Arc::new(Notify::new());
        let mut taken = self.taken();
        // A proxy's address is everybody's.
        let strangers = taken.strangers(|other| other == from);
        if !behind_proxy && strangers >= OF_ADDRESS_MAX {
            taken.oldest_stranger_goes(from);
        }
        if taken.seats.len() >= CONNECTIONS_MAX {
            taken.somebody_goes();
        }
        let number = taken.next();
        taken.seats.insert(
            number,
            Sitting {
                from,
                holder: None,
                leave: leave.clone(),
            },
        );
        Arc::new(Seat {
            places: self.clone(),
            number,
            from,
            leave,
        })
    }

    /// A place for a stream. The oldest of the same session, or of the same key, goes where there are too many.
    pub(super) fn stream(self: &Arc<Self>, viewer: &Viewer, session: Option<[u8; 32]>) -> StreamSeat {
        let holder = viewer.key_id().map(str::to_owned);
        let leave = Arc::new(Notify::new());
        let mut taken = self.taken();
        if session.is_some() {
            taken.oldest_stream_goes(STREAMS_OF_SESSION_MAX, |stream| stream.session == session);
        }
        taken.oldest_stream_goes(STREAMS_OF_KEY_MAX, |stream| stream.holder == holder);
        let number = taken.next();
        taken.streams.insert(
            number,
            Stream {
                holder,
                session,
                leave: leave.clone(),
            },
        );
        StreamSeat {
            places: self.clone(),
            number,
            leave,
        }
    }
}

impl Taken {
    fn next(&mut self) -> u64 {
        self.next += 1;
        self.next
    }

    fn strangers(&self, of: impl Fn(From) -> bool) -> usize {
        self.seats
            .values()
            .filter(|seat| seat.holder.is_none() && of(seat.from))
            .count()
    }

    fn goes(&mut self, number: Option<u64>) {
        if let Some(seat) = number.and_then(|number| self.seats.remove(&number)) {
            seat.leave.notify_one();
        }
    }

    fn oldest_stranger_goes(&mut self, from: From) {
        let oldest = self
            .seats
            .iter()
            .find(|(_, seat)| seat.holder.is_none() && seat.from == from);
        let number = oldest.map(|(number, _)| *number);
        self.goes(number);
    }

    fn somebody_goes(&mut self) {
        let of_strangers = most(
            self.seats
                .values()
                .filter(|seat| seat.holder.is_none())
                .map(|seat| seat.from),
        );
        if let Some(from) = of_strangers {
            return self.oldest_stranger_goes(from);
        }
        let of_holders = most(self.seats.values().filter_map(|seat| seat.holder.clone()));
        let oldest = self.seats.iter().find(|(_, seat)| seat.holder == of_holders);
        let number = oldest.map(|(number, _)| *number);
        self.goes(number);
    }

    fn oldest_stream_goes(&mut self, most: usize, of: impl Fn(&Stream) -> bool) {
        let mut same = self.streams.iter().filter(|(_, stream)| of(stream));
        let oldest = same.next().map(|(number, _)| *number);
        if same.count() + 1 < most {
            return;
        }
        if let Some(stream) = oldest.and_then(|number| self.streams.remove(&number)) {
            stream.leave.notify_one();
        }
    }
}

/// What comes most often.
fn most<T: std::hash::Hash + Eq + Ord + Clone>(all: impl Iterator<Item = T>) -> Option<T> {
    let mut counts: HashMap<T, usize> = HashMap::new();
    all.for_each(|one| *counts.entry(one).or_default() += 1);
    counts
        .into_iter()
        .max_by_key(|(one, count)| (*count, one.clone()))
        .map(|(one, _)| one)
}

impl Seat {
    /// Whoever sits here may look at the page.
    pub(super) fn prove(&self, viewer: &Viewer) {
        if let Some(seat) = self.places.taken().seats.get_mut(&self.number) {
            seat.holder = Some(viewer.key_id().map(str::to_owned));
        }
    }
}

impl Drop for Seat {
    fn drop(&mut self) {
        self.places.taken().seats.remove(&self.number);
    }
}

impl Drop for StreamSeat {
    fn drop(&mut self) {
        self.places.taken().streams.remove(&self.number);
    }
}
