//! `quietcuff export`: readings and averages in forms that others read.

mod folder;

use super::days::WhichDays;
use super::failure;
use super::failure::{Failure, Outcome};
use super::output::To;
use super::place::Everywhere;
use super::progress::ProgressLine;
use crate::export::csv;
use crate::export::fhir::document::Document;
use crate::export::fhir::{Averaged, Exporter, Fhir, Form, Sheet, Sink, Subject};
use crate::export::hl7::batch::Batch;
use crate::export::hl7::{Hl7, OrderWriter, Status};
use crate::export::released::Became;
use crate::household::{Household, PersonId, Zones};
use crate::journal::{Journal, Wanted};
use crate::monitoring::plan::{self, Plan};
use crate::monitoring::protocols::DEFAULT;
use crate::monitoring::stated::Stated;
use crate::reading::Reading;
use crate::snapshot::period::{FindError, WorkedOut, of_plan};
use crate::snapshot::sheet::Filed;
use crate::words::Language;
use clap::{Args, Subcommand};
use folder::Folder;
use jiff::civil::Date;
use jiff::{Timestamp, ToSpan};
use std::collections::BTreeMap;
use std::io::Write;
use std::path::PathBuf;
use std::process::ExitCode;
use std::sync::Arc;

/// Writes for others.
#[derive(Args)]
pub(crate) struct ExportArgs {
    #[command(subcommand)]
    command: ExportCommand,
}

#[derive(Subcommand)]
enum ExportCommand {
    /// HL7 FHIR R4: one transaction Bundle, which a server takes as often as it is sent and keeps once
    Fhir {
        #[command(flatten)]
        days: WhichDays,
        #[command(flatten)]
        to: To,
        /// Write one resource a line instead of a Bundle
        #[arg(long)]
        ndjson: bool,
        /// Write one resource a line, and a file a type of resource into this folder, such as Observation.ndjson (FHIR Bulk
        /// Data Access)
        #[arg(long, value_name = "FOLDER", conflicts_with = "output")]
        folder: Option<PathBuf>,
        /// Put the sheet of each person's average in too, as a PDF in a DocumentReference
        #[arg(long)]
        sheet: bool,
    },
    /// HL7 version 2.5.1, for a clinic without FHIR: a batch of messages, one a reading and one an average (ORU^R01)
    Hl7 {
        #[command(flatten)]
        days: WhichDays,
        #[command(flatten)]
        to: To,
    },
    /// Comma-separated values (RFC 4180): one row a reading, every reading, with what became of it and why
    Csv {
        #[command(flatten)]
        days: WhichDays,
        #[command(flatten)]
        to: To,
    },
}

pub(crate) fn run(here: &Everywhere, args: &ExportArgs) -> Outcome {
    let mut journal = here.read_journal()?;
    let zones = here.zones(&journal)?;
    journal.reading_once()?;
    let (ExportCommand::Csv { to, .. } | ExportCommand::Fhir { to, .. } | ExportCommand::Hl7 { to, .. }) =
        &args.command;
    let progress = ProgressLine::start_if(!to.is_a_terminal(), "exporting", "readings");
    // What is said of it is said when it is there.
    let said = match &args.command {
        ExportCommand::Csv { days, to } => {
            let wanted = days.wanted(&journal, &zones)?;
            to.beside(&journal)?
                .write(|out| to_csv(&mut journal, &zones, (&wanted, &progress), out))?
        }
        ExportCommand::Fhir {
            days,
            to,
            ndjson,
            folder,
            sheet,
        } => {
            let wanted = days.wanted(&journal, &zones)?;
            let config = here.config()?;
            let language = config.clinic_language();
            let stated = here.stated(&journal)?;
            let form = if *ndjson || folder.is_some() {
                Form::Lines
            } else {
                Form::Bundle
            };
            let give = |journal: &mut Journal, write: &mut Sink<'_>| {
                let what = (form, sheet.then_some(language));
                to_fhir(
                    journal,
                    &stated,
                    &config.fhir,
                    days,
                    (&wanted, &progress),
                    what,
                    write,
                )
            };
            match folder {
                Some(folder) => Folder::new(folder, &journal)?.write(|write| give(&mut journal, write))?,
                None => to.beside(&journal)?.write(|out| {
                    let mut document = Document::begin(out, form)?;
                    let said = give(&mut journal, &mut |item| document.write(item))?;
                    document.end()?;
                    Ok(said)
                })?,
            }
        }
        ExportCommand::Hl7 { days, to } => {
            let wanted = days.wanted(&journal, &zones)?;
            let config = here.config()?.hl7;
            let stated = here.stated(&journal)?;
            to.beside(&journal)?
                .write(|out| to_hl7(&mut journal, &stated, &config, days, (&wanted, &progress), out))?
        }
    };
    drop(progress);
    for line in said {
        eprintln!("quietcuff: {line}");
    }
    Ok(ExitCode::SUCCESS)
}

