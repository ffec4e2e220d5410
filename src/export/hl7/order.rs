//! A reading, or an average, as an order with its observations.

use super::settings::Hl7;
use super::status::Status;
use super::text::{Segment, components, escaped, stamp};
use crate::export::fhir::identity::SYSTEM;
use crate::export::fhir::{Averaged, Identity, Subject, device};
use crate::export::released::{Became, became};
use crate::export::said;
use crate::gatt::{Decimal, Sfloat, Unit};
use crate::household::{MonitorId, Person, PersonId};
use crate::monitoring::stated::Stated;
use crate::monitoring::worn::Worn;
use crate::reading::{Pressure, Reading};
use crate::technique::Judgement;
use jiff::Timestamp;
use sha2::{Digest, Sha256};
use std::collections::BTreeMap;
use std::fmt::Write;

const PROGRAM: &str = env!("CARGO_PKG_NAME");

/// Who writes and who is written to, in the standard's form: MSH-3 to MSH-6.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub(super) struct Envelope {
    pub(super) sending_application: String,
    pub(super) sending_facility: String,
    pub(super) receiving_application: String,
    pub(super) receiving_facility: String,
}

/// An observation: what, with which place in the monitor's own order, and the value.
#[derive(Clone, PartialEq, Eq, Debug)]
struct Observation {
    code: &'static str,
    place: &'static str,
    value: Decimal,
    unit: &'static str,
    /// What was measured, where another unit is sent.
    note: Option<String>,
}

/// A reading or an average, ready to become a message of any status.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Order {
    /// The filler's order number (OBR-3): what a correction or a withdrawal is about.
    pub name: String,
    /// Whose it is here.
    pub person: PersonId,
    /// Whose it is at the clinic (PID-3), in the standard's form.
    pub patient: String,
    pub(super) envelope: Envelope,
    label: String,
    born: String,
    service: &'static str,
    from: String,
    to: String,
    known: String,
    /// The monitor (OBX-18), where one measured.
    monitor: Option<String>,
    observations: Vec<Observation>,
    notes: Vec<String>,
    /// How it was measured, and what of that was noted of the sitting.
    how: Vec<String>,
    how_noted: Vec<String>,
}

// Codes of ISO/IEEE 11073-10101 in the places that IHE PCD TF-2 (PCD-01) and its examples give them: the monitor, in it
// the measurement, in that the values. Beside them LOINC's, as the R4 profiles `bp` and `heartrate` have them.
const MONITOR: &str = "528391^MDC_DEV_SPEC_PROFILE_BP^MDC";
const PANEL: &str =
    "150020^MDC_PRESS_BLD_NONINV^MDC^85354-9^Blood pressure panel with all children optional^LN";
const SYSTOLIC: &str = "150021^MDC_PRESS_BLD_NONINV_SYS^MDC^8480-6^Systolic blood pressure^LN";
const DIASTOLIC: &str = "150022^MDC_PRESS_BLD_NONINV_DIA^MDC^8462-4^Diastolic blood pressure^LN";
const MEAN: &str = "150023^MDC_PRESS_BLD_NONINV_MEAN^MDC^8478-0^Mean blood pressure^LN";
const PULSE: &str = "149546^MDC_PULS_RATE_NON_INV^MDC^8867-4^Heart rate^LN";
// HL7 CardX Hypertension Management 1.0.0, profile average-smbp.
const AVERAGE: &str = "96607-7^Blood pressure panel mean systolic and mean diastolic^LN";
const AVERAGE_SYSTOLIC: &str = "96608-5^Systolic blood pressure mean^LN";
const AVERAGE_DIASTOLIC: &str = "96609-3^Diastolic blood pressure mean^LN";
// The Unified Code for Units of Measure, by its name in table 0396.
const MMHG: &str = "mm[Hg]^mmHg^UCUM";
const A_MINUTE: &str = "/min^beats/minute^UCUM";

/// Writes orders for the people whose subjects are given; readings of others are nobody's.
pub struct OrderWriter<'a> {
    stated: &'a Stated,
    subjects: BTreeMap<PersonId, Subject>,
    envelope: Envelope,
}

