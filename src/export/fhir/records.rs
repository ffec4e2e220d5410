//! For the clinic's own records: what a household released to it, as a Consent, and where an average and a sheet there come
//! from, as a Provenance.

use super::codes;
use super::device::ours;
use super::exporter::{Exporter, written};
use super::form::{Item, Sink, id};
use super::identity::Identity;
use super::moment::Moment;
use super::resource::{
    Agent, Consent, ConsentType, Named, Provenance, ProvenanceType, Provision, Reference, Resource, Span,
};
use crate::household::{Granted, PersonId};
use jiff::Timestamp;
use std::borrow::Cow;
use std::io;

/// Where something at the clinic comes from.
#[derive(Clone, Copy, Debug)]
pub struct Origin<'a> {
    /// The person who measured.
    pub person: &'a PersonId,
    /// Each resource that comes from there: its type and its name.
    pub targets: &'a [(&'static str, Identity)],
    /// The moment at which the clinic's server said that it keeps them.
    pub recorded: Timestamp,
    /// The address of the Consent under which they went, where there is one.
    pub consent: Option<&'a str>,
}

impl Exporter<'_> {
    /// What the Consent of a release is called that was stated at this moment; `None` for people who were not chosen.
    pub fn consent_identity(&self, person: &PersonId, stated: Timestamp) -> Option<Identity> {
        let stated = stated.as_microsecond().to_string();
        Some(Identity::digest("consent", &[self.known_as(person)?, &stated]))
    }

    /// Hands over what was released. Days are dates: R4's end of a Period includes the whole day.
    pub fn consent(
        &mut self,
        person: &PersonId,
        granted: &Granted<'_>,
        sink: &mut Sink<'_>,
    ) -> io::Result<()> {
        let days = granted.days;
        let Some(identity) = self.consent_identity(person, days.at) else {
            return Ok(());
        };
        self.introduce(person, None, sink)?;
        let moment = |at: Timestamp| Moment::new(at, self.zones).to_string();
        let by = days.by.as_deref().map(str::trim).filter(|by| !by.is_empty());
        let consent = Consent {
            resource_type: ConsentType,
            id: id(self.form, &identity),
            identifier: [ours(&identity)],
            status: if granted.until.is_some() {
                "inactive"
            } else {
                "active"
            },
            scope: codes::PRIVACY,
            category: [codes::RELEASE],
            patient: self.subject(person),
            date_time: moment(days.at),
            performer: by.map(|display| [Named { display }]),
            policy_rule: codes::OPT_IN,
            provision: Provision {
                kind: "permit",
                period: Span {
                    start: Some(moment(days.at)),
                    // The clock may have been set back between the two.
                    end: granted.until.map(|until| moment(until.max(days.at))),
                },
                data_period: (days.from.is_some() || days.until.is_some()).then(|| Span {
                    start: days.from.map(|day| day.to_string()),
                    end: days.until.map(|day| day.to_string()),
                }),
            },
        };
        sink(&Item {
            identity,
            replace: true,
            resource: Resource::Consent(Box::new(consent)),
            compared: None,
        })
    }

    /// Hands over where these come from. A Provenance has no identifier in R4, so its id is ours: made of the name of the
    /// first of them.
    pub fn provenance(&mut self, origin: &Origin<'_>, sink: &mut Sink<'_>) -> io::Result<()> {
        let Some((_, first)) = origin.targets.first() else {
            return Ok(());
        };
        let identity = Identity::digest("provenance", &[&first.value]);
        self.introduce(origin.person, None, sink)?;
        let target = origin.targets.iter().map(|(kind, identity)| Reference {
            reference: Cow::Owned(self.refer(kind, identity)),
        });
        let provenance = Provenance {
            resource_type: ProvenanceType,
            id: identity.uuid,
            target: target.collect(),
            recorded: Moment::new(origin.recorded, self.zones).to_string(),
            policy: origin.consent.map(|consent| [consent]),
            agent: [
                Agent {
                    kind: codes::ASSEMBLER,
                    who: written(self.gateway.as_ref()),
                },
                Agent {
                    kind: codes::INFORMANT,
                    who: self.subject(origin.person),
                },
            ],
        };
        sink(&Item {
            identity,
            replace: true,
            resource: Resource::Provenance(Box::new(provenance)),
            compared: None,
        })
    }
}
