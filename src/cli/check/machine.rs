//! What the daemon needs of the machine beside its radio: a place to write, a sound journal, a zone.

use super::super::failure::{self, Failure};
use super::super::second_ear::EarState;
use super::finding::{Finding, FindingState, advised, failed, needed, ok, split};
use crate::config::Config;
use crate::edge::system_zone;
use crate::home::listening::not_delivered;
use crate::household::Household;
use crate::journal::{DISK_ADVISED_OCTETS, Journal, JournalError};
use crate::monitoring::listening::{ListeningTrouble, Obstacle};
use crate::radio::report::MonitorReport;
use crate::roles::stated;
use crate::socket;
use crate::whole::reason;
use crate::words::Language;
use crate::words::one_line;
use jiff::Timestamp;
use rustix::fs::Access;
use std::collections::BTreeSet;
use std::fs;
use std::io;
use std::os::unix::fs::PermissionsExt;
use std::path::Path;

/// SQLite needs room for its write-ahead log before it can say anything.
const DISK_NEEDED_OCTETS: u64 = 20 * 1024 * 1024;

/// The directory of the journal: who may write there, and who may look.
pub(super) fn directory(state: &Path) -> Finding {
    const CHECK: &str = "state directory";
    let shown = state.display();
    let cannot = |code, error: &dyn std::fmt::Display| {
        needed(
            CHECK,
            code,
            format!("{shown}: {error}"),
            "make it a directory of the user that runs the daemon, or name another with `--state DIR`",
        )
    };
    let code_of = |error: &io::Error| match error.kind() {
        io::ErrorKind::PermissionDenied => failure::NO_PERMISSION,
        _ => failure::CANNOT_CREATE,
    };
    let (there, mode) = match fs::metadata(state) {
        Ok(there) if !there.is_dir() => return cannot(failure::CANNOT_CREATE, &"is not a directory"),
        Ok(there) => (state, there.permissions().mode()),
        Err(error) if error.kind() == io::ErrorKind::NotFound => (existing(state), 0),
        Err(error) => return cannot(code_of(&error), &reason(&error)),
    };
    if let Err(error) = rustix::fs::access(there, Access::WRITE_OK | Access::EXEC_OK) {
        let error = io::Error::from(error);
        return cannot(
            code_of(&error),
            &format!(
                "this user cannot write in {}: {}",
                there.display(),
                reason(&error)
            ),
        );
    }
    if there != state {
        return ok(
            CHECK,
            format!("{shown} is not there yet; it is made when it is needed"),
        );
    }
    if mode & 0o007 != 0 {
        return advised(
            CHECK,
            format!("{shown} can be looked into by every user of this machine"),
            format!("`chmod o-rwx {shown}`"),
        );
    }
    ok(
        CHECK,
        format!("{shown} can be written, and only by whom it should"),
    )
}

/// The directory itself, or the nearest one above it that there is.
fn existing(path: &Path) -> &Path {
    path.ancestors()
        .find(|above| !above.as_os_str().is_empty() && above.exists())
        .unwrap_or(Path::new("."))
}

pub(super) fn disk(state: &Path) -> Option<Finding> {
    const CHECK: &str = "disk";
    let there = existing(state);
    let volume = rustix::fs::statvfs(there).ok()?;
    let free = volume.f_bavail.saturating_mul(volume.f_frsize);
    let shown = format!("{} MB free for {}", free / 1_000_000, there.display());
    let todo = "free some space; readings that cannot be written wait in memory, which a power cut empties";
    Some(if free < DISK_NEEDED_OCTETS {
        needed(CHECK, failure::IO, shown, todo)
    } else if free < DISK_ADVISED_OCTETS {
        advised(CHECK, shown, todo)
    } else {
        ok(CHECK, shown)
    })
}

