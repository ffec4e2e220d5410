//! HCI packets, overheard: connections, and the L2CAP PDUs on them.
//!
//! Layouts after the Core specification, Vol 4 Part E 5.4 and 7.7 (packets and events), Vol 3 Part A 3.1 (L2CAP), Vol
//! 3 Part H 3.6 (SMP key distribution). Integers are little-endian.

use super::att::{CapturedBearer, CapturedValue};
use super::btsnoop::{PacketKind, SnoopRecord};
use super::peers::{Address, Irk, PeerIndex, Peers};
use super::summary::CaptureSummary;
use crate::frame::Frame;
use jiff::tz::Offset;
use std::collections::HashMap;

/// How many connections may be open at once, over all adapters. A controller has fewer than twenty.
const LINKS_MAX: usize = 64;

/// The two L2CAP channels that are looked at.
const ATT: u16 = 4;
const SMP: u16 = 6;

/// An adapter and a connection handle on it.
type LinkKey = (u16, u16);

/// A connection of an adapter that is open at this place in the capture.
struct Link {
    peer: PeerIndex,
    /// Which of the peer's connections in this file.
    ordinal: u32,
    sent: Reassembly,
    received: Reassembly,
    /// The key that the peer has just distributed; its identity address follows.
    irk: Option<Irk>,
    att: CapturedBearer,
}

/// Follows the connections of all adapters.
#[derive(Default)]
pub(super) struct Host {
    links: HashMap<LinkKey, Link>,
    pub(super) peers: Peers,
}

impl Host {
    /// Forgets the connections, keeps what is known of the peers.
    pub(super) fn start_over(&mut self) {
        self.links.clear();
        self.peers.start_over();
    }

    /// Looks at one record; `frame` takes what it gives.
    pub(super) fn take(
        &mut self,
        record: &SnoopRecord<'_>,
        counts: &mut CaptureSummary,
        frame: &mut impl FnMut(Frame),
    ) {
        match record.kind {
            PacketKind::Command => self.command(record),
            PacketKind::Event => self.event(record, counts, frame),
            PacketKind::AclSent | PacketKind::AclReceived => self.data(record, counts, frame),
            PacketKind::AdapterChanged => self.drop_links(record.adapter, counts, frame),
            PacketKind::Management | PacketKind::Other => (),
        }
    }

    /// The file is at its end.
    pub(super) fn end(&mut self, counts: &mut CaptureSummary, frame: &mut impl FnMut(Frame)) {
        let open: Vec<LinkKey> = self.links.keys().copied().collect();
        for key in open {
            self.close(key, counts, frame);
        }
    }

    fn command(&mut self, record: &SnoopRecord<'_>) {
        // LE Add Device To Resolving List: whose key it is.
        if let [0x27, 0x20, _, kind, a0, a1, a2, a3, a4, a5, ref keys @ ..] = *record.packet
            && let Some(irk) = keys.first_chunk::<16>().and_then(|irk| Irk::new(*irk))
        {
            self.peers.key(Address::new(kind, [a0, a1, a2, a3, a4, a5]), irk);
        }
    }

    fn event(
        &mut self,
        record: &SnoopRecord<'_>,
        counts: &mut CaptureSummary,
        frame: &mut impl FnMut(Frame),
    ) {
        match *record.packet {
            // LE Connection Complete; LE Enhanced Connection Complete, both versions. Successful ones.
            [
                0x3e,
                _,
                0x01 | 0x0a | 0x29,
                0,
                h0,
                h1,
                _role,
                kind,
                a0,
                a1,
                a2,
                a3,
                a4,
                a5,
                ..,
            ] => {
                let key = (record.adapter, handle(h0, h1));
                self.close(key, counts, frame);
                let peer = self.peers.at(Address::new(kind, [a0, a1, a2, a3, a4, a5]));
                match peer {
                    Some(peer) if self.links.len() < LINKS_MAX => self.open(key, peer),
                    _ => counts.not_followed += 1,
                }
            }
            // Disconnection Complete, successful.
            [0x05, _, 0, h0, h1, ..] => self.close((record.adapter, handle(h0, h1)), counts, frame),
            // Command Complete of Reset.
            [0x0e, _, _, 0x03, 0x0c, ..] => self.drop_links(record.adapter, counts, frame),
            _ => (),
        }
    }

    fn open(&mut self, key: LinkKey, peer: PeerIndex) {
        let Some(known) = self.peers.get(peer) else { return };
        known.connections = known.connections.saturating_add(1);
        self.links.insert(
            key,
            Link {
                peer,
                ordinal: known.connections,
                sent: Reassembly::default(),
                received: Reassembly::default(),
                irk: None,
                att: CapturedBearer::default(),
            },
        );
    }

    fn close(&mut self, key: LinkKey, counts: &mut CaptureSummary, frame: &mut impl FnMut(Frame)) {
        if let Some(mut link) = self.links.remove(&key)
            && let Some(value) = link.att.finish()
        {
            give(&mut self.peers, &link, value, counts, frame);
        }
    }

