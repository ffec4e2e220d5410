//! What `quietcuff run` becomes, see [`quietcuff::cli::listen`].

fn main() -> std::process::ExitCode {
    quietcuff::cli::listen()
}