fn to_csv(
    journal: &mut Journal,
    zones: &Zones,
    (wanted, progress): (&Wanted, &ProgressLine),
    out: &mut dyn Write,
) -> Result<Vec<String>, Failure> {
    let mut out = out;
    csv::header(&mut out)?;
    let (mut rows, mut written) = (0_u64, Ok(()));
    journal.each_reading(wanted, |judged| {
        progress.one_more();
        rows += 1;
        written = csv::row(
            &mut out,
            &judged.reading,
            &judged.judgement,
            judged.session.as_deref(),
            judged.frame,
            zones,
        );
        written.is_ok()
    })?;
    written?;
    let nothing = "there is no reading to export; the table has its header only";
    Ok(if rows == 0 {
        vec![nothing.to_owned()]
    } else {
        vec![]
    })
}

/// What was exported and what was not, for the person at the terminal.
#[derive(Default)]
struct Tally {
    exported: u64,
    withdrawn: u64,
    nobodys: u64,
    set_aside: u64,
    averages: u64,
    reasons: BTreeMap<&'static str, u64>,
    /// Each person's last exported reading.
    last: BTreeMap<PersonId, Timestamp>,
}

impl Tally {
    fn count(&mut self, reading: &Reading, became: Became) {
        match became {
            Became::Exported => {
                self.exported += 1;
                if let (Some(person), Some(at)) = (&reading.person, reading.time.at) {
                    self.last.insert(person.clone(), at);
                }
            }
            Became::Withdrawn => self.withdrawn += 1,
            Became::Nobodys => self.nobodys += 1,
            Became::SetAside(reasons) => {
                self.set_aside += 1;
                for reason in reasons.iter() {
                    *self.reasons.entry(reason.name()).or_default() += 1;
                }
            }
        }
    }

    fn sentence(&self) -> String {
        let many = |n, what: &str| format!("{n} {what}{}", if n == 1 { "" } else { "s" });
        let (readings, averages) = (many(self.exported, "reading"), many(self.averages, "average"));
        let mut parts = vec![format!("{readings} and {averages} exported")];
        if self.exported + self.withdrawn == 0 {
            parts =
                vec!["there is no reading to export; nothing but an empty document is written".to_owned()];
        }
        if self.withdrawn > 0 {
            parts.push(format!("{} withdrawn ones as entered in error", self.withdrawn));
        }
        if self.set_aside > 0 {
            let reasons: Vec<String> = self
                .reasons
                .iter()
                .map(|(name, n)| format!("{name} {n}"))
                .collect();
            parts.push(format!(
                "{} set aside were left out ({})",
                self.set_aside,
                reasons.join(", ")
            ));
        }
        if self.nobodys > 0 {
            parts.push(format!(
                "{} are nobody's yet and were left out; `quietcuff readings assign ID PERSON` says whose",
                self.nobodys
            ));
        }
        parts.join("; ")
    }
}

fn to_fhir(
    journal: &mut Journal,
    stated: &Arc<Stated>,
    config: &Fhir,
    days: &WhichDays,
    (wanted, progress): (&Wanted, &ProgressLine),
    (form, sheet): (Form, Option<Language>),
    write: &mut Sink<'_>,
) -> Result<Vec<String>, Failure> {
    let subjects = subjects(journal, &stated.household, ("fhir.patients", &config.patients))?;
    let installation = journal.installation()?;
    let mut exporter = Exporter::new(&installation, stated, config.switches(), form, subjects);
    let (mut tally, mut written) = (Tally::default(), Ok(()));
    journal.each_reading(wanted, |judged| {
        progress.one_more();
        let became = exporter.reading(&judged.reading, &judged.judgement, write);
        written = became.map(|became| tally.count(&judged.reading, became));
        written.is_ok()
    })?;
    written?;

    let mut said = averages(journal, stated, days, &mut tally, |averaged| {
        exporter.average(averaged, write)
    })?;
    if let Some(language) = sheet {
        for (person, last) in &tally.last {
            let plan = latest(stated, person, days, *last)?;
            let filed = Filed::of_plan(journal, stated, person, &plan, language).map_err(unfound)?;
            match filed.pdf() {
                Ok(pdf) => {
                    let sheet = Sheet {
                        period: &filed.found.period,
                        pdf: &pdf,
                        language: filed.language,
                        made_at: filed.made_at,
                        days: filed.days,
                    };
                    exporter.sheet(&sheet, write)?;
                }
                Err(error) => said.push(format!(
                    "no sheet of {person} from {} to {}: {error}",
                    plan.from,
                    plan.to()
                )),
            }
        }
    }
    said.push(tally.sentence());
    Ok(said)
}

