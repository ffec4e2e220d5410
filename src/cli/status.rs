//! `quietcuff status`: what the running daemon says of itself.

use super::failure;
use super::failure::{Failure, Outcome};
use super::place::Everywhere;
use super::second_ear::Ear;
use crate::home::metrics::{Measured, open_metrics};
use crate::journal::Journal;
use crate::socket::{self, Question};
use clap::Args;
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
    let answer = socket::ask(&state, &Question::Status).map_err(|e| {
        Failure::new(
            failure::IO,
            format!(
                "the daemon at {} does not answer: {e}",
                socket::path(&state).display()
            ),
        )
    })?;
    let mut out = std::io::stdout().lock();
    if args.metrics {
        out.write_all(open_metrics(&Measured::of(&Journal::open_existing(&state)?, answer)?).as_bytes())?;
        return Ok(ExitCode::SUCCESS);
    }
    let Some(mut status) = answer else {
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
        if let Some(told) = status.as_object_mut() {
            told.insert("second_ear".to_owned(), ear.json());
        }
        writeln!(out, "{status}")?;
        return Ok(ExitCode::SUCCESS);
    }
    let radio = status.get("radio").unwrap_or(&Value::Null);
    let journal = status.get("journal").unwrap_or(&Value::Null);
    let text = |value: Option<&Value>| value.and_then(Value::as_str).map(str::to_owned);
    writeln!(
        out,
        "adapter   {}",
        text(radio.get("adapter")).unwrap_or_else(|| "none".into())
    )?;
    match text(radio.get("problem")) {
        Some(problem) => writeln!(out, "radio     {problem}")?,
        None => writeln!(out, "radio     listening")?,
    }
    let kept = journal
        .get("frames_kept")
        .and_then(Value::as_u64)
        .unwrap_or_default();
    let last = text(journal.get("last_frame"))
        .map(|at| format!(", the last at {at}"))
        .unwrap_or_default();
    writeln!(out, "journal   {kept} frames since the start{last}")?;
    if let Some(problem) = text(journal.get("problem")) {
        writeln!(out, "          {problem}")?;
    }
    writeln!(out, "ear       {}", ear.sentence())?;
    for (id, monitor) in radio
        .get("monitors")
        .and_then(Value::as_object)
        .into_iter()
        .flatten()
    {
        let seen = text(monitor.get("last_seen")).unwrap_or_else(|| "not since the start".into());
        let address = text(monitor.get("address")).unwrap_or_default();
        writeln!(out, "{id:<9} {address}, last heard {seen}")?;
        if let Some(problem) = text(monitor.get("problem")) {
            writeln!(out, "          {problem}")?;
        }
    }
    Ok(ExitCode::SUCCESS)
}
