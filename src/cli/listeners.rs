//! `quietcuff listeners`: at the record, which other machines hand on what they hear, and the role that takes it in.

use super::days;
use super::failure::{self, Failure, Outcome};
use super::keys::label_of;
use super::output::json_line;
use super::owner;
use super::place::Everywhere;
use crate::afar::PORT;
use crate::afar::code::{CODE_LIFE, Code, place};
use crate::afar::key::{KeyError, OwnKey};
use crate::home::card::code_in_blocks;
use crate::household::Zones;
use crate::journal::Listener;
use crate::keys::KeySecret;
use crate::roles;
use crate::roles::manager::ServiceManager;
use crate::roles::record::{RecordError, receive};
use clap::{Args, Subcommand};
use jiff::Timestamp;
use serde::Serialize;
use std::io::Write;
use std::net::SocketAddr;
use std::process::ExitCode;

/// Lets other machines in that hear this household's monitors, and takes in what they hand on.
#[derive(Args)]
pub(crate) struct ListenersArgs {
    #[command(subcommand)]
    command: ListenersCommand,
}

#[derive(Subcommand)]
enum ListenersCommand {
    /// Print a code that lets one listener in; it holds half an hour and works once
    Invite {
        /// Under which name or address the listener reaches this machine, such as cellar.example or 192.0.2.7:8419
        #[arg(long, value_name = "NAME[:PORT]", value_parser = place_of)]
        at: String,
        /// Where the listener stands, such as "bedroom"
        #[arg(long, value_name = "TEXT", default_value = "")]
        label: String,
        /// Print one JSON object
        #[arg(long)]
        json: bool,
    },
    /// List the listeners: when each was last heard, and what waits there
    List {
        /// Print one JSON object a line
        #[arg(long)]
        json: bool,
    },
    /// Take nothing more of a listener, from this moment on
    Withdraw {
        /// Which, as `listeners list` names it
        id: String,
    },
    /// Take frames again of a listener that came back with a backup
    Confirm {
        /// Which, as `listeners list` names it
        id: String,
    },
    /// Take in what listeners hand on: a role that stays
    Receive {
        /// Where to listen [default: port 8419 at every address of this machine]
        #[arg(long, value_name = "ADDRESS:PORT")]
        listen: Option<SocketAddr>,
    },
}

fn place_of(text: &str) -> Result<String, String> {
    place(text)
        .ok_or_else(|| "write a name or an address, such as cellar.example or 192.0.2.7:8419".to_owned())
}

/// A listener as `--json` prints it.
#[derive(Serialize)]
pub(super) struct ListenerLine<'a> {
    id: &'a str,
    label: &'a str,
    state: &'static str,
    joined: String,
    last_heard: Option<String>,
    waiting: Option<u64>,
    frames: u64,
    clock_known: Option<bool>,
    version: Option<&'a str>,
    disk_free_octets: Option<u64>,
    clock_ahead_s: Option<i64>,
    clock_told_within_ms: Option<i64>,
    refused: Option<RefusedLine<'a>>,
}

/// That a listener was refused for its version.
#[derive(Serialize)]
struct RefusedLine<'a> {
    at: String,
    version: &'a str,
}

impl<'a> ListenerLine<'a> {
    pub(super) fn of(listener: &'a Listener, zones: &Zones) -> Self {
        Self {
            id: &listener.id,
            label: &listener.label,
            state: if listener.withdrawn.is_some() {
                "withdrawn"
            } else if listener.closed.is_some() {
                "closed"
            } else {
                "open"
            },
            joined: days::shown(listener.joined, zones),
            last_heard: listener.last.map(|last| days::shown(last, zones)),
            waiting: listener.waiting,
            frames: listener.frames,
            clock_known: listener.clock_known,
            version: listener.version.as_deref(),
            disk_free_octets: listener.disk_free,
            clock_ahead_s: listener.clock_ahead_s,
            clock_told_within_ms: listener.clock_told(),
            refused: listener.refused.as_ref().map(|(at, version)| RefusedLine {
                at: days::shown(*at, zones),
                version,
            }),
        }
    }
}

pub(crate) fn run(here: &Everywhere, args: &ListenersArgs) -> Outcome {
    match &args.command {
        ListenersCommand::Invite { at, label, json } => return invite(here, at, label, *json),
        ListenersCommand::List { json } => list(here, *json)?,
        ListenersCommand::Withdraw { id } => {
            let mut journal = here.existing_journal()?;
            let now = journal.moment_for_keys(Timestamp::now())?;
            if !journal.withdraw_listener(id, now)? {
                return Err(none(id, "could be withdrawn"));
            }
            eprintln!("Nothing more is taken of listener {id}. What it handed on before stays.");
        }
        ListenersCommand::Confirm { id } => {
            if !here.existing_journal()?.confirm_listener(id)? {
                return Err(none(id, "waits to be confirmed"));
            }
            eprintln!("Listener {id} may hand on again; it sends by itself what is missing here.");
        }
        ListenersCommand::Receive { listen } => take_in(here, *listen)?,
    }
    Ok(ExitCode::SUCCESS)
}

fn none(id: &str, which: &str) -> Failure {
    Failure::new(
        failure::USAGE,
        format!("there is no listener {id:?} that {which}; `quietcuff listeners list` shows them"),
    )
}

