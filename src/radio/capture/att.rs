//! The Attribute Protocol on one connection, overheard: which attribute is which, and the values that the peer sent.
//!
//! Only what the peer says counts. Our own requests are looked at because a response does not repeat what was asked
//! (Core Vol 3 Part F 3.4); there is at most one request outstanding, so the last one is the one that is answered.

use super::peers::{PeerIndex, Peers};
use crate::frame::VALUE_OCTETS_MAX;
use crate::gatt::Characteristic;
use jiff::Timestamp;

/// The MTU until one is agreed on, and the least that can be (Core Vol 3 Part G 5.2.1).
const MTU_MIN: u16 = 23;

const PRIMARY_SERVICE: Characteristic = Characteristic::assigned(0x2800);
const CHARACTERISTIC_DECLARATION: Characteristic = Characteristic::assigned(0x2803);
const BLOOD_PRESSURE_SERVICE: Characteristic = Characteristic::assigned(0x1810);

/// A value that the peer sent, whole.
#[derive(Debug)]
pub(super) struct CapturedValue {
    pub(super) at: Timestamp,
    pub(super) handle: u16,
    pub(super) octets: Vec<u8>,
}

/// A request of ours that waits for its answer.
#[derive(Debug)]
enum Asked {
    FindInformation,
    ReadByType(Characteristic),
    Read { handle: u16 },
    ReadBlob { handle: u16, offset: usize },
    ReadByGroupType(Characteristic),
}

/// One connection's Attribute Protocol.
#[derive(Debug, Default)]
pub(super) struct CapturedBearer {
    /// The two sides' receive MTUs, once told.
    mtus: [u16; 2],
    asked: Option<Asked>,
    /// A value whose first part filled its response, so that there may be more.
    partial: Option<CapturedValue>,
}

impl CapturedBearer {
    /// How many octets of a value fit in a response with this many octets of header.
    fn room(&self, header: u16) -> usize {
        let [ours, theirs] = self.mtus;
        usize::from(ours.min(theirs).max(MTU_MIN) - header)
    }

    /// We sent a PDU. May complete a value that was read in parts.
    pub(super) fn sent(&mut self, pdu: &[u8]) -> Option<CapturedValue> {
        let asked = match *pdu {
            [0x02 | 0x03, m0, m1, ..] => {
                let [ours, _] = &mut self.mtus;
                *ours = u16::from_le_bytes([m0, m1]);
                return None;
            }
            [0x04, ..] => Some(Asked::FindInformation),
            [0x08, _, _, _, _, ref kind @ ..] => uuid(kind).map(Asked::ReadByType),
            [0x0a, h0, h1, ..] => Some(Asked::Read {
                handle: u16::from_le_bytes([h0, h1]),
            }),
            [0x0c, h0, h1, o0, o1, ..] => Some(Asked::ReadBlob {
                handle: u16::from_le_bytes([h0, h1]),
                offset: usize::from(u16::from_le_bytes([o0, o1])),
            }),
            [0x10, _, _, _, _, ref kind @ ..] => uuid(kind).map(Asked::ReadByGroupType),
            // Requests whose answers carry nothing of interest.
            [0x06 | 0x0e | 0x12 | 0x16 | 0x18 | 0x20, ..] => None,
            // Answers, commands, confirmations, and what we send as a server: they ask nothing.
            _ => return None,
        };
        self.asked = asked;
        let goes_on = match (&self.asked, &self.partial) {
            (Some(Asked::ReadBlob { handle, offset }), Some(partial)) => {
                *handle == partial.handle && *offset == partial.octets.len()
            }
            _ => false,
        };
        if goes_on { None } else { self.finish() }
    }

    /// The value that was being read in parts, as far as it came: nobody asked for more.
    pub(super) fn finish(&mut self) -> Option<CapturedValue> {
        self.partial.take()
    }

