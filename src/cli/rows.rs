//! How a reading, a day and a name look to a person at a terminal: the three shapes of page and sheet, the household's
//! clock, its language, and the names that it uses. What programs read is printed elsewhere, as JSON.

use crate::household::{Moments, PersonId, Zones};
use crate::monitoring::stated::Stated;
use crate::reading::Reading;
use crate::sitting::Slot;
use crate::technique::session::{Session, SessionState};
use crate::technique::{Disposition, JudgedReading, Reason};
use crate::words::Words;
use jiff::Timestamp;
use jiff::civil::Date;
use std::io::{self, Write};
use unicode_width::UnicodeWidthStr;

/// The widths of what has the same in every language: a time of day, a pressure, and a session's id.
const TIME: usize = 5;
const PRESSURE: usize = 8;
const SESSION_ID: usize = 28;

/// In which words a command prints, or that it prints JSON.
pub(crate) type Told = (&'static Words, bool);

/// The three shapes with their words: stands above every list of readings.
pub(crate) fn key(words: &Words) -> String {
    let line = |shape: char, name: &str| format!("  {shape}  {}", words.say(name));
    [
        line('●', "counted"),
        line('○', "shape-marked"),
        line('⊘', "shape-set-aside"),
    ]
    .join("\n")
}

/// Filled, open, struck through.
pub(crate) const fn shape(disposition: Disposition) -> char {
    match disposition {
        Disposition::Counted => '●',
        Disposition::Marked => '○',
        Disposition::SetAside => '⊘',
    }
}

/// `145/89`, or that there is none.
pub(crate) fn values(reading: &Reading, words: &Words) -> String {
    if !has_values(reading) {
        return words.say("cell-no-value");
    }
    let values = format!("{:>3}/{}", reading.systolic.to_string(), reading.diastolic);
    words.decimal(&values)
}

fn has_values(reading: &Reading) -> bool {
    reading.systolic.special().is_none() && reading.diastolic.special().is_none()
}

/// The pulse, or nothing where the monitor gave none.
pub(crate) fn pulse(reading: &Reading) -> String {
    let number = reading.pulse_rate.filter(|pulse| pulse.special().is_none());
    number.map(|pulse| pulse.to_string()).unwrap_or_default()
}

/// `07:02`; with the offset from UTC where the clock showed that time twice.
pub(crate) fn clock(at: Timestamp, zones: &Zones) -> String {
    let civil = zones.civil(at);
    let shown = civil.strftime("%H:%M").to_string();
    match zones.moments(civil) {
        Some(Moments::Twice(..)) => format!("{shown} ({})", zones.offset(at)),
        _ => shown,
    }
}

/// `Monday 23 March 2026, 07:02`.
pub(crate) fn moment(at: Timestamp, zones: &Zones, words: &Words) -> String {
    let day = words.full_date(zones.civil(at).date());
    words.with(
        "moment",
        &[("date", day.into()), ("time", clock(at, zones).into())],
    )
}

/// What the household calls its people, in a column, and the words beside them.
pub(crate) struct Names<'a> {
    stated: &'a Stated,
    words: &'static Words,
    nobody: String,
    width: usize,
}

impl<'a> Names<'a> {
    pub(crate) fn of(stated: &'a Stated, words: &'static Words) -> Self {
        let nobody = words.say("reading-nobodys");
        let labels = stated.household.people.keys().map(|id| stated.label(id).width());
        let heads = [nobody.width(), words.say("column-who").width()];
        Self {
            width: labels.chain(heads).max().unwrap_or_default(),
            stated,
            words,
            nobody,
        }
    }

    /// One name, which stands in no column.
    fn alone(stated: &'a Stated, words: &'static Words) -> Self {
        Self {
            width: 0,
            ..Self::of(stated, words)
        }
    }

    pub(crate) fn name<'b>(&'b self, person: Option<&'b PersonId>) -> &'b str {
        person.map_or(self.nobody.as_str(), |id| self.stated.label(id))
    }

    /// The name, filled up to the width of the column as a terminal shows it.
    pub(crate) fn column(&self, person: Option<&PersonId>) -> String {
        padded(self.name(person), self.width)
    }

