//! `quietcuff monitors add`: pairs, asks the monitor what it is, and enrols it.

use super::super::failure;
use super::adapter::{LOOK, adapter};
use super::list::{describe, listed};
use crate::cli::failure::{Failure, Outcome};
use crate::cli::place::Everywhere;
use crate::edge::Edge;
use crate::gatt::{Appearance, Characteristic, SystemId, Text};
use crate::household::{Household, Monitor, MonitorAddress, MonitorId, PersonId, Site, Statement};
use crate::journal::Journal;
use crate::radio::bond::{self, Question};
use crate::radio::bus::{Bus, Device};
use crate::radio::introduce::{self, Collector, Introduction};
use crate::roles::stated;
use crate::socket;
use clap::Args;
use dbus::Path;
use std::io::Write;
use std::process::ExitCode;
use std::time::{Duration, Instant};
use tokio::sync::mpsc;

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
    /// For a monitor that cannot pair: only connect and enrol
    #[arg(long)]
    no_pairing: bool,
    /// How long to wait for it to advertise
    #[arg(long, default_value_t = 60, value_name = "N", value_parser = clap::value_parser!(u64).range(1..=600))]
    seconds: u64,
    /// Print one JSON object
    #[arg(long)]
    json: bool,
    /// Ask and answer in JSON, one object a line, for a program that stands between this one and a person
    #[arg(long, hide = true)]
    relay: bool,
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
    let mut journal = here.journal()?;
    let daemon = socket::ask(&state, &socket::Question::Status)
        .ok()
        .flatten()
        .is_some();
    let collector = if daemon {
        Collector::Daemon
    } else {
        Collector::Here
    };
    let bus = Bus::connect()?;
    let (adapter, objects) = adapter(here, &bus).await?;
    let device = objects.device(&adapter.path, &args.address).cloned();
    bus.start_scan(&adapter.path, None).await?;
    let heard = fresh(&bus, &adapter.path, args, device).await;
    let path = match heard {
        Ok(path) => path,
        Err(failure) => {
            let _ = bus.stop_scan(&adapter.path).await;
            return Err(failure);
        }
    };
    let outcome = pair_and_read(here, &bus, &adapter.path, &path, args, &mut journal, collector).await;
    let _ = bus.stop_scan(&adapter.path).await;
    let introduction = outcome?;
    let statements = enrolment(&journal.household()?, args, &introduction);
    journal.state(jiff::Timestamp::now(), &statements)?;
    // The daemon takes the link over: it subscribes while the monitor is still there.
    let _ = socket::ask(&state, &socket::Question::Reload);
    let (id, details) = statements
        .iter()
        .find_map(|statement| match statement {
            Statement::Monitor { monitor, details } => Some((monitor, details)),
            _ => None,
        })
        .ok_or_else(|| Failure::new(failure::INTERNAL, "the enrolment names no monitor"))?;
    let mut out = std::io::stdout().lock();
    if args.json || args.relay {
        writeln!(out, "{}", listed(id, details, &introduction.facts))?;
    } else {
        writeln!(out, "Enrolled {} as {id}.", describe(details))?;
        if !daemon {
            writeln!(
                out,
                "No daemon runs yet: `quietcuff run` collects what it sends from now on."
            )?;
        }
        if args.person.is_none() && args.user.is_empty() {
            writeln!(
                out,
                "Whose readings are they? Say so with `quietcuff people add ID` and `quietcuff monitors add ADDRESS --person ID`; until then they wait for an answer."
            )?;
        }
    }
    drop(out);
    introduction.linger(&mut journal).await.map_err(|error| {
        Failure::new(
            failure::UNAVAILABLE,
            format!("enrolled, but the link broke: {error}"),
        )
    })?;
    Ok(ExitCode::SUCCESS)
}

fn say(args: &AddArgs, text: &str) {
    if !args.json && !args.relay {
        eprintln!("{text}");
    }
}

/// The monitor, heard and without a pairing. An old one is removed only once the monitor was heard: out of range, it stays.
async fn fresh(
    bus: &Bus,
    adapter: &Path<'static>,
    args: &AddArgs,
    known: Option<Device>,
) -> Result<Path<'static>, Failure> {
    let device = wait_for(bus, adapter, args, known).await?;
    if !device.paired || args.no_pairing {
        return Ok(device.path);
    }
    // A person asked for a pairing: keys that are kept here are old, or one would not ask.
    say(args, "Removing the old pairing first.");
    bus.remove(adapter, &device.path).await?;
    Ok(wait_for(bus, adapter, args, None).await?.path)
}

async fn wait_for(
    bus: &Bus,
    adapter: &Path<'static>,
    args: &AddArgs,
    mut known: Option<Device>,
) -> Result<Device, Failure> {
    say(
        args,
        &format!(
            "Waiting for {} to advertise; start its pairing mode now.",
            args.address
        ),
    );
    let started = Instant::now();
    loop {
        if let Some(device) = known
            .take()
            .filter(|device| device.rssi.is_some() || device.connected)
        {
            return Ok(device);
        }
        if started.elapsed() >= Duration::from_secs(args.seconds) {
            return Err(Failure::new(
                failure::UNAVAILABLE,
                format!(
                    "{} was not heard within {} s; start its pairing mode, hold it nearer, and check the address with `quietcuff monitors find`",
                    args.address, args.seconds
                ),
            ));
        }
        tokio::time::sleep(LOOK).await;
        known = bus.objects().await?.device(adapter, &args.address).cloned();
    }
}

