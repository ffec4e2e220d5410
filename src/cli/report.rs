//! `quietcuff report`: the sheet for the clinic, as HTML or PDF.

use super::failure;
use super::failure::{Failure, Outcome};
use super::output::Checked;
use super::period::{Which, find};
use super::place::{Everywhere, language_of};
use super::progress::ProgressLine;
use crate::export::report::{Paper, ReportForm};
use crate::home::listening::troubles_now;
use crate::snapshot::faces::faces_for;
use crate::whole::{OutputPlace, shown};
use crate::words::Language;
use clap::{Args, ValueEnum};
use jiff::Timestamp;
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::process::ExitCode;

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
    /// In which language, such as hi [default: the household's, which the configuration says]
    #[arg(long, value_name = "TAG", value_parser = language_of)]
    language: Option<Language>,
    /// List every reading, of more than 31 days too
    #[arg(long)]
    readings: bool,
}

#[derive(Clone, Copy, ValueEnum)]
enum PaperName {
    A4,
    Letter,
}

pub(crate) fn run(here: &Everywhere, args: &ReportArgs) -> Outcome {
    let paper = paper(&args.output, args.paper)?;
    let progress = ProgressLine::start("making the sheet", "");
    let found = find(here, &args.which)?;
    let mut report = found
        .report(Timestamp::now())
        .map_err(|e| Failure::new(failure::USAGE, format!("{e} with `--days`")))?;
    let journal = here.read_journal()?;
    report.list_all = args.readings;
    let words = here.language(args.language)?.words();
    report.words = words;
    report.troubles = troubles_now(
        &here.state()?,
        &journal,
        (
            &found.stated.household,
            &here.config()?.clinic,
            here.config()?.alerts.silent(),
        ),
        report.made_at,
    )?;
    let octets = match paper {
        None => report.write(ReportForm::Html),
        Some(paper) => {
            let faces = faces_for(&report.letters())
                .map_err(|e| Failure::new(failure::UNAVAILABLE, e.to_string()))?;
            report.write(ReportForm::Pdf(paper, &faces))
        }
    };
    drop(progress);
    Checked::new(&args.output, &journal)?.write(|out| Ok(out.write_all(&octets)?))?;
    if let Some(empty) = &found.empty {
        eprintln!("quietcuff: {}", words.of(empty));
    }
    // Not into the sheet itself, where the shell sends both there.
    if !matches!(OutputPlace::of(&args.output), Ok(OutputPlace::Own(_))) {
        writeln!(
            io::stdout(),
            "{}: {}, {} to {}",
            shown(&args.output),
            found.period.person,
            found.period.from,
            found.period.to
        )?;
    }
    Ok(ExitCode::SUCCESS)
}

/// The paper of a PDF; `None` for HTML.
fn paper(output: &Path, paper: PaperName) -> Result<Option<Paper>, Failure> {
    let ending = output
        .extension()
        .map(|ending| ending.to_string_lossy().to_lowercase());
    match ending.as_deref() {
        Some("html" | "htm") => Ok(None),
        Some("pdf") => Ok(Some(match paper {
            PaperName::A4 => Paper::A4,
            PaperName::Letter => Paper::Letter,
        })),
        _ => Err(Failure::new(
            failure::USAGE,
            format!(
                "{} ends neither in .html nor in .pdf, and the ending says what to write; name a file that ends in one",
                shown(output)
            ),
        )),
    }
}
