//! Backups, and files of every schema that there has been.

use crate::crash::{good, line, run};
use crate::harness::left_out::left_out;
use std::fs;
use std::path::Path;
use std::process::Command;

fn filled(dir: &Path) -> std::path::PathBuf {
    let state = dir.join("state");
    let file = dir.join("frames.jsonl");
    fs::write(&file, (0..500).map(line).collect::<String>()).unwrap();
    good(&state, &["replay", file.to_str().unwrap()]);
    state
}

#[test]
fn a_backup_restored_is_the_same_journal() {
    let dir = tempfile::tempdir().unwrap();
    let state = filled(dir.path());
    let copy = dir.path().join("copy");
    let told = good(&state, &["backup", "--output", copy.to_str().unwrap()]);
    assert!(told.contains("500 frames"), "{told}");
    let names: Vec<_> = fs::read_dir(dir.path())
        .unwrap()
        .map(|entry| entry.unwrap().file_name())
        .collect();
    assert_eq!(names.len(), 3, "one file and nothing beside it: {names:?}");
    let elsewhere = dir.path().join("elsewhere");
    let told = good(&elsewhere, &["restore", copy.to_str().unwrap()]);
    assert!(told.contains("500 frames") && told.contains("2026"), "{told}");
    for command in ["frames", "readings", "sessions"] {
        assert_eq!(
            good(&state, &[command, "--json"]),
            good(&elsewhere, &[command, "--json"])
        );
    }
    // What is there is never overwritten.
    let before = fs::read(elsewhere.join("journal.sqlite")).unwrap();
    let refused = run(&elsewhere, &["restore", copy.to_str().unwrap()]);
    assert_eq!(refused.status.code(), Some(73));
    assert!(String::from_utf8_lossy(&refused.stderr).contains("is there already"));
    assert!(fs::read(elsewhere.join("journal.sqlite")).unwrap() == before);
}

/// A copy in the place of the journal, or of its log, would take it from under whoever is writing it.
#[test]
fn a_backup_never_replaces_the_journal_itself() {
    let dir = tempfile::tempdir().unwrap();
    let state = filled(dir.path());
    let writing = quietcuff::journal::Journal::open(&state).unwrap();
    let journal = state.join("journal.sqlite");
    let link = dir.path().join("link");
    std::os::unix::fs::symlink(&journal, &link).unwrap();
    let before = fs::metadata(&journal).unwrap();
    let roundabout = state.join("../state/journal.sqlite");
    let log = state.join("journal.sqlite-wal");
    let recovered = state.join("journal.recovered.sqlite");
    for to in [&journal, &roundabout, &link, &log, &recovered] {
        let refused = run(&state, &["backup", "--output", to.to_str().unwrap()]);
        assert_eq!(refused.status.code(), Some(73), "{}", to.display());
        assert!(String::from_utf8_lossy(&refused.stderr).contains("name another file"));
    }
    let after = fs::metadata(&journal).unwrap();
    assert_eq!(
        std::os::unix::fs::MetadataExt::ino(&before),
        std::os::unix::fs::MetadataExt::ino(&after)
    );
    assert_eq!(writing.frame_count().unwrap(), 500);
    // Beside it there is room, and an older copy is replaced.
    let beside = state.join("copy.sqlite");
    fs::write(&beside, "an older copy").unwrap();
    good(&state, &["backup", "--output", beside.to_str().unwrap()]);
    assert!(fs::read(&beside).unwrap().starts_with(b"SQLite format 3"));
}

