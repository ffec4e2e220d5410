//! Whether what other rooms hear arrives here, and whether what is heard here arrives at the record.

use super::finding::{Finding, advised, failed, ok};
use crate::journal::{Journal, JournalError, Listener};
use jiff::{SignedDuration, Timestamp};

/// A listener says each minute that it is there; after so long it is switched off or cut off.
const SILENT: SignedDuration = SignedDuration::from_mins(30);

pub(super) fn rooms(journal: &Journal) -> Vec<Finding> {
    let now = Timestamp::now();
    let mut findings =
        listeners(journal, now).unwrap_or_else(|error| vec![failed("listeners", &error.into())]);
    findings.extend(record(journal).unwrap_or_else(|error| Some(failed("record", &error.into()))));
    findings
}

fn listeners(journal: &Journal, now: Timestamp) -> Result<Vec<Finding>, JournalError> {
    const CHECK: &str = "listeners";
    let all = journal.listeners()?;
    let mut findings = Vec::new();
    for listener in all.iter().filter(|listener| listener.withdrawn.is_none()) {
        let name = format!("listener {} {}", listener.id, listener.label);
        let name = name.trim();
        if listener.closed.is_some() {
            findings.push(advised(
                CHECK,
                format!("{name} came back with a backup, and nothing of it is taken"),
                format!(
                    "`quietcuff listeners confirm {}`, or `listeners withdraw`",
                    listener.id
                ),
            ));
            continue;
        }
        match listener.last {
            Some(last) if now.duration_since(last) > SILENT => findings.push(advised(
                CHECK,
                format!("{name} was last heard {last:.0}"),
                "see that it has power and network, and what `quietcuff record show` says there",
            )),
            None => findings.push(advised(
                CHECK,
                format!("{name} has joined, and was never heard"),
                "`quietcuff record hand-on` there, or `systemctl enable --now quietcuff-hand-on`",
            )),
            Some(_) => {}
        }
    }
    if findings.is_empty() && all.iter().any(Listener::is_open) {
        findings.push(ok(CHECK, "each was heard within half an hour"));
    }
    Ok(findings)
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
