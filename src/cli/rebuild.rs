//! `quietcuff rebuild`: everything that is derived, made anew.

use super::failure::Outcome;
use super::output::json_line;
use super::place::Everywhere;
use super::progress::ProgressLine;
use clap::Args;
use serde::Serialize;
use std::io::Write;
use std::process::ExitCode;

/// Throws away readings, judgements and sessions, and makes them again from the frames and statements. The result is
/// the same; it is there to prove that, and for a file that was tampered with. Frames, statements and their digests are
/// left as they are.
#[derive(Args)]
pub(crate) struct RebuildArgs {
    /// Print one JSON object
    #[arg(long)]
    json: bool,
}

#[derive(Serialize)]
struct Line {
    frames: i64,
    connections: usize,
    readings: i64,
    set_aside: i64,
    repeats: i64,
    refused: i64,
}

pub(crate) fn run(here: &Everywhere, args: &RebuildArgs) -> Outcome {
    let mut journal = here.existing_journal()?;
    let progress = ProgressLine::start("making every reading anew", "");
    let settlement = journal.rebuild()?;
    drop(progress);
    let (readings, set_aside) = journal.readings_and_set_aside()?;
    let (repeats, refused) = journal.repeats_and_refused()?;
    let line = Line {
        frames: journal.frame_count()?,
        connections: settlement.connections,
        readings,
        set_aside,
        repeats,
        refused,
    };
    let mut out = std::io::stdout().lock();
    if args.json {
        json_line(&mut out, &line)?;
    } else {
        writeln!(
            out,
            "{} frames on {} connections gave {} readings, {} of them set aside; {} records came again, {} could not \
             be read",
            line.frames, line.connections, line.readings, line.set_aside, line.repeats, line.refused
        )?;
    }
    Ok(ExitCode::SUCCESS)
}
