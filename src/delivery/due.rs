//! What is due: the difference between what the readings say now and what the clinic's server said it keeps.
//!
//! - A reading that is new is created unless it is there; one that says something else now replaces what was sent.
//! - A reading that was sent and is not this person's, or not to be sent, any more becomes `entered-in-error`; one that
//!   was never sent is not sent in order to say so.
//! - A reading that was sent as one person's and is another's is withdrawn there, and new here; so is every one whose
//!   person the clinic calls otherwise now.
//! - What waited for something that was refused goes once that is there.
//! - A person who is not chosen any more is left alone, as is what was sent of them.
//! - What the household did not release ([`super::releases`]) is held back, new or changed; what has to be withdrawn goes,
//!   and with it the average and the sheet there that counted it, without a new one. What stands there under a reference
//!   that the clinic uses no more is withdrawn too.
//! - The average of a period that was begun and is over goes when its readings are there; so does its sheet, where the
//!   clinic wants it. A sheet that cannot be printed here holds nothing else up.
//! - Where the clinic wants it, each release is told it as a Consent, also that it has ended though nothing else may go, and
//!   where an average and its sheet come from as a Provenance, once they are there.

use super::DeliveryError;
use super::bundle::{Draft, How, Ledger, Unit, made_of};
use super::releases::{HeldCounts, Releases};
use super::server::{CONSENT, PROVENANCE, ReleaseRecords};
use crate::export::fhir::{
    Averaged, Exporter, Form, Identity, Item, Origin, Sheet, Subject, Switches, said_in_error,
};
use crate::export::released::Became;
use crate::household::PersonId;
use crate::journal::outbox::{Delivered, Digest, WITHDRAWN};
use crate::journal::{Journal, Wanted};
use crate::monitoring::plan::Plan;
use crate::monitoring::stated::Stated;
use crate::reading::Reading;
use crate::snapshot::period::{FindError, WorkedOut, of_plan};
use crate::snapshot::sheet::{Filed, NoSheet};
use crate::technique::JudgedReading;
use crate::words::Language;
use jiff::civil::Date;
use jiff::{Span, Timestamp};
use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::io;
use std::sync::Arc;
use uuid::Uuid;

/// The status of what was not sent because what it rests on was refused (RFC 4918: failed dependency).
pub(super) const WAITED: u16 = 424;

/// How it stands with one resource.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum ResourceStanding {
    /// The server keeps it as it is now.
    Sent,
    /// The server refused it as it is now.
    Parked,
    /// It has to be sent.
    Due(How),
}

/// Compares a resource with what is known of it at the server. `replaces`: it is one that gateways take turns to
/// replace.
pub fn standing(row: Option<&Delivered>, digest: &Digest, replaces: bool) -> ResourceStanding {
    let Some(row) = row else {
        return ResourceStanding::Due(if replaces { How::Replace } else { How::Create });
    };
    let as_offered = row.offered == *digest;
    if as_offered && row.refusal.is_some() {
        return ResourceStanding::Parked;
    }
    match &row.confirmed {
        Some(confirmed) if as_offered && confirmed == digest => ResourceStanding::Sent,
        Some(_) => ResourceStanding::Due(match (&row.server_id, &row.version) {
            (Some(id), Some(version)) if !replaces => How::ReplaceVersion {
                id: id.clone(),
                version: version.clone(),
            },
            _ => How::Replace,
        }),
        // Nobody knows whether the server has what was offered; what was offered before that it may have, too.
        None if as_offered && !row.replaces && !replaces => ResourceStanding::Due(How::Create),
        None => ResourceStanding::Due(How::Replace),
    }
}

/// How many resources stand how.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub struct Tally {
    /// The server keeps them.
    pub sent: usize,
    /// They have to be sent.
    pub waiting: usize,
    /// They were refused.
    pub parked: usize,
    /// They would have to be sent, and the household did not release them.
    pub held: HeldCounts,
}

impl Tally {
    fn count(&mut self, standing: &ResourceStanding) {
        match standing {
            ResourceStanding::Sent => self.sent += 1,
            ResourceStanding::Parked => self.parked += 1,
            ResourceStanding::Due(_) => self.waiting += 1,
        }
    }

