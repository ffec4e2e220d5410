//! What a listener asks and the record answers. Each is one JSON value. Fields may be added; both ends pass over what
//! they do not know.

use crate::frame::Uptime;
use crate::journal::{Heard, State};
use crate::radio::json_lines::{AsLine, parse};
use crate::reading::{ClockSample, RECEIPT_ERROR_MAX};
use jiff::{SignedDuration, Timestamp};
use serde::{Deserialize, Serialize};
use serde_json::Value;
use serde_json::value::RawValue;

/// Frames of one question: a few hundred milliseconds of a slow disk.
pub const FRAMES_MAX: u32 = 256;
/// Clock samples of one question.
pub const CLOCKS_MAX: u32 = 256;
/// The longest value, in octets: as many frames as go into one question, each of the longest.
pub const OCTETS_MAX: u32 = 1024 * 1024;
/// The longest value before anybody knows who speaks.
pub const STRANGER_OCTETS_MAX: u32 = 1024;
/// The longest boot id and version.
const WORD_CHARS_MAX: usize = 64;

/// What a listener asks.
#[derive(Serialize, Deserialize, Debug)]
#[serde(rename_all = "kebab-case")]
pub enum ToRecord {
    /// To be let in.
    Join {
        /// The secret of the code.
        code: String,
        /// The version of its program.
        version: String,
    },
    /// What the record holds of it.
    Begin {
        /// The version of its program.
        version: String,
        /// Whether it does what the record asks it to (`Answer::Do`). One of an earlier version does not say, and does
        /// nothing.
        #[serde(default)]
        does: bool,
    },
    /// To take what came of what the record asked it to do.
    Did {
        /// The number under which it was asked.
        number: u32,
        /// What came of it: an answer of `socket::speech`.
        answer: Value,
    },
    /// To keep this. Nothing in it says that the listener is there.
    Take(Take),
    /// What time it is. A record that does not say that it tells the time is not asked.
    Time,
}

/// What is to be kept.
#[derive(Serialize, Deserialize, Debug, Default)]
pub struct Take {
    /// Frames, in the order of their numbers.
    pub frames: Vec<Offered>,
    /// Samples of the listener's clock.
    pub clocks: Vec<NumberedSample>,
    /// How many frames are not handed on yet, beside these.
    pub waiting: u64,
    /// Whether the listener's clock is known to be right.
    pub clock_known: bool,
    /// How many octets of its disk are free. One of an earlier version does not say.
    #[serde(default)]
    pub disk_free: Option<u64>,
    /// What its clock shows, in microseconds since 1970. One of an earlier version does not say.
    #[serde(default)]
    pub wall_us: Option<i64>,
    /// How far the time may be off that the record told it, in microseconds, where it has none of its own.
    #[serde(default)]
    pub clock_within_us: Option<i64>,
}

/// A frame with its number in the listener's journal.
#[derive(Serialize, Deserialize, Debug)]
pub struct Offered {
    /// The number.
    pub sequence: i64,
    /// The digest of everything, in hexadecimal digits.
    pub digest: String,
    /// The frame, as `quietcuff frames --json` prints it.
    pub frame: Box<RawValue>,
}

/// A sample of the listener's clock with its number in the listener's journal.
#[derive(Serialize, Deserialize, Debug)]
pub struct NumberedSample {
    sequence: i64,
    boot: String,
    uptime_us: i64,
    wall_us: i64,
    synchronized: bool,
    /// How far it may be off, where the record told it. One of an earlier version was told nothing.
    #[serde(default)]
    within_us: Option<i64>,
}

