//! The command line: one file a command. Each parses its arguments, calls the library and prints; nothing else.

mod answer;
mod backup;
mod calendar;
mod check;
mod days;
mod decode;
mod deliver;
mod demo;
mod export;
mod failure;
mod frames;
mod keys;
mod lean;
mod listeners;
mod manual;
mod monitors;
mod next;
mod note;
mod output;
mod overhear;
mod owner;
mod people;
mod period;
mod place;
mod progress;
mod readings;
mod rebuild;
mod record;
mod remind;
mod replay;
mod report;
mod rows;
mod run;
mod second_ear;
mod serve;
mod sessions;
mod status;
mod summary;
mod technique;
mod trace;
mod version;

pub use failure::Failure;

use clap::error::{ContextKind, ContextValue};
use clap::{CommandFactory, Parser, Subcommand};
use failure::Outcome;
use place::Everywhere;
use std::process::ExitCode;
use tokio::signal::unix::SignalKind;

/// Collects what a standard Bluetooth blood pressure monitor sends, keeps every frame, judges the technique, and
/// averages a week by the protocol that the clinic chose. It records and averages; it does not diagnose.
#[derive(Parser)]
#[command(
    name = "quietcuff",
    version,
    disable_version_flag = true,
    disable_help_subcommand = true,
    max_term_width = 100
)]
struct Line {
    /// Print the version; with --verbose also the commit, the target, and the journal's schema and derivation
    #[arg(short = 'V', long, action = clap::ArgAction::Version)]
    version: Option<bool>,
    #[command(flatten)]
    everywhere: Everywhere,
    #[command(subcommand)]
    command: Command,
}

#[derive(Subcommand)]
enum Command {
    /// Watch an invented household live a week in seconds; needs no Bluetooth and no configuration
    Demo(demo::DemoArgs),
    /// Listen for the household's monitors: the daemon
    Run(run::RunArgs),
    /// Listen beside the daemon, on the kernel's HCI monitor channel, for what BlueZ confirms and tells nobody
    Overhear(overhear::OverhearArgs),
    /// Serve the household's page; has no Bluetooth
    Serve(serve::ServeArgs),
    /// Make, list and withdraw keys to the page
    Keys(keys::KeysArgs),
    /// Find, pair, list and forget monitors
    Monitors(monitors::MonitorsArgs),
    /// Let other machines hand on what they hear to this one, the record
    Listeners(listeners::ListenersArgs),
    /// Hand on what this machine hears to another one, the record
    Record(record::RecordArgs),
    /// Look at what the daemon needs, and say what to do
    Check(check::CheckArgs),
    /// Ask the running daemon how it is
    Status(status::StatusArgs),
    /// Say what the bytes of a characteristic mean
    Decode(decode::DecodeArgs),
    /// Feed a capture or a file of frames to the journal
    Replay(replay::ReplayArgs),
    /// List the readings: what was measured, when, whose, and what became of it
    Readings(readings::ReadingsArgs),
    /// Make readings of the frames that came since; every command that shows readings does so itself
    #[command(hide = true)]
    Settle,
    /// Write man pages and shell completions into a directory
    #[command(hide = true)]
    Manual(manual::ManualArgs),
    /// List the sessions: the readings that were taken in one sitting
    Sessions(sessions::SessionsArgs),
    /// Say what the person with the cuff should do now
    Next(next::NextArgs),
    /// Say what was done about something that must not wait
    Answer(answer::AnswerArgs),
    /// Work out a monitoring period: its averages, and what they rest on
    Period(period::PeriodArgs),
    /// Write readings and averages for others: HL7 FHIR R4, HL7 version 2.5.1 or CSV
    Export(export::ExportArgs),
    /// Take readings and averages to the clinic's server: a role that stays, or `--once`
    Deliver(deliver::DeliverArgs),
    /// Make the sheet for the clinic, as HTML or PDF
    Report(report::ReportArgs),
    /// Follow an average, a session or a reading down to the bytes that it was made of
    Trace(trace::TraceArgs),
    /// Write the sessions of a period as a calendar that rings (iCalendar)
    Calendar(calendar::CalendarArgs),
    /// Tell people what they would miss: sessions, very high readings, a monitor that fell silent
    Remind(remind::RemindArgs),
    /// Add, list, edit and remove people
    People(people::PeopleArgs),
    /// Note what the radio cannot see, such as coffee, a dose or a clinic reading
    Note(note::NoteArgs),
    /// List the rules of technique with their sources
    Technique(technique::TechniqueArgs),
    /// Throw away everything that is derived from frames and statements, and make it again
    Rebuild(rebuild::RebuildArgs),
    /// List the frames that the journal holds
    Frames(frames::FramesArgs),
    /// Copy the journal to a file, also while the daemon runs
    Backup(backup::BackupArgs),
    /// Put a backup in place where there is no journal
    Restore(backup::RestoreArgs),
    /// Make a new journal of what can be read of a damaged one
    Recover(backup::RecoverArgs),
}

