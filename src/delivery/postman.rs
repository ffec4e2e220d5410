//! Delivers to one clinic's receiver of HL7 version 2, a round at a time.
//!
//! A message is written down before it leaves, and counts as delivered when its own acknowledgement is there. What the
//! receiver refuses is set aside with its words and holds nothing else up; whatever else goes wrong ends the round, and
//! the same message goes again later.

use super::answer::Trouble;
use super::course::{Round, after};
use super::due::Tally;
use super::error::DeliveryError;
use super::letters::{Letter, LetterRound, Sent};
use super::line::Clock;
use super::mllp::{Exchange, Mllp, PORT, SCHEMES};
use super::reasons::kind_of;
use super::receipt::Receipt;
use super::settings::Clinic;
use crate::export::hl7::Hl7;
use crate::household::{Household, PersonId};
use crate::journal::Journal;
use crate::journal::outbox::{Contact, ServerSaid};
use crate::outbound::OutboundError;
use crate::outbound::stream::{Caller, StreamPeer};
use std::collections::BTreeMap;

/// Messages that are made at once, so that ten years at the first delivery stay out of memory.
const LETTERS_A_ROUND: usize = 400;
/// So many messages refused for one reason, and none taken: it is not the messages.
const ALIKE_MAX: usize = 3;

/// Where to, and whose.
#[derive(Clone, Debug)]
pub struct Addressee {
    /// The receiver's address.
    pub receiver: StreamPeer,
    /// The chosen people, each with the clinic's identifier.
    pub people: BTreeMap<PersonId, String>,
}

/// The receiver that the configuration names, where it names one of MLLP.
pub(super) fn receiver_of(clinic: &Clinic) -> Option<Result<StreamPeer, OutboundError>> {
    StreamPeer::parse(
        clinic.server.as_ref()?,
        SCHEMES,
        PORT,
        clinic.plain_http.is_some(),
    )
}

impl Addressee {
    /// As the configuration chose, where it chose a receiver of MLLP; every chosen person has to be known here and
    /// there.
    pub fn of(clinic: &Clinic, hl7: &Hl7, household: &Household) -> Result<Option<Self>, DeliveryError> {
        let Some(receiver) = receiver_of(clinic).transpose()? else {
            return Ok(None);
        };
        let people = clinic.chosen(household, &hl7.patients, |person| {
            format!(
                "the clinic's identifier for {person} is not known: write it as `{person} = \"1234^^^CLINIC^MR\"` under \
                 [hl7.patients]"
            )
        })?;
        Ok(Some(Self { receiver, people }))
    }

    /// What the ledger calls this clinic.
    pub fn name(&self) -> String {
        self.receiver.to_string()
    }

    /// Hands over every message that would be sent now.
    pub fn preview(
        &self,
        journal: &mut Journal,
        look: &LetterRound<'_>,
        mut show: impl FnMut(&str) -> std::io::Result<()>,
    ) -> Result<Tally, DeliveryError> {
        let sent = Sent::new(journal.deliveries(&self.name())?);
        let mut shown = Ok(());
        let tally = look.due(journal, &sent, &mut |letter| {
            shown = show(&letter.text);
            shown.is_ok()
        })?;
        shown?;
        Ok(tally)
    }

    /// How everything stands.
    pub fn tally(&self, journal: &mut Journal, look: &LetterRound<'_>) -> Result<Tally, DeliveryError> {
        let sent = Sent::new(journal.deliveries(&self.name())?);
        look.due(journal, &sent, &mut |_| true)
    }
}

/// Delivers to one receiver.
#[derive(Debug)]
pub struct Postman {
    line: Box<dyn Exchange>,
    clinic: String,
}

/// What a round has seen so far.
#[derive(Default)]
struct Seen {
    round: Round,
    refused: Vec<String>,
    /// The last reason for which a message was refused, and how many in a row were for it.
    alike: Option<(String, usize, String)>,
}

impl Postman {
    /// Reads the certificates that the configuration names.
    pub fn new(clinic: &Clinic, addressee: &Addressee) -> Result<Self, DeliveryError> {
        let caller = Caller::as_who(clinic.ca_file.as_deref(), clinic.identity()?.as_ref())?;
        let line = Mllp::new(caller, addressee.receiver.clone());
        Ok(Self {
            line: Box::new(line),
            clinic: addressee.name(),
        })
    }

