//! Where a command works: the state directory, the configuration, the household's zone, its monitors.

use super::failure::{self, Failure};
use crate::config::Config;
use crate::edge::system_zone;
use crate::household::{Household, Statement, UnknownZone, Zones};
use crate::journal::Journal;
use crate::monitoring::protocol::PROTOCOL_BYTES_MAX;
use crate::monitoring::protocols::{CLINIC, Protocols};
use crate::monitoring::stated::Stated;
use crate::words::{Language, Words};
use clap::Args;
use serde::{Deserialize, Serialize};
use std::env;
use std::ffi::OsStr;
use std::os::unix::ffi::OsStrExt;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Options that every command takes.
#[derive(Args, Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[command(next_help_heading = "Options of every command")]
pub(crate) struct Everywhere {
    /// Directory that holds the journal [default: systemd's STATE_DIRECTORY, else the XDG state directory]
    #[arg(long, global = true, value_name = "DIR")]
    pub(super) state: Option<PathBuf>,
    /// Configuration file [default: quietcuff.toml in the XDG configuration directory or /etc/quietcuff]
    #[arg(long, global = true, value_name = "FILE")]
    pub(super) config: Option<PathBuf>,
    /// Log more; twice for everything
    #[arg(short, long, global = true, action = clap::ArgAction::Count)]
    pub(super) verbose: u8,
    /// Log as JSON, one object a line
    #[arg(long, global = true)]
    pub(super) log_json: bool,
}

/// In which language a person reads what a command says; what programs read is the same in every one.
#[derive(Args)]
pub(crate) struct Reader {
    /// In which language, such as hi [default: the household's, which the configuration says]
    #[arg(long, global = true, value_name = "TAG", value_parser = language_of, conflicts_with = "json")]
    language: Option<Language>,
}

impl Everywhere {
    /// The directory that holds the journal.
    pub(crate) fn state(&self) -> Result<PathBuf, Failure> {
        if let Some(state) = &self.state {
            return Ok(state.clone());
        }
        // systemd separates several directories with colons; the unit asks for one. An empty one would be the folder
        // that somebody happens to stand in.
        if let Some(given) = env::var_os("STATE_DIRECTORY")
            && let Some(first) = given
                .as_bytes()
                .split(|octet| *octet == b':')
                .find(|one| !one.is_empty())
        {
            return Ok(PathBuf::from(OsStr::from_bytes(first)));
        }
        xdg("XDG_STATE_HOME", ".local/state").map(|base| base.join("quietcuff")).ok_or_else(|| {
            Failure::new(failure::USAGE, "no state directory: neither STATE_DIRECTORY nor HOME is set; name one with `--state DIR`")
        })
    }

    /// The configuration: the file that was named, else the first that exists, else every default.
    pub(crate) fn config(&self) -> Result<Config, Failure> {
        match self.config_file() {
            Some(file) => Ok(Config::read(&file)?),
            None => Ok(Config::default()),
        }
    }

    /// The language that was asked for; without one, the household's, which the configuration says.
    pub(crate) fn language(&self, asked: Option<Language>) -> Result<Language, Failure> {
        match asked {
            Some(language) => Ok(language),
            None => Ok(self.config()?.alerts.language),
        }
    }

