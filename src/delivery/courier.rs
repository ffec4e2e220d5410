//! Delivers to one clinic, a round at a time.

use super::answer;
use super::answer::{Trouble, Verdict};
use super::auth::Credentials;
use super::bundle::{Composed, Draft, How, Ledger, Unit, compose};
use super::course::{CONFLICT, Came, Course, NOT_NOW, Round, after, is_alike, orphan};
use super::due::{Devices, Survey};
use super::error::DeliveryError;
use super::line::{Cleared, Clock, ServerLine, ServerQuestion};
use super::releases::HeldCounts;
use super::server::{HandOver, PROVENANCE, ReleaseRecords, is_about_a_claim};
use super::settings::Clinic;
use super::target::{Destination, is_full};
use super::there::ResourceThere;
use crate::export::fhir::Profiles;
use crate::export::fhir::identity::SYSTEM;
use crate::journal::Journal;
use crate::journal::outbox::{Contact, ServerSaid};
use crate::outbound::Ask;
use std::collections::HashMap;

/// Readings that are looked up at once, so that ten years at the first delivery stay out of memory.
const UNITS_A_ROUND: usize = 400;

/// Delivers to one clinic.
#[derive(Debug)]
pub struct Courier {
    target: Destination,
    line: ServerLine,
    /// The server was asked what it can, since this began.
    asked: bool,
    /// It did not say whether it takes a Provenance.
    tries_provenance: bool,
}

/// What is sent in a round.
#[derive(Default)]
struct Load {
    bundles: Vec<Vec<Unit>>,
    devices: Devices,
    held: HeldCounts,
}

/// What became of what was sent together.
enum Outcome {
    Each(Vec<Came>),
    /// None of it was taken.
    Refused {
        status: u16,
        why: String,
    },
    Trouble(Trouble),
}

impl Courier {
    /// Reads the secrets and the certificates that the configuration names.
    pub fn new(clinic: &Clinic, target: Destination) -> Result<Self, DeliveryError> {
        let outbound = clinic.outbound()?;
        Self::by(Box::new(outbound), clinic, target)
    }

    /// The same by another way than the network.
    pub fn by(outbound: Box<dyn Ask>, clinic: &Clinic, target: Destination) -> Result<Self, DeliveryError> {
        let credentials = Credentials::read(clinic, &target.server)?;
        let line = ServerLine::new(
            outbound,
            credentials,
            target.server.clone(),
            clinic.plain_http.is_some(),
        );
        Ok(Self {
            target,
            line,
            asked: false,
            tries_provenance: false,
        })
    }

    /// The line to the server, for who asks it something else.
    pub fn into_line(self) -> ServerLine {
        self.line
    }

    /// Sends what is due, as far as one round goes, and keeps what came of it.
    pub fn round(
        &mut self,
        journal: &mut Journal,
        survey: &Survey<'_>,
        clock: Clock<'_>,
    ) -> Result<Round, DeliveryError> {
        let clinic = self.target.name();
        let ledger = Ledger::new(journal.deliveries(&clinic)?);
        let contact = journal.contact(&clinic)?;
        let Load {
            mut bundles,
            devices,
            held,
        } = load(journal, survey, &ledger, &contact)?;
        let mut course = Course::new(clinic, clock, contact, ledger);
        course.round.held = held;
        if bundles.is_empty() {
            return Ok(course.round);
        }
        if self.asks_first(journal, survey, &mut course)? {
            return Ok(course.round);
        }
        bundles.reverse();
        while let Some(units) = bundles.pop() {
            let (units, later) = course.layer(units, &devices);
            bundles.extend(later);
            let outcome = match orphan(&units, &devices, &course) {
                Some((draft, said)) => {
                    journal.offer(&course.clinic, &[draft.offer()])?;
                    Outcome::Each(vec![Came::ServerSaid(said)])
                }
                None => self.send(journal, &units, &devices, &mut course)?,
            };
            self.take(journal, survey, &units, outcome, &mut bundles, &mut course)?;
            journal.set_contact(&course.clinic, &course.contact)?;
            course.round.overtaken = journal.newest_statement()? != survey.stated.newest();
            if course.round.trouble.is_some() || course.round.learnt.is_some() || course.round.overtaken {
                break;
            }
        }
        Ok(course.round)
    }

