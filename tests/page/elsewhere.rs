//! A session in another room, as the record's page shows it while it goes on: processes of the real program, and a
//! simulated monitor that tells the pressure in the cuff.

use super::listening::Ends;
use super::pairing::collector_in;
use super::rooms::door;
use crate::harness::browser::{Browser, without};
use crate::harness::command;
use crate::harness::page::{Home, MONITOR, Served, get, post};
use jiff::{SignedDuration, Timestamp};
use quietcuff::afar::code::Code;
use quietcuff::afar::key::OwnKey;
use quietcuff::afar::line::Line;
use quietcuff::afar::speech::{FromRecord, OCTETS_MAX, Take, ToRecord};
use quietcuff::frame::Frame;
use quietcuff::gatt::{Characteristic, CuffPressure};
use quietcuff::household::PersonId;
use quietcuff::journal::{Heard, Journal, State};
use quietcuff::radio::simulated::{Habits, Household, Make, Pressure, Stamps};
use quietcuff::socket;
use std::io::{Read, Write};
use std::net::TcpStream;
use std::path::PathBuf;
use std::process::Stdio;
use std::time::{Duration, Instant};

const SOON: Duration = Duration::from_secs(20);
/// How often each way is measured.
const ROUNDS: u32 = 4;
/// The way by a listener has two commits more, one line, and two looks at a journal.
const TIMES_MAX: u32 = 30;

/// The page shows no pressure that is older; it comes again so often.
const PASSED: Duration = Duration::from_secs(5);
const TRIES: u32 = 6;

/// What an open page is told.
struct Stream {
    tcp: TcpStream,
    seen: String,
}

impl Stream {
    fn of(served: &Served, person: &str) -> Self {
        let mut tcp = TcpStream::connect(served.address()).unwrap();
        tcp.set_read_timeout(Some(SOON)).unwrap();
        let ask = format!(
            "GET /live?person={person} HTTP/1.1\r\nHost: {}\r\n\r\n",
            served.address()
        );
        tcp.write_all(ask.as_bytes()).unwrap();
        let mut stream = Self {
            tcp,
            seen: String::new(),
        };
        stream.shows("event: now");
        stream
    }

    /// Reads on until it is told this, and says what it was told on the way there.
    fn shows(&mut self, what: &str) -> String {
        let shown = self.shows_within(what, SOON);
        shown.unwrap_or_else(|| panic!("{what} never shows: {}", self.seen))
    }

    /// The same, where nothing else may come for so long.
    fn shows_within(&mut self, what: &str, limit: Duration) -> Option<String> {
        self.tcp.set_read_timeout(Some(limit)).unwrap();
        let mut octets = [0; 16384];
        loop {
            if let Some(at) = self.seen.find(what) {
                let behind = self.seen.split_off(at + what.len());
                return Some(std::mem::replace(&mut self.seen, behind));
            }
            match self.tcp.read(&mut octets) {
                Ok(n) if n > 0 => self.seen.push_str(&String::from_utf8_lossy(&octets[..n])),
                _ => return None,
            }
        }
    }
}

/// What a simulated monitor sends in its first visit of the day: the pressure in the cuff as it rises and falls, and a
/// reading during which somebody moved.
fn visit() -> Vec<Frame> {
    let make = Make {
        tells_while_measuring: true,
        stamps: Stamps::None,
        ..Make::plain([0xc0, 0xff, 0xee, 0, 0, 1])
    };
    assert_eq!(make.address.as_str(), MONITOR);
    let habits = Habits {
        moves: 1.0,
        ..Habits::faultless()
    };
    let first = "2026-03-01".parse().unwrap();
    let zone = jiff::tz::TimeZone::UTC;
    let lived = Household::alone(first, zone, make, Pressure::usual(128.0, 82.0, 71.0), habits).live(3, 1);
    let tells = |frame: &&Frame| frame.characteristic == Characteristic::INTERMEDIATE_CUFF_PRESSURE;
    let connection = lived.frames.iter().find(tells).unwrap().connection;
    let visit = lived
        .frames
        .into_iter()
        .filter(|frame| frame.connection == connection);
    visit.collect()
}

/// The number that the page shows of a pressure in the cuff.
fn number(frame: &Frame) -> Option<String> {
    let tells = frame.characteristic == Characteristic::INTERMEDIATE_CUFF_PRESSURE;
    let pressure = tells.then(|| CuffPressure::decode(&frame.value).unwrap())?;
    Some(format!("class=\"number\">{}<", pressure.pressure))
}