    /// One more of this person is held back.
    pub(super) fn hold(&mut self, person: &PersonId) {
        *self.held.entry(person.clone()).or_default() += 1;
    }
}

/// Whom it is about, and at which moment.
#[derive(Debug)]
pub struct Survey<'a> {
    /// What the household stated.
    pub stated: &'a Arc<Stated>,
    /// What the clinic's server takes.
    pub switches: Switches,
    /// The people who were chosen, each with the clinic's reference.
    pub people: &'a BTreeMap<PersonId, String>,
    /// What of theirs may go.
    pub releases: &'a Releases,
    /// Today: a period that it falls in is not over.
    pub today: Date,
    /// In which language the sheet of each period goes too, where it does.
    pub sheets: Option<Language>,
    /// The clinic, as the ledger calls it: its server's base address.
    pub clinic: &'a str,
    /// What of the releases is told there, where that is wanted.
    pub records: Option<ReleaseRecords>,
}

/// The devices and people that resources refer to, by their names.
pub type Devices = BTreeMap<Uuid, Draft>;

/// Takes what is due, until it says `false`.
pub type Taker<'t> = dyn FnMut(Unit, &Devices) -> bool + 't;

/// One look through the journal.
struct Look<'a> {
    survey: &'a Survey<'a>,
    ledger: &'a Ledger,
    exporter: Exporter<'a>,
    offered: Offered,
    tally: Tally,
    /// The readings that averages there are made of, and whose each is now; `None` is not to be there.
    counted: HashMap<Uuid, Option<PersonId>>,
    /// Readings that stood there as these people's, and when each was withdrawn, so that it could be another's.
    moved: HashMap<String, Vec<(PersonId, Timestamp)>>,
    /// Of what went as this person's and is wrong there: the day of each reading, and when it was withdrawn.
    wrong: BTreeMap<PersonId, Vec<(Date, Timestamp)>>,
}

/// What the exporter hands over.
#[derive(Default)]
struct Offered {
    drafts: Vec<Draft>,
    devices: Devices,
    /// Devices that were not looked at yet.
    new_devices: Vec<Uuid>,
    gateway: Option<Uuid>,
    /// The clinic's references.
    people: BTreeMap<PersonId, String>,
}

impl Offered {
    fn take(&mut self, item: &Item<'_>, person: Option<&PersonId>) -> io::Result<()> {
        if item.resource.kind() != "Device" {
            let mut draft = Draft::new(item, person.cloned(), self.gateway.as_ref())?;
            draft.subject = person.and_then(|person| self.people.get(person).cloned());
            self.drafts.push(draft);
            return Ok(());
        }
        let uuid = item.identity.uuid;
        // The exporter introduces this gateway before any reading, and before any monitor.
        self.gateway.get_or_insert(uuid);
        self.devices.insert(uuid, Draft::new(item, None, None)?);
        self.new_devices.push(uuid);
        Ok(())
    }

    /// What is withdrawn is so where it stands: under the reference under which it went.
    fn where_they_stand(&mut self, ledger: &Ledger, person: &PersonId) {
        for draft in &mut self.drafts {
            if stands_elsewhere(ledger, draft)
                && let Some(subject) = ledger
                    .row(&draft.identity.value)
                    .and_then(|row| row.subject.as_deref())
            {
                *draft = draft
                    .clone()
                    .of_subject(subject, person.clone(), self.gateway.as_ref());
            }
        }
    }
}

