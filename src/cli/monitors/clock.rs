//! `quietcuff monitors clock`: how far a monitor's clock is off, and setting it.

use super::super::failure;
use crate::cli::failure::{Failure, Outcome};
use crate::cli::place::Everywhere;
use crate::household::MonitorId;
use crate::socket::speech::Request;
use crate::socket::{self, AskError};
use std::io::Write;
use std::process::ExitCode;

pub(super) fn clock(here: &Everywhere, id: &MonitorId, set: bool, json: bool) -> Outcome {
    let journal = here.read_journal()?;
    let household = journal.household()?;
    let Some((monitor, false)) = household.monitors.get(id) else {
        return Err(Failure::new(
            failure::USAGE,
            format!("no monitor {id} is enrolled; `quietcuff monitors list` shows which are"),
        ));
    };
    let read = match &monitor.address {
        Some(address) => journal.last_clock(address)?,
        None => None,
    };
    let shown = read.map(|(at, shown, offset)| {
        let off = offset.to_datetime(at).duration_until(shown).as_secs();
        (at.display_with_offset(offset), at, shown, off)
    });
    let mut out = std::io::stdout();
    if json {
        let line = serde_json::json!({
            "id": id,
            "read_at": shown.as_ref().map(|(_, at, ..)| at),
            "shown": shown.as_ref().map(|(.., shown, _)| shown),
            "ahead_s": shown.as_ref().map(|(.., off)| off),
            "set_at_next_connection": set,
        });
        writeln!(out, "{line}")?;
    } else {
        match shown {
            Some((read, _, shown, off)) => writeln!(
                out,
                "At {read} its clock showed {shown}: {} s {}.",
                off.abs(),
                if off < 0 { "behind" } else { "ahead" }
            )?,
            None => writeln!(
                out,
                "Its clock has not been read yet; not every monitor lets it be read."
            )?,
        }
    }
    if set {
        ask_to_set(here, id)?;
        if !json {
            writeln!(out, "It will be set the next time it connects.")?;
        }
    }
    Ok(ExitCode::SUCCESS)
}

fn ask_to_set(here: &Everywhere, id: &MonitorId) -> Result<(), Failure> {
    let request = Request::SetClock { monitor: id.clone() };
    match socket::ask(&socket::path(&here.state()?), &request) {
        Ok(Some(_)) => Ok(()),
        Ok(None) => Err(Failure::new(
            failure::UNAVAILABLE,
            "no daemon runs to set it; start `quietcuff run` first",
        )),
        Err(AskError::Io(error)) => Err(Failure::new(
            failure::IO,
            format!("the daemon does not answer: {error}"),
        )),
        Err(error) => Err(Failure::new(
            failure::UNAVAILABLE,
            format!("the daemon says: {error}"),
        )),
    }
}
