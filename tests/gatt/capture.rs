//! Frames as a btsnoop capture: a connection, the discovery that tells a reader which handle is which characteristic,
//! then the values. Enough of HCI, L2CAP and ATT for that, and no more.

use quietcuff::gatt::Characteristic;

/// How a value travels.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(crate) enum By {
    Indication,
    Notification,
    /// Asked for with a Read Request.
    Read,
    Write,
}

/// A capture in the making. Datalink 1002: every packet starts with its HCI type.
pub(crate) struct Capture {
    octets: Vec<u8>,
    packets: usize,
    known: Vec<Characteristic>,
}

/// The connection's handle, any number below 0x0f00.
const CONNECTION: u16 = 0x0040;
/// Where the one service begins. A characteristic's value follows its declaration.
const SERVICE: u16 = 0x0001;

impl Capture {
    /// A capture in which these characteristics are discovered.
    pub(crate) fn new(characteristics: &[Characteristic]) -> Self {
        let mut made = Self {
            octets: b"btsnoop\0".to_vec(),
            packets: 0,
            known: characteristics.to_vec(),
        };
        made.octets.extend(1u32.to_be_bytes());
        made.octets.extend(1002u32.to_be_bytes());
        // LE Connection Complete: status, handle, central, public address, address, intervals, accuracy.
        let mut complete = vec![0x04, 0x3e, 19, 0x01, 0x00];
        complete.extend(CONNECTION.to_le_bytes());
        complete.extend([
            0x00, 0x00, 0x01, 0x00, 0x00, 0xee, 0xff, 0xc0, 0x18, 0, 0, 0, 0xc8, 0, 0,
        ]);
        made.packet(true, &complete);
        // Which services: one, Blood Pressure, with every handle.
        made.att(false, &[0x10, 0x01, 0x00, 0xff, 0xff, 0x00, 0x28]);
        made.att(true, &[0x11, 0x06, 0x01, 0x00, 0xff, 0xff, 0x10, 0x18]);
        for (at, characteristic) in characteristics.iter().enumerate() {
            let [d0, d1] = (made.handle(at) - 1).to_le_bytes();
            let [v0, v1] = made.handle(at).to_le_bytes();
            let [u0, u1] = characteristic.number().expect("an assigned one").to_le_bytes();
            made.att(false, &[0x08, d0, d1, 0xff, 0xff, 0x03, 0x28]);
            made.att(true, &[0x09, 0x07, d0, d1, 0x3a, v0, v1, u0, u1]);
        }
        made
    }

    fn handle(&self, at: usize) -> u16 {
        SERVICE + 2 + 2 * u16::try_from(at).unwrap()
    }

    /// Adds a value. Returns the number of the packet that carries it, counted from 1 as tshark does.
    pub(crate) fn value(&mut self, by: By, characteristic: Characteristic, value: &[u8]) -> usize {
        let at = self.known.iter().position(|c| *c == characteristic).unwrap();
        let handle = self.handle(at).to_le_bytes();
        let with_handle = |op: u8| [&[op], &handle[..], value].concat();
        match by {
            By::Indication => self.att(true, &with_handle(0x1d)),
            By::Notification => self.att(true, &with_handle(0x1b)),
            By::Write => self.att(false, &with_handle(0x12)),
            By::Read => {
                self.att(false, &[&[0x0a], &handle[..]].concat());
                self.att(true, &[&[0x0b], value].concat());
            }
        }
        let number = self.packets;
        match by {
            By::Indication => self.att(false, &[0x1e]),
            By::Write => self.att(true, &[0x13]),
            By::Notification | By::Read => {}
        }
        number
    }

    pub(crate) fn octets(&self) -> &[u8] {
        &self.octets
    }

    fn att(&mut self, from_monitor: bool, pdu: &[u8]) {
        let length = u16::try_from(pdu.len()).unwrap();
        let mut packet = vec![0x02];
        // First packet of a message: 0b10 from the controller, 0b00 to it.
        packet.extend((CONNECTION | if from_monitor { 0x2000 } else { 0 }).to_le_bytes());
        packet.extend((length + 4).to_le_bytes());
        packet.extend(length.to_le_bytes());
        packet.extend(4u16.to_le_bytes());
        packet.extend(pdu);
        self.packet(from_monitor, &packet);
    }

    fn packet(&mut self, received: bool, octets: &[u8]) {
        self.packets += 1;
        let length = u32::try_from(octets.len()).unwrap().to_be_bytes();
        let event = octets[0] == 0x04;
        let flags = u32::from(received) | if event { 2 } else { 0 };
        // Microseconds since the year 0: 2000-01-01 and a millisecond a packet.
        let time = 0x00e0_3ab4_4a67_6000_i64 + i64::try_from(self.packets).unwrap() * 1000;
        self.octets.extend(length);
        self.octets.extend(length);
        self.octets.extend(flags.to_be_bytes());
        self.octets.extend([0; 4]);
        self.octets.extend(time.to_be_bytes());
        self.octets.extend(octets);
    }
}
