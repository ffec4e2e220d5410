//! The protocols of an installation: the built-in files and the one that its clinic wrote.

use super::protocol::{Protocol, ProtocolError, did_you_mean};
use super::protocol_file;
use crate::household::Household;
use std::sync::LazyLock;

/// The built-in files: name and text.
const BUILT_IN: [(&str, &str); 15] = [
    ("seven-day", include_str!("protocols/seven-day.toml")),
    ("two-week", include_str!("protocols/two-week.toml")),
    ("weekly", include_str!("protocols/weekly.toml")),
    ("esc-2024", include_str!("protocols/esc-2024.toml")),
    ("aha-acc-2025", include_str!("protocols/aha-acc-2025.toml")),
    ("nice-ng136", include_str!("protocols/nice-ng136.toml")),
    ("aha-ama-2020", include_str!("protocols/aha-ama-2020.toml")),
    ("acc-aha-2017", include_str!("protocols/acc-aha-2017.toml")),
    ("esh-2023", include_str!("protocols/esh-2023.toml")),
    ("ish-2020", include_str!("protocols/ish-2020.toml")),
    ("jsh-2025", include_str!("protocols/jsh-2025.toml")),
    ("taiwan-2022", include_str!("protocols/taiwan-2022.toml")),
    ("igh-iv-2019", include_str!("protocols/igh-iv-2019.toml")),
    ("taiwan-2020", include_str!("protocols/taiwan-2020.toml")),
    ("jsh-2019", include_str!("protocols/jsh-2019.toml")),
];

/// The protocol of a period for which nobody chose one.
pub const DEFAULT: &str = "seven-day";

/// The name of the one that the clinic wrote.
pub const CLINIC: &str = "clinic";

/// All protocols of this installation.
#[derive(Clone, PartialEq, Debug)]
pub struct Protocols(Vec<Protocol>);

impl Protocols {
    /// The built-in ones. An error here is a mistake in this program; it is looked for at start-up all the
    /// same.
    pub fn built_in() -> Result<Self, ProtocolError> {
        // Read once: whoever settles again and again would spend half of the time on it.
        static READ: LazyLock<Result<Protocols, ProtocolError>> = LazyLock::new(|| {
            let each = BUILT_IN
                .iter()
                .map(|(name, text)| protocol_file::parse(name, text));
            each.collect::<Result<_, _>>().map(Protocols)
        });
        READ.clone()
    }

    /// The names and the texts of the built-in ones, as they are in this program.
    pub fn texts() -> impl Iterator<Item = (&'static str, &'static str)> {
        BUILT_IN.into_iter()
    }

    /// The built-in ones, and the clinic's own where the household has stated one. It was checked before it
    /// was stated; one that another version accepted and this one does not is left out, so that the journal
    /// can be read all the same.
    pub fn of(household: &Household) -> Result<Self, ProtocolError> {
        let built_in = Self::built_in()?;
        let clinic = household.clinic_protocol.as_ref();
        match clinic.and_then(|text| built_in.clone().with_clinic(text).ok()) {
            Some(with_clinic) => Ok(with_clinic),
            None => Ok(built_in),
        }
    }

    /// Adds the clinic's own, or puts a new one in its place.
    pub fn with_clinic(mut self, text: &str) -> Result<Self, ProtocolError> {
        let clinic = protocol_file::parse(CLINIC, text)?;
        self.0.retain(|protocol| protocol.name != CLINIC);
        self.0.push(clinic);
        Ok(self)
    }

    /// The protocol of this name.
    pub fn get(&self, name: &str) -> Result<&Protocol, UnknownProtocol> {
        self.0
            .iter()
            .find(|protocol| protocol.name == name)
            .ok_or_else(|| UnknownProtocol {
                name: name.chars().take(64).collect(),
                known: self.0.iter().map(|protocol| protocol.name.clone()).collect(),
            })
    }

    /// Each of them, the default first.
    pub fn iter(&self) -> impl Iterator<Item = &Protocol> {
        self.0.iter()
    }
}

/// A name that is no protocol's.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error(
    "there is no protocol {name:?}{}; the protocols here are {}{}",
    did_you_mean(name, known),
    known.join(", "),
    if known.iter().any(|known| known == CLINIC) { "" } else { " (`clinic` needs the clinic's file in the configuration, which is taken up when a period is begun with it)" }
)]
pub struct UnknownProtocol {
    /// What was asked for.
    pub name: String,
    /// What there is.
    pub known: Vec<String>,
}
