//! A household that lives through days: people who measure, monitors that tell, and the truth beside it.

use super::clock::Clock;
use super::monitor::{LinkFaults, Make, Monitor, RecordNumber, Stamps, Taken, Visit, later, whole};
use super::person::{Fault, Habits, Person, Pressure, Slot, disturbance};
use super::random::Random;
use crate::frame::Frame;
use crate::household::{self as stated, MonitorAddress, MonitorId, PersonId, Statement};
use jiff::civil::{Date, Time};
use jiff::tz::TimeZone;
use jiff::{SignedDuration, Timestamp};

/// How many readings a person takes in one session at most, however often the monitor complains.
const READINGS_MAX: usize = 4;

/// People who share a monitor, or one who has it alone.
#[derive(Clone, Debug)]
pub struct Shared {
    /// The household's word for it.
    pub id: MonitorId,
    /// The invented monitor, with its clock and its memory.
    pub monitor: Monitor,
    /// Who uses it.
    pub people: Vec<Person>,
    /// How well the gateway hears it.
    pub reception: Reception,
    /// What else happens to it, in order of time.
    pub happenings: Vec<(Timestamp, Happening)>,
}

/// How well the gateway hears a monitor: chances of what goes wrong.
#[derive(Clone, Copy, PartialEq, Debug, Default)]
pub struct Reception {
    /// Nothing is heard of a whole session; the monitor tells it later.
    pub out_of_reach: f64,
    /// The monitor hangs up while it is sending, for each connection.
    pub hangs_up: f64,
    /// The confirmation of the last indication is lost, for each connection.
    pub loses_confirmation: f64,
}

/// What happens to a monitor between measurements.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Happening {
    /// It gets new batteries, and its clock begins anew.
    NewBatteries,
    /// Somebody sets its clock by the one on the wall.
    ClockSet {
        /// And is so many seconds off.
        off_by_s: i32,
    },
}

/// One measurement as it truly was.
#[derive(Clone, PartialEq, Debug)]
pub struct Truth {
    /// On which monitor.
    pub monitor: MonitorAddress,
    /// Its number there.
    pub record: RecordNumber,
    /// Who had the cuff on.
    pub person: PersonId,
    /// On which day, by the household's calendar.
    pub day: Date,
    /// In which part of it.
    pub slot: Slot,
    /// When it ended.
    pub end: Timestamp,
    /// Systolic and diastolic pressure in mmHg and pulse, undisturbed.
    pub true_values: [f64; 3],
    /// The same as displayed; `None` for an error.
    pub displayed: Option<[i16; 3]>,
    /// What was wrong.
    pub faults: Vec<Fault>,
    /// Whether its technique, as far as this monitor can see it, lets it be averaged. Whether its time can be told is
    /// another question.
    pub counts: bool,
    /// How many times the gateway heard it.
    pub heard: u32,
}

/// What days gave.
#[derive(Clone, PartialEq, Debug, Default)]
pub struct Lived {
    /// What the gateway heard, in order of time.
    pub frames: Vec<Frame>,
    /// What was measured, in order of time.
    pub truth: Vec<Truth>,
}

/// An invented household, which lives day by day.
#[derive(Clone, Debug)]
pub struct Household {
    /// What the clock on the wall shows.
    pub zone: TimeZone,
    /// The first day.
    pub first: Date,
    /// Its monitors, each with its people.
    pub shared: Vec<Shared>,
}

impl Household {
    /// A seed with which the demonstration's first week has something of everything: a reading too soon, a movement, a
    /// loose cuff, an error, an irregular pulse, a record sent twice, a burst told late.
    pub const DEMONSTRATION_SEED: u64 = 72;

