//! The role that delivers to a clinic: after each change and when it meant to, killed and refused in every way, and
//! corrected by people behind its back.
//!
//! What the clinic has to hold is worked out from the record and from what truly happened, never from what the role
//! wrote down; it is held against the clinic whenever nothing is due any more, and when the home's years are over.

use super::{BEFORE_MS, Home, later, person_id};
use crate::years::clinic::{Clinic, End, Kept, Line};
use crate::years::truth::{self, Receipt, Row, sent};
use jiff::civil::Date;
use jiff::{Timestamp, ToSpan};
use quietcuff::config::Config;
use quietcuff::delivery::due::Survey;
use quietcuff::delivery::releases::{ReleaseRule, Releases};
use quietcuff::delivery::{self, Courier, DeliveryError, Destination, patience};
use quietcuff::export::fhir::Fhir;
use quietcuff::gatt::Unit;
use quietcuff::household::{self, Statement};
use quietcuff::journal::JournalError;
use quietcuff::radio::simulated::Random;
use serde_json::Value;
use std::cell::Cell;
use std::collections::{BTreeSet, HashMap, HashSet};
use std::panic::{AssertUnwindSafe, catch_unwind, resume_unwind};

/// One home in so many delivers, and it is another one than those in which somebody is told.
const HOMES: (u64, u64) = (6, 3);
/// Rounds of one visit; each sends what the one before left.
const ROUNDS_MAX: usize = 40;
/// Wake-ups between two events; what comes after them waits for the event.
const WAKES_MAX: usize = 6;
/// How often it is not running when something happens.
const IDLE: f64 = 0.7;
/// Visits until everything is there, once nothing goes wrong any more.
const LAST_VISITS_MAX: usize = 6;
/// The longest rest that nobody asked for, and a second for whoever rounds.
const REST_MS: i64 = 3_601_000;

/// LOINC: blood pressure panel, systolic, diastolic; heart rate; and their averages.
const PANEL: &str = "85354-9";
const SYSTOLIC: &str = "8480-6";
const DIASTOLIC: &str = "8462-4";
const PULSE: &str = "8867-4";
const AVERAGE: &str = "96607-7";
const AVERAGE_SYSTOLIC: &str = "96608-5";
const AVERAGE_DIASTOLIC: &str = "96609-3";
/// The system of those codes.
const LOINC: &str = "http://loinc.org";

pub(super) struct Sender {
    line: Line,
    random: Random,
    /// Whose readings go there.
    chosen: BTreeSet<usize>,
    next: Option<Timestamp>,
    /// The server is left alone until then, whatever happens at home.
    rests_until: Timestamp,
    /// Every reading that was ever to be sent, by its id. Nothing else may ever be at the clinic.
    may: HashSet<String>,
    /// Who measures from when.
    plans: Vec<(usize, Date)>,
}

fn reference(person: usize) -> String {
    format!("Patient/clinics-{person}")
}

impl Sender {
    pub(super) fn new(seed: u64, people: usize) -> Option<Self> {
        (seed % HOMES.0 == HOMES.1).then(|| {
            let mut random = Random::new(seed.wrapping_mul(0xbf58_476d_1ce4_e5b9));
            let all = random.chance(0.5);
            Self {
                line: Line::new(random.split()),
                chosen: (0..if all { people } else { 1 }).collect(),
                random,
                next: None,
                rests_until: Timestamp::MIN,
                may: HashSet::new(),
                plans: Vec::new(),
            }
        })
    }

    pub(super) fn planned(&mut self, person: usize, from: Date) {
        self.plans.push((person, from));
    }

    fn config(&self) -> Config {
        Config {
            clinic: delivery::Clinic {
                server: Some("https://clinic.invalid/fhir".to_owned()),
                people: self.chosen.iter().map(|person| person_id(*person)).collect(),
                ..delivery::Clinic::default()
            },
            fhir: Fhir {
                patients: self
                    .chosen
                    .iter()
                    .map(|person| (person_id(*person), reference(*person)))
                    .collect(),
                ..Fhir::default()
            },
            ..Config::default()
        }
    }