fn now(frame: &Frame, connection: u32) -> Frame {
    Frame {
        received_at: Timestamp::now(),
        uptime: None,
        connection,
        ..frame.clone()
    }
}

struct Rooms {
    home: Home,
    away: command::Home,
    served: Served,
    _door: Ends,
    at: String,
    code: Code,
}

impl Rooms {
    fn new() -> Self {
        let (home, away) = (Home::begun_today(), command::Home::new());
        let (door, at) = door(&home);
        let said = home.text(&["listeners", "invite", "--at", &at, "--label", "bedroom"]);
        let code: Code = said.trim().parse().unwrap();
        away.run(&["people", "add", "nobody"]).good();
        away.run(&["record", "join", said.trim()]).good();
        let served = home.serve();
        Self {
            home,
            away,
            served,
            _door: door,
            at,
            code,
        }
    }

    /// The listener hands on, for as long as the value is there.
    fn hands_on(&self) -> Ends {
        let mut command = self.away.command(&["record", "hand-on"]);
        Ends(
            command
                .stdout(Stdio::null())
                .stderr(Stdio::null())
                .spawn()
                .unwrap(),
        )
    }

    fn state(&self) -> PathBuf {
        self.away.path(".local/state/quietcuff")
    }
}

#[test]
fn a_session_elsewhere_shows_while_it_goes_on() {
    let rooms = Rooms::new();
    let _errand = rooms.hands_on();
    let (mut here, mut there) = (rooms.home.journal(), Journal::open(&rooms.state()).unwrap());
    let visit = visit();
    let mut stream = Stream::of(&rooms.served, "asha");
    let token = get(rooms.served.address(), "/", "").token();
    let (mut ours, mut theirs) = (Vec::new(), Vec::new());
    for round in 0..2 * ROUNDS {
        let (journal, took) = if round % 2 == 0 {
            (&mut there, &mut theirs)
        } else {
            (&mut here, &mut ours)
        };
        let rest = format!("token={token}&person=asha&rest=start");
        assert_eq!(post(rooms.served.address(), "/rest", &rest, "").status, 303);
        if round == 0 {
            stream.shows("data-step=\"resting\"");
        }
        let mut last = None;
        for frame in &visit {
            let shown = number(frame);
            let begun = Instant::now();
            journal.append(&[now(frame, round + 1)]).unwrap();
            // Each is on the screen before the monitor sends the next.
            if let Some(shown) = shown.filter(|shown| last.as_ref() != Some(shown)) {
                let mut tries = 1;
                while stream.shows_within(&shown, PASSED).is_none() {
                    // On a machine that did nothing for seconds it was of the past when anybody looked.
                    assert!(
                        tries < TRIES,
                        "{shown} never shows in round {round}: {}",
                        stream.seen
                    );
                    tries += 1;
                    journal.append(&[now(frame, round + 1)]).unwrap();
                }
                took.push(begun.elapsed());
                last = Some(shown);
            }
        }
        stream.shows("The monitor felt movement");
    }
    let middle = |took: &mut Vec<Duration>| {
        took.sort();
        took[took.len() / 2]
    };
    let (ours, theirs) = (middle(&mut ours), middle(&mut theirs));
    println!("from the monitor to the screen: {theirs:?} by a listener, {ours:?} by the record's own radio");
    assert!(theirs <= ours * TIMES_MAX, "{theirs:?} against {ours:?}");
}

