//! How a round goes: what it has seen so far, what that says of the server, and how long one waits after a failure.

use super::answer::{ALIKE, Trouble};
use super::bundle::{Draft, Going, Ledger, Unit, content};
use super::due::{Devices, WAITED};
use super::error::DeliveryError;
use super::line::Clock;
use super::releases::HeldCounts;
use super::server::HandOver;
use super::there::{ResourceThere, differences};
use super::{patience, reasons};
use crate::journal::Journal;
use crate::journal::outbox::{Contact, ServerSaid};
use jiff::Timestamp;
use ring::rand::{SecureRandom, SystemRandom};
use std::collections::{BTreeSet, HashSet};
use uuid::Uuid;

/// A conflict that lasts longer than a few tries is no other gateway's transaction in the same second.
const CONFLICTS_MAX: u32 = 3;
/// A server that does not let us in is not asked often: some lock the account.
const NOT_ALLOWED_FAILURES: u32 = 8;
/// So many readings refused for one reason, and none taken: it is not the readings.
const ALIKE_MAX: usize = 3;
/// So many for whatever reasons: a server may find another one each time at what is the same (HAPI FHIR JPA names the
/// one or the other element that refers to a patient whom it does not know).
const WHATEVER_MAX: usize = 8;

/// What came of a round.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub struct Round {
    /// Resources that the server keeps now.
    pub sent: usize,
    /// Resources that it refused.
    pub refused: usize,
    /// Why it ended early.
    pub trouble: Option<Trouble>,
    /// What the household did not release, by whom it is about, as far as this round looked.
    pub held: HeldCounts,
    /// Something was learnt of the server, in words: what is due has to be written anew.
    pub learnt: Option<String>,
    /// Somebody stated something meanwhile, and may have taken back a release: it is looked anew at what is due.
    pub overtaken: bool,
}

impl Round {
    /// Whether nothing more is to be done now.
    pub fn is_last(&self) -> bool {
        self.trouble.is_some() || !self.overtaken && self.learnt.is_none() && self.sent + self.refused == 0
    }
}

/// What became of one draft.
pub(super) enum Came {
    /// This is kept.
    ServerSaid(ServerSaid),
    /// It goes the next time.
    NotNow,
    /// The same, as another is writing there at the same moment.
    Conflict,
    /// What was in its way is not any more: it goes again at once.
    Again,
}

/// What a round has seen so far.
pub(super) struct Course<'r> {
    pub(super) clinic: String,
    pub(super) clock: Clock<'r>,
    pub(super) round: Round,
    pub(super) contact: Contact,
    pub(super) ledger: Ledger,
    pub(super) way: HandOver,
    /// Names for which way was made already; what is in their way a second time is not ours to move.
    pub(super) made_way: HashSet<String>,
    refused: Vec<String>,
    /// Whether an Observation was taken.
    taken: bool,
    alike: Option<Alike>,
    /// How many readings were refused for whatever reasons.
    refused_readings: usize,
    /// The newest reading was tried before its turn.
    tries_newest: bool,
}

/// The last reason for which a reading was refused, and how many in a row were for it.
struct Alike {
    kind: String,
    count: usize,
    status: u16,
    why: String,
}

pub(super) const NOT_NOW: Trouble = Trouble::Busy {
    status: 503,
    retry_after: None,
};

pub(super) const CONFLICT: Trouble = Trouble::Busy {
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

/// Whether the server refused everything the last time.
pub(super) fn is_alike(before: &Contact) -> bool {
    before
        .problem
        .as_ref()
        .is_some_and(|problem| problem.starts_with(ALIKE))
}

/// Of a reading that is sent piece by piece: a piece that rests on another one, which the server refused.
pub(super) fn orphan<'u>(
    units: &'u [Unit],
    devices: &Devices,
    course: &Course<'_>,
) -> Option<(&'u Draft, ServerSaid)> {
    let [unit] = units else { return None };
    let [draft] = unit.as_slice() else { return None };
    let missing = |uuid: &Uuid| !devices.contains_key(uuid) && !course.ledger.has_place(uuid);
    // Of a transaction that was refused as it is now: whether a new one would be, nobody knows.
    let offered = course
        .ledger
        .row(&draft.identity.value)
        .is_some_and(|row| row.offered == draft.digest);
    let is_orphan = (offered || course.way != HandOver::Transaction)
        && !draft.keep
        && draft.references().iter().any(missing);
    let said = ServerSaid::Refused {
        status: WAITED,
        why: "what it rests on was refused; it goes once that has arrived".into(),
    };
    is_orphan.then_some((draft, said))
}