    /// Before anything goes to a server that nothing is known of: what can it, and what does it know? Whether what is
    /// due has to be written anew for that.
    fn asks_first(
        &mut self,
        journal: &mut Journal,
        survey: &Survey<'_>,
        course: &mut Course<'_>,
    ) -> Result<bool, DeliveryError> {
        let wanted = self.target.records_allowed();
        if std::mem::replace(&mut self.asked, true) || course.contact.way.is_some() && wanted.is_none() {
            return Ok(false);
        }
        // One that does not answer this is sent to all the same: many a server lets nobody see what it can.
        let Some(abilities) = self.line.abilities(course.clock).ok().flatten() else {
            return Ok(false);
        };
        let contact = &mut course.contact;
        let mut learnt = Vec::new();
        if contact.way.is_none() {
            course.way = abilities.way.unwrap_or_default();
            contact.way = Some(course.way.word().into());
            let claims = abilities.claims();
            contact.claims.get_or_insert_with(|| claims.word().into());
            if self.target.claims(contact) != survey.switches.profiles {
                learnt.push(format!(
                    "it says which profiles it knows; resources claim `{}` from now on",
                    claims.word()
                ));
            }
        }
        if let Some(allowed) = wanted {
            let before = contact.records.as_deref().map(ReleaseRecords::of_word);
            let can = abilities.records(before);
            contact.records = Some(can.word().into());
            self.tries_provenance = abilities.provenances.is_none();
            if before != Some(can) {
                learnt.extend(can.lacking(allowed));
            }
        }
        journal.set_contact(&course.clinic, contact)?;
        course.round.learnt = (!learnt.is_empty()).then(|| learnt.join("; "));
        Ok(course.round.learnt.is_some())
    }

    /// Keeps what became of what was sent, and says what is to be sent now because of it.
    fn take(
        &mut self,
        journal: &mut Journal,
        survey: &Survey<'_>,
        units: &[Unit],
        outcome: Outcome,
        bundles: &mut Vec<Vec<Unit>>,
        course: &mut Course<'_>,
    ) -> Result<(), DeliveryError> {
        let learns = if is_record(units) {
            self.tries_provenance && declines(units, &outcome, course)
        } else {
            self.learns(survey, &outcome, course)
        };
        if learns {
            // It took none of it, so that nothing of it can be there as it was sent.
            let names: Vec<&str> = units
                .iter()
                .flatten()
                .map(|draft| draft.identity.value.as_str())
                .collect();
            journal.never_offered(&course.clinic, &names)?;
            return Ok(());
        }
        let trouble = match outcome {
            Outcome::Trouble(trouble) => Some(trouble),
            Outcome::Each(came) => course.keep(journal, units, came, bundles)?,
            // Another gateway's transaction at the same moment looks like that; what lasts is about the content.
            Outcome::Refused { status: 409, .. } if course.waits_out() => Some(CONFLICT),
            // One reading was tried, and it is as it was.
            Outcome::Refused { status, why }
                if is_alike(&course.contact) && course.round.sent == 0 && !is_record(units) =>
            {
                Some(Trouble::Alike { status, why })
            }
            Outcome::Refused { status, why } => match apart(units) {
                Some(parts) => {
                    bundles.extend(parts.into_iter().rev());
                    None
                }
                None => {
                    let came = units
                        .iter()
                        .flatten()
                        .map(|_| {
                            let why = why.clone();
                            Came::ServerSaid(ServerSaid::Refused { status, why })
                        })
                        .collect();
                    course.keep(journal, units, came, bundles)?
                }
            },
        };
        course.contact = match &trouble {
            Some(trouble) => after(trouble, &course.contact, (course.clock)()),
            None => Contact {
                last: Some((course.clock)()),
                claims: course.contact.claims.take(),
                way: course.contact.way.take(),
                records: course.contact.records.take(),
                ..Contact::default()
            },
        };
        course.round.trouble = trouble;
        // What goes next may refer to what the server just took.
        if units.len() == 1
            || course.way != HandOver::Transaction
            || bundles.last().is_some_and(|next| next.len() == 1)
        {
            course.ledger = Ledger::new(journal.deliveries(&course.clinic)?);
        }
        Ok(())
    }

