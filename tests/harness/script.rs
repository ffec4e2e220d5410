//! Writes captures: a recorder of HCI packets that are made up here, in any of the three datalinks.

use std::fmt::Write as _;

/// The three ways to wrap a packet.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) enum Datalink {
    H1 = 1001,
    H4 = 1002,
    Monitor = 2001,
}

pub(crate) const ALL: [Datalink; 3] = [Datalink::H1, Datalink::H4, Datalink::Monitor];

/// One HCI packet: type octet as on a UART, direction, time in btsnoop's own count.
#[derive(Clone, PartialEq, Eq, Debug)]
pub(crate) struct Packet {
    pub(crate) at: i64,
    pub(crate) received: bool,
    pub(crate) h4: Vec<u8>,
}

/// The packets of an H4 file.
pub(crate) fn packets(file: &[u8]) -> Vec<Packet> {
    assert_eq!(file[8..16], [0, 0, 0, 1, 0, 0, 0x03, 0xea], "an H4 file");
    let word = |at: usize| u32::from_be_bytes(file[at..at + 4].try_into().unwrap());
    let mut at = 16;
    let mut packets = Vec::new();
    while at < file.len() {
        let length = word(at + 4) as usize;
        packets.push(Packet {
            at: i64::from_be_bytes(file[at + 16..at + 24].try_into().unwrap()),
            received: word(at + 8) & 1 != 0,
            h4: file[at + 24..at + 24 + length].to_vec(),
        });
        at += 24 + length;
    }
    packets
}

/// The file that holds these packets.
pub(crate) fn file(datalink: Datalink, packets: &[Packet]) -> Vec<u8> {
    let mut file = b"btsnoop\0\0\0\0\x01".to_vec();
    file.extend((datalink as u32).to_be_bytes());
    for Packet { at, received, h4 } in packets {
        let is_acl = h4[0] == 2;
        let (flags, packet) = match datalink {
            Datalink::H4 | Datalink::H1 => (
                u32::from(*received) | u32::from(!is_acl) << 1,
                if datalink == Datalink::H1 { &h4[1..] } else { h4 },
            ),
            Datalink::Monitor => {
                let opcode = match (h4[0], received) {
                    (1, _) => 2,
                    (4, _) => 3,
                    (2, false) => 4,
                    (2, true) => 5,
                    (other @ NOT_HCI.., _) => u32::from(other - NOT_HCI),
                    other => panic!("no such packet: {other:?}"),
                };
                (3 << 16 | opcode, &h4[1..])
            }
        };
        let length = u32::try_from(packet.len()).unwrap();
        for word in [length, length, flags, 0] {
            file.extend(word.to_be_bytes());
        }
        file.extend(at.to_be_bytes());
        file.extend(packet);
    }
    file
}

/// The Unix epoch in btsnoop's count, in decimal from BlueZ's constant for 2000-01-01, 0x00E03AB44A676000
/// (`src/shared/btsnoop.c`), less the 946,684,800 seconds between the two.
pub(crate) const UNIX_EPOCH: i64 = 0x00e0_3ab4_4a67_6000 - 946_684_800 * 1_000_000;

/// From here on a type octet is a monitor opcode and this: what the Linux monitor records besides HCI packets.
const NOT_HCI: u8 = 0x80;

/// When a script begins: 2026-03-01T06:00:00Z.
pub(crate) const BEGIN: i64 = 1_772_344_800;

/// Packets being written, a second apart.
#[derive(Default)]
pub(crate) struct Script {
    pub(crate) packets: Vec<Packet>,
    /// The most octets that a fragment of ACL data holds; 0 is no limit.
    pub(crate) fragment: usize,
}

impl Script {
    fn put(&mut self, received: bool, h4: Vec<u8>) {
        let seconds = BEGIN + i64::try_from(self.packets.len()).unwrap();
        self.packets.push(Packet {
            at: seconds * 1_000_000 + UNIX_EPOCH,
            received,
            h4,
        });
    }

