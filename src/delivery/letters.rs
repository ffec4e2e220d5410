//! What is due to a receiver of HL7 version 2: the difference between what the readings say now and what it
//! acknowledged.
//!
//! - An order that is new goes as final; one that says something else than what may have arrived goes as a correction.
//! - One that was sent and is not this person's, or not to be sent, any more is withdrawn; one that was never sent is not
//!   sent in order to say so. The same holds for averages of periods that are none any more.
//! - What went and was not acknowledged goes again, octet for octet, under the same control id.
//! - A person who is not chosen any more is left alone, as is what was sent of them.
//! - What the household did not release ([`super::releases`]) is held back, new or changed; what has to be withdrawn goes,
//!   and with it the average there that would be another now, where a reading of its days was withdrawn after it went.

use super::due::Tally;
use super::error::DeliveryError;
use super::releases::Releases;
use crate::export::fhir::{Averaged, Subject};
use crate::export::hl7::{Head, Hl7, Order, OrderWriter, Status, control_id, named, withdrawn};
use crate::household::PersonId;
use crate::journal::outbox::{Delivered, Digest, Offer};
use crate::journal::{Journal, Wanted};
use crate::monitoring::plan::Plan;
use crate::monitoring::stated::Stated;
use crate::reading::Reading;
use crate::snapshot::period::{FindError, WorkedOut, of_plan};
use crate::technique::JudgedReading;
use jiff::{Timestamp, civil::Date};
use sha2::{Digest as _, Sha256};
use std::collections::{BTreeMap, BTreeSet, HashMap};

/// The resource type that the ledger has for a message.
pub const KIND: &str = "ORU^R01";

/// A message that has to go.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Letter {
    /// The number of the order that it is about.
    pub name: String,
    /// Its own name (MSH-10).
    pub control_id: String,
    /// The message, as it leaves.
    pub text: String,
    person: String,
    patient: String,
    digest: Digest,
}

impl Letter {
    /// What the ledger keeps before it is sent. The text stays there until it is acknowledged, so that a repeat is one.
    pub fn offer(&self) -> Offer<'_> {
        Offer {
            name: &self.name,
            kind: KIND,
            person: Some(&self.person),
            subject: Some(&self.patient),
            digest: self.digest,
            replaces: false,
            content: Some(&self.text),
        }
    }

    /// Whether its text has to stay in the ledger for good: an average that is none any more could not be made again.
    pub fn keeps(&self) -> bool {
        Order::reading_of(&self.name).is_none()
    }
}

/// Whom it is about, and at which moment.
#[derive(Debug)]
pub struct LetterRound<'a> {
    /// What the household stated.
    pub stated: &'a Stated,
    /// What the receiver is told of itself and of us.
    pub settings: &'a Hl7,
    /// The people who were chosen, each with the clinic's identifier.
    pub people: &'a BTreeMap<PersonId, String>,
    /// What of theirs may go.
    pub releases: &'a Releases,
    /// Today: a period that it falls in is not over.
    pub today: Date,
    /// When a message that is written now was written.
    pub now: Timestamp,
}

/// The ledger's rows by order, and the orders of each reading.
pub struct Sent {
    rows: HashMap<String, Delivered>,
    of_reading: HashMap<String, Vec<String>>,
}

impl Sent {
    /// From the ledger's rows.
    pub fn new(rows: Vec<Delivered>) -> Self {
        let mut of_reading: HashMap<String, Vec<String>> = HashMap::new();
        for row in &rows {
            if let Some(reading) = Order::reading_of(&row.name) {
                of_reading
                    .entry(reading.to_owned())
                    .or_default()
                    .push(row.name.clone());
            }
        }
        Self {
            rows: rows.into_iter().map(|row| (row.name.clone(), row)).collect(),
            of_reading,
        }
    }

    fn of(&self, reading: &str) -> impl Iterator<Item = &Delivered> {
        let names = self.of_reading.get(reading).into_iter().flatten();
        names.filter_map(|name| self.rows.get(name))
    }
}

/// Of what went as a person's and is wrong there: the day of each reading, and when it was withdrawn.
type Wrong = BTreeMap<PersonId, Vec<(Date, Timestamp)>>;

/// How it stands with one order.
enum OrderStanding {
    /// It is no matter of the receiver's.
    Never,
    Sent,
    Parked,
    Due(Box<Letter>),
    /// It would be due, and the household did not release it.
    Held(PersonId),
}

impl OrderStanding {
    /// The same of something that the household did not release, where that is so.
    fn held(self, person: &PersonId, held: bool) -> Self {
        match self {
            Self::Due(_) if held => Self::Held(person.clone()),
            other => other,
        }
    }
}

/// Whether the receiver may have it.
fn may_be_there(row: &Delivered) -> bool {
    row.confirmed.is_some() || row.refusal.is_none()
}

