//! `quietcuff readings`: what was measured, when, whose, and what became of it; and what a person has to say on it.

mod explained;

use super::days::{Listed, WhichDays, known, past, shown};
use super::failure;
use super::failure::{Failure, Outcome};
use super::output::json_line;
use super::place::{Everywhere, Reader};
use super::rows;
use super::summary::paragraph;
use crate::export::report::words::doubted;
use crate::gatt::{Sfloat, Unit};
use crate::household::{PersonId, Posed, Statement, Zones};
use crate::journal::{Journal, Wanted};
use crate::monitoring::protocol::did_you_mean;
use crate::monitoring::stated::Stated;
use crate::reading::Pressure;
use crate::reading::owner::doubt;
use crate::technique::{JudgedReading, Reason, explain};
use crate::words::{Language, Words};
use clap::{Args, Subcommand};
use explained::explained;
use jiff::Timestamp;
use serde::Serialize;
use std::collections::BTreeMap;
use std::io::Write;
use std::process::ExitCode;

/// The longest reason for a discard: a few sentences.
const REASON_CHARS_MAX: usize = 500;

/// Lists the readings, or says something about one of them.
#[derive(Args)]
pub(crate) struct ReadingsArgs {
    #[command(flatten)]
    days: WhichDays,
    /// Show the id of each, which the other commands take
    #[arg(long, conflicts_with = "json")]
    ids: bool,
    #[command(flatten)]
    reader: Reader,
    /// Print one JSON object a line
    #[arg(long, global = true)]
    json: bool,
    #[command(subcommand)]
    command: Option<ReadingsCommand>,
}

#[derive(Subcommand)]
enum ReadingsCommand {
    /// Say in plain words why a reading stands where it does
    Explain {
        /// Its id, which `quietcuff readings --ids` shows, or the beginning of it
        id: String,
    },
    /// Say whose a reading is
    Assign {
        /// Its id, or the beginning of it
        id: String,
        /// Whose it is: the id that `quietcuff people list` prints
        #[arg(required_unless_present = "nobody", conflicts_with = "nobody")]
        person: Option<PersonId>,
        /// Take back what was said: it is again whose the monitor says it is
        #[arg(long)]
        nobody: bool,
    },
    /// Say that a reading is not to be averaged; it stays in the list
    Discard {
        /// Its id, or the beginning of it
        id: String,
        /// Why not, in your own words; kept and shown with the reading
        #[arg(
            long,
            value_name = "TEXT",
            required_unless_present = "undo",
            conflicts_with = "undo"
        )]
        reason: Option<String>,
        /// Take it back
        #[arg(long)]
        undo: bool,
    },
    /// Say that a reading was taken standing, lying or at night; those have means of their own
    Kind {
        /// Its id, or the beginning of it
        id: String,
        /// How: seated, standing, lying or night
        #[arg(required_unless_present = "undo", conflicts_with = "undo", value_parser = posed_of)]
        kind: Option<Posed>,
        /// Take it back
        #[arg(long)]
        undo: bool,
    },
    /// Say when a reading was taken
    Time {
        /// Its id, or the beginning of it
        id: String,
        /// When, such as 07:05 or 2026-03-01T07:05
        #[arg(required_unless_present = "undo", conflicts_with = "undo")]
        time: Option<String>,
        /// Take it back
        #[arg(long)]
        undo: bool,
    },
}

/// One reading as the contract prints it.
#[derive(Serialize)]
pub(crate) struct ReadingLine<'a> {
    id: &'a str,
    person: Option<&'a PersonId>,
    measured_at: Option<String>,
    time_source: &'static str,
    time_precision: &'static str,
    time_correction_s: i64,
    received_at: String,
    #[serde(serialize_with = "number")]
    systolic: Sfloat,
    #[serde(serialize_with = "number")]
    diastolic: Sfloat,
    #[serde(serialize_with = "maybe_number")]
    mean_arterial_pressure: Option<Sfloat>,
    #[serde(serialize_with = "maybe_number", skip_serializing_if = "Option::is_none")]
    pulse_rate: Option<Sfloat>,
    unit: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    systolic_mmhg: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    diastolic_mmhg: Option<f64>,
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    special: BTreeMap<&'static str, &'static str>,
    kind: &'static str,
    disposition: &'static str,
    reasons: Vec<&'static str>,
    session: Option<&'a str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    discarded: Option<&'a str>,
    monitor: &'a str,
    frame: i64,
}

