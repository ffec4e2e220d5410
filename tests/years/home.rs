//! A home: who lives there, what they measure, and what goes wrong.

mod air;
mod befall;
mod checks;
mod judged;
mod measuring;
mod people;
mod sent;
mod told;

use crate::years::coverage::Coverage;
use crate::years::device::Device;
use crate::years::gateway::Gateway;
use crate::years::truth::{Groups, Row, Truth};
use jiff::civil::{Date, Time, date};
use jiff::tz::TimeZone;
use jiff::{SignedDuration, Timestamp, ToSpan};
use quietcuff::frame::Frame;
use quietcuff::household::{self, PersonId, Statement};
use quietcuff::radio::simulated::Random;
use sent::Sender;
use std::collections::BTreeMap;
use std::rc::Rc;
use told::Teller;

const PROTOCOL: &str = "seven-day";
const ZONES: [&str; 6] = [
    "Europe/Oslo",
    "America/New_York",
    "Asia/Kolkata",
    "Australia/Lord_Howe",
    "America/Santiago",
    "Pacific/Auckland",
];
const FIRST_YEAR: i16 = 2026;
/// Things that befall a home come so long before the event that they are planned with.
const BEFORE_MS: i64 = 14_500_000;
/// Of two records that should be the same, so many lines are told.
const LINES_TOLD: usize = 6;

#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug)]
enum Event {
    PeriodBegins { person: usize, from: Date },
    Sitting { person: usize },
    PeriodEnds { person: usize, from: Date },
}

/// A frame on its way to the disk.
struct OnItsWay {
    frame: Frame,
    truth: Option<usize>,
}

/// A part of a connection, and what was known of the monitor's clock when it began.
struct Burst {
    device: usize,
    at: Timestamp,
    set_meanwhile: bool,
    unsure: bool,
    frames: Vec<OnItsWay>,
}

pub(crate) struct Home {
    random: Random,
    /// What people say besides; drawn for itself, so that a home's other life does not depend on it.
    words: Random,
    zones: Vec<(Timestamp, TimeZone)>,
    /// Their usual pressures.
    people: Vec<[f64; 3]>,
    devices: Vec<Device>,
    /// Which device is whose; `None` where it has been replaced.
    own: Vec<usize>,
    gateway: Gateway,
    /// Nobody listens until then.
    down_until: Timestamp,
    /// The latest that anything has happened.
    now: Timestamp,
    truths: Vec<Truth>,
    groups: Groups,
    waiting: Vec<Burst>,
    rows: Vec<Row>,
    /// Which device sent what, of each frame that is kept.
    frames: BTreeMap<i64, (usize, Rc<[u8]>)>,
    /// What waited for room came to the disk since the record was last looked at.
    behind: bool,
    enrol_later: Option<(usize, Timestamp)>,
    coverage: Coverage,
    notes: u32,
    teller: Option<Teller>,
    sender: Option<Sender>,
}

fn person_id(person: usize) -> PersonId {
    format!("p{person}").parse().unwrap()
}

fn later(at: Timestamp, millis: i64) -> Timestamp {
    at + SignedDuration::from_millis(millis)
}

impl Home {
    /// Lives through so many years and checks all the while.
    pub(crate) fn live(seed: u64, years: u64) -> Coverage {
        let mut home = Self::new(seed);
        for (at, event) in home.plan(years) {
            home.wake(at);
            home.wake_to_deliver(at);
            home.happen(at, event);
            home.remind(later(home.now.max(at), 90_000));
            home.deliver(later(home.now.max(at), 90_000));
        }
        home.deliver_everything();
        home.coverage
    }

    fn new(seed: u64) -> Self {
        let mut random = Random::new(seed.wrapping_mul(0x2545_f491_4f6c_dd1d));
        let zone = TimeZone::get(ZONES[random.between(0, 5) as usize]).unwrap();
        let at = zone.to_timestamp(date(FIRST_YEAR, 1, 2).at(12, 0, 0, 0)).unwrap();
        let people: Vec<[f64; 3]> = (0..if random.chance(0.4) { 2 } else { 1 })
            .map(|_| {
                [
                    random.normal(134.0, 10.0),
                    random.normal(84.0, 6.0),
                    random.normal(70.0, 5.0),
                ]
            })
            .collect();
        let shared = people.len() == 2 && random.chance(0.5);
        let mut statements = vec![Statement::Zone {
            zone: zone.iana_name().unwrap().to_owned(),
            from: None,
        }];
        for person in 0..people.len() {
            statements.push(Statement::Person {
                person: person_id(person),
                details: household::Person {
                    label: format!("Invented person {person}"),
                    ..household::Person::default()
                },
            });
        }
        let everybody: Vec<usize> = (0..people.len()).collect();
        let (mut devices, mut own) = (Vec::new(), Vec::new());
        for person in &everybody {
            if shared && *person > 0 {
                own.push(0);
                continue;
            }
            let number = devices.len() as u8 + 1;
            let mut device = Device::new(number, at, &zone, shared, &mut random);
            let its = if shared { everybody.clone() } else { vec![*person] };
            statements.extend(device.enrolment(&its, at));
            own.push(devices.len());
            devices.push(device);
        }
        let gateway = Gateway::new(at, &statements);
        let sender = Sender::new(seed, people.len());
        let teller = Teller::new(seed, people.len());
        Self {
            random,
            words: Random::new(seed.wrapping_mul(0xd134_2543_de82_ef95)),
            zones: vec![(Timestamp::MIN, zone)],
            people,
            devices,
            own,
            gateway,
            down_until: at,
            now: at,
            truths: Vec::new(),
            groups: Groups::new(),
            waiting: Vec::new(),
            rows: Vec::new(),
            frames: BTreeMap::new(),
            behind: false,
            enrol_later: None,
            coverage: Coverage::default(),
            notes: 0,
            teller,
            sender,
        }
    }

