//! One monitor's line: what its connections share, whichever way they come. Here a value is stamped and
//! handed to the journal.

use super::bearer::attributes::ServerAttributes;
use super::report::UsersReport;
use super::stored::{STORED, Stored};
use super::users::MonitorUsers;
use crate::edge::Edge;
use crate::frame::{Frame, VALUE_OCTETS_MAX};
use crate::gatt::Characteristic;
use crate::household::MonitorAddress;
use crate::journal::Entry;
use std::sync::atomic::{AtomicBool, AtomicU32, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};
use tokio::sync::{mpsc, oneshot};

/// The monitor ends the link, usually within 5 s of its last word. One that has sent a reading and then
/// nothing for so long is let go.
const SILENCE_BEFORE_GOODBYE: Duration = Duration::from_secs(20);
/// One that has sent no reading yet may be measuring, which takes up to three minutes with three in a row.
const SILENCE_BEFORE_READING: Duration = Duration::from_mins(5);

/// What carries readings, the ones that a monitor may be waiting to send first.
pub(super) const SUBSCRIBE: [Characteristic; 5] = [
    Characteristic::BLOOD_PRESSURE_MEASUREMENT,
    Characteristic::ENHANCED_BLOOD_PRESSURE_MEASUREMENT,
    Characteristic::INTERMEDIATE_CUFF_PRESSURE,
    Characteristic::ENHANCED_INTERMEDIATE_CUFF_PRESSURE,
    LIVE_OBSERVATIONS,
];

/// What a Generic Health Sensor measures, as it measures it.
const LIVE_OBSERVATIONS: Characteristic = Characteristic::assigned(0x2b8b);

/// What is a reading, and not the pressure on the way to one.
const READINGS: [Characteristic; 4] = [
    Characteristic::BLOOD_PRESSURE_MEASUREMENT,
    Characteristic::ENHANCED_BLOOD_PRESSURE_MEASUREMENT,
    Characteristic::BLOOD_PRESSURE_RECORD,
    LIVE_OBSERVATIONS,
];

/// Whether somebody asked for such values to be sent.
pub(super) fn is_awaited(kind: Characteristic) -> bool {
    SUBSCRIBE.contains(&kind) || STORED.contains(&kind) || kind == Characteristic::USER_CONTROL_POINT
}

/// A control point sets a clock after it has taken the request: tenths of a second (own choice).
const CLOCK_SETTLES: Duration = Duration::from_millis(300);

/// Whether a monitor sends nothing before it is given the time, each time.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
enum Silence {
    /// It sends, or has not been seen yet.
    #[default]
    None,
    /// It was subscribed to, and left without a word.
    Once,
    /// It was given the time on this connection.
    Given,
    /// It was given the time, and spoke.
    Helps,
    /// It was given the time and left without a word all the same: that is not what it waits for.
    Futile,
}

impl Silence {
    /// A connection has ended.
    const fn ended(self, spoke: bool, subscribed: bool) -> Self {
        match (self, spoke) {
            (Self::Given | Self::Helps, true) => Self::Helps,
            (Self::Given | Self::Futile, false) => Self::Futile,
            (Self::None | Self::Once | Self::Futile, true) => Self::None,
            (Self::Helps, false) => Self::Helps,
            (Self::None | Self::Once, false) if subscribed => Self::Once,
            (Self::None | Self::Once, false) => self,
        }
    }
}

/// What the tasks of one monitor share.
#[derive(Debug)]
pub(super) struct MonitorLine {
    monitor: MonitorAddress,
    edge: Edge,
    frames: mpsc::Sender<Entry>,
    connection: AtomicU32,
    used: AtomicBool,
    last_word: Mutex<Instant>,
    /// The clock is to be set on the next connection that allows it.
    pub(super) set_clock: AtomicBool,
    /// A clock that is off is set without being asked.
    pub(super) keep_clock_right: bool,
    /// Names and numbers that do not change have been read.
    pub(super) identified: AtomicBool,
    /// Values that carry readings, on this connection.
    values: AtomicU32,
    /// A reading came on this connection.
    read: AtomicBool,
    /// A subscription stood on this connection.
    subscribed: AtomicBool,
    /// What its server holds, as far as it was found out over a link of our own.
    attributes: Mutex<Option<Arc<ServerAttributes>>>,
    /// What is known of whether it sends nothing before it is given the time.
    silence: Mutex<Silence>,
    /// Between the setting of its clock and the look at what came of it.
    pub(super) clock_settles: Duration,
    /// What it keeps behind its Record Access Control Point.
    pub(super) stored: Stored,
    /// Whose readings it hands out, where it keeps its users apart.
    pub(super) users: MonitorUsers,
}

