//! The second ear: what the household's monitors indicate, overheard on the kernel's HCI monitor channel.
//!
//! BlueZ confirms an indication before any program has it, so a reading can be lost to all of them. The channel carries
//! the same packets, passively and in clear text. This file looks at one packet after the other and is pure; `btmon`
//! below it brings them.
//!
//! Invariants:
//! - Of all the traffic only a whole indication, from an enrolled monitor, at a handle that is known of it, ever leaves
//!   here. Everything else is forgotten with the packet that brought it; memory is bounded by `LINKS_MAX`.
//! - A handle is only a number, and a monitor may move what stands behind it. So a value is taken for a measurement
//!   only if it was *indicated* (cuff pressures, which look alike, are notified), decodes, and has exactly the length
//!   that its flags ask for; what the collector saw last of the monitor's services is what counts.
//! - From a monitor that is bonded nothing is taken before the link is encrypted: anybody can use its address.
//! - Notifications are not confirmed, so BlueZ cannot lose one that the monitor believes to be safe: they are left alone.
//!
//! Layouts after the Core specification, Vol 4 Part E 7.7, Vol 3 Part A 3.1 and Part F 3.4.7, and the Linux management
//! interface (`doc/mgmt-api.txt` of BlueZ 5.66).

pub mod btmon;

use super::capture::{PacketKind, SnoopRecord};
use crate::frame::VALUE_OCTETS_MAX;
use crate::gatt::{Characteristic, is_measurement};
use crate::household::MonitorAddress;
use crate::journal::Attributes;
use jiff::Timestamp;
use std::collections::{BTreeMap, HashMap};

/// What carries readings and is indicated.
pub const INDICATED: [Characteristic; 2] = [
    Characteristic::BLOOD_PRESSURE_MEASUREMENT,
    Characteristic::ENHANCED_BLOOD_PRESSURE_MEASUREMENT,
];

/// How many connections may be open at once, over all adapters. A controller has fewer than twenty.
const LINKS_MAX: usize = 64;

/// How many indications wait for a link to be encrypted. Over USB events and data come by different ways, so that the
/// first of them may overtake the word that it was.
const HELD_MAX: usize = 8;

/// An L2CAP header, and an indication's opcode and handle.
const L2CAP_HEADER: usize = 4;
const INDICATION_HEADER: usize = 3;
const ATT: [u8; 2] = [4, 0];
const INDICATION: u8 = 0x1d;

/// The monitors that are listened to.
pub type ListenedTo = BTreeMap<MonitorAddress, Attributes>;

/// A measurement that was overheard.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Overheard {
    /// When the kernel had it.
    pub at: Timestamp,
    /// When its connection was made.
    pub connected: Timestamp,
    /// Who sent it.
    pub monitor: MonitorAddress,
    /// The characteristic whose handle the octets came at.
    pub characteristic: Characteristic,
    /// Octets of the attribute value, as they were indicated.
    pub value: Vec<u8>,
}

/// What was heard of enrolled monitors, and left.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default, serde::Serialize, serde::Deserialize)]
#[serde(default)]
pub struct EarCounts {
    /// Measurements that were kept.
    pub taken: u64,
    /// Indications at handles that nothing is known of.
    pub unknown_handle: u64,
    /// Indications at a measurement's handle that cannot be one.
    pub implausible: u64,
    /// Connections that were not followed because there were too many.
    pub not_followed: u64,
}

impl EarCounts {
    /// The sum, field by field.
    pub fn plus(self, other: Self) -> Self {
        Self {
            taken: self.taken + other.taken,
            unknown_handle: self.unknown_handle + other.unknown_handle,
            implausible: self.implausible + other.implausible,
            not_followed: self.not_followed + other.not_followed,
        }
    }
}

/// An adapter and a connection handle on it.
type LinkKey = (u16, u16);

#[derive(Debug)]
struct OverheardLink {
    peer: MonitorAddress,
    connected: Timestamp,
    encrypted: bool,
    /// An indication of which the first fragments have come, with its L2CAP header.
    begun: Vec<u8>,
    /// What waits for the link to be encrypted.
    held: Vec<Overheard>,
}

/// Follows the connections of all adapters in what the monitor channel tells.
#[derive(Debug, Default)]
pub struct Ear {
    links: HashMap<LinkKey, OverheardLink>,
    /// By adapter, the connection that was just made: the kernel tells next whose it is, where the address is private.
    unnamed: HashMap<u16, LinkKey>,
    /// What was left.
    pub counts: EarCounts,
}

impl Ear {
    /// Looks at one packet.
    pub(super) fn take(&mut self, record: &SnoopRecord<'_>, known: &ListenedTo) -> Vec<Overheard> {
        match record.kind {
            PacketKind::Event => return self.event(record),
            PacketKind::Management => self.management(record),
            PacketKind::AclReceived => return self.data(record, known).into_iter().collect(),
            PacketKind::AdapterChanged => self.forget(record.adapter),
            PacketKind::Command | PacketKind::AclSent | PacketKind::Other => {}
        }
        Vec::new()
    }

    fn forget(&mut self, adapter: u16) {
        self.links.retain(|key, _| key.0 != adapter);
        self.unnamed.remove(&adapter);
    }

