//! A monitor of the home, with what the household stated of it and what befell its clock.

use jiff::civil;
use jiff::tz::{Offset, TimeZone};
use jiff::{SignedDuration, Timestamp};
use quietcuff::gatt::{Feature, Unit};
use quietcuff::household::{self, MonitorId, Statement};
use quietcuff::radio::simulated::{Clock, Make, Memory, Monitor, Random, Stamps};
use std::collections::{BTreeMap, HashMap};

pub(crate) struct Device {
    pub(crate) id: MonitorId,
    pub(crate) monitor: Monitor,
    /// Whether it tells people apart by an index.
    pub(crate) indexed: bool,
    /// It connects after each reading; else once, when the sitting is over.
    pub(crate) eager: bool,
    /// Whose an index is, by the household's word.
    pub(crate) mapped: BTreeMap<u8, usize>,
    /// The same from a moment on, to somebody or nobody; a later word holds from its moment on.
    mapped_from: Vec<(u8, Timestamp, Option<usize>)>,
    /// Who uses it, by the household's word.
    pub(crate) usual: Option<usize>,
    /// Which measurement each of its records is.
    pub(crate) records: HashMap<u64, usize>,
    /// When its clock was set, or began anew.
    pub(crate) settings: Vec<Timestamp>,
    /// What it was from each of those moments on, and from the beginning.
    clocks: Vec<(Timestamp, Clock)>,
    /// When the gateway last heard it, with a right clock of its own.
    pub(crate) seen: Option<Timestamp>,
    /// What the gateway knows of its clock may be wrong, for a cause that lies in the gateway.
    pub(crate) unsure: bool,
    /// It heard this monitor by a clock of its own that never came right.
    pub(crate) misled: bool,
    /// Of a clock that cannot be read: it shows the wall's time, and has been heard to.
    pub(crate) trusted: bool,
    /// When a live reading last told what it shows.
    pub(crate) told: Option<Timestamp>,
    /// When the household last stated it.
    pub(crate) enrolled: Option<Timestamp>,
    /// When the gateway last kept anything of it.
    pub(crate) heard: Option<Timestamp>,
    /// By a clock that was wrong, or was mended since.
    pub(crate) heard_unsure: bool,
}

impl Device {
    pub(crate) fn new(
        number: u8,
        at: Timestamp,
        zone: &TimeZone,
        indexed: bool,
        random: &mut Random,
    ) -> Self {
        let stamps = match random.between(0, 99) {
            0..12 => Stamps::WholeMinutes,
            12..20 => Stamps::None,
            _ => Stamps::Seconds,
        };
        let memory = match random.between(0, 9) {
            0..6 => Memory::UntilConfirmed(60),
            6..9 => Memory::Always(random.between(4, 14) as usize),
            _ => Memory::LastOnly,
        };
        let address = [0xc0, 0xff, 0xee, 0, 0, number];
        let mut make = Make {
            serial: format!("INVENTED-{number:04}"),
            memory: if stamps == Stamps::None {
                Memory::LastOnly
            } else {
                memory
            },
            stamps,
            unit: if random.chance(0.15) {
                Unit::KPa
            } else {
                Unit::MmHg
            },
            mean: random.chance(0.8),
            clock_can_be_read: stamps != Stamps::None && random.chance(0.65),
            tells_while_measuring: random.chance(0.1),
            after_new_batteries: match random.between(0, 2) {
                0 => None,
                1 => Some(civil::date(2010, 1, 1).at(0, 0, 0, 0)),
                _ => Some(civil::date(2020, 1, 1).at(12, 0, 0, 0)),
            },
            ..Make::plain(address)
        };
        if random.chance(0.2) {
            make.feature = Feature(Feature::IRREGULAR_PULSE);
        }
        let drift = if make.clock_can_be_read { 8_000 } else { 2_000 };
        let clock = Clock::new(
            at,
            Some(zone.to_datetime(at)),
            random.between(-drift, drift) as i32,
        );
        Self {
            id: format!("m{number}").parse().unwrap(),
            clocks: vec![(at, clock.clone())],
            monitor: Monitor::new(make, clock),
            indexed,
            eager: random.chance(0.4),
            mapped: BTreeMap::new(),
            mapped_from: Vec::new(),
            usual: None,
            records: HashMap::new(),
            settings: Vec::new(),
            seen: None,
            unsure: false,
            misled: false,
            trusted: false,
            told: None,
            enrolled: None,
            heard: None,
            heard_unsure: false,
        }
    }

    pub(crate) fn make(&self) -> &Make {
        &self.monitor.make
    }

    pub(crate) fn stamped(&self) -> bool {
        self.make().stamps != Stamps::None
    }

    /// A set bit that this monitor looks for and that sets a reading aside: movement, cuff, position. Position is bit 5
    /// of the status and bit 4 of the feature (Blood Pressure Service 1.1.1, 3.1.1.8 and 3.4.1).
    pub(crate) fn complains(&self, status: u16) -> bool {
        let feature = self.make().feature.0;
        let looks = feature & 0b11 | (feature & 1 << 4) << 1;
        status & looks != 0
    }

