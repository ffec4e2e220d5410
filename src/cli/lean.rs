//! From the program of all commands to the one that only listens.
//!
//! The daemon sits idle for years, and what an idle program takes is its text: the kernel maps what lies around every
//! page that is touched. So once the command line is read, `quietcuff run` becomes `quietcuff-listen`, which has the
//! collector and nothing else: no command line, no configuration to read, no exports, no report. Its process number,
//! its open files and its environment stay the same.

use super::place::Everywhere;
use crate::roles::collector::CollectorPlace;
use serde::{Deserialize, Serialize};
use std::ffi::OsStr;
use std::os::unix::process::CommandExt;
use std::path::Path;
use std::process::{Command, Stdio};

const LISTENER: &str = "quietcuff-listen";

/// Where a package puts programs that nobody types.
const PACKAGED: &str = "/usr/libexec/quietcuff";

/// What the listener is handed, as JSON in its only argument, which everybody on the machine can read: places and the
/// use of the radio, nothing of people.
#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct HandedOver {
    /// That of the program, which has to be the listener's.
    version: String,
    pub(super) here: Everywhere,
    pub(super) place: CollectorPlace,
}

impl HandedOver {
    pub(super) fn new(here: Everywhere, place: CollectorPlace) -> Self {
        Self {
            version: env!("CARGO_PKG_VERSION").to_owned(),
            here,
            place,
        }
    }
}

/// Asks a listener whether it would take what it is handed.
const UNDERSTANDS: &str = "--understands";

/// Becomes the listener. Hands everything back where that cannot be: then this process listens itself. A program of
/// another build is no listener, and once this one has become it there is no way back: so it is asked first.
pub(super) fn become_listener(handed: HandedOver) -> HandedOver {
    let beside = handed.place.program.with_file_name(LISTENER);
    let packaged = Path::new(PACKAGED).join(LISTENER);
    // A path that is not UTF-8 has no JSON.
    if let (Some(listener), Ok(said)) = (
        [beside, packaged].into_iter().find(|place| place.is_file()),
        serde_json::to_string(&handed),
    ) {
        let error = match understands(&listener, &said) {
            Ok(true) => Command::new(&listener).arg(said).exec().to_string(),
            Ok(false) => "is of another build; install both of one".to_owned(),
            Err(error) => error.to_string(),
        };
        tracing::warn!("{}: {error}; this process listens itself", listener.display());
    }
    handed
}

fn understands(listener: &Path, said: &str) -> std::io::Result<bool> {
    let asked = Command::new(listener)
        .args([UNDERSTANDS, said])
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .status();
    Ok(asked?.success())
}

/// What the listener was started for, by a program of its own version.
pub(super) enum Started {
    /// The collector is to run, with what the full program had read for it.
    Listen(HandedOver),
    /// The full program only asked whether this listener can read such a message.
    Understood,
}

pub(super) fn started() -> Option<Started> {
    let mut arguments = std::env::args_os().skip(1);
    let first = arguments.next()?;
    if first == UNDERSTANDS {
        return read(&arguments.next()?).map(|_| Started::Understood);
    }
    read(&first).map(Started::Listen)
}

fn read(said: &OsStr) -> Option<HandedOver> {
    serde_json::from_str(said.to_str()?)
        .ok()
        .filter(|handed: &HandedOver| handed.version == env!("CARGO_PKG_VERSION"))
}
