//! The command line: one file a command.

/// Runs the program; the exit code follows sysexits.
pub fn main() -> std::process::ExitCode {
    std::process::ExitCode::SUCCESS
}
