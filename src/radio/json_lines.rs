//! Frames as JSON Lines: one object a line, as `frames --json` prints them and `replay` reads them.
//!
//! A line that is no frame is an error of that line only; reading goes on behind it. No line takes more memory than
//! [`LINE_OCTETS_MAX`]. What is written is read back exactly.

use crate::frame::{Frame, Uptime, VALUE_OCTETS_MAX, to_the_minute};
use crate::gatt::Characteristic;
use crate::household::{MonitorAddress, NotAnAddress, NotAnId, PersonId};
use crate::whole::reason;
use jiff::Timestamp;
use jiff::civil::DateTime;
use jiff::fmt::temporal::Pieces;
use jiff::tz::Offset;
use serde::{Deserialize, Serialize};
use serde_json::error::Category;
use std::borrow::Cow;
use std::fmt::{self, Write as _};
use std::io::{self, BufRead};
use std::str::FromStr;

/// The longest line that is looked at. The longest value takes 1,024 digits and the known fields about 300 more; the
/// rest is room for fields that a later version adds.
pub const LINE_OCTETS_MAX: usize = 16 * 1024;

/// The longest boot id. The kernel's has 36 characters.
const BOOT_CHARS_MAX: usize = 64;

/// A line that holds no frame.
#[derive(Debug, thiserror::Error)]
#[error("line {line}: {what}")]
pub struct FrameLineError {
    /// Counts from 1.
    pub line: u64,
    /// What is wrong with it.
    pub what: LineFault,
}

/// What is wrong with a line.
#[derive(Debug, thiserror::Error)]
pub enum LineFault {
    /// It could not be read at all; nothing after it is read either.
    #[error("cannot be read: {}", reason(.0))]
    Io(#[from] io::Error),
    /// It is longer than anything this program writes.
    #[error("is longer than {LINE_OCTETS_MAX} octets; a frame takes less than 2,000")]
    TooLong,
    /// It is not the JSON object that a frame is.
    #[error("is not a frame as a JSON object: {}; `quietcuff frames --json` prints such lines", in_words(.0))]
    NotAFrame(serde_json::Error),
    /// Its time of receipt is no moment.
    #[error(
        "received_at {0:?} is not a moment: give date, time and offset from UTC, such as 2026-03-01T07:02:14.250+01:00"
    )]
    ReceivedAt(String),
    /// Its monitor is no address.
    #[error("monitor {0}")]
    Monitor(#[from] NotAnAddress),
    /// Its characteristic is none.
    #[error("characteristic {0}")]
    Characteristic(#[from] <Characteristic as FromStr>::Err),
    /// Its person cannot be one.
    #[error("person {0}")]
    Person(#[from] NotAnId),
    /// Its value is not made of pairs of hexadecimal digits.
    #[error("value is not pairs of hexadecimal digits")]
    NotHex,
    /// Its value is longer than a GATT value can be.
    #[error("value has {0} octets; a GATT value has at most {VALUE_OCTETS_MAX}")]
    ValueTooLong(usize),
    /// It has one half of the gateway's uptime.
    #[error(
        "boot and uptime_us belong together: give both or neither, boot in at most {BOOT_CHARS_MAX} characters"
    )]
    Uptime,
}

/// What is wrong with the JSON of one line, without the words of the library that reads it.
fn in_words(error: &serde_json::Error) -> String {
    let column = error.column();
    match error.classify() {
        Category::Io => return "it cannot be read".to_owned(),
        Category::Syntax => return format!("it is not JSON from character {column} on"),
        Category::Eof => return "it ends in the middle, as if it was cut off".to_owned(),
        Category::Data => {}
    }
    let said = error.to_string();
    if let Some(field) = said.strip_prefix("missing field ") {
        let field = field.split(" at line").next().unwrap_or_default();
        return format!("it has no {field}");
    }
    let expected = |what: &str| said.contains(&format!("expected {what}"));
    if expected("struct") {
        "it is no object".to_owned()
    } else if expected("u32") {
        "`connection` is no whole number from 0 to 4294967295".to_owned()
    } else if expected("i64") {
        "`uptime_us` is no whole number of microseconds".to_owned()
    } else if expected("a boolean") {
        "`overheard` is neither true nor false".to_owned()
    } else if said.starts_with("duplicate field") {
        "one field is there twice".to_owned()
    } else {
        format!("a text is missing before character {column}")
    }
}