/// How it stands after a failure.
pub(super) fn after(trouble: &Trouble, before: &Contact, now: Timestamp) -> Contact {
    // They are counted by themselves.
    let so_far = if *trouble == CONFLICT {
        conflicts(before)
    } else {
        before.failures
    };
    let failures = so_far.saturating_add(1);
    let patience = match trouble {
        Trouble::NotAllowed { .. } | Trouble::Ended(_) => failures.max(NOT_ALLOWED_FAILURES),
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
        ..before.clone()
    }
}

impl Came {
    pub(super) fn why(&self) -> Option<&str> {
        match self {
            Self::ServerSaid(ServerSaid::Refused { why, .. }) => Some(why),
            _ => None,
        }
    }
}

impl<'r> Course<'r> {
    pub(super) fn new(clinic: String, clock: Clock<'r>, contact: Contact, ledger: Ledger) -> Self {
        Self {
            clinic,
            clock,
            way: contact
                .way
                .as_deref()
                .and_then(HandOver::of_word)
                .unwrap_or_default(),
            contact,
            ledger,
            round: Round::default(),
            made_way: HashSet::new(),
            refused: Vec::new(),
            taken: false,
            alike: None,
            refused_readings: 0,
            tries_newest: false,
        }
    }

    /// Whether what looks like another's work at the same moment, or like a right that is lacking now, is waited out.
    /// What lasts longer than a few tries does not end by itself.
    pub(super) fn waits_out(&self) -> bool {
        conflicts(&self.contact) < CONFLICTS_MAX
    }

