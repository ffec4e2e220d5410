//! The packets of the Attribute Protocol (Core Vol 3 Part F 3.4): octets to values and back. Pure; it keeps
//! no state.

use crate::gatt::Characteristic;
use uuid::Uuid;

/// The longest packet that is taken or sent, in octets: a value of 512 and the five octets before it. It is
/// the receive MTU that this program names.
pub const PDU_OCTETS_MAX: usize = 517;

/// The MTU until one is agreed on, and the least that may be (Core Vol 3 Part G 5.2.1).
pub const MTU_MIN: u16 = 23;

/// The code of an Error Response (Core Vol 3 Part F 3.4.1.1).
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct AttError(pub u8);

impl AttError {
    /// Invalid Handle: the server has no attribute there.
    pub const INVALID_HANDLE: Self = Self(0x01);
    /// Read Not Permitted.
    pub const READ_NOT_PERMITTED: Self = Self(0x02);
    /// Write Not Permitted.
    pub const WRITE_NOT_PERMITTED: Self = Self(0x03);
    /// Invalid PDU: the request cannot be read.
    pub const INVALID_PDU: Self = Self(0x04);
    /// Insufficient Authentication: the link has to be authenticated first.
    pub const INSUFFICIENT_AUTHENTICATION: Self = Self(0x05);
    /// Request Not Supported.
    pub const NOT_SUPPORTED: Self = Self(0x06);
    /// Invalid Offset: behind the end of the value.
    pub const INVALID_OFFSET: Self = Self(0x07);
    /// Attribute Not Found.
    pub const NOT_FOUND: Self = Self(0x0a);
    /// Attribute Not Long.
    pub const NOT_LONG: Self = Self(0x0b);
    /// Invalid Attribute Value Length.
    pub const INVALID_LENGTH: Self = Self(0x0d);
    /// Insufficient Encryption: the link has to be encrypted first.
    pub const INSUFFICIENT_ENCRYPTION: Self = Self(0x0f);
    /// Unsupported Group Type.
    pub const UNSUPPORTED_GROUP: Self = Self(0x10);

    /// The link lacks keys that the peer asks for.
    pub fn is_security(self) -> bool {
        matches!(
            self,
            Self::INSUFFICIENT_AUTHENTICATION | Self::INSUFFICIENT_ENCRYPTION | Self(0x08 | 0x0c)
        )
    }
}

impl std::fmt::Display for AttError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "ATT error 0x{:02x}", self.0)
    }
}

/// Handles from the first to the last, both inside.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Range {
    /// The first handle.
    pub start: u16,
    /// The last handle.
    pub end: u16,
}

impl Range {
    /// Every handle there can be.
    pub const ALL: Self = Self {
        start: 1,
        end: 0xffff,
    };

    /// Whether a server may be asked for it (Core Vol 3 Part F 3.4.3.1).
    pub fn is_valid(self) -> bool {
        self.start != 0 && self.start <= self.end
    }
}

/// One packet. What the protocol has besides is [`Pdu::Other`].
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum Pdu {
    /// 0x01: the request was refused.
    ErrorResponse {
        /// The opcode of the request.
        request: u8,
        /// The attribute that was in the way, or 0.
        handle: u16,
        /// Why.
        error: AttError,
    },
    /// 0x02: the client's receive MTU.
    ExchangeMtuRequest(u16),
    /// 0x03: the server's receive MTU.
    ExchangeMtuResponse(u16),
    /// 0x04: which attributes are there?
    FindInformationRequest(Range),
    /// 0x05: handles and types; all types are of the same length.
    FindInformationResponse(Vec<(u16, Characteristic)>),
    /// 0x06: which groups have this value?
    FindByTypeValueRequest {
        /// Where to look.
        range: Range,
        /// The type, a 16-bit number.
        kind: u16,
        /// The value.
        value: Vec<u8>,
    },
    /// 0x07: the groups.
    FindByTypeValueResponse(Vec<Range>),
    /// 0x08: the values of this type.
    ReadByTypeRequest(Range, Characteristic),
    /// 0x09: handles and values; all values are of the same length.
    ReadByTypeResponse(Vec<(u16, Vec<u8>)>),
    /// 0x0A: one value.
    ReadRequest(u16),
    /// 0x0B: its first octets.
    ReadResponse(Vec<u8>),
    /// 0x0C: the value from an offset on.
    ReadBlobRequest(u16, u16),
    /// 0x0D: its next octets.
    ReadBlobResponse(Vec<u8>),
    /// 0x10: the groups of this type.
    ReadByGroupTypeRequest(Range, Characteristic),
    /// 0x11: groups and values; all values are of the same length.
    ReadByGroupTypeResponse(Vec<(Range, Vec<u8>)>),
    /// 0x12: write this value.
    WriteRequest(u16, Vec<u8>),
    /// 0x13: it is written.
    WriteResponse,
    /// 0x1B: a value, with no answer expected.
    Notification(u16, Vec<u8>),
    /// 0x1D: a value that has to be confirmed.
    Indication(u16, Vec<u8>),
    /// 0x1E: the confirmation.
    Confirmation,
    /// Any other opcode.
    Other(u8),
}

