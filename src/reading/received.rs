//! A frame as it came, with its receipt by the best that is known of the gateway's clock.

use super::gateway::GatewayClock;
use crate::frame::Frame;
use crate::gatt::Characteristic;
use crate::household::MonitorAddress;
use jiff::{SignedDuration, Timestamp};

/// The longest silence inside one connection. Frames with one connection number and a longer silence between
/// them are two connections: sources such as a file may begin counting anew. A monitor ends its link seconds
/// after its last record, a gateway after minutes.
pub const CONNECTION_SILENCE_MAX: SignedDuration = SignedDuration::from_mins(10);

/// A frame with its mended time of receipt.
#[derive(Clone, Copy, Debug)]
pub struct Received<'a> {
    /// The moment at which the frame was received, by the best that is known of the gateway's clock.
    pub at: Timestamp,
    /// Whether the gateway's clock was known to be right in the frame's boot.
    pub known: bool,
    /// The frame as it was kept.
    pub frame: &'a Frame,
}

impl<'a> Received<'a> {
    /// Mends the receipt of a frame by the gateway's clock.
    pub fn new(frame: &'a Frame, gateway: &GatewayClock) -> Self {
        Self {
            at: gateway.received_at(frame),
            known: gateway.knew(frame),
            frame,
        }
    }

    /// The order in which the frames of one monitor are settled: by receipt, and where that is equal by what
    /// the frames themselves say, so that it does not depend on how they were stored.
    pub fn order(&self, other: &Self) -> std::cmp::Ordering {
        // The address stands before the rest, so that frames of one moment from two addresses are two
        // connections and not many.
        fn key<'a>(r: &Received<'a>) -> (Timestamp, u32, &'a MonitorAddress, Characteristic) {
            let frame = r.frame;
            (r.at, frame.connection, &frame.monitor, frame.characteristic)
        }
        key(self)
            .cmp(&key(other))
            .then_with(|| self.frame.value.cmp(&other.frame.value))
            .then_with(|| self.frame.given_to.cmp(&other.frame.given_to))
            .then_with(|| self.frame.overheard.cmp(&other.frame.overheard))
    }

    pub(super) fn same_connection(&self, next: &Self) -> bool {
        self.frame.connection == next.frame.connection
            && self.frame.monitor == next.frame.monitor
            && next.at.duration_since(self.at) <= CONNECTION_SILENCE_MAX
    }
}