impl Survey<'_> {
    /// Hands over what is due, oldest first, and says how everything stands, as far as `take` wanted it.
    pub fn due(
        &self,
        journal: &mut Journal,
        ledger: &Ledger,
        take: &mut Taker<'_>,
    ) -> Result<Tally, DeliveryError> {
        let subjects = self
            .people
            .iter()
            .map(|(person, reference)| (person.clone(), Subject::Known(reference.clone())))
            .collect();
        let installation = journal.installation()?;
        let mut look = Look {
            survey: self,
            ledger,
            exporter: Exporter::new(&installation, self.stated, self.switches, Form::Bundle, subjects),
            offered: Offered {
                people: self.people.clone(),
                ..Offered::default()
            },
            tally: Tally::default(),
            counted: ledger
                .rows()
                .filter_map(|row| row.content.as_deref())
                .flat_map(made_of)
                .map(|uuid| (uuid, None))
                .collect(),
            moved: self.moved(ledger),
            wrong: BTreeMap::new(),
        };
        let (mut goes_on, mut looked) = (true, Ok(()));
        journal.each_reading(&Wanted::default(), |judged| {
            looked = look.reading(&judged).map(|()| goes_on = look.hand_over(take));
            goes_on && looked.is_ok()
        })?;
        looked?;
        if goes_on {
            look.averages(journal, take)?;
        }
        Ok(look.tally)
    }

    /// What was withdrawn there as somebody's under another name, where that can matter to a sheet.
    fn moved(&self, ledger: &Ledger) -> HashMap<String, Vec<(PersonId, Timestamp)>> {
        let mut moved: HashMap<String, Vec<_>> = HashMap::new();
        for row in ledger.rows().filter(|_| self.sheets.is_some()) {
            if let Some((name, _)) = row.name.split_once(WITHDRAWN)
                && let (Some(person), Some(at)) = (self.stands_as(row), row.answered)
            {
                moved.entry(name.to_owned()).or_default().push((person, at));
            }
        }
        moved
    }

    /// The chosen person in whose record it may be there: by the reference under which it went, else as whose it did.
    fn stands_as(&self, row: &Delivered) -> Option<PersonId> {
        let is_theirs = |(_, reference): &(&PersonId, &String)| row.subject.as_ref() == Some(*reference);
        let found = self.people.iter().find(is_theirs);
        let found = found.map(|(person, _)| person.clone());
        found.or_else(|| self.sent_as(row))
    }

    /// The chosen person as whose it was sent.
    fn sent_as(&self, row: &Delivered) -> Option<PersonId> {
        let person = PersonId::try_from(row.person.clone()?).ok()?;
        self.people.contains_key(&person).then_some(person)
    }
}

