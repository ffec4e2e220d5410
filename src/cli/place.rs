//! Where things are: the state directory and the configuration file.

use super::Everywhere;
use super::failure::{self, Failure};
use super::run::household;
use crate::config::Config;
use crate::household::{Household, Statement, Zones};
use crate::journal::Journal;
use crate::monitoring::protocol::{PROTOCOL_BYTES_MAX, Protocols};
use std::env;
use std::path::{Path, PathBuf};

impl Everywhere {
    /// The directory that holds the journal.
    pub(crate) fn state(&self) -> Result<PathBuf, Failure> {
        if let Some(state) = &self.state {
            return Ok(state.clone());
        }
        // systemd separates several directories with colons; the unit asks for one.
        if let Some(given) = env::var_os("STATE_DIRECTORY").filter(|given| !given.is_empty()) {
            return Ok(given
                .to_string_lossy()
                .split(':')
                .next()
                .map(PathBuf::from)
                .unwrap_or_default());
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

    /// The household's zones as stated; where none was, the configuration's or the system's for all time.
    pub(crate) fn zones(&self, journal: &Journal) -> Result<Zones, Failure> {
        let mut household = household(journal)?;
        if let Some(first) = self.first_zone(&household)? {
            household.apply(&first);
        }
        Zones::of(&household, jiff::tz::db()).map_err(|e| Failure::new(failure::CONFIG, e.to_string()))
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

    /// The journal, made where there is none.
    pub(crate) fn journal(&self) -> Result<Journal, Failure> {
        Ok(Journal::open(&self.state()?)?.with_protocols(self.protocols()?))
    }

    /// The journal, which has to be there.
    pub(crate) fn existing_journal(&self) -> Result<Journal, Failure> {
        Ok(Journal::open_existing(&self.state()?)?.with_protocols(self.protocols()?))
    }

    /// The protocols, with the clinic's own where the configuration names a file.
    pub(crate) fn protocols(&self) -> Result<Protocols, Failure> {
        let wrong = |e: &dyn std::fmt::Display| Failure::new(failure::CONFIG, e.to_string());
        let built_in = Protocols::built_in().map_err(|e| Failure::new(failure::INTERNAL, e.to_string()))?;
        let Some(path) = self.config()?.clinic_protocol else {
            return Ok(built_in);
        };
        let unreadable = |why: &dyn std::fmt::Display| {
            wrong(&format_args!(
                "cannot read the clinic's protocol {}: {why}; correct `clinic-protocol` in the configuration",
                path.display()
            ))
        };
        let size = std::fs::metadata(&path).map_err(|e| unreadable(&e))?.len();
        if size > PROTOCOL_BYTES_MAX as u64 {
            return Err(unreadable(&format_args!(
                "it has {size} octets, a protocol has at most {PROTOCOL_BYTES_MAX}"
            )));
        }
        let text = std::fs::read_to_string(&path).map_err(|e| unreadable(&e))?;
        built_in
            .with_clinic(&text)
            .map_err(|e| wrong(&format_args!("{}: {e}", path.display())))
    }
}

/// The system's zone by name, or the offset that holds now where it has none.
pub(crate) fn system_zone() -> String {
    let zone = jiff::tz::TimeZone::system();
    match zone.iana_name() {
        Some(name) => name.to_owned(),
        None => {
            let minutes = zone.to_offset(jiff::Timestamp::now()).seconds() / 60;
            let sign = if minutes < 0 { '-' } else { '+' };
            format!("{sign}{:02}:{:02}", minutes.abs() / 60, minutes.abs() % 60)
        }
    }
}

fn xdg(variable: &str, below_home: &str) -> Option<PathBuf> {
    let absolute = |name| {
        env::var_os(name)
            .map(PathBuf::from)
            .filter(|path: &PathBuf| Path::is_absolute(path))
    };
    absolute(variable).or_else(|| absolute("HOME").map(|home| home.join(below_home)))
}
