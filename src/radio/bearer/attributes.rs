//! What a monitor's server holds, and how it is found out. Pure: it says what to ask next, and is told the
//! answer.
//!
//! The Blood Pressure service comes first, with its descriptors, so that one can subscribe early; the other
//! services' characteristics follow in a second part.

use super::pdu::{AttError, Pdu, Range, uuid};
use crate::gatt::Characteristic;

/// So many requests a part: a server that always has one more is left. A monitor has about twenty
/// characteristics, and at the least MTU one packet names three of them.
const REQUESTS_MAX: u32 = 128;
/// So many characteristics of one server.
const CHARACTERISTICS_MAX: usize = 256;
/// So many Blood Pressure services on one server.
const SERVICES_MAX: usize = 4;

const PRIMARY_SERVICE: u16 = 0x2800;
const CHARACTERISTIC_DECLARATION: Characteristic = Characteristic::assigned(0x2803);
const CLIENT_CONFIGURATION: Characteristic = Characteristic::assigned(0x2902);
/// The services that carry readings: Blood Pressure, and where there is none, Generic Health Sensor.
const SERVICES: [u16; 2] = [0x1810, 0x1840];
pub(super) const SERVICE_CHANGED: Characteristic = Characteristic::assigned(0x2a05);
/// What is subscribed to outside of the service that carries readings: Service Changed, and the answers of the
/// control points of Device Time and User Data.
const LISTENED_TO: [Characteristic; 3] = [
    SERVICE_CHANGED,
    Characteristic::assigned(0x2b91),
    Characteristic::USER_CONTROL_POINT,
];

/// Characteristic properties (Core Vol 3 Part G 3.3.1.1).
const READ: u8 = 0x02;
const WRITE: u8 = 0x08;
const NOTIFY: u8 = 0x10;
const INDICATE: u8 = 0x20;

/// A characteristic on a server.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct ServerCharacteristic {
    /// What it is.
    pub kind: Characteristic,
    /// The handle of its value.
    pub value: u16,
    /// Its properties, as the declaration has them.
    pub properties: u8,
    /// The handle of its Client Characteristic Configuration, where it has one.
    pub configuration: Option<u16>,
}

impl ServerCharacteristic {
    /// It may be read.
    pub fn reads(&self) -> bool {
        self.properties & READ != 0
    }

    /// It may be written, with an answer.
    pub fn writes(&self) -> bool {
        self.properties & WRITE != 0
    }

    /// The value that subscribes to it: indications where it has them, for they are confirmed. `None` where
    /// it has neither kind, or nothing to subscribe by.
    pub fn subscription(&self) -> Option<(u16, u16)> {
        let how = if self.properties & INDICATE != 0 {
            2
        } else if self.properties & NOTIFY != 0 {
            1
        } else {
            return None;
        };
        self.configuration.map(|handle| (handle, how))
    }
}

/// What a server holds, in the order of its handles.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub struct ServerAttributes {
    held: Vec<ServerCharacteristic>,
    /// Its Database Hash, where it has one: the same hash, the same attributes (Core Vol 3 Part G 7.3).
    pub hash: Option<Vec<u8>>,
    /// The second part is known as well.
    pub whole: bool,
}

impl ServerAttributes {
    /// Every characteristic.
    pub fn all(&self) -> &[ServerCharacteristic] {
        &self.held
    }

    /// The first characteristic of this kind.
    pub fn find(&self, kind: Characteristic) -> Option<&ServerCharacteristic> {
        self.held.iter().find(|held| held.kind == kind)
    }

    /// The characteristic whose value has this handle.
    pub fn at(&self, handle: u16) -> Option<&ServerCharacteristic> {
        self.held.iter().find(|held| held.value == handle)
    }
}

/// Why a discovery was given up.
#[derive(Clone, Copy, PartialEq, Eq, Debug, thiserror::Error)]
pub enum Confused {
    /// Handles go back, lie outside of what was asked for, or the value makes no sense.
    #[error("the monitor names its attributes in an order that makes no sense")]
    Order,
    /// It goes on and on.
    #[error("the monitor has more attributes than {CHARACTERISTICS_MAX}, or never stops naming them")]
    TooMany,
    /// It refuses to be asked.
    #[error("the monitor refuses to name its attributes: {0}")]
    Refused(AttError),
    /// It has no service that carries readings.
    #[error("it has no Blood Pressure service and no Generic Health Sensor service")]
    NoService,
}

#[derive(Clone, Copy, PartialEq, Eq, Debug)]
enum Step {
    /// Where are the services of the kind at this place, from this handle on?
    Services(usize, u16),
    /// Which characteristics are in this range; the descriptors follow, or the whole is done.
    Characteristics(Range, Part),
    /// Which descriptors are in this range, those of the characteristic at this place.
    Descriptors(usize, Range),
    Done,
}

