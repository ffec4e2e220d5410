//! `quietcuff deliver`: to the clinic's server, and how it stands there.

mod key;
mod launch;
mod records;
pub(super) mod release;

use super::failure;
use super::failure::{Failure, Outcome};
use super::output::json_line;
use super::place::{Everywhere, Reader};
use super::progress::ProgressLine;
use super::rows::{moment, padded, widest};
use super::summary::paragraph_behind;
use crate::delivery::answer::Trouble;
use crate::delivery::reasons::kind_of;
use crate::delivery::releases::{HeldCounts, Leave};
use crate::delivery::server::HandOver;
use crate::delivery::{Addressee, Auth, Courier, DeliveryError, Postman};
use crate::export::report::words::n;
use crate::household::PersonId;
use crate::journal::Journal;
use crate::journal::outbox::Delivered;
use crate::monitoring::stated::Stated;
use crate::outbound::OutboundError;
use crate::roles;
use crate::roles::delivery::{self, DeliverError, Delivery, Looked, ToClinic};
use crate::roles::manager::ServiceManager;
use crate::words::{Language, Words};
use clap::{Args, Subcommand};
use jiff::Timestamp;
use records::Records;
use release::{Standing, StandingLine};
use serde::Serialize;
use std::collections::BTreeMap;
use std::io::Write;
use std::process::ExitCode;

/// Sends what the clinic should have: each counted reading of the chosen people, what changed or was withdrawn since,
/// and the average of each period that is over. It stays and follows the journal until it is told to stop.
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
        #[command(flatten)]
        reader: Reader,
        /// Print one JSON object
        #[arg(long)]
        json: bool,
    },
    /// Ask the server what it can, and say what will be used and what is missing; nothing is sent
    Check {
        /// Print one JSON object
        #[arg(long)]
        json: bool,
    },
    /// Make a key pair for SMART Backend Services: the private key into a new file, the public set to print
    Key(key::KeyArgs),
    /// Let one person open their record to this gateway, at the clinic's own page (SMART standalone launch)
    Launch(launch::LaunchArgs),
    /// Close that record again: the clinic is asked to take the key back, and nothing more is delivered
    Withdraw,
    /// State what of whose measurements may go to the clinic, take it back, or list what was stated
    Release(release::ReleaseArgs),
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
        Some(DeliverCommand::List { reader, json }) => list(here, here.words(reader)?, *json)?,
        Some(DeliverCommand::Check { json }) => check(here, *json)?,
        Some(DeliverCommand::Key(args)) => key::run(args)?,
        Some(DeliverCommand::Launch(args)) => launch::run(here, args)?,
        Some(DeliverCommand::Withdraw) => launch::withdraw(here)?,
        Some(DeliverCommand::Release(args)) => release::run(here, args)?,
        Some(DeliverCommand::Retry { id, .. }) => retry(here, id.as_deref())?,
        None if args.dry_run => dry_run(here)?,
        None => {
            let journal = here.existing_journal()?;
            let _lock = delivery::lock(&journal)?;
            if args.once {
                return once(begin(here, journal)?);
            }
            let service = ServiceManager::of_environment();
            delivery::stay(here.config()?, journal, service, roles::told_to_stop())?;
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
            DeliverError::Running | DeliverError::LeftAlone(_) | DeliverError::Socket(_) => {
                failure::UNAVAILABLE
            }
            DeliverError::Lock { .. } => failure::CANNOT_CREATE,
            DeliverError::Thread(_) => failure::INTERNAL,
        };
        Self::new(code, error.to_string())
    }
}

fn begin(here: &Everywhere, journal: Journal) -> Result<Delivery, Failure> {
    Ok(Delivery::begin(here.config()?, journal)?)
}

