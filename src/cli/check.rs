//! `quietcuff check`: whether this machine has what the daemon needs, and what to do where it has not.
//!
//! It only looks: nothing is switched on, installed or made. Each check stands for itself, so that a machine without
//! D-Bus, without an adapter or without a journal still hears about all the others.

use super::place::system_zone;
use super::run::{household, zone};
use super::{Everywhere, Failure, Outcome, failure};
use crate::config::Config;
use crate::household::Household;
use crate::journal::{Journal, JournalError};
use crate::radio::bus::{Adapter, Bus, Objects};
use crate::socket::{self, Question};
use clap::Args;
use rustix::fs::Access;
use serde::Serialize;
use std::fs;
use std::io::{self, Write};
use std::os::unix::fs::PermissionsExt;
use std::path::{Path, PathBuf};
use std::process::{Command, ExitCode, Stdio};
use std::time::{Duration, Instant};

/// The oldest BlueZ that is advised; the bench runs Debian's 5.66.
const BLUEZ_ADVISED: (u32, u32) = (5, 63);
/// A program that prints its version takes milliseconds.
const VERSION_LIMIT: Duration = Duration::from_secs(2);
const VERSION_LOOK: Duration = Duration::from_millis(10);
/// Where distributions put bluetoothd, which is not in anybody's path.
const BLUETOOTHD: [&str; 2] = [
    "/usr/libexec/bluetooth/bluetoothd",
    "/usr/lib/bluetooth/bluetoothd",
];
/// Ten years of a household take less.
const DISK_ADVISED_OCTETS: u64 = 200 * 1024 * 1024;
/// SQLite needs room for its write-ahead log before it can say anything.
const DISK_NEEDED_OCTETS: u64 = 20 * 1024 * 1024;

/// Exit codes from the least to the worst: of several findings the last in this row wins. What can be mended by
/// starting something comes first, what needs a copy of the file before anything else last.
const WORSE: [u8; 8] = [
    0,
    failure::UNAVAILABLE,
    failure::USAGE,
    failure::CONFIG,
    failure::NO_PERMISSION,
    failure::CANNOT_CREATE,
    failure::IO,
    failure::DATA,
];

/// Looks at what the daemon needs, and says what to do.
#[derive(Args)]
#[command(
    after_help = "Exit codes: 0 everything needed is there; 69 a service is missing; 78 the configuration is wrong; \
                        77 no permission; 73 the state directory cannot be made; 74 the disk is full; 65 the journal is \
                        damaged or not one. Of several, the last named here wins. What is only advised leaves 0."
)]
pub(crate) struct CheckArgs {
    /// Print one JSON object a check
    #[arg(long)]
    json: bool,
}

/// How it stands with one thing.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize)]
#[serde(rename_all = "kebab-case")]
enum State {
    /// As it should be.
    Ok,
    /// The daemon works without, and something is better done about it.
    Advised,
    /// The daemon cannot work without.
    Needed,
}

impl State {
    const fn name(self) -> &'static str {
        match self {
            Self::Ok => "ok",
            Self::Advised => "advised",
            Self::Needed => "needed",
        }
    }
}

/// One thing that was looked at.
#[derive(PartialEq, Eq, Debug, Serialize)]
struct Finding {
    check: &'static str,
    state: State,
    found: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    todo: Option<String>,
    #[serde(skip)]
    code: u8,
}

fn ok(check: &'static str, found: impl Into<String>) -> Finding {
    Finding {
        check,
        state: State::Ok,
        found: found.into(),
        todo: None,
        code: 0,
    }
}

fn advised(check: &'static str, found: impl Into<String>, todo: impl Into<String>) -> Finding {
    Finding {
        state: State::Advised,
        todo: Some(todo.into()),
        ..ok(check, found)
    }
}

fn needed(check: &'static str, code: u8, found: impl Into<String>, todo: impl Into<String>) -> Finding {
    Finding {
        state: State::Needed,
        code,
        ..advised(check, found, todo)
    }
}

/// A failure whose sentence says what to do.
fn failed(check: &'static str, failure: &Failure) -> Finding {
    let (found, todo) = split(&failure.to_string());
    Finding {
        todo,
        ..needed(check, failure.code(), found, "")
    }
}

/// What happened, and what to do: our errors put a semicolon between the two.
fn split(sentence: &str) -> (String, Option<String>) {
    match sentence.split_once("; ") {
        Some((found, todo)) => (found.to_owned(), Some(todo.to_owned())),
        None => (sentence.to_owned(), None),
    }
}