/// What the record answers.
#[derive(Serialize, Deserialize, Debug, PartialEq, Eq)]
#[serde(rename_all = "kebab-case")]
pub enum FromRecord {
    /// The listener is let in, under this id.
    Joined {
        /// The id.
        listener: String,
    },
    /// What is held of the listener.
    Holds {
        /// The highest number of a frame.
        through: Option<i64>,
        /// The digest of that frame.
        digest: Option<String>,
        /// The number of the last clock sample.
        clocks: i64,
        /// Whether it may be asked what time it is. One of an earlier version may not.
        #[serde(default)]
        tells_time: bool,
    },
    /// What time it is.
    Time {
        /// The record's clock, in microseconds since 1970.
        wall_us: i64,
        /// Whether that is known to be right; nothing where nobody at the record knows.
        right: Option<bool>,
    },
    /// Everything that was asked to be kept is on the record's disk.
    Kept,
    /// What came of something was taken.
    Noted,
    /// No answer: to do something, and to say what came of it. It may come before an answer that is waited for.
    Do {
        /// Under which number to say what came of it.
        number: u32,
        /// What to do: a request of `socket::speech`, of which a listener does few.
        request: Value,
    },
    /// It is not done.
    Refused {
        /// Why, for the program.
        why: Why,
        /// Why and what to do, for a person.
        words: String,
    },
}

/// Why something is not done.
#[derive(Serialize, Deserialize, Clone, Copy, PartialEq, Eq, Debug)]
#[serde(rename_all = "kebab-case")]
pub enum Why {
    /// The code is none, or over, or used.
    Code,
    /// No listener has this key, or it was withdrawn, or it waits to be confirmed.
    NotLetIn,
    /// The two versions are too far apart.
    Version,
    /// What was asked cannot be understood, or contradicts itself.
    Nonsense,
    /// The record cannot write at the moment.
    Later,
    /// A reason that this version does not know.
    #[serde(other)]
    Other,
}

/// What was offered cannot be what a listener heard.
#[derive(Debug, thiserror::Error, PartialEq, Eq)]
#[error("{what}")]
pub struct NotOffered {
    what: String,
}

impl Take {
    /// What a listener offers.
    pub fn of(heard: &[Heard], clocks: &[(i64, ClockSample)], state: &State) -> serde_json::Result<Self> {
        let offered = heard.iter().map(|heard| {
            Ok(Offered {
                sequence: heard.sequence,
                digest: shown(&heard.digest()),
                frame: RawValue::from_string(AsLine(&heard.frame).to_string())?,
            })
        });
        Ok(Self {
            frames: offered.collect::<serde_json::Result<_>>()?,
            clocks: clocks
                .iter()
                .map(|(sequence, sample)| NumberedSample {
                    sequence: *sequence,
                    boot: sample.uptime.boot.clone(),
                    uptime_us: sample.uptime.micros,
                    wall_us: sample.wall.as_microsecond(),
                    synchronized: sample.synchronized,
                    within_us: sample.within_us(),
                })
                .collect(),
            waiting: state.waiting,
            clock_known: state.clock_known,
            disk_free: state.disk_free,
            wall_us: state.wall.map(Timestamp::as_microsecond),
            clock_within_us: state
                .clock_within
                .map(|within| i64::try_from(within.as_micros()).unwrap_or(i64::MAX)),
        })
    }

    /// How the listener is, which runs this version.
    pub fn state(&self, version: &str) -> State {
        State {
            version: version.to_owned(),
            waiting: self.waiting,
            clock_known: self.clock_known,
            disk_free: self.disk_free,
            wall: self.wall_us.and_then(|us| Timestamp::from_microsecond(us).ok()),
            clock_within: self.clock_within_us.and_then(within),
        }
    }

    /// How many rows there are to keep.
    pub fn rows(&self) -> u32 {
        u32::try_from(self.frames.len() + self.clocks.len()).unwrap_or(u32::MAX)
    }

    /// The frames, where each is what its digest says, in order and not too many.
    pub fn heard(&self) -> Result<Vec<Heard>, NotOffered> {
        let wrong = |sequence: i64, what: String| NotOffered {
            what: format!("frame {sequence} {what}"),
        };
        if self.frames.len() > FRAMES_MAX as usize || self.clocks.len() > CLOCKS_MAX as usize {
            return Err(NotOffered {
                what: format!("at most {FRAMES_MAX} frames and {CLOCKS_MAX} clock samples are taken at once"),
            });
        }
        let mut last = 0;
        let mut all = Vec::with_capacity(self.frames.len());
        for offered in &self.frames {
            let sequence = offered.sequence;
            if sequence <= last {
                return Err(wrong(sequence, format!("comes behind frame {last}")));
            }
            last = sequence;
            let frame = parse(offered.frame.get().as_bytes())
                .map_err(|error| wrong(sequence, format!("is none: {error}")))?;
            let heard = Heard { sequence, frame };
            if Some(heard.digest()) != super::code::digest_of(&offered.digest) {
                return Err(wrong(sequence, "is not what its digest says".to_owned()));
            }
            all.push(heard);
        }
        Ok(all)
    }

