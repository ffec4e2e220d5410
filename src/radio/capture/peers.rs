//! Who is at the other end: peers by their identity, with what the file told of their attributes.
//!
//! What is learnt of a peer outlives the connection: a bonded monitor that comes back is not discovered again.

use crate::gatt::Characteristic;
use crate::household::MonitorAddress;
use aes::cipher::{BlockCipherEncrypt as _, KeyInit as _};
use std::collections::HashMap;

/// How many peers of one file are told apart. A home has a few; the rest are not followed.
const PEERS_MAX: usize = 1024;

/// How many attributes of all peers of one file are kept.
const ATTRIBUTES_MAX: usize = 65_536;

/// The characteristics that make a peer a blood pressure monitor.
const BLOOD_PRESSURE: [Characteristic; 6] = [
    Characteristic::BLOOD_PRESSURE_MEASUREMENT,
    Characteristic::INTERMEDIATE_CUFF_PRESSURE,
    Characteristic::BLOOD_PRESSURE_FEATURE,
    Characteristic::ENHANCED_BLOOD_PRESSURE_MEASUREMENT,
    Characteristic::ENHANCED_INTERMEDIATE_CUFF_PRESSURE,
    Characteristic::BLOOD_PRESSURE_RECORD,
];

/// A device address as in HCI and SMP, most significant octet first.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub(super) struct Address {
    random: bool,
    octets: [u8; 6],
}

impl Address {
    /// From an address type (0 public, 1 random, 2 and 3 the same as resolved by the controller) and the octets as
    /// they stand in the packet.
    pub(super) fn new(kind: u8, mut octets: [u8; 6]) -> Self {
        octets.reverse();
        Self {
            random: kind & 1 != 0,
            octets,
        }
    }

    /// Random with `01` on top: changes every few minutes, says who it is only to those who hold the key (Core Vol 6
    /// Part B 1.3.2.2).
    fn is_resolvable(self) -> bool {
        let [top, ..] = self.octets;
        self.random && top >> 6 == 0b01
    }

    /// Public, or random with `11` on top: stays.
    fn is_identity(self) -> bool {
        let [top, ..] = self.octets;
        self.octets != [0; 6] && (!self.random || top >> 6 == 0b11)
    }
}

/// An identity resolving key, most significant octet first.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) struct Irk([u8; 16]);

impl Irk {
    /// From the octets as they stand in the packet; all zeros is the absence of a key.
    pub(super) fn new(mut octets: [u8; 16]) -> Option<Self> {
        octets.reverse();
        (octets != [0; 16]).then_some(Self(octets))
    }

    /// Whether this key made the address: its lower half is the function `ah` of its upper half (Core Vol 3 Part H
    /// 2.2.2).
    fn made(self, address: Address) -> bool {
        let [r0, r1, r2, hash @ ..] = address.octets;
        let mut block = [0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, r0, r1, r2].into();
        aes::Aes128::new(&self.0.into()).encrypt_block(&mut block);
        address.is_resolvable() && block.ends_with(&hash)
    }
}

/// A device that connected, with what the capture told of it so far.
#[derive(Debug)]
pub(super) struct CapturedPeer {
    address: Address,
    irk: Option<Irk>,
    /// Connections so far.
    pub(super) connections: u32,
    /// Values heard so far.
    pub(super) values: u64,
    is_monitor: bool,
    attributes: HashMap<u16, Characteristic>,
}

impl CapturedPeer {
    /// What the frames call it.
    pub(super) fn address(&self) -> MonitorAddress {
        self.address.octets.into()
    }

    /// It exposes the Blood Pressure Service or one of its characteristics.
    pub(super) fn is_monitor(&self) -> bool {
        self.is_monitor
    }

    /// It is known by an address that changes and that no key in the file resolves.
    pub(super) fn is_unresolved(&self) -> bool {
        self.address.is_resolvable()
    }

    /// What the attribute with this handle is.
    pub(super) fn attribute(&self, handle: u16) -> Option<Characteristic> {
        self.attributes.get(&handle).copied()
    }
}

/// A peer's place among [`Peers`].
pub(super) type PeerIndex = usize;

/// All peers of a file.
#[derive(Default)]
pub(super) struct Peers {
    all: Vec<CapturedPeer>,
    by_address: HashMap<Address, PeerIndex>,
    attributes: usize,
}

