//! `backup`, `restore`, `recover`: the journal's way out of a machine, and back.

use super::failure::{self, Failure, Outcome};
use super::output::{STANDARD_OUTPUT, json_line};
use super::owner;
use super::place::Everywhere;
use super::progress::ProgressLine;
use crate::journal::{
    self, Brought, Chain, Contents, Journal, JournalError, Recipients, RecoveredLedger, Rows,
};
use crate::secret::Secret;
use crate::whole::shown;
use clap::{Args, Subcommand};
use jiff::Timestamp;
use std::io::{Cursor, Read, Write};
use std::path::{Path, PathBuf};
use std::process::ExitCode;

/// Copies the journal while it is in use. The copy is read back whole before it takes its name: there is never half a
/// file.
#[derive(Args)]
#[command(args_conflicts_with_subcommands = true)]
pub(crate) struct BackupArgs {
    #[command(subcommand)]
    command: Option<BackupCommand>,
    /// A directory in which backups are kept by the rule of the configuration, or a file [default: `to` under [backup]]
    #[arg(long, value_name = "DIR|FILE", conflicts_with = "output")]
    to: Option<PathBuf>,
    /// The file to write, for its owner only; one that is there is replaced
    #[arg(long, value_name = "FILE")]
    output: Option<PathBuf>,
    /// A public key of age; whoever has its private key opens the backup [default: `recipients` under [backup]]
    #[arg(long = "recipient", value_name = "KEY", conflicts_with = "plain")]
    recipients: Vec<String>,
    /// Do not encrypt, whatever the configuration says
    #[arg(long)]
    plain: bool,
    /// Do nothing where the configuration names no directory, as the timer asks
    #[arg(long, conflicts_with_all = ["to", "output"])]
    scheduled: bool,
    /// Print one JSON object
    #[arg(long)]
    json: bool,
}

#[derive(Subcommand)]
enum BackupCommand {
    /// Make a pair of keys: print the private one this once, for the drawer, and say where the public one goes
    Key,
}

/// Puts a backup in place where there is no journal. Keys to the page that come with it open nothing until they are
/// confirmed. Root does it as the user whose directory it is.
#[derive(Args)]
pub(crate) struct RestoreArgs {
    /// A file that `quietcuff backup --output FILE` wrote, or `--to`
    file: PathBuf,
    /// A file with the private key of an encrypted backup; - for standard input
    #[arg(long, value_name = "FILE")]
    identity: Option<PathBuf>,
    /// Print one JSON object
    #[arg(long)]
    json: bool,
}

/// Makes a new journal of what can still be read of a damaged one, which is kept beside it. Root does it as the user
/// whose directory it is.
#[derive(Args)]
pub(crate) struct RecoverArgs {
    /// Put the new journal in place even where not one frame, or not one statement, could be read of the damaged one
    #[arg(long)]
    accept_empty: bool,
    /// Print one JSON object
    #[arg(long)]
    json: bool,
}

pub(crate) fn backup(here: &Everywhere, args: &BackupArgs) -> Outcome {
    if let Some(BackupCommand::Key) = args.command {
        return new_key();
    }
    let rule = here.config()?.backup;
    let keys = match (args.plain, args.recipients.as_slice()) {
        (true, _) => &[][..],
        (false, []) => &rule.recipients,
        (false, named) => named,
    };
    let recipients = Recipients::read(keys).map_err(|why| usage(&why))?;
    let named = args.to.as_ref().or(args.output.as_ref());
    let (to, by_rule) = match (named, &rule.to) {
        (Some(to), _) => (to, args.to.is_some() && (to.is_dir() || ends_as_directory(to))),
        (None, Some(to)) => (to, true),
        (None, None) if args.scheduled => {
            tracing::info!("no backup is made: the configuration names no directory (`to` under [backup])");
            return Ok(ExitCode::SUCCESS);
        }
        (None, None) => {
            return Err(usage(
                "where to? Name a directory or a file with `--to`, or a directory with `to` under [backup] of the \
                 configuration",
            ));
        }
    };
    // Of one meaning everywhere; a file of that name can be had as `./-`.
    if to == Path::new(STANDARD_OUTPUT) {
        return Err(JournalError::NoFile {
            path: PathBuf::from("standard output"),
        }
        .into());
    }
    let state = here.state()?;
    let journal = Journal::read_as_it_is(&state)?;
    let progress = ProgressLine::start("copying the journal, and reading the copy back", "");
    if !by_rule {
        let copied = journal.backup(to, &recipients)?;
        drop(progress);
        if args.json {
            json_line(&mut std::io::stdout().lock(), &copied)?;
        } else {
            say("kept in", to, &copied.contents, how(&recipients))?;
        }
        return as_written(&copied.chain);
    }
    let now = Timestamp::now();
    let rotated = journal.backup_by_rule(to, &rule, &recipients, now)?;
    drop(progress);
    drop(journal);
    let good = rotated.copied.chain.holds();
    if good && !Journal::note_backup(&state, now, &rotated)? {
        eprintln!(
            "quietcuff: the backup is good; that it was made cannot be written into the journal, so `check` does not know \
             of it"
        );
    }
    if args.json {
        json_line(&mut std::io::stdout().lock(), &rotated)?;
        return as_written(&rotated.copied.chain);
    }
    say(
        "kept in",
        &rotated.file,
        &rotated.copied.contents,
        how(&recipients),
    )?;
    let gone = rotated.removed.len();
    println!("backups there now: {}; removed by the rule: {gone}", rotated.kept);
    as_written(&rotated.copied.chain)
}

