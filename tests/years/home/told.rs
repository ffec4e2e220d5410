//! The role that reminds: looks after each change and when it meant to, and is killed, refused and not answered.
//!
//! What has to be told is worked out here anew, from the record and the household's plans, where there can be no doubt,
//! and so is what a message is about: nothing comes twice under any name, but what the machine's end or a lost answer
//! left in doubt. There are two receivers, one for everything and one for one person, who never hears of another.

use super::{BEFORE_MS, Home, later, person_id};
use crate::years::device::Device;
use jiff::civil::{Date, Time};
use jiff::{SignedDuration, Timestamp, ToSpan};
use quietcuff::home::alerts::look::Look;
use quietcuff::home::alerts::message::Message;
use quietcuff::home::alerts::post::{Job, Post};
use quietcuff::home::alerts::routes::{Alerts, Route};
use quietcuff::radio::simulated::Random;
use std::collections::{BTreeSet, HashMap};

/// One home in so many has somebody who is told.
const HOMES: u64 = 6;
/// More than a household is ever told at once.
const MESSAGES_MAX: usize = 200;
/// Wake-ups between two events; what comes after them waits for the event.
const WAKES_MAX: usize = 10;
/// A monitor unheard for so many days is called silent, as the README has it.
const SILENT_DAYS: i64 = 8;
/// In these hours only what is urgent is said, as the README has it.
const QUIET: (Time, Time) = (Time::constant(21, 0, 0, 0), Time::constant(7, 0, 0, 0));
/// Who is told of everybody, and who of one person.
const ROUTES: [&str; 2] = ["carer", "theirs"];
/// A morning and an evening, with the minutes in which a session may still be under way.
const SLOTS: [(&str, i8, i8); 2] = [("morning", 5, 12), ("evening", 17, 24)];

/// What a message is about, as it is worked out here: the product's own name for it is not looked at.
#[derive(Clone, PartialEq, Eq, Hash, Debug)]
enum Matter {
    /// A session of a day: due, or missed.
    Session(&'static str, usize, Date, &'static str),
    /// A period that began then.
    Period(usize, Date),
    /// A reading of that time, or another moment, and what is said of it.
    Moment(&'static str, Option<usize>, Timestamp, String),
}

/// Who receives, and what they have heard.
#[derive(Default)]
struct Receiver {
    /// Nothing reaches them until then.
    down_until: Timestamp,
    /// The last message failed: the channel rests.
    failed: bool,
    /// How often each matter came, and how often it may come again.
    told: HashMap<Matter, u32>,
    again: HashMap<Matter, u32>,
}

pub(super) struct Teller {
    alerts: Alerts,
    random: Random,
    post: Option<Post>,
    boots: u32,
    next: Option<Timestamp>,
    /// Whose matters the second receiver is told.
    theirs: usize,
    receivers: [Receiver; 2],
    /// Who measures from when, and when that was said.
    plans: Vec<(usize, Date, Timestamp)>,
}

impl Teller {
    pub(super) fn new(seed: u64, people: usize) -> Option<Self> {
        let mut random = Random::new(seed.wrapping_mul(0x9e37_79b9_7f4a_7c15));
        let theirs = random.between(0, people as i64 - 1) as usize;
        let people = [None, Some(BTreeSet::from([person_id(theirs)]))];
        let routes = ROUTES.iter().zip(people).map(|(name, people)| Route {
            name: (*name).to_owned(),
            webhook: Some(format!("https://{name}.invalid/")),
            people,
            ..Route::default()
        });
        seed.is_multiple_of(HOMES).then(|| Self {
            alerts: Alerts {
                route: routes.collect(),
                ..Alerts::default()
            },
            random,
            post: None,
            boots: 0,
            next: None,
            theirs,
            receivers: Default::default(),
            plans: Vec::new(),
        })
    }

    pub(super) fn planned(&mut self, person: usize, from: Date, said: Timestamp) {
        self.plans.push((person, from, said));
    }

    /// Now and then a pressure that nobody may sleep on.
    pub(super) fn raises(&mut self) -> bool {
        self.random.chance(0.02)
    }

    /// The receivers who have to be told of a person, or of what is nobody's.
    fn of(&self, person: Option<usize>) -> impl Iterator<Item = &Receiver> {
        let both = person.is_none_or(|person| person == self.theirs);
        self.receivers.iter().take(1 + usize::from(both))
    }

    /// Whether everybody who has to was told.
    fn knows(&self, person: usize, matter: &Matter) -> bool {
        self.of(Some(person))
            .all(|receiver| receiver.told.contains_key(matter))
    }
}

impl Home {
    /// It wakes when it meant to, until shortly before what comes next.
    pub(super) fn wake(&mut self, before: Timestamp) {
        self.wake_between(Timestamp::MIN, later(before, -BEFORE_MS));
    }

