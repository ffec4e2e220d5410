//! Delivers to one clinic, a round at a time.

use super::answer::{Trouble, Verdict};
use super::auth::Credentials;
use super::bundle::{Composed, Draft, Ledger, Unit, compose};
use super::due::{Devices, Survey};
use super::error::DeliveryError;
use super::settings::Clinic;
use super::target::{Target, is_full};
use super::{answer, patience};
use crate::journal::Journal;
use crate::journal::outbox::{Contact, Said};
use crate::outbound::{Answer, Ask, Outbound, Request};
use crate::secret::Secret;
use jiff::Timestamp;
use ring::rand::{SecureRandom, SystemRandom};
use uuid::Uuid;

/// Readings that are looked up at once, so that ten years at the first delivery stay out of memory.
const UNITS_A_ROUND: usize = 400;
/// An answer repeats every entry with an outcome, and some servers the resources too.
const ANSWER_OCTETS_MAX: u64 = 2 * 1024 * 1024;
/// A conflict that lasts longer than a few tries is no other gateway's transaction in the same second.
const CONFLICTS_MAX: u32 = 3;
/// A server that does not let us in is not asked often: some lock the account.
const NOT_ALLOWED_FAILURES: u32 = 8;

/// What came of a round.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub struct Round {
    /// Resources that the server keeps now.
    pub sent: usize,
    /// Resources that it refused.
    pub refused: usize,
    /// Why it ended early.
    pub trouble: Option<Trouble>,
}

/// Delivers to one clinic.
#[derive(Debug)]
pub struct Courier {
    target: Target,
    plain_http: bool,
    outbound: Box<dyn Ask>,
    credentials: Credentials,
}

/// What is sent in a round.
#[derive(Default)]
struct Load {
    bundles: Vec<Vec<Unit>>,
    devices: Devices,
}

impl Courier {
    /// Reads the secrets and the certificates that the configuration names.
    pub fn new(clinic: &Clinic, target: Target) -> Result<Self, DeliveryError> {
        let outbound = Outbound::new(clinic.ca_file.as_deref())?;
        Self::by(Box::new(outbound), clinic, target)
    }

    /// The same by another way than the network.
    pub fn by(outbound: Box<dyn Ask>, clinic: &Clinic, target: Target) -> Result<Self, DeliveryError> {
        Ok(Self {
            target,
            plain_http: clinic.plain_http.is_some(),
            outbound,
            credentials: Credentials::read(clinic)?,
        })
    }

    /// Sends what is due, as far as one round goes, and keeps what came of it.
    pub fn round(
        &mut self,
        journal: &mut Journal,
        survey: &Survey<'_>,
        clock: &dyn Fn() -> Timestamp,
    ) -> Result<Round, DeliveryError> {
        let clinic = self.target.name();
        let mut ledger = Ledger::new(journal.deliveries(&clinic)?);
        let Load { mut bundles, devices } = load(journal, survey, &ledger)?;
        let mut contact = journal.contact(&clinic)?;
        let mut round = Round::default();
        bundles.reverse();
        while let Some(units) = bundles.pop() {
            let verdict = match orphan(&units, &devices, &ledger) {
                Some(verdict) => verdict,
                None => self.send(journal, &units, &devices, &ledger, clock)?,
            };
            round.trouble = trouble_in(&verdict, &contact);
            match verdict {
                Verdict::Entries(said) => keep(journal, &clinic, &units, &said, clock(), &mut round)?,
                Verdict::Refused { status, why } if round.trouble.is_none() => match apart(&units) {
                    Some(parts) => bundles.extend(parts.into_iter().rev()),
                    None => {
                        let said = vec![Some(Said::Refused { status, why }); units.iter().flatten().count()];
                        keep(journal, &clinic, &units, &said, clock(), &mut round)?;
                    }
                },
                Verdict::Refused { .. } | Verdict::Trouble(_) => {}
            }
            contact = match &round.trouble {
                Some(trouble) => after(trouble, &contact, clock()),
                None => Contact {
                    last: Some(clock()),
                    ..Contact::default()
                },
            };
            journal.set_contact(&clinic, &contact)?;
            if round.trouble.is_some() {
                break;
            }
            // What goes next may refer to what the server just took.
            if units.len() == 1 {
                ledger = Ledger::new(journal.deliveries(&clinic)?);
            }
        }
        Ok(round)
    }

