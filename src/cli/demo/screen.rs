//! What a person sees of the demonstration: each reading when it lands, in plain words, and each person's summary.

use super::super::failure::internal;
use crate::cli::failure::Failure;
use crate::cli::rows;
use crate::cli::summary::{Summary, caution, paragraph};
use crate::frame::Frame;
use crate::household::{Household, PersonId, Zones};
use crate::journal::{FrameFilter, Journal, JournalError, Wanted};
use crate::monitoring::next::{Next, Schedule, Step, next};
use crate::monitoring::plan::Plan;
use crate::monitoring::protocol::Protocol;
use crate::reading::Reading;
use crate::reading::clock::LIVE_LAG_S_MAX;
use crate::snapshot::period::of_plan;
use crate::technique::session::{Session, SessionState};
use crate::technique::{Context, Disposition, JudgedReading, Judges, Reason};
use crate::words::{Language, Words};
use jiff::civil::Date;
use jiff::{SignedDuration, Timestamp};
use std::collections::BTreeSet;
use std::io::{self, BufWriter, Write};
use std::time::Duration;

/// A correction of the monitor's clock is told when it changes by so many minutes.
const TOLD_MIN: i64 = 2;

/// Where the words below a reading begin: under the person.
const INDENT: &str = "         ";

/// How it is shown.
#[derive(Clone, Copy)]
pub(super) struct ScreenLook {
    /// Headings stand out.
    pub(super) bold: bool,
    /// How long each reading is looked at.
    pub(super) pause: Duration,
}

/// What a person sees.
pub(super) struct Screen<'a, W: Write> {
    out: BufWriter<W>,
    look: ScreenLook,
    household: Household,
    zones: Zones,
    protocol: &'a Protocol,
    /// The day of the last heading.
    day: Option<Date>,
    /// Readings that were shown.
    shown: BTreeSet<String>,
    /// Sessions that ended short, and that was said.
    ended: BTreeSet<String>,
    /// Repeats so far.
    repeats: i64,
    /// The correction of the monitor's clock, as it was last told.
    corrected_min: i64,
}

impl<'a, W: Write> Screen<'a, W> {
    pub(super) fn new(
        out: W,
        look: ScreenLook,
        household: Household,
        zones: Zones,
        protocol: &'a Protocol,
    ) -> Self {
        Self {
            out: BufWriter::new(out),
            look,
            household,
            zones,
            protocol,
            day: None,
            shown: BTreeSet::new(),
            ended: BTreeSet::new(),
            repeats: 0,
            corrected_min: 0,
        }
    }

    pub(super) fn opening(&mut self, days: u16, zone: &str) -> io::Result<()> {
        self.heading("A demonstration: this household, its people and every number below are invented.")?;
        let how_long = match days {
            1 => "for a day".to_owned(),
            7 => "for a week".to_owned(),
            days => format!("for {days} days"),
        };
        paragraph(
            &mut self.out,
            "",
            &format!(
                "Two people share one monitor, which numbers its users. They measure morning and evening {how_long}, \
                 twice each time with a minute between. What the monitor sends is kept as it came, then read, then \
                 judged. Times are of {zone}."
            ),
        )?;
        writeln!(self.out, "\n{}\n", rows::key(english()))?;
        let width = self.name_width();
        writeln!(
            self.out,
            "  {:5}  {:width$}  {:<8}  {:>5}",
            "time", "who", "mmHg", "pulse"
        )
    }

    /// One connection of a monitor has been kept and settled.
    pub(super) fn connection(&mut self, journal: &mut Journal, frames: &[Frame]) -> Result<(), Failure> {
        let Some(now) = frames.last().map(|frame| frame.received_at) else {
            return Ok(());
        };
        self.ended(journal, now)?;
        let readings = journal.readings(&Wanted::default())?;
        let sessions = journal.sessions(&Wanted::default())?;
        let (repeats, _) = journal.repeats_and_refused()?;
        let new: Vec<&JudgedReading> = readings
            .iter()
            .filter(|judged| !self.shown.contains(&judged.reading.id.0))
            .collect();
        self.day_of(now)?;
        if self.shown.is_empty() && new.is_empty() {
            let clock = self.zones.civil(now).strftime("%H:%M");
            writeln!(
                self.out,
                "  {clock}  The monitor is paired, and its clock is read."
            )?;
        }
        let late = new.iter().filter(|judged| is_late(&judged.reading, now)).count();
        if late > 0 {
            let these = match late {
                1 => "one reading".to_owned(),
                more => format!("{more} readings"),
            };
            let clock = self.zones.civil(now).strftime("%H:%M");
            writeln!(
                self.out,
                "  {clock}  The monitor was out of reach before. It had kept {these}:"
            )?;
        }
        let all: Vec<Reading> = readings.iter().map(|judged| judged.reading.clone()).collect();
        for judged in &new {
            let session = sessions
                .iter()
                .find(|session| judged.session.as_ref() == Some(&session.id.0));
            self.reading(judged, session, &all, now)?;
            self.shown.insert(judged.reading.id.0.clone());
            self.out.flush()?;
            std::thread::sleep(self.look.pause);
        }
        match repeats - std::mem::replace(&mut self.repeats, repeats) {
            ..=0 => {}
            1 => self.say("The monitor sent one record again. It is known, and counts once.")?,
            more => self.say(&format!(
                "The monitor sent {more} records again. They are known, and count once."
            ))?,
        }
        Ok(())
    }

