//! `quietcuff note`: what the radio cannot see.

mod kinds;

use super::days::{known, one, past, shown};
use super::failure;
use super::failure::{Failure, Outcome};
use super::output::json_line;
use super::place::{Everywhere, Reader};
use super::rows::{self, Told};
use crate::export::report::words::note as in_words;
use crate::household::{Household, MonitorId, Note, PersonId, StatedNote, Statement};
use crate::monitoring::stated::Stated;
use crate::monitoring::symptoms::{Named, SYMPTOMS, named};
use clap::{Args, Subcommand};
use jiff::Timestamp;
use kinds::{KINDS_HELP, NoteAbout, note_of};
use serde::Serialize;
use std::io::Write;
use std::process::ExitCode;

/// Notes what the radio cannot see.
#[derive(Args)]
pub(crate) struct NoteArgs {
    #[command(subcommand)]
    command: NoteCommand,
}

#[derive(Subcommand)]
enum NoteCommand {
    /// Note that something happened
    #[command(after_help = KINDS_HELP)]
    Add(AddArgs),
    /// List the notes
    List {
        /// Only those about this person
        #[arg(long, value_name = "ID")]
        person: Option<PersonId>,
        #[command(flatten)]
        reader: Reader,
        /// Print one JSON object a line
        #[arg(long)]
        json: bool,
    },
    /// Take a note back
    Withdraw {
        /// Which: its id, or the beginning of it
        note: String,
    },
}

#[derive(Args)]
struct AddArgs {
    /// What: one of the kinds below
    kind: String,
    /// More about it, where the kind asks for it
    words: Vec<String>,
    /// About whom [default: the only person there is]
    #[arg(long, value_name = "ID")]
    person: Option<PersonId>,
    /// About which monitor [default, where it is about a monitor: the only one there is]
    #[arg(long, value_name = "ID")]
    monitor: Option<MonitorId>,
    /// When, such as 07:05 or 2026-03-01T07:05 [default: now]
    #[arg(long, value_name = "TIME")]
    at: Option<String>,
    /// Print one JSON object
    #[arg(long)]
    json: bool,
}

pub(crate) fn run(here: &Everywhere, args: &NoteArgs) -> Outcome {
    match &args.command {
        NoteCommand::Add(args) => add(here, args)?,
        NoteCommand::List { person, reader, json } => {
            list(here, person.as_ref(), (here.words(reader)?, *json))?;
        }
        NoteCommand::Withdraw { note } => withdraw(here, note)?,
    }
    Ok(ExitCode::SUCCESS)
}

fn add(here: &Everywhere, args: &AddArgs) -> Result<(), Failure> {
    let now = Timestamp::now();
    let (what, subject) = note_of(&args.kind, args.words.join(" ").trim())?;
    let mut journal = here.existing_journal()?;
    let zones = here.zones(&journal)?;
    let household = journal.household()?;
    let heard = journal.monitors_heard()?;
    let at = args.at.as_deref().map_or(Ok(now), |at| past(at, &zones, now))?;
    if let Some(monitor) = &args.monitor
        && !household.monitors.contains_key(monitor)
        && !heard.contains(monitor)
    {
        return Err(usage(format!(
            "there is no monitor {monitor}; `quietcuff monitors list` shows them"
        )));
    }
    let (person, monitor) = match subject {
        NoteAbout::Person => (Some(one(&household, args.person.as_ref())?), args.monitor.clone()),
        NoteAbout::Monitor => {
            if let Some(person) = &args.person {
                known(&household, person)?;
            }
            let monitor = one_monitor(&household, &heard, args.monitor.as_ref())?;
            (args.person.clone(), Some(monitor))
        }
    };
    let stated = StatedNote {
        person,
        monitor,
        at,
        what,
    };
    let id = stated.name(now);
    let statement = Statement::Note {
        note: id.clone(),
        person: stated.person.clone(),
        monitor: stated.monitor.clone(),
        at: stated.at,
        what: stated.what.clone(),
    };
    journal.state(now, &[statement])?;
    let told = (here.language(None)?.words(), args.json);
    print(
        &mut std::io::stdout().lock(),
        &id,
        &stated,
        &*here.stated(&journal)?,
        told,
    )?;
    Ok(ask_about(&stated.what)?)
}

