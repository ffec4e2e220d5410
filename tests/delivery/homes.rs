//! Many homes and one server that none of us wrote: production code in one process, each home with a journal, a clinic's
//! reference and a line of its own, on a simulated clock. `QUIETCUFF_HOMES` says how many, a thousand with
//! `tests/run --full servers`.
//!
//! They measure for a week, each at hours of its own. On the fourth day the server is away for an hour, and then says for
//! five hours when it will be back; on the fifth all homes get a new version within a minute; the first three are in
//! trouble of their own for a day and a half before. At the end each resource is there once, as it was measured.

use crate::delivery::clinic::name_of;
use crate::harness::command::Noise;
use crate::harness::made::{MONITOR, Sent};
use jiff::{SignedDuration, Timestamp};
use quietcuff::config::Config;
use quietcuff::delivery::due::Survey;
use quietcuff::delivery::releases::{ReleaseRule, Releases};
use quietcuff::delivery::{self, Courier, Destination, patience};
use quietcuff::export::fhir::Fhir;
use quietcuff::frame::Frame;
use quietcuff::household::{Person, PersonId, Statement};
use quietcuff::journal::Journal;
use quietcuff::outbound::{Ask, HttpAnswer, HttpRequest, Outbound, OutboundError};
use quietcuff::radio::source;
use serde_json::Value;
use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet, BinaryHeap};
use std::ops::Range;
use std::path::Path;
use std::sync::{Arc, Mutex};
use tempfile::TempDir;

/// As `deliver` looks at its journal while it stays.
const LOOK_SECONDS: usize = 5;
/// And when nobody writes.
const LOOK_ANYWAY_SECONDS: usize = 1_800;
const ROUNDS_MAX: usize = 40;
const DAYS: u8 = 7;
const READINGS: usize = DAYS as usize * 4;

fn at(text: &str) -> Timestamp {
    text.parse().unwrap()
}

fn away() -> Range<Timestamp> {
    at("2026-03-04T05:30:00+01:00")..at("2026-03-04T06:30:00+01:00")
}

fn says_when() -> Range<Timestamp> {
    away().end..at("2026-03-04T11:30:00+01:00")
}

fn upgrade() -> Timestamp {
    at("2026-03-05T12:00:00+01:00")
}

/// The midnight behind the last day.
fn over() -> Timestamp {
    at("2026-03-08T00:00:00+01:00")
}

fn in_trouble() -> Range<Timestamp> {
    at("2026-03-02T06:00:00+01:00")..at("2026-03-03T18:00:00+01:00")
}

/// What is wrong with a home's own line.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
enum Trouble {
    None,
    LockedOut,
    Refused,
    Deaf,
}

fn trouble_of(home: usize, now: Timestamp) -> Trouble {
    match home {
        _ if !in_trouble().contains(&now) => Trouble::None,
        0 => Trouble::LockedOut,
        1 => Trouble::Refused,
        2 => Trouble::Deaf,
        _ => Trouble::None,
    }
}

/// Requests by the second in which they came, whatever became of them.
#[derive(Debug, Default)]
struct Counted(Mutex<BTreeMap<i64, u32>>);

impl Counted {
    /// The most in one second of these.
    fn peak(&self, from: Timestamp, to: Timestamp) -> u32 {
        let seconds = self.0.lock().unwrap();
        seconds
            .range(from.as_second()..to.as_second())
            .map(|(_, count)| *count)
            .max()
            .unwrap_or_default()
    }
}

/// The way of one home.
#[derive(Debug)]
struct Line {
    home: usize,
    way: Outbound,
    counted: Arc<Counted>,
}