    /// Whether an answer tells that the server takes less than was sent: then it is written down, and what is due is
    /// written anew. Only of a server that never took an Observation; afterwards a refusal is about one of them.
    fn learns(&mut self, survey: &Survey<'_>, outcome: &Outcome, course: &mut Course<'_>) -> bool {
        if course.ledger.has_observations() || course.round.sent > 0 {
            return false;
        }
        let whys: Vec<&str> = match outcome {
            Outcome::Refused { why, .. } => vec![why],
            Outcome::Each(came)
                if came
                    .iter()
                    .all(|came| matches!(came, Came::ServerSaid(ServerSaid::Refused { .. }))) =>
            {
                came.iter().filter_map(Came::why).collect()
            }
            Outcome::Each(_) => return false,
            Outcome::Trouble(Trouble::NotHere { .. } | Trouble::Busy { status: 501, .. }) => Vec::new(),
            Outcome::Trouble(_) => return false,
        };
        let claimed = survey.switches.profiles;
        if self.target.profiles.is_none()
            && let Some(less) = claimed.less()
            && whys.iter().any(|why| is_about_a_claim(claimed, why))
        {
            course.contact.claims = Some(less.word().into());
            course.round.learnt = Some(told_of(claimed, less));
            return true;
        }
        let refuses_the_way = match outcome {
            // It has described itself, so that a FHIR server is at this address.
            Outcome::Trouble(_) => course.contact.way.is_some(),
            _ => whys.iter().any(|why| {
                let why = why.to_ascii_lowercase();
                why.contains(course.way.word()) && why.contains("support")
            }),
        };
        if refuses_the_way && course.way.less().is_none() {
            // Nothing that it said of itself holds: it is asked anew.
            course.contact.way = None;
        }
        if let Some(less) = course.way.less().filter(|_| refuses_the_way) {
            course.contact.way = Some(less.word().into());
            course.round.learnt = Some(match less {
                HandOver::Batch => "it takes no transactions, so each resource stands by itself".to_owned(),
                _ => "it takes one resource at a time".to_owned(),
            });
            return true;
        }
        false
    }

    /// Sends one Bundle, or one resource after another. What goes out is written down before.
    fn send(
        &mut self,
        journal: &mut Journal,
        units: &[Unit],
        devices: &Devices,
        course: &mut Course<'_>,
    ) -> Result<Outcome, DeliveryError> {
        if let Some(outcome) = self.moves(journal, units, course)? {
            return Ok(outcome);
        }
        let going = course.going();
        let composed = compose(units, devices, &course.ledger, going, &|_| false);
        let mut verdict = self.hand_over(journal, &composed, course)?;
        if is_record(units) {
            verdict = by_itself(verdict);
        }
        let alone = units.iter().flatten().count() == 1;
        let supports: Vec<&Draft> = composed.entries.iter().take(composed.supports).copied().collect();
        match verdict {
            Verdict::Trouble(trouble) => Ok(Outcome::Trouble(trouble)),
            Verdict::Refused { status, why } => {
                if alone
                    && !supports.is_empty()
                    && !matches!(status, 409 | 413)
                    && let Some(outcome) = self.supports_alone(journal, &supports, course)?
                {
                    return Ok(outcome);
                }
                Ok(match self.in_the_way(units, status, course) {
                    Ok(Some(came)) => Outcome::Each(came),
                    Ok(None) => Outcome::Refused { status, why },
                    Err(trouble) => Outcome::Trouble(trouble),
                })
            }
            Verdict::Entries(mut entries) => {
                let own = entries.split_off(composed.supports);
                // Without what it refers to, a reading is not delivered.
                if let Some(outcome) = self.supported(journal, &supports, &entries, course)? {
                    return Ok(outcome);
                }
                Ok(match self.look_closer(units, own, course) {
                    Ok(came) => Outcome::Each(came),
                    Err(trouble) => Outcome::Trouble(trouble),
                })
            }
        }
    }