async fn pair_and_read(
    here: &Everywhere,
    bus: &Bus,
    adapter: &Path<'static>,
    path: &Path<'static>,
    args: &AddArgs,
    journal: &mut Journal,
    collector: Collector,
) -> Result<Introduction, Failure> {
    if !args.no_pairing {
        let (ask, questions) = mpsc::channel(1);
        let prompts = tokio::spawn(answer(questions, args.relay));
        let paired = bond::pair(bus, path, ask).await;
        prompts.abort();
        if let Err(error) = paired {
            // Half a bond would make BlueZ refuse the next attempt.
            let _ = bus.remove(adapter, path).await;
            let code = if matches!(error, bond::BondError::Refused) {
                failure::NO_PERMISSION
            } else {
                failure::UNAVAILABLE
            };
            return Err(Failure::new(code, format!("not paired: {error}")));
        }
        bus.trust(path).await?;
        say(args, "Paired. Reading what it is.");
    }
    let edge = Edge::new(stated::zone(
        here.config()?.time_zone.as_deref(),
        &journal.household()?,
    )?);
    introduce::introduce(bus, path, edge, journal, collector)
        .await
        .map_err(|error| {
            Failure::new(
                failure::UNAVAILABLE,
                format!("not enrolled: {error}. Start its pairing mode and try again"),
            )
        })
}

async fn answer(mut questions: mpsc::Receiver<Question>, relay: bool) {
    while let Some(question) = questions.recv().await {
        match question {
            Question::Show(passkey) if relay => {
                println!("{}", serde_json::json!({ "show": format!("{passkey:06}") }));
            }
            Question::Show(passkey) => eprintln!("Passkey for the monitor: {passkey:06}"),
            Question::Passkey(answer) => {
                // A thread of our own: for one of its own the runtime would wait at the end, also when nobody types any
                // more.
                std::thread::spawn(move || {
                    let passkey = typed(relay);
                    if passkey.is_none() {
                        eprintln!("A passkey has six digits.");
                    }
                    let _ = answer.send(passkey);
                });
            }
        }
    }
}

fn typed(relay: bool) -> Option<u32> {
    if relay {
        println!("{}", serde_json::json!({ "ask": "passkey" }));
    } else {
        eprint!("Passkey shown on the monitor: ");
    }
    let _ = std::io::stderr().flush();
    let mut line = String::new();
    std::io::stdin().read_line(&mut line).ok()?;
    let digits = line.trim();
    let six = digits.len() == 6 && digits.bytes().all(|octet| octet.is_ascii_digit());
    six.then(|| digits.parse().ok()).flatten()
}

/// What is stated: the monitor under its old id where it is the same one, and whose readings it takes.
fn enrolment(household: &Household, args: &AddArgs, introduction: &Introduction) -> Vec<Statement> {
    let facts = &introduction.facts;
    let text = |characteristic| {
        facts
            .get(&characteristic)
            .and_then(|value| Text::decode(value).ok().map(|text| text.trimmed().to_owned()))
            .filter(|text| !text.is_empty())
    };
    let details = Monitor {
        address: Some(introduction.address.clone()),
        name: introduction.name.clone(),
        manufacturer: text(Characteristic::MANUFACTURER_NAME),
        model: text(Characteristic::MODEL_NUMBER),
        serial: text(Characteristic::SERIAL_NUMBER),
        system_id: facts
            .get(&Characteristic::SYSTEM_ID)
            .and_then(|value| SystemId::decode(value).ok())
            .filter(|id| id.is_identity())
            .map(|id| id.to_string()),
        site: facts
            .get(&Characteristic::APPEARANCE)
            .and_then(|value| Appearance::decode(value).ok())
            .and_then(site),
        ..Monitor::default()
    };
    let same = household.same_monitor(&details);
    let monitor = args
        .id
        .clone()
        .or(same)
        .unwrap_or_else(|| household.free_monitor_id());
    let kept = household
        .monitors
        .get(&monitor)
        .map(|(kept, _)| kept.clone())
        .unwrap_or_default();
    let details = Monitor {
        validated: kept.validated,
        cuff_min_mm: kept.cuff_min_mm,
        cuff_max_mm: kept.cuff_max_mm,
        bought: kept.bought,
        ..details
    };
    let mut statements = vec![Statement::Monitor {
        monitor: monitor.clone(),
        details,
    }];
    let people = args
        .person
        .iter()
        .chain(args.user.iter().map(|(_, person)| person));
    for person in people {
        if !household.people.contains_key(person) {
            let details = crate::household::Person {
                label: person.to_string(),
                ..Default::default()
            };
            statements.push(Statement::Person {
                person: person.clone(),
                details,
            });
        }
    }
    if let Some(person) = &args.person {
        statements.push(Statement::UsualPerson {
            monitor: monitor.clone(),
            person: Some(person.clone()),
        });
    }
    for (user_id, person) in &args.user {
        statements.push(Statement::UserIndex {
            monitor: monitor.clone(),
            user_id: *user_id,
            person: Some(person.clone()),
        });
    }
    statements
}

fn site(appearance: Appearance) -> Option<Site> {
    match appearance {
        Appearance::BLOOD_PRESSURE_ARM => Some(Site::UpperArm),
        Appearance::BLOOD_PRESSURE_WRIST => Some(Site::Wrist),
        _ => None,
    }
}
