//! The btsnoop file format: a header, then records, each with a header of its own. All its integers are big-endian;
//! the HCI packets inside are not.
//!
//! Layout after Wireshark 4.0.17 `wiretap/btsnoop.c` and BlueZ 5.66 `src/shared/btsnoop.[ch]`. The length that
//! counts is the *included* one; the original length is not needed and not believed.

use crate::whole::reason;
use jiff::Timestamp;
use std::io::{self, Read};

/// What every btsnoop file begins with.
pub(crate) const MAGIC: [u8; 8] = *b"btsnoop\0";

/// The largest packet in a record. The longest HCI packet is ISO or ACL data with a 16-bit length, its header and a
/// type octet; a greater length in a record's header is a lie, and where the next record starts is then unknown.
pub(super) const PACKET_OCTETS_MAX: u32 = 65_535 + 5;

/// The Unix epoch in btsnoop's count of microseconds, nominally since the year 0; 12 days more than a calendar gives,
/// but what every writer and reader uses.
const UNIX_EPOCH: i64 = 0x00dc_ddb3_0f2f_8000;

/// How the packets of a file are wrapped.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
enum Datalink {
    /// 1001: bare HCI packets; direction and type are in the flags.
    H1,
    /// 1002: HCI packets behind a type octet, as on a UART.
    H4,
    /// 2001: the Linux monitor's; adapter and opcode are in the flags.
    Monitor,
}

/// What a record carries, as far as it matters here.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(in crate::radio) enum PacketKind {
    /// From host to controller.
    Command,
    /// From controller to host.
    Event,
    /// Data from us to the peer.
    AclSent,
    /// Data from the peer to us.
    AclReceived,
    /// The adapter appeared, went away, was opened or closed: what was connected is no more.
    AdapterChanged,
    /// From the kernel's management interface to a program such as bluetoothd.
    Management,
    /// A record that is not looked at, such as voice data or a note of the recorder.
    Other,
}

/// One packet and when it passed.
#[derive(Debug)]
pub(in crate::radio) struct SnoopRecord<'a> {
    /// Counts from 1.
    pub(in crate::radio) number: u64,
    pub(in crate::radio) at: Timestamp,
    pub(in crate::radio) adapter: u16,
    pub(in crate::radio) kind: PacketKind,
    pub(in crate::radio) packet: &'a [u8],
}

/// A file that is no capture that can be read.
#[derive(Debug, thiserror::Error)]
pub enum CaptureError {
    /// Not the sixteen octets that it has to begin with.
    #[error("it does not begin with a btsnoop header; record it with `btmon -w FILE`")]
    Header,
    /// Of another version.
    #[error("it is btsnoop version {0}; only version 1 is known")]
    Version(u32),
    /// Of another datalink.
    #[error(
        "its datalink is {0}; 1001 (HCI), 1002 (HCI UART) and 2001 (Linux monitor) can be read: record it with \
         `btmon -w FILE`, or take the phone's HCI snoop log"
    )]
    Datalink(u32),
    /// Where it has to go on without an end, it does not.
    #[error(transparent)]
    Broken(Broken),
    /// The system could not read the file.
    #[error("{}", reason(.0))]
    Io(#[from] io::Error),
}

/// Where and why the records stop before the file does, or the file before the record.
#[derive(Clone, PartialEq, Eq, Debug, thiserror::Error)]
#[error("record {record} at octet {octet} {what}; what follows was not read")]
pub struct Broken {
    /// Counts from 1.
    pub record: u64,
    /// Where its header starts in the file.
    pub octet: u64,
    /// What is wrong.
    pub what: Damage,
}

/// What is wrong with a record.
#[derive(Clone, PartialEq, Eq, Debug, thiserror::Error)]
pub enum Damage {
    /// The file ends inside it: the recorder was stopped in the middle.
    #[error("is cut off")]
    CutOff,
    /// Its length is longer than any HCI packet.
    #[error("claims {0} octets, more than an HCI packet can have")]
    TooLong(u32),
    /// Its time is outside the years that can be told.
    #[error("has an impossible time")]
    Time,
}

/// Reads records one after the other into one buffer.
pub(in crate::radio) struct SnoopRecords<R> {
    input: R,
    datalink: Datalink,
    buffer: Vec<u8>,
    /// How many records were read whole.
    pub(in crate::radio) read: u64,
    octet: u64,
    /// Set once no more records can be had although the file is not at a record's end.
    pub(in crate::radio) broken: Option<Broken>,
}

