//! `quietcuff backup`, `restore`, `recover`: the journal's way out of a machine, and back.

use super::failure::Outcome;
use super::output::{STANDARD_OUTPUT, json_line};
use super::owner;
use super::place::Everywhere;
use crate::journal::{self, Contents, Journal, JournalError, Ledger, Rows};
use crate::whole::shown;
use clap::Args;
use jiff::Timestamp;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

/// Copies the journal while it is in use. The copy is looked through before it takes its name: there is never half a
/// file.
#[derive(Args)]
pub(crate) struct BackupArgs {
    /// The file to write, for its owner only; one that is there is replaced
    #[arg(long, value_name = "FILE")]
    output: PathBuf,
    /// Print one JSON object
    #[arg(long)]
    json: bool,
}

/// Puts a backup in place where there is no journal. Root does it as the user whose directory it is.
#[derive(Args)]
pub(crate) struct RestoreArgs {
    /// A file that `quietcuff backup --output FILE` wrote
    file: PathBuf,
    /// Print one JSON object
    #[arg(long)]
    json: bool,
}

/// Makes a new journal of what can still be read of a damaged one, which is kept beside it. Root does it as the user whose
/// directory it is.
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
    // Of one meaning everywhere; a file of that name can be had as `./-`.
    if args.output == Path::new(STANDARD_OUTPUT) {
        return Err(JournalError::NoFile {
            path: PathBuf::from("standard output"),
        }
        .into());
    }
    let contents = Journal::read_as_it_is(&here.state()?)?.backup(&args.output)?;
    say("kept in", &args.output, &contents, args.json)
}

pub(crate) fn restore(here: &Everywhere, args: &RestoreArgs) -> Outcome {
    let state = here.state()?;
    let again = if args.json {
        &["restore", "--json"][..]
    } else {
        &["restore"]
    };
    if let Some(done) = owner::instead(&state, again, Some(&args.file))? {
        return Ok(done);
    }
    let contents = journal::restore(&args.file, &state)?;
    say(
        "restored to",
        &state.join(journal::FILE_NAME),
        &contents,
        args.json,
    )
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

fn say_ledgers(out: &mut impl Write, ledgers: &[Ledger]) -> std::io::Result<()> {
    let sum = |of: fn(&Ledger) -> u64| ledgers.iter().map(of).sum::<u64>();
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

fn say(done: &str, path: &Path, contents: &Contents, json: bool) -> Outcome {
    let mut out = std::io::stdout().lock();
    if json {
        json_line(&mut out, contents)?;
        return Ok(ExitCode::SUCCESS);
    }
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
    writeln!(out, " {done} {}", shown(path))?;
    Ok(ExitCode::SUCCESS)
}