    pub(crate) fn zones(&self) -> &'a Zones {
        &self.stated.zones
    }
}

/// A text filled up to so many columns of a terminal.
pub(crate) fn padded(text: &str, width: usize) -> String {
    format!("{text}{}", " ".repeat(width.saturating_sub(text.width())))
}

/// The same with the text at the right.
pub(crate) fn padded_left(text: &str, width: usize) -> String {
    format!("{}{text}", " ".repeat(width.saturating_sub(text.width())))
}

/// The widest of some texts, in columns of a terminal.
pub(crate) fn widest<T: AsRef<str>>(texts: impl IntoIterator<Item = T>) -> usize {
    let widths = texts.into_iter().map(|text| text.as_ref().width());
    widths.max().unwrap_or_default()
}

/// How wide the pressures and the pulses stand.
fn widths(words: &Words) -> (usize, usize) {
    let unit = " mmHg".len();
    let pressure = [words.say("cell-no-value"), words.say("column-pressure")];
    let pulse = [
        words.with("pulse", &[("pulse", "100".into())]),
        words.say("column-pulse"),
    ];
    (widest(pressure).max(PRESSURE + unit), widest(pulse))
}

/// Whose, what and what became of it, behind its time.
fn rest(judged: &JudgedReading, names: &Names<'_>) -> String {
    let (reading, judgement, words) = (&judged.reading, &judged.judgement, names.words);
    let values = padded_left(&values(reading, words), PRESSURE);
    let values = if has_values(reading) {
        format!("{values} {}", reading.unit.name())
    } else {
        values
    };
    let pulse = match pulse(reading) {
        none if none.is_empty() => none,
        number => words.with("pulse", &[("pulse", number.into())]),
    };
    let because: Vec<String> = judgement
        .reasons
        .iter()
        .map(|reason| words.say(&format!("why-{}", Reason::name(reason))))
        .collect();
    let (pressure_width, pulse_width) = widths(words);
    let row = format!(
        "{}  {}  {}  {}  {}",
        names.column(reading.person.as_ref()),
        padded(&values, pressure_width),
        padded(&pulse, pulse_width),
        shape(judgement.disposition),
        because.join(", ")
    );
    row.trim_end().to_owned()
}

/// Readings under the days on which they were taken.
pub(crate) struct ReadingsByDay<'a> {
    names: Names<'a>,
    ids: bool,
    under: Option<Option<Date>>,
}

impl<'a> ReadingsByDay<'a> {
    pub(crate) fn new(stated: &'a Stated, words: &'static Words, ids: bool) -> Self {
        Self {
            names: Names::of(stated, words),
            ids,
            under: None,
        }
    }

    /// The names of the columns, behind that of the ids where they are shown.
    fn head(&self, id_width: usize, time_width: usize, rest: &str) -> String {
        let words = self.names.words;
        let time = padded(&words.say("column-time"), time_width);
        let who = padded(&words.say("column-who"), self.names.width);
        let id = self.id(&words.say("column-id"), id_width);
        format!("  {id}{time}  {who}  {rest}")
    }

    fn id(&self, id: &str, width: usize) -> String {
        if self.ids {
            format!("{}  ", padded(id, width))
        } else {
            String::new()
        }
    }

    /// One reading.
    pub(crate) fn reading(&mut self, out: &mut impl Write, judged: &JudgedReading) -> io::Result<()> {
        let (reading, zones, words) = (&judged.reading, self.names.zones(), self.names.words);
        let id_width = reading.id.0.len();
        let time_width = words.say("column-time").width().max(TIME);
        if self.under.is_none() {
            let pressure = padded(&words.say("column-pressure"), widths(words).0);
            let rest = format!("{pressure}  {}", words.say("column-pulse"));
            writeln!(out, "{}", key(words))?;
            writeln!(out, "\n{}", self.head(id_width, time_width, &rest))?;
        }
        let day = reading.time.at.map(|at| zones.civil(at).date());
        if self.under.replace(day) != Some(day) {
            let day = match day {
                Some(date) => words.full_date(date),
                None => words.say("times-unknown"),
            };
            writeln!(out, "\n{day}")?;
        }
        let time = match reading.time.at {
            Some(at) => clock(at, zones),
            None => moment(reading.received_at, zones, words),
        };
        let (id, time) = (self.id(&reading.id.0, id_width), padded(&time, time_width));
        writeln!(out, "  {id}{time}  {}", rest(judged, &self.names))
    }