impl Ask for Line {
    fn ask(&self, request: &HttpRequest<'_>, now: Timestamp) -> Result<HttpAnswer, OutboundError> {
        *self.counted.0.lock().unwrap().entry(now.as_second()).or_default() += 1;
        let unreachable = || {
            Err(OutboundError::Unreachable {
                to: "the clinic".to_owned(),
                why: "simulated".to_owned(),
            })
        };
        let says = |status, retry_after| {
            let body =
                br#"{"resourceType":"OperationOutcome","issue":[{"severity":"error","code":"processing"}]}"#;
            Ok(HttpAnswer {
                status,
                media_type: "application/fhir+json".to_owned(),
                retry_after,
                body: body.to_vec(),
                ..HttpAnswer::default()
            })
        };
        if away().contains(&now) {
            return unreachable();
        }
        if says_when().contains(&now) {
            return says(503, says_when().end.duration_since(now).try_into().ok());
        }
        match trouble_of(self.home, now) {
            Trouble::None => self.way.ask(request, now),
            Trouble::LockedOut => says(401, None),
            Trouble::Refused => says(422, None),
            Trouble::Deaf => {
                let _ = self.way.ask(request, now);
                unreachable()
            }
        }
    }
}

/// What a panel says: when, systolic, diastolic.
type Pressure = (i64, u64, u64);

struct House {
    n: usize,
    _folder: TempDir,
    journal: Journal,
    config: Config,
    courier: Option<Courier>,
    sittings: Vec<Vec<Frame>>,
    truth: BTreeSet<Pressure>,
    /// It looks at its journal so many seconds behind each fifth one.
    phase: SignedDuration,
    /// When it means to look again.
    pending: Option<Timestamp>,
    /// After the last answer in the outage: the earliest moment at which it might have come back, and its own.
    back: Option<(Timestamp, Timestamp)>,
}

fn person() -> PersonId {
    PersonId::try_from("asha".to_owned()).unwrap()
}

pub(crate) fn patient(home: usize) -> String {
    format!("home-{home}")
}

impl House {
    fn build(n: usize, url: &str, noise: &mut Noise) -> Self {
        // In memory where that can be: what is tried here is the network, and a thousand journals wait for one disk.
        let memory = Path::new("/dev/shm");
        let folder = if memory.is_dir() {
            tempfile::tempdir_in(memory)
        } else {
            tempfile::tempdir()
        };
        let folder = folder.unwrap();
        let (mut lines, mut truth) = (String::new(), BTreeSet::new());
        let monitor = format!("C0:FF:{:02X}:{:02X}:00:07", n >> 8, n & 0xff);
        for day in 1..=DAYS {
            for (sitting, first_hour, hours) in [(0_u8, 6, 3), (1, 18, 4)] {
                let (hour, minute, second) =
                    (first_hour + noise.below(hours), noise.below(58), noise.below(60));
                for nth in 0..2 {
                    let when = format!("2026-03-{day:02}T{hour:02}:{:02}:{second:02}", minute + nth);
                    let (systolic, diastolic) = (110 + noise.below(50), 70 + noise.below(20));
                    let connection = u32::from(day * 4 + sitting * 2) + u32::try_from(nth).unwrap();
                    let (high, low) = (
                        u16::try_from(systolic).unwrap(),
                        u16::try_from(diastolic).unwrap(),
                    );
                    lines += &Sent::new(&when, connection, high, low)
                        .line()
                        .replace(MONITOR, &monitor);
                    lines.push('\n');
                    let measured = at(&format!("{when}+01:00")).as_second();
                    truth.insert((measured, u64::from(high), u64::from(low)));
                }
            }
        }
        assert_eq!(truth.len(), READINGS);
        let file = folder.path().join("frames.jsonl");
        std::fs::write(&file, lines).unwrap();
        let frames: Vec<Frame> = source::open(&file)
            .unwrap()
            .map(|frame| {
                let mut frame = frame.unwrap();
                frame.given_to = Some(person());
                frame
            })
            .collect();
        let state = folder.path().join("state");
        let mut journal = Journal::open(&state).unwrap();
        let details = Person {
            label: "Asha".to_owned(),
            ..Person::default()
        };
        let stated = [
            Statement::Zone {
                zone: "+01:00".to_owned(),
                from: None,
            },
            Statement::Person {
                person: person(),
                details,
            },
            Statement::Period {
                person: person(),
                protocol: "seven-day".to_owned(),
                from: "2026-03-01".parse().unwrap(),
                days: None,
            },
        ];
        journal.state(at("2026-02-28T12:00:00Z"), &stated).unwrap();
        Self {
            n,
            _folder: folder,
            journal,
            config: Config {
                clinic: delivery::Clinic {
                    server: Some(url.to_owned()),
                    people: vec![person()],
                    ..delivery::Clinic::default()
                },
                fhir: Fhir {
                    patients: BTreeMap::from([(person(), format!("Patient/{}", patient(n)))]),
                    ..Fhir::default()
                },
                ..Config::default()
            },
            courier: None,
            sittings: frames.chunks(2).map(<[Frame]>::to_vec).collect(),
            truth,
            phase: SignedDuration::from_millis(i64::try_from(noise.below(LOOK_SECONDS * 1_000)).unwrap()),
            pending: None,
            back: None,
        }
    }