    /// The same between two moments. Where it could not look in time, it looks a little later.
    pub(super) fn wake_between(&mut self, from: Timestamp, before: Timestamp) {
        for _ in 0..WAKES_MAX {
            let next = self.teller.as_ref().and_then(|teller| teller.next);
            match next.map(|next| next.max(from)) {
                Some(next) if next < before => self.remind(next),
                _ => return,
            }
        }
    }

    pub(super) fn remind(&mut self, at: Timestamp) {
        let Some(mut teller) = self.teller.take() else {
            return;
        };
        teller.next = None;
        if at > self.down_until && !self.gateway.full {
            for nth in 0..ROUTES.len() {
                if teller.random.chance(0.003) {
                    self.coverage.saw("reminders: receiver down for a day");
                    teller.receivers[nth].down_until = later(at, 86_400_000);
                }
            }
            let well = self.tell_all(&mut teller, at);
            if well && self.gateway.knows_the_time() && !self.behind {
                self.check_told(&teller, at);
                self.check_judged(at);
            }
        }
        self.teller = Some(teller);
    }

    /// Whether everything that was due went out.
    fn tell_all(&mut self, teller: &mut Teller, at: Timestamp) -> bool {
        let now = self.gateway.wall(at);
        if teller.boots != self.gateway.boots() {
            teller.boots = self.gateway.boots();
            teller.post = None;
        }
        let mut post = match teller.post.take() {
            Some(post) => post,
            None => {
                for receiver in &mut teller.receivers {
                    receiver.failed = false;
                }
                Post::new(teller.alerts.clone(), self.gateway.journal(), now).unwrap()
            }
        };
        // Nothing that it looks at changes while it tells.
        let stated = self.gateway.journal().stated().unwrap();
        let look = Look::at(self.gateway.journal(), stated, None, now).unwrap();
        for _ in 0..MESSAGES_MAX {
            let jobs = post.due(self.gateway.journal(), &look, now).unwrap();
            if jobs.is_empty() {
                let next = post.next_moment(&look, now);
                teller.next = next.map(|next| at + next.duration_since(now));
                teller.post = Some(post);
                return teller.receivers.iter().all(|receiver| !receiver.failed);
            }
            for job in jobs {
                self.coverage.saw("reminders: sent");
                let nth = ROUTES.iter().position(|name| *name == job.route).unwrap();
                let down = at < teller.receivers[nth].down_until;
                match teller.random.between(0, 99) {
                    0..2 => {
                        self.coverage.saw("reminders: killed before it was sent");
                        teller.next = Some(later(at, 5_000));
                        return false;
                    }
                    2..4 => {
                        self.coverage.saw("reminders: killed after it was sent");
                        self.received(teller, nth, &job, now, true);
                        teller.next = Some(later(at, 5_000));
                        return false;
                    }
                    4..6 if !down => {
                        self.coverage.saw("reminders: the answer was lost");
                        self.received(teller, nth, &job, now, true);
                        teller.receivers[nth].failed = true;
                        post.done(self.gateway.journal(), &job, Err("no answer"), now)
                            .unwrap();
                    }
                    _ if down => {
                        teller.receivers[nth].failed = true;
                        post.done(self.gateway.journal(), &job, Err("refused"), now)
                            .unwrap();
                    }
                    _ => {
                        self.received(teller, nth, &job, now, false);
                        teller.receivers[nth].failed = false;
                        post.done(self.gateway.journal(), &job, Ok(()), now).unwrap();
                    }
                }
            }
        }
        panic!("there is no end of messages");
    }

    /// A receiver has it. `doubted`: nobody at home knows that, so that it may come once more.
    fn received(&mut self, teller: &mut Teller, nth: usize, job: &Job, now: Timestamp, doubted: bool) {
        let message = &job.message;
        let whose = message
            .person
            .as_ref()
            .map(|person| person.as_str()[1..].parse().unwrap());
        let clock = self.zone_at(now).to_datetime(now).time();
        let quiet = clock >= QUIET.0 || clock < QUIET.1;
        assert!(!quiet || message.urgent, "at {clock}: {message:?}");
        if quiet {
            self.coverage.saw("reminders: urgent in quiet hours");
        }
        if nth == 1 {
            let of_others = whose.is_some_and(|whose: usize| whose != teller.theirs);
            assert!(!of_others, "it is another's: {message:?}");
            let text = format!("{} {}", message.subject, message.text);
            for other in (0..self.people.len()).filter(|person| *person != teller.theirs) {
                let named = text.contains(&format!("Invented person {other}"))
                    || text
                        .split(|c: char| !c.is_alphanumeric())
                        .any(|word| word == person_id(other).as_str());
                assert!(!named, "it names another: {message:?}");
            }
            assert!(message.measured.is_none(), "numbers: {message:?}");
            self.coverage.saw("reminders: to who hears of one person");
        }
        if message.kind == "lapsed" {
            self.coverage.saw("reminders: lapsed, and named when it could be");
        }
        let matter = self.matter(&teller.plans, whose, message);
        if message.kind == "monitor-silent" {
            self.check_silent(message, now);
        }
        let receiver = &mut teller.receivers[nth];
        let times = receiver.told.entry(matter.clone()).or_default();
        *times += 1;
        let again = receiver.again.entry(matter.clone()).or_default();
        assert!(
            *times <= 1 + *again,
            "{matter:?} was told {times} times: {message:?}"
        );
        *again += u32::from(doubted);
    }