    /// One session, under its measuring day.
    pub(crate) fn session(&mut self, out: &mut impl Write, session: &Session) -> io::Result<()> {
        let (zones, words) = (self.names.zones(), self.names.words);
        let noon = "12:00".to_owned();
        let time_width = widest([from_to(&noon, &noon, words), words.say("column-time")]);
        if self.under.is_none() {
            let rest = words.say("column-sessions");
            writeln!(out, "{}", self.head(SESSION_ID, time_width, &rest))?;
        }
        if self.under.replace(Some(session.date)) != Some(Some(session.date)) {
            writeln!(out, "\n{}", words.full_date(session.date))?;
        }
        let id = self.id(&session.id.0, SESSION_ID);
        let time = padded(&while_of(session, zones, words), time_width);
        let who = self.names.column(Some(&session.person));
        writeln!(out, "  {id}{time}  {who}  {}", said_of(session, words))
    }
}

/// `07:04 to 07:06`, or one time where they are the same.
fn while_of(session: &Session, zones: &Zones, words: &Words) -> String {
    let (start, end) = (clock(session.start, zones), clock(session.end, zones));
    if start == end {
        start
    } else {
        from_to(&start, &end, words)
    }
}

fn from_to(start: &str, end: &str, words: &Words) -> String {
    words.with("interval-range", &[("low", start.into()), ("high", end.into())])
}

/// The part of the day, how many count, and what there is to know.
fn said_of(session: &Session, words: &Words) -> String {
    let part = |slot: Slot| words.say(&format!("part-{}", slot.name()));
    let parts = widest([Slot::Morning, Slot::Evening, Slot::Other].map(part));
    let taken = session.readings.len();
    let name = if taken == session.counted {
        "session-counts"
    } else {
        "session-counts-taken"
    };
    let values = [
        ("counted", session.counted.to_string().into()),
        ("wanted", session.wanted.to_string().into()),
        ("taken", taken.to_string().into()),
    ];
    let mut said = vec![words.with(name, &values)];
    match session.state(Some(Timestamp::now())) {
        SessionState::Open => said.push(words.say("session-open")),
        SessionState::Done => {}
        SessionState::Short => said.push(words.say("session-short")),
        SessionState::Empty => said.push(words.say("sheet-none-counts")),
    }
    if session.apart {
        said.push(words.say("session-apart"));
    }
    if session.irregular_pulse {
        said.push(words.say("session-irregular"));
    }
    format!("{}  {}", padded(&part(session.slot), parts), said.join("; "))
}

/// A session on a line of its own, by its id.
pub(crate) fn one_session(
    out: &mut impl Write,
    session: &Session,
    stated: &Stated,
    words: &'static Words,
) -> io::Result<()> {
    writeln!(
        out,
        "{}: {}, {}, {}",
        session.id.0,
        stated.label(&session.person),
        words.full_date(session.date),
        while_of(session, &stated.zones, words),
    )?;
    writeln!(out, "  {}", said_of(session, words))
}

/// A reading on a line of its own, by its id.
pub(crate) fn one_reading(
    out: &mut impl Write,
    judged: &JudgedReading,
    stated: &Stated,
    words: &'static Words,
) -> io::Result<()> {
    let reading = &judged.reading;
    let time = match reading.time.at {
        Some(at) => moment(at, &stated.zones, words),
        None => {
            let received = moment(reading.received_at, &stated.zones, words);
            words.with("time-unknown-received", &[("moment", received.into())])
        }
    };
    writeln!(out, "{}: {time}", reading.id.0)?;
    writeln!(out, "  {}", rest(judged, &Names::alone(stated, words)))
}
