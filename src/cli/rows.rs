//! How a reading, a day and a name look to a person at a terminal: the three shapes of page and sheet, the household's
//! clock, and the names that the household uses. What programs read is printed elsewhere, as JSON.

use crate::household::{Moments, PersonId, Zones};
use crate::monitoring::stated::Stated;
use crate::reading::Reading;
use crate::technique::session::{Session, State};
use crate::technique::{Disposition, JudgedReading, Reason};
use jiff::Timestamp;
use jiff::civil::Date;
use std::io::{self, Write};
use unicode_width::UnicodeWidthStr;

/// The three shapes with their words: stands above every list of readings.
pub(crate) const KEY: &str = "  ●  counted\n  ○  marked: counted, with something to know\n  ⊘  set aside: kept and listed, not averaged";

/// Filled, open, struck through.
pub(crate) const fn shape(disposition: Disposition) -> char {
    match disposition {
        Disposition::Counted => '●',
        Disposition::Marked => '○',
        Disposition::SetAside => '⊘',
    }
}

/// `145/89`, or that there is none.
pub(crate) fn values(reading: &Reading) -> String {
    match reading.systolic.special().or(reading.diastolic.special()) {
        Some(_) => "no value".to_owned(),
        None => format!("{:>3}/{}", reading.systolic.to_string(), reading.diastolic),
    }
}

/// The pulse, or nothing where the monitor gave none.
pub(crate) fn pulse(reading: &Reading) -> String {
    let number = reading.pulse_rate.filter(|pulse| pulse.special().is_none());
    number.map(|pulse| pulse.to_string()).unwrap_or_default()
}

/// A contract's word as people write it.
pub(crate) fn plain(name: &str) -> String {
    name.replace('-', " ")
}

/// `Monday 23 March 2026`.
pub(crate) fn day(date: Date) -> String {
    date.strftime("%A %-d %B %Y").to_string()
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
pub(crate) fn moment(at: Timestamp, zones: &Zones) -> String {
    format!("{}, {}", day(zones.civil(at).date()), clock(at, zones))
}

/// What the household calls its people, in a column.
pub(crate) struct Names<'a> {
    stated: &'a Stated,
    width: usize,
}

/// Who has a reading that nobody has claimed.
const NOBODY: &str = "nobody yet";

impl<'a> Names<'a> {
    pub(crate) fn of(stated: &'a Stated) -> Self {
        let labels = stated.household.people.keys().map(|id| stated.label(id).width());
        Self {
            width: labels.chain([NOBODY.len()]).max().unwrap_or_default(),
            stated,
        }
    }

    pub(crate) fn name<'b>(&'b self, person: Option<&'b PersonId>) -> &'b str {
        person.map_or(NOBODY, |id| self.stated.label(id))
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

/// Whose, what and what became of it, behind its time.
fn rest(judged: &JudgedReading, names: &Names<'_>) -> String {
    let (reading, judgement) = (&judged.reading, &judged.judgement);
    let unit = match reading.systolic.special().or(reading.diastolic.special()) {
        Some(_) => String::new(),
        None => reading.unit.name().to_owned(),
    };
    let pulse = match pulse(reading).as_str() {
        "" => String::new(),
        number => format!("pulse {number}"),
    };
    let because: Vec<String> = judgement
        .reasons
        .iter()
        .map(|reason| plain(Reason::name(reason)))
        .collect();
    let row = format!(
        "{}  {:>8} {unit:<4}  {pulse:<9}  {}  {}",
        names.column(reading.person.as_ref()),
        values(reading),
        shape(judgement.disposition),
        because.join(", ")
    );
    row.trim_end().to_owned()
}

/// Readings under the days on which they were taken.
pub(crate) struct Days<'a> {
    names: Names<'a>,
    ids: bool,
    under: Option<Option<Date>>,
}

impl<'a> Days<'a> {
    pub(crate) fn new(stated: &'a Stated, ids: bool) -> Self {
        Self {
            names: Names::of(stated),
            ids,
            under: None,
        }
    }

