//! The role that reminds: looks after each change and when it meant to, and is killed, refused and not answered.
//!
//! What has to be told is worked out here anew, from the record and the household's plans, where there can be no doubt.
//! What is told goes to one receiver; nothing comes twice but what the machine's end or a lost answer left in doubt.

use super::{BEFORE_MS, Home, PROTOCOLS, later, person_id};
use jiff::civil::{Date, Time};
use jiff::{SignedDuration, Timestamp, ToSpan};
use quietcuff::home::alerts::look::Look;
use quietcuff::home::alerts::post::{Job, Post};
use quietcuff::home::alerts::routes::{Alerts, Route};
use quietcuff::household::{Household, Zones};
use quietcuff::radio::simulated::Random;
use std::collections::{HashMap, HashSet};

/// One home in so many has somebody who is told.
const HOMES: u64 = 6;
/// More than a household is ever told at once.
const MESSAGES_MAX: usize = 200;
/// Wake-ups between two events; what comes after them waits for the event.
const WAKES_MAX: usize = 10;
/// A morning and an evening, with the minutes in which a session may still be under way.
const SLOTS: [(&str, i8, i8); 2] = [("morning", 5, 12), ("evening", 17, 24)];

pub(super) struct Teller {
    alerts: Alerts,
    random: Random,
    post: Option<Post>,
    boots: u32,
    next: Option<Timestamp>,
    /// The receiver is down until then.
    down_until: Timestamp,
    /// The last message failed: the channel rests.
    failed: bool,
    /// How often each matter came, and how often it may come again.
    told: HashMap<String, u32>,
    again: HashMap<String, u32>,
    /// The readings that were told of as urgent.
    urgent: HashSet<String>,
    /// Who measures from when, and when that was said.
    plans: Vec<(usize, Date, Timestamp)>,
}