impl Look<'_> {
    /// Collects what one reading is now.
    fn reading(&mut self, judged: &JudgedReading) -> io::Result<()> {
        let JudgedReading {
            reading, judgement, ..
        } = judged;
        let (offered, person) = (&mut self.offered, reading.person.as_ref());
        let mut became = self
            .exporter
            .reading(reading, judgement, &mut |item| offered.take(item, person))?;
        let row = self.ledger.row(&reading.id.0);
        let sent_as = row.and_then(|row| self.survey.sent_as(row));
        if became == Became::Exported && held_back(self.survey, reading) {
            offered.drafts.iter_mut().for_each(|draft| draft.held = true);
            // What went as somebody else's, or under another reference, is wrong there, whatever is said of the one whose
            // it is.
            let is_elsewhere = offered
                .drafts
                .iter()
                .any(|draft| stands_elsewhere(self.ledger, draft));
            if sent_as.is_some() && (sent_as.as_ref() != person || is_elsewhere) {
                offered.drafts.clear();
                became = Became::Nobodys;
            }
        }
        if matches!(became, Became::SetAside(_) | Became::Nobodys)
            && let Some(person) = &sent_as
        {
            self.exporter.take_back(reading, judgement, person, &mut |item| {
                offered.take(item, Some(person))
            })?;
        }
        if became != Became::Exported {
            let ledger = self.ledger;
            offered
                .drafts
                .retain(|draft| may_be_there(ledger, &draft.identity.value));
            if let Some(person) = &sent_as {
                offered.where_they_stand(ledger, person);
            }
        }
        self.remember(reading, &became);
        Ok(())
    }

    /// Keeps of a reading what says whether an average or a sheet there may stay.
    fn remember(&mut self, reading: &Reading, became: &Became) {
        let whose = reading.person.as_ref().filter(|_| *became == Became::Exported);
        if !self.counted.is_empty()
            && let Some(counted) = self.counted.get_mut(&Identity::new(reading.id.0.clone()).uuid)
        {
            *counted = whose.cloned();
        }
        let (Some(_), Some(at)) = (self.survey.sheets, reading.time.at) else {
            return;
        };
        let day = self.survey.stated.zones.civil(at).date();
        let mut stood = self.moved.remove(&reading.id.0).unwrap_or_default();
        if let Some(row) = self.ledger.row(&reading.id.0)
            && let Some(person) = self.survey.stands_as(row)
        {
            let mut drafts = self.offered.drafts.iter();
            let panel = drafts.find(|draft| draft.identity.value == reading.id.0);
            let withdrawn = panel.is_some_and(|panel| row.confirmed == Some(panel.digest));
            let at = row.answered.filter(|_| withdrawn).unwrap_or(Timestamp::MAX);
            stood.push((person, at));
        }
        for (person, at) in stood {
            if whose != Some(&person) {
                self.wrong.entry(person).or_default().push((day, at));
            }
        }
    }

    /// Whether an average that is there counted a reading that is not this person's, or not to be there, any more.
    fn counted_wrong(&self, row: &Delivered) -> bool {
        let is_theirs = |uuid: &Uuid| {
            let whose = self.counted.get(uuid).and_then(Option::as_ref);
            whose.map(PersonId::as_str) == row.person.as_deref()
        };
        let made_of = row.content.as_deref().map(made_of).unwrap_or_default();
        !made_of.iter().all(is_theirs)
    }

    /// Whether a sheet that is there shows a reading that was withdrawn since, or has to be.
    fn shows_wrong(&self, row: &Delivered, person: &PersonId, plan: &Plan) -> bool {
        let went = row.answered.unwrap_or(Timestamp::MIN);
        let wrong = self.wrong.get(person).into_iter().flatten();
        may_be_there(self.ledger, &row.name)
            && wrong.into_iter().any(|(day, at)| plan.covers(*day) && *at > went)
    }

    /// Of what is not to go: what is there all the same and wrong is withdrawn, and nothing new takes its place.
    fn withdraw_wrong(&mut self) {
        for mut draft in std::mem::take(&mut self.offered.drafts) {
            let wrong = self
                .ledger
                .row(&draft.identity.value)
                .filter(|row| self.counted_wrong(row));
            if let Some(back) = wrong.and_then(|row| self.taken_back(row)) {
                if let Some(person) = &draft.person {
                    self.tally.hold(person);
                }
                draft = back;
            }
            self.offered.drafts.push(draft);
        }
    }

    /// Hands over what was collected, where it is due.
    fn hand_over(&mut self, take: &mut Taker<'_>) -> bool {
        for uuid in std::mem::take(&mut self.offered.new_devices) {
            if !self.device(uuid, take) {
                return false;
            }
        }
        let mut unit = std::mem::take(&mut self.offered.drafts);
        unit.retain_mut(|draft| self.is_due(draft));
        unit.is_empty() || take(unit, &self.offered.devices)
    }

    /// A device goes with the first that refer to it. Alone it goes where the server has it already, but not as it is
    /// now.
    fn device(&mut self, uuid: Uuid, take: &mut Taker<'_>) -> bool {
        let Some(draft) = self.offered.devices.get_mut(&uuid) else {
            return true;
        };
        let stands = standing(self.ledger.row(&draft.identity.value), &draft.digest, false);
        let ResourceStanding::Due(how) = stands else {
            return true;
        };
        draft.how = how;
        let changed = draft.clone();
        let alone = self.ledger.has_place(&uuid) && self.survey.releases.any();
        !alone || take(vec![changed], &self.offered.devices)
    }

    fn is_due(&mut self, draft: &mut Draft) -> bool {
        // What is kept are averages, which gateways take turns to replace.
        let row = self.ledger.row(&draft.identity.value);
        let mut stands = standing(row, &draft.digest, draft.keep);
        if let Some(row) = row {
            if stands == ResourceStanding::Parked
                && row.status == Some(WAITED)
                && self.rests_on_what_is_there(draft)
            {
                stands = ResourceStanding::Due(How::Create);
            }
            if matches!(stands, ResourceStanding::Due(_)) && self.was_anothers(row, draft) {
                stands = ResourceStanding::Due(How::Move);
            }
            if stands == ResourceStanding::Parked && draft.is_record() && self.may_be_taken_today(row) {
                stands = ResourceStanding::Due(How::Replace);
            }
        }
        if draft.kind == PROVENANCE && matches!(stands, ResourceStanding::Due(_)) {
            stands = ResourceStanding::Due(How::Put);
        }
        if let (true, ResourceStanding::Due(_), Some(person)) = (draft.held, &stands, &draft.person) {
            self.tally.hold(person);
            return false;
        }
        self.tally.count(&stands);
        match stands {
            ResourceStanding::Due(how) => {
                draft.how = how;
                true
            }
            ResourceStanding::Sent | ResourceStanding::Parked => false,
        }
    }

    /// Whether a record was refused on an earlier day for a reason that may have passed since.
    fn may_be_taken_today(&self, row: &Delivered) -> bool {
        let may_pass = row
            .status
            .is_some_and(|status| status == 0 || status == 403 || status >= 500);
        let day = |at| self.survey.stated.zones.civil(at).date();
        may_pass && row.answered.is_some_and(|at| day(at) < self.survey.today)
    }

    fn rests_on_what_is_there(&self, draft: &Draft) -> bool {
        draft
            .references()
            .iter()
            .all(|uuid| self.offered.devices.contains_key(uuid) || self.ledger.has_place(uuid))
    }

    /// Whether the server may have it under another reference than it is to have. Who was only ever one person here is
    /// taken to have had the clinic's present reference where none was written down.
    fn was_anothers(&self, row: &Delivered, draft: &Draft) -> bool {
        let (Some(subject), Some(before)) = (&draft.subject, &row.person) else {
            return false;
        };
        match &row.subject {
            Some(there) => there != subject,
            None => draft
                .person
                .as_ref()
                .is_some_and(|person| person.as_str() != before),
        }
    }

    /// The averages of the periods that are over, and those that are none any more.
    fn averages(&mut self, journal: &mut Journal, take: &mut Taker<'_>) -> Result<(), DeliveryError> {
        let stated = self.survey.stated;
        let mut stand = BTreeSet::new();
        for person in self.survey.people.keys() {
            for plan in stated.plans(person) {
                self.average(journal, person, plan)?;
                let held = self.survey.releases.hold_back(person, plan.from, plan.to());
                for draft in &mut self.offered.drafts {
                    draft.keep = true;
                    draft.held = held;
                    stand.insert(draft.identity.value.clone());
                }
                if held {
                    self.withdraw_wrong();
                }
                let changes = self.offered.drafts.iter().any(|draft| {
                    let row = self.ledger.row(&draft.identity.value);
                    matches!(standing(row, &draft.digest, true), ResourceStanding::Due(_))
                });
                // It still stands: where the clock was set back, what was sent is not to be taken back for that.
                let over = plan.to() < self.survey.today;
                if !over {
                    self.offered.drafts.clear();
                }
                if !self.hand_over(take) {
                    return Ok(());
                }
                if let Some(language) = self.survey.sheets {
                    stand.extend(self.sheet(journal, (person, language), plan, (over, changes))?);
                    if !self.hand_over(take) {
                        return Ok(());
                    }
                }
            }
        }
        let consents = self.consents()?;
        stand.extend(consents.iter().map(|draft| draft.identity.value.clone()));
        // What is not wanted any more is left alone, as people are.
        let wanted = |row: &&Delivered| match row.kind.as_str() {
            DOCUMENT => self.survey.sheets.is_some(),
            CONSENT => self.survey.records.is_some_and(|records| records.consent),
            _ => true,
        };
        for row in self
            .ledger
            .rows()
            .filter(|row| !stand.contains(&row.name))
            .filter(wanted)
        {
            if let Some(draft) = self.taken_back(row) {
                self.offered.drafts.push(draft);
                if !self.hand_over(take) {
                    return Ok(());
                }
            }
        }
        self.records(consents, take)
    }

    /// What was released to the clinic, as far as it is to be told: what holds, and what it may have of what ended.
    fn consents(&mut self) -> io::Result<Vec<Draft>> {
        let mut all = Vec::new();
        if self.survey.records.is_none_or(|records| !records.consent) {
            return Ok(all);
        }
        for person in self.survey.people.keys() {
            for granted in self.survey.stated.household.granted(person, self.survey.clinic) {
                let offered = &mut self.offered;
                self.exporter
                    .consent(person, &granted, &mut |item| offered.take(item, Some(person)))?;
                for draft in std::mem::take(&mut self.offered.drafts) {
                    if granted.until.is_none() || may_be_there(self.ledger, &draft.identity.value) {
                        all.push(Draft { keep: true, ..draft });
                    }
                }
            }
        }
        Ok(all)
    }

    /// Hands over what was released, and once the clinic has that, where what it has comes from.
    fn records(&mut self, consents: Vec<Draft>, take: &mut Taker<'_>) -> Result<(), DeliveryError> {
        let mut all_told = true;
        for draft in consents {
            let row = self.ledger.row(&draft.identity.value);
            all_told &= !matches!(standing(row, &draft.digest, true), ResourceStanding::Due(_));
            self.offered.drafts.push(draft);
            if !self.hand_over(take) {
                return Ok(());
            }
        }
        if !all_told || self.survey.records.is_none_or(|records| !records.provenance) {
            return Ok(());
        }
        for person in self.survey.people.keys() {
            for plan in self.survey.stated.plans(person) {
                if !self.survey.releases.hold_back(person, plan.from, plan.to()) {
                    self.origin(person, plan)?;
                    if !self.hand_over(take) {
                        return Ok(());
                    }
                }
            }
        }
        Ok(())
    }

    /// Collects where the average and the sheet of a plan come from that are there as they are here.
    fn origin(&mut self, person: &PersonId, plan: &Plan) -> io::Result<()> {
        let days = [&*plan.protocol, &plan.from.to_string(), &plan.to().to_string()];
        let names = [
            ("Observation", self.exporter.average_identity(person, days)),
            (DOCUMENT, self.exporter.sheet_identity(person, days)),
        ];
        let (mut targets, mut recorded) = (Vec::new(), Timestamp::MIN);
        for (kind, identity) in names {
            let Some(identity) = identity.filter(|identity| self.ledger.has_place(&identity.uuid)) else {
                continue;
            };
            let row = self.ledger.row(&identity.value).filter(|row| {
                let content = row.content.as_deref().unwrap_or_default();
                row.confirmed == Some(row.offered) && !content.contains(WRONG)
            });
            if let Some(answered) = row.and_then(|row| row.answered) {
                targets.push((kind, identity));
                recorded = recorded.max(answered);
            }
        }
        let granted = self.survey.stated.household.granted(person, self.survey.clinic);
        let under = granted.iter().rev().find(|granted| granted.held_at(recorded));
        let consent = under
            .and_then(|granted| self.exporter.consent_identity(person, granted.days.at))
            .and_then(|identity| self.ledger.place(&identity.uuid))
            .map(|place| format!("{}/{place}", self.survey.clinic));
        let origin = Origin {
            person,
            targets: &targets,
            recorded,
            consent: consent.as_deref(),
        };
        let offered = &mut self.offered;
        self.exporter
            .provenance(&origin, &mut |item| offered.take(item, Some(person)))
    }

    fn average(
        &mut self,
        journal: &mut Journal,
        person: &PersonId,
        plan: &Plan,
    ) -> Result<(), DeliveryError> {
        let worked_out = match of_plan(journal, self.survey.stated, person, plan) {
            Ok(worked_out) => worked_out,
            Err(FindError::Journal(error)) => return Err(error.into()),
            // One that cannot be worked out is no average; `quietcuff period` says why.
            Err(_) => return Ok(()),
        };
        let WorkedOut {
            protocol,
            period,
            history,
        } = &worked_out;
        let averaged = Averaged {
            period,
            protocol,
            readings: &history.averaged(protocol, period),
        };
        let offered = &mut self.offered;
        self.exporter
            .average(&averaged, &mut |item| offered.take(item, Some(person)))?;
        Ok(())
    }

    /// Collects the sheet of a plan, where it is due; its name, where the period has one.
    fn sheet(
        &mut self,
        journal: &mut Journal,
        (person, language): (&PersonId, Language),
        plan: &Plan,
        (over, changes): (bool, bool),
    ) -> Result<Option<String>, DeliveryError> {
        let days = [&*plan.protocol, &plan.from.to_string(), &plan.to().to_string()];
        let Some(identity) = self.exporter.sheet_identity(person, days) else {
            return Ok(None);
        };
        let name = identity.value;
        let row = self.ledger.row(&name);
        let is_there = row.is_some_and(|row| row.confirmed == Some(row.offered));
        let last_look = self.survey.today.saturating_sub(Span::new().days(LOOKED_AT_DAYS));
        if !over || is_there && !changes && plan.to() < last_look {
            return Ok(Some(name));
        }
        if self.survey.releases.hold_back(person, plan.from, plan.to()) {
            let wrong = row.filter(|row| self.shows_wrong(row, person, plan));
            if let Some(back) = wrong.and_then(|row| self.taken_back(row)) {
                self.offered.drafts.push(back);
            } else if !is_there {
                self.tally.hold(person);
            }
            return Ok(Some(name));
        }
        let printed = match Filed::of_plan(journal, self.survey.stated, person, plan, language) {
            Ok(filed) => self.print(&filed, &name),
            Err(FindError::Journal(error)) => return Err(error.into()),
            Err(_) => return Ok(None),
        };
        match printed {
            Ok(()) => {}
            Err(Unprinted::Writing(error)) => return Err(error.into()),
            Err(Unprinted::Sheet(error)) => {
                tracing::warn!("the sheet of {person}, {} to {}: {error}", plan.from, plan.to());
            }
        }
        Ok(Some(name))
    }

    fn print(&mut self, filed: &Filed, name: &str) -> Result<(), Unprinted> {
        let digest = filed.digest().map_err(NoSheet::from)?;
        let stands = standing(self.ledger.row(name), &digest, true);
        if !matches!(stands, ResourceStanding::Due(_)) {
            self.tally.count(&stands);
            return Ok(());
        }
        let period = &filed.found.period;
        let sheet = Sheet {
            period,
            pdf: &filed.pdf()?,
            language: filed.language,
            made_at: filed.made_at,
            days: filed.days,
        };
        let offered = &mut self.offered;
        self.exporter
            .sheet(&sheet, &mut |item| offered.take(item, Some(&period.person)))?;
        for draft in &mut offered.drafts {
            draft.keep = true;
            draft.digest = digest;
            draft.kept = Some(without_data(&draft.json));
        }
        Ok(())
    }

    /// An average that was sent and does not stand any more: its readings are too few now, or its days are others.
    fn taken_back(&self, row: &Delivered) -> Option<Draft> {
        let content = row.content.as_ref()?;
        let person = PersonId::try_from(row.person.clone()?).ok()?;
        if !self.survey.people.contains_key(&person) || !may_be_there(self.ledger, &row.name) {
            return None;
        }
        // The first of its fields that is called so is the Observation's own: nothing before it is free text.
        let (kind, status) = match row.kind.as_str() {
            DOCUMENT => (DOCUMENT, "current"),
            CONSENT if content.contains("\"status\":\"active\"") => (CONSENT, "active"),
            CONSENT => (CONSENT, "inactive"),
            _ => ("Observation", "final"),
        };
        let text = said_in_error(&content.replacen(&format!("\"status\":\"{status}\""), WRONG, 1));
        let identity = Identity::new(row.name.clone());
        let mut draft = Draft::of_text(identity, kind, text, Some(person), self.offered.gateway.as_ref());
        draft.keep = true;
        draft.subject.clone_from(&row.subject);
        Some(draft)
    }
}