#[derive(Clone, Copy, PartialEq, Eq, Debug)]
enum Part {
    /// The service at this place of the list.
    Service(usize),
    Rest,
}

/// A discovery under way.
#[derive(Debug)]
pub struct AttributeDiscovery {
    step: Step,
    services: Vec<Range>,
    found: Vec<(u16, ServerCharacteristic)>,
    requests: u32,
    hash: Option<Vec<u8>>,
}

impl AttributeDiscovery {
    /// Looks for the Blood Pressure service and what is in it.
    pub fn of_service(hash: Option<Vec<u8>>) -> Self {
        Self {
            step: Step::Services(0, 1),
            services: Vec::new(),
            found: Vec::new(),
            requests: 0,
            hash,
        }
    }

    /// Looks for the characteristics of all services besides what is known.
    pub fn of_the_rest(known: &ServerAttributes) -> Self {
        Self {
            step: Step::Characteristics(Range::ALL, Part::Rest),
            services: Vec::new(),
            // The declaration stands right before the value (Core Vol 3 Part G 3.3).
            found: known
                .held
                .iter()
                .map(|held| (held.value.saturating_sub(1), *held))
                .collect(),
            requests: 0,
            hash: known.hash.clone(),
        }
    }

    /// What to ask next; `None` when everything is known.
    pub fn next(&self) -> Option<Pdu> {
        Some(match self.step {
            Step::Services(kind, start) => Pdu::FindByTypeValueRequest {
                range: Range { start, end: 0xffff },
                kind: PRIMARY_SERVICE,
                value: SERVICES.get(kind).copied().unwrap_or(0).to_le_bytes().to_vec(),
            },
            Step::Characteristics(range, _) => Pdu::ReadByTypeRequest(range, CHARACTERISTIC_DECLARATION),
            Step::Descriptors(_, range) => Pdu::FindInformationRequest(range),
            Step::Done => return None,
        })
    }

    /// Takes the answer to what was asked last.
    pub fn answered(&mut self, answer: Result<Pdu, AttError>) -> Result<(), Confused> {
        self.requests += 1;
        if self.requests > REQUESTS_MAX {
            return Err(Confused::TooMany);
        }
        match (self.step, answer) {
            (Step::Services(kind, start), Ok(Pdu::FindByTypeValueResponse(list))) => {
                self.services(kind, start, &list)
            }
            (Step::Services(kind, _), Err(AttError::NOT_FOUND)) => {
                if self.services.is_empty() && kind + 1 < SERVICES.len() {
                    self.step = Step::Services(kind + 1, 1);
                    return Ok(());
                }
                self.enter(0)
            }
            (Step::Characteristics(range, part), Ok(Pdu::ReadByTypeResponse(list))) => {
                self.characteristics(range, part, &list)
            }
            (Step::Characteristics(_, part), Err(AttError::NOT_FOUND)) => self.part_ends(part),
            (Step::Descriptors(place, range), Ok(Pdu::FindInformationResponse(list))) => {
                self.descriptors(place, range, &list)
            }
            // Some servers have no answer for descriptors but this one, and are complete all the same.
            (Step::Descriptors(place, _), Err(_)) => {
                self.describe(place + 1);
                Ok(())
            }
            (_, Err(error)) => Err(Confused::Refused(error)),
            (_, Ok(_)) => Err(Confused::Order),
        }
    }

    /// What was found.
    pub fn attributes(mut self) -> ServerAttributes {
        let whole = self.step == Step::Done && self.services.is_empty();
        self.found.sort_by_key(|(declaration, _)| *declaration);
        ServerAttributes {
            held: self.found.into_iter().map(|(_, held)| held).collect(),
            hash: self.hash,
            whole,
        }
    }

    fn services(&mut self, kind: usize, start: u16, list: &[Range]) -> Result<(), Confused> {
        let mut next = start;
        for range in list {
            if !range.is_valid() || range.start < next {
                return Err(Confused::Order);
            }
            if self.services.len() >= SERVICES_MAX {
                return Err(Confused::TooMany);
            }
            self.services.push(*range);
            match range.end.checked_add(1) {
                Some(after) => next = after,
                None => return self.enter(0),
            }
        }
        self.step = Step::Services(kind, next);
        Ok(())
    }

    /// Goes into the service at this place, or to the descriptors where there is none.
    fn enter(&mut self, place: usize) -> Result<(), Confused> {
        match self.services.get(place) {
            Some(range) => self.step = Step::Characteristics(*range, Part::Service(place)),
            None if self.services.is_empty() => return Err(Confused::NoService),
            None => self.describe(0),
        }
        Ok(())
    }

