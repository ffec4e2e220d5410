//! `quietcuff report`: the sheet for the clinic, as HTML or PDF.

use super::output::write_file;
use super::period::{Found, Which, find};
use super::{Everywhere, Failure, Outcome, caring, failure};
use crate::export::report::{Paper, Report};
use crate::household::StatedNote;
use crate::journal::Journal;
use crate::monitoring::period::averaged;
use clap::{Args, ValueEnum};
use jiff::Timestamp;
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::process::ExitCode;

/// The most readings of one report: ten years of ten a day. As PDF they have a hundred megabytes, which a viewer can
/// still open.
const READINGS_MAX: usize = 40_000;

/// Which period, and where to.
#[derive(Args)]
pub(crate) struct ReportArgs {
    #[command(flatten)]
    which: Which,
    /// Where to write it; its ending says what it becomes
    #[arg(long, value_name = "FILE.html|FILE.pdf")]
    output: PathBuf,
    /// The paper of a PDF; HTML takes the printer's
    #[arg(long, value_enum, default_value_t = PaperName::A4)]
    paper: PaperName,
}

#[derive(Clone, Copy, ValueEnum)]
enum PaperName {
    A4,
    Letter,
}

#[derive(Clone, Copy)]
pub(crate) enum Form {
    Html,
    Pdf,
}

pub(crate) fn run(here: &Everywhere, args: &ReportArgs) -> Outcome {
    let form = form(&args.output)?;
    let found = find(here, &args.which)?;
    let paper = match args.paper {
        PaperName::A4 => Paper::A4,
        PaperName::Letter => Paper::Letter,
    };
    let octets = octets(&mut here.existing_journal()?, &found, form, paper)?;
    write_file(&args.output, |out| Ok(out.write_all(&octets)?))?;
    if let Some(empty) = &found.empty {
        eprintln!("quietcuff: {empty}");
    }
    writeln!(
        io::stdout(),
        "{}: {}, {} to {}",
        args.output.display(),
        found.period.person,
        found.period.from,
        found.period.to
    )?;
    Ok(ExitCode::SUCCESS)
}

/// The sheet of a period that was worked out.
pub(crate) fn octets(
    journal: &mut Journal,
    found: &Found,
    form: Form,
    paper: Paper,
) -> Result<Vec<u8>, Failure> {
    let cares = caring::of_all(journal, &found.household, &found.zones)?;
    let period = &found.period;
    let days = period.from..=period.to;
    let in_average = averaged(&found.protocol, period.from, period.to, &found.history.taken);
    // Both stand in order of time, and both point into the same readings.
    let mut in_average: Vec<*const _> = in_average.into_iter().map(std::ptr::from_ref).collect();
    in_average.sort_unstable();
    let readings: Vec<_> = found
        .history
        .readings
        .iter()
        .zip(&found.history.taken)
        .filter(|(_, taken)| days.contains(&taken.day))
        .collect();
    if readings.len() > READINGS_MAX {
        return Err(Failure::new(
            failure::USAGE,
            format!(
                "{} readings are more than a report can hold ({READINGS_MAX}): give fewer days with `--days`",
                readings.len()
            ),
        ));
    }
    let mine = |note: &StatedNote| match (&note.person, &note.monitor) {
        (Some(person), _) => *person == period.person,
        (None, Some(monitor)) => readings
            .iter()
            .any(|(judged, _)| judged.reading.monitor == *monitor),
        (None, None) => false,
    };
    let notes = found.household.notes_in_time();
    let report = Report {
        averaged: readings
            .iter()
            .map(|(_, taken)| in_average.binary_search(&std::ptr::from_ref(*taken)).is_ok())
            .collect(),
        cares: &cares,
        notes: notes
            .iter()
            .filter(|note| days.contains(&found.zones.civil(note.at).date()) && mine(note))
            .cloned()
            .collect(),
        household: &found.household,
        zones: &found.zones,
        protocol: &found.protocol,
        period,
        readings,
        nobodys: found.nobodys,
        patterns: &found.patterns,
        signs: &found.signs,
        alerts: &found.alerts,
        made_at: Timestamp::now(),
    };
    Ok(match form {
        Form::Html => report.html().into_bytes(),
        Form::Pdf => report.pdf(paper),
    })
}

fn form(output: &Path) -> Result<Form, Failure> {
    let ending = output
        .extension()
        .map(|ending| ending.to_string_lossy().to_lowercase());
    match ending.as_deref() {
        Some("html" | "htm") => Ok(Form::Html),
        Some("pdf") => Ok(Form::Pdf),
        _ => Err(Failure::new(
            failure::USAGE,
            format!(
                "{} ends neither in .html nor in .pdf, and the ending says what to write",
                output.display()
            ),
        )),
    }
}