impl Teller {
    pub(super) fn new(seed: u64) -> Option<Self> {
        seed.is_multiple_of(HOMES).then(|| Self {
            alerts: Alerts {
                route: vec![Route {
                    name: "carer".to_owned(),
                    webhook: Some("https://carer.invalid/".to_owned()),
                    ..Route::default()
                }],
                ..Alerts::default()
            },
            random: Random::new(seed.wrapping_mul(0x9e37_79b9_7f4a_7c15)),
            post: None,
            boots: 0,
            next: None,
            down_until: Timestamp::MIN,
            failed: false,
            told: HashMap::new(),
            again: HashMap::new(),
            urgent: HashSet::new(),
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

    /// The receiver has it.
    fn received(&mut self, job: &Job) {
        let key = &job.message.key;
        let times = self.told.entry(key.clone()).or_default();
        *times += 1;
        let allowed = 1 + self.again.get(key).copied().unwrap_or_default();
        assert!(*times <= allowed, "{key} was told {times} times");
        if key.starts_with("urgent/") {
            self.urgent.extend(key.rsplit('/').next().map(str::to_owned));
        }
    }
}

impl Home {
    /// It wakes when it meant to, until shortly before what comes next.
    pub(super) fn wake(&mut self, before: Timestamp) {
        for _ in 0..WAKES_MAX {
            let next = self.teller.as_ref().and_then(|teller| teller.next);
            match next {
                Some(next) if next < later(before, -BEFORE_MS) => self.remind(next),
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
            if teller.random.chance(0.005) {
                self.coverage.saw("reminders: receiver down for a day");
                teller.down_until = later(at, 86_400_000);
            }
            let well = self.tell_all(&mut teller, at);
            if well && self.gateway.knows_the_time() && !self.behind {
                self.check_told(&teller, at);
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
                teller.failed = false;
                Post::new(teller.alerts.clone(), self.gateway.journal(), now).unwrap()
            }
        };
        for _ in 0..MESSAGES_MAX {
            let statements = self.gateway.journal().statements().unwrap();
            let household = Household::after(statements.iter().map(|(_, statement)| statement));
            let zones = Zones::of(&household, jiff::tz::db()).unwrap();
            let look = Look::at(self.gateway.journal(), zones, PROTOCOLS.clone(), None, now).unwrap();
            let jobs = post.due(self.gateway.journal(), &look, now).unwrap();
            if jobs.is_empty() {
                let next = post.next_moment(&look, now);
                teller.next = next.map(|next| at + next.duration_since(now));
                teller.post = Some(post);
                return !teller.failed;
            }
            for job in jobs {
                self.coverage.saw("reminders: sent");
                let key = job.message.key.clone();
                let journal = self.gateway.journal();
                match teller.random.between(0, 99) {
                    0..2 => {
                        self.coverage.saw("reminders: killed before it was sent");
                        teller.next = Some(later(at, 5_000));
                        return false;
                    }
                    2..4 => {
                        self.coverage.saw("reminders: killed after it was sent");
                        teller.received(&job);
                        *teller.again.entry(key).or_default() += 1;
                        teller.next = Some(later(at, 5_000));
                        return false;
                    }
                    4..6 if at >= teller.down_until => {
                        self.coverage.saw("reminders: the answer was lost");
                        teller.received(&job);
                        *teller.again.entry(key).or_default() += 1;
                        teller.failed = true;
                        post.done(journal, &job, Err("no answer"), now).unwrap();
                    }
                    _ if at < teller.down_until => {
                        teller.failed = true;
                        post.done(journal, &job, Err("refused"), now).unwrap();
                    }
                    _ => {
                        if job.message.kind == "lapsed" {
                            self.coverage.saw("reminders: lapsed, and named when it could be");
                        }
                        teller.received(&job);
                        teller.failed = false;
                        post.done(journal, &job, Ok(()), now).unwrap();
                    }
                }
            }
        }
        panic!("there is no end of messages");
    }

    /// Everything was told that had to be by now.
    fn check_told(&mut self, teller: &Teller, at: Timestamp) {
        self.check_urgent(teller, at);
        let zone = self.zone();
        let clock = zone.to_datetime(at).time();
        let quiet = clock < Time::constant(7, 30, 0, 0) || clock > Time::constant(20, 30, 0, 0);
        // Which days and hours were meant is in doubt for a while after a move.
        let moved = self.zones.last().is_some_and(|(from, _)| {
            self.zones.len() > 1 && *from > later(at, -SignedDuration::from_hours(24 * 20).as_millis() as i64)
        });
        if quiet || moved {
            return;
        }
        for (person, from, said) in &teller.plans {
            let id = person_id(*person);
            let over = zone
                .to_timestamp((*from + 9.days()).to_datetime(Time::midnight()))
                .unwrap();
            let hours = |from: Timestamp| at.duration_since(from).as_hours();
            if (0..24 * 10).contains(&hours(over)) {
                self.coverage.saw("reminders: the end of a period had to be told");
                let key = format!("period-finished/{id}/{from}");
                assert!(teller.told.contains_key(&key), "{key} was not told by {at}");
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
                    if closes <= *said || !(2..22).contains(&hours(closes)) {
                        continue;
                    }
                    let near = later(opens, -3_600_000)..later(closes, 3_600_000);
                    let measured = self.rows.iter().any(|row| {
                        row.person == Some(*person) && row.at.is_some_and(|at| near.contains(&at))
                    });
                    if !measured {
                        self.coverage.saw("reminders: a missed session had to be told");
                        let key = format!("missed/{id}/{date}/{slot}");
                        assert!(teller.told.contains_key(&key), "{key} was not told by {at}");
                    }
                }
            }
        }
    }

    /// Very high stands for a day, low for as long as the cuff may be on.
    fn check_urgent(&mut self, teller: &Teller, at: Timestamp) {
        for row in &self.rows {
            let truth = &self.truths[row.truth];
            let (Some(person), Some(taken), Some([systolic, diastolic, _])) =
                (row.person, row.at, truth.shown)
            else {
                continue;
            };
            let minutes = at.duration_since(taken).as_mins();
            let high = systolic >= 180 || diastolic >= 110;
            let low = systolic < 90 || diastolic < 60;
            let due = high && (0..23 * 60).contains(&minutes) || low && !high && (0..9).contains(&minutes);
            let alone = || {
                let same = |other: &&super::Row| other.person == Some(person) && other.at == Some(taken);
                self.rows.iter().filter(same).count() == 1
            };
            if due && taken <= at && !truth.discarded && alone() {
                self.coverage
                    .saw("reminders: a very high or low reading had to be told");
                assert!(
                    teller.urgent.contains(&row.id),
                    "{systolic}/{diastolic} of person {person} at {taken} was not told by {at}: {}",
                    row.id
                );
            }
        }
    }
}
