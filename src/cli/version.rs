//! `--version`: which program this is. With `--verbose` also what it was built from and for, and how it keeps and
//! settles what it hears, since that is what a report of a fault has to say.

use super::failure::Outcome;
use crate::journal;
use std::ffi::OsString;
use std::io::Write;
use std::process::ExitCode;

/// Answers these arguments, of which one asks for the version.
pub(super) fn print(mut arguments: impl Iterator<Item = OsString>) -> Outcome {
    let mut out = std::io::stdout().lock();
    writeln!(out, "quietcuff {}", env!("CARGO_PKG_VERSION"))?;
    if arguments.any(|argument| argument.to_str().is_some_and(is_verbose)) {
        writeln!(
            out,
            "commit: {}",
            option_env!("QUIETCUFF_COMMIT").unwrap_or("unknown")
        )?;
        writeln!(out, "target: {}", env!("QUIETCUFF_TARGET"))?;
        writeln!(out, "journal schema: {}", journal::SCHEMA)?;
        writeln!(out, "derivation: {}", journal::DERIVATION)?;
    }
    Ok(ExitCode::SUCCESS)
}

/// As the parser reads it: `--verbose`, `-v`, or among other letters.
fn is_verbose(argument: &str) -> bool {
    let letters = argument.strip_prefix('-').filter(|rest| !rest.starts_with('-'));
    argument == "--verbose" || letters.is_some_and(|letters| letters.contains('v'))
}