    /// The household of the demonstration: two invented people who share one invented monitor by its user index,
    /// paired the evening before.
    pub fn demonstration(first: Date, zone: TimeZone) -> Self {
        let pairing = wall(&zone, first, Time::constant(18, 30, 0, 0), -24 * 60);
        let showed = zone.to_datetime(later(pairing, 37_000));
        let person = |id, label: &str, user_id, pressure, habits| Person {
            id,
            label: label.to_owned(),
            user_id: Some(user_id),
            pressure,
            habits,
        };
        let second = Habits {
            morning: Time::constant(7, 25, 0, 0),
            evening: Time::constant(20, 5, 0, 0),
            ..Habits::human()
        };
        Self {
            first,
            shared: vec![Shared {
                id: word("m1"),
                monitor: Monitor::new(
                    Make::plain([0xc0, 0xff, 0xee, 0, 0, 1]),
                    Clock::new(pairing, Some(showed), 1_500),
                ),
                people: vec![
                    person(
                        word("p1"),
                        "Invented person A",
                        1,
                        Pressure::usual(137.0, 86.0, 71.0),
                        Habits::human(),
                    ),
                    person(
                        word("p2"),
                        "Invented person B",
                        2,
                        Pressure::usual(121.0, 76.0, 64.0),
                        second,
                    ),
                ],
                reception: Reception {
                    out_of_reach: 0.1,
                    hangs_up: 0.05,
                    loses_confirmation: 0.05,
                },
                happenings: Vec::new(),
            }],
            zone,
        }
    }

    /// One person with one monitor whose clock is right on the evening before the first day; for tests, which change
    /// what they are about.
    pub fn alone(first: Date, zone: TimeZone, make: Make, pressure: Pressure, habits: Habits) -> Self {
        let evening = wall(&zone, first, Time::constant(18, 30, 0, 0), -24 * 60);
        let clock = Clock::new(evening, Some(zone.to_datetime(evening)), 0);
        Self {
            first,
            shared: vec![Shared {
                id: word("m1"),
                monitor: Monitor::new(make, clock),
                people: vec![Person {
                    id: word("p1"),
                    label: "Invented person A".to_owned(),
                    user_id: None,
                    pressure,
                    habits,
                }],
                reception: Reception::default(),
                happenings: Vec::new(),
            }],
            zone,
        }
    }

    /// What the household states of itself before the first frame: zone, people, monitors, whose index is whose, and
    /// a week under this protocol for everybody.
    pub fn statements(&self, protocol: &str) -> Vec<Statement> {
        let offset = self
            .zone
            .to_offset(wall(&self.zone, self.first, Time::midnight(), 0));
        let zone = self
            .zone
            .iana_name()
            .map_or_else(|| offset.to_string(), str::to_owned);
        let mut statements = vec![Statement::Zone { zone, from: None }];
        for shared in &self.shared {
            let make = &shared.monitor.make;
            statements.push(Statement::Monitor {
                monitor: shared.id.clone(),
                details: stated::Monitor {
                    address: Some(make.address.clone()),
                    name: Some(make.name.clone()),
                    serial: Some(make.serial.clone()),
                    site: match make.appearance.0 {
                        0x0381 => Some(stated::Site::UpperArm),
                        0x0382 => Some(stated::Site::Wrist),
                        _ => None,
                    },
                    ..stated::Monitor::default()
                },
            });
            for person in &shared.people {
                let id = person.id.clone();
                statements.push(Statement::Person {
                    person: id.clone(),
                    details: stated::Person {
                        label: person.label.clone(),
                        ..stated::Person::default()
                    },
                });
                let monitor = shared.id.clone();
                statements.push(match person.user_id {
                    Some(user_id) => Statement::UserIndex {
                        monitor,
                        user_id,
                        person: Some(id.clone()),
                        from: None,
                    },
                    None => Statement::UsualPerson {
                        monitor,
                        person: Some(id.clone()),
                        from: None,
                    },
                });
                statements.push(Statement::Period {
                    person: id,
                    protocol: protocol.to_owned(),
                    from: self.first,
                    days: None,
                });
            }
        }
        statements
    }

