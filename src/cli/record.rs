//! `quietcuff record`: at a listener, to which record it hands on, and the role that does.

use super::days;
use super::failure::{self, Failure, Outcome};
use super::output::json_line;
use super::owner;
use super::place::Everywhere;
use crate::afar::code::Code;
use crate::afar::errand::{self, ErrandError};
use crate::afar::key::OwnKey;
use crate::afar::speech::Why;
use crate::roles;
use crate::roles::listener::{HandingError, Listening, stay};
use crate::roles::manager::ServiceManager;
use clap::{Args, Subcommand};
use jiff::Timestamp;
use std::io::Write;
use std::process::ExitCode;

/// Hands on to another machine, the record, what this one hears.
#[derive(Args)]
pub(crate) struct RecordArgs {
    #[command(subcommand)]
    command: RecordCommand,
}

/// A century: for ever.
const KEEP_DAYS_MAX: i64 = 36_500;

#[derive(Subcommand)]
enum RecordCommand {
    /// Join the record that printed this code
    Join {
        /// The code, as `quietcuff listeners invite` printed it there
        code: Code,
        /// Print one JSON object
        #[arg(long)]
        json: bool,
    },
    /// Say to which record this machine hands on, and how far it is
    Show {
        /// Print one JSON object
        #[arg(long)]
        json: bool,
    },
    /// Say for how many days what the record holds stays here as well (90 where nothing is said)
    Keep {
        /// Days since the record was first known to hold a frame; 0 lets it go at the next look, within six hours
        #[arg(value_parser = clap::value_parser!(u16).range(..=KEEP_DAYS_MAX))]
        days: u16,
    },
    /// Hand on to no record any more; what was heard stays here
    Leave,
    /// Hand on what is heard: a role that stays, or `--once`
    HandOn {
        /// Hand on what waits now, and end
        #[arg(long)]
        once: bool,
    },
}

pub(crate) fn run(here: &Everywhere, args: &RecordArgs) -> Outcome {
    match &args.command {
        RecordCommand::Join { code, json } => return join(here, code, *json),
        RecordCommand::Show { json } => show(here, *json)?,
        RecordCommand::Keep { days } => {
            if !here.existing_journal()?.keep_for(*days)? {
                return Err(HandingError::NoRecord.into());
            }
            eprintln!(
                "What the record has held for {days} days leaves this machine, and nothing that it does not hold. A record \
                 that is put back from an older backup cannot get back from here what has left."
            );
        }
        RecordCommand::Leave => {
            if !here.existing_journal()?.leave_record()? {
                return Err(HandingError::NoRecord.into());
            }
            eprintln!(
                "This machine hands on no more. At the record, `quietcuff listeners withdraw` closes its door."
            );
        }
        RecordCommand::HandOn { once: true } => {
            let handed = Listening::begin(&here.state()?)?.once()?;
            println!("{handed} frames handed on");
        }
        RecordCommand::HandOn { once: false } => stay(
            Listening::begin(&here.state()?)?,
            ServiceManager::of_environment(),
            roles::told_to_stop(),
        )?,
    }
    Ok(ExitCode::SUCCESS)
}

fn join(here: &Everywhere, code: &Code, json: bool) -> Outcome {
    let state = here.state()?;
    // The key pair, where this makes it, has to be the role's to read.
    let shown = code.to_string();
    let mut again = vec!["record", "join", &shown];
    again.extend(json.then_some("--json"));
    if let Some(done) = owner::instead(&state, &again, None)? {
        return Ok(done);
    }
    let mut journal = here.journal()?;
    let own = OwnKey::of(&state)?;
    if code.record == own.digest {
        return Err(Failure::new(
            failure::USAGE,
            "this code is this machine's own: a record is not its own listener; take the code to the other machine",
        ));
    }
    let listener = errand::join(code, &own, env!("CARGO_PKG_VERSION"))?;
    journal.join_record(&code.at, &code.record, Timestamp::now())?;
    if json {
        json_line(
            &mut std::io::stdout().lock(),
            &serde_json::json!({ "listener": listener, "at": code.at }),
        )?;
        return Ok(ExitCode::SUCCESS);
    }
    println!(
        "This machine is listener {listener} of the record at {}.",
        code.at
    );
    eprintln!(
        "`quietcuff record hand-on` hands on what is heard here, or `systemctl enable --now quietcuff-hand-on`."
    );
    Ok(ExitCode::SUCCESS)
}

fn show(here: &Everywhere, json: bool) -> Result<(), Failure> {
    let journal = here.read_journal()?;
    let record = journal.record()?.ok_or(HandingError::NoRecord)?;
    let waiting = journal.waiting_behind(record.through)?;
    let gone = journal.was_let_go()?.map_or(0, |gone| gone.frames);
    let zones = here.zones(&journal)?;
    let told = record.told.map(|told| days::shown(told, &zones));
    let mut out = std::io::stdout().lock();
    if json {
        return json_line(
            &mut out,
            &serde_json::json!({
                "at": record.at, "joined": days::shown(record.joined, &zones), "told": told, "waiting": waiting,
                "problem": record.problem, "keep_days": record.keep_days, "let_go": gone,
            }),
        );
    }
    writeln!(out, "record   {}", record.at)?;
    writeln!(out, "waiting  {waiting} frames")?;
    if let Some(told) = told {
        writeln!(out, "reached  {told}")?;
    }
    writeln!(
        out,
        "kept     {} days after the record holds it; {gone} frames left since",
        record.keep_days
    )?;
    if let Some(problem) = record.problem {
        writeln!(out, "problem  {problem}")?;
    }
    Ok(())
}

impl From<ErrandError> for Failure {
    fn from(error: ErrandError) -> Self {
        let code = match &error {
            ErrandError::Journal(error) => error.exit_code(),
            ErrandError::Refused {
                why: Why::NotLetIn | Why::Code,
                ..
            } => failure::NO_PERMISSION,
            ErrandError::Line(_) | ErrandError::Refused { .. } | ErrandError::Otherwise(_) => {
                failure::UNAVAILABLE
            }
        };
        Self::new(code, error.to_string())
    }
}

impl From<HandingError> for Failure {
    fn from(error: HandingError) -> Self {
        match error {
            HandingError::Journal(error) => error.into(),
            HandingError::Key(error) => error.into(),
            HandingError::Errand(error) => error.into(),
            HandingError::NoRecord => Self::new(failure::CONFIG, error.to_string()),
            HandingError::Wake(_) | HandingError::Start(_) | HandingError::Thread(_) => {
                Self::new(failure::INTERNAL, error.to_string())
            }
        }
    }
}
