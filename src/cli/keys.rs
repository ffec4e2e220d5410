//! `quietcuff keys`: who may see the page from another machine, and for how long.

use super::days::{day, known, midnight};
use super::failure;
use super::failure::{Failure, Outcome};
use super::output::json_line;
use super::place::{Everywhere, language_of};
use crate::home::card;
use crate::household::{Household, PersonId, Zones};
use crate::journal::Journal;
use crate::keys::{HERE, Key, KeySecret, LABEL_CHARS_MAX, Role};
use crate::whole::{shown, write_new};
use crate::words::Language;
use clap::{Args, Subcommand, ValueEnum};
use hyper::Uri;
use jiff::civil::Date;
use jiff::{SignedDuration, Timestamp};
use serde::Serialize;
use std::collections::BTreeSet;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

/// How long a link to the page opens it (own choice): as long as it takes to carry it to a browser.
pub(super) const LINK_MINUTES: i64 = 10;
/// Keys that open something at once: more than a household has hands.
const KEYS_MAX: usize = 64;

/// Makes, lists and withdraws keys to the page, and links that open it once.
#[derive(Args)]
pub(crate) struct KeysArgs {
    #[command(subcommand)]
    command: KeysCommand,
}

#[derive(Subcommand)]
enum KeysCommand {
    /// Make a key; it is shown this once and never again
    Add(AddArgs),
    /// Make a link that opens the page once, on this machine, without a key
    Link,
    /// List the keys, without their secrets, which nobody has kept
    List {
        /// Print one JSON object a line
        #[arg(long)]
        json: bool,
    },
    /// Let a key open the page again that came back with a backup
    Confirm {
        /// Which, as `keys list` names it
        id: String,
    },
    /// Withdraw a key: every screen that was opened with it closes
    Withdraw {
        /// Which, as `keys list` names it
        id: String,
    },
}

#[derive(Args)]
struct AddArgs {
    /// What it lets its holder do
    #[arg(long, value_enum)]
    role: RoleName,
    /// Whose readings it is for [default: everybody's; a person's own key has to name them]; may be given several times
    #[arg(long, value_name = "ID", required_if_eq("role", "person"))]
    person: Vec<PersonId>,
    /// The group whose readings it is for, whoever belongs to it: the word that `people edit --group` gave
    #[arg(long, value_name = "WORD", conflicts_with = "person")]
    group: Option<String>,
    /// The last day on which it opens the page; a clinician's key has to have one
    #[arg(long, value_name = "DATE", value_parser = day, required_if_eq("role", "clinician"))]
    until: Option<Date>,
    /// Who has it, such as "kitchen tablet"
    #[arg(long, value_name = "TEXT", default_value = "")]
    label: String,
    /// Write a card with the page's address, the key, and a code that a tablet's camera reads, as an HTML file to be
    /// printed
    #[arg(long, value_name = "FILE")]
    card: Option<PathBuf>,
    /// The address under which a tablet reaches the page, such as https://house.example:8417/ [default: by the
    /// configuration]
    #[arg(long, value_name = "URL", requires = "card", value_parser = address_of)]
    address: Option<String>,
    /// The card's language, such as hi
    #[arg(long, value_name = "TAG", requires = "card", default_value = "en", value_parser = language_of)]
    language: Language,
    /// Print one JSON object
    #[arg(long)]
    json: bool,
}

/// An address that a browser opens, up to its path.
fn address_of(text: &str) -> Result<String, String> {
    let wrong = || "write an address such as https://house.example:8417/".to_owned();
    let uri: Uri = text.parse().map_err(|_| wrong())?;
    let (scheme, host) = uri.scheme_str().zip(uri.authority()).ok_or_else(wrong)?;
    if !matches!(scheme, "http" | "https") || !matches!(uri.path(), "" | "/") || uri.query().is_some() {
        return Err(wrong());
    }
    Ok(format!("{scheme}://{host}/"))
}

/// What a key lets its holder do.
#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
enum RoleName {
    /// See and note what is one person's own
    Person,
    /// See, note and answer everything
    Caregiver,
    /// See, and change nothing, for a time
    Clinician,
}

impl RoleName {
    const fn role(self) -> Role {
        match self {
            Self::Person => Role::Person,
            Self::Caregiver => Role::Caregiver,
            Self::Clinician => Role::Clinician,
        }
    }
}