/// The digits that were sent; null where it is no number.
fn number<S: serde::Serializer>(value: &Sfloat, serializer: S) -> Result<S::Ok, S::Error> {
    maybe_number(&Some(*value), serializer)
}

fn maybe_number<S: serde::Serializer>(value: &Option<Sfloat>, serializer: S) -> Result<S::Ok, S::Error> {
    value.and_then(Sfloat::decimal).serialize(serializer)
}

impl<'a> ReadingLine<'a> {
    pub(crate) fn of(judged: &'a JudgedReading, zones: &Zones) -> Self {
        let reading = &judged.reading;
        let mmhg = |value: Sfloat| Pressure::from_sfloat(value, reading.unit).map(Pressure::mmhg);
        let kpa = reading.unit == Unit::KPa;
        let values = [
            ("systolic", Some(reading.systolic)),
            ("diastolic", Some(reading.diastolic)),
            ("mean_arterial_pressure", Some(reading.mean_arterial_pressure)),
            ("pulse_rate", reading.pulse_rate),
        ];
        Self {
            id: &reading.id.0,
            person: reading.person.as_ref(),
            measured_at: reading.time.at.map(|at| shown(at, zones)),
            time_source: reading.time.source.name(),
            time_precision: reading.time.precision.name(),
            time_correction_s: reading.time.correction_s,
            received_at: shown(reading.received_at, zones),
            systolic: reading.systolic,
            diastolic: reading.diastolic,
            mean_arterial_pressure: judged.judgement.mean_arterial_pressure,
            pulse_rate: reading.pulse_rate,
            unit: reading.unit.name(),
            systolic_mmhg: mmhg(reading.systolic).filter(|_| kpa),
            diastolic_mmhg: mmhg(reading.diastolic).filter(|_| kpa),
            special: values
                .into_iter()
                .filter_map(|(name, value)| Some((name, value?.special()?.name())))
                .collect(),
            kind: judged.judgement.reasons.posed().name(),
            disposition: judged.judgement.disposition.name(),
            reasons: judged.judgement.reasons.iter().map(Reason::name).collect(),
            session: judged.session.as_deref(),
            discarded: reading.discarded.as_deref(),
            monitor: reading.monitor.as_str(),
            frame: judged.frame,
        }
    }
}

pub(crate) fn run(here: &Everywhere, args: &ReadingsArgs) -> Outcome {
    let states = !matches!(args.command, None | Some(ReadingsCommand::Explain { .. }));
    let mut journal = if states {
        here.existing_journal()?
    } else {
        here.read_journal()?
    };
    let stated = here.stated(&journal)?;
    let (zones, words) = (stated.zones.clone(), here.words(&args.reader)?);
    let Some(command) = &args.command else {
        return list(&mut journal, &stated, words, args);
    };
    if args.days.any() || args.ids {
        return Err(Failure::new(
            failure::USAGE,
            "--person, --from, --to and --ids belong to the list; one reading is named by its id",
        ));
    }
    let now = Timestamp::now();
    let (id, statement) = match command {
        ReadingsCommand::Explain { id } => {
            let judged = find(&mut journal, id)?;
            return say(&judged, &stated, words, args.json);
        }
        ReadingsCommand::Assign { id, person, .. } => {
            if let Some(person) = person {
                known(&journal.household()?, person)?;
            }
            let reading = find(&mut journal, id)?.reading.id.0;
            let person = person.clone();
            (reading.clone(), Statement::Assigned { reading, person })
        }
        ReadingsCommand::Discard { id, reason, .. } => {
            let reading = find(&mut journal, id)?.reading.id.0;
            let reason = reason.as_deref().map(reason_of).transpose()?;
            (reading.clone(), Statement::Discarded { reading, reason })
        }
        ReadingsCommand::Kind { id, kind, .. } => {
            let reading = find(&mut journal, id)?.reading.id.0;
            let posed = *kind;
            (reading.clone(), Statement::ReadingKind { reading, posed })
        }
        ReadingsCommand::Time { id, time, .. } => {
            let reading = find(&mut journal, id)?.reading.id.0;
            let measured_at = time.as_deref().map(|time| past(time, &zones, now)).transpose()?;
            (reading.clone(), Statement::Timed { reading, measured_at })
        }
    };
    journal.state(now, &[statement])?;
    let judged = find(&mut journal, &id)?;
    let mut out = std::io::stdout().lock();
    if args.json {
        json_line(&mut out, &ReadingLine::of(&judged, &zones))?;
    } else {
        rows::one_reading(&mut out, &judged, &stated, words)?;
    }
    Ok(ExitCode::SUCCESS)
}

