//! The README against the program: what it names exists, and what exists it names.

use crate::cli::help::{commands, every_command};
use crate::harness::command::{Home, of_project};

fn readme() -> String {
    of_project("README.md").expect("README.md stands at the top of the project")
}

/// What stands between backticks on a line.
fn spans(line: &str) -> Vec<&str> {
    line.split('`').skip(1).step_by(2).collect()
}

/// The words of a call up to its first argument.
fn words(call: &str) -> Vec<&str> {
    call.split_whitespace()
        .take_while(|word| word.chars().all(|c| c.is_ascii_lowercase() || c == '-') && !word.starts_with('-'))
        .collect()
}

/// Whether there is such a command: the longest beginning of the words that is one has to be all but arguments.
fn exists(all: &[Vec<String>], call: &[&str]) -> bool {
    let Some((first, rest)) = call.split_first() else {
        return false;
    };
    let below: Vec<&Vec<String>> = all
        .iter()
        .filter(|command| command.first().is_some_and(|name| name == first))
        .collect();
    match rest.first() {
        _ if below.is_empty() => false,
        Some(second) if below.iter().any(|command| command.len() > 1) => below
            .iter()
            .any(|command| command.get(1).is_some_and(|name| name == second)),
        _ => true,
    }
}

/// The table of commands: `a`, `b` are two commands, or `a b` where the first cell begins with `a ...`.
#[test]
fn the_table_of_commands_is_the_list_of_commands() {
    let text = readme();
    let home = Home::new();
    let all = every_command(&home);
    let mut named = Vec::new();
    let rows = text
        .lines()
        .skip_while(|line| !line.starts_with("| command "))
        .skip(2);
    for row in rows.take_while(|line| line.starts_with('|')) {
        let cells: Vec<&str> = row.split('|').collect();
        let spans = spans(cells[1]);
        let first = words(spans[0])[0];
        for span in &spans {
            let alone = words(span);
            let below: Vec<&str> = [first].into_iter().chain(alone.iter().copied()).collect();
            assert!(
                exists(&all, &alone) || exists(&all, &below),
                "there is no `{span}`: {row}"
            );
            named.extend(alone.first().map(|name| (*name).to_owned()));
        }
    }
    for command in commands(&home.run(&["--help"]).good()) {
        assert!(named.contains(&command), "the README's table lacks `{command}`");
    }
}

/// What it shows as a configuration is one.
#[test]
fn the_configuration_shown_is_accepted() {
    let text = readme();
    let home = Home::new();
    let shown: Vec<&str> = text
        .lines()
        .skip_while(|line| !line.starts_with("```toml"))
        .skip(1)
        .take_while(|line| !line.starts_with("```"))
        .collect();
    assert!(shown.len() > 3, "{shown:?}");
    let file = home.file("shown.toml", shown.join("\n"));
    let check = home.run(&["check", "--json", "--config", &file]);
    assert!(check.out.contains("shown.toml is valid"), "{check:?}");
}