    fn hand_over(
        &mut self,
        journal: &mut Journal,
        composed: &Composed<'_>,
        course: &Course<'_>,
    ) -> Result<Verdict, DeliveryError> {
        let offers: Vec<_> = composed.entries.iter().map(|draft| draft.offer()).collect();
        journal.offer(&course.clinic, &offers)?;
        if course.way == HandOver::Single {
            return Ok(self.singly(composed, course));
        }
        let question = ServerQuestion {
            body: Some(composed.text.as_bytes()),
            fields: &[("prefer", "return=minimal")],
            ..ServerQuestion::default()
        };
        Ok(match self.line.ask(question, course.clock) {
            Ok(answer) => answer::read(&answer, composed, &|text| self.line.scrub(text)),
            Err(trouble) => Verdict::Trouble(trouble),
        })
    }

    /// One resource after another, each looked for first: not every server that takes only these knows conditions.
    fn singly(&mut self, composed: &Composed<'_>, course: &Course<'_>) -> Verdict {
        let mut entries = Vec::new();
        for draft in &composed.entries {
            match self.line.put_one(draft, &course.ledger, course.clock) {
                Ok(said) => entries.push(Some(said)),
                Err(trouble) if entries.is_empty() => return Verdict::Trouble(trouble),
                Err(_) => {
                    entries.resize(composed.entries.len(), None);
                    break;
                }
            }
        }
        Verdict::Entries(entries)
    }

    /// What the server said to the devices of a Bundle. Where one was not taken, that is no reading's fault.
    fn supported(
        &mut self,
        journal: &mut Journal,
        supports: &[&Draft],
        said: &[Option<ServerSaid>],
        course: &mut Course<'_>,
    ) -> Result<Option<Outcome>, DeliveryError> {
        let kept: Vec<(&str, ServerSaid)> = supports
            .iter()
            .zip(said)
            .filter_map(|(draft, said)| match said {
                Some(said @ ServerSaid::Kept { .. }) => Some((draft.identity.value.as_str(), said.clone())),
                _ => None,
            })
            .collect();
        journal.answered(&course.clinic, (course.clock)(), &kept)?;
        let not_taken = supports
            .iter()
            .zip(said)
            .find(|(_, said)| !matches!(said, Some(ServerSaid::Kept { .. })));
        Ok(match not_taken {
            None => None,
            Some((
                draft,
                Some(ServerSaid::Refused { status, why } | ServerSaid::Differs { status, why, .. }),
            )) => Some(self.support_refused(draft, *status, why, course)),
            Some(_) => Some(Outcome::Trouble(NOT_NOW)),
        })
    }

    /// Whether it is the devices that a refused resource was sent with.
    fn supports_alone(
        &mut self,
        journal: &mut Journal,
        supports: &[&Draft],
        course: &mut Course<'_>,
    ) -> Result<Option<Outcome>, DeliveryError> {
        let units: Vec<Unit> = supports.iter().map(|draft| vec![(*draft).clone()]).collect();
        let (none, going) = (Devices::new(), course.going());
        let composed = compose(&units, &none, &course.ledger, going, &|_| false);
        match self.hand_over(journal, &composed, course)? {
            Verdict::Entries(said) => self.supported(journal, supports, &said, course),
            Verdict::Trouble(trouble) => Ok(Some(Outcome::Trouble(trouble))),
            Verdict::Refused { status, why } => {
                let first = supports.first();
                Ok(first.map(|draft| self.support_refused(draft, status, &why, course)))
            }
        }
    }

    /// A device that is there twice is put right; whatever else is wrong with one is told, and tried again.
    fn support_refused(&mut self, draft: &Draft, status: u16, why: &str, course: &mut Course<'_>) -> Outcome {
        if status == 412 && course.made_way.insert(draft.identity.value.clone()) {
            match self.line.make_way(draft, &course.ledger, course.clock) {
                Ok(Cleared::Free) => return Outcome::Each(Vec::new()),
                Ok(Cleared::Refused { .. } | Cleared::Anothers(_)) => {}
                Err(trouble) => return Outcome::Trouble(trouble),
            }
        }
        Outcome::Trouble(Trouble::Support {
            what: draft.kind,
            status,
            why: why.to_owned(),
        })
    }

