//! `quietcuff sessions`: the readings that were taken in one sitting.

use super::days::{Days, shown};
use super::failure::Outcome;
use super::output::json_line;
use super::place::Everywhere;
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
    days: Days,
    /// Print one JSON object a line
    #[arg(long)]
    json: bool,
}

/// One session as the contract prints it.
#[derive(Serialize)]
pub(crate) struct Line<'a> {
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

impl<'a> Line<'a> {
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

    pub(crate) fn print(&self, out: &mut impl Write) -> std::io::Result<()> {
        writeln!(
            out,
            "{:<28}  {}  {:<8}  {:<7}  {} of {} readings count, {} taken  {}{}{}",
            self.id,
            self.start,
            self.person,
            self.slot,
            self.counted,
            self.wanted,
            self.readings.len(),
            self.state,
            if self.differ { "  first two differ" } else { "" },
            if self.irregular_pulse {
                "  irregular pulse reported"
            } else {
                ""
            },
        )
    }
}

pub(crate) fn run(here: &Everywhere, args: &SessionsArgs) -> Outcome {
    let mut journal = here.read_journal()?;
    let zones = here.zones(&journal)?;
    let wanted = args.days.wanted(&journal, &zones)?;
    let mut out = std::io::BufWriter::new(std::io::stdout().lock());
    for session in &journal.sessions(&wanted)? {
        let line = Line::of(session, &zones);
        if args.json {
            json_line(&mut out, &line)?;
        } else {
            line.print(&mut out)?;
        }
    }
    out.flush()?;
    Ok(ExitCode::SUCCESS)
}
