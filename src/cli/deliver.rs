//! `quietcuff deliver`: to the clinic's server, and how it stands there.

use super::failure;
use super::failure::{Failure, Outcome};
use super::output::json_line;
use super::place::Everywhere;
use crate::delivery::answer::Trouble;
use crate::delivery::{Auth, DeliveryError};
use crate::household::Zones;
use crate::journal::Journal;
use crate::journal::outbox::Delivered;
use crate::roles;
use crate::roles::delivery::{self, DeliverError, Delivery};
use crate::roles::manager::ServiceManager;
use clap::{Args, Subcommand};
use jiff::Timestamp;
use serde::Serialize;
use std::io::Write;
use std::process::ExitCode;

/// Sends what the clinic should have: each counted reading of the chosen people, what changed or was withdrawn since, and
/// the average of each period that is over. It stays and follows the journal until it is told to stop.
#[derive(Args)]
#[command(args_conflicts_with_subcommands = true)]
pub(crate) struct DeliverArgs {
    /// Send what is due and end
    #[arg(long, conflicts_with = "dry_run")]
    once: bool,
    /// Send nothing: write what would leave the house, and where to
    #[arg(long)]
    dry_run: bool,
    #[command(subcommand)]
    command: Option<DeliverCommand>,
}

#[derive(Subcommand)]
enum DeliverCommand {
    /// How it stands: what waits, what was sent, and what the server refused and why
    List {
        /// Print one JSON object
        #[arg(long)]
        json: bool,
    },
    /// Let what the server refused be sent again
    Retry {
        /// Its id, as the list shows it
        #[arg(required_unless_present = "all", conflicts_with = "all")]
        id: Option<String>,
        /// Everything that it refused
        #[arg(long)]
        all: bool,
    },
}

pub(crate) fn run(here: &Everywhere, args: &DeliverArgs) -> Outcome {
    match &args.command {
        Some(DeliverCommand::List { json }) => list(here, *json)?,
        Some(DeliverCommand::Retry { id, .. }) => retry(here, id.as_deref())?,
        None if args.dry_run => dry_run(here)?,
        None => {
            let journal = here.existing_journal()?;
            let _lock = delivery::lock(&journal)?;
            let delivery = begin(here, journal)?;
            if args.once {
                return once(delivery);
            }
            let service = ServiceManager::of_environment();
            delivery::stay(delivery, service, roles::told_to_stop())?;
        }
    }
    Ok(ExitCode::SUCCESS)
}

impl From<DeliverError> for Failure {
    fn from(error: DeliverError) -> Self {
        let code = match error {
            DeliverError::Delivery(DeliveryError::Writing(error)) => return error.into(),
            DeliverError::Journal(error) => return error.into(),
            DeliverError::Start(error) => return error.into(),
            DeliverError::Delivery(ref error) => error.exit_code(),
            DeliverError::Zone(_) => failure::CONFIG,
            DeliverError::Running | DeliverError::LeftAlone(_) => failure::UNAVAILABLE,
            DeliverError::Lock { .. } => failure::CANNOT_CREATE,
            DeliverError::Thread(_) => failure::INTERNAL,
        };
        Self::new(code, error.to_string())
    }
}

fn begin(here: &Everywhere, journal: Journal) -> Result<Delivery, Failure> {
    Ok(Delivery::begin(here.config()?, journal)?)
}

fn once(delivery: Delivery) -> Outcome {
    let server = delivery.target.server.clone();
    let Some(trouble) = delivery.once()?.trouble else {
        return Ok(ExitCode::SUCCESS);
    };
    let code = match trouble {
        Trouble::NotAllowed { .. } => failure::NO_PERMISSION,
        _ => failure::UNAVAILABLE,
    };
    Err(Failure::new(
        code,
        format!("{server}: {trouble}; what is due waits and goes the next time"),
    ))
}

