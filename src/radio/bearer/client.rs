//! The client's side of one link: which request waits for its answer, and what each packet of the monitor
//! means. Pure: time and packets come in.

use super::pdu::{AttError, MTU_MIN, PDU_OCTETS_MAX, Pdu, is_request};
use std::time::{Duration, Instant};

/// A request without an answer for so long has failed, and with it the link (Core Vol 3 Part F 3.3.3).
pub const TRANSACTION_LIMIT: Duration = Duration::from_secs(30);

/// A value that the monitor sent by itself.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct SentValue {
    /// The handle of the attribute.
    pub handle: u16,
    /// Its octets.
    pub value: Vec<u8>,
    /// The monitor waits for a confirmation, and keeps its record until then.
    pub indicated: bool,
}

/// What a packet means.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum PacketMeaning {
    /// The answer to the request that waits.
    Answer(Result<Pdu, AttError>),
    /// A value.
    Value(SentValue),
    /// A request of the monitor's, for the server on this side.
    Request,
    /// Nothing that means anything here; it is passed over.
    Ignored,
}

/// The client's side of one link.
#[derive(Debug)]
pub struct AttributeClient {
    mtu: u16,
    /// The opcode of the request that waits, and until when.
    waits: Option<(u8, Instant)>,
    /// For how long a request may wait.
    pub(super) limit: Duration,
}

impl Default for AttributeClient {
    fn default() -> Self {
        Self {
            mtu: MTU_MIN,
            waits: None,
            limit: TRANSACTION_LIMIT,
        }
    }
}

impl AttributeClient {
    /// The MTU of the link.
    pub fn mtu(&self) -> u16 {
        self.mtu
    }

    /// Whether a request may be sent: one at a time (Core Vol 3 Part F 3.3.2).
    pub fn is_free(&self) -> bool {
        self.waits.is_none()
    }

    /// When the request that waits has failed.
    pub fn deadline(&self) -> Option<Instant> {
        self.waits.map(|(_, until)| until)
    }

    /// The octets of a request; from now on it waits.
    pub fn ask(&mut self, request: &Pdu, now: Instant) -> Vec<u8> {
        self.waits = Some((request.opcode(), now + self.limit));
        request.encode()
    }

    /// A packet came.
    pub fn received(&mut self, octets: &[u8]) -> PacketMeaning {
        let opcode = octets.first().copied().unwrap_or(0);
        if is_request(opcode) {
            if let Ok(Pdu::ExchangeMtuRequest(theirs)) = Pdu::decode(octets) {
                self.agree(theirs);
            }
            return PacketMeaning::Request;
        }
        let pdu = match Pdu::decode(octets) {
            Ok(pdu) => pdu,
            // An answer that cannot be read is one all the same: the next request may be sent.
            Err(malformed) if self.is_awaited(malformed.opcode) => {
                self.waits = None;
                return PacketMeaning::Answer(Err(AttError::INVALID_PDU));
            }
            Err(_) => return PacketMeaning::Ignored,
        };
        match pdu {
            Pdu::Notification(handle, value) => PacketMeaning::Value(SentValue {
                handle,
                value,
                indicated: false,
            }),
            Pdu::Indication(handle, value) => PacketMeaning::Value(SentValue {
                handle,
                value,
                indicated: true,
            }),
            Pdu::ErrorResponse { request, error, .. } => {
                if self.waits.is_some_and(|(waits, _)| waits == request) {
                    self.waits = None;
                    PacketMeaning::Answer(Err(error))
                } else {
                    PacketMeaning::Ignored
                }
            }
            answer if self.is_awaited(answer.opcode()) => {
                self.waits = None;
                if let Pdu::ExchangeMtuResponse(theirs) = answer {
                    self.agree(theirs);
                }
                PacketMeaning::Answer(Ok(answer))
            }
            _ => PacketMeaning::Ignored,
        }
    }

    /// Whether this opcode answers the request that waits: it is the next one.
    fn is_awaited(&self, opcode: u8) -> bool {
        self.waits.is_some_and(|(waits, _)| waits + 1 == opcode)
    }

    fn agree(&mut self, theirs: u16) {
        let ours = u16::try_from(PDU_OCTETS_MAX).unwrap_or(u16::MAX);
        self.mtu = theirs.clamp(MTU_MIN, ours);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_request_waits_at_a_time_and_only_its_own_answer_ends_it() {
        let mut client = AttributeClient::default();
        let now = Instant::now();
        assert_eq!(client.ask(&Pdu::ReadRequest(0x12), now), [0x0a, 0x12, 0]);
        assert_eq!(client.deadline(), Some(now + TRANSACTION_LIMIT));
        for other in [
            &[0x13][..],
            &[0x01, 0x12, 0, 0, 1],
            &[0x0d, 1],
            &[0x1e],
            &[0x05],
            &[],
            &[0x52, 1, 0],
        ] {
            assert_eq!(client.received(other), PacketMeaning::Ignored, "{other:02x?}");
            assert!(!client.is_free());
        }
        assert_eq!(
            client.received(&[0x0b, 7]),
            PacketMeaning::Answer(Ok(Pdu::ReadResponse(vec![7])))
        );
        assert!(client.is_free() && client.deadline().is_none());
        assert_eq!(
            client.received(&[0x0b, 7]),
            PacketMeaning::Ignored,
            "nobody asked"
        );
        client.ask(&Pdu::ReadRequest(0x12), now);
        assert_eq!(
            client.received(&[0x01, 0x0a, 0x12, 0, 0x05]),
            PacketMeaning::Answer(Err(AttError::INSUFFICIENT_AUTHENTICATION))
        );
        client.ask(&Pdu::FindInformationRequest(super::super::pdu::Range::ALL), now);
        assert_eq!(
            client.received(&[0x05, 9]),
            PacketMeaning::Answer(Err(AttError::INVALID_PDU))
        );
    }

    #[test]
    fn values_and_requests_come_whether_something_waits_or_not() {
        let mut client = AttributeClient::default();
        for _ in 0..2 {
            assert_eq!(
                client.received(&[0x1d, 0x12, 0, 0xff]),
                PacketMeaning::Value(SentValue {
                    handle: 0x12,
                    value: vec![0xff],
                    indicated: true
                })
            );
            assert_eq!(client.received(&[0x0a, 1, 0]), PacketMeaning::Request);
            client.ask(&Pdu::ReadRequest(0x12), Instant::now());
        }
        assert!(!client.is_free());
    }

    #[test]
    fn the_mtu_is_the_lesser_of_both_and_never_below_the_least() {
        let mut client = AttributeClient::default();
        for (theirs, mtu) in [(185, 185), (600, 517), (3, 23)] {
            client.ask(&Pdu::ExchangeMtuRequest(517), Instant::now());
            client.received(&Pdu::ExchangeMtuResponse(theirs).encode());
            assert_eq!(client.mtu(), mtu);
        }
        assert_eq!(client.received(&[0x02, 100, 0]), PacketMeaning::Request);
        assert_eq!(client.mtu(), 100);
    }
}