    /// What stands at the server as somebody else's is withdrawn there before it is new here.
    fn moves(
        &mut self,
        journal: &mut Journal,
        units: &[Unit],
        course: &mut Course<'_>,
    ) -> Result<Option<Outcome>, DeliveryError> {
        let mut came = Vec::new();
        for draft in units.iter().flatten() {
            if draft.how != How::Move {
                came.push(Came::Again);
                continue;
            }
            match self.line.make_way_for_all(draft, course.clock) {
                Ok(Cleared::Free) => {
                    journal.made_way(&course.clinic, &draft.identity.value, (course.clock)())?;
                    came.push(Came::Again);
                }
                // Whoever may not look now may look in a moment: a token was renewed, a right given.
                Ok(Cleared::Refused { status: 403, .. }) if course.waits_out() => came.push(Came::Conflict),
                Ok(Cleared::Refused { status, why }) => {
                    // It waits as it is now, and is another's there until that is withdrawn.
                    let row = course.ledger.row(&draft.identity.value);
                    let subject = row.and_then(|row| row.subject.clone()).unwrap_or_default();
                    journal.offer(&course.clinic, &[draft.offer()])?;
                    came.push(Came::ServerSaid(ServerSaid::Differs {
                        status,
                        why: format!("what stands there as somebody else's could not be withdrawn: {why}"),
                        subject: Some(subject),
                    }));
                }
                Ok(Cleared::Anothers(_)) => came.push(Came::NotNow),
                Err(trouble) => return Ok(Some(Outcome::Trouble(trouble))),
            }
        }
        if units.iter().flatten().any(|draft| draft.how == How::Move) {
            // What it refers to may be elsewhere now.
            course.ledger = Ledger::new(journal.deliveries(&course.clinic)?);
        }
        let all_moved = came.iter().all(|came| matches!(came, Came::Again));
        Ok((!all_moved).then_some(Outcome::Each(came)))
    }

    /// Of a Bundle that was refused: the ones whose version at the server is another than we know, and the one whose
    /// name several have. `None` where that is not the reason.
    fn in_the_way(
        &mut self,
        units: &[Unit],
        status: u16,
        course: &mut Course<'_>,
    ) -> Result<Option<Vec<Came>>, Trouble> {
        if !matches!(status, 409 | 412) {
            return Ok(None);
        }
        let drafts: Vec<&Draft> = units.iter().flatten().collect();
        let is_known = |draft: &&Draft| matches!(draft.how, How::ReplaceVersion { .. });
        if status == 412 && drafts.len() == 1 || drafts.iter().any(is_known) {
            let refused = |draft: &Draft| {
                (drafts.len() == 1 || is_known(&draft)).then(|| ServerSaid::Refused {
                    status,
                    why: "another version is there, or several of its name".into(),
                })
            };
            let said = drafts.iter().map(|draft| refused(draft)).collect();
            let came = self.look_closer(units, said, course)?;
            let found = came
                .iter()
                .any(|came| !matches!(came, Came::NotNow | Came::Conflict));
            let each = came.into_iter().map(|came| match came {
                Came::NotNow | Came::Conflict => Came::Again,
                other => other,
            });
            return Ok(found.then(|| each.collect()));
        }
        Ok(None)
    }

