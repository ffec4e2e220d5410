//! A reading as Observations: the panel, the pulse, what the monitor reported of the technique.

use super::codes::{self, DIASTOLIC, MEAN, PANEL, PULSE, SYSTOLIC, UCUM};
use super::device::ours;
use super::exporter::{Exporter, written};
use super::form::{Item, Sink, id};
use super::identity::Identity;
use super::moment::Moment;
use super::resource::{
    Annotation, Component, ComponentValue, Effective, Extension, ExtensionValue, Meta, Observation,
    ObservationType, Quantity, Reference, Resource,
};
use crate::export::said;
use crate::gatt::{Decimal, Sfloat, Unit};
use crate::monitoring::worn::Worn;
use crate::reading::{Pressure, Reading, ReadingId};
use crate::technique::{Judgement, Reason};
use jiff::Timestamp;
use std::borrow::Cow;
use std::io;

/// What the monitor reported, by reason.
const FLAGS: [(Reason, super::resource::Concept); 6] = [
    (Reason::BodyMovement, codes::BODY_MOVEMENT),
    (Reason::CuffTooLoose, codes::CUFF_TOO_LOOSE),
    (Reason::IrregularPulse, codes::IRREGULAR_PULSE),
    (Reason::PulseRateAboveRange, codes::PULSE_ABOVE_RANGE),
    (Reason::PulseRateBelowRange, codes::PULSE_BELOW_RANGE),
    (Reason::ImproperPosition, codes::IMPROPER_POSITION),
];

/// The name of a reading's panel.
pub(super) fn panel_identity(reading: &ReadingId) -> Identity {
    Identity::new(reading.0.clone())
}

impl Exporter<'_> {
    pub(super) fn observations(
        &self,
        reading: &Reading,
        judgement: &Judgement,
        at: Timestamp,
        withdrawn: bool,
        sink: &mut Sink<'_>,
    ) -> io::Result<()> {
        let panel = panel_identity(&reading.id);
        let noted = Worn::noted(reading, &self.stated.notes);
        let common = Common {
            exporter: self,
            reading,
            withdrawn,
            effective: Moment::new(at, self.zones).to_string(),
            issued: Moment::new(reading.received_at, self.zones).to_string(),
            worn: noted.or(self.stated.worn_on_record(reading)),
            noted,
        };

        let mut observation = common.observation(&panel, PANEL.concept(self.switches.device_codes));
        observation.meta.profile = self.switches.profiles.of(&codes::PANEL_PROFILES);
        let notes = said::of_reading(reading, judgement).into_iter();
        observation.note = notes.map(|text| Annotation { text }).collect();
        let pressures = [
            (&SYSTOLIC, Some(reading.systolic)),
            (&DIASTOLIC, Some(reading.diastolic)),
            (&MEAN, judgement.mean_arterial_pressure),
        ];
        for (code, value) in pressures {
            if let Some(quantity) = value.and_then(|value| pressure(value, reading.unit)) {
                observation.component.push(Component {
                    code: code.concept(self.switches.device_codes),
                    value: ComponentValue::Quantity(quantity),
                });
            }
        }
        let panel_reference = self.refer("Observation", &panel);
        sink(&common.measured(panel, observation))?;

        if let Some(rate) = reading.pulse_rate.and_then(Sfloat::decimal) {
            let identity = Identity::new(format!("{}-pulse", reading.id.0));
            let mut observation = common.observation(&identity, PULSE.concept(self.switches.device_codes));
            observation.meta.profile = self.switches.profiles.of(&codes::PULSE_PROFILES);
            observation.value_quantity = Some(Quantity {
                extension: None,
                value: rate,
                unit: "beats/minute",
                system: UCUM,
                code: "/min",
            });
            sink(&common.measured(identity, observation))?;
        }

        let flags = || {
            FLAGS
                .iter()
                .filter(|(reason, _)| judgement.reasons.contains(*reason))
        };
        if self.switches.device_codes && flags().next().is_some() {
            let identity = Identity::new(format!("{}-status", reading.id.0));
            let mut observation = common.observation(&identity, codes::STATUS);
            observation.category = [codes::PHD];
            observation.derived_from = vec![Reference {
                reference: Cow::Owned(panel_reference),
            }];
            observation.component = flags()
                .map(|(_, code)| Component {
                    code: *code,
                    value: ComponentValue::Boolean(true),
                })
                .collect();
            sink(&common.item(identity, observation, None))?;
        }
        Ok(())
    }
}

