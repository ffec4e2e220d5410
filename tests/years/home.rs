//! A home: who lives there, what they measure, and what goes wrong.

use crate::coverage::Coverage;
use crate::device::Device;
use crate::gateway::Gateway;
use crate::truth::{self, FOLLOWED_S, Groups, Lie, Receipt, Row, Stands, Truth};
use jiff::civil::{Date, Time, date};
use jiff::tz::TimeZone;
use jiff::{SignedDuration, Timestamp, ToSpan};
use quietcuff::gatt::Characteristic;
use quietcuff::household::{self, Household, Note, PersonId, Statement, Zones};
use quietcuff::journal::Wanted;
use quietcuff::monitoring::period::period;
use quietcuff::monitoring::protocol::Protocols;
use quietcuff::radio::Frame;
use quietcuff::radio::simulated::{Link, Memory, Random, Taken};
use std::collections::{HashMap, HashSet};
use std::sync::LazyLock;

static PROTOCOLS: LazyLock<Protocols> = LazyLock::new(|| Protocols::built_in().unwrap());
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
    enrol_later: Option<(usize, Timestamp)>,
    coverage: Coverage,
    notes: u32,
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
            home.happen(at, event);
        }
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
            statements.extend(device.enrolment(&its));
            own.push(devices.len());
            devices.push(device);
        }
        let gateway = Gateway::new(at, &statements);
        Self {
            random,
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
            enrol_later: None,
            coverage: Coverage::default(),
            notes: 0,
        }
    }

    fn zone(&self) -> TimeZone {
        self.zones.last().unwrap().1.clone()
    }

    fn date(&self, at: Timestamp) -> Date {
        let zone = self
            .zones
            .iter()
            .rev()
            .find(|(from, _)| *from <= at)
            .map(|(_, zone)| zone);
        zone.unwrap().to_datetime(at).date()
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
            Event::PeriodBegins { person, from } => self.state(
                at,
                &[Statement::Period {
                    person: person_id(person),
                    protocol: PROTOCOL.to_owned(),
                    from,
                    days: None,
                }],
            ),
            Event::Sitting { person } => {
                let at = at.max(later(self.now, 60_000));
                self.befall(at, person);
                self.sit(later(at, 180_000), person);
                self.people_say(later(self.now, 60_000));
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
        self.gateway.make_room();
        for burst in std::mem::take(&mut self.waiting) {
            self.committed(&burst);
        }
    }

    // --- what befalls a home ---------------------------------------------------------------------------------------

    fn befall(&mut self, at: Timestamp, person: usize) {
        // Behind everything that has happened.
        let before = later(at, -self.random.between(600_000, 14_400_000)).max(later(self.now, 1_000));
        let at = at.max(later(before, 120_000));
        let device = self.own[person];
        if self.zone().to_offset(later(at, -43_200_000)) != self.zone().to_offset(at) {
            self.coverage.saw("home: summer time begins or ends");
            // With the kitchen clock also the monitor's; or not.
            if self.random.chance(0.5) {
                self.set_clock(device, before, 0);
            }
        }
        if !self.gateway.knows_the_time() && self.random.chance(0.5) {
            self.learn_the_time(before);
        }
        if self.gateway.full && self.random.chance(0.5) {
            self.make_room();
        }
        if let Some((device, when)) = self.enrol_later
            && when <= at
        {
            self.enrol_later = None;
            let whose: Vec<usize> = (0..self.people.len())
                .filter(|p| self.own[*p] == device)
                .collect();
            let statements = self.devices[device].enrolment(&whose);
            self.state(before, &statements);
        }
        match self.random.between(0, 999) {
            0..10 => {
                self.coverage.saw("monitor: battery lost");
                self.devices[device].monitor.change_batteries(before);
                self.devices[device].settings.push(before);
                self.devices[device].trusted = false;
                if self.random.chance(0.6) {
                    self.set_clock(device, later(before, 60_000), 0);
                }
            }
            10..22 => self.set_clock(device, before, 0),
            22..30 => {
                self.coverage.saw("monitor: clock set wrong");
                let off = self.random.between(-5_400, 5_400);
                self.set_clock(device, before, off);
            }
            30..34 => {
                let zone = TimeZone::get(ZONES[self.random.between(0, 5) as usize]).unwrap();
                if zone == self.zone() {
                    return;
                }
                self.coverage.saw("home: moves to another zone");
                let name = zone.iana_name().unwrap().to_owned();
                self.state(
                    before,
                    &[Statement::Zone {
                        zone: name,
                        from: Some(self.gateway.wall(before)),
                    }],
                );
                self.zones.push((self.gateway.wall(before), zone));
                if self.random.chance(0.7) {
                    self.set_clock(device, before, 0);
                }
            }
            34..46 => self.crash(before),
            46..52 if !self.gateway.full => {
                self.coverage.saw("gateway: disk full");
                self.gateway.fill_disk();
            }
            52..58 => {
                let off = self.random.between(1, 60) * 3_600_000;
                self.down_until = self.down_until.max(later(before, off));
            }
            58..61 if self.enrol_later.is_none() && self.devices.len() < 200 => self.replace(before, person),
            _ => {}
        }
    }

    fn set_clock(&mut self, device: usize, at: Timestamp, off_s: i64) {
        let zone = self.zone();
        let device = &mut self.devices[device];
        let to = zone.to_datetime(later(at, off_s * 1000));
        device.monitor.clock.set(at, to);
        device.settings.push(at);
        device.trusted = false;
        if off_s == 0 {
            self.coverage.saw("monitor: clock set to the wall");
        }
    }

    fn replace(&mut self, at: Timestamp, person: usize) {
        self.coverage.saw("monitor: replaced");
        let old = self.own[person];
        let number = self.devices.len() as u8 + 1;
        let zone = self.zone();
        let mut device = Device::new(number, at, &zone, self.devices[old].indexed, &mut self.random);
        // Until it is enrolled it is known by its address only.
        let new = self.devices.len();
        let whose: Vec<usize> = (0..self.people.len()).filter(|p| self.own[*p] == old).collect();
        for own in &mut self.own {
            if *own == old {
                *own = new;
            }
        }
        if self.random.chance(0.5) {
            let statements = device.enrolment(&whose);
            self.devices.push(device);
            self.state(at, &statements);
        } else {
            self.coverage.saw("monitor: heard before it is enrolled");
            self.devices.push(device);
            self.enrol_later = Some((new, later(at, self.random.between(1, 40) * 3_600_000)));
        }
    }

    fn crash(&mut self, at: Timestamp) {
        self.coverage.saw("gateway: crash while settled");
        self.power_lost(at);
    }

    fn power_lost(&mut self, at: Timestamp) {
        if self.gateway.full {
            self.coverage.saw("gateway: disk full through a crash");
            self.waiting.clear();
        }
        for truth in &mut self.truths {
            if truth.receipt == Receipt::NotYet {
                truth.receipt = Receipt::Never;
                // What that boot made of this monitor's clock stays in the record.
                self.devices[truth.device].misled = true;
            }
        }
        let up = later(at, self.random.between(30_000, 600_000));
        let error = match self.random.between(0, 9) {
            // Without a clock of its own: 1970, or where it was when it last wrote the time down.
            0 => -up.duration_since(Timestamp::UNIX_EPOCH),
            1..3 => -SignedDuration::from_millis(self.random.between(60_000, 30 * 3_600_000)),
            _ => SignedDuration::ZERO,
        };
        self.gateway.crash(up, error);
        if !error.is_zero() {
            self.coverage.saw("gateway: boots without its own time");
        }
        self.down_until = self.down_until.max(up);
        self.gateway.settle();
        self.check();
    }

    fn learn_the_time(&mut self, at: Timestamp) {
        self.coverage.saw("gateway: learns the time");
        // Its sample waits for room as its frames do.
        if self.gateway.full {
            self.make_room();
        }
        self.gateway.learn_the_time(at);
        for truth in &mut self.truths {
            if truth.receipt == Receipt::NotYet {
                truth.receipt = Receipt::Right;
                self.devices[truth.device].unsure = false;
            }
        }
        self.gateway.settle();
        self.check();
    }

    // --- measuring -------------------------------------------------------------------------------------------------

    fn sit(&mut self, start: Timestamp, person: usize) {
        if self.random.chance(0.04) {
            self.coverage.saw("people: forget a sitting");
            return;
        }
        let mut device = self.own[person];
        let other = self.own[(person + 1) % self.people.len()];
        if other != device && self.random.chance(0.04) {
            self.coverage.saw("people: swap monitors");
            device = other;
        }
        let stamped = self.devices[device].stamped();
        let far = stamped && self.random.chance(0.1);
        let off = start < self.down_until;
        if off {
            self.coverage.saw("gateway: off while people measure");
        }
        let readings = if self.random.chance(0.04) {
            self.coverage.saw("people: forget the second reading");
            1
        } else {
            2
        };
        let hasty = self.random.chance(0.06);
        let mut begin = start;
        for n in 0..readings {
            let taken = self.measure(person, device, begin);
            let last = n + 1 == readings;
            let tells = self.devices[device].eager || last || !stamped;
            let listening = !far && later(taken.start, -1_000) > self.down_until;
            if listening && tells {
                self.connect(device, &taken, person);
            } else {
                let number = self.devices[device].monitor.keep(&taken);
                self.measured(device, person, number, &taken);
                if !stamped {
                    // It keeps nothing that nobody hears.
                    let zone = self.zone();
                    self.devices[device]
                        .monitor
                        .connect(taken.end, &zone, Link::default());
                }
            }
            let pause = if hasty && n == 0 {
                self.coverage.saw("people: measure too soon");
                self.random.between(3_000, 9_000)
            } else {
                self.random.between(62_000, 95_000)
            };
            begin = later(taken.end, pause);
            self.now = self.now.max(later(taken.end, 10_000));
        }
    }

    fn measure(&mut self, person: usize, device: usize, start: Timestamp) -> Taken {
        let [systolic, diastolic, pulse] = self.people[person];
        let random = &mut self.random;
        let whole = |value: f64| value.round() as i16;
        let systolic = whole(random.normal(systolic, 7.0));
        let diastolic = whole(random.normal(diastolic, 5.0)).min(systolic - 20);
        let mut values = Some([systolic, diastolic, whole(random.normal(pulse, 4.0))]);
        let mut status = 0;
        if random.chance(0.04) {
            self.coverage.saw("people: move, loose cuff, wrong position");
            status |= [1, 1 << 1, 1 << 5][random.between(0, 2) as usize];
        }
        status |= u16::from(random.chance(0.02)) << 2;
        if random.chance(0.01) {
            self.coverage.saw("people: the cuff gives up");
            values = None;
        }
        let user_id = self.devices[device].indexed.then(|| match random.between(0, 99) {
            0..2 => {
                self.coverage.saw("people: press the other one's button");
                (person as u8 + 1) % 2 + 1
            }
            2 => {
                self.coverage.saw("monitor: user that nobody named");
                3
            }
            3 => {
                self.coverage.saw("monitor: unknown user");
                255
            }
            _ => person as u8 + 1,
        });
        let end = later(start, random.between(30_000, 44_000));
        Taken {
            start,
            end,
            values,
            user_id,
            status,
        }
    }

    fn measured(&mut self, device: usize, person: usize, number: u64, taken: &Taken) {
        let lie = match self.random.between(0, 199) {
            0 => Some(Lie::Impossible),
            1 => Some(Lie::Future),
            _ => None,
        };
        let lie = lie.filter(|_| self.devices[device].stamped());
        match lie {
            Some(Lie::Impossible) => self.coverage.saw("monitor: impossible stamp"),
            Some(Lie::Future) => self.coverage.saw("monitor: stamp from the future"),
            None => {}
        }
        self.devices[device].records.insert(number, self.truths.len());
        self.truths.push(Truth {
            device,
            person,
            index: taken.user_id,
            end: taken.end,
            shown: taken.values,
            status: taken.status,
            lie,
            confirmed: 0,
            kept: 0,
            gone: false,
            received: None,
            unseen_since: None,
            sure: false,
            receipt: Receipt::Right,
            assigned: None,
            timed: None,
            discarded: false,
        });
    }

    // --- the air ---------------------------------------------------------------------------------------------------

    fn connect(&mut self, device: usize, taken: &Taken, person: usize) {
        let zone = self.zone();
        let stamped = self.devices[device].stamped();
        let stored = self.devices[device].monitor.kept().count() as i64 + 1;
        let crashes = stamped && !self.gateway.full && self.random.chance(0.012);
        let cut = crashes || stamped && self.random.chance(0.05);
        let link = Link {
            hangs_up_after: cut.then(|| self.random.between(0, stored) as usize),
            loses_last_confirmation: self.random.chance(if crashes { 0.5 } else { 0.04 }),
        };
        let heard = if self.devices[device].make().tells_while_measuring {
            let (number, heard) = self.devices[device]
                .monitor
                .connect_and_measure(taken, &zone, link);
            self.measured(device, person, number, taken);
            heard
        } else {
            let number = self.devices[device].monitor.keep(taken);
            self.measured(device, person, number, taken);
            let at = later(taken.end, self.random.between(800, 2_500));
            self.devices[device].monitor.connect(at, &zone, link)
        };
        self.tell(device, heard, link, taken, crashes);
        if !stamped && link.loses_last_confirmation {
            // Without a stamp nobody could tell a record that comes again later from another one.
            let at = later(taken.end, 8_000);
            let heard = self.devices[device].monitor.connect(at, &zone, Link::default());
            // Nobody hears it when the power went in between.
            if at > self.down_until {
                self.tell(device, heard, Link::default(), taken, false);
            }
        }
    }

    fn tell(
        &mut self,
        device: usize,
        heard: quietcuff::radio::simulated::Heard,
        link: Link,
        taken: &Taken,
        crashes: bool,
    ) {
        let zone = self.zone();
        let mut records = heard.records.iter();
        let mut frames: Vec<OnItsWay> = Vec::with_capacity(heard.frames.len());
        for mut frame in heard.frames {
            let mut truth = None;
            if frame.characteristic == Characteristic::BLOOD_PRESSURE_MEASUREMENT {
                let nth = self.devices[device].records[records.next().unwrap()];
                self.lie(nth, &mut frame.value);
                truth = Some(nth);
            }
            frames.push(OnItsWay { frame, truth });
        }
        let Some(last) = frames.last() else { return };
        let at = last.frame.received_at;
        if link.hangs_up_after.is_some() {
            self.coverage.saw("monitor: hangs up in a burst");
        }
        if link.loses_last_confirmation {
            self.coverage.saw("monitor: confirmation lost");
        }
        let told: Vec<usize> = frames.iter().filter_map(|on| on.truth).collect();
        let unconfirmed = usize::from(link.loses_last_confirmation);
        for nth in told.iter().rev().skip(unconfirmed) {
            self.truths[*nth].confirmed += 1;
        }
        let late = told
            .iter()
            .any(|nth| later(self.truths[*nth].end, 600_000) < taken.end);
        if late {
            self.coverage.saw("monitor: stored records told late");
        }
        if told.iter().any(|nth| self.truths[*nth].kept > 0) {
            self.coverage.saw("monitor: sends what it sent before");
        }
        if !self.devices[device].stamped() {
            self.coverage.saw("monitor: without stamps");
        }
        self.garbage(&mut frames);
        let mut stamped: Vec<Frame> = frames.iter().map(|on| on.frame.clone()).collect();
        self.gateway.stamps(&mut stamped, &zone);
        for (on, frame) in frames.iter_mut().zip(stamped) {
            on.frame = frame;
        }
        let its = &self.devices[device];
        let seen = its.seen;
        let set_meanwhile = its
            .settings
            .iter()
            .any(|set| seen.is_none_or(|seen| *set > seen) && *set <= at);
        let unsure = its.unsure || its.misled;
        let burst = |frames| Burst {
            device,
            at,

            set_meanwhile,
            unsure,
            frames,
        };
        if crashes {
            return self.crash_within(burst(frames), link);
        }
        // As it comes: two bursts.
        let second = frames.split_off(frames.len() / 2);
        for part in [frames, second] {
            self.keep(burst(part));
        }
        if self.random.chance(0.01) && !self.gateway.full {
            self.coverage
                .saw("gateway: crash after the commit, before settling");
            return self.power_lost(later(at, 200));
        }
        self.gateway.settle();
        self.check();
        if self.random.chance(0.003) && !self.gateway.full {
            self.coverage.saw("gateway: crash while rebuilding");
            self.gateway.begin_to_rebuild();
            self.power_lost(later(at, 5_000));
        }
    }

    /// What the monitor really sends of this measurement: another stamp, for ever.
    fn lie(&self, nth: usize, value: &mut [u8]) {
        // Flags, three values of two octets, then the year, month, day, hour, minute and second (BPS 3.1).
        match self.truths[nth].lie {
            Some(Lie::Impossible) => value[9] = 13,
            Some(Lie::Future) => value[7..9].copy_from_slice(&2101_u16.to_le_bytes()),
            None => {}
        }
    }

    fn garbage(&mut self, frames: &mut Vec<OnItsWay>) {
        if !self.random.chance(0.03) {
            return;
        }
        self.coverage.saw("monitor: garbage octets");
        let place = self.random.between(0, frames.len() as i64 - 1) as usize;
        let mut frame = frames[place].frame.clone();
        let short = self.random.between(0, 6);
        frame.characteristic = Characteristic::BLOOD_PRESSURE_MEASUREMENT;
        frame.value = (0..short).map(|_| self.random.between(0, 255) as u8).collect();
        frames.insert(place, OnItsWay { frame, truth: None });
    }

    /// The power goes while a burst comes in: the last frame was confirmed or not, and is not on the disk.
    fn crash_within(&mut self, mut burst: Burst, link: Link) {
        self.coverage.saw("gateway: crash between two frames of a burst");
        let at = burst.at;
        while let Some(last) = burst.frames.pop() {
            if let Some(nth) = last.truth {
                let kept_by_monitor = matches!(self.devices[burst.device].make().memory, Memory::Always(_));
                if !link.loses_last_confirmation {
                    self.truths[nth].gone = true;
                    if !kept_by_monitor && self.truths[nth].kept == 0 {
                        self.coverage
                            .saw("lost: confirmed by the radio and the power gone before the commit");
                    }
                }
                break;
            }
        }
        self.keep(burst);
        self.power_lost(later(at, 100));
    }

    fn keep(&mut self, burst: Burst) {
        let frames: Vec<Frame> = burst.frames.iter().map(|on| on.frame.clone()).collect();
        if self.gateway.keep(&frames) {
            self.committed(&burst);
        } else {
            // In memory until there is room, or until the power goes.
            for truth in burst.frames.iter().filter_map(|on| on.truth) {
                self.truths[truth].gone = true;
            }
            self.waiting.push(burst);
        }
    }

    fn committed(&mut self, burst: &Burst) {
        let zone = self.zone();
        let known = self.gateway.knows_the_time();
        let at = burst.at;
        self.now = self.now.max(at);
        let its = &mut self.devices[burst.device];
        let told: Vec<usize> = burst.frames.iter().filter_map(|on| on.truth).collect();
        let live = told.iter().any(|nth| later(self.truths[*nth].end, 120_000) > at);
        if live && known && its.off_wall(at, &zone) <= 60 {
            its.trusted = true;
        }
        let told_before = its.told;
        // A clock that has lost more looks like readings that waited, and is followed only after several.
        if live && known && its.told.is_none_or(|told| its.drift_s(told, at) < FOLLOWED_S) {
            its.told = Some(at);
        }
        let readable = its.make().clock_can_be_read || !its.stamped();
        let sure = !burst.set_meanwhile && !burst.unsure && (readable || its.trusted);
        for on in &burst.frames {
            let Some(nth) = on.truth else { continue };
            let truth = &mut self.truths[nth];
            truth.kept += 1;
            // One that comes again by a wrong clock may seem to come for the first time.
            if !known {
                truth.receipt = Receipt::NotYet;
            }
            if truth.received.is_some() {
                continue;
            }
            truth.received = Some(at);
            truth.unseen_since = told_before;
            truth.sure = sure;
            self.groups
                .entry((burst.device, on.frame.value.clone()))
                .or_default()
                .push(nth);
        }
        let clock = Characteristic::CURRENT_TIME;
        if !told.is_empty() || burst.frames.iter().any(|on| on.frame.characteristic == clock) {
            its.seen = Some(at);
            its.unsure = !known;
            if burst.set_meanwhile {
                self.coverage
                    .saw("monitor: clock set in the hours between connections");
            }
        }
    }

    // --- what people say -------------------------------------------------------------------------------------------

    fn people_say(&mut self, at: Timestamp) {
        if self.gateway.full {
            return;
        }
        match self.random.between(0, 199) {
            0..6 => self.answer(at),
            6..8 => self.discard(at),
            8..12 => self.note(at),
            _ => {}
        }
    }

    fn answer(&mut self, at: Timestamp) {
        let asked = self
            .rows
            .iter()
            .rev()
            .find(|row| row.person.is_none() || row.at.is_none())
            .cloned();
        let Some(row) = asked else { return };
        let truth = &mut self.truths[row.truth];
        let reading = row.id.clone();
        let withdrawn = self.random.chance(0.2);
        let mut statements = Vec::new();
        if row.person.is_none() {
            self.coverage.saw("answers: person, late");
            let person = |person| Statement::Assigned {
                reading: reading.clone(),
                person,
            };
            statements.push(person(Some(person_id(truth.person))));
            truth.assigned = Some(truth.person);
            if withdrawn {
                statements.push(person(None));
                truth.assigned = None;
            }
        } else {
            self.coverage.saw("answers: time, late");
            let said = later(truth.end, self.random.between(-300, 300) * 1000);
            let time = |measured_at| Statement::Timed {
                reading: reading.clone(),
                measured_at,
            };
            statements.push(time(Some(said)));
            truth.timed = Some(said);
            if withdrawn {
                statements.push(time(None));
                truth.timed = None;
            }
        }
        if withdrawn {
            self.coverage.saw("answers: withdrawn");
        }
        self.say(at, &statements);
    }

    fn discard(&mut self, at: Timestamp) {
        let Some(row) = self.rows.last().cloned() else {
            return;
        };
        let truth = &mut self.truths[row.truth];
        let reason = (!truth.discarded).then(|| "a dog barked".to_owned());
        self.coverage.saw("people: discard a reading");
        let mut statements = vec![Statement::Discarded {
            reading: row.id.clone(),
            reason,
        }];
        truth.discarded = !truth.discarded;
        if truth.discarded && self.random.chance(0.4) {
            self.coverage.saw("people: discard withdrawn");
            statements.push(Statement::Discarded {
                reading: row.id,
                reason: None,
            });
            truth.discarded = false;
        }
        self.say(at, &statements);
    }

    fn note(&mut self, at: Timestamp) {
        self.coverage.saw("people: notes");
        self.notes += 1;
        let note = format!("n{}", self.notes);
        let what = match self.random.between(0, 2) {
            0 => Note::Coffee,
            1 => Note::NoRest,
            _ => Note::Talked,
        };
        let statement = Statement::Note {
            note: note.clone(),
            person: Some(person_id(0)),
            monitor: None,
            at: later(at, -1_500_000),
            what,
        };
        self.say(at, &[statement]);
        if self.random.chance(0.4) {
            self.coverage.saw("people: note withdrawn");
            self.say(later(at, 60_000), &[Statement::NoteWithdrawn { note }]);
        }
    }

    fn say(&mut self, at: Timestamp, statements: &[Statement]) {
        self.state(at, statements);
        self.gateway.settle();
        self.check();
    }

    // --- the checks ------------------------------------------------------------------------------------------------

    fn check(&mut self) {
        self.coverage.saw("step: checked");
        let addresses: HashMap<&str, usize> = self
            .devices
            .iter()
            .enumerate()
            .map(|(nth, device)| (device.make().address.as_str(), nth))
            .collect();
        let mut query = self
            .gateway
            .eye()
            .prepare_cached(
                "SELECT reading.id, frame.monitor, frame.value, person, measured_us, reading.received_us, time_source,
                        precision, disposition
                 FROM reading JOIN frame ON frame.id = reading.frame JOIN judgement ON judgement.reading = reading.row",
            )
            .unwrap();
        let micros = |us: i64| Timestamp::from_microsecond(us).unwrap();
        let stands: Vec<Stands> = query
            .query_map([], |row| {
                let person: Option<String> = row.get(3)?;
                Ok(Stands {
                    id: row.get(0)?,
                    device: addresses[row.get_ref(1)?.as_str()?],
                    value: row.get(2)?,
                    person: person.map(|id| id[1..].parse().unwrap()),
                    at: row.get::<_, Option<i64>>(4)?.map(micros),
                    received: micros(row.get(5)?),
                    source: row.get(6)?,
                    seconds: row.get_ref(7)?.as_str()? == "second",
                    averaged: row.get_ref(8)?.as_str()? != "set-aside",
                })
            })
            .unwrap()
            .collect::<Result<_, _>>()
            .unwrap();
        drop(query);
        let behind = self.gateway.full;
        self.rows = truth::check(
            stands,
            behind,
            &self.truths,
            &self.groups,
            &self.devices,
            &mut self.coverage,
        );
    }

    fn check_period(&mut self, person: usize, from: Date) {
        let to = from + 6.days();
        let date = |at: Timestamp| self.date(at);
        let expected = truth::expected(person, (from, to), date, &self.rows, &self.truths, &self.devices);
        for row in &self.rows {
            if row.person.is_none() {
                self.coverage.saw("reading: nobody's");
            }
            if row.at.is_none() {
                self.coverage.saw("reading: time unknown");
            }
        }
        let Some(expected) = expected else {
            self.coverage
                .saw("period: not compared, a time in it cannot be told");
            return;
        };
        let id = person_id(person);
        let statements = self.gateway.journal().statements().unwrap();
        let household = Household::after(statements.iter().map(|(_, statement)| statement));
        let zones = Zones::of(&household, jiff::tz::db()).unwrap();
        let wanted = Wanted {
            person: Some(id.clone()),
            ..Wanted::default()
        };
        let history = self.gateway.journal().history_of(&wanted, &zones).unwrap();
        let protocol = PROTOCOLS.get(PROTOCOL).unwrap();
        let (details, _) = &household.people[&id];
        let made = period(&id, details, protocol, from, None, &history.taken).unwrap();
        assert_eq!(made.readings.counted, expected.n, "{made:?}");
        self.coverage.saw_many("reading: counted", expected.n as u64);
        self.coverage
            .saw_many("reading: set aside", made.readings.set_aside as u64);
        let enough = expected.n >= 12 && expected.days >= 3;
        assert_eq!(made.sufficient, enough, "{made:?}");
        let Some(average) = made.average else {
            assert!(!enough);
            self.coverage.saw("period: too few readings");
            return;
        };
        self.coverage.saw("period: average compared");
        assert_eq!(average.n, expected.n);
        assert!(
            (average.systolic - expected.systolic).abs() < 1e-9,
            "{average:?} {expected:?}"
        );
        assert!(
            (average.diastolic - expected.diastolic).abs() < 1e-9,
            "{average:?} {expected:?}"
        );
    }

    fn check_rebuild(&mut self) {
        let live = self.gateway.derived();
        self.gateway.journal().rebuild().unwrap();
        let rebuilt = self.gateway.derived();
        let only = |these: &str, those: &str| -> Vec<String> {
            let those: HashSet<&str> = those.lines().collect();
            let only = these.lines().filter(|line| !those.contains(line));
            only.take(LINES_TOLD).map(str::to_owned).collect()
        };
        assert!(
            live == rebuilt,
            "live and rebuilt differ: {:#?} {:#?}",
            only(&live, &rebuilt),
            only(&rebuilt, &live)
        );
        self.coverage.saw("step: rebuilt and the same");
    }
}