/// A listener stamps what it hears with its own clock, which nobody may have set.
#[test]
fn a_listeners_clock_hides_no_session_and_makes_none_of_what_is_over() {
    let rooms = Rooms::new();
    let mut stream = Stream::of(&rooms.served, "asha");
    let mut line = Line::call(&rooms.at, rooms.code.record, &OwnKey::of(&rooms.state()).unwrap()).unwrap();
    let mut ask = |asked: &ToRecord| {
        line.say(asked).unwrap();
        line.hear::<FromRecord>(SOON, OCTETS_MAX).unwrap().unwrap()
    };
    let version = env!("CARGO_PKG_VERSION").to_owned();
    ask(&ToRecord::Begin {
        version: version.clone(),
        does: false,
    });
    let pressures: Vec<Frame> = visit()
        .into_iter()
        .filter(|frame| number(frame).is_some())
        .collect();
    let hour = SignedDuration::from_hours(1);
    // Behind by an hour and now; ahead by an hour and half an hour ago; ahead by an hour and now.
    let (behind, over, ahead) = (&pressures[0], &pressures[1], &pressures[2]);
    for (sequence, (frame, by, ago)) in [
        (behind, -hour, SignedDuration::ZERO),
        (over, hour, hour / 2),
        (ahead, hour, SignedDuration::ZERO),
    ]
    .into_iter()
    .enumerate()
    {
        let wall = Timestamp::now() + by;
        let frame = Frame {
            received_at: wall - ago,
            ..now(frame, 1)
        };
        let heard = Heard {
            sequence: i64::try_from(sequence).unwrap() + 1,
            frame,
        };
        let state = State {
            version: version.clone(),
            wall: Some(wall),
            ..State::default()
        };
        let take = Take::of(&[heard], &[], &state).unwrap();
        assert_eq!(ask(&ToRecord::Take(take)), FromRecord::Kept);
        if sequence == 0 {
            stream.shows(&number(behind).unwrap());
        }
    }
    let between = stream.shows(&number(ahead).unwrap());
    assert!(!between.contains(&number(over).unwrap()), "{between}");
}

#[test]
fn a_monitor_is_added_and_forgotten_in_another_room() {
    if without() {
        return;
    }
    let rooms = Rooms::new();
    let asked = collector_in(&rooms.state());
    let _errand = rooms.hands_on();
    let begun = Instant::now();
    while socket::door(&rooms.home.state())
        .unwrap()
        .unwrap()
        .connected
        .is_empty()
    {
        assert!(begun.elapsed() < SOON, "the listener never comes");
        std::thread::sleep(Duration::from_millis(50));
    }
    let mut browser = Browser::start();
    browser.open("page", &rooms.served.at("/monitors"));
    browser.click("page", "a[href='/monitors/pair?at=l1']");
    assert!(browser.text("page", "main").contains("At the listener bedroom"));
    browser.accessible("page");
    browser.click("page", "button[value=look]");
    let found = browser.text("page", "button.accent");
    assert!(found.contains("Pair with <b>Invented</b>"), "{found}");
    // What it is called is the listener's to choose.
    assert_eq!(
        browser.eval("page", "document.querySelectorAll('#called').length"),
        0
    );
    browser.click("page", "input[name=whose][value=ravi]");
    browser.click("page", "button.accent");
    browser.fill("page", "#digits", "012 345");
    browser.accessible("page");
    browser.click("page", "button.accent");
    let done = browser.text("page", "main .large");
    assert!(done.starts_with("The monitor is paired there."), "{done}");
    let household = rooms.home.journal().household().unwrap();
    let usual = &household.usual[&"m1".parse().unwrap()];
    assert_eq!(usual.at(Timestamp::now()).map(PersonId::as_str), Some("ravi"));
    // It is paired here and there.
    browser.goto("page", &rooms.served.at("/monitors"));
    let paired = browser.text("page", "section[aria-labelledby=m-m1] dl");
    let places = paired.split_once("Paired at").unwrap().1;
    assert!(places.trim_start().starts_with("this server"), "{paired}");
    assert!(places.contains("bedroom"), "{paired}");
    // Once it comes that way, it is forgotten there.
    let mut there = Journal::open(&rooms.state()).unwrap();
    let mut stream = Stream::of(&rooms.served, "ravi");
    for frame in visit() {
        let shown = number(&frame);
        there.append(&[now(&frame, 1)]).unwrap();
        if let Some(shown) = shown {
            stream.shows(&shown);
            break;
        }
    }
    browser.goto("page", &rooms.served.at("/monitors"));
    browser.click("page", "section[aria-labelledby=listener-l1] summary");
    browser.accessible("page");
    browser.click("page", "section[aria-labelledby=listener-l1] details button");
    let said = browser.text("page", "main");
    assert!(said.contains("listens to it no longer"), "{said}");
    let left = browser.text("page", "section[aria-labelledby=m-m1] dl");
    assert!(!left.contains("Paired at"), "{left}");
    let asked = asked.lock().unwrap();
    let told: Vec<&str> = asked.iter().map(|one| one["ask"].as_str().unwrap()).collect();
    assert_eq!(told, ["find", "pair", "passkey", "forget-at"]);
    assert_eq!(asked[3]["address"], MONITOR);
    assert!(
        asked.iter().all(|one| !one.to_string().contains("ravi")),
        "{asked:?}"
    );
    browser.kept_to_itself();
}