    /// Whose an index was at a moment.
    pub(crate) fn whose(&self, index: u8, at: Timestamp) -> Option<usize> {
        let held = self
            .mapped_from
            .iter()
            .filter(|(of, from, _)| *of == index && *from <= at);
        match held.max_by_key(|(_, from, _)| *from) {
            Some((_, _, person)) => *person,
            None => self.mapped.get(&index).copied(),
        }
    }

    /// When an index changed hands.
    pub(crate) fn changes(&self, index: u8) -> impl Iterator<Item = Timestamp> {
        let moments = self.mapped_from.iter().filter(move |(of, ..)| *of == index);
        moments.map(|(_, from, _)| *from).filter(move |from| {
            let before = from.checked_sub(SignedDuration::from_micros(1)).unwrap();
            self.whose(index, before) != self.whose(index, *from)
        })
    }

    /// The household says whose an index is from a moment on.
    pub(crate) fn maps(&mut self, index: u8, from: Timestamp, person: Option<usize>) -> Statement {
        self.mapped_from
            .retain(|(of, before, _)| *of != index || *before < from);
        self.mapped_from.push((index, from, person));
        Statement::UserIndex {
            monitor: self.id.clone(),
            user_id: index,
            person: person.map(|person| format!("p{person}").parse().unwrap()),
            from: Some(from),
        }
    }

    /// How far its clock is off the wall's, in seconds; far when it shows nothing.
    pub(crate) fn off_wall(&self, at: Timestamp, zone: &TimeZone) -> i64 {
        self.monitor.clock.shows(at).map_or(i64::MAX, |shown| {
            shown.duration_since(zone.to_datetime(at)).as_secs().abs()
        })
    }

    /// What its clock can have gained or lost in a time, in seconds.
    pub(crate) fn drift_s(&self, from: Timestamp, to: Timestamp) -> f64 {
        let days = to.duration_since(from).as_secs_f64().abs() / 86_400.0;
        f64::from(self.monitor.clock.drift_ms_a_day.abs()) / 1000.0 * days
    }

    /// Its clock was set, or began anew.
    pub(crate) fn clock_set(&mut self, at: Timestamp) {
        self.settings.push(at);
        self.clocks.push((at, self.monitor.clock.clone()));
        self.trusted = false;
    }

    /// How far a time is from what the stamp of a measurement can honestly be taken for, in seconds: by any setting
    /// that this clock had when it was received, with what it may have drifted since, or by the household's clock in
    /// any place where it has lived.
    pub(crate) fn beyond_s(
        &self,
        at: Timestamp,
        end: Timestamp,
        received: Timestamp,
        zones: &[(Timestamp, TimeZone)],
    ) -> f64 {
        let (_, clock) = self.clocks.iter().rev().find(|(set, _)| *set <= end).unwrap();
        let stamp = clock.shows(end).expect("a stamp");
        let utc = |civil: civil::DateTime| Offset::UTC.to_timestamp(civil).unwrap();
        let settings = self.clocks.iter().filter(|(set, _)| *set <= received);
        let by_settings = settings.filter_map(|(set, clock)| {
            let said = utc(stamp) + set.duration_since(utc(clock.shows(*set)?));
            Some(said.duration_since(at).as_secs_f64().abs() - self.drift_s(*set, received))
        });
        // Of a day on which the clocks are put back or forward, both.
        let by_the_wall = zones.iter().flat_map(|(_, zone)| {
            [-26, 26].map(|hours| {
                let near = utc(stamp) + SignedDuration::from_hours(hours);
                let said = zone.to_offset(near).to_timestamp(stamp).unwrap();
                said.duration_since(at).as_secs_f64().abs()
            })
        });
        by_settings.chain(by_the_wall).fold(f64::INFINITY, f64::min)
    }

    /// What is stated when it is paired.
    pub(crate) fn enrolment(&mut self, people: &[usize], at: Timestamp) -> Vec<Statement> {
        self.enrolled = Some(at);
        let make = self.make();
        let mut statements = vec![Statement::Monitor {
            monitor: self.id.clone(),
            details: household::Monitor {
                address: Some(make.address.clone()),
                serial: Some(make.serial.clone()),
                ..household::Monitor::default()
            },
        }];
        for person in people {
            let whom = Some(format!("p{person}").parse().unwrap());
            let monitor = self.id.clone();
            if self.indexed {
                let user_id = *person as u8 + 1;
                self.mapped.insert(user_id, *person);
                statements.push(Statement::UserIndex {
                    monitor,
                    user_id,
                    person: whom,
                    from: None,
                });
            } else {
                self.usual = Some(*person);
                statements.push(Statement::UsualPerson {
                    monitor,
                    person: whom,
                    from: None,
                });
            }
        }
        statements
    }
}
