//! `quietcuff monitors add`: asks for a pairing, carries the monitor's questions to the person, and says how it went.
//! The collector pairs; where none runs, this process does the same.

use super::super::failure;
use super::consent;
use super::list::{describe, facts, listed};
use super::there::There;
use crate::cli::failure::{Failure, Outcome};
use crate::cli::place::Everywhere;
use crate::gatt::{Characteristic, ConsentCode, Feature};
use crate::household::{Monitor, MonitorAddress, MonitorId, PersonId};
use crate::journal::Journal;
use crate::roles::pairing::{PairingPlace, Pairings, passkey_of};
use crate::roles::told_to_stop;
use crate::socket;
use crate::socket::speech::{Answer, Enrolment, Pairing, Request};
use crate::words::Language;
use clap::Args;
use std::collections::BTreeMap;
use std::io::{IsTerminal, Write};
use std::path::PathBuf;
use std::process::ExitCode;
use std::time::Duration;
use tokio::sync::oneshot;

/// How often it is asked how far the pairing is, while a person waits.
const LOOK: Duration = Duration::from_millis(200);

#[derive(Args)]
pub(super) struct AddArgs {
    /// The monitor's address, as `monitors find` shows it
    address: MonitorAddress,
    /// What to call it [default: m1, m2, …]
    #[arg(long, value_name = "ID")]
    id: Option<MonitorId>,
    /// Whose readings it takes, where it does not tell its users apart
    #[arg(long, value_name = "PERSON")]
    person: Option<PersonId>,
    /// Whose readings one of its user numbers takes, such as `--user 1=asha`; may be given several times
    #[arg(long, value_name = "NUMBER=PERSON", value_parser = user_of)]
    user: Vec<(u8, PersonId)>,
    /// One of its users, where it keeps them apart by a code and hands out no readings without; the code is asked for,
    /// or given with it, such as `--consent 1=0042`, where others of this machine may see it; may be given several
    /// times
    #[arg(long, value_name = "NUMBER[=CODE]", value_parser = consent::of_user)]
    consent: Vec<(u8, Option<ConsentCode>)>,
    /// For a monitor that cannot pair: only connect and enrol. Anybody near can hear what it sends, or pretend to be it
    #[arg(long)]
    no_pairing: bool,
    /// How long to wait for it to advertise
    #[arg(long, default_value_t = 60, value_name = "N", value_parser = clap::value_parser!(u64).range(1..=600))]
    seconds: u64,
    /// At this listener instead, which `listeners list` shows. It learns nothing of people: whose readings they are is
    /// kept here
    #[arg(long, value_name = "LISTENER", conflicts_with = "consent")]
    at: Option<String>,
    /// Print one JSON object
    #[arg(long)]
    json: bool,
}

fn user_of(text: &str) -> Result<(u8, PersonId), String> {
    let (number, person) = text
        .split_once('=')
        .ok_or("write NUMBER=PERSON, such as 1=asha")?;
    let number = number
        .parse()
        .ok()
        .filter(|n| *n != u8::MAX)
        .ok_or("a user number is 0 to 254")?;
    Ok((
        number,
        person
            .parse()
            .map_err(|e: crate::household::NotAnId| e.to_string())?,
    ))
}

pub(super) async fn add(here: &Everywhere, args: &AddArgs) -> Outcome {
    let state = here.state()?;
    // Made where there is none.
    let mut journal = here.journal()?;
    let mut codes = Vec::new();
    for (user, code) in &args.consent {
        codes.push((*user, code.map_or_else(|| consent::typed(Some(*user)), Ok)?));
    }
    let there = args
        .at
        .as_deref()
        .map(|named| There::of(here, named))
        .transpose()?;
    let pairer = match there.map_or_else(|| socket::collector(&state).map(Err), |there| Ok(Ok(there))) {
        Ok(Ok(there)) => Pairer::There(there),
        Ok(Err(Some(_))) => Pairer::Collector(socket::path(&state)),
        Ok(Err(None)) => Pairer::Here(Pairings::new(here.pairing_place()?)),
        Err(error) => {
            return Err(Failure::new(
                failure::UNAVAILABLE,
                format!("the daemon that runs cannot be asked to pair: {error}"),
            ));
        }
    };
    let mut enrolment = args.enrolment();
    let (monitor, told) = loop {
        let request = Request::Pair { enrolment };
        let followed = tokio::select! {
            followed = followed(&pairer, request, args) => followed?,
            () = told_to_stop() => {
                let _ = pairer.ask(Request::StopPairing);
                return Err(Failure::new(failure::UNAVAILABLE, "the pairing was given up"));
            }
        };
        match followed {
            Followed::Enrolled(monitor, told) => break (monitor, told),
            Followed::Without(again) => enrolment = again,
        }
    };
    if let Pairer::There(there) = &pairer {
        return paired_there(here, args, there, *told.unwrap_or_default());
    }
    for (user, code) in codes {
        consent::give(&mut journal, &monitor, Some(user), code)?;
    }
    if !args.consent.is_empty() {
        socket::reload(&state);
    }
    tell(args, &journal, &monitor, &pairer)?;
    if let Pairer::Here(pairings) = &pairer {
        pairings.finish()?;
    }
    Ok(ExitCode::SUCCESS)
}

