//! `quietcuff monitors`: find, add, list, clock, forget.

use super::place::{enrolled, zone};
use super::{Everywhere, Failure, Outcome, caring, failure};
use crate::gatt::{Appearance, Characteristic, CurrentTime, Feature, SystemId, Text};
use crate::household::{Household, Monitor, MonitorId, PersonId, Site, Statement};
use crate::journal::{FrameFilter, Journal};
use crate::radio::bond::{self, Question};
use crate::radio::bus::{Adapter, Bus, Device, Objects};
use crate::radio::introduce::{self, Collector, Introduction};
use crate::radio::{Edge, MonitorAddress};
use crate::socket;
use clap::{Args, Subcommand};
use dbus::Path;
use std::collections::BTreeMap;
use std::io::{IsTerminal, Write};
use std::process::ExitCode;
use std::time::{Duration, Instant};
use tokio::sync::mpsc;

/// How often BlueZ is looked at while a person waits.
const LOOK: Duration = Duration::from_millis(500);

/// Finds, pairs, lists and forgets monitors.
#[derive(Args)]
pub(crate) struct MonitorsArgs {
    #[command(subcommand)]
    command: MonitorsCommand,
}

#[derive(Subcommand)]
enum MonitorsCommand {
    /// List the blood pressure monitors in range, with what they say of themselves
    Find {
        /// How long to listen
        #[arg(long, default_value_t = 15, value_name = "N", value_parser = clap::value_parser!(u64).range(1..=600))]
        seconds: u64,
        /// List every device, also those that do not name the Blood Pressure service
        #[arg(long)]
        all: bool,
        /// Print one JSON object a line
        #[arg(long)]
        json: bool,
    },
    /// Pair with a monitor and enrol it; its pairing mode has to be on
    Add(AddArgs),
    /// List the enrolled monitors
    List {
        /// Print one JSON object a line
        #[arg(long)]
        json: bool,
    },
    /// Show how far a monitor's clock was off when it was last read; `--set` sets it the next time it connects
    Clock {
        /// The monitor's id
        monitor: MonitorId,
        /// Set it to this server's time the next time it connects
        #[arg(long)]
        set: bool,
        /// Print one JSON object
        #[arg(long)]
        json: bool,
    },
    /// Stop listening to a monitor and remove its bond; its readings stay
    Forget {
        /// The monitor's id or address
        monitor: String,
    },
}