    /// Connects, waits where it asked for our certificate whether it refuses it, and says nothing.
    pub fn reach(clinic: &Clinic, addressee: &Addressee) -> Result<(), DeliveryError> {
        let caller = Caller::as_who(clinic.ca_file.as_deref(), clinic.identity()?.as_ref())?;
        let mut line = Mllp::new(caller, addressee.receiver.clone());
        Ok(line.connect()?.accepted()?)
    }

    /// Sends what is due, as far as one round goes, and keeps what came of it.
    pub fn round(
        &mut self,
        journal: &mut Journal,
        look: &LetterRound<'_>,
        clock: Clock<'_>,
    ) -> Result<Round, DeliveryError> {
        let sent = Sent::new(journal.deliveries(&self.clinic)?);
        let mut letters = Vec::new();
        let tally = look.due(journal, &sent, &mut |letter| {
            letters.push(letter);
            letters.len() < LETTERS_A_ROUND
        })?;
        let mut seen = Seen::default();
        seen.round.held = tally.held;
        let mut letters = std::collections::VecDeque::from(letters);
        while let Some(letter) = letters.pop_front() {
            seen.round.trouble = self.send(journal, &letter, &mut seen, clock)?;
            if seen.round.trouble.is_none() && seen.refuses_all() {
                seen.round.trouble = match letters.pop_back() {
                    // Those may be the old ones that it does not want: the newest is tried before anything is
                    // concluded.
                    Some(newest) if seen.refused.len() == ALIKE_MAX => {
                        self.send(journal, &newest, &mut seen, clock)?
                    }
                    _ => {
                        journal.unrefuse(&self.clinic, &seen.refused)?;
                        seen.round.refused = 0;
                        seen.alike.take().map(|(_, _, why)| Trouble::AllRefused(why))
                    }
                };
            }
            let contact = match &seen.round.trouble {
                Some(trouble) => after(trouble, &journal.contact(&self.clinic)?, clock()),
                None => Contact {
                    last: Some(clock()),
                    ..Contact::default()
                },
            };
            journal.set_contact(&self.clinic, &contact)?;
            seen.round.overtaken = journal.newest_statement()? != look.stated.newest();
            if seen.round.trouble.is_some() || seen.round.overtaken {
                break;
            }
        }
        // A receiver has few connections, and the next message may be hours away.
        self.line.hang_up();
        Ok(seen.round)
    }

    fn send(
        &mut self,
        journal: &mut Journal,
        letter: &Letter,
        seen: &mut Seen,
        clock: Clock<'_>,
    ) -> Result<Option<Trouble>, DeliveryError> {
        journal.offer(&self.clinic, &[letter.offer()])?;
        let said = match self.line.exchange(&letter.text, &letter.control_id) {
            Ok(Receipt::Accepted) => ServerSaid::Kept {
                status: 0,
                id: Some(letter.control_id.clone()),
                version: None,
            },
            Ok(Receipt::Refused(why)) => {
                seen.count(letter, &why);
                ServerSaid::Refused { status: 0, why }
            }
            Ok(Receipt::Rejected(why)) => return Ok(Some(Trouble::Rejected(why))),
            Ok(Receipt::Another) => {
                let why = "it acknowledges another message".to_owned();
                return Ok(Some(Trouble::NoReceipt(why)));
            }
            Err(trouble) => return Ok(Some(trouble)),
        };
        let kept = matches!(said, ServerSaid::Kept { .. });
        journal.answered(&self.clinic, clock(), &[(&letter.name, said)])?;
        if kept {
            seen.round.sent += 1;
            if !letter.keeps() {
                journal.forget_content(&self.clinic, &letter.name)?;
            }
        }
        Ok(None)
    }
}

impl Seen {
    fn count(&mut self, letter: &Letter, why: &str) {
        self.round.refused += 1;
        self.refused.push(letter.name.clone());
        let kind = kind_of(why);
        self.alike = match self.alike.take() {
            Some((same, count, first)) if same == kind => Some((same, count + 1, first)),
            _ => Some((kind, 1, why.to_owned())),
        };
    }

    /// Whether it is the receiver: messages are refused for one reason, and none is taken.
    fn refuses_all(&self) -> bool {
        let alike = self
            .alike
            .as_ref()
            .is_some_and(|(_, count, _)| *count >= ALIKE_MAX);
        alike && self.round.sent == 0
    }
}
