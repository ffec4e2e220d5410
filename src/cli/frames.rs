//! `quietcuff frames`: what the journal holds, as it came.

use super::failure::{Failure, Outcome};
use super::place::Everywhere;
use crate::household::MonitorAddress;
use crate::journal::FrameFilter;
use crate::radio::json_lines::AsLine;
use clap::Args;
use std::io::Write;
use std::process::ExitCode;

/// Which frames, and how.
#[derive(Args)]
pub(crate) struct FramesArgs {
    /// Print one JSON object a line, as `replay` reads it
    #[arg(long)]
    json: bool,
    /// Only this monitor's, by its address
    #[arg(long, value_name = "ADDRESS")]
    monitor: Option<MonitorAddress>,
    /// Only frames behind this row
    #[arg(long, value_name = "ROW")]
    after: Option<i64>,
}

pub(crate) fn run(here: &Everywhere, args: &FramesArgs) -> Outcome {
    let journal = here.read_journal()?;
    let filter = FrameFilter {
        after: args.after,
        monitor: args.monitor.clone(),
        ..FrameFilter::default()
    };
    let mut out = std::io::BufWriter::new(std::io::stdout().lock());
    let mut written: Result<(), Failure> = Ok(());
    let mut any = false;
    journal.each_frame(&filter, |stored| {
        any = true;
        let frame = &stored.frame;
        written = if args.json {
            writeln!(out, "{}", AsLine(frame)).map_err(Failure::from)
        } else {
            writeln!(
                out,
                "{:>7}  {} {}  {}  {:>4}  {}  {}{}",
                stored.id,
                frame
                    .offset
                    .to_datetime(frame.received_at)
                    .strftime("%Y-%m-%d %H:%M:%S%.3f"),
                frame.offset,
                frame.monitor,
                frame.connection,
                frame.characteristic,
                hex(&frame.value),
                if frame.overheard { "  overheard" } else { "" }
            )
            .map_err(Failure::from)
        };
        written.is_ok()
    })?;
    written?;
    out.flush()?;
    if !any && !args.json {
        eprintln!(
            "quietcuff: there is no such frame; frames come while `quietcuff run` listens, or with `quietcuff replay FILE`"
        );
    }
    Ok(ExitCode::SUCCESS)
}

fn hex(value: &[u8]) -> String {
    value.iter().map(|octet| format!("{octet:02x}")).collect()
}