pub(crate) fn run(here: &Everywhere, args: &CheckArgs) -> Outcome {
    let mut findings = Vec::new();
    let config = match here.config() {
        Ok(config) => {
            findings.push(ok(
                "configuration",
                match here.config_file() {
                    Some(file) => format!("{} is valid", file.display()),
                    None => "no file, every default holds".to_owned(),
                },
            ));
            config
        }
        Err(error) => {
            findings.push(failed("configuration", &error));
            Config::default()
        }
    };

    let state = here.state();
    let mut journal = None;
    match &state {
        Ok(state) => {
            findings.push(directory(state));
            findings.extend(disk(state));
            let (finding, opened) = look_into(state);
            findings.push(finding);
            journal = opened;
        }
        Err(error) => findings.push(failed("state directory", error)),
    }
    let stated = match journal.as_ref().map(household) {
        Some(Ok(household)) => household,
        Some(Err(error)) => {
            findings.push(failed("journal", &error));
            Household::default()
        }
        None => Household::default(),
    };
    findings.push(time_zone(&config, journal.as_ref(), &stated));

    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .map_err(|e| Failure::new(failure::INTERNAL, format!("cannot start: {e}")))?;
    runtime.block_on(bluetooth(&config, &stated, &mut findings));
    findings.extend(blocked(Path::new("/sys")));
    if let Ok(state) = &state {
        findings.push(daemon(state));
    }

    let mut out = io::BufWriter::new(io::stdout().lock());
    for finding in &findings {
        if args.json {
            serde_json::to_writer(&mut out, finding).map_err(io::Error::from)?;
            writeln!(out)?;
        } else {
            print(&mut out, finding)?;
        }
    }
    let missing = findings
        .iter()
        .filter(|finding| finding.state == State::Needed)
        .count();
    if !args.json {
        let last = match missing {
            0 => "Everything needed is there.".to_owned(),
            1 => "One thing is needed before the daemon can work.".to_owned(),
            more => format!("{more} things are needed before the daemon can work."),
        };
        writeln!(out, "\n{last}")?;
    }
    out.flush()?;
    Ok(ExitCode::from(worst(&findings)))
}

fn print(out: &mut impl Write, finding: &Finding) -> io::Result<()> {
    writeln!(
        out,
        "{:<8} {:<16} {}",
        finding.state.name(),
        finding.check,
        finding.found
    )?;
    match &finding.todo {
        Some(todo) => writeln!(out, "{:25} → {todo}", ""),
        None => Ok(()),
    }
}

fn worst(findings: &[Finding]) -> u8 {
    let rank = |code: u8| {
        WORSE
            .iter()
            .position(|other| *other == code)
            .unwrap_or(WORSE.len())
    };
    findings
        .iter()
        .map(|finding| finding.code)
        .max_by_key(|code| rank(*code))
        .unwrap_or(0)
}