    fn event(&mut self, record: &SnoopRecord<'_>) -> Vec<Overheard> {
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
                _type,
                ref rest @ ..,
            ] => {
                let Some(peer) = address(rest) else {
                    return Vec::new();
                };
                let key = (record.adapter, handle(h0, h1));
                self.links.remove(&key);
                // Also one that is not followed: or its name would be taken for that of another.
                self.unnamed.insert(record.adapter, key);
                if self.links.len() >= LINKS_MAX {
                    self.counts.not_followed += 1;
                    return Vec::new();
                }
                self.links.insert(
                    key,
                    OverheardLink {
                        peer,
                        connected: record.at,
                        encrypted: false,
                        begun: Vec::new(),
                        held: Vec::new(),
                    },
                );
            }
            // Encryption Change, both versions. Successful ones.
            [0x08 | 0x59, _, 0, h0, h1, enabled, ..] => {
                if let Some(link) = self.links.get_mut(&(record.adapter, handle(h0, h1))) {
                    link.encrypted = enabled != 0;
                    if link.encrypted {
                        let held = std::mem::take(&mut link.held);
                        self.counts.taken += u64::try_from(held.len()).unwrap_or(u64::MAX);
                        return held;
                    }
                }
            }
            // Disconnection Complete, successful.
            [0x05, _, 0, h0, h1, ..] => {
                self.links.remove(&(record.adapter, handle(h0, h1)));
            }
            // Command Complete of Reset.
            [0x0e, _, _, 0x03, 0x0c, ..] => self.forget(record.adapter),
            _ => {}
        }
        Vec::new()
    }

    /// Device Connected, over LE: the kernel resolves a private address and tells the identity, before it looks at the
    /// next packet from the controller. So it speaks of the connection that was made last.
    fn management(&mut self, record: &SnoopRecord<'_>) {
        let [_, _, _, _, 0x0b, 0x00, ref rest @ ..] = *record.packet else {
            return;
        };
        if let Some(identity) = address(rest)
            && let Some(1 | 2) = rest.get(6)
            && let Some(key) = self.unnamed.remove(&record.adapter)
            && let Some(link) = self.links.get_mut(&key)
        {
            link.peer = identity;
        }
    }

    fn data(&mut self, record: &SnoopRecord<'_>, known: &ListenedTo) -> Option<Overheard> {
        let [h0, h1, l0, l1, ref fragment @ ..] = *record.packet else {
            return None;
        };
        let fragment = fragment.get(..usize::from(u16::from_le_bytes([l0, l1])))?;
        let link = self.links.get_mut(&(record.adapter, handle(h0, h1)))?;
        let attributes = known.get(&link.peer)?;
        let first = h1 >> 4 & 0b11 != 0b01;
        let (value_handle, value) = link.indication(first, fragment)?;
        let Some(attribute) = attributes.get(&value_handle) else {
            self.counts.unknown_handle += 1;
            return None;
        };
        if !is_measurement(attribute.characteristic, &value) {
            self.counts.implausible += 1;
            return None;
        }
        let overheard = Overheard {
            at: record.at,
            connected: link.connected,
            monitor: link.peer.clone(),
            characteristic: attribute.characteristic,
            value,
        };
        if attribute.bonded && !link.encrypted {
            if link.held.len() < HELD_MAX {
                link.held.push(overheard);
            }
            return None;
        }
        self.counts.taken += 1;
        Some(overheard)
    }
}

impl OverheardLink {
    /// Puts an indication together from its fragments; gives handle and value once it is whole. Holds no more than the
    /// longest one, and nothing else than one.
    fn indication(&mut self, first: bool, fragment: &[u8]) -> Option<(u16, Vec<u8>)> {
        let mut begun = std::mem::take(&mut self.begun);
        if first {
            begun.clear();
        } else if begun.is_empty() {
            return None;
        }
        if fragment.len() > L2CAP_HEADER + INDICATION_HEADER + VALUE_OCTETS_MAX {
            return None;
        }
        begun.extend_from_slice(fragment);
        let &[l0, l1, c0, c1, ref pdu @ ..] = begun.as_slice() else {
            self.begun = begun;
            return None;
        };
        let wanted = usize::from(u16::from_le_bytes([l0, l1]));
        let possible = [c0, c1] == ATT
            && (INDICATION_HEADER..=INDICATION_HEADER + VALUE_OCTETS_MAX).contains(&wanted)
            && pdu.first().is_none_or(|opcode| *opcode == INDICATION)
            && pdu.len() <= wanted;
        if !possible {
            return None;
        }
        match *pdu {
            [_, v0, v1, ref value @ ..] if pdu.len() == wanted => {
                Some((u16::from_le_bytes([v0, v1]), value.to_vec()))
            }
            _ => {
                self.begun = begun;
                None
            }
        }
    }
}

/// The address at the beginning of these octets, least significant octet first.
fn address(octets: &[u8]) -> Option<MonitorAddress> {
    let mut octets = *octets.first_chunk::<6>()?;
    octets.reverse();
    Some(octets.into())
}

/// The twelve bits of a connection handle.
fn handle(low: u8, high: u8) -> u16 {
    u16::from_le_bytes([low, high & 0x0f])
}
