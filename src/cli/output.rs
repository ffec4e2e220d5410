//! Where a command's output goes: standard output, or a file that is there whole or not at all.

use super::failure::Failure;
use crate::journal::{Journal, JournalError};
use crate::whole::{self, OutputPlace};
use clap::Args;
use serde::Serialize;
use std::io::{self, BufWriter, IsTerminal, Write};
use std::path::{Path, PathBuf};

/// What people call standard output where a file is named.
pub(crate) const STANDARD_OUTPUT: &str = "-";

#[derive(Args)]
pub(crate) struct To {
    /// Write to this file, which only its owner can read, instead of standard output (`-`)
    #[arg(long, value_name = "FILE")]
    output: Option<PathBuf>,
}

impl To {
    /// Whether it is shown to somebody as it is written.
    pub(crate) fn is_a_terminal(&self) -> bool {
        let to_a_file = self
            .output
            .as_deref()
            .is_some_and(|path| path != Path::new(STANDARD_OUTPUT));
        !to_a_file && io::stdout().is_terminal()
    }

    /// Where it goes, unless that is where the journal is.
    pub(crate) fn beside(&self, journal: &Journal) -> Result<Checked<'_>, Failure> {
        match &self.output {
            Some(path) if path != Path::new(STANDARD_OUTPUT) => Checked::new(path, journal),
            _ => Ok(Checked(None)),
        }
    }
}

/// A place for output that is not the journal's.
pub(crate) struct Checked<'a>(Option<&'a Path>);

impl<'a> Checked<'a> {
    pub(crate) fn new(path: &'a Path, journal: &Journal) -> Result<Self, Failure> {
        if let Ok(OutputPlace::File(real)) = OutputPlace::of(path)
            && journal.is_made_of(&real)
        {
            return Err(JournalError::ItsOwn { path: real }.into());
        }
        Ok(Self(Some(path)))
    }

    /// Lets `work` write to where the output goes.
    pub(crate) fn write<T>(
        &self,
        work: impl FnOnce(&mut dyn Write) -> Result<T, Failure>,
    ) -> Result<T, Failure> {
        let Some(path) = self.0 else {
            let mut out = BufWriter::new(io::stdout().lock());
            let done = work(&mut out)?;
            out.flush()?;
            return Ok(done);
        };
        whole::write(path, work)
    }
}

/// Writes one JSON object on a line of its own.
pub(crate) fn json_line(out: &mut impl Write, value: &impl Serialize) -> Result<(), Failure> {
    serde_json::to_writer(&mut *out, value).map_err(io::Error::from)?;
    Ok(writeln!(out)?)
}
