//! Man pages and completions, by those who show them.

use crate::package::{good, quietcuff, there};
use std::collections::BTreeSet;
use std::path::Path;
use std::process::Command;

fn made(home: &Path) -> (Vec<std::path::PathBuf>, std::path::PathBuf) {
    let dir = home.join("manual");
    good(quietcuff(home, &["manual", dir.to_str().unwrap()]));
    let pages = std::fs::read_dir(dir.join("man"))
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .collect();
    (pages, dir.join("completions"))
}

/// The names under "Commands:" of a help text.
fn commands(help: &str) -> Vec<String> {
    help.lines()
        .skip_while(|line| *line != "Commands:")
        .skip(1)
        .take_while(|line| !line.is_empty())
        .filter(|line| line.starts_with("  ") && !line.starts_with("   "))
        .filter_map(|line| line.split_whitespace().next())
        .map(str::to_owned)
        .collect()
}

#[test]
fn every_command_has_its_page() {
    let home = tempfile::tempdir().unwrap();
    let (pages, _) = made(home.path());
    let names: BTreeSet<String> = pages
        .iter()
        .map(|page| page.file_stem().unwrap().to_str().unwrap().to_owned())
        .collect();
    let mut expected = BTreeSet::from(["quietcuff".to_owned()]);
    for command in commands(&good(quietcuff(home.path(), &["--help"]))) {
        for below in commands(&good(quietcuff(home.path(), &[&command, "--help"]))) {
            expected.insert(format!("quietcuff-{command}-{below}"));
        }
        expected.insert(format!("quietcuff-{command}"));
    }
    assert!(expected.len() > 20, "{expected:?}");
    assert_eq!(names, expected);
}

/// groff and mandoc, the two formatters in use, find nothing to complain of.
#[test]
fn the_pages_are_rendered_without_a_warning() {
    let home = tempfile::tempdir().unwrap();
    let (pages, _) = made(home.path());
    if there("man") {
        for page in &pages {
            let shown = Command::new("man")
                .args(["--warnings", "-E", "UTF-8", "-l", "-P", "cat"])
                .arg(page)
                .env("LC_ALL", "C.UTF-8")
                .env("MANWIDTH", "80")
                .output()
                .unwrap();
            let complaints = String::from_utf8_lossy(&shown.stderr);
            assert!(complaints.is_empty(), "{}: {complaints}", page.display());
            assert!(good(shown).contains("SYNOPSIS"), "{}", page.display());
        }
    }
    if there("mandoc") {
        let linted = Command::new("mandoc")
            .args(["-T", "lint", "-W", "warning"])
            .args(&pages)
            .output()
            .unwrap();
        let complaints = String::from_utf8_lossy(&linted.stdout).into_owned();
        // Around the list of an option's values the generator breaks a line twice; it is seen by nobody.
        let real: Vec<&str> = complaints
            .lines()
            .filter(|line| !line.contains("skipping paragraph macro: br"))
            .collect();
        assert!(real.is_empty(), "{real:?}");
    }
}

/// bash completes the beginning of a command and of an option.
#[test]
fn bash_completes() {
    let home = tempfile::tempdir().unwrap();
    let (_, completions) = made(home.path());
    if !there("bash") {
        return;
    }
    let complete = |words: &str, index: usize| {
        let script = format!(
            "source {}; COMP_WORDS=({words}); COMP_CWORD={index}; _quietcuff quietcuff \"${{COMP_WORDS[{index}]}}\" \
             \"${{COMP_WORDS[{}]}}\"; printf '%s\\n' \"${{COMPREPLY[@]}}\"",
            completions.join("quietcuff.bash").display(),
            index - 1,
        );
        good(Command::new("bash").args(["-c", &script]).output().unwrap())
    };
    assert_eq!(complete("quietcuff readi", 1).trim(), "readings");
    assert_eq!(complete("quietcuff monitors for", 2).trim(), "forget");
    assert!(complete("quietcuff readings --pers", 2).contains("--person"));
    let hidden = complete("quietcuff ''", 1);
    assert!(!hidden.contains("settle"), "{hidden}");
    for name in ["_quietcuff", "quietcuff.fish"] {
        let text = std::fs::read_to_string(completions.join(name)).unwrap();
        assert!(
            text.contains("monitors") && text.contains("passkey") || text.contains("forget"),
            "{name}"
        );
    }
}