/// Opens the journal and has SQLite look through it.
pub(super) fn look_into(state: &Path) -> (Finding, Option<Journal>) {
    const CHECK: &str = "journal";
    let wrong = |error: JournalError| failed(CHECK, &Failure::from(error));
    let journal = match Journal::read_as_it_is(state) {
        Ok(journal) => journal,
        Err(JournalError::Missing { .. }) => {
            return (ok(CHECK, "none yet; the first reading makes it"), None);
        }
        Err(error) => return (wrong(error), None),
    };
    let finding = match journal
        .integrity()
        .and_then(|said| Ok((said, journal.frame_count()?)))
    {
        Ok((None, frames)) => ok(
            CHECK,
            format!("{} is sound, {frames} frames", journal.path().display()),
        ),
        Ok((Some(what), _)) => needed(
            CHECK,
            failure::DATA,
            format!("{} is damaged: {what}", journal.path().display()),
            "stop the daemon, then `quietcuff recover` makes a new journal of what can be read and keeps this file; or \
             `quietcuff restore FILE` a backup"
                .to_owned(),
        ),
        Err(error) => wrong(error),
    };
    drop(journal);
    let journal = match Journal::read(state) {
        Ok(journal) => journal,
        Err(error) => return (wrong(error), None),
    };
    let finding = match journal.fault_of_derived() {
        Ok(Some(fault)) if finding.state == FindingState::Ok => advised(
            CHECK,
            format!(
                "{}: a reading, judgement or session cannot be read: {fault}",
                journal.path().display()
            ),
            "`quietcuff rebuild` makes all of them anew from the frames, which are whole; until then each command does it \
             for itself",
        ),
        Ok(_) => finding,
        Err(error) => wrong(error),
    };
    (finding, Some(journal))
}

/// Everything that can be read of it: SQLite's full look, and each row against the digest of when it was written.
pub(super) fn thorough(journal: &Journal) -> Finding {
    const CHECK: &str = "digests";
    let looked = journal
        .integrity_in_full()
        .and_then(|said| Ok((said, journal.chain()?)));
    let (code, found, todo) = match looked {
        Err(error) => return failed(CHECK, &error.into()),
        Ok((None, chain)) if chain.holds() => {
            return ok(
                CHECK,
                format!(
                    "every frame and statement is what was written; the last digest is {}",
                    chain.head
                ),
            );
        }
        Ok((Some(what), _)) => (
            failure::DATA,
            format!("{} is damaged: {what}", journal.path().display()),
            "stop the daemon, then `quietcuff recover`; or `quietcuff restore FILE` a backup",
        ),
        Ok((None, chain)) => (
            failure::DATA,
            format!(
                "{} is not what was written: {}",
                journal.path().display(),
                chain.named()
            ),
            "`quietcuff restore FILE` with `--state DIR` puts a backup elsewhere, and `quietcuff frames` shows those rows in both; \
             `quietcuff recover` takes the journal as it is, and begins the digests anew",
        ),
    };
    needed(CHECK, code, found, todo)
}

pub(super) fn time_zone(config: &Config, journal: Option<&Journal>, stated: &Household) -> Finding {
    const CHECK: &str = "time zone";
    let last = stated.zones.last().map(|(_, name)| name.as_str());
    if journal.is_some()
        && let Err(error) = stated::zone(config.time_zone.as_deref(), stated)
    {
        return failed(CHECK, &error.into());
    }
    match (&config.time_zone, last) {
        (Some(named), _) => ok(CHECK, format!("{named}, by the configuration")),
        (None, Some(stated)) => ok(CHECK, format!("{stated}, as the household stated it")),
        (None, None) => {
            let system = system_zone();
            if system == "UTC" || system == "Etc/UTC" {
                return advised(
                    CHECK,
                    format!("{system}, the system's, which is hardly what the clock on the wall shows"),
                    "write `time-zone = \"Europe/Berlin\"`, or whichever it is, into the configuration",
                );
            }
            ok(CHECK, format!("{system}, the system's"))
        }
    }
}

/// Whoever is named by a route and was never added is never told of.
pub(super) fn routes(config: &Config, stated: &Household) -> Vec<Finding> {
    let stranger = |(route, person)| {
        advised(
            "reminders",
            format!("the route {route} is for {person}, whom nobody has added"),
            "`quietcuff people list` names everybody; correct `people` of the route, or add the person",
        )
    };
    config.alerts.strangers(stated).map(stranger).collect()
}

/// What is urgent and reached nobody by a way that was meant to.
pub(super) fn undelivered(journal: &Journal) -> Vec<Finding> {
    const CHECK: &str = "reminders";
    let entries = match journal.undelivered() {
        Ok(entries) => entries,
        Err(error) => return vec![failed(CHECK, &error.into())],
    };
    let routes: BTreeSet<&str> = entries.iter().map(|entry| entry.route.as_str()).collect();
    let found = |route: &str| {
        let mut mine = entries.iter().filter(|entry| entry.route == route);
        let first = mine.clone().map(|entry| entry.since).min().unwrap_or_default();
        let why = mine
            .find_map(|entry| entry.problem.as_deref())
            .unwrap_or("it was not tried in time");
        advised(
            CHECK,
            format!("something urgent could not be told by {route} since {first}: {why}"),
            format!("tell them yourself; `quietcuff remind test {route}` tries the way again"),
        )
    };
    routes.into_iter().map(found).collect()
}

