//! `quietcuff deliver`: to the clinic's server. A role of its own: it uses the network and never Bluetooth.

use super::place::protocols;
use super::run::stopped;
use super::service::Service;
use super::{Everywhere, Failure, Outcome, failure, json_line};
use crate::config::{Auth, Config};
use crate::export::delivery::answer::Trouble;
use crate::export::delivery::due::Survey;
use crate::export::delivery::patience;
use crate::export::delivery::{Courier, DeliveryError, Round, Target};
use crate::household::Zones;
use crate::journal::Journal;
use crate::journal::outbox::Delivered;
use clap::{Args, Subcommand};
use jiff::Timestamp;
use rustix::fs::{FlockOperation, flock};
use serde::Serialize;
use std::fs::{File, OpenOptions};
use std::io::Write;
use std::os::unix::fs::OpenOptionsExt;
use std::process::ExitCode;
use std::sync::Arc;
use std::time::{Duration, Instant};

/// How often the journal is asked whether somebody wrote: a reading may be at the clinic seconds after it was taken, and
/// an idle role hardly wakes.
const LOOK: Duration = Duration::from_secs(5);
/// A period ends with a day, and nobody writes then.
const LOOK_ANYWAY: Duration = Duration::from_mins(30);

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
            let _lock = lock(here)?;
            if args.once {
                return Delivery::begin(here)?.once();
            }
            stay(Delivery::begin(here)?)?;
        }
    }
    Ok(ExitCode::SUCCESS)
}

impl From<DeliveryError> for Failure {
    fn from(error: DeliveryError) -> Self {
        match error {
            DeliveryError::Writing(error) => error.into(),
            other => Self::new(other.exit_code(), other.to_string()),
        }
    }
}

fn exit_code(trouble: &Trouble) -> u8 {
    match trouble {
        Trouble::NotAllowed { .. } => failure::NO_PERMISSION,
        _ => failure::UNAVAILABLE,
    }
}

/// Two at once would send the same twice at the same moment, which not every server can tell apart.
fn lock(here: &Everywhere) -> Result<File, Failure> {
    let path = here.existing_journal()?.path().with_file_name("deliver.lock");
    let cannot = |why: &dyn std::fmt::Display| {
        Failure::new(
            failure::CANNOT_CREATE,
            format!("cannot lock {}: {why}", path.display()),
        )
    };
    let file = OpenOptions::new()
        .create(true)
        .write(true)
        .truncate(false)
        .mode(0o600)
        .open(&path)
        .map_err(|e| cannot(&e))?;
    match flock(&file, FlockOperation::NonBlockingLockExclusive) {
        Ok(()) => Ok(file),
        Err(rustix::io::Errno::WOULDBLOCK) => Err(Failure::new(
            failure::UNAVAILABLE,
            "a delivery is running already and sends what is due; `quietcuff deliver list` says how it stands",
        )),
        Err(error) => Err(cannot(&error)),
    }
}

/// Everything that a look at what is due needs.
struct Delivery {
    config: Config,
    journal: Journal,
    household: crate::household::Household,
    zones: Zones,
    target: Target,
    courier: Option<Courier>,
}

impl Delivery {
    fn begin(here: &Everywhere) -> Result<Self, Failure> {
        let config = here.config()?;
        let journal = here.existing_journal()?;
        let household = journal.household()?;
        protocols(&household)?;
        let target = Target::of(&config, &household)?;
        let zones = here.zones(&journal)?;
        Ok(Self {
            config,
            journal,
            household,
            zones,
            target,
            courier: None,
        })
    }

    /// The household may have said something since.
    fn look_again(&mut self) -> Result<(), Failure> {
        self.household = self.journal.household()?;
        if !self.household.zones.is_empty() {
            self.zones = Zones::of(&self.household, jiff::tz::db())
                .map_err(|e| Failure::new(failure::CONFIG, e.to_string()))?;
        }
        Ok(())
    }