    /// The words in the language of whoever reads.
    pub(crate) fn words(&self, reader: &Reader) -> Result<&'static Words, Failure> {
        Ok(self.language(reader.language)?.words())
    }

    /// A configuration that somebody names has to be there, also for a command that asks nothing of it: else a name
    /// that was mistyped would go unseen.
    pub(super) fn named_is_there(&self) -> Result<(), Failure> {
        match &self.config {
            Some(file) if !file.exists() || file.is_dir() => Ok(Config::read(file).map(drop)?),
            _ => Ok(()),
        }
    }

    /// Where the configuration is, if it is anywhere.
    pub(crate) fn config_file(&self) -> Option<PathBuf> {
        let places = xdg("XDG_CONFIG_HOME", ".config")
            .into_iter()
            .chain([PathBuf::from("/etc")])
            .map(|base| base.join("quietcuff/quietcuff.toml"));
        self.config
            .clone()
            .or_else(|| places.into_iter().find(|place| place.exists()))
    }

    /// What the household stated; where no zone was, the clock is the configuration's or the system's for all time.
    pub(crate) fn stated(&self, journal: &Journal) -> Result<Arc<Stated>, Failure> {
        journal.stated_in(self.config()?.time_zone.as_deref())
    }

    /// The household's clock.
    pub(crate) fn zones(&self, journal: &Journal) -> Result<Zones, Failure> {
        Ok(self.stated(journal)?.zones.clone())
    }

    /// The household's first zone, to be stated where none was: readings must not change when the machine moves.
    pub(crate) fn first_zone(&self, household: &Household) -> Result<Option<Statement>, Failure> {
        if !household.zones.is_empty() {
            return Ok(None);
        }
        let zone = match self.config()?.time_zone {
            Some(zone) => zone,
            None => system_zone(),
        };
        Ok(Some(Statement::Zone { zone, from: None }))
    }

    /// The journal for writing, made where there is none.
    pub(crate) fn journal(&self) -> Result<Journal, Failure> {
        Ok(Journal::open(&self.state()?)?)
    }

    /// The journal for writing, which has to be there.
    pub(crate) fn existing_journal(&self) -> Result<Journal, Failure> {
        Ok(Journal::open_existing(&self.state()?)?)
    }

    /// The journal, which has to be there, so that nothing can be written to it.
    pub(crate) fn read_journal(&self) -> Result<Journal, Failure> {
        Ok(Journal::read(&self.state()?)?)
    }

    /// States the protocol that the clinic wrote, where the configuration names a file that says something new. Then it
    /// says so in a sentence, for whoever made the new protocol hold.
    pub(crate) fn take_up_clinic_protocol(&self, journal: &mut Journal) -> Result<Option<String>, Failure> {
        let Some(path) = self.config()?.clinic_protocol else {
            return Ok(None);
        };
        let wrong = |why: &dyn std::fmt::Display| {
            Failure::new(
                failure::CONFIG,
                format!(
                    "`clinic-protocol` of the configuration, {}: {why}",
                    path.display()
                ),
            )
        };
        let octets = std::fs::metadata(&path).map_err(|e| wrong(&e))?.len();
        if octets > PROTOCOL_BYTES_MAX as u64 {
            return Err(wrong(&format_args!(
                "it has {octets} octets, a protocol has at most {PROTOCOL_BYTES_MAX}"
            )));
        }
        let text = std::fs::read_to_string(&path).map_err(|e| wrong(&e))?;
        Protocols::built_in()
            .and_then(|protocols| protocols.with_clinic(&text))
            .map_err(|e| wrong(&e))?;
        let before = journal.household()?.clinic_protocol;
        if before.as_ref() == Some(&text) {
            return Ok(None);
        }
        journal.state(jiff::Timestamp::now(), &[Statement::ClinicProtocol { text }])?;
        Ok(Some(format!(
            "the protocol `{CLINIC}` holds from now on as {} says it{}",
            path.display(),
            if before.is_some() {
                ", in place of an earlier one"
            } else {
                ""
            }
        )))
    }

    /// Takes up the clinic's protocol where somebody chooses it.
    pub(crate) fn choose_protocol(&self, journal: &mut Journal, name: &str) -> Result<(), Failure> {
        if name == CLINIC
            && let Some(said) = self.take_up_clinic_protocol(journal)?
        {
            eprintln!("quietcuff: {said}");
        }
        Ok(())
    }
}

/// The protocols that this household can choose from.
pub(crate) fn protocols(household: &Household) -> Result<Protocols, Failure> {
    Protocols::of(household).map_err(|e| Failure::new(failure::INTERNAL, e.to_string()))
}

fn xdg(variable: &str, below_home: &str) -> Option<PathBuf> {
    let absolute = |name| {
        env::var_os(name)
            .map(PathBuf::from)
            .filter(|path: &PathBuf| Path::is_absolute(path))
    };
    absolute(variable).or_else(|| absolute("HOME").map(|home| home.join(below_home)))
}

impl From<UnknownZone> for Failure {
    fn from(error: UnknownZone) -> Self {
        Self::new(failure::CONFIG, format!("time-zone: {error}"))
    }
}

/// A language by its tag. The error lists the languages that there are.
pub(super) fn language_of(text: &str) -> Result<Language, String> {
    Language::of_tag(text).ok_or_else(|| {
        let all: Vec<&str> = Language::ALL.iter().map(|language| language.tag()).collect();
        format!("the languages are {}", all.join(", "))
    })
}