    /// What a server says of each resource is believed where this ledger caused it. Else what is there is read, and
    /// held against what is here.
    fn look_closer(
        &mut self,
        units: &[Unit],
        said: Vec<Option<ServerSaid>>,
        course: &mut Course<'_>,
    ) -> Result<Vec<Came>, Trouble> {
        let drafts: Vec<&Draft> = units.iter().flatten().collect();
        let there = self.read_back(&drafts, &said, course)?;
        let mut all = Vec::new();
        for (draft, said) in drafts.into_iter().zip(said) {
            let found = there.get(&draft.identity.value);
            all.push(match said {
                None => Came::NotNow,
                Some(ServerSaid::Refused {
                    status: status @ (409 | 412),
                    why,
                }) if let How::ReplaceVersion { version, .. } = &draft.how => match found {
                    Some(found) if found.version.as_ref() == Some(version) => Came::Conflict,
                    Some(found) => Came::ServerSaid(course.compared(draft, found, status)),
                    None => Came::ServerSaid(ServerSaid::Refused { status, why }),
                },
                Some(ServerSaid::Refused { status: 409, .. }) if course.waits_out() => Came::Conflict,
                Some(ServerSaid::Refused { status: 412, why })
                    if course.made_way.insert(draft.identity.value.clone()) =>
                {
                    match self.line.make_way(draft, &course.ledger, course.clock)? {
                        Cleared::Free => Came::Again,
                        Cleared::Anothers(found) => Came::ServerSaid(course.compared(draft, &found, 412)),
                        Cleared::Refused { status: 403, .. } if course.waits_out() => Came::Conflict,
                        Cleared::Refused { .. } => Came::ServerSaid(ServerSaid::Refused { status: 412, why }),
                    }
                }
                Some(ServerSaid::Kept { status: 200, .. }) if asks_for(draft) => match found {
                    Some(found) => Came::ServerSaid(course.compared(draft, found, 200)),
                    None => Came::ServerSaid(ServerSaid::Kept {
                        status: 200,
                        id: None,
                        version: None,
                    }),
                },
                Some(said) => Came::ServerSaid(said),
            });
        }
        Ok(all)
    }

    /// What is there of those that the server had already, and of those whose version is another.
    fn read_back(
        &mut self,
        drafts: &[&Draft],
        said: &[Option<ServerSaid>],
        course: &Course<'_>,
    ) -> Result<HashMap<String, ResourceThere>, Trouble> {
        let mut ids = Vec::new();
        let mut names = Vec::new();
        for (draft, said) in drafts.iter().zip(said) {
            match (said, &draft.how) {
                (Some(ServerSaid::Kept { status: 200, id, .. }), _) if asks_for(draft) => {
                    ids.extend(id.as_deref());
                    names.push(*draft);
                }
                (
                    Some(ServerSaid::Refused {
                        status: 409 | 412, ..
                    }),
                    How::ReplaceVersion { id, .. },
                ) => {
                    ids.push(id);
                    names.push(draft);
                }
                _ => {}
            }
        }
        let mut there = HashMap::new();
        if names.is_empty() {
            return Ok(there);
        }
        let Some(found) = self.line.at("Observation", &ids, course.clock)? else {
            // It does not now. To give a correction up for that would leave the old version there.
            if said
                .iter()
                .any(|said| matches!(said, Some(ServerSaid::Refused { .. })))
                && course.waits_out()
            {
                return Err(CONFLICT);
            }
            tracing::warn!(
                "{} does not let us read what it holds, so what it had before is taken to be what is here",
                self.target.server
            );
            return Ok(there);
        };
        for draft in names {
            let name = &draft.identity.value;
            let one = match found.iter().find(|one| one.is_called(SYSTEM, name)) {
                Some(one) => one.clone(),
                None => {
                    let named = self
                        .line
                        .named("Observation", name, course.clock)?
                        .unwrap_or_default();
                    named.into_iter().next().ok_or_else(|| {
                        Trouble::Nonsense(format!("it says that it has {name}, and then that it has none"))
                    })?
                }
            };
            there.insert(name.clone(), one);
        }
        Ok(there)
    }
}

fn is_record(units: &[Unit]) -> bool {
    units.iter().flatten().any(Draft::is_record)
}

/// What a server cannot do with one of the clinic's own records is no reason to let anything else wait: it is refused by
/// itself. Who does not answer at all, or asks for patience, is waited for.
fn by_itself(verdict: Verdict) -> Verdict {
    let (status, why) = match verdict {
        Verdict::Trouble(
            Trouble::NotHere { status, why }
            | Trouble::NotAllowed {
                status: status @ 403,
                why,
            },
        ) => (status, why),
        Verdict::Trouble(
            trouble @ Trouble::Busy {
                status: 500 | 501, ..
            },
        ) => (500, trouble.to_string()),
        Verdict::Trouble(trouble @ Trouble::Nonsense(_)) => (0, trouble.to_string()),
        Verdict::Entries(said) if said.last() == Some(&None) => (503, NOT_NOW.to_string()),
        other => return other,
    };
    Verdict::Refused { status, why }
}