/// The kind of reading of that name.
pub(crate) fn posed_of(name: &str) -> Result<Posed, String> {
    let names = Posed::ALL.map(Posed::name);
    Posed::of_name(name).ok_or_else(|| {
        format!(
            "{name:?} is no kind of reading{}; the kinds are {}",
            did_you_mean(name, &names),
            names.join(", ")
        )
    })
}

fn reason_of(text: &str) -> Result<String, Failure> {
    let text = text.trim();
    if text.is_empty() || text.chars().count() > REASON_CHARS_MAX || text.chars().any(char::is_control) {
        return Err(Failure::new(
            failure::USAGE,
            format!("a reason has 1 to {REASON_CHARS_MAX} characters on one line"),
        ));
    }
    Ok(text.to_owned())
}

/// The one reading whose id begins so.
pub(crate) fn find(journal: &mut Journal, beginning: &str) -> Result<JudgedReading, Failure> {
    let beginning = beginning.to_ascii_lowercase();
    let found = if beginning.is_empty() {
        Vec::new()
    } else {
        journal.reading_ids(&beginning, 2)?
    };
    let id = match found.as_slice() {
        [only] => only.0.clone(),
        [] => {
            return Err(Failure::new(
                failure::USAGE,
                format!("there is no reading {beginning:?}; `quietcuff readings --ids` lists them"),
            ));
        }
        _ => {
            return Err(Failure::new(
                failure::USAGE,
                format!("several readings begin with {beginning:?}: give more of the id"),
            ));
        }
    };
    let wanted = Wanted {
        id: Some(id.clone()),
        ..Wanted::default()
    };
    journal
        .readings(&wanted)?
        .pop()
        .ok_or_else(|| Failure::new(failure::INTERNAL, format!("reading {id} is gone")))
}

fn say(judged: &JudgedReading, stated: &Stated, words: &'static Words, json: bool) -> Outcome {
    #[derive(Serialize)]
    struct Explained<'a> {
        #[serde(flatten)]
        reading: ReadingLine<'a>,
        says: Vec<String>,
    }
    let mut out = std::io::stdout().lock();
    if json {
        let mut says = explain(&judged.reading, &judged.judgement);
        let doubt = doubt(&stated.household, &judged.reading);
        says.extend(doubt.map(|doubt| doubted(Language::English.words(), doubt, &judged.reading)));
        let explained = Explained {
            reading: ReadingLine::of(judged, &stated.zones),
            says,
        };
        json_line(&mut out, &explained)?;
    } else {
        rows::one_reading(&mut out, judged, stated, words)?;
        for said in explained(judged, &stated.household, words) {
            paragraph(&mut out, "", &said)?;
        }
    }
    Ok(ExitCode::SUCCESS)
}

fn list(journal: &mut Journal, stated: &Stated, words: &'static Words, args: &ReadingsArgs) -> Outcome {
    let wanted = args.days.wanted(journal, &stated.zones)?;
    let mut out = std::io::BufWriter::new(std::io::stdout().lock());
    let mut days = rows::ReadingsByDay::new(stated, words, args.ids);
    let (mut any, mut written): (bool, Result<(), Failure>) = (false, Ok(()));
    journal.each_reading(&wanted, |judged| {
        any = true;
        written = if args.json {
            json_line(&mut out, &ReadingLine::of(&judged, &stated.zones))
        } else {
            days.reading(&mut out, &judged).map_err(Failure::from)
        };
        written.is_ok()
    })?;
    written?;
    out.flush()?;
    if !any && !args.json {
        args.days
            .say_that_there_is_nothing(journal, Listed::Readings, words)?;
    }
    Ok(ExitCode::SUCCESS)
}
