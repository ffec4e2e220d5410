//! `quietcuff replay`: a capture or JSON Lines through the same path as live frames.

use super::failure;
use super::failure::{Failure, Outcome};
use super::place::Everywhere;
use super::progress::ProgressLine;
use crate::frame::Frame;
use crate::household::{PersonId, Statement, Zones};
use crate::journal::{Appended, Journal};
use crate::radio::source::{self, SourceError};
use clap::Args;
use std::io::Write;
use std::path::PathBuf;
use std::process::ExitCode;

/// Frames a transaction: other processes get their turn in between, and a replay that is broken off keeps what it had.
const BURST: usize = 8192;

/// Lines that could not be read are named, the first few of them.
const FAULTS_NAMED: usize = 10;

/// Feeds a file of frames to the journal. A file that was fed before adds nothing.
#[derive(Args)]
pub(crate) struct ReplayArgs {
    /// A btsnoop capture, as `btmon -w` writes it, or frames as JSON Lines
    file: PathBuf,
    /// Give every reading of the file to this person, who is added if new
    #[arg(long, value_name = "ID")]
    person: Option<PersonId>,
    /// The household's time zone: an IANA name, or an offset such as --time-zone=-09:00
    #[arg(long, value_name = "ZONE", allow_hyphen_values = true)]
    time_zone: Option<String>,
    /// Print one JSON object with the counts
    #[arg(long)]
    json: bool,
}

pub(crate) fn run(here: &Everywhere, args: &ReplayArgs) -> Outcome {
    let zone = args.time_zone.as_deref().map(checked_zone).transpose()?;
    let mut source = source::open(&args.file).map_err(|error| source_failed(&error))?;
    let mut journal = here.journal()?;
    let before = counts(&mut journal)?;

    let mut appended = Appended::default();
    let mut burst: Vec<Frame> = Vec::with_capacity(BURST);
    let mut bad_lines = 0_usize;
    let mut stated = false;
    let progress = ProgressLine::start("reading frames", "frames");
    loop {
        let next = source.next();
        match next {
            Some(Ok(mut frame)) => {
                if args.person.is_some() {
                    frame.given_to.clone_from(&args.person);
                }
                burst.push(frame);
                if burst.len() < BURST {
                    continue;
                }
            }
            Some(Err(error @ SourceError::Line { .. })) => {
                bad_lines += 1;
                if bad_lines <= FAULTS_NAMED {
                    eprintln!("quietcuff: {error}");
                }
                continue;
            }
            Some(Err(error)) => {
                // What came before the fault is good, and is kept.
                appended += journal.append(&burst)?;
                journal.settle()?;
                return Err(source_failed(&error));
            }
            None => {}
        }
        if !std::mem::replace(&mut stated, true) {
            state(here, &mut journal, args, zone.as_deref(), burst.first())?;
        }
        let last = burst.len() < BURST;
        appended += journal.append(&burst)?;
        burst.clear();
        progress.count(u64::try_from(appended.new + appended.known).unwrap_or(u64::MAX));
        if last {
            break;
        }
    }
    journal.settle()?;
    drop(progress);
    if bad_lines > FAULTS_NAMED {
        eprintln!(
            "quietcuff: {} more lines could not be read",
            bad_lines - FAULTS_NAMED
        );
    }
    let after = counts(&mut journal)?;
    report(args, appended, bad_lines, before, after, source.summary())?;
    Ok(if bad_lines > 0 {
        ExitCode::from(failure::DATA)
    } else {
        ExitCode::SUCCESS
    })
}

fn checked_zone(zone: &str) -> Result<String, Failure> {
    crate::household::time_zone(zone).map_err(|e| Failure::new(failure::USAGE, e.to_string()))?;
    Ok(zone.to_owned())
}

fn source_failed(error: &SourceError) -> Failure {
    let code = match error {
        SourceError::Io { error, .. } if error.kind() == std::io::ErrorKind::NotFound => failure::NO_INPUT,
        SourceError::Io { error, .. } if error.kind() == std::io::ErrorKind::PermissionDenied => {
            failure::NO_INPUT
        }
        SourceError::Io { .. } => failure::IO,
        _ => failure::DATA,
    };
    Failure::new(code, error.to_string())
}

/// States the person and the zone where they are not stated yet.
fn state(
    here: &Everywhere,
    journal: &mut Journal,
    args: &ReplayArgs,
    zone: Option<&str>,
    first: Option<&Frame>,
) -> Result<(), Failure> {
    let household = journal.household()?;
    let mut statements = Vec::new();
    statements.extend(
        args.person
            .iter()
            .filter_map(|person| household.introduces(person)),
    );
    match zone {
        None => statements.extend(here.first_zone(&household)?),
        Some(zone) if household.zones.is_empty() => {
            statements.push(Statement::Zone {
                zone: zone.to_owned(),
                from: None,
            });
        }
        Some(zone) => {
            let from = first.map(|frame| frame.received_at);
            let holds = Zones::of(&household).ok();
            let same = from.zip(holds).is_some_and(|(from, zones)| {
                crate::household::time_zone(zone).is_ok_and(|wanted| *zones.at(from) == wanted)
            });
            if !same {
                statements.push(Statement::Zone {
                    zone: zone.to_owned(),
                    from,
                });
            }
        }
    }
    if !statements.is_empty() {
        journal.state(jiff::Timestamp::now(), &statements)?;
    }
    Ok(())
}

#[derive(Clone, Copy)]
struct Counts {
    readings: i64,
    set_aside: i64,
    repeats: i64,
    refused: i64,
}

fn counts(journal: &mut Journal) -> Result<Counts, Failure> {
    journal.settle()?;
    let (readings, set_aside) = journal.readings_and_set_aside()?;
    let (repeats, refused) = journal.repeats_and_refused()?;
    Ok(Counts {
        readings,
        set_aside,
        repeats,
        refused,
    })
}

fn report(
    args: &ReplayArgs,
    appended: Appended,
    bad_lines: usize,
    before: Counts,
    after: Counts,
    capture: Option<&crate::radio::capture::CaptureSummary>,
) -> Result<(), Failure> {
    let mut out = std::io::stdout().lock();
    let new = Counts {
        readings: after.readings - before.readings,
        set_aside: after.set_aside - before.set_aside,
        repeats: after.repeats - before.repeats,
        refused: after.refused - before.refused,
    };
    if args.json {
        let line = serde_json::json!({
            "frames": appended.new, "known_frames": appended.known, "readings": new.readings, "repeats": new.repeats,
            "set_aside": new.set_aside, "refused": new.refused, "unreadable_lines": bad_lines,
        });
        writeln!(out, "{line}")?;
        return Ok(());
    }
    writeln!(
        out,
        "frames     {:>8} new, {} known",
        appended.new, appended.known
    )?;
    writeln!(out, "readings   {:>8} new", new.readings)?;
    writeln!(out, "repeats    {:>8} of records heard before", new.repeats)?;
    writeln!(out, "set aside  {:>8}", new.set_aside)?;
    writeln!(
        out,
        "refused    {:>8} measurements that cannot be read; their frames are kept",
        new.refused
    )?;
    if bad_lines > 0 {
        writeln!(out, "unreadable {bad_lines:>8} lines")?;
    }
    if let Some(capture) = capture {
        for remark in capture.remarks() {
            writeln!(out, "           {remark}")?;
        }
    }
    Ok(())
}