/// The resource type of a sheet.
const DOCUMENT: &str = "DocumentReference";
/// How the status of what is wrong is written; quotation marks in free text are escaped.
const WRONG: &str = "\"status\":\"entered-in-error\"";
/// A sheet is looked at again for so many days after its last one, and later whenever its average changes (own choice).
const LOOKED_AT_DAYS: i64 = 90;

/// Why a sheet is not sent.
#[derive(Debug, thiserror::Error)]
enum Unprinted {
    #[error(transparent)]
    Sheet(#[from] NoSheet),
    #[error(transparent)]
    Writing(#[from] io::Error),
}

/// A resource without the file in it.
fn without_data(json: &str) -> String {
    let Some((before, rest)) = json.split_once("\"data\":\"") else {
        return json.to_owned();
    };
    match rest.split_once("\",") {
        Some((_, after)) => format!("{before}{after}"),
        None => json.to_owned(),
    }
}

/// Whether the household did not release a reading to this clinic.
fn held_back(survey: &Survey<'_>, reading: &Reading) -> bool {
    let (Some(person), Some(at)) = (&reading.person, reading.time.at) else {
        return false;
    };
    let day = survey.stated.zones.civil(at).date();
    survey.releases.hold_back(person, day, day)
}

fn may_be_there(ledger: &Ledger, name: &str) -> bool {
    ledger
        .row(name)
        .is_some_and(|row| row.confirmed.is_some() || row.refusal.is_none())
}

/// Whether it went under another reference than the one that the clinic uses now.
fn stands_elsewhere(ledger: &Ledger, draft: &Draft) -> bool {
    let there = ledger
        .row(&draft.identity.value)
        .and_then(|row| row.subject.as_ref());
    there.is_some() && there != draft.subject.as_ref()
}

#[cfg(test)]
mod tests {
    use super::*;

    const NOW: Digest = [1; 32];
    const BEFORE: Digest = [2; 32];

    fn row(offered: Digest, confirmed: Option<Digest>) -> Delivered {
        Delivered {
            offered,
            confirmed,
            server_id: confirmed.map(|_| "17".to_owned()),
            version: confirmed
                .filter(|confirmed| *confirmed == offered)
                .map(|_| "3".to_owned()),
            ..Delivered::default()
        }
    }

    fn stands(row: &Delivered) -> ResourceStanding {
        standing(Some(row), &NOW, false)
    }

    #[test]
    fn what_was_never_offered_is_created() {
        assert_eq!(standing(None, &NOW, false), ResourceStanding::Due(How::Create));
        assert_eq!(standing(None, &NOW, true), ResourceStanding::Due(How::Replace));
    }

    #[test]
    fn what_may_be_there_as_it_is_now_is_created_unless_it_is() {
        assert_eq!(stands(&row(NOW, None)), ResourceStanding::Due(How::Create));
    }

    /// Created where something older may be, it would leave the older one.
    #[test]
    fn what_may_be_there_as_it_was_is_replaced() {
        assert_eq!(stands(&row(BEFORE, None)), ResourceStanding::Due(How::Replace));
        let mut twice = row(NOW, None);
        twice.replaces = true;
        assert_eq!(stands(&twice), ResourceStanding::Due(How::Replace));
        // Offered anew, unanswered, and then changed back.
        assert_eq!(
            stands(&row(BEFORE, Some(NOW))),
            ResourceStanding::Due(How::Replace)
        );
    }

    #[test]
    fn what_is_there_as_it_was_is_replaced_in_the_version_that_is_known() {
        let known = How::ReplaceVersion {
            id: "17".into(),
            version: "3".into(),
        };
        assert_eq!(stands(&row(BEFORE, Some(BEFORE))), ResourceStanding::Due(known));
        assert_eq!(
            standing(Some(&row(BEFORE, Some(BEFORE))), &NOW, true),
            ResourceStanding::Due(How::Replace)
        );
    }

    #[test]
    fn what_was_refused_waits_until_it_changes() {
        let mut refused = row(NOW, None);
        refused.refusal = Some("no".into());
        assert_eq!(stands(&refused), ResourceStanding::Parked);
        refused.offered = BEFORE;
        assert!(matches!(stands(&refused), ResourceStanding::Due(_)));
        assert_eq!(stands(&row(NOW, Some(NOW))), ResourceStanding::Sent);
    }
}