#[derive(Args)]
struct AddArgs {
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

pub(crate) fn run(here: &Everywhere, args: &MonitorsArgs) -> Outcome {
    match &args.command {
        MonitorsCommand::Find { seconds, all, json } => {
            on_the_bus(find(here, Duration::from_secs(*seconds), *all, *json))
        }
        MonitorsCommand::Add(args) => on_the_bus(add(here, args)),
        MonitorsCommand::List { json } => list(here, *json),
        MonitorsCommand::Clock { monitor, set, json } => clock(here, monitor, *set, *json),
        MonitorsCommand::Forget { monitor } => on_the_bus(forget(here, monitor)),
    }
}

fn on_the_bus(work: impl Future<Output = Outcome>) -> Outcome {
    tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .map_err(|e| Failure::new(failure::INTERNAL, format!("cannot start: {e}")))?
        .block_on(work)
}

/// The adapter to use, with everything that BlueZ shows.
async fn adapter(here: &Everywhere, bus: &Bus) -> Result<(Adapter, Objects), Failure> {
    let objects = bus.objects().await?;
    let wanted = here.config()?.radio.adapter;
    let adapter = objects.choose(wanted.as_ref()).cloned().ok_or_else(|| {
        let which = wanted.map_or_else(
            || "any Bluetooth adapter".to_owned(),
            |address| format!("the adapter {address}"),
        );
        Failure::new(
            failure::UNAVAILABLE,
            format!("BlueZ does not show {which}; plug it in, then see `quietcuff check`"),
        )
    })?;
    if !adapter.powered {
        bus.set_powered(&adapter.path, true).await?;
    }
    Ok((adapter, objects))
}

async fn find(here: &Everywhere, time: Duration, all: bool, json: bool) -> Outcome {
    let bus = Bus::connect()?;
    let (adapter, _) = adapter(here, &bus).await?;
    bus.start_scan(&adapter.path, None).await?;
    if !json && std::io::stderr().is_terminal() {
        eprintln!(
            "Listening for {} s. Make the monitor advertise: its manual says how (often: hold its Bluetooth button).",
            time.as_secs()
        );
    }
    let started = Instant::now();
    let mut seen: BTreeMap<MonitorAddress, Device> = BTreeMap::new();
    while started.elapsed() < time {
        tokio::time::sleep(LOOK.min(time)).await;
        let objects = bus.objects().await?;
        let below = format!("{}/", adapter.path);
        for device in objects.devices.into_iter().filter(|d| d.path.starts_with(&below)) {
            // Signal strength is there only while a device is heard; BlueZ remembers many more.
            if (device.rssi.is_some() || device.connected) && (all || device.blood_pressure) {
                seen.insert(device.address.clone(), device);
            }
        }
    }
    let _ = bus.stop_scan(&adapter.path).await;
    let known = match here.existing_journal() {
        Ok(journal) => journal.household()?.addresses,
        Err(_) => BTreeMap::new(),
    };
    let mut out = std::io::stdout().lock();
    for (address, device) in &seen {
        let site = device.appearance.and_then(|a| Appearance(a).name());
        let id = known.get(address).map(MonitorId::as_str);
        if json {
            let line = serde_json::json!({
                "address": address, "address_type": device.address_type, "name": device.name, "kind": site,
                "blood_pressure": device.blood_pressure, "rssi_dbm": device.rssi, "paired": device.paired, "monitor": id,
            });
            writeln!(out, "{line}")?;
        } else {
            let name = printable(device.name.as_deref().unwrap_or("(no name)"));
            let kind = site.map(|site| format!(", {site}")).unwrap_or_default();
            let strength = device
                .rssi
                .map(|rssi| format!(", {rssi} dBm"))
                .unwrap_or_default();
            let paired = if device.paired { ", paired" } else { "" };
            let enrolled = id.map(|id| format!(", enrolled as {id}")).unwrap_or_default();
            writeln!(out, "{address}  {name}{kind}{strength}{paired}{enrolled}")?;
        }
    }
    if seen.is_empty() && !json {
        writeln!(
            out,
            "No blood pressure monitor was heard. Start its pairing mode and try again; `--all` lists every device."
        )?;
    }
    Ok(ExitCode::SUCCESS)
}

/// A name comes from a stranger's radio: no control characters on somebody's terminal.
fn printable(name: &str) -> String {
    name.chars()
        .map(|c| if c.is_control() { '\u{fffd}' } else { c })
        .collect()
}

async fn add(here: &Everywhere, args: &AddArgs) -> Outcome {
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
    let mut device = objects.device(&adapter.path, &args.address).cloned();
    if let Some(old) = device.as_ref().filter(|device| device.paired && !args.no_pairing) {
        // A person asked for a pairing: keys that are kept here are old, or one would not ask.
        say(args, "Removing the old pairing first.");
        bus.remove(&adapter.path, &old.path).await?;
        device = None;
    }
    bus.start_scan(&adapter.path, None).await?;
    let heard = wait_for(&bus, &adapter.path, args, device).await;
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
    if args.json {
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
                "Whose readings are they? Say so with `quietcuff people add` and `quietcuff monitors add … --person ID`; until then they wait for an answer."
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
    if !args.json {
        eprintln!("{text}");
    }
}

async fn wait_for(
    bus: &Bus,
    adapter: &Path<'static>,
    args: &AddArgs,
    mut known: Option<Device>,
) -> Result<Path<'static>, Failure> {
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
            return Ok(device.path);
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
        let prompts = tokio::spawn(answer(questions));
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
    let edge = Edge::new(zone(&here.config()?, journal)?);
    introduce::introduce(bus, path, edge, journal, collector)
        .await
        .map_err(|error| {
            Failure::new(
                failure::UNAVAILABLE,
                format!("not enrolled: {error}. Start its pairing mode and try again"),
            )
        })
}

async fn answer(mut questions: mpsc::Receiver<Question>) {
    while let Some(question) = questions.recv().await {
        match question {
            Question::Show(passkey) => eprintln!("Passkey for the monitor: {passkey:06}"),
            Question::Passkey(answer) => {
                let typed = tokio::task::spawn_blocking(|| {
                    eprint!("Passkey shown on the monitor: ");
                    let _ = std::io::stderr().flush();
                    let mut line = String::new();
                    std::io::stdin().read_line(&mut line).ok()?;
                    line.trim()
                        .parse::<u32>()
                        .ok()
                        .filter(|passkey| *passkey <= 999_999)
                });
                let passkey = typed.await.ok().flatten();
                if passkey.is_none() {
                    eprintln!("A passkey has six digits.");
                }
                let _ = answer.send(passkey);
            }
        }
    }
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

fn describe(monitor: &Monitor) -> String {
    let name = monitor
        .model
        .as_deref()
        .or(monitor.name.as_deref())
        .unwrap_or("a monitor");
    let site = match monitor.site {
        Some(Site::UpperArm) => " (upper arm)",
        Some(Site::Wrist) => " (wrist)",
        None => "",
    };
    let serial = monitor
        .serial
        .as_ref()
        .map(|serial| format!(", serial {}", printable(serial)))
        .unwrap_or_default();
    format!("{}{site}{serial}", printable(name))
}

fn listed(id: &MonitorId, monitor: &Monitor, facts: &BTreeMap<Characteristic, Vec<u8>>) -> serde_json::Value {
    let features = facts
        .get(&Characteristic::BLOOD_PRESSURE_FEATURE)
        .and_then(|value| Feature::decode(value).ok())
        .map(|feature| {
            feature
                .named()
                .filter(|(_, has)| *has)
                .map(|(name, _)| name)
                .collect::<Vec<_>>()
        });
    let battery = facts
        .get(&Characteristic::BATTERY_LEVEL)
        .and_then(|value| value.first().copied());
    let mut line = serde_json::to_value(monitor).unwrap_or_default();
    if let Some(line) = line.as_object_mut() {
        line.insert("id".into(), serde_json::json!(id));
        line.insert("features".into(), serde_json::json!(features));
        line.insert("battery_percent".into(), serde_json::json!(battery));
    }
    line
}

/// The newest value of each characteristic that says what a monitor is.
fn facts(journal: &Journal, address: &MonitorAddress) -> Result<BTreeMap<Characteristic, Vec<u8>>, Failure> {
    let mut facts = BTreeMap::new();
    let filter = FrameFilter {
        monitor: Some(address.clone()),
        ..FrameFilter::default()
    };
    journal.each_frame(&filter, |stored| {
        if stored.frame.characteristic != Characteristic::BLOOD_PRESSURE_MEASUREMENT {
            facts.insert(stored.frame.characteristic, stored.frame.value);
        }
        true
    })?;
    Ok(facts)
}

fn list(here: &Everywhere, json: bool) -> Outcome {
    let mut journal = here.existing_journal()?;
    let household = journal.household()?;
    let zones = here.zones(&journal)?;
    let today = zones.civil(jiff::Timestamp::now()).date();
    let cared = caring::of_all(&mut journal, &household, &zones)?;
    let mut out = std::io::stdout().lock();
    for (id, care) in &cared {
        let Some((monitor, _)) = household.monitors.get(id) else {
            continue;
        };
        let facts = match &monitor.address {
            Some(address) => facts(&journal, address)?,
            None => BTreeMap::new(),
        };
        if json {
            let mut line = listed(id, monitor, &facts);
            if let Some(line) = line.as_object_mut() {
                line.insert("care".into(), caring::json(care));
            }
            writeln!(out, "{line}")?;
        } else {
            let address = monitor
                .address
                .as_ref()
                .map(MonitorAddress::to_string)
                .unwrap_or_default();
            let battery = facts
                .get(&Characteristic::BATTERY_LEVEL)
                .and_then(|value| value.first())
                .map(|level| format!(", battery {level} %"))
                .unwrap_or_default();
            writeln!(
                out,
                "{id:<8} {address}  {}{battery}, {} measurements",
                describe(monitor),
                care.measurements
            )?;
            for due in &care.due {
                let when = if due.on <= today {
                    "due now".to_owned()
                } else {
                    format!("due on {}", due.on)
                };
                writeln!(
                    out,
                    "         {} {when}: {} ({})",
                    due.task.words(),
                    due.because,
                    due.source
                )?;
            }
        }
    }
    if household.monitors.values().all(|(_, forgotten)| *forgotten) && !json {
        writeln!(
            out,
            "No monitor is enrolled; `quietcuff monitors find` lists what is in range."
        )?;
    }
    Ok(ExitCode::SUCCESS)
}

fn clock(here: &Everywhere, id: &MonitorId, set: bool, json: bool) -> Outcome {
    let journal = here.existing_journal()?;
    let household = journal.household()?;
    let Some((monitor, false)) = household.monitors.get(id) else {
        return Err(Failure::new(
            failure::USAGE,
            format!("no monitor {id} is enrolled; `quietcuff monitors list` shows which are"),
        ));
    };
    let mut read = None;
    if let Some(address) = &monitor.address {
        let filter = FrameFilter {
            monitor: Some(address.clone()),
            ..FrameFilter::default()
        };
        journal.each_frame(&filter, |stored| {
            if stored.frame.characteristic == Characteristic::CURRENT_TIME {
                read = Some(stored.frame);
            }
            true
        })?;
    }
    let shown = read.as_ref().and_then(|frame| {
        let shown = CurrentTime::decode(&frame.value).ok()?.civil()?;
        let here = frame.offset.to_datetime(frame.received_at);
        let off = here.duration_until(shown).as_secs();
        Some((frame, shown, off))
    });
    let mut out = std::io::stdout().lock();
    if json {
        let line = serde_json::json!({
            "id": id,
            "read_at": shown.as_ref().map(|(frame, ..)| frame.received_at),
            "shown": shown.as_ref().map(|(_, shown, _)| shown),
            "ahead_s": shown.as_ref().map(|(.., off)| off),
            "set_at_next_connection": set,
        });
        writeln!(out, "{line}")?;
    } else {
        match shown {
            Some((frame, shown, off)) => writeln!(
                out,
                "At {} its clock showed {shown}: {} s {}.",
                frame.received_at.display_with_offset(frame.offset),
                off.abs(),
                if off < 0 { "behind" } else { "ahead" }
            )?,
            None => writeln!(
                out,
                "Its clock has not been read yet; not every monitor lets it be read."
            )?,
        }
    }
    drop(out);
    if set {
        let state = here.state()?;
        let asked = socket::ask(
            &state,
            &socket::Question::SetClock {
                monitor: id.to_string(),
            },
        )
        .map_err(|e| Failure::new(failure::IO, format!("the daemon does not answer: {e}")))?;
        match asked {
            None => {
                return Err(Failure::new(
                    failure::UNAVAILABLE,
                    "no daemon runs to set it; start `quietcuff run` first",
                ));
            }
            Some(said) if said.get("error").is_some() => {
                return Err(Failure::new(
                    failure::UNAVAILABLE,
                    format!("the daemon says: {said}"),
                ));
            }
            Some(_) if !json => println!("It will be set the next time it connects."),
            Some(_) => {}
        }
    }
    Ok(ExitCode::SUCCESS)
}

async fn forget(here: &Everywhere, named: &str) -> Outcome {
    let state = here.state()?;
    let mut journal = here.journal()?;
    let household = journal.household()?;
    let by_address = named
        .parse::<MonitorAddress>()
        .ok()
        .and_then(|address| household.addresses.get(&address).cloned());
    let id = by_address.or_else(|| {
        named
            .parse()
            .ok()
            .filter(|id| household.monitors.contains_key(id))
    });
    let Some(id) = id else {
        return Err(Failure::new(
            failure::USAGE,
            format!("no monitor {named:?} is enrolled; `quietcuff monitors list` shows which are"),
        ));
    };
    let addresses: Vec<MonitorAddress> = enrolled(&journal)?
        .into_iter()
        .filter(|one| one.id == id.as_str())
        .map(|one| one.address)
        .collect();
    journal.state(
        jiff::Timestamp::now(),
        &[Statement::MonitorForgotten { monitor: id.clone() }],
    )?;
    let _ = socket::ask(&state, &socket::Question::Reload);
    println!("{id} is no longer listened to; its readings stay.");
    let removed = async {
        let bus = Bus::connect()?;
        let objects = bus.objects().await?;
        for adapter in &objects.adapters {
            for device in addresses
                .iter()
                .filter_map(|address| objects.device(&adapter.path, address))
            {
                bus.remove(&adapter.path, &device.path).await?;
            }
        }
        Ok::<_, crate::radio::bus::BusError>(())
    };
    removed.await.map_err(|error| {
        Failure::new(
            failure::UNAVAILABLE,
            format!("its bond could not be removed: {error}; `bluetoothctl remove ADDRESS` does it later"),
        )
    })?;
    Ok(ExitCode::SUCCESS)
}