/// Runs the program; the exit code follows sysexits.
pub fn main() -> ExitCode {
    let line = match Line::try_parse() {
        Ok(line) => line,
        Err(said) if said.kind() == clap::error::ErrorKind::DisplayVersion => {
            return ended(version::print(std::env::args_os().skip(1)));
        }
        Err(said) if said.use_stderr() => return wrong_line(said),
        Err(said) => return ended(said.print().map(|()| ExitCode::SUCCESS).map_err(Failure::from)),
    };
    let here = line.everywhere;
    start_log(&here);
    outlive_a_full_file();
    if let Err(missing) = here.named_is_there() {
        return ended(Err(missing));
    }
    let outcome = match &line.command {
        Command::Decode(args) => decode::run(args),
        Command::Demo(args) => demo::run(&here, args),
        Command::Run(args) => run::run(&here, args),
        Command::Overhear(args) => overhear::run(&here, args),
        Command::Serve(args) => serve::run(&here, args),
        Command::Keys(args) => keys::run(&here, args),
        Command::Monitors(args) => monitors::run(&here, args),
        Command::Listeners(args) => listeners::run(&here, args),
        Command::Record(args) => record::run(&here, args),
        Command::Check(args) => check::run(&here, args),
        Command::Status(args) => status::run(&here, args),
        Command::Replay(args) => replay::run(&here, args),
        Command::Readings(args) => readings::run(&here, args),
        Command::Settle => settle(&here),
        Command::Manual(args) => manual::run(args, &Line::command()),
        Command::Sessions(args) => sessions::run(&here, args),
        Command::Next(args) => next::run(&here, args),
        Command::Answer(args) => answer::run(&here, args),
        Command::Period(args) => period::run(&here, args),
        Command::Export(args) => export::run(&here, args),
        Command::Deliver(args) => deliver::run(&here, args),
        Command::Report(args) => report::run(&here, args),
        Command::Trace(args) => trace::run(&here, args),
        Command::Calendar(args) => calendar::run(&here, args),
        Command::Remind(args) => remind::run(&here, args),
        Command::People(args) => people::run(&here, args),
        Command::Note(args) => note::run(&here, args),
        Command::Technique(args) => technique::run(args),
        Command::Rebuild(args) => rebuild::run(&here, args),
        Command::Frames(args) => frames::run(&here, args),
        Command::Backup(args) => backup::backup(&here, args),
        Command::Restore(args) => backup::restore(&here, args),
        Command::Recover(args) => backup::recover(&here, args),
    };
    ended(outcome)
}

