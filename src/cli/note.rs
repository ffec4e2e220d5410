//! `quietcuff note`: what the radio cannot see.

use super::days::{known, one, past, shown};
use super::failure;
use super::failure::{Failure, Outcome};
use super::output::json_line;
use super::people::arm_of;
use super::place::Everywhere;
use super::readings::posed_of;
use crate::household::{Household, MonitorId, Note, PersonId, StatedNote, Statement, Zones};
use crate::monitoring::person::pair_of;
use crate::monitoring::protocol::did_you_mean;
use crate::monitoring::symptoms::{Named, SYMPTOMS, named};
use clap::{Args, Subcommand};
use jiff::Timestamp;
use serde::Serialize;
use std::io::Write;
use std::process::ExitCode;

/// The longest text of a note: a few sentences.
const TEXT_CHARS_MAX: usize = 500;

/// Circumferences that a cuff can be made for, in millimetres.
const CUFF_MM: std::ops::RangeInclusive<u16> = 80..=800;

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
    Add {
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
    },
    /// List the notes
    List {
        /// Only those about this person
        #[arg(long, value_name = "ID")]
        person: Option<PersonId>,
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

/// What a kind of note is about.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Subject {
    Person,
    Monitor,
}

/// A kind of note: its name, what may follow it, what it is about.
struct Kind {
    name: &'static str,
    words: &'static str,
    subject: Subject,
    make: fn(&str) -> Result<Note, String>,
}

const fn plain(name: &'static str, make: fn(&str) -> Result<Note, String>) -> Kind {
    Kind {
        name,
        words: "",
        subject: Subject::Person,
        make,
    }
}

const fn with(name: &'static str, words: &'static str, make: fn(&str) -> Result<Note, String>) -> Kind {
    Kind {
        name,
        words,
        subject: Subject::Person,
        make,
    }
}

const fn of_monitor(mut kind: Kind) -> Kind {
    kind.subject = Subject::Monitor;
    kind
}

const KINDS: [Kind; 23] = [
    with("medicine", "[TEXT]", |text| {
        Ok(Note::Medicine { text: maybe(text) })
    }),
    with("medicine-changed", "[TEXT]", |text| {
        Ok(Note::MedicineChanged { text: maybe(text) })
    }),
    plain("coffee", |_| Ok(Note::Coffee)),
    plain("smoking", |_| Ok(Note::Smoking)),
    plain("exercise", |_| Ok(Note::Exercise)),
    plain("alcohol", |_| Ok(Note::Alcohol)),
    plain("meal", |_| Ok(Note::Meal)),
    plain("waking", |_| Ok(Note::Waking)),
    plain("dinner", |_| Ok(Note::Dinner)),
    with("symptoms", "WORDS, separated by commas", symptoms),
    with("posture", "FAULT, such as legs-crossed", |text| {
        Ok(Note::Posture {
            fault: wanted(text, "what was wrong, such as legs-crossed")?,
        })
    }),
    plain("full-bladder", |_| Ok(Note::FullBladder)),
    plain("no-rest", |_| Ok(Note::NoRest)),
    plain("talked", |_| Ok(Note::Talked)),
    plain("over-clothing", |_| Ok(Note::OverClothing)),
    with("arm", "left|right", |text| Ok(Note::Arm { arm: arm_of(text)? })),
    with(
        "measured",
        "seated|standing|lying|night, of the readings that follow in this sitting",
        |text| {
            Ok(Note::Measured {
                posed: posed_of(text)?,
            })
        },
    ),
    with("cuff", "MIN-MAX, its range in millimetres", cuff),
    with("clinic-reading", "SYSTOLIC/DIASTOLIC in mmHg", |text| {
        let (systolic, diastolic) = pair_of(text)?;
        Ok(Note::ClinicReading { systolic, diastolic })
    }),
    of_monitor(plain("monitor-dropped", |_| Ok(Note::MonitorDropped))),
    of_monitor(plain("batteries-changed", |_| Ok(Note::BatteriesChanged))),
    of_monitor(with("monitor-checked", "[TEXT]", |text| {
        Ok(Note::MonitorChecked { text: maybe(text) })
    })),
    with("other", "TEXT", |text| {
        Ok(Note::Other {
            text: wanted(text, "what you want to note")?,
        })
    }),
];

const KINDS_HELP: &str = "Kinds: medicine [TEXT], medicine-changed [TEXT], coffee, smoking, exercise, alcohol, meal, \
waking, dinner, symptoms WORDS, posture FAULT, full-bladder, no-rest, talked, over-clothing, arm left|right, measured \
seated|standing|lying|night, cuff MIN-MAX, clinic-reading SYSTOLIC/DIASTOLIC, monitor-dropped, batteries-changed, monitor-checked [TEXT], other TEXT";

fn maybe(text: &str) -> Option<String> {
    (!text.is_empty()).then(|| text.to_owned())
}

fn wanted(text: &str, what: &str) -> Result<String, String> {
    maybe(text).ok_or_else(|| format!("say {what}"))
}