#[derive(Serialize)]
struct Line<'a> {
    id: &'a str,
    role: &'static str,
    /// The only one whose readings it is for.
    person: Option<&'a PersonId>,
    people: &'a [PersonId],
    group: Option<&'a str>,
    label: &'a str,
    until: Option<String>,
    state: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    key: Option<String>,
}

impl<'a> Line<'a> {
    fn of(key: &'a Key, zones: &Zones, now: Timestamp) -> Self {
        Self {
            id: &key.id,
            role: key.role.name(),
            person: key.people.first().filter(|_| key.people.len() == 1),
            people: &key.people,
            group: key.group.as_deref(),
            label: &key.label,
            until: key.until.map(|until| super::days::shown(until, zones)),
            state: if key.withdrawn.is_some() {
                "withdrawn"
            } else if key.closed.is_some() {
                "closed"
            } else if key.opens(now) {
                "opens"
            } else {
                "over"
            },
            key: None,
        }
    }
}

pub(crate) fn run(here: &Everywhere, args: &KeysArgs) -> Outcome {
    match &args.command {
        KeysCommand::Add(args) => add(here, args)?,
        KeysCommand::Link => {
            let path = new_link(&here.state()?)?;
            println!("{}{path}", here.config()?.page.address());
            eprintln!(
                "Open it within {LINK_MINUTES} minutes; it works once. Every screen that is opened so has the key {HERE:?} \
                 (`quietcuff keys list`), which can be withdrawn like any other."
            );
        }
        KeysCommand::List { json } => list(here, *json)?,
        KeysCommand::Confirm { id } => {
            if !here.journal()?.confirm_key(id)? {
                return Err(usage(&format!(
                    "there is no key {id:?} that waits to be confirmed; `quietcuff keys list` shows them"
                )));
            }
            eprintln!("Key {id} opens the page again.");
        }
        KeysCommand::Withdraw { id } => {
            let mut journal = here.journal()?;
            let now = journal.moment_for_keys(Timestamp::now())?;
            if !journal.withdraw_key(id, now)? {
                return Err(usage(&format!(
                    "there is no key {id:?} that could be withdrawn; `quietcuff keys list` shows them"
                )));
            }
            eprintln!("Key {id} is withdrawn.");
        }
    }
    Ok(ExitCode::SUCCESS)
}

fn add(here: &Everywhere, args: &AddArgs) -> Result<(), Failure> {
    let mut journal = here.journal()?;
    let zones = here.zones(&journal)?;
    let now = journal.moment_for_keys(Timestamp::now())?;
    let keys = journal.keys()?;
    if keys.iter().filter(|key| key.opens(now)).count() >= KEYS_MAX {
        return Err(usage(&format!(
            "there are {KEYS_MAX} keys already: withdraw one with `quietcuff keys withdraw ID`"
        )));
    }
    let people = of_whom(&journal.household()?, args)?;
    let label = label_of(&args.label)?;
    let until = match args.until {
        Some(day) => Some(end_of(day, &zones, now)?),
        None => None,
    };
    let secret = KeySecret::new()
        .map_err(|e| Failure::new(failure::UNAVAILABLE, format!("no random numbers: {e}")))?;
    let key = Key {
        id: format!("k{}", keys.iter().filter(|key| key.id != HERE).count() + 1),
        role: args.role.role(),
        people,
        group: args.group.clone(),
        label,
        made: now,
        until,
        withdrawn: None,
        closed: None,
    };
    // Before the key is made: one that nobody was shown would open the page all the same.
    let card = match &args.card {
        Some(file) => {
            let address = address(here, args)?;
            let card = card::document(&address, Some(&secret.shown()), args.language);
            write_new(file, card.as_bytes())
                .map_err(|error| Failure::new(error.exit_code(), error.to_string()))?;
            Some(file)
        }
        None => None,
    };
    journal.add_key(&key, &secret.digest("key"))?;
    let mut out = std::io::stdout().lock();
    if args.json {
        let line = Line {
            key: Some(secret.shown()),
            ..Line::of(&key, &zones, now)
        };
        return json_line(&mut out, &line);
    }
    writeln!(out, "{}", secret.shown())?;
    if let Some(file) = card {
        eprintln!(
            "{} is the card. Print it and delete the file: whoever has it has the key.",
            shown(file)
        );
    }
    eprintln!(
        "This is key {}. It is shown this once; `quietcuff keys withdraw {}` withdraws it.",
        key.id, key.id
    );
    Ok(())
}

