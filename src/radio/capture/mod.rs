//! A btsnoop capture of a host's HCI traffic, as a source of frames: records, HCI and L2CAP, the Attribute Protocol,
//! and who is at the other end, one file each.
//!
//! Invariants:
//! - Nothing in a file makes it panic, or take memory beyond the named limits.
//! - A value becomes a frame only if the peer sent it, the file tells which characteristic it is, and the peer is a
//!   blood pressure monitor. Everything left out is counted in the [`CaptureSummary`].
//! - A file that stops in the middle gives every frame before that point.
//!
//! The file is read twice. The first reading learns what is only told later than it is needed: the identity behind a
//! private address, and the attributes of a bonded monitor that was discovered in a later connection only.

mod att;
mod btsnoop;
mod hci;
mod peers;
mod summary;

pub use btsnoop::{Broken, CaptureError, Damage};
pub(super) use btsnoop::{MAGIC, PacketKind, SnoopRecord, SnoopRecords};
pub use summary::CaptureSummary;

use crate::frame::Frame;
use hci::Host;
use std::collections::VecDeque;
use std::io::{self, Read, Seek, SeekFrom};

/// The frames of a capture, in the order in which they were received.
pub struct Capture<R> {
    records: SnoopRecords<R>,
    host: Host,
    summary: CaptureSummary,
    ready: VecDeque<Frame>,
    ended: bool,
}

impl<R: Read + Seek> Capture<R> {
    /// Reads the file from its start to its end, once, and makes ready to give its frames.
    pub fn open(mut input: R) -> Result<Self, CaptureError> {
        input.seek(SeekFrom::Start(0))?;
        let mut records = SnoopRecords::new(input)?;
        let mut host = Host::default();
        let mut unused = CaptureSummary::default();
        while let Some(record) = records.next()? {
            host.take(&record, &mut unused, &mut |_| ());
        }
        host.start_over();
        let mut input = records.into_input();
        input.seek(SeekFrom::Start(0))?;
        Ok(Self {
            records: SnoopRecords::new(input)?,
            host,
            summary: CaptureSummary::default(),
            ready: VecDeque::new(),
            ended: false,
        })
    }

    /// What was seen so far; everything, after the last frame.
    pub fn summary(&self) -> &CaptureSummary {
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