/// Whether what is due goes on to the clinic's server.
pub(super) fn delivery(config: &Config, journal: &Journal) -> Vec<Finding> {
    const CHECK: &str = "delivery";
    let troubles = match not_delivered(journal, &config.clinic, Timestamp::now()) {
        Ok(troubles) => troubles,
        Err(error) => return vec![failed(CHECK, &error.into())],
    };
    let found = |trouble: &ListeningTrouble| {
        let since = trouble.since.map(|since| format!(", since {since:.0}"));
        let todo = match trouble.what {
            Obstacle::NotDelivering => "`quietcuff deliver`, or `systemctl enable --now quietcuff-deliver`",
            _ => "`quietcuff deliver list` says what waits and why",
        };
        let found = format!(
            "{}{}",
            one_line(&trouble.what.in_words()),
            since.unwrap_or_default()
        );
        advised(CHECK, found, todo)
    };
    troubles.iter().map(found).collect()
}

pub(super) fn daemon(state: &Path) -> Finding {
    const CHECK: &str = "daemon";
    const START: &str = "`quietcuff run`, or `systemctl enable --now quietcuff` where its unit is installed";
    match socket::collector(state) {
        Ok(Some(report)) => match report.problem() {
            None => ok(CHECK, "runs"),
            Some(problem) => {
                let (found, todo) = split(problem);
                let todo = todo.unwrap_or_else(|| "`quietcuff status` says more".to_owned());
                advised(CHECK, format!("runs, and says: {found}"), todo)
            }
        },
        Ok(None) => advised(CHECK, "does not run", START),
        Err(error) if error.kind() == Some(io::ErrorKind::NotADirectory) => {
            advised(CHECK, "does not run", START)
        }
        Err(error) if error.kind() == Some(io::ErrorKind::PermissionDenied) => advised(
            CHECK,
            "runs as another user, who alone may ask it",
            "run this check as that user",
        ),
        Err(error) => advised(
            CHECK,
            format!("does not answer: {error}"),
            "see its log, then start it anew",
        ),
    }
}

/// The monitors that a running daemon does not link directly, though it wants to.
pub(super) fn not_direct(state: &Path) -> Vec<Finding> {
    let Ok(Some(report)) = socket::collector(state) else {
        return Vec::new();
    };
    let found = |(id, monitor): (String, MonitorReport)| {
        let why = monitor.not_direct?;
        Some(advised(
            "direct bearer",
            format!("{id} is not linked directly: {why}"),
            "nothing, if it is so for one visit; else restart bluetooth.service, then pair it again",
        ))
    };
    report.radio.monitors.into_iter().filter_map(found).collect()
}

/// The monitors that want the consent of one of their users.
pub(super) fn consents(state: &Path) -> Vec<Finding> {
    let Ok(Some(report)) = socket::collector(state) else {
        return Vec::new();
    };
    let found = |(id, monitor): (String, MonitorReport)| {
        let users = monitor.users?;
        Some(match users.problem(&id) {
            Some((found, todo)) => advised("consent", found, todo),
            None => ok("consent", format!("{id} hands out the readings of its users")),
        })
    };
    report.radio.monitors.into_iter().filter_map(found).collect()
}

/// The second ear. The daemon works without it.
pub(super) fn ear(state: &Path) -> Finding {
    const CHECK: &str = "second ear";
    let ear = EarState::ask(state);
    if let Some(problem) = ear.problem() {
        let (found, todo) = split(&problem);
        let todo = todo.unwrap_or_else(|| "see its log, then start it anew".to_owned());
        return advised(CHECK, found, todo);
    }
    if ear.runs() {
        return ok(CHECK, ear.said(Language::English.words()));
    }
    advised(
        CHECK,
        ear.said(Language::English.words()),
        "`quietcuff overhear` closes the one gap in which a reading can be lost, after a restart of bluetoothd; \
         `systemctl enable --now quietcuff-overhear` where its unit is installed",
    )
}