    /// Lives through so many days. The same seed gives the same days.
    pub fn live(mut self, seed: u64, days: u16) -> Lived {
        let mut lived = Lived::default();
        let mut random = Random::new(seed);
        for shared in &mut self.shared {
            shared.live(&self.zone, self.first, days, random.split(), &mut lived);
        }
        lived.frames.sort_by_key(|frame| frame.received_at);
        lived.truth.sort_by_key(|truth| truth.end);
        lived
    }
}

/// What somebody sets out to do.
struct Plan<'a> {
    start: Timestamp,
    person: &'a Person,
    day: Date,
    slot: Slot,
    of_day: super::person::Day,
    hasty: bool,
    out_of_reach: bool,
    random: Random,
}

impl Shared {
    fn live(&mut self, zone: &TimeZone, first: Date, days: u16, mut random: Random, lived: &mut Lived) {
        let mut air = random.split();
        let mut streams: Vec<Random> = self.people.iter().map(|_| random.split()).collect();
        let people = self.people.clone();
        let mut happenings = std::mem::take(&mut self.happenings).into_iter().peekable();
        let begin = lived.truth.len();
        let mut free = wall(zone, first, Time::constant(18, 30, 0, 0), -24 * 60);
        // Pairing: nothing is stored yet, everything is read.
        lived
            .frames
            .extend(self.monitor.connect(free, zone, LinkFaults::default()).frames);
        for day in first.series(jiff::Span::new().days(1)).take(days.into()) {
            let mut plans: Vec<Plan<'_>> = people
                .iter()
                .zip(&mut streams)
                .flat_map(|(person, random)| plans(person, zone, day, day == first, self.reception, random))
                .collect();
            plans.sort_by_key(|plan| plan.start);
            for plan in plans {
                while let Some((at, happening)) = happenings.next_if(|(at, _)| *at <= plan.start) {
                    self.happen(at, happening, zone);
                }
                // One cuff: the next person waits for the one before.
                free = self.session(plan, free, zone, &mut air, begin, lived);
            }
        }
    }

    fn happen(&mut self, at: Timestamp, happening: Happening, zone: &TimeZone) {
        match happening {
            Happening::NewBatteries => self.monitor.change_batteries(at),
            Happening::ClockSet { off_by_s } => {
                let to = zone.to_datetime(later(at, 1000 * i64::from(off_by_s)));
                self.monitor.clock.set(at, to);
            }
        }
    }

    /// One sitting; tells when the cuff is free again.
    fn session(
        &mut self,
        mut plan: Plan<'_>,
        free: Timestamp,
        zone: &TimeZone,
        air: &mut Random,
        begin: usize,
        lived: &mut Lived,
    ) -> Timestamp {
        let random = &mut plan.random;
        let mut start = plan.start.max(free);
        // What the person has seen on the display without a complaint.
        let mut good: Vec<[i16; 3]> = Vec::new();
        for n in 0..READINGS_MAX {
            let too_soon = plan.hasty && n == 1;
            let mut faults = plan.person.faults(random);
            if too_soon {
                faults.push(Fault::TooSoon);
            }
            let true_values = plan.person.at(plan.of_day, plan.slot, n == 0, random);
            let [off_s, off_d] = disturbance(&faults, random);
            let [systolic, diastolic, pulse] = true_values;
            let displayed = (!faults.contains(&Fault::NoValue))
                .then(|| [systolic + off_s, diastolic + off_d, pulse].map(whole));
            let end = later(start, random.between(30_000, 44_000));
            let watched = self.monitor.watched();
            let set_aside = |fault: &Fault| match fault {
                Fault::BodyMovement | Fault::CuffTooLoose | Fault::ImproperPosition => {
                    fault.status() & watched != 0
                }
                Fault::NoValue => true,
                Fault::TooSoon => self.monitor.make.stamps == Stamps::Seconds,
                Fault::IrregularPulse | Fault::Talked => false,
            };
            let counts = !faults.iter().any(set_aside);
            let complaint = faults
                .iter()
                .any(|fault| *fault != Fault::TooSoon && set_aside(fault));
            let taken = Taken {
                start,
                end,
                values: displayed,
                user_id: plan.person.user_id,
                status: faults.iter().fold(0, |bits, fault| bits | fault.status()),
            };
            let (record, heard) = self.measure(&taken, plan.out_of_reach, zone, air);
            lived.frames.extend(heard.frames);
            lived.truth.push(Truth {
                monitor: self.monitor.make.address.clone(),
                record,
                person: plan.person.id.clone(),
                day: plan.day,
                slot: plan.slot,
                end,
                true_values,
                displayed,
                faults,
                counts,
                heard: 0,
            });
            for truth in lived.truth.iter_mut().skip(begin) {
                truth.heard += u32::from(heard.records.contains(&truth.record));
            }
            good.extend(displayed.filter(|_| !complaint));
            let enough = match good[..] {
                [one, two] => !apart(one, two),
                _ => good.len() > 2,
            };
            let hasty_next = plan.hasty && n == 0;
            let pause = if hasty_next {
                random.between(3_000, 12_000)
            } else {
                random.between(60_000, 95_000)
            };
            start = later(end, pause);
            if enough {
                break;
            }
        }
        start
    }

