//! `quietcuff manual`, hidden: man pages and shell completions, made from the command line itself. The package's build
//! runs it.

use super::failure::{Failure, Outcome};
use crate::whole;
use clap::Args;
use clap_complete::Shell;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

/// The shells that Debian has a place for.
const SHELLS: [Shell; 3] = [Shell::Bash, Shell::Zsh, Shell::Fish];

/// What every page ends with; the pages of single commands point to the first.
const FILES: [(&str, &str); 4] = [
    (
        "/var/lib/quietcuff",
        "the journal, where the package's services run",
    ),
    (
        "/etc/quietcuff/quietcuff.toml",
        "the configuration, if there is one",
    ),
    (
        "/usr/share/doc/quietcuff/quietcuff.toml",
        "every key of the configuration, with its default",
    ),
    (
        "$XDG_STATE_HOME/quietcuff, $XDG_CONFIG_HOME/quietcuff",
        "the same for a program that a person started",
    ),
];

/// sysexits, as the README lists them.
const EXITS: &str = "0 done, 64 usage, 65 bad input data, 66 input missing, 69 service unavailable, 70 internal, \
                     73 cannot create, 74 input or output, 77 no permission, 78 configuration.";

/// Writes man pages and shell completions.
#[derive(Args)]
pub(crate) struct ManualArgs {
    /// Directory that takes them, with `man` and `completions` in it
    #[arg(value_name = "DIR")]
    dir: PathBuf,
}

/// `whole` is the command line as it is read.
pub(crate) fn run(args: &ManualArgs, whole: &clap::Command) -> Outcome {
    let pages = args.dir.join("man");
    let completions = args.dir.join("completions");
    std::fs::create_dir_all(&pages)?;
    std::fs::create_dir_all(&completions)?;
    let mut line = whole.clone();
    line.build();
    page(&line, &pages)?;
    // The generators show what is hidden too.
    let mut shown = clap::Command::new("quietcuff")
        .version(env!("CARGO_PKG_VERSION"))
        .disable_version_flag(true)
        .args(whole.get_arguments().cloned())
        .subcommands(
            whole
                .get_subcommands()
                .filter(|below| !below.is_hide_set())
                .cloned(),
        );
    for shell in SHELLS {
        let name = match shell {
            Shell::Zsh => "_quietcuff".to_owned(),
            other => format!("quietcuff.{other}"),
        };
        let mut text = Vec::new();
        clap_complete::generate(shell, &mut shown, "quietcuff", &mut text);
        write(&completions.join(name), &text)?;
    }
    Ok(ExitCode::SUCCESS)
}

fn write(path: &Path, text: &[u8]) -> Result<(), Failure> {
    whole::write(path, |out| Ok(out.write_all(text)?))
}

/// One page for a command and one for each below it, as `quietcuff-monitors-add.1`.
fn page(command: &clap::Command, pages: &Path) -> Result<(), Failure> {
    let name = command.get_display_name().unwrap_or("quietcuff");
    let mut text = Vec::new();
    clap_mangen::Man::new(command.clone())
        .title(name.to_uppercase())
        .section("1")
        .date(date())
        .source(concat!("quietcuff ", env!("CARGO_PKG_VERSION")))
        .manual("quietcuff")
        .render(&mut text)?;
    if name == "quietcuff" {
        text.extend_from_slice(ending().as_bytes());
    }
    write(&pages.join(format!("{name}.1")), &text)?;
    command
        .get_subcommands()
        .filter(|below| !below.is_hide_set())
        .try_for_each(|below| page(below, pages))
}

/// Of the sources, where the build says it (reproducible-builds.org, SOURCE_DATE_EPOCH), so that the same program makes
/// the same pages.
fn date() -> String {
    let of_sources = std::env::var("SOURCE_DATE_EPOCH").ok();
    of_sources
        .and_then(|seconds| jiff::Timestamp::from_second(seconds.parse().ok()?).ok())
        .unwrap_or_else(jiff::Timestamp::now)
        .strftime("%Y-%m-%d")
        .to_string()
}

fn ending() -> String {
    let mut text = String::from(".SH FILES\n");
    for (path, what) in FILES {
        text.push_str(&format!(".TP\n{path}\n{what}\n"));
    }
    text.push_str(&format!(".SH \"EXIT STATUS\"\n{EXITS}\n"));
    text.replace('-', "\\-")
}