    fn zone(&self) -> TimeZone {
        self.zones.last().unwrap().1.clone()
    }

    fn zone_at(&self, at: Timestamp) -> TimeZone {
        let held = self.zones.iter().rev().find(|(from, _)| *from <= at);
        held.unwrap().1.clone()
    }

    fn date(&self, at: Timestamp) -> Date {
        self.zone_at(at).to_datetime(at).date()
    }

    /// Weeks of measuring, a few times a year, and a sitting now and then between them.
    fn plan(&mut self, years: u64) -> Vec<(Timestamp, Event)> {
        let mut events = Vec::new();
        let zone = self.zone();
        let wall = |day: Date, time: Time| zone.to_timestamp(day.to_datetime(time)).unwrap();
        for person in 0..self.people.len() {
            for year in (FIRST_YEAR..).take(years as usize) {
                let mut weeks = Vec::new();
                for half in [1, 7] {
                    if half == 7 && self.random.chance(0.5) {
                        continue;
                    }
                    // Often over a change of the clocks.
                    let from = if self.random.chance(0.3) {
                        date(year, half + 2 + i8::from(half == 7), 24)
                    } else {
                        date(year, half, 5) + self.random.between(0, 120).days()
                    };
                    weeks.push(from);
                    events.push((
                        wall(from, Time::constant(4, 0, 0, 0)),
                        Event::PeriodBegins { person, from },
                    ));
                    events.push((
                        wall(from + 8.days(), Time::constant(3, 0, 0, 0)),
                        Event::PeriodEnds { person, from },
                    ));
                    for day in 0..7 {
                        for (hour, minute) in [(7, 5), (19, 40)] {
                            events.push(self.sitting(person, &wall, from + day.days(), hour, minute));
                        }
                    }
                }
                for _ in 0..self.random.between(2, 6) {
                    let day = date(year, 1, 5) + self.random.between(0, 350).days();
                    if weeks
                        .iter()
                        .all(|from| !(*from - 1.days()..*from + 9.days()).contains(&day))
                    {
                        let hour = self.random.between(6, 20) as i8;
                        events.push(self.sitting(person, &wall, day, hour, 30));
                    }
                }
            }
        }
        events.sort_by_key(|(at, event)| (*at, *event));
        events
    }

    fn sitting(
        &mut self,
        person: usize,
        wall: &impl Fn(Date, Time) -> Timestamp,
        day: Date,
        hour: i8,
        minute: i8,
    ) -> (Timestamp, Event) {
        let about = wall(day, Time::constant(hour, minute, 0, 0));
        // The second person comes after the first.
        let at = later(
            about,
            person as i64 * 1_500_000 + self.random.between(-300_000, 300_000),
        );
        (at, Event::Sitting { person })
    }

    fn happen(&mut self, at: Timestamp, event: Event) {
        match event {
            Event::PeriodBegins { person, from } => {
                self.state(
                    at,
                    &[Statement::Period {
                        person: person_id(person),
                        protocol: PROTOCOL.to_owned(),
                        from,
                        days: None,
                    }],
                );
                if let Some(teller) = &mut self.teller {
                    teller.planned(person, from, at);
                }
                if let Some(sender) = &mut self.sender {
                    sender.planned(person, from);
                }
            }
            Event::Sitting { person } => {
                let at = at.max(later(self.now, 60_000));
                let before = self.befall(at, person);
                self.wake_between(before, at);
                self.sit(later(at, 180_000), person);
                self.people_say(later(self.now, 60_000));
                self.people_correct(later(self.now, 65_000));
            }
            Event::PeriodEnds { person, from } => {
                if self.gateway.full {
                    self.make_room();
                }
                self.gateway.settle();
                self.check();
                self.check_period(person, from);
                self.check_rebuild();
            }
        }
    }

    /// The household states something, unless the disk is full: then nobody gets an answer.
    fn state(&mut self, at: Timestamp, statements: &[Statement]) {
        if self.gateway.full {
            self.make_room();
        }
        let at = self.gateway.wall(at);
        self.gateway.journal().state(at, statements).unwrap();
    }

    fn make_room(&mut self) {
        self.behind = true;
        self.gateway.make_room();
        for burst in std::mem::take(&mut self.waiting) {
            self.committed(&burst);
        }
    }
}