/// The control id of the message that was the last of this order.
fn last_control_id(row: &Delivered) -> Option<&str> {
    row.content
        .as_deref()
        .and_then(named)
        .or(row.server_id.as_deref())
}

/// What was withdrawn is other content than what it says.
fn digest_of(order: &Order, withdraws: bool) -> Digest {
    let digest = order.digest();
    if withdraws {
        Sha256::digest([b"withdrawn".as_slice(), &digest].concat()).into()
    } else {
        digest
    }
}

/// What waits or stands as the ledger has it: sent, refused, or to be repeated.
fn as_it_went(row: &Delivered) -> OrderStanding {
    if row.refusal.is_some() {
        return OrderStanding::Parked;
    }
    if row.confirmed == Some(row.offered) {
        return OrderStanding::Sent;
    }
    let repeat = row.content.as_ref().and_then(|text| {
        Some(Letter {
            name: row.name.clone(),
            control_id: named(text)?.to_owned(),
            text: text.clone(),
            person: row.person.clone()?,
            patient: row.subject.clone().unwrap_or_default(),
            digest: row.offered,
        })
    });
    repeat.map_or(OrderStanding::Never, |letter| {
        OrderStanding::Due(Box::new(letter))
    })
}

impl LetterRound<'_> {
    /// Hands over what is due, oldest first, until `take` says `false`; how everything stands, as far as it wanted.
    pub fn due(
        &self,
        journal: &mut Journal,
        sent: &Sent,
        take: &mut dyn FnMut(Letter) -> bool,
    ) -> Result<Tally, DeliveryError> {
        let subjects = self
            .people
            .iter()
            .map(|(person, patient)| (person.clone(), Subject::Known(patient.clone())))
            .collect();
        let installation = journal.installation()?;
        let orders = OrderWriter::new(&installation, self.stated, self.settings, subjects);
        let mut counter = Counter {
            tally: Tally::default(),
            take,
        };
        let mut goes_on = true;
        let mut wrong = Wrong::new();
        journal.each_reading(&Wanted::default(), |judged| {
            goes_on = self
                .of_reading(&orders, sent, &judged, &mut wrong)
                .into_iter()
                .all(|standing| counter.count(standing));
            goes_on
        })?;
        if goes_on {
            self.averages(journal, &orders, (sent, &wrong), &mut counter)?;
        }
        Ok(counter.tally)
    }

    /// What is to be said of one reading: of its order now, and of those under which it was sent before.
    fn of_reading(
        &self,
        orders: &OrderWriter<'_>,
        sent: &Sent,
        judged: &JudgedReading,
        wrong: &mut Wrong,
    ) -> Vec<OrderStanding> {
        let JudgedReading {
            reading, judgement, ..
        } = judged;
        let (became, order) = orders.reading(reading, judgement);
        let mut found = Vec::new();
        let day = reading.time.at.map(|at| self.stated.zones.civil(at).date());
        let mut is_wrong = |order: &Order| {
            if let (Some(row), Some(day)) = (sent.rows.get(&order.name), day) {
                let gone = row.confirmed == Some(digest_of(order, true));
                let at = row.answered.filter(|_| gone).unwrap_or(Timestamp::MAX);
                wrong.entry(order.person.clone()).or_default().push((day, at));
            }
        };
        for row in sent.of(&reading.id.0) {
            let is_this = order.as_ref().is_some_and(|order| order.name == row.name);
            if let (false, Some(person), Some(patient)) = (is_this, self.chosen(row), &row.subject) {
                let order = orders.taken_back(reading, judgement, &person, patient);
                is_wrong(&order);
                found.push(self.standing(orders, sent, &order, true));
            }
        }
        let withdraws = became == crate::export::released::Became::Withdrawn;
        if let (true, Some(order)) = (withdraws, &order) {
            is_wrong(order);
        }
        found.extend(order.map(|order| {
            let held = !withdraws && self.holds_back(&order.person, reading);
            self.standing(orders, sent, &order, withdraws)
                .held(&order.person, held)
        }));
        found
    }

    /// Whether the household did not release a reading to this clinic.
    fn holds_back(&self, person: &PersonId, reading: &Reading) -> bool {
        let day = reading.time.at.map(|at| self.stated.zones.civil(at).date());
        day.is_some_and(|day| self.releases.hold_back(person, day, day))
    }

    /// The chosen person as whose it was sent.
    fn chosen(&self, row: &Delivered) -> Option<PersonId> {
        let person = PersonId::try_from(row.person.clone()?).ok()?;
        self.people.contains_key(&person).then_some(person)
    }

    fn standing(
        &self,
        orders: &OrderWriter<'_>,
        sent: &Sent,
        order: &Order,
        withdraws: bool,
    ) -> OrderStanding {
        let digest = digest_of(order, withdraws);
        let row = sent.rows.get(&order.name);
        let there = row.is_some_and(may_be_there);
        if withdraws && !there {
            return OrderStanding::Never;
        }
        if let Some(row) = row.filter(|row| row.offered == digest) {
            return as_it_went(row);
        }
        let status = match (withdraws, there) {
            (true, _) => Status::Withdrawn,
            (false, true) => Status::Corrected,
            (false, false) => Status::Final,
        };
        let control_id = control_id(order, status, row.and_then(last_control_id));
        let head = Head {
            control_id: &control_id,
            status,
            written: &orders.stamp(self.now),
        };
        OrderStanding::Due(Box::new(Letter {
            text: order.message(head),
            name: order.name.clone(),
            person: order.person.to_string(),
            patient: order.patient.clone(),
            control_id,
            digest,
        }))
    }

    /// The averages of the periods that are over, and those that are none any more.
    fn averages(
        &self,
        journal: &mut Journal,
        orders: &OrderWriter<'_>,
        (sent, wrong): (&Sent, &Wrong),
        counter: &mut Counter<'_>,
    ) -> Result<(), DeliveryError> {
        let mut stand = BTreeSet::new();
        for person in self.people.keys() {
            for plan in self.stated.plans(person) {
                let Some(order) = self.average(journal, orders, person, plan)? else {
                    continue;
                };
                stand.insert(order.name.clone());
                // It still stands: where the clock was set back, what was sent is not to be taken back for that.
                let held = self.releases.hold_back(person, plan.from, plan.to());
                let mut standing = self.standing(orders, sent, &order, false).held(person, held);
                let is_wrong = |row: &&Delivered| {
                    let went = row.answered.unwrap_or(Timestamp::MIN);
                    let wrong = wrong.get(person).into_iter().flatten();
                    let is_gone = row.content.as_deref().and_then(Status::of) == Some(Status::Withdrawn);
                    may_be_there(row)
                        && (is_gone || wrong.into_iter().any(|(day, at)| plan.covers(*day) && *at > went))
                };
                if let (OrderStanding::Held(_), Some(row)) =
                    (&standing, sent.rows.get(&order.name).filter(is_wrong))
                {
                    standing = taken_back(row, &orders.stamp(self.now));
                }
                if plan.to() < self.today && !counter.count(standing) {
                    return Ok(());
                }
            }
        }
        let mut rows: Vec<&Delivered> = sent.rows.values().collect();
        rows.sort_by_key(|row| &row.name);
        for row in rows {
            let is_average = Order::reading_of(&row.name).is_none();
            if is_average && !stand.contains(&row.name) && self.chosen(row).is_some() && may_be_there(row) {
                let standing = taken_back(row, &orders.stamp(self.now));
                if !counter.count(standing) {
                    return Ok(());
                }
            }
        }
        Ok(())
    }

    fn average(
        &self,
        journal: &mut Journal,
        orders: &OrderWriter<'_>,
        person: &PersonId,
        plan: &Plan,
    ) -> Result<Option<Order>, DeliveryError> {
        let worked_out = match of_plan(journal, self.stated, person, plan) {
            Ok(worked_out) => worked_out,
            Err(FindError::Journal(error)) => return Err(error.into()),
            // One that cannot be worked out is no average; `quietcuff period` says why.
            Err(_) => return Ok(None),
        };
        let WorkedOut {
            protocol,
            period,
            history,
        } = &worked_out;
        Ok(orders.average(&Averaged {
            period,
            protocol,
            readings: &history.averaged(protocol, period),
        }))
    }
}