/// What the Observations of one reading share.
struct Common<'e> {
    exporter: &'e Exporter<'e>,
    reading: &'e Reading,
    withdrawn: bool,
    effective: String,
    issued: String,
    /// How the cuff was worn, and what of that was noted of the sitting.
    worn: Worn,
    noted: Worn,
}

impl<'e> Common<'e> {
    fn observation(&self, identity: &Identity, code: super::resource::Concept) -> Observation<'e> {
        let exporter = self.exporter;
        let subject = self
            .reading
            .person
            .as_ref()
            .map_or_else(|| written(None), |person| exporter.subject(person));
        let mut extension = vec![Extension {
            url: codes::GATEWAY_DEVICE,
            value: ExtensionValue::Reference(written(exporter.gateway.as_ref())),
        }];
        if exporter.switches.snomed {
            extension.push(Extension {
                url: codes::MEASUREMENT_SETTING,
                value: ExtensionValue::Concept(codes::HOME),
            });
        }
        Observation {
            resource_type: ObservationType,
            id: id(exporter.form, identity),
            meta: Meta { profile: &[] },
            text: None,
            extension,
            identifier: [ours(identity)],
            status: if self.withdrawn {
                "entered-in-error"
            } else {
                "final"
            },
            category: [codes::VITAL_SIGNS],
            code,
            performer: [subject.clone()],
            subject,
            effective: Effective::At(self.effective.clone()),
            issued: self.issued.clone(),
            value_quantity: None,
            note: Vec::new(),
            body_site: None,
            method: None,
            device: written(exporter.monitors.get(&self.reading.monitor)),
            derived_from: Vec::new(),
            component: Vec::new(),
        }
    }

    /// A measurement says how it was made. What of that was on record before it cannot change, so only what was noted is
    /// compared.
    fn measured(&self, identity: Identity, observation: Observation<'e>) -> Item<'e> {
        let mut whole = self.with_cuff(observation.clone(), &self.worn);
        whole.method = Some(codes::METHOD);
        self.item(identity, whole, Some(self.with_cuff(observation, &self.noted)))
    }

    fn with_cuff(&self, mut observation: Observation<'e>, worn: &Worn) -> Observation<'e> {
        observation.body_site = codes::body_site(worn, self.exporter.switches.snomed);
        // A panel has the notes for its pulse too.
        if observation.value_quantity.is_none() {
            let cuff = worn.cuff.map(said::of_cuff);
            observation.note.extend(cuff.map(|text| Annotation { text }));
        }
        observation
    }

    fn item(
        &self,
        identity: Identity,
        whole: Observation<'e>,
        compared: Option<Observation<'e>>,
    ) -> Item<'e> {
        let resource = |mut observation: Observation<'e>| {
            observation.text = self.exporter.said_of(&observation, self.reading.person.as_ref());
            Resource::Observation(Box::new(observation))
        };
        Item {
            identity,
            // What may have been released has to be replaced; creating it where it is would leave it as it was.
            replace: self.withdrawn,
            resource: resource(whole),
            compared: compared.map(resource),
        }
    }
}

pub(super) fn mmhg(value: Decimal) -> Quantity {
    Quantity {
        extension: None,
        value,
        unit: "mmHg",
        system: UCUM,
        code: "mm[Hg]",
    }
}

/// A pressure in millimetres of mercury; `None` where the monitor sent no number. R4 binds the units of vital
/// signs, and kilopascals are not among them: a tenth of one is three quarters of a millimetre, so whole
/// millimetres are as fine as what was sent, which stands beside them.
fn pressure(value: Sfloat, unit: Unit) -> Option<Quantity> {
    let sent = value.decimal()?;
    if unit == Unit::MmHg {
        return Some(mmhg(sent));
    }
    let converted = Pressure::from_sfloat(value, unit)?;
    Some(Quantity {
        extension: Some([Extension {
            url: codes::TRANSLATION,
            value: ExtensionValue::Quantity(Box::new(Quantity {
                extension: None,
                value: sent,
                unit: "kPa",
                system: UCUM,
                code: "kPa",
            })),
        }]),
        ..mmhg(Decimal::from(converted.rounded(1, 1)))
    })
}