    /// Whether the clinic has to have it.
    fn wants(&self, row: &Row) -> bool {
        row.at.is_some() && row.averaged && row.person.is_some_and(|person| self.chosen.contains(&person))
    }
}

/// What came of a visit.
#[derive(PartialEq, Eq)]
enum Visit {
    /// Nothing is due any more.
    Quiet,
    /// A request was refused, failed or got no answer, and what was due is due still.
    Trouble,
}

impl Home {
    /// The role wakes when it meant to, until shortly before what comes next.
    pub(super) fn wake_to_deliver(&mut self, before: Timestamp) {
        for _ in 0..WAKES_MAX {
            let next = self.sender.as_ref().and_then(|sender| sender.next);
            match next {
                Some(next) if next < later(before, -BEFORE_MS) => self.deliver(next),
                _ => return,
            }
        }
    }

    pub(super) fn deliver(&mut self, at: Timestamp) {
        let Some(mut sender) = self.sender.take() else {
            return;
        };
        sender.next = None;
        // It is not always up: what it has missed it finds when it looks the next time.
        if sender.random.chance(IDLE) {
            self.sender = Some(sender);
            return;
        }
        if at > self.down_until && at >= sender.rests_until && self.visit(&mut sender, at) == Visit::Quiet {
            self.check_clinic(&sender, at);
        }
        let saw = std::mem::take(&mut sender.line.clinic().saw);
        saw.into_iter().for_each(|what| self.coverage.saw(what));
        self.sender = Some(sender);
    }

    /// In the end nothing goes wrong any more, and everything has to arrive.
    pub(super) fn deliver_everything(&mut self) {
        if self.sender.is_none() {
            return;
        }
        let mut at = later(self.now.max(self.down_until), 3 * 86_400_000);
        if self.gateway.full {
            self.make_room();
        }
        if !self.gateway.knows_the_time() {
            self.learn_the_time(at);
        }
        let mut sender = self.sender.take().unwrap();
        sender.line.clinic().well = true;
        for _ in 0..LAST_VISITS_MAX {
            at = later(at, 25 * 3_600_000);
            self.try_again(&sender);
            if self.visit(&mut sender, at) == Visit::Quiet {
                self.check_clinic(&sender, at);
                for row in &self.rows {
                    self.check_counted(row);
                }
                return;
            }
        }
        panic!("something is due for ever");
    }

    /// As `quietcuff deliver` does it: rounds until nothing is due or something is wrong.
    fn visit(&mut self, sender: &mut Sender, at: Timestamp) -> Visit {
        self.gateway.settle();
        self.check();
        for row in &self.rows {
            if sender.wants(row) && !sender.may.contains(&row.id) {
                sender.may.insert(row.id.clone());
            }
        }
        {
            let mut clinic = sender.line.clinic();
            clinic.now = at;
            clinic.chosen = sender.chosen.iter().map(|person| reference(*person)).collect();
        }
        if !self.gateway.knows_the_time() {
            self.coverage.saw("delivery: by a clock that is wrong");
        }
        let now = self.gateway.wall(at);
        let config = sender.config();
        let stated = self.gateway.journal().stated().unwrap();
        let target = Destination::of(&config.clinic, &config.fhir, &stated.household).unwrap();
        let contact = self.gateway.journal().contact(&target.name()).unwrap();
        if patience::rests(contact.not_before, now) {
            // Only a clock that was set back makes it rest for longer than it meant to.
            sender.next = Some(later(at, REST_MS));
            return Visit::Trouble;
        }
        let line = Box::new(sender.line.clone());
        let mut courier = Courier::by(line, &config.clinic, target.clone()).unwrap();
        let survey = Survey {
            sheets: None,
            clinic: "",
            records: None,
            stated: &stated,
            switches: target.switches(&contact),
            people: &target.people,
            releases: &Releases::of(
                &stated.household,
                &target.name(),
                ReleaseRule::Chosen,
                target.people.keys(),
            ),
            today: stated.zones.civil(now).date(),
        };
        // It may be killed between any two things that it does, which are the moments at which it asks for the time.
        let well = sender.line.clinic().well;
        let dies_in = (!well && sender.random.chance(0.01)).then(|| sender.random.between(1, 5));
        let asked = Cell::new(0);
        let clock = || {
            asked.set(asked.get() + 1);
            if Some(asked.get()) == dies_in {
                resume_unwind(Box::new(End::Killed));
            }
            now
        };
        for _ in 0..ROUNDS_MAX {
            let journal = self.gateway.journal();
            let ended = catch_unwind(AssertUnwindSafe(|| courier.round(journal, &survey, &clock)));
            match ended {
                Err(end) => {
                    match end.downcast::<End>() {
                        Ok(end) if *end == End::PowerLost => {
                            self.power_lost(later(at, 1_000));
                            self.now = self.now.max(self.down_until);
                        }
                        Ok(_) => {}
                        Err(panicked) => resume_unwind(panicked),
                    }
                    if dies_in == Some(asked.get()) {
                        self.coverage.saw("delivery: killed between two steps");
                    }
                    sender.next = Some(later(at.max(self.down_until), 5_000));
                    return Visit::Trouble;
                }
                Ok(Err(DeliveryError::Journal(JournalError::DiskFull { .. }))) if self.gateway.full => {
                    self.coverage.saw("delivery: no room to write down what goes");
                    return Visit::Trouble;
                }
                Ok(round) => {
                    let round = round.unwrap();
                    if let Some(trouble) = round.trouble {
                        let asked = trouble.retry_after();
                        let asked = asked.map_or(0, |asked| asked.as_millis() as i64).min(86_400_000);
                        sender.rests_until = later(at, asked.max(REST_MS));
                        sender.next = Some(sender.rests_until);
                        return Visit::Trouble;
                    }
                    if round.is_last() {
                        return Visit::Quiet;
                    }
                }
            }
        }
        panic!("there is no end of rounds");
    }

