//! A recovery and a backup killed before each of the calls that change what a directory holds, or make it last.
//! `strace` kills: the process that enters the nth of these calls does not come to make it.

use crate::crash::copies::names;
use crate::crash::{good, quietcuff, run};
use crate::harness::left_out::{in_a_hurry, program};
use rusqlite::Connection;
use serde_json::Value;
use std::fs;
use std::os::unix::process::ExitStatusExt;
use std::path::Path;
use std::process::{Command, Stdio};

const CALLS: &str =
    "rename,renameat,renameat2,link,linkat,unlink,unlinkat,rmdir,mkdir,mkdirat,fsync,fdatasync,ftruncate";
/// No command here makes as many of them.
const CALLS_MAX: u32 = 400;

/// Whether it was killed; else it came to its end. `None` where there is no strace, and that is allowed.
fn killed_before(nth: u32, state: &Path, arguments: &[&str]) -> Option<bool> {
    if !program("strace", "a kill between any two steps") {
        return None;
    }
    let traced = quietcuff(state, arguments);
    let ran = Command::new("strace")
        .args(["-f", "-qq", "-e", &format!("trace={CALLS}"), "-e"])
        .arg(format!("inject={CALLS}:signal=SIGKILL:when={nth}"))
        .arg(traced.get_program())
        .args(traced.get_args())
        .env_clear()
        .envs(traced.get_envs().filter_map(|(name, value)| Some((name, value?))))
        .env("PATH", std::env::var_os("PATH").unwrap_or_default())
        .stdout(Stdio::null())
        .output();
    let ran = ran.unwrap();
    // strace ends as what it traced.
    let killed = ran.status.signal() == Some(9) || ran.status.code() == Some(137);
    assert!(killed || ran.status.success(), "{nth}: {ran:?}");
    Some(killed)
}

fn copied(from: &Path, to: &Path) {
    // With its links as links.
    let done = Command::new("cp").arg("-a").arg(from).arg(to).status();
    assert!(done.unwrap().success());
}

#[test]
fn a_recovery_killed_between_any_two_steps_is_taken_up_again() {
    if in_a_hurry("a recovery killed between any two steps") {
        return;
    }
    let dir = tempfile::tempdir().unwrap();
    let damaged = dir.path().join("damaged");
    let file = dir.path().join("frames.jsonl");
    fs::write(&file, (0..30).map(crate::crash::line).collect::<String>()).unwrap();
    good(&damaged, &["replay", file.to_str().unwrap()]);
    crate::crash::damage::damage(&damaged.join("journal.sqlite"));
    // As after a crash: one frame is in the log only.
    let state = dir.path().join("state");
    fs::create_dir(&state).unwrap();
    let db = Connection::open(damaged.join("journal.sqlite")).unwrap();
    db.execute_batch(
        "INSERT INTO frame (received_us, offset_s, monitor, connection, characteristic, value)
         VALUES (1, 0, 'C0:FF:EE:00:00:01', 1, '2a35', x'00')",
    )
    .unwrap();
    for name in ["journal.sqlite", "journal.sqlite-wal"] {
        fs::copy(damaged.join(name), state.join(name)).unwrap();
    }
    drop(db);
    let before = ["journal.sqlite", "journal.sqlite-wal"].map(|name| fs::read(state.join(name)).unwrap());
    let (mut refused, mut nth) = (0, 0);
    loop {
        nth += 1;
        assert!(nth < CALLS_MAX);
        let here = dir.path().join(format!("killed-{nth}"));
        copied(&state, &here);
        let Some(killed) = killed_before(nth, &here, &["recover"]) else {
            return;
        };
        // Whoever comes next sees every frame, or is told what to do; nobody gets a journal that lacks some.
        let next = dir.path().join(format!("next-{nth}"));
        copied(&here, &next);
        for arguments in [&["frames", "--json"][..], &["replay", file.to_str().unwrap()]] {
            let ran = run(&next, arguments);
            let said = String::from_utf8_lossy(&ran.stderr).into_owned();
            if ran.status.success() {
                let frames = run(&next, &["frames", "--json"]).stdout;
                assert_eq!(
                    frames.iter().filter(|octet| **octet == b'\n').count(),
                    31,
                    "{nth}"
                );
            } else {
                assert_eq!(ran.status.code(), Some(65), "{nth}: {said}");
                assert!(said.contains("`quietcuff recover`"), "{nth}: {said}");
                refused += u32::from(said.contains("finishes it"));
            }
        }
        if !killed {
            assert_eq!(names(&here).len(), 3, "{:?}", names(&here));
            break;
        }
        // A second death in the same place changes nothing.
        if nth % 3 == 0 {
            killed_before(nth, &here, &["recover"]);
        }
        let told: Value = serde_json::from_str(&good(&here, &["recover", "--json"])).unwrap();
        let kept = match &told["recovered"] {
            // It had come so far that nothing was left to do.
            Value::Null => {
                let names = names(&here);
                let kept = names
                    .iter()
                    .find(|name| name.starts_with("journal.damaged-") && name.ends_with(".sqlite"));
                here.join(kept.unwrap())
            }
            told => {
                assert_eq!(told["frames"]["recovered"], 31, "{nth}: {told}");
                told["original"].as_str().unwrap().into()
            }
        };
        assert!(fs::read(&kept).unwrap() == before[0], "{nth}");
        let log = format!("{}-wal", kept.display());
        assert!(fs::read(log).unwrap() == before[1], "{nth}");
        assert_eq!(good(&here, &["frames", "--json"]).lines().count(), 31, "{nth}");
        // The journal, the damaged one and its log, once each. What reads the journal may leave an empty log beside it.
        let mut left = names(&here);
        left.retain(|name| !["journal.sqlite-wal", "journal.sqlite-shm"].contains(&name.as_str()));
        assert_eq!(left.len(), 3, "{nth}: {left:?}");
    }
    println!(
        "killed before {} calls; {refused} commands were told what to do",
        nth - 1
    );
    assert!(refused > 4, "the last steps were never hit");
}