    /// What a message is about, from whom and when it speaks of.
    fn matter(&self, plans: &[(usize, Date, Timestamp)], whose: Option<usize>, message: &Message) -> Matter {
        let civil = self.zone_at(message.since).to_datetime(message.since);
        // In the days of a move an hour belongs to another day than it seems.
        let moved = self
            .zones
            .iter()
            .skip(1)
            .any(|(from, _)| message.since.duration_since(*from).as_hours().abs() < 48);
        let plainly_whose = whose.filter(|_| !moved);
        match (message.kind, plainly_whose) {
            // Due from when its window opens, missed from when it closes.
            ("session-due", Some(person)) => {
                let slot = if civil.hour() < 12 { "morning" } else { "evening" };
                Matter::Session("session-due", person, civil.date(), slot)
            }
            ("missed", Some(person)) if civil.hour() < 12 => {
                Matter::Session("missed", person, civil.date() - 1.day(), "evening")
            }
            ("missed", Some(person)) => Matter::Session("missed", person, civil.date(), "morning"),
            ("period-finished", Some(person)) => {
                let mut its = plans.iter().filter(|(whose, from, _)| {
                    *whose == person && (*from..=*from + 9.days()).contains(&civil.date())
                });
                let (_, from, _) = its
                    .next()
                    .unwrap_or_else(|| panic!("there was no such period: {message:?}"));
                Matter::Period(person, *from)
            }
            // What it comes to is said behind; when and of whom stands here.
            (kind, _) => {
                let said = format!("{}\n{}", message.subject, message.text);
                Matter::Moment(kind, whose, message.since, said)
            }
        }
    }

    /// It is silent indeed.
    fn check_silent(&mut self, message: &Message, now: Timestamp) {
        let names = |device: &&Device| {
            message
                .subject
                .split_whitespace()
                .any(|word| word.trim_end_matches([':', ',', '.']) == device.id.as_str())
        };
        let device = self
            .devices
            .iter()
            .find(names)
            .unwrap_or_else(|| panic!("of which monitor: {message:?}"));
        if let Some(heard) = device.heard.filter(|_| self.gateway.knows_the_time()) {
            let silent = now.duration_since(heard).as_secs();
            assert!(
                silent >= SILENT_DAYS * 86_400 - 60,
                "heard {silent} s ago: {message:?}"
            );
        }
        self.coverage.saw("reminders: a monitor is silent");
    }

    /// Everything was told that had to be by now.
    fn check_told(&mut self, teller: &Teller, at: Timestamp) {
        self.check_urgent(teller, at);
        let zone = self.zone();
        let clock = zone.to_datetime(at).time();
        let quiet = clock < QUIET.1 || clock >= QUIET.0;
        // Which days and hours were meant is in doubt for a while after a move.
        let moved = self.zones.last().is_some_and(|(from, _)| {
            self.zones.len() > 1 && *from > later(at, -SignedDuration::from_hours(24 * 20).as_millis() as i64)
        });
        if quiet || moved {
            return;
        }
        self.check_silence_told(teller, at);
        for (person, from, said) in &teller.plans {
            let over = zone
                .to_timestamp((*from + 9.days()).to_datetime(Time::midnight()))
                .unwrap();
            let hours = |from: Timestamp| at.duration_since(from).as_hours();
            if (0..24 * 10).contains(&hours(over)) {
                self.coverage.saw("reminders: the end of a period had to be told");
                let matter = Matter::Period(*person, *from);
                assert!(teller.knows(*person, &matter), "{matter:?} was not told by {at}");
            }
            for day in 0..7 {
                let date = *from + day.days();
                for (slot, opens, closes) in SLOTS {
                    let hour = |hour: i8| {
                        zone.to_timestamp(date.to_datetime(Time::midnight()) + i64::from(hour).hours())
                            .unwrap()
                    };
                    let (opens, closes) = (hour(opens), hour(closes));
                    // What was over before it was planned was not missed.
                    if closes <= *said {
                        continue;
                    }
                    let near = later(opens, -3_600_000)..later(closes, 3_600_000);
                    let measured = || {
                        self.rows.iter().any(|row| {
                            row.person == Some(*person) && row.at.is_some_and(|at| near.contains(&at))
                        })
                    };
                    if (opens..closes).contains(&at) && opens > *said && !measured() {
                        self.coverage.saw("reminders: a session due had to be told");
                        let matter = Matter::Session("session-due", *person, date, slot);
                        assert!(teller.knows(*person, &matter), "{matter:?} was not told by {at}");
                    }
                    if (2..22).contains(&hours(closes)) && !measured() {
                        self.coverage.saw("reminders: a missed session had to be told");
                        let matter = Matter::Session("missed", *person, date, slot);
                        assert!(teller.knows(*person, &matter), "{matter:?} was not told by {at}");
                    }
                }
            }
        }
    }