fn symptoms(text: &str) -> Result<Note, String> {
    let symptoms: Vec<String> = text
        .split(',')
        .map(str::trim)
        .filter(|symptom| !symptom.is_empty())
        .map(str::to_owned)
        .collect();
    if symptoms.is_empty() {
        return Err("say which, separated by commas, such as dizzy, headache".to_owned());
    }
    Ok(Note::Symptoms { symptoms })
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

fn cuff(text: &str) -> Result<Note, String> {
    let wrong = || {
        format!(
            "write the range printed on the cuff in millimetres, such as 220-320, within {} to {}",
            CUFF_MM.start(),
            CUFF_MM.end()
        )
    };
    let (min, max) = text.split_once('-').ok_or_else(wrong)?;
    let number = |text: &str| text.trim().parse::<u16>().map_err(|_| wrong());
    let (min_mm, max_mm) = (number(min)?, number(max)?);
    if min_mm >= max_mm || !CUFF_MM.contains(&min_mm) || !CUFF_MM.contains(&max_mm) {
        return Err(wrong());
    }
    Ok(Note::Cuff { min_mm, max_mm })
}

/// A note of this kind with these words.
fn note_of(kind: &str, words: &str) -> Result<(Note, Subject), Failure> {
    let usage = |why: String| Failure::new(failure::USAGE, why);
    let names = KINDS.map(|kind| kind.name);
    let Some(found) = KINDS.iter().find(|known| known.name == kind) else {
        return Err(usage(format!(
            "there is no kind of note {kind:?}{}; the kinds are {}",
            did_you_mean(kind, &names),
            names.join(", ")
        )));
    };
    if found.words.is_empty() && !words.is_empty() {
        return Err(usage(format!(
            "`{kind}` takes no words; `quietcuff note add other TEXT` keeps any"
        )));
    }
    if words.chars().count() > TEXT_CHARS_MAX || words.chars().any(char::is_control) {
        return Err(usage(format!(
            "a note has at most {TEXT_CHARS_MAX} characters on one line"
        )));
    }
    let note = (found.make)(words).map_err(|why| usage(format!("{kind} {}: {why}", found.words)))?;
    Ok((note, found.subject))
}

pub(crate) fn run(here: &Everywhere, args: &NoteArgs) -> Outcome {
    match &args.command {
        NoteCommand::Add {
            kind,
            words,
            person,
            monitor,
            at,
            json,
        } => {
            let now = Timestamp::now();
            let (what, subject) = note_of(kind, words.join(" ").trim())?;
            let mut journal = here.existing_journal()?;
            let zones = here.zones(&journal)?;
            let household = journal.household()?;
            let at = at.as_deref().map_or(Ok(now), |at| past(at, &zones, now))?;
            if let Some(monitor) = monitor
                && !household.monitors.contains_key(monitor)
                && !journal.monitors_heard()?.contains(monitor)
            {
                return Err(Failure::new(
                    failure::USAGE,
                    format!("there is no monitor {monitor}; `quietcuff monitors list` shows them"),
                ));
            }
            let (person, monitor) = match subject {
                Subject::Person => (Some(one(&household, person.as_ref())?), monitor.clone()),
                Subject::Monitor => {
                    if let Some(person) = person {
                        known(&household, person)?;
                    }
                    let heard = journal.monitors_heard()?;
                    (
                        person.clone(),
                        Some(one_monitor(&household, &heard, monitor.as_ref())?),
                    )
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
            print(&mut std::io::stdout().lock(), &id, &stated, &zones, *json)?;
            ask_about(&stated.what)?;
        }
        NoteCommand::List { person, json } => {
            let journal = here.read_journal()?;
            let zones = here.zones(&journal)?;
            let household = journal.household()?;
            if let Some(person) = person {
                known(&household, person)?;
            }
            let mut notes: Vec<_> = household
                .notes
                .iter()
                .filter(|(_, note)| person.is_none() || note.person == *person)
                .collect();
            notes.sort_by_key(|(_, note)| note.at);
            let mut out = std::io::BufWriter::new(std::io::stdout().lock());
            for (id, note) in notes {
                print(&mut out, id, note, &zones, *json)?;
            }
            out.flush()?;
        }
        NoteCommand::Withdraw { note } => {
            let mut journal = here.existing_journal()?;
            let household = journal.household()?;
            let mut found = household.notes.keys().filter(|id| id.starts_with(note.as_str()));
            let id = match (found.next(), found.next()) {
                (Some(only), None) => only.clone(),
                (None, _) => {
                    return Err(Failure::new(
                        failure::USAGE,
                        format!("there is no note {note:?}; `quietcuff note list` shows them"),
                    ));
                }
                _ => {
                    return Err(Failure::new(
                        failure::USAGE,
                        format!("several notes begin with {note:?}: give more of the id"),
                    ));
                }
            };
            journal.state(Timestamp::now(), &[Statement::NoteWithdrawn { note: id.clone() }])?;
            eprintln!("Note {id} is taken back.");
        }
    }
    Ok(ExitCode::SUCCESS)
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
        [] => Err(Failure::new(
            failure::USAGE,
            "there is no monitor yet; `quietcuff monitors add ADDRESS` enrols one",
        )),
        several => Err(Failure::new(
            failure::USAGE,
            format!(
                "say which with `--monitor ID`; there are: {}",
                several
                    .iter()
                    .map(|id| id.as_str())
                    .collect::<Vec<_>>()
                    .join(", ")
            ),
        )),
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
    zones: &Zones,
    json: bool,
) -> Result<(), Failure> {
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
        line.person.map(PersonId::as_str),
        line.monitor.map(MonitorId::as_str),
    ]
    .into_iter()
    .flatten()
    .collect();
    Ok(writeln!(
        out,
        "{id}  {}  {:<10}  {}",
        line.at,
        about.join(", "),
        note.what.in_words()
    )?)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What `note add` takes is what the journal keeps, kind by kind, under the same names.
    #[test]
    fn every_kind_makes_its_note() {
        for kind in KINDS {
            let words = match kind.name {
                "arm" => "left",
                "measured" => "standing",
                "cuff" => "220-320",
                "clinic-reading" => "142/91",
                _ if kind.words.is_empty() => "",
                _ => "words",
            };
            let (note, _) = note_of(kind.name, words).unwrap();
            let json = serde_json::to_value(&note).unwrap();
            assert_eq!(json["what"], kind.name);
            assert!(KINDS_HELP.contains(kind.name));
        }
    }
}