fn once(mut delivery: Delivery) -> Outcome {
    let (server, things) = (delivery.to.address(), delivery.to.things());
    let progress = ProgressLine::start("delivering", things);
    let round = delivery.once(&|n| progress.count(n.try_into().unwrap_or(u64::MAX)))?;
    drop(progress);
    delivery.tell(&round);
    tell_held(&delivery, &round.held);
    let missing: Vec<String> = delivery
        .releases()
        .iter()
        .filter(|(person, leave)| **leave == Leave::Missing && round.held.contains_key(*person))
        .map(|(person, _)| person.to_string())
        .collect();
    match round.trouble {
        Some(trouble) => Err(troubled(
            &server,
            &trouble,
            "; what is due waits and goes the next time",
        )),
        None if round.refused > 0 => Err(Failure::new(
            failure::UNAVAILABLE,
            format!(
                "{server}: {} of {} {things} were refused; `quietcuff deliver list` says why",
                round.refused,
                round.sent + round.refused
            ),
        )),
        None if !missing.is_empty() => Err(Failure::new(
            failure::NO_PERMISSION,
            format!(
                "{server}: nothing of {} goes there, because `clinic.consent` asks for a release and nobody has stated one; \
                 `quietcuff deliver release {}` states it",
                missing.join(", "),
                missing.first().map_or("ID", String::as_str)
            ),
        )),
        None => Ok(ExitCode::SUCCESS),
    }
}

/// Says what the household holds back: a delivery that ends well is not to look as if all had gone.
fn tell_held(delivery: &Delivery, held: &HeldCounts) {
    let releases = delivery.releases();
    for (person, count) in held {
        let why = match releases.leave(person) {
            // That is why the command fails, and is said there.
            Some(Leave::Missing) => continue,
            Some(Leave::Withdrawn(_)) => "what was released is withdrawn",
            _ => "not of the days that were released",
        };
        eprintln!(
            "quietcuff: {count} {} of {person} are held back: {why}; `quietcuff deliver release --list` shows it",
            delivery.to.things()
        );
    }
}

fn troubled(server: &str, trouble: &Trouble, then: &str) -> Failure {
    let code = match trouble {
        Trouble::NotAllowed { .. } | Trouble::Ended(_) => failure::NO_PERMISSION,
        _ => failure::UNAVAILABLE,
    };
    Failure::new(code, format!("{server}: {trouble}{then}"))
}

/// What the server says of itself, and what follows for delivery.
#[derive(Serialize)]
struct Checked<'a> {
    server: String,
    software: Option<String>,
    fhir_version: Option<String>,
    /// `transaction`, `batch` or `single`.
    way: &'static str,
    /// The profiles that resources claim.
    profiles: &'static str,
    /// The clinic's reference to each person.
    people: BTreeMap<String, String>,
    sheets: Sheets,
    /// What of releases the clinic is told.
    records: Records,
    /// What of whose may go there, and how much waits.
    releases: Vec<StandingLine<'a>>,
    missing: Vec<String>,
}

/// How it stands with the sheets of periods, which go in DocumentReferences.
#[derive(Serialize)]
struct Sheets {
    /// `clinic.sheets`.
    wanted: bool,
    /// Whether the server says that it takes them; none where it names no resources.
    taken: Option<bool>,
}

impl Sheets {
    fn said(&self) -> &'static str {
        match (self.wanted, self.taken) {
            (true, Some(true)) => "one PDF each period, in a DocumentReference, the same way",
            (true, Some(false)) => {
                "one PDF each period is wanted; the server names no DocumentReference, so it may refuse them"
            }
            (true, None) => {
                "one PDF each period, in a DocumentReference; whether the server takes them, it does not say"
            }
            (false, Some(true)) => {
                "none are sent; the server takes them: `clinic.sheets = true` sends one PDF each period"
            }
            (false, Some(false)) => "none are sent; the server names no DocumentReference for them",
            (false, None) => "none are sent (`clinic.sheets`)",
        }
    }
}

fn standing(delivery: &Delivery) -> Result<Option<Standing<'_>>, Failure> {
    Ok(Standing::of(
        &delivery.journal,
        &delivery.config.clinic,
        &delivery.stated,
    )?)
}