    /// Sends one Bundle. What goes out is written down before.
    fn send(
        &mut self,
        journal: &mut Journal,
        units: &[Unit],
        devices: &Devices,
        ledger: &Ledger,
        clock: &dyn Fn() -> Timestamp,
    ) -> Result<Verdict, DeliveryError> {
        let clinic = self.target.name();
        let composed = compose(units, devices, ledger, &clinic, &|_| false);
        let mut answered = self.post(journal, &composed, clock)?;
        if matches!(&answered, Ok(answer) if answer.status == 401) && self.credentials.renew() {
            answered = self.post(journal, &composed, clock)?;
        }
        let answer = match answered {
            Ok(answer) => answer,
            Err(trouble) => return Ok(Verdict::Trouble(trouble)),
        };
        let verdict = answer::read(&answer, &composed, &|text| self.credentials.scrub(text));
        let Verdict::Entries(mut entries) = verdict else {
            return Ok(verdict);
        };
        let own = entries.split_off(composed.supports);
        let (supports, _) = composed.entries.split_at(composed.supports);
        let said: Vec<(&str, Said)> = supports
            .iter()
            .zip(&entries)
            .filter_map(|(draft, said)| Some((draft.identity.value.as_str(), said.clone()?)))
            .collect();
        journal.answered(&clinic, clock(), &said)?;
        // Without what it refers to, a reading is not delivered.
        match entries
            .into_iter()
            .find(|said| !matches!(said, Some(Said::Kept { .. })))
        {
            None => Ok(Verdict::Entries(own)),
            Some(Some(Said::Refused { status, why })) => Ok(Verdict::Refused { status, why }),
            Some(_) => Ok(Verdict::Entries(vec![None; own.len()])),
        }
    }

    fn post(
        &mut self,
        journal: &mut Journal,
        composed: &Composed<'_>,
        clock: &dyn Fn() -> Timestamp,
    ) -> Result<Result<Answer, Trouble>, DeliveryError> {
        let now = clock();
        let field = self
            .credentials
            .field(self.outbound.as_ref(), &self.target.server, self.plain_http, now);
        let field: Option<Secret> = match field {
            Ok(field) => field,
            Err(trouble) => return Ok(Err(trouble)),
        };
        let offers: Vec<_> = composed.entries.iter().map(|draft| draft.offer()).collect();
        journal.offer(&self.target.name(), &offers)?;
        let request = Request {
            to: &self.target.server,
            body: Some(("application/fhir+json", composed.text.as_bytes())),
            accept: "application/fhir+json",
            authorization: field.as_ref(),
            fields: &[("prefer", "return=minimal")],
            answer_max: ANSWER_OCTETS_MAX,
        };
        Ok(self
            .outbound
            .ask(&request, now)
            .map_err(|error| Trouble::Unreachable(error.to_string())))
    }
}

const CONFLICT: Trouble = Trouble::Busy {
    status: 409,
    retry_after: None,
};

/// How many of the last failures in a row were conflicts. An outage before them says nothing about the content.
fn conflicts(before: &Contact) -> u32 {
    if before.problem == Some(CONFLICT.to_string()) {
        before.failures
    } else {
        0
    }
}

/// Why nothing more is to be sent now, whatever was taken.
fn trouble_in(verdict: &Verdict, before: &Contact) -> Option<Trouble> {
    match verdict {
        Verdict::Trouble(trouble) => Some(trouble.clone()),
        // Another gateway's transaction at the same moment looks like that; what lasts is about the content.
        Verdict::Refused { status: 409, .. } if conflicts(before) < CONFLICTS_MAX => Some(CONFLICT),
        Verdict::Entries(said) if said.contains(&None) => Some(Trouble::Busy {
            status: 503,
            retry_after: None,
        }),
        Verdict::Entries(_) | Verdict::Refused { .. } => None,
    }
}