/// The directory of the journal: who may write there, and who may look.
fn directory(state: &Path) -> Finding {
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
        Err(error) => return cannot(code_of(&error), &error),
    };
    if let Err(error) = rustix::fs::access(there, Access::WRITE_OK | Access::EXEC_OK) {
        let error = io::Error::from(error);
        return cannot(
            code_of(&error),
            &format!("this user cannot write in {}: {error}", there.display()),
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

fn disk(state: &Path) -> Option<Finding> {
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
fn look_into(state: &Path) -> (Finding, Option<Journal>) {
    const CHECK: &str = "journal";
    let wrong = |error: JournalError| failed(CHECK, &Failure::from(error));
    let journal = match Journal::open_existing(state) {
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
            format!(
                "keep a copy of the file, then see `sqlite3 {} .recover`",
                journal.path().display()
            ),
        ),
        Err(error) => wrong(error),
    };
    (finding, Some(journal))
}

fn time_zone(config: &Config, journal: Option<&Journal>, stated: &Household) -> Finding {
    const CHECK: &str = "time zone";
    let last = stated.zones.last().map(|(_, name)| name.as_str());
    if let Some(journal) = journal
        && let Err(error) = zone(config, journal)
    {
        return failed(CHECK, &error);
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

/// Everything that is asked over D-Bus.
async fn bluetooth(config: &Config, stated: &Household, findings: &mut Vec<Finding>) {
    let bus = match Bus::connect() {
        Ok(bus) => bus,
        Err(error) => {
            findings.push(needed(
                "system bus",
                failure::UNAVAILABLE,
                error.to_string(),
                "start it with `systemctl start dbus`; in a container, mount /run/dbus/system_bus_socket",
            ));
            findings.push(clock(None));
            return;
        }
    };
    findings.push(ok("system bus", "D-Bus answers"));
    findings.push(clock(bus.clock_synchronized().await));
    match bus.bluez_runs().await {
        Ok(true) => findings.push(ok("bluetoothd", "runs")),
        Ok(false) => findings.push(needed(
            "bluetoothd",
            failure::UNAVAILABLE,
            "does not run",
            "`systemctl enable --now bluetooth`; where there is no such unit, `apt install bluez` first",
        )),
        Err(error) => findings.push(needed(
            "bluetoothd",
            failure::UNAVAILABLE,
            error.to_string(),
            "see `systemctl status dbus`",
        )),
    }
    findings.push(bluez_version(version_printed()));
    if findings
        .iter()
        .any(|f| f.check == "bluetoothd" && f.state == State::Needed)
    {
        return;
    }
    match bus.objects().await {
        Ok(objects) => {
            adapters(config, &objects, findings);
            monitors(config, stated, &objects, findings);
        }
        Err(error) if error.is_denied() => findings.push(needed(
            "adapter",
            failure::NO_PERMISSION,
            error.to_string(),
            "add the user that runs the daemon to the group `bluetooth`",
        )),
        Err(error) => findings.push(needed(
            "adapter",
            failure::UNAVAILABLE,
            error.to_string(),
            "`systemctl restart bluetooth`",
        )),
    }
}

fn clock(synchronized: Option<bool>) -> Finding {
    const CHECK: &str = "clock";
    match synchronized {
        Some(true) => ok(CHECK, "synchronised"),
        Some(false) => advised(
            CHECK,
            "not synchronised: readings would get this machine's error",
            "`timedatectl set-ntp true`",
        ),
        None => advised(
            CHECK,
            "nobody here says whether it is synchronised",
            "see `timedatectl` or `chronyc tracking`",
        ),
    }
}

/// `bluetoothctl: 5.66`, or `5.66`.
fn version_printed() -> Option<(u32, u32)> {
    ["bluetoothctl"].iter().chain(&BLUETOOTHD).find_map(|program| {
        let said = said(program)?;
        let (major, minor) = said.split_whitespace().last()?.split_once('.')?;
        Some((major.parse().ok()?, minor.parse().ok()?))
    })
}

/// What a program says when asked for its version, unless it takes too long.
fn said(program: &str) -> Option<String> {
    let mut child = Command::new(program)
        .arg("--version")
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .ok()?;
    let begun = Instant::now();
    while child.try_wait().ok()?.is_none() {
        if begun.elapsed() > VERSION_LIMIT {
            let _ = child.kill();
            let _ = child.wait();
            return None;
        }
        std::thread::sleep(VERSION_LOOK);
    }
    let output = child.wait_with_output().ok()?;
    String::from_utf8(output.stdout).ok()
}

fn bluez_version(printed: Option<(u32, u32)>) -> Finding {
    const CHECK: &str = "BlueZ";
    let (major, minor) = BLUEZ_ADVISED;
    match printed {
        Some(version) if version >= BLUEZ_ADVISED => ok(CHECK, format!("{}.{}", version.0, version.1)),
        Some(version) => advised(
            CHECK,
            format!("{}.{} is older than {major}.{minor}", version.0, version.1),
            "use a newer release of your distribution; older ones were not tried with this program",
        ),
        None => advised(
            CHECK,
            "its version cannot be told",
            format!("see that it is {major}.{minor} or newer; `bluetoothctl --version` says it"),
        ),
    }
}

fn adapters(config: &Config, objects: &Objects, findings: &mut Vec<Finding>) {
    const CHECK: &str = "adapter";
    let wanted = config.radio.adapter.as_ref();
    let Some(chosen) = objects.choose(wanted) else {
        let (found, todo) = match wanted {
            Some(address) => (
                format!("{address}, which the configuration names, is not there"),
                "plug it in, or correct `radio.adapter`; `bluetoothctl list` names those there are",
            ),
            None => (
                "BlueZ shows none".to_owned(),
                "plug one in; `dmesg | grep -i bluetooth` says why the kernel does not like it",
            ),
        };
        findings.push(needed(CHECK, failure::UNAVAILABLE, found, todo));
        return;
    };
    let name = chosen.path.rsplit('/').next().unwrap_or_default().to_owned();
    findings.push(if chosen.powered {
        ok(CHECK, format!("{} ({name}), switched on", chosen.address))
    } else {
        advised(
            CHECK,
            format!("{} ({name}), switched off", chosen.address),
            "the daemon switches it on when it starts; `bluetoothctl power on` does it now",
        )
    });
    let others: Vec<String> = objects
        .adapters
        .iter()
        .filter(|adapter| adapter.path != chosen.path)
        .map(|Adapter { address, .. }| address.to_string())
        .collect();
    if wanted.is_none() && !others.is_empty() {
        findings.push(advised(
            CHECK,
            format!("there is also {}", others.join(", ")),
            format!(
                "name the one to use in the configuration: `radio.adapter = \"{}\"`",
                chosen.address
            ),
        ));
    }
    findings.extend(usb_power(Path::new("/sys"), &name));
}

/// An adapter that the kernel puts to sleep misses advertisements.
fn usb_power(sys: &Path, adapter: &str) -> Option<Finding> {
    const CHECK: &str = "USB power";
    let device = sys
        .join("class/bluetooth")
        .join(adapter)
        .join("device")
        .canonicalize()
        .ok()?;
    let usb = device.ancestors().find(|above| above.join("idVendor").exists())?;
    let control = usb.join("power/control");
    let set = fs::read_to_string(&control).ok()?;
    Some(match set.trim() {
        "auto" => advised(
            CHECK,
            "the kernel may put the adapter to sleep (power/control is auto)",
            format!(
                "as root: `echo on > {}`; a udev rule makes it last",
                control.display()
            ),
        ),
        other => ok(CHECK, format!("power/control is {other}")),
    })
}

/// Bluetooth radios that are blocked, by a key or by a switch.
fn blocked(sys: &Path) -> Vec<Finding> {
    const CHECK: &str = "rfkill";
    let read = |file: PathBuf| fs::read_to_string(file).unwrap_or_default().trim().to_owned();
    let mut switches: Vec<PathBuf> = fs::read_dir(sys.join("class/rfkill"))
        .into_iter()
        .flatten()
        .filter_map(|entry| Some(entry.ok()?.path()))
        .filter(|switch| read(switch.join("type")) == "bluetooth")
        .collect();
    switches.sort();
    switches
        .into_iter()
        .map(|switch| {
            let name = read(switch.join("name"));
            let is_set = |file| read(switch.join(file)) == "1";
            if is_set("hard") {
                let todo =
                    "turn the machine's wireless switch on, or look for Bluetooth in its firmware settings";
                needed(
                    CHECK,
                    failure::UNAVAILABLE,
                    format!("{name} is blocked by a switch"),
                    todo,
                )
            } else if is_set("soft") {
                let todo = "`rfkill unblock bluetooth`";
                needed(CHECK, failure::UNAVAILABLE, format!("{name} is blocked"), todo)
            } else {
                ok(CHECK, format!("{name} is not blocked"))
            }
        })
        .collect()
}

/// The bonds of those that are listened to.
fn monitors(config: &Config, stated: &Household, objects: &Objects, findings: &mut Vec<Finding>) {
    const CHECK: &str = "monitor";
    let adapter = objects.choose(config.radio.adapter.as_ref());
    let listened = stated
        .addresses
        .iter()
        .filter(|(_, id)| stated.monitors.get(id).is_some_and(|(_, forgotten)| !forgotten));
    let mut any = false;
    for (address, id) in listened {
        any = true;
        let device = adapter.and_then(|adapter| objects.device(&adapter.path, address));
        findings.push(match device {
            Some(device) if device.paired => ok(CHECK, format!("{id} ({address}) is paired")),
            Some(_) => advised(
                CHECK,
                format!("{id} ({address}) is known to BlueZ, without a bond"),
                format!(
                    "unless it cannot pair: start its pairing mode and `quietcuff monitors add {address}`"
                ),
            ),
            None => advised(
                CHECK,
                format!("{id} ({address}) is not known to BlueZ on this adapter"),
                format!("start its pairing mode and `quietcuff monitors add {address}`"),
            ),
        });
    }
    if !any {
        findings.push(advised(
            CHECK,
            "none is enrolled",
            "start its pairing mode, then `quietcuff monitors find`",
        ));
    }
}

fn daemon(state: &Path) -> Finding {
    const CHECK: &str = "daemon";
    const START: &str = "`quietcuff run`, or `systemctl enable --now quietcuff` where its unit is installed";
    match socket::ask(state, &Question::Status) {
        Ok(Some(status)) => {
            let problem = ["radio", "journal"]
                .iter()
                .find_map(|part| status.get(part)?.get("problem")?.as_str());
            match problem {
                None => ok(CHECK, "runs"),
                Some(problem) => {
                    let (found, todo) = split(problem);
                    let todo = todo.unwrap_or_else(|| "`quietcuff status` says more".to_owned());
                    advised(CHECK, format!("runs, and says: {found}"), todo)
                }
            }
        }
        Ok(None) => advised(CHECK, "does not run", START),
        Err(error) if error.kind() == io::ErrorKind::NotADirectory => advised(CHECK, "does not run", START),
        Err(error) if error.kind() == io::ErrorKind::PermissionDenied => advised(
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_worst_finding_decides_and_advice_does_not() {
        let of = |codes: &[u8]| {
            let findings: Vec<Finding> = codes.iter().map(|code| needed("x", *code, "", "")).collect();
            worst(&findings)
        };
        assert_eq!(worst(&[ok("x", ""), advised("x", "", "")]), 0);
        assert_eq!(of(&[69, 65, 78, 69]), 65);
        assert_eq!(of(&[69, 78]), 78);
        assert_eq!(of(&[77, 78, 69]), 77);
    }

    fn file(path: PathBuf, text: &str) {
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, text).unwrap();
    }

    /// A tree as the kernel's documentation describes it (Documentation/ABI/stable/sysfs-class-rfkill).
    #[test]
    fn a_blocked_radio_is_named_with_what_lifts_it() {
        let sys = tempfile::tempdir().unwrap();
        assert_eq!(blocked(sys.path()), []);
        for (n, (kind, name, soft, hard)) in [
            ("wlan", "phy0", "1", "0"),
            ("bluetooth", "hci0", "1", "0"),
            ("bluetooth", "laptop", "1", "1"),
            ("bluetooth", "hci1", "0", "0"),
        ]
        .into_iter()
        .enumerate()
        {
            let switch = sys.path().join(format!("class/rfkill/rfkill{n}"));
            for (what, value) in [("type", kind), ("name", name), ("soft", soft), ("hard", hard)] {
                file(switch.join(what), &format!("{value}\n"));
            }
        }
        let found = blocked(sys.path());
        assert_eq!(found.len(), 3, "{found:?}");
        assert_eq!(found[0].todo.as_deref(), Some("`rfkill unblock bluetooth`"));
        assert!(
            found[1].found.contains("laptop is blocked by a switch"),
            "{found:?}"
        );
        assert_eq!(
            (found[0].code, found[1].code, found[2].state),
            (69, 69, State::Ok)
        );
    }

    #[test]
    fn an_adapter_that_may_sleep_is_noticed() {
        let sys = tempfile::tempdir().unwrap();
        let usb = sys.path().join("devices/pci0/usb1/1-4");
        file(usb.join("idVendor"), "1d6b\n");
        file(usb.join("power/control"), "auto\n");
        fs::create_dir_all(usb.join("1-4:1.0")).unwrap();
        fs::create_dir_all(sys.path().join("class/bluetooth/hci0")).unwrap();
        std::os::unix::fs::symlink(
            usb.join("1-4:1.0"),
            sys.path().join("class/bluetooth/hci0/device"),
        )
        .unwrap();
        let found = usb_power(sys.path(), "hci0").unwrap();
        assert_eq!(found.state, State::Advised);
        assert!(found.todo.unwrap().contains("1-4/power/control"));
        file(usb.join("power/control"), "on\n");
        assert_eq!(usb_power(sys.path(), "hci0").unwrap().state, State::Ok);
        assert_eq!(usb_power(sys.path(), "hci1"), None);
    }

    #[test]
    fn an_old_bluez_is_advised_against() {
        assert_eq!(bluez_version(Some((5, 63))).state, State::Ok);
        assert_eq!(bluez_version(Some((6, 0))).state, State::Ok);
        assert_eq!(bluez_version(Some((5, 9))).state, State::Advised);
        assert_eq!(bluez_version(None).state, State::Advised);
    }
}