/// Whether what was copied is what was once written; the backup is there in either case.
fn as_written(chain: &Chain) -> Outcome {
    if chain.holds() {
        return Ok(ExitCode::SUCCESS);
    }
    Err(Failure::new(
        failure::DATA,
        format!(
            "the backup is there, of a journal that is not what was written: {}. Older backups were left alone, and this \
             one does not count as good. Restore one of them elsewhere (`quietcuff restore FILE` with `--state DIR`) and look \
             at those rows in both with `quietcuff frames`; `quietcuff recover` takes the journal as it is, and begins \
             the digests anew",
            chain.named()
        ),
    ))
}

/// `week/` means a directory, whether there is one or not.
fn ends_as_directory(path: &Path) -> bool {
    path.as_os_str().as_encoded_bytes().ends_with(b"/")
}

fn how(recipients: &Recipients) -> &'static str {
    if recipients.is_nobody() {
        "plain: whoever has the file can read it"
    } else {
        "encrypted: only whoever has the private key can read it"
    }
}

fn new_key() -> Outcome {
    let (private, public) = journal::new_key();
    let mut out = std::io::stdout().lock();
    writeln!(out, "# opens the backups of quietcuff; public key: {public}")?;
    writeln!(out, "{private}")?;
    eprintln!(
        "This private key is shown this once and kept nowhere: print it, and put it in a drawer. Without it nobody opens \
         the backups, you neither. Then write into the configuration:\n\n[backup]\nrecipients = [\"{public}\"]"
    );
    Ok(ExitCode::SUCCESS)
}

fn usage(why: &str) -> Failure {
    Failure::new(failure::USAGE, why)
}

pub(crate) fn restore(here: &Everywhere, args: &RestoreArgs) -> Outcome {
    let state = here.state()?;
    let identity = args.identity.as_ref().map(|file| {
        if file == Path::new(STANDARD_OUTPUT) {
            return file.clone();
        }
        std::path::absolute(file).unwrap_or_else(|_| file.clone())
    });
    let identity = identity.as_ref().map(|file| file.to_string_lossy());
    let mut again = vec!["restore"];
    again.extend(args.json.then_some("--json"));
    again.extend(identity.iter().flat_map(|file| ["--identity", file.as_ref()]));
    if let Some(done) = owner::instead(&state, &again, Some(&args.file))? {
        return Ok(done);
    }
    let mut keys: Option<Box<dyn Read>> = match &args.identity {
        None => None,
        Some(file) if file == Path::new(STANDARD_OUTPUT) => Some(Box::new(std::io::stdin())),
        Some(file) => {
            let secret = Secret::read("the private key", file)
                .map_err(|e| Failure::new(e.exit_code(), e.to_string()))?;
            Some(Box::new(Cursor::new(secret.expose().to_owned())))
        }
    };
    let keys = keys.as_mut().map(|keys| &mut **keys as &mut dyn Read);
    let restored = journal::restore(&args.file, &state, keys, Timestamp::now())?;
    if args.json {
        json_line(&mut std::io::stdout().lock(), &restored)?;
        return Ok(ExitCode::SUCCESS);
    }
    let file = state.join(journal::FILE_NAME);
    say("restored to", &file, &restored.contents, "")?;
    brought(&restored.brought)?;
    if !restored.chain.holds() {
        println!(
            "the backup is not what was written: {}; `quietcuff recover` takes it as it is, and begins the digests anew",
            restored.chain.named()
        );
    }
    Ok(ExitCode::SUCCESS)
}

/// What came back beside the record, and what to do about it.
fn brought(brought: &Brought) -> std::io::Result<()> {
    let mut out = std::io::stdout().lock();
    if !brought.keys.is_empty() {
        writeln!(
            out,
            "keys to the page: {}; all are closed. `quietcuff keys list` shows whose they are, `quietcuff keys confirm ID` \
             opens one again",
            brought.keys.join(", ")
        )?;
    }
    if !brought.listeners.is_empty() {
        writeln!(
            out,
            "listeners: {}; nothing is taken of them. Put machine.key, by which they know this record, back beside the journal \
             first; `quietcuff listeners list` shows where they stand, `quietcuff listeners confirm ID` lets one hand on again",
            brought.listeners.join(", ")
        )?;
    }
    if brought.sessions > 0 {
        writeln!(
            out,
            "sessions of the page: {}; all are ended, each screen asks for its key again",
            brought.sessions
        )?;
    }
    for (route, waiting) in &brought.routes {
        writeln!(
            out,
            "route {route:?} comes back with {waiting} messages that wait; what it was told after the backup is not known"
        )?;
    }
    for (clinic, resources) in &brought.deliveries {
        writeln!(
            out,
            "deliveries: {resources} resources at {clinic}; what was sent after the backup may be sent again, under the \
             same names"
        )?;
    }
    Ok(())
}