    /// Somebody looks at what the server refused, and lets it go once more.
    fn try_again(&mut self, sender: &Sender) {
        let config = sender.config();
        let journal = self.gateway.journal();
        let household = journal.household().unwrap();
        let clinic = Destination::of(&config.clinic, &config.fhir, &household)
            .unwrap()
            .name();
        if journal.try_again(&clinic, None).unwrap() > 0 {
            self.coverage.saw("delivery: what was refused is let go again");
        }
    }

    /// People correct what may have been sent already, choose others, and have somebody else look at refusals.
    pub(super) fn people_correct(&mut self, at: Timestamp) {
        let Some(mut sender) = self.sender.take() else {
            return;
        };
        if !self.gateway.full {
            let random = &mut sender.random;
            match random.between(0, 99) {
                0..8 => {
                    let row = self.rows.iter().filter(|row| sender.may.contains(&row.id));
                    let corrected = |row: &&Row| {
                        let truth = &self.truths[row.truth];
                        truth.timed.is_some() || truth.assigned.is_some() || truth.discarded
                    };
                    let mut rows: Vec<&Row> = row.collect();
                    if random.chance(0.3) {
                        rows.retain(corrected);
                    }
                    // Mostly one of the last days.
                    let back = if random.chance(0.7) { 8 } else { 10_000 };
                    let first = rows.len().saturating_sub(back);
                    if first < rows.len() {
                        let row = rows[random.between(first as i64, rows.len() as i64 - 1) as usize].clone();
                        self.correct(random, &row, at);
                    }
                }
                8..10 if self.people.len() > 1 => {
                    let person = random.between(0, 1) as usize;
                    if !sender.chosen.contains(&person) {
                        self.coverage.saw("delivery: a person is chosen");
                        sender.chosen.insert(person);
                    } else if sender.chosen.len() > 1 {
                        self.coverage.saw("delivery: a person is not chosen any more");
                        sender.chosen.remove(&person);
                    }
                }
                10 => self.remove_and_bring_back(random, at),
                11..14 => self.try_again(&sender),
                14 => self.withdraw_a_week(&sender, at),
                _ => {}
            }
        }
        self.sender = Some(sender);
    }

