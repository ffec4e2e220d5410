//! `quietcuff status`: what the running daemon says of itself.

use super::failure;
use super::failure::{Failure, Outcome};
use super::output::json_line;
use super::place::Everywhere;
use super::second_ear::Ear;
use crate::home::metrics::{Measured, open_metrics};
use crate::journal::Journal;
use crate::radio::way::Way;
use crate::socket;
use crate::socket::report::CollectorReport;
use clap::Args;
use serde::Serialize;
use serde_json::Value;
use std::io::Write;
use std::process::ExitCode;

/// How the daemon is.
#[derive(Args)]
pub(crate) struct StatusArgs {
    /// Print one JSON object
    #[arg(long)]
    json: bool,
    /// Print OpenMetrics text about the daemon and the journal, for a machine that watches machines
    #[arg(long, conflicts_with = "json")]
    metrics: bool,
}

pub(crate) fn run(here: &Everywhere, args: &StatusArgs) -> Outcome {
    let state = here.state()?;
    let report = socket::collector(&state).map_err(|e| {
        let denied = e.kind() == Some(std::io::ErrorKind::PermissionDenied);
        Failure::new(
            if denied { failure::NO_PERMISSION } else { failure::IO },
            format!(
                "the daemon at {} does not answer: {e}; name its directory with `--state`, or ask as the daemon's user",
                socket::path(&state).display()
            ),
        )
    })?;
    let mut out = std::io::stdout().lock();
    if args.metrics {
        out.write_all(open_metrics(&Measured::of(&Journal::read(&state)?, report)?).as_bytes())?;
        return Ok(ExitCode::SUCCESS);
    }
    let Some(report) = report else {
        if args.json {
            writeln!(out, "{}", serde_json::json!({ "running": false }))?;
        }
        return Err(Failure::new(
            failure::UNAVAILABLE,
            format!(
                "no daemon runs on {}; start it with `quietcuff run`",
                state.display()
            ),
        ));
    };
    let ear = Ear::ask(&state);
    if args.json {
        json_line(
            &mut out,
            &Printed {
                report: &report,
                second_ear: ear.json(),
            },
        )?;
    } else {
        print(&mut out, &report, &ear)?;
    }
    Ok(ExitCode::SUCCESS)
}

/// As `--json` prints it.
#[derive(Serialize)]
struct Printed<'a> {
    #[serde(flatten)]
    report: &'a CollectorReport,
    second_ear: Value,
}

fn print(out: &mut impl Write, report: &CollectorReport, ear: &Ear) -> std::io::Result<()> {
    let (radio, journal) = (&report.radio, &report.journal);
    writeln!(out, "adapter   {}", radio.adapter.as_deref().unwrap_or("none"))?;
    writeln!(
        out,
        "radio     {}",
        radio.problem.as_deref().unwrap_or("listening")
    )?;
    if let (Some(way), Some(why)) = (
        radio.bearer.as_deref().and_then(Way::named),
        &radio.bearer_because,
    ) {
        writeln!(out, "          monitors are linked {}: {why}", way.how())?;
    }
    let last = journal
        .last_frame
        .map(|at| format!(", the last at {at}"))
        .unwrap_or_default();
    writeln!(
        out,
        "journal   {} frames since the start{last}",
        journal.frames_kept
    )?;
    if let Some(problem) = &journal.problem {
        writeln!(out, "          {problem}")?;
    }
    writeln!(out, "ear       {}", ear.sentence())?;
    for (id, monitor) in &radio.monitors {
        let seen = monitor
            .last_seen
            .map_or_else(|| "not since the start".to_owned(), |at| at.to_string());
        let way = monitor.bearer.as_deref().and_then(Way::named);
        let way = way.map_or_else(String::new, |way| format!(", linked {}", way.how()));
        writeln!(out, "{id:<9} {}, last heard {seen}{way}", monitor.address)?;
        if let Some(why) = &monitor.not_direct {
            writeln!(out, "          not directly: {why}")?;
        }
        if let Some(users) = &monitor.users {
            if !users.given.is_empty() {
                let given: Vec<String> = users.given.iter().map(u8::to_string).collect();
                writeln!(
                    out,
                    "          readings of its user {}, who consented",
                    given.join(", ")
                )?;
            }
            if let Some((found, todo)) = users.problem(id) {
                writeln!(out, "          {found}; {todo}")?;
            }
        }
        if let Some(problem) = &monitor.problem {
            writeln!(out, "          {problem}")?;
        }
    }
    Ok(())
}