    /// Every monitor that is enrolled and was not heard for long.
    fn check_silence_told(&mut self, teller: &Teller, at: Timestamp) {
        for device in &self.devices {
            let Some(since) = device.enrolled.max(device.heard) else {
                continue;
            };
            let silent_from = later(since, SILENT_DAYS * 86_400_000);
            if device.enrolled.is_none()
                || device.heard_unsure
                || !(1..24 * 20).contains(&at.duration_since(silent_from).as_hours())
            {
                continue;
            }
            self.coverage.saw("reminders: a silent monitor had to be told");
            let told = |receiver: &Receiver| {
                receiver.told.keys().any(|matter| {
                    matches!(matter, Matter::Moment("monitor-silent", None, from, _) if from.duration_since(silent_from).as_secs().abs() <= 60)
                })
            };
            assert!(
                teller.of(None).all(told),
                "{} is silent since {since} and that was not told by {at}",
                device.id
            );
        }
    }

    /// The last reading of a person, where it is very high or low, was told by now: itself, or those within the hour
    /// before it, from which on more of the same are not told anew.
    fn check_urgent(&mut self, teller: &Teller, at: Timestamp) {
        for person in 0..self.people.len() {
            let mut read: Vec<(Timestamp, bool, bool)> = Vec::new();
            // What nobody knows the time of is told by when it came, and stands for what was measured then.
            let mut undated: Vec<(Timestamp, bool, bool)> = Vec::new();
            for row in self.rows.iter().filter(|row| row.person == Some(person)) {
                let truth = &self.truths[row.truth];
                if let (Some([systolic, diastolic, _]), false) = (truth.shown, truth.discarded) {
                    let high = systolic >= 180 || diastolic >= 110;
                    match row.at {
                        Some(taken) => read.push((taken, high, systolic < 90)),
                        None => undated.push((row.received, high, systolic < 90)),
                    }
                }
            }
            read.sort_unstable();
            let Some(&(last, high, low)) = read.last() else {
                continue;
            };
            // Two of one moment have no order.
            let alone = read.iter().rev().nth(1).is_none_or(|(before, ..)| *before < last);
            if !(high || low) || !alone || last > at || at.duration_since(last).as_hours() >= 24 * 30 {
                continue;
            }
            let same = |reading: &(Timestamp, bool, bool)| reading.1 && high || reading.2 && low;
            let mut since = last;
            let mut run = 0;
            for reading in read.iter().rev().filter(|reading| same(reading)) {
                if since.duration_since(reading.0).as_mins() > 60 {
                    break;
                }
                (since, run) = (reading.0, run + 1);
            }
            // Low twice without a symptom is for the clinic, and no message any more.
            if low && !high && run > 1 {
                continue;
            }
            self.coverage
                .saw("reminders: a very high or low reading had to be told");
            let instead = |at: &Timestamp| {
                let near = at.duration_since(last).as_mins().abs() <= 60;
                near && undated.iter().any(|reading| reading.0 == *at && same(reading))
            };
            // A clock that drifts is mended later, by ten minutes at most.
            let mended = later(since, -600_000)..=later(last, 600_000);
            let it_is = |at: &Timestamp| mended.contains(at) || instead(at);
            // Who hears of everybody may have been told while it was nobody's; who hears of one was told no numbers
            // then.
            let told = |(nth, receiver): (usize, &Receiver)| {
                let counts = |whose: Option<usize>| whose == Some(person) || nth == 0 && whose.is_none();
                receiver.told.keys().any(|matter| {
                    matches!(matter, Matter::Moment("urgent", whose, at, _) if counts(*whose) && it_is(at))
                })
            };
            assert!(
                teller.of(Some(person)).enumerate().all(told),
                "a reading of person {person} at {last} was not told by {at}, nor one since {since}"
            );
        }
    }
}
