//! Backups, and files of every schema that there has been.

use crate::{good, line, run};
use std::fs;
use std::path::Path;

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
    for to in [&journal, &roundabout, &link, &log] {
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
    good(&fresh, &["demo", "--days", "2", "--fast"]);
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
