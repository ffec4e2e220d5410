//! One connection of a listener, as the listener does it: asks what the record holds, and hands on what it does not.

use super::HEARTBEAT;
use super::code::{Code, digest_of};
use super::key::OwnKey;
use super::line::{Line, LineError};
use super::speech::{CLOCKS_MAX, FRAMES_MAX, FromRecord, OCTETS_MAX, Take, ToRecord, Why};
use crate::edge::Edge;
use crate::frame::Uptime;
use crate::journal::{Heard, Journal, JournalError, Record, State};
use crate::reading::clock::FIRST_PLAUSIBLE_S;
use crate::reading::{ClockSample, RECEIPT_ERROR_MAX};
use crate::socket;
use jiff::tz::TimeZone;
use jiff::{SignedDuration, Timestamp};
use serde_json::Value;
use std::collections::VecDeque;
use std::os::fd::{AsFd, BorrowedFd};
use std::path::Path;
use std::time::{Duration, Instant};

/// The record answers within this: its disk may be slow, and it holds back who has too much.
const ANSWER: Duration = Duration::from_mins(1);

/// Requests of the record that may wait: more come from no person.
const ORDERS_MAX: usize = 8;

/// After this the time is asked for anew: two boot clocks drift apart by a fifth of a second meanwhile (common practice:
/// 50 parts in a million).
const TOLD_TIME: Duration = Duration::from_hours(1);

/// How often the journal is told at least that the record was there.
const NOTED: Duration = Duration::from_mins(10);