    /// Opens the day, unless it is open; above the first one `head` says what the columns are.
    fn open(&mut self, out: &mut impl Write, day_of: Option<Date>, head: &str) -> io::Result<()> {
        if self.under.is_none() {
            writeln!(out, "{KEY}")?;
            writeln!(out, "\n  {head}")?;
        }
        if self.under.replace(day_of) != Some(day_of) {
            match day_of {
                Some(date) => writeln!(out, "\n{}", day(date))?,
                None => writeln!(out, "\nNobody knows when they were taken; when they came")?,
            }
        }
        Ok(())
    }

    fn id(&self, id: &str) -> String {
        if self.ids {
            format!("{id}  ")
        } else {
            String::new()
        }
    }

    fn head(&self, id_width: usize, rest: &str) -> String {
        let ids = if self.ids {
            format!("{:id_width$}  ", "id")
        } else {
            String::new()
        };
        format!("{ids}{:<5}  {}  {rest}", "time", padded("who", self.names.width))
    }

    /// One reading.
    pub(crate) fn reading(&mut self, out: &mut impl Write, judged: &JudgedReading) -> io::Result<()> {
        let (reading, zones) = (&judged.reading, self.names.zones());
        let head = self.head(reading.id.0.len(), "pressure       pulse");
        self.open(out, reading.time.at.map(|at| zones.civil(at).date()), &head)?;
        let time = match reading.time.at {
            Some(at) => clock(at, zones),
            None => moment(reading.received_at, zones),
        };
        let id = self.id(&reading.id.0);
        writeln!(out, "  {id}{time}  {}", rest(judged, &self.names))
    }

    /// One session, under its measuring day.
    pub(crate) fn session(&mut self, out: &mut impl Write, session: &Session) -> io::Result<()> {
        let zones = self.names.zones();
        if self.under.is_none() {
            let ids = if self.ids {
                format!("{:28}  ", "id")
            } else {
                String::new()
            };
            let who = padded("who", self.names.width);
            writeln!(
                out,
                "  {ids}{:<14}  {who}  part of the day, and what counts",
                "time"
            )?;
        }
        if self.under.replace(Some(session.date)) != Some(Some(session.date)) {
            writeln!(out, "\n{}", day(session.date))?;
        }
        let ids = if self.ids {
            format!("{:<28}  ", session.id.0)
        } else {
            String::new()
        };
        writeln!(
            out,
            "  {ids}{:<14}  {}  {}",
            while_of(session, zones),
            self.names.column(Some(&session.person)),
            said_of(session)
        )
    }
}

/// `07:04 to 07:06`, or one time where they are the same.
fn while_of(session: &Session, zones: &Zones) -> String {
    let (start, end) = (clock(session.start, zones), clock(session.end, zones));
    if start == end {
        start
    } else {
        format!("{start} to {end}")
    }
}

/// The part of the day, how many count, and what there is to know.
fn said_of(session: &Session) -> String {
    let (counted, taken) = (session.counted, session.readings.len());
    let mut said = format!(
        "{:<7}  {counted} of {} readings count",
        session.slot.name(),
        session.wanted
    );
    if taken != counted {
        said += &format!(", {taken} taken");
    }
    let state = session.state(Some(Timestamp::now()));
    said += match state {
        State::Open => "; more may come",
        State::Done => "",
        State::Short => "; too few",
        State::Empty => "; none counts",
    };
    if session.apart {
        said += "; the first two differ";
    }
    if session.irregular_pulse {
        said += "; irregular pulse reported";
    }
    said
}

/// A session on a line of its own, by its id.
pub(crate) fn one_session(out: &mut impl Write, session: &Session, stated: &Stated) -> io::Result<()> {
    writeln!(
        out,
        "{}: {}, {}, {}",
        session.id.0,
        stated.label(&session.person),
        day(session.date),
        while_of(session, &stated.zones),
    )?;
    writeln!(out, "  {}", said_of(session))
}

/// A reading on a line of its own, by its id.
pub(crate) fn one_reading(out: &mut impl Write, judged: &JudgedReading, stated: &Stated) -> io::Result<()> {
    let reading = &judged.reading;
    let time = match reading.time.at {
        Some(at) => moment(at, &stated.zones),
        None => format!(
            "nobody knows when, received {}",
            moment(reading.received_at, &stated.zones)
        ),
    };
    let names = Names { stated, width: 0 };
    writeln!(out, "{}: {time}", reading.id.0)?;
    writeln!(out, "  {}", rest(judged, &names))
}