fn list(here: &Everywhere, person: Option<&PersonId>, (words, json): Told) -> Result<(), Failure> {
    let journal = here.read_journal()?;
    let stated = here.stated(&journal)?;
    let household = &stated.household;
    if let Some(person) = person {
        known(household, person)?;
    }
    let mut notes: Vec<_> = household
        .notes
        .iter()
        .filter(|(_, note)| person.is_none() || note.person.as_ref() == person)
        .collect();
    notes.sort_by_key(|(_, note)| note.at);
    if notes.is_empty() && !json {
        let command = [("command", "`quietcuff note add coffee`".into())];
        eprintln!("quietcuff: {}", words.with("nothing-noted", &command));
    }
    let mut out = std::io::BufWriter::new(std::io::stdout().lock());
    for (id, note) in notes {
        print(&mut out, id, note, &stated, (words, json))?;
    }
    Ok(out.flush()?)
}

/// `beginning` is a note's id, or so much of it that only one has it.
fn withdraw(here: &Everywhere, beginning: &str) -> Result<(), Failure> {
    let mut journal = here.existing_journal()?;
    let household = journal.household()?;
    let mut found = household.notes.keys().filter(|id| id.starts_with(beginning));
    let id = match (found.next(), found.next()) {
        (Some(only), None) => only.clone(),
        (None, _) => {
            return Err(usage(format!(
                "there is no note {beginning:?}; `quietcuff note list` shows them"
            )));
        }
        _ => {
            return Err(usage(format!(
                "several notes begin with {beginning:?}: give more of the id"
            )));
        }
    };
    journal.state(Timestamp::now(), &[Statement::NoteWithdrawn { note: id.clone() }])?;
    eprintln!("Note {id} is taken back.");
    Ok(())
}

fn usage(why: String) -> Failure {
    Failure::new(failure::USAGE, why)
}

/// Words that are none of the list change no advice, so whoever wrote them is asked, with the emergency in sight.
fn ask_about(what: &Note) -> std::io::Result<()> {
    let Note::Symptoms { symptoms } = what else {
        return Ok(());
    };
    if symptoms.iter().any(|words| named(words) == Named::Unknown) {
        let list: Vec<&str> = SYMPTOMS.iter().map(|symptom| symptom.name).collect();
        writeln!(
            std::io::stderr(),
            "These words are none of the list, and change no advice. Is it one of these? {}. `quietcuff note add symptoms \
             NAME` notes one, with `none` if it is none of them. For any of the first ten call your emergency number now.",
            list.join(", ")
        )?;
    }
    Ok(())
}

/// The monitor that was named, else the only one there is.
fn one_monitor(
    household: &Household,
    heard: &[MonitorId],
    named: Option<&MonitorId>,
) -> Result<MonitorId, Failure> {
    if let Some(monitor) = named {
        return Ok(monitor.clone());
    }
    let stated = household
        .monitors
        .iter()
        .filter(|(_, (_, forgotten))| !forgotten)
        .map(|(id, _)| id);
    let mut there: Vec<&MonitorId> = stated.chain(heard).collect();
    there.sort_unstable();
    there.dedup();
    match there.as_slice() {
        [only] => Ok((*only).clone()),
        [] => Err(usage(
            "there is no monitor yet; `quietcuff monitors add ADDRESS` enrols one".to_owned(),
        )),
        several => Err(usage(format!(
            "say which with `--monitor ID`; there are: {}",
            several
                .iter()
                .map(|id| id.as_str())
                .collect::<Vec<_>>()
                .join(", ")
        ))),
    }
}

#[derive(Serialize)]
struct Line<'a> {
    id: &'a str,
    person: Option<&'a PersonId>,
    monitor: Option<&'a MonitorId>,
    at: String,
    #[serde(flatten)]
    what: &'a Note,
}

fn print(
    out: &mut impl Write,
    id: &str,
    note: &StatedNote,
    stated: &Stated,
    (words, json): Told,
) -> Result<(), Failure> {
    let zones = &stated.zones;
    let line = Line {
        id,
        person: note.person.as_ref(),
        monitor: note.monitor.as_ref(),
        at: shown(note.at.round(jiff::Unit::Second).unwrap_or(note.at), zones),
        what: &note.what,
    };
    if json {
        return json_line(out, &line);
    }
    let about: Vec<&str> = [
        line.person.map(|person| stated.label(person)),
        line.monitor.map(MonitorId::as_str),
    ]
    .into_iter()
    .flatten()
    .collect();
    let names = rows::widest(stated.household.people.keys().map(|id| stated.label(id)));
    Ok(writeln!(
        out,
        "{id}  {}  {}  {}",
        rows::moment(note.at, zones, words),
        rows::padded(&about.join(", "), names),
        in_words(words, &note.what)
    )?)
}