/// The object on a line. Fields stand in the order in which they are printed.
#[derive(Serialize, Deserialize)]
struct Line<'a> {
    #[serde(borrow)]
    received_at: Cow<'a, str>,
    #[serde(borrow)]
    monitor: Cow<'a, str>,
    connection: u32,
    #[serde(borrow)]
    characteristic: Cow<'a, str>,
    #[serde(borrow)]
    value: Cow<'a, str>,
    #[serde(borrow, default, skip_serializing_if = "Option::is_none")]
    person: Option<Cow<'a, str>>,
    #[serde(borrow, default, skip_serializing_if = "Option::is_none")]
    boot: Option<Cow<'a, str>>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    uptime_us: Option<i64>,
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    overheard: bool,
}

/// Reads frames, a line at a time.
pub struct FrameLines<R> {
    input: R,
    line: u64,
    buffer: Vec<u8>,
    ended: bool,
}

impl<R: BufRead> FrameLines<R> {
    /// Reads from here on.
    pub fn new(input: R) -> Self {
        Self {
            input,
            line: 0,
            buffer: Vec::new(),
            ended: false,
        }
    }

    /// Takes the next line into the buffer; `false` at the end of the input. The rest of a line that is too long is
    /// skipped, not kept.
    fn next_line(&mut self) -> Result<bool, LineFault> {
        self.buffer.clear();
        let mut too_long = false;
        let mut any = false;
        loop {
            let available = match self.input.fill_buf() {
                Ok(available) => available,
                Err(interrupted) if interrupted.kind() == io::ErrorKind::Interrupted => continue,
                Err(error) => return Err(error.into()),
            };
            if available.is_empty() {
                break;
            }
            any = true;
            let newline = available.iter().position(|&octet| octet == b'\n');
            let part = available
                .get(..newline.unwrap_or(available.len()))
                .unwrap_or_default();
            too_long |= self.buffer.len() + part.len() > LINE_OCTETS_MAX;
            if !too_long {
                self.buffer.extend_from_slice(part);
            }
            let used = part.len() + usize::from(newline.is_some());
            self.input.consume(used);
            if newline.is_some() {
                break;
            }
        }
        self.line += u64::from(any);
        if too_long {
            Err(LineFault::TooLong)
        } else {
            Ok(any)
        }
    }
}

impl<R: BufRead> Iterator for FrameLines<R> {
    type Item = Result<Frame, FrameLineError>;

    fn next(&mut self) -> Option<Self::Item> {
        while !self.ended {
            let what = match self.next_line() {
                Ok(false) => {
                    self.ended = true;
                    return None;
                }
                Ok(true) => {
                    let text = match self.line {
                        1 => self.buffer.strip_prefix(b"\xef\xbb\xbf").unwrap_or(&self.buffer),
                        _ => &self.buffer,
                    };
                    if text.iter().all(u8::is_ascii_whitespace) {
                        continue;
                    }
                    match parse(text) {
                        Ok(frame) => return Some(Ok(frame)),
                        Err(what) => what,
                    }
                }
                Err(what) => {
                    self.ended = matches!(what, LineFault::Io(_));
                    what
                }
            };
            let line = self.line;
            return Some(Err(FrameLineError { line, what }));
        }
        None
    }
}