    fn drop_links(&mut self, adapter: u16, counts: &mut CaptureSummary, frame: &mut impl FnMut(Frame)) {
        let gone: Vec<LinkKey> = self
            .links
            .keys()
            .copied()
            .filter(|key| key.0 == adapter)
            .collect();
        for key in gone {
            self.close(key, counts, frame);
        }
    }

    fn data(&mut self, record: &SnoopRecord<'_>, counts: &mut CaptureSummary, frame: &mut impl FnMut(Frame)) {
        let [h0, h1, l0, l1, ref fragment @ ..] = *record.packet else {
            counts.malformed += 1;
            return;
        };
        let length = usize::from(u16::from_le_bytes([l0, l1]));
        let Some(fragment) = fragment.get(..length) else {
            counts.malformed += 1;
            return;
        };
        let first = h1 >> 4 & 0b11 != 0b01;
        let Some(link) = self.links.get_mut(&(record.adapter, handle(h0, h1))) else {
            if first && let [_, _, 4, 0, ..] = fragment {
                counts.without_connection += 1;
            }
            return;
        };
        let received = record.kind == PacketKind::AclReceived;
        let side = if received {
            &mut link.received
        } else {
            &mut link.sent
        };
        let Ok(whole) = side.fragment(first, fragment) else {
            counts.malformed += 1;
            return;
        };
        let values = match whole {
            Some((ATT, pdu)) if received => {
                match link.att.received(record.at, pdu, &mut self.peers, link.peer) {
                    Some(values) => values,
                    None => {
                        counts.malformed += 1;
                        return;
                    }
                }
            }
            Some((ATT, pdu)) => link.att.sent(pdu).into_iter().collect(),
            Some((SMP, pdu)) if received => {
                security(pdu, &mut link.irk, &mut link.peer, &mut self.peers);
                return;
            }
            _ => return,
        };
        for value in values {
            give(&mut self.peers, link, value, counts, frame);
        }
    }
}

/// Key distribution by the peer: Identity Information, then Identity Address Information.
fn security(pdu: &[u8], irk: &mut Option<Irk>, peer: &mut PeerIndex, peers: &mut Peers) {
    match *pdu {
        [0x08, ref key @ ..] => *irk = key.first_chunk::<16>().and_then(|key| Irk::new(*key)),
        [0x09, kind, a0, a1, a2, a3, a4, a5] => {
            let identity = Address::new(kind, [a0, a1, a2, a3, a4, a5]);
            *peer = peers.identify(*peer, identity, irk.take());
        }
        _ => (),
    }
}

/// Makes a frame of a value, if it is of interest.
fn give(
    peers: &mut Peers,
    link: &Link,
    value: CapturedValue,
    counts: &mut CaptureSummary,
    frame: &mut impl FnMut(Frame),
) {
    let Some(peer) = peers.get(link.peer) else { return };
    peer.values += 1;
    counts.values += 1;
    let Some(characteristic) = peer.attribute(value.handle) else {
        counts.unknown_handles += 1;
        return;
    };
    if peer.is_monitor() && characteristic.name().is_some() {
        counts.frames += 1;
        frame(Frame {
            received_at: value.at,
            offset: Offset::UTC,
            uptime: None,
            given_to: None,
            overheard: false,
            monitor: peer.address(),
            connection: link.ordinal,
            characteristic,
            value: value.octets,
        });
    }
}

/// The twelve bits of a connection handle.
fn handle(low: u8, high: u8) -> u16 {
    u16::from_le_bytes([low, high & 0x0f])
}

/// Puts L2CAP PDUs together from ACL fragments, in one direction of one connection. Holds at most what an L2CAP
/// length can say, 65,535 octets and a header.
#[derive(Default)]
struct Reassembly {
    buffer: Vec<u8>,
    whole: bool,
}

/// A continuation without a beginning, or more than the PDU's length.
struct Misfit;

impl Reassembly {
    /// Adds a fragment; gives channel and PDU once it is whole.
    fn fragment(&mut self, first: bool, fragment: &[u8]) -> Result<Option<(u16, &[u8])>, Misfit> {
        if first {
            self.buffer.clear();
        } else if self.buffer.is_empty() || self.whole {
            return Err(Misfit);
        }
        self.buffer.extend_from_slice(fragment);
        self.whole = false;
        let [l0, l1, c0, c1, ref pdu @ ..] = *self.buffer else {
            return Ok(None);
        };
        let wanted = usize::from(u16::from_le_bytes([l0, l1]));
        self.whole = pdu.len() >= wanted;
        match pdu.len() {
            have if have < wanted => Ok(None),
            have if have == wanted => Ok(Some((u16::from_le_bytes([c0, c1]), pdu))),
            _ => Err(Misfit),
        }
    }
}