pub(crate) fn recover(here: &Everywhere, args: &RecoverArgs) -> Outcome {
    let state = here.state()?;
    let mut again = vec!["recover"];
    again.extend(args.json.then_some("--json"));
    again.extend(args.accept_empty.then_some("--accept-empty"));
    if let Some(done) = owner::instead(&state, &again, None)? {
        return Ok(done);
    }
    let named = Timestamp::now().strftime("%Y%m%dT%H%M%SZ").to_string();
    let recovered = journal::recover(&state, &named, args.accept_empty)?;
    let mut out = std::io::stdout().lock();
    match &recovered {
        _ if args.json => json_line(&mut out, &serde_json::json!({ "recovered": recovered }))?,
        None => writeln!(
            out,
            "nothing is wrong with the journal in {}; it was left as it is",
            state.display()
        )?,
        Some(recovered) => {
            for (what, rows) in [
                ("frames", recovered.frames),
                ("statements", recovered.statements),
                ("clock samples", recovered.clock_samples),
            ] {
                writeln!(out, "{:>8} {what} recovered, {}", rows.recovered, lost(rows))?;
            }
            say_ledgers(&mut out, &recovered.ledgers)?;
            let differs = &recovered.differs;
            if !differs.holds() {
                writeln!(
                    out,
                    "differs from what was written, and was taken over as far as it is there: {}",
                    differs.named()
                )?;
            }
            writeln!(out, "the digests of what was written begin anew")?;
            writeln!(
                out,
                "the damaged file is kept as {}",
                recovered.original.display()
            )?;
        }
    }
    Ok(ExitCode::SUCCESS)
}

fn lost(rows: Rows) -> String {
    match rows {
        Rows {
            lost,
            at_least: false,
            ..
        } => format!("{lost} lost"),
        Rows { lost: 0, .. } => "nobody knows how many lost".to_owned(),
        Rows { lost, .. } => format!("{lost} lost at least"),
    }
}

fn say_ledgers(out: &mut impl Write, ledgers: &[RecoveredLedger]) -> std::io::Result<()> {
    let sum = |of: fn(&RecoveredLedger) -> u64| ledgers.iter().map(of).sum::<u64>();
    let (lost, gaps) = (sum(|ledger| ledger.lost), sum(|ledger| ledger.gaps));
    write!(
        out,
        "{:>8} rows of what was told, sent and allowed recovered, {lost} lost",
        sum(|ledger| ledger.recovered)
    )?;
    if gaps > 0 {
        let gaps = match gaps {
            1 => "one place".to_owned(),
            more => format!("{more} places"),
        };
        write!(out, ", and those in {gaps} that cannot be read")?;
    }
    writeln!(out)?;
    if lost + gaps == 0 {
        return Ok(());
    }
    // By the table, in the order of what it costs people.
    for (tables, cost) in [
        (
            &["page_key", "page_session"][..],
            "screens may have to be opened anew (`quietcuff keys list` shows the keys that are left)",
        ),
        (&["alert", "watched"][..], "a reminder may come a second time"),
        (
            &["delivery", "clinic"][..],
            "the clinic's server may be sent again, under the same names, what it has",
        ),
        (
            &["attribute"][..],
            "the second ear hears a monitor again once it has connected",
        ),
    ] {
        if ledgers
            .iter()
            .any(|ledger| tables.contains(&ledger.table) && ledger.lost + ledger.gaps > 0)
        {
            writeln!(out, "         {cost}")?;
        }
    }
    Ok(())
}

fn say(done: &str, path: &Path, contents: &Contents, how: &str) -> std::io::Result<()> {
    let mut out = std::io::stdout().lock();
    let day = |us: Option<i64>| us.and_then(|us| Timestamp::from_microsecond(us).ok());
    write!(
        out,
        "{} frames and {} statements",
        contents.frames, contents.statements
    )?;
    if let (Some(first), Some(last)) = (day(contents.first_received_us), day(contents.last_received_us)) {
        write!(
            out,
            ", received from {} to {},",
            first.strftime("%F"),
            last.strftime("%F")
        )?;
    }
    write!(out, " {done} {}", shown(path))?;
    if !how.is_empty() {
        write!(out, ", {how}")?;
    }
    writeln!(out)
}