/// Whose readings the key is for, where it is not for everybody's or a group's.
fn of_whom(household: &Household, args: &AddArgs) -> Result<Vec<PersonId>, Failure> {
    for person in &args.person {
        known(household, person)?;
    }
    if args.role == RoleName::Person && args.person.len() > 1 {
        return Err(usage(
            "a person's own key is for one; for several, `--role caregiver`",
        ));
    }
    let empty = |group: &&str| household.of_group(group).next().is_none();
    if let Some(group) = args.group.as_deref().filter(empty) {
        return Err(usage(&format!(
            "nobody belongs to a group {group:?}; `quietcuff people edit ID --group {group}` says who does"
        )));
    }
    let people: BTreeSet<&PersonId> = args.person.iter().collect();
    Ok(people.into_iter().cloned().collect())
}

/// Where a tablet reaches the page.
fn address(here: &Everywhere, args: &AddArgs) -> Result<String, Failure> {
    if let Some(address) = &args.address {
        return Ok(address.clone());
    }
    here.config()?.page.elsewhere().ok_or_else(|| {
        usage(
            "the configuration does not say under which address other machines reach the page: say it with \
             `--address http://ADDRESS:PORT/`",
        )
    })
}

/// Makes a link, and gives its path on the page.
pub(super) fn new_link(state: &Path) -> Result<String, Failure> {
    let mut journal = Journal::open_existing(state)?;
    let now = journal.moment_for_keys(Timestamp::now())?;
    let until = now
        .checked_add(SignedDuration::from_mins(LINK_MINUTES))
        .unwrap_or(Timestamp::MAX);
    let secret = KeySecret::new()
        .map_err(|e| Failure::new(failure::UNAVAILABLE, format!("no random numbers: {e}")))?;
    journal.add_link(&secret.digest("link"), until)?;
    Ok(format!("/enter?link={}", secret.letters()))
}

fn list(here: &Everywhere, json: bool) -> Result<(), Failure> {
    let journal = here.read_journal()?;
    let zones = here.zones(&journal)?;
    let now = journal.moment_for_keys(Timestamp::now())?;
    let words = Language::English.words();
    let mut out = std::io::stdout().lock();
    let keys = journal.keys()?;
    if keys.is_empty() && !json {
        eprintln!("quietcuff: nobody has a key to the page; `quietcuff keys add --role caregiver` makes one");
    }
    for key in keys {
        let line = Line::of(&key, &zones, now);
        if json {
            json_line(&mut out, &line)?;
        } else {
            writeln!(
                out,
                "{:<4}  {:<9}  {:<12}  {:<9}  {:<25}  {}",
                line.id,
                line.role,
                whose(&key),
                line.state,
                key.until.map_or_else(
                    || "no end".to_owned(),
                    |until| super::rows::moment(until, &zones, words)
                ),
                line.label
            )?;
        }
    }
    Ok(())
}

fn whose(key: &Key) -> String {
    match &key.group {
        Some(group) => format!("group {group}"),
        None if key.people.is_empty() => "everybody".to_owned(),
        None => key
            .people
            .iter()
            .map(PersonId::as_str)
            .collect::<Vec<_>>()
            .join(", "),
    }
}

fn usage(why: &str) -> Failure {
    Failure::new(failure::USAGE, why)
}

pub(super) fn label_of(text: &str) -> Result<String, Failure> {
    let text = text.trim();
    if text.chars().count() > LABEL_CHARS_MAX || text.chars().any(char::is_control) {
        return Err(usage(&format!(
            "a label has at most {LABEL_CHARS_MAX} characters on one line"
        )));
    }
    Ok(text.to_owned())
}

/// The end of a day, which has to be to come.
fn end_of(day: Date, zones: &Zones, now: Timestamp) -> Result<Timestamp, Failure> {
    day.tomorrow()
        .ok()
        .and_then(|next| midnight(zones, next))
        .filter(|end| *end > now)
        .ok_or_else(|| usage(&format!("{day} is over already: give a day to come")))
}