    /// One line, and below it what there is to know.
    fn reading(
        &mut self,
        judged: &JudgedReading,
        session: Option<&Session>,
        all: &[Reading],
        now: Timestamp,
    ) -> io::Result<()> {
        let reading = &judged.reading;
        let open = session.is_some_and(|session| session.state(Some(now)) == SessionState::Open);
        // Of a session that goes on, nobody can say yet that a reading is missing.
        let reasons: Vec<Reason> = judged
            .judgement
            .because()
            .iter()
            .filter(|reason| !(open && reason.rule().judges == Judges::Session))
            .collect();
        let shape = match judged.judgement.disposition {
            Disposition::SetAside => "⊘  set aside",
            Disposition::Marked if !reasons.is_empty() => "○  marked",
            Disposition::Counted | Disposition::Marked => "●",
        };
        let (values, pulse) = (rows::values(reading, english()), rows::pulse(reading));
        let (width, who) = (self.name_width(), self.name(reading.person.as_ref()));
        let civil = reading.time.at.map(|at| self.zones.civil(at));
        let clock = civil.map_or_else(|| "?".to_owned(), |civil| civil.strftime("%H:%M").to_string());
        let day = civil
            .filter(|civil| self.day != Some(civil.date()))
            .map(|civil| civil.strftime("  (%A)").to_string())
            .unwrap_or_default();
        writeln!(
            self.out,
            "  {clock:>5}  {who:width$}  {values:<8}  {pulse:>5}   {shape}{day}"
        )?;

        let corrected_min = (reading.time.correction_s + 30).div_euclid(60);
        if (corrected_min - self.corrected_min).abs() >= TOLD_MIN {
            self.corrected_min = corrected_min;
            self.say(&corrected(corrected_min))?;
        }
        let next = reading
            .person
            .as_ref()
            .filter(|_| !is_late(reading, now))
            .map(|person| self.next(person, all, now));
        match next {
            // It begins with the sentence of the reason.
            Some(next) if matches!(next.state, Step::Repeat | Step::SeekHelp) => self.say(&next.say),
            next => {
                for reason in reasons {
                    self.say(reason.rule().says)?;
                }
                match next {
                    Some(next)
                        if open
                            && session.is_some_and(|session| session.apart)
                            && next.state != Step::Done =>
                    {
                        self.say(&sentence(&next.because, &next.say))
                    }
                    _ => Ok(()),
                }
            }
        }
    }

    /// What the person should do at that moment.
    fn next(&self, person: &PersonId, readings: &[Reading], now: Timestamp) -> Next {
        // A corrected time may lie a second after the receipt.
        let now = readings
            .iter()
            .filter_map(|reading| reading.time.at)
            .fold(now, Timestamp::max);
        let context = Context {
            household: &self.household,
            notes: &[],
            zone: self.zones.at(now),
            rule: self.protocol.session_rule(),
        };
        next(now, person, &Schedule::EVERY_DAY, readings, &context)
    }

    /// Says of sessions that can get no more readings that some are missing.
    fn ended(&mut self, journal: &mut Journal, now: Timestamp) -> Result<(), Failure> {
        for session in journal.sessions(&Wanted::default())? {
            let state = session.state(Some(now));
            if matches!(state, SessionState::Short | SessionState::Empty)
                && self.ended.insert(session.id.0.clone())
            {
                let what = match session.counted {
                    0 => "ended with no reading that counts.".to_owned(),
                    1 => format!("ended with 1 of {} readings. It counts, marked.", session.wanted),
                    n => format!(
                        "ended with {n} of {} readings. They count, marked.",
                        session.wanted
                    ),
                };
                let who = self.name(Some(&session.person));
                let shape = if session.counted == 0 { '⊘' } else { '○' };
                self.say(&format!("{shape} {who}'s {} session {what}", session.slot.name()))?;
            }
        }
        Ok(())
    }

    /// Each person's period, made as for a household that lives.
    pub(super) fn summaries(&mut self, journal: &mut Journal, first: Date, days: u16) -> Result<(), Failure> {
        self.ended(journal, Timestamp::MAX)?;
        let stated = journal.stated()?;
        for (id, (person, _)) in self.household.people.clone() {
            let plan =
                Plan::new(&stated.protocols, &self.protocol.name, first, Some(days)).map_err(internal)?;
            let period = of_plan(journal, &stated, &id, &plan).map_err(internal)?.period;
            writeln!(self.out)?;
            let summary = Summary {
                period: &period,
                words: english(),
                title: &self.protocol.title,
                full: true,
            };
            self.heading(&summary.heading(&person.label))?;
            summary.write(&mut self.out)?;
        }
        writeln!(self.out)?;
        caution(&mut self.out, english())?;
        Ok(())
    }

