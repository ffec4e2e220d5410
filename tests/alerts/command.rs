//! A program of the household's own.

use crate::alerts::made::{hostile, until};
use quietcuff::home::alerts::command::Program;
use std::os::unix::fs::PermissionsExt;
use std::path::Path;
use std::time::Duration;

fn script(dir: &Path, text: &str) -> Vec<String> {
    let path = dir.join("told");
    std::fs::write(&path, format!("#!/bin/sh\n{text}\n")).unwrap();
    std::fs::set_permissions(&path, std::fs::Permissions::from_mode(0o755)).unwrap();
    // A file that was just written by a process with other threads may still be open in a fork of it.
    until("the script can be run", || {
        std::process::Command::new("/bin/sh")
            .arg("-n")
            .arg(&path)
            .status()
            .unwrap()
            .success()
    });
    vec![
        "/bin/sh".into(),
        path.to_str().unwrap().into(),
        "an argument; $(touch pwned)".into(),
    ]
}

fn run(program: &Program) -> Result<(), String> {
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .unwrap();
    runtime
        .block_on(program.run("lamp", &hostile()))
        .map_err(|error| error.to_string())
}

#[test]
fn it_gets_the_message_as_json_and_in_its_environment_and_no_shell_reads_either() {
    let dir = tempfile::tempdir().unwrap();
    let out = dir.path().display();
    let words = script(
        dir.path(),
        &format!(
            "cat >{out}/json; printf '%s' \"$QUIETCUFF_TEXT\" >{out}/text; printf '%s' \"$1\" >{out}/argument; env >{out}/env"
        ),
    );
    run(&Program::new(words)).unwrap();
    let read = |name: &str| std::fs::read_to_string(dir.path().join(name)).unwrap();
    let json: serde_json::Value = serde_json::from_str(&read("json")).unwrap();
    assert_eq!(json, serde_json::to_value(hostile()).unwrap());
    assert_eq!(read("text"), hostile().text);
    assert_eq!(read("argument"), "an argument; $(touch pwned)");
    assert!(read("env").contains("QUIETCUFF_KIND=missed"));
    assert!(!read("env").contains("CARGO"), "nothing else of our environment");
}

#[test]
fn a_program_that_fails_or_is_not_there_is_named() {
    let said = run(&Program::new(vec!["/bin/false".into()])).unwrap_err();
    assert!(
        said.contains("/bin/false") && said.contains("exit status: 1"),
        "{said}"
    );
    let said = run(&Program::new(vec!["/nowhere/lamp".into()])).unwrap_err();
    assert!(said.contains("cannot be started"), "{said}");
}

#[test]
fn one_that_hangs_is_killed_with_its_children() {
    let dir = tempfile::tempdir().unwrap();
    let pids = dir.path().join("pids");
    let words = script(
        dir.path(),
        &format!(
            "sleep 300 & echo $! >{}; echo $$ >>{0}; sleep 300",
            pids.display()
        ),
    );
    let begun = std::time::Instant::now();
    let said = run(&Program::new(words).within(Duration::from_secs(2))).unwrap_err();
    assert!(said.contains("did not end within 2 s"), "{said}");
    assert!(begun.elapsed() < Duration::from_secs(60));
    let alive = |pid: &str| {
        // A zombie whose parent went before it is no longer running.
        std::fs::read_to_string(format!("/proc/{pid}/stat")).is_ok_and(|stat| !stat.contains(") Z "))
    };
    let pids = std::fs::read_to_string(pids).unwrap();
    assert_eq!(pids.lines().count(), 2, "{pids}");
    until("every process of it is gone", || !pids.lines().any(alive));
}