    fn sits(&mut self, nth: usize) {
        self.journal.append(&self.sittings[nth]).unwrap();
        self.journal.settle().unwrap();
    }

    /// As `quietcuff deliver` looks; when it comes again by itself.
    fn looks(&mut self, now: Timestamp, counted: &Arc<Counted>) -> Option<Timestamp> {
        let journal = &mut self.journal;
        let stated = journal.stated().unwrap();
        let target = Destination::of(&self.config.clinic, &self.config.fhir, &stated.household).unwrap();
        let name = target.name();
        let contact = journal.contact(&name).unwrap();
        if patience::rests(contact.not_before, now) {
            return contact.not_before;
        }
        let courier = self.courier.get_or_insert_with(|| {
            let line = Line {
                home: self.n,
                way: Outbound::new(None).unwrap(),
                counted: Arc::clone(counted),
            };
            Courier::by(Box::new(line), &self.config.clinic, target.clone()).unwrap()
        });
        for _ in 0..ROUNDS_MAX {
            let survey = Survey {
                sheets: None,
                clinic: "",
                records: None,
                stated: &stated,
                switches: target.switches(&journal.contact(&name).unwrap()),
                people: &target.people,
                releases: &Releases::of(
                    &stated.household,
                    &target.name(),
                    ReleaseRule::Chosen,
                    target.people.keys(),
                ),
                today: stated.zones.civil(now).date(),
            };
            let round = courier.round(journal, &survey, &|| now).unwrap();
            if let Some(trouble) = &round.trouble {
                let contact = journal.contact(&name).unwrap();
                let again = contact.not_before.unwrap();
                if says_when().contains(&now) {
                    let earliest = patience::wait(contact.failures, trouble.retry_after(), 0);
                    self.back = Some((now + SignedDuration::try_from(earliest).unwrap(), again));
                }
                return Some(again);
            }
            if round.is_last() {
                return None;
            }
        }
        panic!("there is no end of rounds at home {}", self.n);
    }

    /// Another version of the program describes itself otherwise.
    fn is_upgraded(&mut self) {
        self.courier = None;
        let ledger = rusqlite::Connection::open(self.journal.path()).unwrap();
        let other = "UPDATE delivery SET offered = zeroblob(32), confirmed = zeroblob(32)
                     WHERE kind = 'Device' AND name LIKE 'gateway-%' AND confirmed IS NOT NULL";
        ledger.execute(other, []).unwrap();
    }

    /// What the ledger says that the server has.
    fn delivered(&self) -> BTreeSet<String> {
        let clinic = self.config.clinic.server.as_deref().unwrap();
        let rows = self.journal.deliveries(clinic).unwrap();
        assert!(rows.iter().all(|row| row.refusal.is_none()), "home {}", self.n);
        rows.into_iter()
            .filter(|row| row.kind == "Observation" && row.confirmed.is_some())
            .map(|row| row.name)
            .collect()
    }
}