#[test]
fn what_is_no_sound_backup_is_not_restored() {
    let dir = tempfile::tempdir().unwrap();
    let state = filled(dir.path());
    let copy = dir.path().join("copy");
    good(&state, &["backup", "--output", copy.to_str().unwrap()]);
    let whole = fs::read(&copy).unwrap();
    let half = whole[..whole.len() / 2].to_vec();
    let mut scratched = whole.clone();
    scratched[4096 * 3..4096 * 4].fill(0xa5);
    for (octets, code) in [(half, 65), (scratched, 65), (b"a shopping list".repeat(99), 65)] {
        fs::write(&copy, octets).unwrap();
        let elsewhere = dir.path().join("elsewhere");
        let refused = run(&elsewhere, &["restore", copy.to_str().unwrap()]);
        assert_eq!(refused.status.code(), Some(code), "{refused:?}");
        assert!(!elsewhere.join("journal.sqlite").exists());
    }
    fs::remove_file(&copy).unwrap();
    assert_eq!(
        run(dir.path(), &["restore", copy.to_str().unwrap()])
            .status
            .code(),
        Some(66)
    );
    let nowhere = dir.path().join("nowhere/copy");
    assert_eq!(
        run(&state, &["backup", "--output", nowhere.to_str().unwrap()])
            .status
            .code(),
        Some(73)
    );
}

#[test]
fn a_journal_of_every_earlier_schema_opens() {
    let fixtures = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/journals");
    let dir = tempfile::tempdir().unwrap();
    let fresh = dir.path().join("fresh");
    good(
        &fresh,
        &["demo", "--until", "2026-03-24", "--days", "2", "--fast"],
    );
    let expected = good(&fresh, &["readings", "--json"]);
    assert!(expected.lines().count() > 8);
    let versions = fs::read_dir(fixtures).unwrap().map(|entry| entry.unwrap().path());
    let mut opened = 0;
    for file in versions {
        let state = dir.path().join(file.file_stem().unwrap());
        fs::create_dir(&state).unwrap();
        fs::copy(&file, state.join("journal.sqlite")).unwrap();
        assert_eq!(
            good(&state, &["readings", "--json"]),
            expected,
            "{}",
            file.display()
        );
        let restored = dir.path().join(format!("restored-{opened}"));
        good(&restored, &["restore", file.to_str().unwrap()]);
        assert_eq!(
            good(&restored, &["readings", "--json"]),
            expected,
            "{}",
            file.display()
        );
        opened += 1;
    }
    assert!(opened >= 3);
}

pub(crate) fn names(directory: &Path) -> Vec<String> {
    let entries = fs::read_dir(directory).unwrap();
    let mut names: Vec<_> = entries
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    names
}

/// It fails with this code and these words, and the place is as it was.
fn refused(state: &Path, to: &Path, code: i32, words: &[&str]) {
    let folder = to.parent().unwrap();
    let before = (names(folder), fs::read(to).ok());
    let ran = run(state, &["backup", "--output", to.to_str().unwrap()]);
    let said = String::from_utf8_lossy(&ran.stderr).into_owned();
    assert_eq!(ran.status.code(), Some(code), "{said}");
    for words in words.iter().chain([&to.to_str().unwrap()]) {
        assert!(said.contains(words), "{words:?}: {said}");
    }
    assert_eq!((names(folder), fs::read(to).ok()), before);
}

#[test]
fn a_backup_to_where_it_cannot_go_leaves_everything_as_it_was() {
    let dir = tempfile::tempdir().unwrap();
    let state = filled(dir.path());
    let to = dir.path().join("to");
    fs::create_dir(&to).unwrap();
    // What is no file would be gone.
    let pipe = to.join("pipe");
    assert!(Command::new("mkfifo").arg(&pipe).status().unwrap().success());
    let refused_pipe = run(&state, &["backup", "--output", pipe.to_str().unwrap()]);
    assert_eq!(refused_pipe.status.code(), Some(73));
    assert!(std::os::unix::fs::FileTypeExt::is_fifo(
        &fs::metadata(&pipe).unwrap().file_type()
    ));
    let below = to.join("folder");
    fs::create_dir(&below).unwrap();
    refused(&state, &below, 73, &["it is a directory"]);
    // The file that a link leads to is replaced, not the link.
    let (link, real) = (to.join("link"), to.join("real"));
    std::os::unix::fs::symlink(&real, &link).unwrap();
    fs::write(&real, "an older copy").unwrap();
    good(&state, &["backup", "--output", link.to_str().unwrap()]);
    assert!(link.is_symlink() && fs::read(&real).unwrap().starts_with(b"SQLite format 3"));
    // Somebody else is at it; nobody is any more.
    let part = to.join(".real.part");
    let working = fs::File::create(&part).unwrap();
    working.lock().unwrap();
    refused(&state, &real, 73, &["another process is writing it"]);
    // A process that another test is just starting may still have it open; what is unlocked is unlocked for it too.
    working.unlock().unwrap();
    drop(working);
    good(&state, &["backup", "--output", real.to_str().unwrap()]);
    assert!(!part.exists());
    // A link in the way of the part is not followed.
    std::os::unix::fs::symlink(state.join("journal.sqlite"), &part).unwrap();
    good(&state, &["backup", "--output", real.to_str().unwrap()]);
    assert!(!part.is_symlink());
}