    fn correct(&mut self, random: &mut Random, row: &Row, at: Timestamp) {
        let reading = row.id.clone();
        let stamped = self.devices[self.truths[row.truth].device].stamped();
        let people = self.people.len();
        let truth = &mut self.truths[row.truth];
        let statement = match random.between(0, 2) {
            // Without a stamp nothing but its time tells which of two equal ones it is.
            0 if stamped => {
                truth.timed = match truth.timed {
                    Some(_) => None,
                    None => Some(later(truth.end, random.between(-900, 900) * 1000)),
                };
                self.coverage.saw(match truth.timed {
                    Some(_) => "delivery: a time corrected after it was sent",
                    None => "delivery: a corrected time undone",
                });
                Statement::Timed {
                    reading,
                    measured_at: truth.timed,
                }
            }
            1 if people > 1 => {
                truth.assigned = match truth.assigned {
                    Some(_) => None,
                    None => row.person.map(|person| 1 - person),
                };
                self.coverage.saw(match truth.assigned {
                    Some(_) => "delivery: a person corrected after it was sent",
                    None => "delivery: a corrected person undone",
                });
                Statement::Assigned {
                    reading,
                    person: truth.assigned.map(person_id),
                }
            }
            _ => {
                truth.discarded = !truth.discarded;
                self.coverage.saw(if truth.discarded {
                    "delivery: withdrawn after it was sent"
                } else {
                    "delivery: a withdrawal undone"
                });
                Statement::Discarded {
                    reading,
                    reason: truth.discarded.then(|| "the cuff was over a sleeve".to_owned()),
                }
            }
        };
        self.say(at, &[statement]);
    }

    /// The cuff was the wrong one all week: there may be no average any more, or another one.
    fn withdraw_a_week(&mut self, sender: &Sender, at: Timestamp) {
        let Some(whose) = self
            .rows
            .iter()
            .rev()
            .find(|row| sender.wants(row))
            .and_then(|row| row.person)
        else {
            return;
        };
        self.coverage.saw("delivery: a week withdrawn");
        let last = self.rows.iter().rev().filter(|row| row.person == Some(whose));
        let mut statements = Vec::new();
        for row in last.take(24) {
            self.truths[row.truth].discarded = true;
            statements.push(Statement::Discarded {
                reading: row.id.clone(),
                reason: Some("the wrong cuff".to_owned()),
            });
        }
        self.say(at, &statements);
    }

    /// From the lists only: what they measured stays theirs, and stays at the clinic.
    fn remove_and_bring_back(&mut self, random: &mut Random, at: Timestamp) {
        self.coverage.saw("delivery: a person is removed from the lists");
        let nth = random.between(0, self.people.len() as i64 - 1) as usize;
        let person = person_id(nth);
        self.say(
            at,
            &[Statement::PersonRemoved {
                person: person.clone(),
            }],
        );
        if random.chance(0.5) {
            let label = format!("Invented person {nth}");
            let details = household::Person {
                label,
                ..household::Person::default()
            };
            self.say(later(at, 60_000), &[Statement::Person { person, details }]);
        }
    }
}

fn coded<'v>(content: &'v Value, code: &str) -> Option<&'v Value> {
    let is = |value: &Value| {
        let mut codings = value["code"]["coding"].as_array().into_iter().flatten();
        codings.any(|coding| coding["system"] == LOINC && coding["code"] == code)
    };
    if is(content) {
        return Some(content);
    }
    content["component"]
        .as_array()?
        .iter()
        .find(|component| is(component))
}

fn number(content: &Value, code: &str, unit: &str) -> f64 {
    let quantity = &coded(content, code).unwrap()["valueQuantity"];
    assert_eq!(
        (&quantity["code"], &quantity["system"]),
        (&unit.into(), &"http://unitsofmeasure.org".into())
    );
    quantity["value"].as_f64().unwrap()
}

fn is_final(kept: &Kept) -> bool {
    kept.content["status"] == "final"
}

/// What a clinic has to hold of one measurement.
struct Wanted<'a> {
    name: String,
    kept: &'a Kept,
}