impl MonitorLine {
    pub(super) fn new(
        monitor: MonitorAddress,
        edge: Edge,
        frames: mpsc::Sender<Entry>,
        connection: u32,
        keep_clock_right: bool,
    ) -> Self {
        Self {
            keep_clock_right,
            monitor,
            edge,
            frames,
            connection: AtomicU32::new(connection),
            used: AtomicBool::new(false),
            last_word: Mutex::new(Instant::now()),
            set_clock: AtomicBool::new(false),
            identified: AtomicBool::new(false),
            values: AtomicU32::new(0),
            read: AtomicBool::new(false),
            subscribed: AtomicBool::new(false),
            attributes: Mutex::new(None),
            stored: Stored::default(),
            users: MonitorUsers::default(),
            silence: Mutex::default(),
            clock_settles: CLOCK_SETTLES,
        }
    }

    /// Stamps a value and hands it to the journal. Waits where the journal is behind: nothing is dropped.
    pub(super) async fn heard(&self, characteristic: Characteristic, value: Vec<u8>) {
        let segment = characteristic == Characteristic::BLOOD_PRESSURE_RECORD;
        if let Some(frame) = self.frame(characteristic, value) {
            self.hand_over(if segment {
                Entry::Owed(frame, self.stored.owed())
            } else {
                Entry::Frame(frame)
            })
            .await;
        }
    }

    /// The same for a value whose monitor waits: `kept` is told once it is on the disk, and dropped where it
    /// never is.
    pub(super) async fn heard_to_keep(
        &self,
        characteristic: Characteristic,
        value: Vec<u8>,
        kept: oneshot::Sender<()>,
    ) {
        if let Some(frame) = self.frame(characteristic, value) {
            self.hand_over(Entry::Owed(frame, kept)).await;
        }
    }

    fn frame(&self, characteristic: Characteristic, value: Vec<u8>) -> Option<Frame> {
        // BlueZ hands on whatever fits the air, which is a little more than the protocol allows.
        if value.len() > VALUE_OCTETS_MAX {
            tracing::warn!(
                monitor = %self.monitor, %characteristic,
                "left out a value of {} octets; the Attribute Protocol allows {VALUE_OCTETS_MAX}", value.len()
            );
            return None;
        }
        if !self.stored.heard(characteristic, &value) || !self.users.heard(characteristic, &value) {
            tracing::debug!(monitor = %self.monitor, "left out a value: more came than any monitor stores");
            return None;
        }
        if SUBSCRIBE.contains(&characteristic) || characteristic == Characteristic::BLOOD_PRESSURE_RECORD {
            self.values.fetch_add(1, Ordering::Relaxed);
        }
        if READINGS.contains(&characteristic) {
            self.read.store(true, Ordering::Relaxed);
        }
        let now = self.edge.now();
        self.used.store(true, Ordering::Relaxed);
        self.speaks();
        tracing::debug!(monitor = %self.monitor, %characteristic, octets = value.len(), "heard");
        Some(Frame {
            received_at: now.at,
            offset: now.offset,
            uptime: now.uptime,
            given_to: None,
            overheard: false,
            monitor: self.monitor.clone(),
            connection: self.connection.load(Ordering::Relaxed),
            characteristic,
            value,
        })
    }

    pub(super) async fn hand_over(&self, entry: Entry) {
        if self.frames.send(entry).await.is_err() {
            tracing::error!(monitor = %self.monitor, "the journal has stopped; a frame could not be kept");
        }
    }

