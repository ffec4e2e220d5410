//! What this side of the link holds for a monitor that asks: its name, and the time. Pure: the time comes in.
//!
//! Behind a socket of our own the monitor does not meet bluetoothd's server, but this one.

use super::pdu::{AttError, MTU_MIN, PDU_OCTETS_MAX, Pdu, Range, is_request, uuid_octets};
use crate::gatt::Characteristic;

const PRIMARY_SERVICE: Characteristic = Characteristic::assigned(0x2800);
const CHARACTERISTIC_DECLARATION: Characteristic = Characteristic::assigned(0x2803);
const CLIENT_CONFIGURATION: Characteristic = Characteristic::assigned(0x2902);
const GENERIC_ACCESS: u16 = 0x1800;
const GENERIC_ATTRIBUTE: u16 = 0x1801;
const CURRENT_TIME_SERVICE: u16 = 0x1805;
/// A generic computer (Assigned Numbers 2.6.2).
const COMPUTER: u16 = 0x0080;
const NAME: &[u8] = b"quietcuff";
/// Properties of a characteristic: read, and read with notify.
const READ: u8 = 0x02;
const READ_NOTIFY: u8 = 0x12;
/// In a configuration: notifications are wanted.
const NOTIFY: u8 = 0x01;
/// A configuration is two octets.
const CONFIGURATION_OCTETS: usize = 2;

/// Gives the values that change.
pub trait Time {
    /// The Current Time value of now; `None` where there is none to give.
    fn current_time(&self) -> Option<Vec<u8>>;
    /// The Local Time Information value of now.
    fn local_time(&self) -> Option<Vec<u8>>;
    /// The Reference Time Information value of now.
    fn reference_time(&self) -> Vec<u8>;
    /// How often the clock was adjusted: another number is another adjustment.
    fn adjustments(&self) -> u32;
}

/// What stands at a handle.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
enum What {
    Service(u16),
    /// Properties and what the value is; the value has the next handle.
    Declaration(u8, Characteristic),
    Name,
    Appearance,
    CurrentTime,
    Configuration,
    LocalTime,
    ReferenceTime,
}

const FIXED: [What; 6] = [
    What::Service(GENERIC_ACCESS),
    What::Declaration(READ, Characteristic::DEVICE_NAME),
    What::Name,
    What::Declaration(READ, Characteristic::APPEARANCE),
    What::Appearance,
    What::Service(GENERIC_ATTRIBUTE),
];
const WITH_TIME: [What; 8] = [
    What::Service(CURRENT_TIME_SERVICE),
    What::Declaration(READ_NOTIFY, Characteristic::CURRENT_TIME),
    What::CurrentTime,
    What::Configuration,
    What::Declaration(READ, Characteristic::LOCAL_TIME_INFORMATION),
    What::LocalTime,
    What::Declaration(READ, Characteristic::REFERENCE_TIME_INFORMATION),
    What::ReferenceTime,
];

/// The server on one link.
pub struct Server<T> {
    attributes: Vec<What>,
    time: T,
    mtu: u16,
    /// What the monitor wrote to the configuration of Current Time.
    configuration: [u8; CONFIGURATION_OCTETS],
    /// The adjustment of the clock that it was told of last.
    told: u32,
}

impl<T: Time> Server<T> {
    /// A server; `serves_time` says whether it has the Current Time service.
    pub fn new(time: T, serves_time: bool) -> Self {
        let mut attributes = FIXED.to_vec();
        if serves_time {
            attributes.extend(WITH_TIME);
        }
        Self {
            attributes,
            time,
            mtu: MTU_MIN,
            configuration: [0; CONFIGURATION_OCTETS],
            told: 0,
        }
    }

    /// The link's MTU has changed.
    pub fn agree(&mut self, mtu: u16) {
        self.mtu = mtu.max(MTU_MIN);
    }

    /// Whether the monitor wants to be told when the clock is adjusted.
    pub fn tells_time(&self) -> bool {
        self.configuration[0] & NOTIFY != 0
    }

    /// What is told a monitor that wants it, once after each adjustment (Current Time Service 1.1, 3.1.1, from
    /// memory).
    pub fn adjusted(&mut self) -> Option<Pdu> {
        let times = self.time.adjustments();
        if !self.tells_time() || times == self.told {
            return None;
        }
        self.told = times;
        let place = self
            .attributes
            .iter()
            .position(|what| *what == What::CurrentTime)?;
        let handle = u16::try_from(place + 1).ok()?;
        Some(Pdu::Notification(handle, self.time.current_time()?))
    }

