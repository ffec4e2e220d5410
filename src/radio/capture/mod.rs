//! A btsnoop capture of a host's HCI traffic, as a source of frames: records, HCI and L2CAP, the Attribute Protocol,
//! and who is at the other end, one file each.
//!
//! Invariants:
//! - Nothing in a file makes it panic, or take memory beyond the named limits.
//! - A value becomes a frame only if the peer sent it, the file tells which characteristic it is, and the peer is a
//!   blood pressure monitor. Everything left out is counted in the [`Summary`].
//! - A file that stops in the middle gives every frame before that point.
//!
//! The file is read twice. The first reading learns what is only told later than it is needed: the identity behind a
//! private address, and the attributes of a bonded monitor that was discovered in a later connection only.

mod att;
mod btsnoop;
mod hci;
mod peers;

pub use btsnoop::{Broken, Damage};
pub(super) use btsnoop::{Kind, MAGIC, Record, Records};

use crate::frame::Frame;
use crate::household::MonitorAddress;
use hci::Host;
use std::collections::{BTreeSet, VecDeque};
use std::io::{self, Read, Seek, SeekFrom};

/// A file that is no capture that can be read.
#[derive(Debug, thiserror::Error)]
pub enum CaptureError {
    /// Not the sixteen octets that it has to begin with.
    #[error("it does not begin with a btsnoop header; record it with `btmon -w FILE`")]
    Header,
    /// Of another version.
    #[error("it is btsnoop version {0}; only version 1 is known")]
    Version(u32),
    /// Of another datalink.
    #[error(
        "its datalink is {0}; 1001 (HCI), 1002 (HCI UART) and 2001 (Linux monitor) can be read: record it with \
         `btmon -w FILE`, or take the phone's HCI snoop log"
    )]
    Datalink(u32),
    /// Where it has to go on without an end, it does not.
    #[error(transparent)]
    Broken(Broken),
    /// Reading failed.
    #[error(transparent)]
    Io(#[from] io::Error),
}

/// What a capture held, and what of it became frames.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub struct Summary {
    /// Records read whole.
    pub records: u64,
    /// Attribute values that peers sent.
    pub values: u64,
    /// Frames given.
    pub frames: u64,
    /// Peers that sent values but are no blood pressure monitors.
    pub ignored_peers: u64,
    /// Values of attributes that the capture does not name: it has no discovery of that peer.
    pub unknown_handles: u64,
    /// Attribute PDUs on connections that began before the capture, so that it does not name the peer.
    pub without_connection: u64,
    /// Connections that were not followed because there were too many at once, or too many peers.
    pub not_followed: u64,
    /// Packets that make no sense.
    pub malformed: u64,
    /// Monitors that are known only by a private address, which changes: the capture holds no key to it.
    pub unresolved: BTreeSet<MonitorAddress>,
    /// Where the records stop before the file does.
    pub broken: Option<Broken>,
}

impl Summary {
    /// What a person has to know before they rely on the frames, a sentence each.
    pub fn remarks(&self) -> Vec<String> {
        let mut remarks = Vec::new();
        if let Some(broken) = &self.broken {
            remarks.push(format!("{broken}."));
        }
        for address in &self.unresolved {
            remarks.push(format!(
                "{address} is a private address that changes, and the capture holds no key to it: \
                 name the monitor that it was."
            ));
        }
        if self.unknown_handles > 0 {
            remarks.push(format!(
                "{} values could not be named, because the capture holds no discovery of the device that sent \
                 them: record a first connection, too.",
                self.unknown_handles
            ));
        }
        if self.without_connection > 0 {
            remarks.push(format!(
                "{} packets are from connections that were there before the capture began: start recording \
                 before the monitor connects.",
                self.without_connection
            ));
        }
        if self.not_followed > 0 {
            remarks.push(format!(
                "{} connections were not followed: there were too many.",
                self.not_followed
            ));
        }
        if self.malformed > 0 {
            remarks.push(format!(
                "{} packets make no sense and were left out.",
                self.malformed
            ));
        }
        remarks
    }
}

/// The frames of a capture, in the order in which they were received.
pub struct Capture<R> {
    records: Records<R>,
    host: Host,
    summary: Summary,
    ready: VecDeque<Frame>,
    ended: bool,
}

impl<R: Read + Seek> Capture<R> {
    /// Reads the file from its start to its end, once, and makes ready to give its frames.
    pub fn open(mut input: R) -> Result<Self, CaptureError> {
        input.seek(SeekFrom::Start(0))?;
        let mut records = Records::new(input)?;
        let mut host = Host::default();
        let mut unused = Summary::default();
        while let Some(record) = records.next()? {
            host.take(&record, &mut unused, &mut |_| ());
        }
        host.start_over();
        let mut input = records.into_input();
        input.seek(SeekFrom::Start(0))?;
        Ok(Self {
            records: Records::new(input)?,
            host,
            summary: Summary::default(),
            ready: VecDeque::new(),
            ended: false,
        })
    }

    /// What was seen so far; everything, after the last frame.
    pub fn summary(&self) -> &Summary {
        &self.summary
    }

    fn conclude(&mut self) {
        self.ended = true;
        let ready = &mut self.ready;
        self.host
            .end(&mut self.summary, &mut |frame| ready.push_back(frame));
        self.summary.broken = self.records.broken.clone();
        for peer in self.host.peers.iter().filter(|peer| peer.values > 0) {
            if !peer.is_monitor() {
                self.summary.ignored_peers += 1;
            } else if peer.is_unresolved() {
                self.summary.unresolved.insert(peer.address());
            }
        }
    }
}

impl<R: Read + Seek> Iterator for Capture<R> {
    type Item = io::Result<Frame>;

    fn next(&mut self) -> Option<Self::Item> {
        loop {
            if let Some(frame) = self.ready.pop_front() {
                return Some(Ok(frame));
            }
            if self.ended {
                return None;
            }
            match self.records.next() {
                Ok(Some(record)) => {
                    let ready = &mut self.ready;
                    self.summary.records += 1;
                    self.host
                        .take(&record, &mut self.summary, &mut |frame| ready.push_back(frame));
                }
                Ok(None) => self.conclude(),
                Err(error) => {
                    self.ended = true;
                    return Some(Err(error));
                }
            }
        }
    }
}