    /// Where it all is, and what to do with it.
    pub(super) fn closing(&mut self, journal: &mut Journal) -> Result<(), Failure> {
        let (readings, set_aside) = journal.readings_and_set_aside()?;
        let frames = journal.frame_count()?;
        let path = journal.path().to_owned();
        writeln!(self.out)?;
        writeln!(
            self.out,
            "Everything invented: {frames} frames, {readings} readings, {set_aside} set aside, {} repeats, in\n  {}",
            self.repeats,
            path.display()
        )?;
        let program = std::env::args_os().next().unwrap_or_else(|| "quietcuff".into());
        let program = for_a_shell(&program.to_string_lossy());
        let state = path.parent().unwrap_or(&path).display().to_string();
        let state = for_a_shell(&state);
        writeln!(self.out, "\nFour things to try:")?;
        writeln!(self.out, "  {program} demo --serve")?;
        writeln!(self.out, "  {program} readings --person p1 --state {state}")?;
        writeln!(self.out, "  {program} frames --json --state {state} | head -3")?;
        if let Some(frame) = a_frame_set_aside(journal)? {
            writeln!(self.out, "  {program} decode {frame}")?;
        }
        Ok(self.out.flush()?)
    }

    fn heading(&mut self, text: &str) -> io::Result<()> {
        if self.look.bold {
            writeln!(self.out, "\x1b[1m{text}\x1b[0m")
        } else {
            writeln!(self.out, "{text}")
        }
    }

    fn day_of(&mut self, now: Timestamp) -> io::Result<()> {
        let day = self.zones.civil(now).date();
        if self.day.replace(day) != Some(day) {
            writeln!(self.out)?;
            self.heading(&day.strftime("%A %-d %B").to_string())?;
        }
        Ok(())
    }

    fn say(&mut self, text: &str) -> io::Result<()> {
        paragraph(&mut self.out, INDENT, text)
    }

    fn name(&self, person: Option<&PersonId>) -> String {
        person
            .and_then(|person| self.household.people.get(person))
            .map_or_else(|| "nobody yet".to_owned(), |(person, _)| person.label.clone())
    }

    fn name_width(&self) -> usize {
        let names = self
            .household
            .people
            .values()
            .map(|(person, _)| person.label.chars().count());
        names.max().unwrap_or_default()
    }
}

/// Whether it comes later than a reading does that was just taken.
fn is_late(reading: &Reading, now: Timestamp) -> bool {
    reading
        .time
        .at
        .is_some_and(|at| now.duration_since(at).as_secs() > LIVE_LAG_S_MAX)
}

/// The frame of the last reading that was set aside, as `decode` takes it.
fn a_frame_set_aside(journal: &mut Journal) -> Result<Option<String>, JournalError> {
    let readings = journal.readings(&Wanted::default())?;
    let set_aside = |judged: &&JudgedReading| judged.judgement.disposition == Disposition::SetAside;
    let Some(row) = readings.iter().rev().find(set_aside).map(|judged| judged.frame) else {
        return Ok(None);
    };
    let mut found = None;
    let behind = FrameFilter {
        after: Some(row - 1),
        ..FrameFilter::default()
    };
    journal.each_frame(&behind, |stored| {
        let digits: String = stored
            .frame
            .value
            .iter()
            .map(|octet| format!("{octet:02x}"))
            .collect();
        found = Some(format!("{}:{digits}", stored.frame.characteristic));
        false
    })?;
    Ok(found)
}

/// As one word to a shell (POSIX Shell Command Language 2.2.2).
fn for_a_shell(word: &str) -> String {
    let plain = |c: char| c.is_alphanumeric() || "/._-+:".contains(c);
    if word.chars().all(plain) {
        word.to_owned()
    } else {
        format!("'{}'", word.replace('\'', "'\\''"))
    }
}

/// What a corrected clock means.
fn corrected(minutes: i64) -> String {
    match minutes {
        0 => "The monitor's clock is right again.".to_owned(),
        1.. => format!(
            "The monitor's clock is {} behind the household's. Its stamps are corrected by that.",
            long(SignedDuration::from_mins(minutes))
        ),
        _ => format!(
            "The monitor's clock is {} ahead of the household's. Its stamps are corrected by that.",
            long(SignedDuration::from_mins(-minutes))
        ),
    }
}

/// A while, in hours and minutes.
fn long(while_: SignedDuration) -> String {
    let (hours, minutes) = (while_.as_mins() / 60, while_.as_mins() % 60);
    match (hours, minutes) {
        (0, minutes) => format!("{minutes} min"),
        (hours, 0) => format!("{hours} h"),
        (hours, minutes) => format!("{hours} h {minutes} min"),
    }
}

/// A reason and what follows from it, as two sentences.
fn sentence(because: &str, say: &str) -> String {
    let mut letters = because.chars();
    let first: String = letters.next().into_iter().flat_map(char::to_uppercase).collect();
    format!("{first}{}. {say}", letters.as_str())
}

/// The demonstration speaks English.
fn english() -> &'static Words {
    Language::English.words()
}