#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug)]
enum Event {
    Sits(usize),
    /// As it meant to.
    Looks,
    /// Though nobody wrote.
    LooksAnyway,
    IsUpgraded,
    /// A person lets go again what was refused.
    TriesAgain,
}

struct Street {
    /// The number of its first house.
    first: usize,
    houses: Vec<House>,
    events: BinaryHeap<Reverse<(Timestamp, usize, Event)>>,
    counted: Arc<Counted>,
}

impl Street {
    /// These homes of a town.
    fn build(homes: Range<usize>, url: &str, counted: &Arc<Counted>) -> Self {
        let mut noise = Noise(0x0ddb_1e55 + u64::try_from(homes.start).unwrap());
        let first = homes.start;
        let houses: Vec<House> = homes.map(|n| House::build(n, url, &mut noise)).collect();
        let mut events = BinaryHeap::new();
        let seconds = |count| SignedDuration::from_secs(i64::try_from(count).unwrap());
        for house in &houses {
            for (nth, frames) in house.sittings.iter().enumerate() {
                let last = frames.last().unwrap().received_at;
                events.push(Reverse((last, house.n, Event::Sits(nth))));
            }
            let after = over() + seconds(noise.below(LOOK_ANYWAY_SECONDS));
            events.push(Reverse((after, house.n, Event::LooksAnyway)));
            let upgraded = upgrade() + seconds(noise.below(60));
            events.push(Reverse((upgraded, house.n, Event::IsUpgraded)));
            if trouble_of(house.n, in_trouble().start) == Trouble::Refused {
                events.push(Reverse((in_trouble().end, house.n, Event::TriesAgain)));
            }
        }
        Self {
            first,
            houses,
            events,
            counted: Arc::clone(counted),
        }
    }

    fn lives(&mut self) {
        while let Some(Reverse((now, n, event))) = self.events.pop() {
            let house = &mut self.houses[n - self.first];
            match event {
                Event::Sits(nth) => {
                    house.sits(nth);
                    self.means_to_look(n, now);
                    continue;
                }
                Event::IsUpgraded => {
                    house.is_upgraded();
                    self.means_to_look(n, now);
                    continue;
                }
                Event::TriesAgain => {
                    let clinic = house.config.clinic.server.clone().unwrap();
                    house.journal.try_again(&clinic, None).unwrap();
                    self.means_to_look(n, now);
                    continue;
                }
                Event::Looks if house.pending != Some(now) => continue,
                Event::Looks => house.pending = None,
                Event::LooksAnyway => {}
            }
            if let Some(again) = house.looks(now, &self.counted) {
                self.means_to_look(n, again);
            }
        }
    }

    /// At its next turn behind this moment, unless it looks earlier anyway.
    fn means_to_look(&mut self, n: usize, at: Timestamp) {
        let house = &mut self.houses[n - self.first];
        let turn = at + house.phase;
        if house.pending.is_none_or(|pending| turn < pending) {
            house.pending = Some(turn);
            self.events.push(Reverse((turn, n, Event::Looks)));
        }
    }
}

/// Most homes that came back in one second after the outage: had each come at its earliest, and as they did.
fn herd(houses: &[House]) -> (usize, usize) {
    let (mut before, mut after) = (BTreeMap::new(), BTreeMap::new());
    for (earliest, own) in houses.iter().filter_map(|house| house.back) {
        *before.entry(earliest.as_second()).or_insert(0) += 1;
        *after.entry(own.as_second()).or_insert(0) += 1;
    }
    let most = |seconds: &BTreeMap<i64, usize>| seconds.values().copied().max().unwrap_or_default();
    (most(&before), most(&after))
}

/// All homes live, as many at once as there are processors: what they share is the server, and a clock that is simulated.
fn lived(homes: usize, url: &str, counted: &Arc<Counted>) -> Vec<House> {
    let threads = std::thread::available_parallelism().map_or(1, usize::from);
    let each = homes.div_ceil(threads);
    std::thread::scope(|scope| {
        let streets: Vec<_> = (0..homes)
            .step_by(each)
            .map(|first| {
                scope.spawn(move || {
                    let mut street = Street::build(first..homes.min(first + each), url, counted);
                    street.lives();
                    street.houses
                })
            })
            .collect();
        streets
            .into_iter()
            .flat_map(|street| street.join().unwrap())
            .collect()
    })
}

