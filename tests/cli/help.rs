//! What the command line says of itself, and what it says to whoever mistypes.

use crate::harness::command::{Home, Ran};

/// Words of this program's making, which nobody who measures should have to meet.
const INTERNAL: [&str; 12] = [
    "todo", "fixme", "tokio", "rusqlite", "btleplug", "serde", "clap", "crate", "struct", "enum", "thread",
    "mutex",
];

/// The names under "Commands:" of a help text.
pub(crate) fn commands(help: &str) -> Vec<String> {
    help.lines()
        .skip_while(|line| *line != "Commands:")
        .skip(1)
        .take_while(|line| !line.is_empty())
        // A description that goes on in the next line stands further right.
        .filter(|line| line.starts_with("  ") && !line.starts_with("   "))
        .filter_map(|line| line.split_whitespace().next())
        .map(str::to_owned)
        .collect()
}

/// Every command and every command below one.
pub(crate) fn every_command(home: &Home) -> Vec<Vec<String>> {
    let mut all = vec![vec![]];
    let mut at = 0;
    while let Some(command) = all.get(at).cloned() {
        all.extend(
            commands(&help(home, &command))
                .into_iter()
                .map(|name| command.iter().cloned().chain([name]).collect()),
        );
        at += 1;
    }
    all
}

fn help(home: &Home, command: &[String]) -> String {
    let mut arguments: Vec<&str> = command.iter().map(String::as_str).collect();
    arguments.push("--help");
    home.run(&arguments).good()
}

#[test]
fn every_command_explains_itself() {
    let home = Home::new();
    let all = every_command(&home);
    assert!(all.len() > 10, "{all:?}");
    for command in all {
        let help = help(&home, &command);
        let plain = help.to_lowercase();
        for word in INTERNAL {
            let found = plain
                .split(|c: char| !c.is_alphanumeric())
                .any(|said| said == word);
            assert!(!found, "{command:?} says {word:?}");
        }
        for line in help.lines() {
            assert!(line.chars().count() <= 100, "{command:?}: {line}");
        }
        // An option that nothing is said about stands alone on its line, and so does the next one.
        let lines: Vec<&str> = help.lines().collect();
        for pair in lines.windows(2) {
            let option = pair[0].trim_start();
            let alone =
                option.starts_with('-') && pair[0].len() - option.len() <= 6 && !option.contains("  ");
            let explained = pair[1].starts_with("          ");
            assert!(!alone || explained, "{command:?}: {option} is not explained");
        }
    }
}

#[test]
fn the_version_is_the_packages() {
    let said = Home::new().run(&["--version"]).good();
    assert_eq!(said.trim(), format!("quietcuff {}", env!("CARGO_PKG_VERSION")));
}

/// What a report of a fault has to say, wherever the two words stand; the schema is that of a file just made.
#[test]
fn the_version_says_what_it_was_built_from_and_for() {
    let home = Home::new();
    home.run(&["--state", "state", "people", "add", "asha"]).good();
    let file = rusqlite::Connection::open(home.path("state/journal.sqlite")).unwrap();
    let schema: i64 = file
        .query_row("PRAGMA user_version", [], |row| row.get(0))
        .unwrap();
    let said = home.run(&["--version", "--verbose"]).good();
    for arguments in [&["--verbose", "-V"][..], &["-vV"], &["-Vv"]] {
        assert_eq!(home.run(arguments).good(), said, "{arguments:?}");
    }
    let lines: Vec<&str> = said.lines().collect();
    assert_eq!(lines[0], format!("quietcuff {}", env!("CARGO_PKG_VERSION")));
    assert!(lines[1].starts_with("commit: "), "{said}");
    assert!(
        lines[2].starts_with(&format!("target: {}-", std::env::consts::ARCH)),
        "{said}"
    );
    assert_eq!(lines[3], format!("journal schema: {schema}"));
    assert_eq!(
        lines[4],
        format!("derivation: {}", quietcuff::journal::DERIVATION)
    );
    assert_eq!(lines.len(), 5, "{said}");
}

#[test]
fn who_mistypes_hears_what_there_is() {
    let home = Home::new();
    let usage = |arguments: &[&str], words: &[&str]| {
        let Ran { code, out, err } = home.run(arguments);
        assert_eq!((code, out.as_str()), (64, ""), "{arguments:?}");
        for word in words {
            assert!(err.contains(word), "{arguments:?}: {err}");
        }
    };
    usage(&[], &["Usage:", "replay"]);
    usage(&["raedings"], &["readings"]);
    usage(&["monitors"], &["find", "forget"]);
    usage(&["replay"], &["FILE"]);
    usage(&["readings", "--form", "2026-03-01"], &["--from"]);
    usage(&["readings", "--from", "2026-02-30"], &["--from", "2026-02-30"]);
    usage(&["readings", "--person", "two words"], &["letters"]);
    usage(&["frames", "--monitor", "C0:FF:EE"], &["six pairs"]);
    usage(&["demo", "--days", "0"], &["--days", "1..="]);
    usage(&["demo", "--fast", "--seconds", "3"], &["--seconds"]);
    usage(&["monitors", "find", "--seconds", "0"], &["1..=600"]);
    usage(
        &["monitors", "add", "C0:FF:EE:00:00:01", "--user", "255=p1"],
        &["0 to 254"],
    );
    let file = home.file("none.jsonl", "");
    home.run(&["replay", &file, "--time-zone", "Mars/Olympus"])
        .failed(64, &["Mars/Olympus", "Europe/Berlin"]);
}