/// A packet that is none: too short, too long, or its list does not come out even.
#[derive(Clone, Copy, PartialEq, Eq, Debug, thiserror::Error)]
#[error("a malformed packet of the Attribute Protocol, opcode 0x{opcode:02x}")]
pub struct Malformed {
    /// Its first octet; 0 where there is none.
    pub opcode: u8,
}

impl Pdu {
    /// The packet in these octets.
    pub fn decode(octets: &[u8]) -> Result<Self, Malformed> {
        let Some((&opcode, rest)) = octets.split_first() else {
            return Err(Malformed { opcode: 0 });
        };
        let read = if octets.len() > PDU_OCTETS_MAX {
            None
        } else if is_request(opcode) {
            request(opcode, rest)
        } else {
            told(opcode, rest)
        };
        read.ok_or(Malformed { opcode })
    }

    /// The opcode.
    pub fn opcode(&self) -> u8 {
        match self {
            Self::ErrorResponse { .. } => 0x01,
            Self::ExchangeMtuRequest(_) => 0x02,
            Self::ExchangeMtuResponse(_) => 0x03,
            Self::FindInformationRequest(_) => 0x04,
            Self::FindInformationResponse(_) => 0x05,
            Self::FindByTypeValueRequest { .. } => 0x06,
            Self::FindByTypeValueResponse(_) => 0x07,
            Self::ReadByTypeRequest(..) => 0x08,
            Self::ReadByTypeResponse(_) => 0x09,
            Self::ReadRequest(_) => 0x0a,
            Self::ReadResponse(_) => 0x0b,
            Self::ReadBlobRequest(..) => 0x0c,
            Self::ReadBlobResponse(_) => 0x0d,
            Self::ReadByGroupTypeRequest(..) => 0x10,
            Self::ReadByGroupTypeResponse(_) => 0x11,
            Self::WriteRequest(..) => 0x12,
            Self::WriteResponse => 0x13,
            Self::Notification(..) => 0x1b,
            Self::Indication(..) => 0x1d,
            Self::Confirmation => 0x1e,
            Self::Other(opcode) => *opcode,
        }
    }

    /// The octets of the packet. What does not fit the length octet of a list is left out.
    pub fn encode(&self) -> Vec<u8> {
        let mut out = vec![self.opcode()];
        match self {
            Self::ErrorResponse {
                request,
                handle,
                error,
            } => {
                out.push(*request);
                put(&mut out, *handle);
                out.push(error.0);
            }
            Self::ExchangeMtuRequest(number)
            | Self::ExchangeMtuResponse(number)
            | Self::ReadRequest(number) => put(&mut out, *number),
            Self::FindInformationRequest(range) => put_range(&mut out, *range),
            Self::FindByTypeValueRequest { range, kind, value } => {
                put_range(&mut out, *range);
                put(&mut out, *kind);
                out.extend(value);
            }
            Self::FindByTypeValueResponse(groups) => {
                groups.iter().for_each(|range| put_range(&mut out, *range));
            }
            Self::ReadByTypeRequest(range, kind) | Self::ReadByGroupTypeRequest(range, kind) => {
                put_range(&mut out, *range);
                out.extend(uuid_octets(*kind));
            }
            Self::ReadBlobRequest(handle, offset) => {
                put(&mut out, *handle);
                put(&mut out, *offset);
            }
            Self::ReadResponse(value) | Self::ReadBlobResponse(value) => out.extend(value),
            Self::WriteRequest(handle, value)
            | Self::Notification(handle, value)
            | Self::Indication(handle, value) => {
                put(&mut out, *handle);
                out.extend(value);
            }
            Self::FindInformationResponse(_)
            | Self::ReadByTypeResponse(_)
            | Self::ReadByGroupTypeResponse(_) => self.encode_list(&mut out),
            Self::WriteResponse | Self::Confirmation | Self::Other(_) => {}
        }
        out
    }

