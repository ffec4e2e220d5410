//! A session in another room, as the record's page shows it while it goes on: processes of the real program, and a
//! simulated monitor that tells the pressure in the cuff.

use super::listening::Ends;
use super::rooms::door;
use crate::harness::command;
use crate::harness::page::{Home, MONITOR, Served, get, post};
use jiff::{SignedDuration, Timestamp};
use quietcuff::afar::code::Code;
use quietcuff::afar::key::OwnKey;
use quietcuff::afar::line::Line;
use quietcuff::afar::speech::{Answer, Ask, OCTETS_MAX, Take};
use quietcuff::frame::Frame;
use quietcuff::gatt::{Characteristic, CuffPressure};
use quietcuff::journal::{Heard, Journal, State};
use quietcuff::radio::simulated::{Habits, Household, Make, Pressure, Stamps};
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

/// What an open page is told.
struct Stream {
    tcp: TcpStream,
    seen: String,
}

impl Stream {
    fn of(served: &Served) -> Self {
        let mut tcp = TcpStream::connect(served.address()).unwrap();
        tcp.set_read_timeout(Some(SOON)).unwrap();
        let ask = format!(
            "GET /live?person=asha HTTP/1.1\r\nHost: {}\r\n\r\n",
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
        let mut octets = [0; 16384];
        loop {
            if let Some(at) = self.seen.find(what) {
                let behind = self.seen.split_off(at + what.len());
                return std::mem::replace(&mut self.seen, behind);
            }
            let n = self.tcp.read(&mut octets).unwrap();
            assert!(n > 0, "{what}: {}", self.seen);
            self.seen.push_str(&String::from_utf8_lossy(&octets[..n]));
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

    fn state(&self) -> PathBuf {
        self.away.path(".local/state/quietcuff")
    }
}

#[test]
fn a_session_elsewhere_shows_while_it_goes_on() {
    let rooms = Rooms::new();
    let _errand = Ends(
        rooms
            .away
            .command(&["record", "hand-on"])
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .unwrap(),
    );
    let (mut here, mut there) = (rooms.home.journal(), Journal::open(&rooms.state()).unwrap());
    let visit = visit();
    let mut stream = Stream::of(&rooms.served);
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
                stream.shows(&shown);
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
    let mut stream = Stream::of(&rooms.served);
    let mut line = Line::call(&rooms.at, rooms.code.record, &OwnKey::of(&rooms.state()).unwrap()).unwrap();
    let mut ask = |asked: &Ask| {
        line.say(asked).unwrap();
        line.hear::<Answer>(SOON, OCTETS_MAX).unwrap().unwrap()
    };
    let version = env!("CARGO_PKG_VERSION").to_owned();
    ask(&Ask::Begin {
        version: version.clone(),
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
        assert_eq!(ask(&Ask::Take(take)), Answer::Kept);
        if sequence == 0 {
            stream.shows(&number(behind).unwrap());
        }
    }
    let between = stream.shows(&number(ahead).unwrap());
    assert!(!between.contains(&number(over).unwrap()), "{between}");
}