/// Why nothing can be handed on.
#[derive(Debug, thiserror::Error)]
pub enum ErrandError {
    /// The line to the record.
    #[error(transparent)]
    Line(#[from] LineError),
    /// This machine's journal.
    #[error(transparent)]
    Journal(#[from] JournalError),
    /// The record said no.
    #[error("the record at {at} says: {words}")]
    Refused {
        /// Where the record is.
        at: String,
        /// Why, for the program.
        why: Why,
        /// Why and what to do.
        words: String,
    },
    /// The record answered something else than was asked.
    #[error("the record at {0} answers what was not asked")]
    Otherwise(String),
}

impl ErrandError {
    /// Whether a person has to do something before it can go on.
    pub const fn needs_somebody(&self) -> bool {
        matches!(
            self,
            Self::Line(LineError::AnotherKey(_))
                | Self::Refused {
                    why: Why::NotLetIn | Why::Code | Why::Version | Why::Nonsense,
                    ..
                }
        )
    }
}

/// How far a listener is with its record.
#[derive(Debug)]
pub struct Errand {
    line: Line,
    at: String,
    version: String,
    through: i64,
    clocks: i64,
    time: Time,
    /// When the journal was last told how far it is.
    noted: Option<Instant>,
    /// What the record asks to be done, and under which number.
    orders: VecDeque<(u32, Value)>,
}

/// What the record tells of the time.
#[derive(Debug)]
struct Time {
    /// Whether it may be asked.
    may: bool,
    /// When it was asked last.
    asked: Option<Instant>,
    /// When it told the time last, and how far that may be off.
    told: Option<(Instant, SignedDuration)>,
}

/// How many octets are free for a journal.
fn free(journal: &Path) -> Option<u64> {
    let volume = rustix::fs::statvfs(journal).ok()?;
    Some(volume.f_bavail.saturating_mul(volume.f_frsize))
}

/// Whether something was noted in this machine's journal. What was heard leaves a full disk all the same: the record
/// itself says how far it is.
pub fn if_there_is_room(noted: Result<(), JournalError>) -> Result<bool, JournalError> {
    match noted {
        Err(error) if error.is_of_the_place() => {
            tracing::warn!("{error}; what was heard is handed on all the same");
            Ok(false)
        }
        noted => noted.map(|()| true),
    }
}

fn ask(line: &mut Line, at: &str, asked: &ToRecord) -> Result<FromRecord, ErrandError> {
    line.say(asked)?;
    heard(line, at)
}

fn heard(line: &mut Line, at: &str) -> Result<FromRecord, ErrandError> {
    match line.hear(ANSWER, OCTETS_MAX)? {
        Some(FromRecord::Refused { why, words }) => Err(ErrandError::Refused {
            at: at.to_owned(),
            why,
            words: words.chars().filter(|c| !c.is_control()).take(500).collect(),
        }),
        Some(answer) => Ok(answer),
        None => Err(LineError::Broken {
            to: at.to_owned(),
            why: "it closed the connection".to_owned(),
        }
        .into()),
    }
}

/// Joins the record that a code names. The error is `Refused` where the code lets nobody in.
pub fn join(code: &Code, own: &OwnKey, version: &str) -> Result<String, ErrandError> {
    let mut line = Line::call(&code.at, code.record, own)?;
    let asked = ToRecord::Join {
        code: code.secret.letters().to_owned(),
        version: version.to_owned(),
    };
    match ask(&mut line, &code.at, &asked)? {
        FromRecord::Joined { listener } => Ok(listener),
        _ => Err(ErrandError::Otherwise(code.at.clone())),
    }
}

impl Errand {
    /// Calls the record, and finds out from where on to hand on: behind what it holds, where that is what this machine
    /// heard, else from the beginning. So a record that was put back from a backup gets what it lost, and one whose
    /// listener was put back gets everything that it may not have.
    pub fn begin(
        record: &Record,
        own: &OwnKey,
        version: &str,
        journal: &Journal,
    ) -> Result<Self, ErrandError> {
        let mut line = Line::call(&record.at, record.key, own)?;
        let asked = ToRecord::Begin {
            version: version.to_owned(),
            does: true,
        };
        let FromRecord::Holds {
            through,
            digest,
            clocks,
            tells_time,
        } = ask(&mut line, &record.at, &asked)?
        else {
            return Err(ErrandError::Otherwise(record.at.clone()));
        };
        let held = through.zip(digest.as_deref().and_then(digest_of));
        let same = match held {
            Some((sequence, digest)) => journal
                .to_hand_on(sequence.saturating_sub(1), 1)?
                .first()
                .is_some_and(|own: &Heard| own.sequence == sequence && own.digest() == digest),
            None => false,
        };
        if let Some(gone) = journal.was_let_go()?
            && held.is_none_or(|(sequence, _)| sequence < gone.through)
        {
            tracing::warn!(
                "the record at {} does not hold everything that it held: frames up to number {} have left this machine since, \
                 and cannot be handed on again; a newer backup of the record has them",
                record.at,
                gone.through
            );
        }
        let (through, clocks) = match held {
            Some((sequence, _)) if same => (sequence, clocks),
            _ => (0, 0),
        };
        Ok(Self {
            line,
            at: record.at.clone(),
            version: version.to_owned(),
            through,
            clocks,
            time: Time {
                may: tells_time,
                asked: None,
                told: None,
            },
            noted: None,
            orders: VecDeque::new(),
        })
    }

    /// Hands on what waits, at most one question's worth. Says how many frames it was; with none the record knows all
    /// the same that the listener is there.
    pub fn hand_on(&mut self, journal: &mut Journal, clock_known: bool) -> Result<usize, ErrandError> {
        if !clock_known {
            self.learn_time(journal)?;
        }
        let heard = journal.to_hand_on(self.through, FRAMES_MAX)?;
        let clocks = journal.clocks_to_hand_on(self.clocks, CLOCKS_MAX)?;
        let through = heard.last().map_or(self.through, |last| last.sequence);
        let state = State {
            version: self.version.clone(),
            waiting: journal.waiting_behind(through)?,
            clock_known,
            disk_free: free(journal.path()),
            wall: Some(Timestamp::now()),
            clock_within: self.time.told.map(|(_, within)| within),
        };
        let take = Take::of(&heard, &clocks, &state).map_err(|error| LineError::Nonsense {
            to: self.at.clone(),
            why: format!("a frame of this journal cannot be said: {error}"),
        })?;
        let asked = ToRecord::Take(take);
        match self.ask(&asked)? {
            FromRecord::Kept => {}
            _ => return Err(ErrandError::Otherwise(self.at.clone())),
        }
        // Each heartbeat on a memory card would wear it for nothing.
        if self.noted.is_none_or(|noted| noted.elapsed() > NOTED) || through != self.through {
            if_there_is_room(journal.record_holds(through, Timestamp::now()))?;
            self.noted = Some(Instant::now());
        }
        self.through = through;
        self.clocks = clocks.last().map_or(self.clocks, |(sequence, _)| *sequence);
        Ok(heard.len())
    }

    /// Keeps what the record says the time is beside this machine's boot clock, which nobody can set: where the one lies
    /// between the two looks at the other, it is off by half of what lies between them at most. More than makes a receipt
    /// wrong is not kept, and asked for again with the next heartbeat.
    fn learn_time(&mut self, journal: &mut Journal) -> Result<(), ErrandError> {
        let old = |at: Option<Instant>, age| at.is_none_or(|at| at.elapsed() >= age);
        let told = self.time.told.map(|(at, _)| at);
        if !self.time.may || !old(told, TOLD_TIME) || !old(self.time.asked, HEARTBEAT) {
            return Ok(());
        }
        let edge = Edge::new(TimeZone::UTC);
        let Some(before) = edge.now().uptime else {
            return Ok(());
        };
        self.time.asked = Some(Instant::now());
        let FromRecord::Time { wall_us, right } = self.ask(&ToRecord::Time)? else {
            return Err(ErrandError::Otherwise(self.at.clone()));
        };
        let Some(after) = edge.now().uptime else {
            return Ok(());
        };
        let half = after.micros.saturating_sub(before.micros) / 2;
        let within = SignedDuration::from_micros(half.saturating_add(1));
        let Ok(wall) = Timestamp::from_microsecond(wall_us) else {
            return Err(ErrandError::Otherwise(self.at.clone()));
        };
        // A record in 1970 knows the time no better.
        if right == Some(false) || within > RECEIPT_ERROR_MAX || wall.as_second() < FIRST_PLAUSIBLE_S {
            return Ok(());
        }
        let sample = ClockSample {
            uptime: Uptime {
                micros: before.micros.saturating_add(half),
                ..before
            },
            wall,
            synchronized: false,
            within: Some(within),
        };
        if if_there_is_room(journal.sample_clocks(&[sample]))? {
            self.time.told = Some((Instant::now(), within));
        }
        Ok(())
    }

    /// Asks, and keeps what the record asks meanwhile.
    fn ask(&mut self, asked: &ToRecord) -> Result<FromRecord, ErrandError> {
        let mut answer = ask(&mut self.line, &self.at, asked)?;
        while let FromRecord::Do { number, request } = answer {
            self.keep(number, request)?;
            answer = heard(&mut self.line, &self.at)?;
        }
        Ok(answer)
    }

    fn keep(&mut self, number: u32, request: Value) -> Result<(), ErrandError> {
        if self.orders.len() >= ORDERS_MAX {
            return Err(ErrandError::Otherwise(self.at.clone()));
        }
        self.orders.push_back((number, request));
        Ok(())
    }

    /// The next thing that the record asks to be done, if it asks for one; nobody is waited for.
    pub fn order(&mut self) -> Result<Option<(u32, Value)>, ErrandError> {
        while self.line.has_more()? {
            match heard(&mut self.line, &self.at)? {
                FromRecord::Do { number, request } => self.keep(number, request)?,
                _ => return Err(ErrandError::Otherwise(self.at.clone())),
            }
        }
        Ok(self.orders.pop_front())
    }

    /// Says what came of what the record asked to be done.
    pub fn did(&mut self, number: u32, answer: &socket::speech::Answer) -> Result<(), ErrandError> {
        let answer = serde_json::to_value(answer).map_err(|error| LineError::Nonsense {
            to: self.at.clone(),
            why: format!("what came of it cannot be said: {error}"),
        })?;
        match self.ask(&ToRecord::Did { number, answer })? {
            FromRecord::Noted => Ok(()),
            _ => Err(ErrandError::Otherwise(self.at.clone())),
        }
    }

    /// Whether the record says something.
    pub fn is_asked(&mut self) -> Result<bool, ErrandError> {
        Ok(!self.orders.is_empty() || self.line.has_more()?)
    }

    /// Something that can be read once the record says something.
    pub fn line(&self) -> BorrowedFd<'_> {
        self.line.as_fd()
    }

    /// Whether anything waits.
    pub fn waits(&self, journal: &Journal) -> Result<bool, JournalError> {
        Ok(!journal.to_hand_on(self.through, 1)?.is_empty()
            || !journal.clocks_to_hand_on(self.clocks, 1)?.is_empty())
    }
}