fn to_hl7(
    journal: &mut Journal,
    stated: &Stated,
    config: &Hl7,
    days: &WhichDays,
    (wanted, progress): (&Wanted, &ProgressLine),
    out: &mut dyn Write,
) -> Result<Vec<String>, Failure> {
    let subjects = subjects(journal, &stated.household, ("hl7.patients", &config.patients))?;
    let orders = OrderWriter::new(&journal.installation()?, stated, config, subjects);
    let mut batch = Batch::begin(out, &orders, orders.stamp(Timestamp::now()))?;
    let (mut tally, mut written) = (Tally::default(), Ok(()));
    journal.each_reading(wanted, |judged| {
        progress.one_more();
        let (became, order) = orders.reading(&judged.reading, &judged.judgement);
        tally.count(&judged.reading, became);
        let status = if became == Became::Withdrawn {
            Status::Withdrawn
        } else {
            Status::Final
        };
        if let Some(order) = order {
            written = batch.write(&order, status);
        }
        written.is_ok()
    })?;
    written?;
    let mut said = averages(journal, stated, days, &mut tally, |averaged| {
        let order = orders.average(averaged);
        if let Some(order) = &order {
            batch.write(order, Status::Final)?;
        }
        Ok(order.is_some())
    })?;
    batch.end()?;
    said.push(tally.sentence());
    Ok(said)
}

/// Hands over each person's average; what is to be said of those who have none.
fn averages(
    journal: &mut Journal,
    stated: &Stated,
    days: &WhichDays,
    tally: &mut Tally,
    mut hand_over: impl FnMut(&Averaged<'_>) -> std::io::Result<bool>,
) -> Result<Vec<String>, Failure> {
    let mut said = Vec::new();
    for (person, last) in &tally.last {
        let plan = latest(stated, person, days, *last)?;
        let worked_out = of_plan(journal, stated, person, &plan).map_err(unfound)?;
        let WorkedOut {
            protocol,
            period,
            history,
        } = &worked_out;
        let averaged = Averaged {
            period,
            protocol,
            readings: &history.averaged(protocol, period),
        };
        if hand_over(&averaged)? {
            tally.averages += 1;
        } else if let Some(why) = &period.insufficient {
            said.push(format!(
                "no average of {person} from {} to {} by {}: {why}",
                period.from, period.to, period.protocol
            ));
        }
    }
    Ok(said)
}

fn unfound(error: FindError) -> Failure {
    match error {
        FindError::Journal(error) => error.into(),
        error => usage(&error),
    }
}

fn usage(error: &dyn std::fmt::Display) -> Failure {
    Failure::new(failure::USAGE, error.to_string())
}

/// Everybody's reference: the clinic's own where the configuration has it.
fn subjects(
    journal: &mut Journal,
    household: &Household,
    (key, patients): (&str, &BTreeMap<PersonId, String>),
) -> Result<BTreeMap<PersonId, Subject>, Failure> {
    if let Some(stranger) = patients
        .keys()
        .find(|person| !household.people.contains_key(person))
    {
        return Err(Failure::new(
            failure::CONFIG,
            format!("{key} names {stranger}, and nobody is called so; `quietcuff people list` lists who is"),
        ));
    }
    let mut subjects = BTreeMap::new();
    for person in household.people.keys() {
        if let Some(reference) = patients.get(person) {
            subjects.insert(person.clone(), Subject::Known(reference.clone()));
            continue;
        }
        let of_theirs = Wanted {
            person: Some(person.clone()),
            ..Wanted::default()
        };
        journal.each_reading(&of_theirs, |first| {
            let subject = Subject::unknown(household, person, &first.reading.monitor);
            subjects.insert(person.clone(), subject);
            false
        })?;
    }
    Ok(subjects)
}

/// The last period within the exported days: the last that was begun, where all of it is in them, else the days of the
/// person's protocol that end with their last exported reading.
fn latest(
    stated: &Stated,
    person: &PersonId,
    exported: &WhichDays,
    last: Timestamp,
) -> Result<Plan, Failure> {
    let mut plans = stated.plans(person).to_vec();
    let (first_day, last_day) = (
        exported.from.unwrap_or(Date::MIN),
        exported.to.unwrap_or(Date::MAX),
    );
    plans.retain(|plan| first_day <= plan.from && plan.to() <= last_day);
    let until = stated.zones.civil(last).date();
    let own = stated
        .person(person)
        .and_then(|person| person.protocol.as_deref());
    let name = own.unwrap_or(DEFAULT);
    let protocol = stated.protocols.get(name).map_err(|e| usage(&e))?;
    if let Some(plan) = plan::latest(&plans, name, protocol.days.value, &[], until) {
        return Ok(plan);
    }
    let full = until
        .checked_sub((i64::from(protocol.days.value) - 1).days())
        .unwrap_or(Date::MIN);
    let from = full.max(first_day);
    let days = from.until(until).map_or(1, |span| span.get_days() + 1);
    Plan::new(&stated.protocols, name, from, u16::try_from(days).ok()).map_err(|e| usage(&e))
}