    pub(crate) fn event(&mut self, code: u8, parameters: &[u8]) -> &mut Self {
        let mut h4 = vec![4, code, u8::try_from(parameters.len()).unwrap()];
        h4.extend(parameters);
        self.put(true, h4);
        self
    }

    /// What only the Linux monitor records.
    pub(crate) fn monitor(&mut self, opcode: u8, parameters: &[u8]) -> &mut Self {
        let mut h4 = vec![NOT_HCI + opcode];
        h4.extend(parameters);
        self.put(false, h4);
        self
    }

    pub(crate) fn command(&mut self, opcode: u16, parameters: &[u8]) -> &mut Self {
        let mut h4 = vec![1];
        h4.extend(opcode.to_le_bytes());
        h4.push(u8::try_from(parameters.len()).unwrap());
        h4.extend(parameters);
        self.put(false, h4);
        self
    }

    /// LE Connection Complete as central. The address is written as people write it.
    pub(crate) fn connect(&mut self, handle: u16, kind: u8, address: [u8; 6]) -> &mut Self {
        let mut parameters = vec![0x01, 0];
        parameters.extend(handle.to_le_bytes());
        parameters.extend([0, kind]);
        parameters.extend(address.iter().rev());
        parameters.extend([0x18, 0, 0, 0, 0x48, 0, 0]);
        self.event(0x3e, &parameters)
    }

    pub(crate) fn disconnect(&mut self, handle: u16) -> &mut Self {
        let [h0, h1] = handle.to_le_bytes();
        self.event(0x05, &[0, h0, h1, 0x13])
    }

    fn acl(&mut self, received: bool, handle: u16, channel: u16, pdu: &[u8]) -> &mut Self {
        let mut l2cap = u16::try_from(pdu.len()).unwrap().to_le_bytes().to_vec();
        l2cap.extend(channel.to_le_bytes());
        l2cap.extend(pdu);
        let size = if self.fragment == 0 {
            l2cap.len()
        } else {
            self.fragment
        };
        for (n, part) in l2cap.chunks(size).enumerate() {
            let boundary: u16 = match (n, received) {
                (0, true) => 0b10,
                (0, false) => 0b00,
                _ => 0b01,
            };
            let mut h4 = vec![2];
            h4.extend((handle | boundary << 12).to_le_bytes());
            h4.extend(u16::try_from(part.len()).unwrap().to_le_bytes());
            h4.extend(part);
            self.put(received, h4);
        }
        self
    }

    /// An ATT PDU of ours, in hexadecimal.
    pub(crate) fn sent(&mut self, handle: u16, pdu: &str) -> &mut Self {
        self.acl(false, handle, 4, &octets(pdu))
    }

    /// An ATT PDU of the peer's, in hexadecimal.
    pub(crate) fn received(&mut self, handle: u16, pdu: &str) -> &mut Self {
        self.acl(true, handle, 4, &octets(pdu))
    }

    /// An SMP PDU of the peer's.
    pub(crate) fn security(&mut self, handle: u16, pdu: &[u8]) -> &mut Self {
        self.acl(true, handle, 6, pdu)
    }

    /// Discovery of one characteristic: a declaration at `handle - 1` that names the value at `handle`.
    pub(crate) fn discover(&mut self, link: u16, handle: u16, number: u16) -> &mut Self {
        let le = |n: u16| hex(&n.to_le_bytes());
        let (declared, at, uuid) = (le(handle - 1), le(handle), le(number));
        self.sent(link, &format!("08{declared}ffff0328"));
        self.received(link, &format!("0907{declared}20{at}{uuid}"))
    }
}

pub(crate) fn octets(hex: &str) -> Vec<u8> {
    let digits: Vec<u8> = hex
        .chars()
        .filter(|c| *c != ' ')
        .map(|c| u8::try_from(c.to_digit(16).unwrap()).unwrap())
        .collect();
    digits.chunks(2).map(|pair| pair[0] << 4 | pair[1]).collect()
}

pub(crate) fn hex(octets: &[u8]) -> String {
    octets.iter().fold(String::new(), |mut text, octet| {
        write!(text, "{octet:02x}").unwrap();
        text
    })
}