fn check(here: &Everywhere, json: bool) -> Result<(), Failure> {
    let delivery = begin(here, here.read_journal()?)?;
    let target = match &delivery.to {
        ToClinic::Server(target) => target.clone(),
        ToClinic::Receiver(addressee) => return reach(&delivery, addressee, json),
    };
    let contact = delivery.journal.contact(&target.name())?;
    let courier = Courier::new(&delivery.config.clinic, target.clone()).map_err(DeliverError::from)?;
    let abilities = courier
        .into_line()
        .abilities(&Timestamp::now)
        .map_err(|trouble| troubled(&target.name(), &trouble, ""))?;
    let Some(abilities) = abilities else {
        return Err(Failure::new(
            failure::UNAVAILABLE,
            format!(
                "{}: at /metadata below it is no FHIR server that says what it can; check `clinic.server`, which is its \
                 base address",
                target.server
            ),
        ));
    };
    if !abilities.is_r4() {
        let version = abilities.fhir_version.unwrap_or_default();
        return Err(Failure::new(
            failure::UNAVAILABLE,
            format!(
                "{}: it speaks FHIR {version}, and readings are written in R4 (4.0); ask the clinic for the address of R4",
                target.server
            ),
        ));
    }
    let sheets = delivery.config.clinic.sheets;
    let mut missing = abilities.missing.clone();
    if sheets {
        missing.extend(abilities.missing_for_sheets.iter().cloned());
    }
    let standing = standing(&delivery)?;
    let learnt = contact.way.as_deref().and_then(HandOver::of_word);
    let claims = match (target.profiles, &contact.claims) {
        (None, None) => abilities.claims(),
        _ => target.claims(&contact),
    };
    let checked = Checked {
        server: target.name(),
        way: learnt.or(abilities.way).unwrap_or_default().word(),
        profiles: claims.word(),
        people: names(&target.people),
        sheets: Sheets {
            wanted: sheets,
            taken: abilities.documents,
        },
        records: Records::of(&target, &abilities, &contact),
        releases: standing.iter().flat_map(Standing::lines).collect(),
        software: abilities.software,
        fhir_version: abilities.fhir_version,
        missing,
    };
    let mut out = std::io::stdout().lock();
    if json {
        json_line(&mut out, &checked)?;
    } else {
        print_checked(&mut out, &checked, standing.as_ref())?;
    }
    Ok(())
}

/// What was released, in the words of a command that says the rest in English.
fn print_released(out: &mut impl Write, standing: Option<&Standing<'_>>) -> std::io::Result<()> {
    for said in standing
        .iter()
        .flat_map(|standing| standing.said(true, Language::English.words()))
    {
        paragraph_behind(out, "released  ", "          ", &said)?;
    }
    Ok(())
}

/// What is known of a receiver of HL7 version 2 once it let us connect; it says nothing of itself.
#[derive(Serialize)]
struct Reached<'a> {
    server: String,
    encrypted: bool,
    /// The clinic's identifier for each person.
    people: BTreeMap<String, String>,
    /// What of whose may go there, and how much waits.
    releases: Vec<StandingLine<'a>>,
}

fn reach(delivery: &Delivery, addressee: &Addressee, json: bool) -> Result<(), Failure> {
    Postman::reach(&delivery.config.clinic, addressee).map_err(|error| match error {
        DeliveryError::Outbound(OutboundError::Asked { .. } | OutboundError::NotAccepted { .. }) => {
            Failure::new(failure::UNAVAILABLE, format!("{error}; nothing was sent"))
        }
        DeliveryError::Outbound(
            OutboundError::Authority { .. } | OutboundError::NoRoots(_) | OutboundError::OwnCertificate { .. },
        )
        | DeliveryError::Configuration(_)
        | DeliveryError::Secret(_) => Failure::from(DeliverError::from(error)),
        error => Failure::new(
            failure::UNAVAILABLE,
            format!(
                "{error}; nothing was sent. Ask the clinic whether its receiver runs there, with which certificate, and \
                 whether this machine may reach its port"
            ),
        ),
    })?;
    let standing = standing(delivery)?;
    let reached = Reached {
        server: addressee.name(),
        encrypted: addressee.receiver.is_encrypted(),
        people: names(&addressee.people),
        releases: standing.iter().flat_map(Standing::lines).collect(),
    };
    let mut out = std::io::stdout().lock();
    if json {
        return json_line(&mut out, &reached);
    }
    let way = if reached.encrypted {
        "one message at a time over MLLP; TLS, and its certificate holds"
    } else {
        "one message at a time over MLLP; without TLS"
    };
    writeln!(out, "clinic    {}\nway       {way}", reached.server)?;
    for (person, patient) in &reached.people {
        writeln!(out, "person    {person} is {patient} there")?;
    }
    print_released(&mut out, standing.as_ref())?;
    Ok(writeln!(
        out,
        "          it lets us connect; what it takes, only a message shows"
    )?)
}