    fn part_ends(&mut self, part: Part) -> Result<(), Confused> {
        match part {
            Part::Service(place) => self.enter(place + 1),
            Part::Rest => {
                self.found.sort_by_key(|(declaration, _)| *declaration);
                self.describe(0);
                Ok(())
            }
        }
    }

    fn characteristics(&mut self, range: Range, part: Part, list: &[(u16, Vec<u8>)]) -> Result<(), Confused> {
        let mut next = range.start;
        for (declaration, octets) in list {
            let &[properties, h0, h1, ref kind @ ..] = octets.as_slice() else {
                return Err(Confused::Order);
            };
            let value = u16::from_le_bytes([h0, h1]);
            let in_order = *declaration >= next && *declaration <= range.end && value > *declaration;
            let kind = uuid(kind).filter(|_| in_order).ok_or(Confused::Order)?;
            if !self.found.iter().any(|(_, held)| held.value == value) {
                if self.found.len() >= CHARACTERISTICS_MAX {
                    return Err(Confused::TooMany);
                }
                let held = ServerCharacteristic {
                    kind,
                    value,
                    properties,
                    configuration: None,
                };
                self.found.push((*declaration, held));
            }
            match value.checked_add(1) {
                Some(after) => next = after,
                None => return self.part_ends(part),
            }
        }
        if next > range.end {
            return self.part_ends(part);
        }
        let end = range.end;
        self.step = Step::Characteristics(Range { start: next, end }, part);
        Ok(())
    }

    /// Goes to the descriptors of the characteristic at this place, or of the next that is to be subscribed
    /// to: in the Blood Pressure service each that can be, elsewhere what is listened to.
    fn describe(&mut self, from: usize) {
        for (place, (_, held)) in self.found.iter().enumerate().skip(from) {
            let service = self
                .services
                .iter()
                .find(|range| (range.start..=range.end).contains(&held.value));
            let wanted = service.is_some() || LISTENED_TO.contains(&held.kind) && self.services.is_empty();
            let next = self.found.get(place + 1);
            let end = next
                .map_or(u16::MAX, |(next, _)| next.saturating_sub(1))
                .min(service.map_or(u16::MAX, |range| range.end));
            let speaks = held.properties & (NOTIFY | INDICATE) != 0 && held.configuration.is_none();
            if wanted && speaks && end > held.value {
                let start = held.value.saturating_add(1);
                self.step = Step::Descriptors(place, Range { start, end });
                return;
            }
        }
        self.step = Step::Done;
    }