impl Peers {
    /// The peer with this address; `None` if there are too many.
    pub(super) fn at(&mut self, address: Address) -> Option<PeerIndex> {
        if let Some(&known) = self.by_address.get(&address) {
            return Some(known);
        }
        if self.by_address.len() >= PEERS_MAX {
            return None;
        }
        let peer = self.resolve(address).unwrap_or_else(|| {
            self.all.push(CapturedPeer {
                address,
                irk: None,
                connections: 0,
                values: 0,
                is_monitor: false,
                attributes: HashMap::new(),
            });
            self.all.len() - 1
        });
        self.by_address.insert(address, peer);
        Some(peer)
    }

    /// The peer, if the index came from here.
    pub(super) fn get(&mut self, peer: PeerIndex) -> Option<&mut CapturedPeer> {
        self.all.get_mut(peer)
    }

    /// All of them.
    pub(super) fn iter(&self) -> impl Iterator<Item = &CapturedPeer> {
        self.all.iter()
    }

    /// Whose key made the address.
    fn resolve(&self, address: Address) -> Option<PeerIndex> {
        self.all
            .iter()
            .position(|peer| peer.irk.is_some_and(|irk| irk.made(address)))
    }

    /// The peer has told its identity, as Linux takes it: from then on it goes by that. Where the identity is known
    /// already the two become one; the index that it has now is returned.
    pub(super) fn identify(&mut self, peer: PeerIndex, identity: Address, irk: Option<Irk>) -> PeerIndex {
        if !identity.is_identity() {
            return peer;
        }
        let same = match self.by_address.get(&identity) {
            Some(&known) => {
                self.unite(peer, known);
                known
            }
            None => {
                self.by_address.insert(identity, peer);
                peer
            }
        };
        if let Some(known) = self.all.get_mut(same) {
            known.address = identity;
            known.irk = irk.or(known.irk);
        }
        same
    }

    /// The host has told the controller which key belongs to which identity.
    pub(super) fn key(&mut self, identity: Address, irk: Irk) {
        if let Some(peer) = self.at(identity) {
            self.identify(peer, identity, Some(irk));
        }
    }

    /// Makes one peer of two: what was known of the first is known of the second.
    fn unite(&mut self, from: PeerIndex, into: PeerIndex) {
        if from == into {
            return;
        }
        for peer in self.by_address.values_mut() {
            if *peer == from {
                *peer = into;
            }
        }
        if let Some(from) = self.all.get_mut(from) {
            let attributes = std::mem::take(&mut from.attributes);
            let is_monitor = std::mem::take(&mut from.is_monitor);
            let values = std::mem::take(&mut from.values);
            if let Some(into) = self.all.get_mut(into) {
                into.attributes.extend(attributes);
                into.is_monitor |= is_monitor;
                into.values += values;
            }
        }
    }

    /// Keeps what a first reading of the file has told, for a second one from its start: identities with every
    /// changing address that they resolve, and attributes. Counts begin anew.
    pub(super) fn start_over(&mut self) {
        let resolvable: Vec<Address> = self
            .by_address
            .keys()
            .copied()
            .filter(|a| a.is_resolvable())
            .collect();
        for address in resolvable {
            if let (Some(&from), Some(into)) = (self.by_address.get(&address), self.resolve(address)) {
                self.unite(from, into);
            }
        }
        for peer in &mut self.all {
            peer.connections = 0;
            peer.values = 0;
        }
    }

    /// An attribute of the peer was told.
    pub(super) fn learn(&mut self, peer: PeerIndex, handle: u16, characteristic: Characteristic) {
        let Some(peer) = self.all.get_mut(peer) else {
            return;
        };
        peer.is_monitor |= BLOOD_PRESSURE.contains(&characteristic);
        if self.attributes < ATTRIBUTES_MAX || peer.attributes.contains_key(&handle) {
            let new = peer.attributes.insert(handle, characteristic).is_none();
            self.attributes += usize::from(new);
        }
    }

    /// The peer has said that it has the Blood Pressure Service.
    pub(super) fn has_blood_pressure_service(&mut self, peer: PeerIndex) {
        if let Some(peer) = self.all.get_mut(peer) {
            peer.is_monitor = true;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The sample data of Core Vol 3 Part H appendix D.7, as given in many public test suites (from memory, checked
    /// by the match itself: a wrong digit would not give these three octets).
    #[test]
    fn a_key_knows_its_address() {
        let irk = Irk([
            0xec, 0x02, 0x34, 0xa3, 0x57, 0xc8, 0xad, 0x05, 0x34, 0x10, 0x10, 0xa6, 0x0a, 0x39, 0x7d, 0x9b,
        ]);
        let address = |octets| Address { random: true, octets };
        assert!(irk.made(address([0x70, 0x81, 0x94, 0x0d, 0xfb, 0xaa])));
        assert!(!irk.made(address([0x70, 0x81, 0x94, 0x0d, 0xfb, 0xab])));
    }
}