fn names(people: &BTreeMap<PersonId, String>) -> BTreeMap<String, String> {
    people
        .iter()
        .map(|(person, reference)| (person.to_string(), reference.clone()))
        .collect()
}

fn print_checked(
    out: &mut impl Write,
    checked: &Checked<'_>,
    standing: Option<&Standing<'_>>,
) -> std::io::Result<()> {
    let unsaid = || "not said".to_owned();
    writeln!(out, "clinic    {}", checked.server)?;
    writeln!(
        out,
        "software  {}, FHIR {}",
        checked.software.clone().unwrap_or_else(unsaid),
        checked.fhir_version.clone().unwrap_or_else(unsaid)
    )?;
    writeln!(
        out,
        "way       {}",
        match checked.way {
            "transaction" => "many resources at once, all of them or none",
            "batch" => "many resources at once, each by itself: the server names no transactions",
            _ => "one resource at a time: the server names neither transactions nor batches",
        }
    )?;
    writeln!(
        out,
        "profiles  {}",
        match checked.profiles {
            "self-measured" => "HL7's for measuring at home, and FHIR's own",
            "core" => "FHIR's own for blood pressure and pulse",
            _ => "none",
        }
    )?;
    for (person, reference) in &checked.people {
        writeln!(out, "person    {person} is {reference} there")?;
    }
    print_released(out, standing)?;
    writeln!(out, "sheets    {}", checked.sheets.said())?;
    checked.records.print(out)?;
    for missing in &checked.missing {
        writeln!(out, "missing   {missing}")?;
    }
    if checked.missing.is_empty() {
        writeln!(out, "missing   nothing, as far as the server says")?;
    } else {
        writeln!(
            out,
            "          ask the clinic whether its server can do that all the same"
        )?;
    }
    Ok(())
}

fn dry_run(here: &Everywhere) -> Result<(), Failure> {
    let mut delivery = begin(here, here.read_journal()?)?;
    let shown = match delivery.config.clinic.auth {
        Auth::None => "",
        Auth::Bearer | Auth::Smart | Auth::Launch => "Authorization: Bearer [secret]\n",
        Auth::Basic => "Authorization: Basic [secret]\n",
    };
    let (server, things) = (delivery.to.address(), delivery.to.things());
    let mut out = std::io::BufWriter::new(std::io::stdout().lock());
    let (tally, then) = delivery.with_look(|journal, looked| match looked {
        Looked::Server(target, survey) => {
            let tally = target.preview(journal, survey, |bundle| {
                write!(
                    out,
                    "POST {server}\nAccept: application/fhir+json\nContent-Type: application/fhir+json\nPrefer: \
                     return=minimal\n{shown}Content-Length: {}\n\n{bundle}\n",
                    bundle.len()
                )
            })?;
            Ok((
                tally,
                ". Where one refers to another by urn:uuid outside its Bundle, the id that the server gives stands there then",
            ))
        }
        Looked::Receiver(addressee, look) => {
            let tally = addressee.preview(journal, look, |message| {
                writeln!(out, "{}", message.replace('\r', "\n"))
            })?;
            Ok((
                tally,
                ". Each stands in a frame of MLLP then, and its lines end in a carriage return",
            ))
        }
    })?;
    out.flush()?;
    eprintln!(
        "quietcuff: nothing was sent; {} {things} would go to {server}{}",
        tally.waiting,
        if tally.waiting == 0 { "" } else { then }
    );
    Ok(())
}

