//! `quietcuff monitors consent`: the codes by which a monitor that keeps its users apart lets us at their readings.

use super::super::failure;
use crate::cli::failure::{Failure, Outcome};
use crate::cli::place::Everywhere;
use crate::gatt::ConsentCode;
use crate::household::MonitorId;
use crate::journal::{Journal, UserConsent};
use crate::socket;
use clap::Args;
use jiff::Timestamp;
use std::io::{IsTerminal, Write};
use std::process::ExitCode;

#[derive(Args)]
pub(super) struct ConsentArgs {
    /// The monitor's id
    monitor: MonitorId,
    /// The user's number on the monitor, 0 to 254; without one, say for which a code is kept
    #[arg(value_parser = user_number)]
    number: Option<u8>,
    /// Let the monitor register a new user at its next visit, with a code that you choose; it gives the number
    #[arg(long, conflicts_with = "number")]
    register: bool,
    /// Forget the code; the monitor is not told
    #[arg(long)]
    forget: bool,
    /// Print one JSON object
    #[arg(long)]
    json: bool,
}

/// A user's number, as monitors count them.
pub(super) fn user_number(text: &str) -> Result<u8, String> {
    let number = text.parse().ok().filter(|number| *number != u8::MAX);
    number.ok_or_else(|| "a user number is 0 to 254".to_owned())
}

/// A user's number, with the code behind `=` where it is given with it.
pub(super) fn of_user(text: &str) -> Result<(u8, Option<ConsentCode>), String> {
    let (number, code) = match text.split_once('=') {
        Some((number, code)) => (number, Some(code)),
        None => (text, None),
    };
    let code = code.map(str::parse).transpose();
    Ok((
        user_number(number)?,
        code.map_err(|e: crate::gatt::NotAConsentCode| e.to_string())?,
    ))
}

pub(super) fn consent(here: &Everywhere, args: &ConsentArgs) -> Outcome {
    let state = here.state()?;
    let mut journal = here.journal()?;
    let household = journal.household()?;
    let monitor = &args.monitor;
    let Some((_, false)) = household.monitors.get(monitor) else {
        return Err(Failure::new(
            failure::USAGE,
            format!("no monitor {monitor} is enrolled; `quietcuff monitors list` shows which are"),
        ));
    };
    let user = args.number;
    if args.forget {
        if user.is_none() && !args.register {
            return Err(Failure::new(
                failure::USAGE,
                "name the user whose code is to be forgotten, such as `quietcuff monitors consent m1 1 --forget`",
            ));
        }
        if !journal.withdraw_consent(monitor, user)? {
            return Err(Failure::new(
                failure::USAGE,
                format!(
                    "no such code is kept for {monitor}; `quietcuff monitors consent {monitor}` says for whom one is"
                ),
            ));
        }
        socket::reload(&state);
    } else if user.is_some() || args.register {
        give(&mut journal, monitor, user, typed(user)?)?;
        socket::reload(&state);
    }
    say(&journal, args)
}

/// Keeps a code.
pub(super) fn give(
    journal: &mut Journal,
    monitor: &MonitorId,
    user: Option<u8>,
    code: ConsentCode,
) -> Result<(), Failure> {
    let given = Timestamp::now();
    Ok(journal.give_consent(monitor, &UserConsent { user, code, given })?)
}

/// The code, from whoever sits at the terminal, or from a pipe.
pub(super) fn typed(user: Option<u8>) -> Result<ConsentCode, Failure> {
    if std::io::stdin().is_terminal() {
        match user {
            Some(user) => {
                eprint!("Consent code of user {user} (up to four digits, as the monitor shows it): ");
            }
            None => eprint!("Consent code for the new user (up to four digits, which you choose): "),
        }
        let _ = std::io::stderr().flush();
    }
    let mut line = String::new();
    std::io::stdin().read_line(&mut line)?;
    let code = line.trim().parse();
    code.map_err(|e: crate::gatt::NotAConsentCode| Failure::new(failure::USAGE, e.to_string()))
}

fn say(journal: &Journal, args: &ConsentArgs) -> Outcome {
    let monitor = &args.monitor;
    let kept = journal.consents(monitor)?;
    let users: Vec<u8> = kept.iter().filter_map(|one| one.user).collect();
    let registers = kept.iter().any(|one| one.user.is_none());
    let mut out = std::io::stdout().lock();
    if args.json {
        let line = serde_json::json!({ "id": monitor, "users": users, "registers": registers });
        writeln!(out, "{line}")?;
        return Ok(ExitCode::SUCCESS);
    }
    for user in &users {
        writeln!(
            out,
            "A code is kept for user {user} of {monitor}; it is given at each visit."
        )?;
    }
    if registers {
        writeln!(
            out,
            "{monitor} will be asked to register a new user at its next visit."
        )?;
    }
    if kept.is_empty() {
        writeln!(out, "No code is kept for {monitor}.")?;
    }
    Ok(ExitCode::SUCCESS)
}