impl Everywhere {
    fn pairing_place(&self) -> Result<PairingPlace, Failure> {
        let config = self.config()?;
        Ok(PairingPlace {
            state: self.state()?,
            adapter: config.radio.adapter,
            time_zone: config.time_zone,
            radio: None,
        })
    }
}

impl AddArgs {
    fn enrolment(&self) -> Enrolment {
        Enrolment {
            address: self.address.clone(),
            id: self.id.clone(),
            person: self.person.clone(),
            users: self.user.clone(),
            no_pairing: self.no_pairing,
            seconds: self.seconds,
        }
    }
}

/// The process that speaks with BlueZ while the monitor is paired.
enum Pairer {
    /// The running collector, asked through the socket at this path.
    Collector(PathBuf),
    /// The command itself, where no collector runs.
    Here(Pairings),
    /// A listener.
    There(There),
}

impl Pairer {
    fn ask(&self, request: Request) -> Result<(u32, Pairing), Failure> {
        let answer = match self {
            Self::Here(pairings) => Some(pairings.answer(request)),
            Self::There(there) => Some(there.ask(request)?),
            Self::Collector(path) => socket::ask(path, &request)
                .map_err(|error| Failure::new(failure::UNAVAILABLE, format!("the daemon says: {error}")))?,
        };
        match answer {
            Some(Answer::Pairing { number, step }) => Ok((number, step)),
            Some(other) => Err(Failure::new(
                failure::UNAVAILABLE,
                format!("the daemon answers something else: {other:?}"),
            )),
            None => Err(Failure::new(
                failure::UNAVAILABLE,
                "the daemon ended, and the pairing with it; try again",
            )),
        }
    }
}

/// A listener paired with it: what it is and whose readings they are is stated here.
fn paired_there(here: &Everywhere, args: &AddArgs, there: &There, told: Monitor) -> Outcome {
    let mut journal = here.journal()?;
    let household = journal.household()?;
    let known = || household.monitor_at(&args.address);
    let (monitor, now) = (args.id.clone().unwrap_or_else(known), jiff::Timestamp::now());
    let told = Monitor {
        address: Some(args.address.clone()),
        ..told
    };
    let mut stated = vec![household.paired_at(monitor.clone(), &there.listener, told)];
    let whose = household.taken_by(&monitor, args.person.as_ref(), &args.user, now);
    let nobody = whose.is_empty();
    stated.extend(whose);
    journal.state(now, &stated)?;
    let (mut out, address, listener) = (std::io::stdout().lock(), &args.address, &there.listener);
    if args.json {
        let line = serde_json::json!({ "address": address, "id": monitor, "listener": listener });
        writeln!(out, "{line}")?;
        return Ok(ExitCode::SUCCESS);
    }
    writeln!(
        out,
        "Listener {listener} has paired with {address}; its readings come here as those of {monitor}."
    )?;
    if nobody {
        writeln!(
            out,
            "Whose readings are they? The page asks once they come, or say it with --person."
        )?;
    }
    Ok(ExitCode::SUCCESS)
}

/// How a pairing ended.
enum Followed {
    Enrolled(MonitorId, Option<Box<Monitor>>),
    /// It refuses to pair, and the person wants it without.
    Without(Enrolment),
}

/// Begins the pairing and follows it until the monitor is enrolled, or refuses to pair.
async fn followed(pairer: &Pairer, request: Request, args: &AddArgs) -> Result<Followed, Failure> {
    let (ours, mut step) = pairer.ask(request)?;
    let mut shown = None;
    let mut typing: Option<oneshot::Receiver<String>> = None;
    loop {
        if shown.as_ref() != Some(&step) {
            say(args, &step);
            if step == Pairing::Asks {
                typing = Some(typed());
            }
            shown = Some(step.clone());
        }
        match step {
            Pairing::Done { monitor, told } => return Ok(Followed::Enrolled(monitor, told)),
            Pairing::WithoutPairing { why, enrolment } => return without(args, &why, enrolment).await,
            Pairing::Failed { why, code } => return Err(Failure::new(code, why)),
            Pairing::None => {
                return Err(Failure::new(failure::UNAVAILABLE, "somebody gave the pairing up"));
            }
            _ => tokio::time::sleep(LOOK).await,
        }
        let digits = match &mut typing {
            Some(typing) => typing.try_recv().ok(),
            None => None,
        };
        let (number, next) = match digits {
            Some(digits) => {
                typing = None;
                if passkey_of(&digits).is_none() {
                    eprintln!("A passkey has six digits.");
                }
                pairer.ask(Request::Passkey { digits })?
            }
            None => pairer.ask(Request::Pairing)?,
        };
        if number != ours {
            return Err(Failure::new(
                failure::UNAVAILABLE,
                "another pairing took the place of this one",
            ));
        }
        step = next;
    }
}