    /// The peer sent a PDU. Gives the values in it; `None` if it makes no sense.
    pub(super) fn received(
        &mut self,
        at: Timestamp,
        pdu: &[u8],
        peers: &mut Peers,
        peer: PeerIndex,
    ) -> Option<Vec<CapturedValue>> {
        let mut values = Vec::new();
        match *pdu {
            [0x02 | 0x03, m0, m1, ..] => {
                let [_, theirs] = &mut self.mtus;
                *theirs = u16::from_le_bytes([m0, m1]);
            }
            [0x01, ..] => {
                self.asked = None;
                values.extend(self.finish());
            }
            [0x05, format, ref list @ ..] => {
                if let Some(Asked::FindInformation) = self.asked.take() {
                    let length = if format == 1 { 4 } else { 18 };
                    for (handle, kind) in entries(list, length) {
                        peers.learn(peer, handle, uuid(kind)?);
                    }
                }
            }
            [0x09, length, ref list @ ..] => {
                if let Some(Asked::ReadByType(kind)) = self.asked.take() {
                    self.read_by_type(at, kind, entries(list, length.into()), peers, peer, &mut values)?;
                }
            }
            [0x0b, ref octets @ ..] => {
                if let Some(Asked::Read { handle }) = self.asked.take() {
                    values.extend(self.part(at, handle, 0, octets, self.room(1)));
                }
            }
            [0x0d, ref octets @ ..] => {
                if let Some(Asked::ReadBlob { handle, offset }) = self.asked.take() {
                    values.extend(self.part(at, handle, offset, octets, self.room(1)));
                }
            }
            [0x11, length, ref list @ ..] => {
                if let Some(Asked::ReadByGroupType(PRIMARY_SERVICE)) = self.asked.take() {
                    for (_, rest) in entries(list, length.into()) {
                        if uuid(rest.get(2..)?)? == BLOOD_PRESSURE_SERVICE {
                            peers.has_blood_pressure_service(peer);
                        }
                    }
                }
            }
            [0x1b | 0x1d, h0, h1, ref octets @ ..] => {
                values.push(CapturedValue {
                    at,
                    handle: u16::from_le_bytes([h0, h1]),
                    octets: octets.to_vec(),
                });
            }
            // Several notifications in one.
            [0x23, ref list @ ..] => {
                let mut rest = list;
                while let [h0, h1, l0, l1, after @ ..] = rest {
                    let (octets, next) = after.split_at_checked(u16::from_le_bytes([*l0, *l1]).into())?;
                    values.push(CapturedValue {
                        at,
                        handle: u16::from_le_bytes([*h0, *h1]),
                        octets: octets.to_vec(),
                    });
                    rest = next;
                }
            }
            [] => return None,
            // Answers that carry nothing of interest, and what the peer asks of us as a client.
            _ => (),
        }
        let fits = values.iter().all(|value| value.octets.len() <= VALUE_OCTETS_MAX);
        fits.then_some(values)
    }

    fn read_by_type<'a>(
        &mut self,
        at: Timestamp,
        kind: Characteristic,
        entries: impl Iterator<Item = (u16, &'a [u8])>,
        peers: &mut Peers,
        peer: PeerIndex,
        values: &mut Vec<CapturedValue>,
    ) -> Option<()> {
        for (handle, value) in entries {
            if kind == CHARACTERISTIC_DECLARATION {
                let [_properties, h0, h1, ref characteristic @ ..] = *value else {
                    return None;
                };
                let handle = u16::from_le_bytes([h0, h1]);
                peers.learn(peer, handle, uuid(characteristic)?);
            } else {
                peers.learn(peer, handle, kind);
                // The length of an entry is one octet, so a value of 253 octets may be a beginning too.
                let room = self.room(4).min(253);
                values.extend(self.part(at, handle, 0, value, room));
            }
        }
        Some(())
    }

    /// A part of a value from `offset` on. Gives the value once it is whole: once a part leaves room.
    fn part(
        &mut self,
        at: Timestamp,
        handle: u16,
        offset: usize,
        octets: &[u8],
        room: usize,
    ) -> Option<CapturedValue> {
        let mut value = match self.partial.take() {
            Some(begun) if begun.handle == handle && begun.octets.len() == offset => begun,
            _ if offset == 0 => CapturedValue {
                at,
                handle,
                octets: Vec::new(),
            },
            _ => return None,
        };
        value.at = at;
        value.octets.extend_from_slice(octets);
        if octets.len() >= room && value.octets.len() < VALUE_OCTETS_MAX {
            self.partial = Some(value);
            return None;
        }
        Some(value)
    }
}

/// A list of entries of one length, each a handle and what belongs to it. A rest that is too short is left out.
fn entries(list: &[u8], length: usize) -> impl Iterator<Item = (u16, &[u8])> {
    list.chunks_exact(length.max(3)).filter_map(|entry| {
        let (handle, rest) = entry.split_first_chunk::<2>()?;
        Some((u16::from_le_bytes(*handle), rest))
    })
}

/// A UUID of two or sixteen octets, least significant first.
fn uuid(octets: &[u8]) -> Option<Characteristic> {
    match *octets {
        [u0, u1] => Some(Characteristic::assigned(u16::from_le_bytes([u0, u1]))),
        _ => Some(uuid::Uuid::from_u128(u128::from_le_bytes(octets.try_into().ok()?)).into()),
    }
}
