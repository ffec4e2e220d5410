//! The `quietcuff` binary: everything lives in the library, see [`quietcuff::cli`].

fn main() -> std::process::ExitCode {
    quietcuff::cli::main()
}