/// What the parser says, as this program says things: behind its own prefix, without a library's words, and without a
/// command that no help shows.
fn wrong_line(mut said: clap::Error) -> ExitCode {
    let line = Line::command();
    let hidden: Vec<&str> = line
        .get_subcommands()
        .filter(|command| command.is_hide_set())
        .map(clap::Command::get_name)
        .collect();
    if let Some(ContextValue::Strings(similar)) = said.get(ContextKind::SuggestedSubcommand) {
        let shown: Vec<String> = similar
            .iter()
            .filter(|name| !hidden.contains(&name.as_str()))
            .cloned()
            .collect();
        said.remove(ContextKind::SuggestedSubcommand);
        if !shown.is_empty() {
            said.insert(ContextKind::SuggestedSubcommand, ContextValue::Strings(shown));
        }
    }
    let rendered = said.render();
    let mut text = if std::io::IsTerminal::is_terminal(&std::io::stderr()) {
        rendered.ansi().to_string()
    } else {
        rendered.to_string()
    };
    text = text.replacen("error:", "quietcuff:", 1);
    for (library, ours) in IN_OUR_WORDS {
        text = text.replace(library, ours);
    }
    eprint!("{text}");
    ExitCode::from(failure::USAGE)
}

/// What the standard library's parsers say, and what a person is told instead.
const IN_OUR_WORDS: [(&str, &str); 7] = [
    ("invalid digit found in string", "that is no whole number"),
    (
        "cannot parse integer from empty string",
        "that is no whole number",
    ),
    (
        "number too large to fit in target type",
        "that number is too large",
    ),
    (
        "number too small to fit in target type",
        "that number is too small",
    ),
    ("invalid float literal", "that is no number"),
    ("cannot parse float from empty string", "that is no number"),
    (
        "invalid socket address syntax",
        "write an address and a port, such as 127.0.0.1:8417",
    ),
];

/// Runs the collector alone: the second half of `quietcuff run`.
pub fn listen() -> ExitCode {
    let handed = match lean::started() {
        Some(lean::Started::Listen(handed)) => handed,
        Some(lean::Started::Understood) => return ExitCode::SUCCESS,
        None => {
            eprintln!(
                "quietcuff-listen {}: this is started by `quietcuff run` of the same version; start that, or install both \
                 of one version",
                env!("CARGO_PKG_VERSION")
            );
            return ExitCode::from(failure::USAGE);
        }
    };
    start_log(&handed.here);
    outlive_a_full_file();
    ended(run::listen(&handed))
}

fn ended(outcome: Outcome) -> ExitCode {
    match outcome {
        Ok(code) => code,
        // Whoever read our output has had enough, as in `quietcuff frames | head`.
        Err(failure) if failure.is_broken_pipe() => ExitCode::SUCCESS,
        Err(failure) => {
            eprintln!("quietcuff: {failure}");
            ExitCode::from(failure.code())
        }
    }
}

fn settle(here: &Everywhere) -> Outcome {
    let mut journal = here.existing_journal()?;
    // A listener hands on; what is derived, its record derives.
    if journal.record()?.is_none() || !journal.household()?.people.is_empty() {
        journal.settle()?;
    }
    Ok(ExitCode::SUCCESS)
}

/// A file that grows over the limit of `ulimit -f` ends a process, unless it listens to the signal; then the writing
/// fails, with a reason, and what was begun is cleared away.
fn outlive_a_full_file() {
    let Ok(runtime) = tokio::runtime::Builder::new_current_thread().enable_io().build() else {
        return;
    };
    let _inside = runtime.enter();
    let over_the_limit = SignalKind::from_raw(rustix::process::Signal::XFSZ.as_raw());
    if let Err(error) = tokio::signal::unix::signal(over_the_limit) {
        tracing::debug!("a limit on the size of files would end this process: {error}");
    }
}

fn start_log(here: &Everywhere) {
    use tracing::Level;
    let level = match here.verbose {
        0 => Level::INFO,
        1 => Level::DEBUG,
        _ => Level::TRACE,
    };
    let log = tracing_subscriber::fmt()
        .with_max_level(level)
        .with_writer(std::io::stderr)
        .with_target(false)
        .with_ansi(std::io::IsTerminal::is_terminal(&std::io::stderr()));
    let started = if here.log_json {
        log.json().try_init()
    } else {
        log.try_init()
    };
    debug_assert!(started.is_ok(), "the log is started once");
}
