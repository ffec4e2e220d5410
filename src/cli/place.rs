//! Where things are: the state directory and the configuration file.

use super::Everywhere;
use super::failure::{self, Failure};
use crate::config::Config;
use crate::journal::Journal;
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
        if let Some(named) = &self.config {
            return Ok(Config::read(named)?);
        }
        let places = xdg("XDG_CONFIG_HOME", ".config")
            .into_iter()
            .chain([PathBuf::from("/etc")]);
        for place in places.map(|base| base.join("quietcuff/quietcuff.toml")) {
            if place.exists() {
                return Ok(Config::read(&place)?);
            }
        }
        Ok(Config::default())
    }

    /// The journal, made where there is none.
    pub(crate) fn journal(&self) -> Result<Journal, Failure> {
        Ok(Journal::open(&self.state()?)?)
    }

    /// The journal, which has to be there.
    pub(crate) fn existing_journal(&self) -> Result<Journal, Failure> {
        Ok(Journal::open_existing(&self.state()?)?)
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