impl Home {
    /// Nothing is due: the clinic holds what it has to, once, and nothing else.
    fn check_clinic(&mut self, sender: &Sender, at: Timestamp) {
        let clinic = sender.line.clinic();
        let (parked, unasked): (Vec<String>, Vec<String>) = self.parked().into_iter().partition(|name| {
            // What rests on a panel that was refused is set aside with it.
            let panel = name.trim_end_matches("-status");
            clinic.refused.contains(name) || clinic.refused.contains(panel)
        });
        assert_eq!(unasked, Vec::<String>::new(), "set aside, and never refused");
        if !self.gateway.knows_the_time() || self.behind || self.gateway.full || !parked.is_empty() {
            return;
        }
        let mut names = HashSet::new();
        for kept in clinic.kept() {
            let kind = kept.content["resourceType"].as_str().unwrap();
            assert!(
                names.insert((kind, &kept.name)),
                "{kind} {} is there twice",
                kept.name
            );
        }
        let mut wanted: HashSet<String> = HashSet::new();
        for row in self.rows.iter().filter(|row| sender.wants(row)) {
            wanted.extend(self.check_sent(&clinic, row));
        }
        let mut averages: HashMap<&str, Vec<&Kept>> = HashMap::new();
        for kept in clinic.kept() {
            if kept.content["resourceType"] != "Observation" {
                continue;
            }
            let subject = kept.content["subject"]["reference"].as_str().unwrap();
            if coded(&kept.content, AVERAGE).is_some() {
                averages
                    .entry(subject)
                    .or_default()
                    .extend(is_final(kept).then_some(kept));
                continue;
            }
            let reading = kept.name.split('-').next().unwrap();
            assert!(
                sender.may.contains(reading),
                "never to be sent, and there: {}",
                kept.content
            );
            let left_alone = !clinic.chosen.contains(subject);
            assert!(
                wanted.contains(&kept.name) || left_alone || !is_final(kept),
                "not to be there any more: {}",
                kept.content
            );
        }
        let mut compared = Vec::new();
        for (person, from) in sender
            .plans
            .iter()
            .filter(|(person, _)| sender.chosen.contains(person))
        {
            let sent = averages.get(reference(*person).as_str());
            let sent = sent.map_or(&[][..], Vec::as_slice);
            compared.extend(self.check_average(&clinic, *person, *from, sent, at));
        }
        self.coverage.saw("delivery: everything compared");
        for what in compared {
            self.coverage.saw(what);
        }
    }

    /// What waits for somebody because the server refused it.
    fn parked(&self) -> Vec<String> {
        let mut query = self
            .gateway
            .eye()
            .prepare_cached("SELECT name FROM delivery WHERE refusal IS NOT NULL")
            .unwrap();
        let names = query.query_map([], |row| row.get(0)).unwrap();
        names.collect::<Result<_, _>>().unwrap()
    }

    /// As the household's clock showed it, to the second.
    fn by_the_clock(&self, at: Timestamp) -> String {
        let zone = self.zone_at(at);
        let minutes = zone.to_offset(at).seconds() / 60;
        format!(
            "{}{}{:02}:{:02}",
            zone.to_datetime(at).strftime("%Y-%m-%dT%H:%M:%S"),
            if minutes < 0 { '-' } else { '+' },
            minutes.abs() / 60,
            minutes.abs() % 60
        )
    }