#[test]
fn a_backup_killed_between_any_two_steps_is_in_nobodys_way() {
    let dir = tempfile::tempdir().unwrap();
    let state = dir.path().join("state");
    let file = dir.path().join("frames.jsonl");
    fs::write(&file, (0..30).map(crate::crash::line).collect::<String>()).unwrap();
    good(&state, &["replay", file.to_str().unwrap()]);
    let kept = dir.path().join("kept");
    fs::create_dir(&kept).unwrap();
    let copy = kept.join("copy");
    let copy = copy.to_str().unwrap();
    good(&state, &["backup", "--output", copy]);
    let older = fs::read(copy).unwrap();
    let more = dir.path().join("more.jsonl");
    fs::write(&more, (30..60).map(crate::crash::line).collect::<String>()).unwrap();
    good(&state, &["replay", more.to_str().unwrap()]);
    let mut nth = 0;
    loop {
        nth += 1;
        assert!(nth < CALLS_MAX);
        let Some(killed) = killed_before(nth, &state, &["backup", "--output", copy]) else {
            return;
        };
        if !killed {
            break;
        }
        let there = fs::read(copy).unwrap();
        let restored = dir.path().join(format!("restored-{nth}"));
        let told = good(&restored, &["restore", copy]);
        let whole = told.contains("60 frames");
        assert!(
            whole || there == older,
            "{nth}: neither the older copy nor the newer one"
        );
        good(&state, &["backup", "--output", copy]);
        assert_eq!(names(&kept), ["copy"], "{nth}");
        fs::write(copy, &older).unwrap();
    }
    println!("killed before {} calls", nth - 1);
    assert!(nth > 3);
    assert_eq!(names(&kept), ["copy"]);
}

#[test]
fn a_copy_that_was_half_restored_is_no_journal_that_lacks_frames() {
    let dir = tempfile::tempdir().unwrap();
    let state = dir.path().join("state");
    let file = dir.path().join("frames.jsonl");
    fs::write(&file, (0..30).map(crate::crash::line).collect::<String>()).unwrap();
    good(&state, &["replay", file.to_str().unwrap()]);
    let copy = dir.path().join("copy");
    let copy = copy.to_str().unwrap();
    good(&state, &["backup", "--output", copy]);
    let (mut nth, mut placed) = (0, 0);
    loop {
        nth += 1;
        assert!(nth < CALLS_MAX);
        let here = dir.path().join(format!("killed-{nth}"));
        let Some(killed) = killed_before(nth, &here, &["restore", copy]) else {
            return;
        };
        if here.join("journal.sqlite").exists() {
            placed += 1;
        } else {
            good(&here, &["restore", copy]);
        }
        assert_eq!(good(&here, &["frames", "--json"]).lines().count(), 30, "{nth}");
        if !killed {
            break;
        }
    }
    println!(
        "killed before {} calls, {placed} times behind the last that counts",
        nth - 1
    );
    assert!(nth > 5 && placed > 1);
}