/// What a person is told before a monitor is added without pairing.
const WITHOUT: &str = "Without pairing anybody near can hear what it sends, or pretend to be it.";

/// Asks whether a monitor that refuses to pair is added all the same, where somebody is there to be asked.
async fn without(args: &AddArgs, why: &str, enrolment: Enrolment) -> Result<Followed, Failure> {
    let refused = |why: &str| {
        let why = format!("{why}. One that cannot pair is added with --no-pairing. {WITHOUT}");
        Failure::new(failure::NO_PERMISSION, why)
    };
    if args.json || !std::io::stdin().is_terminal() {
        return Err(refused(why));
    }
    eprint!("{why}.\nAdd it without pairing? {WITHOUT} [yes/no] ");
    let _ = std::io::stderr().flush();
    let said = typed().await.unwrap_or_default();
    if !said.eq_ignore_ascii_case("yes") {
        return Err(refused(why));
    }
    Ok(Followed::Without(Enrolment {
        no_pairing: true,
        ..enrolment
    }))
}

/// Says a step to the person. What the monitor asks or shows is said in any case; the rest is left out with `--json`.
fn say(args: &AddArgs, step: &Pairing) {
    match step {
        Pairing::Asks => {
            eprint!("Passkey shown on the monitor: ");
            let _ = std::io::stderr().flush();
        }
        Pairing::Shows { passkey } => eprintln!("Passkey for the monitor: {passkey}"),
        _ if args.json => {}
        Pairing::Waiting => eprintln!(
            "Waiting for {} to advertise; start its pairing mode now.",
            args.address
        ),
        Pairing::Removing => eprintln!("Removing the old pairing first."),
        Pairing::Reading if args.no_pairing => {}
        Pairing::Reading => eprintln!("Paired. Reading what it is."),
        _ => {}
    }
}

/// What the person types, read by a thread of its own: for one of the runtime's the program would wait at the end, also
/// when nobody types any more.
fn typed() -> oneshot::Receiver<String> {
    let (tell, told) = oneshot::channel();
    std::thread::spawn(move || {
        let mut line = String::new();
        let _ = std::io::stdin().read_line(&mut line);
        let _ = tell.send(line.trim().to_owned());
    });
    told
}

fn tell(args: &AddArgs, journal: &Journal, monitor: &MonitorId, pairer: &Pairer) -> Result<(), Failure> {
    let household = journal.household()?;
    let (details, _) = household
        .monitors
        .get(monitor)
        .ok_or_else(|| Failure::new(failure::INTERNAL, format!("{monitor} was not enrolled")))?;
    let facts = match &details.address {
        Some(address) => facts(journal.newest(address)?),
        None => BTreeMap::new(),
    };
    let mut out = std::io::stdout().lock();
    if args.json {
        writeln!(out, "{}", listed(monitor, details, &facts))?;
        return Ok(());
    }
    writeln!(
        out,
        "Enrolled {} as {monitor}.",
        describe(details, Language::English.words())
    )?;
    if matches!(pairer, Pairer::Here(_)) {
        writeln!(
            out,
            "No daemon runs yet: `quietcuff run` collects what it sends from now on."
        )?;
    }
    if keeps_users_apart(&facts) && journal.consents(monitor)?.is_empty() {
        writeln!(
            out,
            "It keeps its users apart, and may hand out no readings before one of them consents with a code. Its manual says \
             where it shows a user's number and code: then `quietcuff monitors consent {monitor} NUMBER`."
        )?;
    }
    if args.person.is_none() && args.user.is_empty() {
        writeln!(
            out,
            "Whose readings are they? Say so with `quietcuff people add ID` and `quietcuff monitors add ADDRESS --person ID`; until then they wait for an answer."
        )?;
    }
    Ok(())
}

/// Whether it said that it has the User Data Service.
fn keeps_users_apart(facts: &BTreeMap<Characteristic, Vec<u8>>) -> bool {
    let feature = facts
        .get(&Characteristic::BLOOD_PRESSURE_FEATURE)
        .and_then(|value| Feature::decode(value).ok());
    facts.contains_key(&Characteristic::USER_INDEX)
        || feature.is_some_and(|feature| feature.has(Feature::USER_DATA_SERVICE))
}