    fn encode_list(&self, out: &mut Vec<u8>) {
        match self {
            Self::FindInformationResponse(list) => {
                let short = list.iter().all(|(_, kind)| kind.number().is_some());
                out.push(if short { 1 } else { 2 });
                for (handle, kind) in list {
                    put(out, *handle);
                    match kind.number().filter(|_| short) {
                        Some(number) => put(out, number),
                        None => out.extend(kind.uuid().as_u128().to_le_bytes()),
                    }
                }
            }
            Self::ReadByTypeResponse(list) => {
                let length = list.first().map_or(0, |(_, value)| value.len());
                out.push(u8::try_from(length + 2).unwrap_or(u8::MAX));
                for (handle, value) in list.iter().filter(|(_, value)| value.len() == length) {
                    put(out, *handle);
                    out.extend(value);
                }
            }
            Self::ReadByGroupTypeResponse(list) => {
                let length = list.first().map_or(0, |(_, value)| value.len());
                out.push(u8::try_from(length + 4).unwrap_or(u8::MAX));
                for (range, value) in list.iter().filter(|(_, value)| value.len() == length) {
                    put_range(out, *range);
                    out.extend(value);
                }
            }
            _ => {}
        }
    }
}

/// Whether an opcode is a request, which has to be answered: of a client's opcodes the even ones below the
/// notification and without the command bit, and the batch of Read Multiple Variable (Core Vol 3 Part F
/// 3.4.8).
pub fn is_request(opcode: u8) -> bool {
    matches!(
        opcode,
        0x02 | 0x04 | 0x06 | 0x08 | 0x0a | 0x0c | 0x0e | 0x10 | 0x12 | 0x16 | 0x18 | 0x20
    )
}

fn request(opcode: u8, rest: &[u8]) -> Option<Pdu> {
    Some(match (opcode, rest) {
        (0x02, &[m0, m1]) => Pdu::ExchangeMtuRequest(u16::from_le_bytes([m0, m1])),
        (0x04, _) => {
            let (range, rest) = take_range(rest)?;
            rest.is_empty().then_some(Pdu::FindInformationRequest(range))?
        }
        (0x06, _) => {
            let (range, rest) = take_range(rest)?;
            let (kind, value) = take(rest)?;
            Pdu::FindByTypeValueRequest {
                range,
                kind,
                value: value.to_vec(),
            }
        }
        (0x08, _) => {
            let (range, kind) = take_range(rest)?;
            Pdu::ReadByTypeRequest(range, uuid(kind)?)
        }
        (0x0a, &[h0, h1]) => Pdu::ReadRequest(u16::from_le_bytes([h0, h1])),
        (0x0c, &[h0, h1, o0, o1]) => {
            Pdu::ReadBlobRequest(u16::from_le_bytes([h0, h1]), u16::from_le_bytes([o0, o1]))
        }
        (0x10, _) => {
            let (range, kind) = take_range(rest)?;
            Pdu::ReadByGroupTypeRequest(range, uuid(kind)?)
        }
        (0x12, _) => {
            let (handle, value) = take(rest)?;
            Pdu::WriteRequest(handle, value.to_vec())
        }
        (0x0e | 0x16 | 0x18 | 0x20, _) => Pdu::Other(opcode),
        _ => return None,
    })
}

