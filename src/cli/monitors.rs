//! `quietcuff monitors`: one file a subcommand; forgetting is here.

mod add;
mod clock;
mod consent;
mod find;
mod list;
mod there;

use super::failure;
use super::failure::{Failure, Outcome};
use super::place::{Everywhere, Reader};
use crate::household::{MonitorAddress, MonitorId, Statement};
use crate::radio::bus::Bus;
use crate::roles::stated::enrolled;
use crate::socket;
use clap::{Args, Subcommand};
use std::io::Write;
use std::process::ExitCode;
use std::time::Duration;
use there::There;

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
        /// Look at this listener instead, which `listeners list` shows; it looks for 15 s
        #[arg(long, value_name = "LISTENER", conflicts_with_all = ["seconds", "all"])]
        at: Option<String>,
        /// Print one JSON object a line
        #[arg(long)]
        json: bool,
    },
    /// Pair with a monitor and enrol it; its pairing mode has to be on
    Add(add::AddArgs),
    /// List the enrolled monitors
    List {
        #[command(flatten)]
        reader: Reader,
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
    /// Keep the code by which a monitor that keeps its users apart hands out one user's readings; it is asked for
    Consent(consent::ConsentArgs),
    /// Stop listening to a monitor and remove its bond; its readings stay
    Forget {
        /// The monitor's id or address
        monitor: String,
        /// At this listener instead, which `listeners list` shows; wherever else it is paired it stays so
        #[arg(long, value_name = "LISTENER")]
        at: Option<String>,
    },
}

pub(crate) fn run(here: &Everywhere, args: &MonitorsArgs) -> Outcome {
    match &args.command {
        MonitorsCommand::Find {
            at: Some(listener),
            json,
            ..
        } => on_the_bus(There::of(here, listener)?.find(*json)),
        MonitorsCommand::Find {
            seconds, all, json, ..
        } => on_the_bus(find::find(here, Duration::from_secs(*seconds), *all, *json)),
        MonitorsCommand::Add(args) => on_the_bus(add::add(here, args)),
        MonitorsCommand::List { reader, json } => list::list(here, reader, *json),
        MonitorsCommand::Clock { monitor, set, json } => clock::clock(here, monitor, *set, *json),
        MonitorsCommand::Consent(args) => consent::consent(here, args),
        MonitorsCommand::Forget {
            monitor,
            at: Some(listener),
        } => {
            let there = There::of(here, listener)?;
            there.forget(here, &address_of(here, monitor)?)
        }
        MonitorsCommand::Forget { monitor, at: None } => on_the_bus(forget(here, monitor)),
    }
}

/// The address of a monitor that is named by it, or by its id here.
fn address_of(here: &Everywhere, named: &str) -> Result<MonitorAddress, Failure> {
    if let Ok(address) = named.parse() {
        return Ok(address);
    }
    let household = here.read_journal()?.household()?;
    let id: Option<MonitorId> = named.parse().ok();
    let known = id.and_then(|id| household.monitors.get(&id));
    known
        .and_then(|(monitor, _)| monitor.address.clone())
        .ok_or_else(|| {
            Failure::new(
                failure::USAGE,
                format!("no monitor {named:?} is enrolled here; give its address"),
            )
        })
}

fn on_the_bus(work: impl Future<Output = Outcome>) -> Outcome {
    tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .map_err(|e| Failure::new(failure::INTERNAL, format!("cannot start: {e}")))?
        .block_on(work)
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
    let rooms: Vec<&str> = household.rooms_of(&id).collect();
    if let Some(room) = rooms.first().filter(|_| !household.here.contains(&id)) {
        return Err(Failure::new(
            failure::USAGE,
            format!("{id} is paired in another room: `quietcuff monitors forget {id} --at {room}`"),
        ));
    }
    let addresses: Vec<MonitorAddress> = enrolled(&journal)?
        .into_iter()
        .filter(|one| one.id == id.as_str())
        .map(|one| one.address)
        .collect();
    journal.state(
        jiff::Timestamp::now(),
        &[Statement::MonitorForgotten { monitor: id.clone() }],
    )?;
    journal.withdraw_consents(&id)?;
    socket::reload(&state);
    let elsewhere = if rooms.is_empty() {
        String::new()
    } else {
        format!(" It is still paired at {}.", rooms.join(", "))
    };
    writeln!(
        std::io::stdout(),
        "{id} is no longer listened to here; its readings stay.{elsewhere}"
    )?;
    let removed = async { Bus::connect()?.forget(&addresses).await };
    removed.await.map_err(|error| {
        Failure::new(
            failure::UNAVAILABLE,
            format!("its bond could not be removed: {error}; `bluetoothctl remove ADDRESS` does it later"),
        )
    })?;
    Ok(ExitCode::SUCCESS)
}