    /// One reading: its panel, its pulse, what the monitor reported. Their names.
    fn check_sent(&self, clinic: &Clinic, row: &Row) -> Vec<String> {
        let truth = &self.truths[row.truth];
        let make = self.devices[truth.device].make();
        let [systolic, diastolic, pulse] = truth.shown.unwrap();
        let time = self.by_the_clock(row.at.unwrap());
        let one = |suffix: &str| {
            let name = format!("{}{suffix}", row.id);
            let [kept] = clinic.named("Observation", &name)[..] else {
                panic!("{name} is not at the clinic: {truth:?}");
            };
            let content = &kept.content;
            assert!(is_final(kept), "counted, and not final: {content}");
            assert_eq!(content["subject"]["reference"], reference(row.person.unwrap()));
            assert_eq!(content["effectiveDateTime"], time);
            let device = content["device"]["reference"].as_str().unwrap();
            let monitor = clinic.at(device).unwrap();
            let serial = monitor.content["serialNumber"].as_str();
            assert!(
                serial.is_none_or(|serial| serial == make.serial),
                "by another monitor"
            );
            Wanted { name, kept }
        };
        let panel = one("");
        coded(&panel.kept.content, PANEL).unwrap();
        for (code, shown) in [(SYSTOLIC, systolic), (DIASTOLIC, diastolic)] {
            // What was sent in kPa is whole millimetres at the clinic.
            let expected = match make.unit {
                Unit::MmHg => f64::from(shown),
                Unit::KPa => sent(shown, make.unit).round(),
            };
            let said = number(&panel.kept.content, code, "mm[Hg]");
            assert!(
                (said - expected).abs() < 1e-9,
                "{expected} is {said} at the clinic: {truth:?}"
            );
        }
        let rate = one("-pulse");
        assert!(
            (number(&rate.kept.content, PULSE, "/min") - f64::from(pulse)).abs() < 1e-9,
            "{truth:?}"
        );
        let mut names = vec![panel.name, rate.name];
        // Irregular pulse is bit 2 of both; what else a monitor reports here sets a reading aside.
        if truth.status & make.feature.0 & 1 << 2 != 0 {
            names.push(one("-status").name);
        }
        names
    }

    /// Whether it counts, by the rules as the README has them, where that can be told.
    fn check_counted(&self, row: &Row) {
        let truth = &self.truths[row.truth];
        let told = |row: &Row| {
            let truth = &self.truths[row.truth];
            let off = row.at.map(|at| at.duration_since(truth.end).as_secs().abs());
            truth.receipt == Receipt::Right && truth.timed.is_none() && off.is_none_or(|off| off <= 600)
        };
        let near = |other: &Row| {
            self.truths[other.truth].device == truth.device
                && self.truths[other.truth]
                    .end
                    .duration_since(truth.end)
                    .as_secs()
                    .abs()
                    < 3_600
        };
        if self.rows.iter().filter(|other| near(other)).all(told)
            && let Some(counts) = truth::counts(row, &self.rows, &self.truths, &self.devices)
        {
            assert_eq!(row.averaged, counts, "{row:?} {truth:?}");
        }
    }

    /// The average of a period that is over, or none.
    fn check_average(
        &self,
        clinic: &Clinic,
        person: usize,
        from: Date,
        sent: &[&Kept],
        at: Timestamp,
    ) -> Option<&'static str> {
        let to = from + 6.days();
        if self.date(self.gateway.wall(at)) <= to {
            return None;
        }
        let within = |kept: &&&Kept| {
            let start = kept.content["effectivePeriod"]["start"].as_str().unwrap();
            (from..=to).contains(&start[..10].parse().unwrap())
        };
        let sent: Vec<&&Kept> = sent.iter().filter(within).collect();
        assert!(sent.len() <= 1, "two averages of one period");
        let civil = |at: Timestamp| self.zone_at(at).to_datetime(at);
        let expected = truth::expected(person, (from, to), civil, &self.rows, &self.truths, &self.devices)?;
        if expected.towards < 12 || expected.days < 3 {
            assert!(sent.is_empty(), "an average of too few: {}", sent[0].content);
            return Some("delivery: no average of too few");
        }
        let content = &sent
            .first()
            .unwrap_or_else(|| panic!("no average from {from}: {expected:?}"))
            .content;
        for (code, mean) in [
            (AVERAGE_SYSTOLIC, expected.systolic),
            (AVERAGE_DIASTOLIC, expected.diastolic),
        ] {
            let said = number(content, code, "mm[Hg]");
            assert!((said - mean).abs() <= 0.05 + 1e-9, "{expected:?}: {content}");
        }
        let count = content["extension"]
            .as_array()
            .unwrap()
            .iter()
            .find_map(|extension| extension["valueInteger"].as_u64());
        assert_eq!(count, Some(expected.n as u64), "{content}");
        for made_of in content["derivedFrom"].as_array().into_iter().flatten() {
            let made_of = made_of["reference"].as_str().unwrap();
            let kept = clinic.at(made_of).unwrap();
            assert!(
                is_final(kept) && kept.content["subject"] == content["subject"],
                "an average of what is not theirs"
            );
        }
        Some("delivery: average compared")
    }
}