    fn descriptors(
        &mut self,
        place: usize,
        range: Range,
        list: &[(u16, Characteristic)],
    ) -> Result<(), Confused> {
        let mut next = range.start;
        for (handle, kind) in list {
            if *handle < next || *handle > range.end {
                return Err(Confused::Order);
            }
            if *kind == CLIENT_CONFIGURATION
                && let Some((_, held)) = self.found.get_mut(place)
            {
                held.configuration = Some(*handle);
                self.describe(place + 1);
                return Ok(());
            }
            match handle.checked_add(1) {
                Some(after) => next = after,
                None => break,
            }
        }
        if list.is_empty() || next > range.end {
            self.describe(place + 1);
        } else {
            let end = range.end;
            self.step = Step::Descriptors(place, Range { start: next, end });
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const MEASUREMENT: Characteristic = Characteristic::BLOOD_PRESSURE_MEASUREMENT;

    fn declared(properties: u8, value: u16, kind: u16) -> Vec<u8> {
        [
            vec![properties],
            value.to_le_bytes().to_vec(),
            kind.to_le_bytes().to_vec(),
        ]
        .concat()
    }

    /// A server that has the Blood Pressure service at 0x10 to 0x17, answering one entry a packet.
    fn answer(request: &Pdu) -> Result<Pdu, AttError> {
        let list = [
            (0x11, declared(INDICATE, 0x12, 0x2a35)),
            (0x14, declared(READ, 0x15, 0x2a49)),
            (0x21, declared(READ | WRITE, 0x22, 0x2a2b)),
        ];
        match request {
            Pdu::FindByTypeValueRequest { range, .. } if range.start <= 0x10 => {
                Ok(Pdu::FindByTypeValueResponse(vec![Range {
                    start: 0x10,
                    end: 0x17,
                }]))
            }
            Pdu::ReadByTypeRequest(range, _) => list
                .iter()
                .find(|(handle, _)| (range.start..=range.end).contains(handle))
                .map(|entry| Pdu::ReadByTypeResponse(vec![entry.clone()]))
                .ok_or(AttError::NOT_FOUND),
            Pdu::FindInformationRequest(range)
                if *range
                    == (Range {
                        start: 0x13,
                        end: 0x13,
                    }) =>
            {
                Ok(Pdu::FindInformationResponse(vec![(0x13, CLIENT_CONFIGURATION)]))
            }
            _ => Err(AttError::NOT_FOUND),
        }
    }

    fn run(
        mut discovery: AttributeDiscovery,
        mut answer: impl FnMut(&Pdu) -> Result<Pdu, AttError>,
    ) -> Result<ServerAttributes, Confused> {
        while let Some(request) = discovery.next() {
            discovery.answered(answer(&request))?;
        }
        Ok(discovery.attributes())
    }

    #[test]
    fn the_service_comes_first_and_the_rest_after_it() {
        let first = run(AttributeDiscovery::of_service(None), answer).unwrap();
        assert_eq!(
            first
                .find(MEASUREMENT)
                .and_then(ServerCharacteristic::subscription),
            Some((0x13, 2))
        );
        assert_eq!(first.at(0x15).map(|held| held.kind.number()), Some(Some(0x2a49)));
        assert!(first.find(Characteristic::CURRENT_TIME).is_none() && !first.whole);
        let whole = run(AttributeDiscovery::of_the_rest(&first), answer).unwrap();
        assert!(whole.whole);
        assert_eq!(whole.all().len(), 3, "each once");
        assert_eq!(
            whole
                .find(MEASUREMENT)
                .and_then(ServerCharacteristic::subscription),
            Some((0x13, 2))
        );
        assert!(
            whole
                .find(Characteristic::CURRENT_TIME)
                .is_some_and(ServerCharacteristic::writes)
        );
    }

    #[test]
    fn notifications_are_taken_where_there_are_no_indications() {
        let held = |properties, configuration| ServerCharacteristic {
            kind: MEASUREMENT,
            value: 2,
            properties,
            configuration,
        };
        assert_eq!(held(NOTIFY, Some(3)).subscription(), Some((3, 1)));
        assert_eq!(held(NOTIFY | INDICATE, Some(3)).subscription(), Some((3, 2)));
        assert_eq!(held(INDICATE, None).subscription(), None);
        assert_eq!(held(READ, Some(3)).subscription(), None);
    }

    #[test]
    fn a_server_that_loops_goes_back_or_never_stops_is_left() {
        let service = |request: &Pdu| match request {
            Pdu::FindByTypeValueRequest { .. } => answer(request),
            _ => Err(AttError::NOT_FOUND),
        };
        let same = |request: &Pdu| match request {
            Pdu::ReadByTypeRequest(..) => Ok(Pdu::ReadByTypeResponse(vec![(
                0x11,
                declared(INDICATE, 0x12, 0x2a35),
            )])),
            _ => service(request),
        };
        assert_eq!(
            run(AttributeDiscovery::of_service(None), same),
            Err(Confused::Order)
        );
        let endless = |request: &Pdu| match request {
            Pdu::ReadByTypeRequest(range, _) => Ok(Pdu::ReadByTypeResponse(vec![(
                range.start,
                declared(READ, range.start + 1, 0x2a35),
            )])),
            _ => service(request),
        };
        assert_eq!(
            run(
                AttributeDiscovery::of_the_rest(&ServerAttributes::default()),
                endless
            ),
            Err(Confused::TooMany)
        );
        let other = |_: &Pdu| Ok(Pdu::WriteResponse);
        assert_eq!(
            run(AttributeDiscovery::of_service(None), other),
            Err(Confused::Order)
        );
        let nothing = |_: &Pdu| Err(AttError::NOT_FOUND);
        assert_eq!(
            run(AttributeDiscovery::of_service(None), nothing),
            Err(Confused::NoService)
        );
        let refuses = |_: &Pdu| Err(AttError::NOT_SUPPORTED);
        assert_eq!(
            run(AttributeDiscovery::of_service(None), refuses),
            Err(Confused::Refused(AttError::NOT_SUPPORTED))
        );
        let back = |request: &Pdu| match request {
            Pdu::FindInformationRequest(_) => {
                Ok(Pdu::FindInformationResponse(vec![(0x01, CLIENT_CONFIGURATION)]))
            }
            _ => answer(request),
        };
        assert_eq!(
            run(AttributeDiscovery::of_service(None), back),
            Err(Confused::Order)
        );
    }

    proptest::proptest! {
        /// Whatever a server says, a discovery ends, and what was found lies in order.
        #[test]
        fn it_always_ends(said in proptest::collection::vec(proptest::collection::vec(proptest::num::u8::ANY, 0..40), 1..200)) {
            let mut said = said.into_iter().cycle();
            let found = run(AttributeDiscovery::of_service(None), |_| {
                Pdu::decode(&said.next().unwrap_or_default()).map_err(|_| AttError::INVALID_PDU)
            });
            if let Ok(found) = found {
                let handles: Vec<u16> = found.all().iter().map(|held| held.value).collect();
                proptest::prop_assert!(handles.is_sorted());
            }
        }
    }
}