/// Ids of one kind of refusal that stand in the list; `--json` has them all.
const IDS_SHOWN: usize = 4;

#[derive(Serialize)]
struct Listing<'a> {
    server: String,
    people: Vec<String>,
    waiting: usize,
    sent: usize,
    parked: usize,
    /// Of whom nobody has stated a release, and who go all the same.
    unstated: Vec<String>,
    /// What of whose may go, and how much waits.
    releases: Vec<StandingLine<'a>>,
    /// What the household did not release, by whom it is about.
    held: Vec<HeldBack>,
    last_contact: Option<Timestamp>,
    not_before: Option<Timestamp>,
    problem: Option<String>,
    /// The profiles that resources claim there; none where no resources go there.
    #[serde(skip_serializing_if = "Option::is_none")]
    profiles: Option<&'static str>,
    /// Each kind of refusal once, the most frequent first.
    kinds: Vec<Kind>,
    refused: Vec<Refused>,
}

/// What of one person would have to go, and was not released.
#[derive(Serialize)]
struct HeldBack {
    person: PersonId,
    count: usize,
    /// `missing`, `withdrawn`, or `released` where it is not of the days that were.
    standing: &'static str,
    /// In the reader's words.
    #[serde(skip)]
    why: String,
}

/// Refusals for one reason, about whichever resource.
#[derive(Serialize)]
struct Kind {
    count: usize,
    resource: String,
    status: Option<u16>,
    /// The first one's reason.
    reason: String,
    ids: Vec<String>,
}

fn kinds(refused: &[Refused]) -> Vec<Kind> {
    let mut kinds: BTreeMap<_, Kind> = BTreeMap::new();
    for one in refused {
        let key = (&one.resource, one.status, kind_of(&one.reason));
        let kind = kinds.entry(key).or_insert_with(|| Kind {
            count: 0,
            resource: one.resource.clone(),
            status: one.status,
            reason: one.reason.clone(),
            ids: Vec::new(),
        });
        kind.count += 1;
        kind.ids.push(one.id.clone());
    }
    let mut kinds: Vec<Kind> = kinds.into_values().collect();
    kinds.sort_by_key(|kind| std::cmp::Reverse(kind.count));
    kinds
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
            status: row.status.filter(|status| *status > 0),
            at: row.answered,
            reason: row.refusal?,
        })
    }
}

fn list(here: &Everywhere, words: &Words, json: bool) -> Result<(), Failure> {
    let mut delivery = begin(here, here.read_journal()?)?;
    let tally = delivery.tally()?;
    let clinic = delivery.to.name();
    let contact = delivery.journal.contact(&clinic)?;
    let refused: Vec<Refused> = delivery
        .journal
        .deliveries(&clinic)?
        .into_iter()
        .filter_map(Refused::of)
        .collect();
    let releases = delivery.releases();
    let standing = standing(&delivery)?;
    let zones = &delivery.stated.zones;
    let held = tally.held.into_iter().filter_map(|(person, count)| {
        let leave = releases.leave(&person)?;
        Some(HeldBack {
            count,
            standing: leave.name(),
            why: leave.why_held(zones, words),
            person,
        })
    });
    let held = held.collect();
    let unstated = releases
        .iter()
        .filter(|(_, leave)| **leave == Leave::Unstated)
        .map(|(person, _)| person.to_string());
    let listing = Listing {
        held,
        unstated: unstated.collect(),
        releases: standing.iter().flat_map(Standing::lines).collect(),
        server: clinic,
        people: delivery.to.people().keys().map(ToString::to_string).collect(),
        waiting: tally.waiting,
        sent: tally.sent,
        parked: tally.parked,
        last_contact: contact.last,
        not_before: contact.not_before,
        profiles: match &delivery.to {
            ToClinic::Server(target) => Some(target.claims(&contact).word()),
            ToClinic::Receiver(_) => None,
        },
        problem: contact.problem,
        kinds: kinds(&refused),
        refused,
    };
    let mut out = std::io::BufWriter::new(std::io::stdout().lock());
    if json {
        json_line(&mut out, &listing)?;
    } else {
        let things = match &delivery.to {
            ToClinic::Server(_) => "deliver-resources",
            ToClinic::Receiver(_) => "deliver-messages",
        };
        let released = standing.as_ref().map(|standing| standing.said(false, words));
        let facts = listing.facts((things, released.unwrap_or_default()), &delivery.stated, words);
        let wide = widest(facts.iter().map(|(name, _)| name));
        for (name, said) in &facts {
            let first = format!("{}  ", padded(name, wide));
            paragraph_behind(&mut out, &first, &" ".repeat(wide + 2), said)?;
        }
    }
    Ok(out.flush()?)
}