impl<'a> OrderWriter<'a> {
    /// A [`Subject::Known`] is the clinic's identifier, as the settings have it. `installation` is what this gateway is
    /// called.
    pub fn new(
        installation: &str,
        stated: &'a Stated,
        settings: &Hl7,
        subjects: BTreeMap<PersonId, Subject>,
    ) -> Self {
        let own = || {
            let digest = Identity::digest("home", &[installation]).value;
            // Twenty characters, which is the most that a name of a facility may have (table 0362).
            digest.chars().take(20).collect()
        };
        let said = |text: &Option<String>| text.as_deref().map(components);
        Self {
            stated,
            subjects,
            envelope: Envelope {
                sending_application: ours(PROGRAM, ""),
                sending_facility: said(&settings.sending_facility).unwrap_or_else(own),
                receiving_application: said(&settings.receiving_application).unwrap_or_default(),
                receiving_facility: said(&settings.receiving_facility).unwrap_or_default(),
            },
        }
    }

    /// The head of a batch or a file of that name, which has the fields of a message's beginning.
    pub(super) fn header(&self, name: &str, written: &str) -> Segment {
        Segment::new(name)
            .with(1, r"^~\&")
            .with(2, &self.envelope.sending_application)
            .with(3, &self.envelope.sending_facility)
            .with(4, &self.envelope.receiving_application)
            .with(5, &self.envelope.receiving_facility)
            .with(6, written)
    }

    /// A moment in the standard's form.
    pub fn stamp(&self, at: Timestamp) -> String {
        stamp(at, &self.stated.zones)
    }

    /// What becomes of a reading, and the order where it is sent or withdrawn.
    pub fn reading(&self, reading: &Reading, judgement: &Judgement) -> (Became, Option<Order>) {
        let became = became(reading, judgement, |person| self.subjects.contains_key(person));
        let person = match became {
            Became::Exported | Became::Withdrawn => reading.person.as_ref(),
            Became::SetAside(_) | Became::Nobodys => None,
        };
        let order = person.and_then(|person| {
            let patient = self.patient(person)?;
            Some(self.order(reading, judgement, person, patient))
        });
        (became, order)
    }

    /// The order under which a reading was sent as this person's, to whom the clinic's identifier was that one.
    pub fn taken_back(
        &self,
        reading: &Reading,
        judgement: &Judgement,
        person: &PersonId,
        patient: &str,
    ) -> Order {
        self.order(reading, judgement, person, patient.to_owned())
    }

    /// What the clinic is told of whose it is (PID-3); `None` for people who were not chosen.
    pub fn patient(&self, person: &PersonId) -> Option<String> {
        Some(match self.subjects.get(person)? {
            Subject::Known(identifier) => components(identifier),
            Subject::Unknown(identity) => {
                let record = self
                    .details(person)
                    .and_then(|person| person.record_number.as_ref());
                let record = record.map(|number| format!("~{}^^^^MR", escaped(number)));
                format!(
                    "{}^^^{PROGRAM}&{}&ISO^PI{}",
                    identity.value,
                    oid(),
                    record.unwrap_or_default()
                )
            }
        })
    }

    fn details(&self, person: &PersonId) -> Option<&Person> {
        self.stated.person(person)
    }

