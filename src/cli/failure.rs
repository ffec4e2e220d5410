//! How a command fails: a sentence for the person and an exit code of sysexits.

use crate::config::ConfigError;
use crate::journal::JournalError;
use crate::radio::bus::BusError;
use crate::roles::pairing::PairingError;
use crate::whole::{NotWritten, reason};
use std::fmt;
use std::io::ErrorKind;
use std::process::ExitCode;

/// What a command that ran to its end says: the exit code.
pub(crate) type Outcome = Result<ExitCode, Failure>;

/// The command line was wrong.
pub(crate) const USAGE: u8 = 64;
/// Input data is wrong.
pub(crate) const DATA: u8 = 65;
/// An input file is missing or cannot be read.
pub(crate) const NO_INPUT: u8 = 66;
/// A service is not there: adapter, D-Bus, clinic.
pub(crate) const UNAVAILABLE: u8 = 69;
/// What no person can have caused: a bug here, or a thread that the system did not give (`EX_SOFTWARE`).
pub(crate) const INTERNAL: u8 = 70;
/// An output file or directory cannot be made.
pub(crate) const CANNOT_CREATE: u8 = 73;
/// Reading or writing failed.
pub(crate) const IO: u8 = 74;
/// The system refused permission for a file, a socket or a device.
pub(crate) const NO_PERMISSION: u8 = 77;
/// The configuration is wrong.
pub(crate) const CONFIG: u8 = 78;

/// A command that could not do what it was asked.
#[derive(Debug)]
pub struct Failure {
    code: u8,
    text: String,
    broken_pipe: bool,
}

impl Failure {
    pub(crate) fn new(code: u8, text: impl Into<String>) -> Self {
        Self {
            code,
            text: text.into(),
            broken_pipe: false,
        }
    }

    /// The exit code.
    pub fn code(&self) -> u8 {
        self.code
    }

    pub(crate) fn is_broken_pipe(&self) -> bool {
        self.broken_pipe
    }
}

impl fmt::Display for Failure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.text)
    }
}

impl From<JournalError> for Failure {
    fn from(error: JournalError) -> Self {
        Self::new(error.exit_code(), error.to_string())
    }
}

impl From<BusError> for Failure {
    fn from(error: BusError) -> Self {
        Self::new(error.exit_code(), format!("{error}; {}", error.todo()))
    }
}

impl From<ConfigError> for Failure {
    fn from(error: ConfigError) -> Self {
        Self::new(CONFIG, error.to_string())
    }
}

/// A file that was named for output.
impl From<NotWritten> for Failure {
    fn from(error: NotWritten) -> Self {
        Self {
            code: error.exit_code(),
            broken_pipe: error.is_broken_pipe(),
            text: error.to_string(),
        }
    }
}

impl From<PairingError> for Failure {
    fn from(error: PairingError) -> Self {
        Self::new(error.exit_code(), error.to_string())
    }
}

/// Errors of standard output: every command writes there.
impl From<std::io::Error> for Failure {
    fn from(error: std::io::Error) -> Self {
        let broken_pipe = error.kind() == ErrorKind::BrokenPipe;
        let mend = match error.kind() {
            ErrorKind::StorageFull | ErrorKind::QuotaExceeded => "; free some space, then do it again",
            ErrorKind::FileTooLarge => {
                "; raise the limit on the size of files (`ulimit -f`), then do it again"
            }
            _ => "",
        };
        Self {
            code: IO,
            text: format!("cannot write the output: {}{mend}", reason(&error)),
            broken_pipe,
        }
    }
}

pub(super) fn internal(error: impl fmt::Display) -> Failure {
    Failure::new(INTERNAL, error.to_string())
}