/// What is no request: answers, values, and what nobody expects.
fn told(opcode: u8, rest: &[u8]) -> Option<Pdu> {
    Some(match (opcode, rest) {
        (0x01, &[request, h0, h1, error]) => Pdu::ErrorResponse {
            request,
            handle: u16::from_le_bytes([h0, h1]),
            error: AttError(error),
        },
        (0x03, &[m0, m1]) => Pdu::ExchangeMtuResponse(u16::from_le_bytes([m0, m1])),
        (0x05, [format @ (1 | 2), list @ ..]) => {
            let length = if *format == 1 { 4 } else { 18 };
            let read = |entry| {
                let (handle, kind) = take(entry)?;
                Some((handle, uuid(kind)?))
            };
            Pdu::FindInformationResponse(entries(list, length)?.map(read).collect::<Option<_>>()?)
        }
        (0x07, list) => {
            let read = |entry| take_range(entry).map(|(range, _)| range);
            Pdu::FindByTypeValueResponse(entries(list, 4)?.map(read).collect::<Option<_>>()?)
        }
        (0x09, [length, list @ ..]) => {
            let read = |entry| take(entry).map(|(handle, value)| (handle, value.to_vec()));
            let entries = entries(list, usize::from(*length).max(2))?;
            Pdu::ReadByTypeResponse(entries.map(read).collect::<Option<_>>()?)
        }
        (0x0b, value) => Pdu::ReadResponse(value.to_vec()),
        (0x0d, value) => Pdu::ReadBlobResponse(value.to_vec()),
        (0x11, [length, list @ ..]) => {
            let read = |entry| take_range(entry).map(|(range, value)| (range, value.to_vec()));
            let entries = entries(list, usize::from(*length).max(4))?;
            Pdu::ReadByGroupTypeResponse(entries.map(read).collect::<Option<_>>()?)
        }
        (0x13, []) => Pdu::WriteResponse,
        (0x1b, _) => take(rest).map(|(handle, value)| Pdu::Notification(handle, value.to_vec()))?,
        (0x1d, _) => take(rest).map(|(handle, value)| Pdu::Indication(handle, value.to_vec()))?,
        (0x1e, []) => Pdu::Confirmation,
        (0x01 | 0x03 | 0x05 | 0x09 | 0x11 | 0x13 | 0x1e, _) => return None,
        _ => Pdu::Other(opcode),
    })
}

/// A list of at least one entry, each of `length` octets.
fn entries(list: &[u8], length: usize) -> Option<std::slice::ChunksExact<'_, u8>> {
    let entries = list.chunks_exact(length);
    (!list.is_empty() && entries.remainder().is_empty()).then_some(entries)
}

fn take(octets: &[u8]) -> Option<(u16, &[u8])> {
    let (number, rest) = octets.split_first_chunk()?;
    Some((u16::from_le_bytes(*number), rest))
}

fn take_range(octets: &[u8]) -> Option<(Range, &[u8])> {
    let (start, rest) = take(octets)?;
    let (end, rest) = take(rest)?;
    Some((Range { start, end }, rest))
}

fn put(out: &mut Vec<u8>, number: u16) {
    out.extend(number.to_le_bytes());
}

fn put_range(out: &mut Vec<u8>, range: Range) {
    put(out, range.start);
    put(out, range.end);
}

/// A UUID of two or sixteen octets, the last one first.
pub(super) fn uuid(octets: &[u8]) -> Option<Characteristic> {
    if let Ok(two) = <[u8; 2]>::try_from(octets) {
        return Some(Characteristic::assigned(u16::from_le_bytes(two)));
    }
    let sixteen = <[u8; 16]>::try_from(octets).ok()?;
    Some(Characteristic::from(Uuid::from_u128(u128::from_le_bytes(
        sixteen,
    ))))
}