    /// The answer to a packet; `None` to what asks for none: commands, and what is no request.
    pub fn answer(&mut self, octets: &[u8]) -> Option<Pdu> {
        let opcode = octets.first().copied().filter(|opcode| is_request(*opcode))?;
        let answered = match Pdu::decode(octets) {
            Ok(request) => self.answer_to(&request),
            Err(_) => Err((0, AttError::INVALID_PDU)),
        };
        Some(answered.unwrap_or_else(|(handle, error)| Pdu::ErrorResponse {
            request: opcode,
            handle,
            error,
        }))
    }

    fn answer_to(&mut self, request: &Pdu) -> Result<Pdu, (u16, AttError)> {
        match request {
            Pdu::ExchangeMtuRequest(_) => Ok(Pdu::ExchangeMtuResponse(
                u16::try_from(PDU_OCTETS_MAX).unwrap_or(u16::MAX),
            )),
            Pdu::FindInformationRequest(range) => self.find_information(*range),
            Pdu::FindByTypeValueRequest { range, kind, value } => {
                self.find_by_value(*range, Characteristic::assigned(*kind), value)
            }
            Pdu::ReadByTypeRequest(range, kind) => self.read_by_type(*range, *kind),
            Pdu::ReadByGroupTypeRequest(range, kind) => self.read_by_group(*range, *kind),
            Pdu::ReadRequest(handle) => {
                let mut value = self.value(*handle)?;
                value.truncate(self.room(1));
                Ok(Pdu::ReadResponse(value))
            }
            Pdu::ReadBlobRequest(handle, offset) => {
                let value = self.value(*handle)?;
                let rest = value
                    .get(usize::from(*offset)..)
                    .ok_or((*handle, AttError::INVALID_OFFSET))?;
                let fits = rest.get(..self.room(1)).unwrap_or(rest);
                Ok(Pdu::ReadBlobResponse(fits.to_vec()))
            }
            Pdu::WriteRequest(handle, value) => self.write(*handle, value),
            _ => Err((0, AttError::NOT_SUPPORTED)),
        }
    }

    fn write(&mut self, handle: u16, value: &[u8]) -> Result<Pdu, (u16, AttError)> {
        match self.what(handle)? {
            What::Configuration => {
                self.told = self.time.adjustments();
                self.configuration = value.try_into().map_err(|_| (handle, AttError::INVALID_LENGTH))?;
                Ok(Pdu::WriteResponse)
            }
            _ => Err((handle, AttError::WRITE_NOT_PERMITTED)),
        }
    }

    /// How much fits behind a header of so many octets.
    fn room(&self, header: usize) -> usize {
        usize::from(self.mtu).saturating_sub(header)
    }

    fn what(&self, handle: u16) -> Result<What, (u16, AttError)> {
        usize::from(handle)
            .checked_sub(1)
            .and_then(|place| self.attributes.get(place).copied())
            .ok_or((handle, AttError::INVALID_HANDLE))
    }

    /// The attributes in a range, with their handles.
    fn within(&self, range: Range) -> Result<impl Iterator<Item = (u16, What)>, (u16, AttError)> {
        if !range.is_valid() {
            return Err((range.start, AttError::INVALID_HANDLE));
        }
        Ok((1..)
            .zip(self.attributes.iter().copied())
            .filter(move |(handle, _)| (range.start..=range.end).contains(handle)))
    }

    fn value(&self, handle: u16) -> Result<Vec<u8>, (u16, AttError)> {
        Ok(match self.what(handle)? {
            What::Service(number) => number.to_le_bytes().to_vec(),
            What::Declaration(properties, kind) => {
                let value = handle.saturating_add(1).to_le_bytes();
                [&[properties], &value[..], &uuid_octets(kind)].concat()
            }
            What::Name => NAME.to_vec(),
            What::Appearance => COMPUTER.to_le_bytes().to_vec(),
            // 0x80 and above are the application's own; this one is Current Time's "data field ignored".
            What::CurrentTime => self.time.current_time().ok_or((handle, AttError(0x80)))?,
            What::LocalTime => self.time.local_time().ok_or((handle, AttError(0x80)))?,
            What::ReferenceTime => self.time.reference_time(),
            What::Configuration => self.configuration.to_vec(),
        })
    }

    fn find_information(&self, range: Range) -> Result<Pdu, (u16, AttError)> {
        let most = self.room(2) / 4;
        let list: Vec<_> = self
            .within(range)?
            .take(most)
            .map(|(handle, what)| (handle, kind(what)))
            .collect();
        some(range, list).map(Pdu::FindInformationResponse)
    }