    /// The clock samples.
    pub fn clocks(&self) -> Result<Vec<(i64, ClockSample)>, NotOffered> {
        let sample = |clock: &NumberedSample| {
            let wall = Timestamp::from_microsecond(clock.wall_us).ok();
            let wall = wall.filter(|_| clock.boot.len() <= WORD_CHARS_MAX);
            let sample = ClockSample {
                uptime: Uptime {
                    boot: clock.boot.clone(),
                    micros: clock.uptime_us,
                },
                wall: wall.ok_or(NotOffered {
                    what: format!("clock sample {} is none", clock.sequence),
                })?,
                synchronized: clock.synchronized,
                within: clock.within_us.and_then(within),
            };
            Ok((clock.sequence, sample))
        };
        self.clocks.iter().map(sample).collect()
    }
}

/// How far a time may be off that was told, unless that is more than is ever kept.
fn within(us: i64) -> Option<SignedDuration> {
    let within = SignedDuration::from_micros(us);
    (SignedDuration::ZERO..=RECEIPT_ERROR_MAX)
        .contains(&within)
        .then_some(within)
}

/// A digest in hexadecimal digits.
pub fn shown(digest: &[u8; 32]) -> String {
    digest.iter().map(|octet| format!("{octet:02x}")).collect()
}

/// Whether this can be the version of a program: letters, digits and signs without any meaning to a terminal.
pub fn is_version(text: &str) -> bool {
    (1..=WORD_CHARS_MAX).contains(&text.len())
        && text
            .bytes()
            .all(|octet| octet.is_ascii_alphanumeric() || b".-+~".contains(&octet))
}

/// Whether two versions understand each other: the same first number, and a second number that is at most one apart.
pub fn near(one: &str, other: &str) -> bool {
    let numbers = |version: &str| -> Option<(u32, u32)> {
        let mut parts = version.split('.');
        Some((parts.next()?.parse().ok()?, parts.next()?.parse().ok()?))
    };
    match (numbers(one), numbers(other)) {
        (Some((major, minor)), Some((other_major, other_minor))) => {
            major == other_major && minor.abs_diff(other_minor) <= 1
        }
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_minor_version_apart_is_near() {
        for (one, other, is) in [
            ("1.2.3", "1.2.9", true),
            ("1.2.3", "1.3.0", true),
            ("1.3.0", "1.2.3", true),
            ("1.2.3", "1.4.0", false),
            ("2.2.3", "1.2.3", false),
            ("", "1.2.3", false),
            ("one.two", "1.2.3", false),
        ] {
            assert_eq!(near(one, other), is, "{one} {other}");
        }
        assert!(is_version(env!("CARGO_PKG_VERSION")));
        for wrong in ["", "1.2.3\n", "1.2.\u{1b}[2J", "1.2.३", &"1".repeat(65)] {
            assert!(!is_version(wrong), "{wrong:?}");
        }
    }

    /// The seed was written by Python, with hashlib: another program makes the same digests.
    #[test]
    fn a_frame_is_what_another_programs_digest_says() {
        let seed = include_str!("../../fixtures/fuzz/afar/take");
        let ToRecord::Take(take) = serde_json::from_str(seed).unwrap() else {
            panic!("{seed}");
        };
        let heard = take.heard().unwrap();
        assert_eq!(heard.len(), 2);
        assert!(heard[0].frame.uptime.is_none() && heard[1].frame.uptime.is_some());
        assert_eq!(take.clocks().unwrap().len(), 1);
    }

    #[test]
    fn a_later_versions_reason_is_read() {
        let later = r#"{"refused":{"why":"moon","words":"the moon is full","more":1}}"#;
        let read: FromRecord = serde_json::from_str(later).unwrap();
        assert!(matches!(read, FromRecord::Refused { why: Why::Other, .. }));
    }
}