    fn with_survey<T>(
        &mut self,
        work: impl FnOnce(&mut Journal, &Target, &Survey<'_>) -> Result<T, DeliveryError>,
    ) -> Result<T, Failure> {
        let survey = Survey {
            household: &self.household,
            zones: &self.zones,
            switches: self.config.fhir.switches(),
            people: &self.target.people,
            today: self.zones.civil(Timestamp::now()).date(),
        };
        Ok(work(&mut self.journal, &self.target, &survey)?)
    }

    /// Rounds until nothing is due or something is wrong. `alive` is called at each Bundle: the first delivery of ten
    /// years takes longer than a watchdog waits.
    fn rounds(&mut self, alive: &dyn Fn()) -> Result<Round, Failure> {
        let mut all = Round::default();
        let mut courier = match self.courier.take() {
            Some(courier) => courier,
            None => Courier::new(&self.config, self.target.clone())?,
        };
        // The time is asked for when a Bundle is sent and when it is answered.
        let clock = || {
            alive();
            Timestamp::now()
        };
        loop {
            let round = self.with_survey(|journal, _, survey| courier.round(journal, survey, &clock))?;
            all.sent += round.sent;
            all.refused += round.refused;
            if round.trouble.is_some() || round.sent + round.refused == 0 {
                // Whoever mends that we are not let in writes a new secret, which is read then.
                if !matches!(round.trouble, Some(Trouble::NotAllowed { .. })) {
                    self.courier = Some(courier);
                }
                all.trouble = round.trouble;
                return Ok(all);
            }
        }
    }

    fn once(mut self) -> Outcome {
        let contact = self.journal.contact(&self.target.name())?;
        if let Some(at) = contact
            .not_before
            .filter(|at| contact.asked && patience::rests(Some(*at), Timestamp::now()))
        {
            return Err(Failure::new(
                failure::UNAVAILABLE,
                format!("the clinic's server asked to be left alone until {at:.0}; what is due waits"),
            ));
        }
        let round = self.rounds(&|| ())?;
        tell(&round, &self.target);
        match round.trouble {
            None => Ok(ExitCode::SUCCESS),
            Some(trouble) => Err(Failure::new(
                exit_code(&trouble),
                format!(
                    "{}: {trouble}; what is due waits and goes the next time",
                    self.target.server
                ),
            )),
        }
    }

    /// Looks when somebody wrote, when patience is over, and now and then.
    fn follow(mut self, service: &Service) -> Result<(), Failure> {
        service.ready("following the journal");
        let (mut seen, mut looked) = (None, Instant::now());
        loop {
            service.alive();
            let version = self.journal.data_version()?;
            let contact = self.journal.contact(&self.target.name())?;
            let patient = patience::rests(contact.not_before, Timestamp::now());
            let news = seen != Some(version) || contact.failures > 0 || looked.elapsed() > LOOK_ANYWAY;
            if news && !patient {
                (seen, looked) = (Some(version), Instant::now());
                self.look_again()?;
                let round = self.rounds(&|| service.alive())?;
                tell(&round, &self.target);
                if let Some(trouble) = &round.trouble {
                    let until = self.journal.contact(&self.target.name())?.not_before;
                    let until = until.map(|at| format!("{at:.0}")).unwrap_or_default();
                    tracing::warn!("{}: {trouble}; not before {until} again", self.target.server);
                }
            }
            std::thread::sleep(LOOK);
        }
    }
}

/// Numbers only: what was measured, and whose it is, does not belong into a log.
fn tell(round: &Round, target: &Target) {
    if round.sent > 0 {
        tracing::info!("{}: {} resources delivered", target.server, round.sent);
    }
    if round.refused > 0 {
        tracing::warn!(
            "{}: {} resources were refused; `quietcuff deliver list` shows the server's reasons",
            target.server,
            round.refused
        );
    }
}

fn stay(delivery: Delivery) -> Result<(), Failure> {
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .map_err(|e| Failure::new(failure::INTERNAL, format!("cannot start: {e}")))?;
    let service = Arc::new(Service::of_environment());
    let ended = runtime.block_on(async {
        let told = service.clone();
        let work = tokio::task::spawn_blocking(move || delivery.follow(&told));
        tokio::select! {
            ended = work => ended.unwrap_or_else(|e| Err(Failure::new(failure::INTERNAL, e.to_string()))),
            () = stopped() => {
                service.stopping();
                Ok(())
            }
        }
    });
    // It may be in the middle of anything: whatever it is at, it can be left so.
    runtime.shutdown_background();
    ended
}

fn dry_run(here: &Everywhere) -> Result<(), Failure> {
    let mut delivery = Delivery::begin(here)?;
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
    let mut delivery = Delivery::begin(here)?;
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
        print(&mut out, &listing, &delivery.zones)?;
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
    let mut delivery = Delivery::begin(here)?;
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
