//! The one thread that owns the writing connection. Frames come in over a bounded queue; whatever waits there
//! is one burst and becomes one transaction.

use super::{Appended, Attributes, Journal, JournalError};
use crate::frame::Frame;
use crate::household::MonitorAddress;
use crate::reading::ClockSample;
use jiff::Timestamp;
use std::collections::BTreeMap;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::thread::JoinHandle;
use std::time::Duration;
use tokio::sync::{mpsc, oneshot, watch};

/// Frames that may wait for the disk. A monitor's whole memory is a few hundred; behind a full queue the
/// radio waits.
const QUEUE_MAX: usize = 4096;

/// Frames a transaction: enough for any burst, few enough that another process gets its turn.
const BURST_MAX: usize = 512;

/// A disk that is full or locked is tried again after so long.
const RETRY: Duration = Duration::from_secs(5);

/// What can be handed to the journal.
#[derive(Debug)]
pub enum Entry {
    /// A frame that was heard.
    Frame(Frame),
    /// A frame that its monitor waits to hear of: told once it is on the disk.
    Owed(Frame, oneshot::Sender<()>),
    /// The gateway's clocks, held against each other.
    Clock(ClockSample),
    /// Nothing to keep: the writer shows that it still takes what it is handed.
    Look,
    /// What stands behind a monitor's handles, as BlueZ shows it.
    Attributes(MonitorAddress, Attributes),
    /// A monitor has registered the user who was waiting for it, under this index.
    Registered(MonitorAddress, u8),
    /// A clock that is known to be right says this: what has to leave by then leaves.
    LetGo(Timestamp),
    /// Nothing more comes.
    End,
}

/// A journal that is being written.
#[derive(Debug)]
pub struct Writer {
    thread: JoinHandle<Vec<Frame>>,
    end: mpsc::Sender<Entry>,
    progress: watch::Receiver<WriterProgress>,
    turns: Arc<AtomicU64>,
    /// Nothing more comes: what the disk does not take now is given back.
    last: Arc<AtomicBool>,
}

/// How far the writer is.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub struct WriterProgress {
    /// Frames committed since the start.
    pub frames: u64,
    /// When the last one was received.
    pub last_frame: Option<Timestamp>,
    /// Why nothing can be written at the moment.
    pub problem: Option<String>,
}

impl Writer {
    /// Starts the thread. It ends with [`Writer::finish`], or when every sender is gone.
    pub fn start(journal: Journal) -> std::io::Result<(Self, mpsc::Sender<Entry>)> {
        let (frames, queue) = mpsc::channel(QUEUE_MAX);
        let (tell, progress) = watch::channel(WriterProgress::default());
        let turns = Arc::new(AtomicU64::new(0));
        let last = Arc::new(AtomicBool::new(false));
        let (turned, ends) = (turns.clone(), last.clone());
        let thread = std::thread::Builder::new()
            .name("journal".into())
            .spawn(move || write(journal, queue, &tell, &turned, &ends))?;
        let end = frames.clone();
        Ok((
            Self {
                thread,
                end,
                progress,
                turns,
                last,
            },
            frames,
        ))
    }

    /// Follows the writer.
    pub fn progress(&self) -> watch::Receiver<WriterProgress> {
        self.progress.clone()
    }

    /// Counts how often the thread has been to the disk and back, with success or without: a full disk is a
    /// problem that is told, and no reason to throw away what waits in memory.
    pub fn turns(&self) -> Arc<AtomicU64> {
        self.turns.clone()
    }

    /// Waits until everything that was handed over is on the disk. What comes back could not be kept, because
    /// the disk would not take it. Blocks.
    pub fn finish(self) -> Vec<Frame> {
        self.last.store(true, Ordering::Relaxed);
        // A queue without a receiver means that the thread has ended.
        let _ = self.end.blocking_send(Entry::End);
        self.thread.join().unwrap_or_default()
    }
}

fn write(
    mut journal: Journal,
    mut queue: mpsc::Receiver<Entry>,
    tell: &watch::Sender<WriterProgress>,
    turns: &AtomicU64,
    last: &AtomicBool,
) -> Vec<Frame> {
    let mut burst: Vec<Frame> = Vec::new();
    let mut owed: Vec<oneshot::Sender<()>> = Vec::new();
    let mut beside = Beside::default();
    let mut ending = false;
    while !ending && let Some(first) = queue.blocking_recv() {
        let mut next = Some(first);
        loop {
            while let Some(entry) = next.take() {
                match entry {
                    Entry::Frame(frame) => burst.push(frame),
                    Entry::Owed(frame, kept) => {
                        burst.push(frame);
                        owed.push(kept);
                    }
                    Entry::End => ending = true,
                    other => beside.take(other),
                }
                if burst.len() < BURST_MAX {
                    next = queue.try_recv().ok();
                }
            }
            let kept = keep(&mut journal, &burst, &beside);
            turns.fetch_add(1, Ordering::Relaxed);
            match kept {
                Ok(_) if burst.is_empty() => {
                    beside = Beside::default();
                    break;
                }
                Ok(appended) => {
                    // Whose link has ended meanwhile has nobody to be told.
                    for kept in owed.drain(..) {
                        let _ = kept.send(());
                    }
                    tell.send_modify(|progress| {
                        progress.frames += u64::try_from(appended.new).unwrap_or(u64::MAX);
                        progress.last_frame = burst
                            .last()
                            .map(|frame| frame.received_at)
                            .or(progress.last_frame);
                        progress.problem = None;
                    });
                    burst.clear();
                    beside = Beside::default();
                    break;
                }
                Err(error) => {
                    report(&error, burst.len(), tell);
                    if last.load(Ordering::Relaxed) || queue.is_closed() && queue.is_empty() {
                        // Behind a full burst there may be more.
                        while let Ok(entry) = queue.try_recv() {
                            if let Entry::Frame(frame) | Entry::Owed(frame, _) = entry {
                                burst.push(frame);
                            }
                        }
                        return burst;
                    }
                    std::thread::sleep(RETRY);
                    if burst.len() < BURST_MAX {
                        next = queue.try_recv().ok();
                    }
                }
            }
        }
    }
    burst
}