    fn order(&self, reading: &Reading, judgement: &Judgement, person: &PersonId, patient: String) -> Order {
        // Where even the time is not known any more, the receipt is when it can have been at the latest.
        let at = reading.time.at.unwrap_or(reading.received_at);
        let noted = Worn::noted(reading, &self.stated.notes);
        let worn = noted.or(self.stated.worn_on_record(reading));
        let pressures = [
            (SYSTOLIC, "1.0.1.1", Some(reading.systolic)),
            (DIASTOLIC, "1.0.1.2", Some(reading.diastolic)),
            (MEAN, "1.0.1.3", judgement.mean_arterial_pressure),
        ];
        let mut observations: Vec<Observation> = pressures
            .into_iter()
            .filter_map(|(code, place, value)| pressure(code, place, value?, reading.unit))
            .collect();
        let pulse = reading.pulse_rate.and_then(Sfloat::decimal);
        observations.extend(pulse.map(|value| Observation {
            code: PULSE,
            place: "1.0.0.1",
            value,
            unit: A_MINUTE,
            note: None,
        }));
        Order {
            name: order_name(&reading.id.0, &patient),
            service: PANEL,
            from: self.stamp(at),
            to: String::new(),
            known: self.stamp(reading.received_at),
            monitor: Some(self.monitor(&reading.monitor)),
            observations,
            notes: said::of_reading(reading, judgement),
            how: said::of_how(&worn),
            how_noted: if noted == Worn::default() {
                Vec::new()
            } else {
                said::of_how(&noted)
            },
            ..self.blank(person, patient)
        }
    }

    /// The average of a period, where it has one. The readings that it is made of are sent too.
    pub fn average(&self, averaged: &Averaged<'_>) -> Option<Order> {
        let Averaged {
            period,
            protocol,
            readings,
        } = *averaged;
        let average = period.average.as_ref()?;
        let (first, last) = averaged.span()?;
        let known = readings.iter().map(|reading| reading.received_at).max()?;
        let patient = self.patient(&period.person)?;
        let days = [
            patient.as_str(),
            &*period.protocol,
            &period.from.to_string(),
            &period.to.to_string(),
        ];
        let tenths = |code, place, mantissa| Observation {
            code,
            place,
            value: Decimal {
                mantissa,
                exponent: -1,
            },
            unit: MMHG,
            note: None,
        };
        Some(Order {
            name: Identity::digest("average", &days).value,
            service: AVERAGE,
            from: self.stamp(first),
            to: self.stamp(last),
            known: self.stamp(known),
            monitor: None,
            observations: vec![
                tenths(AVERAGE_SYSTOLIC, "1", average.exact.systolic_tenths()),
                tenths(AVERAGE_DIASTOLIC, "2", average.exact.diastolic_tenths()),
            ],
            notes: vec![said::of_average(period, protocol, average)],
            ..self.blank(&period.person, patient)
        })
    }

    fn blank(&self, person: &PersonId, patient: String) -> Order {
        let details = self.details(person).cloned().unwrap_or_default();
        let label = details.label.trim();
        Order {
            name: String::new(),
            person: person.clone(),
            patient,
            envelope: self.envelope.clone(),
            label: escaped(if label.is_empty() { person.as_str() } else { label }),
            born: details
                .born_on
                .map(|day| day.strftime("%Y%m%d").to_string())
                .or_else(|| details.born.map(|year| format!("{year:04}")))
                .unwrap_or_default(),
            service: "",
            from: String::new(),
            to: String::new(),
            known: String::new(),
            monitor: None,
            observations: Vec::new(),
            notes: Vec::new(),
            how: Vec::new(),
            how_noted: Vec::new(),
        }
    }

    /// A monitor by its IEEE EUI-64, which it calls System ID, as PCD-01 has it; else by the name that we give it.
    fn monitor(&self, monitor: &MonitorId) -> String {
        let details = self
            .stated
            .household
            .monitors
            .get(monitor)
            .map(|(details, _)| details);
        let system_id = details
            .and_then(|details| details.system_id.as_deref())
            .map(escaped);
        match system_id.filter(|id| !id.is_empty()) {
            Some(id) => format!("{id}^^{id}^EUI-64"),
            None => {
                let name = device::lasting_name(&self.stated.household, monitor);
                ours(&Identity::digest("monitor", &[&name]).value, PROGRAM)
            }
        }
    }
}

/// The order number of a reading for this patient. A reading that turns out to be somebody else's is withdrawn there
/// and is another order here.
fn order_name(reading: &str, patient: &str) -> String {
    // The number of the record stands behind the identifier, and may be stated later.
    let identifier = patient.split('~').next().unwrap_or_default();
    let digest = Sha256::digest(identifier);
    let whose: String = digest
        .iter()
        .take(4)
        .map(|octet| format!("{octet:02x}"))
        .collect();
    format!("{reading}{WHOSE}{whose}")
}