fn pressure(panel: &Value) -> Pressure {
    let value = |code: &str| {
        let components = panel["component"].as_array().unwrap();
        let is = |one: &&Value| {
            one["code"]["coding"]
                .as_array()
                .unwrap()
                .iter()
                .any(|coding| coding["code"] == code)
        };
        components.iter().find(is).unwrap()["valueQuantity"]["value"]
            .as_f64()
            .unwrap() as u64
    };
    let when = panel["effectiveDateTime"].as_str().unwrap();
    (at(when).as_second(), value("8480-6"), value("8462-4"))
}

/// The week of so many homes; `stands` gives everything of a type that the server holds then.
pub(crate) fn live(url: &str, homes: usize, stands: &dyn Fn(&str) -> Vec<Value>) {
    let counted = Arc::default();
    let houses = lived(homes, url, &counted);
    let mut of_home: BTreeMap<String, BTreeMap<String, Value>> = BTreeMap::new();
    for one in stands("Observation") {
        let (whose, name) = (
            one["subject"]["reference"].as_str().unwrap().to_owned(),
            name_of(&one),
        );
        let doubled = of_home.entry(whose).or_default().insert(name.clone(), one);
        assert!(doubled.is_none(), "{name} is there twice");
    }
    let mut count = 0;
    for house in &houses {
        let mine = of_home
            .remove(&format!("Patient/{}", patient(house.n)))
            .unwrap_or_default();
        count += mine.len();
        assert!(
            mine.values().all(|one| one["status"] == "final"),
            "home {}",
            house.n
        );
        let names: BTreeSet<String> = mine.keys().cloned().collect();
        assert_eq!(names, house.delivered(), "home {}", house.n);
        assert!(
            names.iter().any(|name| name.starts_with("average-")),
            "home {}",
            house.n
        );
        let panels = mine.iter().filter(|(name, _)| !name.contains('-'));
        let pressures: BTreeSet<Pressure> = panels.clone().map(|(_, panel)| pressure(panel)).collect();
        assert_eq!(
            (panels.count(), &pressures),
            (READINGS, &house.truth),
            "home {}",
            house.n
        );
    }
    let devices: Vec<String> = stands("Device").iter().map(name_of).collect();
    let gateways = devices.iter().filter(|name| name.starts_with("gateway-"));
    let gateways: BTreeSet<&String> = gateways.collect();
    let each: BTreeSet<&String> = devices.iter().collect();
    assert_eq!(each.len(), devices.len(), "a device is there twice");
    assert!(gateways.len() >= homes, "{} gateways", gateways.len());
    let (before, after) = herd(&houses);
    assert!(
        before == homes && after <= homes.div_ceil(20).max(2),
        "{before} {after}"
    );
    let all: u32 = counted.0.lock().unwrap().values().sum();
    println!(
        "{homes} homes: {count} Observations of {} readings, each once, by {all} requests. Back after the outage in one \
         second: {before} homes had each come at its earliest, {after} as they did. Most requests in one second: {} in the \
         three hours after the outage, {} in the five minutes of the new version, {} in the whole week",
        homes * READINGS,
        counted.peak(says_when().end, says_when().end + SignedDuration::from_hours(3)),
        counted.peak(upgrade(), upgrade() + SignedDuration::from_mins(5)),
        counted.peak(
            at("2026-03-01T00:00:00Z"),
            over() + SignedDuration::from_hours(24)
        ),
    );
}

pub(crate) fn homes_lived(usual: usize) -> usize {
    let text = std::env::var("QUIETCUFF_HOMES");
    text.map_or(usual, |text| text.parse().expect("QUIETCUFF_HOMES is a number"))
}