fn invite(here: &Everywhere, at: &str, label: &str, json: bool) -> Outcome {
    let label = label_of(label)?;
    // The key pair, where this makes it, has to be the role's to read.
    let (at_, label_) = (format!("--at={at}"), format!("--label={label}"));
    let mut again = vec!["listeners", "invite", &at_, &label_];
    again.extend(json.then_some("--json"));
    if let Some(done) = owner::instead(&here.state()?, &again, None)? {
        return Ok(done);
    }
    let mut journal = here.journal()?;
    let own = OwnKey::of(&here.state()?)?;
    let now = journal.moment_for_keys(Timestamp::now())?;
    let until = now.checked_add(CODE_LIFE).unwrap_or(Timestamp::MAX);
    let secret = KeySecret::new()
        .map_err(|e| Failure::new(failure::UNAVAILABLE, format!("no random numbers: {e}")))?;
    journal.invite_listener(&secret.digest("listener"), &label, until)?;
    let code = Code {
        at: at.to_owned(),
        record: own.digest,
        secret,
    };
    let mut out = std::io::stdout().lock();
    if json {
        let zones = here.zones(&journal)?;
        let until = days::shown(until, &zones);
        json_line(
            &mut out,
            &serde_json::json!({ "code": code.to_string(), "at": at, "until": until }),
        )?;
        return Ok(ExitCode::SUCCESS);
    }
    writeln!(out, "{code}")?;
    // Only where somebody looks at it; what a program reads is the code alone.
    let columns = rustix::termios::tcgetwinsize(&out).map_or(0, |size| size.ws_col);
    if let Some(blocks) = code_in_blocks(&code.to_string(), columns.into()) {
        write!(out, "\n{blocks}\n")?;
    }
    let minutes = CODE_LIFE.as_mins();
    eprintln!(
        "On the listener, within {minutes} minutes: `quietcuff record join CODE`. It works once. Here, `quietcuff \
         listeners receive` has to run, or `systemctl enable --now quietcuff-receive`."
    );
    Ok(ExitCode::SUCCESS)
}

fn list(here: &Everywhere, json: bool) -> Result<(), Failure> {
    let journal = here.read_journal()?;
    let zones = here.zones(&journal)?;
    let listeners = journal.listeners()?;
    let mut out = std::io::stdout().lock();
    if listeners.is_empty() && !json {
        eprintln!(
            "quietcuff: no other machine hands on to this one; `quietcuff listeners invite --at NAME` lets one in"
        );
    }
    for listener in &listeners {
        let line = ListenerLine::of(listener, &zones);
        if json {
            json_line(&mut out, &line)?;
            continue;
        }
        let heard = match listener.last {
            Some(last) => format!("last heard {}", days::shown(last, &zones)),
            None => "never heard".to_owned(),
        };
        let waiting = match listener.waiting {
            Some(0) => "nothing waits there".to_owned(),
            Some(1) => "1 frame waits there".to_owned(),
            Some(frames) => format!("{frames} frames wait there"),
            None => "what waits there is not known".to_owned(),
        };
        let clock = match listener.clock_told() {
            Some(ms) => format!(", its time is this machine's, to within {ms} ms"),
            None if listener.clock_unsure() => ", its clock is not known to be right".to_owned(),
            None => String::new(),
        };
        let refused = line.refused.as_ref().map_or_else(String::new, |refused| {
            format!(", refused for its version {} {}", refused.version, refused.at)
        });
        writeln!(
            out,
            "{:<4}  {:<9}  {heard}, {} frames here, {waiting}{clock}{refused}  {}",
            line.id, line.state, line.frames, line.label
        )?;
    }
    Ok(())
}

fn take_in(here: &Everywhere, listen: Option<SocketAddr>) -> Result<(), Failure> {
    let ready = |address: SocketAddr| {
        tracing::info!("listeners reach this machine at {address}");
        // For whoever started it and waits, such as a script that asked for any free port.
        let _ = writeln!(std::io::stdout(), "{address}");
        let _ = std::io::stdout().flush();
    };
    receive(
        &here.state()?,
        listen,
        PORT,
        ServiceManager::of_environment(),
        ready,
        roles::told_to_stop(),
    )?;
    Ok(())
}

impl From<KeyError> for Failure {
    fn from(error: KeyError) -> Self {
        let code = match &error {
            KeyError::NotWritten(error) => error.exit_code(),
            KeyError::Unusable { .. } => failure::CONFIG,
            KeyError::NoRandom => failure::UNAVAILABLE,
        };
        Self::new(code, error.to_string())
    }
}

impl From<RecordError> for Failure {
    fn from(error: RecordError) -> Self {
        match error {
            RecordError::Journal(error) => error.into(),
            RecordError::Key(error) => error.into(),
            RecordError::Socket(error) => Self::new(failure::UNAVAILABLE, error.to_string()),
            RecordError::Listen { .. } => Self::new(failure::UNAVAILABLE, error.to_string()),
            RecordError::Tls(_) | RecordError::Start(_) | RecordError::Thread(_) => {
                Self::new(failure::INTERNAL, error.to_string())
            }
        }
    }
}