    fn find_by_value(
        &self,
        range: Range,
        wanted: Characteristic,
        value: &[u8],
    ) -> Result<Pdu, (u16, AttError)> {
        let most = self.room(1) / 4;
        let list: Vec<_> = self
            .within(range)?
            .filter(|(handle, what)| {
                kind(*what) == wanted && self.value(*handle).is_ok_and(|held| held == value)
            })
            .take(most)
            .map(|(handle, what)| self.group(handle, what))
            .collect();
        some(range, list).map(Pdu::FindByTypeValueResponse)
    }

    fn read_by_type(&self, range: Range, wanted: Characteristic) -> Result<Pdu, (u16, AttError)> {
        let mut list: Vec<(u16, Vec<u8>)> = Vec::new();
        for (handle, _) in self.within(range)?.filter(|(_, what)| kind(*what) == wanted) {
            let value = self.value(handle)?;
            let length = list.first().map_or(value.len(), |(_, first)| first.len());
            if value.len() != length || (list.len() + 1) * (length + 2) > self.room(2) {
                break;
            }
            list.push((handle, value));
        }
        some(range, list).map(Pdu::ReadByTypeResponse)
    }

    fn read_by_group(&self, range: Range, wanted: Characteristic) -> Result<Pdu, (u16, AttError)> {
        if wanted != PRIMARY_SERVICE {
            return Err((range.start, AttError::UNSUPPORTED_GROUP));
        }
        let most = self.room(2) / 6;
        let mut list = Vec::new();
        for (handle, what) in self.within(range)?.filter(|(_, what)| kind(*what) == wanted) {
            list.push((self.group(handle, what), self.value(handle)?));
        }
        list.truncate(most);
        some(range, list).map(Pdu::ReadByGroupTypeResponse)
    }

    /// The handles of a service from its declaration to the one before the next; of anything else its own.
    fn group(&self, start: u16, what: What) -> Range {
        let is_service = |what: &What| matches!(what, What::Service(_));
        if !is_service(&what) {
            return Range { start, end: start };
        }
        let inside = self
            .attributes
            .iter()
            .skip(usize::from(start))
            .take_while(|what| !is_service(what))
            .count();
        let end = start.saturating_add(u16::try_from(inside).unwrap_or(0));
        Range { start, end }
    }
}

fn some<T>(range: Range, list: Vec<T>) -> Result<Vec<T>, (u16, AttError)> {
    if list.is_empty() {
        return Err((range.start, AttError::NOT_FOUND));
    }
    Ok(list)
}