fn dry_run(here: &Everywhere) -> Result<(), Failure> {
    let mut delivery = begin(here, here.read_journal()?)?;
    let shown = match delivery.config.clinic.auth {
        Auth::None => "",
        Auth::Bearer | Auth::Smart => "Authorization: Bearer [secret]\n",
        Auth::Basic => "Authorization: Basic [secret]\n",
    };
    let server = delivery.target.server.clone();
    let mut out = std::io::BufWriter::new(std::io::stdout().lock());
    let tally = delivery.with_survey(|journal, target, survey| {
        target.preview(journal, survey, |bundle| {
            write!(
                out,
                "POST {server}\nAccept: application/fhir+json\nContent-Type: application/fhir+json\nPrefer: \
                 return=minimal\n{shown}Content-Length: {}\n\n{bundle}\n",
                bundle.len()
            )
        })
    })?;
    out.flush()?;
    eprintln!(
        "quietcuff: nothing was sent; {} resources would go to {server}{}",
        tally.waiting,
        if tally.waiting == 0 {
            ""
        } else {
            ". Where one refers to another by urn:uuid outside its Bundle, the id that the server gives stands there then"
        }
    );
    Ok(())
}

#[derive(Serialize)]
struct Listing {
    server: String,
    people: Vec<String>,
    waiting: usize,
    sent: usize,
    parked: usize,
    last_contact: Option<Timestamp>,
    not_before: Option<Timestamp>,
    problem: Option<String>,
    refused: Vec<Refused>,
}

#[derive(Serialize)]
struct Refused {
    id: String,
    resource: String,
    person: Option<String>,
    status: Option<u16>,
    at: Option<Timestamp>,
    reason: String,
}

impl Refused {
    fn of(row: Delivered) -> Option<Self> {
        Some(Self {
            id: row.name,
            resource: row.kind,
            person: row.person,
            status: row.status,
            at: row.answered,
            reason: row.refusal?,
        })
    }
}

fn list(here: &Everywhere, json: bool) -> Result<(), Failure> {
    let mut delivery = begin(here, here.read_journal()?)?;
    let tally = delivery.with_survey(|journal, target, survey| target.tally(journal, survey))?;
    let clinic = delivery.target.name();
    let contact = delivery.journal.contact(&clinic)?;
    let refused: Vec<Refused> = delivery
        .journal
        .deliveries(&clinic)?
        .into_iter()
        .filter_map(Refused::of)
        .collect();
    let listing = Listing {
        server: clinic,
        people: delivery.target.people.keys().map(ToString::to_string).collect(),
        waiting: tally.waiting,
        sent: tally.sent,
        parked: tally.parked,
        last_contact: contact.last,
        not_before: contact.not_before,
        problem: contact.problem,
        refused,
    };
    let mut out = std::io::BufWriter::new(std::io::stdout().lock());
    if json {
        json_line(&mut out, &listing)?;
    } else {
        print(&mut out, &listing, &delivery.stated.zones)?;
    }
    Ok(out.flush()?)
}

fn print(out: &mut impl Write, listing: &Listing, zones: &Zones) -> std::io::Result<()> {
    let moment =
        |at: Option<Timestamp>| at.map_or_else(|| "never".to_owned(), |at| format!("{:.0}", zones.civil(at)));
    writeln!(out, "clinic    {}", listing.server)?;
    writeln!(out, "people    {}", listing.people.join(", "))?;
    writeln!(
        out,
        "resources {} sent, {} waiting, {} refused",
        listing.sent, listing.waiting, listing.parked
    )?;
    writeln!(out, "contact   {}", moment(listing.last_contact))?;
    if let Some(problem) = &listing.problem {
        writeln!(out, "problem   {problem}")?;
        writeln!(out, "          not before {} again", moment(listing.not_before))?;
    }
    for refused in &listing.refused {
        writeln!(
            out,
            "refused   {} {}: {} {}",
            refused.resource,
            refused.id,
            refused
                .status
                .map(|status| status.to_string())
                .unwrap_or_default(),
            refused.reason
        )?;
    }
    if !listing.refused.is_empty() {
        writeln!(
            out,
            "          `quietcuff deliver retry ID` or `--all` lets them be sent again"
        )?;
    }
    Ok(())
}

fn retry(here: &Everywhere, id: Option<&str>) -> Result<(), Failure> {
    let mut delivery = begin(here, here.existing_journal()?)?;
    let freed = delivery.journal.try_again(&delivery.target.name(), id)?;
    match (freed, id) {
        (0, Some(id)) => Err(Failure::new(
            failure::USAGE,
            format!("nothing that the server refused is called {id}; `quietcuff deliver list` lists what is"),
        )),
        (freed, _) => {
            eprintln!("quietcuff: {freed} resources will be sent again");
            Ok(())
        }
    }
}