/// The frame in one line.
pub fn parse(text: &[u8]) -> Result<Frame, LineFault> {
    let line: Line<'_> = serde_json::from_slice(text).map_err(LineFault::NotAFrame)?;
    let (received_at, offset) = moment(&line.received_at)
        .ok_or_else(|| LineFault::ReceivedAt(line.received_at.chars().take(64).collect()))?;
    let uptime = match (line.boot, line.uptime_us) {
        (Some(boot), Some(micros)) if boot.len() <= BOOT_CHARS_MAX => Some(Uptime {
            boot: boot.into_owned(),
            micros,
        }),
        (None, None) => None,
        _ => return Err(LineFault::Uptime),
    };
    let person = line.person.map(|person| person.parse::<PersonId>());
    Ok(Frame {
        received_at,
        offset,
        uptime,
        given_to: person.transpose()?,
        overheard: line.overheard,
        monitor: line.monitor.parse::<MonitorAddress>()?,
        connection: line.connection,
        characteristic: line.characteristic.parse::<Characteristic>()?,
        value: octets(&line.value)?,
    })
}

/// An RFC 3339 moment and the offset that it was written with. Digits beyond the microsecond are cut off, and so are an
/// offset's beyond the minute.
fn moment(text: &str) -> Option<(Timestamp, Offset)> {
    let pieces = Pieces::parse(text).ok()?;
    if pieces.time_zone_annotation().is_some() {
        return None;
    }
    let offset = pieces.to_numeric_offset()?;
    let exact = offset
        .to_timestamp(DateTime::from_parts(pieces.date(), pieces.time()?))
        .ok()?;
    let cut = exact.as_nanosecond().div_euclid(1000);
    let cut = Timestamp::from_microsecond(i64::try_from(cut).ok()?).ok()?;
    Some((cut, to_the_minute(offset)))
}

fn octets(text: &str) -> Result<Vec<u8>, LineFault> {
    let text = text.as_bytes();
    if text.len() > 2 * VALUE_OCTETS_MAX {
        return Err(LineFault::ValueTooLong(text.len().div_ceil(2)));
    }
    let digit = |octet: u8| char::from(octet).to_digit(16).and_then(|n| u8::try_from(n).ok());
    let (pairs, odd) = text.as_chunks::<2>();
    if !odd.is_empty() {
        return Err(LineFault::NotHex);
    }
    pairs
        .iter()
        .map(|&[high, low]| Some(digit(high)? << 4 | digit(low)?))
        .collect::<Option<_>>()
        .ok_or(LineFault::NotHex)
}

/// Displays a frame as the object on its line, without the line's end.
#[derive(Clone, Copy, Debug)]
pub struct AsLine<'a>(pub &'a Frame);

impl fmt::Display for AsLine<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let frame = self.0;
        let mut value = String::with_capacity(2 * frame.value.len());
        for octet in &frame.value {
            write!(value, "{octet:02x}")?;
        }
        let line = Line {
            received_at: spell(frame.received_at, frame.offset).into(),
            monitor: frame.monitor.as_str().into(),
            connection: frame.connection,
            characteristic: frame.characteristic.to_string().into(),
            value: value.into(),
            person: frame.given_to.as_ref().map(|person| person.as_str().into()),
            boot: frame.uptime.as_ref().map(|uptime| uptime.boot.as_str().into()),
            uptime_us: frame.uptime.as_ref().map(|uptime| uptime.micros),
            overheard: frame.overheard,
        };
        f.write_str(&serde_json::to_string(&line).map_err(|_| fmt::Error)?)
    }
}

/// RFC 3339: milliseconds, or microseconds where they matter.
fn spell(moment: Timestamp, offset: Offset) -> String {
    let offset = to_the_minute(offset);
    let minutes = offset.seconds() / 60;
    let civil = offset.to_datetime(moment);
    let digits = if civil.microsecond() == 0 { 3 } else { 6 };
    let sign = if minutes < 0 { '-' } else { '+' };
    let (hours, minutes) = (minutes.abs() / 60, minutes.abs() % 60);
    format!("{civil:.digits$}{sign}{hours:02}:{minutes:02}")
}