impl Listing<'_> {
    /// What is said, each with the name that stands before it; what says more of the same stands behind none. What the
    /// clinic's server says of a refusal stays as it says it.
    fn facts(
        &self,
        (things, released): (&str, Vec<String>),
        stated: &Stated,
        words: &Words,
    ) -> Vec<(String, String)> {
        let at = |at: Option<Timestamp>| {
            at.map_or_else(
                || words.say("monitor-never"),
                |at| moment(at, &stated.zones, words),
            )
        };
        let counts = [
            ("sent", self.sent.to_string().into()),
            ("waiting", self.waiting.to_string().into()),
            ("refused", self.parked.to_string().into()),
        ];
        let label = |id: &String| match id.parse() {
            Ok(id) => stated.label(&id).to_owned(),
            Err(_) => id.clone(),
        };
        let people: Vec<String> = self.people.iter().map(label).collect();
        let more = |said: String| (String::new(), said);
        let mut facts = vec![
            (words.say("deliver-clinic"), self.server.clone()),
            (words.say("nav-people"), people.join(", ")),
            (words.say(things), words.with("deliver-counts", &counts)),
            (words.say("deliver-contact"), at(self.last_contact)),
        ];
        facts.extend(
            released
                .into_iter()
                .map(|said| (words.say("release-title"), said)),
        );
        for held in &self.held {
            let values = [
                ("n", n(held.count)),
                ("who", stated.label(&held.person).into()),
                ("why", held.why.as_str().into()),
            ];
            facts.push((words.say("deliver-held"), words.with("deliver-held-of", &values)));
        }
        if let Some(problem) = &self.problem {
            let again = [("moment", at(self.not_before).into())];
            facts.push((words.say("deliver-problem"), problem.clone()));
            facts.push(more(words.with("deliver-not-before", &again)));
        }
        for kind in &self.kinds {
            let status = kind.status.map(|status| format!(" ({status})"));
            let said = format!(
                "{} {}{}: {}",
                kind.count,
                kind.resource,
                status.unwrap_or_default(),
                kind.reason
            );
            facts.push((words.say("deliver-refused"), said));
            let mut shown: Vec<String> = kind.ids.iter().take(IDS_SHOWN).cloned().collect();
            let left = kind.ids.len().saturating_sub(IDS_SHOWN);
            if left > 0 {
                shown.push(words.with("beside-more", &[("n", n(left))]));
            }
            facts.push(more(shown.join(" ")));
        }
        if !self.refused.is_empty() {
            let ways = [
                ("one", "`quietcuff deliver retry ID`".into()),
                ("all", "`--all`".into()),
            ];
            facts.push(more(words.with("deliver-retry", &ways)));
        }
        facts
    }
}

fn retry(here: &Everywhere, id: Option<&str>) -> Result<(), Failure> {
    let mut delivery = begin(here, here.existing_journal()?)?;
    let freed = delivery.journal.try_again(&delivery.to.name(), id)?;
    match (freed, id) {
        (0, Some(id)) => Err(Failure::new(
            failure::USAGE,
            format!("nothing that the server refused is called {id}; `quietcuff deliver list` lists what is"),
        )),
        (freed, _) => {
            eprintln!("quietcuff: {freed} {} will be sent again", delivery.to.things());
            Ok(())
        }
    }
}