    /// It has said something, or has just been connected to.
    pub(super) fn speaks(&self) {
        *self.last_word.lock().unwrap_or_else(PoisonError::into_inner) = Instant::now();
    }

    /// A subscription stands.
    pub(super) fn subscribed(&self) {
        self.subscribed.store(true, Ordering::Relaxed);
    }

    /// Whether a subscription stands on this connection.
    pub(super) fn has_subscribed(&self) -> bool {
        self.subscribed.load(Ordering::Relaxed)
    }

    /// Waits until it has said nothing for so long, at most until the limit.
    pub(super) async fn silent_for(&self, silence: Duration, limit: Duration) {
        let until = Instant::now() + limit;
        while Instant::now() < until {
            let last = *self.last_word.lock().unwrap_or_else(PoisonError::into_inner);
            match silence.checked_sub(last.elapsed()) {
                Some(left) if !left.is_zero() => tokio::time::sleep(left).await,
                _ => return,
            }
        }
    }

    /// Whether it seems to send nothing before it is given the time.
    pub(super) fn waits_for_time(&self) -> bool {
        self.values.load(Ordering::Relaxed) == 0 && matches!(*self.silence(), Silence::Once | Silence::Helps)
    }

    /// It was given the time.
    pub(super) fn gave_time(&self) {
        let mut silence = self.silence();
        if *silence == Silence::Once {
            *silence = Silence::Given;
        }
    }

    fn silence(&self) -> MutexGuard<'_, Silence> {
        self.silence.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// The gateway's clocks.
    pub(super) fn edge(&self) -> &Edge {
        &self.edge
    }

    /// What its server holds, where that is known.
    pub(super) fn attributes(&self) -> Option<Arc<ServerAttributes>> {
        self.attributes
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .clone()
    }

    /// What its server holds was found out, or is no longer known.
    pub(super) fn learn(&self, attributes: Option<Arc<ServerAttributes>>) {
        *self.attributes.lock().unwrap_or_else(PoisonError::into_inner) = attributes;
    }

    pub(super) fn monitor(&self) -> &MonitorAddress {
        &self.monitor
    }

    /// For how long the monitor may yet be silent before it is let go; `None` when that time is over.
    pub(super) fn patience(&self) -> Option<Duration> {
        let silent = self
            .last_word
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .elapsed();
        let limit = if self.read.load(Ordering::Relaxed) {
            SILENCE_BEFORE_GOODBYE
        } else {
            SILENCE_BEFORE_READING
        };
        limit.checked_sub(silent).filter(|left| !left.is_zero())
    }

    /// The next connection has at least this number; one that is under way keeps its own.
    pub(super) fn number_from(&self, number: u32) {
        if !self.used.load(Ordering::Relaxed) {
            self.connection.fetch_max(number, Ordering::Relaxed);
        }
    }

    /// The link ended: whatever comes now belongs to the next connection.
    pub(super) fn ended(&self) -> LinkBrought {
        if self.used.swap(false, Ordering::Relaxed) {
            self.connection.fetch_add(1, Ordering::Relaxed);
        }
        self.read.store(false, Ordering::Relaxed);
        self.stored.ended();
        let values = self.values.swap(0, Ordering::Relaxed);
        let ended = LinkBrought {
            values,
            users: self.users.ended(values),
            subscribed: self.subscribed.swap(false, Ordering::Relaxed),
        };
        let mut silence = self.silence();
        *silence = silence.ended(ended.values > 0, ended.subscribed);
        ended
    }
}

impl LinkBrought {
    /// It came to talking with the monitor.
    pub(super) fn good(&self) -> bool {
        self.values > 0 || self.subscribed || self.users.is_some()
    }
}

/// What a link brought.
#[derive(Clone, PartialEq, Eq, Debug)]
pub(super) struct LinkBrought {
    /// Values that carry readings.
    pub(super) values: u32,
    /// A subscription stood.
    pub(super) subscribed: bool,
    /// What it showed of its users, where it keeps them apart.
    pub(super) users: Option<UsersReport>,
}