fn kind(what: What) -> Characteristic {
    match what {
        What::Service(_) => PRIMARY_SERVICE,
        What::Declaration(..) => CHARACTERISTIC_DECLARATION,
        What::Name => Characteristic::DEVICE_NAME,
        What::Appearance => Characteristic::APPEARANCE,
        What::CurrentTime => Characteristic::CURRENT_TIME,
        What::Configuration => CLIENT_CONFIGURATION,
        What::LocalTime => Characteristic::LOCAL_TIME_INFORMATION,
        What::ReferenceTime => Characteristic::REFERENCE_TIME_INFORMATION,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::cell::Cell;
    use std::rc::Rc;

    /// With the number of the last adjustment.
    struct Noon(Rc<Cell<u32>>);
    impl Time for Noon {
        fn current_time(&self) -> Option<Vec<u8>> {
            Some(vec![0xea, 0x07, 3, 1, 12, 0, 0, 7, 0, 0])
        }
        fn local_time(&self) -> Option<Vec<u8>> {
            Some(vec![22, 0])
        }
        fn reference_time(&self) -> Vec<u8> {
            vec![1, 255, 0, 0]
        }
        fn adjustments(&self) -> u32 {
            self.0.get()
        }
    }

    fn noon() -> Noon {
        Noon(Rc::default())
    }

    /// Once after each adjustment, and only where it is wanted.
    #[test]
    fn an_adjustment_is_told() {
        let adjusted = Rc::new(Cell::new(3));
        let mut server = Server::new(Noon(adjusted.clone()), true);
        assert_eq!(server.adjusted(), None);
        assert_eq!(asked(&mut server, &[0x12, 10, 0, 1, 0]), [0x13]);
        assert!(server.tells_time());
        assert_eq!(server.adjusted(), None, "what was before it asked is no news");
        adjusted.set(4);
        let told = server.adjusted().map(|pdu| pdu.encode());
        assert_eq!(told, Some(vec![0x1b, 9, 0, 0xea, 0x07, 3, 1, 12, 0, 0, 7, 0, 0]));
        assert_eq!(server.adjusted(), None);
        assert_eq!(asked(&mut server, &[0x12, 10, 0, 0, 0]), [0x13]);
        adjusted.set(5);
        assert_eq!(server.adjusted(), None);
        assert_eq!(asked(&mut server, &[0x0a, 14, 0]), [0x0b, 1, 255, 0, 0]);
    }

    fn asked(server: &mut Server<Noon>, octets: &[u8]) -> Vec<u8> {
        server.answer(octets).map(|pdu| pdu.encode()).unwrap_or_default()
    }

    /// The way of a monitor that fetches the time: service, characteristic, value.
    #[test]
    fn the_time_is_found_and_read() {
        let mut server = Server::new(noon(), true);
        assert_eq!(
            asked(&mut server, &[0x06, 1, 0, 0xff, 0xff, 0x00, 0x28, 0x05, 0x18]),
            [0x07, 7, 0, 14, 0]
        );
        assert_eq!(
            asked(&mut server, &[0x08, 7, 0, 14, 0, 0x03, 0x28]),
            [
                0x09, 7, 8, 0, 0x12, 9, 0, 0x2b, 0x2a, 11, 0, 0x02, 12, 0, 0x0f, 0x2a, 13, 0, 0x02, 14, 0,
                0x14, 0x2a
            ]
        );
        assert_eq!(
            asked(&mut server, &[0x0a, 9, 0]),
            [0x0b, 0xea, 0x07, 3, 1, 12, 0, 0, 7, 0, 0]
        );
        assert_eq!(asked(&mut server, &[0x0c, 9, 0, 7, 0]), [0x0d, 7, 0, 0]);
        assert_eq!(asked(&mut server, &[0x12, 10, 0, 1, 0]), [0x13]);
        assert_eq!(asked(&mut server, &[0x0a, 10, 0]), [0x0b, 1, 0]);
        assert_eq!(
            asked(&mut server, &[0x04, 10, 0, 10, 0]),
            [0x05, 1, 10, 0, 0x02, 0x29]
        );
    }

    #[test]
    fn services_fill_no_more_than_the_mtu() {
        let mut server = Server::new(noon(), true);
        let all = [
            0x11, 6, 1, 0, 5, 0, 0x00, 0x18, 6, 0, 6, 0, 0x01, 0x18, 7, 0, 14, 0, 0x05, 0x18,
        ];
        assert_eq!(asked(&mut server, &[0x10, 1, 0, 0xff, 0xff, 0x00, 0x28]), all);
        assert_eq!(asked(&mut server, &[0x02, 0xff, 0xff]), [0x03, 0x05, 0x02]);
        let long = asked(&mut server, &[0x04, 1, 0, 0xff, 0xff]);
        assert_eq!(long.len(), 22, "five of fourteen at the least MTU");
        server.agree(517);
        assert_eq!(asked(&mut server, &[0x04, 1, 0, 0xff, 0xff]).len(), 58);
    }

    #[test]
    fn what_cannot_be_is_answered_with_its_error() {
        let mut server = Server::new(noon(), false);
        for (octets, answer) in [
            (&[0x0a, 0, 0][..], &[0x01, 0x0a, 0, 0, 0x01][..]),
            (&[0x0a, 9, 0], &[0x01, 0x0a, 9, 0, 0x01]),
            (&[0x0a, 9], &[0x01, 0x0a, 0, 0, 0x04]),
            (&[0x04, 5, 0, 4, 0], &[0x01, 0x04, 5, 0, 0x01]),
            (&[0x04, 0x50, 0, 0x60, 0], &[0x01, 0x04, 0x50, 0, 0x0a]),
            (&[0x12, 3, 0, 1], &[0x01, 0x12, 3, 0, 0x03]),
            (&[0x0c, 3, 0, 10, 0], &[0x01, 0x0c, 3, 0, 0x07]),
            (&[0x10, 1, 0, 9, 0, 0x01, 0x28], &[0x01, 0x10, 1, 0, 0x10]),
            (&[0x16, 3, 0, 0, 0, 1], &[0x01, 0x16, 0, 0, 0x06]),
            (&[0x20, 3, 0, 4, 0], &[0x01, 0x20, 0, 0, 0x06]),
            (&[0x52, 3, 0, 1], &[]),
            (&[0x1e], &[]),
            (&[], &[]),
        ] {
            assert_eq!(asked(&mut server, octets), answer, "{octets:02x?}");
        }
    }
}