/// Why there is no volume to fill up.
pub(crate) const NO_VOLUME: &str = "only root can mount a volume, and not in every container";

pub(crate) fn mount(arguments: &[&str], volume: &Path) -> bool {
    let ran = Command::new("mount").args(arguments).arg(volume).output();
    ran.is_ok_and(|ran| ran.status.success())
}

#[test]
fn a_backup_to_a_full_disk_or_one_that_is_read_only() {
    let dir = tempfile::tempdir().unwrap();
    let state = filled(dir.path());
    let volume = dir.path().join("volume");
    fs::create_dir(&volume).unwrap();
    let mount = |arguments: &[&str]| mount(arguments, &volume);
    if !mount(&["-t", "tmpfs", "-o", "size=64k", "none"]) {
        left_out("a backup to a full disk", NO_VOLUME);
        return;
    }
    let tried = std::panic::catch_unwind(|| {
        let copy = volume.join("copy");
        fs::write(&copy, "an older copy").unwrap();
        refused(&state, &copy, 74, &["no space left", "Free some space"]);
        assert!(mount(&["-o", "remount,size=64m"]));
        good(&state, &["backup", "--output", copy.to_str().unwrap()]);
        assert_eq!(names(&volume), ["copy"]);
        assert!(mount(&["-o", "remount,ro"]));
        refused(
            &state,
            &copy,
            73,
            &["Read-only file system", "name a file in a directory"],
        );
    });
    let _ = Command::new("umount").arg(&volume).status();
    tried.unwrap();
}

/// A journal that crashed and was moved away without its log: the log is nobody else's.
#[test]
fn the_log_of_a_journal_that_was_moved_away_is_not_taken_for_that_of_another() {
    let dir = tempfile::tempdir().unwrap();
    let state = filled(dir.path());
    let copy = dir.path().join("copy");
    good(&state, &["backup", "--output", copy.to_str().unwrap()]);
    let crashed = dir.path().join("crashed");
    fs::create_dir(&crashed).unwrap();
    let journal = quietcuff::journal::Journal::open(&state).unwrap();
    let mut writing = journal;
    writing.append(&[crate::crash::frame(900)]).unwrap();
    let log = crashed.join("journal.sqlite-wal");
    fs::copy(state.join("journal.sqlite-wal"), &log).unwrap();
    let before = fs::read(&log).unwrap();
    assert!(!before.is_empty());
    let file = dir.path().join("frames.jsonl");
    for arguments in [
        ["restore", copy.to_str().unwrap()],
        ["replay", file.to_str().unwrap()],
    ] {
        let ran = run(&crashed, &arguments);
        let said = String::from_utf8_lossy(&ran.stderr).into_owned();
        assert_eq!(ran.status.code(), Some(73), "{arguments:?}: {said}");
        assert!(said.contains("not there any more"), "{said}");
        assert_eq!(names(&crashed), ["journal.sqlite-wal"]);
        assert!(fs::read(&log).unwrap() == before);
    }
}
