//! The first meeting with a monitor that has just been paired: what is it, and has it readings already?

use super::bus::{Bus, BusError};
use super::line::MonitorLine;
use super::link::{self, LinkError, Subscription};
use crate::edge::Edge;
use crate::gatt::Characteristic;
use crate::household::MonitorAddress;
use crate::journal::{Entry, Journal, JournalError};
use btleplug::api::{Central as _, Manager as _, Peripheral as _};
use btleplug::platform::{Manager, Peripheral};
use dbus::Path;
use std::collections::BTreeMap;
use std::sync::Arc;
use std::time::{Duration, Instant};
use tokio::sync::mpsc;

/// Frames that may wait while one is written; a monitor's whole memory is a few hundred.
const QUEUE_MAX: usize = 1024;
/// A monitor that has nothing more to say for so long after its introduction is let go.
const SILENCE_MAX: Duration = Duration::from_secs(4);
/// A link is looked at so often while a person waits for the command to end.
const LOOK: Duration = Duration::from_millis(300);

/// Why a monitor could not be introduced.
#[derive(Debug, thiserror::Error)]
pub enum IntroduceError {
    /// BlueZ said no.
    #[error(transparent)]
    Bus(#[from] BusError),
    /// The link failed.
    #[error(transparent)]
    Link(#[from] LinkError),
    /// btleplug could not reach its adapter; the text is its own.
    #[error("Bluetooth failed: {0}")]
    Ble(String),
    /// The journal failed.
    #[error(transparent)]
    Journal(#[from] JournalError),
    /// BlueZ forgot it in between.
    #[error("BlueZ no longer shows it")]
    Gone,
}

/// Whether readings are collected here, or by a daemon that runs beside us.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Collector {
    /// Nobody else listens: what it sends now is kept here.
    Here,
    /// A daemon takes the readings as soon as the monitor is enrolled.
    Daemon,
}

/// A monitor that has told us what it is.
pub struct Introduction {
    /// Its identity address, which pairing may only now have told.
    pub address: MonitorAddress,
    /// What it calls itself.
    pub name: Option<String>,
    /// The newest value of each characteristic that it let us read.
    pub facts: BTreeMap<Characteristic, Vec<u8>>,
    bus: Bus,
    path: Path<'static>,
    frames: mpsc::Receiver<Entry>,
    collector: Collector,
    _listening: Option<Subscription>,
}

/// Connects to the device at `path`, reads what it is, and keeps every frame in the journal.
pub async fn introduce(
    bus: &Bus,
    path: &Path<'static>,
    edge: Edge,
    journal: &mut Journal,
    collector: Collector,
) -> Result<Introduction, IntroduceError> {
    let device = bus.device(path).await?.ok_or(IntroduceError::Gone)?;
    let peripheral = peripheral(path).await?;
    let (sender, mut frames) = mpsc::channel(QUEUE_MAX);
    let connection = journal.last_connection(&device.address)? + 1;
    let line = Arc::new(MonitorLine::new(
        device.address.clone(),
        edge,
        sender,
        connection,
        false,
    ));
    let listening = if collector == Collector::Here {
        let opened = link::listen(&peripheral, line.clone()).await;
        Some(opened.map_err(|e| IntroduceError::Ble(e.to_string()))?)
    } else {
        None
    };
    let mut facts = BTreeMap::new();
    {
        let greeting = link::greet(&peripheral, bus, path, &line, collector == Collector::Here);
        tokio::pin!(greeting);
        loop {
            tokio::select! {
                greeted = &mut greeting => {
                    greeted?;
                    break;
                }
                Some(entry) = frames.recv() => keep(journal, &mut facts, entry)?,
            }
        }
    }
    while let Ok(entry) = frames.try_recv() {
        keep(journal, &mut facts, entry)?;
    }
    let attributes = bus.attributes(path).await?;
    if !attributes.is_empty() {
        journal.learn_attributes(&device.address, &attributes)?;
    }
    Ok(Introduction {
        address: device.address,
        name: device.name,
        facts,
        bus: bus.clone(),
        path: path.clone(),
        frames,
        collector,
        _listening: listening,
    })
}

fn keep(
    journal: &mut Journal,
    facts: &mut BTreeMap<Characteristic, Vec<u8>>,
    entry: Entry,
) -> Result<(), JournalError> {
    let (frame, owed) = match entry {
        Entry::Frame(frame) => (frame, None),
        Entry::Owed(frame, owed) => (frame, Some(owed)),
        _ => return Ok(()),
    };
    journal.append(std::slice::from_ref(&frame))?;
    let _ = owed.map(|owed| owed.send(()));
    facts.insert(frame.characteristic, frame.value);
    Ok(())
}

async fn peripheral(path: &Path<'static>) -> Result<Peripheral, IntroduceError> {
    let told = |e: btleplug::Error| IntroduceError::Ble(e.to_string());
    let manager = Manager::new().await.map_err(told)?;
    for adapter in manager.adapters().await.map_err(told)? {
        for peripheral in adapter.peripherals().await.map_err(told)? {
            if link::path_of(&peripheral.id()) == *path {
                return Ok(peripheral);
            }
        }
    }
    Err(IntroduceError::Gone)
}

impl Introduction {
    /// Stays until the monitor hangs up or has nothing more to say, so that readings it was keeping for its
    /// first meeting are taken, by us or by the daemon.
    pub async fn linger(mut self, journal: &mut Journal) -> Result<(), IntroduceError> {
        let mut last_word = Instant::now();
        while last_word.elapsed() < SILENCE_MAX {
            match tokio::time::timeout(LOOK, self.frames.recv()).await {
                Ok(Some(entry)) => {
                    keep(journal, &mut self.facts, entry)?;
                    last_word = Instant::now();
                }
                Ok(None) => break,
                Err(_) => {
                    if !self
                        .bus
                        .device(&self.path)
                        .await?
                        .is_some_and(|device| device.connected)
                    {
                        return Ok(());
                    }
                }
            }
        }
        // A link that a daemon attends is the daemon's to end. Ours is ended before we leave: BlueZ would
        // otherwise tell the monitor that nobody wants readings.
        if self.collector == Collector::Here {
            self.bus.disconnect(&self.path).await?;
        }
        Ok(())
    }
}
