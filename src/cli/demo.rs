//! `quietcuff demo`: an invented household lives a week in seconds, on screen as it happens.
//!
//! Its frames take the way of every other source: kept in a journal, settled, judged. Nothing on the screen comes from
//! the simulation directly, so that what is shown is what the program makes of bytes.

mod life;
mod play;
mod screen;

use super::failure;
use super::failure::internal;
use super::failure::{Failure, Outcome};
use super::place::Everywhere;
use crate::household::{self, Zones};
use crate::journal::{FILE_NAME, Journal};
use crate::monitoring::protocols::{DEFAULT, Protocols};
use crate::radio::simulated::Household;
use crate::whole::reason;
use clap::Args;
use jiff::civil::Date;
use jiff::{SignedDuration, Timestamp};
use life::{LATEST, Life, begun};
use play::Played;
use screen::Screen;
use std::fs::DirBuilder;
use std::io::{self, IsTerminal};
use std::net::SocketAddr;
use std::os::unix::fs::DirBuilderExt;
use std::path::PathBuf;
use std::process::ExitCode;
use std::time::Duration;

/// A quarter of a year. Longer lives show nothing new.
const DAYS_MAX: i64 = 92;
/// An hour on screen: nobody watches longer.
const SECONDS_MAX: i64 = 3_600;
/// How long the demonstration takes where somebody watches.
const SECONDS: u16 = 10;
/// Demonstrations that were not cleaned away; behind so many somebody should.
const TEMPORARY_MAX: u32 = 1_000;

/// How long ago the last session began: long enough for two people to have measured.
const LAST_BEGAN_MIN: i64 = 45;
/// Which days, and how fast.
#[derive(Args)]
pub(crate) struct DemoArgs {
    /// Which of the possible lives; the same number gives the same readings
    #[arg(long, value_name = "N", default_value_t = Household::DEMONSTRATION_SEED)]
    seed: u64,
    /// How many days they live
    #[arg(long, value_name = "N", default_value_t = 7, value_parser = clap::value_parser!(u16).range(1..=DAYS_MAX))]
    days: u16,
    /// How long it takes on screen [default: 10 on a terminal, else as long as the journal needs]
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(0..=SECONDS_MAX))]
    seconds: Option<u16>,
    /// As fast as possible, the same as --seconds 0
    #[arg(long, conflicts_with = "seconds")]
    fast: bool,
    /// The last day, by the clock of Europe/Oslo [default: it ends now, by this machine's clock]
    #[arg(long, value_name = "DATE", value_parser = super::days::day, conflicts_with = "serve")]
    until: Option<Date>,
    /// Open the page on a household whose session is due, and play that session: five minutes of rest, two readings
    #[arg(long, conflicts_with_all = ["seconds", "fast"])]
    serve: bool,
    /// Where the page listens; 0.0.0.0:8417 for a telephone in the same network
    #[arg(
        long,
        value_name = "ADDRESS:PORT",
        requires = "serve",
        default_value = "127.0.0.1:0"
    )]
    listen: SocketAddr,
    /// The rest is so many times shorter; the minute between two readings stays, or the second would not count
    #[arg(long, value_name = "N", requires = "serve", default_value_t = 1, value_parser = clap::value_parser!(u16).range(1..=60))]
    faster: u16,
}

pub(crate) fn run(here: &Everywhere, args: &DemoArgs) -> Outcome {
    let state = place(here)?;
    let now = Timestamp::now();
    if args.serve {
        let played = Played {
            seed: args.seed,
            days: args.days,
            listen: args.listen,
            faster: args.faster,
        };
        return play::run(here, &played, &state, now);
    }
    let life = match args.until {
        Some(last) => Life::until(last, args.days)?,
        None => {
            let began = now - SignedDuration::from_mins(LAST_BEGAN_MIN);
            Life::around((began, began), LATEST, args.days)?.come_to(now)
        }
    };
    let mut journal = Journal::open(&state)?;
    let protocols = Protocols::built_in().map_err(internal)?;
    let protocol = protocols.get(DEFAULT).map_err(internal)?;
    let lived = life.live(args.seed, args.days);
    journal.state(begun(&lived), &life.statements)?;

    let stdout = io::stdout().lock();
    let terminal = stdout.is_terminal();
    let seconds = match args.seconds {
        Some(seconds) => seconds,
        None if terminal && !args.fast => SECONDS,
        None => 0,
    };
    let readings = u32::try_from(lived.truth.len()).unwrap_or(u32::MAX).max(1);
    let look = screen::ScreenLook {
        bold: terminal && std::env::var_os("NO_COLOR").is_none_or(|value| value.is_empty()),
        pause: Duration::from_secs(seconds.into()) / readings,
    };
    let stated = household::Household::after(&life.statements);
    let mut screen = Screen::new(stdout, look, stated, Zones::only(life.zone.clone()), protocol);
    screen.opening(args.days, &life.zone_name)?;
    for connection in lived
        .frames
        .chunk_by(|a, b| (&a.monitor, a.connection) == (&b.monitor, b.connection))
    {
        journal.append(connection)?;
        journal.settle()?;
        screen.connection(&mut journal, connection)?;
    }
    screen.summaries(&mut journal, life.first, args.days)?;
    screen.closing(&mut journal)?;
    Ok(ExitCode::SUCCESS)
}

/// A directory that holds no journal yet: nothing invented may ever stand among a household's own readings.
fn place(here: &Everywhere) -> Result<PathBuf, Failure> {
    if let Some(named) = &here.state {
        let journal = named.join(FILE_NAME);
        if journal.symlink_metadata().is_ok() {
            return Err(Failure::new(
                failure::CANNOT_CREATE,
                format!(
                    "there is a journal at {} already, and a demonstration never writes into one; name a directory \
                     without one, or leave out `--state`",
                    journal.display()
                ),
            ));
        }
        return Ok(named.clone());
    }
    let temporary = std::env::temp_dir();
    let cannot = |why: &dyn std::fmt::Display| {
        Failure::new(
            failure::CANNOT_CREATE,
            format!(
                "cannot make a directory for the demonstration in {}: {why}; name one with `--state DIR`",
                temporary.display()
            ),
        )
    };
    for n in 1..=TEMPORARY_MAX {
        let path = temporary.join(format!("quietcuff-demo-{n}"));
        // It fails where the name is taken, by whatever: the directory is ours alone.
        match DirBuilder::new().mode(0o700).create(&path) {
            Ok(()) => return Ok(path),
            Err(error) if error.kind() == io::ErrorKind::AlreadyExists => {}
            Err(error) => return Err(cannot(&reason(&error))),
        }
    }
    Err(cannot(&format!("{TEMPORARY_MAX} are there already")))
}
