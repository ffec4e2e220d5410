//! What a capture held, and what of it became frames.

use super::btsnoop::Broken;
use crate::household::MonitorAddress;
use std::collections::BTreeSet;

/// What a capture held, and what of it became frames.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub struct CaptureSummary {
    /// Records read whole.
    pub records: u64,
    /// Attribute values that peers sent.
    pub values: u64,
    /// Frames made of those values.
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

impl CaptureSummary {
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