/// An average that was sent and does not stand any more: its readings are too few now, or its days are others.
fn taken_back(row: &Delivered, written: &str) -> OrderStanding {
    let Some(text) = &row.content else {
        return OrderStanding::Never;
    };
    if Status::of(text) == Some(Status::Withdrawn) {
        return as_it_went(row);
    }
    let (control_id, text) = withdrawn(&row.name, text, written);
    OrderStanding::Due(Box::new(Letter {
        digest: Sha256::digest([b"withdrawn".as_slice(), &row.offered].concat()).into(),
        name: row.name.clone(),
        person: row.person.clone().unwrap_or_default(),
        patient: row.subject.clone().unwrap_or_default(),
        control_id,
        text,
    }))
}

struct Counter<'t> {
    tally: Tally,
    take: &'t mut dyn FnMut(Letter) -> bool,
}

impl Counter<'_> {
    fn count(&mut self, standing: OrderStanding) -> bool {
        match standing {
            OrderStanding::Never => {}
            OrderStanding::Sent => self.tally.sent += 1,
            OrderStanding::Parked => self.tally.parked += 1,
            OrderStanding::Held(person) => self.tally.hold(&person),
            OrderStanding::Due(letter) => {
                self.tally.waiting += 1;
                return (self.take)(*letter);
            }
        }
        true
    }
}
