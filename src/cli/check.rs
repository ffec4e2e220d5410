//! `quietcuff check`: whether this machine has what the daemon needs, and what to do where it has not.
//!
//! It only looks: nothing is switched on, installed or made. Each check stands for itself, so that a machine
//! without D-Bus, without an adapter or without a journal still hears about all the others.

mod backup;
mod bluetooth;
mod finding;
mod machine;
mod page;
mod rooms;

use super::failure;
use super::failure::{Failure, Outcome};
use super::place::Everywhere;
use crate::config::Config;
use crate::household::Household;
use crate::journal::Journal;
use clap::Args;
use finding::{Finding, FindingState, advised, failed, ok};
use std::io::{self, Write};
use std::path::Path;
use std::process::ExitCode;

/// Exit codes from the least to the worst: of several findings the last in this row wins. What can be mended
/// by starting something comes first, what needs a copy of the file before anything else last.
const WORSE: [u8; 8] = [
    0,
    failure::UNAVAILABLE,
    failure::USAGE,
    failure::CONFIG,
    failure::NO_PERMISSION,
    failure::CANNOT_CREATE,
    failure::IO,
    failure::DATA,
];

/// Looks at what the daemon needs, and says what to do.
#[derive(Args)]
#[command(
    after_help = "Exit codes: 0 everything needed is there; 69 a service is missing; 78 the configuration is wrong; \
                        77 no permission; 73 the state directory cannot be made; 74 the disk is full; 65 the journal is \
                        damaged or not one. Of several, the last named here wins. What is only advised leaves 0."
)]
pub(crate) struct CheckArgs {
    /// Also hold every frame and statement against the digest of when it was written, which reads the whole journal
    #[arg(long)]
    thorough: bool,
    /// Print one JSON object a check
    #[arg(long)]
    json: bool,
}

pub(crate) fn run(here: &Everywhere, args: &CheckArgs) -> Outcome {
    let mut findings = Vec::new();
    let config = match here.config() {
        Ok(config) => {
            findings.push(ok(
                "configuration",
                match here.config_file() {
                    Some(file) => format!("{} is valid", file.display()),
                    None => "no file, every default holds".to_owned(),
                },
            ));
            config
        }
        Err(error) => {
            findings.push(failed("configuration", &error));
            Config::default()
        }
    };

    let state = here.state();
    let mut journal = None;
    match &state {
        Ok(state) => {
            findings.push(machine::directory(state));
            findings.extend(machine::disk(state));
            let (finding, opened) = machine::look_into(state);
            findings.push(finding);
            journal = opened;
        }
        Err(error) => findings.push(failed("state directory", error)),
    }
    let stated = match journal.as_ref().map(Journal::household) {
        Some(Ok(household)) => household,
        Some(Err(error)) => {
            findings.push(failed("journal", &error.into()));
            Household::default()
        }
        None => Household::default(),
    };
    findings.push(machine::time_zone(&config, journal.as_ref(), &stated));
    findings.extend(machine::routes(&config, &stated));
    findings.extend(page::certificate(&config));
    if let Some(journal) = &mut journal {
        findings.extend(args.thorough.then(|| machine::thorough(journal)));
        findings.extend(machine::undelivered(journal));
        findings.extend(machine::delivery(&config, journal));
        if let Ok(state) = &state {
            findings.extend(rooms::rooms(state, &config, journal));
        }
        findings.push(backup::age(&config, journal));
        findings.extend(monitors_due(here, journal));
    }

    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .map_err(|e| Failure::new(failure::INTERNAL, format!("cannot start: {e}")))?;
    runtime.block_on(bluetooth::stack(&config, &stated, &mut findings));
    findings.extend(bluetooth::blocked(Path::new("/sys")));
    if let Ok(state) = &state {
        findings.push(machine::daemon(state));
        findings.extend(machine::not_direct(state));
        findings.extend(machine::consents(state));
        findings.push(machine::ear(state));
    }

    print_all(&findings, args.json)?;
    Ok(ExitCode::from(worst(&findings)))
}

fn print_all(findings: &[Finding], json: bool) -> Result<(), Failure> {
    let mut out = io::BufWriter::new(io::stdout().lock());
    for finding in findings {
        if json {
            serde_json::to_writer(&mut out, finding).map_err(io::Error::from)?;
            writeln!(out)?;
        } else {
            print(&mut out, finding)?;
        }
    }
    let missing = findings
        .iter()
        .filter(|finding| finding.state == FindingState::Needed)
        .count();
    if !json {
        let last = match missing {
            0 => "Everything needed is there.".to_owned(),
            1 => "One thing is needed before the daemon can work.".to_owned(),
            more => format!("{more} things are needed before the daemon can work."),
        };
        writeln!(out, "\n{last}")?;
    }
    Ok(out.flush()?)
}

/// What is due for the household's monitors now; what will be is in `monitors list`.
fn monitors_due(here: &Everywhere, journal: &mut Journal) -> Vec<Finding> {
    const CHECK: &str = "monitor care";
    let looked = here
        .stated(journal)
        .and_then(|stated| Ok((journal.cares(&stated, jiff::Timestamp::now())?, stated)));
    let (cared, stated) = match looked {
        Ok(looked) => looked,
        Err(error) => return vec![failed(CHECK, &error)],
    };
    let today = stated.zones.civil(jiff::Timestamp::now()).date();
    let mut findings = Vec::new();
    for (id, care) in &cared {
        for due in care.due_on(today) {
            findings.push(advised(
                CHECK,
                format!("{id}: {} due since {}", due.task.words(), due.on),
                format!("{} ({})", due.because, due.source),
            ));
        }
    }
    if findings.is_empty() && !cared.is_empty() {
        findings.push(ok(
            CHECK,
            "nothing is due; `quietcuff monitors list` says what will be",
        ));
    }
    findings
}

fn print(out: &mut impl Write, finding: &Finding) -> io::Result<()> {
    writeln!(
        out,
        "{:<8} {:<16} {}",
        finding.state.name(),
        finding.check,
        finding.found
    )?;
    match &finding.todo {
        Some(todo) => writeln!(out, "{:25} → {todo}", ""),
        None => Ok(()),
    }
}

fn worst(findings: &[Finding]) -> u8 {
    let rank = |code: u8| {
        WORSE
            .iter()
            .position(|other| *other == code)
            .unwrap_or(WORSE.len())
    };
    findings
        .iter()
        .map(|finding| finding.code)
        .max_by_key(|code| rank(*code))
        .unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::finding::needed;
    use super::*;

    #[test]
    fn the_worst_finding_decides_and_advice_does_not() {
        let of = |codes: &[u8]| {
            let findings: Vec<Finding> = codes.iter().map(|code| needed("x", *code, "", "")).collect();
            worst(&findings)
        };
        assert_eq!(worst(&[ok("x", ""), advised("x", "", "")]), 0);
        assert_eq!(of(&[69, 65, 78, 69]), 65);
        assert_eq!(of(&[69, 78]), 78);
        assert_eq!(of(&[77, 78, 69]), 77);
    }
}