/// What is kept beside frames, the newest of each.
#[derive(Default)]
struct Beside {
    clocks: Vec<ClockSample>,
    attributes: BTreeMap<MonitorAddress, Attributes>,
    registered: BTreeMap<MonitorAddress, u8>,
    let_go: Option<Timestamp>,
}

impl Beside {
    fn take(&mut self, entry: Entry) {
        match entry {
            Entry::Clock(sample) => self.clocks.push(sample),
            Entry::Attributes(monitor, shown) => drop(self.attributes.insert(monitor, shown)),
            Entry::Registered(monitor, user) => {
                self.registered.insert(monitor, user);
            }
            Entry::LetGo(now) => self.let_go = Some(now),
            Entry::Frame(_) | Entry::Owed(..) | Entry::Look | Entry::End => {}
        }
    }
}

fn keep(journal: &mut Journal, frames: &[Frame], beside: &Beside) -> Result<Appended, JournalError> {
    let appended = if frames.is_empty() {
        Appended::default()
    } else {
        journal.append(frames)?
    };
    journal.sample_clocks(&beside.clocks)?;
    for (monitor, shown) in &beside.attributes {
        journal.learn_attributes(monitor, shown)?;
    }
    for (monitor, user) in &beside.registered {
        journal.registered(monitor, *user)?;
    }
    if let Some(now) = beside.let_go {
        // Nothing new has to wait for that.
        match journal.let_go(now) {
            Ok(0) => {}
            Ok(gone) => tracing::info!("{gone} frames left this machine, which the record has held for long"),
            Err(error) => tracing::warn!("frames that the record holds stay here: {error}"),
        }
    }
    Ok(appended)
}

fn report(error: &JournalError, waiting: usize, tell: &watch::Sender<WriterProgress>) {
    let problem = format!("{error} ({waiting} frames wait in memory; trying again)");
    tracing::error!("{problem}");
    tell.send_modify(|progress| progress.problem = Some(problem));
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::gatt::Characteristic;

    fn frame(n: i64) -> Frame {
        Frame {
            received_at: Timestamp::from_second(1_772_000_000 + n).unwrap(),
            offset: jiff::tz::Offset::UTC,
            uptime: None,
            given_to: None,
            overheard: false,
            monitor: [0xc0, 0xff, 0xee, 0, 0, 1].into(),
            connection: 1,
            characteristic: Characteristic::BLOOD_PRESSURE_MEASUREMENT,
            value: vec![0; 512],
        }
    }

    #[test]
    fn what_is_owed_is_told_once_another_connection_reads_it() {
        let dir = tempfile::tempdir().unwrap();
        let (writer, frames) = Writer::start(Journal::open(dir.path()).unwrap()).unwrap();
        let (tell, told) = oneshot::channel();
        frames.blocking_send(Entry::Owed(frame(1), tell)).unwrap();
        told.blocking_recv().unwrap();
        let journal = Journal::read_as_it_is(dir.path()).unwrap();
        let mut kept = 0;
        journal
            .each_frame(&crate::journal::FrameFilter::default(), |_| {
                kept += 1;
                true
            })
            .unwrap();
        assert_eq!(kept, 1);
        assert_eq!(writer.finish(), []);
    }

    #[test]
    fn a_full_disk_tells_nobody_that_anything_is_kept() {
        let dir = tempfile::tempdir().unwrap();
        let journal = Journal::open(dir.path()).unwrap();
        journal.limit_pages(1).unwrap();
        let (writer, frames) = Writer::start(journal).unwrap();
        for n in 0..i64::try_from(BURST_MAX).unwrap() {
            frames.blocking_send(Entry::Frame(frame(n))).unwrap();
        }
        while writer.progress().borrow().problem.is_none() {
            std::thread::sleep(Duration::from_millis(5));
        }
        let (tell, mut told) = oneshot::channel();
        frames.blocking_send(Entry::Owed(frame(-1), tell)).unwrap();
        std::thread::sleep(Duration::from_millis(200));
        assert_eq!(told.try_recv(), Err(oneshot::error::TryRecvError::Empty));
        assert_eq!(writer.finish().last(), Some(&frame(-1)));
        assert_eq!(told.try_recv(), Err(oneshot::error::TryRecvError::Closed));
    }

    #[test]
    fn what_a_full_disk_does_not_take_is_given_back_at_the_end() {
        let dir = tempfile::tempdir().unwrap();
        let journal = Journal::open(dir.path()).unwrap();
        journal.limit_pages(1).unwrap();
        let (writer, frames) = Writer::start(journal).unwrap();
        let all: Vec<Frame> = (0..i64::try_from(BURST_MAX).unwrap() + 100).map(frame).collect();
        for frame in &all {
            frames.blocking_send(Entry::Frame(frame.clone())).unwrap();
        }
        let given_back = writer.finish();
        // A burst of a few fits into the pages that are there; how many, the threads decide.
        let kept = Journal::open(dir.path()).unwrap().frame_count().unwrap();
        assert!(kept < 20, "{kept}");
        assert!(given_back == all[usize::try_from(kept).unwrap()..], "{kept}");
    }
}