    fn measure(
        &mut self,
        taken: &Taken,
        out_of_reach: bool,
        zone: &TimeZone,
        air: &mut Random,
    ) -> (RecordNumber, Visit) {
        let cut = air.chance(self.reception.hangs_up);
        let stored = i64::try_from(self.monitor.kept().count()).unwrap_or(0);
        let link = LinkFaults {
            hangs_up_after: usize::try_from(air.between(0, stored)).ok().filter(|_| cut),
            loses_last_confirmation: air.chance(self.reception.loses_confirmation),
        };
        let delay = air.between(800, 2_500);
        if out_of_reach {
            (self.monitor.keep(taken), Visit::default())
        } else if self.monitor.make.tells_while_measuring {
            self.monitor.connect_and_measure(taken, zone, link)
        } else {
            let record = self.monitor.keep(taken);
            (record, self.monitor.connect(later(taken.end, delay), zone, link))
        }
    }
}

/// The sessions of one person's day.
fn plans<'a>(
    person: &'a Person,
    zone: &TimeZone,
    day: Date,
    first: bool,
    reception: Reception,
    random: &mut Random,
) -> Vec<Plan<'a>> {
    let habits = person.habits;
    let of_day = person.day(first, random);
    [(Slot::Morning, habits.morning), (Slot::Evening, habits.evening)]
        .into_iter()
        .filter_map(|(slot, about)| {
            let minutes = i64::from(whole(random.normal(0.0, habits.give_or_take)));
            let forgotten = random.chance(habits.forgets);
            let plan = Plan {
                start: later(wall(zone, day, about, minutes), random.between(0, 59_999)),
                person,
                day,
                slot,
                of_day,
                hasty: random.chance(habits.too_soon),
                out_of_reach: random.chance(reception.out_of_reach),
                random: random.split(),
            };
            (!forgotten).then_some(plan)
        })
        .collect()
}

/// The common rule for a third reading: the first two differ by more than 10, in either pressure.
fn apart(one: [i16; 3], two: [i16; 3]) -> bool {
    let ([s1, d1, _], [s2, d2, _]) = (one, two);
    (s1 - s2).abs() > 10 || (d1 - d2).abs() > 10
}

/// The moment at which the clock on the wall shows this, and some minutes more. Outside the calendar, its edge.
fn wall(zone: &TimeZone, day: Date, time: Time, minutes: i64) -> Timestamp {
    let civil = day
        .to_datetime(time)
        .saturating_add(SignedDuration::from_mins(minutes));
    zone.to_timestamp(civil).unwrap_or(Timestamp::MIN)
}

/// One of the words below.
#[expect(
    clippy::expect_used,
    reason = "only for the constants in this file, which a test goes through"
)]
fn word<T: std::str::FromStr<Err: std::fmt::Debug>>(text: &str) -> T {
    text.parse().expect("a constant that is an id")
}