    pub(super) fn going(&self) -> Going<'_> {
        Going {
            server: &self.clinic,
            way: self.way,
            now: (self.clock)(),
        }
    }

    /// What is said of a resource that the server had already, or has in another version.
    pub(super) fn compared(&self, draft: &Draft, found: &ResourceThere, status: u16) -> ServerSaid {
        let ours = content(draft, &self.ledger, (self.clock)(), &|_| false);
        let ours = serde_json::from_str(&ours).unwrap_or_default();
        let differs = differences(&ours, &found.resource);
        if differs.is_empty() {
            return ServerSaid::Kept {
                status: 200,
                id: Some(found.id.clone()),
                version: found.version.clone(),
            };
        }
        ServerSaid::Differs {
            status,
            why: format!("the server has another under its name: {}", differs.join("; ")),
            subject: found.subject().map(ToOwned::to_owned),
        }
    }

    /// Where a server takes each resource by itself, what another rests on goes before it.
    pub(super) fn layer(&self, units: Vec<Unit>, devices: &Devices) -> (Vec<Unit>, Option<Vec<Unit>>) {
        if self.way == HandOver::Transaction {
            return (units, None);
        }
        let placed = |uuid: &Uuid| self.ledger.has_place(uuid);
        let wanted: BTreeSet<Uuid> = units.iter().flatten().flat_map(Draft::references).collect();
        let first: Vec<Unit> = wanted
            .iter()
            .filter(|uuid| !placed(uuid))
            .filter_map(|uuid| devices.get(uuid).cloned())
            .map(|device| vec![device])
            .collect();
        if !first.is_empty() {
            return (first, Some(units));
        }
        let here: BTreeSet<Uuid> = units.iter().flatten().map(|draft| draft.identity.uuid).collect();
        let rests = |draft: &Draft| {
            draft
                .references()
                .iter()
                .any(|uuid| !placed(uuid) && here.contains(uuid))
        };
        let (now, later): (Vec<Draft>, Vec<Draft>) =
            units.into_iter().flatten().partition(|draft| !rests(draft));
        let alone = |drafts: Vec<Draft>| drafts.into_iter().map(|draft| vec![draft]).collect::<Vec<Unit>>();
        let later = (!later.is_empty()).then(|| alone(later));
        (alone(now), later)
    }

    /// Writes down what the server said to each; why nothing more is to be sent now.
    pub(super) fn keep(
        &mut self,
        journal: &mut Journal,
        units: &[Unit],
        came: Vec<Came>,
        bundles: &mut Vec<Vec<Unit>>,
    ) -> Result<Option<Trouble>, DeliveryError> {
        let mut came = came.into_iter();
        let (mut said, mut again, mut trouble) = (Vec::new(), Vec::new(), None);
        for unit in units {
            let mut again_of_unit = Vec::new();
            for draft in unit {
                // Where nothing is said of any, all of it goes again.
                match came.next().unwrap_or(Came::Again) {
                    Came::ServerSaid(ServerSaid::Refused { status, why })
                        if draft.kind == "Device" && !self.ledger.has_place(&draft.identity.uuid) =>
                    {
                        let what = draft.kind;
                        trouble = Some(Trouble::Support { what, status, why });
                    }
                    Came::ServerSaid(answer) => {
                        self.count(draft, &answer);
                        said.push((draft.identity.value.as_str(), answer));
                    }
                    Came::NotNow => trouble = trouble.or(Some(NOT_NOW)),
                    Came::Conflict => trouble = Some(CONFLICT),
                    Came::Again => again_of_unit.push(draft.clone()),
                }
            }
            if !again_of_unit.is_empty() {
                again.push(again_of_unit);
            }
        }
        journal.answered(&self.clinic, (self.clock)(), &said)?;
        if !again.is_empty() {
            bundles.push(again);
        }
        Ok(match self.refuses_all(bundles) {
            Some(alike) => {
                journal.unrefuse(&self.clinic, &self.refused)?;
                self.round.refused = 0;
                Some(alike)
            }
            None => trouble,
        })
    }

    /// Whether it is the server: readings are refused for one reason, or many for several, none is taken, and neither is
    /// the newest one.
    fn refuses_all(&mut self, bundles: &mut Vec<Vec<Unit>>) -> Option<Trouble> {
        let alike = self
            .alike
            .as_ref()
            .filter(|alike| alike.count >= ALIKE_MAX || self.refused_readings >= WHATEVER_MAX)
            .filter(|_| !self.taken)?;
        if self.tries_newest {
            return Some(Trouble::Alike {
                status: alike.status,
                why: alike.why.clone(),
            });
        }
        let newest = bundles.first_mut()?.pop()?;
        bundles.retain(|units| !units.is_empty());
        bundles.push(vec![newest]);
        self.tries_newest = true;
        None
    }

    fn count(&mut self, draft: &Draft, said: &ServerSaid) {
        let (status, why) = match said {
            ServerSaid::Kept { .. } => {
                self.round.sent += 1;
                self.taken |= draft.kind == "Observation";
                return;
            }
            ServerSaid::Refused { status, why } | ServerSaid::Differs { status, why, .. } => (*status, why),
        };
        self.round.refused += 1;
        self.refused.push(draft.identity.value.clone());
        // The panel speaks for its reading.
        let is_panel = draft.kind == "Observation" && !draft.identity.value.contains('-');
        if !matches!(said, ServerSaid::Refused { .. }) || !is_panel {
            return;
        }
        self.refused_readings += 1;
        let kind = reasons::kind_of(why);
        match &mut self.alike {
            Some(alike) if alike.kind == kind => alike.count += 1,
            _ => {
                self.alike = Some(Alike {
                    kind,
                    count: 1,
                    status,
                    why: why.clone(),
                });
            }
        }
    }
}
