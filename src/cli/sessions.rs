//! `quietcuff sessions`: the readings that were taken in one sitting.

use super::days::{Listed, WhichDays, shown};
use super::failure::Outcome;
use super::output::json_line;
use super::place::{Everywhere, Reader};
use super::rows;
use crate::household::Zones;
use crate::technique::session::Session;
use clap::Args;
use jiff::Timestamp;
use serde::Serialize;
use std::io::Write;
use std::process::ExitCode;

/// Which sessions, and how.
#[derive(Args)]
pub(crate) struct SessionsArgs {
    #[command(flatten)]
    days: WhichDays,
    /// Show the id of each, which `trace` takes
    #[arg(long, conflicts_with = "json")]
    ids: bool,
    #[command(flatten)]
    reader: Reader,
    /// Print one JSON object a line
    #[arg(long)]
    json: bool,
}

/// One session as the contract prints it.
#[derive(Serialize)]
pub(crate) struct SessionLine<'a> {
    id: &'a str,
    person: &'a str,
    start: String,
    end: String,
    date: jiff::civil::Date,
    slot: &'static str,
    readings: Vec<&'a str>,
    counted: usize,
    wanted: usize,
    state: &'static str,
    differ: bool,
    irregular_pulse: bool,
}

impl<'a> SessionLine<'a> {
    pub(crate) fn of(session: &'a Session, zones: &Zones) -> Self {
        Self {
            id: &session.id.0,
            person: session.person.as_str(),
            start: shown(session.start, zones),
            end: shown(session.end, zones),
            date: session.date,
            slot: session.slot.name(),
            readings: session.readings.iter().map(|id| id.0.as_str()).collect(),
            counted: session.counted,
            wanted: session.wanted,
            state: session.state(Some(Timestamp::now())).name(),
            differ: session.apart,
            irregular_pulse: session.irregular_pulse,
        }
    }
}

pub(crate) fn run(here: &Everywhere, args: &SessionsArgs) -> Outcome {
    let mut journal = here.read_journal()?;
    let stated = here.stated(&journal)?;
    let wanted = args.days.wanted(&journal, &stated.zones)?;
    let sessions = journal.sessions(&wanted)?;
    let words = here.words(&args.reader)?;
    let mut out = std::io::BufWriter::new(std::io::stdout().lock());
    let mut days = rows::ReadingsByDay::new(&stated, words, args.ids);
    for session in &sessions {
        if args.json {
            json_line(&mut out, &SessionLine::of(session, &stated.zones))?;
        } else {
            days.session(&mut out, session)?;
        }
    }
    out.flush()?;
    if sessions.is_empty() && !args.json {
        args.days
            .say_that_there_is_nothing(&journal, Listed::Sessions, words)?;
    }
    Ok(ExitCode::SUCCESS)
}