/// Between a reading's id and whose it is.
const WHOSE: char = '.';

/// A name of ours, within the object identifier under which all of them are.
fn ours(name: &str, namespace: &str) -> String {
    if namespace.is_empty() {
        format!("{name}^{}^ISO", oid())
    } else {
        format!("{name}^{namespace}^{}^ISO", oid())
    }
}

fn oid() -> &'static str {
    SYSTEM.trim_start_matches("urn:oid:")
}

/// A pressure in millimetres of mercury, as FHIR's vital signs have it: a receiver files one unit. Kilopascals become
/// whole millimetres, with what was sent in a note beside them.
fn pressure(code: &'static str, place: &'static str, value: Sfloat, unit: Unit) -> Option<Observation> {
    let sent = value.decimal()?;
    let (value, note) = match unit {
        Unit::MmHg => (sent, None),
        Unit::KPa => (
            Decimal::from(Pressure::from_sfloat(value, unit)?.rounded(1, 1)),
            Some(format!("Measured: {sent} kPa.")),
        ),
    };
    Some(Observation {
        code,
        place,
        value,
        unit: MMHG,
        note,
    })
}

impl Order {
    /// The reading that it is about; `None` for an average.
    pub fn reading_of(name: &str) -> Option<&str> {
        name.split_once(WHOSE).map(|(reading, _)| reading)
    }

    /// SHA-256 of what it says. What a person is called and what is known of the monitor are no reason to send ten
    /// years again, and what was on record before the reading cannot change.
    pub fn digest(&self) -> [u8; 32] {
        let bare = Self {
            label: String::new(),
            born: String::new(),
            monitor: None,
            envelope: Envelope::default(),
            how: self.how_noted.clone(),
            ..self.clone()
        };
        let mut text = String::new();
        bare.write_body(&mut text, Status::Final);
        Sha256::digest(text).into()
    }

    pub(super) fn write_body(&self, text: &mut String, status: Status) {
        let mut write = |segment: Segment| {
            // Writing to a String cannot fail.
            let _ = write!(text, "{segment}");
        };
        write(
            Segment::new("PID")
                .with(1, "1")
                .with(3, &self.patient)
                // What the household calls somebody: a name for display (table 0200).
                .with(5, format!("{}^^^^^^D", self.label))
                .with(7, &self.born),
        );
        write(
            Segment::new("OBR")
                .with(1, "1")
                .with(3, ours(&self.name, PROGRAM))
                .with(4, self.service)
                .with(7, &self.from)
                .with(8, &self.to)
                .with(22, &self.known)
                .with(25, status.of_order()),
        );
        for (n, note) in self.notes.iter().chain(&self.how).enumerate() {
            write(note_segment(n, note));
        }
        let mut set = 0;
        let mut next = || {
            set += 1;
            Segment::new("OBX").with(1, set.to_string())
        };
        if let Some(monitor) = &self.monitor {
            // Neither has a value of its own: X, no result (table 0085).
            write(
                next()
                    .with(3, MONITOR)
                    .with(4, "1")
                    .with(11, "X")
                    .with(18, monitor),
            );
            write(
                next()
                    .with(3, self.service)
                    .with(4, "1.0.1")
                    .with(11, "X")
                    .with(14, &self.from),
            );
        }
        for observation in &self.observations {
            write(
                next()
                    .with(2, "NM")
                    .with(3, observation.code)
                    .with(4, observation.place)
                    .with(5, observation.value.to_string())
                    .with(6, observation.unit)
                    .with(11, status.of_observation())
                    .with(14, &self.from),
            );
            if let Some(note) = &observation.note {
                write(note_segment(0, note));
            }
        }
    }
}

fn note_segment(nth: usize, note: &str) -> Segment {
    // From whoever fills the order (table 0105).
    Segment::new("NTE")
        .with(1, (nth + 1).to_string())
        .with(2, "L")
        .with(3, escaped(note))
}
