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
        let common = Common {
            exporter: self,
            reading,
            status: if withdrawn { "entered-in-error" } else { "final" },
            effective: Moment::new(at, self.zones).to_string(),
            issued: Moment::new(reading.received_at, self.zones).to_string(),
        };
        let mut give = |identity: Identity, mut observation: Observation<'_>| {
            observation.text = self.said_of(&observation, reading.person.as_ref());
            sink(&Item {
                identity,
                // What may have been released has to be replaced; creating it where it is would leave it as
                // it was.
                replace: withdrawn,
                resource: Resource::Observation(Box::new(observation)),
            })
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
        give(panel, observation)?;

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
            give(identity, observation)?;
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
            give(identity, observation)?;
        }
        Ok(())
    }
}

/// What the Observations of one reading share.
struct Common<'e> {
    exporter: &'e Exporter<'e>,
    reading: &'e Reading,
    status: &'static str,
    effective: String,
    issued: String,
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
            status: self.status,
            category: [codes::VITAL_SIGNS],
            code,
            performer: [subject.clone()],
            subject,
            effective: Effective::At(self.effective.clone()),
            issued: self.issued.clone(),
            value_quantity: None,
            note: Vec::new(),
            device: written(exporter.monitors.get(&self.reading.monitor)),
            derived_from: Vec::new(),
            component: Vec::new(),
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
