//! BlueZ's own `btmon`, which brings the packets of the HCI monitor channel. Opening that channel from here would take
//! an address that no safe interface of the operating system's knows; `btmon -w` writes each packet as it comes, and
//! a crash of it is not ours.

use super::{Ear, EarCounts, ListenedTo, Overheard};
use crate::radio::capture::{CaptureError, PacketKind, SnoopRecords};
use std::io::{BufReader, PipeReader, Read, pipe};
use std::process::Stdio;
use tokio::process::{Child, Command};

/// Where its pipe is, for itself: nothing is put into any directory.
const OWN_INPUT: &str = "/proc/self/fd/0";

/// A running `btmon` and the end of the pipe that it writes to.
#[derive(Debug)]
pub struct Btmon {
    /// The process; ends with this value.
    pub child: Child,
    /// Packets as a btsnoop file that does not end.
    pub packets: PipeReader,
}

impl Btmon {
    /// Starts it. What it says is on its standard error; what it prints of the packets goes nowhere.
    pub fn start() -> std::io::Result<Self> {
        let (packets, input) = pipe()?;
        let child = Command::new("btmon")
            .args(["-w", OWN_INPUT])
            .stdin(Stdio::from(input))
            .stdout(Stdio::null())
            .stderr(Stdio::piped())
            .kill_on_drop(true)
            .spawn()?;
        Ok(Self { child, packets })
    }
}

/// What [`listen`] asks and tells.
pub trait ChannelListener {
    /// The channel is open.
    fn open(&mut self);
    /// The monitors that are listened to, looked up anew where that has changed.
    fn known(&mut self) -> &ListenedTo;
    /// A measurement was overheard.
    fn heard(&mut self, overheard: Overheard);
    /// What was heard and left so far.
    fn counted(&mut self, counts: EarCounts);
}

/// Listens until the packets end, or can be read no more. Blocks.
pub fn listen(packets: impl Read, listener: &mut impl ChannelListener) -> Result<(), CaptureError> {
    let mut records = SnoopRecords::new(BufReader::new(packets))?;
    let mut ear = Ear::default();
    let nobody = ListenedTo::new();
    while let Some(record) = records.next()? {
        if record.number == 1 {
            listener.open();
        }
        let known = match record.kind {
            PacketKind::AclReceived => listener.known(),
            _ => &nobody,
        };
        let before = ear.counts;
        for overheard in ear.take(&record, known) {
            listener.heard(overheard);
        }
        if ear.counts != before {
            listener.counted(ear.counts);
        }
    }
    records
        .broken
        .map_or(Ok(()), |broken| Err(CaptureError::Broken(broken)))
}