/// Whether a server that never took a Provenance does not take this one: then none goes any more.
fn declines(units: &[Unit], outcome: &Outcome, course: &mut Course<'_>) -> bool {
    let of_kind = |kind: &str| kind == PROVENANCE;
    let is_one = units.iter().flatten().any(|draft| of_kind(draft.kind));
    let mut there = course.ledger.rows().filter(|row| row.confirmed.is_some());
    if !is_one || there.any(|row| of_kind(&row.kind)) {
        return false;
    }
    let (status, why) = match outcome {
        Outcome::Refused { status, why } => (*status, why),
        Outcome::Each(came) => match came.as_slice() {
            [Came::ServerSaid(ServerSaid::Refused { status, why })] => (*status, why),
            _ => return false,
        },
        Outcome::Trouble(_) => return false,
    };
    if !matches!(status, 400 | 403..=405 | 415 | 422) {
        return false;
    }
    let before = course.contact.records.as_deref().map(ReleaseRecords::of_word);
    let less = ReleaseRecords {
        consent: before.is_some_and(|before| before.consent),
        provenance: false,
    };
    course.contact.records = Some(less.word().into());
    course.round.learnt = Some(format!(
        "it does not take a Provenance at an id of ours, so none goes (status {status}): {why}"
    ));
    true
}

/// Whether it was only to be created where there was none.
fn asks_for(draft: &Draft) -> bool {
    draft.kind == "Observation" && matches!(draft.how, How::Create | How::Move)
}

/// What is told once of profiles that a server does not take.
fn told_of(claimed: Profiles, less: Profiles) -> String {
    let (what, instead) = match claimed {
        Profiles::SelfMeasured => (
            "HL7's profiles for measuring at home",
            "only those of FHIR itself",
        ),
        Profiles::Core | Profiles::None => ("FHIR's own profiles of blood pressure and pulse", "none"),
    };
    format!(
        "it does not take resources that claim {what}, so they claim {instead} from now on (`{}`); nothing else about \
         them changes",
        less.word()
    )
}

/// What was refused together in smaller parts: half of the readings each, then the Observations of one reading, the
/// panel first. `None` for a single one: then it is the one that the server does not take.
fn apart(units: &[Unit]) -> Option<Vec<Vec<Unit>>> {
    if units.len() > 1 {
        let (first, second) = units.split_at(units.len() / 2);
        return Some(vec![first.to_vec(), second.to_vec()]);
    }
    let drafts = units.concat();
    (drafts.len() > 1).then(|| drafts.into_iter().map(|draft| vec![vec![draft]]).collect())
}

/// What one round sends.
fn load(
    journal: &mut Journal,
    survey: &Survey<'_>,
    ledger: &Ledger,
    contact: &Contact,
) -> Result<Load, DeliveryError> {
    let mut load = Load::default();
    let (mut units, mut count) = (Vec::<Unit>::new(), 0);
    let tally = survey.due(journal, ledger, &mut |unit, devices| {
        // Averages wait for a round in which every reading is there, and records for one in which all else is.
        let goes_before: fn(&Draft) -> bool = if unit.iter().any(Draft::is_record) {
            |draft| !draft.is_record()
        } else if unit.iter().any(|draft| draft.keep) {
            |draft| !draft.keep
        } else {
            |_| false
        };
        let mut earlier = load.bundles.iter().flatten().chain(&units).flatten();
        if count >= UNITS_A_ROUND || earlier.any(goes_before) {
            return false;
        }
        if is_full(&units, &unit) {
            load.bundles.push(std::mem::take(&mut units));
        }
        units.push(unit);
        count += 1;
        load.devices.clone_from(devices);
        true
    })?;
    load.held = tally.held;
    if !units.is_empty() {
        load.bundles.push(units);
    }
    // One tells whether it still refuses everything: the newest, as an old one may be refused for its own sake.
    if is_alike(contact)
        && let Some(newest) = load.bundles.pop().and_then(|mut units| units.pop())
    {
        load.bundles = vec![vec![newest]];
    }
    Ok(load)
}