/// What was refused together in smaller parts: half of the readings each, then the Observations of one reading, the panel
/// first. `None` for a single one: then it is the one that the server does not take.
fn apart(units: &[Unit]) -> Option<Vec<Vec<Unit>>> {
    if units.len() > 1 {
        let (first, second) = units.split_at(units.len() / 2);
        return Some(vec![first.to_vec(), second.to_vec()]);
    }
    let drafts = units.concat();
    (drafts.len() > 1).then(|| drafts.into_iter().map(|draft| vec![vec![draft]]).collect())
}

/// Of a reading that is sent piece by piece: a piece that rests on another one, which the server refused.
fn orphan(units: &[Unit], devices: &Devices, ledger: &Ledger) -> Option<Verdict> {
    let [unit] = units else { return None };
    let [draft] = unit.as_slice() else { return None };
    let missing = |uuid: &Uuid| !devices.contains_key(uuid) && !ledger.has_place(uuid);
    // Of what was offered as it is now: a refusal of anything else would leave it due, and the rounds would never end.
    let offered = ledger
        .row(&draft.identity.value)
        .is_some_and(|row| row.offered == draft.digest);
    (offered && !draft.keep && draft.references().iter().any(missing)).then(|| Verdict::Refused {
        status: 424,
        why: "what it rests on was refused".into(),
    })
}

/// What one round sends.
fn load(journal: &mut Journal, survey: &Survey<'_>, ledger: &Ledger) -> Result<Load, DeliveryError> {
    let mut load = Load::default();
    let (mut units, mut count) = (Vec::<Unit>::new(), 0);
    survey.due(journal, ledger, &mut |unit, devices| {
        let is_average = unit.iter().any(|draft| draft.keep);
        // Averages wait for a round in which every reading is there.
        let readings_first = is_average
            && load
                .bundles
                .iter()
                .flatten()
                .chain(&units)
                .flatten()
                .any(|draft| !draft.keep);
        if count >= UNITS_A_ROUND || readings_first {
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
    if !units.is_empty() {
        load.bundles.push(units);
    }
    Ok(load)
}

/// Keeps what the server said to each.
fn keep(
    journal: &mut Journal,
    clinic: &str,
    units: &[Unit],
    said: &[Option<Said>],
    now: Timestamp,
    round: &mut Round,
) -> Result<(), DeliveryError> {
    let drafts: Vec<&Draft> = units.iter().flatten().collect();
    let answers: Vec<(&str, Said)> = drafts
        .iter()
        .zip(said)
        .filter_map(|(draft, said)| Some((draft.identity.value.as_str(), said.clone()?)))
        .collect();
    journal.answered(clinic, now, &answers)?;
    let kept = answers
        .iter()
        .filter(|(_, said)| matches!(said, Said::Kept { .. }))
        .count();
    round.sent += kept;
    round.refused += answers.len() - kept;
    Ok(())
}

/// How it stands after a failure.
fn after(trouble: &Trouble, before: &Contact, now: Timestamp) -> Contact {
    // They are counted by themselves.
    let so_far = if *trouble == CONFLICT {
        conflicts(before)
    } else {
        before.failures
    };
    let failures = so_far.saturating_add(1);
    let patience = match trouble {
        Trouble::NotAllowed { .. } => failures.max(NOT_ALLOWED_FAILURES),
        _ => failures,
    };
    let mut dice = [0; 8];
    // Without dice everybody comes at the earliest moment, which is still late enough.
    let _ = SystemRandom::new().fill(&mut dice);
    let asked = trouble.retry_after();
    let wait = patience::wait(patience, asked, u64::from_ne_bytes(dice));
    Contact {
        last: match trouble {
            Trouble::Unreachable(_) => before.last,
            _ => Some(now),
        },
        failures,
        not_before: now.checked_add(wait).ok(),
        asked: asked.is_some(),
        problem: Some(trouble.to_string()),
    }
}