impl<R: Read> SnoopRecords<R> {
    /// Reads the file header.
    pub(in crate::radio) fn new(mut input: R) -> Result<Self, CaptureError> {
        let mut header = [0; 16];
        if fill(&mut input, &mut header)? < header.len() {
            return Err(CaptureError::Header);
        }
        let [m0, m1, m2, m3, m4, m5, m6, m7, v0, v1, v2, v3, d0, d1, d2, d3] = header;
        if [m0, m1, m2, m3, m4, m5, m6, m7] != MAGIC {
            return Err(CaptureError::Header);
        }
        let version = u32::from_be_bytes([v0, v1, v2, v3]);
        if version != 1 {
            return Err(CaptureError::Version(version));
        }
        let datalink = match u32::from_be_bytes([d0, d1, d2, d3]) {
            1001 => Datalink::H1,
            1002 => Datalink::H4,
            2001 => Datalink::Monitor,
            other => return Err(CaptureError::Datalink(other)),
        };
        Ok(Self {
            input,
            datalink,
            buffer: Vec::new(),
            read: 0,
            octet: 16,
            broken: None,
        })
    }

    /// The input back, wherever it stands.
    pub(in crate::radio) fn into_input(self) -> R {
        self.input
    }

    /// The next record; `None` at the end, whole or broken.
    pub(in crate::radio) fn next(&mut self) -> io::Result<Option<SnoopRecord<'_>>> {
        if self.broken.is_some() {
            return Ok(None);
        }
        let mut header = [0; 24];
        match fill(&mut self.input, &mut header)? {
            0 => return Ok(None),
            24 => (),
            _ => return Ok(self.break_off(Damage::CutOff)),
        }
        let ([_, included, flags, _], time) = split_header(header);
        if included > PACKET_OCTETS_MAX {
            return Ok(self.break_off(Damage::TooLong(included)));
        }
        // Grows with what is there, not with what the header claims.
        self.buffer.clear();
        let got = (&mut self.input)
            .take(u64::from(included))
            .read_to_end(&mut self.buffer)?;
        if got as u64 != u64::from(included) {
            return Ok(self.break_off(Damage::CutOff));
        }
        let Some(at) = time
            .checked_sub(UNIX_EPOCH)
            .and_then(|micros| Timestamp::from_microsecond(micros).ok())
        else {
            return Ok(self.break_off(Damage::Time));
        };
        self.read += 1;
        self.octet += 24 + u64::from(included);
        let (adapter, kind, packet) = unwrap(self.datalink, flags, &self.buffer);
        Ok(Some(SnoopRecord {
            number: self.read,
            at,
            adapter,
            kind,
            packet,
        }))
    }

    fn break_off<T>(&mut self, what: Damage) -> Option<T> {
        self.broken = Some(Broken {
            record: self.read + 1,
            octet: self.octet,
            what,
        });
        None
    }
}

/// Original length, included length, flags and drops; then the time.
fn split_header(header: [u8; 24]) -> ([u32; 4], i64) {
    let (words, _) = header.as_chunks::<4>();
    let mut numbers = [0; 4];
    for (number, word) in numbers.iter_mut().zip(words) {
        *number = u32::from_be_bytes(*word);
    }
    let time = header.last_chunk::<8>().copied().unwrap_or_default();
    (numbers, i64::from_be_bytes(time))
}

/// Adapter, kind and bare HCI packet of a record.
fn unwrap(datalink: Datalink, flags: u32, packet: &[u8]) -> (u16, PacketKind, &[u8]) {
    let received = flags & 1 != 0;
    let acl = if received {
        PacketKind::AclReceived
    } else {
        PacketKind::AclSent
    };
    match datalink {
        Datalink::H1 if flags & 2 == 0 => (0, acl, packet),
        Datalink::H1 if received => (0, PacketKind::Event, packet),
        Datalink::H1 => (0, PacketKind::Command, packet),
        Datalink::H4 => match packet.split_first() {
            Some((1, rest)) => (0, PacketKind::Command, rest),
            Some((2, rest)) => (0, acl, rest),
            Some((4, rest)) => (0, PacketKind::Event, rest),
            _ => (0, PacketKind::Other, &[]),
        },
        Datalink::Monitor => {
            let [a0, a1, o0, o1] = flags.to_be_bytes();
            let kind = match u16::from_be_bytes([o0, o1]) {
                0 | 1 | 8 | 9 => PacketKind::AdapterChanged,
                2 => PacketKind::Command,
                3 => PacketKind::Event,
                4 => PacketKind::AclSent,
                5 => PacketKind::AclReceived,
                17 => PacketKind::Management,
                _ => PacketKind::Other,
            };
            (u16::from_be_bytes([a0, a1]), kind, packet)
        }
    }
}

/// Reads until the buffer is full or the input ends; how much was read.
fn fill(input: &mut impl Read, mut buffer: &mut [u8]) -> io::Result<usize> {
    let mut got = 0;
    while !buffer.is_empty() {
        match input.read(buffer) {
            Ok(0) => break,
            Ok(n) => {
                got += n;
                buffer = buffer.get_mut(n..).unwrap_or_default();
            }
            Err(interrupted) if interrupted.kind() == io::ErrorKind::Interrupted => (),
            Err(error) => return Err(error),
        }
    }
    Ok(got)
}
