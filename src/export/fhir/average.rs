//! The average of a period as one Observation: how many readings, from when to when, by which rule, and what
//! is not in it.

use super::codes::{self, AVERAGE, AVERAGE_DIASTOLIC, AVERAGE_SYSTOLIC};
use super::device::ours;
use super::exporter::{Exporter, written};
use super::form::{Item, Profiles, Sink, id};
use super::identity::Identity;
use super::moment::Moment;
use super::observation::{mmhg, panel_identity};
use super::resource::{
    Annotation, Component, ComponentValue, Effective, Extension, ExtensionValue, Meta, Observation,
    ObservationType, Reference, Resource,
};
use crate::export::said;
use crate::gatt::Decimal;
use crate::household::PersonId;
use crate::monitoring::average::Average;
use crate::monitoring::period::Period;
use crate::monitoring::protocol::Protocol;
use crate::reading::Reading;
use jiff::Timestamp;
use std::borrow::Cow;
use std::io;

/// A period with the readings that its average is made of, in order of time.
#[derive(Clone, Copy, Debug)]
pub struct Averaged<'a> {
    /// The period whose average is handed over.
    pub period: &'a Period,
    /// The protocol that the period was run by.
    pub protocol: &'a Protocol,
    /// The readings that the average is made of, in order of time.
    pub readings: &'a [&'a Reading],
}

impl Averaged<'_> {
    /// When the first and the last of its readings were taken; `None` where no time is known.
    pub fn span(&self) -> Option<(Timestamp, Timestamp)> {
        let times = || self.readings.iter().filter_map(|reading| reading.time.at);
        times().min().zip(times().max())
    }
}

impl Exporter<'_> {
    /// What the average of a period is called; `None` for people who were not chosen.
    pub fn average_identity(&self, person: &PersonId, [protocol, from, to]: [&str; 3]) -> Option<Identity> {
        let whose = self.known_as(person)?;
        Some(Identity::digest("average", &[whose, protocol, from, to]))
    }

    /// Hands over the average of a period; whether there is one. All of its readings have to be handed over
    /// too.
    pub fn average(&mut self, averaged: &Averaged<'_>, sink: &mut Sink<'_>) -> io::Result<bool> {
        let Averaged {
            period,
            protocol,
            readings,
        } = *averaged;
        let (Some(average), Some((first, last))) = (&period.average, averaged.span()) else {
            return Ok(false);
        };
        // The moment from which it could be known: when its last reading came in.
        let Some(issued) = readings.iter().map(|reading| reading.received_at).max() else {
            return Ok(false);
        };
        let (from, to) = (period.from.to_string(), period.to.to_string());
        let Some(identity) = self.average_identity(&period.person, [&period.protocol, &from, &to]) else {
            return Ok(false);
        };
        self.introduce(&period.person, None, sink)?;

        let (component, extension) = self.values(average);
        let mut observation = Observation {
            resource_type: ObservationType,
            id: id(self.form, &identity),
            meta: Meta {
                profile: if self.switches.profiles == Profiles::SelfMeasured {
                    &codes::AVERAGE_PROFILE
                } else {
                    &[]
                },
            },
            text: None,
            extension,
            identifier: [ours(&identity)],
            status: "final",
            category: [codes::VITAL_SIGNS],
            code: AVERAGE,
            subject: self.subject(&period.person),
            effective: Effective::During {
                start: Moment::new(first, self.zones).to_string(),
                end: Moment::new(last, self.zones).to_string(),
            },
            issued: Moment::new(issued, self.zones).to_string(),
            performer: [self.subject(&period.person)],
            value_quantity: None,
            note: vec![Annotation {
                text: said::of_average(period, protocol, average),
            }],
            body_site: None,
            method: None,
            device: written(self.gateway.as_ref()),
            derived_from: readings
                .iter()
                .map(|reading| Reference {
                    reference: Cow::Owned(self.refer("Observation", &panel_identity(&reading.id))),
                })
                .collect(),
            component,
        };
        observation.text = self.said_of(&observation, Some(&period.person));
        sink(&Item {
            identity,
            // A reading that comes late, or is withdrawn, changes the average of the same days.
            replace: true,
            resource: Resource::Observation(Box::new(observation)),
            compared: None,
        })?;
        Ok(true)
    }

    /// The two means and how many readings they are made of, as far as the server wants that told.
    fn values(&self, average: &Average) -> (Vec<Component>, Vec<Extension<'_>>) {
        let (systolic, diastolic) = (average.exact.systolic_tenths(), average.exact.diastolic_tenths());
        let component = |code, tenths| Component {
            code,
            value: ComponentValue::Quantity(mmhg(Decimal {
                mantissa: tenths,
                exponent: -1,
            })),
        };
        let mut components = vec![
            component(AVERAGE_SYSTOLIC, systolic),
            component(AVERAGE_DIASTOLIC, diastolic),
        ];
        let mut extension = vec![Extension {
            url: codes::NUMBER_OF_MEASUREMENTS,
            value: ExtensionValue::Integer(average.n),
        }];
        if self.switches.snomed {
            components.push(Component {
                code: codes::COUNT,
                value: ComponentValue::Integer(average.n),
            });
            extension.push(Extension {
                url: codes::MEASUREMENT_SETTING,
                value: ExtensionValue::Concept(codes::HOME),
            });
        }
        (components, extension)
    }
}
