//! Whether what other rooms hear arrives here, and whether what is heard here arrives at the record.

use super::finding::{Finding, advised, failed, ok};
use crate::config::Config;
use crate::home::listening::door_is_shut;
use crate::journal::{Journal, JournalError, Listener};
use crate::monitoring::reminders::Silent;
use jiff::Timestamp;
use std::path::Path;

pub(super) fn rooms(state: &Path, config: &Config, journal: &Journal) -> Vec<Finding> {
    let (now, silent) = (Timestamp::now(), config.alerts.silent());
    let shut = door_is_shut(state);
    let mut findings = listeners(journal, (silent, shut), now)
        .unwrap_or_else(|error| vec![failed("listeners", &error.into())]);
    findings.extend(record(journal).unwrap_or_else(|error| Some(failed("record", &error.into()))));
    findings
}

fn listeners(
    journal: &Journal,
    (silent, shut): (Silent, bool),
    now: Timestamp,
) -> Result<Vec<Finding>, JournalError> {
    const CHECK: &str = "listeners";
    let all = journal.listeners()?;
    let mut findings = Vec::new();
    if shut && all.iter().any(Listener::is_open) {
        findings.push(advised(
            CHECK,
            "the program that takes in what listeners hand on does not run; they keep it",
            "`quietcuff listeners receive`, or `systemctl enable --now quietcuff-receive`",
        ));
    }
    let stands = all.iter().filter(|listener| listener.withdrawn.is_none());
    // While nothing is taken in, nobody can be heard.
    findings.extend(stands.filter_map(|listener| match listener.closed {
        None if shut => None,
        _ => of_listener(listener, silent, now),
    }));
    if findings.is_empty() && all.iter().any(Listener::is_open) {
        let minutes = silent.listener_minutes;
        findings.push(ok(
            CHECK,
            format!("each was heard within {minutes} minutes, and nothing waits there"),
        ));
    }
    Ok(findings)
}

/// What a person could do for one listener, if anything.
fn of_listener(listener: &Listener, silent: Silent, now: Timestamp) -> Option<Finding> {
    const CHECK: &str = "listeners";
    let name = format!("listener {} {}", listener.id, listener.label);
    let name = name.trim();
    if listener.closed.is_some() {
        return Some(advised(
            CHECK,
            format!("{name} came back with a backup, and nothing of it is taken"),
            format!(
                "`quietcuff listeners confirm {}`, or `listeners withdraw`",
                listener.id
            ),
        ));
    }
    let silent = silent.listener();
    if let Some((at, theirs)) = listener
        .refused
        .as_ref()
        .filter(|(at, _)| now.duration_since(*at) < silent)
    {
        return Some(advised(
            CHECK,
            format!(
                "{name} called {at:.0} and was refused: it runs version {theirs}, and this machine {}",
                env!("CARGO_PKG_VERSION")
            ),
            "bring both to the same version; it keeps what it hears, and nothing is lost meanwhile",
        ));
    }
    let Some(last) = listener.last else {
        return Some(advised(
            CHECK,
            format!("{name} has joined, and was never heard"),
            "`quietcuff record hand-on` there, or `systemctl enable --now quietcuff-hand-on`",
        ));
    };
    if now.duration_since(last) >= silent {
        return Some(advised(
            CHECK,
            format!("{name} was last heard {last:.0}{}", waiting(listener)),
            "see that it has power and network, and what `quietcuff record show` says there",
        ));
    }
    of_machine(listener, name)
}

/// What a person could do for the machine of a listener that is heard, if anything.
fn of_machine(listener: &Listener, name: &str) -> Option<Finding> {
    const CHECK: &str = "listeners";
    if listener.clock_unsure() {
        return Some(advised(
            CHECK,
            format!(
                "the clock of {name} is not known to be right{}",
                waiting(listener)
            ),
            "see that it reaches a time server: `timedatectl` there says so",
        ));
    }
    if let Some(ahead) = listener.clock_apart() {
        let (seconds, which) = (ahead.abs(), if ahead < 0 { "behind" } else { "ahead of" });
        return Some(advised(
            CHECK,
            format!("the clock of {name} was {seconds} s {which} this machine's"),
            "see on both what `timedatectl` says",
        ));
    }
    if let Some(free) = listener.disk_low() {
        return Some(advised(
            CHECK,
            format!("{name} has {} MB free on its disk", free / 1_000_000),
            "free some space there; readings that it cannot write wait in its memory, which a power cut empties",
        ));
    }
    (listener.waiting > Some(0)).then(|| {
        advised(
            CHECK,
            format!("{name} was heard{}", waiting(listener)),
            "it hands them on by itself; where their number stays, `quietcuff record show` there says why",
        )
    })
}

/// What waited there when it was last heard.
fn waiting(listener: &Listener) -> String {
    match listener.waiting {
        None | Some(0) => String::new(),
        Some(1) => ", 1 frame waited there".to_owned(),
        Some(frames) => format!(", {frames} frames waited there"),
    }
}

fn record(journal: &Journal) -> Result<Option<Finding>, JournalError> {
    const CHECK: &str = "record";
    let Some(record) = journal.record()? else {
        return Ok(None);
    };
    let waiting = journal.waiting_behind(record.through)?;
    Ok(Some(match record.problem {
        Some(problem) => advised(
            CHECK,
            format!("{waiting} frames wait to be handed on: {problem}"),
            "nothing is lost; `quietcuff record show` says how it stands",
        ),
        None if record.told.is_none() => advised(
            CHECK,
            format!("{waiting} frames wait to be handed on, and none ever was"),
            "`quietcuff record hand-on`, or `systemctl enable --now quietcuff-hand-on`",
        ),
        None => ok(
            CHECK,
            format!("{waiting} frames wait to be handed on to {}", record.at),
        ),
    }))
}
