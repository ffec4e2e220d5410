//! `quietcuff technique`: the rules by which a reading is judged.

use super::failure::Outcome;
use super::output::json_line;
use crate::technique::{Judges, RULES};
use clap::{Args, Subcommand};
use serde::Serialize;
use std::io::Write;
use std::process::ExitCode;

/// The rules by which a reading is judged.
#[derive(Args)]
pub(crate) struct TechniqueArgs {
    #[command(subcommand)]
    command: TechniqueCommand,
}

#[derive(Subcommand)]
enum TechniqueCommand {
    /// List every rule: what becomes of the reading, how it is known, and who says so
    List {
        /// Print one JSON object a line
        #[arg(long)]
        json: bool,
    },
}

#[derive(Serialize)]
struct Line {
    reason: &'static str,
    disposition: &'static str,
    basis: &'static str,
    judges: &'static str,
    says: &'static str,
    source: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    effect: Option<Effect>,
}

/// As published; shown, never subtracted.
#[derive(Serialize)]
struct Effect {
    systolic: &'static str,
    diastolic: &'static str,
    source: &'static str,
}

pub(crate) fn run(args: &TechniqueArgs) -> Outcome {
    let TechniqueCommand::List { json } = args.command;
    let mut out = std::io::BufWriter::new(std::io::stdout().lock());
    for rule in &RULES {
        let line = Line {
            reason: rule.reason.name(),
            disposition: rule.disposition.name(),
            basis: rule.basis.name(),
            judges: match rule.judges {
                Judges::Reading => "reading",
                Judges::Session => "session",
                Judges::Monitor => "monitor",
            },
            says: rule.says,
            source: rule.source,
            effect: rule.effect.map(|effect| Effect {
                systolic: effect.systolic,
                diastolic: effect.diastolic,
                source: effect.source,
            }),
        };
        if json {
            json_line(&mut out, &line)?;
            continue;
        }
        writeln!(out, "{}: {}, {}", line.reason, line.disposition, line.basis)?;
        writeln!(out, "    {}", line.says)?;
        writeln!(out, "    Source: {}.", line.source)?;
        if let Some(effect) = line.effect {
            writeln!(
                out,
                "    Known effect in mmHg, never subtracted: systolic {}, diastolic {} ({}).",
                effect.systolic, effect.diastolic, effect.source
            )?;
        }
    }
    out.flush()?;
    Ok(ExitCode::SUCCESS)
}