/// The octets of a UUID: two where it has an assigned number.
pub(super) fn uuid_octets(kind: Characteristic) -> Vec<u8> {
    match kind.number() {
        Some(number) => number.to_le_bytes().to_vec(),
        None => kind.uuid().as_u128().to_le_bytes().to_vec(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn range(start: u16, end: u16) -> Range {
        Range { start, end }
    }

    /// Octets laid out by the tables of Core Vol 3 Part F 3.4, field by field.
    #[test]
    fn each_packet_of_the_specification_is_read_and_written() {
        let full = Characteristic::from(Uuid::from_u128(0x0001_0203_0405_0607_0809_0a0b_0c0d_0e0f));
        for (octets, pdu) in [
            (
                vec![0x01, 0x0a, 0x34, 0x12, 0x01],
                Pdu::ErrorResponse {
                    request: 0x0a,
                    handle: 0x1234,
                    error: AttError::INVALID_HANDLE,
                },
            ),
            (vec![0x02, 0x05, 0x02], Pdu::ExchangeMtuRequest(517)),
            (vec![0x03, 0x17, 0x00], Pdu::ExchangeMtuResponse(23)),
            (
                vec![0x04, 0x01, 0x00, 0xff, 0xff],
                Pdu::FindInformationRequest(Range::ALL),
            ),
            (
                vec![0x05, 0x01, 0x13, 0x00, 0x02, 0x29, 0x14, 0x00, 0x01, 0x29],
                Pdu::FindInformationResponse(vec![
                    (0x13, Characteristic::assigned(0x2902)),
                    (0x14, Characteristic::assigned(0x2901)),
                ]),
            ),
            (
                [vec![0x05, 0x02, 0x13, 0x00], (0..16).rev().collect()].concat(),
                Pdu::FindInformationResponse(vec![(0x13, full)]),
            ),
            (
                vec![0x06, 0x01, 0x00, 0xff, 0xff, 0x00, 0x28, 0x10, 0x18],
                Pdu::FindByTypeValueRequest {
                    range: Range::ALL,
                    kind: 0x2800,
                    value: vec![0x10, 0x18],
                },
            ),
            (
                vec![0x07, 0x10, 0x00, 0x1f, 0x00, 0x30, 0x00, 0xff, 0xff],
                Pdu::FindByTypeValueResponse(vec![range(0x10, 0x1f), range(0x30, 0xffff)]),
            ),
            (
                vec![0x08, 0x10, 0x00, 0x1f, 0x00, 0x03, 0x28],
                Pdu::ReadByTypeRequest(range(0x10, 0x1f), Characteristic::assigned(0x2803)),
            ),
            (
                vec![0x09, 0x07, 0x11, 0x00, 0x20, 0x12, 0x00, 0x35, 0x2a],
                Pdu::ReadByTypeResponse(vec![(0x11, vec![0x20, 0x12, 0x00, 0x35, 0x2a])]),
            ),
            (vec![0x0a, 0x12, 0x00], Pdu::ReadRequest(0x12)),
            (vec![0x0b, 0x01, 0x02], Pdu::ReadResponse(vec![1, 2])),
            (vec![0x0c, 0x12, 0x00, 0x16, 0x00], Pdu::ReadBlobRequest(0x12, 22)),
            (vec![0x0d], Pdu::ReadBlobResponse(vec![])),
            (
                vec![0x10, 0x01, 0x00, 0xff, 0xff, 0x00, 0x28],
                Pdu::ReadByGroupTypeRequest(Range::ALL, Characteristic::assigned(0x2800)),
            ),
            (
                vec![0x11, 0x06, 0x01, 0x00, 0x05, 0x00, 0x00, 0x18],
                Pdu::ReadByGroupTypeResponse(vec![(range(1, 5), vec![0x00, 0x18])]),
            ),
            (
                vec![0x12, 0x13, 0x00, 0x02, 0x00],
                Pdu::WriteRequest(0x13, vec![2, 0]),
            ),
            (vec![0x13], Pdu::WriteResponse),
            (vec![0x1b, 0x15, 0x00, 0x00], Pdu::Notification(0x15, vec![0])),
            (vec![0x1d, 0x12, 0x00], Pdu::Indication(0x12, vec![])),
            (vec![0x1e], Pdu::Confirmation),
            (vec![0x16, 1, 2, 3], Pdu::Other(0x16)),
        ] {
            assert_eq!(Pdu::decode(&octets), Ok(pdu.clone()), "{octets:02x?}");
            if !matches!(pdu, Pdu::Other(_)) {
                assert_eq!(pdu.encode(), octets, "{pdu:?}");
            }
        }
    }

    #[test]
    fn what_is_short_long_or_uneven_is_refused() {
        for octets in [
            &[][..],
            &[0x01, 0x0a, 0x00, 0x00],
            &[0x02, 0x17],
            &[0x03, 0x17, 0x00, 0x00],
            &[0x04, 0x01, 0x00, 0xff],
            &[0x05, 0x03, 0x01, 0x00, 0x02, 0x29],
            &[0x05, 0x01, 0x13, 0x00, 0x02],
            &[0x05, 0x01],
            &[0x07],
            &[0x07, 1, 0, 2],
            &[0x08, 0x01, 0x00, 0xff, 0xff, 0x03],
            &[0x09, 0x07, 0x11, 0x00, 0x20, 0x12],
            &[0x09, 0x00],
            &[0x0a, 0x12],
            &[0x11, 0x06, 0x01, 0x00, 0x05],
            &[0x12, 0x13],
            &[0x13, 0x00],
            &[0x1b, 0x15],
            &[0x1d],
            &[0x1e, 0x00],
            &[0x1d; PDU_OCTETS_MAX + 1],
        ] {
            assert!(Pdu::decode(octets).is_err(), "{octets:02x?}");
        }
        assert!(Pdu::decode(&[0x1d; PDU_OCTETS_MAX]).is_ok());
    }

    proptest::proptest! {
        #[test]
        fn reading_what_was_written_gives_the_same(octets in proptest::collection::vec(proptest::num::u8::ANY, 0..64)) {
            if let Ok(pdu) = Pdu::decode(&octets) {
                proptest::prop_assert_eq!(Pdu::decode(&pdu.encode()).map(|again| again == pdu
                    || matches!(pdu, Pdu::Other(_))), Ok(true));
            }
        }
    }
}
